//! `compare`: what changed since it worked. The captures are a demo capture with one thing altered,
//! so that what must be said is known.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, fixtures, json, run, text};
use serde_json::{Value, json};

fn keel() -> Value {
    serde_json::from_slice(&std::fs::read(fixtures().join("hosts/keel.json")).unwrap()).unwrap()
}

/// Compares keel with keel after these changes, at JSON pointers.
fn compared(changes: &[(&str, Value)], format: &str) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let mut now = keel();
    for (pointer, value) in changes {
        *now.pointer_mut(pointer).unwrap_or_else(|| panic!("no {pointer}")) = value.clone();
    }
    let (before, after) = (fixtures().join("hosts/keel.json"), folder.path().join("now.json"));
    std::fs::write(&after, now.to_string()).unwrap();
    run(&["compare", before.to_str().unwrap(), after.to_str().unwrap(), "--format", format])
}

/// What changed on the first port: what, then, now, note.
fn changed(changes: &[(&str, Value)]) -> Vec<[String; 4]> {
    let value = json(&compared(changes, "json"));
    let port = &value["ports"][0];
    let all = port["changed"].as_array().unwrap().iter();
    all.map(|one| ["what", "then", "now", "note"].map(|key| one[key].as_str().unwrap().to_owned()))
        .collect()
}

/// The memory of the first port's module, A2h from byte 0, with two bytes of it set.
fn diagnostics_with(at: usize, word: u16) -> Value {
    let hex = keel()["ports"][0]["module"]["memory"][1]["bytes"].as_str().unwrap().to_owned();
    let word = format!("{word:04x}");
    Value::String(format!("{}{word}{}", &hex[..at * 2], &hex[at * 2 + 4..]))
}

const MEMORY: &str = "/ports/0/module/memory/1/bytes";

#[test]
fn nothing_changed() {
    let output = compared(&[], "text");
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output).starts_with("keel: nothing changed\n"), "{}", text(&output));
}

/// Receive power is bytes 104-105 of A2h in units of 0.1 µW (SFF-8472 table 9-11): 5248 is
/// -2.80 dBm (10 log10 0.5248 = -2.8001), 900 is -10.46 dBm (10 log10 0.09 = -10.4576): 7.66 dB less.
#[test]
fn light_that_fell() {
    let found = changed(&[(MEMORY, diagnostics_with(104, 900))]);
    assert_eq!(
        found,
        [["receive power", "-2.80 dBm", "-10.46 dBm", "fell by 7.7 dB"].map(String::from)]
    );
    let output = compared(&[(MEMORY, diagnostics_with(104, 900))], "text");
    assert_eq!(output.status.code(), Some(10));
    // 4800 is -3.19 dBm: 0.39 dB less is what one sensor may read without any change.
    assert_eq!(
        changed(&[(MEMORY, diagnostics_with(104, 4800))]),
        [[""; 4]; 0].map(|e| e.map(String::from))
    );
    let gone = changed(&[(MEMORY, diagnostics_with(104, 0))]);
    assert_eq!(gone[0][3], "the light is gone");
}

/// Another serial number is another module, and its readings are held to the accuracy of two.
/// The serial number is bytes 68-83 of A0h (SFF-8472 table 4-1); byte 95 is their checksum.
#[test]
fn a_module_that_was_swapped() {
    let hex = keel()["ports"][0]["module"]["memory"][0]["bytes"].as_str().unwrap().to_owned();
    let mut bytes: Vec<u8> = (0..hex.len() / 2)
        .map(|at| u8::from_str_radix(&hex[at * 2..at * 2 + 2], 16).unwrap())
        .collect();
    bytes[68..76].copy_from_slice(b"TWS-9999");
    bytes[95] = bytes[64..95].iter().fold(0, |sum: u8, byte| sum.wrapping_add(*byte));
    let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let swap = ("/ports/0/module/memory/0/bytes", Value::String(hex));
    let found = changed(std::slice::from_ref(&swap));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0][0].as_str(), found[0][2].as_str()),
        ("module's serial number", "TWS-9999")
    );
    // 3.4 dB between two modules is within what two may differ by; 7.7 dB is not.
    assert_eq!(changed(&[swap.clone(), (MEMORY, diagnostics_with(104, 2400))]).len(), 1);
    let found = changed(&[swap, (MEMORY, diagnostics_with(104, 900))]);
    assert_eq!(found[1][3], "fell by 7.7 dB, as two modules read it");
}

#[test]
fn errors_that_began_and_settings_that_changed() {
    let counter = "/ports/0/instants/1/counters/receive_check_sequence_errors";
    let found = changed(&[(counter, json!(240)), ("/ports/0/mtu_octets", json!(1280))]);
    let names: Vec<&str> = found.iter().map(|one| one[0].as_str()).collect();
    assert_eq!(names, ["largest payload (MTU)", "frames with a wrong check sequence"], "{found:?}");
    assert_eq!(found[1][3], "began");
}

/// What is not known now is neither the same nor changed.
#[test]
fn unknown_is_not_unchanged() {
    let missing = json!({"missing": {"reason": "not-permitted"}});
    let value = json(&compared(&[("/ports/0/mtu_octets", missing)], "json"));
    let port = &value["ports"][0];
    assert_eq!(port["changed"], json!([]));
    let text = port["known_on_one_side"][0].as_str().unwrap();
    assert!(text.starts_with("largest payload (MTU): not known now"), "{text}");
    assert!(!port["same"].to_string().contains("MTU"), "{port}");
}

#[test]
fn a_port_that_is_gone() {
    let ports = keel()["ports"].as_array().unwrap()[1..].to_vec();
    let output = compared(&[("/ports", Value::Array(ports))], "text");
    assert!(text(&output).contains("port: the adapter was taken out"), "{}", text(&output));
}

#[test]
fn two_hosts_are_refused() {
    let files = ["keel", "ballast"].map(|name| fixtures().join(format!("hosts/{name}.json")));
    let output = run(&["compare", files[0].to_str().unwrap(), files[1].to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(1));
    assert!(complaint(&output).contains("--far"), "{}", complaint(&output));
}
