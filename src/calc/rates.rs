//! What counters did between two instants.
//!
//! One instant gives no rate. A counter that went back was reset (or the driver was reloaded);
//! what happened between is not known, so the difference is missing, never negative.

use crate::calc::bit_error_bound::{Confidence, expected};
use crate::snapshot::{Fact, Instant, Missing, Reason};
use crate::standards::private_counters::{self, Row};

/// Why there is no rate where there is one instant alone.
pub const ONE_INSTANT: &str = "one instant gives no rate";

/// A counter over the observed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// How much it grew.
    pub by: u64,
    /// Over how long, seconds; more than zero.
    pub seconds: f64,
    /// Where it stands at the end.
    pub total: u64,
}

/// From this many events on chance moves a rate by less than a fifth, and it is shown alone.
const MANY: u64 = 100;

/// What a Poisson mean can be, at a confidence of 95 %, where so many events were counted
/// ([`expected`]). None from 100 events on.
pub fn poisson_95(events: u64) -> Option<(f64, f64)> {
    // Each side by itself at 97.5 %.
    let side = Confidence::new(0.975)?;
    (events < MANY).then(|| expected(events, side)).flatten()
}

impl Change {
    /// A count of errors in words, with the time that it was watched: what stands still is history.
    pub fn errors_text(&self) -> String {
        let seconds = self.seconds;
        match (self.by, self.total) {
            (0, 1..) => {
                let stand = if self.total == 1 { "stands" } else { "stand" };
                format!(
                    "none in the {seconds:.1} s watched; {} {stand} since the counters started",
                    self.total
                )
            }
            (by, _) => format!("{by} in {seconds:.1} s{}", self.interval_text()),
        }
    }

    /// The rate that so few events leave open, in words with a comma before them (`, between 0.6
    /// and 8.8 a second`); empty where none or many were counted. Events are taken as independent.
    pub fn interval_text(&self) -> String {
        match poisson_95(self.by).filter(|_| self.by > 0) {
            Some((least, most)) => {
                let (least, most) = (least / self.seconds, most / self.seconds);
                format!(", between {} and {} a second", figures(least), figures(most))
            }
            None => String::new(),
        }
    }
}

/// Two figures of a rate.
fn figures(rate: f64) -> String {
    let digits = match rate {
        9.95.. => 0,
        0.3.. => 1,
        0.03.. => 2,
        0.003.. => 3,
        // So slow a rate is no row of noughts.
        _ => return format!("{rate:.1e}"),
    };
    format!("{rate:.digits$}")
}

/// Growth of one counter from the first instant to the last.
pub fn change(instants: &[Instant], pick: impl Fn(&Instant) -> Fact<u64>) -> Fact<Change> {
    let (Some(first), Some(last)) = (instants.first(), instants.last()) else {
        return Fact::missing_with(Reason::NotAsked, "no counters were read");
    };
    let end = match pick(last) {
        Fact::Known(end) => end,
        Fact::Missing(missing) => return Fact::Missing(missing),
    };
    if instants.len() < 2 {
        return Fact::missing_with(Reason::NotAsked, ONE_INSTANT);
    }
    let start = match pick(first) {
        Fact::Known(start) => start,
        Fact::Missing(missing) => return Fact::Missing(missing),
    };
    let span = match last.at_milliseconds.checked_sub(first.at_milliseconds) {
        None => return missing("time runs backwards between the instants"),
        Some(0) => return missing("no time passes between the instants"),
        Some(span) => span,
    };
    let Some(by) = end.checked_sub(start) else {
        return missing("the counter went back: it was reset between the instants");
    };
    // Times up to 2^53 ms are exact as f64.
    #[allow(clippy::cast_precision_loss)]
    let seconds = span as f64 / 1000.0;
    Fact::Known(Change { by, seconds, total: end })
}

/// Late collisions, as the interface counts them, or as the driver's standard statistics do.
pub fn late_collisions(instants: &[Instant]) -> Fact<Change> {
    let own = change(instants, |instant| {
        instant.counters.as_ref().and_then(|counters| counters.transmit_late_collisions.clone())
    });
    own.or_else(|| {
        change(instants, |instant| {
            instant.statistics.as_ref().and_then(|statistics| {
                match statistics.mac.get("LateCollisions") {
                    Some(count) => Fact::Known(*count),
                    None => Fact::missing(Reason::NotSupported),
                }
            })
        })
    })
}

/// Growth of frames that were too long, or of a wrong length, for the receiver: by the MAC's own
/// statistic where it grows (IEEE 802.3 30.3.1.1.25), else by the interface's counter. RFC 2819's
/// oversize count is left out: many adapters count every long frame they take.
pub fn length_errors(instants: &[Instant]) -> Fact<Change> {
    let too_long = change(instants, |instant| {
        instant.statistics.as_ref().and_then(|all| match all.mac.get("FrameTooLongErrors") {
            Some(count) => Fact::Known(*count),
            None => Fact::missing(Reason::NotSupported),
        })
    });
    let all = change(instants, |instant| {
        instant.counters.as_ref().and_then(|counters| counters.receive_length_errors.clone())
    });
    match (too_long, all) {
        (Fact::Known(long), Fact::Known(all)) if long.by < all.by => Fact::Known(all),
        (Fact::Known(long), _) => Fact::Known(long),
        (Fact::Missing(_), all) => all,
    }
}

/// A driver's own counter that grew.
#[derive(Debug, Clone, Copy)]
pub struct Private<'a> {
    /// The driver's name for it: untrusted.
    pub name: &'a str,
    /// What it means.
    pub row: &'static Row,
    /// How it grew: by 1 or more.
    pub change: Change,
}

/// Drivers' own counters of known meaning that grew, the nearest to damage first, and of one kind
/// the one that grew most.
pub fn private(instants: &[Instant]) -> Vec<Private<'_>> {
    let last = instants.last().and_then(|last| last.private_counters.known());
    let known = last.into_iter().flatten().filter_map(|(name, _)| {
        let row = private_counters::row(name)?;
        let grown = change(instants, |instant| {
            instant.private_counters.as_ref().and_then(|all| match all.get(name) {
                Some(count) => Fact::Known(*count),
                None => Fact::missing(Reason::NotReported),
            })
        });
        // All ones is what is read where no device answers.
        let ones = [u64::MAX, u64::from(u32::MAX)];
        let counts = |change: &Change| change.by > 0 && !ones.contains(&change.total);
        let change = grown.known().copied().filter(counts)?;
        Some(Private { name, row, change })
    });
    let mut all: Vec<Private<'_>> = known.collect();
    all.sort_by_key(|one| (one.row.kind, std::cmp::Reverse(one.change.by)));
    all
}

fn missing(detail: &str) -> Fact<Change> {
    Fact::Missing(Missing::with(Reason::Malformed, detail))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(milliseconds: u64, downs: u64) -> Instant {
        Instant {
            at_milliseconds: milliseconds,
            carrier_down_count: Fact::Known(downs),
            ..Instant::default()
        }
    }

    fn downs(instants: &[Instant]) -> Fact<Change> {
        change(instants, |instant| instant.carrier_down_count.clone())
    }

    /// The tabulated limits of the 95 % interval: E. S. Pearson and H. O. Hartley, Biometrika Tables
    /// for Statisticians, vol. 1, table 40 (from memory).
    #[test]
    fn garwood_interval() {
        for (events, least, most) in [
            (0, 0.0, 3.69),
            (1, 0.0253, 5.57),
            (2, 0.242, 7.22),
            (3, 0.619, 8.77),
            (5, 1.62, 11.67),
            (10, 4.80, 18.39),
            (20, 12.22, 30.89),
            (50, 37.11, 65.92),
        ] {
            let (low, high) = poisson_95(events).unwrap();
            assert!((low - least).abs() < 0.006, "{events}: {low}");
            assert!((high - most).abs() < 0.006, "{events}: {high}");
        }
        assert!(poisson_95(99).is_some());
        assert_eq!(poisson_95(100), None);
        assert_eq!(poisson_95(u64::MAX), None);
        let few = Change { by: 3, seconds: 1.0, total: 3 };
        assert_eq!(few.interval_text(), ", between 0.6 and 8.8 a second");
        assert_eq!(Change { by: 0, ..few }.interval_text(), "");
        assert_eq!(Change { by: 100, ..few }.interval_text(), "");
        let slow = Change { by: 3, seconds: 60.0, total: 3 };
        assert_eq!(slow.interval_text(), ", between 0.010 and 0.15 a second");
        // 0.0253 and 5.57 events by the table, in a day of 86400 s.
        let day = Change { by: 1, seconds: 86_400.0, total: 1 };
        assert_eq!(day.interval_text(), ", between 2.9e-7 and 6.4e-5 a second");
        assert_eq!(few.errors_text(), "3 in 1.0 s, between 0.6 and 8.8 a second");
        let old = Change { by: 0, seconds: 10.0, total: 12 };
        assert_eq!(
            old.errors_text(),
            "none in the 10.0 s watched; 12 stand since the counters started"
        );
        assert_eq!(Change { total: 0, ..old }.errors_text(), "0 in 10.0 s");
    }

    #[test]
    fn growth_and_its_traps() {
        let grown = downs(&[at(0, 3), at(2000, 7)]);
        assert_eq!(grown, Fact::Known(Change { by: 4, seconds: 2.0, total: 7 }));
        assert!(downs(&[at(0, 3)]).known().is_none(), "one instant");
        assert!(downs(&[at(0, 9), at(1000, 2)]).known().is_none(), "reset");
        assert!(downs(&[at(5, 1), at(1, 2)]).known().is_none(), "time runs back");
        assert!(downs(&[at(1, 1), at(1, 2)]).known().is_none(), "no time");
        assert!(downs(&[]).known().is_none());
    }
}
