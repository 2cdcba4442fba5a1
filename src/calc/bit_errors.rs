//! Whether a count of errors is more than an interface type's bit-error ratio allows.
//!
//! In: errors, the bits they were counted among, the ratio. Out: yes or no at a confidence of
//! 95 %. Errors are taken as independent (the Poisson limit of the binomial, any statistics text);
//! section 5 of the media notes has the worked examples.

use crate::calc::bit_error_bound::{Confidence, bounds};
use crate::quantity::{Bits, Mbps};

/// The bit-error ratio that the interface types of a speed are specified for, at the MAC:
/// 1e-10 for 1000BASE-T, 1e-13 from 200 Gb/s on, else 1e-12 (IEEE 802.3 clauses 40, 119 and 52,
/// as quoted in table 1.1 of the media notes; partly from memory).
pub fn ratio(speed: Mbps, twisted_pair: bool) -> f64 {
    match speed {
        Mbps(200_000..) => 1e-13,
        Mbps(1000) if twisted_pair => 1e-10,
        _ => 1e-12,
    }
}

/// True if so many errors among so many bits are no more than chance makes at this ratio:
/// the lower 95 % bound of what was seen is not above it.
pub fn allowed(errors: u64, bits: f64, ratio: f64) -> bool {
    let lower = || bounds(errors, Bits(bits), Confidence::USUAL)?.lower;
    errors == 0 || lower().is_some_and(|lower| lower.0 <= ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked example d3 of the media notes: 5 errors in ten minutes of 25G (15.47e12 bits on the
    /// line) have a lower 95 % bound of 1.274e-13.
    #[test]
    fn lower_bound() {
        let bits = 600.0 * 25.781_25e9;
        assert!(allowed(5, bits, 1.28e-13));
        assert!(!allowed(5, bits, 1.27e-13));
    }

    /// Worked example d6: 35.5 errors an hour are what 1e-12 means on a full 10G link.
    #[test]
    fn an_hour() {
        let bits = 812_744.0 * 3600.0 * 12_144.0;
        assert!(allowed(36, bits, 1e-12));
        assert!(!allowed(60, bits, 1e-12));
    }

    #[test]
    fn edges() {
        assert!(allowed(0, 0.0, 1e-12), "none is always allowed");
        assert!(!allowed(1, 0.0, 1e-12), "an error among no bits");
        assert!(!allowed(1, f64::INFINITY, 1e-12));
        assert!(!allowed(u64::MAX, 1e20, 1e-12));
        assert!(allowed(100_000_000, 1e20, 1e-12), "as many as expected");
        for (speed, twisted_pair, wanted) in [
            (1000, true, 1e-10),
            (1000, false, 1e-12),
            (10_000, true, 1e-12),
            (400_000, false, 1e-13),
        ] {
            let found = ratio(Mbps(speed), twisted_pair);
            assert!((found / wanted - 1.0).abs() < 1e-9, "{speed}: {found}");
        }
    }
}
