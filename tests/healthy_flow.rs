//! Links with pause frames, counters, lengths and energy saving that look like a fault and are
//! none; and how far a claim may go where evidence is thin.
//!
//! Pause arithmetic by hand: a pause frame stops a sender for at most 65535 quanta of 512 bit times
//! (IEEE 802.3 annex 31B; from memory), 3.36 ms at 10 Gb/s: 149 frames a second can take half of
//! the time.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use serde_json::{Value, json};

/// The only port of a capture of the fixtures.
fn port(name: &str) -> Value {
    let text = std::fs::read(fixtures().join("faults").join(name)).unwrap();
    let whole: Value = serde_json::from_slice(&text).unwrap();
    whole["ports"][0].clone()
}

fn whole(host: &str, port: &Value) -> String {
    json!({
        "format": "linkwright-capture", "version": {"major": 1}, "host": {"name": host},
        "ports": [port],
    })
    .to_string()
}

/// What is said of this port, with this far end if any.
fn explained(port: &Value, far: Option<&Value>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let (near_file, far_file) = (folder.path().join("near.json"), folder.path().join("far.json"));
    std::fs::write(&near_file, whole("keel", port)).unwrap();
    let mut arguments = vec!["survey", "--from", near_file.to_str().unwrap(), "--format", "json"];
    if let Some(far) = far {
        std::fs::write(&far_file, whole("ballast", far)).unwrap();
        arguments.extend(["--far", far_file.to_str().unwrap()]);
    }
    json(&run(&arguments))["ports"][0].clone()
}

/// Sets a counter at both instants.
fn count(port: &mut Value, group: &str, name: &str, values: [u64; 2]) {
    for (place, value) in values.into_iter().enumerate() {
        port["instants"][place][group][name] = json!(value);
    }
}

/// A 10G link that is well: about 4 % of the rate is used both ways, for one second.
fn good() -> Value {
    let mut good = port("ring-overrun/present-1.json");
    count(&mut good, "counters", "receive_missed", [118, 118]);
    good["ethernet"]["flow_control"] =
        json!({"negotiated": true, "receive": true, "transmit": true});
    good
}

fn certainty(found: &Value, fault: &str) -> Option<String> {
    let causes = found["causes"].as_array().unwrap();
    let cause = causes.iter().find(|cause| cause["fault"] == fault)?;
    Some(cause["certainty"].as_str().unwrap().to_owned())
}

fn is_healthy(port: &Value, far: Option<&Value>, what: &str) {
    let found = explained(port, far);
    assert_eq!(found["verdict"], "healthy", "{what}: {found:#}");
    assert_eq!(found["causes"], json!([]), "{what}: {found:#}");
}

#[test]
fn what_looks_like_a_fault_and_is_none() {
    is_healthy(&good(), None, "frames missed long ago, and a small ring");

    let mut few = good();
    count(&mut few, "pause_frames", "received", [7_000, 7_100]);
    count(&mut few, "pause_frames", "sent", [900, 1_000]);
    is_healthy(&few, None, "100 pause frames a second at 10G: a third of the time at most");

    let mut old = good();
    count(&mut old, "pause_frames", "received", [90_000_000, 90_000_000]);
    count(&mut old, "counters", "receive_length_errors", [5_000, 5_000]);
    is_healthy(&old, None, "totals that stand still are history");

    let mut flowing = good();
    count(&mut flowing, "pause_frames", "received", [0, 20_000]);
    count(&mut flowing, "counters", "sent_octets", [0, 750_000_000]);
    is_healthy(&flowing, None, "6 Gb/s are sent between short pauses");

    let mut deaf = good();
    count(&mut deaf, "pause_frames", "received", [0, 20_000]);
    deaf["ethernet"]["flow_control"]["receive"] = json!(false);
    is_healthy(&deaf, None, "a port that ignores pause frames is not stopped by them");

    let mut jumbo = good();
    for (place, value) in [10, 9_000].into_iter().enumerate() {
        jumbo["instants"][place]["statistics"]["rmon"]["etherStatsOversizePkts"] = json!(value);
    }
    is_healthy(&jumbo, None, "long frames that are taken");

    let (mut near, mut far) = (good(), good());
    near["mtu_octets"] = json!(1500);
    far["mtu_octets"] = json!(9216);
    is_healthy(&near, Some(&far), "a switch that takes whatever comes");

    let mut asleep = good();
    asleep["ethernet"]["energy_saving"] = json!({"enabled": true, "active": true});
    is_healthy(&asleep, None, "energy saving on a link that holds");
}

/// The far end takes shorter frames than this one may send, and nobody counts a loss.
#[test]
fn lengths_alone_are_no_more_than_possible() {
    let (near, mut far) = (good(), good());
    far["mtu_octets"] = json!(1500);
    let found = explained(&near, Some(&far));
    assert_eq!(certainty(&found, "mtu-blackhole").as_deref(), Some("possible"), "{found:#}");
    assert_eq!(found["verdict"], "attention", "{found:#}");
    // The far MAC counts frames that were too long for it (IEEE 802.3 30.3.1.1.25).
    for (place, value) in [7, 90].into_iter().enumerate() {
        far["instants"][place]["statistics"]["mac"]["FrameTooLongErrors"] = json!(value);
    }
    let found = explained(&near, Some(&far));
    assert_eq!(certainty(&found, "mtu-blackhole").as_deref(), Some("established"), "{found:#}");
    // The other way about: what arrives is too long for this end.
    let mut here = port("mtu-blackhole/unknown-1.json");
    here["mtu_octets"] = json!(1500);
    let found = explained(&here, Some(&good()));
    assert_eq!(certainty(&found, "mtu-blackhole").as_deref(), Some("established"), "{found:#}");
    assert!(found["headline"].as_str().unwrap().contains("lost here"), "{found:#}");
    // Frames with a wrong check sequence explain wrong lengths as well.
    let mut bad = port("mtu-blackhole/unknown-1.json");
    count(&mut bad, "counters", "receive_check_sequence_errors", [0, 300]);
    let found = explained(&bad, None);
    assert_eq!(certainty(&found, "mtu-blackhole"), None, "{found:#}");
}

/// Pauses on a port that still sends: whether they hold anything back is not known.
#[test]
fn pause_frames_weigh_by_what_is_still_sent() {
    let mut pausing = good();
    count(&mut pausing, "pause_frames", "received", [0, 400]);
    let found = explained(&pausing, None);
    assert_eq!(certainty(&found, "pause-storm").as_deref(), Some("possible"), "{found:#}");
    // As MAC control frames, where the driver counts those alone; and with nothing sent.
    let mut other = good();
    let sent = other["instants"][0]["counters"]["sent_octets"].as_u64().unwrap();
    count(&mut other, "counters", "sent_octets", [sent, sent]);
    for (place, value) in [0, 400].into_iter().enumerate() {
        other["instants"][place]["statistics"]["control"]["MACControlFramesReceived"] =
            json!(value);
    }
    let found = explained(&other, None);
    assert_eq!(certainty(&found, "pause-storm").as_deref(), Some("likely"), "{found:#}");
    // Where nobody counts them, missed frames are not laid at the far end's door.
    let mut missed = good();
    count(&mut missed, "counters", "receive_missed", [0, 900]);
    let found = explained(&missed, None);
    assert_eq!(found["causes"][0]["fault"], "ring-overrun", "{found:#}");
    assert_eq!(certainty(&found, "pause-storm"), None, "{found:#}");
    assert_eq!(certainty(&found, "mtu-blackhole"), None, "{found:#}");
}

#[test]
fn energy_saving_is_blamed_for_a_pattern_on_an_idle_link_only() {
    let flapping = port("eee-flap/present-1.json");
    let with = |losses: u64, share: u64| {
        let mut jack = flapping.clone();
        for (place, losses) in [3, 3 + losses].into_iter().enumerate() {
            jack["instants"][place]["carrier_down_count"] = json!(losses);
        }
        // Octets of one second at 1 Gb/s.
        count(&mut jack, "counters", "received_octets", [0, share * 1_250_000]);
        jack
    };
    let found = |jack: &Value| certainty(&explained(jack, None), "eee-flap");
    assert_eq!(found(&with(4, 0)).as_deref(), Some("likely"));
    assert_eq!(found(&with(1, 0)).as_deref(), Some("possible"), "once may be a plug");
    assert_eq!(found(&with(4, 30)), None, "under load");
    let mut off = with(4, 0);
    off["ethernet"]["energy_saving"] = json!({"enabled": true, "active": false});
    assert_eq!(found(&off), None, "the far end does not want it");
    // Down at the end: what was agreed on before is not known.
    off["carrier"] = json!(false);
    assert_eq!(found(&off).as_deref(), Some("possible"));
    let mut damaged = with(4, 0);
    count(&mut damaged, "counters", "receive_check_sequence_errors", [0, 300]);
    assert_eq!(found(&damaged), None, "a bad cable");
}
