//! Readings that something else has parsed, brought into the same model.
//!
//! In: parsed readings of a snapshot. Out: a [`Module`]. A number that is not finite, or a power
//! below zero, is *malformed*; what was not told stays missing. No panic, whatever they say.

use crate::module::meaning::{LimitReader, Sources, doubts};
use crate::module::{Carries, Family, InterfaceType, Lane, Limits, Module, Thresholds};
use crate::quantity::{Celsius, Milliamps, Milliwatts, Volts};
use crate::snapshot::{Fact, FourLimits, ParsedReadings, Reason};
use crate::standards::names;

/// The module that the readings describe.
pub fn module(readings: &ParsedReadings) -> Module {
    let told = |text: &Option<String>| match text {
        Some(text) => Fact::Known(text.clone()),
        None => Fact::missing(Reason::NotReported),
    };
    let interface_types: Vec<InterfaceType> = readings
        .interface_types
        .iter()
        .map(|name| InterfaceType {
            name: name.clone(),
            speed: names::speed_of(name),
            source: format!("told by {}", readings.source),
        })
        .collect();
    let mut speeds: Vec<_> = interface_types.iter().filter_map(|claimed| claimed.speed).collect();
    speeds.sort_unstable();
    speeds.dedup();
    let lanes: Vec<Lane> = readings
        .lanes
        .iter()
        .map(|lane| Lane {
            number: lane.lane,
            in_use: true,
            bias: not_negative(&lane.bias_milliamps).map(Milliamps),
            tx_power: not_negative(&lane.tx_power_milliwatts).map(Milliwatts),
            rx_power: not_negative(&lane.rx_power_milliwatts).map(Milliwatts),
            ..Lane::default()
        })
        .collect();
    let lit =
        lanes.iter().any(|lane| lane.tx_power.known().is_some() || lane.rx_power.known().is_some());
    let limits = readings.limits.clone().unwrap_or_default();
    let mut reader = LimitReader::default();
    let mut module = Module {
        family: Family::ParsedReadings,
        recognised_by: format!("readings parsed by {}", readings.source),
        carries: carries(&interface_types, lit),
        vendor_name: told(&readings.vendor_name),
        part_number: told(&readings.part_number),
        serial_number: told(&readings.serial_number),
        top_speed: match speeds.last() {
            Some(speed) => Fact::Known(*speed),
            None => Fact::missing_with(Reason::NotReported, "the readings tell no interface type"),
        },
        top_speed_source: speeds
            .last()
            .and_then(|top| interface_types.iter().find(|claimed| claimed.speed == Some(*top)))
            .map(|claimed| format!("{}, {}", claimed.name, claimed.source))
            .unwrap_or_default(),
        interface_types,
        speeds,
        diagnostics: Fact::Known(true),
        temperature: finite(&readings.temperature_celsius).map(Celsius),
        supply: finite(&readings.supply_volts).map(Volts),
        lanes,
        thresholds: Thresholds {
            temperature: four(&mut reader, "temperature", limits.temperature_celsius, Celsius),
            supply: four(&mut reader, "supply", limits.supply_volts, Volts),
            bias: four(&mut reader, "laser bias", limits.bias_milliamps, Milliamps),
            tx_power: four(&mut reader, "transmit power", limits.tx_power_milliwatts, Milliwatts),
            rx_power: four(&mut reader, "receive power", limits.rx_power_milliwatts, Milliwatts),
        },
        thresholds_source: format!("the limits that came with the readings ({})", readings.source),
        ..Module::unknown()
    };
    module.doubts.extend(reader.doubt(SOURCE));
    let found = doubts(&module, &SOURCES);
    module.doubts.extend(found);
    module
}

const SOURCE: &str = "the readings, as they were told";

const SOURCES: Sources = Sources {
    checksums: SOURCE,
    types_and_wavelength: SOURCE,
    types_and_rate: SOURCE,
    temperature: SOURCE,
    supply: SOURCE,
    power: SOURCE,
    lanes: 1,
};

fn carries(types: &[InterfaceType], lit: bool) -> Carries {
    use crate::standards::media::rows_of;
    let grade = types.iter().find_map(|claimed| rows_of(&claimed.name).next()).map(|row| row.grade);
    match grade {
        Some(grade) if grade.is_multimode() => Carries::MultimodeFibre,
        Some(grade) if grade.is_fibre() => Carries::SingleModeFibre,
        Some(grade) if grade.is_twisted_pair() => Carries::TwistedPair,
        Some(_) => Carries::PassiveCopper,
        // Whatever has optical power readings is optical.
        None if lit => Carries::Fibre,
        None => Carries::Unknown,
    }
}

fn finite(reading: &Fact<f64>) -> Fact<f64> {
    reading.clone().and_then(|value| {
        if !value.is_finite() {
            Fact::missing_with(Reason::Malformed, "the reading is no finite number")
        } else if value.abs() > MOST {
            Fact::missing_with(Reason::Malformed, "the reading is larger than any can be")
        } else {
            Fact::Known(value)
        }
    })
}

/// Larger than anything a module reports in °C, V, mA or mW (the maps end at 128, 6.6, 524 and
/// 6.6): such a number is a mistake of whoever told it.
const MOST: f64 = 10_000.0;

/// For what no module can have less of than none: light and current.
fn not_negative(reading: &Fact<f64>) -> Fact<f64> {
    finite(reading).and_then(|value| {
        if value < 0.0 {
            Fact::missing_with(Reason::Malformed, "the reading is below zero")
        } else {
            Fact::Known(value)
        }
    })
}

fn four<T: PartialOrd + Copy>(
    reader: &mut LimitReader,
    name: &'static str,
    limits: Option<FourLimits>,
    unit: fn(f64) -> T,
) -> Fact<Limits<T>> {
    let Some(limits) = limits else {
        return Fact::missing(Reason::NotReported);
    };
    match (limits.high_alarm, limits.low_alarm, limits.high_warning, limits.low_warning) {
        // A host that reads all-zero limits of a module hands them on.
        (Some(0.0), Some(0.0), Some(0.0), Some(0.0)) => {
            Fact::missing_with(Reason::NotImplemented, "limits are all zero")
        }
        (Some(a), Some(b), Some(c), Some(d))
            if [a, b, c, d].iter().any(|limit| !limit.is_finite() || limit.abs() > MOST) =>
        {
            Fact::missing_with(Reason::Malformed, "a limit is larger than any can be")
        }
        (Some(high_alarm), Some(low_alarm), Some(high_warning), Some(low_warning)) => {
            reader.ordered(name, [high_alarm, low_alarm, high_warning, low_warning].map(unit))
        }
        _ => Fact::missing_with(Reason::NotReported, "not all four limits are told"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Mbps;
    use crate::snapshot::ParsedLane;

    fn readings() -> ParsedReadings {
        ParsedReadings {
            source: "the kernel's sensor interface".into(),
            interface_types: vec!["10GBASE-SR".into()],
            vendor_name: Some("KESTREL FIBRE".into()),
            temperature_celsius: Fact::Known(41.5),
            lanes: vec![ParsedLane {
                lane: 1,
                tx_power_milliwatts: Fact::Known(0.5),
                rx_power_milliwatts: Fact::Known(0.0),
                ..ParsedLane::default()
            }],
            ..ParsedReadings::default()
        }
    }

    /// What is told is taken over, what is not told stays missing; 0.5 mW is -3.010 dBm.
    #[test]
    fn the_same_model() {
        let module = module(&readings());
        assert_eq!(module.top_speed, Fact::Known(Mbps(10_000)));
        assert_eq!(module.top_speed_source, "10GBASE-SR, told by the kernel's sensor interface");
        assert_eq!(module.carries, Carries::MultimodeFibre);
        assert_eq!(module.temperature, Fact::Known(Celsius(41.5)));
        assert_eq!(module.supply.known(), None);
        assert_eq!(module.part_number.known(), None);
        let dbm = module.lanes[0].tx_power.known().unwrap().dbm().unwrap().0;
        assert!((dbm + 3.010).abs() < 0.0005);
        assert_eq!(module.lanes[0].rx_power, Fact::Known(Milliwatts(0.0)));
        assert_eq!(module.lanes[0].bias.known(), None);
        assert_eq!(module.thresholds.rx_power.known(), None);
        assert!(module.recognised_by.contains("the kernel's sensor interface"));
    }

    #[test]
    fn numbers_that_are_none() {
        let mut told = readings();
        told.temperature_celsius = Fact::Known(f64::NAN);
        told.lanes[0].rx_power_milliwatts = Fact::Known(-0.1);
        told.lanes[0].bias_milliamps = Fact::Known(f64::INFINITY);
        let module = module(&told);
        for why in [
            module.temperature.why_missing(),
            module.lanes[0].rx_power.why_missing(),
            module.lanes[0].bias.why_missing(),
        ] {
            assert_eq!(why.unwrap().reason, Reason::Malformed);
        }
    }

    #[test]
    fn limits_out_of_order_or_incomplete() {
        let all = FourLimits {
            high_alarm: Some(75.0),
            low_alarm: Some(-5.0),
            high_warning: Some(70.0),
            low_warning: Some(0.0),
        };
        assert!(
            four(&mut LimitReader::default(), "temperature", Some(all), Celsius).known().is_some()
        );
        let crossed = FourLimits { low_alarm: Some(80.0), ..all };
        let reason = |limits| {
            four(&mut LimitReader::default(), "temperature", limits, Celsius)
                .why_missing()
                .unwrap()
                .reason
        };
        assert_eq!(reason(Some(crossed)), Reason::Malformed);
        assert_eq!(reason(Some(FourLimits { low_alarm: None, ..all })), Reason::NotReported);
        assert_eq!(
            reason(Some(FourLimits { high_alarm: Some(f64::NAN), ..all })),
            Reason::Malformed
        );
        assert_eq!(reason(None), Reason::NotReported);
    }
}
