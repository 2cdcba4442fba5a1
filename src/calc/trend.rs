//! Readings over time: least, mean, most, and whether they drift.
//!
//! The slope is that of least squares; its range is Student's at 95 % (NIST/SEMATECH e-Handbook of
//! Statistical Methods, 4.1.4.1 and 4.4.3.1, from memory), made wider twice over, so that no drift
//! is told that the readings do not carry:
//!
//! - Readings that stand next to each other may hang together, so that a reading that wanders looks
//!   like one that drifts. As many of them tell as much as `n (1-r)/(1+r)` that do not, with `r` the
//!   correlation of neighbours in what is left beside the line (Santer and others, J. Geophys. Res.
//!   105, 2000, 7337-7356, from memory). Of few readings `r` comes out too low; `(2+4r)/n` is put on
//!   (Kendall, Biometrika 41, 1954, 403-404, from memory, for a line in place of a mean). It is
//!   never taken for more than 0.9, nor the degrees of freedom for fewer than 2: else what rises in
//!   a bend, as all that warms up does, would not be seen to rise.
//! - A reading comes in steps, so each is off by up to half a step. Whatever its shape, that moves
//!   the slope by `(step/2) Σ|t-t̄| / Σ(t-t̄)²` at most (worked out: the largest sum of bounded
//!   errors), which is 1.5 steps over the whole time.
//!
//! So measured, of series without drift one in twenty or fewer is told to have one where the noise
//! is white, and one in ten or fewer of 31 readings or more where neighbours hang together by 0.7
//! (the tests here). Of ten such readings it is one in seven, and of a reading that never comes back
//! to where it was (a random walk), which no length of time tells from a drift, one in five.

use statrs::distribution::{ContinuousCDF as _, StudentsT};

use crate::quantity::Seconds;

/// Fewer readings than this tell no drift: how they hang together cannot be seen.
pub const LEAST_READINGS: usize = 10;
/// Nor does a shorter time.
pub const LEAST_SPAN: Seconds = Seconds(9.0);
/// How sure the range of a slope is.
pub const CONFIDENCE: f64 = 0.95;
/// The method in one line, for who reads the result.
pub const SOURCE: &str = "least squares with Student's 95 % range (NIST/SEMATECH e-Handbook 4.1.4.1), wider for \
     readings that hang together (Santer and others, J. Geophys. Res. 105, 2000) and for the step \
     of a reading";

/// Neighbours are never taken to hang together more than this.
const MOST_CORRELATION: f64 = 0.9;
/// Degrees of freedom are never taken for fewer.
const LEAST_FREEDOM: f64 = 2.0;

/// One reading: when, and what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Since any moment, the same for all.
    pub at: Seconds,
    /// In the unit of the series.
    pub value: f64,
}

/// What readings over time say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Readings that counted: numbers, all of them finite.
    pub readings: usize,
    /// The least of them.
    pub least: f64,
    /// Their mean.
    pub mean: f64,
    /// The most of them.
    pub most: f64,
    /// The slope, where there are enough readings over enough time.
    pub slope: Option<Slope>,
}

/// A slope and how far it may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Units of the series a second.
    pub a_second: f64,
    /// It lies within this of the true one, at [`CONFIDENCE`]; the same unit.
    pub plus_minus: f64,
    /// What may be said.
    pub drift: Drift,
}

/// What may be said of a slope.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drift {
    /// It rises: the whole range is above zero.
    Rises,
    /// It falls.
    Falls,
    /// No drift beyond the noise and the step of a reading.
    None,
    /// It moves by more than noise without memory would, but neighbours hang together so that it
    /// may as well wander to and fro.
    Wanders,
}

/// A straight line through points by least squares.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    slope: f64,
    intercept: f64,
    /// Standard errors, where what is left over has no memory.
    slope_error: f64,
    intercept_error: f64,
    /// `Σ|t-t̄| / Σ(t-t̄)²`.
    leverage: f64,
    /// What is left beside the line, in order of time.
    rest: Vec<f64>,
}

/// What points in order of time say. `step` is the least by which two readings can differ; where
/// those that are there differ by more at least, that is taken. `None` without a finite point.
pub fn trend(points: &[Point], step: f64) -> Option<Trend> {
    let points: Vec<Point> = points
        .iter()
        .copied()
        .filter(|point| point.at.0.is_finite() && point.value.is_finite())
        .collect();
    let values = || points.iter().map(|point| point.value);
    let least = values().reduce(f64::min)?;
    let most = values().reduce(f64::max)?;
    // Within the two whatever rounding does to a sum.
    let mean = (values().sum::<f64>() / count(points.len())).clamp(least, most);
    let slope = slope(&points, step_of(values().collect(), step));
    Some(Trend { readings: points.len(), least, mean, most, slope })
}

fn slope(points: &[Point], step: f64) -> Option<Slope> {
    let first = points.iter().map(|point| point.at.0).reduce(f64::min)?;
    let last = points.iter().map(|point| point.at.0).reduce(f64::max)?;
    if points.len() < LEAST_READINGS || last - first < LEAST_SPAN.0 {
        return None;
    }
    let line = line(points)?;
    let readings = count(points.len());
    let by_steps = step / 2.0 * line.leverage;
    let range = |correlation: f64| {
        let wider = (1.0 + correlation) / (1.0 - correlation);
        let freedom = (readings / wider - 2.0).clamp(LEAST_FREEDOM, readings - 2.0);
        Some(quantile(freedom)? * line.slope_error * wider.sqrt() + by_steps)
    };
    let plus_minus = range(correlation(&line.rest))?;
    if !(line.slope.is_finite() && plus_minus.is_finite()) {
        return None;
    }
    let drift = if line.slope > plus_minus {
        Drift::Rises
    } else if -line.slope > plus_minus {
        Drift::Falls
    } else if line.slope.abs() > range(0.0)? {
        Drift::Wanders
    } else {
        Drift::None
    };
    Some(Slope { a_second: line.slope, plus_minus, drift })
}

/// `None` where all stand at one time, or for fewer than three.
fn line(points: &[Point]) -> Option<Line> {
    let readings = count(points.len());
    let mean = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>() / readings;
    let (mean_time, mean_value) = (mean(|point| point.at.0), mean(|point| point.value));
    let from_mean = |point: &Point| point.at.0 - mean_time;
    let squares: f64 = points.iter().map(|point| from_mean(point).powi(2)).sum();
    if points.len() < 3 || squares <= 0.0 {
        return None;
    }
    let both = points.iter().map(|point| from_mean(point) * (point.value - mean_value));
    let slope = both.sum::<f64>() / squares;
    let rest: Vec<f64> =
        points.iter().map(|point| point.value - mean_value - slope * from_mean(point)).collect();
    let variance = rest.iter().map(|rest| rest.powi(2)).sum::<f64>() / (readings - 2.0);
    Some(Line {
        slope,
        intercept: mean_value - slope * mean_time,
        slope_error: (variance / squares).sqrt(),
        intercept_error: (variance * (1.0 / readings + mean_time.powi(2) / squares)).sqrt(),
        leverage: points.iter().map(|point| from_mean(point).abs()).sum::<f64>() / squares,
        rest,
    })
}

/// How far neighbours hang together, 0 to [`MOST_CORRELATION`].
fn correlation(rest: &[f64]) -> f64 {
    let squares: f64 = rest.iter().map(|one| one.powi(2)).sum();
    if squares <= 0.0 {
        return 0.0;
    }
    let neighbours: f64 = rest.iter().zip(rest.iter().skip(1)).map(|(one, next)| one * next).sum();
    let seen = neighbours / squares;
    (seen + (2.0 + 4.0 * seen) / count(rest.len())).clamp(0.0, MOST_CORRELATION)
}

/// The step that readings come in: the least gap between two different ones, but not less than
/// `known`.
fn step_of(mut values: Vec<f64>, known: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let gaps = values.windows(2).filter_map(|pair| match pair {
        // What differs by the last figures of a number is the same reading.
        [one, next] if next - one > known / 2.0 => Some(next - one),
        _ => None,
    });
    gaps.reduce(f64::min).unwrap_or(known).max(known)
}

/// Student's two-sided quantile at [`CONFIDENCE`].
fn quantile(freedom: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, freedom).ok()?;
    Some(student.inverse_cdf(f64::midpoint(1.0, CONFIDENCE)))
}

/// Exact: a run has far fewer readings than 2^53.
#[allow(clippy::cast_precision_loss)]
fn count(readings: usize) -> f64 {
    readings as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::bit_error_bound::tests::near;
    use proptest::prelude::*;

    fn points(pairs: impl IntoIterator<Item = (f64, f64)>) -> Vec<Point> {
        pairs.into_iter().map(|(at, value)| Point { at: Seconds(at), value }).collect()
    }

    /// One a second.
    fn series(values: &[f64]) -> Vec<Point> {
        points((0u32..).map(f64::from).zip(values.iter().copied()))
    }

    fn drift(values: &[f64], step: f64) -> Drift {
        trend(&series(values), step).unwrap().slope.unwrap().drift
    }

    /// NIST Statistical Reference Datasets, "Norris" (ozone monitors, 36 observations), x before y,
    /// and the certified values of slope and intercept and their standard deviations.
    #[test]
    fn nist_norris() {
        #[rustfmt::skip]
        let norris = [
            (0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2), (226.5, 228.1),
            (666.3, 668.5), (996.3, 998.5), (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3),
            (0.6, 0.1), (775.5, 778.1), (666.9, 668.8), (338.0, 339.3), (447.5, 448.9), (11.6, 10.8),
            (556.0, 557.7), (228.1, 228.3), (995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3),
            (0.3, 0.6), (556.8, 557.6), (339.1, 339.3), (887.2, 888.0), (999.0, 998.5), (779.0, 778.9),
            (11.1, 10.2), (118.3, 117.6), (229.2, 228.9), (669.1, 668.4), (448.9, 449.2), (0.5, 0.2),
        ];
        let found = line(&points(norris)).unwrap();
        near(found.slope, 1.002_116_818_020_45, 1e-12);
        near(found.intercept, -0.262_323_073_774_029, 1e-10);
        near(found.slope_error, 0.429_796_848_199_937e-3, 1e-10);
        near(found.intercept_error, 0.232_818_234_301_152, 1e-10);
    }

    /// Lines and Student's quantiles of SciPy, see `tests/data/trend.py`.
    #[test]
    fn as_scipy_has_them() {
        let rows: Vec<Vec<&str>> = include_str!("../../tests/data/trend.csv")
            .lines()
            .map(|row| row.split(',').collect())
            .collect();
        let number = |text: &str| text.parse::<f64>().unwrap();
        let of = |kind: &'static str| rows.iter().filter(move |row| row[0] == kind);
        assert_eq!((of("t").count(), of("line").count()), (10, 4), "the table is there");
        for row in of("t") {
            near(quantile(number(row[1])).unwrap(), number(row[2]), 1e-7);
        }
        for row in of("line") {
            let points = points(
                of("point").filter(|p| p[1] == row[1]).map(|p| (number(p[2]), number(p[3]))),
            );
            let found = line(&points).unwrap();
            near(found.slope, number(row[2]), 1e-9);
            near(found.slope_error, number(row[3]), 1e-9);
            near(found.intercept, number(row[4]), 1e-9);
            near(found.intercept_error, number(row[5]), 1e-9);
        }
    }

    /// Random numbers: xorshift64* (Vigna, 2014), and the sum of twelve for a normal one.
    struct Random(u64);

    impl Random {
        fn even(&mut self) -> f64 {
            self.0 ^= self.0 >> 12;
            self.0 ^= self.0 << 25;
            self.0 ^= self.0 >> 27;
            let high = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 32;
            f64::from(u32::try_from(high).unwrap()) / 4_294_967_296.0
        }

        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.even()).sum::<f64>() - 6.0
        }

        /// A series whose neighbours hang together by `rho`.
        fn wandering(&mut self, readings: usize, rho: f64) -> Vec<f64> {
            let mut last = self.normal();
            let next = |_| {
                let now = last;
                last = rho * last + (1.0 - rho * rho).sqrt() * self.normal();
                now
            };
            (0..readings).map(next).collect()
        }
    }

    /// How many of 1000 series are told to drift.
    fn told(mut one: impl FnMut() -> Vec<f64>) -> usize {
        let drifts = |_: &i32| matches!(drift(&one(), 1e-3), Drift::Rises | Drift::Falls);
        (0..1000).filter(drifts).count()
    }

    #[test]
    fn noise_is_no_drift() {
        let mut random = Random(20_261_125);
        for (readings, rho, most) in [
            (61, 0.0, 50),
            (31, 0.0, 50),
            (11, 0.0, 50),
            (61, 0.7, 100),
            (31, 0.7, 100),
            (11, 0.7, 160),
            (61, 0.9, 130),
        ] {
            let found = told(|| random.wandering(readings, rho));
            assert!(found <= most, "{readings} readings, {rho}: {found} of 1000");
            assert!(found > 5, "{readings} readings, {rho}: {found} of 1000, not 95 % any more");
        }
    }

    /// A rise of four times the noise over a minute, straight; and a warm-up, which bends, in quiet
    /// and in noise.
    #[test]
    fn a_drift_is_found() {
        let mut random = Random(7);
        let minute = |second: u32| f64::from(second) / 60.0;
        let mut rising = |rise: &dyn Fn(f64) -> f64, noise: f64| {
            told(|| (0..61).map(|s| rise(minute(s)) + noise * random.normal()).collect())
        };
        assert!(rising(&|t| 4.0 * t, 1.0) > 990);
        assert!(rising(&|t| -4.0 * t, 1.0) > 990);
        for within in [0.5f64, 1.0, 5.0] {
            let warm = |t: f64| 5.0 * (1.0 - (-t / within).exp()) / (1.0 - (-1.0 / within).exp());
            for noise in [0.01, 0.2] {
                let found = rising(&warm, noise);
                assert!(found > 990, "{within} {noise}: {found}");
            }
        }
    }

    /// The range holds the true slope at least as often as it says.
    #[test]
    fn the_range_is_a_range() {
        let mut random = Random(99);
        let held = (0..1000)
            .filter(|_| {
                let values: Vec<f64> =
                    (0..61).map(|s| 0.05 * f64::from(s) + random.normal()).collect();
                let slope = trend(&series(&values), 1e-3).unwrap().slope.unwrap();
                (slope.a_second - 0.05).abs() <= slope.plus_minus
            })
            .count();
        assert!(held >= 945, "{held} of 1000");
    }

    /// One step of a coarse reading is no drift, wherever it stands; several are.
    #[test]
    fn a_step_is_no_drift() {
        for at in 1..61 {
            let step: Vec<f64> = (0..61).map(|s| if s < at { 36.0 } else { 37.0 }).collect();
            let found = drift(&step, 1.0 / 256.0);
            assert!(matches!(found, Drift::None | Drift::Wanders), "{at}: {found:?}");
        }
        let stairs: Vec<f64> = (0..61).map(|s| f64::from(s / 10)).collect();
        assert_eq!(drift(&stairs, 1.0 / 256.0), Drift::Rises);
        assert_eq!(drift(&[3.3; 61], 1e-4), Drift::None);
    }

    /// A slow wave moves more than white noise would: it wanders, and is not called a drift.
    #[test]
    fn a_wave_wanders() {
        let wave: Vec<f64> = (0..61).map(|s| (f64::from(s) / 60.0 * 7.0).sin()).collect();
        assert_eq!(drift(&wave, 1e-3), Drift::Wanders);
    }

    #[test]
    fn little_tells_little() {
        assert_eq!(trend(&[], 1.0), None);
        let few = trend(&series(&[1.0, 2.0, 4.5]), 0.1).unwrap();
        assert_eq!((few.least, few.mean, few.most, few.slope), (1.0, 2.5, 4.5, None));
        let quick: Vec<Point> =
            (0..61u32).map(|s| Point { at: Seconds(f64::from(s) * 0.01), value: 1.0 }).collect();
        assert_eq!(trend(&quick, 0.1).unwrap().slope, None);
        assert_eq!(line(&points([(1.0, 1.0); 20])), None);
    }

    proptest! {
        /// Whatever comes in, nothing panics, the mean lies between the least and the most, and no
        /// figure is none.
        #[test]
        fn anything(pairs: Vec<(f64, f64)>, step: f64) {
            if let Some(found) = trend(&points(pairs), step) {
                prop_assert!(found.least <= found.mean && found.mean <= found.most);
                if let Some(slope) = found.slope {
                    prop_assert!(slope.a_second.is_finite() && slope.plus_minus.is_finite());
                }
            }
        }

        /// Turned upside down and moved, the same is said the other way round.
        #[test]
        fn signs(values in prop::collection::vec(-50.0..50.0f64, 10..61), by in -20.0..20.0f64) {
            let one = trend(&series(&values), 0.01).unwrap().slope.unwrap();
            let turned: Vec<f64> = values.iter().map(|value| by - value).collect();
            let other = trend(&series(&turned), 0.01).unwrap().slope.unwrap();
            prop_assert!((one.a_second + other.a_second).abs() < 1e-9);
            prop_assert!((one.plus_minus - other.plus_minus).abs() < 1e-9 * (1.0 + one.plus_minus));
        }
    }
}
