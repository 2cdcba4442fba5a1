//! SFF-8472: SFP, SFP+, SFP28. Two 256-byte memories, A0h identity and A2h diagnostics.
//!
//! Reads like the standard's tables: the rows first, then what they mean together. In: memory.
//! Out: a [`Module`]. A module without diagnostics, a copper cable and a twisted-pair module are
//! normal: what they do not have is *not implemented* or *does not apply*, never zero.
//! Sources: SFF-8472 Rev 9.3 (tables 3.1-3.18), Rev 10.4 table 3.1, and the kernel's SFP driver
//! for later fields.

use crate::module::meaning::{
    LimitReader, Sources, byte, checksum, company_id, copper_with_diagnostics, dark_lane, date,
    doubts, filled, four_words, no_light, no_limits, no_optical_limits, settle_speeds, text,
};
use crate::module::memory::{A0, A2, all_alike};
use crate::module::{
    Calibration, Carries, Doubt, DoubtKind, Family, Field, Flags, InterfaceType, Lane, Memory,
    Module, Reach, RxPowerKind, Thresholds, codes,
};
use crate::quantity::{Celsius, Mbps, Metres, Milliamps, Milliwatts, Nanometres, Volts};
use crate::snapshot::{Fact, Missing, Reason};

/// A row of A0h.
const fn a0<const N: usize, T>(
    label: &'static str,
    first_byte: u8,
    meaning: fn([u8; N]) -> T,
    source: &'static str,
) -> Field<N, T> {
    Field::row(label, A0, first_byte, meaning, source)
}

/// A row of A2h.
const fn a2<const N: usize, T>(
    label: &'static str,
    first_byte: u8,
    meaning: fn([u8; N]) -> T,
    source: &'static str,
) -> Field<N, T> {
    Field::row(label, A2, first_byte, meaning, source)
}

const T31: &str = "SFF-8472 Rev 10.4 table 3.1";
const T315: &str = "SFF-8472 Rev 9.3 table 3.15";
const T317: &str = "SFF-8472 Rev 9.3 table 3.17";

// A0h, identity.
const IDENTIFIER: Field<1, u8> = a0("Identifier", 0, byte, T31);
const CONNECTOR: Field<1, u8> = a0("Connector", 2, byte, T31);
const COMPLIANCE: Field<8, [u8; 8]> = a0("Transceiver compliance codes", 3, |b| b, T31);
const ENCODING: Field<1, u8> = a0("Encoding", 11, byte, T31);
const RATE_NOMINAL: Field<1, u8> = a0("BR, nominal, 100 MBd", 12, byte, T31);
const RATE_IDENTIFIER: Field<1, u8> = a0("Rate identifier", 13, byte, T31);
const LENGTHS: Field<6, [u8; 6]> = a0("Lengths", 14, |b| b, T31);
const VENDOR_NAME: Field<16, String> = a0("Vendor name", 20, text, T31);
const EXTENDED: Field<1, u8> = a0("Extended specification compliance", 36, byte, T31);
const VENDOR_OUI: Field<3, [u8; 3]> = a0("Vendor OUI", 37, |b| b, T31);
const VENDOR_PN: Field<16, String> = a0("Vendor PN", 40, text, T31);
const VENDOR_REV: Field<4, String> = a0("Vendor rev", 56, text, T31);
const WAVELENGTH: Field<2, [u8; 2]> = a0("Wavelength, or cable compliance", 60, |b| b, T31);
const OPTIONS: Field<2, u16> = a0("Options", 64, u16::from_be_bytes, T31);
const RATE_MAX: Field<1, u8> = a0("BR, max", 66, byte, T31);
const VENDOR_SN: Field<16, String> = a0("Vendor SN", 68, text, T31);
const DATE_CODE: Field<8, String> = a0("Date code", 84, text, T31);
const DIAGNOSTIC_TYPE: Field<1, u8> = a0("Diagnostic monitoring type", 92, byte, T31);
const ENHANCED_OPTIONS: Field<1, u8> = a0("Enhanced options", 93, byte, T31);
const REVISION: Field<1, u8> = a0("SFF-8472 compliance", 94, byte, T31);

// A2h, diagnostics.
const TEMPERATURE_LIMITS: Field<8, [u16; 4]> = a2("Temperature limits", 0, four_words, T315);
const VCC_LIMITS: Field<8, [u16; 4]> = a2("Vcc limits", 8, four_words, T315);
const BIAS_LIMITS: Field<8, [u16; 4]> = a2("TX bias limits", 16, four_words, T315);
const TX_POWER_LIMITS: Field<8, [u16; 4]> = a2("TX power limits", 24, four_words, T315);
const RX_POWER_LIMITS: Field<8, [u16; 4]> = a2("RX power limits", 32, four_words, T315);
const CONSTANTS: Field<36, [u8; 36]> = a2("Calibration constants", 56, |b| b, "table 3.16");
const TEMPERATURE: Field<2, u16> = a2("Temperature", 96, u16::from_be_bytes, T317);
const VCC: Field<2, u16> = a2("Vcc", 98, u16::from_be_bytes, T317);
const TX_BIAS: Field<2, u16> = a2("TX bias", 100, u16::from_be_bytes, T317);
const TX_POWER: Field<2, u16> = a2("TX power", 102, u16::from_be_bytes, T317);
const RX_POWER: Field<2, u16> = a2("RX power", 104, u16::from_be_bytes, T317);
const STATUS: Field<1, u8> = a2("Status and control", 110, byte, T317);
const ALARMS: Field<2, u16> = a2("Alarm flags", 112, u16::from_be_bytes, "table 3.18");
const WARNINGS: Field<2, u16> = a2("Warning flags", 116, u16::from_be_bytes, "table 3.18");
const EXTENDED_STATUS: Field<2, [u8; 2]> = a2("Extended status", 118, |b| b, "kernel, SFP driver");

/// Compliance bits that name an Ethernet interface type: byte, bit, name, what it leaves on.
const ETHERNET_BITS: &[(u8, u8, &str, Carries)] = &[
    (3, 7, "10GBASE-ER", Carries::SingleModeFibre),
    (3, 6, "10GBASE-LRM", Carries::MultimodeFibre),
    (3, 5, "10GBASE-LR", Carries::SingleModeFibre),
    (3, 4, "10GBASE-SR", Carries::MultimodeFibre),
    (6, 7, "1000BASE-PX", Carries::SingleModeFibre),
    (6, 6, "1000BASE-BX10", Carries::SingleModeFibre),
    (6, 5, "100BASE-FX", Carries::MultimodeFibre),
    (6, 4, "100BASE-LX10", Carries::SingleModeFibre),
    (6, 3, "1000BASE-T", Carries::TwistedPair),
    (6, 2, "1000BASE-CX", Carries::PassiveCopper),
    (6, 1, "1000BASE-LX", Carries::SingleModeFibre),
    (6, 0, "1000BASE-SX", Carries::MultimodeFibre),
];

/// Compliance bits of other standards: byte, bit, words. The cable bits of byte 8 are not here.
#[rustfmt::skip]
const OTHER_BITS: &[(u8, u8, &str)] = &[
    (3, 3, "InfiniBand 1X SX"),
    (3, 2, "InfiniBand 1X LX"),
    (3, 1, "InfiniBand 1X active copper"),
    (3, 0, "InfiniBand 1X passive copper"),
    (4, 7, "ESCON multimode LED"),
    (4, 6, "ESCON single-mode laser"),
    (4, 5, "SONET OC-192 short reach"),
    (4, 4, "SONET reach bit 1"),
    (4, 3, "SONET reach bit 2"),
    (4, 2, "SONET OC-48 long reach"),
    (4, 1, "SONET OC-48 intermediate reach"),
    (4, 0, "SONET OC-48 short reach"),
    (5, 6, "SONET OC-12 single-mode long reach"),
    (5, 5, "SONET OC-12 single-mode intermediate reach"),
    (5, 4, "SONET OC-12 short reach"),
    (5, 2, "SONET OC-3 single-mode long reach"),
    (5, 1, "SONET OC-3 single-mode intermediate reach"),
    (5, 0, "SONET OC-3 short reach"),
    (7, 7, "Fibre Channel very long distance"),
    (7, 6, "Fibre Channel short distance"),
    (7, 5, "Fibre Channel intermediate distance"),
    (7, 4, "Fibre Channel long distance"),
    (7, 3, "Fibre Channel medium distance"),
    (7, 2, "Fibre Channel SA transmitter"),
    (7, 1, "Fibre Channel LC transmitter"),
    (7, 0, "Fibre Channel EL transmitter, between enclosures"),
    (8, 7, "Fibre Channel EL transmitter, within an enclosure"),
    (8, 6, "Fibre Channel SN transmitter"),
    (8, 5, "Fibre Channel SL transmitter"),
    (8, 4, "Fibre Channel LL transmitter"),
    (9, 7, "Fibre Channel on twin axial pair"),
    (9, 6, "Fibre Channel on twisted pair"),
    (9, 5, "Fibre Channel on miniature coaxial cable"),
    (9, 4, "Fibre Channel on video coaxial cable"),
    (9, 3, "Fibre Channel on 62.5 µm multimode"),
    (9, 2, "Fibre Channel on 50 µm multimode"),
    (9, 0, "Fibre Channel on single-mode"),
    (10, 7, "Fibre Channel 1200 MB/s"),
    (10, 6, "Fibre Channel 800 MB/s"),
    (10, 5, "Fibre Channel 1600 MB/s"),
    (10, 4, "Fibre Channel 400 MB/s"),
    (10, 3, "Fibre Channel 3200 MB/s"),
    (10, 2, "Fibre Channel 200 MB/s"),
    (10, 0, "Fibre Channel 100 MB/s"),
];
const PASSIVE_CABLE: u8 = 1 << 2; // byte 8
const ACTIVE_CABLE: u8 = 1 << 3; // byte 8

/// Option bits, in words (byte 64 is the high half).
const OPTION_WORDS: &[(u16, &str)] = &[
    (1 << 12, "diagnostics paging"),
    (1 << 11, "retimer or clock recovery"),
    (1 << 10, "cooled transmitter"),
    (1 << 8, "linear receiver output"),
    (1 << 7, "receiver decision threshold"),
    (1 << 6, "tunable transmitter"),
    (1 << 5, "rate select"),
    (1 << 4, "transmitter disable"),
    (1 << 3, "transmitter fault"),
    (1 << 2, "loss of signal, inverted"),
    (1 << 1, "loss of signal"),
];

/// Decodes the module.
pub fn module(memory: &Memory, recognised_by: String) -> Module {
    let mut module = Module { family: Family::Sff8472, recognised_by, ..Module::unknown() };
    let compliance = memory.read(&COMPLIANCE);
    identity(memory, &mut module, &compliance);
    rates(memory, &mut module);
    medium(memory, &mut module, &compliance);
    options(memory, &mut module);
    checksums(memory, &mut module);
    diagnostics(memory, &mut module);
    contradictions(memory, &mut module);
    module
}

fn identity(memory: &Memory, module: &mut Module, compliance: &Fact<[u8; 8]>) {
    module.form_factor = memory.read(&IDENTIFIER).map(codes::identifier);
    module.connector = memory.read(&CONNECTOR).map(codes::connector);
    module.vendor_name = filled(memory.read(&VENDOR_NAME));
    module.vendor_oui = company_id(memory.read(&VENDOR_OUI));
    module.part_number = filled(memory.read(&VENDOR_PN));
    module.revision = filled(memory.read(&VENDOR_REV));
    module.serial_number = filled(memory.read(&VENDOR_SN));
    module.date_code = filled(memory.read(&DATE_CODE)).map(|code| date(&code));
    module.encoding = memory.read(&ENCODING).map(codes::encoding_sff8472);
    module.standard_revision = memory.read(&REVISION).map(revision);
    if let Fact::Known(bits) = compliance {
        for (byte, bit, name, _) in ETHERNET_BITS {
            let value = bits.get(usize::from(byte - 3)).copied().unwrap_or(0);
            if value & (1 << bit) != 0 {
                module.interface_types.push(InterfaceType {
                    name: (*name).to_owned(),
                    speed: crate::standards::names::speed_of(name),
                    source: format!("SFF-8472 A0h byte {byte} bit {bit}"),
                });
            }
        }
        for (byte, bit, name) in OTHER_BITS {
            let value = bits.get(usize::from(byte - 3)).copied().unwrap_or(0);
            if value & (1 << bit) != 0 {
                module.other_compliance.push(name);
            }
        }
    }
    // Rev 9.x used byte 36 of DWDM modules for channel spacing.
    let dwdm = memory.read(&IDENTIFIER) == Fact::Known(0x0b);
    if let Fact::Known(code) = memory.read(&EXTENDED)
        && code != 0
        && !dwdm
    {
        match codes::extended_one_lane(code) {
            Some(row) => {
                module.fec = row.fec;
                module.interface_types.push(InterfaceType {
                    name: row.name.to_owned(),
                    speed: row.speed,
                    source: format!(
                        "SFF-8472 A0h byte 36 = {code:02x}h, SFF-8024 table 4-4{}",
                        if row.from_memory { ", from memory" } else { "" }
                    ),
                });
            }
            None => module.interface_types.push(InterfaceType {
                name: format!("extended compliance {code:02x}h"),
                speed: None,
                source: "SFF-8472 A0h byte 36, a code that is not listed".into(),
            }),
        }
    }
}

fn revision(code: u8) -> String {
    match code {
        0 => "none of SFF-8472".into(),
        1 => "SFF-8472 Rev 9.3".into(),
        2 => "SFF-8472 Rev 9.5".into(),
        3 => "SFF-8472 Rev 10.2".into(),
        4 => "SFF-8472 Rev 10.4".into(),
        5 => "SFF-8472 Rev 11.0".into(),
        6 => "SFF-8472 Rev 11.3".into(),
        7 => "SFF-8472 Rev 11.4".into(),
        _ => "SFF-8472 Rev 12.x or later".into(),
    }
}

fn rates(memory: &Memory, module: &mut Module) {
    module.nominal_megabaud = memory.read(&RATE_NOMINAL).and_then(|nominal| match nominal {
        0 => Fact::missing_with(Reason::NotReported, "the module leaves its rate empty"),
        0xff => memory.read(&RATE_MAX).map(|quarter| u32::from(quarter) * 250),
        nominal => Fact::Known(u32::from(nominal) * 100),
    });
}

/// The MAC rate that a nominal signalling rate goes with, with slack for its rounding. PAM4
/// lanes are told by the encoding only.
fn speed_of_nominal(megabaud: u32, pam4: bool) -> Option<Mbps> {
    match megabaud {
        1_200..=1_300 => Some(Mbps(1_000)),
        3_100..=3_200 => Some(Mbps(2_500)), // 3.125 GBd, 8B/10B
        9_900..=10_600 => Some(Mbps(10_000)),
        25_000..=26_000 => Some(Mbps(25_000)),
        26_250..=26_750 if pam4 => Some(Mbps(50_000)),
        _ => None,
    }
}

fn medium(memory: &Memory, module: &mut Module, compliance: &Fact<[u8; 8]>) {
    let cable = compliance.known().and_then(|bits| bits.get(5)).copied().unwrap_or(0);
    let connector = memory.read(&CONNECTOR);
    let nominal = module.nominal_megabaud.known().copied();
    let pam4 = memory.read(&ENCODING) == Fact::Known(0x08);
    let from_nominal = nominal.and_then(|megabaud| speed_of_nominal(megabaud, pam4));
    let is_cable = cable & (PASSIVE_CABLE | ACTIVE_CABLE) != 0;
    if is_cable && !module.interface_types.iter().any(|claimed| claimed.speed.is_some()) {
        let (kind, bit) =
            if cable & PASSIVE_CABLE != 0 { ("direct attach", 2) } else { ("active cable", 3) };
        let speed = from_nominal.or((nominal.is_none()).then_some(Mbps(10_000)));
        if let Some(speed) = speed {
            module.interface_types.push(InterfaceType {
                name: format!("{}G {kind}", speed.0 / 1000),
                speed: Some(speed),
                source: format!("SFF-8472 A0h byte 8 bit {bit} and nominal rate"),
            });
        }
    }
    let by_rate = from_nominal.zip(nominal).map(|(speed, megabaud)| {
        (speed, format!("the nominal rate of {megabaud} MBd, SFF-8472 A0h bytes 12 and 66"))
    });
    let why_not = match compliance {
        Fact::Known(_) => Missing::with(
            Reason::NotReported,
            "neither the compliance codes nor the nominal rate tell a speed",
        ),
        Fact::Missing(why) => why.clone(),
    };
    settle_speeds(module, by_rate, &why_not);
    let wavelength = memory.read(&WAVELENGTH);
    let nanometres = match (&wavelength, compliance) {
        (_, Fact::Known(_)) if is_cable => None,
        (Fact::Known(bytes), Fact::Known(_)) => Some(u16::from_be_bytes(*bytes)),
        _ => None,
    };
    module.carries = carries(module, memory, cable, &connector, nanometres);
    let optical = module.carries.is_optical();
    module.wavelength = match (nanometres, &wavelength) {
        _ if !optical && module.carries != Carries::Unknown => Fact::missing_with(
            Reason::NotApplicable,
            format!("the module carries {}", module.carries.text()),
        ),
        (Some(0), _) => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
        (Some(nanometres), _) => Fact::Known(Nanometres(f64::from(nanometres))),
        (None, Fact::Missing(why)) => Fact::Missing(why.clone()),
        (None, Fact::Known(_)) => Fact::missing(Reason::NotReported),
    };
    if is_cable && let Fact::Known([bits, _]) = wavelength {
        for (mask, name) in [
            (1, "SFF-8431 Appendix E"),
            (2, "FC-PI-4 Appendix H"),
            (4, "SFF-8431 limiting"),
            (8, "FC-PI-4 limiting"),
        ] {
            // Bits 2 and 3 are defined for active cables only.
            if bits & mask != 0 && (mask < 4 || cable & ACTIVE_CABLE != 0) {
                module.cable_compliance.push(name);
            }
        }
    }
    lengths(memory, module, is_cable);
}

fn carries(
    module: &Module,
    memory: &Memory,
    cable: u8,
    connector: &Fact<u8>,
    nanometres: Option<u16>,
) -> Carries {
    if cable & PASSIVE_CABLE != 0 {
        return Carries::PassiveCopper;
    }
    if cable & ACTIVE_CABLE != 0 {
        return Carries::ActiveCable;
    }
    let extended = memory
        .read(&EXTENDED)
        .known()
        .and_then(|code| codes::extended_one_lane(*code))
        .map(|row| row.carries);
    // The fastest type decides: its code is the one the module is sold for.
    let claimed = extended.or_else(|| {
        let fastest = module.interface_types.iter().max_by_key(|claimed| claimed.speed)?;
        ETHERNET_BITS.iter().find(|(_, _, name, _)| *name == fastest.name).map(|row| row.3)
    });
    match (claimed, connector.known(), nanometres) {
        (_, Some(0x22), _) => Carries::TwistedPair,
        (Some(carries), _, _) => carries,
        (None, Some(0x21), _) => Carries::PassiveCopper,
        (None, _, Some(770..=910)) => Carries::MultimodeFibre,
        (None, _, Some(1260..=1700)) => Carries::SingleModeFibre,
        (None, Some(0x01 | 0x07), _) => Carries::Fibre,
        _ => Carries::Unknown,
    }
}

fn lengths(memory: &Memory, module: &mut Module, is_cable: bool) {
    let Fact::Known([kilometres, hundreds, om2, om1, om4_or_copper, om3]) = memory.read(&LENGTHS)
    else {
        return;
    };
    let copper = is_cable
        || matches!(module.carries, Carries::PassiveCopper | Carries::ActiveCable)
        || matches!(memory.read(&CONNECTOR), Fact::Known(0x21..=0x23));
    let mut reach = |medium: &'static str, raw: u8, unit: f64| {
        if raw != 0 {
            module.reaches.push(Reach {
                medium,
                metres: Metres(f64::from(if raw == 255 { 254 } else { raw }) * unit),
                at_least: raw == 255,
            });
        }
    };
    // Byte 15 repeats byte 14 in finer steps: the finer one is shown where it does not overflow.
    if hundreds == 0 || hundreds == 255 {
        reach("single-mode fibre", kilometres, 1000.0);
    } else {
        reach("single-mode fibre", hundreds, 100.0);
    }
    reach("OM1", om1, 10.0);
    reach("OM2", om2, 10.0);
    if copper {
        module.cable_length = match om4_or_copper {
            0 => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
            255 => Fact::missing_with(Reason::NotReported, "more than 254 m, or told elsewhere"),
            metres => Fact::Known(Metres(f64::from(metres))),
        };
    } else {
        reach("OM3", om3, 10.0);
        reach("OM4", om4_or_copper, 10.0);
    }
}

fn options(memory: &Memory, module: &mut Module) {
    let options = memory.read(&OPTIONS);
    if let Fact::Known(bits) = options {
        for (mask, words) in OPTION_WORDS {
            if bits & mask != 0 {
                module.options.push(words);
            }
        }
        // Both senses of loss of signal at once mean nothing (kernel, SFP driver).
        if bits & 0b110 == 0b110 {
            module.doubts.push(Doubt {
                kind: DoubtKind::LossOfSignalSenseContradictory,
                text: "the module says that its loss-of-signal pin has both senses".into(),
                source: "SFF-8472 A0h byte 65 bits 2 and 1",
            });
        }
    }
    if let Fact::Known(0x0e) = memory.read(&RATE_IDENTIFIER) {
        module.options.push("dual rate by rate select (SFF-8431)");
    }
    let level = |bits: u16, revision: u8| {
        // Levels are trusted only from the revision that defines them (kernel, SFP driver).
        if bits & (1 << 14) != 0 {
            "power level 4 (limit stated elsewhere; from memory)"
        } else if bits & (1 << 13) != 0 && revision >= 7 {
            "power level 3 (up to 2.0 W)"
        } else if bits & (1 << 9) != 0 && revision >= 3 {
            "power level 2 (up to 1.5 W)"
        } else {
            "power level 1 (up to 1.0 W)"
        }
    };
    module.power_class = match (options, memory.read(&REVISION)) {
        (Fact::Known(bits), Fact::Known(revision)) => Fact::Known(level(bits, revision).into()),
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why),
    };
}

fn checksums(memory: &Memory, module: &mut Module) {
    module.checksums = vec![
        checksum(memory, "CC_BASE", "A0h bytes 0-62", A0, (0, 62), 63),
        checksum(memory, "CC_EXT", "A0h bytes 64-94", A0, (64, 94), 95),
    ];
    if memory.read(&DIAGNOSTIC_TYPE).known().is_some_and(|bits| bits & 0x40 != 0) {
        module.checksums.push(checksum(memory, "CC_DMI", "A2h bytes 0-94", A2, (0, 94), 95));
    }
}

/// True if A2h holds what A0h holds.
fn repeats_identity(memory: &Memory) -> bool {
    memory.stretch(A2, 0, 94).is_ok_and(|bytes| memory.stretch(A0, 0, 94) == Ok(bytes))
}

/// Why there are no readings, or the type bits if there are.
fn diagnostics_type(memory: &Memory) -> Result<u8, Missing> {
    let kind = memory.read(&DIAGNOSTIC_TYPE).result()?;
    if kind & 0x40 == 0 {
        return Err(Missing::with(Reason::NotImplemented, "the module has no diagnostics"));
    }
    if kind & 0x04 != 0 {
        return Err(Missing::with(
            Reason::NotSupported,
            "the module wants an address change before it answers, which kernels do not do",
        ));
    }
    let diagnostics = memory.stretch(A2, 0, 94);
    if repeats_identity(memory) {
        return Err(Missing::with(
            Reason::Malformed,
            "A2h reads the same as A0h: the driver or module ignores the address",
        ));
    }
    if let Ok(diagnostics) = diagnostics
        && let Some(text) = all_alike(&diagnostics)
        // Without limits bytes 0-94 may well be zero: then the readings must be too.
        && (text == "FFh" || memory.bytes::<10>(A2, 96) == Ok([0; 10]))
    {
        return Err(Missing::with(Reason::Malformed, "A2h reads all alike: nothing answered"));
    }
    Ok(kind)
}

fn diagnostics(memory: &Memory, module: &mut Module) {
    module.diagnostics = memory.read(&DIAGNOSTIC_TYPE).map(|bits| bits & 0x40 != 0);
    let kind = match diagnostics_type(memory) {
        Ok(kind) => kind,
        Err(why) => {
            no_readings(module, &why);
            return;
        }
    };
    let (internal, external) = (kind & 0x20 != 0, kind & 0x10 != 0);
    module.calibration = Fact::Known(match (internal, external) {
        (true, false) => Calibration::Internal,
        (false, true) => Calibration::External,
        _ => Calibration::Contradictory,
    });
    if internal == external {
        module.doubts.push(Doubt {
            kind: DoubtKind::CalibrationContradictory,
            text: format!(
                "the module says that it is {} internally and externally calibrated; its readings \
                 are shown {}",
                if internal { "both" } else { "neither" },
                if external { "with its constants applied" } else { "as they stand" }
            ),
            source: "SFF-8472 A0h byte 92 bits 5 and 4",
        });
    }
    module.rx_power_kind = Fact::Known(if kind & 0x08 != 0 {
        RxPowerKind::Average
    } else {
        RxPowerKind::ModulationAmplitude
    });
    let constants = if external {
        match memory.read(&CONSTANTS).and_then(|bytes| Constants::parse(&bytes)) {
            Fact::Known(constants) => constants,
            Fact::Missing(why) => {
                module.doubts.push(Doubt {
                    kind: DoubtKind::CalibrationUnusable,
                    text: format!("the module's calibration constants cannot be used: {why}"),
                    source: "SFF-8472 A2h bytes 56-91",
                });
                no_readings(module, &why);
                return;
            }
        }
    } else {
        Constants::UNITY
    };
    readings(memory, module, &constants);
}

/// What an SFP's memory has no place for.
fn not_in_this_map() -> Missing {
    Missing::with(Reason::NotApplicable, "SFF-8472 has no such bit")
}

/// Marks every reading missing for one reason.
fn no_readings(module: &mut Module, why: &Missing) {
    module.temperature = Fact::Missing(why.clone());
    module.supply = Fact::Missing(why.clone());
    module.temperature_flags = Fact::Missing(why.clone());
    module.supply_flags = Fact::Missing(why.clone());
    module.data_ready = Fact::Missing(why.clone());
    module.thresholds = no_limits(why);
    let why = no_light(module.carries).unwrap_or_else(|| why.clone());
    module.lanes = vec![Lane {
        tx_los: Fact::Missing(not_in_this_map()),
        rx_loss_of_lock: Fact::Missing(not_in_this_map()),
        tx_loss_of_lock: Fact::Missing(not_in_this_map()),
        data_path_state: Fact::Missing(not_in_this_map()),
        ..dark_lane(1, &why)
    }];
}

/// Calibration constants (SFF-8472 Rev 9.3 table 3.16).
struct Constants {
    /// Coefficients of the receive power polynomial, R4 first.
    rx: [f64; 5],
    bias: Line,
    tx: Line,
    temperature: Line,
    supply: Line,
}

/// Slope (a multiple of 1/256) and offset (in the unit of its quantity).
#[derive(Clone, Copy)]
struct Line {
    slope: f64,
    offset: f64,
}

impl Line {
    fn apply(self, raw: f64) -> f64 {
        self.slope * raw + self.offset
    }
}

impl Constants {
    /// What an internally calibrated module amounts to.
    const UNITY: Self = {
        let line = Line { slope: 1.0, offset: 0.0 };
        Self {
            rx: [0.0, 0.0, 0.0, 1.0, 0.0],
            bias: line,
            tx: line,
            temperature: line,
            supply: line,
        }
    };

    /// From A2h bytes 56-91.
    fn parse(bytes: &[u8; 36]) -> Fact<Self> {
        let word = |at: usize| -> [u8; 2] {
            bytes.get(at..at + 2).and_then(|pair| pair.try_into().ok()).unwrap_or_default()
        };
        let single = |at: usize| -> f64 {
            let four = bytes.get(at..at + 4).and_then(|four| four.try_into().ok());
            f64::from(f32::from_be_bytes(four.unwrap_or_default()))
        };
        let line = |at: usize| Line {
            slope: f64::from(u16::from_be_bytes(word(at))) / 256.0,
            offset: f64::from(i16::from_be_bytes(word(at + 2))),
        };
        let rx = [single(0), single(4), single(8), single(12), single(16)];
        if rx.iter().any(|coefficient| !coefficient.is_finite()) {
            return Fact::missing_with(
                Reason::Malformed,
                "a receive power coefficient is no finite number",
            );
        }
        Fact::Known(Self {
            rx,
            bias: line(20),
            tx: line(24),
            temperature: line(28),
            supply: line(32),
        })
    }

    fn celsius(&self, raw: u16) -> Celsius {
        Celsius(self.temperature.apply(f64::from(raw.cast_signed())) / 256.0)
    }

    fn volts(&self, raw: u16) -> Volts {
        Volts(self.supply.apply(f64::from(raw)) / 10_000.0)
    }

    fn milliamps(&self, raw: u16) -> Milliamps {
        Milliamps(self.bias.apply(f64::from(raw)) * 2.0 / 1000.0)
    }

    /// Transmitted power in units of 0.1 µW.
    fn tx_counts(&self, raw: u16) -> f64 {
        self.tx.apply(f64::from(raw))
    }

    /// Received power in units of 0.1 µW: R4 x^4 + R3 x^3 + R2 x^2 + R1 x + R0. Near dark it may
    /// come out below zero.
    fn rx_counts(&self, raw: u16) -> f64 {
        let x = f64::from(raw);
        self.rx.iter().fold(0.0, |sum, coefficient| sum * x + coefficient)
    }
}

fn readings(memory: &Memory, module: &mut Module, constants: &Constants) {
    let status = memory.read(&STATUS);
    let enhanced = memory.read(&ENHANCED_OPTIONS);
    module.data_ready = status.clone().map(|bits| bits & 0x01 == 0);
    module.rate_select_high = rate_select_high(memory, module);
    let not_ready = module.data_ready == Fact::Known(false);
    let dark = no_light(module.carries);
    // A bit of the status byte counts only where the enhanced options say that it is there.
    let state = |advertised: u8, mask: u8, what: &str| match (&enhanced, &status) {
        (Fact::Known(options), Fact::Known(bits)) => {
            if options & advertised == 0 {
                Fact::missing_with(Reason::NotImplemented, format!("{what} is not monitored"))
            } else {
                Fact::Known(bits & mask != 0)
            }
        }
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why.clone()),
    };
    let los_means_nothing =
        module.doubts.iter().any(|doubt| doubt.kind == DoubtKind::LossOfSignalSenseContradictory);
    let flagged = enhanced.clone().and_then(|options| {
        if options & 0x80 == 0 {
            Fact::missing_with(Reason::NotImplemented, "no alarm and warning limits or flags")
        } else {
            Fact::Known(())
        }
    });
    let flags = ready(flagged.clone(), not_ready).and_then(|()| {
        match (memory.read(&ALARMS), memory.read(&WARNINGS)) {
            (Fact::Known(alarms), Fact::Known(warnings)) => Fact::Known((alarms, warnings)),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why),
        }
    });
    // Quantity n of the two flag bytes: high then low, from the top.
    let flag = |quantity: u32| {
        flags.clone().map(|(alarms, warnings)| {
            let (high, low) = (0x8000 >> (2 * quantity), 0x4000 >> (2 * quantity));
            Flags {
                high_alarm: alarms & high != 0,
                low_alarm: alarms & low != 0,
                high_warning: warnings & high != 0,
                low_warning: warnings & low != 0,
            }
        })
    };
    let optical_flag = |quantity: u32| match &dark {
        Some(why) => Fact::Missing(why.clone()),
        None => flag(quantity),
    };
    module.temperature =
        ready(memory.read(&TEMPERATURE), not_ready).map(|raw| constants.celsius(raw));
    module.supply = ready(memory.read(&VCC), not_ready).map(|raw| constants.volts(raw));
    module.temperature_flags = flag(0);
    module.supply_flags = flag(1);
    let mut below_zero = Vec::new();
    let mut optical = |what: &'static str, row: &Field<2, u16>, amount: &dyn Fn(u16) -> f64| {
        if let Some(why) = &dark {
            return Fact::Missing(why.clone());
        }
        ready(memory.read(row), not_ready).map(|raw| {
            let amount = amount(raw);
            if amount < 0.0 {
                below_zero.push(what);
            }
            amount.max(0.0)
        })
    };
    let lane = Lane {
        number: 1,
        in_use: true,
        bias: optical("laser bias", &TX_BIAS, &|raw| constants.milliamps(raw).0).map(Milliamps),
        // Not valid while the transmitter is off (Rev 9.3), but what is read is shown.
        tx_power: optical("transmitted power", &TX_POWER, &|raw| constants.tx_counts(raw))
            .map(Milliwatts::from_tenth_microwatts),
        rx_power: optical("received power", &RX_POWER, &|raw| constants.rx_counts(raw))
            .map(Milliwatts::from_tenth_microwatts),
        rx_los: match &dark {
            Some(why) => Fact::Missing(why.clone()),
            None if los_means_nothing => {
                Fact::missing_with(Reason::Malformed, "loss of signal has both senses at once")
            }
            None => state(0x10, 0x02, "loss of signal"),
        },
        tx_fault: state(0x20, 0x04, "transmitter fault"),
        // The pin, or the soft bit that is ORed with it.
        tx_disabled: state(0x40, 0xc0, "transmitter disable"),
        tx_los: Fact::Missing(not_in_this_map()),
        rx_loss_of_lock: Fact::Missing(not_in_this_map()),
        tx_loss_of_lock: Fact::Missing(not_in_this_map()),
        data_path_state: Fact::Missing(not_in_this_map()),
        bias_flags: optical_flag(2),
        tx_power_flags: optical_flag(3),
        rx_power_flags: optical_flag(4),
    };
    module.lanes = vec![lane];
    if !below_zero.is_empty() {
        module.doubts.push(Doubt {
            kind: DoubtKind::ReadingBelowZero,
            text: format!(
                "the module's calibration makes its {} less than nothing; shown as 0",
                below_zero.join(", ")
            ),
            source: "SFF-8472 A2h bytes 56-91 and 100-105",
        });
    }
    extended_status(memory, module);
    module.thresholds_source = "the module's own limits, A2h bytes 0-39".into();
    thresholds(memory, module, constants, &flagged);
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

/// Whether the receiver is set to its higher rate: pin or soft bit, which the module joins by OR
/// (the soft bit: kernel, SFP driver; SFF-8472, from memory). Only of a module that says both that
/// it has the switch and that there are two rates.
fn rate_select_high(memory: &Memory, module: &Module) -> Fact<bool> {
    let words = (memory.read(&OPTIONS), memory.read(&ENHANCED_OPTIONS), memory.read(&STATUS));
    let (options, enhanced, status) = match words {
        (Fact::Known(options), Fact::Known(enhanced), Fact::Known(status)) => {
            (options, enhanced, status)
        }
        (Fact::Missing(why), ..) | (_, Fact::Missing(why), _) | (.., Fact::Missing(why)) => {
            return Fact::Missing(why);
        }
    };
    if options & (1 << 5) == 0 && enhanced & 0x0a == 0 {
        return Fact::missing_with(Reason::NotImplemented, "the module has no rate select");
    }
    let named = memory.read(&RATE_IDENTIFIER).known().is_some_and(|code| *code != 0);
    if !named && module.speeds.len() < 2 {
        return Fact::missing_with(Reason::NotApplicable, "the module names one rate only");
    }
    Fact::Known(status & 0x18 != 0)
}

fn extended_status(memory: &Memory, module: &mut Module) {
    let status = memory.read(&EXTENDED_STATUS);
    let above_level_1 = module
        .power_class
        .as_ref()
        .map(|class| {
            ["power level 2", "power level 3", "power level 4"].map(|l| class.starts_with(l))
        })
        .map(|above| above.contains(&true));
    module.power_withheld = match (above_level_1, &status) {
        (Fact::Known(true), Fact::Known([power, _])) => Fact::Known(power & 0x01 == 0),
        (Fact::Known(true), Fact::Missing(why)) => Fact::Missing(why.clone()),
        (other, _) => other,
    };
    let Fact::Known([_, clocks]) = status else { return };
    if module.power_withheld == Fact::Known(true) {
        module.status.push("power above level 1 is not allowed by the host (A2h byte 118 bit 0)");
    }
    if module.options.contains(&"retimer or clock recovery") {
        if clocks & 0x02 != 0 {
            module.status.push("transmit clock recovery not locked (from memory)");
        }
        if clocks & 0x01 != 0 {
            module.status.push("receive clock recovery not locked (from memory)");
        }
    }
}

fn thresholds(memory: &Memory, module: &mut Module, constants: &Constants, flagged: &Fact<()>) {
    let words = |row: &Field<8, [u16; 4]>| flagged.clone().and_then(|()| memory.read(row));
    let power = |counts: f64| Milliwatts::from_tenth_microwatts(counts.max(0.0));
    let mut limits = LimitReader::default();
    module.thresholds = Thresholds {
        temperature: limits
            .read("temperature", words(&TEMPERATURE_LIMITS), |raw| constants.celsius(raw)),
        supply: limits.read("supply", words(&VCC_LIMITS), |raw| constants.volts(raw)),
        bias: limits.read("laser bias", words(&BIAS_LIMITS), |raw| constants.milliamps(raw)),
        tx_power: limits
            .read("transmit power", words(&TX_POWER_LIMITS), |raw| power(constants.tx_counts(raw))),
        rx_power: limits
            .read("receive power", words(&RX_POWER_LIMITS), |raw| power(constants.rx_counts(raw))),
    };
    if let Some(why) = no_light(module.carries) {
        no_optical_limits(&mut module.thresholds, &why);
    }
    module.doubts.extend(limits.doubt("SFF-8472 A2h bytes 0-39"));
}

const SOURCES: Sources = Sources {
    checksums: "SFF-8472 checksums",
    types_and_wavelength: "SFF-8472 A0h bytes 3-10, 36 and 60-61",
    types_and_rate: "SFF-8472 A0h bytes 3-10, 12, 36 and 66",
    temperature: "SFF-8472 A2h bytes 96-97",
    supply: "SFF-8472 A2h bytes 98-99",
    power: "SFF-8472 A2h bytes 102-105",
    lanes: 1,
};

fn contradictions(memory: &Memory, module: &mut Module) {
    let mut found = doubts(module, &SOURCES);
    if module.diagnostics == Fact::Known(true) {
        found.extend(copper_with_diagnostics(module.carries, "SFF-8472 A0h bytes 2-10, 36 and 92"));
    }
    if let Err(why) = diagnostics_type(memory)
        && why.reason == Reason::Malformed
    {
        let text = why.detail().unwrap_or_default().to_owned();
        let kind = if repeats_identity(memory) {
            DoubtKind::PagesIdentical
        } else {
            DoubtKind::PageSilent
        };
        found.push(Doubt { kind, text, source: "SFF-8472 A0h and A2h" });
    }
    module.doubts.extend(found);
}

#[cfg(test)]
mod tests;
