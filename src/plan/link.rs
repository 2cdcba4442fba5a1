//! A link as the user tells it: what is not told is left out, never guessed.

use crate::calc::slot;
use crate::quantity::{BitsPerSecond, Decibels, Mbps, Metres};
use crate::standards::cages::Cage;
use crate::standards::media::Grade;

/// Links, and which devices pass traffic on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// Devices that were named as such, by name.
    pub devices: Vec<Device>,
    /// Links, in the order of the plan.
    pub links: Vec<Link>,
}

/// A host or switch.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// Name.
    pub name: String,
    /// True for a switch: it passes traffic on, and is no end of a way.
    pub is_switch: bool,
    /// True for a host that passes traffic from one of its ports to another.
    pub forwards: bool,
}

/// One link.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Link {
    /// Name, if the user gave one.
    pub name: Option<String>,
    /// This end.
    pub near: End,
    /// The other end.
    pub far: End,
    /// Grade of the medium.
    pub medium: Option<Grade>,
    /// Length of the run.
    pub length: Option<Metres>,
    /// Mated connector pairs between the modules.
    pub connectors: Option<u32>,
    /// Splices.
    pub splices: u32,
    /// How often the two strands of a pair change places along the run.
    pub crossings: Option<u32>,
    /// Loss put aside for ageing and repairs.
    pub allowance: Decibels,
    /// Speed it is meant to run at.
    pub wanted: Option<Mbps>,
    /// True if it runs between buildings, or between separate mains supplies.
    pub between_buildings: bool,
    /// True if it runs beside machines or cables that disturb.
    pub interference: bool,
}

/// One end of a link.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct End {
    /// Host or switch.
    pub device: Option<String>,
    /// Port of it.
    pub port: Option<String>,
    /// Cage or jack.
    pub cage: Option<Cage>,
    /// Fastest speed of the port, where it is told.
    pub best: Option<Mbps>,
    /// Every speed of the port, where they are told.
    pub speeds: Vec<Mbps>,
    /// Where the adapter is plugged in.
    pub slot: Option<Slot>,
    /// How many ports share that slot when all are busy; 1 or more.
    pub sharing: u32,
    /// Interface types of the module; none where none is told.
    pub module: Vec<&'static str>,
    /// FEC it is set to.
    pub fec: Option<Fec>,
    /// Whether it negotiates.
    pub autonegotiation: Option<bool>,
    /// Longest packet it takes, octets.
    pub mtu: Option<u32>,
}

impl End {
    /// Name of the port, as far as it is told.
    pub fn name(&self) -> Option<String> {
        match (&self.device, &self.port) {
            (Some(device), Some(port)) => Some(format!("{port} on {device}")),
            (Some(one), None) | (None, Some(one)) => Some(one.clone()),
            (None, None) => None,
        }
    }
}

/// FEC that a port is set to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fec {
    /// None.
    None,
    /// BASE-R, clause 74.
    BaseR,
    /// Reed-Solomon.
    Rs,
}

impl Fec {
    /// Words for it.
    pub const NAMES: &[(&str, Self)] =
        &[("none", Self::None), ("base-r", Self::BaseR), ("rs", Self::Rs)];

    /// Finds it by word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(name, _)| name.eq_ignore_ascii_case(word)).map(|(_, fec)| *fec)
    }

    /// As people write it.
    pub fn text(self) -> &'static str {
        match self {
            Self::None => "no FEC",
            Self::BaseR => "BASE-R FEC",
            Self::Rs => "RS-FEC",
        }
    }
}

/// Where an adapter is plugged in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Slot {
    /// PCI Express: generation 1 to 6, and lanes that are wired.
    PciExpress {
        /// Generation.
        generation: u8,
        /// Lanes.
        lanes: u32,
    },
    /// A USB port of this bus speed.
    Usb(Mbps),
    /// Behind a cable that tunnels the bus.
    Tunnel,
}

impl Slot {
    /// Reads `gen3 x4`, `gen3x4`, `usb 5G`, `tunnel`.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.to_ascii_lowercase().replace(' ', "");
        if text == "tunnel" {
            return Some(Self::Tunnel);
        }
        if let Some(speed) = text.strip_prefix("usb") {
            return parse_speed(speed.trim_start_matches('-')).map(Self::Usb);
        }
        let (generation, lanes) = text.strip_prefix("gen")?.split_once('x')?;
        let slot =
            Self::PciExpress { generation: generation.parse().ok()?, lanes: lanes.parse().ok()? };
        slot.carries().map(|_| slot)
    }

    /// What it carries for data, one direction; `None` for a generation or width that does not exist.
    pub fn carries(self) -> Option<Mbps> {
        match self {
            Self::PciExpress { generation, lanes } => {
                let rates = [2.5, 5.0, 8.0, 16.0, 32.0, 64.0];
                let rate = rates.get(usize::from(generation).checked_sub(1)?)?;
                slot::pci_express(*rate, lanes)
            }
            Self::Usb(bus) => Some(slot::usb(bus)),
            Self::Tunnel => Some(slot::TUNNEL),
        }
    }

    /// As people write it.
    pub fn text(self) -> String {
        match self {
            Self::PciExpress { generation, lanes } => {
                format!("PCI Express generation {generation}, {lanes} lanes")
                    .replace(" 1 lanes", " 1 lane")
            }
            Self::Usb(bus) => format!("USB at {bus}"),
            Self::Tunnel => "cable tunnel".into(),
        }
    }

    /// Where the figure is from.
    pub fn source(self) -> &'static str {
        match self {
            Self::PciExpress { .. } => slot::SOURCE,
            Self::Usb(_) => "bus speed less a tenth for its protocol (common practice)",
            Self::Tunnel => slot::TUNNEL_SOURCE,
        }
    }
}

impl Link {
    /// The longest packet that gets through, as far as it is told.
    pub fn mtu(&self) -> Option<u32> {
        [self.near.mtu, self.far.mtu].into_iter().flatten().min()
    }
}

/// Speeds that the standards name.
const SPEEDS: &[u32] =
    &[10, 100, 1000, 2500, 5000, 10_000, 25_000, 40_000, 50_000, 100_000, 200_000, 400_000];

/// A speed of a port: one that the standards name.
pub fn port_speed(megabits: u32) -> Result<Mbps, String> {
    if SPEEDS.contains(&megabits) {
        Ok(Mbps(megabits))
    } else {
        Err(format!("no Ethernet port runs at {}", Mbps(megabits)))
    }
}

/// Reads `10G`, `2.5G`, `100M`, with or without `b/s` or `bit/s` behind it.
pub fn parse_speed(text: &str) -> Option<Mbps> {
    let text = text.to_ascii_lowercase();
    let text =
        ["bit/s", "b/s", "bps"].iter().find_map(|end| text.strip_suffix(end)).unwrap_or(&text);
    let (number, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    let thousands = match unit {
        "g" => 1000.0,
        "m" => 1.0,
        _ => return None,
    };
    let number = number.trim_end();
    if !number.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.') {
        return None;
    }
    let megabits = number.parse::<f64>().ok()? * thousands;
    // Whole and far inside u32: checked here.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    ((1.0..=1e7).contains(&megabits) && megabits.fract() == 0.0).then_some(Mbps(megabits as u32))
}

/// Reads a measured rate: `9.4Gbit/s`, `941 Mb/s`, `9.4G` are bits; `112 MB/s`, `112Mbyte/s`,
/// `107 MiB/s` are octets, with a large B, and eight times as many bits. A rate is above zero, and at
/// most 1e15 bits a second.
pub fn parse_rate(text: &str) -> Option<BitsPerSecond> {
    let text = text.trim();
    let digits = text.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
    let (number, unit) = text.split_at_checked(digits)?;
    let unit = unit.trim_start();
    let (prefix, each) = unit.split_at_checked(1)?;
    let power = match prefix.to_ascii_lowercase().as_str() {
        "k" => 1,
        "m" => 2,
        "g" => 3,
        "t" => 4,
        _ => return None,
    };
    let (thousand, each) = match each.strip_prefix('i') {
        Some(each) => (1024f64, each),
        None => (1000f64, each),
    };
    let lower = each.to_ascii_lowercase();
    let bits = match (each, lower.as_str()) {
        ("B/s" | "Bps", _) | (_, "byte/s" | "bytes/s" | "octet/s" | "octets/s") => 8.0,
        ("" | "b/s" | "bps", _) | (_, "bit/s" | "bits/s") => 1.0,
        _ => return None,
    };
    let rate = number.parse::<f64>().ok()? * thousand.powi(power) * bits;
    (rate > 0.0 && rate <= 1e15).then_some(BitsPerSecond(rate))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bits and octets are told apart by the letter, as they are written everywhere.
    #[test]
    fn rates() {
        for (text, rate) in [
            ("9.4Gbit/s", Some(9.4e9)),
            ("9.4G", Some(9.4e9)),
            ("941 Mb/s", Some(941e6)),
            ("941Mbps", Some(941e6)),
            ("117.6 MB/s", Some(940.8e6)),
            ("117.6MBps", Some(940.8e6)),
            ("100 MiB/s", Some(838_860_800.0)),
            ("117.6 Mbyte/s", Some(940.8e6)),
            ("64 kbit/s", Some(64e3)),
            ("0.1 TBIT/S", Some(1e11)),
            ("9.4", None),
            ("9.4 b/s", None),
            ("0G", None),
            ("-1G", None),
            ("1e9G", None),
            ("9.4Gfoo", None),
            ("9.4 GB", None),
            ("9.4 Gö/s", None),
            ("ö", None),
            ("", None),
            (".", None),
            ("1.2.3G", None),
            ("99999999999T", None),
        ] {
            let found = parse_rate(text).map(|found| found.0);
            assert_eq!(found.is_some(), rate.is_some(), "{text}: {found:?}");
            if let (Some(found), Some(rate)) = (found, rate) {
                assert!((found / rate - 1.0).abs() < 1e-12, "{text}: {found}");
            }
        }
    }

    #[test]
    fn speeds_and_slots() {
        for (text, speed) in [
            ("10G", Some(10_000)),
            ("2.5g", Some(2500)),
            ("100M", Some(100)),
            ("25Gb/s", Some(25_000)),
            ("9.4Gbit/s", Some(9400)),
            ("G", None),
            ("", None),
            ("ö", None),
            ("-1G", None),
            ("1e9G", None),
            ("99999999G", None),
            ("60m", Some(60)),
        ] {
            assert_eq!(parse_speed(text), speed.map(Mbps), "{text}");
        }
        assert_eq!(Slot::parse("gen3 x4"), Some(Slot::PciExpress { generation: 3, lanes: 4 }));
        assert_eq!(Slot::parse("USB 5G"), Some(Slot::Usb(Mbps(5000))));
        assert_eq!(Slot::parse("tunnel"), Some(Slot::Tunnel));
        for bad in ["gen3 x3", "gen0 x4", "gen9x4", "gen3", "x4", "usb", "genx", ""] {
            assert_eq!(Slot::parse(bad), None, "{bad}");
        }
        // Worked example f1 of the media notes: 28.81 Gb/s.
        assert_eq!(Slot::parse("gen3x4").and_then(Slot::carries), Some(Mbps(28_807)));
    }
}
