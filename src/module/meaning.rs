//! What the memory maps have in common: text, company ids, dates, checksums, limits, flags and
//! the plausibility of readings.
//!
//! In: raw bytes or facts. Out: facts and doubts. No I/O, no panic. What a map alone knows
//! (where things stand, what is implemented) stays in its own file.

use crate::module::{
    Carries, Checksum, Doubt, DoubtKind, Family, Flags, Lane, Limits, Memory, Module, Place,
    Thresholds,
};
use crate::quantity::{Celsius, Mbps, Milliamps, Milliwatts, Nanometres, Volts};
use crate::snapshot::{Fact, Missing, Reason};
use crate::standards::accuracy;

/// One byte as it stands.
pub fn byte([byte]: [u8; 1]) -> u8 {
    byte
}

/// ASCII, padded with spaces or zeros; whatever is not printable is shown as `\x1b`.
pub fn text<const N: usize>(bytes: [u8; N]) -> String {
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

/// A text that must not be empty to be known.
pub fn filled(text: Fact<String>) -> Fact<String> {
    text.and_then(|text| {
        if text.is_empty() {
            Fact::missing_with(Reason::NotReported, "the module leaves it empty")
        } else {
            Fact::Known(text)
        }
    })
}

/// IEEE company id as `00-11-22`; all zero is unspecified.
pub fn company_id(bytes: Fact<[u8; 3]>) -> Fact<String> {
    bytes.and_then(|[a, b, c]| {
        if [a, b, c] == [0, 0, 0] {
            Fact::missing_with(Reason::NotReported, "the module leaves it empty")
        } else {
            Fact::Known(format!("{a:02x}-{b:02x}-{c:02x}"))
        }
    })
}

/// `250630A1` as `2025-06-30 lot A1`; anything else as it stands.
pub fn date(code: &str) -> String {
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

/// Low 8 bits of the sum of all bytes from first to last (every family computes it so).
pub fn checksum(
    memory: &Memory,
    name: &'static str,
    covers: &'static str,
    place: Place,
    (first, last): (u8, u8),
    stored_at: u8,
) -> Checksum {
    let found = memory.stretch(place, first, last).and_then(|bytes| {
        let [stored] = memory.bytes::<1>(place, stored_at)?;
        Ok((stored, bytes.iter().fold(0u8, |sum, byte| sum.wrapping_add(*byte))))
    });
    let (matches, stored_computed) = match found {
        Ok((stored, computed)) => (Fact::Known(stored == computed), Some((stored, computed))),
        Err(why) => (Fact::Missing(why), None),
    };
    Checksum { name, covers, matches, stored_computed }
}

/// Flags in the low four bits: high alarm in bit 3, low alarm, high warning, low warning in bit 0.
pub fn flags(nibble: u8) -> Flags {
    Flags {
        high_alarm: nibble & 8 != 0,
        low_alarm: nibble & 4 != 0,
        high_warning: nibble & 2 != 0,
        low_warning: nibble & 1 != 0,
    }
}

/// Four limits as every family stores them: high alarm, low alarm, high warning, low warning.
pub fn four_words([a, b, c, d, e, f, g, h]: [u8; 8]) -> [u16; 4] {
    [[a, b], [c, d], [e, f], [g, h]].map(u16::from_be_bytes)
}

/// Reads limits, and remembers which ones cannot be.
#[derive(Default)]
pub struct LimitReader {
    impossible: Vec<&'static str>,
}

impl LimitReader {
    /// The limits of one quantity in its unit; refused where all are zero or all ones, or where
    /// a low one is not below its high one.
    pub fn read<T: PartialOrd + Copy>(
        &mut self,
        name: &'static str,
        words: Fact<[u16; 4]>,
        unit: impl Fn(u16) -> T,
    ) -> Fact<Limits<T>> {
        words.and_then(|words| {
            if words == [0; 4] {
                return Fact::missing_with(Reason::NotImplemented, "limits are all zero");
            }
            if words == [0xffff; 4] {
                self.impossible.push(name);
                return Fact::missing_with(Reason::Malformed, "limits are all ones");
            }
            // The ends of the scale, signed or not, are how a module says that it has no limit.
            if matches!(words, [0x7fff, 0x8000, 0x7fff, 0x8000] | [0xffff, 0, 0xffff, 0]) {
                return Fact::missing_with(
                    Reason::NotImplemented,
                    "limits stand at the ends of the scale",
                );
            }
            self.ordered(name, words.map(&unit))
        })
    }

    /// High alarm, low alarm, high warning, low warning; refused where a low one is not below its
    /// high one, or an alarm inside the warnings.
    pub fn ordered<T: PartialOrd + Copy>(
        &mut self,
        name: &'static str,
        [high_alarm, low_alarm, high_warning, low_warning]: [T; 4],
    ) -> Fact<Limits<T>> {
        let why = if low_alarm >= high_alarm || low_warning >= high_warning {
            "a low limit is not below the high one"
        } else if low_alarm > low_warning || high_alarm < high_warning {
            "an alarm limit lies inside the warning limits"
        } else {
            return Fact::Known(Limits { high_alarm, low_alarm, high_warning, low_warning });
        };
        self.impossible.push(name);
        Fact::missing_with(Reason::Malformed, why)
    }

    /// The doubt about those that cannot be.
    pub fn doubt(&self, source: &'static str) -> Option<Doubt> {
        (!self.impossible.is_empty()).then(|| Doubt {
            kind: DoubtKind::ThresholdsImpossible,
            text: format!("the module's limits cannot be: {}", self.impossible.join(", ")),
            source,
        })
    }
}

/// Temperature, 1/256 °C a count, signed (all families).
pub fn celsius(raw: u16) -> Celsius {
    Celsius(f64::from(raw.cast_signed()) / 256.0)
}

/// Supply, 100 µV a count (all families).
pub fn volts(raw: u16) -> Volts {
    Volts(f64::from(raw) / 10_000.0)
}

/// Laser bias, 2 µA a count (all families; CMIS multiplies it by a scale).
pub fn milliamps(raw: u16) -> Milliamps {
    Milliamps(f64::from(raw) * 2.0 / 1000.0)
}

/// Optical power, 0.1 µW a count (all families).
pub fn milliwatts(raw: u16) -> Milliwatts {
    Milliwatts::from_tenth_microwatts(f64::from(raw))
}

/// Why a module without an optical connector has no optical facts; `None` for optics, active
/// cables and what cannot be told.
pub fn no_light(carries: Carries) -> Option<Missing> {
    matches!(carries, Carries::PassiveCopper | Carries::TwistedPair).then(|| {
        Missing::with(
            Reason::NotApplicable,
            format!("no light leaves a module for {}", carries.text()),
        )
    })
}

/// An active cable need not measure its light, and an active copper cable has none: what reads zero
/// on every lane of one may be not measured (common practice, no published source). Where the module
/// says that it measures (CMIS does), or flags that the light is gone, zero is a reading.
pub fn unmeasured_light(module: &mut Module) {
    if module.carries != Carries::ActiveCable || module.family == Family::Cmis {
        return;
    }
    let flagged = |lane: &Lane| {
        let low = |flags: &Fact<Flags>| {
            flags.known().is_some_and(|flags| flags.low_alarm || flags.low_warning)
        };
        lane.rx_los == Fact::Known(true)
            || [&lane.rx_power_flags, &lane.tx_power_flags, &lane.bias_flags].into_iter().any(low)
    };
    if module.lanes.iter().any(flagged) {
        return;
    }
    let zero = |power: &Fact<Milliwatts>| power.known().is_some_and(|power| power.0 <= 0.0);
    let why = || {
        Missing::with(
            Reason::NotImplemented,
            "an active cable that reads 0 on every lane may not measure it",
        )
    };
    type Pick = fn(&mut Lane) -> &mut Fact<Milliwatts>;
    let powers: [Pick; 2] = [|lane| &mut lane.rx_power, |lane| &mut lane.tx_power];
    for pick in powers {
        if module.lanes.iter_mut().all(|lane| zero(pick(lane))) {
            for lane in &mut module.lanes {
                *pick(lane) = Fact::Missing(why());
            }
        }
    }
    let still = |lane: &Lane| lane.bias.known().is_some_and(|bias| bias.0 <= 0.0);
    if module.lanes.iter().all(still) {
        for lane in &mut module.lanes {
            lane.bias = Fact::Missing(why());
        }
    }
}

/// A lane of whose state nothing is known, for one reason.
pub fn dark_lane(number: u8, why: &Missing) -> Lane {
    Lane {
        number,
        in_use: true,
        bias: Fact::Missing(why.clone()),
        tx_power: Fact::Missing(why.clone()),
        rx_power: Fact::Missing(why.clone()),
        rx_los: Fact::Missing(why.clone()),
        tx_los: Fact::Missing(why.clone()),
        rx_loss_of_lock: Fact::Missing(why.clone()),
        tx_loss_of_lock: Fact::Missing(why.clone()),
        tx_fault: Fact::Missing(why.clone()),
        tx_disabled: Fact::Missing(why.clone()),
        bias_flags: Fact::Missing(why.clone()),
        tx_power_flags: Fact::Missing(why.clone()),
        rx_power_flags: Fact::Missing(why.clone()),
        data_path_state: Fact::Missing(why.clone()),
    }
}

/// All limits missing for one reason.
pub fn no_limits(why: &Missing) -> Thresholds {
    Thresholds {
        temperature: Fact::Missing(why.clone()),
        supply: Fact::Missing(why.clone()),
        bias: Fact::Missing(why.clone()),
        tx_power: Fact::Missing(why.clone()),
        rx_power: Fact::Missing(why.clone()),
    }
}

/// Takes the optical limits of a module that has no light.
pub fn no_optical_limits(thresholds: &mut Thresholds, why: &Missing) {
    thresholds.bias = Fact::Missing(why.clone());
    thresholds.tx_power = Fact::Missing(why.clone());
    thresholds.rx_power = Fact::Missing(why.clone());
}

/// Fills in the data rates: of the interface types, or by nominal rate where no type tells one.
pub fn settle_speeds(module: &mut Module, by_rate: Option<(Mbps, String)>, why_not: &Missing) {
    let types = &module.interface_types;
    let mut speeds: Vec<Mbps> = types.iter().filter_map(|claimed| claimed.speed).collect();
    speeds.sort_unstable();
    speeds.dedup();
    module.top_speed_source = match (speeds.last(), by_rate) {
        (Some(top), _) => types
            .iter()
            .find(|claimed| claimed.speed == Some(*top))
            .map(|claimed| format!("{}, {}", claimed.name, claimed.source))
            .unwrap_or_default(),
        (None, Some((speed, source))) => {
            speeds.push(speed);
            source
        }
        (None, None) => String::new(),
    };
    module.top_speed = match speeds.last() {
        Some(speed) => Fact::Known(*speed),
        None => Fact::Missing(why_not.clone()),
    };
    module.speeds = speeds;
}

/// Where the fields that [`doubts`] compares stand in one family.
pub struct Sources {
    /// Checksums.
    pub checksums: &'static str,
    /// Interface types and wavelength.
    pub types_and_wavelength: &'static str,
    /// Interface types and nominal rate.
    pub types_and_rate: &'static str,
    /// Temperature.
    pub temperature: &'static str,
    /// Supply.
    pub supply: &'static str,
    /// Optical power.
    pub power: &'static str,
    /// Lanes that the nominal rate is one of.
    pub lanes: u32,
}

/// Whether what the module says of itself fits together, and can be at all.
pub fn doubts(module: &Module, sources: &Sources) -> Vec<Doubt> {
    let mut found = Vec::new();
    for checksum in &module.checksums {
        if checksum.matches == Fact::Known(false) {
            found.push(Doubt {
                kind: match checksum.name {
                    "CC_DMI" | "page 02h" => DoubtKind::LimitsChecksumWrong,
                    _ => DoubtKind::ChecksumWrong,
                },
                text: format!("checksum {} does not match {}", checksum.name, checksum.covers),
                source: sources.checksums,
            });
        }
    }
    if let Fact::Known(Nanometres(nanometres)) = module.wavelength {
        // These two send about 1300 nm over multimode fibre (IEEE 802.3 clauses 68 and 26).
        let long_on_multimode = module.claims("10GBASE-LRM") || module.claims("100BASE-FX");
        let short = module.carries == Carries::MultimodeFibre && !long_on_multimode;
        let long = module.carries == Carries::SingleModeFibre;
        let kind = if short && nanometres > 1200.0 {
            Some(DoubtKind::ShortReachTypeWithLongWavelength)
        } else if long && nanometres < 1000.0 {
            Some(DoubtKind::LongReachTypeWithShortWavelength)
        } else {
            None
        };
        if let Some(kind) = kind {
            found.push(Doubt {
                kind,
                text: format!(
                    "the interface type is for {}, the wavelength is {}",
                    module.carries.text(),
                    Nanometres(nanometres)
                ),
                source: sources.types_and_wavelength,
            });
        }
    }
    if let (Fact::Known(speed), Fact::Known(megabaud)) =
        (&module.top_speed, &module.nominal_megabaud)
        // Two bits a symbol at most, so half of the rate is too little for certain.
        && u64::from(*megabaud) * u64::from(sources.lanes) * 2 < u64::from(speed.0)
        && module.carries != Carries::TwistedPair
    {
        found.push(Doubt {
            kind: DoubtKind::NominalRateContradictsType,
            text: format!("the nominal rate is {megabaud} MBd, the interface type is for {speed}"),
            source: sources.types_and_rate,
        });
    }
    let mut impossible = |text: String, source: &'static str| {
        found.push(Doubt { kind: DoubtKind::ReadingImpossible, text, source });
    };
    if let Fact::Known(celsius) = module.temperature
        && !accuracy::can_be(celsius)
    {
        let text = format!("a temperature of {celsius} is outside physics for a module");
        impossible(text, sources.temperature);
    }
    if let Fact::Known(volts) = module.supply
        && !(1.0..=6.0).contains(&volts.0)
    {
        impossible(format!("no module runs on a supply of {volts}"), sources.supply);
    }
    for lane in &module.lanes {
        for (what, power) in [("transmitted", &lane.tx_power), ("received", &lane.rx_power)] {
            // 6.5535 mW is the most that any of the maps can say.
            if let Fact::Known(power) = power
                && power.0 > accuracy::MOST_POWER_MILLIWATTS
            {
                impossible(
                    format!(
                        "{what} power of {:.1} mW on lane {} is more than the standard can say \
                         (6.5535 mW)",
                        power.0, lane.number
                    ),
                    sources.power,
                );
            }
        }
    }
    found
}

/// A doubt where the upper page's copy of the identifier differs from byte 0.
pub fn identifier_copies(first: &Fact<u8>, second: &Fact<u8>) -> Option<Doubt> {
    match (first, second) {
        (Fact::Known(first), Fact::Known(second)) if first != second => Some(Doubt {
            kind: DoubtKind::IdentifiersDiffer,
            text: format!("byte 0 says {first:02x}h, byte 128 of page 00h says {second:02x}h"),
            source: "lower memory byte 0, page 00h byte 128",
        }),
        _ => None,
    }
}

/// A doubt where a module without light claims diagnostics of light.
pub fn copper_with_diagnostics(carries: Carries, source: &'static str) -> Option<Doubt> {
    no_light(carries).map(|_| Doubt {
        kind: DoubtKind::CopperTypeWithDiagnostics,
        text: format!(
            "the module is for {} and claims diagnostics; its optical readings are left out",
            carries.text()
        ),
        source,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SFF-8472 Rev 9.3 table 3.7: two digits each, 00 is 2000; the lot may be blank.
    #[test]
    fn dates() {
        assert_eq!(date("250630A1"), "2025-06-30 lot A1");
        assert_eq!(date("000102"), "2000-01-02");
        assert_eq!(date("25063"), "25063");
        assert_eq!(date("2o0630"), "2o0630");
        assert_eq!(date(""), "");
    }

    /// Padding by space or NUL; nothing reaches a terminal raw.
    #[test]
    fn texts() {
        assert_eq!(text(*b"GANNET  \0\0"), "GANNET");
        assert_eq!(text([0x1b, b'[', 0xff]), "\\x1b[\\xff");
        assert_eq!(text([0; 16]), "");
        assert_eq!(filled(Fact::Known(String::new())).known(), None);
        assert_eq!(company_id(Fact::Known([0, 0x1a, 0xff])), Fact::Known("00-1a-ff".into()));
        assert_eq!(company_id(Fact::Known([0; 3])).known(), None);
    }

    /// Nibble order of SFF-8636 and of the limits: high alarm, low alarm, high warning, low
    /// warning.
    #[test]
    fn nibbles() {
        assert_eq!(flags(8), Flags { high_alarm: true, ..Flags::default() });
        assert_eq!(flags(4), Flags { low_alarm: true, ..Flags::default() });
        assert_eq!(flags(2), Flags { high_warning: true, ..Flags::default() });
        assert_eq!(flags(1), Flags { low_warning: true, ..Flags::default() });
        assert_eq!(four_words([1, 2, 3, 4, 5, 6, 7, 8]), [0x0102, 0x0304, 0x0506, 0x0708]);
    }

    /// A power of ten milliwatts is a multiple of ten dBm (definition of the decibel).
    #[test]
    fn powers_of_ten() {
        for (raw, dbm) in [(10_000u16, 0.0), (1000, -10.0), (100, -20.0), (10, -30.0), (1, -40.0)] {
            let ours = milliwatts(raw).dbm().unwrap().0;
            assert!((ours - dbm).abs() < 1e-9, "{raw}: {ours}");
        }
    }
}
