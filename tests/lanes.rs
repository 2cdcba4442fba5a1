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
    assert_eq!(found["causes"][0]["fault"], "lane-fault", "{found:#}");
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

/// A healthy port of the rack with other bytes in its module memory, at another speed if wanted:
/// (page, byte, value) with bytes below 128 in the lower half.
fn rack_port(name: &str, speed: Option<(u32, &str)>, bytes: &[(u8, usize, u8)]) -> Value {
    let rack = common::fixtures().join("rack/winch.json");
    let mut made: Value = serde_json::from_slice(&std::fs::read(rack).unwrap()).unwrap();
    let ports = made["ports"].as_array_mut().unwrap();
    ports.retain(|port| port["name"] == name);
    let port = &mut ports[0];
    if let Some((mbps, mode)) = speed {
        port["ethernet"]["speed_mbps"] = mbps.into();
        port["ethernet"]["supported_modes"] = json!([mode]);
        port["ethernet"]["advertised_modes"] = json!([mode]);
    }
    for (page, at, value) in bytes {
        let (page, offset) = if *at < 128 { (0, 0) } else { (*page, 128) };
        let blocks = port["module"]["memory"].as_array_mut().unwrap();
        let block = blocks
            .iter_mut()
            .find(|block| block["page"] == page && block["offset"] == offset)
            .unwrap();
        let mut hex = block["bytes"].as_str().unwrap().to_owned();
        let place = 2 * (at - usize::try_from(offset).unwrap());
        hex.replace_range(place..place + 2, &format!("{value:02x}"));
        block["bytes"] = hex.into();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("winch.json");
    std::fs::write(&path, made.to_string()).unwrap();
    let path = path.to_str().unwrap();
    json(&run(&["explain", name, "--from", path, "--format", "json"]))["ports"][0].clone()
}

/// SFF-8636 lower memory: receive power of lane 3 in bytes 38-39, transmit bias 46-47, transmit
/// power 54-55, transmitter disable byte 86 bits 3-0 (from memory).
const LANE_3_RECEIVES: [(u8, usize, u8); 2] = [(0, 38, 0), (0, 39, 0)];
const LANE_3_SENDS: [(u8, usize, u8); 2] = [(0, 54, 0), (0, 55, 0)];

/// One leg of a module that is broken out needs one lane, and nothing tells which: what other
/// lanes do is no fault of this link. At the module's full rate every lane is needed.
#[test]
fn a_link_is_not_judged_by_lanes_it_can_do_without() {
    let leg = Some((25_000, "25GBASE-SR"));
    let all_but_one = [(0, 86, 0x0e)];
    for bytes in [&LANE_3_RECEIVES[..], &LANE_3_SENDS, &[(0, 86, 0x04)], &all_but_one] {
        let found = rack_port("berth34", leg, bytes);
        assert!(found["causes"].as_array().unwrap().is_empty(), "{bytes:?}: {found:#}");
        assert_ne!(found["verdict"], "fault", "{bytes:?}: {found:#}");
        let whole = rack_port("berth34", None, bytes);
        assert_ne!(whole["verdict"], "healthy", "{bytes:?}: {whole:#}");
    }
    // Not even one lane is left.
    let off = rack_port("berth34", leg, &[(0, 86, 0x0f)]);
    assert_ne!(off["verdict"], "healthy", "{off:#}");
}

/// A link that is up needs every lane's transmitter; a control bit is no latched flag.
#[test]
fn what_a_link_that_is_up_cannot_have_is_not_healthy() {
    assert_eq!(rack_port("berth34", None, &[])["verdict"], "healthy");
    assert_eq!(rack_port("berth47", None, &[])["verdict"], "healthy");
    // CMIS page 11h bytes 128-131: state of the data paths, two lanes a byte, 1 is deactivated.
    let idle: Vec<_> = (128..132).map(|at| (0x11, at, 0x11)).collect();
    // CMIS page 10h byte 130: output of each lane switched off.
    for (name, bytes, word) in [
        ("berth34", LANE_3_SENDS.to_vec(), "0 mW transmitted"),
        ("berth34", vec![(0, 86, 0x0f)], "switched off"),
        ("berth47", idle, "no data path"),
        ("berth47", vec![(0x10, 130, 0xff)], "switched off"),
    ] {
        let found = rack_port(name, None, &bytes);
        assert_eq!(found["verdict"], "unknown", "{bytes:?}: {found:#}");
        assert!(found.to_string().contains(word), "{word}: {found:#}");
    }
}

/// Receive power limits of SFF-8636 page 03h bytes 176-183: high alarm, low alarm, high warning,
/// low warning (from memory). An alarm inside the warnings cannot be.
#[test]
fn an_alarm_inside_the_warnings_is_no_limit() {
    let found = rack_port("berth34", None, &[(3, 176, 0x00), (3, 177, 0x10)]);
    assert!(found["doubts"].to_string().contains("thresholds-impossible"), "{found:#}");
}
