//! What the far end's own capture and the site file tell against a near end that counts nothing, and
//! what must stay healthy beside it. Ports are made from healthy ones of the fixtures by literal
//! bytes (SFF-8472 A2h 96-105), counters and readings; both ends are the same module. Its limits:
//! 70 °C, 12.6 mA, -8.0 dBm sent, -12.0 dBm received (low warnings).
//! Damage is counted by the receiver (IEEE 802.3 30.3.1.1.6): so it was made on the way there.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::path::Path;

use common::{json, run};
use serde_json::{Value, json};

const TEMPERATURE: usize = 96;
const BIAS: usize = 100;
const TX: usize = 102;
const RX: usize = 104;

/// A healthy 10GBASE-SR port of the rack, with these A2h words.
fn ten(changes: &[(usize, u16)]) -> Value {
    let bytes = std::fs::read(common::fixtures().join("rack/winch.json")).unwrap();
    let mut made: Value = serde_json::from_slice(&bytes).unwrap();
    made["ports"].as_array_mut().unwrap().retain(|port| port["name"] == "berth01");
    let blocks = made["ports"][0]["module"]["memory"].as_array_mut().unwrap();
    let of = |block: &&mut Value| block["two_wire_address"] == 81 && block["offset"] == 0;
    let block = blocks.iter_mut().find(of).unwrap();
    let mut hex = block["bytes"].as_str().unwrap().to_owned();
    for (at, word) in changes {
        hex.replace_range(2 * at..2 * at + 4, &format!("{word:04x}"));
    }
    block["bytes"] = hex.into();
    made
}

/// Adds damaged frames to the last instant.
fn damaged(mut capture: Value, by: u64) -> Value {
    let last = capture["ports"][0]["instants"].as_array_mut().unwrap().last_mut().unwrap();
    let count = &mut last["counters"]["receive_check_sequence_errors"];
    *count = (count.as_u64().unwrap() + by).into();
    capture
}

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

fn explained(near: &Value, far: Option<&Value>, site: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let from = write(folder.path(), "near.json", &near.to_string());
    let site = write(folder.path(), "site.toml", &format!("[[port]]\nname='berth01'\n{site}"));
    let mut arguments = vec!["explain", "berth01", "--from", &from, "--format", "json"];
    arguments.extend(["--site", &site]);
    let far = far.map(|far| write(folder.path(), "far.json", &far.to_string()));
    if let Some(far) = &far {
        arguments.extend(["--far", far, "--far-port", "berth01"]);
    }
    json(&run(&arguments))["ports"][0].clone()
}

fn first(found: &Value) -> (&str, &str) {
    let cause = &found["causes"][0];
    (cause["fault"].as_str().unwrap_or(""), cause["certainty"].as_str().unwrap_or(""))
}

fn headline(found: &Value) -> &str {
    found["headline"].as_str().unwrap()
}

#[test]
fn a_far_end_that_is_well_changes_nothing() {
    for site in ["", "medium='OM4'\nlength_m=30\n", "rx_power_before_dbm=-3.0\n"] {
        let found = explained(&ten(&[]), Some(&ten(&[])), site);
        assert_eq!(found["verdict"], "healthy", "{site}: {found:#}");
    }
    // 2 dB less than on an earlier day, and a cord that somebody moved for nothing.
    let found = explained(&ten(&[]), None, "changes_when_moved=false\n");
    assert_eq!(found["verdict"], "healthy", "{found:#}");
}

#[test]
fn damage_counted_at_the_far_end_is_made_on_the_way_out() {
    // Light there as it should be: no cause, but a fault, and where it is made.
    let found = explained(&ten(&[]), Some(&damaged(ten(&[]), 4000)), "");
    assert_eq!(found["verdict"], "fault", "{found:#}");
    assert_eq!(found["symptoms"], json!(["far-damage"]));
    assert!(headline(&found).contains("made on the way out, or in this transmitter"));
    assert!(!headline(&found).contains("no damage is being counted"));
    assert!(found["next_step"].to_string().contains("this end sends on"), "{found:#}");
    // -16.0 dBm there: the same table, with the ends exchanged.
    let found = explained(&ten(&[]), Some(&damaged(ten(&[(RX, 251)]), 4000)), "");
    assert_eq!(found["verdict"], "fault", "{found:#}");
    assert_eq!(first(&found).0, "excess-loss", "{found:#}");
    assert!(headline(&found).contains(": on the way out, as seen from the far end"));
    // +2.0 dBm there.
    let found = explained(&ten(&[]), Some(&damaged(ten(&[(RX, 15_849)]), 4000)), "");
    assert_eq!(first(&found).0, "rx-overload", "{found:#}");
    // One direction loses 7 dB more, within the limits.
    let far = damaged(ten(&[(RX, 900)]), 4000);
    let found = explained(&ten(&[]), Some(&far), "");
    assert_eq!((first(&found).0, &found["verdict"]), ("dirty-connector", &json!("fault")));
}

#[test]
fn too_little_light_at_the_far_end_is_told_without_damage() {
    let found = explained(&ten(&[]), Some(&ten(&[(RX, 251)])), "");
    assert_ne!(found["verdict"], "healthy", "{found:#}");
    assert_eq!(found["symptoms"], json!(["far-light"]));
    // The same by the site file; the published window of 10GBASE-SR begins at -9.9 dBm
    // (IEEE 802.3 table 52-9).
    let found = explained(&ten(&[]), None, "[port.far]\nrx_power_dbm=-16.0\n");
    assert_eq!(found["verdict"], "attention", "{found:#}");
    assert!(headline(&found).contains("does not arrive at the far end"), "{found:#}");
    let found = explained(&ten(&[]), None, "[port.far]\nrx_power_dbm=-5.0\n");
    assert_eq!(found["verdict"], "healthy", "{found:#}");
}

#[test]
fn a_far_module_outside_its_limits_is_named() {
    for (changes, fault) in [
        ([(TEMPERATURE, 88 << 8)], "module-overtemperature"),
        ([(BIAS, 8000)], "laser-ageing"),
        // -11.0 dBm sent.
        ([(TX, 794)], "weak-transmitter"),
    ] {
        let found = explained(&ten(&[]), Some(&ten(&changes)), "");
        assert_eq!(found["verdict"], "attention", "{found:#}");
        assert_eq!(first(&found).0, fault, "{found:#}");
        assert!(headline(&found).contains("t the far end"), "{}", headline(&found));
        assert_eq!(found["causes"][0]["part"], "far-module");
    }
}

#[test]
fn a_weak_far_transmitter_needs_no_limit_crossed_here() {
    // -11.0 dBm sent, -11.5 dBm received, the limit here is -12.0 dBm.
    let near = ten(&[(RX, 708)]);
    let found = explained(&damaged(near, 4000), Some(&ten(&[(TX, 794)])), "");
    assert_eq!(first(&found).0, "weak-transmitter", "{found:#}");
    assert!(matches!(first(&found).1, "likely" | "established"));
    assert!(headline(&found).contains(": the far module sends too little light"));
    // One that sends enough is not accused.
    let found = explained(&damaged(ten(&[(RX, 708)]), 4000), Some(&ten(&[])), "");
    assert_ne!(first(&found).0, "weak-transmitter", "{found:#}");
}

#[test]
fn what_the_site_file_says_of_the_light_is_heard() {
    let found = explained(&ten(&[]), None, "changes_when_moved=true\n");
    assert_eq!(first(&found), ("fibre-bend", "likely"), "{found:#}");
    assert_eq!(found["verdict"], "attention");
    assert!(headline(&found).contains("No limit is crossed yet"));
    // 8 dB less than it was (-9.0 dBm), inside all limits.
    let found = explained(&ten(&[(RX, 1259)]), None, "rx_power_before_dbm=-1.0\n");
    assert_eq!(first(&found).0, "dirty-connector", "{found:#}");
    assert_eq!(found["verdict"], "attention");
}

/// Receive power at each instant, dBm.
fn light(mut capture: Value, dbm: &[f64]) -> Value {
    let instants = capture["ports"][0]["instants"].as_array_mut().unwrap();
    assert!(instants.len() >= dbm.len());
    let from = instants.len() - dbm.len();
    for (instant, dbm) in instants[from..].iter_mut().zip(dbm) {
        instant["received_milliwatts"] = json!([10_f64.powf(dbm / 10.0)]);
    }
    capture
}

#[test]
fn light_that_jumps_needs_no_loss_of_carrier() {
    let found = explained(&light(ten(&[]), &[-3.0, -9.0]), None, "");
    assert_eq!(first(&found).0, "intermittent-contact", "{found:#}");
    assert_eq!(found["verdict"], "attention");
    let found = explained(&damaged(light(ten(&[]), &[-3.0, -9.0]), 4000), None, "");
    assert_eq!(first(&found), ("intermittent-contact", "likely"), "{found:#}");
    assert_eq!(found["verdict"], "fault");
    let steady = explained(&light(ten(&[]), &[-3.0, -3.6]), None, "");
    assert_eq!(steady["verdict"], "healthy", "{steady:#}");
}

#[test]
fn counters_that_went_back_leave_it_open() {
    let mut near = ten(&[]);
    let last = near["ports"][0]["instants"].as_array_mut().unwrap().last_mut().unwrap();
    for counter in last["counters"].as_object_mut().unwrap().values_mut() {
        *counter = 0.into();
    }
    let found = explained(&near, None, "");
    assert_eq!(found["verdict"], "unknown", "{found:#}");
    assert!(headline(&found).contains("counters went back"), "{}", headline(&found));
    assert!(!headline(&found).contains("no damage"));
}
