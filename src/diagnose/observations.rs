//! The observations that faults share.
//!
//! One constant each: name, statement, fact, how to get it, and a function that looks. Limits
//! come from the module's own memory or from [`crate::standards`], and are named.

mod flow;
mod host;
mod module;

pub use module::*;
mod light;
pub use light::*;
mod agree;
mod fibre;

use std::cmp::Ordering;

pub use host::*;

use crate::chain::PartKind;
use crate::chain::far::HOW as HOW_FAR;
use crate::diagnose::JudgedBy;
use crate::diagnose::observation::{
    Answer, HOW_HOST, HOW_LOG, HOW_MEDIUM, HOW_MODULE, HOW_RATE, Observation, Seen,
};
use crate::diagnose::view::View;
use crate::module::{Family, Word};
use crate::quantity::{Celsius, Dbm, Decibels, Mbps, Metres, Milliwatts};
use crate::snapshot::{Fact, Missing, Reason};
use crate::standards::media::{self, Grade, Modulation};
use crate::standards::{accuracy, names};

pub use agree::*;
pub use fibre::*;
pub use flow::*;

const RFC2863: &str = "RFC 2863 interface state";
const OWN_LIST: &str = "link mode lists of this port (IEEE 802.3 clauses 28, 37 and 73)";

fn missing<T>(reason: Reason, detail: &str) -> Fact<T> {
    Fact::missing_with(reason, detail)
}

// ---- state ------------------------------------------------------------------------------

/// The port is switched on by its operator.
pub const ENABLED: Observation = Observation {
    name: "enabled",
    statement: "the port is switched on (administratively up)",
    fact: "administrative state",
    how: HOW_HOST,
    look: |view| {
        Answer::by(
            view.port.admin_up.clone(),
            || Seen::new("the port is switched on", "administratively up", RFC2863),
            || Seen::new("the port is switched off", "administratively down", RFC2863),
        )
    },
};

/// The port is switched off by its operator.
pub const SWITCHED_OFF: Observation = Observation {
    name: "switched-off",
    statement: "the port is switched off (administratively down)",
    fact: "administrative state",
    how: HOW_HOST,
    look: |view| match (ENABLED.look)(view) {
        Answer::Yes(seen) => Answer::No(seen),
        Answer::No(seen) => Answer::Yes(seen),
        other => other,
    },
};

/// There is no carrier.
pub const LINK_DOWN: Observation = Observation {
    name: "link-down",
    statement: "the link is down",
    fact: "carrier",
    how: HOW_HOST,
    look: |view| {
        Answer::by(
            view.port.carrier.clone().map(|up| !up),
            || Seen::new("the link is down", "no carrier", RFC2863),
            || Seen::new("the link is up", "carrier", RFC2863),
        )
    },
};

/// There is carrier.
pub const LINK_UP: Observation = Observation {
    name: "link-up",
    statement: "the link is up",
    fact: "carrier",
    how: HOW_HOST,
    look: |view| match (LINK_DOWN.look)(view) {
        Answer::Yes(seen) => Answer::No(seen),
        Answer::No(seen) => Answer::Yes(seen),
        other => other,
    },
};

/// Nothing is plugged in: the driver says so, or the cage is empty.
pub const NOTHING_PLUGGED: Observation = Observation {
    name: "nothing-plugged",
    statement: "the driver reports no cable, or the cage is empty",
    fact: "whether anything is plugged in",
    how: HOW_MODULE,
    look: |view| {
        // A module that answers is there, whatever the driver calls a cage without a signal.
        let answers =
            view.module.known().is_some_and(|module| module.family != Family::ParsedReadings);
        if let Fact::Known(state) = &view.port.ethernet.extended_state
            && state.state == "no-cable"
            && !answers
        {
            return Answer::Yes(Seen::new(
                "the driver reports that no cable is there",
                "link down reason: no cable",
                "the driver's link down reason",
            ));
        }
        match &view.module {
            Fact::Known(_) => Answer::No(Seen::new(
                "something is plugged in",
                "its memory answers",
                "module memory",
            )),
            Fact::Missing(why) if why.reason == Reason::NotPresent => Answer::Yes(Seen::new(
                "the cage is empty",
                "no module answers",
                "module presence, as the driver reports it",
            )),
            Fact::Missing(why) => Answer::Unknown(why.clone()),
        }
    },
};

// ---- module state -----------------------------------------------------------------------

/// The module says that it is not ready, or runs no data path.
pub const MODULE_NOT_READY: Observation = Observation {
    name: "module-not-ready",
    statement: "the module says that it is not ready (low power, powering up, fault), or that no \
        data path of it is activated",
    fact: "module state",
    how: HOW_MODULE,
    look: |view| {
        let module = match &view.module {
            Fact::Known(module) => module,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let seen = |text: &str, state: &str| {
            Seen::new(text, state, "module state, module memory").resting_on(&[Word::Readings])
        };
        match &module.state {
            Fact::Known(state) if state != "ready" => {
                Answer::Yes(seen("the module is not ready", state))
            }
            Fact::Known(state) => {
                // A transmitter that is switched off keeps its data path from being activated.
                let mut lanes = module.used_lanes().peekable();
                let idle = lanes.peek().is_some()
                    && lanes.all(|lane| {
                        lane.tx_disabled != Fact::Known(true)
                            && lane.data_path_state.known().is_some_and(|at| at != "activated")
                    });
                if idle {
                    Answer::Yes(seen("no data path of the module is activated", state))
                } else {
                    Answer::No(seen("the module is ready", state))
                }
            }
            // Most families have no such state, and readings parsed elsewhere tell none.
            Fact::Missing(why)
                if why.reason == Reason::NotApplicable
                    || module.family == Family::ParsedReadings =>
            {
                Answer::Moot
            }
            Fact::Missing(why) => Answer::Unknown(why.clone()),
        }
    },
};

/// The module says that its readings are not ready, as one does that is still coming up.
pub const READINGS_NOT_READY: Observation = Observation {
    name: "readings-not-ready",
    statement: "the module says that its readings are not ready yet",
    fact: "whether the module's readings are ready",
    how: HOW_MODULE,
    look: |view| {
        let ready = view.module.known().and_then(|module| module.data_ready.known());
        let seen = |text: &str| {
            Seen::new(text, "data-not-ready bit", "SFF-8472 A2h byte 110, SFF-8636 byte 2")
                .resting_on(&[Word::Readings])
        };
        match ready {
            Some(false) => Answer::Yes(seen("the module's readings are not ready yet")),
            Some(true) => Answer::No(seen("the module's readings are ready")),
            None => Answer::Moot,
        }
    },
};

// ---- light ------------------------------------------------------------------------------

fn light_text(view: &View<'_>) -> (String, String) {
    // The lane that gets most tells whether any light arrives.
    match view.rx_strongest() {
        Fact::Known(_) => (view.rx_strongest_text(), "receive power, module memory".into()),
        Fact::Missing(_) => ("loss-of-signal bit".into(), "status bits, module memory".into()),
    }
}

/// No light arrives at this end.
pub const NO_LIGHT: Observation = Observation {
    name: "no-light",
    statement: "no light arrives at this receiver",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| {
        let (observed, source) = light_text(view);
        let limit = format!("dark at or below {} (common practice)", Dbm(accuracy::NO_LIGHT_DBM));
        Answer::by(
            view.is_dark(),
            || {
                Seen::new("no light arrives here", &observed, &source)
                    .against(&limit)
                    .resting_on(&[Word::Readings])
            },
            || {
                Seen::new("light arrives here", &observed, &source)
                    .against(&limit)
                    .resting_on(&[Word::Readings])
            },
        )
    },
};

/// Light arrives at this end.
pub const LIGHT_ARRIVES: Observation = Observation {
    name: "light-arrives",
    statement: "light arrives at this receiver",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| match (NO_LIGHT.look)(view) {
        Answer::Yes(seen) => Answer::No(seen),
        Answer::No(seen) => Answer::Yes(seen),
        other => other,
    },
};

/// This module sends light at its own limit's power, or its type's.
pub const SENDS_LIGHT: Observation = Observation {
    name: "sends-light",
    statement: "this end's transmitter sends normally",
    fact: "transmit power",
    how: HOW_MODULE,
    look: |view| {
        let power = view.tx_power();
        let own = power_limits(view, Side::TxLow).into_iter().next();
        // Within the reading's accuracy of the limit still counts as sending.
        let enough = match &own {
            Some(limit) => power.as_ref().map(|power| {
                power.dbm().is_some_and(|dbm| dbm.0 >= limit.dbm.0 - accuracy::POWER.0)
            }),
            None => view.lit(&power),
        };
        let limit = own.unwrap_or(PowerLimit {
            dbm: Dbm(accuracy::NO_LIGHT_DBM),
            text: format!("more than {}", Dbm(accuracy::NO_LIGHT_DBM)),
            source: "common practice, no published source".into(),
            word: Word::Readings,
        });
        let observed = power.known().map_or_else(String::new, Milliwatts::to_string);
        let against = format!("{}, give or take {}", limit.text, accuracy::POWER);
        let seen = |text: &str| {
            Seen::new(text, &observed, &limit.source)
                .against(&against)
                .resting_on(&[Word::Readings, limit.word])
        };
        Answer::by(
            enough,
            || seen("this end sends light"),
            || seen("this end sends too little light"),
        )
    },
};

/// No light leaves this module.
pub const SENDS_NOTHING: Observation = Observation {
    name: "sends-nothing",
    statement: "no light leaves this transmitter",
    fact: "transmit power",
    how: HOW_MODULE,
    look: |view| {
        let power = view.tx_power();
        let observed = power.known().map_or_else(String::new, Milliwatts::to_string);
        let dark = view.lit(&power).map(|lit| !lit);
        let source = "transmit power, module memory";
        Answer::by(
            dark,
            || {
                Seen::new("no light leaves this transmitter", &observed, source)
                    .resting_on(&[Word::Readings])
            },
            || {
                Seen::new("this transmitter sends light", &observed, source)
                    .resting_on(&[Word::Readings])
            },
        )
    },
};

/// The transmitter is switched off by its pin or register.
pub const TX_DISABLED: Observation = Observation {
    name: "tx-disabled",
    statement: "the module reports its transmitter switched off",
    fact: "transmitter disable state",
    how: HOW_MODULE,
    look: |view| {
        let source = "transmitter disable state, module memory";
        Answer::by(
            view.any_lane(|lane| &lane.tx_disabled),
            || {
                Seen::new(
                    "the module reports its transmitter switched off",
                    disabled_text(view),
                    source,
                )
                .resting_on(&[Word::Readings])
            },
            || {
                Seen::new("the transmitter is not switched off", "enabled", source)
                    .resting_on(&[Word::Readings])
            },
        )
    },
};

fn disabled_text(view: &View<'_>) -> String {
    disabled_lanes(view).map_or_else(|| "disabled".into(), |lanes| format!("disabled on {lanes}"))
}

/// `lane 3`: whose transmitters are switched off, where it is not all of them.
fn disabled_lanes(view: &View<'_>) -> Option<String> {
    let used: Vec<_> =
        view.module.known().into_iter().flat_map(crate::module::Module::used_lanes).collect();
    let off: Vec<String> = used
        .iter()
        .filter(|lane| lane.tx_disabled == Fact::Known(true))
        .map(|lane| lane.number.to_string())
        .collect();
    (off.len() < used.len()).then(|| format!("lane {}", off.join(", ")))
}

/// That the transmitter is switched off, as a sentence.
pub fn disabled_sentence(view: &View<'_>) -> String {
    let whose = disabled_lanes(view).map_or_else(String::new, |lanes| format!(" of {lanes}"));
    format!("The module in this port has its transmitter{whose} switched off.")
}

/// The transmitter reports a fault.
pub const TX_FAULT: Observation = Observation {
    name: "tx-fault",
    statement: "the module reports a transmitter fault",
    fact: "transmitter fault state",
    how: HOW_MODULE,
    look: |view| {
        let source = "transmitter fault state, module memory";
        Answer::by(
            view.any_lane(|lane| &lane.tx_fault),
            || {
                Seen::new("the module reports a transmitter fault", "fault", source)
                    .resting_on(&[Word::Readings])
            },
            || {
                Seen::new("the module reports no transmitter fault", "no fault", source)
                    .resting_on(&[Word::Readings])
            },
        )
    },
};

/// The kernel gave up on a transmitter fault.
pub const LOG_TX_FAULT: Observation = Observation {
    name: "log-tx-fault",
    statement: "the kernel log says that the module persistently reports a transmitter fault",
    fact: "kernel log on transmitter fault",
    how: HOW_LOG,
    look: |view| match view.log_line(|line| line.contains("persistently") && line.contains("fault"))
    {
        Fact::Known(Some(line)) => {
            Answer::Yes(Seen::new("the kernel gave up on a transmitter fault", line, "kernel log"))
        }
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    },
};

/// Which limit of which power.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    TxLow,
    RxLow,
    RxHigh,
}

/// A limit of a power, and whose it is.
struct PowerLimit {
    dbm: Dbm,
    text: String,
    source: String,
    /// The part of the module's word that it stands on.
    word: Word,
}

/// The limits that a power can be held against, the one that counts first: the module's own
/// warning limit where it can be, then the published one of the interface type.
fn power_limits(view: &View<'_>, side: Side) -> Vec<PowerLimit> {
    let own = view.optical_module().and_then(|module| {
        let (limits, what) = match side {
            Side::TxLow => (&module.thresholds.tx_power, "low warning"),
            Side::RxLow => (&module.thresholds.rx_power, "low warning"),
            Side::RxHigh => (&module.thresholds.rx_power, "high warning"),
        };
        let limits = limits.known()?;
        let limit = if side == Side::RxHigh { limits.high_warning } else { limits.low_warning };
        Some(PowerLimit {
            dbm: limit.dbm()?,
            text: format!("{what} {limit}"),
            source: module.thresholds_source.clone(),
            word: Word::Limits,
        })
    });
    let published = view.window().and_then(|row| {
        let (limit, what) = match side {
            Side::TxLow => (row.tx_least, "at least"),
            Side::RxLow => (row.rx_least, "least"),
            Side::RxHigh => (row.rx_most, "most"),
        };
        let dbm = limit?;
        let is_sensitivity = side == Side::RxLow && row.rx_least_is_sensitivity;
        let kind = if is_sensitivity { " (sensitivity)" } else { "" };
        Some(PowerLimit {
            dbm,
            text: format!("{what} {dbm}{kind}"),
            source: row.cite(),
            word: Word::Identity,
        })
    });
    own.into_iter().chain(published).collect()
}

/// Received light held against its limit.
struct Judged {
    /// `None` where there is no light at all.
    power: Option<Dbm>,
    limit: PowerLimit,
    /// How far beyond the limit; negative inside it.
    beyond: Option<Decibels>,
    /// The other limit, if there is one and it is crossed as well.
    agrees: Option<PowerLimit>,
}

impl Judged {
    /// On the wrong side of the limit, if only just.
    fn is_crossed(&self) -> bool {
        self.beyond.is_some_and(|beyond| beyond.0 > 0.0)
    }

    /// Beyond what the reading can be wrong by.
    fn is_far(&self) -> bool {
        self.beyond.is_some_and(|beyond| beyond.0 > accuracy::POWER.0)
    }
}

/// Judges the weakest lane against the low limit, or the strongest against the high one.
///
/// Makers set their limits wide: on a link that is down or damages frames the published limit
/// speaks too, where the module's own is not crossed.
fn judge_light(view: &View<'_>, side: Side) -> Result<Judged, Missing> {
    let reading = if side == Side::RxHigh { view.rx_strongest() } else { view.rx_power() };
    let reading = reading.result()?;
    if reading.0 > accuracy::MOST_POWER_MILLIWATTS {
        return Err(Missing::with(
            Reason::Malformed,
            "a power of more than the standard can say (6.5535 mW)",
        ));
    }
    let power = reading.dbm();
    let beyond = |limit: &PowerLimit| {
        power.map(|power| if side == Side::RxHigh { power - limit.dbm } else { limit.dbm - power })
    };
    let is_crossed = |limit: &PowerLimit| beyond(limit).is_some_and(|beyond| beyond.0 > 0.0);
    let mut limits = power_limits(view, side).into_iter();
    let Some(first) = limits.next() else {
        return Err(Missing::with(
            Reason::NotReported,
            "neither limits of the module's own nor published ones of its type are known",
        ));
    };
    let second = limits.next().filter(is_crossed);
    let (limit, agrees) = match second {
        Some(second) if !is_crossed(&first) && is_in_trouble(view) => (second, None),
        Some(second) if is_crossed(&first) => (first, Some(second)),
        _ => (first, None),
    };
    Ok(Judged { power, beyond: beyond(&limit), limit, agrees })
}

fn is_in_trouble(view: &View<'_>) -> bool {
    view.port.carrier == Fact::Known(false) || matches!((ERRORS_RISING.look)(view), Answer::Yes(_))
}

/// What the module's readings were held against: light here, and temperature.
pub fn judged_by(view: &View<'_>) -> Vec<JudgedBy> {
    let mut found = Vec::new();
    let Fact::Known(module) = &view.module else { return found };
    let whose = |own: bool, why: Option<&Missing>| {
        if own { None } else { Some(why.map_or_else(|| "not used".to_owned(), Missing::to_string)) }
    };
    for (what, side) in [("receive power, low", Side::RxLow), ("receive power, high", Side::RxHigh)]
    {
        if let Ok(judged) = judge_light(view, side) {
            let PowerLimit { text, source, word, .. } = judged.limit;
            let own_limit = whose(word == Word::Limits, module.thresholds.rx_power.why_missing());
            found.push(JudgedBy { what, limit: text, source, own_limit });
        }
    }
    if temperature(view).known().is_some() {
        let HeatLimit { celsius, text, source, is_own, .. } = heat_limit(view, false);
        found.push(JudgedBy {
            what: "temperature, high",
            limit: format!("{text} {celsius}"),
            source,
            own_limit: whose(is_own, module.thresholds.temperature.why_missing()),
        });
    }
    found
}

/// Received light that is outside its limit, as a sentence: by how much, or that it is marginal.
/// `None` where it is not, or cannot be told.
pub fn light_sentence(view: &View<'_>, too_much: bool) -> Option<String> {
    let (side, text, word) = if too_much {
        (Side::RxHigh, view.rx_strongest_text(), "More light arrives than is allowed")
    } else {
        (Side::RxLow, view.rx_power_text(), "Less light arrives than is needed")
    };
    let judged = judge_light(view, side).ok().filter(Judged::is_crossed)?;
    let limit = &judged.limit.text;
    Some(if judged.is_far() || is_in_trouble(view) {
        format!("{word}: {text}, {limit}.")
    } else {
        format!(
            "Received light is marginal: {text}, {limit}; a reading is accurate to about ±{}.",
            accuracy::POWER
        )
    })
}

/// True if the light jumps, and at its least was under the limit by which it is judged.
pub fn dips_below_limit(view: &View<'_>) -> bool {
    let limit = judge_light(view, Side::RxLow).ok().map(|judged| judged.limit.dbm);
    let least = Swing::of_jump(view.port).map(|swing| swing.least.0);
    limit.zip(least).is_some_and(|(limit, least)| least.0 < limit.0)
}

/// A time of the watch in words.
fn after(milliseconds: u64) -> String {
    format!("{}.{} s into the watch", milliseconds / 1000, milliseconds % 1000 / 100)
}

/// Receive power is under its limit, but not dark on every lane.
pub const RX_LOW: Observation = Observation {
    name: "rx-low",
    statement: "receive power is under the module's own low warning limit, or under the least \
        that the interface type allows where the module stores none (on a link in trouble: \
        under either)",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| {
        let judged = match judge_light(view, Side::RxLow) {
            Ok(judged) => judged,
            Err(why) => return Answer::Unknown(why),
        };
        let seen = |text: &str| {
            Seen::new(text, view.rx_power_text(), &judged.limit.source)
                .against(&judged.limit.text)
                .resting_on(&[Word::Readings, judged.limit.word])
        };
        let lit = view.lit(&view.rx_power()) == Fact::Known(true);
        match judged.is_crossed() {
            true if view.is_dark().known().is_none() => {
                Answer::Unknown(view.is_dark().why_missing().cloned().unwrap_or_default())
            }
            true if lit && judged.is_far() => {
                Answer::Yes(seen("less light arrives than the limit"))
            }
            true if lit => Answer::Yes(seen(
                "the light is marginal: less than the limit, by no more than the reading can be \
                 wrong",
            )),
            // Light that jumps is judged by its least: the reading may be of a good moment.
            false if judged.power.is_some() => match Swing::of_jump(view.port) {
                Some(Swing { least: (least, at), .. }) if least.0 < judged.limit.dbm.0 => {
                    Answer::Unknown(Missing::with(
                        Reason::NotReported,
                        format!(
                            "it jumps: {least} {}, less than the limit, and more at other times",
                            after(at)
                        ),
                    ))
                }
                Some(Swing { least: (least, at), .. }) => {
                    let mut least_seen = seen("enough light arrives, though it jumps");
                    least_seen.observed = format!("{least} at the least, {}", after(at));
                    Answer::No(least_seen)
                }
                None => Answer::No(seen("enough light arrives")),
            },
            _ if view.is_dark() == Fact::Known(false) => {
                Answer::Yes(seen(match view.lit(&view.rx_power()) {
                    Fact::Missing(_) => {
                        "one lane is dark or very weak while light arrives on others"
                    }
                    Fact::Known(_) => "one lane is dark while light arrives on others",
                }))
            }
            _ => Answer::No(seen("no light at all arrives")),
        }
    },
};

/// By how much a power is beyond its limit, if by more than the reading's accuracy.
fn far_beyond(view: &View<'_>, side: Side, text: &str) -> Answer {
    match judge_light(view, side) {
        Ok(judged)
            if judged.is_far()
                && judged.power.is_some_and(|dbm| {
                    view.lit(&Fact::Known(dbm.milliwatts())) == Fact::Known(true)
                }) =>
        {
            let beyond = judged.beyond.unwrap_or(Decibels(0.0));
            Answer::Yes(
                Seen::new(text, beyond.to_string(), accuracy::SOURCE)
                    .against(accuracy::POWER.to_string())
                    .resting_on(&[Word::Readings, judged.limit.word]),
            )
        }
        _ => Answer::Moot,
    }
}

/// The limit that did not decide is crossed as well.
fn other_limit(view: &View<'_>, side: Side) -> Answer {
    match judge_light(view, side).ok().and_then(|judged| judged.agrees) {
        Some(limit) => {
            let text =
                if side == Side::RxHigh { view.rx_strongest_text() } else { view.rx_power_text() };
            Answer::Yes(
                Seen::new("the published limit of the type is crossed as well", text, limit.source)
                    .against(limit.text)
                    .resting_on(&[Word::Readings, limit.word]),
            )
        }
        None => Answer::Moot,
    }
}

/// Receive power is under its limit by more than the reading's accuracy.
pub const RX_FAR_TOO_LOW: Observation = Observation {
    name: "rx-far-too-low",
    statement: "receive power is under that limit by more than the accuracy of the reading",
    fact: "size of the receive shortfall",
    how: HOW_MODULE,
    look: |view| {
        far_beyond(view, Side::RxLow, "it is too low by more than the reading can be wrong")
    },
};

/// Receive power is under the published least as well as under the module's own limit.
pub const RX_UNDER_PUBLISHED: Observation = Observation {
    name: "rx-under-published",
    statement: "receive power is under the type's published least as well",
    fact: "the published receive limits, low",
    how: HOW_MODULE,
    look: |view| other_limit(view, Side::RxLow),
};

/// Receive power is over the published most as well as over the module's own limit.
pub const RX_OVER_PUBLISHED: Observation = Observation {
    name: "rx-over-published",
    statement: "receive power is over the type's published most as well",
    fact: "the published receive limits, high",
    how: HOW_MODULE,
    look: |view| other_limit(view, Side::RxHigh),
};

/// Receive power is over its limit.
pub const RX_HIGH: Observation = Observation {
    name: "rx-high",
    statement: "receive power is over the module's own high warning limit, or over the most that \
        the interface type allows where the module stores none (on a link in trouble: over either)",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| {
        let judged = match judge_light(view, Side::RxHigh) {
            Ok(judged) => judged,
            Err(why) => return Answer::Unknown(why),
        };
        let seen = |text: &str| {
            Seen::new(text, view.rx_strongest_text(), &judged.limit.source)
                .against(&judged.limit.text)
                .resting_on(&[Word::Readings, judged.limit.word])
        };
        if judged.is_far() {
            Answer::Yes(seen("more light arrives than the limit"))
        } else if judged.is_crossed() {
            Answer::Yes(seen(
                "the light is marginal: more than the limit, by no more than the reading can be \
                 wrong",
            ))
        } else {
            Answer::No(seen("the light is not too strong"))
        }
    },
};

/// Receive power is over its limit by more than the reading's accuracy.
pub const RX_FAR_TOO_HIGH: Observation = Observation {
    name: "rx-far-too-high",
    statement: "receive power is over that limit by more than the accuracy of the reading",
    fact: "size of the receive excess",
    how: HOW_MODULE,
    look: |view| {
        far_beyond(view, Side::RxHigh, "it is too strong by more than the reading can be wrong")
    },
};

/// Receive power is inside its limits.
pub const RX_IN_WINDOW: Observation = Observation {
    name: "rx-in-window",
    statement: "receive power is inside its limits",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| match ((RX_LOW.look)(view), (RX_HIGH.look)(view)) {
        (Answer::Unknown(why), _) | (_, Answer::Unknown(why)) => Answer::Unknown(why),
        (Answer::Yes(seen), _) | (_, Answer::Yes(seen)) => Answer::No(outside(seen)),
        (Answer::No(seen), Answer::No(_)) if view.is_dark() == Fact::Known(true) => {
            Answer::No(outside(seen))
        }
        (Answer::No(seen), _) => Answer::Yes(seen),
        (Answer::Moot, _) => Answer::Moot,
    },
};

/// What was seen of light that is not within its limits, said as what it speaks against.
fn outside(seen: Seen) -> Seen {
    let how = seen.text.strip_prefix("the light is marginal: ").unwrap_or(&seen.text);
    Seen { text: format!("the light is not within its limits: {how}"), ..seen }
}

// ---- far end ----------------------------------------------------------------------------

/// The far transmitter does not send, or its port is switched off.
pub const FAR_SENDS_NOTHING: Observation = Observation {
    name: "far-sends-nothing",
    statement: "the far port is switched off, or its transmitter is",
    fact: "whether the far end sends",
    how: HOW_FAR,
    look: |view| {
        let by = view.far.told_by;
        if !view.dark_lanes_off_there().is_empty() {
            let text = "the far transmitter of the dark lane is switched off";
            return Answer::Yes(Seen::new(text, "switched off", by));
        }
        match (&view.far.admin_up, &view.far.transmits) {
            (Fact::Known(false), _) => {
                Answer::Yes(Seen::new("the far port is switched off", "administratively down", by))
            }
            (_, Fact::Known(false)) => {
                Answer::Yes(Seen::new("the far transmitter sends nothing", "not sending", by))
            }
            (_, Fact::Known(true)) => {
                Answer::No(Seen::new("the far transmitter sends", "sending", by))
            }
            (_, Fact::Missing(why)) => Answer::Unknown(why.clone()),
        }
    },
};

/// The far transmitter sends.
pub const FAR_SENDS: Observation = Observation {
    name: "far-sends",
    statement: "the far transmitter sends",
    fact: "whether the far end sends",
    how: HOW_FAR,
    look: |view| match (FAR_SENDS_NOTHING.look)(view) {
        Answer::Yes(seen) => Answer::No(seen),
        Answer::No(seen) => Answer::Yes(seen),
        other => other,
    },
};

/// No light arrives at the far end either.
pub const FAR_DARK: Observation = Observation {
    name: "far-dark",
    statement: "no light arrives at the far end either",
    fact: "light at the far receiver",
    how: HOW_FAR,
    look: |view| {
        let by = view.far.told_by;
        let observed =
            view.far.rx_power.known().map_or_else(|| "as told".to_owned(), Milliwatts::to_string);
        Answer::by(
            view.far.receives_light.clone().map(|lit| !lit),
            || Seen::new("no light arrives at the far end either", &observed, by),
            || Seen::new("light arrives at the far end", &observed, by),
        )
    },
};

/// The FEC codes of the two ends differ.
pub const FEC_DIFFERS: Observation = Observation {
    name: "fec-differs",
    statement: "the two ends use different FEC codes",
    fact: "FEC at both ends",
    how: HOW_FAR,
    look: |view| {
        let ethernet = &view.port.ethernet;
        let near = ethernet.fec_active.clone().or_else(|| match &ethernet.fec_configured {
            Fact::Known(codes) => match codes.as_slice() {
                [code] => Fact::Known(code.clone()),
                _ => missing(Reason::NotReported, "several FEC codes are allowed here"),
            },
            Fact::Missing(why) => Fact::Missing(why.clone()),
        });
        match (near, view.far.fec.clone()) {
            // The driver's own word stands in for the far end's.
            (Fact::Missing(_), _) | (_, Fact::Missing(_)) if says_fec_mismatch(view) => {
                Answer::Moot
            }
            (Fact::Known(near), Fact::Known(far)) => {
                let seen = |text: &str| {
                    Seen::new(
                        text,
                        format!("{} here, {} there", names::fec_code(&near), names::fec_code(&far)),
                        format!("this host, and {}", view.far.told_by),
                    )
                    .against("the same at both ends")
                };
                if near == far {
                    Answer::No(seen("both ends use the same FEC code"))
                } else {
                    Answer::Yes(seen("the ends use different FEC codes"))
                }
            }
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Answer::Unknown(why),
        }
    },
};

fn says_fec_mismatch(view: &View<'_>) -> bool {
    let told = view.port.ethernet.extended_state.known();
    told.and_then(|state| state.substate.as_deref()) == Some("fec-mismatch-during-override")
}

/// The driver names the mismatch itself.
pub const FEC_MISMATCH_NAMED: Observation = Observation {
    name: "fec-mismatch-named",
    statement: "the driver's reason names a mismatch of FEC, not only that FEC does not lock",
    fact: "whether the driver names the mismatch",
    how: HOW_HOST,
    look: |view| {
        if says_fec_mismatch(view) {
            Answer::Yes(Seen::new(
                "the driver names the mismatch itself",
                "fec mismatch during override",
                "the driver's link down reason",
            ))
        } else {
            Answer::Moot
        }
    },
};

/// The driver says that FEC does not lock.
pub const FEC_NOT_LOCKED: Observation = Observation {
    name: "fec-not-locked",
    statement: "the driver reports that FEC does not lock, or that the FEC codes do not match",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        substate_is(
            view,
            &["rs-fec-not-locked", "base-r-fec-not-locked", "fec-mismatch-during-override"],
            "the driver reports that FEC does not lock",
        )
    },
};

/// The driver reports a remote fault.
pub const REMOTE_FAULT: Observation = Observation {
    name: "remote-fault",
    statement: "this port hears the far end say that it cannot hear (remote fault)",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        if let Fact::Known(Some(line)) = view.log_line(|line| line.contains("remote fault")) {
            return Answer::Yes(Seen::new("the log tells of a remote fault", line, "kernel log"));
        }
        substate_is(view, &["remote-fault"], "the driver reports a remote fault")
    },
};

/// The driver finds no common mode.
pub const NO_COMMON_MODE: Observation = Observation {
    name: "no-common-mode",
    statement: "the driver reports no common mode, or an unsupported rate",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        substate_is(
            view,
            &["no-common-mode", "unsupported-rate"],
            "the driver finds no mode that both can do",
        )
    },
};

fn substate_is(view: &View<'_>, wanted: &[&str], text: &str) -> Answer {
    let source = "the driver's link down reason";
    match &view.port.ethernet.extended_state {
        Fact::Known(state) => {
            let told = match &state.substate {
                Some(substate) => format!("{}: {substate}", state.state),
                None => state.state.clone(),
            }
            .replace('-', " ");
            if state.substate.as_deref().is_some_and(|substate| wanted.contains(&substate)) {
                Answer::Yes(Seen::new(text, told, source))
            } else {
                Answer::No(Seen::new("the driver gives another reason", told, source))
            }
        }
        Fact::Missing(why) => Answer::Unknown(why.clone()),
    }
}

// ---- agreement --------------------------------------------------------------------------

/// The module's rates and the port's modes have nothing in common.
pub const MODULE_RATE_FOREIGN: Observation = Observation {
    name: "module-rate-foreign",
    statement: "no rate of the module is among the port's modes",
    fact: "module rates and port modes",
    how: HOW_MODULE,
    look: |view| {
        let modes = match &view.port.ethernet.supported_modes {
            Fact::Known(modes) => modes,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let speeds = match &view.module {
            Fact::Known(module) if module.speeds.is_empty() => {
                return Answer::Unknown(Missing::with(
                    Reason::NotReported,
                    "the module does not tell its rate",
                ));
            }
            Fact::Known(module) => &module.speeds,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let offered: Vec<Mbps> = {
            let mut offered: Vec<Mbps> =
                modes.iter().filter_map(|mode| names::speed_of(mode)).collect();
            offered.sort_unstable();
            offered.dedup();
            offered
        };
        if offered.is_empty() {
            return Answer::Unknown(Missing::with(Reason::NotReported, "the port lists no speeds"));
        }
        let list =
            |speeds: &[Mbps]| speeds.iter().map(Mbps::to_string).collect::<Vec<_>>().join(", ");
        let seen = |text: &str| {
            Seen::new(text, format!("module {}", list(speeds)), "module memory and port mode list")
                .against(format!("port {}", list(&offered)))
                .resting_on(&[Word::Identity])
        };
        if speeds.iter().any(|speed| offered.contains(speed)) {
            Answer::No(seen("the port can run at a rate of the module"))
        } else {
            Answer::Yes(seen("the port has no mode at the module's rate"))
        }
    },
};

fn running_and_best(view: &View<'_>) -> Result<(Mbps, Mbps), Missing> {
    Ok((view.running.clone().result()?, view.port_best().result()?))
}

/// The link runs at the best the module or cable can do, and the port could do more.
pub const AT_MODULE_CEILING: Observation = Observation {
    name: "at-module-ceiling",
    statement: "the link runs at the best rate of the module or cable, below the port's best",
    fact: "module rate against port rate",
    how: HOW_MODULE,
    look: |view| {
        let ((running, best), module) = match (
            running_and_best(view),
            view.module.as_ref().and_then(|module| module.top_speed.clone()).result(),
        ) {
            (Ok(known), Ok(module)) => (known, module),
            (Err(why), _) | (_, Err(why)) => return Answer::Unknown(why),
        };
        let source = view
            .chain
            .ceiling(PartKind::Module)
            .map_or_else(|| "module memory".to_owned(), |ceiling| ceiling.source.clone());
        let seen = |text: &str| {
            Seen::new(text, format!("runs at {running}"), &source)
                .against(format!("module or cable {module}, port {best}"))
                .resting_on(&[Word::Identity])
        };
        if running == module && module < best {
            Answer::Yes(seen("the link runs at the best rate of the module or cable"))
        } else {
            Answer::No(seen("the module or cable is not what sets this speed"))
        }
    },
};

/// The link runs below the port's best although port, module and medium could do more.
pub const NEAR_COULD_DO_MORE: Observation = Observation {
    name: "near-could-do-more",
    statement: "everything known at this end could do more than the link runs at",
    fact: "ceilings of this end",
    how: HOW_MODULE,
    look: |view| {
        let (running, best) = match running_and_best(view) {
            Ok(known) => known,
            Err(why) => return Answer::Unknown(why),
        };
        let mut least = ("port", best);
        for kind in [PartKind::Module, PartKind::Medium] {
            match view.ceiling(kind) {
                Fact::Known(speed) if speed < least.1 => least = (kind.text(), speed),
                Fact::Known(_) => {}
                Fact::Missing(why)
                    if kind == PartKind::Module && why.reason != Reason::NotApplicable =>
                {
                    return Answer::Unknown(why);
                }
                Fact::Missing(_) => {}
            }
        }
        let (part, speed) = least;
        let seen = |text: &str| {
            Seen::new(text, format!("runs at {running}"), "port mode list and module memory")
                .against(format!("least ceiling here: {part} {speed}"))
        };
        if running < speed {
            Answer::Yes(seen("everything known at this end could do more"))
        } else {
            Answer::No(seen("a part at this end can do no more"))
        }
    },
};

/// The medium settles no speed between the ends.
pub const NO_SPEED_NEGOTIATION: Observation = Observation {
    name: "no-speed-negotiation",
    statement: "the ends do not settle the speed between them on this medium",
    fact: "the far end's offer",
    how: HOW_HOST,
    look: |view| {
        if matches!((TWISTED_PAIR.look)(view), Answer::Yes(_)) {
            return Answer::No(Seen::new(
                "twisted pair settles the speed by negotiation",
                "twisted pair",
                "IEEE 802.3 clause 28",
            ));
        }
        let offered = view.port.ethernet.peer_modes.known().filter(|modes| !modes.is_empty());
        match offered {
            Some(modes) => Answer::No(Seen::new(
                "the far end offered modes, so the speed is negotiated",
                modes.join(", "),
                OWN_LIST,
            )),
            None => Answer::Yes(Seen::new(
                "no offer of the far end was heard: the speed is not negotiated here",
                "no modes from the far end",
                "optical types and 10G direct attach settle no speed (IEEE 802.3 clauses 52, 112)",
            )),
        }
    },
};

/// The far port's best is what the link runs at.
pub const AT_FAR_CEILING: Observation = Observation {
    name: "at-far-ceiling",
    statement: "the link runs at the best rate of the far port",
    fact: "best speed of the far port",
    how: HOW_FAR,
    look: |view| {
        let far = match &view.far.best {
            Fact::Known(far) => *far,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let (running, best) = match running_and_best(view) {
            Ok(known) => known,
            Err(why) => return Answer::Unknown(why),
        };
        let seen = |text: &str| {
            Seen::new(text, format!("runs at {running}"), format!("told by {}", view.far.told_by))
                .against(format!("far port {far}, this port {best}"))
        };
        if running == far && far < best {
            Answer::Yes(seen("the link runs at the best rate of the far port"))
        } else {
            Answer::No(seen("the far port is not what sets this speed"))
        }
    },
};

/// The far port can do more than the link runs at.
pub const FAR_COULD_DO_MORE: Observation = Observation {
    name: "far-could-do-more",
    statement: "the far port could do more",
    fact: "best speed of the far port",
    how: HOW_FAR,
    look: |view| match (&view.running, &view.far.best) {
        (Fact::Known(running), Fact::Known(far)) => {
            let seen = |text: &str| {
                Seen::new(text, far.to_string(), format!("told by {}", view.far.told_by))
                    .against(format!("runs at {running}"))
            };
            if far > running {
                Answer::Yes(seen("the far port could do more"))
            } else {
                Answer::No(seen("the far port could do no more either"))
            }
        }
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Answer::Unknown(why.clone()),
    },
};

/// This end does not offer a faster mode that it supports.
pub const OFFERS_LESS_THAN_IT_CAN: Observation = Observation {
    name: "offers-less-than-it-can",
    statement: "this port supports a faster mode than it offers",
    fact: "modes this port offers",
    how: HOW_HOST,
    look: |view| {
        let ethernet = &view.port.ethernet;
        let offered = match &ethernet.advertised_modes {
            Fact::Known(modes) => modes,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let (running, best) = match running_and_best(view) {
            Ok(known) => known,
            Err(why) => return Answer::Unknown(why),
        };
        let Some(offer) = names::fastest(offered) else {
            return Answer::Unknown(Missing::with(Reason::NotReported, "no speeds are offered"));
        };
        let seen = |text: &str| {
            Seen::new(text, format!("offers up to {offer}"), OWN_LIST)
                .against(format!("supports up to {best}"))
        };
        if offer < best && running <= offer {
            Answer::Yes(seen("this port offers less than it supports"))
        } else {
            Answer::No(seen("this port offers all it supports"))
        }
    },
};

/// The far end offers a mode that is faster than what runs and that this port supports.
pub const FAR_OFFERS_FASTER: Observation = Observation {
    name: "far-offers-faster",
    statement: "the far end offers a faster mode that this port supports",
    fact: "modes the far end offers",
    how: HOW_HOST,
    look: |view| far_offer(view, false),
};

/// The far end offers nothing faster than what runs.
pub const FAR_OFFERS_NOTHING_FASTER: Observation = Observation {
    name: "far-offers-nothing-faster",
    statement: "the far end offers nothing faster than the link runs at",
    fact: "modes the far end offers",
    how: HOW_HOST,
    look: |view| far_offer(view, true),
};

fn far_offer(view: &View<'_>, turned: bool) -> Answer {
    let ethernet = &view.port.ethernet;
    let (running, _) = match running_and_best(view) {
        Ok(known) => known,
        Err(why) => return Answer::Unknown(why),
    };
    let (peer, supported) = match (&ethernet.peer_modes, &ethernet.supported_modes) {
        (Fact::Known(peer), Fact::Known(supported)) => (peer, supported),
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => return Answer::Unknown(why.clone()),
    };
    if peer.is_empty() {
        return Answer::Unknown(Missing::with(Reason::NotReported, "the far end offers no modes"));
    }
    if no_offer_was_heard(view) {
        return Answer::No(Seen::new(
            "the far end made no offer: what is listed was found by listening",
            peer.join(", "),
            "IEEE 802.3 clause 28, parallel detection",
        ));
    }
    let Some(best) = names::fastest(peer) else {
        return Answer::Unknown(Missing::with(Reason::NotReported, names::ONLY_UNKNOWN));
    };
    let faster: Vec<&str> = peer
        .iter()
        .filter(|mode| names::speed_of(mode).is_some_and(|speed| speed > running))
        .filter(|mode| supported.contains(mode))
        .map(String::as_str)
        .collect();
    let any_faster =
        peer.iter().any(|mode| names::speed_of(mode).is_some_and(|speed| speed > running));
    let seen = |text: &str, observed: String| {
        Seen::new(text, observed, OWN_LIST).against(format!("runs at {running}"))
    };
    match (faster.is_empty(), turned) {
        (false, false) => Answer::Yes(seen("the far end offers a faster mode", faster.join(", "))),
        (false, true) => Answer::No(seen("the far end offers a faster mode", faster.join(", "))),
        // Faster, but in a mode that this port does not have: neither end's setting.
        (true, _) if any_faster => Answer::No(seen(
            "the far end's faster modes are not among this port's",
            best.to_string(),
        )),
        (true, false) => Answer::No(seen("the far end offers nothing faster", best.to_string())),
        (true, true) => Answer::Yes(seen("the far end offers nothing faster", best.to_string())),
    }
}

/// Both ends offer a faster mode than the one that runs.
pub const BOTH_OFFER_FASTER: Observation = Observation {
    name: "both-offer-faster",
    statement: "both ends offer a faster mode than the link runs at",
    fact: "modes both ends offer",
    how: HOW_HOST,
    look: |view| {
        let ethernet = &view.port.ethernet;
        let running = match &view.running {
            Fact::Known(running) => *running,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let (ours, theirs) = match (&ethernet.advertised_modes, &ethernet.peer_modes) {
            (Fact::Known(ours), Fact::Known(theirs)) => (ours, theirs),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => {
                return Answer::Unknown(why.clone());
            }
        };
        if theirs.is_empty() {
            return Answer::Unknown(Missing::with(
                Reason::NotReported,
                "the far end offers no modes",
            ));
        }
        if names::fastest(theirs).is_none() {
            return Answer::Unknown(Missing::with(Reason::NotReported, names::ONLY_UNKNOWN));
        }
        let common: Vec<&str> = ours
            .iter()
            .filter(|mode| theirs.contains(mode))
            .filter(|mode| names::speed_of(mode).is_some_and(|speed| speed > running))
            .map(String::as_str)
            .collect();
        if common.is_empty() {
            Answer::No(
                Seen::new("the ends have no faster mode in common", "none", OWN_LIST)
                    .against(format!("runs at {running}")),
            )
        } else {
            Answer::Yes(
                Seen::new("both ends offer a faster mode", common.join(", "), OWN_LIST)
                    .against(format!("runs at {running}")),
            )
        }
    },
};

/// The link is on twisted pair.
pub const TWISTED_PAIR: Observation = Observation {
    name: "twisted-pair",
    statement: "the link is on twisted pair",
    fact: "kind of medium",
    how: HOW_HOST,
    look: |view| {
        use crate::module::Carries;
        use crate::snapshot::Connector;
        let seen =
            |text: &str, observed: &str| Seen::new(text, observed, "connector, as the port says");
        let module = view.module.known().map(|module| module.carries);
        match (view.port.ethernet.connector.known(), module) {
            (_, Some(Carries::TwistedPair)) => {
                Answer::Yes(seen("the link is on twisted pair", "twisted-pair module"))
            }
            (_, Some(Carries::Unknown)) => Answer::Moot,
            (_, Some(carries)) => {
                Answer::No(seen("the link is not on twisted pair", carries.text()))
            }
            (Some(Connector::TwistedPair), None) => {
                Answer::Yes(seen("the link is on twisted pair", "twisted pair"))
            }
            (Some(Connector::Fibre | Connector::DirectAttach), None) => {
                Answer::No(seen("the link is not on twisted pair", "fibre or direct attach"))
            }
            _ => Answer::Unknown(Missing::with(Reason::NotReported, "the port does not say")),
        }
    },
};

/// The PHY gave up a speed and took a slower one.
pub const LOG_DOWNSHIFT: Observation = Observation {
    name: "log-downshift",
    statement: "the kernel log says that the PHY fell back to a slower speed",
    fact: "kernel log on downshift",
    how: HOW_LOG,
    look: |view| match view.log_line(|line| line.contains("downshift")) {
        Fact::Known(Some(line)) => {
            Answer::Yes(Seen::new("the PHY fell back to a slower speed", line, "kernel log"))
        }
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    },
};

// ---- slot -------------------------------------------------------------------------------

/// The slot carries less than the port could.
pub const SLOT_BELOW_PORT: Observation = Observation {
    name: "slot-below-port",
    statement: "the slot, or a hop above it, carries less than the port's best rate",
    fact: "slot bandwidth against port rate",
    how: HOW_HOST,
    look: |view| {
        let (slot, port) = match (
            view.chain.ceiling(PartKind::Slot),
            // What the link needs: what it runs at, or the port's best while it is down.
            view.running.clone().or_else(|| view.port_best()),
        ) {
            (Some(slot), Fact::Known(port)) => (slot, port),
            (None, _) => {
                return Answer::Unknown(
                    view.chain.why_unknown(PartKind::Slot).cloned().unwrap_or_default(),
                );
            }
            (_, Fact::Missing(why)) => return Answer::Unknown(why),
        };
        let seen = |text: &str| {
            Seen::new(text, format!("slot {}", slot.speed), &slot.source)
                .against(format!("the link needs {port}"))
        };
        if slot.speed < port {
            Answer::Yes(seen("the slot carries less than the link"))
        } else {
            Answer::No(seen("the slot carries what the link needs"))
        }
    },
};

/// The adapter could do more than the slot or a bridge above it offers.
pub const SLOT_OFFERS_LESS: Observation = Observation {
    name: "slot-offers-less",
    statement: "the adapter could do more than the slot it sits in can offer",
    fact: "slot's best against adapter's best",
    how: HOW_HOST,
    look: |view| {
        use crate::snapshot::Slot;
        let Fact::Known(Slot::Pci { hops, tunnelled: false }) = &view.port.slot else {
            return Answer::Moot;
        };
        let (Some(adapter), Some(above)) = (hops.first(), hops.get(1)) else {
            return Answer::Unknown(Missing::with(
                Reason::NotReported,
                "the bridge above the adapter was not read",
            ));
        };
        match (
            (adapter.best_speed_gts.known(), adapter.best_width_lanes.known()),
            (above.best_speed_gts.known(), above.best_width_lanes.known()),
        ) {
            ((Some(speed), Some(width)), (Some(slot_speed), Some(slot_width))) => {
                let observed = format!("adapter {}", crate::chain::pci_link_text(*speed, *width));
                let limit =
                    format!("slot {}", crate::chain::pci_link_text(*slot_speed, *slot_width));
                let source = "best speed and width, as the devices report them";
                if slot_speed < speed || slot_width < width {
                    Answer::Yes(
                        Seen::new("the adapter could do more than its slot", observed, source)
                            .against(limit),
                    )
                } else {
                    Answer::No(
                        Seen::new(
                            "the slot could do what the adapter can, but the two settled on less",
                            observed,
                            source,
                        )
                        .against(limit),
                    )
                }
            }
            _ => Answer::Unknown(Missing::with(
                Reason::NotReported,
                "the devices do not tell their best speed and width",
            )),
        }
    },
};

/// The kernel says that the slot limits the adapter.
pub const LOG_SLOT: Observation = Observation {
    name: "log-slot",
    statement: "the kernel log says that the slot limits the adapter",
    fact: "kernel log on slot bandwidth",
    how: HOW_LOG,
    look: |view| match view
        .log_line(|line| line.contains("available pcie bandwidth") && line.contains("limited by"))
    {
        Fact::Known(Some(line)) => {
            Answer::Yes(Seen::new("the kernel names the slot as the limit", line, "kernel log"))
        }
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    },
};

// ---- errors and heat --------------------------------------------------------------------

/// Frames with wrong check sequence, or codewords beyond correction, are being counted now.
pub const ERRORS_RISING: Observation = Observation {
    name: "errors-rising",
    statement: "damaged frames or codewords are being counted now",
    fact: "error counters over the observed time",
    how: HOW_RATE,
    look: |view| {
        let frames = view.damaged_frames();
        let words = view.uncorrectable_words();
        if let Fact::Known(change) = &words.change
            && change.by > 0
        {
            return Answer::Yes(
                Seen::new(
                    "codewords beyond correction are being counted",
                    change.errors_text(),
                    words.source,
                )
                .against("0"),
            );
        }
        match frames.change {
            Fact::Known(change) if change.by > 0 => Answer::Yes(
                Seen::new(
                    "frames with a wrong check sequence are being counted",
                    change.errors_text(),
                    frames.source,
                )
                .against("0"),
            ),
            // Where no frame can arrive, that none is damaged tells nothing.
            _ if view.port.carrier == Fact::Known(false) => Answer::Moot,
            Fact::Known(change) => Answer::No(
                Seen::new(
                    "no damaged frames were counted meanwhile",
                    change.errors_text(),
                    frames.source,
                )
                .against("0"),
            ),
            Fact::Missing(why) => Answer::Unknown(why),
        }
    },
};

/// Codewords are being corrected, on a type that should need that seldom.
pub const CORRECTING: Observation = Observation {
    name: "correcting",
    statement: "FEC is correcting codewords now, on a type with two-level signalling",
    fact: "FEC counters over the observed time",
    how: HOW_RATE,
    look: |view| {
        // With four levels FEC is always at work. Common practice, no published source.
        if view.window().is_some_and(|row| row.modulation == Modulation::Pam4) {
            return Answer::Moot;
        }
        let words = view.corrected_words();
        match words.change {
            Fact::Known(change) if change.by > 0 => Answer::Yes(
                Seen::new(
                    "FEC is correcting codewords",
                    format!("{} in {:.1} s", change.by, change.seconds),
                    words.source,
                )
                .against("0"),
            ),
            Fact::Known(_) | Fact::Missing(_) => Answer::Moot,
        }
    },
};

fn temperature(view: &View<'_>) -> Fact<Celsius> {
    view.module.as_ref().and_then(|module| module.temperature.clone()).and_then(|celsius| {
        if accuracy::can_be(celsius) {
            Fact::Known(celsius)
        } else {
            missing(Reason::Malformed, "the reading is outside what a module can survive")
        }
    })
}

/// Whether the module is hotter than a limit by more than so many degrees.
fn hotter(view: &View<'_>, limit: &HeatLimit, by: Celsius) -> Fact<bool> {
    temperature(view).map(|celsius| celsius.0 > limit.celsius.0 + by.0)
}

fn heat_seen(view: &View<'_>, limit: &HeatLimit, text: &str) -> Seen {
    let observed = temperature(view).known().map_or_else(String::new, Celsius::to_string);
    Seen::new(text, observed, &limit.source)
        .against(format!("{} {}", limit.text, limit.celsius))
        .resting_on(&[Word::Readings])
        .resting_on(limit.words)
}

/// Heat as a sentence: beyond the limit, or marginal.
pub fn heat_sentence(view: &View<'_>) -> String {
    let limit = heat_limit(view, false);
    let observed = temperature(view).known().map_or_else(String::new, Celsius::to_string);
    let (text, most) = (limit.text, limit.celsius);
    match hotter(view, &limit, accuracy::TEMPERATURE) {
        Fact::Known(true) => format!("The module is too hot: {observed}, {text} {most}."),
        _ => format!(
            "The module's temperature is marginal: {observed}, {text} {most}; a reading is exact \
             to about ±{}.",
            accuracy::TEMPERATURE
        ),
    }
}

/// The module is hotter than its warning limit, or than the usual case limit.
pub const HOT: Observation = Observation {
    name: "hot",
    statement: "the module is hotter than its own high warning limit, or than 70 °C where it \
        stores none",
    fact: "module temperature",
    how: HOW_MODULE,
    look: |view| {
        let limit = heat_limit(view, false);
        let far = hotter(view, &limit, accuracy::TEMPERATURE) == Fact::Known(true);
        let text = if far {
            "the module is hotter than the limit"
        } else {
            "the temperature is marginal: over the limit, by no more than the reading can be wrong"
        };
        Answer::by(
            hotter(view, &limit, Celsius(0.0)),
            || heat_seen(view, &limit, text),
            || heat_seen(view, &limit, "the module is not too hot"),
        )
    },
};

/// The module is hotter than that limit by more than the accuracy of the reading.
pub const FAR_TOO_HOT: Observation = Observation {
    name: "far-too-hot",
    statement: "the module is over that limit by more than the accuracy of the reading",
    fact: "size of the excess of temperature",
    how: HOW_MODULE,
    look: |view| {
        let limit = heat_limit(view, false);
        match (temperature(view), hotter(view, &limit, accuracy::TEMPERATURE)) {
            (Fact::Known(celsius), Fact::Known(true)) => Answer::Yes(
                Seen::new(
                    "it is too hot by more than the reading can be wrong",
                    Celsius(celsius.0 - limit.celsius.0).to_string(),
                    accuracy::SOURCE,
                )
                .against(accuracy::TEMPERATURE.to_string())
                .resting_on(&[Word::Readings])
                .resting_on(limit.words),
            ),
            _ => Answer::Moot,
        }
    },
};

/// The module is hotter than its alarm limit, by more than the accuracy of the reading.
pub const VERY_HOT: Observation = Observation {
    name: "very-hot",
    statement: "the module is over its own high alarm limit by more than the accuracy of the \
        reading",
    fact: "module temperature against its alarm limit",
    how: HOW_MODULE,
    look: |view| {
        let limit = heat_limit(view, true);
        if limit.is_own && hotter(view, &limit, accuracy::TEMPERATURE) == Fact::Known(true) {
            Answer::Yes(heat_seen(view, &limit, "the module is over its alarm limit"))
        } else {
            Answer::Moot
        }
    },
};

/// A limit of temperature, and whose it is.
struct HeatLimit {
    celsius: Celsius,
    text: &'static str,
    source: String,
    is_own: bool,
    /// The parts of the module's word that it stands on.
    words: &'static [Word],
}

fn heat_limit(view: &View<'_>, alarm: bool) -> HeatLimit {
    let own = view.module.known().and_then(|module| {
        let limits = module.thresholds.temperature.known()?;
        let (celsius, text) = if alarm {
            (limits.high_alarm, "high alarm")
        } else {
            (limits.high_warning, "high warning")
        };
        let source = module.thresholds_source.clone();
        Some(HeatLimit { celsius, text, source, is_own: true, words: &[Word::Limits] })
    });
    own.unwrap_or_else(|| HeatLimit {
        celsius: accuracy::CASE_TEMPERATURE_MOST,
        text: "usual case limit",
        source: "SFF-8636 byte 190 default (from memory)".into(),
        is_own: false,
        words: &[],
    })
}

/// The driver says that heat took the link down.
pub const OVERHEAT_STATE: Observation = Observation {
    name: "overheat-state",
    statement: "the driver gives overheating as the reason that the link is down",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| match &view.port.ethernet.extended_state {
        Fact::Known(state) if state.state == "overheat" => Answer::Yes(Seen::new(
            "the driver says that it overheats",
            "link down reason: overheat",
            "the driver's link down reason",
        )),
        _ => Answer::Moot,
    },
};

// ---- medium -----------------------------------------------------------------------------

/// The multimode run is longer than the type is specified for.
pub const BEYOND_MULTIMODE_REACH: Observation = Observation {
    name: "beyond-multimode-reach",
    statement: "the multimode run is longer than the interface type is specified for",
    fact: "grade and length of the medium",
    how: HOW_MEDIUM,
    look: |view| beyond_reach(view, Grade::is_multimode, "the medium is not multimode fibre"),
};

/// That nobody told this of the medium: the site file does not, or says nothing of this port.
fn untold(view: &View<'_>, what: &str) -> String {
    match view.site {
        Some(_) => format!("the site file does not tell {what}"),
        None => format!("nobody told {what}: no entry of a site file is for this port"),
    }
}

/// The length of the run against the published reach of the type on that grade; `no` where the
/// grade is not one that is asked for.
fn beyond_reach(view: &View<'_>, asked_for: fn(Grade) -> bool, otherwise: &str) -> Answer {
    let Some((grade, length)) =
        view.site.and_then(|site| site.grade().zip(site.length_m.map(Metres)))
    else {
        return Answer::Unknown(Missing::with(
            Reason::NotAsked,
            untold(view, "the medium and its length"),
        ));
    };
    if !asked_for(grade) {
        return Answer::No(Seen::new(otherwise, grade.name(), "site file"));
    }
    let Some(window) = view.window() else {
        return Answer::Unknown(Missing::with(
            Reason::NotReported,
            "the interface type of the module is not known",
        ));
    };
    let Some(row) = media::row_on(window.interface, grade) else {
        return Answer::Unknown(Missing::with(
            Reason::NotReported,
            "this interface type has no published reach on this grade",
        ));
    };
    let seen = |text: &str| {
        Seen::new(text, format!("{length} of {}", grade.name()), row.clause)
            .against(format!("{}: {} on {}", row.interface, row.reach, grade.name()))
            .resting_on(&[Word::Identity])
    };
    if length > row.reach {
        Answer::Yes(seen("the run is longer than the type is specified for"))
    } else {
        Answer::No(seen("the run is within the type's reach"))
    }
}

/// Far transmit less near receive is more than the medium may lose.
pub const PATH_LOSES_TOO_MUCH: Observation = Observation {
    name: "path-loses-too-much",
    statement: "far transmit power less near receive power is more than the channel may lose",
    fact: "loss of the path",
    how: HOW_FAR,
    look: |view| {
        // Lane by lane where both ends tell their lanes.
        let loss = match loss_in(view) {
            Ok(loss) => loss,
            Err(why) if why.reason == Reason::NotApplicable => return Answer::Moot,
            Err(why) => return Answer::Unknown(why),
        };
        judge_loss(view, loss).map_or(Answer::Moot, |(too_much, seen)| {
            if too_much { Answer::Yes(seen) } else { Answer::No(seen) }
        })
    },
};

/// Whether a loss is more than the channel of the interface type may lose. `None` where that is not
/// known, or where both readings may be off by as much: between the limit and twice the accuracy
/// beyond it.
fn judge_loss(view: &View<'_>, loss: Decibels) -> Option<(bool, Seen)> {
    let grade = view.site.and_then(crate::site::SitePort::grade);
    // Where the grade is not known, the most that any grade may lose: the careful way.
    let row = media::rows_of(view.window()?.interface)
        .filter(|row| grade.is_none_or(|grade| row.grade == grade))
        .filter(|row| row.loss_most.is_some())
        .max_by(|a, b| a.loss_most.partial_cmp(&b.loss_most).unwrap_or(Ordering::Equal))?;
    let most = row.loss_most?;
    let seen = |text: &str| {
        Seen::new(text, loss.to_string(), row.cite())
            .against(format!("most {most}, give or take {}", Decibels(2.0 * accuracy::POWER.0)))
            .resting_on(&[Word::Readings, Word::Identity])
    };
    if loss.0 > most.0 + 2.0 * accuracy::POWER.0 {
        Some((true, seen("the path loses more than the channel may")))
    } else if loss <= most {
        Some((false, seen("the path loses no more than the channel may")))
    } else {
        None
    }
}

/// The link runs at 25 Gb/s or more, where FEC matters.
pub const FEC_MATTERS: Observation = Observation {
    name: "fec-matters",
    statement: "the link is meant for 25 Gb/s or more, where the ends must agree on FEC",
    fact: "speed class",
    how: HOW_MODULE,
    look: |view| {
        let speed = view
            .module
            .as_ref()
            .and_then(|module| module.top_speed.clone())
            .or_else(|| view.port_best());
        let seen = |text: &str, speed: Mbps| {
            Seen::new(text, speed.to_string(), "IEEE 802.3 clauses 91, 108 and 134")
                .resting_on(&[Word::Identity])
        };
        match speed {
            Fact::Known(speed) if speed >= Mbps(25_000) => {
                Answer::Yes(seen("at this speed the ends must agree on FEC", speed))
            }
            Fact::Known(speed) => Answer::No(seen("no FEC is agreed at this speed", speed)),
            Fact::Missing(why) => Answer::Unknown(why),
        }
    },
};

/// The module works on light.
pub const OPTICAL: Observation = Observation {
    name: "optical",
    statement: "the link is on fibre",
    fact: "kind of medium",
    how: HOW_MODULE,
    look: |view| match &view.module {
        Fact::Known(module) if module.carries.is_optical() => {
            Answer::Yes(Seen::new("the link is on fibre", module.carries.text(), "module memory"))
        }
        Fact::Known(module) => Answer::No(Seen::new(
            "the link is not on fibre",
            module.carries.text(),
            "module memory",
        )),
        Fact::Missing(why) => {
            if crate::chain::has_own_jack(view.port) {
                Answer::No(Seen::new(
                    "the link is not on fibre",
                    "twisted-pair jack",
                    "connector, as the port says",
                ))
            } else {
                Answer::Unknown(why.clone())
            }
        }
    },
};
