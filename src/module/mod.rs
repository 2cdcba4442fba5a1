//! Module memory to meaning: one file a memory map, one folder file for the code tables.
//!
//! In: blocks of raw module memory, or readings parsed elsewhere. Out: one [`Module`] model for
//! all families, in typed quantities, each field a [`Fact`]. No I/O, no panic, whatever the
//! bytes say; a field whose bytes are not there is *missing*, with the reason.
//! Lanes are numbered from 1, as the standards number them.

mod cmis;
pub mod codes;
mod doubt;
mod meaning;
mod memory;
pub mod over_time;
mod parsed;
mod sff8472;
mod sff8636;

use serde::Serialize;

use crate::quantity::{Celsius, Mbps, Metres, Milliamps, Milliwatts, Nanometres, Volts};
use crate::snapshot::{Fact, ModuleFacts, Reason};
use crate::standards::media;

pub use doubt::{Doubt, DoubtKind, Word};
pub use memory::{A0, A2, Bit, Field, ImageError, Memory, Place};

/// Which memory map a module follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// SFP, SFP+, SFP28 (SFF-8472).
    Sff8472,
    /// QSFP+, QSFP28 (SFF-8636).
    Sff8636,
    /// QSFP-DD, OSFP and later (CMIS).
    Cmis,
    /// No memory, only readings parsed by something else.
    ParsedReadings,
}

impl Family {
    /// The name of the standard.
    pub fn standard(self) -> &'static str {
        match self {
            Self::Sff8472 => "SFF-8472",
            Self::Sff8636 => "SFF-8636",
            Self::Cmis => "CMIS",
            Self::ParsedReadings => "parsed readings",
        }
    }
}

/// What carries the signal away from the module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Carries {
    /// Light on multimode fibre.
    MultimodeFibre,
    /// Light on single-mode fibre.
    SingleModeFibre,
    /// Light, fibre type not told.
    Fibre,
    /// A passive copper cable that ends in the module.
    PassiveCopper,
    /// A cable with electronics or optics inside that ends in the module.
    ActiveCable,
    /// Twisted pair.
    TwistedPair,
    /// Cannot be told.
    Unknown,
}

impl Carries {
    /// True where light leaves the module through a connector that can be opened.
    pub fn is_optical(self) -> bool {
        matches!(self, Self::MultimodeFibre | Self::SingleModeFibre | Self::Fibre)
    }

    /// Plain English.
    pub fn text(self) -> &'static str {
        match self {
            Self::MultimodeFibre => "multimode fibre",
            Self::SingleModeFibre => "single-mode fibre",
            Self::Fibre => "fibre",
            Self::PassiveCopper => "passive copper cable",
            Self::ActiveCable => "active cable",
            Self::TwistedPair => "twisted pair",
            Self::Unknown => "not told",
        }
    }
}

/// An interface type that the module claims.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InterfaceType {
    /// The standard's name (`10GBASE-SR`), or a plain name for what has none.
    pub name: String,
    /// Rate of this type. `None` where the code does not tell.
    pub speed: Option<Mbps>,
    /// Where it stands ("SFF-8472 A0h byte 3 bit 4").
    pub source: String,
}

/// A reach that the module claims on one kind of medium.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// Fibre grade or cable (`OM3`, `single-mode`, `copper`).
    pub medium: &'static str,
    /// Reach.
    pub metres: Metres,
    /// True if the field says "more than".
    pub at_least: bool,
}

/// A checksum of the module's memory.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Checksum {
    /// The standard's name (`CC_BASE`).
    pub name: &'static str,
    /// What it covers, in the standard's byte numbers.
    pub covers: &'static str,
    /// Whether it matches; missing where the bytes are not there.
    #[serde(skip)]
    pub matches: Fact<bool>,
    /// Stored and computed value, where both are there.
    pub stored_computed: Option<(u8, u8)>,
}

/// How readings are turned into quantities.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Calibration {
    /// Readings are in the standard's units.
    Internal,
    /// Readings are turned into units with constants from the module.
    External,
    /// The module says both or neither; taken as external when it says both.
    Contradictory,
}

/// Whether a received-power reading is an average or a modulation amplitude.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RxPowerKind {
    /// Average power.
    Average,
    /// Optical modulation amplitude.
    ModulationAmplitude,
}

/// The four limits a module stores for one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits<T> {
    /// Above this: alarm.
    pub high_alarm: T,
    /// Below this: alarm.
    pub low_alarm: T,
    /// Above this: warning.
    pub high_warning: T,
    /// Below this: warning.
    pub low_warning: T,
}

/// Limits of everything the module monitors. Missing where not there, not implemented, all
/// zero, all ones or out of order (the reason says which).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Thresholds {
    /// Case temperature.
    pub temperature: Fact<Limits<Celsius>>,
    /// Supply voltage.
    pub supply: Fact<Limits<Volts>>,
    /// Laser bias.
    pub bias: Fact<Limits<Milliamps>>,
    /// Transmitted power.
    pub tx_power: Fact<Limits<Milliwatts>>,
    /// Received power.
    pub rx_power: Fact<Limits<Milliwatts>>,
}

/// Alarm and warning flags of one quantity, as the module sets them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Flags {
    /// High alarm.
    pub high_alarm: bool,
    /// Low alarm.
    pub low_alarm: bool,
    /// High warning.
    pub high_warning: bool,
    /// Low warning.
    pub low_warning: bool,
}

/// One lane.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lane {
    /// Lane number, from 1.
    pub number: u8,
    /// False if the module has no such lane on its media side, or says that it is not in use
    /// (CMIS); true otherwise. Transmitter input and data path are of the host lane of the same
    /// number; everything else is of the media lane.
    pub in_use: bool,
    /// Laser bias current.
    pub bias: Fact<Milliamps>,
    /// Transmitted power.
    pub tx_power: Fact<Milliwatts>,
    /// Received power.
    pub rx_power: Fact<Milliwatts>,
    /// Receiver reports loss of signal.
    pub rx_los: Fact<bool>,
    /// Transmitter input reports loss of signal.
    pub tx_los: Fact<bool>,
    /// Receiver reports loss of lock.
    pub rx_loss_of_lock: Fact<bool>,
    /// Transmitter reports loss of lock.
    pub tx_loss_of_lock: Fact<bool>,
    /// Transmitter fault.
    pub tx_fault: Fact<bool>,
    /// Transmitter switched off (pin or register).
    pub tx_disabled: Fact<bool>,
    /// Flags of laser bias.
    pub bias_flags: Fact<Flags>,
    /// Flags of transmitted power.
    pub tx_power_flags: Fact<Flags>,
    /// Flags of received power.
    pub rx_power_flags: Fact<Flags>,
    /// Data path state (`activated`), where the family has one.
    pub data_path_state: Fact<String>,
}

/// A decoded module or cable.
#[derive(Debug, Clone, PartialEq)]
pub struct Module {
    /// Memory map.
    pub family: Family,
    /// How the family was recognised.
    pub recognised_by: String,
    /// Form factor (`SFP/SFP+/SFP28`), from SFF-8024 table 4-1.
    pub form_factor: Fact<String>,
    /// Connector, from SFF-8024 table 4-3.
    pub connector: Fact<String>,
    /// What the signal leaves on.
    pub carries: Carries,
    /// Maker's name, as the module says.
    pub vendor_name: Fact<String>,
    /// Maker's IEEE company id, as `00-11-22`.
    pub vendor_oui: Fact<String>,
    /// Part number.
    pub part_number: Fact<String>,
    /// Revision.
    pub revision: Fact<String>,
    /// Serial number.
    pub serial_number: Fact<String>,
    /// Date code, as `2024-06-30` with the lot behind it if there is one.
    pub date_code: Fact<String>,
    /// Interface types claimed.
    pub interface_types: Vec<InterfaceType>,
    /// Nominal signalling rate, megabaud a lane.
    pub nominal_megabaud: Fact<u32>,
    /// Highest data rate: by interface type, or by nominal rate where no type is given.
    pub top_speed: Fact<Mbps>,
    /// What the highest data rate was taken from; empty where it is not known.
    pub top_speed_source: String,
    /// Every data rate that the module claims, lowest first.
    pub speeds: Vec<Mbps>,
    /// FEC that the extended compliance code names, where it names one.
    pub fec: Option<&'static str>,
    /// Compliance claimed with standards other than Ethernet, in plain words.
    pub other_compliance: Vec<&'static str>,
    /// Transmitter technology (`850 nm VCSEL`), where the family tells it.
    pub technology: Fact<String>,
    /// Encoding.
    pub encoding: Fact<String>,
    /// Reaches claimed.
    pub reaches: Vec<Reach>,
    /// Wavelength, for optics.
    pub wavelength: Fact<Nanometres>,
    /// Length of a cable assembly.
    pub cable_length: Fact<Metres>,
    /// Ends that a cable assembly has on its far side: more than one for a splitter.
    pub far_ends: Fact<u8>,
    /// Cable type (`SFF-8431 Appendix E`), for cables.
    pub cable_compliance: Vec<&'static str>,
    /// Options that the module says it has, in plain English.
    pub options: Vec<&'static str>,
    /// Power class, as `power level 1 (up to 1.0 W)`.
    pub power_class: Fact<String>,
    /// Standard's revision that the memory follows.
    pub standard_revision: Fact<String>,
    /// Checksums.
    pub checksums: Vec<Checksum>,
    /// Whether diagnostics are implemented.
    pub diagnostics: Fact<bool>,
    /// Calibration of the readings.
    pub calibration: Fact<Calibration>,
    /// Of a module with two rates: whether its receiver is set to the higher one (rate select).
    /// Missing where it has no such switch.
    pub rate_select_high: Fact<bool>,
    /// What the received-power reading means.
    pub rx_power_kind: Fact<RxPowerKind>,
    /// Module state (`ready`), where the family has one.
    pub state: Fact<String>,
    /// True if the module is in low power, or the host holds it there.
    pub low_power: Fact<bool>,
    /// True if the module needs more power than the host has allowed it.
    pub power_withheld: Fact<bool>,
    /// True if the module says that its readings are valid.
    pub data_ready: Fact<bool>,
    /// Case temperature.
    pub temperature: Fact<Celsius>,
    /// Supply voltage.
    pub supply: Fact<Volts>,
    /// Flags of temperature.
    pub temperature_flags: Fact<Flags>,
    /// Flags of supply.
    pub supply_flags: Fact<Flags>,
    /// Lanes.
    pub lanes: Vec<Lane>,
    /// Limits stored in the module, or that came with parsed readings.
    pub thresholds: Thresholds,
    /// Where those limits come from ("the module's own limits, A2h bytes 0-39").
    pub thresholds_source: String,
    /// True if loss of signal, faults and flags are latched: they say that something happened
    /// since the module was last read, not that it is so now.
    pub flags_latched: bool,
    /// Other raw status bits that are set, in plain English.
    pub status: Vec<&'static str>,
    /// Reasons not to take the module at its word.
    pub doubts: Vec<Doubt>,
}

impl Module {
    /// A module of which nothing is known, for decoders to fill in.
    pub(crate) fn unknown() -> Self {
        Self {
            family: Family::ParsedReadings,
            recognised_by: String::new(),
            form_factor: Fact::missing(Reason::NotReported),
            connector: Fact::missing(Reason::NotReported),
            carries: Carries::Unknown,
            vendor_name: Fact::missing(Reason::NotReported),
            vendor_oui: Fact::missing(Reason::NotReported),
            part_number: Fact::missing(Reason::NotReported),
            revision: Fact::missing(Reason::NotReported),
            serial_number: Fact::missing(Reason::NotReported),
            date_code: Fact::missing(Reason::NotReported),
            interface_types: Vec::new(),
            nominal_megabaud: Fact::missing(Reason::NotReported),
            top_speed: Fact::missing(Reason::NotReported),
            top_speed_source: String::new(),
            speeds: Vec::new(),
            fec: None,
            other_compliance: Vec::new(),
            technology: Fact::missing(Reason::NotApplicable),
            encoding: Fact::missing(Reason::NotReported),
            reaches: Vec::new(),
            wavelength: Fact::missing(Reason::NotReported),
            cable_length: Fact::missing(Reason::NotReported),
            far_ends: Fact::missing(Reason::NotReported),
            cable_compliance: Vec::new(),
            options: Vec::new(),
            power_class: Fact::missing(Reason::NotReported),
            standard_revision: Fact::missing(Reason::NotReported),
            checksums: Vec::new(),
            diagnostics: Fact::missing(Reason::NotReported),
            calibration: Fact::missing(Reason::NotReported),
            rate_select_high: Fact::missing_with(Reason::NotApplicable, "no rate select"),
            rx_power_kind: Fact::missing(Reason::NotReported),
            state: Fact::missing(Reason::NotApplicable),
            low_power: Fact::missing(Reason::NotApplicable),
            power_withheld: Fact::missing(Reason::NotApplicable),
            data_ready: Fact::missing(Reason::NotReported),
            temperature: Fact::missing(Reason::NotReported),
            supply: Fact::missing(Reason::NotReported),
            temperature_flags: Fact::missing(Reason::NotReported),
            supply_flags: Fact::missing(Reason::NotReported),
            lanes: Vec::new(),
            thresholds: Thresholds::default(),
            thresholds_source: String::new(),
            flags_latched: false,
            status: Vec::new(),
            doubts: Vec::new(),
        }
    }

    /// Lanes that are in use.
    pub fn used_lanes(&self) -> impl Iterator<Item = &Lane> {
        self.lanes.iter().filter(|lane| lane.in_use)
    }

    /// The published power window to judge it by: of the type that runs at `running`, else of
    /// the fastest type it claims.
    pub fn power_window(&self, running: Option<Mbps>) -> Option<&'static media::Row> {
        media::window_of(self.interface_types.iter().map(|claimed| claimed.name.as_str()), running)
    }

    /// The interface type that the highest rate stands on, else the first that is claimed.
    pub fn main_type(&self) -> Option<&InterfaceType> {
        let fastest = self
            .interface_types
            .iter()
            .find(|claimed| claimed.speed == self.top_speed.known().copied());
        fastest.or_else(|| self.interface_types.first())
    }

    /// Whether it sends and receives on one strand, at two wavelengths. Missing where that cannot
    /// be told: few codes say so, and 1270, 1330, 1490 and 1550 nm are as usual on one strand as
    /// beside other wavelengths on a pair. Common practice, no published source.
    pub fn on_one_strand(&self) -> Fact<bool> {
        if !self.carries.is_optical() {
            return Fact::missing_with(
                Reason::NotApplicable,
                "no light leaves this kind of module",
            );
        }
        let one = ["1000BASE-BX", "1000BASE-PX", "100BASE-BX"];
        if self.interface_types.iter().any(|claimed| {
            one.iter().any(|name| claimed.name.starts_with(name))
                || claimed.name.contains("BASE-BR")
        }) {
            return Fact::Known(true);
        }
        if self.used_lanes().count() > 1 {
            return Fact::Known(false);
        }
        match &self.wavelength {
            Fact::Known(Nanometres(nm)) if *nm < 1000.0 => Fact::Known(false),
            Fact::Known(Nanometres(nm)) if (1295.0..1320.0).contains(nm) => Fact::Known(false),
            Fact::Known(_) if self.claims("10GBASE-ER") => Fact::Known(false),
            Fact::Known(nanometres) => Fact::missing_with(
                Reason::NotReported,
                format!("a module at {nanometres} may work on one strand or on two"),
            ),
            Fact::Missing(_)
                if self
                    .main_type()
                    .is_some_and(|claimed| media::nominal_wavelength(&claimed.name).is_some()) =>
            {
                Fact::Known(false)
            }
            Fact::Missing(why) => Fact::Missing(why.clone()),
        }
    }

    /// The first doubt about this part of the module's word.
    pub fn doubt_of(&self, word: Word) -> Option<&Doubt> {
        self.doubts.iter().find(|doubt| doubt.kind.taints().contains(&word))
    }

    /// True if the module claims an interface type with this name.
    pub fn claims(&self, name: &str) -> bool {
        self.interface_types.iter().any(|claimed| claimed.name == name)
    }
}

/// Decodes what is known of a module: raw memory first, parsed readings where there is none.
///
/// The module is missing where neither could be had; the reason is that of the memory.
pub fn decode(facts: &ModuleFacts) -> Fact<Module> {
    match (&facts.memory, &facts.readings) {
        (Fact::Known(blocks), _) => Memory::from_blocks(blocks).decode(),
        (Fact::Missing(_), Fact::Known(readings)) => Fact::Known(parsed::module(readings)),
        (Fact::Missing(memory), Fact::Missing(readings)) => {
            Fact::Missing(if memory.reason == Reason::NotAsked {
                readings.clone()
            } else {
                memory.clone()
            })
        }
    }
}
