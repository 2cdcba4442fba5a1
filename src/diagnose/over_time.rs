//! What a module's readings over time say of each quantity. It feeds no verdict.
//!
//! In: a port's module. Out: least, mean, most and drift a quantity and lane. Light is reckoned in
//! dBm, since loss and gain are ratios; where there was none in some reading no drift is told.

use serde::Serialize;

use crate::calc::trend::{Point, Trend, trend};
use crate::module::over_time::{Monitored, Series, over_time};
use crate::quantity::{Dbm, Milliwatts, Seconds};
use crate::snapshot::{Fact, Missing, ModuleFacts};
use crate::standards::accuracy;

/// What all of them say.
#[derive(Debug, Clone, PartialEq)]
pub struct Drifts {
    /// From the first reading to the last.
    pub span: Seconds,
    /// How many there were.
    pub readings: usize,
    /// Those that failed, when and why.
    pub failed: Vec<(Seconds, Missing)>,
    /// When and why nothing more was read, where it ended because readings failed.
    pub ended: Option<(Seconds, Missing)>,
    /// Each quantity, of the whole module first.
    pub watched: Vec<Watched>,
}

/// What the readings say of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Watched {
    /// Which.
    pub what: Monitored,
    /// Of which lane, from 1.
    pub lane: Option<u8>,
    /// How many readings had it.
    pub readings: usize,
    /// In how many of them there was no light.
    pub dark: usize,
    /// When light came or went, after the first instant: the first reading of each new state.
    pub changes: Vec<(Seconds, Change)>,
    /// Of the readings with light, in dBm; in °C, V or mA of what is none. `None` where all were
    /// dark.
    pub trend: Option<Trend>,
}

/// How light changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Change {
    /// Light where there was none before.
    Came,
    /// None where there was light before.
    Went,
}

impl Watched {
    /// Unit of its figures.
    pub fn unit(&self) -> &'static str {
        match self.what {
            Monitored::Temperature => "°C",
            Monitored::Supply => "V",
            Monitored::Bias => "mA",
            Monitored::TxPower | Monitored::RxPower => "dBm",
        }
    }

    /// Unit of a difference of them.
    pub fn unit_of_difference(&self) -> &'static str {
        if self.what.is_light() { "dB" } else { self.unit() }
    }
}

/// Reckons a port's readings over time. `None` where nobody asked for any; missing where it was
/// asked, and could not be had.
pub fn drifts(module: &ModuleFacts) -> Option<Fact<Drifts>> {
    Some(over_time(module)?.map(|found| {
        let ended = found.ended().cloned();
        let span = match (found.at.first(), found.at.last()) {
            (Some(first), Some(last)) => Seconds(last.0 - first.0),
            _ => Seconds(0.0),
        };
        Drifts {
            span,
            readings: found.at.len(),
            watched: found.series.iter().map(watched).collect(),
            failed: found.failed,
            ended,
        }
    }))
}

fn watched(series: &Series) -> Watched {
    let is_light = series.what.is_light();
    let dbm = |value: f64| {
        let dbm = Milliwatts(value).dbm()?.0;
        (dbm > accuracy::NO_LIGHT_DBM).then_some(dbm)
    };
    let shown = |value: f64| if is_light { dbm(value) } else { Some(value) };
    let points: Vec<Point> = series
        .points
        .iter()
        .filter_map(|(at, value)| Some(Point { at: *at, value: shown(*value)? }))
        .collect();
    let dark = series.points.len() - points.len();
    let step = series.what.step();
    // A count of the map is the more decibels the less light there is.
    let step = match trend(&points, step) {
        Some(Trend { mean, .. }) if is_light => {
            10.0 * (1.0 + step / Dbm(mean).milliwatts().0).log10()
        }
        _ => step,
    };
    let mut trend = trend(&points, step);
    if let Some(trend) = trend.as_mut().filter(|_| dark > 0) {
        trend.slope = None;
    }
    let changes = series.points.windows(2).filter_map(|pair| match pair {
        [(_, before), (at, now)] => match (shown(*before), shown(*now)) {
            (None, Some(_)) => Some((*at, Change::Came)),
            (Some(_), None) => Some((*at, Change::Went)),
            _ => None,
        },
        _ => None,
    });
    Watched {
        what: series.what,
        lane: series.lane,
        readings: series.points.len(),
        dark,
        changes: changes.collect(),
        trend,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::trend::Drift;

    fn received(milliwatts: impl Fn(u32) -> f64) -> Watched {
        let points = (0..61).map(|s| (Seconds(f64::from(s)), milliwatts(s))).collect();
        watched(&Series { what: Monitored::RxPower, lane: Some(1), points })
    }

    /// A loss of 3 dB a minute: half the light (definition of the decibel).
    #[test]
    fn light_is_reckoned_in_decibels() {
        let found = received(|s| 0.5 * 2f64.powf(-f64::from(s) / 60.0));
        let trend = found.trend.unwrap();
        let slope = trend.slope.unwrap();
        assert_eq!(slope.drift, Drift::Falls);
        assert!((slope.a_second * 60.0 + 3.0103).abs() < 1e-3, "{slope:?}");
        assert!((trend.most + 3.0103).abs() < 1e-3 && (trend.least + 6.0206).abs() < 1e-3);
        assert_eq!((found.dark, found.changes.len()), (0, 0));
    }

    /// One count of 0.1 µW at -27 dBm (0.002 mW) is 0.2 dB: no trend. A reading at the floor or of
    /// 0 is no light, and takes the trend away.
    #[test]
    fn near_the_dark() {
        let found = received(|s| if s < 30 { 0.002 } else { 0.0021 });
        let drift = found.trend.unwrap().slope.unwrap().drift;
        assert!(matches!(drift, Drift::None | Drift::Wanders));
        let found = received(|s| if s % 20 == 19 { 0.0001 } else { 0.2 - f64::from(s) * 1e-3 });
        assert_eq!((found.readings, found.dark, found.changes.len()), (61, 3, 6));
        assert_eq!(found.changes[0], (Seconds(19.0), Change::Went));
        assert_eq!(found.changes[1], (Seconds(20.0), Change::Came));
        assert_eq!((found.trend.unwrap().readings, found.trend.unwrap().slope), (58, None));
        let found = received(|_| 0.0);
        assert_eq!((found.dark, found.trend), (61, None));
    }
}
