//! Hostile input: no panic, no false *healthy*, clear errors, bounded memory.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::path::Path;

use common::{complaint, fixtures, run, text};
use linkwright::diagnose::{Knowledge, Verdict, diagnose};
use linkwright::observe::capture::parse;
use linkwright::render::{Style, explain, json, survey};
use linkwright::snapshot::Snapshot;
use proptest::prelude::*;

/// A bad capture: exit code 1, one line that says what is wrong and names the file.
fn refused(content: &[u8], words: &str) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bad.json");
    std::fs::write(&file, content).unwrap();
    let output = run(&["survey", "--from", file.to_str().unwrap()]);
    let complaint = complaint(&output);
    assert_eq!(output.status.code(), Some(1), "{complaint}");
    assert!(complaint.contains(words), "{complaint:?} does not say {words:?}");
    assert!(complaint.contains("bad.json"), "{complaint}");
    assert_eq!(complaint.lines().count(), 1, "{complaint}");
    assert!(output.stdout.is_empty());
}

#[test]
fn captures_that_are_none() {
    refused(b"", "EOF");
    refused(b"{", "EOF");
    refused(b"\xff\xfe{}", "UTF-8");
    refused(b"[]", "not a Linkwright capture");
    refused(b"{}", "format");
    refused(br#"{"format":"linkwright-capture"}"#, "version");
    refused(br#"{"format":"linkwright-capture","version":{"major":2}}"#, "2.0");
    refused(br#"{"format":"linkwright-capture","version":{"major":0}}"#, "version 0");
    let head = r#"{"format":"linkwright-capture","version":{"major":1},"ports":"#;
    refused(format!(r#"{head}[{{"name":"a"}},{{"name":"a"}}]}}"#).as_bytes(), "twice");
    refused(format!(r#"{head}[{{"name":""}}]}}"#).as_bytes(), "without a name");
    refused(format!(r#"{head}[{{}}]}}"#).as_bytes(), "name");
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    refused(format!(r#"{head}[{{"name":"a","carrier":{deep}}}]}}"#).as_bytes(), "recursion");
    let whole = std::fs::read(fixtures().join("hosts/keel.json")).unwrap();
    refused(&whole[..whole.len() / 2], "EOF");
}

#[test]
fn files_that_cannot_be_read() {
    let output = run(&["survey", "--from", "no-such-file.json"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(complaint(&output).contains("no-such-file.json"));
    let folder = tempfile::tempdir().unwrap();
    let output = run(&["survey", "--from", folder.path().to_str().unwrap()]);
    assert!(complaint(&output).contains("no capture"));
    let output = run(&["explain", "x", "--from", "fixtures/hosts/keel.json"]);
    assert!(complaint(&output).contains("office0"), "near names are offered");
}

/// Nothing that a module, kernel or capture says reaches the terminal raw.
#[test]
fn hostile_strings_stay_text() {
    let bad = fixtures().join("bad/hostile-maker-name.bin");
    for form in ["text", "json"] {
        let output = run(&["decode", bad.to_str().unwrap(), "--format", form]);
        assert!(output.status.success(), "{}", complaint(&output));
        let shown = text(&output);
        assert!(shown.chars().all(|c| c == '\n' || !c.is_control()), "{shown:?}");
        assert!(shown.contains("script"));
    }
    let evil = "eth\u{1b}[2J\u{202e}0\u{9b}m";
    let capture = serde_json::json!({
        "format": "linkwright-capture", "version": {"major": 1},
        "host": {"name": evil},
        "ports": [{"name": evil, "nature": "hardware", "admin_up": true, "carrier": true,
            "driver": evil, "kernel_log": [{"text": evil}]}]
    });
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evil.json");
    std::fs::write(&file, capture.to_string()).unwrap();
    for arguments in [vec!["survey"], vec!["explain", evil], vec!["survey", "--format", "json"]] {
        let mut all = arguments;
        all.extend(["--from", file.to_str().unwrap()]);
        let output = run(&all);
        let shown = text(&output) + &complaint(&output);
        assert!(
            shown.chars().all(|c| c == '\n' || !(c.is_control() || c == '\u{202e}')),
            "{shown:?}"
        );
    }
}

fn judge_all(snapshot: &Snapshot) -> Vec<Verdict> {
    let diagnosis = diagnose(snapshot, Knowledge::default()).unwrap();
    let again = diagnose(snapshot, Knowledge::default()).unwrap();
    let first = json::to_string(&json::document(&diagnosis), true).unwrap();
    assert_eq!(first, json::to_string(&json::document(&again), true).unwrap());
    let style = Style::default();
    let _ = survey::survey(&diagnosis, style);
    for (port, found) in snapshot.ports.iter().zip(&diagnosis.ports) {
        let shown = explain::explain(&snapshot.host.name, port, found, style);
        assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
    }
    diagnosis.ports.iter().map(|port| port.verdict).collect()
}

/// Deletes the n-th value of a JSON tree (objects' fields and array members, in order).
fn without(value: &serde_json::Value, nth: &mut usize) -> Option<serde_json::Value> {
    use serde_json::Value;
    match value {
        Value::Object(fields) => {
            let mut kept = serde_json::Map::new();
            for (name, field) in fields {
                if *nth == 0 {
                    *nth = usize::MAX;
                    continue;
                }
                *nth = nth.saturating_sub(1);
                kept.insert(name.clone(), without(field, nth).unwrap());
            }
            Some(Value::Object(kept))
        }
        Value::Array(items) => {
            Some(Value::Array(items.iter().map(|item| without(item, nth).unwrap()).collect()))
        }
        other => Some(other.clone()),
    }
}

/// Take any single fact out of a faulty demo capture: it never becomes healthy.
#[test]
fn a_fact_less_never_heals() {
    for (name, index) in [("ballast", 0), ("ballast", 1), ("keel", 2)] {
        let path = fixtures().join(format!("hosts/{name}.json"));
        let value: serde_json::Value =
            serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        let mut only = value.clone();
        only["ports"] = serde_json::json!([value["ports"][index]]);
        for nth in 0..400 {
            let mut counter = nth;
            let less = without(&only, &mut counter).unwrap();
            if counter != usize::MAX {
                break;
            }
            let Ok(snapshot) = parse(less.to_string().as_bytes(), Path::new("less")) else {
                continue;
            };
            // Without its counters over time a marginal link shows its low light still.
            for verdict in judge_all(&snapshot) {
                // A slot that nobody read is no longer a limit that anybody knows.
                if (name, index) != ("keel", 2) {
                    assert_ne!(verdict, Verdict::Healthy, "{name} {index}: fact {nth}");
                }
            }
        }
    }
}

/// A healthy optical link: take away what healthy rests on, and it is not called healthy.
#[test]
fn healthy_must_be_earned() {
    let path = fixtures().join("hosts/keel.json");
    let mut value: serde_json::Value =
        serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    value["ports"] = serde_json::json!([value["ports"][0]]);
    let verdict = |value: &serde_json::Value| {
        judge_all(&parse(value.to_string().as_bytes(), Path::new("x")).unwrap())[0]
    };
    assert_eq!(verdict(&value), Verdict::Healthy);
    for pointer in [
        "/ports/0/admin_up",
        "/ports/0/carrier",
        "/ports/0/ethernet/speed_mbps",
        "/ports/0/ethernet/supported_modes",
        "/ports/0/instants",
        "/ports/0/module/memory",
        "/ports/0/module/memory/1/bytes",
    ] {
        for missing in ["not-permitted", "bus-error", "gone", "timed-out"] {
            let mut less = value.clone();
            let what = serde_json::json!({"missing": {"reason": missing}});
            *less.pointer_mut(pointer).unwrap() =
                if pointer.ends_with("instants") { serde_json::json!([]) } else { what };
            assert_ne!(verdict(&less), Verdict::Healthy, "{pointer} {missing}");
        }
    }
}

/// What contradicts a healthy link keeps it from being called so.
#[test]
fn contradictions_are_not_healthy() {
    let path = fixtures().join("hosts/keel.json");
    let whole: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    for (pointer, value) in [
        ("/ports/0/instants/1/counters/receive_errors", serde_json::json!(9)),
        ("/ports/0/instants/1/counters/transmit_errors", serde_json::json!(9)),
        ("/ports/0/instants/1/carrier_down_count", serde_json::json!(401)),
        ("/ports/0/instants/0/counters/receive_check_sequence_errors", serde_json::json!(9)),
        ("/ports/0/ethernet/duplex", serde_json::json!("half")),
        ("/ports/0/ethernet/speed_mbps", serde_json::json!(4_294_967_295u32)),
        ("/ports/0/ethernet/speed_mbps", serde_json::json!(25_000)),
        ("/ports/0/operational_state", serde_json::json!("dormant")),
    ] {
        let mut odd = whole.clone();
        odd["ports"] = serde_json::json!([whole["ports"][0]]);
        *odd.pointer_mut(pointer).unwrap() = value;
        let snapshot = parse(odd.to_string().as_bytes(), Path::new("odd")).unwrap();
        assert_ne!(judge_all(&snapshot)[0], Verdict::Healthy, "{pointer}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Bytes of a real capture, overwritten at random: refused or read, never a panic.
    #[test]
    fn mutated_captures(
        changes in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..6)
    ) {
        let mut bytes = std::fs::read(fixtures().join("hosts/ballast.json")).unwrap();
        for (place, byte) in changes {
            let at = place.index(bytes.len());
            bytes[at] = byte;
        }
        if let Ok(snapshot) = parse(&bytes, Path::new("mutated")) {
            judge_all(&snapshot);
        }
    }

    /// Numbers of a real capture replaced by any other.
    #[test]
    fn any_numbers(number in any::<f64>(), whole in any::<i64>(), nth in 0usize..60) {
        let text = std::fs::read_to_string(fixtures().join("hosts/keel.json")).unwrap();
        let mut counter = 0;
        let replaced: String = text.lines().map(|line| {
            let digits = line.trim_end_matches(',').rsplit(' ').next().unwrap_or_default();
            if digits.parse::<f64>().is_ok() {
                counter += 1;
                if counter % 60 == nth {
                    let new = if nth % 2 == 0 && number.is_finite() {
                        serde_json::json!(number).to_string()
                    } else {
                        whole.to_string()
                    };
                    return line.replace(digits, &new) + "\n";
                }
            }
            line.to_owned() + "\n"
        }).collect();
        if let Ok(snapshot) = parse(replaced.as_bytes(), Path::new("numbers")) {
            judge_all(&snapshot);
        }
    }
}
