//! What counted errors say about a bit-error ratio, and how long to count until they say enough.
//!
//! Errors are taken as independent, so that their number is Poisson (the limit of the binomial).
//! With `k` errors seen, the most that may have been expected is half the chi-square quantile of
//! `2(k+1)` degrees of freedom at the confidence, the least half that of `2k` at its complement:
//! the exact one-sided bounds (F. Garwood, Biometrika 28, 1936; section 5 of the media notes). Half
//! a chi-square of `2a` degrees of freedom is a gamma variable of shape `a`. Errors in bursts are
//! not independent: the bounds are then too narrow.

use statrs::distribution::{Continuous as _, ContinuousCDF as _, Gamma, Normal};

use crate::quantity::{
    BitErrorRatio, Bits, BitsPerSecond, FrameErrorRatio, Octets, PerSecond, Seconds,
};

/// Above this many errors the cube root of a gamma variable is taken as normal (E. B. Wilson and
/// M. M. Hilferty, 1931): right to seven figures there, and as quick for 2^64 errors as for one.
const MANY: f64 = 100_000.0;

/// How sure a one-sided bound is: a share from a half (below, a bound is none) to 1 - 1e-9.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    /// 95 %, the usual.
    pub const USUAL: Self = Self(0.95);

    /// From a share; `None` outside 0.5 to 1 - 1e-9, and for what is no number.
    pub fn new(share: f64) -> Option<Self> {
        (0.5..=1.0 - 1e-9).contains(&share).then_some(Self(share))
    }

    /// As a share.
    pub fn share(self) -> f64 {
        self.0
    }
}

impl std::fmt::Display for Confidence {
    /// `95 %`, `99.9 %`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} %", (self.0 * 1e9).round() / 1e7)
    }
}

/// What was seen, and what it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Errors over bits; 0 where none was seen, which does not mean that there are none.
    pub point: BitErrorRatio,
    /// The ratio is below this, at the confidence; at most 1.
    pub upper: BitErrorRatio,
    /// The ratio is above this, at the confidence; none where no error was seen.
    pub lower: Option<BitErrorRatio>,
    /// Of each bound by itself.
    pub confidence: Confidence,
}

/// What may have been expected where so many events were seen: the least and the most, each by itself
/// at the confidence; nothing is the least where none was seen.
pub fn expected(events: u64, confidence: Confidence) -> Option<(f64, f64)> {
    let count = float(events);
    let least = if events == 0 { 0.0 } else { quantile(count, 1.0 - confidence.0)? };
    Some((least, quantile(count + 1.0, confidence.0)?))
}

/// The bounds of a bit-error ratio from errors among bits. `None` without bits, or for more errors
/// than bits.
pub fn bounds(errors: u64, bits: Bits, confidence: Confidence) -> Option<Bounds> {
    let count = float(errors);
    if !(bits.0.is_finite() && bits.0 > 0.0 && count <= bits.0) {
        return None;
    }
    let (least, most) = expected(errors, confidence)?;
    Some(Bounds {
        point: BitErrorRatio(count / bits.0),
        upper: BitErrorRatio((most / bits.0).min(1.0)),
        lower: (errors > 0).then_some(BitErrorRatio(least / bits.0)),
        confidence,
    })
}

/// How many more bits must come through without an error until the upper bound is no longer above
/// a target; none more where that is so already. `None` for a target outside 0 to 1 (0 cannot be
/// shown), or bits so far that are no number.
pub fn bits_still_needed(
    target: BitErrorRatio,
    errors_so_far: u64,
    bits_so_far: Bits,
    confidence: Confidence,
) -> Option<Bits> {
    if !(target.0 > 0.0 && target.0 <= 1.0 && bits_so_far.0.is_finite() && bits_so_far.0 >= 0.0) {
        return None;
    }
    let all = quantile(float(errors_so_far) + 1.0, confidence.0)? / target.0;
    all.is_finite().then(|| Bits((all - bits_so_far.0).max(0.0)))
}

/// How long so many bits take. The rate must be that of what is counted: the line rate for errors
/// that PCS or FEC count (an idle link carries coded bits too), but only the bits of frames for
/// errors in check sequences. `None` for a rate that is not above zero.
pub fn time_at(bits: Bits, rate: BitsPerSecond) -> Option<Seconds> {
    let seconds = bits.0 / rate.0;
    (bits.0 >= 0.0 && rate.0 > 0.0 && seconds.is_finite()).then_some(Seconds(seconds))
}

/// How sure it is, as a share, that the ratio is below a target, with so many errors seen: the
/// chance of seeing more, were it the target. `None` for a target outside 0 to 1, or no bits.
pub fn confidence_below(target: BitErrorRatio, errors: u64, bits: Bits) -> Option<f64> {
    let mean = target.0 * bits.0;
    if !(target.0 <= 1.0 && bits.0.is_finite() && target.0 > 0.0 && mean > 0.0) {
        return None;
    }
    let shape = float(errors) + 1.0;
    if shape > MANY {
        let ninth = 1.0 / (9.0 * shape);
        let normal = ((mean / shape).cbrt() - 1.0 + ninth) / ninth.sqrt();
        return Some(Normal::standard().cdf(normal));
    }
    Some(Gamma::new(shape, 1.0).ok()?.cdf(mean))
}

/// The bit-error ratio behind frames with a wrong check sequence, one direction: `1-(1-f)^(1/n)`
/// for a share `f` of frames of `n` bits. `None` without whole frames (then it may be anything), or
/// for frames of no octets.
pub fn ratio_of_frames(damaged: u64, frames: u64, frame: Octets) -> Option<BitErrorRatio> {
    if damaged >= frames || frame.0 == 0 {
        return None;
    }
    let share = float(damaged) / float(frames);
    Some(BitErrorRatio(-((-share).ln_1p() / frame_bits(frame)).exp_m1()))
}

/// The share of frames that are damaged at a bit-error ratio: `1-(1-p)^n`. `None` for a ratio
/// outside 0 to 1, or frames of no octets.
pub fn frame_error_ratio(ratio: BitErrorRatio, frame: Octets) -> Option<FrameErrorRatio> {
    if !(0.0..=1.0).contains(&ratio.0) || frame.0 == 0 {
        return None;
    }
    Some(FrameErrorRatio(-(frame_bits(frame) * (-ratio.0).ln_1p()).exp_m1()))
}

/// How many frames with a wrong check sequence are to be expected in a time. `None` as
/// [`frame_error_ratio`], or for a rate or time that is negative or no number.
pub fn expected_damaged_frames(
    ratio: BitErrorRatio,
    frame: Octets,
    frames: PerSecond,
    time: Seconds,
) -> Option<f64> {
    let all = frames.0 * time.0;
    let damaged = frame_error_ratio(ratio, frame)?.0 * all;
    (frames.0 >= 0.0 && time.0 >= 0.0 && damaged.is_finite()).then_some(damaged)
}

fn frame_bits(frame: Octets) -> f64 {
    f64::from(frame.0) * 8.0
}

/// The quantile of a gamma variable of scale 1. For a share above 0 and below 1.
fn quantile(shape: f64, share: f64) -> Option<f64> {
    if shape <= 1.0 {
        // No error seen, the usual case, is exponential, and needs no search.
        return Some(-(-share).ln_1p());
    }
    if shape > MANY {
        let ninth = 1.0 / (9.0 * shape);
        let root = 1.0 - ninth + Normal::standard().inverse_cdf(share) * ninth.sqrt();
        return Some(shape * root.powi(3));
    }
    let gamma = Gamma::new(shape, 1.0).ok()?;
    // The library stops within 1e-9, which is much of a bound of 1e-6: two steps of Newton's, by
    // the smaller tail, which keeps its figures.
    let step = |at: f64| {
        let over = match share {
            ..0.5 => gamma.cdf(at) - share,
            _ => (1.0 - share) - gamma.sf(at),
        };
        let next = at - over / gamma.pdf(at);
        if next.is_finite() && next > 0.0 { next } else { at }
    };
    Some(step(step(gamma.inverse_cdf(share))))
}

/// Above 2^53 the last figures go, which no bound shows.
#[allow(clippy::cast_precision_loss)]
fn float(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Rows of one kind of the table that SciPy 1.17.1 made, see `tests/data/statistics.py`.
    pub fn table(kind: &str) -> Vec<(f64, f64, f64)> {
        let rows: Vec<_> = include_str!("../../tests/data/statistics.csv")
            .lines()
            .filter_map(|line| line.strip_prefix(kind)?.strip_prefix(','))
            .map(|row| {
                let mut numbers = row.split(',').map(|number| number.parse::<f64>().unwrap());
                let mut next = || numbers.next().unwrap();
                (next(), next(), next())
            })
            .collect();
        assert!(rows.len() >= 6, "{kind}: the table is there");
        rows
    }

    pub fn near(ours: f64, theirs: f64, relative: f64) {
        assert!((ours - theirs).abs() <= relative * theirs.abs(), "{ours} is not {theirs}");
    }

    fn at(share: f64) -> Confidence {
        Confidence::new(share).unwrap()
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn whole(count: f64) -> u64 {
        count as u64
    }

    /// Half chi-square quantiles for 0 to 1000 errors and far beyond, at six confidences, and two
    /// so near to 1 that its own last figures tell.
    #[test]
    fn quantiles_as_scipy_has_them() {
        let close = |shape, share| match share {
            0.9991.. => 1e-9,
            _ if shape > MANY => 1e-8,
            _ => 1e-11,
        };
        for (errors, share, theirs) in table("upper") {
            let close = close(errors + 1.0, share);
            near(quantile(errors + 1.0, share).unwrap(), theirs, close);
        }
        for (errors, share, theirs) in table("lower") {
            let close = close(errors, share);
            near(quantile(errors, 1.0 - share).unwrap(), theirs, close);
            let found = bounds(whole(errors), Bits(1e20), at(share)).unwrap();
            near(found.lower.unwrap().0, theirs / 1e20, close);
        }
    }

    /// The chance of more than `k - 1` Poisson events.
    #[test]
    fn confidence_as_scipy_has_it() {
        for (count, mean, theirs) in table("poisson") {
            let found = confidence_below(BitErrorRatio(mean / 1e6), whole(count) - 1, Bits(1e6));
            near(found.unwrap(), theirs, 1e-10);
        }
    }

    /// Media notes, section 5: d1, d2, d3, and the bits needed for 1e-12 with their seconds.
    #[test]
    fn worked_bounds() {
        // d1: 1 h on 10G (line rate), no errors, 95 %.
        let bits = Bits(3600.0 * 10.3125e9);
        near(bits.0, 3.7125e13, 1e-9);
        let clean = bounds(0, bits, Confidence::USUAL).unwrap();
        near(clean.upper.0, 8.069e-14, 1e-4);
        assert_eq!((clean.point, clean.lower), (BitErrorRatio(0.0), None));
        // d2: the factor that replaces 2.996 after 1 and 3 errors.
        for (errors, factor) in [(0, 2.9957), (1, 4.7439), (3, 7.7537)] {
            let needed =
                bits_still_needed(BitErrorRatio(1.0), errors, Bits(0.0), Confidence::USUAL);
            near(needed.unwrap().0, factor, 2e-5);
        }
        // d3: 10 min on 25G (line rate), 5 errors, 95 % each way.
        let some = bounds(5, Bits(600.0 * 25.781_25e9), Confidence::USUAL).unwrap();
        near(some.point.0, 3.232e-13, 2e-4);
        near(some.upper.0, 6.796e-13, 2e-4);
        near(some.lower.unwrap().0, 1.274e-13, 4e-4);
    }

    /// Media notes, section 5, the table of error-free bits and seconds for 1e-12; d8.
    #[test]
    fn worked_times() {
        let speeds =
            [(1e9, 1.25e9), (1e10, 1.031_25e10), (2.5e10, 2.578_125e10), (1e11, 1.031_25e11)];
        for (share, bits, seconds) in [
            (0.90, 2.3026e12, [(2302.6, 1842.1), (230.3, 223.3), (92.1, 89.3), (23.0, 22.3)]),
            (0.95, 2.9957e12, [(2995.7, 2396.6), (299.6, 290.5), (119.8, 116.2), (30.0, 29.0)]),
            (0.99, 4.6052e12, [(4605.2, 3684.1), (460.5, 446.6), (184.2, 178.6), (46.1, 44.7)]),
        ] {
            let needed = bits_still_needed(BitErrorRatio(1e-12), 0, Bits(0.0), at(share)).unwrap();
            near(needed.0, bits, 2e-5);
            for ((mac, line), (at_mac, at_line)) in speeds.into_iter().zip(seconds) {
                for (rate, theirs) in [(mac, at_mac), (line, at_line)] {
                    let ours = time_at(needed, BitsPerSecond(rate)).unwrap().0;
                    assert!((ours - theirs).abs() <= 0.0501, "{rate}: {ours} is not {theirs}");
                }
            }
        }
        // d8: 1e-10 at 95 % on 1000BASE-T (1e9 b/s).
        let needed = bits_still_needed(BitErrorRatio(1e-10), 0, Bits(0.0), Confidence::USUAL);
        near(time_at(needed.unwrap(), BitsPerSecond(1e9)).unwrap().0, 30.0, 2e-3);
    }

    /// Media notes, section 5: d4 to d7.
    #[test]
    fn worked_frames() {
        let frame = Octets(1518);
        near(confidence_below(BitErrorRatio(1e-12), 0, Bits(1e12)).unwrap(), 0.6321, 4e-5); // d4
        near(ratio_of_frames(3, 2_000_000_000, frame).unwrap().0, 1.235e-13, 2e-4); // d5
        let expected = expected_damaged_frames(
            BitErrorRatio(1e-12),
            frame,
            PerSecond(812_744.0),
            Seconds(3600.0),
        );
        near(expected.unwrap(), 35.5, 2e-3); // d6
        near(frame_error_ratio(BitErrorRatio(1e-9), frame).unwrap().0, 1.2144e-5, 1e-5); // d7
    }

    #[test]
    fn hostile_inputs_have_no_answer() {
        for share in [f64::NAN, 0.0, 0.49, 1.0, 1.5, -1.0, f64::INFINITY] {
            assert_eq!(Confidence::new(share), None, "{share}");
        }
        assert_eq!(at(0.999).to_string(), "99.9 %");
        for bits in [f64::NAN, 0.0, -1.0, f64::INFINITY] {
            assert_eq!(bounds(1, Bits(bits), Confidence::USUAL), None);
            assert_eq!(confidence_below(BitErrorRatio(1e-12), 0, Bits(bits)), None);
            assert_eq!(time_at(Bits(1.0), BitsPerSecond(bits)).is_some(), bits == f64::INFINITY);
        }
        assert_eq!(bounds(2, Bits(1.0), Confidence::USUAL), None, "more errors than bits");
        for target in [f64::NAN, 0.0, -1.0, 2.0, f64::INFINITY] {
            let target = BitErrorRatio(target);
            assert_eq!(bits_still_needed(target, 0, Bits(0.0), Confidence::USUAL), None);
            assert_eq!(confidence_below(target, 0, Bits(1.0)), None);
        }
        assert_eq!(ratio_of_frames(5, 5, Octets(64)), None, "no whole frame");
        assert_eq!(ratio_of_frames(0, 0, Octets(64)), None);
        assert_eq!(ratio_of_frames(0, 5, Octets(0)), None);
        assert_eq!(frame_error_ratio(BitErrorRatio(f64::NAN), Octets(64)), None);
        assert_eq!(frame_error_ratio(BitErrorRatio(1.0), Octets(64)), Some(FrameErrorRatio(1.0)));
        let largest = bounds(u64::MAX, Bits(f64::MAX), at(0.999)).unwrap();
        assert!(largest.upper > largest.lower.unwrap());
    }

    fn any_confidence() -> impl Strategy<Value = Confidence> {
        (0.5..0.999_999).prop_map(at)
    }

    proptest! {
        #[test]
        fn in_order_and_monotone(errors in 0..200_000u64, bits in 1e6..1e16f64, sure in any_confidence()) {
            let found = bounds(errors, Bits(bits), sure).unwrap();
            prop_assert!(found.upper >= found.point);
            prop_assert!(found.lower.is_none_or(|lower| lower <= found.point));
            let more = bounds(errors + 1, Bits(bits), sure).unwrap();
            prop_assert!(more.upper >= found.upper && more.lower >= found.lower);
            let longer = bounds(errors, Bits(bits * 1.01), sure).unwrap();
            prop_assert!(longer.upper <= found.upper && longer.lower <= found.lower);
            let surer = bounds(errors, Bits(bits), at(0.5 + sure.share() / 2.0)).unwrap();
            prop_assert!(surer.upper >= found.upper && surer.lower <= found.lower);
        }

        /// With the bits that were still needed the bound is the target, and so is the confidence.
        #[test]
        fn there_and_back(errors in 0..200_000u64, power in -18.0..-7.0f64, sure in any_confidence()) {
            let target = BitErrorRatio(10f64.powf(power));
            let needed = bits_still_needed(target, errors, Bits(0.0), sure).unwrap();
            let found = bounds(errors, needed, sure).unwrap();
            prop_assert!((found.upper.0 / target.0 - 1.0).abs() < 1e-9);
            prop_assert_eq!(bits_still_needed(target, errors, Bits(needed.0 * 1.001), sure), Some(Bits(0.0)));
            prop_assert!((confidence_below(target, errors, needed).unwrap() - sure.share()).abs() < 1e-6);
        }

        #[test]
        fn frames_there_and_back(power in -18.0..-6.0f64, octets in 64..9018u32) {
            let ratio = BitErrorRatio(10f64.powf(power));
            let share = frame_error_ratio(ratio, Octets(octets)).unwrap();
            let frames = 1e18f64;
            let damaged = whole(share.0 * frames);
            prop_assume!(damaged > 1000);
            let back = ratio_of_frames(damaged, whole(frames), Octets(octets)).unwrap();
            prop_assert!((back.0 / ratio.0 - 1.0).abs() < 1e-3);
        }

        /// Whatever comes in, nothing panics and no answer is beyond 0 to 1.
        #[test]
        fn anything(errors: u64, other: u64, bits: f64, ratio: f64, share: f64, octets: u32) {
            let sure = Confidence::new(share).unwrap_or(Confidence::USUAL);
            if let Some(found) = bounds(errors, Bits(bits), sure) {
                prop_assert!((0.0..=1.0).contains(&found.upper.0));
            }
            let _ = bits_still_needed(BitErrorRatio(ratio), errors, Bits(bits), sure);
            if let Some(share) = confidence_below(BitErrorRatio(ratio), errors, Bits(bits)) {
                prop_assert!((0.0..=1.0).contains(&share));
            }
            if let Some(found) = ratio_of_frames(errors, other, Octets(octets)) {
                prop_assert!((0.0..=1.0).contains(&found.0));
            }
            let _ = expected_damaged_frames(BitErrorRatio(ratio), Octets(octets), PerSecond(bits), Seconds(share));
        }
    }
}
