//! The chain of parts of a link, each with the most it can carry and where that figure is from:
//! slot, port, module, medium, far module, far port.
//!
//! In: what was read and what the user told. Out: the parts in order, and the lowest ceiling
//! that is known. A ceiling that is not known is missing, never guessed.

pub mod far;
pub mod joined;
pub mod settings;

use serde::Serialize;

use crate::calc::slot;
use crate::module::{Carries, Module};
use crate::quantity::{Mbps, Metres};
use crate::site::SitePort;
use crate::snapshot::{Connector, Fact, Missing, Port, Reason, Slot};
use crate::standards::{media, names};
use far::FarEnd;

/// A part of the chain, seen from this host outwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PartKind {
    /// Where the adapter is plugged in.
    Slot,
    /// The port of this host.
    Port,
    /// The module or cable end in it.
    Module,
    /// Fibre or cable.
    Medium,
    /// The module at the far end.
    FarModule,
    /// The port at the far end.
    FarPort,
}

impl PartKind {
    /// Plain English.
    pub fn text(self) -> &'static str {
        match self {
            Self::Slot => "slot",
            Self::Port => "port",
            Self::Module => "module",
            Self::Medium => "medium",
            Self::FarModule => "far module",
            Self::FarPort => "far port",
        }
    }
}

/// The most a part can carry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ceiling {
    /// Rate at the MAC.
    pub speed: Mbps,
    /// Where the figure is from.
    pub source: String,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Which.
    pub kind: PartKind,
    /// Its ceiling, or why that is not known.
    pub ceiling: Fact<Ceiling>,
    /// What was read of it, in plain English.
    pub read: Vec<String>,
}

/// The whole chain, six parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Parts in order, from the slot to the far port.
    pub parts: Vec<Part>,
}

impl Chain {
    /// Lines the parts up.
    pub fn build(
        port: &Port,
        module: &Fact<Module>,
        site: Option<&SitePort>,
        far: &FarEnd,
    ) -> Self {
        let parts = vec![
            slot_part(port),
            port_part(port, module),
            module_part(port, module),
            medium_part(port, module, site),
            far_module_part(port, module, far),
            far_port_part(port, module, far),
        ];
        Self { parts }
    }

    /// A part's ceiling, if it is known.
    pub fn ceiling(&self, kind: PartKind) -> Option<&Ceiling> {
        self.parts.iter().find(|part| part.kind == kind).and_then(|part| part.ceiling.known())
    }

    /// Why a part's ceiling is not known.
    pub fn why_unknown(&self, kind: PartKind) -> Option<&Missing> {
        self.parts.iter().find(|part| part.kind == kind).and_then(|part| part.ceiling.why_missing())
    }

    /// The lowest ceiling that is known, and its part. Of equal ones the near port first (what
    /// cannot do more here needs no explanation from elsewhere), then outwards; the far port
    /// before its module, since a faster module alone would change nothing there.
    pub fn lowest(&self) -> Option<(PartKind, &Ceiling)> {
        self.parts
            .iter()
            .filter_map(|part| part.ceiling.known().map(|ceiling| (part.kind, ceiling)))
            .min_by_key(|(kind, ceiling)| {
                let rank = match kind {
                    PartKind::Port => 0,
                    PartKind::FarModule => 7,
                    other => 1 + *other as u8,
                };
                (ceiling.speed, rank)
            })
    }
}

fn slot_part(port: &Port) -> Part {
    let mut read = Vec::new();
    let ceiling = port.slot.as_ref().and_then(|slot| match slot {
        Slot::Pci { hops, tunnelled } => {
            if *tunnelled {
                read.push("behind a cable tunnel".into());
                return Fact::Known(Ceiling {
                    speed: slot::TUNNEL,
                    source: format!("cable tunnel; {}", slot::TUNNEL_SOURCE),
                });
            }
            pci_ceiling(hops)
        }
        Slot::Usb { hops } => usb_ceiling(hops, &mut read),
        Slot::Other { name } => {
            read.push(format!("on the bus {name}"));
            Fact::missing_with(Reason::NotReported, format!("the bus {name} tells no rate"))
        }
    });
    Part { kind: PartKind::Slot, ceiling, read }
}

/// One line about a link of the PCI Express path.
pub fn pci_link_text(speed_gts: f64, lanes: u32) -> String {
    format!("{speed_gts} GT/s x {lanes} lane{}", if lanes == 1 { "" } else { "s" })
}

fn pci_ceiling(hops: &[crate::snapshot::PciHop]) -> Fact<Ceiling> {
    let mut lowest: Option<(Mbps, String)> = None;
    let mut why = Missing::with(Reason::NotReported, "no hop of the path tells its rate");
    for (place, hop) in hops.iter().enumerate() {
        let (speed, width) = match (&hop.speed_gts, &hop.width_lanes) {
            (Fact::Known(speed), Fact::Known(width)) => (*speed, *width),
            (Fact::Missing(missing), _) | (_, Fact::Missing(missing)) => {
                if place == 0 {
                    why = missing.clone();
                }
                continue;
            }
        };
        let text = pci_link_text(speed, width);
        if let Some(rate) = slot::pci_express(speed, width)
            && lowest.as_ref().is_none_or(|(least, _)| rate < *least)
        {
            lowest = Some((rate, format!("PCI Express {text} at {}", hop.address)));
        }
    }
    match lowest {
        Some((speed, text)) => {
            Fact::Known(Ceiling { speed, source: format!("{text}; {}", slot::SOURCE) })
        }
        None => Fact::Missing(why),
    }
}

/// The slowest hop of a USB path that tells its speed: of equal ones the nearest to the host, since
/// it holds back those behind it.
pub fn slowest_usb(hops: &[crate::snapshot::UsbHop]) -> Option<(Mbps, &str)> {
    let nearest_first = hops.iter().rev();
    nearest_first
        .filter_map(|hop| Some((Mbps(*hop.speed_mbps.known()?), hop.address.as_str())))
        .min_by_key(|(speed, _)| *speed)
}

fn usb_ceiling(hops: &[crate::snapshot::UsbHop], read: &mut Vec<String>) -> Fact<Ceiling> {
    match slowest_usb(hops) {
        Some((speed, address)) => {
            read.push(format!("USB, slowest hop {speed} at {address}"));
            Fact::Known(Ceiling {
                speed: slot::usb(speed),
                source: format!(
                    "USB bus at {speed}, less a tenth for its protocol (common practice)"
                ),
            })
        }
        None => Fact::missing_with(Reason::NotReported, "no hop of the path tells its rate"),
    }
}

fn port_part(port: &Port, module: &Fact<Module>) -> Part {
    let ethernet = &port.ethernet;
    let mut read = Vec::new();
    if let Fact::Known(driver) = &port.driver {
        let version = port.driver_version.known().map(|version| format!(", version {version}"));
        read.push(format!("driver {driver}{}", version.unwrap_or_default()));
    }
    if let Fact::Known(firmware) = &port.firmware {
        read.push(format!("firmware {firmware}"));
    }
    if let Fact::Known(autonegotiation) = ethernet.autonegotiation {
        read.push(format!("autonegotiation {}", if autonegotiation { "on" } else { "off" }));
    }
    if let Fact::Known(code) = &ethernet.fec_active {
        read.push(names::fec_code(code).to_owned());
    }
    let ceiling = ethernet.supported_modes.as_ref().and_then(|modes| match names::fastest(modes) {
        Some(speed) => Fact::Known(Ceiling { speed, source: fastest_mode(modes, speed, module) }),
        None => Fact::missing_with(Reason::NotReported, "the port lists no speeds"),
    });
    Part { kind: PartKind::Port, ceiling, read }
}

/// The port's fastest mode, named by the one that the module is of, if there is one.
fn fastest_mode(modes: &[String], speed: Mbps, module: &Fact<Module>) -> String {
    const FEW: usize = 3;
    let fast: Vec<&String> =
        modes.iter().filter(|mode| names::speed_of(mode) == Some(speed)).collect();
    let is_of_module = |mode: &&&String| module.known().is_some_and(|module| module.claims(mode));
    let of_module = fast.iter().find(is_of_module);
    match (of_module, fast.as_slice()) {
        (Some(mode), _) => format!("fastest mode the port supports for this module: {mode}"),
        (None, [mode]) => format!("fastest mode the port supports: {mode}"),
        (None, all) => {
            let shown: Vec<&str> = all.iter().take(FEW).map(|mode| mode.as_str()).collect();
            let more = match all.len().saturating_sub(FEW) {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            format!("fastest modes the port supports: {}{more}", shown.join(", "))
        }
    }
}

/// True where a module is out of the question: the port has its own twisted-pair connector.
pub fn has_own_jack(port: &Port) -> bool {
    port.ethernet.connector.known() == Some(&Connector::TwistedPair)
        && port.module.memory.known().is_none()
}

fn module_part(port: &Port, module: &Fact<Module>) -> Part {
    let mut read = Vec::new();
    let ceiling = if has_own_jack(port) {
        Fact::missing_with(Reason::NotApplicable, "the port has a twisted-pair jack of its own")
    } else {
        module.as_ref().and_then(|module| {
            read.extend(module_lines(module));
            module.top_speed.clone().map(|speed| {
                let source = module
                    .interface_types
                    .iter()
                    .find(|claimed| claimed.speed == Some(speed))
                    .map_or_else(
                        || "nominal signalling rate in the module's memory".to_owned(),
                        |claimed| format!("{}, {}", claimed.name, claimed.source),
                    );
                Ceiling { speed, source }
            })
        })
    };
    Part { kind: PartKind::Module, ceiling, read }
}

fn module_lines(module: &Module) -> Vec<String> {
    let mut lines = Vec::new();
    let identity: Vec<&str> = [&module.vendor_name, &module.part_number]
        .into_iter()
        .filter_map(|text| text.known().map(String::as_str))
        .filter(|text| !text.is_empty())
        .collect();
    if !identity.is_empty() {
        lines.push(identity.join(" "));
    }
    let types: Vec<&str> =
        module.interface_types.iter().map(|claimed| claimed.name.as_str()).collect();
    if !types.is_empty() {
        lines.push(types.join(", "));
    }
    if let Fact::Known(length) = module.cable_length {
        lines.push(format!("{}, {length}", module.carries.text()));
    }
    lines
}

fn ends_in_module(module: &Fact<Module>) -> bool {
    module.known().is_some_and(|module| {
        matches!(module.carries, Carries::PassiveCopper | Carries::ActiveCable)
    })
}

fn medium_part(port: &Port, module: &Fact<Module>, site: Option<&SitePort>) -> Part {
    let mut read = Vec::new();
    let ceiling = if ends_in_module(module) {
        Fact::missing_with(Reason::NotApplicable, "the cable is one piece with the module")
    } else {
        let grade = site.and_then(SitePort::grade);
        let length = site.and_then(|site| site.length_m);
        if let Some(grade) = grade {
            read.push(grade.name().to_owned());
        }
        if let Some(length) = length {
            read.push(Metres(length).to_string());
        }
        match (grade, length) {
            (Some(grade), Some(length)) => {
                medium_ceiling(port, module, grade, Metres(length), &mut read)
            }
            (grade, length) => {
                let untold = match (grade, length) {
                    (Some(_), _) => "length",
                    (_, Some(_)) => "grade",
                    _ => "grade and length",
                };
                Fact::missing_with(
                    Reason::NotAsked,
                    format!("nobody told the {untold} of the medium (site file)"),
                )
            }
        }
    };
    Part { kind: PartKind::Medium, ceiling, read }
}

fn medium_ceiling(
    port: &Port,
    module: &Fact<Module>,
    grade: media::Grade,
    length: Metres,
    read: &mut Vec<String>,
) -> Fact<Ceiling> {
    // The types that could be used on it: the module's, or a port's own twisted-pair modes.
    let mut types: Vec<&str> = match module {
        Fact::Known(module) => {
            module.interface_types.iter().map(|claimed| claimed.name.as_str()).collect()
        }
        Fact::Missing(_) => Vec::new(),
    };
    if types.is_empty()
        && grade.is_twisted_pair()
        && let Fact::Known(modes) = &port.ethernet.supported_modes
    {
        types =
            modes.iter().map(String::as_str).filter(|mode| names::is_twisted_pair(mode)).collect();
    }
    let rows: Vec<_> = types.iter().filter_map(|name| media::row_on(name, grade)).collect();
    match rows.iter().filter(|row| row.reach >= length).max_by_key(|row| row.speed) {
        Some(row) => Fact::Known(Ceiling {
            speed: row.speed,
            source: format!(
                "{} reaches {} on {} ({})",
                row.interface,
                row.reach,
                grade.name(),
                row.clause
            ),
        }),
        None => {
            let longest = rows.iter().max_by_key(|row| row.speed);
            if let Some(row) = longest {
                read.push(format!(
                    "longer than {} on {} is specified for: {}",
                    row.interface,
                    grade.name(),
                    row.reach
                ));
            }
            Fact::missing_with(
                Reason::NotReported,
                match longest {
                    Some(row) => format!(
                        "{} is specified to {} on {}, this run is longer",
                        row.interface,
                        row.reach,
                        grade.name()
                    ),
                    None => {
                        format!("no interface type in use here is specified on {}", grade.name())
                    }
                },
            )
        }
    }
}

fn far_module_part(port: &Port, module: &Fact<Module>, far: &FarEnd) -> Part {
    let mut read = Vec::new();
    if let Fact::Known(name) = &far.module_type {
        read.push(name.clone());
    }
    let powers = [("sends", &far.tx_power), ("receives", &far.rx_power)];
    let powers: Vec<String> = powers
        .iter()
        .filter_map(|(word, power)| Some(format!("{word} {}", power.known()?)))
        .collect();
    if !powers.is_empty() {
        // Where its rate is told, that says by whom.
        let by = match &far.module_best {
            Fact::Known(_) => String::new(),
            Fact::Missing(_) => format!(" (told by {})", far.told_by),
        };
        read.push(format!("{}{by}", powers.join(", ")));
    }
    let ceiling = if has_own_jack(port) || ends_in_module(module) {
        Fact::missing_with(Reason::NotApplicable, "there is no module of its own at the far end")
    } else {
        far.module_best
            .clone()
            .map(|speed| Ceiling { speed, source: format!("told by {}", far.told_by) })
    };
    let ceiling = untold(ceiling, !read.is_empty());
    Part { kind: PartKind::FarModule, ceiling, read }
}

/// Of a part that something was told of, only its best rate is what nobody told.
fn untold(ceiling: Fact<Ceiling>, told: bool) -> Fact<Ceiling> {
    match ceiling {
        Fact::Missing(why) if told && why.reason != Reason::NotApplicable => {
            Fact::missing_with(why.reason, "nobody told what it can do at most")
        }
        other => other,
    }
}

fn far_port_part(port: &Port, module: &Fact<Module>, far: &FarEnd) -> Part {
    let mut read = Vec::new();
    if let Some(name) = &far.name {
        read.push(name.clone());
    }
    let by = format!("(told by {})", far.told_by);
    match far.admin_up {
        Fact::Known(false) => read.push(format!("switched off {by}")),
        _ if far.transmits == Fact::Known(false) => read.push(format!("sends nothing {by}")),
        _ => {}
    }
    let told =
        far.best.clone().map(|speed| Ceiling { speed, source: format!("told by {}", far.told_by) });
    let twisted_pair = has_own_jack(port)
        || module.known().is_some_and(|module| module.carries == Carries::TwistedPair);
    let silent = far::no_offer_was_heard(port, twisted_pair, far);
    let offered = port.ethernet.peer_modes.as_ref().and_then(|modes| match names::fastest(modes) {
        Some(_) if silent => Fact::missing_with(
            Reason::NotReported,
            format!("it made no offer; {} was found by listening", modes.join(", ")),
        ),
        Some(speed) => Fact::Known(Ceiling {
            speed,
            source: "fastest mode it offered in autonegotiation".into(),
        }),
        None if modes.is_empty() => Fact::missing_with(Reason::NotReported, "it offered no modes"),
        None => Fact::missing_with(Reason::NotReported, names::ONLY_UNKNOWN),
    });
    // The driver knows its own port: what it does not know here is what the other one offers.
    let offered = match offered {
        Fact::Missing(why) if why.reason == Reason::NotReported && why.detail.is_none() => {
            Fact::missing_with(Reason::NotReported, "the driver tells nothing of its offer")
        }
        other => other,
    };
    let state_told = read.len() > usize::from(far.name.is_some());
    Part { kind: PartKind::FarPort, ceiling: untold(told.or_else(|| offered), state_told), read }
}
