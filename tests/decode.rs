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
    for words in ["NORTHLIGHT OPT", "CC_BASE", "A2h bytes 0-39"] {
        assert!(shown.contains(words), "{words:?} in\n{shown}");
    }
    // -2.80 dBm is 9.2 dB above the own low warning of -12.00 dBm, 3.8 dB below +1.00 dBm.
    lane_row(&shown, 1, ["-2.20", "602.6", "5.8", "2.7", "-2.80", "524.8", "9.2", "3.8", "7.00"]);
}

// ---- families with pages ------------------------------------------------------------------
//
// Values worked by hand in `fixtures/README.md` from raw words at offsets of the memory-map notes:
// SFF-8636 lower memory 22-57 and page 03h 128-199 (notes 3.1 and 3.6, from memory but for the
// temperature limits), CMIS lower memory 14-17 and page 11h 154-201 (notes 4.1 and 4.5, from
// memory). Scales: 1/256 degC, 100 uV, 2 uA (times the bias scale of CMIS), 0.1 uW.

/// The row of a lane in the table of lanes, cell by cell.
fn lane_row(shown: &str, lane: u8, wanted: [&str; 9]) {
    let rows: Vec<Vec<&str>> =
        shown.lines().map(|line| line.split_whitespace().collect::<Vec<_>>()).collect();
    let number = lane.to_string();
    let row = rows.iter().find(|row| row.len() == 10 && row[0] == number);
    let row = row.unwrap_or_else(|| panic!("no row of lane {lane} in\n{shown}"));
    assert_eq!(row[1..], wanted, "lane {lane} in\n{shown}");
}

/// Text of 80 columns at most.
fn shown(name: &str) -> String {
    let shown = text(&run(&["decode", &format!("fixtures/{name}")]));
    for line in shown.lines() {
        assert!(line.chars().count() <= 80, "{name}: {line:?}");
    }
    shown
}

/// Case, then each used lane: sent dBm, received dBm, bias mA. `None` is no light.
fn paged(name: &str, case: [f64; 2], lanes: &[(f64, Option<f64>, f64)]) -> Value {
    let module = decoded(name);
    near(&module["temperature_celsius"], case[0], 1e-9);
    near(&module["supply_volts"], case[1], 1e-9);
    let used: Vec<&Value> =
        module["lanes"].as_array().unwrap().iter().filter(|lane| lane["in_use"] == true).collect();
    assert_eq!(used.len(), lanes.len(), "{name}");
    for (at, (lane, (tx, rx, bias))) in used.iter().zip(lanes).enumerate() {
        assert_eq!(lane["lane"], at + 1);
        near(&lane["tx_power_dbm"], *tx, 0.0015);
        match rx {
            Some(rx) => near(&lane["rx_power_dbm"], *rx, 0.0015),
            None => {
                assert_eq!(lane["rx_power_dbm"], Value::Null);
                near(&lane["rx_power_milliwatts"], 0.0, 0.0);
            }
        }
        near(&lane["bias_milliamps"], *bias, 1e-9);
    }
    for checksum in module["checksums"].as_array().unwrap() {
        assert_eq!(checksum["matches"], true, "{name}: {checksum}");
    }
    module
}

fn identity(module: &Value, wanted: &[(&str, &str)]) {
    for (key, value) in wanted {
        assert_eq!(module[*key], *value, "{key}");
    }
}

/// A flag set on exactly these lanes.
fn only_lanes(module: &Value, pick: impl Fn(&Value) -> &Value, wanted: &[u64]) {
    let lanes = module["lanes"].as_array().unwrap();
    let set: Vec<u64> = lanes
        .iter()
        .filter(|lane| *pick(lane) == Value::Bool(true))
        .map(|lane| lane["lane"].as_u64().unwrap())
        .collect();
    assert_eq!(set, wanted);
}

/// Four limits in the unit of the JSON: high alarm, low alarm, high warning, low warning.
fn limits(module: &Value, quantity: &str, wanted: [f64; 4]) {
    let names = ["high_alarm", "low_alarm", "high_warning", "low_warning"];
    for (name, wanted) in names.iter().zip(wanted) {
        near(&module["limits"][quantity][*name], wanted, 1e-9);
    }
}

/// Margins of a lane's received power: to the own low and high warning, to the published least
/// and most.
fn rx_margins(module: &Value, lane: usize, own: [f64; 2], published: [f64; 2]) {
    let margins = &module["lanes"][lane - 1]["rx_margins"];
    for (set, wanted) in [("own_warning", own), ("published", published)] {
        near(&margins[set]["low_db"], wanted[0], 0.0025);
        near(&margins[set]["high_db"], wanted[1], 0.0025);
    }
}

/// SFF-8636; identity: page 00h 128-223 (notes 3.3), power class: byte 129 (notes 3.4).
#[test]
fn qsfp28_with_a_weak_lane() {
    let name = "modules/northlight-100g-sr4-weak-lane.bin";
    let module = paged(
        name,
        [37.5, 3.285],
        &[
            (0.0, Some(-3.0), 7.0),
            (-0.5, Some(-3.5), 7.2),
            (-0.2, Some(-11.5), 7.1),
            (-1.0, Some(-2.8), 6.9),
        ],
    );
    identity(
        &module,
        &[
            ("family", "sff8636"),
            ("form_factor", "QSFP28 or later"),
            ("connector", "MPO 1x12"),
            ("carries", "multimode-fibre"),
            ("vendor_name", "NORTHLIGHT OPT"),
            ("vendor_oui", "02-74-69"),
            ("part_number", "NL-100SR4"),
            ("serial_number", "TWS-1003"),
            ("date_code", "2025-09-11"),
            ("technology", "850 nm VCSEL"),
            ("encoding", "64B/66B"),
            ("power_class", "power class 4 (up to 3.5 W)"),
        ],
    );
    assert_eq!(module["top_speed_mbps"], 100_000);
    assert!(module["top_speed_source"].as_str().unwrap().contains("byte 192 = 02h"));
    assert_eq!(module["nominal_megabaud"], 25_750);
    near(&module["wavelength_nm"], 850.0, 1e-9);
    limits(&module, "temperature_celsius", [75.0, -5.0, 70.0, 0.0]);
    limits(&module, "supply_volts", [3.63, 2.97, 3.465, 3.135]);
    limits(&module, "bias_milliamps", [13.0, 3.0, 12.0, 4.0]);
    limits(&module, "rx_power_milliwatts", [2.1878, 0.0468, 1.7378, 0.0933]);
    limits(&module, "tx_power_milliwatts", [2.1878, 0.0912, 1.7378, 0.1445]);
    // Own warnings -10.30 and +2.40 dBm; IEEE 802.3 clause 95: -10.3 and +2.4 dBm.
    rx_margins(&module, 1, [7.3, 5.4], [7.3, 5.4]);
    rx_margins(&module, 3, [-1.2, 13.9], [-1.2, 13.9]);
    // Byte 10 bit 4: lane 3, the lowest of four flags (notes 3.2). Byte 3 is clear.
    only_lanes(&module, |lane| &lane["rx_power_flags"]["low_warning"], &[3]);
    only_lanes(&module, |lane| &lane["rx_power_flags"]["low_alarm"], &[]);
    only_lanes(&module, |lane| &lane["rx_los"], &[]);
    let shown = shown(name);
    lane_row(&shown, 3, ["-0.20", "955.0", "8.2", "2.6", "-11.50", "70.8", "-1.2", "13.9", "7.10"]);
    for words in ["byte 0 of A0h is 11h", "flags a low warning", "latched", "power class 4"] {
        assert!(shown.contains(words), "{words:?} in\n{shown}");
    }
}

/// Notes 3.3: revisions before 08h leave byte 220 bits 5 and 4 zero and measure all the same.
#[test]
fn qsfp_plus_of_two_kinds() {
    let module = paged(
        "modules/kestrel-40g-lr4.bin",
        [42.25, 3.321],
        &[
            (-3.0, Some(-5.0), 40.0),
            (-2.5, Some(-5.5), 39.0),
            (-2.0, Some(-6.0), 42.0),
            (-3.5, Some(-4.5), 41.0),
        ],
    );
    identity(
        &module,
        &[
            ("form_factor", "QSFP+"),
            ("connector", "LC"),
            ("carries", "single-mode-fibre"),
            ("technology", "1310 nm DFB laser"),
            ("power_class", "power class 3 (up to 2.5 W)"),
            ("standard_revision", "SFF-8636 Rev 1.5 (from memory)"),
        ],
    );
    assert_eq!(module["top_speed_mbps"], 40_000);
    assert_eq!(module["nominal_megabaud"], 10_300);
    near(&module["wavelength_nm"], 1301.0, 1e-9);
    near(&module["reaches"][0]["metres"], 10_000.0, 0.0);
    limits(&module, "rx_power_milliwatts", [2.138, 0.0214, 1.6982, 0.0427]);
    limits(&module, "bias_milliamps", [90.0, 10.0, 85.0, 15.0]);
    // Own warnings: 0.0427 mW = -13.696 dBm and 1.6982 mW = +2.300 dBm; clause 87: -13.7, +2.3.
    rx_margins(&module, 3, [7.696, 8.3], [7.7, 8.3]);

    // Flat memory (byte 2 bit 2): no page 03h. Byte 220 bit 2 is 0: transmit power is not there.
    let name = "modules/northlight-40g-sr4-flat.bin";
    let flat = decoded(name);
    near(&flat["temperature_celsius"], 30.0, 1e-9);
    for (lane, dbm) in [(0, -3.0), (1, -2.5), (2, -3.5), (3, -4.0)] {
        let lane = &flat["lanes"][lane];
        near(&lane["rx_power_dbm"], dbm, 0.0015);
        near(&lane["bias_milliamps"], 6.0, 1e-9);
        assert_eq!(lane["tx_power_milliwatts"]["missing"]["reason"], "not-implemented");
        assert_eq!(lane["rx_margins"]["own_warning"], Value::Null);
    }
    assert_eq!(flat["limits"]["rx_power_milliwatts"]["missing"]["reason"], "not-implemented");
    assert_eq!(flat["serial_number"]["missing"]["reason"], "not-reported");
    // IEEE 802.3 clause 86 as in the media notes, from memory: -9.5 and +2.4 dBm.
    near(&flat["lanes"][0]["rx_margins"]["published"]["low_db"], 6.5, 0.0015);
    near(&flat["lanes"][0]["rx_margins"]["published"]["high_db"], 5.4, 0.0015);
    let shown = shown(name);
    lane_row(&shown, 1, ["none", "-", "-", "-", "-3.00", "501.2", "6.5", "5.4", "6.00"]);
    assert!(shown.contains("lanes 1 to 4: not implemented"), "{shown}");
    assert!(shown.contains("to the published limits, as the module has none"), "{shown}");
}

/// Copper of both families (SFF-8636 byte 192 = 0Bh; CMIS byte 85 = 3): no light, no diagnostics.
#[test]
fn copper_cables_of_the_paged_families() {
    let four = decoded("modules/gannet-100g-cable.bin");
    assert_eq!(four["carries"], "passive-copper");
    assert_eq!(four["interface_types"][0]["name"], "100GBASE-CR4");
    assert_eq!(four["fec"], "RS-FEC");
    near(&four["cable_length_m"], 3.0, 0.0);
    assert_eq!(four["technology"], "copper cable, not equalized");
    assert_eq!(four["wavelength_nm"]["missing"]["reason"], "not-applicable");

    // Page 00h byte 202 = 19h: 25 times 0.1 m. Applications at 86, 90 and 94.
    let flat = decoded("modules/gannet-200g-cable.bin");
    assert_eq!(flat["family"], "cmis");
    assert_eq!(flat["speeds_mbps"], serde_json::json!([100_000, 200_000]));
    near(&flat["cable_length_m"], 2.5, 1e-9);
    assert_eq!(flat["power_class"], "power class 1 (up to 1.50 W; from memory)");
    assert_eq!(flat["checksums"].as_array().unwrap().len(), 1, "flat memory has page 00h alone");
    assert!(shown("modules/gannet-200g-cable.bin").contains("cable length         2.5 m"));
    for module in [four, flat] {
        assert_eq!(module["diagnostics"], false);
        for lane in module["lanes"].as_array().unwrap() {
            assert_eq!(lane["rx_power_milliwatts"]["missing"]["reason"], "not-applicable");
        }
    }
}

/// CMIS, all from memory but identifier, revision and module state (notes 4): bias scale x2 of
/// page 01h byte 160, so 1750 is 1750 x 2 uA x 2 = 7.000 mA.
#[test]
fn eight_lanes_with_one_dark() {
    let name = "modules/kestrel-400g-sr8-dark-lane.bin";
    let module = paged(
        name,
        [48.25, 3.312],
        &[
            (-0.5, Some(-3.0), 7.0),
            (-0.2, Some(-3.5), 7.2),
            (0.0, Some(-4.0), 7.1),
            (-1.0, Some(-3.0), 6.9),
            (-0.5, Some(-2.5), 7.0),
            (0.2, None, 7.3),
            (-0.6, Some(-3.5), 6.8),
            (-0.4, Some(-4.5), 7.0),
        ],
    );
    identity(
        &module,
        &[
            ("family", "cmis"),
            ("form_factor", "QSFP-DD"),
            ("connector", "MPO 1x16"),
            ("vendor_name", "KESTREL FIBRE"),
            ("part_number", "KF-400SR8"),
            ("serial_number", "TWS-2001"),
            ("date_code", "2026-03-17"),
            ("standard_revision", "CMIS 5.0"),
            ("state", "ready"),
            ("power_class", "power class 6 (up to 12.00 W; from memory)"),
        ],
    );
    let types: Vec<&str> = module["interface_types"]
        .as_array()
        .unwrap()
        .iter()
        .map(|claimed| claimed["name"].as_str().unwrap())
        .collect();
    assert_eq!(types, ["400GBASE-SR8", "100GBASE-SR2"]);
    limits(&module, "bias_milliamps", [12.0, 3.0, 11.0, 4.0]);
    limits(&module, "rx_power_milliwatts", [3.1623, 0.0912, 2.5119, 0.1445]);
    // Own warnings -8.40 and +4.00 dBm; clause 138, from memory: -8.4 and +4.0 dBm.
    rx_margins(&module, 8, [3.9, 8.5], [3.9, 8.5]);
    assert_eq!(module["lanes"][5]["rx_margins"]["own_warning"], Value::Null);
    // Page 11h 147 and 148 bit 5; 150 and 152 bit 5: lane 6.
    only_lanes(&module, |lane| &lane["rx_los"], &[6]);
    only_lanes(&module, |lane| &lane["rx_loss_of_lock"], &[6]);
    only_lanes(&module, |lane| &lane["rx_power_flags"]["low_alarm"], &[6]);
    only_lanes(&module, |lane| &lane["rx_power_flags"]["low_warning"], &[6]);
    only_lanes(&module, |lane| &lane["rx_power_flags"]["high_alarm"], &[]);
    let shown = shown(name);
    assert!(shown.contains("no light     0.0     -     -   7.30"), "{shown}");
    assert!(shown.contains("receiver reports loss of signal"), "{shown}");
    lane_row(&shown, 8, ["-0.40", "912.0", "6.1", "4.4", "-4.50", "354.8", "3.9", "8.5", "7.00"]);
}

/// Eight host lanes on four media lanes (byte 88 = 84h, page 00h byte 210 = F0h), bias x4; and
/// two lanes in an SFP-DD, bias x1.
#[test]
fn fewer_media_lanes_than_the_map_holds() {
    let name = "modules/northlight-400g-dr4.bin";
    let module = paged(
        name,
        [55.5, 3.305],
        &[
            (1.0, Some(-1.0), 80.0),
            (0.5, Some(-1.5), 81.0),
            (0.0, Some(-2.0), 79.0),
            (0.8, Some(-0.5), 82.0),
        ],
    );
    identity(
        &module,
        &[("form_factor", "OSFP"), ("technology", "1310 nm EML"), ("carries", "single-mode-fibre")],
    );
    assert_eq!(module["interface_types"][0]["name"], "400GBASE-DR4");
    near(&module["wavelength_nm"], 1311.0, 1e-9);
    near(&module["reaches"][0]["metres"], 500.0, 1e-9);
    assert_eq!(module["lanes"].as_array().unwrap().len(), 8);
    limits(&module, "bias_milliamps", [120.0, 20.0, 110.0, 30.0]);
    // Own warnings 0.2570 mW = -5.901 dBm, 2.5119 mW = +4.000 dBm; clause 124: -5.9, +4.0.
    rx_margins(&module, 3, [3.901, 6.0], [3.9, 6.0]);
    assert!(shown(name).contains("     8    not in use"));

    let two = paged(
        "modules/northlight-100g-sr2.bin",
        [33.0, 3.295],
        &[(-0.5, Some(-3.0), 7.0), (-0.2, Some(-3.5), 7.2)],
    );
    assert_eq!(two["form_factor"], "SFP-DD with CMIS");
    assert_eq!(two["top_speed_mbps"], 100_000);
}

/// Page 01h byte 142 bits 1-0 = 1: banks 0 and 1; lanes 9-16 behind page 11h of bank 0.
#[test]
fn sixteen_lanes_in_two_banks() {
    let module = decoded("modules/kestrel-two-banks.bin");
    let lanes = module["lanes"].as_array().unwrap();
    assert_eq!(lanes.len(), 16);
    for (at, lane) in lanes.iter().enumerate() {
        assert_eq!(lane["lane"], at + 1);
        assert_eq!(lane["in_use"], true);
        let dbm = match at + 1 {
            1..=8 => -3.0,
            16 => -5.0,
            _ => -4.0,
        };
        near(&lane["rx_power_dbm"], dbm, 0.0015);
    }
    assert!(module["image"].as_str().unwrap().ends_with("pages 10h and 11h of bank 1"));
}

/// Page 01h byte 160 bit 2 is 0: what stands at page 11h 186-201 is no reading.
#[test]
fn a_monitor_that_is_not_advertised() {
    let name = "modules/kestrel-400g-sr8-no-receive-monitor.bin";
    let module = decoded(name);
    for lane in module["lanes"].as_array().unwrap() {
        assert_eq!(lane["rx_power_milliwatts"]["missing"]["reason"], "not-implemented");
        assert_eq!(lane["rx_power_dbm"], Value::Null);
        assert!(lane["tx_power_dbm"].is_number());
    }
    let shown = shown(name);
    lane_row(&shown, 2, ["-0.20", "955.0", "6.3", "4.2", "none", "-", "-", "-", "7.20"]);
    assert!(
        shown.contains("lanes 1 to 8: not implemented: Rx power: page 01h byte 160"),
        "{shown}"
    );
    // Missing is another thing than not implemented: the page ends in lane 3.
    let image = std::fs::read(common::fixtures().join("modules/kestrel-400g-sr8-dark-lane.bin"));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.bin");
    std::fs::write(&path, &image.unwrap()[..17 * 128 + 191]).unwrap();
    let cut = text(&run(&["decode", path.to_str().unwrap()]));
    lane_row(&cut, 2, ["-0.20", "955.0", "6.3", "4.2", "-3.50", "446.7", "4.9", "7.5", "7.20"]);
    lane_row(&cut, 3, ["0.00", "1000.0", "6.5", "4.0", "?", "-", "-", "-", "7.10"]);
    assert!(cut.contains("lanes 3 to 8: not known"), "{cut}");
}

/// Each contradiction is named; what is impossible is not used.
#[test]
fn a_module_that_lies() {
    let name = "bad/lying-100g-sr4.bin";
    let module = decoded(name);
    let doubts: Vec<&str> = module["doubts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|doubt| doubt["kind"].as_str().unwrap())
        .collect();
    for kind in [
        "thresholds-impossible",
        "checksum-wrong",
        "short-reach-type-with-long-wavelength",
        "nominal-rate-contradicts-type",
    ] {
        assert!(doubts.contains(&kind), "{kind} in {doubts:?}");
    }
    assert_eq!(module["limits"]["rx_power_milliwatts"]["missing"]["reason"], "malformed");
    assert_eq!(module["limits"]["bias_milliamps"]["missing"]["reason"], "malformed");
    assert_eq!(module["lanes"][0]["rx_margins"]["own_warning"], Value::Null);
    near(&module["lanes"][0]["rx_margins"]["published"]["low_db"], 7.3, 0.0015);
    assert!(shown(name).contains("WRONG: stored"));
}

/// Every upper page reads as page 00h: nothing of it is taken for a limit, a reading or a control.
#[test]
fn pages_that_are_all_alike() {
    for name in ["bad/pages-ignored-100g-sr4.bin", "bad/pages-ignored-400g-sr8.bin"] {
        let module = decoded(name);
        let alike = |doubt: &Value| doubt["kind"] == "pages-identical";
        assert!(module["doubts"].as_array().unwrap().iter().any(alike), "{name}");
        assert_eq!(module["limits"]["rx_power_milliwatts"]["missing"]["reason"], "malformed");
        for lane in module["lanes"].as_array().unwrap() {
            // Page 10h byte 130 would be the second letter of the maker's name.
            assert_ne!(lane["tx_disabled"], true, "{name}: {lane}");
        }
        assert!(shown(name).contains("ignores the page"), "{name}");
    }
}
