//! Which way the light is lost: the far end's errors are of the way out, so a loss on the way in does
//! not explain them.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use serde_json::{Value, json};

/// The present case of a dirty connector (7.3 dB lost on the way in, 0.8 dB on the way out), with the
/// errors where they are told to be.
fn explained(near_errors: u64, far_errors: u64) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let read = |name: &str| -> Value {
        let path = fixtures().join("faults/dirty-connector").join(name);
        serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
    };
    let write = |name: &str, mut capture: Value, errors: u64| {
        for (instant, count) in [(0, 5), (1, 5 + errors)] {
            let place =
                format!("/ports/0/instants/{instant}/counters/receive_check_sequence_errors");
            match capture.pointer_mut(&place) {
                Some(counter) => *counter = json!(count),
                None => panic!("no {place} in {name}"),
            }
        }
        let path = folder.path().join(name);
        std::fs::write(&path, capture.to_string()).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let near = write("near.json", read("present-1.json"), near_errors);
    let far = write("far.json", read("present-1.far.json"), far_errors);
    let output = run(&["explain", "--from", &near, "--far", &far, "--format", "json"]);
    json(&output)["ports"][0].clone()
}

#[test]
fn the_lossy_way_is_blamed_for_its_own_damage_only() {
    let here = explained(240, 0);
    assert_eq!(here["causes"][0]["fault"], "dirty-connector", "{here:#}");
    let there = explained(0, 240);
    assert_eq!(there["verdict"], "fault");
    let headline = there["headline"].as_str().unwrap();
    assert!(headline.contains("far end"), "{headline}");
    let blamed = there["causes"]
        .as_array()
        .unwrap()
        .iter()
        .any(|cause| cause["fault"] == "dirty-connector" && cause["certainty"] != "possible");
    assert!(!blamed, "{there:#}");
}
