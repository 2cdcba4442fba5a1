//! Readings of a module against their limits.

use serde::Serialize;

use crate::diagnose::PortDiagnosis;
use crate::module::{Lane, Limits, Module};
use crate::quantity::{Dbm, Milliwatts};
use crate::report::{Words, words};
use crate::snapshot::Fact;

/// One quantity, of the case or of each lane.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gauge {
    /// Which.
    pub reading: &'static str,
    /// Unit of all numbers here.
    pub unit: &'static str,
    /// Whose limits they are.
    pub limits_are: Words,
    /// Limits: the outer ones first.
    pub limits: Vec<Limit>,
    /// A reading each.
    pub bars: Vec<Bar>,
}

/// A limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limit {
    /// `low alarm`, `published least`, ...
    pub name: &'static str,
    /// Where it is.
    pub value: f64,
    /// True where more than it is too much, false where less is too little.
    pub above: bool,
    /// True for the outer limit of two.
    pub alarm: bool,
}

/// A reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bar {
    /// Of what: `module`, or the lane.
    pub of: Words,
    /// The reading; none where there is no light, which has no dBm.
    pub value: Option<f64>,
    /// The same with its unit.
    pub shown: Words,
    /// How it stands to the limits, in words.
    pub standing: String,
}

impl Gauge {
    /// The outermost limit that a value has crossed.
    pub fn crossed(&self, value: f64) -> Option<&Limit> {
        self.limits.iter().find(
            |limit| {
                if limit.above { value > limit.value } else { value < limit.value }
            },
        )
    }

    /// In words.
    fn standing(&self, value: Option<f64>) -> String {
        let Some(value) = value else { return "no light".into() };
        match self.crossed(value) {
            _ if self.limits.is_empty() => "no limit is known".into(),
            Some(limit) => {
                let side = if limit.above { "above" } else { "below" };
                format!("{side} the {}", limit.name)
            }
            None => "within".into(),
        }
    }

    /// A gauge, where anything was read.
    fn of(
        reading: &'static str,
        unit: &'static str,
        (whose, limits): (String, Vec<Limit>),
        read: Vec<(String, Option<f64>, String)>,
    ) -> Option<Self> {
        let finite = |value: &f64| value.is_finite();
        let limits = limits.into_iter().filter(|limit| finite(&limit.value)).collect();
        let mut gauge = Self { reading, unit, limits_are: words(whose), limits, bars: Vec::new() };
        gauge.bars = read
            .into_iter()
            .filter(|(_, value, _)| value.as_ref().is_none_or(finite))
            .map(|(of, value, shown)| Bar {
                of: words(of),
                value,
                shown: words(shown),
                standing: gauge.standing(value),
            })
            .collect();
        (!gauge.bars.is_empty()).then_some(gauge)
    }
}

/// The module's own limits of a quantity.
fn own<T: Copy>(
    module: &Module,
    limits: &Fact<Limits<T>>,
    number: impl Fn(T) -> Option<f64>,
) -> (String, Vec<Limit>) {
    let Fact::Known(limits) = limits else {
        return ("no limit is known".into(), Vec::new());
    };
    let all = [
        ("low alarm", limits.low_alarm, false, true),
        ("high alarm", limits.high_alarm, true, true),
        ("low warning", limits.low_warning, false, false),
        ("high warning", limits.high_warning, true, false),
    ];
    let all = all.into_iter().filter_map(|(name, value, above, alarm)| {
        Some(Limit { name, value: number(value)?, above, alarm })
    });
    (module.thresholds_source.clone(), all.collect())
}

/// Every quantity that was read.
pub fn gauges(module: &Module, found: &PortDiagnosis) -> Vec<Gauge> {
    let window = module.power_window(found.running.known().copied());
    let dbm = |power: Milliwatts| power.dbm().map(|Dbm(dbm)| dbm);
    // As the margins of the text: the module's own limits, else what is published.
    let power_limits =
        |limits: &Fact<Limits<Milliwatts>>, least: Option<Dbm>, most: Option<Dbm>| {
            if limits.known().is_some() {
                return own(module, limits, dbm);
            }
            let published = [("published least", least, false), ("published most", most, true)];
            let published: Vec<Limit> = published
                .into_iter()
                .filter_map(|(name, value, above)| {
                    Some(Limit { name, value: value?.0, above, alarm: false })
                })
                .collect();
            match window {
                Some(row) if !published.is_empty() => {
                    (format!("published for {} [{}]", row.interface, row.cite()), published)
                }
                _ => ("no limit is known".into(), Vec::new()),
            }
        };
    let powers = |pick: fn(&Lane) -> &Fact<Milliwatts>| {
        let lanes = module.used_lanes().filter_map(|lane| {
            let power = *pick(lane).known()?;
            Some((format!("lane {}", lane.number), dbm(power), power.to_string()))
        });
        lanes.collect::<Vec<_>>()
    };
    let bias = module.used_lanes().filter_map(|lane| {
        let bias = *lane.bias.known()?;
        Some((format!("lane {}", lane.number), Some(bias.0), bias.to_string()))
    });
    let limits = &module.thresholds;
    let tx = window.map_or((None, None), |row| (row.tx_least, row.tx_most));
    let rx = window.map_or((None, None), |row| (row.rx_least, row.rx_most));
    let case = |value: Option<(f64, String)>| {
        value.map(|(value, shown)| ("module".to_owned(), Some(value), shown)).into_iter().collect()
    };
    let celsius = module.temperature.known().map(|value| (value.0, value.to_string()));
    let volts = module.supply.known().map(|value| (value.0, value.to_string()));
    let (rx_limits, tx_limits) = (&limits.rx_power, &limits.tx_power);
    [
        Gauge::of(
            "Receive power",
            "dBm",
            power_limits(rx_limits, rx.0, rx.1),
            powers(|lane| &lane.rx_power),
        ),
        Gauge::of(
            "Transmit power",
            "dBm",
            power_limits(tx_limits, tx.0, tx.1),
            powers(|lane| &lane.tx_power),
        ),
        Gauge::of(
            "Laser bias",
            "mA",
            own(module, &limits.bias, |value| Some(value.0)),
            bias.collect(),
        ),
        Gauge::of(
            "Temperature",
            "°C",
            own(module, &limits.temperature, |value| Some(value.0)),
            case(celsius),
        ),
        Gauge::of("Supply", "V", own(module, &limits.supply, |value| Some(value.0)), case(volts)),
    ]
    .into_iter()
    .flatten()
    .collect()
}
