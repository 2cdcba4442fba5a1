//! This host's side of a link: what is healthy stays healthy, look-alikes are told apart, and what
//! stands on a link is folded under it. Captures are the demo's healthy ones, changed.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run, text};
use serde_json::{Value, json};

/// The capture of a fault's folder.
fn made(name: &str) -> Value {
    let path = fixtures().join("faults").join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// A healthy 10G link on fibre, in a slot of 8 lanes (from `hosts/keel.json`).
fn healthy() -> Value {
    let path = fixtures().join("hosts/keel.json");
    let mut whole: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let office = whole["ports"][0].clone();
    assert_eq!(office["name"], "office0");
    whole["ports"] = json!([office]);
    whole
}

fn show(capture: &Value, form: &str) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("keel.json");
    std::fs::write(&path, capture.to_string()).unwrap();
    run(&["survey", "--from", path.to_str().unwrap(), "--format", form])
}

fn judged(capture: &Value) -> Value {
    json(&show(capture, "json"))["ports"][0].clone()
}

fn causes(port: &Value) -> Vec<&str> {
    port["causes"].as_array().unwrap().iter().map(|c| c["fault"].as_str().unwrap()).collect()
}

/// What is below its best and above the need is enough; what one counter or sensor says alone is
/// not a loss; a module's heat is not the adapter's.
#[test]
fn tricky_and_healthy() {
    let sensor = |label: &str, value: f64| {
        json!([{"chip": "harbornic", "label": label, "quantity": "temperature", "unit": "celsius",
            "value": value, "limits": {"high_warning": 95.0, "high_alarm": 105.0}}])
    };
    type Change<'a> = (&'a str, Box<dyn Fn(&mut Value)>);
    let slot_width = |width: u32| -> Box<dyn Fn(&mut Value)> {
        Box::new(move |port| {
            for hop in port["slot"]["hops"].as_array_mut().unwrap() {
                hop["width_lanes"] = json!(width);
            }
        })
    };
    let changes: Vec<Change<'_>> = vec![
        ("four of eight lanes carry 28 Gb/s", slot_width(4)),
        ("ten gigabits behind a tunnel", Box::new(|port| port["slot"]["tunnelled"] = json!(true))),
        (
            "USB of 20 Gb/s",
            Box::new(|port| {
                port["slot"] =
                    json!({"bus": "usb", "hops": [{"address": "2-1", "speed_mbps": 20_000}]});
            }),
        ),
        (
            "counters that the driver does not keep read all ones, and frames are counted",
            Box::new(|port| {
                for instant in port["instants"].as_array_mut().unwrap() {
                    for name in ["receive_missed", "receive_overruns", "transmit_aborted"] {
                        instant["counters"][name] = json!(u64::MAX);
                    }
                }
            }),
        ),
        (
            "one counter that is full, and no traffic",
            Box::new(|port| {
                for instant in port["instants"].as_array_mut().unwrap() {
                    let frames = instant["counters"].as_object_mut().unwrap();
                    for name in ["received_frames", "sent_frames"] {
                        frames.insert(name.into(), json!(7_000));
                    }
                    for name in ["received_octets", "sent_octets"] {
                        frames.insert(name.into(), json!(70_000));
                    }
                    frames.insert("receive_missed".into(), json!(u32::MAX));
                }
            }),
        ),
        ("a warm adapter", Box::new(move |port| port["sensors"] = sensor("die", 94.5))),
        (
            "a sensor without a limit",
            Box::new(|port| {
                port["sensors"] = json!([{"chip": "harbornic", "label": "die",
                "quantity": "temperature", "unit": "celsius", "value": 99.0}]);
            }),
        ),
        (
            "limits that nobody programmed",
            Box::new(|port| {
                port["sensors"] = json!([{"chip": "harbornic", "label": "die",
                "quantity": "temperature", "unit": "celsius", "value": 55.0,
                "limits": {"high_warning": 0.0, "high_alarm": 0.0}}]);
            }),
        ),
        (
            "the module's own sensor, passed on",
            Box::new(move |port| port["sensors"] = sensor("Module 0", 99.0)),
        ),
        (
            "a leg of a bond that is up",
            Box::new(|port| {
                port["controller"] =
                    json!({"index": 9, "name": "bond0", "kind": "bond", "carrier": true});
            }),
        ),
        (
            "a line about a loss that is over",
            Box::new(|port| {
                port["kernel_log"] =
                    json!([{"text": "harbornic office0: PCIe link lost, device now detached"}]);
            }),
        ),
    ];
    for (what, change) in changes {
        let mut capture = healthy();
        change(&mut capture["ports"][0]);
        let found = judged(&capture);
        assert_eq!(found["verdict"], "healthy", "{what}: {found:#}");
        assert!(causes(&found).is_empty(), "{what}: {found:#}");
    }
}

/// All ones count nothing, however they are read: as they stand, as growth, of 64 or of 32 bits,
/// with and without carrier. No fault of the link is raised beside.
#[test]
fn a_lost_adapter_is_no_storm_of_errors() {
    let ones = |capture: &mut Value, first: u64, last: u64| {
        for (place, value) in [first, last].into_iter().enumerate() {
            let counters = &mut capture["ports"][0]["instants"][place]["counters"];
            for count in counters.as_object_mut().unwrap().values_mut() {
                *count = json!(value);
            }
        }
    };
    let full = u64::from(u32::MAX);
    for (first, last) in
        [(u64::MAX, u64::MAX), (full, full), (12, u64::MAX), (40, 40 + full), (7, 7 + 3 * full)]
    {
        for carrier in [true, false] {
            let mut capture = healthy();
            ones(&mut capture, first, last);
            capture["ports"][0]["carrier"] = json!(carrier);
            let found = judged(&capture);
            assert_eq!(causes(&found), ["nic-device-lost"], "{first} {last}: {found:#}");
            assert_eq!(found["verdict"], "fault");
            assert_eq!(found["symptoms"], json!(["lost"]));
        }
    }
    let path = fixtures().join("faults/nic-device-lost/present-1.json");
    let shown = text(&run(&["explain", "fibre0", "--from", path.to_str().unwrap()]));
    assert!(shown.contains("they count nothing"), "{shown}");
    assert!(!shown.contains("18446744073"), "no such number is a count: {shown}");
    // One of them too many: they count.
    let mut capture = healthy();
    ones(&mut capture, 40, 40 + full - 1);
    assert!(!causes(&judged(&capture)).contains(&"nic-device-lost"));
}

/// What is no more than possible stands behind the bond, which is certain, and what is at least
/// likely before it. The bond may be told by its own entry in the capture.
#[test]
fn what_explains_a_leg_stands_before_its_bond() {
    let bond = json!({"name": "bond0", "index": 9, "nature": "virtual", "software_kind": "bond",
        "admin_up": true, "carrier": true, "operational_state": "up"});
    let mut dark = made("peer-tx-off/unknown-1.json");
    dark["ports"][0]["controller"] = json!({"index": 9});
    dark["ports"].as_array_mut().unwrap().push(bond.clone());
    let found = judged(&dark);
    let first = &found["causes"][0];
    assert_eq!(first["fault"], "bond-member-down", "{found:#}");
    assert_eq!(first["certainty"], "established");
    assert!(first.to_string().contains("bond0"), "{first:#}");
    assert_eq!(found["causes"][1]["fault"], "peer-tx-off", "{found:#}");
    assert_eq!(found["causes"][1]["certainty"], "possible");
    let mut known = made("tx-disabled/present-1.json");
    known["ports"][0]["controller"] = json!({"index": 9});
    known["ports"].as_array_mut().unwrap().push(bond.clone());
    let found = judged(&known);
    assert_eq!(found["causes"][0]["fault"], "tx-disabled", "{found:#}");
    assert!(causes(&found).contains(&"bond-member-down"), "{found:#}");

    // Alone, it says what is lost, and that it does not say why.
    let mut lone = made("bond-member-down/present-1.json");
    lone["ports"][0]["kernel_log"] = json!([]);
    for name in [json!({"index": 9}), json!({"name": "bond0"})] {
        lone["ports"][0]["controller"] = name;
        lone["ports"] = json!([lone["ports"][0], bond]);
        let found = judged(&lone);
        assert_eq!(causes(&found), ["bond-member-down"], "{found:#}");
        assert_eq!(found["causes"][0]["certainty"], "established");
        let headline = found["headline"].as_str().unwrap();
        assert!(headline.contains("bond0, which runs on"), "{headline}");
        assert!(headline.contains("does not say why"), "{headline}");
    }
    // Only the log tells that it is a bond: less sure, but named.
    let mut logged = made("bond-member-down/present-1.json");
    logged["ports"][0]["controller"] = json!({"index": 9, "name": "bond0"});
    let found = judged(&logged);
    assert_eq!(found["causes"][0]["fault"], "bond-member-down", "{found:#}");
    assert_eq!(found["causes"][0]["certainty"], "likely");
}

/// Both could be: a hot adapter and a broken pair stand side by side until it is cool.
#[test]
fn heat_stands_before_a_pair() {
    let mut hot = made("nic-thermal-throttle/present-1.json");
    hot["ports"][0]["kernel_log"] = json!([{"text":
        "fibre0: Downshift occurred from negotiated speed 10Gbps to actual speed 1Gbps, check cabling!"}]);
    let found = judged(&hot);
    assert_eq!(causes(&found), ["nic-thermal-throttle", "pair-fault-downshift"], "{found:#}");
    for cause in found["causes"].as_array().unwrap() {
        assert_ne!(cause["certainty"], "established", "{found:#}");
    }
}

/// A chip without a limit of its own is too hot where no chip is well; below that nothing is said.
#[test]
fn heat_without_a_limit() {
    for (value, found) in [(109.0, &[][..]), (125.0, &["nic-thermal-throttle"])] {
        let mut capture = healthy();
        capture["ports"][0]["sensors"] = json!([{"chip": "harbornic", "label": "die",
            "quantity": "temperature", "unit": "celsius", "value": value}]);
        let port = judged(&capture);
        assert_eq!(causes(&port), found, "{value}: {port:#}");
    }
}

/// Missing lanes on a slot that would be too narrow with all of them: both are told.
#[test]
fn narrow_and_missing_lanes() {
    let mut capture = made("pcie-width-downgraded/present-1.json");
    let hops = capture["ports"][0]["slot"]["hops"].as_array_mut().unwrap();
    for hop in hops {
        hop["speed_gts"] = json!(2.5);
    }
    // 2.5 GT/s x 4: 7.3 Gb/s, less than 10 Gb/s (worked example f5 of the media notes).
    capture["ports"][0]["slot"]["hops"][1]["best_width_lanes"] = json!(4);
    let found = judged(&capture);
    assert_eq!(causes(&found), ["pcie-width-downgraded", "pcie-bandwidth-limited"], "{found:#}");
}

/// Software interfaces that stand on a port are named under it in one line; a pair's ends are not,
/// nor is what stands on nothing that is there, or in a circle.
#[test]
fn what_stands_on_a_port_is_folded() {
    let mut capture = healthy();
    let soft = |name: &str, kind: &str, lower: Value| {
        json!({"name": name, "nature": "virtual", "software_kind": kind, "admin_up": true,
            "carrier": true, "lower": lower})
    };
    let ports = capture["ports"].as_array_mut().unwrap();
    for tag in 1..=8 {
        ports.push(soft(&format!("tide{tag}"), "vlan", json!({"name": "office0"})));
    }
    ports.push(soft("ebb0", "macvlan", json!({"name": "tide1"})));
    ports.push(soft("veth0", "veth", json!({"name": "office0"})));
    ports.push(soft("stray0", "vlan", json!({"name": "gone0"})));
    ports.push(soft("ring0", "vlan", json!({"name": "ring1"})));
    ports.push(soft("ring1", "vlan", json!({"name": "ring0"})));
    let shown = text(&show(&capture, "text"));
    let words = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    let folded = "+ 9 interfaces stand on it: tide1, tide2, tide3, tide4, tide5, tide6, and 3 more";
    assert!(words.contains(folded), "{shown}");
    let rows: Vec<&str> = shown.lines().filter_map(|line| line.split(' ').next()).collect();
    for (name, is_row) in [
        ("office0", true),
        ("tide1", false),
        ("tide8", false),
        ("ebb0", false),
        ("veth0", true),
        ("stray0", true),
        ("ring0", true),
        ("ring1", true),
    ] {
        assert_eq!(rows.contains(&name), is_row, "{name}: {shown}");
    }
    // Whoever reads by program gets every interface.
    assert_eq!(json(&show(&capture, "json"))["ports"].as_array().unwrap().len(), 14);
}
