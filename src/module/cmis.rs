//! CMIS 5.x: QSFP-DD, OSFP, DSFP and later QSFP and SFP modules. Lower memory with module state
//! and applications, page 00h with identity, 01h with what is advertised, 02h with limits, 10h
//! and 11h with the lanes, eight a bank.
//!
//! Reads like the standard's tables: the rows first, then what they mean together. In: memory.
//! Out: a [`Module`]. A monitor or flag that page 01h does not advertise is *not implemented*,
//! whatever its bytes hold; without page 01h nobody can tell, and the reading is missing for
//! that reason. Flags are latched: they clear when read.
//! Lanes: light, laser and their flags are of the media lane, transmitter input and data path
//! of the host lane of the same number; a lane is in use if a data path puts light on it.
//! Sources: the kernel's CMIS code (identifier, revision, module state, command block), a switch
//! driver (memory model, temperature limits), a maker's note (some interface IDs). Everything
//! else is from memory and decides nothing alone. Left out: auxiliary monitors, copper
//! attenuation, command blocks and diagnostics pages 13h and up.

use crate::module::codes::{self, MediaType};
use crate::module::meaning::{
    LimitReader, Sources, byte, celsius, checksum, company_id, copper_with_diagnostics, date,
    doubts, filled, flags, four_words, identifier_copies, milliamps, milliwatts, no_light,
    no_optical_limits, settle_speeds, text, volts,
};
use crate::module::memory::{Bit, LOWER, PAGE_00, PAGE_01, PAGE_02, PAGE_10, PAGE_11};
use crate::module::{
    Calibration, Carries, DoubtKind, Family, Field, Flags, InterfaceType, Lane, Memory, Module,
    Place, Reach, RxPowerKind, Thresholds,
};
use crate::quantity::{Metres, Milliamps, Nanometres};
use crate::snapshot::{Fact, Missing, Reason};

const KERNEL: &str = "kernel, CMIS code (citing CMIS 5.2)";
const SWITCH: &str = "kernel, a switch driver";
const MEMORY: &str = "CMIS 5.x, from memory";

/// A row of one byte.
const fn one(label: &'static str, place: Place, at: u8, source: &'static str) -> Field<1, u8> {
    Field::row(label, place, at, byte, source)
}

/// A row of one big-endian word.
const fn word(label: &'static str, place: Place, at: u8) -> Field<2, u16> {
    Field::row(label, place, at, u16::from_be_bytes, MEMORY)
}

/// A row of text.
const fn ascii<const N: usize>(label: &'static str, at: u8) -> Field<N, String> {
    Field::row(label, PAGE_00, at, text, MEMORY)
}

/// A row of limits.
const fn limits(label: &'static str, at: u8, source: &'static str) -> Field<8, [u16; 4]> {
    Field::row(label, PAGE_02, at, four_words, source)
}

/// A row of four flag bytes, a bit a lane: high alarm, low alarm, high warning, low warning.
const fn lane_flags(label: &'static str, at: u8) -> Field<4, [u8; 4]> {
    Field::row(label, PAGE_11, at, |bytes| bytes, MEMORY)
}

/// A bit of page 01h that advertises something.
const fn advertised(byte: u8, bit: u8) -> Bit {
    Bit { place: PAGE_01, byte, bit }
}

// Lower memory.
const IDENTIFIER: Field<1, u8> = one("Identifier", LOWER, 0, KERNEL);
const REVISION: Field<1, u8> = one("CMIS revision", LOWER, 1, KERNEL);
const MEMORY_MODEL: Field<1, u8> = one("Memory model", LOWER, 2, SWITCH);
const STATE: Field<1, u8> = one("Module state", LOWER, 3, KERNEL);
const FIRMWARE_FLAGS: Field<1, u8> = one("Module flags", LOWER, 8, MEMORY);
const MODULE_FLAGS: Field<1, u8> = one("Temperature and Vcc flags", LOWER, 9, MEMORY);
const TEMPERATURE: Field<2, u16> = word("Temperature", LOWER, 14).only_if(advertised(159, 0));
const VCC: Field<2, u16> = word("Vcc", LOWER, 16).only_if(advertised(159, 1));
const CONTROL: Field<1, u8> = one("Module control", LOWER, 26, MEMORY);
const FAULT_CAUSE: Field<1, u8> = one("Module fault cause", LOWER, 41, MEMORY);
const MEDIA_TYPE: Field<1, u8> = one("Media type", LOWER, 85, MEMORY);
// Application 1; seven more stand behind it, and seven on page 01h.
const APPLICATION: Field<4, [u8; 4]> =
    Field::row("Application descriptor", LOWER, 86, |bytes| bytes, MEMORY);
const APPLICATION_9: Field<4, [u8; 4]> =
    Field::row("Application descriptor", PAGE_01, 223, |bytes| bytes, MEMORY);

// Page 00h.
const IDENTIFIER_COPY: Field<1, u8> = one("Identifier", PAGE_00, 128, MEMORY);
const VENDOR_NAME: Field<16, String> = ascii("Vendor name", 129);
const VENDOR_OUI: Field<3, [u8; 3]> = Field::row("Vendor OUI", PAGE_00, 145, |bytes| bytes, MEMORY);
const VENDOR_PN: Field<16, String> = ascii("Vendor PN", 148);
const VENDOR_REV: Field<2, String> = ascii("Vendor rev", 164);
const VENDOR_SN: Field<16, String> = ascii("Vendor SN", 166);
const DATE_CODE: Field<8, String> = ascii("Date code", 182);
const POWER_CLASS: Field<1, u8> = one("Power class", PAGE_00, 200, MEMORY);
const MAX_POWER: Field<1, u8> = one("Max power, 0.25 W", PAGE_00, 201, MEMORY);
const CABLE_LENGTH: Field<1, u8> = one("Cable assembly length", PAGE_00, 202, MEMORY);
const CONNECTOR: Field<1, u8> = one("Connector", PAGE_00, 203, MEMORY);
const LANES_NOT_SUPPORTED: Field<1, u8> = one("Media lanes not supported", PAGE_00, 210, MEMORY);
const TECHNOLOGY: Field<1, u8> =
    one("Media interface technology", PAGE_00, 212, "a maker's library reference");

// Page 01h.
const LENGTHS: Field<5, [u8; 5]> = Field::row("Lengths", PAGE_01, 132, |bytes| bytes, MEMORY);
const WAVELENGTH: Field<2, u16> = word("Wavelength, 0.05 nm", PAGE_01, 138);
const PAGES: Field<1, u8> = one("Pages and banks", PAGE_01, 142, MEMORY);
const POWER_KIND: Field<1, u8> = one("Rx power type", PAGE_01, 151, MEMORY);
const MODULE_MONITORS: Field<1, u8> = one("Module monitors", PAGE_01, 159, MEMORY);
const LANE_MONITORS: Field<1, u8> = one("Lane monitors", PAGE_01, 160, MEMORY);
// Of application 1; fourteen more stand behind it.
const MEDIA_LANES: Field<1, u8> = one("Media lane assignment", PAGE_01, 176, MEMORY);

// Page 02h.
const TEMPERATURE_LIMITS: Field<8, [u16; 4]> = limits("Temperature limits", 128, SWITCH);
const VCC_LIMITS: Field<8, [u16; 4]> = limits("Vcc limits", 136, MEMORY);
const TX_POWER_LIMITS: Field<8, [u16; 4]> = limits("Tx power limits", 176, MEMORY);
const BIAS_LIMITS: Field<8, [u16; 4]> = limits("Tx bias limits", 184, MEMORY);
const RX_POWER_LIMITS: Field<8, [u16; 4]> = limits("Rx power limits", 192, MEMORY);

// Page 10h and 11h, bank 0: a bit a lane, or lane 1 with the others behind it.
const TX_DISABLE: Field<1, u8> = one("Tx output disable", PAGE_10, 130, MEMORY);
const DATA_PATH_STATES: Field<4, [u8; 4]> =
    Field::row("Data path states", PAGE_11, 128, |bytes| bytes, MEMORY);
const TX_FAULT: Field<1, u8> =
    one("Tx failure flag", PAGE_11, 135, MEMORY).only_if(advertised(157, 0));
const TX_LOS: Field<1, u8> = one("Tx LOS flag", PAGE_11, 136, MEMORY).only_if(advertised(157, 1));
const TX_LOL: Field<1, u8> =
    one("Tx CDR LOL flag", PAGE_11, 137, MEMORY).only_if(advertised(157, 2));
const TX_EQUALIZER: Field<1, u8> =
    one("Tx adaptive EQ fail flag", PAGE_11, 138, MEMORY).only_if(advertised(157, 3));
const TX_POWER_FLAGS: Field<4, [u8; 4]> = lane_flags("Tx power flags", 139);
const BIAS_FLAGS: Field<4, [u8; 4]> = lane_flags("Tx bias flags", 143);
const RX_LOS: Field<1, u8> = one("Rx LOS flag", PAGE_11, 147, MEMORY).only_if(advertised(158, 1));
const RX_LOL: Field<1, u8> =
    one("Rx CDR LOL flag", PAGE_11, 148, MEMORY).only_if(advertised(158, 2));
const RX_POWER_FLAGS: Field<4, [u8; 4]> = lane_flags("Rx power flags", 149);
const TX_POWER: Field<2, u16> = word("Tx power", PAGE_11, 154).only_if(advertised(160, 1));
const BIAS: Field<2, u16> = word("Tx bias", PAGE_11, 170).only_if(advertised(160, 0));
const RX_POWER: Field<2, u16> = word("Rx power", PAGE_11, 186).only_if(advertised(160, 2));
const CONFIG_STATUS: Field<4, [u8; 4]> =
    Field::row("Config status", PAGE_11, 202, |bytes| bytes, MEMORY);
const ACTIVE_SET: Field<8, [u8; 8]> =
    Field::row("Active control set", PAGE_11, 206, |bytes| bytes, MEMORY);

/// Decodes the module.
pub fn module(memory: &Memory, recognised_by: String) -> Module {
    let banks = [0, 1, 2, 3].map(|bank| PAGE_11.in_bank(bank));
    let pages: Vec<Place> = [PAGE_00, PAGE_01, PAGE_02].into_iter().chain(banks).collect();
    let (mut memory, silent) = memory.without_silent_pages(&pages);
    // Page 10h may well be all zero, so it cannot be told to be silent by itself; but where page
    // numbers are ignored, its bytes are those of another page and switch no laser off.
    if silent.iter().any(|doubt| doubt.kind == DoubtKind::PagesIdentical) {
        for bank in 0..=3 {
            let why = "other pages show that the driver or module ignores page or bank numbers";
            memory.withhold(PAGE_10.in_bank(bank), Missing::with(Reason::Malformed, why));
        }
    }
    let flat = memory.read(&MEMORY_MODEL).map(|bits| bits & 0x80 != 0);
    if flat == Fact::Known(true) {
        for page in [PAGE_01, PAGE_02, PAGE_10, PAGE_11] {
            let why = "flat memory: the module has no page but 00h";
            memory.withhold(page, Missing::with(Reason::NotImplemented, why));
        }
    }
    let memory = &memory;
    let mut module = Module {
        family: Family::Cmis,
        recognised_by,
        flags_latched: true,
        doubts: silent,
        ..Module::unknown()
    };
    let applications = applications(memory);
    identity(memory, &mut module);
    medium(memory, &mut module, &applications);
    module.checksums =
        vec![checksum(memory, "page 00h", "bytes 128-221", PAGE_00, (128, 221), 222)];
    if flat != Fact::Known(true) {
        module.checksums.extend([
            checksum(memory, "page 01h", "bytes 130-254", PAGE_01, (130, 254), 255),
            checksum(memory, "page 02h", "bytes 128-254", PAGE_02, (128, 254), 255),
        ]);
    }
    state(memory, &mut module);
    monitors(memory, &mut module);
    lanes(memory, &mut module, &applications);
    thresholds(memory, &mut module);
    let mut found = doubts(&module, &SOURCES);
    found.extend(identifier_copies(&memory.read(&IDENTIFIER), &memory.read(&IDENTIFIER_COPY)));
    let claims_light = memory.read(&LANE_MONITORS).map(|bits| bits & 0x07 != 0);
    if claims_light == Fact::Known(true) {
        found.extend(copper_with_diagnostics(module.carries, "CMIS byte 85, page 01h byte 160"));
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
    module.technology = memory.read(&TECHNOLOGY).map(codes::technology);
    module.standard_revision =
        memory.read(&REVISION).map(|code| format!("CMIS {}.{}", code >> 4, code & 0x0f));
    let by_application = "CMIS tells this by application";
    module.encoding = Fact::missing_with(Reason::NotApplicable, by_application);
    module.nominal_megabaud = Fact::missing_with(Reason::NotApplicable, by_application);
    module.power_class = match (memory.read(&POWER_CLASS), memory.read(&MAX_POWER)) {
        (Fact::Known(class), Fact::Known(quarters)) => Fact::Known(format!(
            "power class {} (up to {:.2} W; from memory)",
            (class >> 5) + 1,
            f64::from(quarters) * 0.25
        )),
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why),
    };
    if let Fact::Known(pages) = memory.read(&PAGES) {
        for (mask, words) in [
            (0x40, "versatile diagnostics monitoring"),
            (0x20, "diagnostics pages 13h-14h"),
            (0x04, "user page 03h"),
        ] {
            if pages & mask != 0 {
                module.options.push(words);
            }
        }
    }
}

/// A way in which the module can be used.
struct Application {
    /// From 1.
    number: u8,
    host: u8,
    media: u8,
    media_lanes: u8,
    /// Bit n: may start on host lane n + 1.
    host_starts: u8,
    /// Bit n: may start on media lane n + 1; missing where page 01h is.
    media_starts: Fact<u8>,
}

/// The applications, in order; the list ends at a host interface of FFh.
fn applications(memory: &Memory) -> Vec<Application> {
    let mut found = Vec::new();
    for number in 1..=15u8 {
        let row =
            if number <= 8 { APPLICATION.lane(number) } else { APPLICATION_9.lane(number - 8) };
        let Fact::Known([host, media, counts, host_starts]) = memory.read(&row) else { break };
        match host {
            0xff => break,
            0x00 => continue, // undefined: an entry that was never filled in
            _ => found.push(Application {
                number,
                host,
                media,
                media_lanes: counts & 0x0f,
                host_starts,
                media_starts: memory.read(&MEDIA_LANES.lane(number)),
            }),
        }
    }
    found
}

/// What an application is called, how fast it is, and where that stands.
fn interface_type(application: &Application, media_type: MediaType) -> InterfaceType {
    let Application { number, host, media, .. } = application;
    let host_row = codes::host_interface(*host);
    let media_row = codes::media_interface(media_type, *media);
    let host_name = host_row.map_or(format!("host interface {host:02x}h"), |row| row.name.into());
    let name = match media_row {
        Some(row) if row.speed.is_some() => row.name.to_owned(),
        // On a cable the host interface is the type (`100GBASE-CR4`).
        Some(_) if media_type == MediaType::PassiveCopper && host_name.contains("BASE-") => {
            host_name
        }
        Some(row) => format!("{} for {host_name}", row.name),
        None => format!("media interface {media:02x}h for {host_name}"),
    };
    InterfaceType {
        name,
        speed: media_row.and_then(|row| row.speed).or(host_row.and_then(|row| row.speed)),
        source: format!(
            "CMIS application {number}, host interface {host:02x}h and media interface \
             {media:02x}h, from memory"
        ),
    }
}

fn medium(memory: &Memory, module: &mut Module, applications: &[Application]) {
    let media_type = memory.read(&MEDIA_TYPE).map(MediaType::from_byte);
    if let Fact::Known(media_type) = media_type {
        for application in applications {
            let claimed = interface_type(application, media_type);
            if !module.claims(&claimed.name) {
                module.interface_types.push(claimed);
            }
        }
    }
    let why_not = match &media_type {
        Fact::Known(_) => {
            Missing::with(Reason::NotReported, "no application of a known rate is listed")
        }
        Fact::Missing(why) => why.clone(),
    };
    settle_speeds(module, None, &why_not);
    let told = media_type.known().map_or(Carries::Unknown, |media_type| media_type.carries());
    let carries = match told {
        Carries::Unknown => memory
            .read(&TECHNOLOGY)
            .known()
            // Zero is both "850 nm VCSEL" and "left empty".
            .filter(|code| **code != 0)
            .map_or(Carries::Unknown, |code| codes::technology_carries(*code)),
        told => told,
    };
    // Optics whose fibre cannot be taken off are a cable.
    let cable = memory.read(&CONNECTOR) == Fact::Known(0x23);
    module.carries = if carries.is_optical() && cable { Carries::ActiveCable } else { carries };
    lengths(memory, module);
}

/// A length in two parts: multiplier in bits 7-6, base in bits 5-0.
fn scaled(byte: u8, multipliers: [f64; 4]) -> f64 {
    let multiplier = multipliers.get(usize::from(byte >> 6)).copied().unwrap_or_default();
    f64::from(byte & 0x3f) * multiplier
}

fn lengths(memory: &Memory, module: &mut Module) {
    let is_cable = matches!(module.carries, Carries::PassiveCopper | Carries::ActiveCable);
    module.cable_length = memory.read(&CABLE_LENGTH).and_then(|byte| {
        if !is_cable {
            Fact::missing_with(Reason::NotApplicable, "this is no cable")
        } else if byte & 0x3f == 0 {
            Fact::missing_with(Reason::NotReported, "the module leaves it empty")
        } else {
            Fact::Known(Metres(scaled(byte, [0.1, 1.0, 10.0, 100.0])))
        }
    });
    if !module.carries.is_optical() {
        module.wavelength = match module.carries {
            Carries::Unknown => Fact::missing_with(Reason::NotReported, "the medium is not told"),
            carries => Fact::missing_with(
                Reason::NotApplicable,
                format!("the module carries {}", carries.text()),
            ),
        };
        return;
    }
    module.wavelength = memory.read(&WAVELENGTH).and_then(|raw| match raw {
        0 => Fact::missing_with(Reason::NotReported, "the module leaves it empty"),
        raw => Fact::Known(Nanometres(f64::from(raw) * 0.05)),
    });
    if let Fact::Known([single_mode, om5, om4, om3, om2]) = memory.read(&LENGTHS) {
        // Only two multipliers are defined for single-mode fibre: 0.1 km and 1 km.
        for (medium, metres) in [
            ("single-mode fibre", scaled(single_mode, [100.0, 1000.0, 0.0, 0.0])),
            ("OM5", f64::from(om5) * 2.0),
            ("OM4", f64::from(om4) * 2.0),
            ("OM3", f64::from(om3) * 2.0),
            ("OM2", f64::from(om2)),
        ] {
            if metres > 0.0 {
                module.reaches.push(Reach { medium, metres: Metres(metres), at_least: false });
            }
        }
    }
}

fn state(memory: &Memory, module: &mut Module) {
    let state = memory.read(&STATE);
    module.state = state.clone().map(|bits| match (bits >> 1) & 0x07 {
        1 => "low power".to_owned(),
        2 => "powering up".to_owned(),
        3 => "ready".to_owned(),
        4 => "powering down".to_owned(),
        5 => match memory.read(&FAULT_CAUSE) {
            Fact::Known(cause) => format!("fault (cause {cause:02x}h)"),
            Fact::Missing(_) => "fault".to_owned(),
        },
        other => format!("state {other:x}h"),
    });
    module.low_power = state.clone().map(|bits| (bits >> 1) & 0x07 == 1);
    module.data_ready =
        Fact::missing_with(Reason::NotApplicable, "CMIS has a module state in its place");
    if state.known().is_some_and(|bits| bits & 0x01 == 0) {
        module.status.push("the module asks for attention (interrupt)");
    }
    if let Fact::Known(bits) = memory.read(&FIRMWARE_FLAGS) {
        if bits & 0x04 != 0 {
            module.status.push("the data path firmware failed (from memory)");
        }
        if bits & 0x02 != 0 {
            module.status.push("the module firmware failed (from memory)");
        }
    }
    if memory.read(&CONTROL).known().is_some_and(|bits| bits & 0x10 != 0) {
        module.status.push("low power is requested by the host (byte 26)");
    }
}

/// Flags in the low four bits, high alarm lowest: the other way round than in SFF-8636.
fn low_first(nibble: u8) -> Flags {
    flags((nibble & 0x0f).reverse_bits() >> 4)
}

fn monitors(memory: &Memory, module: &mut Module) {
    let any = |row: &Field<1, u8>, mask: u8| memory.read(row).map(|bits| bits & mask != 0);
    module.diagnostics = match (any(&MODULE_MONITORS, 0x03), any(&LANE_MONITORS, 0x07)) {
        (Fact::Known(true), _) | (_, Fact::Known(true)) => Fact::Known(true),
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => {
            if why.reason == Reason::NotImplemented {
                Fact::Known(false)
            } else {
                Fact::Missing(why)
            }
        }
        _ => Fact::Known(false),
    };
    if module.diagnostics == Fact::Known(true) {
        module.calibration = Fact::Known(Calibration::Internal);
    }
    let (temperature, supply) = (memory.read(&TEMPERATURE), memory.read(&VCC));
    // The flags of a quantity that is not measured say nothing.
    let flagged = |reading: &Fact<u16>, shift: u8| {
        reading
            .clone()
            .and_then(|_| memory.read(&MODULE_FLAGS))
            .map(|bits| low_first(bits >> shift))
    };
    module.temperature_flags = flagged(&temperature, 0);
    module.supply_flags = flagged(&supply, 4);
    module.temperature = temperature.map(celsius);
    module.supply = supply.map(volts);
    module.rx_power_kind = match no_light(module.carries) {
        Some(why) => Fact::Missing(why),
        None => memory.read(&POWER_KIND).map(|bits| {
            if bits & 0x10 != 0 { RxPowerKind::Average } else { RxPowerKind::ModulationAmplitude }
        }),
    };
}

/// What a count of laser bias is multiplied by.
fn bias_scale(memory: &Memory) -> Fact<f64> {
    memory.read(&LANE_MONITORS).and_then(|bits| match (bits >> 3) & 0x03 {
        0 => Fact::Known(1.0),
        1 => Fact::Known(2.0),
        2 => Fact::Known(4.0),
        _ => Fact::missing_with(
            Reason::Malformed,
            "page 01h byte 160 gives a bias scale that is reserved",
        ),
    })
}

/// Media lanes of one bank that a data path puts light on, bit n for lane n + 1.
///
/// Host and media lanes may differ in number: the k-th place where an application may start on
/// the host side goes with the k-th on the media side.
fn lit_lanes(active: [u8; 8], applications: &[Application]) -> u8 {
    let mut lit = 0u32;
    for (host_lane, set) in active.into_iter().enumerate() {
        let (selected, first) = (set >> 4, (set >> 1) & 0x07);
        if selected == 0 {
            continue;
        }
        let Some(application) = applications.iter().find(|known| known.number == selected) else {
            // An application that is not listed: the lane is in use, whatever for.
            lit |= 1 << host_lane;
            continue;
        };
        let nth = (application.host_starts & ((1 << first) - 1)).count_ones();
        let listed = application.media_starts.known().and_then(|starts| {
            (0..8u32).filter(|lane| starts & (1 << lane) != 0).nth(nth.try_into().ok()?)
        });
        // Without a list, data paths stand side by side.
        let start = listed.unwrap_or(nth * u32::from(application.media_lanes));
        let lanes = (1u32 << application.media_lanes) - 1;
        lit |= lanes.checked_shl(start).unwrap_or(0);
    }
    (lit & 0xff).try_into().unwrap_or(u8::MAX)
}

fn lanes(memory: &Memory, module: &mut Module, applications: &[Application]) {
    let banks = match memory.read(&PAGES).known().map(|pages| pages & 0x03) {
        Some(1) => 2,
        Some(2) => 4,
        _ => 1,
    };
    let absent = memory.read(&LANES_NOT_SUPPORTED).known().copied().unwrap_or(0);
    let (mut rejected, mut equalizer, mut selected) = (false, false, false);
    for bank in 0..banks {
        let active = memory.read(&ACTIVE_SET.in_bank(bank));
        let lit = match &active {
            Fact::Known(active) => lit_lanes(*active, applications),
            // Nobody knows what is selected: as many as the first application takes.
            Fact::Missing(_) => match applications.first() {
                Some(first) if first.media_lanes < 8 => (1 << first.media_lanes) - 1,
                _ => 0xff,
            },
        };
        selected |= active.known().is_none_or(|active| active.iter().any(|set| set >> 4 != 0));
        for lane in 1..=8u8 {
            let in_use = lit & !absent & (1 << (lane - 1)) != 0;
            let status = nibble(memory, &CONFIG_STATUS, bank, lane);
            rejected |= in_use && status.known().is_some_and(|status| *status > 1);
            equalizer |= in_use && bit(memory, &TX_EQUALIZER, bank, lane) == Fact::Known(true);
            let lane = self::lane(memory, module.carries, bank, lane);
            module.lanes.push(Lane { in_use, ..lane });
        }
    }
    if !selected {
        module.status.push("no application is selected on any lane");
    }
    if rejected {
        module.status.push("a lane's last configuration did not succeed (from memory)");
    }
    if equalizer {
        module.status.push("the transmit equalizer failed on some lane (from memory)");
    }
}

/// The bit of a lane of a bank.
fn bit(memory: &Memory, row: &Field<1, u8>, bank: u8, lane: u8) -> Fact<bool> {
    memory.read(&row.in_bank(bank)).map(|byte| byte & (1 << (lane - 1)) != 0)
}

/// The four bits of a lane of a bank: odd lanes in the low half of a byte, even ones in the high.
fn nibble(memory: &Memory, row: &Field<4, [u8; 4]>, bank: u8, lane: u8) -> Fact<u8> {
    memory.read(&row.in_bank(bank)).map(|bytes| {
        let byte = bytes.get(usize::from((lane - 1) / 2)).copied().unwrap_or_default();
        if lane % 2 == 1 { byte & 0x0f } else { byte >> 4 }
    })
}

fn data_path_state(code: u8) -> String {
    match code {
        1 => "deactivated".into(),
        2 => "initializing".into(),
        3 => "deinitializing".into(),
        4 => "activated".into(),
        5 => "turning its transmitter on".into(),
        6 => "turning its transmitter off".into(),
        7 => "initialized".into(),
        other => format!("state {other:x}h"),
    }
}

/// Lane 1-8 of a bank.
fn lane(memory: &Memory, carries: Carries, bank: u8, lane: u8) -> Lane {
    let dark = no_light(carries);
    let monitor = |row: Field<2, u16>| match &dark {
        Some(why) => Fact::Missing(why.clone()),
        None => memory.read(&row.in_bank(bank).lane(lane)),
    };
    // The flags of a quantity that is not measured say nothing.
    let flagged = |row: &Field<4, [u8; 4]>, reading: &Fact<u16>| {
        reading.clone().and_then(|_| memory.read(&row.in_bank(bank))).map(|bytes| {
            let [high_alarm, low_alarm, high_warning, low_warning] =
                bytes.map(|byte| byte & (1 << (lane - 1)) != 0);
            Flags { high_alarm, low_alarm, high_warning, low_warning }
        })
    };
    let state = |row: &Field<1, u8>| bit(memory, row, bank, lane);
    let (bias, tx_power, rx_power) = (monitor(BIAS), monitor(TX_POWER), monitor(RX_POWER));
    Lane {
        number: bank * 8 + lane,
        in_use: true,
        rx_los: match &dark {
            Some(why) => Fact::Missing(why.clone()),
            None => state(&RX_LOS),
        },
        tx_los: state(&TX_LOS),
        rx_loss_of_lock: state(&RX_LOL),
        tx_loss_of_lock: state(&TX_LOL),
        tx_fault: state(&TX_FAULT),
        tx_disabled: state(&TX_DISABLE),
        bias_flags: flagged(&BIAS_FLAGS, &bias),
        tx_power_flags: flagged(&TX_POWER_FLAGS, &tx_power),
        rx_power_flags: flagged(&RX_POWER_FLAGS, &rx_power),
        data_path_state: nibble(memory, &DATA_PATH_STATES, bank, lane).map(data_path_state),
        bias: bias
            .and_then(|raw| bias_scale(memory).map(|scale| Milliamps(milliamps(raw).0 * scale))),
        tx_power: tx_power.map(milliwatts),
        rx_power: rx_power.map(milliwatts),
    }
}

fn thresholds(memory: &Memory, module: &mut Module) {
    module.thresholds_source =
        "the module's own limits, page 02h bytes 128-199 (places partly from memory)".into();
    let scale = bias_scale(memory);
    let bias_words = scale.clone().and_then(|_| memory.read(&BIAS_LIMITS));
    let factor = scale.known().copied().unwrap_or(1.0);
    let mut limits = LimitReader::default();
    module.thresholds = Thresholds {
        temperature: limits.read("temperature", memory.read(&TEMPERATURE_LIMITS), celsius),
        supply: limits.read("supply", memory.read(&VCC_LIMITS), volts),
        bias: limits.read("laser bias", bias_words, |raw| Milliamps(milliamps(raw).0 * factor)),
        tx_power: limits.read("transmit power", memory.read(&TX_POWER_LIMITS), milliwatts),
        rx_power: limits.read("receive power", memory.read(&RX_POWER_LIMITS), milliwatts),
    };
    module.doubts.extend(limits.doubt("CMIS page 02h bytes 128-199"));
    if let Some(why) = no_light(module.carries) {
        no_optical_limits(&mut module.thresholds, &why);
    }
}

const SOURCES: Sources = Sources {
    checksums: "CMIS page checksums",
    types_and_wavelength: "CMIS application descriptors, page 01h bytes 138-139",
    types_and_rate: "CMIS application descriptors",
    temperature: "CMIS lower memory bytes 14-15",
    supply: "CMIS lower memory bytes 16-17",
    power: "CMIS page 11h bytes 154-201",
    lanes: 1,
};

#[cfg(test)]
mod tests;
