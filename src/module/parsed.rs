//! Readings that something else has parsed, brought into the same model.

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
            bias: finite(&lane.bias_milliamps).map(Milliamps),
            tx_power: power(&lane.tx_power_milliwatts),
            rx_power: power(&lane.rx_power_milliwatts),
            ..Lane::default()
        })
        .collect();
    let lit =
        lanes.iter().any(|lane| lane.tx_power.known().is_some() || lane.rx_power.known().is_some());
    let limits = readings.limits.clone().unwrap_or_default();
    Module {
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
        interface_types,
        speeds,
        diagnostics: Fact::Known(true),
        temperature: finite(&readings.temperature_celsius).map(Celsius),
        supply: finite(&readings.supply_volts).map(Volts),
        lanes,
        thresholds: Thresholds {
            temperature: four(limits.temperature_celsius, Celsius),
            supply: four(limits.supply_volts, Volts),
            bias: four(limits.bias_milliamps, Milliamps),
            tx_power: four(limits.tx_power_milliwatts, Milliwatts),
            rx_power: four(limits.rx_power_milliwatts, Milliwatts),
        },
        thresholds_source: "limits that came with the parsed readings",
        ..Module::unknown()
    }
}

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
        if value.is_finite() {
            Fact::Known(value)
        } else {
            Fact::missing_with(Reason::Malformed, "the reading is no finite number")
        }
    })
}

fn power(reading: &Fact<f64>) -> Fact<Milliwatts> {
    finite(reading).and_then(|milliwatts| {
        if milliwatts < 0.0 {
            Fact::missing_with(Reason::Malformed, "power below zero")
        } else {
            Fact::Known(Milliwatts(milliwatts))
        }
    })
}

fn four<T>(limits: Option<FourLimits>, unit: fn(f64) -> T) -> Fact<Limits<T>> {
    let Some(limits) = limits else {
        return Fact::missing(Reason::NotReported);
    };
    match (limits.high_alarm, limits.low_alarm, limits.high_warning, limits.low_warning) {
        (Some(high_alarm), Some(low_alarm), Some(high_warning), Some(low_warning))
            if low_warning < high_warning && low_alarm < high_alarm =>
        {
            Fact::Known(Limits {
                high_alarm: unit(high_alarm),
                low_alarm: unit(low_alarm),
                high_warning: unit(high_warning),
                low_warning: unit(low_warning),
            })
        }
        (Some(_), Some(_), Some(_), Some(_)) => {
            Fact::missing_with(Reason::Malformed, "the low limits are not below the high ones")
        }
        _ => Fact::missing_with(Reason::NotReported, "not all four limits are told"),
    }
}
