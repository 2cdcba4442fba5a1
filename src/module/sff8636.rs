//! SFF-8636: QSFP+ and QSFP28, four lanes. Lower memory with state and readings, upper page 00h
//! with identity, upper page 03h with limits.
//!
//! Reads like the standard's tables: the rows first, then what they mean together. In: memory.
//! Out: a [`Module`]. Loss of signal, faults and flags are latched: they clear when read, and
//! another reader may already have cleared them. A passive cable has no readings and no page
//! 03h, which is normal.
//! Sources: the kernel's drivers (written to SFF-8636 Rev 2.4) and a 40G memory-map guide for
//! bytes 0-3; rows marked "from memory" could not be looked up and decide nothing alone. Left
//! out, for want of a source: SONET, SAS and Fibre Channel compliance (bytes 132, 133, 135-138),
//! and copper attenuation (186-189 of a cable), on whose measuring points sources disagree.

use crate::module::meaning::{
    LimitReader, Sources, byte, celsius, checksum, company_id, copper_with_diagnostics, dark_lane,
    date, doubts, filled, flags, four_words, identifier_copies, milliamps, milliwatts, no_light,
    no_limits, no_optical_limits, settle_speeds, text, volts,
};
use crate::module::memory::{Bit, LOWER, PAGE_00, PAGE_03};
use crate::module::{
    Calibration, Carries, Family, Field, Flags, InterfaceType, Lane, Memory, Module, Reach,
    RxPowerKind, Thresholds, codes,
};
use crate::quantity::{Mbps, Metres, Nanometres};
use crate::snapshot::{Fact, Missing, Reason};

const GUIDE: &str = "40G QSFP memory-map guide, bytes 0-3";
const KERNEL: &str = "kernel drivers, SFF-8636 Rev 2.4";
const MEMORY: &str = "SFF-8636, from memory";

/// A row of the lower memory.
const fn lower<const N: usize, T>(
    label: &'static str,
    first_byte: u8,
    meaning: fn([u8; N]) -> T,
    source: &'static str,
) -> Field<N, T> {
    Field::row(label, LOWER, first_byte, meaning, source)
}

/// A row of upper page 00h.
const fn upper<const N: usize, T>(
    label: &'static str,
    first_byte: u8,
    meaning: fn([u8; N]) -> T,
    source: &'static str,
) -> Field<N, T> {
    Field::row(label, PAGE_00, first_byte, meaning, source)
}

/// A row of upper page 03h.
const fn limits(label: &'static str, first_byte: u8, source: &'static str) -> Field<8, [u16; 4]> {
    Field::row(label, PAGE_03, first_byte, four_words, source)
}

const fn option_bit(byte: u8, bit: u8) -> Bit {
    Bit { place: PAGE_00, byte, bit }
}

// Lower memory.
const IDENTIFIER: Field<1, u8> = lower("Identifier", 0, byte, "SFF-8024");
const REVISION: Field<1, u8> = lower("Revision compliance", 1, byte, KERNEL);
const STATUS: Field<1, u8> = lower("Status", 2, byte, GUIDE);
const TX_LOS: Field<1, u8> = lower("Tx LOS", 3, byte, GUIDE).only_if(option_bit(195, 1));
const RX_LOS: Field<1, u8> = lower("Rx LOS", 3, byte, GUIDE);
const TX_FAULT: Field<1, u8> = lower("Tx fault", 4, byte, MEMORY).only_if(option_bit(195, 3));
const TX_LOL: Field<1, u8> = lower("Tx CDR LOL", 5, byte, MEMORY).only_if(option_bit(194, 5));
const RX_LOL: Field<1, u8> = lower("Rx CDR LOL", 5, byte, MEMORY).only_if(option_bit(194, 4));
const TEMPERATURE_FLAGS: Field<1, u8> = lower("Temperature flags", 6, byte, KERNEL);
const VCC_FLAGS: Field<1, u8> = lower("Vcc flags", 7, byte, KERNEL);
const RX_POWER_FLAGS: Field<2, [u8; 2]> = lower("Rx power flags", 9, |b| b, KERNEL);
const BIAS_FLAGS: Field<2, [u8; 2]> = lower("Tx bias flags", 11, |b| b, KERNEL);
const TX_POWER_FLAGS: Field<2, [u8; 2]> = lower("Tx power flags", 13, |b| b, KERNEL);
const TEMPERATURE: Field<2, u16> = lower("Temperature", 22, u16::from_be_bytes, MEMORY);
const VCC: Field<2, u16> = lower("Vcc", 26, u16::from_be_bytes, MEMORY);
// Lane 1; the others stand behind it.
const RX_POWER: Field<2, u16> = lower("Rx power", 34, u16::from_be_bytes, MEMORY);
const BIAS: Field<2, u16> = lower("Tx bias", 42, u16::from_be_bytes, MEMORY);
const TX_POWER: Field<2, u16> =
    lower("Tx power", 50, u16::from_be_bytes, MEMORY).only_if(option_bit(220, 2));
const MONITORS: Field<24, [u8; 24]> = lower("lane monitors", 34, |b| b, MEMORY);
const TX_DISABLE: Field<1, u8> = lower("Tx disable", 86, byte, KERNEL).only_if(option_bit(195, 4));
const POWER_CONTROL: Field<1, u8> = lower("Power control", 93, byte, KERNEL);
const CDR_CONTROL: Field<1, u8> = lower("CDR control", 98, byte, KERNEL);
/// Bits 6-4: ends on the far side, and channels in each.
const FAR_ENDS: Field<1, u8> = lower("Far end implementation", 113, byte, MEMORY);
const MAX_POWER: Field<1, u8> = lower("Max power, 0.1 W", 107, byte, MEMORY);

// Upper page 00h.
const IDENTIFIER_COPY: Field<1, u8> = upper("Identifier", 128, byte, KERNEL);
const EXTENDED_IDENTIFIER: Field<1, u8> = upper("Extended identifier", 129, byte, KERNEL);
const CONNECTOR: Field<1, u8> = upper("Connector", 130, byte, KERNEL);
const ETHERNET_COMPLIANCE: Field<1, u8> = upper("10/40G/100G Ethernet", 131, byte, KERNEL);
const GIGABIT_COMPLIANCE: Field<1, u8> = upper("Gigabit Ethernet", 134, byte, KERNEL);
const ENCODING: Field<1, u8> = upper("Encoding", 139, byte, KERNEL);
const RATE_NOMINAL: Field<1, u8> = upper("BR, nominal, 100 MBd", 140, byte, KERNEL);
const LENGTHS: Field<5, [u8; 5]> = upper("Lengths", 142, |b| b, KERNEL);
const TECHNOLOGY: Field<1, u8> = upper("Device technology", 147, byte, KERNEL);
const VENDOR_NAME: Field<16, String> = upper("Vendor name", 148, text, KERNEL);
const VENDOR_OUI: Field<3, [u8; 3]> = upper("Vendor OUI", 165, |b| b, KERNEL);
const VENDOR_PN: Field<16, String> = upper("Vendor PN", 168, text, KERNEL);
const VENDOR_REV: Field<2, String> = upper("Vendor rev", 184, text, KERNEL);
const WAVELENGTH: Field<2, u16> = upper("Wavelength, 0.05 nm", 186, u16::from_be_bytes, KERNEL);
const EXTENDED: Field<1, u8> = upper("Extended specification compliance", 192, byte, MEMORY);
const OPTIONS: Field<3, [u8; 3]> = upper("Options", 193, |b| b, KERNEL);
const VENDOR_SN: Field<16, String> = upper("Vendor SN", 196, text, KERNEL);
const DATE_CODE: Field<8, String> = upper("Date code", 212, text, KERNEL);
const DIAGNOSTIC_TYPE: Field<1, u8> = upper("Diagnostic monitoring type", 220, byte, MEMORY);
const RATE_EXTENDED: Field<1, u8> = upper("BR, nominal, 250 MBd", 222, byte, KERNEL);

// Upper page 03h. One set serves all lanes.
const TEMPERATURE_LIMITS: Field<8, [u16; 4]> = limits("Temperature limits", 128, KERNEL);
const VCC_LIMITS: Field<8, [u16; 4]> = limits("Vcc limits", 144, MEMORY);
const RX_POWER_LIMITS: Field<8, [u16; 4]> = limits("Rx power limits", 176, MEMORY);
const BIAS_LIMITS: Field<8, [u16; 4]> = limits("Tx bias limits", 184, MEMORY);
const TX_POWER_LIMITS: Field<8, [u16; 4]> = limits("Tx power limits", 192, MEMORY);

/// Compliance bits: byte, bit, name, what it leaves on (bits 5, 4, 3 and 0 of 131 and 1 and 0 of
/// 134 from the kernel, the others from memory).
const COMPLIANCE_BITS: &[(u8, u8, &str, Carries)] = &[
    (131, 6, "10GBASE-LRM", Carries::MultimodeFibre),
    (131, 5, "10GBASE-LR", Carries::SingleModeFibre),
    (131, 4, "10GBASE-SR", Carries::MultimodeFibre),
    (131, 3, "40GBASE-CR4", Carries::PassiveCopper),
    (131, 2, "40GBASE-SR4", Carries::MultimodeFibre),
    (131, 1, "40GBASE-LR4", Carries::SingleModeFibre),
    (131, 0, "40G active cable", Carries::ActiveCable),
    (134, 3, "1000BASE-T", Carries::TwistedPair),
    (134, 2, "1000BASE-CX", Carries::PassiveCopper),
    (134, 1, "1000BASE-LX", Carries::SingleModeFibre),
    (134, 0, "1000BASE-SX", Carries::MultimodeFibre),
];

/// Option bits in words: byte, bit (194 bits 5-0 and 195 bits 5-0 from memory).
const OPTION_WORDS: &[(u8, u8, &str)] = &[
    (193, 3, "adaptive transmit equalizer"),
    (193, 2, "programmable transmit equalizer"),
    (193, 1, "programmable receive emphasis"),
    (193, 0, "programmable receive amplitude"),
    (194, 7, "transmit clock recovery can be switched"),
    (194, 6, "receive clock recovery can be switched"),
    (194, 5, "transmit loss of lock"),
    (194, 4, "receive loss of lock"),
    (194, 3, "receive squelch disable"),
    (194, 2, "receive output disable"),
    (194, 1, "transmit squelch disable"),
    (194, 0, "transmit squelch"),
    (195, 5, "rate select"),
    (195, 4, "transmitter disable"),
    (195, 3, "transmitter fault"),
    (195, 1, "transmit loss of signal"),
];

/// Decodes the module.
pub fn module(memory: &Memory, recognised_by: String) -> Module {
    let (memory, silent) = memory.without_silent_pages(&[PAGE_00, PAGE_03]);
    let memory = &memory;
    let mut module = Module {
        family: Family::Sff8636,
        recognised_by,
        flags_latched: true,
        doubts: silent,
        ..Module::unknown()
    };
    identity(memory, &mut module);
    let extended = interface_types(memory, &mut module);
    medium(memory, &mut module, extended);
    options(memory, &mut module);
    module.checksums = vec![
        checksum(memory, "CC_BASE", "page 00h bytes 128-190", PAGE_00, (128, 190), 191),
        checksum(memory, "CC_EXT", "page 00h bytes 192-222", PAGE_00, (192, 222), 223),
    ];
    readings(memory, &mut module, extended);
    thresholds(memory, &mut module);
    let mut found = doubts(&module, &SOURCES);
    found.extend(identifier_copies(&memory.read(&IDENTIFIER), &memory.read(&IDENTIFIER_COPY)));
    if module.diagnostics == Fact::Known(true) {
        let source = "SFF-8636 page 00h bytes 131, 147, 192 and 220";
        found.extend(copper_with_diagnostics(module.carries, source));
    }
    module.doubts.extend(found);
    module
}

fn identity(memory: &Memory, module: &mut Module) {
    module.form_factor = memory.read(&IDENTIFIER).map(codes::identifier);
    module.connector = memory.read(&CONNECTOR).map(codes::connector);
    module.vendor_name = filled(memory.read(&VENDOR_NAME));
    module.vendor_oui = company_id(memory.read(&VENDOR_OUI));
    module.part_number = filled(memory.read(&VENDOR_PN));
    module.revision = filled(memory.read(&VENDOR_REV));
    module.serial_number = filled(memory.read(&VENDOR_SN));
    module.date_code = filled(memory.read(&DATE_CODE)).map(|code| date(&code));
    module.encoding = memory.read(&ENCODING).map(codes::encoding_sff8636);
    module.technology = memory.read(&TECHNOLOGY).map(|bits| codes::technology(bits >> 4));
    module.standard_revision = memory.read(&REVISION).map(revision);
}

fn revision(code: u8) -> String {
    let name = match code {
        0x00 => "not told",
        0x01 | 0x02 => "SFF-8436",
        0x03 => "SFF-8636 Rev 1.3",
        0x04 => "SFF-8636 Rev 1.4 (from memory)",
        0x05 => "SFF-8636 Rev 1.5 (from memory)",
        0x06 => "SFF-8636 Rev 2.0 (from memory)",
        0x07 => "SFF-8636 Rev 2.5 to 2.7 (from memory)",
        0x08 => "SFF-8636 Rev 2.8 to 2.10 (from memory)",
        _ => "SFF-8636, later than Rev 2.10",
    };
    name.into()
}

/// The interface types; hands back the extended compliance row, if there is one.
fn interface_types(memory: &Memory, module: &mut Module) -> Claim {
    for (byte, bit, name, _) in COMPLIANCE_BITS {
        let row = if *byte == 131 { &ETHERNET_COMPLIANCE } else { &GIGABIT_COMPLIANCE };
        if let Fact::Known(bits) = memory.read(row)
            && bits & (1 << bit) != 0
        {
            module.interface_types.push(InterfaceType {
                name: (*name).to_owned(),
                speed: crate::standards::names::speed_of(name),
                source: format!("SFF-8636 page 00h byte {byte} bit {bit}"),
            });
        }
    }
    // Byte 192 came with SFF-8636; before it, byte 131 bit 7 must point there.
    let points_there = memory.read(&ETHERNET_COMPLIANCE).known().is_some_and(|b| b & 0x80 != 0);
    let sff8636 = memory.read(&REVISION).known().is_some_and(|revision| *revision >= 3);
    match memory.read(&EXTENDED) {
        Fact::Known(code) if code != 0 && (points_there || sff8636) => {
            let row = codes::extended_four_lanes(code);
            module.fec = row.and_then(|row| row.fec);
            module.interface_types.push(match row {
                Some(row) => InterfaceType {
                    name: row.name.to_owned(),
                    speed: row.speed,
                    source: format!(
                        "SFF-8636 page 00h byte 192 = {code:02x}h, SFF-8024 table 4-4{}",
                        if row.from_memory { ", from memory" } else { "" }
                    ),
                },
                None => InterfaceType {
                    name: format!("extended compliance {code:02x}h"),
                    speed: None,
                    source: "SFF-8636 page 00h byte 192, a code that is not listed".into(),
                },
            });
            row.map_or(Claim::NotListed, Claim::Row)
        }
        _ => Claim::None,
    }
}

/// What byte 192 claims.
#[derive(Clone, Copy)]
enum Claim {
    None,
    NotListed,
    Row(&'static codes::Extended),
}

impl Claim {
    fn row(self) -> Option<&'static codes::Extended> {
        match self {
            Self::Row(row) => Some(row),
            Self::None | Self::NotListed => None,
        }
    }

    /// Media lanes, where they can be told: four unless byte 192 says otherwise.
    fn media_lanes(self) -> Option<u8> {
        match self {
            Self::None => Some(4),
            Self::NotListed => None,
            Self::Row(row) => row.media_lanes,
        }
    }
}

/// The MAC rate of four lanes with a nominal signalling rate each, with slack for its rounding.
fn speed_of_four(megabaud: u32, pam4: bool) -> Option<Mbps> {
    match megabaud {
        9_900..=10_600 => Some(Mbps(40_000)),
        25_000..=26_000 => Some(Mbps(100_000)),
        26_250..=26_750 if pam4 => Some(Mbps(200_000)),
        _ => None,
    }
}

fn medium(memory: &Memory, module: &mut Module, extended: Claim) {
    module.nominal_megabaud = memory.read(&RATE_NOMINAL).and_then(|nominal| match nominal {
        0 => Fact::missing_with(Reason::NotReported, "the module leaves its rate empty"),
        0xff => memory.read(&RATE_EXTENDED).and_then(|quarter| {
            if quarter == 0 {
                Fact::missing_with(Reason::NotReported, "the module leaves its rate empty")
            } else {
                Fact::Known(u32::from(quarter) * 250)
            }
        }),
        nominal => Fact::Known(u32::from(nominal) * 100),
    });
    let pam4 = memory.read(&ENCODING) == Fact::Known(codes::PAM4);
    let by_rate = module.nominal_megabaud.known().and_then(|megabaud| {
        let speed = (extended.media_lanes() == Some(4)).then(|| speed_of_four(*megabaud, pam4));
        Some((
            speed.flatten()?,
            format!("four lanes at the nominal rate of {megabaud} MBd, SFF-8636 bytes 140 and 222"),
        ))
    });
    let why_not = match memory.read(&ETHERNET_COMPLIANCE) {
        Fact::Known(_) => Missing::with(
            Reason::NotReported,
            match extended {
                Claim::Row(row) => format!("{} tells no single speed", row.name),
                _ => "neither the compliance codes nor the nominal rate tell a speed".to_owned(),
            },
        ),
        Fact::Missing(why) => why,
    };
    settle_speeds(module, by_rate, &why_not);
    module.carries = carries(memory, module, extended);
    module.wavelength = if module.carries.is_optical() {
        memory.read(&WAVELENGTH).and_then(|raw| match raw {
            0 => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
            raw => Fact::Known(Nanometres(f64::from(raw) * 0.05)),
        })
    } else {
        not_for(module.carries, memory.read(&WAVELENGTH))
    };
    lengths(memory, module);
}

/// Why an optical fact is not there for a module that is no optic.
fn not_for<T>(carries: Carries, read: Fact<u16>) -> Fact<T> {
    match read {
        Fact::Missing(why) => Fact::Missing(why),
        Fact::Known(_) => Fact::missing_with(
            Reason::NotApplicable,
            format!("the module carries {}", carries.text()),
        ),
    }
}

fn carries(memory: &Memory, module: &Module, extended: Claim) -> Carries {
    let technology = memory
        .read(&TECHNOLOGY)
        .known()
        .map_or(Carries::Unknown, |bits| codes::technology_carries(bits >> 4));
    let connector = memory.read(&CONNECTOR);
    // A copper transmitter is copper, whatever it claims to be compatible with.
    if matches!(technology, Carries::PassiveCopper | Carries::ActiveCable) {
        return technology;
    }
    // The fastest type decides: its code is the one the module is sold for.
    let claimed = extended.row().map(|row| row.carries).or_else(|| {
        let fastest = module.interface_types.iter().max_by_key(|claimed| claimed.speed)?;
        COMPLIANCE_BITS.iter().find(|(_, _, name, _)| *name == fastest.name).map(|row| row.3)
    });
    let found = match (claimed, &connector) {
        (_, Fact::Known(0x22)) => Carries::TwistedPair,
        (Some(carries), _) => carries,
        (None, Fact::Known(0x21)) => Carries::PassiveCopper,
        // Byte 147 = 0 is both "850 nm" and "left empty": a wavelength must stand beside it.
        (None, _) if memory.read(&WAVELENGTH).known().is_some_and(|raw| *raw != 0) => technology,
        (None, Fact::Known(0x01 | 0x07 | 0x0c)) => Carries::Fibre,
        _ => Carries::Unknown,
    };
    // Optics whose fibre cannot be taken off are a cable.
    if found.is_optical() && connector == Fact::Known(0x23) { Carries::ActiveCable } else { found }
}

fn lengths(memory: &Memory, module: &mut Module) {
    let [kilometres, om3, om2, om1, om4_or_cable] = match memory.read(&LENGTHS) {
        Fact::Known(lengths) => lengths,
        Fact::Missing(why) => {
            module.cable_length = Fact::Missing(why);
            return;
        }
    };
    let mut reach = |medium: &'static str, raw: u8, unit: f64| {
        if raw != 0 {
            module.reaches.push(Reach {
                medium,
                metres: Metres(f64::from(if raw == 255 { 254 } else { raw }) * unit),
                at_least: raw == 255,
            });
        }
    };
    reach("single-mode fibre", kilometres, 1000.0);
    reach("OM1", om1, 1.0);
    reach("OM2", om2, 1.0);
    reach("OM3", om3, 2.0);
    if matches!(module.carries, Carries::PassiveCopper | Carries::ActiveCable) {
        module.cable_length = match om4_or_cable {
            0 => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
            255 => Fact::missing_with(Reason::NotReported, "more than 254 m"),
            metres => Fact::Known(Metres(f64::from(metres))),
        };
        module.far_ends = memory.read(&FAR_ENDS).and_then(|raw| match (raw >> 4) & 7 {
            1..=3 => Fact::Known(1),
            4 => Fact::Known(4),
            5 | 6 => Fact::Known(2),
            _ => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
        });
    } else {
        reach("OM4", om4_or_cable, 2.0);
        module.cable_length = Fact::missing_with(Reason::NotApplicable, "this is no cable");
    }
}

fn options(memory: &Memory, module: &mut Module) {
    if let Fact::Known(bytes) = memory.read(&OPTIONS) {
        for (byte, bit, words) in OPTION_WORDS {
            let value = bytes.get(usize::from(byte - 193)).copied().unwrap_or(0);
            if value & (1 << bit) != 0 {
                module.options.push(words);
            }
        }
    }
    let extended = memory.read(&EXTENDED_IDENTIFIER);
    if let Fact::Known(bits) = extended {
        for (mask, words) in [(8, "transmit clock recovery"), (4, "receive clock recovery")] {
            if bits & mask != 0 {
                module.options.push(words);
            }
        }
    }
    module.power_class = extended.clone().and_then(|bits| power_class(bits, memory));
    if let Fact::Known(status) = memory.read(&STATUS)
        && status & 0x02 == 0
    {
        module.status.push("the module asks for attention (interrupt)");
    }
    let control = memory.read(&POWER_CONTROL);
    module.low_power = control.clone().and_then(|control| match control & 0x03 {
        0x03 => Fact::Known(true),
        0x01 => Fact::Known(false),
        // Without the override bit the pin decides.
        _ => Fact::missing_with(
            Reason::NotReported,
            "the module's low-power pin decides, and no byte tells its level",
        ),
    });
    module.power_withheld = extended.clone().and_then(|bits| {
        control.map(|control| {
            let (class_5_to_7, class_8) = (bits & 0x03 != 0, bits & 0x20 != 0);
            (class_8 && control & 0x08 == 0) || (!class_8 && class_5_to_7 && control & 0x04 == 0)
        })
    });
    if module.low_power == Fact::Known(true) {
        module.status.push("low-power mode is set by the host (byte 93)");
    }
    if module.power_withheld == Fact::Known(true) {
        module.status.push("power above class 4 is not allowed by the host (byte 93)");
    }
    if let (Fact::Known(bits), Fact::Known([_, switches, _]), Fact::Known(on)) =
        (&extended, memory.read(&OPTIONS), memory.read(&CDR_CONTROL))
    {
        // It can be off only where it is there and can be switched.
        if bits & 0x08 != 0 && switches & 0x80 != 0 && on & 0xf0 != 0xf0 {
            module.status.push("transmit clock recovery is switched off on some lane");
        }
        if bits & 0x04 != 0 && switches & 0x40 != 0 && on & 0x0f != 0x0f {
            module.status.push("receive clock recovery is switched off on some lane");
        }
    }
}

/// Byte 129 (kernel); class 8 and its limit in byte 107 from memory.
fn power_class(bits: u8, memory: &Memory) -> Fact<String> {
    if bits & 0x20 != 0 {
        return memory.read(&MAX_POWER).map(|tenths| {
            format!("power class 8 (up to {:.1} W; from memory)", f64::from(tenths) / 10.0)
        });
    }
    let text = match (bits & 0x03, bits >> 6) {
        (0, 0) => "power class 1 (up to 1.5 W)",
        (0, 1) => "power class 2 (up to 2.0 W)",
        (0, 2) => "power class 3 (up to 2.5 W)",
        (0, _) => "power class 4 (up to 3.5 W)",
        (1, _) => "power class 5 (up to 4.0 W)",
        (2, _) => "power class 6 (up to 4.5 W)",
        _ => "power class 7 (up to 5.0 W)",
    };
    Fact::Known(text.into())
}

/// What a QSFP's memory has no place for.
fn not_in_this_map() -> Missing {
    Missing::with(Reason::NotApplicable, "SFF-8636 has no such state")
}

/// One of temperature and supply. Rev 2.8 and later say in byte 220 whether they are there;
/// older modules leave the bits zero and measure all the same (from memory), so there only a
/// reading of zero in both counts as not implemented.
fn module_monitor(memory: &Memory, row: &Field<2, u16>, bit: u8) -> Fact<u16> {
    let told = memory.read(&DIAGNOSTIC_TYPE).map(|bits| bits & (1 << bit) != 0);
    let none = || {
        Fact::missing_with(
            Reason::NotImplemented,
            format!("{}: page 00h byte 220 bit {bit} is 0", row.label),
        )
    };
    match (told, memory.read(&REVISION)) {
        (Fact::Known(true), _) => memory.read(row),
        (Fact::Known(false), Fact::Known(8..)) => none(),
        (Fact::Missing(why), Fact::Known(8..)) | (_, Fact::Missing(why)) => Fact::Missing(why),
        (_, Fact::Known(_)) => match (memory.read(&TEMPERATURE), memory.read(&VCC)) {
            (Fact::Known(0), Fact::Known(0)) => none(),
            _ => memory.read(row),
        },
    }
}

fn readings(memory: &Memory, module: &mut Module, extended: Claim) {
    let status = memory.read(&STATUS);
    module.data_ready = status.map(|bits| bits & 0x01 == 0);
    let not_ready = module.data_ready == Fact::Known(false);
    let dark = no_light(module.carries);
    let temperature = module_monitor(memory, &TEMPERATURE, 5);
    let supply = module_monitor(memory, &VCC, 4);
    // Nothing measures 0 V and no lane anything: these monitors are not there.
    let silent = supply.known().is_none_or(|raw| *raw == 0)
        && memory.read(&MONITORS) == Fact::Known([0; 24]);
    let none = Missing::with(Reason::NotImplemented, "every lane monitor reads zero");
    let no_lanes = dark.clone().or(silent.then_some(none));
    let there = |fact: &Fact<u16>| match fact {
        Fact::Known(_) => Fact::Known(true),
        Fact::Missing(why) if why.reason == Reason::NotImplemented => Fact::Known(false),
        Fact::Missing(why) => Fact::Missing(why.clone()),
    };
    module.diagnostics = match (there(&temperature), there(&supply), &no_lanes) {
        (Fact::Known(true), _, _) | (_, Fact::Known(true), _) => Fact::Known(true),
        (Fact::Missing(why), _, _) | (_, Fact::Missing(why), _) => Fact::Missing(why),
        (_, _, no_lanes) => Fact::Known(no_lanes.is_none()),
    };
    if module.diagnostics == Fact::Known(true) {
        module.calibration = Fact::Known(Calibration::Internal);
    }
    module.rx_power_kind = match &dark {
        Some(why) => Fact::Missing(why.clone()),
        None => memory.read(&DIAGNOSTIC_TYPE).map(|bits| {
            if bits & 0x08 != 0 { RxPowerKind::Average } else { RxPowerKind::ModulationAmplitude }
        }),
    };
    // The flags of a quantity that is not measured say nothing.
    module.temperature_flags =
        ready(temperature.clone(), not_ready).and_then(|_| high_nibble(memory, &TEMPERATURE_FLAGS));
    module.supply_flags =
        ready(supply.clone(), not_ready).and_then(|_| high_nibble(memory, &VCC_FLAGS));
    module.temperature = ready(temperature, not_ready).map(celsius);
    module.supply = ready(supply, not_ready).map(volts);
    module.state = Fact::Missing(not_in_this_map());
    let media_lanes = extended.media_lanes().unwrap_or(4);
    module.lanes = (1..=4)
        .map(|number| Lane {
            in_use: number <= media_lanes,
            ..lane(memory, number, no_lanes.as_ref(), not_ready)
        })
        .collect();
}

/// A reading, unless the module says that its data is not ready.
fn ready<T>(fact: Fact<T>, not_ready: bool) -> Fact<T> {
    fact.and_then(|value| {
        if not_ready {
            Fact::missing_with(Reason::NotReported, "the module says that data is not ready")
        } else {
            Fact::Known(value)
        }
    })
}

/// Flags in the high half of a byte, high alarm on top.
fn high_nibble(memory: &Memory, row: &Field<1, u8>) -> Fact<Flags> {
    memory.read(row).map(|byte| flags(byte >> 4))
}

/// One lane; without monitors only what is no measurement of light is read.
fn lane(memory: &Memory, number: u8, no_monitors: Option<&Missing>, not_ready: bool) -> Lane {
    // Bits 3-0 are lanes 4-1, bits 7-4 the same four of another thing.
    let bit = |row: &Field<1, u8>, high: bool| {
        let shift = if high { number + 3 } else { number - 1 };
        memory.read(row).map(|byte| byte & (1 << shift) != 0)
    };
    let mut lane = Lane {
        number,
        in_use: true,
        tx_los: bit(&TX_LOS, true),
        tx_fault: bit(&TX_FAULT, false),
        tx_loss_of_lock: bit(&TX_LOL, true),
        rx_loss_of_lock: bit(&RX_LOL, false),
        rx_los: bit(&RX_LOS, false),
        tx_disabled: bit(&TX_DISABLE, false),
        data_path_state: Fact::Missing(not_in_this_map()),
        ..dark_lane(number, &Missing::from(Reason::NotReported))
    };
    if let Some(why) = no_monitors {
        let missing = dark_lane(number, why);
        lane.bias = missing.bias;
        lane.tx_power = missing.tx_power;
        lane.rx_power = missing.rx_power;
        lane.bias_flags = missing.bias_flags;
        lane.tx_power_flags = missing.tx_power_flags;
        lane.rx_power_flags = missing.rx_power_flags;
        if why.reason == Reason::NotApplicable {
            lane.rx_los = Fact::Missing(why.clone());
        }
        return lane;
    }
    let monitor = |row: Field<2, u16>| ready(memory.read(&row.lane(number)), not_ready);
    // Two lanes a byte, the lower lane in the high half (from memory), high alarm on top.
    let flagged = |row: &Field<2, [u8; 2]>, reading: &Fact<u16>| {
        reading.clone().and_then(|_| memory.read(row)).map(|[first, second]| {
            let byte = if number <= 2 { first } else { second };
            flags(if number % 2 == 1 { byte >> 4 } else { byte & 0x0f })
        })
    };
    let (bias, tx_power, rx_power) = (monitor(BIAS), monitor(TX_POWER), monitor(RX_POWER));
    lane.bias_flags = flagged(&BIAS_FLAGS, &bias);
    lane.tx_power_flags = flagged(&TX_POWER_FLAGS, &tx_power);
    lane.rx_power_flags = flagged(&RX_POWER_FLAGS, &rx_power);
    lane.bias = bias.map(milliamps);
    lane.tx_power = tx_power.map(milliwatts);
    lane.rx_power = rx_power.map(milliwatts);
    lane
}

fn thresholds(memory: &Memory, module: &mut Module) {
    module.thresholds_source =
        "the module's own limits, page 03h bytes 128-199 (places partly from memory)".into();
    match memory.read(&STATUS) {
        Fact::Known(bits) if bits & 0x04 != 0 => {
            let why = "the module has flat memory, so no page 03h";
            module.thresholds = no_limits(&Missing::with(Reason::NotImplemented, why));
        }
        Fact::Known(_) => {
            let mut limits = LimitReader::default();
            module.thresholds = Thresholds {
                temperature: limits.read("temperature", memory.read(&TEMPERATURE_LIMITS), celsius),
                supply: limits.read("supply", memory.read(&VCC_LIMITS), volts),
                bias: limits.read("laser bias", memory.read(&BIAS_LIMITS), milliamps),
                tx_power: limits.read("transmit power", memory.read(&TX_POWER_LIMITS), milliwatts),
                rx_power: limits.read("receive power", memory.read(&RX_POWER_LIMITS), milliwatts),
            };
            module.doubts.extend(limits.doubt("SFF-8636 page 03h bytes 128-199"));
        }
        Fact::Missing(why) => module.thresholds = no_limits(&why),
    }
    if let Some(why) = no_light(module.carries) {
        no_optical_limits(&mut module.thresholds, &why);
    }
}

const SOURCES: Sources = Sources {
    checksums: "SFF-8636 checksums",
    types_and_wavelength: "SFF-8636 page 00h bytes 131-138, 186-187 and 192",
    types_and_rate: "SFF-8636 page 00h bytes 131-138, 140, 192 and 222",
    temperature: "SFF-8636 lower memory bytes 22-23",
    supply: "SFF-8636 lower memory bytes 26-27",
    power: "SFF-8636 lower memory bytes 34-57",
    lanes: 4,
};

#[cfg(test)]
mod tests;
