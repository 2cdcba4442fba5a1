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

/// Very many ports, none of which has one of very many entries: what is said of it takes no time
/// that grows with the product of the three.
#[test]
fn many_ports_and_entries_take_no_more_than_moments() {
    const MANY: usize = 4000;
    let folder = tempfile::tempdir().unwrap();
    let (from, site) = (folder.path().join("many.json"), folder.path().join("site.toml"));
    let ports: Vec<String> = (0..MANY).map(|i| format!(r#"{{"name":"p{i}"}}"#)).collect();
    let head = r#"{"format":"linkwright-capture","version":{"major":1},"host":{"name":"keel"}"#;
    std::fs::write(&from, format!(r#"{head},"ports":[{}]}}"#, ports.join(","))).unwrap();
    let entries: String = (0..MANY).map(|i| format!("[[port]]\nname = 'z{i}'\n")).collect();
    std::fs::write(&site, entries).unwrap();
    let start = std::time::Instant::now();
    let [from, site] = [&from, &site].map(|path| path.to_str().unwrap());
    let said = complaint(&run(&["survey", "--from", from, "--site", site]));
    assert!(
        said.contains("no such port is here: z0, z1") && said.contains("and 3980 more"),
        "{said}"
    );
    assert!(start.elapsed().as_secs() < 30, "{:?}", start.elapsed());
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
            "driver": evil, "driver_version": evil, "firmware": evil, "kernel_log": [{"text": evil}],
            "neighbours": [{"chassis": {"kind": evil, "name": evil},
                "port": {"kind": evil, "name": evil}, "port_description": evil,
                "system_name": evil, "system_description": evil, "capabilities": [evil],
                "interface_type": evil}]}]
    });
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evil.json");
    std::fs::write(&file, capture.to_string()).unwrap();
    let mut now = capture;
    now["ports"][0]["firmware"] = serde_json::json!(format!("{evil}2"));
    let other = folder.path().join("now.json");
    std::fs::write(&other, now.to_string()).unwrap();
    let (file, other) = (file.to_str().unwrap(), other.to_str().unwrap());
    for all in [
        vec!["survey", "--from", file],
        vec!["explain", evil, "--from", file],
        vec!["survey", "--format", "json", "--from", file],
        vec!["compare", file, other],
        vec!["compare", "--format", "json", file, other],
    ] {
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
    let _ = survey::survey(&snapshot.host.name, &diagnosis, style);
    for (port, found) in snapshot.ports.iter().zip(&diagnosis.ports) {
        let shown = explain::explain(&snapshot.host.name, port, found, true, true, style);
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

/// The capture of keel with one port and these changes, judged: its verdict, and its whole screen.
fn changed(port: usize, changes: &[(&str, serde_json::Value)]) -> (Verdict, String) {
    let path = fixtures().join("hosts/keel.json");
    let mut odd: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    odd["ports"] = serde_json::json!([odd["ports"][port]]);
    for (pointer, value) in changes {
        let (parent, field) = pointer.rsplit_once('/').unwrap();
        let parent = odd.pointer_mut(&format!("/ports/0{parent}")).unwrap();
        match field.parse::<usize>() {
            Ok(place) => parent[place] = value.clone(),
            Err(_) => parent[field] = value.clone(),
        }
    }
    let snapshot = parse(odd.to_string().as_bytes(), Path::new("odd")).unwrap();
    let verdict = judge_all(&snapshot)[0];
    let diagnosis = diagnose(&snapshot, Knowledge::default()).unwrap();
    let style = Style { width: 4000, ..Style::default() };
    (verdict, explain::explain("keel", &snapshot.ports[0], &diagnosis.ports[0], true, true, style))
}

/// What the driver says against carrier is said, and the link is not judged.
#[test]
fn answers_against_carrier() {
    for (pointer, value, words) in [
        ("/ethernet/link_detected", serde_json::json!(false), "the driver detects no link"),
        ("/ethernet/connector", serde_json::json!("none"), "says that nothing is connected"),
        (
            "/ethernet/extended_state",
            serde_json::json!({"state": "no-cable"}),
            "a reason for a link that is down (no cable)",
        ),
    ] {
        let (verdict, shown) = changed(0, &[(pointer, value)]);
        assert_eq!(verdict, Verdict::Unknown, "{pointer}: {shown}");
        assert_eq!(shown.matches(words).count(), 2, "verdict and gap say it: {shown}");
        assert!(!shown.contains("says that it does not know: "), "{shown}");
    }
}

/// A link that is up needs light both ways and a current that makes it: A2h bytes 100-105 of
/// SFF-8472 (bias, transmitted and received power), all zero one after the other.
#[test]
fn readings_that_cannot_be_on_a_link_that_is_up() {
    let path = fixtures().join("hosts/keel.json");
    let whole: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let digits = whole["ports"][0]["module"]["memory"][1]["bytes"].as_str().unwrap();
    for (byte, words) in [
        (100, "the module reports 0 mA of laser bias while the link is up"),
        (102, "the module reports 0 mW transmitted while the link is up"),
        (104, "the module reports 0 mW received while the link is up"),
    ] {
        let mut zeroed = digits.to_owned();
        zeroed.replace_range(2 * byte..2 * byte + 4, "0000");
        let changes = [("/module/memory/1/bytes", zeroed.into())];
        let (verdict, shown) = changed(0, &changes);
        assert_eq!(verdict, Verdict::Unknown, "{byte}: {shown}");
        assert!(shown.contains(words), "{shown}");
        // Without a link the same readings are what is to be expected.
        let down = [changes[0].clone(), ("/carrier", false.into())];
        assert!(!changed(0, &down).1.contains("while the link is up"));
    }
}

/// One instant gives no rate: the sentence says no more than that nothing was counted so far.
#[test]
fn one_instant_is_no_rate() {
    let (verdict, shown) = changed(0, &[]);
    assert_eq!(verdict, Verdict::Healthy);
    assert!(shown.contains("no damage is being counted."), "{shown}");
    let one = serde_json::json!([{
        "at_milliseconds": 0, "carrier": true,
        "counters": {"received_frames": 9_000_000, "receive_check_sequence_errors": 0}
    }]);
    let (verdict, shown) = changed(0, &[("/instants", one)]);
    assert_eq!(verdict, Verdict::Healthy);
    assert!(!shown.contains("no damage is being counted"), "{shown}");
    assert!(shown.contains("no damage has been counted so far"), "{shown}");
    assert_eq!(shown.matches("one instant gives no rate").count(), 2, "{shown}");
}

/// Damaged frames in ten seconds against the bit-error ratio of 10GBASE-SR, 1e-12 (IEEE 802.3
/// clause 52). One among eight million frames of 1500 octets (9.6e10 bits, 0.096 expected) has a
/// chance of 1 - e^-0.096 = 9.2 %; three have one of 0.014 %; one among 51200 such frames (6.1e8
/// bits) has one of 0.06 %. What has a chance under 5 % is not put down to luck.
#[test]
fn one_damaged_frame_is_not_three() {
    let judged_over = |milliseconds: u64, damaged: u64, frames: u64| {
        let at = |counter: &str| format!("/instants/1/counters/{counter}");
        let changes = [
            ("/instants/1/at_milliseconds".to_owned(), serde_json::json!(milliseconds)),
            (at("receive_check_sequence_errors"), serde_json::json!(damaged)),
            (at("receive_errors"), serde_json::json!(damaged)),
            (at("received_frames"), serde_json::json!(48_211_904 + frames)),
            (at("received_octets"), serde_json::json!(61_204_448_002 + frames * 1500)),
        ];
        let changes: Vec<(&str, serde_json::Value)> =
            changes.iter().map(|(pointer, value)| (pointer.as_str(), value.clone())).collect();
        changed(0, &changes)
    };
    let judged = |damaged, frames| judged_over(10_000, damaged, frames);
    let (verdict, shown) = judged(1, 8_000_000);
    assert_eq!(verdict, Verdict::Attention, "{shown}");
    assert!(shown.contains("1 damaged frame in 10.0 s"), "{shown}");
    assert!(shown.contains("--seconds 60"), "{shown}");
    assert!(shown.contains("1e-12"), "{shown}");
    for (damaged, frames) in [(3, 8_000_000), (1, 51_200)] {
        let (verdict, shown) = judged(damaged, frames);
        assert_eq!(verdict, Verdict::Fault, "{damaged} of {frames}: {shown}");
        assert!(shown.contains("The link is up but damages frames"), "{shown}");
    }
    // In one second 10 Gb/s carry 1e10 bits, whatever the counter says: 0.01 expected, 1 %.
    assert_eq!(judged_over(1000, 1, 8_000_000).0, Verdict::Fault);
    // Codewords beyond correction are never put down to luck, nor is what has no known traffic.
    let words = |total: u64| serde_json::json!({"uncorrectable_blocks": {"total": total}});
    let one = "/instants/1/counters/receive_check_sequence_errors";
    let (verdict, _) = changed(
        0,
        &[
            (one, 1.into()),
            ("/instants/1/at_milliseconds", 10_000.into()),
            ("/instants/1/counters/received_octets", (61_204_448_002u64 + 12_000_000_000).into()),
            ("/instants/0/fec_counters", words(0)),
            ("/instants/1/fec_counters", words(1)),
        ],
    );
    assert_eq!(verdict, Verdict::Fault);
    let unknown = serde_json::json!({"missing": {"reason": "not-supported"}});
    let octets = "/instants/1/counters/received_octets";
    let long = ("/instants/1/at_milliseconds", 10_000.into());
    assert_eq!(changed(0, &[(one, 1.into()), (octets, unknown), long]).0, Verdict::Fault);
}

/// A far end that offered only modes that this program has no name for did offer something.
#[test]
fn unknown_modes_are_not_no_modes() {
    let unknown = serde_json::json!(["mode bit 121", "mode bit 122"]);
    for port in [0, 1] {
        let (verdict, shown) = changed(port, &[("/ethernet/peer_modes", unknown.clone())]);
        assert!(shown.contains("it offered only modes that this program does not know"), "{shown}");
        assert!(!shown.contains("offered no modes"), "{shown}");
        assert!(!shown.contains("offers no modes"), "{shown}");
        assert!(!shown.contains("offers nothing faster: "), "{shown}");
        assert!(!shown.contains("0 Mb/s"), "{shown}");
        assert!(port == 0 || verdict == Verdict::Unknown, "{shown}");
    }
    let (_, shown) = changed(1, &[("/ethernet/peer_modes", serde_json::json!([]))]);
    assert!(shown.contains("it offered no modes"), "{shown}");
}

/// Frames that this host drops are told as that; those it drops for want of room need attention,
/// those it drops for other reasons decide no verdict.
#[test]
fn drops_in_the_host_are_a_note() {
    for counter in ["receive_missed", "receive_discards", "receive_overruns", "transmit_discards"] {
        let at = |instant: usize| format!("/instants/{instant}/counters/{counter}");
        let (before, after) = (at(0), at(1));
        let (verdict, shown) = changed(0, &[(&before, 5.into()), (&after, 17.into())]);
        let room = matches!(counter, "receive_missed" | "receive_overruns");
        let meant = if room { Verdict::Attention } else { Verdict::Healthy };
        assert_eq!(verdict, meant, "{counter}");
        let words = "frames were dropped in this host, not on the link: 12 ";
        assert!(shown.contains(words), "{counter}: {shown}");
        let (_, shown) = changed(0, &[(&before, 17.into()), (&after, 17.into())]);
        assert!(!shown.contains("dropped in this host"), "{counter}: {shown}");
    }
}

/// A name that is nearly right gets the right one offered; one that is not gets none.
#[test]
fn near_names() {
    for (wrong, meant) in [("shed1", "shed0"), ("offcie0", "office0"), ("keel/lab", "keel/lab0")] {
        let output = run(&["explain", wrong, "--from", "fixtures/hosts"]);
        let complaint = complaint(&output);
        assert_eq!(output.status.code(), Some(1));
        let bare = format!("/{meant}?");
        assert!(
            complaint.contains(&format!("Did you mean {meant}?")) || complaint.contains(&bare),
            "{complaint}"
        );
    }
    for wrong in ["x".to_owned(), "wlan0".to_owned(), "shed0".repeat(10_000)] {
        let output = run(&["explain", &wrong, "--from", "fixtures/hosts/keel.json"]);
        assert!(!complaint(&output).contains("Did you mean"), "{}", complaint(&output));
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

/// A number is written and read again as the same one
/// (found by fuzzing): otherwise a replay could differ from what it replays.
#[test]
fn numbers_survive_being_written_and_read() {
    let slot =
        br#"{"format": "linkwright-capture", "version": {"major": 1}, "host": {"name": "keel"},
        "ports": [{"name": "a", "slot": {"bus": "pci", "hops": [{"address": "0000:3b:00.0",
        "speed_gts": 8.888888888888888e60}]}}]}"#;
    let first = parse(slot, Path::new("first")).unwrap();
    let written = serde_json::to_string(&first).unwrap();
    assert!(written.contains("e60") || written.contains("88888"), "{written}");
    assert_eq!(parse(written.as_bytes(), Path::new("again")).unwrap(), first);
}
