//! Observations of transmitters, of what the way loses, and of one lane beside its siblings.

use super::{Side, is_in_trouble, missing, power_limits};
use crate::calc::rates;
use crate::chain::far::{self, HOW as HOW_FAR, is_dark};
use crate::diagnose::observation::{Answer, HOW_MODULE, HOW_RATE, Observation, Seen};
use crate::diagnose::view::View;
use crate::module::{Lane, Module, Word};
use crate::quantity::{Dbm, Decibels, Mbps, Milliamps, Milliwatts, Volts};
use crate::snapshot::{Fact, Missing, Port, Reason};
use crate::standards::accuracy;

const COMMON: &str = "common practice, no published source";
/// How to get what only somebody who was there can tell.
const HOW_SITE: &str = "take the far end's capture (--far FILE), or write rx_power_before_dbm, the \
    receive power of an earlier day, in the site file";

/// Two losses, or two readings of one receiver, that differ by more are not the same. Common
/// practice, no published source: readings of one receiver repeat far better than they are exact.
const DIFFERS: Decibels = Decibels(3.0);
/// The most by which the lanes of one module may differ: 100GBASE-LR4, IEEE 802.3 clause 88 (from
/// memory).
const LANES_DIFFER_MOST: Decibels = Decibels(5.5);

fn unknown(reason: Reason, detail: &str) -> Answer {
    Answer::Unknown(Missing::with(reason, detail))
}

// ---- transmitter ------------------------------------------------------------------------

/// The module signals a transmitter fault, and not as history.
pub const FAULT_SIGNALLED: Observation = Observation {
    name: "fault-signalled",
    statement: "the module signals a transmitter fault now (not as a latched flag)",
    fact: "transmitter fault state",
    how: HOW_MODULE,
    look: |view| match (super::TX_FAULT.look)(view) {
        Answer::Yes(_) if view.module.known().is_some_and(|module| module.flags_latched) => {
            unknown(Reason::NotReported, "the flag is latched: it may tell of a fault that is over")
        }
        other => other,
    },
};

/// A bias current held against the module's own limits, of every used lane.
fn bias_over(view: &View<'_>, by: f64) -> Result<(bool, Milliamps, Milliamps), Missing> {
    let module = view.module.as_ref().result()?;
    let limits = module.thresholds.bias.as_ref().result()?;
    let mut all = Vec::new();
    for lane in module.used_lanes() {
        all.push(*lane.bias.as_ref().result()?);
    }
    // Of a module that is broken out, the lanes that speak least against it are this port's.
    all.sort_by(|one, other| one.0.total_cmp(&other.0));
    let needed = view.lanes_needed(module).checked_sub(1);
    let Some(most) = needed.and_then(|last| all.get(last)) else {
        return Err(Missing::with(Reason::NotReported, "no lane of the module is in use"));
    };
    let limit = limits.high_warning;
    Ok((limit.0 > 0.0 && most.0 > limit.0 * by, *most, limit))
}

/// The laser takes more current than the module's own high warning limit.
pub const BIAS_HIGH: Observation = Observation {
    name: "bias-high",
    statement: "laser bias is over the module's own high warning limit",
    fact: "laser bias",
    how: HOW_MODULE,
    look: |view| {
        let (over, bias, limit) = match bias_over(view, 1.0) {
            Ok(found) => found,
            Err(why) => return Answer::Unknown(why),
        };
        let source = view.module.known().map_or("", |module| module.thresholds_source.as_str());
        let seen = |text: &str| {
            Seen::new(text, bias.to_string(), source)
                .against(format!("high warning {limit}"))
                .resting_on(&[Word::Readings, Word::Limits])
        };
        if over {
            Answer::Yes(seen("the laser takes more current than the limit"))
        } else {
            Answer::No(seen("the laser's current is not too high"))
        }
    },
};

/// The same by more than the accuracy of the reading.
pub const BIAS_FAR_TOO_HIGH: Observation = Observation {
    name: "bias-far-too-high",
    statement: "laser bias is over that limit by more than the accuracy of the reading (±10 %)",
    fact: "size of the excess of bias",
    how: HOW_MODULE,
    look: |view| match bias_over(view, accuracy::BIAS_RATIO) {
        Ok((true, bias, limit)) => Answer::Yes(
            Seen::new(
                "it is over by more than the reading can be wrong",
                format!("{:.0} % over", (bias.0 / limit.0 - 1.0) * 100.0),
                accuracy::SOURCE_BIAS_SUPPLY,
            )
            .against("±10 %")
            .resting_on(&[Word::Readings, Word::Limits]),
        ),
        _ => Answer::Moot,
    },
};

/// The laser's current is inside the module's own limits.
pub const BIAS_ORDINARY: Observation = Observation {
    name: "bias-ordinary",
    statement: "current flows through the laser, within the module's own limits if it stores any",
    fact: "laser bias",
    how: HOW_MODULE,
    look: |view| {
        let module = match &view.module {
            Fact::Known(module) => module,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let limits = module.thresholds.bias.known();
        let seen = |text: &str, bias: Milliamps| {
            let seen = Seen::new(text, bias.to_string(), "laser bias, module memory")
                .resting_on(&[Word::Readings]);
            match limits {
                Some(limits) => {
                    seen.against(format!("{} to {}", limits.low_warning, limits.high_warning))
                }
                None => seen,
            }
        };
        let mut last = Err(Missing::with(Reason::NotReported, "no lane of the module is in use"));
        for lane in module.used_lanes() {
            let bias = match &lane.bias {
                Fact::Known(bias) => *bias,
                Fact::Missing(why) => return Answer::Unknown(why.clone()),
            };
            let inside = bias.0 > 0.0
                && limits.is_none_or(|limits| {
                    (limits.low_warning.0..=limits.high_warning.0).contains(&bias.0)
                });
            if !inside {
                return Answer::No(seen("the laser's current is not ordinary", bias));
            }
            last = Ok(bias);
        }
        match last {
            Ok(bias) => Answer::Yes(seen("the laser's current is ordinary", bias)),
            Err(why) => Answer::Unknown(why),
        }
    },
};

/// Which transmitter of the link is weak, and by how much.
#[derive(Debug, Clone)]
struct Weak {
    /// True for the far end's.
    far: bool,
    power: Milliwatts,
    limit: String,
    source: String,
    word: Word,
    below: Decibels,
}

fn weak_here(view: &View<'_>) -> Result<Option<Weak>, Missing> {
    let power = view.tx_power().result()?;
    let Some(dbm) = power.dbm().filter(|_| !is_dark(power)) else { return Ok(None) };
    view.lit(&Fact::Known(power)).result()?;
    // What is switched off is not weak.
    if view.any_lane(|lane| &lane.tx_disabled) == Fact::Known(true) {
        return Ok(None);
    }
    let limits = power_limits(view, Side::TxLow);
    if limits.is_empty() {
        return Err(Missing::with(
            Reason::NotReported,
            "neither limits of the module's own nor published ones of its type are known",
        ));
    }
    // The module's own limit speaks when it is crossed; the type's, which the reading's accuracy
    // may cross alone, beyond that only, or where the link or the far receiver is in trouble.
    let least = view.window().and_then(|row| row.rx_least);
    let starved_there = light_there(view.far.rx_power.clone())
        .ok()
        .zip(least)
        .is_some_and(|(dbm, least)| dbm < least);
    let trouble = starved_there || is_in_trouble(view);
    let found = limits.into_iter().find(|limit| {
        let slack = if limit.word == Word::Limits || trouble { 0.0 } else { accuracy::POWER.0 };
        (limit.dbm - dbm).0 > slack
    });
    Ok(found.map(|limit| Weak {
        far: false,
        power,
        below: limit.dbm - dbm,
        limit: limit.text,
        source: limit.source,
        word: limit.word,
    }))
}

fn weak_there(view: &View<'_>) -> Result<Option<Weak>, Missing> {
    let power = view.far.tx_power.clone().result()?;
    let Some(dbm) = power.dbm().filter(|_| !is_dark(power)) else { return Ok(None) };
    far::lit(&Fact::Known(power)).result()?;
    let weak = |least: Dbm, limit: String, source: String, word, slack: f64| {
        let below = least - dbm;
        (below.0 > slack).then_some(Weak { far: true, power, limit, source, word, below })
    };
    let own = view.far.tx_low_warning.known().and_then(|low| Some((*low, low.dbm()?)));
    if let Some((low, least)) = own {
        let text = format!("low warning {low}");
        let source = "the far module's own limits".into();
        if let Some(weak) = weak(least, text, source, Word::Readings, 0.0) {
            return Ok(Some(weak));
        }
    }
    // The published limit holds for the same type at both ends.
    let row = view.window().filter(|row| {
        view.far.module_type.known().is_none_or(|name| name.as_str() == row.interface)
    });
    let slack = if own.is_some() { accuracy::POWER.0 } else { 0.0 };
    Ok(row.and_then(|row| {
        let least = row.tx_least?;
        weak(least, format!("at least {least}"), row.cite(), Word::Identity, slack)
    }))
}

fn weak_transmitter(view: &View<'_>) -> Result<Option<Weak>, Missing> {
    let here = weak_here(view);
    if let Ok(Some(weak)) = here {
        return Ok(Some(weak));
    }
    let starved = matches!((super::RX_LOW.look)(view), Answer::Yes(_));
    match weak_there(view) {
        // Damage may come before the near limit is crossed; the far transmitter is weak by its own.
        Ok(Some(weak)) if starved || is_in_trouble(view) => Ok(Some(weak)),
        // Too little light here: only the far transmitter's power could tell.
        Err(why) if starved => Err(why),
        _ => here,
    }
}

/// The module's own transmitter sends light, but less than its limit.
pub fn own_transmitter_is_weak(view: &View<'_>) -> bool {
    matches!(weak_here(view), Ok(Some(_)))
}

/// A transmitter of this link sends less than its limit.
pub const TRANSMITTER_WEAK: Observation = Observation {
    name: "transmitter-weak",
    statement: "this transmitter, or the far one where too little light or damage arrives here, sends light, \
        but less than its module's own low warning limit or its type's least",
    fact: "transmit power at both ends",
    how: HOW_FAR,
    look: |view| match weak_transmitter(view) {
        Ok(Some(weak)) => {
            let text = if weak.far {
                "the far transmitter sends less than its limit"
            } else {
                "this transmitter sends less than its limit"
            };
            Answer::Yes(
                Seen::new(text, weak.power.to_string(), weak.source)
                    .against(weak.limit)
                    .resting_on(&[Word::Readings, weak.word]),
            )
        }
        Ok(None) => Answer::No(Seen::new(
            "no transmitter of this link that is known is weak",
            view.tx_power().known().map_or_else(String::new, Milliwatts::to_string),
            "transmit power, module memory",
        )),
        Err(why) => Answer::Unknown(why),
    },
};

/// The same by more than the accuracy of the reading.
pub const TRANSMITTER_FAR_TOO_WEAK: Observation = Observation {
    name: "transmitter-far-too-weak",
    statement: "it is under that limit by more than the accuracy of the reading",
    fact: "size of the transmit shortfall",
    how: HOW_MODULE,
    look: |view| match weak_transmitter(view) {
        Ok(Some(weak)) if weak.below.0 > accuracy::POWER.0 => Answer::Yes(
            Seen::new(
                "it is too weak by more than the reading can be wrong",
                weak.below.to_string(),
                accuracy::SOURCE,
            )
            .against(accuracy::POWER.to_string())
            .resting_on(&[Word::Readings, weak.word]),
        ),
        _ => Answer::Moot,
    },
};

/// What the way from that transmitter loses is ordinary.
pub const ITS_WAY_IS_ORDINARY: Observation = Observation {
    name: "its-way-is-ordinary",
    statement: "the way from the weak transmitter loses no more than the channel may",
    fact: "loss of the path",
    how: HOW_FAR,
    look: |view| {
        let loss = match weak_transmitter(view) {
            Ok(Some(weak)) if weak.far => loss_in(view),
            Ok(Some(_)) => loss_out(view),
            _ => return Answer::Moot,
        };
        let loss = match loss {
            Ok(loss) => loss,
            Err(why) => return Answer::Unknown(why),
        };
        super::judge_loss(view, loss).map_or(Answer::Moot, |(too_much, seen)| {
            if too_much { Answer::No(seen) } else { Answer::Yes(seen) }
        })
    },
};

/// A weak transmitter as a sentence.
pub fn weak_sentence(view: &View<'_>) -> String {
    match weak_transmitter(view) {
        Ok(Some(weak)) => format!(
            "{} sends too little light: {}, {}.",
            if weak.far { "The far module" } else { "The module in this port" },
            weak.power,
            weak.limit
        ),
        _ => "A transmitter of this link sends too little light.".into(),
    }
}

// ---- supply -----------------------------------------------------------------------------

/// Supply against a limit of the module's own.
fn supply_under(view: &View<'_>, alarm: bool, by: Volts) -> Result<(bool, Volts, Volts), Missing> {
    let module = view.module.as_ref().result()?;
    let volts = *module.supply.as_ref().result()?;
    let limits = module.thresholds.supply.as_ref().result()?;
    if !(1.0..=6.0).contains(&volts.0) {
        return Err(Missing::with(Reason::Malformed, "no module runs on such a supply"));
    }
    let limit = if alarm { limits.low_alarm } else { limits.low_warning };
    Ok((volts.0 < limit.0 - by.0, volts, limit))
}

fn supply_source(view: &View<'_>) -> String {
    view.module.known().map(|module| module.thresholds_source.clone()).unwrap_or_default()
}

/// The supply is under the module's own low warning limit.
pub const SUPPLY_LOW: Observation = Observation {
    name: "supply-low",
    statement: "the module's supply is under its own low warning limit",
    fact: "module supply",
    how: HOW_MODULE,
    look: |view| match supply_under(view, false, Volts(0.0)) {
        Ok((low, volts, limit)) => {
            let seen = |text: &str| {
                Seen::new(text, volts.to_string(), supply_source(view))
                    .against(format!("low warning {limit}"))
                    .resting_on(&[Word::Readings, Word::Limits])
            };
            if low {
                Answer::Yes(seen("the module's supply is too low"))
            } else {
                Answer::No(seen("the module's supply is not too low"))
            }
        }
        Err(why) => Answer::Unknown(why),
    },
};

/// The same by more than the accuracy of the reading.
pub const SUPPLY_FAR_TOO_LOW: Observation = Observation {
    name: "supply-far-too-low",
    statement: "it is under that limit by more than the accuracy of the reading (±0.1 V)",
    fact: "size of the shortfall of supply",
    how: HOW_MODULE,
    look: |view| match supply_under(view, false, accuracy::SUPPLY) {
        Ok((true, volts, limit)) => Answer::Yes(
            Seen::new(
                "it is too low by more than the reading can be wrong",
                Volts(limit.0 - volts.0).to_string(),
                accuracy::SOURCE_BIAS_SUPPLY,
            )
            .against(format!("±{}", accuracy::SUPPLY))
            .resting_on(&[Word::Readings, Word::Limits]),
        ),
        _ => Answer::Moot,
    },
};

/// The supply is under the alarm limit as well.
pub const SUPPLY_VERY_LOW: Observation = Observation {
    name: "supply-very-low",
    statement: "the module's supply is under its own low alarm limit as well",
    fact: "module supply against its alarm limit",
    how: HOW_MODULE,
    look: |view| match supply_under(view, true, Volts(0.0)) {
        Ok((true, volts, limit)) => Answer::Yes(
            Seen::new("it is under the alarm limit", volts.to_string(), supply_source(view))
                .against(format!("low alarm {limit}"))
                .resting_on(&[Word::Readings, Word::Limits]),
        ),
        _ => Answer::Moot,
    },
};

/// Low supply as a sentence.
pub fn supply_sentence(view: &View<'_>) -> String {
    match supply_under(view, false, Volts(0.0)) {
        Ok((_, volts, limit)) => {
            format!("The module's supply voltage is too low: {volts}, low warning {limit}.")
        }
        Err(_) => "The module's supply voltage is too low.".into(),
    }
}

/// High bias as a sentence.
pub fn bias_sentence(view: &View<'_>) -> String {
    match bias_over(view, 1.0) {
        Ok((_, bias, limit)) => format!(
            "The laser takes more current than it should ({bias}, high warning {limit}), as an \
             ageing one does."
        ),
        Err(_) => "The laser takes more current than it should, as an ageing one does.".into(),
    }
}

// ---- what the way loses -----------------------------------------------------------------

/// The worst loss of the way in: lane by lane where both ends tell their lanes.
pub(super) fn loss_in(view: &View<'_>) -> Result<Decibels, Missing> {
    let lanes = view.lanes_of_both_ends().into_iter();
    let worst = lanes
        .filter_map(|(near, far)| {
            Some(
                light_there(far.tx_power.clone()).ok()?
                    - light_here(view, near.rx_power.clone()).ok()?,
            )
        })
        .max_by(|one, other| one.0.total_cmp(&other.0));
    match worst {
        Some(loss) => Ok(loss),
        None => {
            let sent = light_there(view.far.tx_power.clone())?;
            Ok(sent - light_here(view, view.rx_power())?)
        }
    }
}

/// The worst loss of the way out.
fn loss_out(view: &View<'_>) -> Result<Decibels, Missing> {
    let lanes = view.lanes_of_both_ends().into_iter();
    let worst = lanes
        .filter_map(|(near, far)| {
            Some(
                light_here(view, near.tx_power.clone()).ok()?
                    - light_there(far.rx_power.clone()).ok()?,
            )
        })
        .max_by(|one, other| one.0.total_cmp(&other.0));
    match worst {
        Some(loss) => Ok(loss),
        None => {
            let sent = light_here(view, view.tx_power())?;
            Ok(sent - light_there(view.far.rx_power.clone())?)
        }
    }
}

/// A power that is known to be light, else why nothing can be compared with it.
fn compared(power: Fact<Milliwatts>, lit: Fact<bool>) -> Result<Dbm, Missing> {
    let (power, lit) = (power.result()?, lit.result()?);
    let dbm = power.dbm().filter(|_| lit);
    dbm.ok_or_else(|| Missing::with(Reason::NotApplicable, "no light: nothing to compare"))
}

/// Light that this end reads.
pub(super) fn light_here(view: &View<'_>, power: Fact<Milliwatts>) -> Result<Dbm, Missing> {
    let lit = view.lit(&power);
    compared(power, lit)
}

/// Light that the far end reads.
pub(super) fn light_there(power: Fact<Milliwatts>) -> Result<Dbm, Missing> {
    let lit = far::lit(&power);
    compared(power, lit)
}

/// How much more the way in loses than the way out; negative where the way out is the worse.
fn one_sided(view: &View<'_>) -> Result<(Decibels, Decibels, Decibels), Missing> {
    let (inward, outward) = (loss_in(view)?, loss_out(view)?);
    Ok((Decibels(inward.0 - outward.0), inward, outward))
}

/// By how much one direction is worse, as far as it concerns what arrives here. Where both ends are
/// up, the way out is judged from the far end, where its damage is counted.
fn worse_here(view: &View<'_>, more: Decibels) -> f64 {
    let up = view.port.carrier == Fact::Known(true) && view.far.carrier == Fact::Known(true);
    if up { more.0 } else { more.0.abs() }
}

/// How far receive power fell since the reading in the site file.
fn fallen(view: &View<'_>) -> Result<(Decibels, Dbm), Missing> {
    let before = view.site.and_then(|site| site.rx_power_before_dbm).map(Dbm).ok_or_else(|| {
        Missing::with(Reason::NotAsked, "no earlier reading is written in the site file")
    })?;
    Ok((before - light_here(view, view.rx_power())?, before))
}

fn fallen_seen(view: &View<'_>, before: Dbm, text: &str) -> Seen {
    Seen::new(text, view.rx_power_text(), format!("site file, and readings; {COMMON}"))
        .against(format!("{before} before, give or take {DIFFERS}"))
        .resting_on(&[Word::Readings])
}

/// One direction loses far more than the other, or the receive power has fallen.
pub const ONE_SIDED_OR_NEW: Observation = Observation {
    name: "one-sided-or-new",
    statement: "one direction loses far more light than the other, or less light arrives than at \
        an earlier reading",
    fact: "loss both ways, or an earlier reading",
    how: HOW_SITE,
    look: |view| {
        let (sides, fall) = (one_sided(view), fallen(view));
        let sides_seen = |text: &str, inward: Decibels, outward: Decibels| {
            Seen::new(
                text,
                format!("{inward} in, {outward} out"),
                format!("powers at both ends; {COMMON}"),
            )
            .against(format!("alike within {DIFFERS}"))
            .resting_on(&[Word::Readings])
        };
        match (sides, fall) {
            (Ok((more, inward, outward)), _) if worse_here(view, more) > DIFFERS.0 => {
                let text = if more.0 > 0.0 {
                    "the way in loses far more than the way out"
                } else {
                    "the way out loses far more than the way in"
                };
                Answer::Yes(sides_seen(text, inward, outward))
            }
            (_, Ok((fall, before))) if fall.0 > DIFFERS.0 => {
                Answer::Yes(fallen_seen(view, before, "less light arrives than before"))
            }
            (Ok((more, inward, outward)), _) => {
                let text = if more.0 < -DIFFERS.0 {
                    "the way here does not lose more than the way there"
                } else {
                    "both directions lose alike"
                };
                Answer::No(sides_seen(text, inward, outward))
            }
            (Err(_), Ok((_, before))) => {
                Answer::No(fallen_seen(view, before, "as much light arrives as before"))
            }
            (Err(why), Err(_)) => Answer::Unknown(why),
        }
    },
};

/// One direction is worse by more than the readings can be wrong.
pub const VERY_ONE_SIDED: Observation = Observation {
    name: "very-one-sided",
    statement: "the two directions differ by more than two readings can be wrong",
    fact: "size of the difference between the directions",
    how: HOW_FAR,
    look: |view| match one_sided(view) {
        Ok((more, ..)) if worse_here(view, more) > 2.0 * accuracy::POWER.0 => Answer::Yes(
            Seen::new(
                "the difference is more than two readings can be wrong",
                Decibels(more.0.abs()).to_string(),
                accuracy::SOURCE,
            )
            .against(Decibels(2.0 * accuracy::POWER.0).to_string())
            .resting_on(&[Word::Readings]),
        ),
        _ => Answer::Moot,
    },
};

/// Less light arrives than before, beside a difference between the directions.
pub const FALLEN_AS_WELL: Observation = Observation {
    name: "fallen-as-well",
    statement: "one direction is worse, and less light arrives than at an earlier reading as well",
    fact: "an earlier reading of the receive power",
    how: HOW_SITE,
    look: |view| match (one_sided(view), fallen(view)) {
        (Ok((more, ..)), Ok((fall, before))) if more.0 > DIFFERS.0 && fall.0 > DIFFERS.0 => {
            Answer::Yes(fallen_seen(view, before, "less light arrives than before"))
        }
        _ => Answer::Moot,
    },
};

/// Less light arrives than at an earlier reading.
pub const FALLEN: Observation = Observation {
    name: "fallen",
    statement: "less light arrives than at an earlier reading",
    fact: "an earlier reading of the receive power",
    how: HOW_SITE,
    look: |view| match fallen(view) {
        Ok((fall, before)) if fall.0 > DIFFERS.0 => {
            Answer::Yes(fallen_seen(view, before, "less light arrives than before"))
        }
        Ok((_, before)) => Answer::No(fallen_seen(view, before, "as much light arrives as before")),
        Err(_) => Answer::Moot,
    },
};

/// The loss grows with the wavelength, or changes when the cord is moved.
pub const BENDS_LIGHT: Observation = Observation {
    name: "longer-wavelength-worse",
    statement: "on a shared strand the longer wavelength loses far more, or the light changes when \
        the cord is moved",
    fact: "loss by wavelength, or by movement",
    how: "take the far end's capture of a single-fibre pair (--far FILE), or move the cord gently \
        while somebody reads the power, and write changes_when_moved in the site file",
    look: |view| {
        match view.site.and_then(|site| site.changes_when_moved) {
            Some(true) => {
                return Answer::Yes(Seen::new(
                    "the light changes when the cord is moved",
                    "it changes",
                    "the site file",
                ));
            }
            Some(false) => {
                return Answer::No(Seen::new(
                    "the light does not change when the cord is moved",
                    "steady",
                    "the site file",
                ));
            }
            None => {}
        }
        let near = view.module.as_ref().and_then(|module| module.wavelength.clone());
        let (near, far) = match (near, view.far.wavelength.clone()) {
            (Fact::Known(near), Fact::Known(far)) => (near, far),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => return Answer::Unknown(why),
        };
        // A type with a strand each way may have the wrong partner: then wavelengths differ too.
        let shared = view.module.known().is_some_and(|module| {
            module.interface_types.iter().all(|claimed| claimed.name.contains("-BX"))
        });
        if !shared || (near.0 - far.0).abs() < 20.0 {
            return unknown(
                Reason::NotApplicable,
                "each direction has a strand of its own, or the same wavelength",
            );
        }
        let (more, inward, outward) = match one_sided(view) {
            Ok(found) => found,
            Err(why) => return Answer::Unknown(why),
        };
        // The far end sends `far` in, this end sends `near` out.
        let longer_is_worse_by = if far.0 > near.0 { more.0 } else { -more.0 };
        let seen = |text: &str| {
            Seen::new(
                text,
                format!("{inward} at {far}, {outward} at {near}"),
                format!("powers and wavelengths of both ends; {COMMON}"),
            )
            .against(format!("alike within {DIFFERS}"))
            .resting_on(&[Word::Readings, Word::Identity])
        };
        if longer_is_worse_by > DIFFERS.0 {
            Answer::Yes(seen("the longer wavelength loses far more on the same strand"))
        } else {
            Answer::No(seen("the longer wavelength loses no more than the shorter"))
        }
    },
};

// ---- over time --------------------------------------------------------------------------

/// Carrier was lost while being watched.
pub const WENT_DOWN: Observation = Observation {
    name: "went-down",
    statement: "carrier was lost while the port was watched",
    fact: "losses of carrier over the observed time",
    how: HOW_RATE,
    look: |view| {
        let change =
            rates::change(&view.port.instants, |instant| instant.carrier_down_count.clone());
        let seen = |text: &str, times: u64| {
            Seen::new(text, format!("{times} times"), "carrier losses, as the kernel counts them")
        };
        match change {
            Fact::Known(change) if change.by > 0 => {
                Answer::Yes(seen("carrier was lost while being watched", change.by))
            }
            Fact::Known(_) => Answer::No(seen("carrier was not lost meanwhile", 0)),
            Fact::Missing(why) => Answer::Unknown(why),
        }
    },
};

/// Least and most light that one lane got over the observed time, and when.
#[derive(Debug, Clone, Copy)]
pub struct Swing {
    /// Lane, from 1.
    pub lane: usize,
    /// Least, with the milliseconds since the first instant.
    pub least: (Dbm, u64),
    /// Most, the same.
    pub most: (Dbm, u64),
}

impl Swing {
    /// From the least to the most.
    fn size(&self) -> Decibels {
        self.most.0 - self.least.0
    }

    /// That of a port whose light jumps: by more than one receiver's readings differ by themselves.
    pub fn of_jump(port: &Port) -> Option<Self> {
        let (widest, _) = swing(port).ok()?;
        widest.filter(|swing| swing.size().0 > DIFFERS.0)
    }
}

/// The swing of the lane that jumped most. Dark instants are left out, and told.
fn swing(port: &Port) -> Result<(Option<Swing>, bool), Missing> {
    let mut series: Vec<(&Vec<f64>, u64)> = Vec::new();
    let mut why = Missing::with(Reason::NotAsked, "the module was read once");
    for instant in &port.instants {
        match &instant.received_milliwatts {
            Fact::Known(lanes) => series.push((lanes, instant.at_milliseconds)),
            Fact::Missing(missing) if missing.reason != Reason::NotAsked => why = missing.clone(),
            Fact::Missing(_) => {}
        }
    }
    let lanes = series.iter().map(|(lanes, _)| lanes.len()).min().unwrap_or(0);
    if series.len() < 2 || lanes == 0 {
        return Err(why);
    }
    let mut widest: Option<Swing> = None;
    let mut went_dark = false;
    for lane in 0..lanes {
        let of_lane =
            || series.iter().filter_map(|(lanes, at)| Some((Milliwatts(*lanes.get(lane)?), *at)));
        let light: Vec<(Dbm, u64)> = of_lane()
            .filter_map(|(power, at)| Some((light_there(Fact::Known(power)).ok()?, at)))
            .collect();
        went_dark |= !light.is_empty() && light.len() < of_lane().count();
        let least = light.iter().copied().min_by(|one, other| one.0.0.total_cmp(&other.0.0));
        let most = light.iter().copied().max_by(|one, other| one.0.0.total_cmp(&other.0.0));
        if let (Some(least), Some(most)) = (least, most) {
            let swing = Swing { lane: lane + 1, least, most };
            if widest.is_none_or(|widest| swing.size().0 > widest.size().0) {
                widest = Some(swing);
            }
        }
    }
    Ok((widest, went_dark))
}

/// Receive power jumps while light arrives.
pub const LIGHT_JUMPS: Observation = Observation {
    name: "light-jumps",
    statement: "receive power jumped between two readings of the observed time, with light at both",
    fact: "receive power over the observed time",
    how: "watch it for longer (--seconds 60) on a host that tells the module's receive power",
    look: |view| match swing(view.port) {
        Ok((Some(Swing { least: (least, _), most: (most, _), .. }), went_dark)) => {
            let seen = |text: &str| {
                Seen::new(
                    text,
                    format!("between {least} and {most}"),
                    format!("receive power at each instant; {COMMON}"),
                )
                .against(format!("steady within {DIFFERS}"))
                .resting_on(&[Word::Readings])
            };
            if (most - least).0 > DIFFERS.0 {
                Answer::Yes(seen("receive power jumps"))
            } else if went_dark {
                // The far end going off and on looks like a contact that opens.
                unknown(
                    Reason::NotReported,
                    "the light went out, or nearly, as it does when the far end is switched off",
                )
            } else {
                Answer::No(seen("receive power is steady"))
            }
        }
        Ok((None, _)) => unknown(Reason::NotApplicable, "no light arrived at any time"),
        Err(why) => Answer::Unknown(why),
    },
};

/// A jump of the light as a sentence.
pub fn jump_sentence(view: &View<'_>) -> String {
    match swing(view.port) {
        Ok((Some(Swing { least: (least, _), most: (most, _), .. }), _)) => {
            let goes = matches!((WENT_DOWN.look)(view), Answer::Yes(_));
            let begin = if goes { "The link comes and goes while receive" } else { "Receive" };
            format!(
                "{begin} power jumps between {least} and {most}: a contact on the way is loose."
            )
        }
        _ => "The link comes and goes: a contact on the way may be loose.".into(),
    }
}

// ---- one lane beside its siblings -------------------------------------------------------

/// Lanes that stand apart from their siblings in one quantity.
struct Apart {
    /// `lane 3`, `FEC lane 2`.
    whose: String,
    text: &'static str,
    observed: String,
    limit: String,
    source: String,
    words: Vec<Word>,
    /// No light at all on them.
    dark: bool,
    by_fec: bool,
    /// More than one lane.
    several: bool,
}

impl Apart {
    fn stands(&self) -> &'static str {
        if self.several { "stand apart" } else { "stands apart" }
    }
}

/// `lane 3`, `lanes 1, 3`.
fn lane_list(word: &str, lanes: &[u8]) -> String {
    let numbers: Vec<String> = lanes.iter().map(u8::to_string).collect();
    let plural = if lanes.len() == 1 { "" } else { "s" };
    format!("{word}{plural} {}", numbers.join(", "))
}

/// The upper median: lanes that are apart do not move it while they are half of all at most.
fn upper_median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

/// Light of one kind. `None` where the lanes are alike.
fn light_apart(
    view: &View<'_>,
    module: &Module,
    side: Side,
    pick: fn(&Lane) -> &Fact<Milliwatts>,
) -> Result<Option<Apart>, Missing> {
    let floor = accuracy::NO_LIGHT_DBM;
    // A link that is up and damages nothing has no dark lane: such a lane is not used.
    let may_be_dark = view.port.carrier != Fact::Known(true)
        || matches!((super::ERRORS_RISING.look)(view), Answer::Yes(_));
    let mut all = Vec::new();
    for lane in module.used_lanes() {
        // What is switched off on purpose is no fault of the lane's.
        if side == Side::TxLow && lane.tx_disabled == Fact::Known(true) {
            continue;
        }
        let power = *pick(lane).as_ref().result()?;
        if may_be_dark || !is_dark(power) {
            all.push((lane.number, power.dbm().map_or(floor, |dbm| dbm.0.max(floor))));
        }
    }
    let values: Vec<f64> = all.iter().map(|(_, dbm)| *dbm).collect();
    let Some(usual) = upper_median(&values).filter(|usual| *usual > floor) else {
        return Ok(None);
    };
    let limits = power_limits(view, side);
    let low = |dbm: f64| dbm <= floor || limits.iter().any(|limit| dbm < limit.dbm.0);
    let low: Vec<(u8, f64)> = all
        .into_iter()
        .filter(|(_, dbm)| {
            let below = usual - dbm;
            below > LANES_DIFFER_MOST.0 || (below > DIFFERS.0 && low(*dbm))
        })
        .collect();
    let Some(worst) = low.iter().map(|(_, dbm)| *dbm).reduce(f64::min) else { return Ok(None) };
    let lanes: Vec<u8> = low.iter().map(|(number, _)| *number).collect();
    let dark = worst <= floor;
    let whose = lane_list("lane", &lanes);
    let power = if dark { "no light".to_owned() } else { Dbm(worst).to_string() };
    Ok(Some(Apart {
        observed: format!("{power} on {whose}"),
        limit: format!("{} on the others", Dbm(usual)),
        whose,
        text: match (side, dark) {
            (Side::TxLow, false) => "far less light is sent than on the lanes beside",
            (Side::TxLow, true) => "no light is sent, unlike on the lanes beside",
            (_, false) => "far less light arrives than on the lanes beside",
            (_, true) => "no light arrives, unlike on the lanes beside",
        },
        source: format!(
            "powers of the lanes, module memory; lanes may differ by {LANES_DIFFER_MOST} (IEEE 802.3 \
             clause 88, from memory)"
        ),
        words: vec![Word::Readings],
        dark,
        by_fec: false,
        several: low.len() > 1,
    }))
}

fn bias_apart(module: &Module) -> Result<Option<Apart>, Missing> {
    let limits = module.thresholds.bias.as_ref().result()?;
    let mut all = Vec::new();
    for lane in module.used_lanes().filter(|lane| lane.tx_disabled != Fact::Known(true)) {
        all.push((lane.number, lane.bias.as_ref().result()?.0));
    }
    let values: Vec<f64> = all.iter().map(|(_, bias)| *bias).collect();
    let Some(usual) = upper_median(&values).filter(|usual| *usual > 0.0) else { return Ok(None) };
    let inside = limits.low_warning.0..=limits.high_warning.0;
    // Half as much again, or half: more than two readings of ±10 % can differ by.
    let apart: Vec<(u8, f64)> = all
        .into_iter()
        .filter(|(_, bias)| !(usual / 2.0..=usual * 1.5).contains(bias) && !inside.contains(bias))
        .collect();
    let Some((_, bias)) = apart.first() else { return Ok(None) };
    let lanes: Vec<u8> = apart.iter().map(|(number, _)| *number).collect();
    let whose = lane_list("lane", &lanes);
    Ok(Some(Apart {
        observed: format!("{} on {whose}", Milliamps(*bias)),
        limit: format!("{} on the others", Milliamps(usual)),
        whose,
        text: "its laser takes another current than those beside it",
        source: format!("{}; {COMMON}", module.thresholds_source),
        words: vec![Word::Readings, Word::Limits],
        dark: false,
        by_fec: false,
        several: apart.len() > 1,
    }))
}

/// FEC counts of the lanes: one that makes nearly all of them.
fn fec_apart(view: &View<'_>) -> Result<Option<Apart>, Missing> {
    use crate::snapshot::{FecCounters, LaneCounts};
    type Pick = fn(&FecCounters) -> &Fact<LaneCounts>;
    let picks: [(Pick, &str); 3] = [
        (|c| &c.uncorrectable_blocks, "codewords beyond correction"),
        (|c| &c.corrected_bits, "corrected bits"),
        (|c| &c.corrected_blocks, "corrected codewords"),
    ];
    let mut found = Err(Missing::with(Reason::NotReported, "FEC is not counted by lane"));
    for (pick, what) in picks {
        let count = view.last().and_then(|last| {
            let counters = last.fec_counters.known()?;
            Some(pick(counters).known()?.lanes.len())
        });
        let Some(count @ 2..=64) = count else { continue };
        let mut grown = Vec::new();
        for lane in 0..count {
            let change = rates::change(&view.port.instants, |instant| {
                instant.fec_counters.as_ref().and_then(|counters| {
                    pick(counters).as_ref().and_then(|counts| match counts.lanes.get(lane) {
                        Some(count) => Fact::Known(*count),
                        None => missing(Reason::NotReported, "FEC is not counted by lane"),
                    })
                })
            });
            grown.push(change.result()?.by);
        }
        found = Ok(());
        let most = grown.iter().copied().max().unwrap_or(0);
        let rest = grown.iter().fold(0u64, |sum, by| sum.saturating_add(*by)).saturating_sub(most);
        // Ten times as much as all the others together, and not by chance.
        if most < 20 || most / 10 <= rest {
            continue;
        }
        let lane = grown.iter().position(|by| *by == most).unwrap_or(0);
        let whose = format!("FEC lane {}", lane.saturating_add(1));
        return Ok(Some(Apart {
            observed: format!("{most} {what} on {whose}"),
            limit: format!("{rest} on all others together"),
            whose,
            text: "nearly all damage is on it",
            source: format!("FEC counters by lane (IEEE 802.3 30.5.1.1.17, .18); {COMMON}"),
            words: Vec::new(),
            dark: false,
            by_fec: true,
            several: false,
        }));
    }
    found.map(|()| None)
}

/// The lanes that stand apart, by what shows it best. `Ok(None)` where they are alike.
fn lanes_apart(view: &View<'_>) -> Result<Option<Apart>, Missing> {
    let module = match &view.module {
        Fact::Known(module) => module,
        Fact::Missing(why) => return fec_apart(view).map_err(|_| why.clone()),
    };
    if view.lanes_needed(module) < module.used_lanes().count() {
        return Err(Missing::with(
            Reason::NotReported,
            "the module is broken out, and nothing tells which lanes are this port's",
        ));
    }
    let optical = module.carries.is_optical();
    let light = |side, pick| {
        if optical {
            light_apart(view, module, side, pick)
        } else {
            Err(Missing::with(Reason::NotApplicable, "no light leaves this kind of module"))
        }
    };
    let mut alike = false;
    let mut why = None;
    for found in [
        light(Side::RxLow, |lane| &lane.rx_power),
        light(Side::TxLow, |lane| &lane.tx_power),
        bias_apart(module),
        fec_apart(view),
    ] {
        match found {
            Ok(Some(apart)) => return Ok(Some(apart)),
            Ok(None) => alike = true,
            Err(missing) => why = why.or(Some(missing)),
        }
    }
    if alike { Ok(None) } else { Err(why.unwrap_or_default()) }
}

const LANES_SOURCE: &str = "lanes of the module, or the best speed of the port";
/// The most that a port of one lane runs at where nothing else tells its lanes: 25GBASE-R (IEEE
/// 802.3 clause 107). The lanes that FEC counts there are shares of one signal.
const ONE_LANE_MOST: Mbps = Mbps(25_000);

/// What shows that there is one lane, which has no siblings; `None` where there may be more.
fn lone_lane(view: &View<'_>) -> Option<String> {
    match &view.module {
        Fact::Known(module) => {
            module.used_lanes().nth(1).is_none().then(|| "a module of one lane".to_owned())
        }
        Fact::Missing(_) => {
            let best = view.port_best().known().copied()?;
            (best <= ONE_LANE_MOST).then(|| format!("a port of {best}"))
        }
    }
}

fn has_no_siblings(view: &View<'_>) -> bool {
    lone_lane(view).is_some()
}

/// One lane stands apart from its siblings.
pub const LANE_APART: Observation = Observation {
    name: "lane-apart",
    statement: "one lane stands apart from its siblings: in received or sent light, in laser bias, \
        or in what FEC counts on it",
    fact: "the lanes beside one another",
    how: HOW_MODULE,
    look: |view| {
        if let Some(what) = lone_lane(view) {
            return Answer::No(Seen::new(
                "there is one lane, with none beside it",
                what,
                LANES_SOURCE,
            ));
        }
        match lanes_apart(view) {
            Ok(Some(apart)) => Answer::Yes(
                Seen::new(
                    format!("{} {}: {}", apart.whose, apart.stands(), apart.text),
                    apart.observed,
                    apart.source,
                )
                .against(apart.limit)
                .resting_on(&apart.words),
            ),
            Ok(None) => Answer::No(Seen::new(
                "the lanes are alike",
                "no lane stands apart",
                "readings of the lanes, module memory",
            )),
            Err(why) => Answer::Unknown(why),
        }
    },
};

/// That lane has no light at all.
pub const LANE_DARK: Observation = Observation {
    name: "lane-dark",
    statement: "that lane has no light at all",
    fact: "whether any light is left on that lane",
    how: HOW_MODULE,
    look: |view| match lanes_apart(view) {
        Ok(Some(apart)) if apart.dark && !has_no_siblings(view) => Answer::Yes(
            Seen::new(
                "no light at all on it",
                apart.observed,
                "powers of the lanes, module memory",
            )
            .resting_on(&apart.words),
        ),
        _ => Answer::Moot,
    },
};

/// Lanes whose transmitter reports a fault, where those of other lanes report none.
fn faulty_lanes(view: &View<'_>) -> Vec<u8> {
    let lanes = || view.module.known().into_iter().flat_map(Module::used_lanes);
    if !lanes().any(|lane| lane.tx_fault == Fact::Known(false)) {
        return Vec::new();
    }
    let faulty = lanes().filter(|lane| lane.tx_fault == Fact::Known(true));
    faulty.map(|lane| lane.number).collect()
}

/// One lane's transmitter reports a fault, and those beside it do not.
pub const LANE_TX_FAULT: Observation = Observation {
    name: "lane-tx-fault",
    statement: "the transmitter of one lane reports a fault, those of the lanes beside it do not",
    fact: "transmitter fault state of each lane",
    how: HOW_MODULE,
    look: |view| match faulty_lanes(view) {
        lanes if lanes.is_empty() => Answer::Moot,
        lanes => Answer::Yes(
            Seen::new(
                "the transmitter of a lane reports a fault, those beside it do not",
                lane_list("lane", &lanes),
                "transmitter fault state, module memory",
            )
            .resting_on(&[Word::Readings]),
        ),
    },
};

/// A transmitter fault as a sentence: of the module, or of the lanes that report it.
pub fn tx_fault_sentence(view: &View<'_>) -> String {
    match faulty_lanes(view) {
        lanes if lanes.is_empty() => {
            "The module in this port has shut its transmitter down because of a fault.".into()
        }
        lanes => format!(
            "The transmitter of {} in this module reports a fault; the lanes beside report none.",
            lane_list("lane", &lanes)
        ),
    }
}

/// FEC counts one lane apart as well.
pub const FEC_LANE_APART: Observation = Observation {
    name: "fec-lane-apart",
    statement: "FEC counts nearly all damage on one lane as well",
    fact: "FEC counters by lane",
    how: HOW_RATE,
    look: |view| match (lanes_apart(view), fec_apart(view)) {
        (Ok(Some(lane)), Ok(Some(apart))) if !lane.by_fec && !has_no_siblings(view) => Answer::Yes(
            Seen::new("FEC counts it on one lane as well", apart.observed, apart.source)
                .against(apart.limit),
        ),
        _ => Answer::Moot,
    },
};

/// The far end's transmitter of a lane that is dark here is switched off.
pub const FAR_LANE_SWITCHED_OFF: Observation = Observation {
    name: "far-lane-switched-off",
    statement: "the far end's transmitter of the lane that is dark here is switched off",
    fact: "what the far end sends on each lane",
    how: HOW_FAR,
    look: |view| {
        let dark = view.dark_lanes();
        if dark.is_empty() {
            return Answer::Moot;
        }
        if view.far.lanes.is_empty() {
            return unknown(Reason::NotAsked, "nobody told about the far end's lanes");
        }
        let off = view.dark_lanes_off_there();
        let by = view.far.told_by;
        if off.is_empty() {
            Answer::No(Seen::new(
                "the far end has not switched that lane off",
                lane_list("lane", &dark),
                by,
            ))
        } else {
            Answer::Yes(Seen::new(
                "the far end has switched that lane's transmitter off",
                lane_list("lane", &off),
                by,
            ))
        }
    },
};

/// No light arrives, or none on a lane that the far end has switched off.
pub const NO_LIGHT_OR_NONE_SENT: Observation = Observation {
    name: "no-light-or-none-sent",
    statement: "no light arrives at this receiver, or none on a lane that the far end has switched \
        off",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| {
        let off = view.dark_lanes_off_there();
        if off.is_empty() {
            return (super::NO_LIGHT.look)(view);
        }
        Answer::Yes(
            Seen::new(
                "no light arrives on a lane",
                lane_list("lane", &off),
                "receive power, module memory",
            )
            .against(format!("dark at or below {} (common practice)", Dbm(accuracy::NO_LIGHT_DBM)))
            .resting_on(&[Word::Readings]),
        )
    },
};

/// A lane that is apart, as a sentence.
pub fn lane_sentence(view: &View<'_>) -> String {
    match lanes_apart(view) {
        Ok(Some(apart)) => {
            let whose = apart.whose.replacen("lane", "Lane", usize::from(!apart.by_fec));
            format!(
                "{whose} {} from {} siblings: {} ({}).",
                apart.stands(),
                if apart.several { "their" } else { "its" },
                apart.observed,
                apart.limit
            )
        }
        _ => "One lane stands apart from its siblings.".into(),
    }
}
