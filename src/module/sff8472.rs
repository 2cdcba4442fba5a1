//! SFF-8472: SFP, SFP+, SFP28. Two 256-byte memories, A0h identity and A2h diagnostics.
//!
//! Reads like the standard's tables: the rows first, then what they mean together. In: memory.
//! Out: a [`Module`]. A module without diagnostics, a copper cable and a twisted-pair module are
//! normal: what they do not have is *not implemented* or *does not apply*, never zero.
//! Sources: SFF-8472 Rev 9.3 (tables 3.1-3.18), Rev 10.4 table 3.1, and the kernel's SFP driver
//! for later fields.

use crate::module::memory::{A0, A2};
use crate::module::{
    Calibration, Carries, Checksum, Doubt, Family, Field, Flags, InterfaceType, Lane, Limits,
    Memory, Module, Reach, RxPowerKind, Thresholds, codes,
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
    Field { label, place: A0, first_byte, meaning, source }
}

/// A row of A2h.
const fn a2<const N: usize, T>(
    label: &'static str,
    first_byte: u8,
    meaning: fn([u8; N]) -> T,
    source: &'static str,
) -> Field<N, T> {
    Field { label, place: A2, first_byte, meaning, source }
}

fn byte([byte]: [u8; 1]) -> u8 {
    byte
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
const LIMITS: Field<40, [u8; 40]> = a2("Alarm and warning limits", 0, |b| b, T315);
const CONSTANTS: Field<36, [u8; 36]> = a2("Calibration constants", 56, |b| b, "table 3.16");
const TEMPERATURE: Field<2, u16> = a2("Temperature", 96, u16::from_be_bytes, T317);
const VCC: Field<2, u16> = a2("Vcc", 98, u16::from_be_bytes, T317);
const TX_BIAS: Field<2, u16> = a2("TX bias", 100, u16::from_be_bytes, T317);
const TX_POWER: Field<2, u16> = a2("TX power", 102, u16::from_be_bytes, T317);
const RX_POWER: Field<2, u16> = a2("RX power", 104, u16::from_be_bytes, T317);
const STATUS: Field<1, u8> = a2("Status and control", 110, byte, T317);
const ALARMS: Field<2, [u8; 2]> = a2("Alarm flags", 112, |b| b, "table 3.18");
const WARNINGS: Field<2, [u8; 2]> = a2("Warning flags", 116, |b| b, "table 3.18");
const EXTENDED_STATUS: Field<2, [u8; 2]> = a2("Extended status", 118, |b| b, "kernel, SFP driver");

/// ASCII, padded with spaces or zeros; whatever is not printable is shown as `\x1b`.
fn text<const N: usize>(bytes: [u8; N]) -> String {
    let shown: String = bytes
        .iter()
        .map(|byte| match byte {
            0 => " ".to_owned(),
            b' '..=b'~' => char::from(*byte).to_string(),
            other => format!("\\x{other:02x}"),
        })
        .collect();
    shown.trim().to_owned()
}

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
    doubts(memory, &mut module);
    module
}

fn filled(text: Fact<String>) -> Fact<String> {
    text.and_then(|text| {
        if text.is_empty() {
            Fact::missing_with(Reason::NotReported, "the module leaves it empty")
        } else {
            Fact::Known(text)
        }
    })
}

fn identity(memory: &Memory, module: &mut Module, compliance: &Fact<[u8; 8]>) {
    module.form_factor = memory.read(&IDENTIFIER).map(codes::identifier);
    module.connector = memory.read(&CONNECTOR).map(codes::connector);
    module.vendor_name = filled(memory.read(&VENDOR_NAME));
    module.vendor_oui = memory.read(&VENDOR_OUI).and_then(|[a, b, c]| {
        if [a, b, c] == [0, 0, 0] {
            Fact::missing_with(Reason::NotReported, "the module leaves it empty")
        } else {
            Fact::Known(format!("{a:02x}-{b:02x}-{c:02x}"))
        }
    });
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
    }
    // Rev 9.x used byte 36 of DWDM modules for channel spacing.
    let dwdm = memory.read(&IDENTIFIER) == Fact::Known(0x0b);
    if let Fact::Known(code) = memory.read(&EXTENDED)
        && code != 0
        && !dwdm
    {
        match codes::extended_one_lane(code) {
            Some(row) => module.interface_types.push(InterfaceType {
                name: row.name.to_owned(),
                speed: Some(row.speed),
                source: format!(
                    "SFF-8472 A0h byte 36 = {code:02x}h, SFF-8024 table 4-4{}",
                    if row.from_memory { ", from memory" } else { "" }
                ),
            }),
            None => module.interface_types.push(InterfaceType {
                name: format!("extended compliance {code:02x}h"),
                speed: None,
                source: "SFF-8472 A0h byte 36, a code that is not listed".into(),
            }),
        }
    }
}

/// `250630A1` as `2025-06-30 lot A1`; anything else as it stands.
fn date(code: &str) -> String {
    let digits = |range: std::ops::Range<usize>| {
        code.get(range).filter(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
    };
    match (digits(0..2), digits(2..4), digits(4..6)) {
        (Some(year), Some(month), Some(day)) => {
            let lot = code.get(6..).unwrap_or_default().trim();
            let lot = if lot.is_empty() { String::new() } else { format!(" lot {lot}") };
            format!("20{year}-{month}-{day}{lot}")
        }
        _ => code.to_owned(),
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
    module.speeds = module.interface_types.iter().filter_map(|claimed| claimed.speed).collect();
    if module.speeds.is_empty()
        && let Some(speed) = from_nominal
    {
        module.speeds.push(speed);
    }
    module.speeds.sort_unstable();
    module.speeds.dedup();
    module.top_speed = match module.speeds.last() {
        Some(speed) => Fact::Known(*speed),
        None => match compliance {
            Fact::Known(_) => Fact::missing_with(
                Reason::NotReported,
                "neither the compliance codes nor the nominal rate tell a speed",
            ),
            Fact::Missing(why) => Fact::Missing(why.clone()),
        },
    };
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
                kind: "loss-of-signal-sense-contradictory",
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
    let mut sum = |name, covers, place, first, last: u8| {
        let found = memory.stretch(place, first, last).and_then(|bytes| {
            let [stored] = memory.bytes::<1>(place, last + 1)?;
            let computed = bytes.iter().fold(0u8, |sum, byte| sum.wrapping_add(*byte));
            Ok((stored, computed))
        });
        let (matches, stored_computed) = match found {
            Ok((stored, computed)) => (Fact::Known(stored == computed), Some((stored, computed))),
            Err(why) => (Fact::Missing(why), None),
        };
        module.checksums.push(Checksum { name, covers, matches, stored_computed });
    };
    sum("CC_BASE", "A0h bytes 0-62", A0, 0, 62);
    sum("CC_EXT", "A0h bytes 64-94", A0, 64, 94);
    if memory.read(&DIAGNOSTIC_TYPE).known().is_some_and(|bits| bits & 0x40 != 0) {
        sum("CC_DMI", "A2h bytes 0-94", A2, 0, 94);
    }
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
    let (identity, diagnostics) = (memory.stretch(A0, 0, 94), memory.stretch(A2, 0, 94));
    if let (Ok(identity), Ok(diagnostics)) = (&identity, &diagnostics)
        && identity == diagnostics
    {
        return Err(Missing::with(
            Reason::Malformed,
            "A2h reads the same as A0h: the driver or module ignores the address",
        ));
    }
    if let Ok(diagnostics) = diagnostics
        && (diagnostics.iter().all(|byte| *byte == 0xff)
            || (diagnostics.iter().all(|byte| *byte == 0)
                && memory.bytes::<10>(A2, 96) == Ok([0; 10])))
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
            kind: "calibration-contradictory",
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
                    kind: "calibration-unusable",
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

/// Marks every reading missing for one reason.
fn no_readings(module: &mut Module, why: &Missing) {
    module.temperature = Fact::Missing(why.clone());
    module.supply = Fact::Missing(why.clone());
    let optical = |missing: &Missing| match module.carries {
        Carries::PassiveCopper | Carries::TwistedPair => Missing::with(
            Reason::NotApplicable,
            format!("no light leaves a module for {}", module.carries.text()),
        ),
        _ => missing.clone(),
    };
    let why = optical(why);
    module.lanes = vec![Lane {
        number: 1,
        in_use: true,
        bias: Fact::Missing(why.clone()),
        tx_power: Fact::Missing(why.clone()),
        rx_power: Fact::Missing(why.clone()),
        rx_los: Fact::Missing(why.clone()),
        tx_fault: Fact::Missing(why.clone()),
        tx_disabled: Fact::Missing(why),
        ..Lane::default()
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

    fn tx_power(&self, raw: u16) -> Milliwatts {
        Milliwatts::from_tenth_microwatts(self.tx.apply(f64::from(raw)).max(0.0))
    }

    /// R4 x^4 + R3 x^3 + R2 x^2 + R1 x + R0, never below zero.
    fn rx_power(&self, raw: u16) -> Milliwatts {
        let x = f64::from(raw);
        let power = self.rx.iter().fold(0.0, |sum, coefficient| sum * x + coefficient);
        Milliwatts::from_tenth_microwatts(power.max(0.0))
    }
}

fn readings(memory: &Memory, module: &mut Module, constants: &Constants) {
    let status = memory.read(&STATUS);
    let enhanced = memory.read(&ENHANCED_OPTIONS);
    module.data_ready = status.clone().map(|bits| bits & 0x01 == 0);
    let not_ready = module.data_ready == Fact::Known(false);
    let ready = |raw: Fact<u16>| {
        raw.and_then(|raw| {
            if not_ready {
                Fact::missing_with(Reason::NotReported, "the module says that data is not ready")
            } else {
                Fact::Known(raw)
            }
        })
    };
    module.temperature = ready(memory.read(&TEMPERATURE)).map(|raw| constants.celsius(raw));
    module.supply = ready(memory.read(&VCC)).map(|raw| constants.volts(raw));
    let copper = matches!(module.carries, Carries::PassiveCopper | Carries::TwistedPair);
    let optical = |raw: Fact<u16>| {
        if copper {
            Fact::missing_with(Reason::NotApplicable, "no light leaves this kind of module")
        } else {
            ready(raw)
        }
    };
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
        module.doubts.iter().any(|doubt| doubt.kind == "loss-of-signal-sense-contradictory");
    let flagged = enhanced.clone().and_then(|options| {
        if options & 0x80 == 0 {
            Fact::missing_with(Reason::NotImplemented, "no alarm and warning limits or flags")
        } else {
            Fact::Known(())
        }
    });
    let flags =
        flagged.clone().and_then(|()| match (memory.read(&ALARMS), memory.read(&WARNINGS)) {
            (Fact::Known(alarms), Fact::Known(warnings)) => Fact::Known((alarms, warnings)),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why),
        });
    // Quantity n of the two flag bytes: high then low, from the top.
    let flag = |quantity: u32| {
        flags.clone().map(|(alarms, warnings)| {
            let (alarms, warnings) = (u16::from_be_bytes(alarms), u16::from_be_bytes(warnings));
            let (high, low) = (0x8000 >> (2 * quantity), 0x4000 >> (2 * quantity));
            Flags {
                high_alarm: alarms & high != 0,
                low_alarm: alarms & low != 0,
                high_warning: warnings & high != 0,
                low_warning: warnings & low != 0,
            }
        })
    };
    module.temperature_flags = flag(0);
    module.supply_flags = flag(1);
    let lane = Lane {
        number: 1,
        in_use: true,
        bias: optical(memory.read(&TX_BIAS)).map(|raw| constants.milliamps(raw)),
        tx_power: optical(memory.read(&TX_POWER)).map(|raw| constants.tx_power(raw)),
        rx_power: optical(memory.read(&RX_POWER)).map(|raw| constants.rx_power(raw)),
        rx_los: if los_means_nothing || copper {
            Fact::missing_with(Reason::NotApplicable, "loss of signal means nothing here")
        } else {
            state(0x10, 0x02, "loss of signal")
        },
        tx_fault: state(0x20, 0x04, "transmitter fault"),
        // The pin, or the soft bit that is ORed with it.
        tx_disabled: state(0x40, 0xc0, "transmitter disable"),
        bias_flags: flag(2),
        tx_power_flags: flag(3),
        rx_power_flags: flag(4),
        ..Lane::default()
    };
    module.lanes = vec![lane];
    if let Fact::Known([_, clocks]) = memory.read(&EXTENDED_STATUS)
        && module.options.contains(&"retimer or clock recovery")
    {
        if clocks & 0x02 != 0 {
            module.status.push("transmit clock recovery not locked (from memory)");
        }
        if clocks & 0x01 != 0 {
            module.status.push("receive clock recovery not locked (from memory)");
        }
    }
    module.thresholds_source = "the module's own limits, A2h bytes 0-39";
    let raw = flagged.and_then(|()| memory.read(&LIMITS));
    thresholds(module, &raw, constants, copper);
}

fn thresholds(module: &mut Module, raw: &Fact<[u8; 40]>, constants: &Constants, copper: bool) {
    let mut impossible = Vec::new();
    let mut group = |name: &'static str, quantity: usize| -> Fact<[u16; 4]> {
        raw.clone().and_then(|bytes| {
            let word = |at: usize| {
                let pair = bytes.get(at..at + 2).and_then(|pair| pair.try_into().ok());
                u16::from_be_bytes(pair.unwrap_or_default())
            };
            let first = quantity * 8;
            let words = [word(first), word(first + 2), word(first + 4), word(first + 6)];
            let alike = |value: u16| words.iter().all(|word| *word == value);
            if alike(0) {
                return Fact::missing_with(Reason::NotImplemented, "limits are all zero");
            }
            if alike(0xffff) {
                impossible.push(name);
                return Fact::missing_with(Reason::Malformed, "limits are all ones");
            }
            Fact::Known(words)
        })
    };
    let (temperature, supply) = (group("temperature", 0), group("supply", 1));
    let (bias, tx_power, rx_power) =
        (group("laser bias", 2), group("transmit power", 3), group("receive power", 4));
    let mut ordered = |name: &'static str, sound: bool| {
        if !sound {
            impossible.push(name);
        }
        sound
    };
    let mut thresholds = Thresholds {
        temperature: limits(
            temperature,
            |raw| constants.celsius(raw),
            |sound| ordered("temperature", sound),
        ),
        supply: limits(supply, |raw| constants.volts(raw), |sound| ordered("supply", sound)),
        bias: limits(bias, |raw| constants.milliamps(raw), |sound| ordered("laser bias", sound)),
        tx_power: limits(
            tx_power,
            |raw| constants.tx_power(raw),
            |sound| ordered("transmit power", sound),
        ),
        rx_power: limits(
            rx_power,
            |raw| constants.rx_power(raw),
            |sound| ordered("receive power", sound),
        ),
    };
    if copper {
        let none = || Missing::with(Reason::NotApplicable, "no light leaves this kind of module");
        thresholds.bias = Fact::Missing(none());
        thresholds.tx_power = Fact::Missing(none());
        thresholds.rx_power = Fact::Missing(none());
    }
    if !impossible.is_empty() {
        module.doubts.push(Doubt {
            kind: "thresholds-impossible",
            text: format!("the module's limits cannot be: {}", impossible.join(", ")),
            source: "SFF-8472 A2h bytes 0-39",
        });
    }
    module.thresholds = thresholds;
}

/// High alarm, low alarm, high warning, low warning, in the standard's order; refused where low
/// is not below high.
fn limits<T: PartialOrd + Copy>(
    words: Fact<[u16; 4]>,
    unit: impl Fn(u16) -> T,
    mut sound: impl FnMut(bool) -> bool,
) -> Fact<Limits<T>> {
    words.and_then(|[high_alarm, low_alarm, high_warning, low_warning]| {
        let limits = Limits {
            high_alarm: unit(high_alarm),
            low_alarm: unit(low_alarm),
            high_warning: unit(high_warning),
            low_warning: unit(low_warning),
        };
        if sound(limits.low_alarm < limits.high_alarm && limits.low_warning < limits.high_warning) {
            Fact::Known(limits)
        } else {
            Fact::missing_with(Reason::Malformed, "a low limit is not below the high one")
        }
    })
}

fn doubts(memory: &Memory, module: &mut Module) {
    let mut found = Vec::new();
    for checksum in &module.checksums {
        if checksum.matches == Fact::Known(false) {
            found.push(Doubt {
                kind: "checksum-wrong",
                text: format!("checksum {} does not match {}", checksum.name, checksum.covers),
                source: "SFF-8472 checksums",
            });
        }
    }
    if let Fact::Known(Nanometres(nanometres)) = module.wavelength {
        let short = module.carries == Carries::MultimodeFibre && !module.claims("10GBASE-LRM");
        let long = module.carries == Carries::SingleModeFibre;
        if (short && nanometres > 1200.0) || (long && nanometres < 1000.0) {
            found.push(Doubt {
                kind: "type-contradicts-wavelength",
                text: format!(
                    "the interface type is for {}, the wavelength is {}",
                    module.carries.text(),
                    Nanometres(nanometres)
                ),
                source: "SFF-8472 A0h bytes 3-10, 36 and 60-61",
            });
        }
    }
    if let (Fact::Known(speed), Fact::Known(megabaud)) =
        (&module.top_speed, &module.nominal_megabaud)
        && u64::from(*megabaud) * 2 < u64::from(speed.0)
        && !matches!(module.carries, Carries::TwistedPair)
    {
        found.push(Doubt {
            kind: "nominal-rate-contradicts-type",
            text: format!("the nominal rate is {megabaud} MBd, the interface type is for {speed}"),
            source: "SFF-8472 A0h bytes 3-10, 12, 36 and 66",
        });
    }
    if let Fact::Known(celsius) = module.temperature
        && !(-60.0..=130.0).contains(&celsius.0)
    {
        found.push(Doubt {
            kind: "reading-impossible",
            text: format!("a temperature of {celsius} is more than a module survives"),
            source: "SFF-8472 A2h bytes 96-97",
        });
    }
    if let Fact::Known(volts) = module.supply
        && !(1.0..=6.0).contains(&volts.0)
    {
        found.push(Doubt {
            kind: "reading-impossible",
            text: format!("no module runs on a supply of {volts}"),
            source: "SFF-8472 A2h bytes 98-99",
        });
    }
    if let Err(why) = diagnostics_type(memory)
        && why.reason == Reason::Malformed
    {
        found.push(Doubt {
            kind: "pages-identical",
            text: why.detail.map_or_else(String::new, Into::into),
            source: "SFF-8472 A0h and A2h",
        });
    }
    module.doubts.extend(found);
}

#[cfg(test)]
mod tests;
