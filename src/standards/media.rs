//! What each Ethernet interface type may do on each medium: one row per interface and grade.
//!
//! Figures of IEEE 802.3 and of the cabling standards, read in the documents that the last
//! column names (keys in [`super::sources`]); `mem` marks a figure from memory, `ID` one derived
//! by the budget identity *least receive power = least transmit power - greatest loss*. Powers
//! are averages, per lane. A row from memory may lower confidence but never decides alone.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::quantity::{Dbm, Decibels, Mbps, Metres};

/// Line coding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Modulation {
    /// Two levels.
    Nrz,
    /// Four levels.
    Pam4,
    /// Five levels (1000BASE-T).
    Pam5,
    /// Sixteen levels (2.5GBASE-T and up).
    Pam16,
}

/// FEC that an interface type asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fec {
    /// None.
    None,
    /// Inside the PHY, not visible to the host.
    InPhy,
    /// RS(528,514), clauses 91 and 108: mandatory.
    Rs528,
    /// RS(544,514), clauses 91, 119 and 134: mandatory.
    Rs544,
    /// BASE-R (clause 74) and RS(528,514) (clause 108): both mandatory to have, settled by
    /// negotiation and cable class.
    BaseROrRs,
    /// BASE-R (clause 74) only.
    BaseROnly,
    /// BASE-R (clause 74), optional.
    BaseROptional,
}

/// Grade of a medium.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Multimode, 62.5 µm, 160 MHz·km.
    Mmf62,
    /// Multimode OM1: 62.5 µm, 200 MHz·km.
    Om1,
    /// Multimode, 50 µm, 400 MHz·km.
    Mmf50,
    /// Multimode OM2.
    Om2,
    /// Multimode OM3.
    Om3,
    /// Multimode OM4.
    Om4,
    /// Multimode OM5.
    Om5,
    /// Single-mode of the indoor kind that loses more (OS1, OS1a).
    Os1,
    /// Single-mode OS2.
    Os2,
    /// Twisted pair, category 5e.
    Category5e,
    /// Twisted pair, category 6.
    Category6,
    /// Twisted pair, category 6, assessed for alien crosstalk.
    Category6Assessed,
    /// Twisted pair, category 6A.
    Category6a,
    /// Twisted pair, category 7.
    Category7,
    /// Twisted pair, category 8.
    Category8,
    /// Direct-attach copper.
    Twinax,
    /// Direct-attach copper of class CA-25G-L.
    TwinaxLong,
    /// Direct-attach copper of class CA-25G-S.
    TwinaxShort,
    /// Direct-attach copper of class CA-25G-N.
    TwinaxNoFec,
}

impl Grade {
    /// Every grade with the name people write.
    pub const NAMES: &[(Self, &str)] = &[
        (Self::Mmf62, "MMF62"),
        (Self::Om1, "OM1"),
        (Self::Mmf50, "MMF50"),
        (Self::Om2, "OM2"),
        (Self::Om3, "OM3"),
        (Self::Om4, "OM4"),
        (Self::Om5, "OM5"),
        (Self::Os1, "OS1"),
        (Self::Os2, "OS2"),
        (Self::Category5e, "Cat5e"),
        (Self::Category6, "Cat6"),
        (Self::Category6Assessed, "Cat6-assessed"),
        (Self::Category6a, "Cat6A"),
        (Self::Category7, "Cat7"),
        (Self::Category8, "Cat8"),
        (Self::Twinax, "twinax"),
        (Self::TwinaxLong, "CA-25G-L"),
        (Self::TwinaxShort, "CA-25G-S"),
        (Self::TwinaxNoFec, "CA-25G-N"),
    ];

    /// The name people write.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(grade, _)| *grade == self).map_or("", |(_, name)| name)
    }

    /// Finds a grade by name, in any case. `OS1a` is read as OS1, `single-mode` as OS2, `Cat7A` as
    /// category 7.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        const ALSO: &[(&str, Grade)] =
            &[("OS1a", Grade::Os1), ("single-mode", Grade::Os2), ("Cat7A", Grade::Category7)];
        if let Some((_, grade)) = ALSO.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)) {
            return Some(*grade);
        }
        Self::NAMES
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(text))
            .map(|(grade, _)| *grade)
    }

    /// Names that go on as the text does, or that it goes on from: `cat5` is like `Cat5e`, `OM3+`
    /// like `OM3`. Spaces and hyphens do not count.
    pub fn alike(text: &str) -> Vec<&'static str> {
        let plain = |text: &str| text.to_lowercase().replace([' ', '-', '.'], "");
        let word = plain(text).replace("category", "cat");
        let names = Self::NAMES.iter().map(|(_, name)| *name);
        let like = |name: &&str| {
            let name = plain(name);
            word.len() > 2 && (name.starts_with(&word) || word.starts_with(&name))
        };
        names.filter(like).collect()
    }

    /// True for multimode fibre.
    pub fn is_multimode(self) -> bool {
        matches!(
            self,
            Self::Mmf62 | Self::Om1 | Self::Mmf50 | Self::Om2 | Self::Om3 | Self::Om4 | Self::Om5
        )
    }

    /// True for single-mode fibre.
    pub fn is_single_mode(self) -> bool {
        matches!(self, Self::Os1 | Self::Os2)
    }

    /// True for fibre of any kind.
    pub fn is_fibre(self) -> bool {
        self.is_multimode() || self.is_single_mode()
    }

    /// True for twisted pair.
    pub fn is_twisted_pair(self) -> bool {
        matches!(
            self,
            Self::Category5e
                | Self::Category6
                | Self::Category6Assessed
                | Self::Category6a
                | Self::Category7
                | Self::Category8
        )
    }
}

/// How far the power figures of a row can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trust {
    /// All were read in a source.
    Read,
    /// Some were read, the rest derived or remembered.
    Partly,
    /// From memory.
    Memory,
}

impl Trust {
    /// To be set behind a limit in brackets; empty for figures that were read.
    pub fn note(self) -> &'static str {
        match self {
            Self::Read => "",
            Self::Partly => ", partly derived or from memory",
            Self::Memory => ", from memory",
        }
    }
}

/// One interface type on one medium.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// The standard's name (`10GBASE-SR`).
    pub interface: &'static str,
    /// Where it is specified.
    pub clause: &'static str,
    /// Rate at the MAC.
    pub speed: Mbps,
    /// Lanes.
    pub lanes: u8,
    /// Signalling rate of a lane, gigabaud.
    pub lane_gigabaud: f64,
    /// Line coding.
    pub modulation: Modulation,
    /// Medium.
    pub grade: Grade,
    /// Longest run.
    pub reach: Metres,
    /// Greatest channel insertion loss.
    pub loss_most: Option<Decibels>,
    /// Least average launch power.
    pub tx_least: Option<Dbm>,
    /// Greatest average launch power.
    pub tx_most: Option<Dbm>,
    /// Least average receive power.
    pub rx_least: Option<Dbm>,
    /// Greatest average receive power.
    pub rx_most: Option<Dbm>,
    /// True where `rx_least` is a receiver sensitivity (1000BASE-X).
    pub rx_least_is_sensitivity: bool,
    /// FEC.
    pub fec: Fec,
    /// Clause of the autonegotiation it uses, if any.
    pub autonegotiation_clause: Option<u8>,
    /// Wavelength range or lanes, nm.
    pub wavelength: &'static str,
    /// Trust in the powers.
    pub power_trust: Trust,
    /// Where the figures were read; keys in [`super::sources`].
    pub source: &'static str,
}

impl Row {
    /// The citation shown beside a limit of this row.
    pub fn cite(&self) -> String {
        format!("{}, {}{}", self.clause, self.interface, self.power_trust.note())
    }
}

/// An interface type: its rows, which stand together, and what is reckoned from them once.
struct Type {
    rows: &'static [Row],
    nominal_wavelength: Option<f64>,
}

/// Every interface type by name.
static TYPES: LazyLock<HashMap<&'static str, Type>> = LazyLock::new(|| {
    let types = ROWS.chunk_by(|one, other| one.interface == other.interface);
    let named = types.filter_map(|rows| {
        Some((rows.first()?.interface, Type { rows, nominal_wavelength: middle(rows) }))
    });
    named.collect()
});

/// Rows of one interface type.
pub fn rows_of(interface: &str) -> impl Iterator<Item = &'static Row> + Clone {
    TYPES.get(interface).map_or(&[][..], |known| known.rows).iter()
}

/// The optical power window of an interface type. Windows do not depend on the grade, except
/// for 1000BASE-LX, where the single-mode row is the stricter one at the transmitter.
pub fn power_window(interface: &str) -> Option<&'static Row> {
    rows_of(interface).find(|row| row.rx_most.is_some())
}

/// The window to judge several claimed types by: of the type that runs, else of the fastest.
pub fn window_of<'a>(
    types: impl Iterator<Item = &'a str>,
    running: Option<Mbps>,
) -> Option<&'static Row> {
    let rows: Vec<&'static Row> = types.filter_map(power_window).collect();
    rows.iter()
        .find(|row| Some(row.speed) == running)
        .or_else(|| rows.iter().max_by_key(|row| row.speed))
        .copied()
}

/// The row of an interface type on a grade; a grade not listed is not specified.
pub fn row_on(interface: &str, grade: Grade) -> Option<&'static Row> {
    // What runs on OS2 runs on OS1 as far as that loses no more: the rows are OS2's.
    let grade = if grade == Grade::Os1 { Grade::Os2 } else { grade };
    rows_of(interface).find(|row| row.grade == grade)
}

/// The shortest run that an interface type is specified for, where one is: 0.5 m of multimode fibre
/// from 25 Gb/s on (sources T1, T2; 100GBASE-SR4 from memory).
pub fn shortest(row: &Row) -> Option<Metres> {
    (row.grade.is_multimode() && row.speed >= Mbps(25_000) && row.interface != "40GBASE-SR4")
        .then_some(Metres(0.5))
}

/// Runs that the standard has as "engineered": beyond this length the fibre must be better than the
/// cabling standard asks, and that is to be measured. With the loss that is allowed up to it, where
/// that is another than beyond. (Table 1.2 of the media notes: E4, D7; 25GBASE-ER and 100GBASE-ER4
/// from memory.)
pub fn engineered(row: &Row) -> Option<(Metres, Option<Decibels>)> {
    match row.interface {
        "10GBASE-ER" => Some((Metres(30_000.0), row.loss_most)),
        "25GBASE-ER" | "100GBASE-ER4" => Some((Metres(30_000.0), Some(Decibels(15.0)))),
        // The 1.5 dB of OM4 belong to 150 m with 1.0 dB in connectors; up to 100 m it is as OM3.
        "40GBASE-SR4" if row.grade > Grade::Om3 => Some((Metres(100.0), Some(Decibels(1.9)))),
        _ => None,
    }
}

/// Nominal wavelength of an interface type, nanometres: the middle of its range, or of its lanes.
pub fn nominal_wavelength(interface: &str) -> Option<f64> {
    TYPES.get(interface)?.nominal_wavelength
}

fn middle(rows: &[Row]) -> Option<f64> {
    let range = rows.iter().map(|row| row.wavelength).find(|range| !range.is_empty())?;
    let mut numbers = range
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter_map(|number| number.parse::<f64>().ok());
    let first = numbers.next()?;
    Some(f64::midpoint(first, numbers.next_back().unwrap_or(first)))
}

/// The wavelengths of an interface type's lanes, as one text that is the same for types that go
/// together. Types of industry agreements that have no row are from memory.
pub fn wavelength_plan(interface: &str) -> Option<&'static str> {
    let interface = match interface {
        "100G CWDM4" | "100G CLR4" | "4WDM-10" => "200GBASE-FR4",
        "4WDM-20" | "4WDM-40" => "100GBASE-LR4",
        "100G PSM4" | "40G PSM4" => "100GBASE-DR",
        other => other,
    };
    rows_of(interface).map(|row| row.wavelength).find(|range| !range.is_empty())
}

/// True if that text names several wavelengths.
pub fn is_several(plan: &str) -> bool {
    plan.contains('/')
}

/// Every row.
#[rustfmt::skip]
pub const ROWS: &[Row] = &[
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Mmf62,
        reach: Metres(220.0), loss_most: Some(Decibels(2.38)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om1,
        reach: Metres(275.0), loss_most: Some(Decibels(2.6)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Mmf50,
        reach: Metres(500.0), loss_most: Some(Decibels(3.37)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om2,
        reach: Metres(550.0), loss_most: Some(Decibels(3.56)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(550.0), loss_most: Some(Decibels(3.56)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3; OM3 reach: D1; IL: T7",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om4,
        reach: Metres(550.0), loss_most: Some(Decibels(3.56)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3; OM4 as OM3: mem",
    },
    Row {
        interface: "1000BASE-SX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om5,
        reach: Metres(550.0), loss_most: Some(Decibels(3.56)),
        tx_least: Some(Dbm(-9.5)), tx_most: Some(Dbm(0.0)), rx_least: Some(Dbm(-17.0)), rx_most: Some(Dbm(0.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "770-860",
        power_trust: Trust::Read, source: "E1 E2 E3; OM5 as OM3: mem",
    },
    Row {
        interface: "1000BASE-LX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om1,
        reach: Metres(550.0), loss_most: Some(Decibels(2.35)),
        tx_least: Some(Dbm(-11.5)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.0)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1270-1355",
        power_trust: Trust::Read, source: "E2 E3; IL: mem",
    },
    Row {
        interface: "1000BASE-LX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Mmf50,
        reach: Metres(550.0), loss_most: Some(Decibels(2.35)),
        tx_least: Some(Dbm(-11.5)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.0)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1270-1355",
        power_trust: Trust::Read, source: "E2 E3; IL: mem",
    },
    Row {
        interface: "1000BASE-LX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Om2,
        reach: Metres(550.0), loss_most: Some(Decibels(2.35)),
        tx_least: Some(Dbm(-11.5)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.0)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1270-1355",
        power_trust: Trust::Read, source: "E2 E3; IL: mem",
    },
    Row {
        interface: "1000BASE-LX", clause: "IEEE 802.3 clause 38", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(5000.0), loss_most: Some(Decibels(4.57)),
        tx_least: Some(Dbm(-11.0)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.0)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1270-1355",
        power_trust: Trust::Read, source: "E2 E3; IL: mem",
    },
    Row {
        interface: "1000BASE-LX10", clause: "IEEE 802.3 clause 59", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.0)),
        tx_least: Some(Dbm(-9.0)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.0)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1260-1360",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "1000BASE-BX10-D", clause: "IEEE 802.3 clause 59", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(5.5)),
        tx_least: Some(Dbm(-9.0)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.5)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1480-1500",
        power_trust: Trust::Memory, source: "mem (rx min is sensitivity; receives 1260-1360)",
    },
    Row {
        interface: "1000BASE-BX10-U", clause: "IEEE 802.3 clause 59", speed: Mbps(1000), lanes: 1,
        lane_gigabaud: 1.25, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.0)),
        tx_least: Some(Dbm(-9.0)), tx_most: Some(Dbm(-3.0)), rx_least: Some(Dbm(-19.5)), rx_most: Some(Dbm(-3.0)), rx_least_is_sensitivity: true,
        fec: Fec::None, autonegotiation_clause: Some(37), wavelength: "1260-1360",
        power_trust: Trust::Memory, source: "mem (rx min is sensitivity; receives 1480-1500)",
    },
    Row {
        interface: "1000BASE-T", clause: "IEEE 802.3 clause 40", speed: Mbps(1000), lanes: 4,
        lane_gigabaud: 0.125, modulation: Modulation::Pam5, grade: Grade::Category5e,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "1000BASE-T", clause: "IEEE 802.3 clause 40", speed: Mbps(1000), lanes: 4,
        lane_gigabaud: 0.125, modulation: Modulation::Pam5, grade: Grade::Category6,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "1000BASE-T", clause: "IEEE 802.3 clause 40", speed: Mbps(1000), lanes: 4,
        lane_gigabaud: 0.125, modulation: Modulation::Pam5, grade: Grade::Category6a,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "2.5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(2500), lanes: 4,
        lane_gigabaud: 0.2, modulation: Modulation::Pam16, grade: Grade::Category5e,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "2.5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(2500), lanes: 4,
        lane_gigabaud: 0.2, modulation: Modulation::Pam16, grade: Grade::Category6,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "2.5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(2500), lanes: 4,
        lane_gigabaud: 0.2, modulation: Modulation::Pam16, grade: Grade::Category6a,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(5000), lanes: 4,
        lane_gigabaud: 0.4, modulation: Modulation::Pam16, grade: Grade::Category5e,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem; alien crosstalk may shorten it",
    },
    Row {
        interface: "5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(5000), lanes: 4,
        lane_gigabaud: 0.4, modulation: Modulation::Pam16, grade: Grade::Category6,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "5GBASE-T", clause: "IEEE 802.3 clause 126", speed: Mbps(5000), lanes: 4,
        lane_gigabaud: 0.4, modulation: Modulation::Pam16, grade: Grade::Category6a,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "10GBASE-T", clause: "IEEE 802.3 clause 55", speed: Mbps(10000), lanes: 4,
        lane_gigabaud: 0.8, modulation: Modulation::Pam16, grade: Grade::Category6,
        reach: Metres(37.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "line code: mem; T6",
    },
    Row {
        interface: "10GBASE-T", clause: "IEEE 802.3 clause 55", speed: Mbps(10000), lanes: 4,
        lane_gigabaud: 0.8, modulation: Modulation::Pam16, grade: Grade::Category6Assessed,
        reach: Metres(55.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "line code: mem; T6",
    },
    Row {
        interface: "10GBASE-T", clause: "IEEE 802.3 clause 55", speed: Mbps(10000), lanes: 4,
        lane_gigabaud: 0.8, modulation: Modulation::Pam16, grade: Grade::Category6a,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "line code: mem; T6",
    },
    Row {
        interface: "10GBASE-T", clause: "IEEE 802.3 clause 55", speed: Mbps(10000), lanes: 4,
        lane_gigabaud: 0.8, modulation: Modulation::Pam16, grade: Grade::Category7,
        reach: Metres(100.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "line code: mem; mem",
    },
    Row {
        interface: "10GBASE-T pluggable", clause: "IEEE 802.3 clause 55", speed: Mbps(10000), lanes: 4,
        lane_gigabaud: 0.8, modulation: Modulation::Pam16, grade: Grade::Category6a,
        reach: Metres(30.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "D14 (module limit rather than the PMD's)",
    },
    Row {
        interface: "25GBASE-T", clause: "IEEE 802.3 clause 113", speed: Mbps(25000), lanes: 4,
        lane_gigabaud: 2.0, modulation: Modulation::Pam16, grade: Grade::Category8,
        reach: Metres(30.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "40GBASE-T", clause: "IEEE 802.3 clause 113", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 3.2, modulation: Modulation::Pam16, grade: Grade::Category8,
        reach: Metres(30.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::InPhy, autonegotiation_clause: Some(28), wavelength: "",
        power_trust: Trust::Memory, source: "mem",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Mmf62,
        reach: Metres(26.0), loss_most: None,
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; D1",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om1,
        reach: Metres(33.0), loss_most: Some(Decibels(2.4)),
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; reach D1; IL T7",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Mmf50,
        reach: Metres(66.0), loss_most: None,
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; D1",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om2,
        reach: Metres(82.0), loss_most: Some(Decibels(2.3)),
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; reach D1; IL T7",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(300.0), loss_most: Some(Decibels(2.6)),
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; reach D1; IL T7",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om4,
        reach: Metres(400.0), loss_most: Some(Decibels(2.9)),
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; reach T7; IL mem",
    },
    Row {
        interface: "10GBASE-SR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om5,
        reach: Metres(400.0), loss_most: Some(Decibels(2.9)),
        tx_least: Some(Dbm(-7.3)), tx_most: Some(Dbm(-1.0)), rx_least: Some(Dbm(-9.9)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D2; rx ID; reach T7; IL mem",
    },
    Row {
        interface: "10GBASE-LR", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.2)),
        tx_least: Some(Dbm(-8.2)), tx_most: Some(Dbm(0.5)), rx_least: Some(Dbm(-14.4)), rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Read, source: "G1 D1; IL ID",
    },
    Row {
        interface: "10GBASE-ER", clause: "IEEE 802.3 clause 52", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(40000.0), loss_most: Some(Decibels(10.9)),
        tx_least: Some(Dbm(-4.7)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-15.8)), rx_most: Some(Dbm(-1.0)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1530-1565",
        power_trust: Trust::Read, source: "E4; IL mem; 30 km unless engineered",
    },
    Row {
        interface: "10GBASE-LRM", clause: "IEEE 802.3 clause 68", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Mmf62,
        reach: Metres(220.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(0.5)), rx_least: None, rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Partly, source: "reach and IL E5; power mem",
    },
    Row {
        interface: "10GBASE-LRM", clause: "IEEE 802.3 clause 68", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om1,
        reach: Metres(220.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(0.5)), rx_least: None, rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Partly, source: "reach and IL E5; power mem",
    },
    Row {
        interface: "10GBASE-LRM", clause: "IEEE 802.3 clause 68", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Mmf50,
        reach: Metres(100.0), loss_most: Some(Decibels(1.7)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(0.5)), rx_least: None, rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Partly, source: "reach and IL E5; power mem",
    },
    Row {
        interface: "10GBASE-LRM", clause: "IEEE 802.3 clause 68", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om2,
        reach: Metres(220.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(0.5)), rx_least: None, rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Partly, source: "reach and IL E5; power mem",
    },
    Row {
        interface: "10GBASE-LRM", clause: "IEEE 802.3 clause 68", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(220.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(0.5)), rx_least: None, rx_most: Some(Dbm(0.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1260-1355",
        power_trust: Trust::Partly, source: "reach and IL E5; power mem",
    },
    Row {
        interface: "10G direct attach", clause: "SFF-8431 Annex E", speed: Mbps(10000), lanes: 1,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Twinax,
        reach: Metres(7.0), loss_most: None,
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "",
        power_trust: Trust::Memory, source: "reach is common practice; mem",
    },
    Row {
        interface: "25GBASE-SR", clause: "IEEE 802.3 clause 112", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Read, source: "reach and IL T1; power D4; FEC mem",
    },
    Row {
        interface: "25GBASE-SR", clause: "IEEE 802.3 clause 112", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Read, source: "reach and IL T1; power D4; FEC mem",
    },
    Row {
        interface: "25GBASE-SR", clause: "IEEE 802.3 clause 112", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Read, source: "reach and IL T1; power D4; FEC mem",
    },
    Row {
        interface: "25GBASE-LR", clause: "IEEE 802.3 clause 114", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.3)),
        tx_least: Some(Dbm(-7.0)), tx_most: Some(Dbm(2.0)), rx_least: Some(Dbm(-13.3)), rx_most: Some(Dbm(2.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "1295-1325",
        power_trust: Trust::Read, source: "power D5; IL ID; FEC mem",
    },
    Row {
        interface: "25GBASE-ER", clause: "IEEE 802.3 clause 114", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(40000.0), loss_most: Some(Decibels(18.0)),
        tx_least: Some(Dbm(-3.0)), tx_most: Some(Dbm(6.0)), rx_least: Some(Dbm(-21.0)), rx_most: Some(Dbm(-4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "1295-1310",
        power_trust: Trust::Memory, source: "reach D6; power and IL mem with ID; 30 km unless engineered",
    },
    Row {
        interface: "25GBASE-CR", clause: "IEEE 802.3 clause 110", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::TwinaxLong,
        reach: Metres(5.0), loss_most: Some(Decibels(22.48)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROrRs, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "A3 A4 (IL at 12.89 GHz); RS-FEC",
    },
    Row {
        interface: "25GBASE-CR", clause: "IEEE 802.3 clause 110", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::TwinaxShort,
        reach: Metres(3.0), loss_most: Some(Decibels(16.48)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROrRs, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "A3 A4 (IL at 12.89 GHz); BASE-R FEC",
    },
    Row {
        interface: "25GBASE-CR", clause: "IEEE 802.3 clause 110", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::TwinaxNoFec,
        reach: Metres(3.0), loss_most: Some(Decibels(15.5)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROrRs, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "A3 A4 (IL at 12.89 GHz); no FEC; IL mem",
    },
    Row {
        interface: "25GBASE-CR-S", clause: "IEEE 802.3 clause 110", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::TwinaxShort,
        reach: Metres(3.0), loss_most: Some(Decibels(16.48)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROnly, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "A3 A4 (IL at 12.89 GHz); BASE-R FEC",
    },
    Row {
        interface: "25GBASE-CR-S", clause: "IEEE 802.3 clause 110", speed: Mbps(25000), lanes: 1,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::TwinaxNoFec,
        reach: Metres(3.0), loss_most: Some(Decibels(15.5)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROnly, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "A3 A4 (IL at 12.89 GHz); no FEC; IL mem",
    },
    Row {
        interface: "40GBASE-SR4", clause: "IEEE 802.3 clause 86", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-7.6)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-9.5)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Memory, source: "reach D7 T7; power and IL mem with ID",
    },
    Row {
        interface: "40GBASE-SR4", clause: "IEEE 802.3 clause 86", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om4,
        reach: Metres(150.0), loss_most: Some(Decibels(1.5)),
        tx_least: Some(Dbm(-7.6)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-9.5)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Memory, source: "reach D7 T7; power and IL mem with ID",
    },
    Row {
        interface: "40GBASE-SR4", clause: "IEEE 802.3 clause 86", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Om5,
        reach: Metres(150.0), loss_most: Some(Decibels(1.5)),
        tx_least: Some(Dbm(-7.6)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-9.5)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Memory, source: "reach D7 T7; power and IL mem with ID",
    },
    Row {
        interface: "40GBASE-LR4", clause: "IEEE 802.3 clause 87", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.7)),
        tx_least: Some(Dbm(-7.0)), tx_most: Some(Dbm(2.3)), rx_least: Some(Dbm(-13.7)), rx_most: Some(Dbm(2.3)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1264.5-1277.5/1284.5-1297.5/1304.5-1317.5/1324.5-1337.5",
        power_trust: Trust::Partly, source: "tx D7; rx and IL mem with ID",
    },
    Row {
        interface: "40GBASE-CR4", clause: "IEEE 802.3 clause 85", speed: Mbps(40000), lanes: 4,
        lane_gigabaud: 10.3125, modulation: Modulation::Nrz, grade: Grade::Twinax,
        reach: Metres(7.0), loss_most: Some(Decibels(17.04)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::BaseROptional, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "mem; IL at 5.15625 GHz: mem",
    },
    Row {
        interface: "50GBASE-SR", clause: "IEEE 802.3 clause 138", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "50GBASE-SR", clause: "IEEE 802.3 clause 138", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "50GBASE-SR", clause: "IEEE 802.3 clause 138", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "50GBASE-FR", clause: "IEEE 802.3 clause 139", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(2000.0), loss_most: Some(Decibels(4.0)),
        tx_least: Some(Dbm(-4.1)), tx_most: Some(Dbm(3.0)), rx_least: Some(Dbm(-8.1)), rx_most: Some(Dbm(3.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Memory, source: "mem with ID",
    },
    Row {
        interface: "50GBASE-LR", clause: "IEEE 802.3 clause 139", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.3)),
        tx_least: Some(Dbm(-4.5)), tx_most: Some(Dbm(4.2)), rx_least: Some(Dbm(-10.8)), rx_most: Some(Dbm(4.2)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Read, source: "power D10; IL ID; wavelength mem",
    },
    Row {
        interface: "50GBASE-CR", clause: "IEEE 802.3 clause 136", speed: Mbps(50000), lanes: 1,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Twinax,
        reach: Metres(3.0), loss_most: Some(Decibels(17.16)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "mem; IL at 13.28 GHz: mem",
    },
    Row {
        interface: "100GBASE-SR4", clause: "IEEE 802.3 clause 95", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D8; rx max D8; rx min ID; IL as T1 (same lane budget): mem",
    },
    Row {
        interface: "100GBASE-SR4", clause: "IEEE 802.3 clause 95", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D8; rx max D8; rx min ID; IL as T1 (same lane budget): mem",
    },
    Row {
        interface: "100GBASE-SR4", clause: "IEEE 802.3 clause 95", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-8.4)), tx_most: Some(Dbm(2.4)), rx_least: Some(Dbm(-10.3)), rx_most: Some(Dbm(2.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: None, wavelength: "840-860",
        power_trust: Trust::Partly, source: "tx D8; rx max D8; rx min ID; IL as T1 (same lane budget): mem",
    },
    Row {
        interface: "100GBASE-LR4", clause: "IEEE 802.3 clause 88", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.3)),
        tx_least: Some(Dbm(-4.3)), tx_most: Some(Dbm(4.5)), rx_least: Some(Dbm(-10.6)), rx_most: Some(Dbm(4.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1294.53-1296.59/1299.02-1301.09/1303.54-1305.63/1308.09-1310.19",
        power_trust: Trust::Read, source: "power D9; IL ID",
    },
    Row {
        interface: "100GBASE-ER4", clause: "IEEE 802.3 clause 88", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Os2,
        reach: Metres(40000.0), loss_most: Some(Decibels(18.0)),
        tx_least: Some(Dbm(-2.9)), tx_most: Some(Dbm(2.9)), rx_least: Some(Dbm(-20.9)), rx_most: Some(Dbm(4.5)), rx_least_is_sensitivity: false,
        fec: Fec::None, autonegotiation_clause: None, wavelength: "1294.53-1296.59/1299.02-1301.09/1303.54-1305.63/1308.09-1310.19",
        power_trust: Trust::Memory, source: "mem with ID; 30 km unless engineered",
    },
    Row {
        interface: "100GBASE-CR4", clause: "IEEE 802.3 clause 92", speed: Mbps(100000), lanes: 4,
        lane_gigabaud: 25.78125, modulation: Modulation::Nrz, grade: Grade::Twinax,
        reach: Metres(5.0), loss_most: Some(Decibels(22.48)),
        tx_least: None, tx_most: None, rx_least: None, rx_most: None, rx_least_is_sensitivity: false,
        fec: Fec::Rs528, autonegotiation_clause: Some(73), wavelength: "",
        power_trust: Trust::Memory, source: "mem; IL at 12.89 GHz: mem",
    },
    Row {
        interface: "100GBASE-SR2", clause: "IEEE 802.3 clause 138", speed: Mbps(100000), lanes: 2,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "100GBASE-SR2", clause: "IEEE 802.3 clause 138", speed: Mbps(100000), lanes: 2,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "100GBASE-SR2", clause: "IEEE 802.3 clause 138", speed: Mbps(100000), lanes: 2,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "100GBASE-DR", clause: "IEEE 802.3 clause 140", speed: Mbps(100000), lanes: 1,
        lane_gigabaud: 53.125, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(500.0), loss_most: Some(Decibels(3.0)),
        tx_least: Some(Dbm(-2.9)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-5.9)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Memory, source: "per-lane values as D11: mem with ID",
    },
    Row {
        interface: "100GBASE-FR1", clause: "IEEE 802.3 clause 140", speed: Mbps(100000), lanes: 1,
        lane_gigabaud: 53.125, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(2000.0), loss_most: Some(Decibels(4.0)),
        tx_least: Some(Dbm(-3.1)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-7.1)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Memory, source: "reach and IL T3; power mem with ID",
    },
    Row {
        interface: "100GBASE-LR1", clause: "IEEE 802.3 clause 140", speed: Mbps(100000), lanes: 1,
        lane_gigabaud: 53.125, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.3)),
        tx_least: Some(Dbm(-1.9)), tx_most: Some(Dbm(4.8)), rx_least: Some(Dbm(-8.2)), rx_most: Some(Dbm(4.8)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Memory, source: "mem with ID",
    },
    Row {
        interface: "200GBASE-SR4", clause: "IEEE 802.3 clause 138", speed: Mbps(200000), lanes: 4,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "200GBASE-SR4", clause: "IEEE 802.3 clause 138", speed: Mbps(200000), lanes: 4,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "200GBASE-SR4", clause: "IEEE 802.3 clause 138", speed: Mbps(200000), lanes: 4,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "mem with ID; same clause as T2",
    },
    Row {
        interface: "200GBASE-DR4", clause: "IEEE 802.3 clause 121", speed: Mbps(200000), lanes: 4,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(500.0), loss_most: Some(Decibels(3.0)),
        tx_least: Some(Dbm(-5.1)), tx_most: Some(Dbm(3.0)), rx_least: Some(Dbm(-8.1)), rx_most: Some(Dbm(3.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Memory, source: "mem with ID",
    },
    Row {
        interface: "200GBASE-FR4", clause: "IEEE 802.3 clause 122", speed: Mbps(200000), lanes: 4,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(2000.0), loss_most: Some(Decibels(4.0)),
        tx_least: Some(Dbm(-4.2)), tx_most: Some(Dbm(4.7)), rx_least: Some(Dbm(-8.2)), rx_most: Some(Dbm(4.7)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1264.5-1277.5/1284.5-1297.5/1304.5-1317.5/1324.5-1337.5",
        power_trust: Trust::Memory, source: "mem with ID",
    },
    Row {
        interface: "400GBASE-SR8", clause: "IEEE 802.3 clause 138", speed: Mbps(400000), lanes: 8,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om3,
        reach: Metres(70.0), loss_most: Some(Decibels(1.8)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "reach and IL T2; power mem with ID",
    },
    Row {
        interface: "400GBASE-SR8", clause: "IEEE 802.3 clause 138", speed: Mbps(400000), lanes: 8,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om4,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "reach and IL T2; power mem with ID",
    },
    Row {
        interface: "400GBASE-SR8", clause: "IEEE 802.3 clause 138", speed: Mbps(400000), lanes: 8,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Om5,
        reach: Metres(100.0), loss_most: Some(Decibels(1.9)),
        tx_least: Some(Dbm(-6.5)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-8.4)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "850 nominal",
        power_trust: Trust::Memory, source: "reach and IL T2; power mem with ID",
    },
    Row {
        interface: "400GBASE-DR4", clause: "IEEE 802.3 clause 124", speed: Mbps(400000), lanes: 4,
        lane_gigabaud: 53.125, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(500.0), loss_most: Some(Decibels(3.0)),
        tx_least: Some(Dbm(-2.9)), tx_most: Some(Dbm(4.0)), rx_least: Some(Dbm(-5.9)), rx_most: Some(Dbm(4.0)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1304.5-1317.5",
        power_trust: Trust::Read, source: "power D11; IL ID",
    },
    Row {
        interface: "400GBASE-FR4", clause: "IEEE 802.3 clause 151", speed: Mbps(400000), lanes: 4,
        lane_gigabaud: 53.125, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(2000.0), loss_most: Some(Decibels(4.0)),
        tx_least: Some(Dbm(-3.2)), tx_most: Some(Dbm(4.4)), rx_least: Some(Dbm(-7.2)), rx_most: Some(Dbm(4.4)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "1264.5-1277.5/1284.5-1297.5/1304.5-1317.5/1324.5-1337.5",
        power_trust: Trust::Memory, source: "mem with ID (an MSA module D12 has tx -3.3..3.5 and rx -7.3..3.5)",
    },
    Row {
        interface: "400GBASE-LR8", clause: "IEEE 802.3 clause 122", speed: Mbps(400000), lanes: 8,
        lane_gigabaud: 26.5625, modulation: Modulation::Pam4, grade: Grade::Os2,
        reach: Metres(10000.0), loss_most: Some(Decibels(6.3)),
        tx_least: Some(Dbm(-2.8)), tx_most: Some(Dbm(5.3)), rx_least: Some(Dbm(-9.1)), rx_most: Some(Dbm(5.3)), rx_least_is_sensitivity: false,
        fec: Fec::Rs544, autonegotiation_clause: None, wavelength: "centres 1273.54/1277.89/1282.26/1286.66/1295.56/1300.05/1304.58/1309.14",
        power_trust: Trust::Memory, source: "reach IL and wavelengths T4; power mem with ID",
    },];

#[cfg(test)]
mod tests {
    use super::*;

    /// Windows and reaches, row by row, against documents that quote IEEE 802.3: [D2] SFP+ SR
    /// sheet, [G1] national conformity rule (10GBASE-L), [E4] 802.3ae in a switch manual, [T1]
    /// TIA overview of 25GBASE-SR and [D4] sheets, [E1][E2] 1000BASE-SX tables.
    #[test]
    fn windows_read_in_sources() {
        for (interface, tx_least, tx_most, rx_least, rx_most) in [
            ("1000BASE-SX", -9.5, 0.0, -17.0, 0.0),
            ("10GBASE-LR", -8.2, 0.5, -14.4, 0.5),
            ("10GBASE-ER", -4.7, 4.0, -15.8, -1.0),
            ("25GBASE-SR", -8.4, 2.4, -10.3, 2.4),
            ("25GBASE-LR", -7.0, 2.0, -13.3, 2.0),
        ] {
            let row = power_window(interface).unwrap();
            assert_eq!(
                (row.tx_least, row.tx_most, row.rx_least, row.rx_most),
                (Some(Dbm(tx_least)), Some(Dbm(tx_most)), Some(Dbm(rx_least)), Some(Dbm(rx_most))),
                "{interface}"
            );
        }
        // TIA Fiber Optics Tech Consortium, 25GBASE-SR application overview [T1].
        for (grade, reach, loss) in [(Grade::Om3, 70.0, 1.8), (Grade::Om4, 100.0, 1.9)] {
            let row = row_on("25GBASE-SR", grade).unwrap();
            assert_eq!((row.reach, row.loss_most), (Metres(reach), Some(Decibels(loss))));
        }
        // TIA TSB-155 [T6]: category 6 carries 10GBASE-T to 37 m, to 55 m where assessed.
        assert_eq!(row_on("10GBASE-T", Grade::Category6).unwrap().reach, Metres(37.0));
        assert_eq!(row_on("10GBASE-T", Grade::Category6Assessed).unwrap().reach, Metres(55.0));
        assert!(row_on("10GBASE-T", Grade::Category5e).is_none());
    }

    /// The budget identity of IEEE 802.3 optical interfaces from 10 Gb/s up: least receive power
    /// is least launch power less the greatest loss of all its media (10GBASE-ER is off by 0.2).
    #[test]
    fn budget_identity_holds() {
        for row in ROWS.iter().filter(|row| !row.rx_least_is_sensitivity) {
            let (Some(tx), Some(rx)) = (row.tx_least, row.rx_least) else { continue };
            let losses = rows_of(row.interface).filter_map(|row| row.loss_most);
            let most = losses.map(|loss| loss.0).fold(0.0, f64::max);
            // 10GBASE-SR: the identity uses the OM3 channel (2.6 dB), OM4 allows 2.9 [mem].
            let most = if row.interface == "10GBASE-SR" { 2.6 } else { most };
            let off = (tx.0 - most - rx.0).abs();
            assert!(off < 0.21, "{}: off by {off}", row.interface);
        }
    }

    /// IEEE 802.3 clauses 52, 59, 88 and 112 as quoted in ethernet-media, table 1.2.
    #[test]
    fn nominal_wavelengths() {
        for (interface, least, most) in [
            ("10GBASE-SR", 840.0, 860.0),
            ("10GBASE-LR", 1300.0, 1320.0),
            ("10GBASE-ER", 1540.0, 1560.0),
            ("1000BASE-BX10-D", 1480.0, 1500.0),
            ("100GBASE-LR4", 1295.0, 1310.0),
            ("400GBASE-SR8", 849.0, 851.0),
        ] {
            let nominal = nominal_wavelength(interface).unwrap();
            assert!((least..=most).contains(&nominal), "{interface}: {nominal}");
        }
        assert_eq!(nominal_wavelength("10GBASE-T"), None);
        assert_ne!(wavelength_plan("100G CWDM4"), wavelength_plan("100GBASE-LR4"));
        assert_eq!(wavelength_plan("100GBASE-ER4"), wavelength_plan("100GBASE-LR4"));
    }

    /// Lanes x symbol rate x bits of a symbol x what coding leaves is the speed, for every row: 8b/10b
    /// at 1 Gb/s, else 64b/66b, with four levels less RS(544,514)'s 528/544; twisted pair 2 and 3.125
    /// bits of data a symbol. Worked examples a1, a2, a3 and c9 of the media notes, table 1.1 there;
    /// coding of 1000BASE-X from memory.
    #[test]
    fn symbol_rates_make_the_speed() {
        for row in ROWS {
            let bits = match (row.modulation, row.speed) {
                (Modulation::Nrz, Mbps(1000)) => 8.0 / 10.0,
                (Modulation::Nrz, _) => 64.0 / 66.0,
                (Modulation::Pam4, _) => 2.0 * 64.0 / 66.0 * 528.0 / 544.0,
                (Modulation::Pam5, _) => 2.0,
                (Modulation::Pam16, _) => 3.125,
            };
            let megabits = f64::from(row.lanes) * row.lane_gigabaud * 1000.0 * bits;
            let off = megabits / f64::from(row.speed.0) - 1.0;
            assert!(off.abs() < 1e-9, "{}: {megabits}", row.interface);
        }
        for (interface, lanes, gigabaud, speed) in [
            ("10GBASE-T", 4, 0.8, Mbps(10_000)),       // a1
            ("2.5GBASE-T", 4, 0.2, Mbps(2500)),        // a2
            ("1000BASE-T", 4, 0.125, Mbps(1000)),      // a3
            ("100GBASE-DR", 1, 53.125, Mbps(100_000)), // c9: 2 x 53.125 are 106.25
        ] {
            let row = rows_of(interface).next().unwrap();
            assert_eq!((row.lanes, row.speed), (lanes, speed));
            assert!((row.lane_gigabaud - gigabaud).abs() < 1e-12, "{interface}");
        }
    }

    /// The rows of a type are found as one piece.
    #[test]
    fn rows_of_a_type_stand_together() {
        for row in ROWS {
            let all = ROWS.iter().filter(|other| other.interface == row.interface).count();
            assert_eq!(rows_of(row.interface).count(), all, "{}", row.interface);
        }
        assert_eq!(rows_of("10GBASE-XYZ").count(), 0);
    }

    #[test]
    fn every_row_has_a_known_source_and_sane_limits() {
        for row in ROWS {
            assert!(!row.source.is_empty(), "{}", row.interface);
            assert!(
                super::super::sources::resolves(row.source),
                "{}: {}",
                row.interface,
                row.source
            );
            if let (Some(least), Some(most)) = (row.rx_least, row.rx_most) {
                assert!(least < most, "{}", row.interface);
            }
            assert_eq!(super::super::names::speed_of(row.interface), Some(row.speed));
        }
    }
}
