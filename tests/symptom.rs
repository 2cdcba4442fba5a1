//! `explain --symptom`: what the user says narrows and reorders, and asks for one fact. A word is no
//! observation: it makes nothing more than possible, and a healthy link stays healthy.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{json, run};
use serde_json::Value;

fn explained(port: &str, capture: &str, symptom: &str) -> Value {
    let capture = format!("fixtures/{capture}");
    let output =
        run(&["explain", port, "--from", &capture, "--symptom", symptom, "--format", "json"]);
    json(&output)["ports"][0].clone()
}

#[test]
fn a_healthy_link_stays_healthy_and_one_fact_is_asked_for() {
    for symptom in ["slow", "drops", "flaps"] {
        let found = explained("office0", "hosts/keel.json", symptom);
        assert_eq!(found["verdict"], "healthy", "{symptom}");
        assert_eq!(found["told"]["seen"], false);
        assert!(!found["told"]["ask"]["fact"].as_str().unwrap().is_empty());
        for cause in found["causes"].as_array().unwrap() {
            assert_eq!(cause["certainty"], "possible", "{cause}");
        }
    }
}

/// A marginal fibre has low light and rising errors: asked why it is slow or why it loses frames,
/// the same cause leads; nothing else is made up.
#[test]
fn what_was_seen_leads() {
    for symptom in ["slow", "drops"] {
        let found = explained("pool0", "hosts/ballast.json", symptom);
        // Damage was seen, which loses frames and makes slow; that it is slow was not.
        assert_eq!(found["told"]["seen"], symptom == "drops", "{symptom}");
        assert_eq!(found["told"]["related"].to_string().contains("damaged"), symptom == "slow");
        assert_eq!(found["causes"][0]["fault"], "excess-loss", "{symptom}");
    }
}

/// A port that is switched off is no fault until somebody says that it should not be down.
#[test]
fn a_port_that_should_not_be_down() {
    let found = explained("spare0", "odd/switched-off-and-empty.json", "down");
    assert_eq!(
        (&found["verdict"], &found["causes"][0]["fault"]),
        (&"fault".into(), &"admin-down".into())
    );
}

/// Causes of what the user says come before heavier ones of something else: the slot of lab0 limits
/// it, which does not make a link come and go.
#[test]
fn other_causes_come_later() {
    let all = |symptom: &str| {
        let found = explained("lab0", "hosts/keel.json", symptom);
        let causes = found["causes"].as_array().unwrap().clone();
        causes.iter().map(|one| one["fault"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(all("slow")[0], "pcie-bandwidth-limited");
    let flaps = all("flaps");
    assert_eq!(flaps.last().map(String::as_str), Some("pcie-bandwidth-limited"), "{flaps:?}");
}

/// What is asked for bears on the causes that are raised for the word; where one of them is
/// established its next step asks what there is to ask.
#[test]
fn what_is_asked_for_bears_on_what_is_open() {
    let asked = |fault: &str, symptom: &str| {
        let found = explained("fibre0", &format!("faults/{fault}/present-1.json"), symptom);
        found["told"]["ask"]["fact"].as_str().map(str::to_owned)
    };
    // Established by the module's own memory.
    assert_eq!(asked("media-rate-limited", "slow"), None);
    // No light, and nobody told of the far end.
    assert_eq!(asked("peer-tx-off", "down").as_deref(), Some("whether the far end sends"));
    // Both ends offer more, so what the far port can do is known.
    let fact = asked("pair-fault-downshift", "slow");
    assert_ne!(fact.as_deref(), Some("best speed of the far port"));
}

/// A capture cannot be looked at again: what is advised is a new one, and seconds of it are refused.
#[test]
fn a_capture_is_not_looked_at_again() {
    let mut advised = 0;
    for path in common::files(&common::fixtures().join("faults"), "present-1.json") {
        let path = path.to_str().unwrap();
        for symptom in ["flaps", "slow"] {
            let page = common::text(&run(&["explain", "--from", path, "--symptom", symptom]));
            let words: Vec<&str> = page.split_whitespace().collect();
            let page = words.join(" ");
            advised += page.matches("a new capture on the host with --seconds").count();
            assert_eq!(
                page.matches("--seconds").count(),
                page.matches("a new capture on the host with --seconds").count(),
                "{path}: {page}"
            );
            assert!(!page.contains("run as root ("), "{path}: {page}");
            // These have no site file.
            assert!(!page.contains("the site file does not tell"), "{path}: {page}");
        }
    }
    assert!(advised > 0);
    let capture = "fixtures/hosts/keel.json";
    let refused = run(&["survey", "--from", capture, "--seconds", "5"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(common::complaint(&refused).contains("--seconds"));
    assert_ne!(run(&["survey", "--from", capture]).status.code(), Some(2));
}
