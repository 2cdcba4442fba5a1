//! What changed on a host's ports between two captures: what a person asks first of a link that
//! worked once.
//!
//! In: two snapshots of one host and their diagnoses. Out: the changes of each port, what stayed,
//! and what is known on one side only: that is neither a change nor none. Pure.

use crate::calc::rates::{self, Change};
use crate::diagnose::{Diagnosis, PortDiagnosis};
use crate::module::{Lane, Module};
use crate::quantity::{Mbps, Milliwatts};
use crate::snapshot::{Fact, Instant, Port, Related, Slot, Snapshot};

/// A reading of one module that moved by less than this, decibels, is not called a change: one
/// sensor repeats better than its stated accuracy. Common practice, no published source.
const POWER_REPEATS: f64 = 1.0;
/// The same for two modules: each reads to ±3 dB ([`crate::standards::accuracy::POWER`]).
const POWER_OF_TWO: f64 = 6.0;
/// A temperature that moved by less, °C, is the day's. Common practice, no published source.
const TEMPERATURE_REPEATS: f64 = 10.0;
/// A laser bias that moved by less, parts of the first, is not called a change: readings are good
/// to ±10 % ([`crate::standards::accuracy`]).
const BIAS_REPEATS: f64 = 0.2;

/// One thing that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// What.
    pub what: String,
    /// As it was.
    pub before: String,
    /// As it is.
    pub after: String,
    /// What that says, where it says something ("fell by 6.1 dB").
    pub note: String,
}

/// One port then and now.
#[derive(Debug)]
pub struct Comparison<'a> {
    /// Name now, or then if it is gone.
    pub name: &'a str,
    /// The diagnosis then; none where the port was not there.
    pub before: Option<&'a PortDiagnosis>,
    /// The diagnosis now; none where the port is not there.
    pub after: Option<&'a PortDiagnosis>,
    /// What changed, the nearest to a cause first.
    pub changed: Vec<Changed>,
    /// What is the same.
    pub same: Vec<String>,
    /// What is known then or now only.
    pub one_sided: Vec<String>,
    /// Readings of two modules that differ by no more than two may: changed or not, nobody can tell.
    pub undecided: Vec<String>,
}

/// Compares every port of two captures of one host.
pub fn compare<'a>(before: &'a Diagnosis<'_>, after: &'a Diagnosis<'_>) -> Vec<Comparison<'a>> {
    let then: Vec<Side<'a>> = sides(before);
    let mut left: Vec<bool> = vec![true; then.len()];
    let mut all = Vec::new();
    for now in sides(after) {
        let place = counterpart(&then, &left, now.port);
        let was = place.and_then(|place| {
            if let Some(left) = left.get_mut(place) {
                *left = false;
            }
            then.get(place).copied()
        });
        all.push(one(was, Some(now)));
    }
    let gone = then.iter().zip(&left).filter(|(_, left)| **left);
    all.extend(gone.map(|(was, _)| one(Some(*was), None)));
    all
}

/// What is said of a port that is there then only.
const GONE: &str = "the adapter was taken out, was lost from its bus, or is another one";
/// What is said of a port that is there now only.
const NEW: &str = "it is new here";

/// True if the two captures bear one host name and look like two machines all the same: most of
/// the physical ports are others, by burnt-in address or else by name.
pub fn looks_like_two(before: &Snapshot, after: &Snapshot) -> bool {
    let physical = |one: &'_ Snapshot| one.ports.iter().filter(|port| port.is_hardware()).count();
    let burnt_in = |port: &Port| port.permanent_mac_address.known().cloned();
    let same = |now: &&Port| {
        before.ports.iter().filter(|was| was.is_hardware()).any(|was| {
            match (burnt_in(was), burnt_in(now)) {
                (Some(was), Some(now)) => was == now,
                _ => was.name == now.name,
            }
        })
    };
    let shared = after.ports.iter().filter(|port| port.is_hardware()).filter(same).count();
    // Ports that are all gone, or all new, are no other ones.
    let (then, now) = (physical(before), physical(after));
    shared < then && shared < now && shared.saturating_mul(2) < then.max(now)
}

/// A port as it was seen, and its diagnosis.
#[derive(Clone, Copy)]
struct Side<'a> {
    port: &'a Port,
    kernel: &'a Fact<String>,
    found: &'a PortDiagnosis,
}

fn sides<'a>(diagnosis: &'a Diagnosis<'_>) -> Vec<Side<'a>> {
    let pairs = diagnosis.snapshot.ports.iter().zip(&diagnosis.ports);
    let kernel = &diagnosis.snapshot.host.kernel;
    pairs.map(|(port, found)| Side { port, kernel, found }).collect()
}

/// The same port then: by a name it answers to; a port may have been renamed, its burnt-in
/// address stays.
fn counterpart(then: &[Side<'_>], left: &[bool], now: &Port) -> Option<usize> {
    let free = || then.iter().enumerate().filter(|(place, _)| left.get(*place) == Some(&true));
    let by_name = free().find(|(_, was)| was.port.name == now.name);
    let burnt_in = now.permanent_mac_address.known();
    let by_address = || {
        free().find(|(_, was)| {
            burnt_in.is_some() && was.port.permanent_mac_address.known() == burnt_in
        })
    };
    by_name.or_else(by_address).map(|(place, _)| place)
}

fn one<'a>(before: Option<Side<'a>>, after: Option<Side<'a>>) -> Comparison<'a> {
    let name = after.or(before).map_or("", |side| side.port.name.as_str());
    let mut comparison = Comparison {
        name,
        before: before.map(|side| side.found),
        after: after.map(|side| side.found),
        changed: Vec::new(),
        same: Vec::new(),
        one_sided: Vec::new(),
        undecided: Vec::new(),
    };
    match (before, after) {
        (Some(before), Some(after)) => pair(&mut comparison, before, after),
        (None, _) => comparison.changed.push(Changed {
            what: "port".into(),
            before: "not there".into(),
            after: "there".into(),
            note: NEW.into(),
        }),
        (Some(_), None) => comparison.changed.push(Changed {
            what: "port".into(),
            before: "there".into(),
            after: "not there".into(),
            note: GONE.into(),
        }),
    }
    comparison
}

/// A fact that is the same or not: what it is called, and how it is read.
type Row<T> = (&'static str, fn(&T) -> Fact<String>);

/// What a person may have changed, nearest to a cause first.
const SETTINGS: &[Row<Port>] = &[
    ("administrative state", |port| {
        port.admin_up.as_ref().map(|up| if *up { "switched on" } else { "switched off" }.into())
    }),
    ("link", |port| port.carrier.as_ref().map(|up| if *up { "up" } else { "down" }.into())),
    ("speed", |port| port.ethernet.speed_mbps.as_ref().map(|speed| Mbps(*speed).to_string())),
    ("duplex", |port| {
        port.ethernet.duplex.as_ref().map(|duplex| format!("{duplex:?}").to_lowercase())
    }),
    ("autonegotiation", |port| {
        port.ethernet.autonegotiation.as_ref().map(|on| if *on { "on" } else { "off" }.into())
    }),
    ("modes this port offers", |port| {
        port.ethernet.advertised_modes.as_ref().map(|all| listed(all))
    }),
    ("modes the far end offered", |port| port.ethernet.peer_modes.as_ref().map(|all| listed(all))),
    ("FEC at work", |port| port.ethernet.fec_active.clone()),
    ("FEC allowed", |port| port.ethernet.fec_configured.as_ref().map(|all| listed(all))),
    ("lanes in use", |port| port.ethernet.lanes.as_ref().map(u32::to_string)),
    ("largest payload (MTU)", |port| {
        port.mtu_octets.as_ref().map(|octets| format!("{octets} octets"))
    }),
    ("firmware of the adapter", |port| port.firmware.clone()),
    ("driver", |port| port.driver.clone()),
    ("slot", |port| port.slot.as_ref().and_then(slot)),
    ("bus address", |port| port.bus_address.clone()),
    ("belongs to", |port| Fact::Known(related(port.controller.as_ref()))),
    ("stands on", |port| Fact::Known(related(port.lower.as_ref()))),
    ("name", |port| Fact::Known(port.name.clone())),
];

/// What tells one module from another.
const IDENTITY: &[Row<Module>] = &[
    ("module's maker", |module| module.vendor_name.clone()),
    ("module's part number", |module| module.part_number.clone()),
    ("module's revision", |module| module.revision.clone()),
    ("module's serial number", |module| module.serial_number.clone()),
    ("module's interface types", |module| {
        let names: Vec<String> =
            module.interface_types.iter().map(|one| one.name.clone()).collect();
        Fact::Known(listed(&names))
    }),
    ("module's state", |module| module.state.clone()),
];

fn listed(all: &[String]) -> String {
    if all.is_empty() { "none".into() } else { all.join(", ") }
}

fn related(other: Option<&Related>) -> String {
    match other {
        None => "nothing".into(),
        Some(other) => other.name.clone().unwrap_or_else(|| "another interface".into()),
    }
}

fn slot(slot: &Slot) -> Fact<String> {
    match slot {
        Slot::Pci { hops, .. } => match hops.first() {
            Some(hop) => match (&hop.speed_gts, &hop.width_lanes) {
                (Fact::Known(speed), Fact::Known(width)) => {
                    Fact::Known(format!("{speed} GT/s on {width} lanes"))
                }
                (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why.clone()),
            },
            None => Fact::default(),
        },
        Slot::Usb { hops } => match hops.first() {
            Some(hop) => hop.speed_mbps.as_ref().map(|speed| format!("USB, {}", Mbps(*speed))),
            None => Fact::default(),
        },
        Slot::Other { name } => Fact::Known(name.clone()),
    }
}

/// Drivers that are part of the kernel tell its release as their version, or as much of it as has
/// room: what became of the kernel is said once, of the host. Where the kernel of the other side is
/// not known, the version stands as it was told, or the same one would look like two.
fn driver_version(side: Side<'_>, other: Side<'_>) -> Fact<String> {
    const ROOM: usize = 31;
    side.port.driver_version.as_ref().map(|version| match (side.kernel, other.kernel) {
        (Fact::Known(kernel), Fact::Known(_))
            if version == kernel || (version.len() == ROOM && kernel.starts_with(version)) =>
        {
            "that of the kernel".into()
        }
        _ => version.clone(),
    })
}

fn pair(comparison: &mut Comparison<'_>, before: Side<'_>, after: Side<'_>) {
    let modules = (before.found.module.known(), after.found.module.known());
    let mut swapped = false;
    match modules {
        (Some(was), Some(now)) => {
            for (what, read) in IDENTITY {
                let changed = settle(comparison, what, read(was), read(now));
                swapped |= changed && *what == "module's serial number";
            }
        }
        (None, None) => {}
        (was, _) => {
            // Not there and not readable are two things.
            let absent = |found: &PortDiagnosis| match &found.module {
                Fact::Missing(why) => why.to_string(),
                Fact::Known(_) => "there, and readable".into(),
            };
            comparison.changed.push(Changed {
                what: "module".into(),
                before: absent(before.found),
                after: absent(after.found),
                note: if was.is_some() { "no longer there or no longer readable" } else { "" }
                    .into(),
            });
        }
    }
    for (what, read) in SETTINGS {
        settle(comparison, what, read(before.port), read(after.port));
    }
    let versions = (driver_version(before, after), driver_version(after, before));
    settle(comparison, "version of the driver", versions.0, versions.1);
    if let (Some(was), Some(now)) = modules {
        readings(comparison, was, now, swapped);
    }
    counters(comparison, before.port, after.port);
}

/// Notes one fact; true if it changed.
fn settle(
    comparison: &mut Comparison<'_>,
    what: &str,
    was: Fact<String>,
    now: Fact<String>,
) -> bool {
    match (was, now) {
        (Fact::Known(was), Fact::Known(now)) if was == now => comparison.same.push(what.to_owned()),
        (Fact::Known(was), Fact::Known(now)) => {
            comparison.changed.push(Changed {
                what: what.to_owned(),
                before: was,
                after: now,
                note: String::new(),
            });
            return true;
        }
        (Fact::Missing(_), Fact::Missing(_)) => {}
        (Fact::Known(_), Fact::Missing(why)) => {
            comparison.one_sided.push(format!("{what}: not known now: {why}"));
        }
        (Fact::Missing(why), Fact::Known(_)) => {
            comparison.one_sided.push(format!("{what}: was not known then: {why}"));
        }
    }
    false
}

fn readings(comparison: &mut Comparison<'_>, was: &Module, now: &Module, swapped: bool) {
    let least = if swapped { POWER_OF_TWO } else { POWER_REPEATS };
    let whose = if swapped { ", as two modules read it" } else { "" };
    let several = now.lanes.len() > 1;
    type Pick = fn(&Lane) -> &Fact<Milliwatts>;
    let powers: [(&str, Pick); 2] =
        [("receive power", |lane| &lane.rx_power), ("transmit power", |lane| &lane.tx_power)];
    for (what, pick) in powers {
        for lane in now.used_lanes() {
            let Some(old) = was.lanes.iter().find(|old| old.number == lane.number) else {
                continue;
            };
            let (Fact::Known(then), Fact::Known(this)) = (pick(old), pick(lane)) else {
                continue;
            };
            let what =
                if several { format!("{what}, lane {}", lane.number) } else { what.to_owned() };
            let note = match (then.dbm(), this.dbm()) {
                (Some(then), Some(this)) => {
                    let by = this.0 - then.0;
                    if by.abs() < POWER_REPEATS {
                        comparison.same.push(what);
                        continue;
                    }
                    if by.abs() < least {
                        comparison.undecided.push(format!(
                            "{what}: {:.1} dB {} than then ({then} then, {this} now), but another \
                             module reads it, and two may differ by {least:.0} dB",
                            by.abs(),
                            if by < 0.0 { "less" } else { "more" },
                        ));
                        continue;
                    }
                    let way = if by < 0.0 { "fell" } else { "rose" };
                    format!("{way} by {:.1} dB{whose}", by.abs())
                }
                (Some(_), None) => "the light is gone".into(),
                (None, Some(_)) => "there is light again".into(),
                (None, None) => {
                    comparison.same.push(what);
                    continue;
                }
            };
            comparison.changed.push(Changed {
                what,
                before: power(*then),
                after: power(*this),
                note,
            });
        }
    }
    if !swapped {
        for lane in now.used_lanes() {
            let old = was.lanes.iter().find(|old| old.number == lane.number);
            let (Some(Fact::Known(then)), Fact::Known(this)) =
                (old.map(|old| &old.bias), &lane.bias)
            else {
                continue;
            };
            let part = (this.0 - then.0) / then.0;
            if then.0 > 0.0 && part.abs() >= BIAS_REPEATS {
                let way = if part < 0.0 { "fell" } else { "rose" };
                comparison.changed.push(Changed {
                    what: if several {
                        format!("laser bias, lane {}", lane.number)
                    } else {
                        "laser bias".into()
                    },
                    before: then.to_string(),
                    after: this.to_string(),
                    note: format!("{way} by {:.0} %", part.abs() * 100.0),
                });
            }
        }
    }
    if let (Fact::Known(then), Fact::Known(this)) = (&was.temperature, &now.temperature) {
        let by = this.0 - then.0;
        if by.abs() >= TEMPERATURE_REPEATS {
            comparison.changed.push(Changed {
                what: "module temperature".into(),
                before: then.to_string(),
                after: this.to_string(),
                note: format!("{} by {:.0} °C", if by < 0.0 { "fell" } else { "rose" }, by.abs()),
            });
        }
    }
}

fn power(power: Milliwatts) -> String {
    power.dbm().map_or_else(|| "no light (0 mW)".to_owned(), |dbm| dbm.to_string())
}

/// Something that is counted.
type Count = (&'static str, fn(&Instant) -> Fact<u64>);

/// What is counted when something is wrong.
const COUNTS: &[Count] = &[
    ("times the link went down", |instant| instant.carrier_down_count.clone()),
    ("frames with a wrong check sequence", |instant| {
        instant.counters.as_ref().and_then(|all| all.receive_check_sequence_errors.clone())
    }),
    ("FEC codewords beyond correction", |instant| {
        instant
            .fec_counters
            .as_ref()
            .and_then(|all| all.uncorrectable_blocks.as_ref().map(|counts| counts.total))
    }),
    ("frames this host had no room for", |instant| {
        instant.counters.as_ref().and_then(|all| all.receive_missed.clone())
    }),
];

/// What was counted while being watched, then and now; and between, where the counters run on.
fn counters(comparison: &mut Comparison<'_>, before: &Port, after: &Port) {
    for (what, pick) in COUNTS {
        let watched = |port: &Port| rates::change(&port.instants, pick);
        let text = |change: &Change| format!("{} in {:.1} s", change.by, change.seconds);
        if let (Fact::Known(then), Fact::Known(now)) = (watched(before), watched(after)) {
            if (then.by == 0) == (now.by == 0) {
                comparison.same.push(format!("whether {what} are being counted"));
            } else {
                comparison.changed.push(Changed {
                    what: (*what).to_owned(),
                    before: text(&then),
                    after: text(&now),
                    note: if now.by > 0 { "began" } else { "stopped" }.into(),
                });
            }
        }
        let total = |instant: Option<&Instant>| instant.and_then(|one| pick(one).known().copied());
        let (then, now) = (total(before.instants.last()), total(after.instants.first()));
        if let (Some(then), Some(now)) = (then, now)
            && then != now
        {
            comparison.changed.push(Changed {
                what: format!("{what}, in all"),
                before: then.to_string(),
                after: now.to_string(),
                note: match now.checked_sub(then) {
                    Some(more) => format!("{more} more"),
                    None => "it counts from the start again: the host or the driver was restarted"
                        .into(),
                },
            });
        }
    }
}
