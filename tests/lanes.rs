//! One lane among several, in captures with the literal module images of the bench
//! (`vm/bench/images.rs`): what `explain` says of it. And a down link whose reason only the driver
//! knows.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;
#[path = "vm/bench/images.rs"]
#[allow(dead_code, reason = "the bench uses the rest")]
mod images;

use common::{json, run, text};
use images::{Image, cmis};
use serde_json::{Value, json};

/// A capture of one port that is down, with this module if any; its path.
fn capture(folder: &tempfile::TempDir, image: Option<&Image>, ethernet: &Value) -> String {
    let blocks = image.map(|image| {
        let blocks = image.0.iter().map(|((address, bank, page), bytes)| {
            let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
            json!({
                "two_wire_address": address, "bank": bank, "page": page,
                "offset": 256 - bytes.len(), "bytes": hex,
            })
        });
        blocks.collect::<Vec<_>>()
    });
    let whole = json!({
        "format": "linkwright-capture", "version": {"major": 1}, "host": {"name": "keel"},
        "ports": [{
            "name": "quay0", "nature": "hardware", "admin_up": true, "carrier": false,
            "ethernet": ethernet,
            // It was up before: somebody expects this link.
            "instants": [{"carrier_up_count": 1, "carrier_down_count": 1}],
            "module": blocks.map_or_else(|| json!({}), |blocks| json!({"memory": blocks})),
        }],
    });
    let path = folder.path().join("keel.json");
    std::fs::write(&path, whole.to_string()).unwrap();
    path.to_str().unwrap().to_owned()
}

fn explained(image: Option<&Image>, ethernet: &Value) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let path = capture(&folder, image, ethernet);
    json(&run(&["explain", "quay0", "--from", &path, "--format", "json"]))["ports"][0].clone()
}

/// CMIS page 11h bytes 186-201 are the receive powers of lanes 1 to 8, byte 147 loss of signal.
#[test]
fn one_dark_lane_is_not_a_dark_link() {
    let state = (0x50, 0, 0x11);
    let ethernet = json!({"supported_modes": ["400GBASE-SR8"]});
    let mut one = cmis(1);
    one.words(state, 194, &[0]).put(state, 147, &[0x10]);
    let found = explained(Some(&one), &ethernet);
    assert_eq!(found["causes"][0]["fault"], "excess-loss", "{found:#}");
    let causes = found["causes"].to_string();
    assert!(causes.contains("on lane 5"), "{causes}");
    assert!(!causes.contains("peer-tx-off"), "light arrives on seven lanes: {causes}");

    let mut all = cmis(1);
    all.words(state, 186, &[0; 8]).put(state, 147, &[0xff]);
    let found = explained(Some(&all), &ethernet);
    let causes = found["causes"].to_string();
    assert!(causes.contains("peer-tx-off"), "{causes}");
    assert!(!causes.contains("excess-loss"), "{causes}");
}

#[test]
fn a_reason_that_fits_no_fault_is_still_said() {
    let ethernet = json!({
        "connector": "twisted-pair",
        "extended_state": {"state": "autonegotiation", "substate": "no-partner-detected"},
    });
    let folder = tempfile::tempdir().unwrap();
    let path = capture(&folder, None, &ethernet);
    let shown = text(&run(&["explain", "quay0", "--from", &path]));
    assert!(
        shown.contains("The driver's reason: autonegotiation, no partner detected."),
        "{shown}"
    );
}
