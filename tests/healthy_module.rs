//! Modules that are odd, on links that run: none of it is a fault, and what cannot be read is
//! attention at most. And the other way round: what cannot be read excuses no broken link.
//!
//! Rules of the fault signature table, rows of section A and section G.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, run};
use serde_json::{Value, json};

/// The port of this capture with these changes, judged.
fn judged(capture: &str, changes: &[(&str, Value)]) -> Value {
    let bytes = std::fs::read(fixtures().join(capture)).unwrap();
    let mut made: Value = serde_json::from_slice(&bytes).unwrap();
    for (pointer, value) in changes {
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        made["ports"][0].pointer_mut(parent).unwrap()[key] = value.clone();
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    std::fs::write(&file, made.to_string()).unwrap();
    common::json(&run(&["survey", "--from", file.to_str().unwrap(), "--format", "json"]))["ports"]
        [0]
    .clone()
}

/// Laid over a capture of a link that is down: it runs at this speed and damages nothing.
fn runs(speed: u32) -> Vec<(&'static str, Value)> {
    let at = |milliseconds: u32| {
        json!({"at_milliseconds": milliseconds, "carrier": true, "carrier_down_count": 1,
            "counters": {"receive_check_sequence_errors": 0, "received_frames": 900 + milliseconds}})
    };
    vec![
        ("/carrier", json!(true)),
        ("/operational_state", json!("up")),
        ("/ethernet/speed_mbps", json!(speed)),
        ("/ethernet/duplex", json!("full")),
        ("/ethernet/link_detected", json!(true)),
        ("/ethernet/extended_state", json!({"missing": {"reason": "not-reported"}})),
        ("/instants", json!([at(0), at(1000)])),
    ]
}

/// A block of the capture's module memory with other bytes, as hex, at these places.
fn with_bytes(capture: &str, block: usize, bytes: &[(usize, &str)]) -> Value {
    let made: Value =
        serde_json::from_slice(&std::fs::read(fixtures().join(capture)).unwrap()).unwrap();
    let memory = &made["ports"][0]["module"]["memory"];
    let mut hex = memory[block]["bytes"].as_str().unwrap().to_owned();
    for (at, bytes) in bytes {
        hex.replace_range(2 * at..2 * at + bytes.len(), bytes);
    }
    json!(hex)
}

fn causes(port: &Value) -> Vec<&str> {
    port["causes"].as_array().unwrap().iter().map(|c| c["fault"].as_str().unwrap()).collect()
}

/// A module whose base checksum is wrong, one of a class that byte 93 does not allow, and a log line
/// of a driver that grumbles: each runs clean, so each is well. What a module cannot be is told on
/// any link: `holdback_lanes.rs`.
#[test]
fn what_runs_without_damage_runs() {
    let class_6 = "faults/power-budget-exceeded/present-1.json";
    // Bias of its four lanes (bytes 42-49) and sent power (50-57) as a driven laser has them.
    let driven = with_bytes(class_6, 0, &[(42, "0dac0dac0dac0dac2710271027102710")]);
    let grumbling = json!([{"text": "fibre0: unsupported SFP module type was detected"}]);
    for (capture, speed, more) in [
        ("limits/checksum-wrong.json", 10_000, vec![]),
        (class_6, 100_000, vec![("/module/memory/0/bytes", driven)]),
        (
            "faults/module-rejected-by-driver/unknown-1.json",
            10_000,
            vec![("/kernel_log", grumbling)],
        ),
    ] {
        let port = judged(capture, &[runs(speed), more].concat());
        assert_eq!(port["verdict"], "healthy", "{capture}: {port:#}");
        assert_eq!(port["symptoms"], json!([]), "{capture}: {port:#}");
        assert!(causes(&port).is_empty(), "{capture}: {port:#}");
    }
}

/// No privilege, no way to read, nobody asked: not one of them is a word about the module.
#[test]
fn what_may_not_be_read_raises_nothing() {
    for reason in ["not-permitted", "not-supported", "not-asked", "older-kernel", "not-present"] {
        let why = json!({"missing": {"reason": reason}});
        let memory = ("/module/memory", why.clone());
        let up =
            judged("limits/weak-by-memory.json", &[runs(10_000), vec![memory.clone()]].concat());
        assert_eq!(up["symptoms"], json!([]), "{reason}: {up:#}");
        assert!(causes(&up).is_empty(), "{reason}: {up:#}");
        let down = judged("faults/module-unreadable/absent-1.json", &[memory]);
        assert_eq!(down["symptoms"], json!(["down"]), "{reason}: {down:#}");
        let alone: Vec<&str> =
            causes(&down).into_iter().filter(|cause| *cause != "no-cable").collect();
        assert!(alone.is_empty(), "{reason}: {down:#}");
        // Readings alone.
        let port =
            judged("faults/module-unreadable/present-1.json", &[("/module/memory/1/bytes", why)]);
        assert_eq!(port["symptoms"], json!([]), "{reason}: {port:#}");
    }
}

/// A bus that fails on a link that runs is attention, whatever of it fails; a time-out, which a busy
/// host may make, says no more than possible where nothing at all came.
#[test]
fn a_bus_that_fails_is_attention_at_most() {
    for (reason, pointer, certainty) in [
        ("bus-error", "/module/memory", "likely"),
        ("bus-error", "/module/memory/1/bytes", "likely"),
        ("timed-out", "/module/memory/1/bytes", "likely"),
        ("timed-out", "/module/memory", "possible"),
    ] {
        let change = (pointer, json!({"missing": {"reason": reason}}));
        let port = judged("faults/module-unreadable/present-1.json", &[change]);
        assert_eq!(port["verdict"], "attention", "{reason} {pointer}: {port:#}");
        assert_eq!(causes(&port), ["module-unreadable"], "{reason} {pointer}: {port:#}");
        assert_eq!(port["causes"][0]["certainty"], certainty, "{reason} {pointer}: {port:#}");
        assert!(!port["missing"].as_array().unwrap().is_empty(), "{port:#}");
    }
}

/// An empty cage of a driver that answers every read with a bus error: nobody misses a module there.
#[test]
fn a_cage_that_never_held_anything_is_idle() {
    let never =
        json!([{"carrier": false, "carrier_up_count": 0, "counters": {"received_frames": 0}}]);
    let port = judged("faults/module-unreadable/absent-1.json", &[("/instants", never)]);
    assert_eq!(port["verdict"], "idle", "{port:#}");
    assert!(causes(&port).is_empty(), "{port:#}");
}

/// Damaged frames are a fault, also where the module cannot be read; and that is no reason for them.
#[test]
fn an_unreadable_module_excuses_no_damage() {
    let port = judged("faults/rx-overload/unknown-1.json", &[]);
    assert_eq!(port["verdict"], "fault", "{port:#}");
    let headline = port["headline"].as_str().unwrap();
    assert!(
        headline.starts_with("The link is up but damages frames; what is known does not say why."),
        "{headline}"
    );
    let missing = port["missing"].to_string();
    assert!(missing.contains("receive light") && missing.contains("grade and length"), "{missing}");
}

/// An SFP has no low-power mode: one that sends nothing is dark for another reason.
#[test]
fn an_sfp_is_never_in_low_power() {
    for capture in
        ["faults/eeprom-checksum-corrupt/present-1.json", "faults/tx-disabled/present-1.json"]
    {
        let port = judged(capture, &[]);
        assert!(!causes(&port).contains(&"module-low-power"), "{capture}: {port:#}");
    }
}

/// Without the driver's word a power class that is not allowed is likely where no laser is driven,
/// and nothing where one is. An SFP of power level 2 (A0h byte 64 bit 1) that the host has not allowed
/// it (A2h byte 118 bit 0) is the same thing.
#[test]
fn a_power_class_alone_is_no_fault() {
    let capture = "faults/power-budget-exceeded/present-1.json";
    let silent = ("/ethernet/extended_state", json!({"missing": {"reason": "not-reported"}}));
    let port = judged(capture, std::slice::from_ref(&silent));
    assert_eq!(port["causes"][0]["fault"], "power-budget-exceeded", "{port:#}");
    assert_eq!(port["causes"][0]["certainty"], "likely", "{port:#}");
    // 3500 counts of 2 µA on each lane.
    let driven = with_bytes(capture, 0, &[(42, "0dac0dac0dac0dac")]);
    let port = judged(capture, &[silent, ("/module/memory/0/bytes", driven)]);
    assert!(causes(&port).is_empty(), "{port:#}");

    let capture = "faults/module-rejected-by-driver/absent-1.json";
    let level_2 = with_bytes(capture, 0, &[(64, "02")]);
    for (allowed, first) in [("00", "power-budget-exceeded"), ("01", "none")] {
        let dark = with_bytes(capture, 1, &[(110, "00"), (118, allowed)]);
        let changes =
            [("/module/memory/0/bytes", level_2.clone()), ("/module/memory/1/bytes", dark)];
        let port = judged(capture, &changes);
        let found = causes(&port).first().copied().unwrap_or("none");
        assert_eq!(found, first, "{allowed}: {port:#}");
    }
}

/// Where anything of the module answers its contacts meet, whichever stretch it is that fails.
#[test]
fn what_answers_in_part_is_seated() {
    let lost = json!({"missing": {"reason": "bus-error"}});
    let capture = "faults/module-partial-insertion/absent-1.json";
    let diagnostics = with_bytes("limits/weak-by-memory.json", 1, &[]);
    let changes =
        [("/module/memory/0/bytes", lost.clone()), ("/module/memory/1/bytes", diagnostics)];
    let port = judged(capture, &changes);
    assert_eq!(causes(&port), ["module-unreadable"], "{port:#}");
    // Every stretch fails: as good as no answer at all.
    let port = judged(capture, &[("/module/memory/0/bytes", lost)]);
    assert_eq!(port["causes"][0]["fault"], "module-partial-insertion", "{port:#}");
}
