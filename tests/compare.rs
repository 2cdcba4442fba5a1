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
    let mut now = keel();
    for (pointer, value) in changes {
        *now.pointer_mut(pointer).unwrap_or_else(|| panic!("no {pointer}")) = value.clone();
    }
    against_keel(&now, format)
}

/// Compares keel with this.
fn against_keel(now: &Value, format: &str) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
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

/// A fall of 1.5 dB, which no limit minds, is named: 3715 is -4.30 dBm (10 log10 0.3715 = -4.3004).
#[test]
fn light_that_fell_a_little() {
    let output = compared(&[(MEMORY, diagnostics_with(104, 3715))], "text");
    assert_eq!(output.status.code(), Some(10));
    let wanted = "receive power: fell by 1.5 dB (-2.80 dBm then, -4.30 dBm now)";
    assert!(joined(&output).contains(wanted), "{}", text(&output));
}

/// The page without its line breaks.
fn joined(output: &std::process::Output) -> String {
    text(output).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What moves on a host that nobody touched: light by 0.3 dB either way (5623 is -2.50 dBm, 4898 is
/// -3.10 dBm), the module's temperature by 3 °C (2480h is 36.5 °C, 2780h 39.5 °C, 2180h 33.5 °C:
/// bytes 96-97 in 1/256 °C, SFF-8472 table 9-11), traffic by a night's frames.
#[test]
fn what_moves_by_itself_is_no_change() {
    for (light, temperature) in [(5623, 0x2780), (4898, 0x2180)] {
        let mut now = keel();
        let hex = diagnostics_with(104, light).as_str().unwrap().to_owned();
        let hex = format!("{}{temperature:04x}{}", &hex[..96 * 2], &hex[98 * 2..]);
        *now.pointer_mut(MEMORY).unwrap() = json!(hex);
        now["taken_at"] = json!("2026-11-26T08:00:00Z");
        for port in now["ports"].as_array_mut().unwrap() {
            for instant in port["instants"].as_array_mut().unwrap() {
                for key in ["received_frames", "sent_frames", "received_octets", "sent_octets"] {
                    let count = instant["counters"][key].as_u64().unwrap();
                    instant["counters"][key] = json!(count + 9_000_000_000);
                }
            }
        }
        let output = against_keel(&now, "text");
        assert_eq!(output.status.code(), Some(0), "{}", text(&output));
        let page = text(&output);
        assert!(page.starts_with("keel: nothing changed\n"), "{page}");
        assert!(page.ends_with("As it was: office0, shed0, lab0\n"), "{page}");
        let port = &json(&against_keel(&now, "json"))["ports"][0];
        assert_eq!((&port["changed"], &port["known_on_one_side"]), (&json!([]), &json!([])));
        assert!(port["same"].to_string().contains("\"receive power\""), "it was read: {port}");
    }
}

/// Firmware and driver by their versions: a change is named, of one that is not known nothing is
/// claimed, and a capture of before these facts were kept still loads.
#[test]
fn firmware_and_driver_that_changed() {
    let firmware = ("/ports/0/firmware", json!("22.41.2000"));
    assert_eq!(
        changed(std::slice::from_ref(&firmware)),
        [["firmware of the adapter", "22.36.1010", "22.41.2000", ""].map(String::from)]
    );
    let output = compared(&[firmware], "text");
    assert_eq!(output.status.code(), Some(10));
    let wanted = "changed firmware of the adapter: from 22.36.1010 to 22.41.2000";
    assert!(joined(&output).contains(wanted), "{}", text(&output));
    assert_eq!(
        changed(&[("/ports/0/driver_version", json!("4.2.1"))]),
        [["version of the driver", "that of the kernel", "4.2.1", ""].map(String::from)]
    );
    let old = |port: &mut Value| {
        let port = port.as_object_mut().unwrap();
        assert!(port.remove("firmware").is_some() && port.remove("driver_version").is_some());
    };
    let mut without = keel();
    without["ports"].as_array_mut().unwrap().iter_mut().for_each(old);
    without["version"] = json!({"major": 1, "minor": 0});
    let mut untold = keel();
    untold["ports"][0]["firmware"] = json!({"missing": {"reason": "not-reported"}});
    untold["ports"][0]["driver_version"] = json!({"missing": {"reason": "not-reported"}});
    for (other, why) in [(without, "it was not asked"), (untold, "does not know")] {
        let output = against_keel(&other, "json");
        assert_eq!(output.status.code(), Some(0));
        let port = &json(&output)["ports"][0];
        assert_eq!(port["changed"], json!([]));
        let one_sided = port["known_on_one_side"].as_array().unwrap();
        let names = ["firmware of the adapter: not known now", "version of the driver: not known"];
        assert_eq!(one_sided.len(), names.len(), "{one_sided:?}");
        for (told, name) in one_sided.iter().zip(names) {
            let told = told.as_str().unwrap();
            assert!(told.starts_with(name) && told.contains(why), "{told}");
        }
        let same = port["same"].to_string();
        assert!(!same.contains("firmware") && !same.contains("version"), "{same}");
    }
}

/// Where one capture does not tell its kernel, the same version of a driver is the same.
#[test]
fn a_kernel_that_is_not_known_changes_no_driver() {
    let mut now = keel();
    now["host"].as_object_mut().unwrap().remove("kernel").unwrap();
    let output = against_keel(&now, "json");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
    for port in json(&output)["ports"].as_array().unwrap() {
        assert_eq!(port["changed"], json!([]));
        assert!(port["same"].to_string().contains("version of the driver"), "{port}");
    }
}

/// A driver that is part of the kernel has its version: another kernel is told once, not of each
/// port, and it is a change.
#[test]
fn another_kernel() {
    let mut now = keel();
    now["host"]["kernel"] = json!("6.1.1");
    for port in now["ports"].as_array_mut().unwrap() {
        assert_eq!(port["driver_version"], "6.1.0");
        port["driver_version"] = json!("6.1.1");
    }
    let output = against_keel(&now, "text");
    assert_eq!(output.status.code(), Some(10));
    let page = joined(&output);
    assert!(page.starts_with("keel: the kernel changed, the ports did not "), "{page}");
    assert!(page.contains("kernel, and the drivers that are part of it: from 6.1.0 to 6.1.1"));
    assert!(page.ends_with("As it was: office0, shed0, lab0"), "{page}");
    let value = json(&against_keel(&now, "json"));
    assert_eq!((&value["kernel_then"], &value["kernel_now"]), (&json!("6.1.0"), &json!("6.1.1")));
}

/// The pair that shows what `compare` is for, by the command line: a module that was swapped, 1.5 dB
/// less light, other firmware (fixtures/README.md), and nothing else.
#[test]
fn the_pair_to_show() {
    let files = ["then", "hosts"].map(|folder| fixtures().join(folder).join("keel.json"));
    let files = files.each_ref().map(|path| path.to_str().unwrap());
    let output = run(&["compare", files[0], files[1]]);
    assert_eq!(output.status.code(), Some(10));
    let page = joined(&output);
    for wanted in [
        "keel: 3 ports changed",
        "module's serial number: from TWS-0007 to TWS-0001",
        "receive power: fell by 1.5 dB (-2.00 dBm then, -3.50 dBm now)",
        "firmware of the adapter: from 22.31.1014 to 22.36.1010",
    ] {
        assert!(page.contains(wanted), "{wanted}\n{}", text(&output));
    }
    // The swap, the light, and the firmware on each of the three ports.
    let lines = text(&output);
    assert_eq!(lines.lines().filter(|line| line.starts_with("  changed ")).count(), 5, "{lines}");
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
    // 3715 is -4.30 dBm: 1.5 dB less, which is said, but neither called a change nor the same.
    let changes = [swap.clone(), (MEMORY, diagnostics_with(104, 3715))];
    let port = &json(&compared(&changes, "json"))["ports"][0];
    assert_eq!(port["changed"].as_array().unwrap().len(), 1, "{port}");
    assert!(!port["same"].to_string().contains("receive power"), "{port}");
    let perhaps = "receive power: 1.5 dB less than then (-2.80 dBm then, -4.30 dBm now), but another \
                   module reads it, and two may differ by 6 dB";
    assert_eq!(port["undecided"], json!([perhaps]));
    assert!(joined(&compared(&changes, "text")).contains(perhaps));
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

/// One host name on two machines is asked about, without a word of ports that were lost.
#[test]
fn two_machines_of_one_name_are_asked_about() {
    let mut other = keel();
    for (place, port) in other["ports"].as_array_mut().unwrap().iter_mut().enumerate() {
        port["name"] = json!(format!("q{place}"));
        port["permanent_mac_address"] = json!(format!("02:00:00:00:77:0{place}"));
    }
    let page = joined(&against_keel(&other, "text"));
    assert!(page.starts_with("keel: two machines?"), "{page}");
    assert!(page.contains("Is this the same machine?"), "{page}");
    assert!(page.contains("now only: q0, q1, q2"), "{page}");
    assert!(!page.contains("not there") && !page.contains("was taken out"), "{page}");
    let value = json(&against_keel(&other, "json"));
    assert_eq!(value["looks_like_two_machines"], true);
    let value = json(&against_keel(&keel(), "json"));
    assert_eq!(value["looks_like_two_machines"], false);
}
