//! Links that look as if their ends disagreed get the verdict they were made for.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use serde_json::Value;

fn ports(arguments: &[&str]) -> Vec<Value> {
    let mut all = vec!["survey", "--format", "json"];
    all.extend(arguments);
    json(&run(&all))["ports"].as_array().unwrap().clone()
}

#[test]
fn what_only_looks_like_it_is_not_raised() {
    let captures = common::files(&fixtures().join("agree"), ".json");
    assert!(captures.len() >= 7, "{captures:?}");
    for capture in captures {
        let made: Value = serde_json::from_slice(&std::fs::read(&capture).unwrap()).unwrap();
        for port in ports(&["--from", capture.to_str().unwrap()]) {
            let place = capture.display();
            assert_eq!(port["verdict"], made["made_to_show"]["verdict"], "{place}: {port:#}");
            if port["verdict"] == "healthy" {
                assert!(port["causes"].as_array().unwrap().is_empty(), "{place}: {port:#}");
            }
        }
    }
}

/// Siblings are told by the bus addresses of a capture's ports where no field tells them, also
/// where the ports come one at a time.
#[test]
fn legs_of_a_split_cage_are_known_by_their_bus_address() {
    let path = "fixtures/agree/legs-of-a-faster-cage.json";
    for port in ports(&["--from", path]) {
        assert_eq!(port["causes"][0]["fault"], "port-split-configured", "{port:#}");
        assert_eq!(port["causes"][0]["certainty"], "established", "{port:#}");
    }
    let lines = common::text(&run(&["survey", "--from", path, "--format", "ndjson"]));
    assert_eq!(lines.lines().count(), 4, "{lines}");
    for line in lines.lines() {
        let port: Value = serde_json::from_str(line).unwrap();
        let port = port.get("port").filter(|port| port.is_object()).unwrap_or(&port);
        assert_eq!(port["causes"][0]["fault"], "port-split-configured", "{line}");
    }
}

/// A link meant to run at its speed is well whatever the far port could do, and Category 5e that
/// carries 10 Gb/s without damage is not accused.
#[test]
fn a_site_file_does_not_make_a_fault_of_a_link_that_works() {
    let folder = tempfile::tempdir().unwrap();
    let site = folder.path().join("site.toml");
    std::fs::write(&site, "[[port]]\nname = \"loft0\"\nmedium = \"Cat5e\"\nlength_m = 12\n")
        .unwrap();
    let path = "fixtures/agree/ten-gigabit-on-old-cable.json";
    let found = ports(&["--from", path, "--site", site.to_str().unwrap()]);
    assert_eq!(found[0]["verdict"], "healthy", "{found:#?}");
    std::fs::write(&site, "[[port]]\nname = \"fibre0\"\nintended_mbps = 10000\n").unwrap();
    let forced = "fixtures/faults/peer-forced-speed/present-1";
    let found = ports(&[
        "--from",
        &format!("{forced}.json"),
        "--far",
        &format!("{forced}.far.json"),
        "--site",
        site.to_str().unwrap(),
    ]);
    assert_eq!(found[0]["verdict"], "healthy", "{found:#?}");
}

/// A far end that says there is no link keeps this end from being called healthy.
#[test]
fn a_link_that_one_end_denies_is_not_healthy() {
    let found = ports(&[
        "--from",
        "fixtures/agree/optic-that-says-it-negotiates.json",
        "--far",
        "fixtures/faults/peer-tx-off/present-1.json",
    ]);
    assert_eq!(found[0]["verdict"], "unknown", "{found:#?}");
}
