//! Whether the two ends agree: speed, negotiation, FEC, lanes, duplex; and what the cable may carry.

use super::{HOW_FAR, OWN_LIST, RFC2863, TWISTED_PAIR, far_offer, substate_is, untold};
use crate::calc::rates;
use crate::chain::far;
use crate::chain::settings;
use crate::diagnose::observation::{
    Answer, HOW_HOST, HOW_MEDIUM, HOW_MODULE, HOW_RATE, Observation, Seen,
};
use crate::diagnose::symptoms;
use crate::diagnose::view::View;
use crate::module::{Carries, Module, Word};
use crate::quantity::{Mbps, Metres};
use crate::snapshot::{Connector, Duplex, Fact, Missing, Reason};
use crate::standards::media::{self, Fec, Grade};
use crate::standards::names;

fn unknown(reason: Reason, detail: impl Into<String>) -> Answer {
    Answer::Unknown(Missing::with(reason, detail))
}

fn list(speeds: &[Mbps]) -> String {
    speeds.iter().map(Mbps::to_string).collect::<Vec<_>>().join(", ")
}

fn is_twisted_pair(view: &View<'_>) -> bool {
    matches!((TWISTED_PAIR.look)(view), Answer::Yes(_))
}

/// A cable that ends in the module, of copper or with electronics inside.
fn is_cable(view: &View<'_>) -> Fact<bool> {
    match &view.module {
        Fact::Known(module) if module.carries != Carries::Unknown => {
            Fact::Known(matches!(module.carries, Carries::PassiveCopper | Carries::ActiveCable))
        }
        _ => match view.port.ethernet.connector.known() {
            Some(Connector::DirectAttach) => Fact::Known(true),
            Some(Connector::TwistedPair) => Fact::Known(false),
            _ => Fact::Missing(view.module.why_missing().cloned().unwrap_or_default()),
        },
    }
}

// ---- speed ------------------------------------------------------------------------------

/// Speeds that cannot meet: what this end can be at, what the far end or the module can.
struct Apart {
    here: String,
    there: String,
    is_between_ends: bool,
}

/// Speeds at which this FEC code exists: RS-FEC begins at 25 Gb/s (IEEE 802.3 clause 108).
fn with_fec(speeds: &[Mbps], code: Option<&str>) -> Vec<Mbps> {
    let least = if code.is_some_and(|code| strength(code) > 1) { 25_000 } else { 0 };
    speeds.iter().copied().filter(|speed| *speed >= Mbps(least)).collect()
}

/// The most that the far port and its module can do; of a module only where it has as many lanes as
/// the one here, since lanes that are split make another speed.
fn far_most(view: &View<'_>) -> Option<Mbps> {
    let far = &view.far;
    let lanes = far.module_type.known().and_then(|name| settings::lanes_of_mode(name));
    let here = view.module.known().and_then(settings::cage_lanes);
    let module = far.module_best.known().filter(|_| lanes.is_some() && lanes == here);
    far.best.known().into_iter().chain(module).min().copied()
}

/// Holds the speeds against one another: `Ok(None)` where they meet.
fn speeds_apart(view: &View<'_>) -> Result<Option<Apart>, Missing> {
    let set = settings::set_speed(view.port);
    let common = settings::common_speeds(view.port, &view.module);
    let here = match (&set, &common) {
        (Fact::Known(set), Fact::Known(common)) => {
            // A port that has no mode at the module's rate is another fault.
            if let Fact::Known(module) = &view.module
                && !common.is_empty()
                && !settings::can_run(module, *set)
            {
                return Ok(Some(Apart {
                    here: format!("port set to {set}"),
                    there: format!("module {}", list(&module.speeds)),
                    is_between_ends: false,
                }));
            }
            vec![*set]
        }
        (Fact::Known(set), Fact::Missing(_)) => vec![*set],
        (Fact::Missing(_), Fact::Known(common)) => {
            with_fec(common, fec_here(view).known().copied())
        }
        (Fact::Missing(why), Fact::Missing(_)) => return Err(why.clone()),
    };
    let far = &view.far;
    let there = match (&far.set_speed, &far.speeds) {
        (Fact::Known(set), _) => vec![*set],
        (_, Fact::Known(speeds)) => with_fec(speeds, far.fec.known().map(String::as_str)),
        // All that is known is what it cannot do.
        _ => {
            let Some(best) = far_most(view) else {
                return Err(far.set_speed.why_missing().cloned().unwrap_or_default());
            };
            return if !here.is_empty() && here.iter().all(|speed| *speed > best) {
                Ok(Some(Apart {
                    here: list(&here),
                    there: format!("at most {best}"),
                    is_between_ends: true,
                }))
            } else {
                Err(Missing::with(Reason::NotAsked, "nobody told what the far port is set to"))
            };
        }
    };
    if here.is_empty() || there.is_empty() {
        return Err(Missing::with(Reason::NotReported, "no speed of the module fits its port"));
    }
    if here.iter().any(|speed| there.contains(speed)) {
        return if here.len() == 1 && there.len() == 1 {
            Ok(None)
        } else {
            Err(Missing::with(Reason::NotReported, "the ends could meet: what they are set to"))
        };
    }
    Ok(Some(Apart { here: list(&here), there: list(&there), is_between_ends: true }))
}

/// The speeds of this end that do not meet the others, in words.
pub fn speeds_here(view: &View<'_>) -> Option<String> {
    speeds_apart(view).ok().flatten().map(|apart| apart.here)
}

/// What they do not meet.
pub fn speeds_there(view: &View<'_>) -> Option<String> {
    speeds_apart(view).ok().flatten().map(|apart| apart.there)
}

/// The ends, or this port and its module, are at speeds that cannot meet.
pub const SPEEDS_APART: Observation = Observation {
    name: "speeds-apart",
    statement: "the two ends are set to different speeds, or this port to one that its module does \
        not have",
    fact: "speed set at both ends",
    how: HOW_FAR,
    look: |view| {
        let negotiates = view.port.ethernet.autonegotiation == Fact::Known(true);
        if is_twisted_pair(view) && negotiates {
            return Answer::Moot;
        }
        match speeds_apart(view) {
            Ok(Some(apart)) => {
                let (text, source) = if apart.is_between_ends {
                    (
                        "the ends are not at one speed",
                        format!("this host's settings and module, and {}", view.far.told_by),
                    )
                } else {
                    (
                        "this port is set to a speed that its module does not have",
                        "speed setting and module memory".to_owned(),
                    )
                };
                Answer::Yes(
                    Seen::new(text, format!("here {}", apart.here), source)
                        .against(format!("there {}", apart.there))
                        .resting_on(if apart.is_between_ends { &[] } else { &[Word::Identity] }),
                )
            }
            Ok(None) => Answer::No(Seen::new(
                "both ends are set to the same speed",
                view.far.set_speed.known().map_or_else(String::new, Mbps::to_string),
                format!("this host, and {}", view.far.told_by),
            )),
            Err(why) => Answer::Unknown(why),
        }
    },
};

/// The far end's own word tells that the speeds are apart.
pub const FAR_SPEED_TOLD: Observation = Observation {
    name: "far-speed-told",
    statement: "the far end's own setting, module or best speed is what does not meet",
    fact: "the far end's word on its speed",
    how: HOW_FAR,
    look: |view| match speeds_apart(view) {
        Ok(Some(apart)) if apart.is_between_ends => Answer::Yes(Seen::new(
            "the far end itself tells its speed",
            apart.there,
            format!("told by {}", view.far.told_by),
        )),
        _ => Answer::Moot,
    },
};

/// The driver says that the rate does not fit.
pub const RATE_REFUSED: Observation = Observation {
    name: "rate-refused",
    statement: "the driver reports an unsupported rate, or no partner at the speed that is set",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        let words = "the driver finds nothing at the speed that is set";
        moot_if_not(substate_is(
            view,
            &["unsupported-rate", "no-partner-detected-in-forced-mode"],
            words,
        ))
    },
};

/// What the driver does not say speaks against nothing.
fn moot_if_not(answer: Answer) -> Answer {
    match answer {
        Answer::Yes(seen) => Answer::Yes(seen),
        Answer::Unknown(_) | Answer::No(_) | Answer::Moot => Answer::Moot,
    }
}

/// The far port runs at, or is set to, this link's speed and negotiates nothing.
pub const FAR_FIXED_HERE: Observation = Observation {
    name: "far-fixed-here",
    statement: "the far port does not negotiate and is set to the speed that runs",
    fact: "the far port's setting",
    how: HOW_FAR,
    look: |view| {
        let by = format!("told by {}", view.far.told_by);
        match (&view.running, &view.far.autonegotiation, &view.far.set_speed) {
            (_, Fact::Known(true), _) => {
                Answer::No(Seen::new("the far port negotiates its speed", "autonegotiation on", by))
            }
            // That both ends of a medium without negotiation run at one speed says nothing of who
            // was set to it.
            (..) if negotiation_clause(view) == Fact::Known(None)
                && view.far.carrier == Fact::Known(true) =>
            {
                Answer::Moot
            }
            // Where the medium has no negotiation the speed alone is the setting.
            (Fact::Known(running), autonegotiation, Fact::Known(set))
                if autonegotiation.known().is_some()
                    || negotiation_clause(view) == Fact::Known(None) =>
            {
                let seen = |text: &str| {
                    Seen::new(text, format!("set to {set}, not negotiated"), by)
                        .against(format!("runs at {running}"))
                };
                if set == running {
                    Answer::Yes(seen("the far port is fixed at the speed that runs"))
                } else {
                    Answer::No(seen("the far port is set to another speed"))
                }
            }
            (Fact::Missing(why), _, _) | (_, _, Fact::Missing(why)) => Answer::Unknown(why.clone()),
            (_, autonegotiation, _) => {
                Answer::Unknown(autonegotiation.why_missing().cloned().unwrap_or_default())
            }
        }
    },
};

/// The module at the far end could do more than the link runs at.
pub const FAR_MODULE_COULD_DO_MORE: Observation = Observation {
    name: "far-module-could-do-more",
    statement: "the module at the far end could do more than the link runs at",
    fact: "best speed of the far module",
    how: HOW_FAR,
    look: |view| {
        let Fact::Known(running) = &view.running else { return Answer::Moot };
        match view.chain.ceiling(crate::chain::PartKind::FarModule) {
            Some(ceiling) => {
                let seen = |text: &str| {
                    Seen::new(text, ceiling.speed.to_string(), &ceiling.source)
                        .against(format!("runs at {running}"))
                };
                if ceiling.speed > *running {
                    Answer::Yes(seen("the far module could do more"))
                } else {
                    Answer::No(seen("the far module can do no more"))
                }
            }
            None => Answer::Moot,
        }
    },
};

// ---- negotiation ------------------------------------------------------------------------

/// Where the ends settle something between them, and by which clause.
fn negotiation_clause(view: &View<'_>) -> Fact<Option<&'static str>> {
    if is_twisted_pair(view) {
        return Fact::Known(Some("IEEE 802.3 clause 28"));
    }
    let best = match &view.module {
        Fact::Known(module) => module.top_speed.clone(),
        Fact::Missing(_) => view.port_best(),
    };
    let cable = is_cable(view);
    best.and_then(|best| {
        cable.map(|cable| {
            if cable && best >= Mbps(25_000) {
                Some("IEEE 802.3 clause 73")
            } else if best <= Mbps(1000) {
                Some("IEEE 802.3 clause 37")
            } else {
                None
            }
        })
    })
}

/// The medium has a negotiation that a list of modes could limit.
pub const SPEED_IS_NEGOTIATED: Observation = Observation {
    name: "speed-is-negotiated",
    statement: "the medium has a negotiation, so that a list of offers can limit the speed",
    fact: "whether this medium negotiates",
    how: HOW_MODULE,
    look: |view| {
        let heard = view.port.ethernet.peer_modes.known().is_some_and(|modes| !modes.is_empty());
        let off = [
            (&view.port.ethernet.autonegotiation, "autonegotiation is off here", "this host"),
            (&view.far.autonegotiation, "autonegotiation is off at the far end", view.far.told_by),
        ];
        // Who does not negotiate makes no offer.
        let off = off.iter().find(|(on, ..)| **on == Fact::Known(false) && !heard);
        match negotiation_clause(view) {
            Fact::Known(None) if !heard => Answer::No(Seen::new(
                "this medium settles no speed between its ends",
                "no negotiation",
                "optical types and 10G direct attach (IEEE 802.3 clauses 52, 112)",
            )),
            _ => match off {
                Some((_, text, by)) => Answer::No(Seen::new(*text, "no offers are made", *by)),
                None => Answer::Moot,
            },
        }
    },
};

/// One end negotiates, the other does not, where the medium has a negotiation.
pub const NEGOTIATION_DIFFERS: Observation = Observation {
    name: "negotiation-differs",
    statement: "one end negotiates and the other does not, on a medium that has a negotiation",
    fact: "autonegotiation at both ends",
    how: HOW_FAR,
    look: |view| {
        let clause = match negotiation_clause(view) {
            Fact::Known(Some(clause)) => clause,
            // Faster optics and 10G direct attach have none to disagree on.
            Fact::Known(None) => return Answer::Moot,
            Fact::Missing(why) => return Answer::Unknown(why),
        };
        match (&view.port.ethernet.autonegotiation, &view.far.autonegotiation) {
            (Fact::Known(near), Fact::Known(far)) => {
                let word = |on: &bool| if *on { "on" } else { "off" };
                let seen = |text: &str| {
                    Seen::new(
                        text,
                        format!("{} here, {} there", word(near), word(far)),
                        format!("this host, and {}", view.far.told_by),
                    )
                    .against(format!("the same at both ends ({clause})"))
                };
                if near == far {
                    Answer::No(seen("both ends are set alike"))
                } else {
                    Answer::Yes(seen("one end negotiates, the other does not"))
                }
            }
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Answer::Unknown(why.clone()),
        }
    },
};

/// The driver says that no partner answers.
pub const NO_PARTNER: Observation = Observation {
    name: "no-partner",
    statement: "the driver reports that no partner answers its negotiation, or none without it",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        // A twisted pair that nobody is on says so too, and a fixed end at 10 or 100 Mb/s is found
        // without an offer.
        if is_twisted_pair(view) && view.far.autonegotiation.known().is_none() {
            return Answer::Moot;
        }
        moot_if_not(substate_is(
            view,
            &[
                "no-partner-detected",
                "no-partner-detected-in-forced-mode",
                "acknowledge-not-received",
                "next-page-exchange-failed",
            ],
            "the driver finds no partner to settle with",
        ))
    },
};

// ---- FEC --------------------------------------------------------------------------------

/// FEC codes in order of strength.
fn strength(code: &str) -> u8 {
    match code {
        "none" => 0,
        "rs" | "ll-rs" => 2,
        // A code that is not known is not taken for the strongest.
        _ => 1,
    }
}

/// The code at work here, or the only one that is allowed.
fn fec_here<'a>(view: &'a View<'_>) -> Fact<&'a str> {
    let ethernet = &view.port.ethernet;
    ethernet.fec_active.as_ref().map(String::as_str).or_else(|| {
        match ethernet.fec_configured.known().map(Vec::as_slice) {
            Some([code]) if ethernet.fec_automatic != Fact::Known(true) => {
                Fact::Known(code.as_str())
            }
            _ => Fact::Missing(ethernet.fec_active.why_missing().cloned().unwrap_or_default()),
        }
    })
}

/// The FEC that the medium needs at the speed that runs, and whose word that is.
fn needed_fec(view: &View<'_>) -> Fact<(&'static str, String)> {
    let running = match &view.running {
        Fact::Known(running) => *running,
        Fact::Missing(why) => return Fact::Missing(why.clone()),
    };
    // A cable class that somebody wrote down says it for any end of the cable.
    let told = match view.site.and_then(crate::site::SitePort::grade) {
        Some(Grade::TwinaxLong) => Some("rs"),
        Some(Grade::TwinaxShort) => Some("base-r"),
        Some(Grade::TwinaxNoFec) => Some("none"),
        _ => None,
    };
    if let Some(code) = told
        && running >= Mbps(25_000)
    {
        return Fact::Known((code, "cable class in the site file; IEEE 802.3 clause 110".into()));
    }
    view.module.as_ref().and_then(|module| {
        let claimed = module.interface_types.iter().filter(|claimed| {
            claimed.speed == Some(running)
                // One leg of a cable for four lanes.
                || (claimed.speed.is_none() && running == Mbps(25_000))
        });
        let mut found: Option<(&'static str, String)> = None;
        for claimed in claimed {
            let copper = module.carries == Carries::PassiveCopper;
            let by_code = module.fec.filter(|_| copper).and_then(|fec| match fec {
                "RS-FEC" => Some("rs"),
                "BASE-R FEC" => Some("base-r"),
                "no FEC" => Some("none"),
                _ => None,
            });
            let by_row = media::rows_of(&claimed.name).next().and_then(|row| match row.fec {
                Fec::Rs528 | Fec::Rs544 => Some(("rs", row.clause)),
                Fec::None | Fec::BaseROptional => Some(("none", row.clause)),
                // The class of the cable decides.
                Fec::InPhy | Fec::BaseROrRs | Fec::BaseROnly => None,
            });
            let needed = match (by_code, by_row) {
                (Some(code), _) => Some((code, claimed.source.clone())),
                (None, Some((code, clause))) => Some((code, format!("{clause}, {}", claimed.name))),
                (None, None) => None,
            };
            // Of several types at this speed the one that needs least counts.
            if let Some((code, source)) = needed
                && found.as_ref().is_none_or(|(least, _)| strength(code) < strength(least))
            {
                found = Some((code, source));
            }
        }
        found.map_or_else(
            || Fact::missing_with(Reason::NotReported, "its type does not tell what FEC it needs"),
            Fact::Known,
        )
    })
}

/// No FEC, or a weaker one than the strongest, is at work.
pub const FEC_WEAK: Observation = Observation {
    name: "fec-weak",
    statement: "no FEC is at work, or only BASE-R FEC",
    fact: "FEC code at work",
    how: HOW_HOST,
    look: |view| {
        // Slower types, and twisted pair, have none that a host could switch on.
        if is_twisted_pair(view)
            || view.running.known().is_some_and(|running| *running < Mbps(25_000))
        {
            return Answer::Moot;
        }
        let code = match fec_here(view) {
            Fact::Known(code) => code,
            Fact::Missing(why) => return Answer::Unknown(why),
        };
        let seen = |text: &str| Seen::new(text, names::fec_code(code), "FEC code at work, driver");
        if strength(code) < 2 {
            Answer::Yes(seen("the strongest FEC is not at work"))
        } else {
            Answer::No(seen("FEC is at work"))
        }
    },
};

/// The medium needs more FEC than is at work.
pub const MEDIUM_NEEDS_MORE_FEC: Observation = Observation {
    name: "medium-needs-more-fec",
    statement: "the interface type or cable class needs more FEC than is at work",
    fact: "FEC that the medium needs",
    how: HOW_MODULE,
    look: |view| {
        if view.running.known().is_some_and(|running| *running < Mbps(25_000)) {
            // Below that no FEC is asked for.
            return Answer::Moot;
        }
        let (needed, source) = match needed_fec(view) {
            Fact::Known(known) => known,
            Fact::Missing(why) => return Answer::Unknown(why),
        };
        let Fact::Known(active) = fec_here(view) else { return Answer::Moot };
        let seen = |text: &str| {
            Seen::new(text, names::fec_code(active), source)
                .against(format!("needs {}", names::fec_code(needed)))
                .resting_on(&[Word::Identity])
        };
        if strength(active) < strength(needed) {
            Answer::Yes(seen("the medium needs more FEC than is at work"))
        } else {
            Answer::No(seen("the FEC at work is what the medium needs"))
        }
    },
};

/// What the medium needs and what works, for a sentence.
pub fn fec_sentence(view: &View<'_>) -> String {
    let active = fec_here(view).known().map_or("unknown FEC", |code| names::fec_code(code));
    match needed_fec(view) {
        Fact::Known((needed, _)) => format!(
            "Runs with {active}, and this medium needs {} at {}.",
            names::fec_code(needed),
            crate::diagnose::words::speed(&view.running)
        ),
        Fact::Missing(_) => format!("Runs with {active}, which may be too little for this medium."),
    }
}

// ---- lanes ------------------------------------------------------------------------------

/// The speed and lanes of this end, and whether they are its setting or only what it could do.
fn this_end(view: &View<'_>) -> Option<(Mbps, u32, bool)> {
    if let (Fact::Known(speed), Fact::Known(lanes)) =
        (settings::set_speed(view.port), settings::lanes(view.port))
    {
        return Some((speed, lanes, true));
    }
    // A leg of a split cage does not run at the port's best.
    if view.port.device_siblings.known().is_some_and(|others| !others.is_empty()) {
        return None;
    }
    let module = view.module.known()?;
    let (best, top) = (*view.port_best().known()?, *module.top_speed.known()?);
    let lanes = settings::cage_lanes(module)?;
    (best >= top).then_some((top, lanes, false))
}

/// One end runs all lanes as one port, the other a part of them.
struct Split {
    here: (Mbps, u32),
    there: (Mbps, u32),
    is_setting: bool,
}

fn split(view: &View<'_>) -> Result<Option<Split>, Missing> {
    let (speed, lanes, is_setting) = this_end(view)
        .ok_or_else(|| Missing::with(Reason::NotReported, "the lanes of this port are not told"))?;
    // A far port that tells its lanes but no setting is taken at its best.
    let far = view.far.set_speed.clone().or_else(|| view.far.best.clone());
    let there = match (&far, &view.far.port_lanes) {
        (Fact::Known(speed), Fact::Known(lanes)) => (*speed, *lanes),
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => return Err(why.clone()),
    };
    let (far_speed, far_lanes) = there;
    let same_lane_rate =
        u64::from(speed.0) * u64::from(far_lanes) == u64::from(far_speed.0) * u64::from(lanes);
    Ok((lanes != far_lanes && same_lane_rate).then_some(Split {
        here: (speed, lanes),
        there,
        is_setting,
    }))
}

/// How the ends divide the lanes, as a sentence, where they differ.
pub fn split_sentence(view: &View<'_>) -> Option<String> {
    let Split { here, there, .. } = split(view).ok()??;
    Some(format!(
        "The ends split the lanes differently: {} here, {} there.",
        lanes_text(here),
        lanes_text(there)
    ))
}

fn lanes_text((speed, lanes): (Mbps, u32)) -> String {
    format!("{speed} on {lanes} lane{}", if lanes == 1 { "" } else { "s" })
}

/// The ends divide the lanes differently.
pub const LANES_SPLIT_APART: Observation = Observation {
    name: "lanes-split-apart",
    statement: "one end runs its lanes as one port, the other as several",
    fact: "lanes of the port at both ends",
    how: HOW_FAR,
    look: |view| {
        let wide = match &view.module {
            Fact::Known(module) => settings::cage_lanes(module).is_some_and(|n| n > 1),
            // A port of 40 Gb/s or more may be one of several lanes.
            Fact::Missing(why) if view.port_best().known().is_none_or(|best| best.0 >= 40_000) => {
                return Answer::Unknown(why.clone());
            }
            Fact::Missing(_) => false,
        };
        if !wide && view.far.port_lanes.known().is_none_or(|lanes| *lanes < 2) {
            return Answer::Moot;
        }
        match split(view) {
            Ok(Some(Split { here, there, .. })) => Answer::Yes(
                Seen::new(
                    "the ends divide the lanes differently",
                    format!("{} here, {} there", lanes_text(here), lanes_text(there)),
                    format!("this host, and {}", view.far.told_by),
                )
                .against("the same lanes at both ends"),
            ),
            Ok(None) => Answer::No(Seen::new(
                "the ends do not divide the lanes differently",
                view.far.port_lanes.known().map_or_else(String::new, |n| format!("{n} there")),
                format!("told by {}", view.far.told_by),
            )),
            Err(why) => Answer::Unknown(why),
        }
    },
};

/// The far port runs fewer lanes than this one: the others are dark by its setting.
pub const FAR_RUNS_FEWER_LANES: Observation = Observation {
    name: "far-runs-fewer-lanes",
    statement: "the far port runs fewer lanes than this end, and leaves the others dark",
    fact: "lanes of the far port",
    how: HOW_FAR,
    look: |view| match split(view) {
        Ok(Some(Split { here, there, .. })) if there.1 < here.1 => Answer::Yes(
            Seen::new(
                "the far port runs fewer lanes, and leaves the others dark",
                format!("{} there", there.1),
                format!("told by {}", view.far.told_by),
            )
            .against(format!("{} here", here.1)),
        ),
        _ => Answer::Moot,
    },
};

/// Both ends' settings tell how the lanes are divided.
pub const BOTH_SPLITS_SET: Observation = Observation {
    name: "both-splits-set",
    statement: "both ends tell the speed and lanes that they are set to",
    fact: "whether this end tells its own lanes",
    how: HOW_HOST,
    look: |view| match split(view) {
        Ok(Some(Split { here: (speed, lanes), is_setting: true, .. }))
            if view.far.set_speed.known().is_some() =>
        {
            Answer::Yes(Seen::new(
                "both ends tell what they are set to",
                format!("{speed} on {lanes} here"),
                "speed and lanes as the driver tells them",
            ))
        }
        _ => Answer::Moot,
    },
};

/// The cable has several far ends.
pub const SPLITTER_CABLE: Observation = Observation {
    name: "splitter-cable",
    statement: "the cable has several far ends",
    fact: "far ends of the cable",
    how: HOW_MODULE,
    look: |view| match view.module.known().map(|module| &module.far_ends) {
        Some(Fact::Known(ends)) => {
            let seen = |text: &str| {
                Seen::new(text, format!("{ends}"), "SFF-8636 byte 113 (from memory)")
                    .resting_on(&[Word::Identity])
            };
            if *ends > 1 {
                Answer::Yes(seen("the cable has several far ends"))
            } else {
                Answer::No(seen("the cable has one far end"))
            }
        }
        _ => Answer::Moot,
    },
};

/// `true` for `p1s0`, `false` for `p1`; nothing else is told.
fn says_split(name: &str) -> Option<bool> {
    let rest = name.strip_prefix('p')?;
    let (port, leg) = rest.split_once('s').map_or((rest, None), |(port, leg)| (port, Some(leg)));
    let number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !number(port) {
        return None;
    }
    match leg {
        None => Some(false),
        Some(leg) if number(leg) => Some(true),
        Some(_) => None,
    }
}

/// A cage with several lanes, of which this link runs at some.
fn lanes_here(view: &View<'_>, module: &Module) -> Option<(u32, u32)> {
    let all = settings::cage_lanes(module).filter(|lanes| *lanes > 1)?;
    let told = view.port.ethernet.lanes.known().copied().filter(|lanes| *lanes > 0);
    let by_rate = || {
        let (running, top) = (view.running.known()?, module.top_speed.known()?);
        let part = u64::from(running.0) * u64::from(all);
        (top.0 > 0 && running < top && part.is_multiple_of(u64::from(top.0)))
            .then(|| u32::try_from(part / u64::from(top.0)).ok())?
    };
    Some((told.or_else(by_rate)?, all))
}

/// The link runs at one lane's rate of a module that has several, or at a few lanes' rate.
pub const SHARE_OF_LANES: Observation = Observation {
    name: "share-of-lanes",
    statement: "the link runs at the rate of some of its module's lanes, not of all",
    fact: "speed against the module's lanes",
    how: HOW_MODULE,
    look: |view| {
        let module = match &view.module {
            Fact::Known(module) => module,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let (Some(all), Fact::Known(running), Fact::Known(top)) =
            (settings::cage_lanes(module).filter(|all| *all > 1), &view.running, &module.top_speed)
        else {
            return Answer::Moot;
        };
        let part = u64::from(running.0) * u64::from(all);
        let seen = |text: &str| {
            Seen::new(text, format!("runs at {running}"), "module memory")
                .against(format!("{top} on {all} lanes"))
                .resting_on(&[Word::Identity])
        };
        if running < top && top.0 > 0 && part.is_multiple_of(u64::from(top.0)) {
            Answer::Yes(seen("the link runs at the rate of some of the module's lanes"))
        } else {
            Answer::No(seen("the link does not run at a share of the module's lanes"))
        }
    },
};

/// The cage is split here: this interface is one leg of it.
pub const CAGE_SPLIT: Observation = Observation {
    name: "cage-split",
    statement: "the cage is split at this end: other interfaces run on its other lanes",
    fact: "whether this cage is split",
    how: "take a fresh capture of the whole host, as root, so that its other interfaces and the \
        module are in it",
    look: |view| {
        let leg = view.port.physical_port.known().filter(|name| says_split(name) == Some(true));
        if let Some(name) = leg {
            return Answer::Yes(Seen::new(
                "the kernel calls this port a leg of a split one",
                name,
                "the kernel's name of the physical port",
            ));
        }
        let module = match &view.module {
            Fact::Known(module) => module,
            Fact::Missing(_) if is_twisted_pair(view) => return Answer::Moot,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        if settings::cage_lanes(module).is_none_or(|lanes| lanes < 2) {
            return Answer::Moot;
        }
        let port = view.port;
        if let Some(name) = port.physical_port.known()
            && says_split(name) == Some(false)
        {
            return Answer::No(Seen::new(
                "the kernel calls this port a whole one",
                name,
                "the kernel's name of the physical port",
            ));
        }
        let Some((lanes, all)) = lanes_here(view, module) else {
            return unknown(Reason::NotReported, "how many lanes it runs on is not told");
        };
        let source = "lanes of the port, and interfaces on the same device of the bus";
        let seen = |text: &str, others: &[String]| {
            let others = if others.is_empty() { "none".into() } else { others.join(", ") };
            Seen::new(text, format!("{lanes} of {all} lanes; beside it {others}"), source)
        };
        if lanes >= all {
            return Answer::No(seen("this interface holds all lanes of the cage", &[]));
        }
        match &port.device_siblings {
            Fact::Known(others) if others.is_empty() => {
                Answer::No(seen("no other interface is on this device", others))
            }
            Fact::Known(others) => Answer::Yes(seen(
                "this interface has some lanes of the cage, others share it",
                others,
            )),
            Fact::Missing(why) => Answer::Unknown(why.clone()),
        }
    },
};

/// True if the kernel calls this port a leg, others share its cage, and the module could do more
/// over all its lanes: its driver may list the leg's own modes alone.
pub fn is_leg_of_faster_cage(view: &View<'_>) -> bool {
    let leg = view.port.physical_port.known().is_some_and(|name| says_split(name) == Some(true));
    let shared = view.port.device_siblings.known().is_some_and(|others| !others.is_empty());
    let wider = view.module.known().is_some_and(|module| {
        settings::cage_lanes(module).is_some_and(|lanes| lanes > 1)
            && module.top_speed.known() > view.running.known()
    });
    let intended = view.site.is_some_and(|site| site.intended_mbps.is_some());
    leg && shared && wider && !intended && view.running.known().is_some()
}

/// The legs make up the cage, or the kernel says so.
pub const LEGS_ADD_UP: Observation = Observation {
    name: "legs-add-up",
    statement: "the interfaces on this device together have exactly the lanes of the cage, or the \
        kernel itself calls this one a leg",
    fact: "the legs of this cage",
    how: HOW_HOST,
    look: |view| {
        if view.port.physical_port.known().is_some_and(|name| says_split(name) == Some(true)) {
            return Answer::Yes(Seen::new(
                "the kernel itself says so",
                "a name with a leg in it",
                "the kernel's name of the physical port",
            ));
        }
        let Fact::Known(module) = &view.module else { return Answer::Moot };
        let others = view.port.device_siblings.known().map_or(0, Vec::len);
        let legs = u32::try_from(others + 1).unwrap_or(0);
        match lanes_here(view, module) {
            Some((lanes, all)) if lanes < all && lanes.saturating_mul(legs) == all => {
                Answer::Yes(Seen::new(
                    "the interfaces on this device make up the whole cage",
                    format!("{legs} with {lanes} of {all} lanes"),
                    "interfaces on the same device of the bus",
                ))
            }
            _ => Answer::Moot,
        }
    },
};

// ---- duplex -----------------------------------------------------------------------------

fn duplex_word(duplex: Duplex) -> &'static str {
    match duplex {
        Duplex::Full => "full",
        Duplex::Half => "half",
    }
}

/// True where the list of the far end's modes is what this end found by listening, not an offer.
pub(super) fn no_offer_was_heard(view: &View<'_>) -> bool {
    far::no_offer_was_heard(view.port, is_twisted_pair(view), &view.far)
}

/// True where the site file says that the far end negotiates, and the capture shows that it does not.
pub fn negotiates_by_site_alone(view: &View<'_>) -> bool {
    view.far.autonegotiation == Fact::Known(true) && no_offer_was_heard(view)
}

/// The ends differ in duplex, or this one had to assume half.
pub const DUPLEX_APART: Observation = Observation {
    name: "duplex-apart",
    statement: "one end runs half duplex and the other full, or this end had to assume half because \
        no offer was heard",
    fact: "duplex at both ends",
    how: HOW_FAR,
    look: |view| {
        let ethernet = &view.port.ethernet;
        // Half duplex exists up to 1 Gb/s only, and is in use below it.
        if !is_twisted_pair(view) || view.running.known().is_some_and(|speed| *speed > Mbps(1000)) {
            return Answer::Moot;
        }
        let near = match &ethernet.duplex {
            Fact::Known(near) => *near,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let seen = |text: &str, observed: String| {
            Seen::new(text, observed, "IEEE 802.3 clause 28, parallel detection")
        };
        if let Fact::Known(far) = &view.far.duplex {
            let observed = format!("{} here, {} there", duplex_word(near), duplex_word(*far));
            return if near == *far {
                Answer::No(seen("both ends run the same duplex", observed))
            } else {
                Answer::Yes(seen("the ends run different duplex", observed))
            };
        }
        let offers = ethernet.peer_modes.known().is_some_and(|modes| !modes.is_empty())
            && !no_offer_was_heard(view);
        match (near, &ethernet.autonegotiation) {
            (_, Fact::Known(true)) if offers => {
                Answer::No(seen("duplex was negotiated", format!("{} duplex", duplex_word(near))))
            }
            (Duplex::Half, Fact::Known(true)) => Answer::Yes(seen(
                "the far end made no offer, so this end assumed half duplex",
                if negotiates_by_site_alone(view) {
                    "half duplex, and the far end sends without listening, although the site file \
                     says that it negotiates"
                        .into()
                } else {
                    "half duplex".into()
                },
            )),
            // A far end that negotiates would have to assume half.
            _ => Answer::Unknown(view.far.duplex.why_missing().cloned().unwrap_or_default()),
        }
    },
};

/// Both ends tell their duplex, and it differs.
pub const FAR_DUPLEX_TOLD: Observation = Observation {
    name: "far-duplex-told",
    statement: "the far end itself tells that its duplex is the other one",
    fact: "the far end's word on its duplex",
    how: HOW_FAR,
    look: |view| match (&view.port.ethernet.duplex, &view.far.duplex) {
        (Fact::Known(near), Fact::Known(far)) if near != far => Answer::Yes(Seen::new(
            "the far end itself tells its duplex",
            format!("{} duplex", duplex_word(*far)),
            format!("told by {}", view.far.told_by),
        )),
        _ => Answer::Moot,
    },
};

/// Late collisions are being counted.
pub const LATE_COLLISIONS: Observation = Observation {
    name: "late-collisions",
    statement: "late collisions are being counted",
    fact: "late collisions over the observed time",
    how: HOW_RATE,
    look: |view| match rates::late_collisions(&view.port.instants) {
        Fact::Known(change) if change.by > 0 => Answer::Yes(
            Seen::new(
                "late collisions are being counted: the far end sends without listening",
                change.errors_text(),
                "IEEE 802.3 30.3.1.1.10",
            )
            .against("0"),
        ),
        _ => Answer::Moot,
    },
};

// ---- copper -----------------------------------------------------------------------------

/// Modes that both ends offer, while the link is down.
pub const AGREED_WITHOUT_LINK: Observation = Observation {
    name: "agreed-without-link",
    statement: "the far end is heard and both ends offer a mode that needs four pairs, but no link \
        comes up",
    fact: "the far end's offer while the link is down",
    how: HOW_HOST,
    look: |view| {
        if !is_twisted_pair(view) || view.port.carrier != Fact::Known(false) {
            return Answer::Moot;
        }
        let ethernet = &view.port.ethernet;
        let (ours, theirs) = match (&ethernet.advertised_modes, &ethernet.peer_modes) {
            (Fact::Known(ours), Fact::Known(theirs)) => (ours, theirs),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => {
                return Answer::Unknown(why.clone());
            }
        };
        if theirs.is_empty() {
            return Answer::No(Seen::new("no far end is heard", "no offer", OWN_LIST));
        }
        let common: Vec<&str> = ours
            .iter()
            .filter(|mode| theirs.contains(mode))
            .filter(|mode| names::speed_of(mode).is_some_and(|speed| speed >= Mbps(1000)))
            .map(String::as_str)
            .collect();
        if common.is_empty() {
            return Answer::No(
                Seen::new("the ends have no mode on four pairs in common", "none", OWN_LIST)
                    .against("1000BASE-T or faster"),
            );
        }
        Answer::Yes(
            Seen::new(
                "the ends agreed on a mode that needs four pairs, and no link came up",
                common.join(", "),
                OWN_LIST,
            )
            .against("IEEE 802.3 clause 40: four pairs"),
        )
    },
};

/// The driver's own test finds the cable bad, or the link fails while training.
pub const CABLE_FAILS_TRAINING: Observation = Observation {
    name: "cable-fails-training",
    statement: "the driver reports a failed cable test, or that the link does not train",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        moot_if_not(substate_is(
            view,
            &[
                "cable-test-failure",
                "frame-lock-not-acquired",
                "link-inhibit-timeout",
                "partner-did-not-set-receiver-ready",
                "many-physical-errors",
            ],
            "the driver says that the cable does not carry it",
        ))
    },
};

/// The twisted-pair type that runs, or should: the fastest that both ends offer. An end that hears
/// nobody has none.
fn pair_type(view: &View<'_>) -> Option<&'static str> {
    let ethernet = &view.port.ethernet;
    let offered = match (&ethernet.advertised_modes, &ethernet.peer_modes) {
        (Fact::Known(ours), Fact::Known(theirs)) => {
            let common = ours.iter().filter(|mode| theirs.contains(mode));
            names::fastest(common)
        }
        _ => None,
    };
    let speed = offered.max(view.running.known().copied())?;
    media::ROWS
        .iter()
        .find(|row| {
            row.speed == speed
                && row.grade.is_twisted_pair()
                && names::is_twisted_pair(row.interface)
        })
        .map(|row| row.interface)
}

/// The run is of a lower category, or longer, than the type is specified for.
pub const CATEGORY_TOO_LOW: Observation = Observation {
    name: "category-too-low",
    statement: "the twisted-pair run is of a lower category, or longer, than the interface type is \
        specified for",
    fact: "grade and length of the medium",
    how: HOW_MEDIUM,
    look: |view| {
        if !is_twisted_pair(view) {
            return Answer::Moot;
        }
        let Some(interface) = pair_type(view) else { return Answer::Moot };
        let untold = || unknown(Reason::NotAsked, untold(view, "the medium and its length"));
        let Some(grade) = view.site.and_then(crate::site::SitePort::grade) else {
            return untold();
        };
        if !grade.is_twisted_pair() {
            return Answer::Moot;
        }
        let rows: Vec<&media::Row> =
            media::rows_of(interface).filter(|row| row.grade.is_twisted_pair()).collect();
        // A better category than any listed carries as far as the best one listed.
        let fitting = rows
            .iter()
            .filter(|row| row.grade <= grade)
            .max_by(|one, other| one.reach.0.total_cmp(&other.reach.0));
        let Some(row) = fitting else {
            let lowest = rows.iter().min_by_key(|row| row.grade);
            let limit =
                lowest.map_or_else(String::new, |row| format!("at least {}", row.grade.name()));
            let clause = lowest.map_or("IEEE 802.3", |row| row.clause);
            return Answer::Yes(
                Seen::new(
                    "the cable is of a category that the type is not specified on",
                    grade.name(),
                    clause,
                )
                .against(format!("{interface}: {limit}")),
            );
        };
        let Some(length) = view.site.and_then(|site| site.length_m).map(Metres) else {
            // The whole distance of structured cabling is allowed: the length does not matter.
            if row.reach >= Metres(100.0) {
                return Answer::No(
                    Seen::new(
                        "the category is what the type is specified on",
                        grade.name(),
                        row.clause,
                    )
                    .against(format!(
                        "{interface}: {} on {}",
                        row.reach,
                        row.grade.name()
                    )),
                );
            }
            return untold();
        };
        let seen =
            |text: &str| {
                Seen::new(text, format!("{length} of {}", grade.name()), row.clause)
                    .against(format!("{interface}: {} on {}", row.reach, row.grade.name()))
            };
        if length > row.reach {
            Answer::Yes(seen("the run is longer than the type is specified for on this category"))
        } else {
            Answer::No(seen("the run is within what the type is specified for"))
        }
    },
};

/// Category 6 beyond what any of it carries, within what assessed runs of it do.
pub const CATEGORY_CONDITIONAL: Observation = Observation {
    name: "category-conditional",
    statement: "the run is Category 6 of 37 to 55 m, which carries 10GBASE-T where it was assessed for it",
    fact: "whether the run was assessed for 10GBASE-T",
    how: HOW_MEDIUM,
    look: |view| {
        let grade = view.site.and_then(crate::site::SitePort::grade);
        let length = view.site.and_then(|site| site.length_m);
        let Some(row) = media::rows_of("10GBASE-T")
            .find(|row| row.grade == Grade::Category6Assessed)
            .filter(|row| pair_type(view) == Some(row.interface))
        else {
            return Answer::Moot;
        };
        match (grade, length) {
            (Some(Grade::Category6), Some(length)) if Metres(length) <= row.reach => Answer::Yes(
                Seen::new(
                    "a run of this length carries the type where it was assessed for it",
                    format!("{} of Cat6", Metres(length)),
                    "TIA TSB-155",
                )
                .against(row.reach.to_string()),
            ),
            _ => Answer::Moot,
        }
    },
};

/// The category could matter: a twisted-pair type runs that some cable does not carry.
pub const CATEGORY_MATTERS: Observation = Observation {
    name: "category-matters",
    statement: "a twisted-pair type runs, or is offered, that asks for a certain category of cable",
    fact: "interface type on twisted pair",
    how: HOW_HOST,
    look: |view| {
        let told = view.site.and_then(crate::site::SitePort::grade).is_some();
        let no = |text: &str, observed: &str| {
            Answer::No(Seen::new(text, observed, "IEEE 802.3 clauses 40 and 55"))
        };
        if matches!((TWISTED_PAIR.look)(view), Answer::No(_)) {
            return no("the link is on no twisted pair", "another medium");
        }
        match pair_type(view) {
            // Structured cabling of decades carries it.
            Some(interface @ ("1000BASE-T" | "100BASE-TX" | "10BASE-T")) if !told => {
                no("what is commonly installed carries this type", interface)
            }
            _ => Answer::Moot,
        }
    },
};

/// Carrier is being lost while it is watched.
pub const GOES_DOWN: Observation = Observation {
    name: "goes-down",
    statement: "carrier was lost while being watched",
    fact: "losses of carrier over the observed time",
    how: HOW_RATE,
    look: |view| match symptoms::went_down(view) {
        Some(change) => Answer::Yes(
            Seen::new(
                "carrier was lost while being watched",
                format!("{} in {:.1} s", change.by, change.seconds),
                RFC2863,
            )
            .against("0"),
        ),
        None => Answer::Moot,
    },
};

/// Carrier is lost again and again.
pub const GOES_DOWN_OFTEN: Observation = Observation {
    name: "goes-down-often",
    statement: "carrier was lost three times or more while being watched, or once after many times \
        before",
    fact: "whether carrier is lost again and again",
    how: HOW_RATE,
    look: |view| match symptoms::went_down(view) {
        // History alone is no fault: it must still be going on.
        Some(change) if change.by >= 3 || change.total >= 20 => Answer::Yes(
            Seen::new(
                "it goes down again and again",
                format!("{} in {:.1} s, {} in all", change.by, change.seconds, change.total),
                "common practice, no published source",
            )
            .against("3 while being watched, or 20 in all"),
        ),
        _ => Answer::Moot,
    },
};

/// The link is on a copper cable that ends in the module.
pub const COPPER_CABLE: Observation = Observation {
    name: "copper-cable",
    statement: "the link is on a copper cable that is one piece with its ends",
    fact: "kind of medium",
    how: HOW_MODULE,
    look: |view| {
        let seen = |text: &str, observed: &str| {
            Seen::new(text, observed, "module memory, or connector as the port says")
        };
        match (&view.module, view.port.ethernet.connector.known()) {
            (Fact::Known(module), _) if module.carries == Carries::PassiveCopper => {
                Answer::Yes(seen("the link is on a copper cable", module.carries.text()))
            }
            // It may be optical inside.
            (Fact::Known(module), _) if module.carries == Carries::ActiveCable => {
                let copper = module.interface_types.iter().any(|t| t.name.contains("copper"));
                if copper {
                    Answer::Yes(seen("the link is on a copper cable", "active copper cable"))
                } else {
                    unknown(Reason::NotReported, "an active cable may be copper or fibre inside")
                }
            }
            (Fact::Known(module), _) if module.carries != Carries::Unknown => {
                Answer::No(seen("the link is not on a copper cable", module.carries.text()))
            }
            (_, Some(Connector::DirectAttach)) => {
                Answer::Yes(seen("the link is on a copper cable", "direct attach"))
            }
            (_, Some(Connector::TwistedPair)) => {
                Answer::No(seen("the link is not on a copper cable", "twisted pair"))
            }
            (Fact::Missing(why), _) => Answer::Unknown(why.clone()),
            (Fact::Known(_), _) => unknown(Reason::NotReported, "the module does not tell"),
        }
    },
};

/// What the far end offers, where it is heard at all, for a fault that no offer can be true of.
pub const HEARS_FASTER_OFFER: Observation = Observation {
    name: "hears-faster-offer",
    statement: "the far end offers a faster mode, so it is not fixed",
    fact: "modes the far end offers",
    how: HOW_HOST,
    look: |view| match far_offer(view, false) {
        Answer::Yes(seen) => Answer::Yes(seen),
        _ => Answer::Moot,
    },
};
