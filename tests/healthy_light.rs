//! Transmitters, losses and lanes: what must stay healthy, and what each fact turns the verdict to.
//! Ports are made from healthy ones of the fixtures by literal bytes (SFF-8472 A2h 96-105;
//! SFF-8636 lower memory 34-57, 86), and the far end by its own capture.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::path::Path;

use common::{json, run};
use serde_json::{Value, json};

/// A capture of one healthy port: of the folder `odd`, or a berth of the rack.
fn healthy(name: &str) -> Value {
    let file = if name.starts_with("berth") { "rack/winch.json" } else { "hosts/keel.json" };
    let bytes = std::fs::read(common::fixtures().join(file)).unwrap();
    let mut made: Value = serde_json::from_slice(&bytes).unwrap();
    made["ports"].as_array_mut().unwrap().retain(|port| port["name"] == name);
    assert_eq!(made["ports"].as_array().unwrap().len(), 1, "{name}");
    made
}

/// Writes words into the block of this address that begins at byte 0.
fn words(capture: &mut Value, address: u64, at: usize, words: &[u16]) {
    let blocks = capture["ports"][0]["module"]["memory"].as_array_mut().unwrap();
    let block = blocks
        .iter_mut()
        .find(|block| block["two_wire_address"] == address && block["offset"] == 0)
        .unwrap();
    let mut hex = block["bytes"].as_str().unwrap().to_owned();
    for (place, word) in words.iter().enumerate() {
        let from = 2 * at + 4 * place;
        hex.replace_range(from..from + 4, &format!("{word:04x}"));
    }
    block["bytes"] = hex.into();
}

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

/// What `explain` says of it, beside the far end's capture and a site file.
fn explained(capture: &Value, far: Option<&Value>, site: Option<&str>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let from = write(folder.path(), "near.json", &capture.to_string());
    let name = capture["ports"][0]["name"].as_str().unwrap();
    let mut arguments = vec!["explain", name, "--from", &from, "--format", "json"];
    let far = far.map(|far| write(folder.path(), "far.json", &far.to_string()));
    if let Some(far) = &far {
        arguments.extend(["--far", far]);
    }
    let site = site.map(|site| write(folder.path(), "site.toml", site));
    if let Some(site) = &site {
        arguments.extend(["--site", site]);
    }
    json(&run(&arguments))["ports"][0].clone()
}

fn names(found: &Value) -> Vec<&str> {
    let causes = found["causes"].as_array().unwrap();
    causes.iter().map(|cause| cause["fault"].as_str().unwrap()).collect()
}

/// Received power of lanes 1-4, then bias, then sent power (0.1 uW, 2 uA, 0.1 uW).
const RECEIVED: usize = 34;
const SENT: usize = 50;

/// A module of the rack's first half: A2h words from byte 96.
const SUPPLY: usize = 98;
const BIAS: usize = 100;
const TX: usize = 102;
const RX: usize = 104;

fn ten(changes: &[(usize, u16)]) -> Value {
    let mut capture = healthy("berth01");
    for (at, word) in changes {
        words(&mut capture, 81, *at, &[*word]);
    }
    capture
}

/// Limits of the module: 3.00 V, 12.6 mA, -8.0 dBm sent, -12.0 dBm received.
#[test]
fn near_a_limit_is_inside_it() {
    for changes in [
        &[][..],
        &[(SUPPLY, 30_100)],
        &[(BIAS, 6200)],
        &[(BIAS, 2600)],
        // -7.9 dBm: under the type's -7.3 dBm, by less than a reading can be wrong.
        &[(TX, 1622)],
    ] {
        let found = explained(&ten(changes), None, None);
        assert_eq!(found["verdict"], "healthy", "{changes:?}: {found:#}");
        assert_eq!(found["symptoms"], json!([]), "{changes:?}");
    }
    for (change, fault) in [
        ((SUPPLY, 29_900), "module-vcc-low"),
        ((BIAS, 6400), "laser-ageing"),
        ((TX, 1500), "weak-transmitter"),
    ] {
        // Over the limit by less than the reading can be wrong: possible, no more.
        let found = explained(&ten(&[change]), None, None);
        assert_eq!(found["verdict"], "attention", "{fault}: {found:#}");
        assert_eq!(found["causes"][0]["fault"], fault, "{found:#}");
        assert_eq!(found["causes"][0]["certainty"], "possible", "{found:#}");
    }
}

/// One direction that loses more than the other is no fault while the link is inside its limits and
/// damages nothing. Light that fell since an earlier day, or that jumps, is no fault either while
/// nothing is lost by it, but it is not steady: that is told, and no limit is crossed yet.
#[test]
fn unequal_ways_alone_are_healthy() {
    let near = ten(&[(RX, 1122)]);
    let found = explained(&near, Some(&ten(&[(RX, 5012)])), None);
    assert_eq!(found["verdict"], "healthy", "{found:#}");
    let site = "[[port]]\nname = 'berth01'\nrx_power_before_dbm = -3.0\n";
    assert_eq!(explained(&near, None, Some(site))["verdict"], "attention");
    let mut jumps = ten(&[]);
    for (place, power) in [0.5, 0.1].into_iter().enumerate() {
        jumps["ports"][0]["instants"][place]["received_milliwatts"] = json!([power]);
    }
    assert_eq!(explained(&jumps, None, None)["verdict"], "attention");
}

fn hundred(received: [u16; 4]) -> Value {
    let mut capture = healthy("berth34");
    words(&mut capture, 80, RECEIVED, &received);
    capture
}

fn errors(capture: &mut Value) {
    let at = &mut capture["ports"][0]["instants"][1]["counters"];
    at["receive_check_sequence_errors"] = json!(4000);
}

/// 5 dB between the lanes, all inside the window; and errors then are no lane's.
#[test]
fn lanes_may_differ() {
    let mut capture = hundred([5012, 4467, 1585, 5248]);
    assert_eq!(explained(&capture, None, None)["verdict"], "healthy");
    errors(&mut capture);
    let found = explained(&capture, None, None);
    assert!(!names(&found).contains(&"lane-fault"), "{found:#}");
}

fn down(capture: &mut Value) {
    let port = &mut capture["ports"][0];
    port["carrier"] = json!(false);
    port["operational_state"] = json!("down");
    for instant in port["instants"].as_array_mut().unwrap() {
        instant["carrier"] = json!(false);
    }
}

/// Lane 3 is dark here. A far lane that is switched off explains it; one that sends leaves it to the
/// way; one that is dark without being switched off is the far laser. SFF-8636 byte 86 bits 3-0
/// switch transmitters off, byte 87 follows.
#[test]
fn the_far_end_counts_lane_by_lane() {
    let mut near = hundred([5012, 4467, 0, 5248]);
    down(&mut near);
    let far = hundred([5012, 4467, 4898, 5248]);
    let alone = explained(&near, None, None);
    assert_eq!(names(&alone), ["lane-fault"], "{alone:#}");
    assert_eq!(alone["causes"][0]["certainty"], "likely");
    let sends = explained(&near, Some(&far), None);
    assert_eq!(sends["causes"][0]["fault"], "lane-fault", "{sends:#}");
    assert_eq!(sends["causes"][0]["certainty"], "established");
    assert!(!names(&sends).contains(&"peer-tx-off"), "{sends:#}");
    let mut off = far.clone();
    words(&mut off, 80, 86, &[0x0400]);
    let off = explained(&near, Some(&off), None);
    assert_eq!(names(&off), ["peer-tx-off"], "{off:#}");
    let mut dead = far;
    words(&mut dead, 80, SENT, &[10_000, 8913, 0, 7943]);
    let dead = explained(&near, Some(&dead), None);
    assert_eq!(dead["causes"][0]["fault"], "lane-fault", "{dead:#}");
    assert!(!names(&dead).contains(&"peer-tx-off"), "{dead:#}");
}

/// The way of a lane is that lane's: the weakest far lane less the weakest near lane would hide it.
#[test]
fn loss_is_of_the_same_lane() {
    // Lane 2 gets -12.0 dBm of 0 dBm, and the far lane 4 sends -8.0 dBm, of which -8.5 dBm arrive.
    let mut near = hundred([5012, 631, 4898, 1413]);
    errors(&mut near);
    let mut far = hundred([5012, 4467, 4898, 5248]);
    words(&mut far, 80, SENT, &[10_000, 10_000, 9550, 1585]);
    let found = explained(&near, Some(&far), None).to_string();
    assert!(found.contains("12.0 dB"), "{found}");
}

/// With an earlier reading that was 9 dB better, dirt comes first; without it, loss without a cause.
#[test]
fn a_fall_since_an_earlier_day_points_to_dirt() {
    let mut near = ten(&[(RX, 355)]);
    errors(&mut near);
    let unknown = explained(&near, None, None);
    assert_eq!(unknown["causes"][0]["fault"], "excess-loss", "{unknown:#}");
    let site = "[[port]]\nname = 'berth01'\nrx_power_before_dbm = -5.0\n";
    let found = explained(&near, None, Some(site));
    assert_eq!(found["causes"][0]["fault"], "dirty-connector", "{found:#}");
    assert_eq!(found["causes"][0]["certainty"], "likely", "{found:#}");
    let site = "[[port]]\nname = 'berth01'\nchanges_when_moved = true\n";
    let found = explained(&near, None, Some(site));
    assert_eq!(found["causes"][0]["fault"], "fibre-bend", "{found:#}");
}

/// Too little arrives because too little is sent: -12 dBm of -11 dBm.
#[test]
fn a_weak_far_transmitter_is_not_loss() {
    let mut near = ten(&[(RX, 600)]);
    errors(&mut near);
    let found = explained(&near, Some(&ten(&[(TX, 794)])), None);
    assert_eq!(found["causes"][0]["fault"], "weak-transmitter", "{found:#}");
    assert!(found["causes"][0]["evidence"].to_string().contains("far transmitter"), "{found:#}");
}

/// Light that goes out wholly and comes back may be the far end switched off and on.
#[test]
fn a_far_end_that_restarts_is_no_loose_contact() {
    let mut flaps = ten(&[]);
    let instants = flaps["ports"][0]["instants"].as_array_mut().unwrap();
    instants[0]["received_milliwatts"] = json!([0.0]);
    instants[1]["received_milliwatts"] = json!([0.5]);
    instants[1]["carrier_down_count"] = json!(4);
    let found = explained(&flaps, None, None);
    assert_eq!(found["causes"][0]["certainty"], "possible", "{found:#}");
    assert_eq!(found["verdict"], "attention", "{found:#}");
}

/// A link that is up and damages nothing has no dark lane of its own.
#[test]
fn a_lane_that_nothing_uses_is_no_fault() {
    let found = explained(&hundred([5012, 0, 0, 0]), None, None);
    assert!(!names(&found).contains(&"lane-fault"), "{found:#}");
    assert_ne!(found["verdict"], "fault", "{found:#}");
}

/// SFF-8472 A2h byte 110 bit 2 on a link that is up and sends: attention, and possible, no more.
#[test]
fn a_fault_signal_that_the_host_passes_over() {
    let mut near = ten(&[]);
    words(&mut near, 81, 110, &[0x0400]);
    let found = explained(&near, None, None);
    assert_eq!(names(&found), ["tx-fault-signal-misuse"], "{found:#}");
    assert_eq!(found["causes"][0]["certainty"], "possible", "{found:#}");
    assert_eq!(found["verdict"], "attention", "{found:#}");
}

/// Damage that FEC counts on one lane of four (IEEE 802.3 30.5.1.1.18).
#[test]
fn fec_counts_one_lane_apart() {
    for (lanes, fault) in [([900, 2, 0, 1], true), ([220, 230, 210, 243], false)] {
        let mut capture = hundred([5012, 4467, 4898, 5248]);
        let at = |lanes: [u64; 4]| {
            let total: u64 = lanes.iter().sum();
            json!({"uncorrectable_blocks": {"total": total, "lanes": lanes}})
        };
        let instants = &mut capture["ports"][0]["instants"];
        instants[0]["fec_counters"] = at([0; 4]);
        instants[1]["fec_counters"] = at(lanes);
        let found = explained(&capture, None, None);
        assert_eq!(names(&found).contains(&"lane-fault"), fault, "{found:#}");
    }
}

/// Readings are good to ±3 dB (SFF-8472 Rev 9.3), and what is dark reads as -30 dBm or less: a reading
/// of 1.4 uW (-28.5 dBm) is neither known to be light nor known to be dark, unless a link stands on it.
#[test]
fn a_reading_near_the_dark_line_is_neither_light_nor_dark() {
    let told = |near: &Value, far: Option<&Value>| {
        let found = explained(near, far, None);
        let text = found.to_string();
        let light = text.contains("\"light arrives here")
            || text.contains("although light arrives")
            || text.contains("\"less light arrives than");
        (text.contains("no light arrives"), light, found)
    };
    let dark_or_faint = |tenths_of_microwatt: u16| {
        let mut near = ten(&[(RX, tenths_of_microwatt)]);
        down(&mut near);
        near
    };
    let (dark, light, found) = told(&dark_or_faint(10), None);
    assert!(dark && !light, "{found:#}");
    let (dark, light, _) = told(&dark_or_faint(20), None);
    assert!(!dark && light, "-27 dBm is light");
    for far in [None, Some(&ten(&[]))] {
        let (dark, light, found) = told(&dark_or_faint(14), far);
        assert!(!dark && !light, "{found:#}");
        assert_eq!(found["verdict"], "fault");
        for cause in found["causes"].as_array().unwrap() {
            assert_eq!(cause["certainty"], "possible", "{found:#}");
        }
        assert!(
            found["paths"]
                .as_array()
                .unwrap()
                .iter()
                .all(|path| { path["way"] == "out" || path["loss_db"].is_null() })
        );
        let text = found["missing"].to_string();
        assert!(text.contains("could not tell whether dark or very weak: -28.54 dBm"), "{found:#}");
        assert!(!text.contains("run as root"), "{found:#}");
    }
    // The far end reads so: nothing is claimed of what it hears.
    let (_, _, found) = told(&dark_or_faint(10), Some(&dark_or_faint(14)));
    for cause in found["causes"].as_array().unwrap() {
        assert_eq!(cause["certainty"], "possible", "{found:#}");
    }
    assert!(found["missing"].to_string().contains("very weak: -28.54 dBm"), "{found:#}");
    // What this end sends: neither off nor weak.
    let mut near = ten(&[(TX, 14)]);
    down(&mut near);
    let (_, _, found) = told(&near, None);
    assert!(!names(&found).contains(&"weak-transmitter"), "{found:#}");
    assert!(!found.to_string().contains("no light leaves"), "{found:#}");
    // A link that is up stands on light.
    let (dark, light, found) = told(&ten(&[(RX, 14)]), None);
    assert!(!dark && light, "{found:#}");
}

/// One lane of four near the dark line, on a link that is down: it is not claimed to be dark.
#[test]
fn a_lane_near_the_dark_line_is_not_claimed_to_be_dark() {
    for (tenths_of_microwatt, dark) in [(0, true), (14, false)] {
        let mut near = hundred([tenths_of_microwatt, 4000, 4000, 4000]);
        down(&mut near);
        let text = explained(&near, None, None).to_string();
        assert_eq!(text.contains("one lane is dark while"), dark, "{text}");
        assert_eq!(text.contains("one lane is dark or very weak while"), !dark, "{text}");
    }
}

/// SFF-8472 A2h byte 110 bit 6 says that the transmitter is switched off, bytes 102-103 that it sends:
/// one of the two is wrong, and the step must be one that finds out which.
#[test]
fn a_module_that_sends_though_it_is_off_is_told_to_contradict_itself() {
    let sends = |is_down: bool| {
        let mut near = ten(&[]);
        words(&mut near, 81, 110, &[0x4000]);
        if is_down {
            down(&mut near);
        }
        near
    };
    let found = explained(&sends(false), None, None);
    assert_eq!(found["doubts"][0]["kind"], "sends-though-switched-off", "{found:#}");
    assert_ne!(found["verdict"], "healthy");
    let step = found["next_step"].to_string();
    assert!(step.contains("whether its light arrives at the far end"), "{found:#}");
    // With the far end's word the step goes on.
    let heard = explained(&sends(false), Some(&ten(&[])), None);
    assert!(heard["next_step"].to_string().contains("so it sends"), "{heard:#}");
    let mut far = ten(&[(RX, 0)]);
    down(&mut far);
    let dark = explained(&sends(false), Some(&far), None);
    assert!(dark["next_step"]["cautions"].to_string().contains("laser"), "{dark:#}");
    assert!(dark["next_step"].to_string().contains("off and on"), "{dark:#}");
    // Without a link it may be what keeps the link down.
    let found = explained(&sends(true), None, None);
    assert_eq!(found["doubts"][0]["kind"], "sends-though-switched-off", "{found:#}");
    assert_eq!(names(&found), ["tx-disabled"], "{found:#}");
    assert_eq!(found["causes"][0]["certainty"], "possible", "{found:#}");
}
