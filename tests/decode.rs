//! `decode` on each demo image gives the values worked by hand in `fixtures/README.md`.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, json, run, text};
use serde_json::Value;

fn decoded(name: &str) -> Value {
    json(&run(&["decode", &format!("fixtures/{name}"), "--format", "json"]))
}

fn near(value: &Value, wanted: f64, tolerance: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - wanted).abs() <= tolerance, "{value} is not {wanted}");
}

/// °C, V, mA, TX dBm, RX dBm. Scales: SFF-8472 Rev 9.3 (1/256 °C, 100 µV, 2 µA, 0.1 µW).
fn readings(name: &str, wanted: [f64; 5]) -> Value {
    let module = decoded(name);
    near(&module["temperature_celsius"], wanted[0], 1e-9);
    near(&module["supply_volts"], wanted[1], 1e-4);
    let lane = &module["lanes"][0];
    near(&lane["bias_milliamps"], wanted[2], 1e-9);
    near(&lane["tx_power_dbm"], wanted[3], 0.0015);
    near(&lane["rx_power_dbm"], wanted[4], 0.0015);
    for checksum in module["checksums"].as_array().unwrap() {
        assert_eq!(checksum["matches"], true, "{name}: {checksum}");
    }
    module
}

#[test]
fn internal_calibration() {
    for name in ["modules/northlight-10g-sr.bin", "modules/northlight-10g-sr.txt"] {
        let module = readings(name, [36.5, 3.3, 7.0, -2.2, -2.8]);
        assert_eq!(module["calibration"], "internal");
        assert_eq!(module["vendor_name"], "NORTHLIGHT OPT");
        assert_eq!(module["part_number"], "NL-10SR-S");
        assert_eq!(module["serial_number"], "TWS-0001");
        assert_eq!(module["connector"], "LC");
        assert_eq!(module["carries"], "multimode-fibre");
        assert_eq!(module["top_speed_mbps"], 10_000);
        near(&module["wavelength_nm"], 850.0, 0.0);
        let limits = &module["limits"];
        near(&limits["temperature_celsius"]["high_alarm"], 78.0, 0.0);
        near(&limits["temperature_celsius"]["low_alarm"], -13.0, 0.0);
        near(&limits["supply_volts"]["high_warning"], 3.6, 1e-9);
        near(&limits["bias_milliamps"]["low_warning"], 5.0, 1e-9);
        near(&limits["rx_power_milliwatts"]["high_alarm"], 1.5849, 1e-9);
    }
    let dual = readings("modules/kestrel-25g-sr-dual.bin", [40.5, 3.29, 7.5, -1.5, -3.5]);
    assert_eq!(dual["speeds_mbps"], serde_json::json!([10_000, 25_000]));
    assert_eq!(dual["nominal_megabaud"], 25_750);
    let long = readings("modules/kestrel-10g-lr.bin", [39.0, 3.31, 35.0, -2.0, -6.0]);
    assert_eq!(long["carries"], "single-mode-fibre");
    near(&long["wavelength_nm"], 1310.0, 0.0);
    near(&long["reaches"][0]["metres"], 10_000.0, 0.0);
}

/// Examples A and B of the memory-map notes 1.9 (formulas: SFF-8472 Rev 9.3 pages 17-23).
#[test]
fn external_calibration() {
    let a = readings("modules/external-calibration-a.bin", [30.25, 3.3003, 8.092, -3.979, -6.582]);
    assert_eq!(a["calibration"], "external");
    let b = readings("modules/external-calibration-b.bin", [-9.5, 3.25, 10.0, -3.768, -10.150]);
    assert_eq!(b["calibration"], "external");
}

#[test]
fn modules_without_diagnostics_are_normal() {
    let plain = decoded("modules/northlight-10g-sr-no-diagnostics.bin");
    assert_eq!(plain["diagnostics"], false);
    assert_eq!(plain["lanes"][0]["rx_power_dbm"], Value::Null);
    assert_eq!(plain["lanes"][0]["rx_power_milliwatts"]["missing"]["reason"], "not-implemented");
    let cable = decoded("modules/gannet-10g-cable.bin");
    assert_eq!(cable["carries"], "passive-copper");
    near(&cable["cable_length_m"], 3.0, 0.0);
    assert_eq!(cable["top_speed_mbps"], 10_000);
    assert_eq!(cable["cable_compliance"][0], "SFF-8431 Appendix E");
    let twisted = decoded("modules/kestrel-10gbase-t.bin");
    assert_eq!(twisted["carries"], "twisted-pair");
    assert_eq!(twisted["connector"], "RJ45");
    assert_eq!(twisted["top_speed_mbps"], 10_000);
}

#[test]
fn bad_images() {
    let cut = decoded("bad/cut-in-diagnostics.bin");
    assert_eq!(cut["lanes"][0]["rx_power_milliwatts"]["missing"]["reason"], "short-page");
    let output = run(&["decode", "fixtures/bad/nothing-answered.bin"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(complaint(&output).contains("nothing answered"));
    let shown = text(&run(&["decode", "fixtures/modules/northlight-10g-sr.bin"]));
    for words in ["NORTHLIGHT OPT", "-2.80 dBm", "margin 7.1 dB and 1.8 dB", "CC_BASE"] {
        assert!(shown.contains(words), "{words:?} in\n{shown}");
    }
}
