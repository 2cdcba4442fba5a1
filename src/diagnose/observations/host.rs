//! What is asked about this host's side of a link: the bus, the adapter itself, its heat, and
//! the bond it is a leg of.

use super::{HOW_HOST, HOW_LOG};
use crate::calc::slot;
use crate::chain::{pci_link_text, slowest_usb};
use crate::diagnose::observation::{Answer, HOW_RATE, Observation, Seen};
use crate::diagnose::symptoms::{slower_than, went_down};
use crate::diagnose::view::View;
use crate::quantity::{Celsius, Mbps};
use crate::snapshot::{
    Counters, Fact, Instant, Missing, PciHop, Reason, Related, Sensor, Slot, Statistics,
};
use crate::standards::accuracy;

/// Newest line of the kernel log that fits: yes where there is one, else nothing is said, since
/// the log is short and forgets.
fn logged(view: &View<'_>, text: &str, fits: impl Fn(&str) -> bool) -> Answer {
    match view.log_line(fits) {
        Fact::Known(Some(line)) => Answer::Yes(Seen::new(text, line, "kernel log")),
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    }
}

fn any_of(line: &str, words: &[&str]) -> bool {
    words.iter().any(|word| line.contains(word))
}

// ---- bus --------------------------------------------------------------------------------

/// Which hop of a USB path is the slowest, in words.
pub fn usb_text(view: &View<'_>) -> String {
    let Fact::Known(Slot::Usb { hops }) = &view.port.slot else { return String::new() };
    slowest_usb(hops).map_or_else(|| "USB".to_owned(), |(speed, at)| format!("{speed} at {at}"))
}

/// The adapter is on USB.
pub const ON_USB: Observation = Observation {
    name: "on-usb",
    statement: "the adapter is on USB",
    fact: "kind of bus the adapter is on",
    how: HOW_HOST,
    look: |view| match &view.port.slot {
        Fact::Known(Slot::Usb { .. }) => Answer::Yes(Seen::new(
            "the adapter is on USB",
            usb_text(view),
            "path of the device, as the kernel lists it",
        )),
        Fact::Known(_) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why.clone()),
    },
};

/// A hop of the USB path is slower than the link by its very name.
pub const USB_SLOWER_BY_NAME: Observation = Observation {
    name: "usb-slower-by-name",
    statement: "a hop of the USB path has a lower bus speed than the link, before any overhead",
    fact: "bus speed of each USB hop",
    how: HOW_HOST,
    look: |view| {
        let Fact::Known(Slot::Usb { hops }) = &view.port.slot else { return Answer::Moot };
        let Fact::Known(needed) = view.running.clone().or_else(|| view.port_best()) else {
            return Answer::Moot;
        };
        match slowest_usb(hops) {
            Some((speed, at)) if speed < needed => Answer::Yes(
                Seen::new(
                    "the bus is slower than the link by its very name",
                    format!("USB at {speed} at {at}"),
                    "bus speed, as the kernel reports it",
                )
                .against(format!("the link needs {needed}")),
            ),
            _ => Answer::Moot,
        }
    },
};

/// The path to the adapter runs through a cable tunnel.
pub const BEHIND_TUNNEL: Observation = Observation {
    name: "behind-tunnel",
    statement: "the path to the adapter runs through a cable tunnel",
    fact: "whether the device's path passes a cable tunnel",
    how: HOW_HOST,
    look: |view| match &view.port.slot {
        Fact::Known(Slot::Pci { tunnelled: true, .. }) => Answer::Yes(Seen::new(
            "the adapter is behind a cable tunnel, whatever its own slot says",
            "tunnelled",
            "path of the device, as the kernel lists it",
        )),
        Fact::Known(_) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why.clone()),
    },
};

/// The narrowest link of a PCI Express path, as its two ends tell it.
struct Narrowest<'a> {
    hop: &'a PciHop,
    speed_gts: f64,
    width: u32,
    /// Most lanes of the device below and above that link; of the one, the other, or both.
    ends: [Option<u32>; 2],
}

fn narrowest<'a>(view: &View<'a>) -> Option<Narrowest<'a>> {
    let Fact::Known(Slot::Pci { hops, tunnelled: false }) = &view.port.slot else { return None };
    let rate = |hop: &PciHop| slot::pci_express(*hop.speed_gts.known()?, *hop.width_lanes.known()?);
    let (place, hop) = hops
        .iter()
        .enumerate()
        .filter(|(_, hop)| rate(hop).is_some())
        .min_by_key(|(place, hop)| (rate(hop), *place))?;
    // The adapter and what it is plugged into tell of one link, so do the two above them. What
    // is next to the adapter is its slot, whatever it tells of itself.
    let same_link = |other: &&PciHop| {
        place == 0
            || rate(other).is_none()
            || (other.width_lanes == hop.width_lanes && other.speed_gts == hop.speed_gts)
    };
    let other = hops.get(place ^ 1).filter(same_link);
    Some(Narrowest {
        hop,
        speed_gts: *hop.speed_gts.known()?,
        width: *hop.width_lanes.known()?,
        ends: [Some(hop), other].map(|end| end?.best_width_lanes.known().copied()),
    })
}

/// The slot's link came up with fewer lanes than both its ends have.
pub const TRAINED_NARROWER: Observation = Observation {
    name: "trained-narrower",
    statement: "the slot's link came up with fewer lanes than both its ends have",
    fact: "lanes in use against lanes both ends have",
    how: HOW_HOST,
    look: |view| {
        let source = "width now and at best, as the devices report them";
        match &view.port.slot {
            Fact::Known(Slot::Pci { tunnelled: false, .. }) => {}
            Fact::Known(_) => {
                return Answer::No(Seen::new(
                    "the adapter is in no slot of its own",
                    "another bus, or a cable tunnel",
                    "path of the device, as the kernel lists it",
                ));
            }
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        }
        let unknown = |text: &str| Answer::Unknown(Missing::with(Reason::NotReported, text));
        let Some(found) = narrowest(view) else {
            return unknown("no hop of the path tells its rate");
        };
        let observed = pci_link_text(found.speed_gts, found.width);
        let seen = |text: &str, most: u32| {
            Seen::new(text, format!("{observed} at {}", found.hop.address), source)
                .against(format!("{most} lanes at both ends"))
        };
        match found.ends {
            [Some(one), Some(other)] if found.width < one.min(other) => {
                Answer::Yes(seen("fewer lanes came up than both ends have", one.min(other)))
            }
            // One end that has no more is enough.
            [Some(most), _] | [_, Some(most)] if found.width >= most => {
                let limit = format!("one end has {most}");
                let text = "every lane that both ends have is in use";
                Answer::No(Seen::new(text, observed, source).against(limit))
            }
            _ => unknown("the devices do not tell how many lanes they have"),
        }
    },
};

/// With every lane that both ends have, the slot would carry the link.
pub const ALL_LANES_WOULD_DO: Observation = Observation {
    name: "all-lanes-would-do",
    statement: "with every lane that both its ends have, the slot would carry the link",
    fact: "what the slot would carry with every lane",
    how: HOW_HOST,
    look: |view| {
        let (seen, found) = match ((TRAINED_NARROWER.look)(view), narrowest(view)) {
            (Answer::Yes(seen), Some(found)) => (seen, found),
            (Answer::Unknown(why), Some(_)) => return Answer::Unknown(why),
            _ => return Answer::Moot,
        };
        let most = found.ends.into_iter().flatten().min();
        let whole = most.and_then(|lanes| slot::pci_express(found.speed_gts, lanes));
        match (whole, view.running.clone().or_else(|| view.port_best())) {
            (Some(whole), Fact::Known(needed)) if whole >= needed => Answer::Yes(
                Seen::new(
                    "with every lane that both ends have, the slot would carry the link",
                    format!("{whole} with every lane"),
                    format!("{}; {}", seen.source, slot::SOURCE),
                )
                .against(format!("the link needs {needed}")),
            ),
            _ => Answer::Moot,
        }
    },
};

/// How many lanes came up of how many, in words.
pub fn lanes_text(view: &View<'_>) -> Option<(u32, u32, String)> {
    let found = narrowest(view)?;
    let most = found.ends.into_iter().flatten().min()?;
    Some((found.width, most, found.hop.address.clone()))
}

/// The kernel log tells of errors on the bus.
pub const LOG_BUS_ERRORS: Observation = Observation {
    name: "log-bus-errors",
    statement: "the kernel log tells of errors on the bus of this adapter",
    fact: "kernel log on bus errors",
    how: HOW_LOG,
    look: |view| {
        logged(view, "the kernel counts errors on this bus", |line| {
            any_of(line, &["pcie bus error", "aer: corrected error", "aer: correctable error"])
        })
    },
};

// ---- the adapter itself -----------------------------------------------------------------

/// What a register of 64 or of 32 bits reads where nothing answers.
const ONES: [u64; 2] = [u64::MAX, u32::MAX as u64];

/// One counter from its first to its last value.
fn reads_ones(first: Option<u64>, last: u64) -> bool {
    // Drivers that add up what a 32-bit register reads grow by all ones at a time.
    let grown = first.and_then(|first| last.checked_sub(first)).unwrap_or(0);
    ONES.contains(&last) || (grown > 0 && grown.is_multiple_of(u64::from(u32::MAX)))
}

/// Every counter that is known at the last instant: its name, its value at the first instant, and
/// its value now.
fn known_counters(view: &View<'_>) -> Vec<(&'static str, Option<u64>, u64)> {
    let none = Instant::default();
    let Some(last) = view.last() else { return Vec::new() };
    let first = match view.port.instants.as_slice() {
        [first, .., _] => first,
        _ => &none,
    };
    let mut all = Vec::new();
    if let Fact::Known(counters) = &last.counters {
        let mut before = first.counters.known().into_iter().flat_map(Counters::each);
        for (name, count) in counters.each() {
            let first = before.next().and_then(|(_, count)| count.known().copied());
            all.extend(count.known().map(|count| (name, first, *count)));
        }
    }
    if let Fact::Known(kept) = &last.statistics {
        let empty = Statistics::default();
        let before = first.statistics.known().unwrap_or(&empty);
        for (now, before) in [(&kept.mac, &before.mac), (&kept.phy, &before.phy)] {
            all.extend(now.iter().map(|(name, count)| {
                (
                    if counts_traffic(name) { TRAFFIC } else { "a standard counter" },
                    before.get(name).copied(),
                    *count,
                )
            }));
        }
    }
    all
}

/// What the standard statistics' counters of traffic are called here.
const TRAFFIC: &str = "frames or octets";

/// True of counters that count whatever passes.
fn counts_traffic(name: &str) -> bool {
    let traffic = [
        TRAFFIC,
        "received_frames",
        "sent_frames",
        "received_octets",
        "sent_octets",
        "FramesReceivedOK",
        "FramesTransmittedOK",
        "OctetsReceivedOK",
        "OctetsTransmittedOK",
    ];
    traffic.contains(&name)
}

/// Several counters read all ones, as they do where the adapter does not answer.
pub const ALL_ONES: Observation = Observation {
    name: "all-ones",
    statement: "several counters read all ones, which is what a register reads where no device \
        answers",
    fact: "what the adapter's counters read",
    how: HOW_HOST,
    look: |view| {
        let counters = known_counters(view);
        if counters.is_empty() {
            // Where the adapter's own fields are all ones, or it is gone, it has no counters to give.
            if config_is_all_ones(view) || every_question_is_gone(view) {
                return Answer::Moot;
            }
            let why = view.last().and_then(|last| last.counters.why_missing().cloned());
            return Answer::Unknown(why.unwrap_or_else(|| Reason::NotAsked.into()));
        }
        let (ones, others): (Vec<_>, Vec<_>) =
            counters.iter().partition(|(_, first, count)| reads_ones(*first, *count));
        // A device that counts what passes answers, whatever one of its counters reads. What the
        // kernel drops it counts by itself.
        let answers = others.iter().any(|(name, first, count)| {
            !name.ends_with("discards") && first.is_some_and(|first| *count > first)
        });
        let traffic = ones.iter().any(|(name, ..)| counts_traffic(name));
        let source = "counters; a bus reads all ones where no device answers (common practice, \
            no published source)";
        let few: Vec<&str> = ones.iter().take(3).map(|(name, ..)| *name).collect();
        if !answers && ((traffic && ones.len() >= 2) || ones.len() >= 3) {
            let names = few.join(", ").replace('_', " ");
            let observed = format!("{} of {}: {names}", ones.len(), counters.len());
            Answer::Yes(Seen::new("counters read all ones", observed, source))
        } else {
            // A driver that lost its device often shows its last counts for ever.
            if !answers {
                return Answer::Moot;
            }
            let observed = format!("{} of {} all ones", ones.len(), counters.len());
            Answer::No(Seen::new("the counters read as counts do", observed, source))
        }
    },
};

/// All ones in the width field is 63 (a field of eight bits: 255), and a speed that cannot be goes with it.
fn config_is_all_ones(view: &View<'_>) -> bool {
    let Fact::Known(Slot::Pci { hops, .. }) = &view.port.slot else { return false };
    let cannot_be = |width: &Fact<u32>| width.known().is_some_and(|width| *width > 32);
    hops.first().is_some_and(|adapter| {
        let speed = adapter.speed_gts.why_missing();
        let speed_odd = speed.is_some_and(|why| why.reason == Reason::Malformed);
        cannot_be(&adapter.width_lanes)
            && (speed_odd || adapter.speed_gts.known().is_some_and(|speed| *speed > 64.0))
    })
}

/// The adapter's own fields of its bus link read all ones.
pub const CONFIG_ALL_ONES: Observation = Observation {
    name: "config-all-ones",
    statement: "the width and speed of the adapter's own bus link read all ones",
    fact: "fields of the adapter's own bus link",
    how: HOW_HOST,
    look: |view| {
        if config_is_all_ones(view) {
            Answer::Yes(
                Seen::new(
                    "the adapter's configuration space reads all ones",
                    "a width and a speed that cannot be",
                    "speed and width, as the device reports them",
                )
                .against("at most 32 lanes"),
            )
        } else {
            Answer::Moot
        }
    },
};

/// What the driver was asked about the adapter, and answered "gone" to each.
fn every_question_is_gone(view: &View<'_>) -> bool {
    let asked = &view.port.ethernet;
    let answers = [
        asked.speed_mbps.why_missing(),
        asked.duplex.why_missing(),
        asked.autonegotiation.why_missing(),
        asked.supported_modes.why_missing(),
        asked.link_detected.why_missing(),
    ];
    answers.into_iter().all(|why| why.is_some_and(|why| why.reason == Reason::Gone))
}

/// The driver answers every question with "gone".
pub const EVERYTHING_GONE: Observation = Observation {
    name: "everything-gone",
    statement: "the driver answers every question about the adapter with: no such device",
    fact: "whether the driver still has its device",
    how: HOW_HOST,
    look: |view| {
        if every_question_is_gone(view) {
            Answer::Yes(Seen::new(
                "the driver no longer has its device",
                "every question was answered: no such device",
                "answers of the driver",
            ))
        } else {
            Answer::Moot
        }
    },
};

/// True if something was counted meanwhile: an adapter that counts what passes answers.
fn counts_meanwhile(view: &View<'_>) -> bool {
    known_counters(view).iter().any(|(name, first, count)| {
        counts_traffic(name)
            && !reads_ones(*first, *count)
            && first.is_some_and(|first| *count > first)
    })
}

/// True where everything points to an adapter that does not answer: then what is read of it, and
/// what is not, tells nothing of the link and the module.
pub fn is_silent(view: &View<'_>) -> bool {
    let yes = |one: &Observation| matches!((one.look)(view), Answer::Yes(_));
    let down = view.port.carrier == Fact::Known(false);
    let log = yes(&LOG_DEVICE_LOST);
    yes(&ALL_ONES)
        || (!counts_meanwhile(view)
            && ((down && (config_is_all_ones(view) || every_question_is_gone(view) || log))
                || (log && (yes(&CONFIG_DEAD) || config_is_all_ones(view)))))
}

/// The adapter does not answer.
pub const ADAPTER_SILENT: Observation = Observation {
    name: "adapter-silent",
    statement: "the adapter itself does not answer",
    fact: "whether the adapter answers",
    how: HOW_HOST,
    look: |view| {
        if is_silent(view) {
            Answer::Yes(Seen::new(
                "the adapter itself does not answer, so nothing behind it can",
                "see the adapter's own marks",
                "counters, bus and kernel log",
            ))
        } else {
            Answer::Moot
        }
    },
};

/// The adapter tells nothing of its bus link, and the bridge above it does.
pub const CONFIG_DEAD: Observation = Observation {
    name: "config-dead",
    statement: "the adapter tells nothing that can be of its bus link, while a bridge above it does",
    fact: "whether the adapter's configuration space answers",
    how: HOW_HOST,
    look: |view| {
        let Fact::Known(Slot::Pci { hops, .. }) = &view.port.slot else { return Answer::Moot };
        let Some((adapter, above)) = hops.split_first() else { return Answer::Moot };
        // That says more, and counts by itself.
        if config_is_all_ones(view) {
            return Answer::Moot;
        }
        // All ones in the width field is 63; no link has more than 32 lanes.
        let width = adapter.width_lanes.known().filter(|width| (1..=32).contains(*width));
        let tells =
            |hop: &PciHop| hop.speed_gts.known().is_some() || hop.best_speed_gts.known().is_some();
        let source = "speed and width, as the devices report them";
        if let Some(width) = width {
            return Answer::No(Seen::new(
                "the adapter answers on its bus",
                format!("{width} lanes"),
                source,
            ));
        }
        let asked = match &adapter.width_lanes {
            // A part of an adapter that is handed to a guest has no link of its own, and says 0.
            Fact::Missing(why) => {
                why.detail() != Some("0")
                    && !matches!(
                        why.reason,
                        Reason::NotAsked | Reason::NotPermitted | Reason::NotSupported
                    )
            }
            Fact::Known(width) => *width != 0,
        };
        if asked && above.iter().any(tells) {
            Answer::Yes(Seen::new(
                "the adapter tells nothing of its bus link, and the bridge above it does",
                "no width",
                source,
            ))
        } else {
            Answer::Moot
        }
    },
};

/// Sensors of the adapter itself, without those of a module that its driver passes on.
fn own_sensors<'a>(view: &View<'a>) -> impl Iterator<Item = &'a Sensor> {
    let all = view.port.sensors.known().map_or(&[][..], |all| all.as_slice());
    let of_module = |sensor: &Sensor| {
        let words = format!("{} {}", sensor.chip, sensor.label).to_lowercase();
        any_of(&words, &["module", "sfp", "cage", "front panel", "transceiver", "x_power"])
    };
    all.iter().filter(move |sensor| !of_module(sensor))
}

/// A sensor of the adapter reads minus one.
pub const SENSORS_ALL_ONES: Observation = Observation {
    name: "sensors-all-ones",
    statement: "a sensor of the adapter reads minus one, which is all ones",
    fact: "what the adapter's sensors read",
    how: HOW_HOST,
    look: |view| {
        // Minus one in the kernel's thousandths, or in whole units.
        let ones = |value: &f64| (value + 1.0).abs() < 1e-9 || (value + 0.001).abs() < 1e-9;
        let mut read =
            own_sensors(view).filter_map(|sensor| Some((sensor, sensor.value.known()?))).peekable();
        if read.peek().is_none() {
            return Answer::Moot;
        }
        let source = "sensors of the adapter";
        match read.find(|(_, value)| ones(value)) {
            Some((sensor, value)) => Answer::Yes(Seen::new(
                "a sensor of the adapter reads minus one",
                format!("{} {value} {}", sensor.label, sensor.unit),
                source,
            )),
            None => Answer::No(Seen::new(
                "the adapter's sensors read what can be",
                "none reads minus one",
                source,
            )),
        }
    },
};

/// The kernel says that it lost the adapter.
pub const LOG_DEVICE_LOST: Observation = Observation {
    name: "log-device-lost",
    statement: "the kernel log says that the adapter was lost from its bus",
    fact: "kernel log on the loss of the adapter",
    how: HOW_LOG,
    look: |view| {
        let lost = |line: &str| {
            let words = [
                "pcie link lost",
                "now detached",
                "config space inaccessible",
                "device inaccessible",
                "adapter removed",
                "lost from bus",
                "fallen off the bus",
                "disappeared from the bus",
                "surprise down",
                "surprise removal",
                "health compromised",
            ];
            let reads_ones = line.contains("0xffffffff") && line.contains("read");
            let lost_on_bus =
                any_of(line, &["link lost", "card not present"]) && any_of(line, &["pci", "bus"]);
            reads_ones || lost_on_bus || any_of(line, &words)
        };
        // The newest word counts: an adapter that brought its link up later has come back.
        let back = |line: &str| any_of(line, &["link is up", "link up"]);
        logged(view, "the kernel lost the adapter", |line| lost(line) || back(line))
            .filtered(|seen| lost(&seen.observed.to_lowercase()))
    },
};

// ---- the adapter's heat -----------------------------------------------------------------

/// The adapter's temperature, and the limits that its driver gives.
struct Heat<'a> {
    sensor: &'a Sensor,
    celsius: f64,
    warning: Option<f64>,
    alarm: Option<f64>,
}

impl Heat<'_> {
    /// The lower limit, and its name.
    fn limit(&self) -> (f64, &'static str) {
        match (self.warning, self.alarm) {
            (Some(limit), _) => (limit, "high warning"),
            (None, Some(limit)) => (limit, "high alarm"),
            (None, None) => {
                (accuracy::DIE_TEMPERATURE_MOST.0, "the most that is usual (common practice)")
            }
        }
    }

    /// Degrees above the lower limit.
    fn excess(&self) -> f64 {
        self.celsius - self.limit().0
    }

    /// At or over the alarm limit, or where there is none, over the other limit by more than the
    /// reading can be wrong.
    fn is_far_over(&self) -> bool {
        match self.alarm {
            Some(alarm) => self.celsius >= alarm,
            None => self.excess() > accuracy::TEMPERATURE.0,
        }
    }
}

/// The hottest sensor of the adapter, against its limits. `Ok(None)` where there is none to ask.
fn heat<'a>(view: &View<'a>) -> Result<Option<Heat<'a>>, Missing> {
    if let Fact::Missing(why) = &view.port.sensors {
        return match why.reason {
            Reason::NotPermitted | Reason::BusError | Reason::TimedOut => Err(why.clone()),
            _ => Ok(None),
        };
    }
    let mut unread = None;
    let mut hottest: Option<Heat<'_>> = None;
    for sensor in own_sensors(view).filter(|sensor| sensor.quantity == "temperature") {
        let celsius = match &sensor.value {
            Fact::Known(celsius) if (-60.0..=200.0).contains(celsius) => *celsius,
            Fact::Known(_) => {
                unread = Some(Missing::with(Reason::Malformed, "a reading that cannot be"));
                continue;
            }
            Fact::Missing(why) => {
                unread = Some(why.clone());
                continue;
            }
        };
        // Zero and the like is a limit that nobody programmed.
        let limit = |name: &str| {
            sensor.limits.get(name).copied().filter(|limit| (40.0..=150.0).contains(limit))
        };
        let (warning, alarm) = (limit("high_warning"), limit("high_alarm"));
        let found = Heat { sensor, celsius, warning, alarm };
        if hottest.as_ref().is_none_or(|hottest| found.excess() > hottest.excess()) {
            hottest = Some(found);
        }
    }
    match (hottest, unread) {
        (Some(heat), _) => Ok(Some(heat)),
        (None, Some(why)) => Err(why),
        (None, None) => Ok(None),
    }
}

fn heat_seen(heat: &Heat<'_>, text: &str) -> Seen {
    let (limit, name) = heat.limit();
    let alarm = match heat.alarm {
        Some(alarm) if name != "high alarm" => format!(", high alarm {}", Celsius(alarm)),
        _ => String::new(),
    };
    let sensor = [heat.sensor.chip.as_str(), heat.sensor.label.as_str()].join(" ");
    Seen::new(
        text,
        Celsius(heat.celsius).to_string(),
        format!("sensor {} of the adapter", sensor.trim()),
    )
    .against(format!("{name} {}{alarm}", Celsius(limit)))
}

/// The adapter's heat as part of a sentence: reading and limit.
pub fn adapter_heat_text(view: &View<'_>) -> String {
    let Ok(Some(heat)) = heat(view) else { return "its temperature could not be read".into() };
    let (mut limit, mut name) = heat.limit();
    if let Some(alarm) = heat.alarm.filter(|alarm| heat.celsius >= *alarm) {
        (limit, name) = (alarm, "high alarm");
    }
    format!("{}, {name} {}", Celsius(heat.celsius), Celsius(limit))
}

/// A sensor of the adapter is over its limit.
pub const ADAPTER_HOT: Observation = Observation {
    name: "adapter-hot",
    statement: "a sensor of the adapter itself is over its own high warning limit, or where it \
        has none, over its high alarm limit; where it has neither, over 110 °C",
    fact: "adapter temperature",
    how: HOW_HOST,
    look: |view| match heat(view) {
        Err(why) => Answer::Unknown(why),
        Ok(None) => Answer::Moot,
        Ok(Some(heat)) => {
            if heat.is_far_over() || heat.excess() > 0.0 {
                Answer::Yes(heat_seen(&heat, "the adapter is hotter than its limit"))
            } else {
                Answer::No(heat_seen(&heat, "the adapter is not too hot"))
            }
        }
    },
};

/// It is so hot that it must do something about it.
pub const ADAPTER_AT_ALARM: Observation = Observation {
    name: "adapter-at-alarm",
    statement: "it has reached its high alarm limit, or where it has none, is over the other \
        limit by more than the accuracy of a reading",
    fact: "size of the adapter's excess of temperature",
    how: HOW_HOST,
    look: |view| match heat(view) {
        Ok(Some(heat)) if heat.is_far_over() => {
            Answer::Yes(heat_seen(&heat, "by so much that it must slow down or stop"))
        }
        _ => Answer::Moot,
    },
};

/// Over its limit, and the kernel says so.
pub const HOT_AND_LOGGED: Observation = Observation {
    name: "hot-and-logged",
    statement: "the adapter is over its warning limit, and the kernel log says that it is too hot",
    fact: "adapter temperature and what the kernel says of it",
    how: HOW_LOG,
    look: |view| match ((ADAPTER_HOT.look)(view), (LOG_THERMAL.look)(view)) {
        (Answer::Yes(_), Answer::Yes(seen))
            if !matches!((ADAPTER_AT_ALARM.look)(view), Answer::Yes(_)) =>
        {
            Answer::Yes(seen)
        }
        _ => Answer::Moot,
    },
};

/// The link is down, went down, or runs slower than both ends offer.
pub const LESS_THAN_OFFERED: Observation = Observation {
    name: "less-than-offered",
    statement: "the link is down, went down, or runs slower than both ends offer",
    fact: "what the link gives up",
    how: HOW_RATE,
    look: |view| {
        let seen = |text: &str, observed: String| {
            Answer::Yes(Seen::new(text, observed, "state of the link"))
        };
        if view.port.carrier == Fact::Known(false) {
            return seen("the link is down", "no carrier".into());
        }
        if let Some(change) = went_down(view) {
            return seen("the link went down meanwhile", format!("{} times", change.by));
        }
        match (slower_than(view), (super::BOTH_OFFER_FASTER.look)(view)) {
            (Some(best), Answer::Yes(_)) => {
                let running = view.running.known().map_or_else(String::new, Mbps::to_string);
                seen("both ends offer more than the link runs at", format!("{running} of {best}"))
            }
            _ => Answer::Moot,
        }
    },
};

/// The kernel says that the adapter is too hot.
pub const LOG_THERMAL: Observation = Observation {
    name: "log-thermal",
    statement: "the kernel log says that the adapter is too hot, or slows down for its heat",
    fact: "kernel log on the adapter's heat",
    how: HOW_LOG,
    look: |view| {
        logged(view, "the kernel says that the adapter is too hot", |line| {
            let hot = [
                "overheat",
                "over heat",
                "over temperature",
                "over-temperature",
                "overtemp",
                "thermal throttl",
                "thermal shutdown",
                "thermal trip",
                "thermal limit",
                "high temperature",
                "temperature exceed",
                "critical temperature",
                "temperature critical",
            ];
            // What it says of a module is the module's.
            any_of(line, &hot) && !any_of(line, &["module", "sfp", "transceiver"])
        })
    },
};

// ---- the bond ---------------------------------------------------------------------------

/// Name of the bond, as far as it is known.
pub fn bond_name<'a>(view: &View<'a>) -> &'a str {
    view.port.controller.as_ref().and_then(|bond| bond.name.as_deref()).unwrap_or("a bond")
}

/// What a bond says of a leg that it found down.
fn bond_lost_it(line: &str) -> bool {
    any_of(line, &["link status definitely down", "link status down", "disabling slave"])
}

/// The port is a leg of a bond.
pub const IN_BOND: Observation = Observation {
    name: "in-bond",
    statement: "the port is a leg of a bond",
    fact: "kind of interface the port belongs to",
    how: HOW_HOST,
    look: |view| match &view.port.controller {
        Some(_) if view.bond().is_some() => Answer::Yes(Seen::new(
            "the port is a leg of a bond",
            bond_name(view),
            "controller of the interface, as the kernel lists it",
        )),
        // Only a bond says such things.
        Some(Related { kind: None, elsewhere, .. }) => match view.log_line(bond_lost_it) {
            Fact::Known(Some(line)) => {
                Answer::Yes(Seen::new("the port is a leg of a bond", line, "kernel log"))
            }
            _ => Answer::Unknown(Missing::with(
                Reason::NotReported,
                if *elsewhere {
                    "the interface it belongs to is in another network namespace"
                } else {
                    "the interface it belongs to is not in the list"
                },
            )),
        },
        _ => Answer::Moot,
    },
};

/// The bond itself still has carrier.
pub const BOND_UP: Observation = Observation {
    name: "bond-up",
    statement: "the bond still has carrier: another leg carries it",
    fact: "carrier of the bond",
    how: HOW_HOST,
    look: |view| {
        let Some(bond) = view.bond() else { return Answer::Moot };
        let seen =
            |text: &str, observed: &str| Seen::new(text, observed, "RFC 2863 interface state");
        match bond.carrier {
            Some(true) => Answer::Yes(seen("the bond runs on without this leg", "carrier")),
            Some(false) => Answer::No(seen("the bond has lost every leg", "no carrier")),
            None => Answer::Unknown(Reason::NotReported.into()),
        }
    },
};

/// The kernel says that a leg of the bond is down.
pub const LOG_BOND: Observation = Observation {
    name: "log-bond",
    statement: "the kernel log says that the bond found this leg down",
    fact: "kernel log of the bond",
    how: HOW_LOG,
    look: |view| {
        // Where the log alone tells that it is a bond, the line has counted already.
        if view.bond().is_none() {
            return Answer::Moot;
        }
        logged(view, "the bond found this leg down", bond_lost_it)
    },
};
