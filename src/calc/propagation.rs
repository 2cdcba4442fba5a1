//! How long a signal takes along a run, and how far away an echo comes from.
//!
//! `delay = length / (factor x c)`, with the speed of light in vacuum of the SI, 299 792 458 m/s.

use crate::quantity::{Metres, Seconds};

/// Speed of light in vacuum, metres a second: exact by definition of the metre (SI brochure).
const LIGHT: f64 = 299_792_458.0;

/// Speed of a signal as a share of that of light in vacuum: above 0, at most 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct VelocityFactor(f64);

impl VelocityFactor {
    /// Twisted pair where its sheet says nothing else (from memory; cables have 0.6 to 0.8, so that
    /// a length is good to a tenth).
    pub const TWISTED_PAIR: Self = Self(0.69);
    /// Single-mode fibre: group index 1.468 (from memory).
    pub const SINGLE_MODE: Self = Self(1.0 / 1.468);
    /// Multimode fibre: group index 1.48 (from memory).
    pub const MULTIMODE: Self = Self(1.0 / 1.48);

    /// As printed on a cable's sheet; `None` outside 0 to 1.
    pub fn new(share: f64) -> Option<Self> {
        (share > 0.0 && share <= 1.0).then_some(Self(share))
    }

    /// Of a fibre by its group index; `None` below 1.
    pub fn of_group_index(index: f64) -> Option<Self> {
        (index.is_finite() && index >= 1.0).then(|| Self(1.0 / index))
    }

    /// As a share.
    pub fn share(self) -> f64 {
        self.0
    }
}

/// Time from one end to the other. `None` for a length that is negative or no number.
pub fn delay(length: Metres, factor: VelocityFactor) -> Option<Seconds> {
    let seconds = length.0 / (factor.0 * LIGHT);
    (length.0 >= 0.0 && seconds.is_finite()).then_some(Seconds(seconds))
}

/// Distance of what sends an echo back, from the time there and back. `None` for a time that is
/// negative or no number.
pub fn distance(echo: Seconds, factor: VelocityFactor) -> Option<Metres> {
    let metres = echo.0 * factor.0 * LIGHT / 2.0;
    (echo.0 >= 0.0 && metres.is_finite()).then_some(Metres(metres))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::bit_error_bound::tests::near;
    use proptest::prelude::*;

    /// Media notes, section 2: a4 and a5.
    #[test]
    fn worked_examples() {
        let pair = VelocityFactor::TWISTED_PAIR;
        near(delay(Metres(100.0), pair).unwrap().0, 483.4e-9, 1e-4);
        near(distance(Seconds(300e-9), pair).unwrap().0, 31.03, 2e-4);
    }

    /// By hand: light in vacuum takes 3.33564 µs for a kilometre; times 1.468 and 1.48.
    #[test]
    fn a_kilometre_of_fibre() {
        for (factor, theirs) in
            [(VelocityFactor::SINGLE_MODE, 4.89672e-6), (VelocityFactor::MULTIMODE, 4.93675e-6)]
        {
            near(delay(Metres(1000.0), factor).unwrap().0, theirs, 2e-6);
        }
    }

    #[test]
    fn hostile_inputs_have_no_answer() {
        for none in [f64::NAN, 0.0, -1.0, f64::INFINITY, 1.01] {
            assert_eq!(VelocityFactor::new(none), None);
        }
        for none in [f64::NAN, 0.0, -1.0, f64::INFINITY, 0.99] {
            assert_eq!(VelocityFactor::of_group_index(none), None);
        }
        for none in [f64::NAN, -1.0, f64::INFINITY] {
            assert_eq!(delay(Metres(none), VelocityFactor::MULTIMODE), None);
            assert_eq!(distance(Seconds(none), VelocityFactor::MULTIMODE), None);
        }
    }

    proptest! {
        #[test]
        fn there_and_back(metres in 0.0..1e6f64, share in 0.01..1.0f64) {
            let factor = VelocityFactor::new(share).unwrap();
            let one_way = delay(Metres(metres), factor).unwrap();
            let back = distance(Seconds(2.0 * one_way.0), factor).unwrap();
            prop_assert!((back.0 - metres).abs() <= 1e-12 * metres);
        }

        #[test]
        fn anything(length: f64, share: f64) {
            let factor = VelocityFactor::new(share).unwrap_or(VelocityFactor::SINGLE_MODE);
            prop_assert!(delay(Metres(length), factor).is_none_or(|time| time.0 >= 0.0));
            prop_assert!(distance(Seconds(length), factor).is_none_or(|metres| metres.0 >= 0.0));
        }
    }
}
