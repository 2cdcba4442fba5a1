//! SFF-8024 code tables. A code that is not listed is shown as its number, never dropped.
//!
//! Rows marked "from memory" could not be looked up; they name things and decide nothing alone.

use crate::module::{Carries, Family};
use crate::quantity::Mbps;

/// Identifier (SFF-8024 table 4-1; 04h-0Ah, 0Eh-10h, 12h-17h, 1Ah, 1Ch, 1Dh, 21h, 22h from
/// memory).
pub fn identifier(code: u8) -> String {
    let name = match code {
        0x00 => "unknown",
        0x01 => "GBIC",
        0x02 => "soldered to the board",
        0x03 => "SFP, SFP+ or SFP28",
        0x0b => "DWDM SFP",
        0x0c => "QSFP",
        0x0d => "QSFP+",
        0x11 => "QSFP28 or later",
        0x18 => "QSFP-DD",
        0x19 => "OSFP",
        0x1a => "SFP-DD with a map of its own",
        0x1b => "DSFP",
        0x1e => "QSFP+ or later with CMIS",
        0x1f => "SFP-DD with CMIS",
        0x20 => "SFP+ or later with CMIS",
        0x21 => "OSFP-XD",
        0x22 => "ELSFP",
        _ => return format!("identifier {code:02x}h"),
    };
    name.into()
}

/// The memory map that an identifier goes with (kernel source, citing SFF-8024 Rev 4.9).
pub fn family(identifier: u8) -> Option<Family> {
    match identifier {
        0x02 | 0x03 | 0x0b => Some(Family::Sff8472),
        0x0c | 0x0d | 0x11 => Some(Family::Sff8636),
        0x18 | 0x19 | 0x1b | 0x1e | 0x1f | 0x20 => Some(Family::Cmis),
        _ => None,
    }
}

/// Connector (SFF-8024 table 4-3; 25h-28h from memory).
pub fn connector(code: u8) -> String {
    let name = match code {
        0x00 => "not told",
        0x01 => "SC",
        0x02 => "Fibre Channel style 1 copper",
        0x03 => "Fibre Channel style 2 copper",
        0x04 => "BNC or TNC",
        0x05 => "Fibre Channel coaxial",
        0x06 => "FiberJack",
        0x07 => "LC",
        0x08 => "MT-RJ",
        0x09 => "MU",
        0x0a => "SG",
        0x0b => "optical pigtail",
        0x0c => "MPO 1x12",
        0x0d => "MPO 2x16",
        0x20 => "HSSDC II",
        0x21 => "copper pigtail",
        0x22 => "RJ45",
        0x23 => "no separable connector",
        0x24 => "MXC 2x16",
        0x25 => "CS",
        0x26 => "SN",
        0x27 => "MPO 2x12",
        0x28 => "MPO 1x16",
        _ => return format!("connector {code:02x}h"),
    };
    name.into()
}

/// Encoding, SFF-8472 column (SFF-8024 table 4-2).
pub fn encoding_sff8472(code: u8) -> String {
    let name = match code {
        0x00 => "not told",
        0x01 => "8B/10B",
        0x02 => "4B/5B",
        0x03 => "NRZ",
        0x04 => "Manchester",
        0x05 => "SONET scrambled",
        0x06 => "64B/66B",
        0x07 => "256B/257B",
        0x08 => "PAM4",
        _ => return format!("encoding {code:02x}h"),
    };
    name.into()
}

/// What an extended specification compliance code means in an SFP-sized module.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extended {
    /// Code.
    pub code: u8,
    /// Interface type.
    pub name: &'static str,
    /// Its rate.
    pub speed: Mbps,
    /// What carries the signal.
    pub carries: Carries,
    /// True if the row is from memory.
    pub from_memory: bool,
}

const fn row(
    code: u8,
    name: &'static str,
    speed: u32,
    carries: Carries,
    from_memory: bool,
) -> Extended {
    Extended { code, name, speed: Mbps(speed), carries, from_memory }
}

/// Extended specification compliance (SFF-8024 table 4-4), the one-lane reading of each code:
/// where a code names a 100G and a 25G type, an SFP28 is the 25G one.
#[rustfmt::skip]
pub const EXTENDED_ONE_LANE: &[Extended] = &[
    row(0x01, "25G active optical cable", 25_000, Carries::ActiveCable, false),
    row(0x02, "25GBASE-SR", 25_000, Carries::MultimodeFibre, false),
    row(0x03, "25GBASE-LR", 25_000, Carries::SingleModeFibre, false),
    row(0x04, "25GBASE-ER", 25_000, Carries::SingleModeFibre, false),
    row(0x08, "25G active copper cable", 25_000, Carries::ActiveCable, true),
    row(0x0b, "25GBASE-CR CA-25G-L", 25_000, Carries::PassiveCopper, false),
    row(0x0c, "25GBASE-CR CA-25G-S", 25_000, Carries::PassiveCopper, false),
    row(0x0d, "25GBASE-CR CA-25G-N", 25_000, Carries::PassiveCopper, false),
    row(0x16, "10GBASE-T", 10_000, Carries::TwistedPair, false),
    row(0x18, "25G active optical cable", 25_000, Carries::ActiveCable, true),
    row(0x19, "25G active copper cable", 25_000, Carries::ActiveCable, true),
    row(0x1c, "10GBASE-T", 10_000, Carries::TwistedPair, false),
    row(0x1d, "5GBASE-T", 5_000, Carries::TwistedPair, false),
    row(0x1e, "2.5GBASE-T", 2_500, Carries::TwistedPair, false),
    row(0x40, "50GBASE-CR", 50_000, Carries::PassiveCopper, true),
    row(0x41, "50GBASE-SR", 50_000, Carries::MultimodeFibre, true),
    row(0x42, "50GBASE-FR", 50_000, Carries::SingleModeFibre, true),
    row(0x45, "50GBASE-LR", 50_000, Carries::SingleModeFibre, true),
];

/// Finds a code in [`EXTENDED_ONE_LANE`].
pub fn extended_one_lane(code: u8) -> Option<&'static Extended> {
    EXTENDED_ONE_LANE.iter().find(|row| row.code == code)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SFF-8024 as restated in the memory-map notes, sections 2.1-2.4.
    #[test]
    fn codes_of_the_standard() {
        assert_eq!(connector(0x07), "LC");
        assert_eq!(connector(0x22), "RJ45");
        assert_eq!(connector(0x99), "connector 99h");
        assert_eq!(encoding_sff8472(0x06), "64B/66B");
        assert_eq!(extended_one_lane(0x02).unwrap().name, "25GBASE-SR");
        assert_eq!(extended_one_lane(0x1c).unwrap().speed, Mbps(10_000));
        assert_eq!(extended_one_lane(0x09), None);
        assert_eq!(family(0x03), Some(Family::Sff8472));
        assert_eq!(family(0x11), Some(Family::Sff8636));
        assert_eq!(family(0x19), Some(Family::Cmis));
        assert_eq!(family(0x1a), None);
    }
}
