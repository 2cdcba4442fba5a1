//! How good a link is, as a user sees it. Figures: worked examples of the media notes, sections 3 to
//! 6, whose ids name the ports of `fixtures/numbers/jetty.json`, or worked by hand here.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, json, run, text};
use serde_json::Value;

const JETTY: [&str; 4] =
    ["--from", "fixtures/numbers/jetty.json", "--site", "fixtures/numbers/jetty.site.toml"];

/// What `explain` prints of a port, each run of spaces made one.
fn shown(port: &str, more: &[&str]) -> String {
    let output = run(&[&["explain", port], &JETTY[..], more].concat());
    assert!(matches!(output.status.code(), Some(0 | 10 | 20 | 30)), "{}", complaint(&output));
    text(&output).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn says(port: &str, more: &[&str], words: &[&str]) {
    let shown = shown(port, more);
    for word in words {
        assert!(shown.contains(word), "{port} does not say {word:?}:\n{shown}");
    }
}

fn numbers(port: &str) -> Value {
    let output = run(&[&["explain", port, "--format", "json"], &JETTY[..]].concat());
    json(&output)["ports"][0]["numbers"].clone()
}

fn near(value: &Value, theirs: f64, relative: f64) {
    let ours = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((ours - theirs).abs() <= relative * theirs.abs(), "{ours} is not {theirs}");
}

/// c2, and 25G frames: 2.9957 over 500,000 frames of 1518 octets in 10 s is 4.93e-10.
#[test]
fn a_clean_25g_with_fec() {
    let found = numbers("c2");
    near(&found["correction"]["raw_ratio"], 5.0e-6, 1e-4);
    near(&found["correction"]["times_below_limit"], 10.0, 1e-3);
    near(&found["errors"]["ratio_below"], 2.9957 / (500_000.0 * 12_144.0), 1e-4);
    says(
        "c2",
        &[],
        &[
            "no damaged frame in 6.07e9 bits received in 10.0 s: bit-error ratio below 4.93e-10",
            "To show the 1e-12 its type is specified for takes",
            "RS(528,514): 1289063 bits corrected in 10.0 s",
            "raw bit-error ratio 5.00e-6, 10.0 times below the 5e-5 it is designed for",
            "real ones come in bursts and lose more",
            "No codeword was lost",
        ],
    );
}

/// c3, by lane.
#[test]
fn corrected_codewords_of_four_levels() {
    near(&numbers("c3")["correction"]["raw_ratio"], 9.429e-6, 1e-4);
    let words = ["RS(544,514): 58593750 codewords", "(by lane: 58000000, 593750)"];
    says("c3", &[], &words);
    says("c3", &[], &["larger where errors come in bursts", "25 times below the 2.4e-4"]);
}

/// By hand: 3e6 of 2.578e10 bits are 1.164e-4, 2.3 times the limit; 40 of 4,882,812.5 codewords
/// times 1 + 1538/640 (1518 octets and 20 around them) are 2.79e-5.
#[test]
fn frames_are_lost_with_codewords() {
    let words = [
        "2.3 times above the 5e-5",
        "Healthy links are ten times below it",
        "about 2.79e-5 of all",
    ];
    says("lost", &[], &words);
    says("lost", &[], &["40 codewords could not be corrected: frames are lost"]);
}

/// d5 and d6; of 240 damaged frames the bounds lie around 240 / 6.072e8 = 3.95e-7.
#[test]
fn damaged_frames() {
    near(&numbers("d5")["errors"]["ratio"], 1.235e-13, 1e-3);
    says("d5", &[], &["3 damaged frames", "That shows the 1e-12", "4 more were damaged before"]);
    says("d6", &[], &["35.5 damaged frames an hour are to be expected"]);
    says("damaged", &[], &["bit-error ratio 3.95e-7, above", "That is more than the 1e-12"]);
}

#[test]
fn an_idle_link_bounds_nothing() {
    let words = ["no frame was received", "says nothing of the bit-error ratio", "--seconds 60"];
    says("still", &[], &words);
    assert!(numbers("still")["errors"]["ratio_below"].is_null());
}

#[test]
fn only_links_that_run_have_numbers() {
    for port in ["down", "veth0"] {
        assert!(!shown(port, &[]).contains("How good it is"), "{port}");
        assert!(numbers(port)["missing"].is_object(), "{port}");
        let shown = shown(port, &["--measured", "9.4Gbit/s"]);
        assert!(shown.contains("nothing can be said of it, as no link runs here"), "{shown}");
    }
}

/// One instant gives no rate, but what the link carries is known all the same.
#[test]
fn one_instant() {
    let mut capture: Value =
        serde_json::from_slice(&std::fs::read("fixtures/numbers/jetty.json").unwrap()).unwrap();
    for port in capture["ports"].as_array_mut().unwrap() {
        port["instants"].as_array_mut().unwrap().truncate(1);
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("one.json");
    std::fs::write(&file, capture.to_string()).unwrap();
    let shown = text(&run(&["explain", "usual", "--from", file.to_str().unwrap()]));
    assert!(shown.contains("bit errors     not known from one look: --seconds 60"), "{shown}");
    assert!(shown.contains("9.41 Gb/s of data at most"), "{shown}");
}

/// The table of section 6: 9.4148 Gb/s; e2; 432 Mb/s are nine tenths of USB's 480.
#[test]
fn what_it_carries() {
    let words = ["9.41 Gb/s of data at most (TCP over IPv4 with timestamps, MTU 1500;"];
    says("usual", &[], &words);
    says("usual", &[], &["14.88 million frames of 64 octets a second", "The slot carries more"]);
    says("usb0", &[], &["The slot carries 432 Mb/s, which is less: that is the most"]);
    says("desk0", &[], &["half duplex, so that both directions share it"]);
    // e4: frames that fill 10G.
    near(&numbers("d6")["throughput"]["received"]["share"], 1.0, 1e-5);
}

#[test]
fn what_a_measured_rate_fits() {
    for (port, rate, words) in [
        ("usual", "9.4Gbit/s", "This is all the data that the link can carry"),
        ("usual", "9.4G", "9.40 Gb/s. This is all the data"),
        // A large B: 1.176e9 octets are 9.408e9 bits.
        ("usual", "1176MB/s", "9.41 Gb/s. This is all the data"),
        ("usual", "1.176 GB/s", "9.41 Gb/s. This is all the data"),
        // 941 Mb/s are 99.95 % of a 1G hop's ceiling (e5).
        ("usual", "941Mb/s", "This fits a hop at 1 Gb/s"),
        ("usual", "1176Mb/s", "eight times it fits the link"),
        ("usual", "9.6Gb/s", "more than packets of that size leave"),
        ("usual", "75.2Gb/s", "an eighth of it fits the link"),
        ("usual", "12Gb/s", "This cannot be data of one direction of this link"),
        ("usual", "3Gb/s", "31.9 % of what the link can carry"),
        ("usb0", "420Mbit/s", "This fits what the adapter's slot carries (432 Mb/s)"),
        ("desk0", "40Mbit/s", "collisions, as the link runs half duplex"),
        // MTU 9000 on this port, and 1500 somewhere on the way.
        ("d6", "9.41Gbit/s", "This fits packets of 1500 octets"),
        ("d6", "9.9Gbit/s", "This is all the data that the link can carry"),
    ] {
        says(port, &["--measured", rate], &[words]);
    }
}

#[test]
fn a_rate_that_is_none_is_taught() {
    for rate in ["9.4", "fast", "0Mb/s", "-1Gb/s", "9.4GB", "NaNG", ""] {
        let output =
            run(&[&["explain", "usual"], &JETTY[..], &[&format!("--measured={rate}")]].concat());
        assert_eq!(output.status.code(), Some(2), "{rate}");
        let complaint = complaint(&output);
        assert!(complaint.contains("9.4Gbit/s") && complaint.contains("117MB/s"), "{complaint}");
    }
    let output = run(&[&["explain", "usual", "usb0"], &JETTY[..], &["--measured", "9G"]].concat());
    assert_eq!(output.status.code(), Some(1));
    assert!(complaint(&output).contains("name one port"), "{}", complaint(&output));
}

/// b1 and b7: 6.3 dB lost where the run loses 2.16 dB at most is within two readings' error, by hand
/// 6.3 - 4.243 - 2.16 < 0; at 10.3 dB 3.90 dB are left, 3.90 / 0.75 = 5.2 pairs. Where nobody tells
/// what is sent: -7.3 - 2.16 to -1.0 - 0.506 dBm.
#[test]
fn the_light_of_a_run() {
    says("b7", &[], &["Way in: 6.3 dB lost (2.1 dB to 10.5 dB), which the run may lose"]);
    says("b7", &[], &["220 m of OM3 with 2 connector pairs usually lose 1.5 dB, 2.2 dB at most"]);
    says("b7-worse", &[], &["Beyond all of that, 3.9 dB are left", "6 more connector pairs"]);
    says("b1", &[], &["-8.40 dBm received, as expected: -9.46 dBm to -1.51 dBm"]);
    let bare = text(&run(&["explain", "b1", JETTY[0], JETTY[1]]));
    assert!(!bare.contains("  light "), "nobody told the run:\n{bare}");
}
