//! SFF-8024 code tables, and the CMIS interface IDs. A code that is not listed is shown as its
//! number, never dropped.
//!
//! Each row says how sure it is. Rows [`Mark::FromMemory`] could not be looked up; they name
//! things and decide nothing alone.

use crate::module::{Carries, Family};
use crate::quantity::Mbps;

/// How sure a row of a code table is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Found in a published text or in the kernel's source.
    Verified,
    /// Remembered.
    FromMemory,
}

use Mark::{FromMemory, Verified};

/// A code and what it stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code {
    /// The code.
    pub code: u8,
    /// Its meaning.
    pub name: &'static str,
    /// How sure the row is.
    pub mark: Mark,
}

const fn code(code: u8, name: &'static str, mark: Mark) -> Code {
    Code { code, name, mark }
}

/// The name of a code, or its number where the table does not have it.
fn named(table: &[Code], what: &str, code: u8) -> String {
    match table.iter().find(|row| row.code == code) {
        Some(row) => row.name.to_owned(),
        None => format!("{what} {code:02x}h"),
    }
}

/// Identifiers (SFF-8024 table 4-1).
#[rustfmt::skip]
pub const IDENTIFIERS: &[Code] = &[
    code(0x00, "unknown", Verified),
    code(0x01, "GBIC", Verified),
    code(0x02, "soldered to the board", Verified),
    code(0x03, "SFP, SFP+ or SFP28", Verified),
    code(0x04, "300-pin XBI", FromMemory),
    code(0x05, "XENPAK", FromMemory),
    code(0x06, "XFP", FromMemory),
    code(0x07, "XFF", FromMemory),
    code(0x08, "XFP-E", FromMemory),
    code(0x09, "XPAK", FromMemory),
    code(0x0a, "X2", FromMemory),
    code(0x0b, "DWDM SFP", Verified),
    code(0x0c, "QSFP", Verified),
    code(0x0d, "QSFP+", Verified),
    code(0x0e, "CXP", FromMemory),
    code(0x0f, "HD 4X", FromMemory),
    code(0x10, "HD 8X", FromMemory),
    code(0x11, "QSFP28 or later", Verified),
    code(0x12, "CXP2", FromMemory),
    code(0x13, "CDFP style 1 or 2", FromMemory),
    code(0x14, "HD 4X fan-out", FromMemory),
    code(0x15, "HD 8X fan-out", FromMemory),
    code(0x16, "CDFP style 3", FromMemory),
    code(0x17, "microQSFP", FromMemory),
    code(0x18, "QSFP-DD", Verified),
    code(0x19, "OSFP", Verified),
    code(0x1a, "SFP-DD with a map of its own", FromMemory),
    code(0x1b, "DSFP", Verified),
    code(0x1c, "MiniLink or OCuLink x4", FromMemory),
    code(0x1d, "MiniLink or OCuLink x8", FromMemory),
    code(0x1e, "QSFP+ or later with CMIS", Verified),
    code(0x1f, "SFP-DD with CMIS", Verified),
    code(0x20, "SFP+ or later with CMIS", Verified),
    code(0x21, "OSFP-XD", FromMemory),
    code(0x22, "ELSFP", FromMemory),
];

/// Connectors (SFF-8024 table 4-3).
#[rustfmt::skip]
pub const CONNECTORS: &[Code] = &[
    code(0x00, "not told", Verified),
    code(0x01, "SC", Verified),
    code(0x02, "Fibre Channel style 1 copper", Verified),
    code(0x03, "Fibre Channel style 2 copper", Verified),
    code(0x04, "BNC or TNC", Verified),
    code(0x05, "Fibre Channel coaxial", Verified),
    code(0x06, "FiberJack", Verified),
    code(0x07, "LC", Verified),
    code(0x08, "MT-RJ", Verified),
    code(0x09, "MU", Verified),
    code(0x0a, "SG", Verified),
    code(0x0b, "optical pigtail", Verified),
    code(0x0c, "MPO 1x12", Verified),
    code(0x0d, "MPO 2x16", Verified),
    code(0x20, "HSSDC II", Verified),
    code(0x21, "copper pigtail", Verified),
    code(0x22, "RJ45", Verified),
    code(0x23, "no separable connector", Verified),
    code(0x24, "MXC 2x16", Verified),
    code(0x25, "CS", FromMemory),
    code(0x26, "SN", FromMemory),
    code(0x27, "MPO 2x12", FromMemory),
    code(0x28, "MPO 1x16", FromMemory),
];

/// Encodings, SFF-8472 column (SFF-8024 table 4-2, through the kernel).
#[rustfmt::skip]
pub const ENCODINGS_SFF8472: &[Code] = &[
    code(0x00, "not told", Verified),
    code(0x01, "8B/10B", Verified),
    code(0x02, "4B/5B", Verified),
    code(0x03, "NRZ", Verified),
    code(0x04, "Manchester", Verified),
    code(0x05, "SONET scrambled", Verified),
    code(0x06, "64B/66B", Verified),
    code(0x07, "256B/257B", Verified),
    code(0x08, "PAM4", Verified),
];

/// Encodings, SFF-8636 column: 04h-06h stand for other things than in SFF-8472.
#[rustfmt::skip]
pub const ENCODINGS_SFF8636: &[Code] = &[
    code(0x00, "not told", Verified),
    code(0x01, "8B/10B", Verified),
    code(0x02, "4B/5B", Verified),
    code(0x03, "NRZ", Verified),
    code(0x04, "SONET scrambled", Verified),
    code(0x05, "64B/66B", Verified),
    code(0x06, "Manchester", Verified),
    code(0x07, "256B/257B", Verified),
    code(0x08, "PAM4", Verified),
];
/// The encoding code of PAM4 in both columns.
pub const PAM4: u8 = 0x08;

/// Transmitter technologies (SFF-8636 byte 147 bits 7-4, CMIS page 00h byte 212). Sources
/// disagree about 0Ch-0Fh, so these say no more than what all have in common.
#[rustfmt::skip]
pub const TECHNOLOGIES: &[Code] = &[
    code(0x00, "850 nm VCSEL", Verified),
    code(0x01, "1310 nm VCSEL", Verified),
    code(0x02, "1550 nm VCSEL", Verified),
    code(0x03, "1310 nm Fabry-Perot laser", Verified),
    code(0x04, "1310 nm DFB laser", Verified),
    code(0x05, "1550 nm DFB laser", Verified),
    code(0x06, "1310 nm EML", Verified),
    code(0x07, "1550 nm EML", Verified),
    code(0x08, "another kind of transmitter", Verified),
    code(0x09, "1490 nm DFB laser", Verified),
    code(0x0a, "copper cable, not equalized", Verified),
    code(0x0b, "copper cable, passively equalized", Verified),
    code(0x0c, "active copper cable, equalized", FromMemory),
    code(0x0d, "active copper cable, equalized", FromMemory),
    code(0x0e, "active copper cable, equalized", FromMemory),
    code(0x0f, "active copper cable, equalized", FromMemory),
    code(0x10, "C-band tunable laser", FromMemory),
    code(0x11, "L-band tunable laser", FromMemory),
];

/// Identifier in words.
pub fn identifier(code: u8) -> String {
    named(IDENTIFIERS, "identifier", code)
}

/// Connector in words.
pub fn connector(code: u8) -> String {
    named(CONNECTORS, "connector", code)
}

/// Encoding in words, SFF-8472.
pub fn encoding_sff8472(code: u8) -> String {
    named(ENCODINGS_SFF8472, "encoding", code)
}

/// Encoding in words, SFF-8636.
pub fn encoding_sff8636(code: u8) -> String {
    named(ENCODINGS_SFF8636, "encoding", code)
}

/// Transmitter technology in words.
pub fn technology(code: u8) -> String {
    named(TECHNOLOGIES, "technology", code)
}

/// What carries the signal, by transmitter technology; unknown where a VCSEL, laser or cable
/// is not named.
pub fn technology_carries(code: u8) -> Carries {
    match code {
        0x00 => MultimodeFibre,
        0x01..=0x07 | 0x09 | 0x10 | 0x11 => SingleModeFibre,
        0x0a | 0x0b => PassiveCopper,
        0x0c..=0x0f => ActiveCable,
        _ => Carries::Unknown,
    }
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

/// What an extended specification compliance code means in one size of module.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extended {
    /// Code.
    pub code: u8,
    /// Interface type.
    pub name: &'static str,
    /// Its rate; `None` where the code stands for several, or for none of Ethernet.
    pub speed: Option<Mbps>,
    /// What carries the signal.
    pub carries: Carries,
    /// Transmitters and receivers that are used; `None` where the code does not settle it.
    pub media_lanes: Option<u8>,
    /// FEC that the code names.
    pub fec: Option<&'static str>,
    /// True if the row is from memory.
    pub from_memory: bool,
}

const fn row(
    code: u8,
    name: &'static str,
    speed: u32,
    carries: Carries,
    media_lanes: u8,
    mark: Mark,
) -> Extended {
    Extended {
        code,
        name,
        speed: Some(Mbps(speed)),
        carries,
        media_lanes: Some(media_lanes),
        fec: None,
        from_memory: matches!(mark, FromMemory),
    }
}

/// A code that stands for several rates, or for something that is not of Ethernet.
const fn open(code: u8, name: &'static str, carries: Carries, mark: Mark) -> Extended {
    Extended {
        code,
        name,
        speed: None,
        carries,
        media_lanes: None,
        fec: None,
        from_memory: matches!(mark, FromMemory),
    }
}

impl Extended {
    const fn fec(self, fec: &'static str) -> Self {
        Self { fec: Some(fec), ..self }
    }

    const fn on_four_lanes(self) -> Self {
        Self { media_lanes: Some(4), ..self }
    }
}

use Carries::{ActiveCable, MultimodeFibre, PassiveCopper, SingleModeFibre, TwistedPair};

/// Extended specification compliance (SFF-8024 table 4-4), the one-lane reading of each code:
/// where a code names a 100G and a 25G type, an SFP28 is the 25G one.
#[rustfmt::skip]
pub const EXTENDED_ONE_LANE: &[Extended] = &[
    row(0x01, "25G active optical cable", 25_000, ActiveCable, 1, Verified),
    row(0x02, "25GBASE-SR", 25_000, MultimodeFibre, 1, Verified),
    row(0x03, "25GBASE-LR", 25_000, SingleModeFibre, 1, Verified),
    row(0x04, "25GBASE-ER", 25_000, SingleModeFibre, 1, Verified),
    row(0x08, "25G active copper cable", 25_000, ActiveCable, 1, FromMemory),
    // The kernel names this code for 100GBASE-CR4; the 25G part is from memory.
    row(0x0b, "25GBASE-CR CA-25G-L", 25_000, PassiveCopper, 1, FromMemory).fec("RS-FEC"),
    row(0x0c, "25GBASE-CR CA-25G-S", 25_000, PassiveCopper, 1, Verified).fec("BASE-R FEC"),
    row(0x0d, "25GBASE-CR CA-25G-N", 25_000, PassiveCopper, 1, Verified).fec("no FEC"),
    open(0x13, "G.959.1 P1I1-2D1", SingleModeFibre, FromMemory),
    open(0x14, "G.959.1 P1S1-2D2", SingleModeFibre, FromMemory),
    open(0x15, "G.959.1 P1L1-2D2", SingleModeFibre, FromMemory),
    row(0x16, "10GBASE-T", 10_000, TwistedPair, 1, Verified),
    row(0x18, "25G active optical cable", 25_000, ActiveCable, 1, FromMemory),
    row(0x19, "25G active copper cable", 25_000, ActiveCable, 1, FromMemory),
    row(0x1c, "10GBASE-T", 10_000, TwistedPair, 1, Verified),
    row(0x1d, "5GBASE-T", 5_000, TwistedPair, 1, Verified),
    row(0x1e, "2.5GBASE-T", 2_500, TwistedPair, 1, Verified),
    row(0x30, "50G active copper cable", 50_000, ActiveCable, 1, FromMemory),
    row(0x31, "50G active optical cable", 50_000, ActiveCable, 1, FromMemory),
    row(0x32, "50G active copper cable", 50_000, ActiveCable, 1, FromMemory),
    row(0x33, "50G active optical cable", 50_000, ActiveCable, 1, FromMemory),
    row(0x3f, "100GBASE-CR1", 100_000, PassiveCopper, 1, FromMemory),
    row(0x40, "50GBASE-CR", 50_000, PassiveCopper, 1, FromMemory),
    row(0x41, "50GBASE-SR", 50_000, MultimodeFibre, 1, FromMemory),
    row(0x42, "50GBASE-FR", 50_000, SingleModeFibre, 1, FromMemory),
    row(0x45, "50GBASE-LR", 50_000, SingleModeFibre, 1, FromMemory),
];

/// The same codes in a module of four lanes (SFF-8636 byte 192). Where a code stands for
/// several rates at four lanes, it tells none: the nominal rate then decides.
#[rustfmt::skip]
pub const EXTENDED_FOUR_LANES: &[Extended] = &[
    row(0x01, "100G active optical cable", 100_000, ActiveCable, 4, Verified),
    row(0x02, "100GBASE-SR4", 100_000, MultimodeFibre, 4, Verified),
    row(0x03, "100GBASE-LR4", 100_000, SingleModeFibre, 4, Verified),
    row(0x04, "100GBASE-ER4", 100_000, SingleModeFibre, 4, Verified),
    row(0x05, "100GBASE-SR10", 100_000, MultimodeFibre, 10, Verified),
    row(0x06, "100G CWDM4", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x07, "100G PSM4", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x08, "100G active copper cable", 100_000, ActiveCable, 4, FromMemory),
    row(0x0b, "100GBASE-CR4", 100_000, PassiveCopper, 4, Verified).fec("RS-FEC"),
    // Four lanes of a 25G cable: 25GBASE-CR on each, 50GBASE-CR2 on two (from memory).
    open(0x0c, "25GBASE-CR CA-25G-S on each lane", PassiveCopper, Verified).fec("BASE-R FEC").on_four_lanes(),
    open(0x0d, "25GBASE-CR CA-25G-N on each lane", PassiveCopper, Verified).fec("no FEC").on_four_lanes(),
    row(0x10, "40GBASE-ER4", 40_000, SingleModeFibre, 4, FromMemory),
    open(0x11, "10GBASE-SR on each of four lanes", MultimodeFibre, FromMemory).on_four_lanes(),
    row(0x12, "40G PSM4", 40_000, SingleModeFibre, 4, FromMemory),
    open(0x13, "G.959.1 P1I1-2D1", SingleModeFibre, FromMemory),
    open(0x14, "G.959.1 P1S1-2D2", SingleModeFibre, FromMemory),
    open(0x15, "G.959.1 P1L1-2D2", SingleModeFibre, FromMemory),
    row(0x17, "100G CLR4", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x18, "100G active optical cable", 100_000, ActiveCable, 4, FromMemory),
    row(0x19, "100G active copper cable", 100_000, ActiveCable, 4, FromMemory),
    row(0x1a, "100GE-DWDM2", 100_000, SingleModeFibre, 2, FromMemory),
    row(0x1b, "100G 1550 nm WDM", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x1f, "40G SWDM4", 40_000, MultimodeFibre, 4, FromMemory),
    row(0x20, "100G SWDM4", 100_000, MultimodeFibre, 4, FromMemory),
    row(0x21, "100G PAM4 BiDi", 100_000, MultimodeFibre, 2, FromMemory),
    row(0x22, "4WDM-10", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x23, "4WDM-20", 100_000, SingleModeFibre, 4, FromMemory),
    row(0x24, "4WDM-40", 100_000, SingleModeFibre, 4, FromMemory),
    // One wavelength: the module makes one lane of four, so only media lane 1 is there.
    row(0x25, "100GBASE-DR", 100_000, SingleModeFibre, 1, FromMemory).fec("no FEC at the host"),
    row(0x26, "100GBASE-FR1", 100_000, SingleModeFibre, 1, FromMemory).fec("no FEC at the host"),
    row(0x27, "100GBASE-LR1", 100_000, SingleModeFibre, 1, FromMemory).fec("no FEC at the host"),
    open(0x30, "active copper cable for 50GAUI, 100GAUI-2 or 200GAUI-4", ActiveCable, FromMemory),
    open(0x31, "active optical cable for 50GAUI, 100GAUI-2 or 200GAUI-4", ActiveCable, FromMemory),
    open(0x32, "active copper cable for 50GAUI, 100GAUI-2 or 200GAUI-4", ActiveCable, FromMemory),
    open(0x33, "active optical cable for 50GAUI, 100GAUI-2 or 200GAUI-4", ActiveCable, FromMemory),
    open(0x3f, "100GBASE-CR1, 200GBASE-CR2 or 400GBASE-CR4", PassiveCopper, FromMemory),
    open(0x40, "50GBASE-CR, 100GBASE-CR2 or 200GBASE-CR4", PassiveCopper, FromMemory),
    open(0x41, "50GBASE-SR, 100GBASE-SR2 or 200GBASE-SR4", MultimodeFibre, FromMemory),
    open(0x42, "50GBASE-FR or 200GBASE-DR4", SingleModeFibre, FromMemory),
    row(0x43, "200GBASE-FR4", 200_000, SingleModeFibre, 4, FromMemory),
    row(0x44, "200G PSM4", 200_000, SingleModeFibre, 4, FromMemory),
    row(0x45, "50GBASE-LR", 50_000, SingleModeFibre, 1, FromMemory),
    row(0x46, "200GBASE-LR4", 200_000, SingleModeFibre, 4, FromMemory),
];

/// Finds a code in [`EXTENDED_ONE_LANE`].
pub fn extended_one_lane(code: u8) -> Option<&'static Extended> {
    EXTENDED_ONE_LANE.iter().find(|row| row.code == code)
}

/// Finds a code in [`EXTENDED_FOUR_LANES`].
pub fn extended_four_lanes(code: u8) -> Option<&'static Extended> {
    EXTENDED_FOUR_LANES.iter().find(|row| row.code == code)
}

/// What lies on the media side of a CMIS module (lower memory byte 85).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MediaType {
    /// Multimode fibre.
    Multimode,
    /// Single-mode fibre.
    SingleMode,
    /// Passive copper cable.
    PassiveCopper,
    /// Active cable.
    ActiveCable,
    /// Twisted pair.
    BaseT,
    /// Not listed, or undefined.
    Unknown(u8),
}

impl MediaType {
    /// From the byte (from memory).
    pub fn from_byte(byte: u8) -> Self {
        match byte {
            1 => Self::Multimode,
            2 => Self::SingleMode,
            3 => Self::PassiveCopper,
            4 => Self::ActiveCable,
            5 => Self::BaseT,
            other => Self::Unknown(other),
        }
    }

    /// What carries the signal.
    pub fn carries(self) -> Carries {
        match self {
            Self::Multimode => MultimodeFibre,
            Self::SingleMode => SingleModeFibre,
            Self::PassiveCopper => PassiveCopper,
            Self::ActiveCable => ActiveCable,
            Self::BaseT => TwistedPair,
            Self::Unknown(_) => Carries::Unknown,
        }
    }
}

/// A host or media interface ID of CMIS (SFF-8024 tables 4-5 to 4-10).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interface {
    /// Code.
    pub code: u8,
    /// Interface type.
    pub name: &'static str,
    /// Its rate; `None` where the code tells none.
    pub speed: Option<Mbps>,
    /// How sure the row is.
    pub mark: Mark,
}

const fn id(code: u8, name: &'static str, speed: u32, mark: Mark) -> Interface {
    Interface { code, name, speed: if speed == 0 { None } else { Some(Mbps(speed)) }, mark }
}

/// Host electrical interface IDs, Ethernet only.
#[rustfmt::skip]
pub const HOST_INTERFACES: &[Interface] = &[
    id(0x01, "1000BASE-CX", 1_000, FromMemory),
    id(0x03, "XFI", 10_000, FromMemory),
    id(0x04, "SFI", 10_000, FromMemory),
    id(0x05, "25GAUI C2M", 25_000, FromMemory),
    id(0x0a, "50GAUI-1 C2M", 50_000, FromMemory),
    id(0x0b, "CAUI-4 C2M", 100_000, FromMemory),
    id(0x0c, "100GAUI-4 C2M", 100_000, FromMemory),
    id(0x0d, "100GAUI-2 C2M", 100_000, FromMemory),
    id(0x0e, "200GAUI-8 C2M", 200_000, FromMemory),
    id(0x0f, "200GAUI-4 C2M", 200_000, FromMemory),
    id(0x11, "400GAUI-8 C2M", 400_000, FromMemory),
    id(0x1a, "100GBASE-CR4", 100_000, FromMemory),
    id(0x1b, "100GBASE-CR2", 100_000, FromMemory),
    id(0x1c, "200GBASE-CR4", 200_000, FromMemory),
    id(0x4b, "100GAUI-1-S C2M", 100_000, FromMemory),
    id(0x4c, "100GAUI-1-L C2M", 100_000, FromMemory),
    id(0x4d, "200GAUI-2-S C2M", 200_000, FromMemory),
    id(0x4e, "200GAUI-2-L C2M", 200_000, FromMemory),
    id(0x4f, "400GAUI-4-S C2M", 400_000, FromMemory),
    id(0x50, "400GAUI-4-L C2M", 400_000, FromMemory),
    id(0x51, "800GAUI-8-S C2M", 800_000, FromMemory),
    id(0x52, "800GAUI-8-L C2M", 800_000, FromMemory),
];

/// Media interface IDs of multimode optics (verified rows: a module maker's note on SFF-8024
/// Rev 4.6 and CMIS).
#[rustfmt::skip]
pub const MULTIMODE_INTERFACES: &[Interface] = &[
    id(0x02, "10GBASE-SR", 10_000, FromMemory),
    id(0x03, "25GBASE-SR", 25_000, FromMemory),
    id(0x04, "40GBASE-SR4", 40_000, FromMemory),
    id(0x07, "50GBASE-SR", 50_000, FromMemory),
    id(0x09, "100GBASE-SR4", 100_000, FromMemory),
    id(0x0c, "100GBASE-SR2", 100_000, Verified),
    id(0x0e, "200GBASE-SR4", 200_000, Verified),
    id(0x10, "400GBASE-SR8", 400_000, Verified),
    id(0x11, "400G-SR4", 400_000, Verified),
    id(0x12, "800G-SR8", 800_000, Verified),
    id(0x1a, "400GE BiDi", 400_000, Verified),
];

/// Media interface IDs of single-mode optics.
#[rustfmt::skip]
pub const SINGLE_MODE_INTERFACES: &[Interface] = &[
    id(0x04, "10GBASE-LR", 10_000, FromMemory),
    id(0x05, "10GBASE-ER", 10_000, FromMemory),
    id(0x07, "25GBASE-LR", 25_000, FromMemory),
    id(0x09, "40GBASE-LR4", 40_000, FromMemory),
    id(0x0b, "50GBASE-FR", 50_000, FromMemory),
    id(0x0c, "50GBASE-LR", 50_000, FromMemory),
    id(0x0d, "100GBASE-LR4", 100_000, FromMemory),
    id(0x10, "100G CWDM4", 100_000, FromMemory),
    id(0x14, "100GBASE-DR", 100_000, FromMemory),
    id(0x15, "100GBASE-FR1", 100_000, FromMemory),
    id(0x16, "100GBASE-LR1", 100_000, FromMemory),
    id(0x17, "200GBASE-DR4", 200_000, FromMemory),
    id(0x18, "200GBASE-FR4", 200_000, FromMemory),
    id(0x19, "200GBASE-LR4", 200_000, FromMemory),
    id(0x1a, "400GBASE-FR8", 400_000, Verified),
    id(0x1b, "400GBASE-LR8", 400_000, Verified),
    id(0x1c, "400GBASE-DR4", 400_000, Verified),
    id(0x1d, "400G-FR4", 400_000, Verified),
    id(0x1e, "400G-LR4", 400_000, Verified),
];

/// Media interface IDs of passive copper cables: the host ID tells the type.
#[rustfmt::skip]
pub const PASSIVE_COPPER_INTERFACES: &[Interface] = &[
    id(0x01, "passive copper cable", 0, FromMemory),
];

/// Media interface IDs of active cables: the host ID tells the rate.
#[rustfmt::skip]
pub const ACTIVE_CABLE_INTERFACES: &[Interface] = &[
    id(0x01, "active cable, bit error ratio below 1e-12", 0, FromMemory),
    id(0x02, "active cable, bit error ratio below 5e-5", 0, FromMemory),
    id(0x03, "active cable, bit error ratio below 2.6e-4", 0, FromMemory),
    id(0x04, "active cable, bit error ratio below 1e-6", 0, FromMemory),
];

/// Media interface IDs of twisted pair.
#[rustfmt::skip]
pub const BASE_T_INTERFACES: &[Interface] = &[
    id(0x01, "1000BASE-T", 1_000, FromMemory),
    id(0x02, "2.5GBASE-T", 2_500, FromMemory),
    id(0x03, "5GBASE-T", 5_000, FromMemory),
    id(0x04, "10GBASE-T", 10_000, FromMemory),
];

/// Finds a host interface ID.
pub fn host_interface(code: u8) -> Option<&'static Interface> {
    HOST_INTERFACES.iter().find(|row| row.code == code)
}

/// Finds a media interface ID in the table that the media type selects.
pub fn media_interface(media: MediaType, code: u8) -> Option<&'static Interface> {
    let table = match media {
        MediaType::Multimode => MULTIMODE_INTERFACES,
        MediaType::SingleMode => SINGLE_MODE_INTERFACES,
        MediaType::PassiveCopper => PASSIVE_COPPER_INTERFACES,
        MediaType::ActiveCable => ACTIVE_CABLE_INTERFACES,
        MediaType::BaseT => BASE_T_INTERFACES,
        MediaType::Unknown(_) => return None,
    };
    table.iter().find(|row| row.code == code)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::names;

    /// SFF-8024 as restated in the memory-map notes, sections 2.1-2.4.
    #[test]
    fn codes_of_the_standard() {
        assert_eq!(connector(0x07), "LC");
        assert_eq!(connector(0x22), "RJ45");
        assert_eq!(connector(0x99), "connector 99h");
        assert_eq!(identifier(0x11), "QSFP28 or later");
        assert_eq!(identifier(0x7f), "identifier 7fh");
        assert_eq!(extended_one_lane(0x02).unwrap().name, "25GBASE-SR");
        assert_eq!(extended_four_lanes(0x02).unwrap().name, "100GBASE-SR4");
        assert_eq!(extended_one_lane(0x1c).unwrap().speed, Some(Mbps(10_000)));
        assert_eq!(extended_one_lane(0x0b).unwrap().fec, Some("RS-FEC"));
        assert_eq!(extended_one_lane(0x0c).unwrap().fec, Some("BASE-R FEC"));
        assert_eq!(extended_one_lane(0x0d).unwrap().fec, Some("no FEC"));
        assert_eq!(family(0x03), Some(Family::Sff8472));
        assert_eq!(family(0x11), Some(Family::Sff8636));
        assert_eq!(family(0x19), Some(Family::Cmis));
        assert_eq!(family(0x1a), None);
    }

    /// Memory-map notes 2.4 (kernel): codes 04h-06h differ by family.
    #[test]
    fn encodings_differ_by_family() {
        assert_eq!(encoding_sff8472(0x06), "64B/66B");
        assert_eq!(encoding_sff8472(0x05), "SONET scrambled");
        assert_eq!(encoding_sff8636(0x05), "64B/66B");
        assert_eq!(encoding_sff8636(0x06), "Manchester");
        assert_eq!(encoding_sff8472(PAM4), "PAM4");
        assert_eq!(encoding_sff8636(PAM4), "PAM4");
    }

    /// Codes that the notes leave out as not sure enough stay numbers.
    #[test]
    fn codes_that_are_left_out() {
        for code in [0x09, 0x0a, 0x0e, 0x0f, 0x28, 0x2f, 0x34, 0x3e, 0x47, 0xff] {
            assert_eq!(extended_one_lane(code), None, "{code:02x}h");
            assert_eq!(extended_four_lanes(code), None, "{code:02x}h");
        }
    }

    /// Memory-map notes 4.6 (CMIS 5.x, and a maker's note for 0Ch, 0Eh, 10h and 1Ch).
    #[test]
    fn interface_ids() {
        let media = |kind: u8, code| media_interface(MediaType::from_byte(kind), code);
        assert_eq!(media(1, 0x10).unwrap().name, "400GBASE-SR8");
        assert_eq!(media(2, 0x1c).unwrap().name, "400GBASE-DR4");
        assert_eq!(media(2, 0x10).unwrap().name, "100G CWDM4");
        assert_eq!(media(5, 0x04).unwrap().speed, Some(Mbps(10_000)));
        assert_eq!(media(3, 0x01).unwrap().speed, None);
        assert_eq!(media(0, 0x01), None);
        assert_eq!(media(1, 0xee), None);
        assert_eq!(host_interface(0x11).unwrap().name, "400GAUI-8 C2M");
        assert_eq!(host_interface(0xff), None);
    }

    /// No code twice in a table, and a rate in a name is the rate of its row.
    #[test]
    fn tables_are_sound() {
        for table in [IDENTIFIERS, CONNECTORS, ENCODINGS_SFF8472, ENCODINGS_SFF8636, TECHNOLOGIES] {
            assert!(table.windows(2).all(|pair| pair[0].code < pair[1].code));
        }
        for table in [EXTENDED_ONE_LANE, EXTENDED_FOUR_LANES] {
            assert!(table.windows(2).all(|pair| pair[0].code < pair[1].code));
            for row in table.iter().filter(|row| row.speed.is_some()) {
                let told = names::speed_of(row.name);
                assert!(told.is_none() || told == row.speed, "{}", row.name);
            }
        }
        for table in [
            HOST_INTERFACES,
            MULTIMODE_INTERFACES,
            SINGLE_MODE_INTERFACES,
            PASSIVE_COPPER_INTERFACES,
            ACTIVE_CABLE_INTERFACES,
            BASE_T_INTERFACES,
        ] {
            assert!(table.windows(2).all(|pair| pair[0].code < pair[1].code));
            for row in table {
                let told = names::speed_of(row.name);
                assert!(told.is_none() || told == row.speed, "{}", row.name);
            }
        }
    }

    /// Every identifier that has a map has a name.
    #[test]
    fn families_are_named() {
        for code in 0..=u8::MAX {
            if family(code).is_some() {
                assert!(!identifier(code).starts_with("identifier"), "{code:02x}h");
            }
        }
    }
}
