//! Units as types: a dBm is not a milliwatt is not a number.
//!
//! Pure values with their conversions. Optical power in dBm is 10 log10 of the power in
//! milliwatts; zero power has no dBm value, so the conversion to [`Dbm`] is optional.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $decimals:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                // Rounded first, so that a tiny negative number does not print as "-0.0".
                let scale = 10f64.powi($decimals);
                let rounded = (self.0 * scale).round() / scale + 0.0;
                write!(f, "{:.*} {}", $decimals, rounded, $unit)
            }
        }
    };
}

quantity!(
    /// Optical power in decibels relative to one milliwatt.
    Dbm, "dBm", 2
);
quantity!(
    /// A ratio in decibels.
    Decibels, "dB", 1
);
quantity!(
    /// Temperature in degrees Celsius.
    Celsius, "°C", 1
);
quantity!(
    /// Voltage in volts.
    Volts, "V", 2
);
quantity!(
    /// Laser bias current in milliamperes.
    Milliamps, "mA", 2
);
/// Length in metres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Metres(pub f64);

impl fmt::Display for Metres {
    /// `100 m`; `2.5 m`, since cables come in halves and CMIS tells tenths.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 * 10.0).round() / 10.0 + 0.0;
        let decimals = usize::from(tenths.fract() != 0.0);
        write!(f, "{tenths:.decimals$} m")
    }
}

quantity!(
    /// Wavelength in nanometres.
    Nanometres, "nm", 0
);

/// Optical power in milliwatts, never below zero.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Milliwatts(pub f64);

impl Milliwatts {
    /// From a raw reading in units of 0.1 µW (SFF-8472 table 9-2, SFF-8636, CMIS).
    pub fn from_tenth_microwatts(raw: f64) -> Self {
        Self(raw / 10_000.0)
    }

    /// In dBm; `None` for no power at all, which has no such value.
    pub fn dbm(self) -> Option<Dbm> {
        (self.0 > 0.0).then(|| Dbm(10.0 * self.0.log10()))
    }
}

impl Dbm {
    /// In milliwatts.
    pub fn milliwatts(self) -> Milliwatts {
        Milliwatts(10f64.powf(self.0 / 10.0))
    }
}

impl std::ops::Sub for Dbm {
    type Output = Decibels;

    fn sub(self, other: Self) -> Decibels {
        Decibels(self.0 - other.0)
    }
}

impl fmt::Display for Milliwatts {
    /// dBm with milliwatts or microwatts beside it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(dbm) = self.dbm() else {
            return f.write_str("no light (0 mW)");
        };
        if self.0 >= 0.1 {
            write!(f, "{dbm} ({:.3} mW)", self.0)
        } else {
            write!(f, "{dbm} ({:.1} µW)", self.0 * 1000.0)
        }
    }
}

/// Data rate in megabits per second, as the MAC counts it.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Mbps(pub u32);

impl fmt::Display for Mbps {
    /// `10 Gb/s`, `2.5 Gb/s`, `100 Mb/s`; three figures at most.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 1000 {
            return write!(f, "{} Mb/s", self.0);
        }
        let gigabits = f64::from(self.0) / 1000.0;
        if self.0.is_multiple_of(1000) {
            write!(f, "{gigabits:.0} Gb/s")
        } else {
            write!(f, "{gigabits:.1} Gb/s")
        }
    }
}

impl Mbps {
    /// In bits per second.
    pub fn bits_per_second(self) -> BitsPerSecond {
        BitsPerSecond(f64::from(self.0) * 1e6)
    }
}

/// A measured or computed rate in bits per second; [`Mbps`] is for the speeds that standards name.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BitsPerSecond(pub f64);

impl fmt::Display for BitsPerSecond {
    /// `9.41 Gb/s`, `94.15 Mb/s`, `939.0 Mb/s`: three to four figures.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let units = [(1e12, "Tb/s"), (1e9, "Gb/s"), (1e6, "Mb/s"), (1e3, "kb/s")];
        // 999.95 would be shown as "1000.0".
        let fits = |(unit, _): &(f64, &str)| self.0.abs() >= 0.99995 * unit;
        let (unit, name) = units.into_iter().find(fits).unwrap_or((1.0, "b/s"));
        let value = self.0 / unit + 0.0;
        let decimals = if value.abs() < 100.0 { 2 } else { 1 };
        write!(f, "{value:.decimals$} {name}")
    }
}

/// Times a second: frames, codewords, errors.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PerSecond(pub f64);

/// A number of bits. It may be far above 2^64, and need not be whole where it was computed.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Bits(pub f64);

/// A number of octets: of a frame, a packet, a payload.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Octets(pub u32);

impl fmt::Display for Octets {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} octets", self.0)
    }
}

/// A span of time in seconds; nanoseconds to centuries.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seconds(pub f64);

impl fmt::Display for Seconds {
    /// `483.4 ns`, `29.0 s`, `7.8 min`, `17.5 h`, `3.1 days`, `2.0 years`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let units = [
            (365.25 * 86_400.0, "years"),
            (86_400.0, "days"),
            (3600.0, "h"),
            (60.0, "min"),
            (1.0, "s"),
            (1e-3, "ms"),
            (1e-6, "µs"),
        ];
        // A minute has two of its own before it is called one: "90.0 s", "2.0 min".
        let fits = |(unit, _): &(f64, &str)| {
            self.0.abs() >= if *unit > 1.0 { 1.95 * unit } else { 0.99995 * unit }
        };
        let (unit, name) = units.into_iter().find(fits).unwrap_or((1e-9, "ns"));
        write!(f, "{:.1} {name}", self.0 / unit + 0.0)
    }
}

macro_rules! ratio {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl fmt::Display for $name {
            /// Three figures with a power of ten: `8.07e-14`.
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:.2e}", self.0)
            }
        }
    };
}

ratio!(
    /// Wrong bits of all bits, 0 to 1.
    BitErrorRatio
);
ratio!(
    /// Damaged or lost frames of all frames, 0 to 1.
    FrameErrorRatio
);
ratio!(
    /// Codewords that FEC could not mend of all codewords, 0 to 1.
    CodewordErrorRatio
);

/// Weight of evidence: ten times the decimal logarithm of the odds. +10 is ten to one for,
/// -10 ten to one against.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Decibans(pub i32);

impl std::ops::Add for Decibans {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl fmt::Display for Decibans {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:+}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(ours: f64, theirs: f64, tolerance: f64) {
        assert!((ours - theirs).abs() <= tolerance, "{ours} is not {theirs}");
    }

    /// Worked values: SFF-8472 Rev 9.3 as restated in the memory-map notes, section 1.9
    /// (2710h = 1 mW = 0 dBm, 1388h = -3.010 dBm, 0001h = -40 dBm, FFFFh = +8.165 dBm).
    #[test]
    fn power_words_to_dbm() {
        for (raw, dbm) in [
            (0x2710, 0.0),
            (0x1388, -3.010),
            (0x03e8, -10.0),
            (0x0064, -20.0),
            (0x0001, -40.0),
            (0xffff, 8.165),
        ] {
            let power = Milliwatts::from_tenth_microwatts(f64::from(raw));
            near(power.dbm().unwrap().0, dbm, 0.0005);
        }
        assert_eq!(Milliwatts(0.0).dbm(), None);
    }

    /// Worked example b6 of the media notes: -9.9 dBm, 0.5 dBm and 0.25 mW.
    #[test]
    fn dbm_to_milliwatts() {
        near(Dbm(-9.9).milliwatts().0, 0.1023, 0.00005);
        near(Dbm(0.5).milliwatts().0, 1.1220, 0.00005);
        near(Milliwatts(0.25).dbm().unwrap().0, -6.02, 0.005);
    }

    #[test]
    fn shown_as_people_write_it() {
        assert_eq!(Mbps(10_000).to_string(), "10 Gb/s");
        assert_eq!(Mbps(2500).to_string(), "2.5 Gb/s");
        assert_eq!(Mbps(100).to_string(), "100 Mb/s");
        assert_eq!(Milliwatts(0.4).to_string(), "-3.98 dBm (0.400 mW)");
        assert_eq!(Milliwatts(0.0005).to_string(), "-33.01 dBm (0.5 µW)");
        assert_eq!(Celsius(-0.01).to_string(), "0.0 °C");
        assert_eq!(Metres(100.0).to_string(), "100 m");
        assert_eq!(Metres(2.5).to_string(), "2.5 m");
        assert_eq!(Decibans(12).to_string(), "+12");
        for (rate, text) in [
            (9.4148e9, "9.41 Gb/s"),
            (94.148e6, "94.15 Mb/s"),
            (939.04e6, "939.0 Mb/s"),
            (999.97e6, "1.00 Gb/s"),
            (106.25e9, "106.2 Gb/s"),
            (1.6e12, "1.60 Tb/s"),
            (0.0, "0.00 b/s"),
            (-0.0, "0.00 b/s"),
            (f64::NAN, "NaN b/s"),
            (f64::INFINITY, "inf Tb/s"),
        ] {
            assert_eq!(BitsPerSecond(rate).to_string(), text);
        }
        assert_eq!(Mbps(2500).bits_per_second(), BitsPerSecond(2.5e9));
        assert_eq!(BitErrorRatio(8.069e-14).to_string(), "8.07e-14");
        assert_eq!(FrameErrorRatio(1.2144e-5).to_string(), "1.21e-5");
        assert_eq!(CodewordErrorRatio(0.0).to_string(), "0.00e0");
        assert_eq!(Octets(1518).to_string(), "1518 octets");
        for (time, text) in [
            (483.4e-9, "483.4 ns"),
            (67.2e-6, "67.2 µs"),
            (0.02, "20.0 ms"),
            (90.0, "90.0 s"),
            (465.8, "7.8 min"),
            (62_820.0, "17.4 h"),
            (7.0 * 86_400.0, "7.0 days"),
            (4e10, "1267.5 years"),
        ] {
            assert_eq!(Seconds(time).to_string(), text);
        }
    }
}
