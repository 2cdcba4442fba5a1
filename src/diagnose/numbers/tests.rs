//! Worked examples of the media notes, sections 4 to 6, through the whole step; and counters of any
//! kind.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::diagnose::{Knowledge, PortDiagnosis, diagnose_port};
use crate::quantity::Seconds;
use crate::render::{Style, explain, json as document};
use crate::site::Site;
use crate::snapshot::{Host, Port};

/// A port with these facts and counters; `first` and `last` are the two instants.
fn port(facts: Value, first: Value, last: Value) -> Port {
    let mut port = json!({
        "name": "a0", "nature": "hardware", "admin_up": true, "carrier": true, "mtu_octets": 1500,
        "ethernet": {"speed_mbps": 10_000, "duplex": "full", "connector": "fibre"},
    });
    json_patch(&mut port, facts);
    port["instants"] = Value::Array(vec![first, last]);
    serde_json::from_value(port).unwrap()
}

/// Lays one value over another, objects field by field.
fn json_patch(under: &mut Value, over: Value) {
    match (under, over) {
        (Value::Object(under), Value::Object(over)) => {
            for (name, value) in over {
                json_patch(under.entry(name).or_insert(Value::Null), value);
            }
        }
        (under, over) => *under = over,
    }
}

fn counted(milliseconds: u64, frames: u64, octets: u64, damaged: u64) -> Value {
    json!({"at_milliseconds": milliseconds, "counters": {
        "received_frames": frames, "received_octets": octets, "sent_frames": 0, "sent_octets": 0,
        "receive_check_sequence_errors": damaged,
    }})
}

fn fec(milliseconds: u64, counters: Value) -> Value {
    let mut instant = counted(milliseconds, 0, 0, 0);
    instant["fec_counters"] = counters;
    instant
}

fn found(port: &Port) -> PortDiagnosis {
    diagnose_port(&Host::default(), port, Knowledge::default()).unwrap()
}

fn of(port: &Port) -> Numbers {
    found(port).numbers.known().unwrap().clone()
}

fn near(ours: f64, theirs: f64, relative: f64) {
    assert!((ours - theirs).abs() <= relative * theirs.abs(), "{ours} is not {theirs}");
}

fn errors(facts: Value, milliseconds: u64, frames: u64, octets: u64, damaged: u64) -> Errors {
    let port = port(facts, counted(0, 0, 0, 0), counted(milliseconds, frames, octets, damaged));
    of(&port).errors.known().unwrap().clone()
}

/// d5: 3 damaged frames in 2.0e9 of 1518 octets, of which 1514 are counted: 1.235e-13. d2: after
/// three errors 7.7537 replaces 2.9957; by hand, 7.7537 over 2.4288e13 bits is 3.192e-13.
#[test]
fn d5_three_damaged_frames() {
    let found = errors(json!({}), 2_461_000, 2_000_000_000, 3_028_000_000_000, 3);
    near(found.received_bits.0, 2.4288e13, 1e-9);
    near(found.ratio.unwrap().0, 1.235e-13, 2e-4);
    near(found.ratio_below.unwrap().0, 3.192e-13, 2e-4);
    assert!(found.ratio_above.unwrap() < found.ratio.unwrap());
    assert_eq!(found.more_seconds_at_full_speed, Some(Seconds(0.0)), "1e-12 is shown");
}

/// d6: 10G full of 1518-octet frames for an hour, 812,744 a second: 35.5 damaged ones at 1e-12.
#[test]
fn d6_expected_in_an_hour() {
    let frames = 812_744 * 3600;
    let found = errors(json!({}), 3_600_000, frames, frames * 1514, 0);
    near(found.expected_damaged_an_hour.unwrap(), 35.5, 2e-3);
}

/// d1's formula, 2.9957 over the bits, with frame bits; the table of clean seconds at the MAC's rate:
/// 299.6 s on 10G, 2995.7 s on 1G, less what was watched already; d8: 30.0 s for 1e-10 on 1000BASE-T.
#[test]
fn clean_links_are_bounded_by_what_was_watched() {
    let found = errors(json!({}), 1000, 50_000, 75_700_000, 0);
    near(found.received_bits.0, 50_000.0 * 1518.0 * 8.0, 1e-12);
    near(found.ratio_below.unwrap().0, 2.9957 / 6.072e8, 2e-5);
    assert_eq!(found.ratio_above, None);
    let full = |facts, watched: f64, theirs: f64| {
        let found = errors(facts, 1000, 50_000, 75_700_000, 0);
        near(found.more_seconds_at_full_speed.unwrap().0 + watched, theirs, 4e-4);
    };
    full(json!({}), 0.06072, 299.6);
    full(json!({"ethernet": {"speed_mbps": 1000}}), 0.6072, 2995.7);
    let jack = json!({"ethernet": {"speed_mbps": 1000, "connector": "twisted-pair"}});
    full(jack, 0.6072, 29.957);
    // At the traffic of the watched time the same takes as much longer as the link is emptier.
    let ratio =
        found.more_seconds_at_this_traffic.unwrap().0 / found.more_seconds_at_full_speed.unwrap().0;
    near(ratio, 1e10 / 6.072e8, 1e-9);
}

#[test]
fn what_cannot_be_said() {
    let still = errors(json!({}), 60_000, 0, 0, 0);
    assert_eq!((still.ratio, still.ratio_below), (None, None));
    assert_eq!(still.more_seconds_at_this_traffic, None);
    let all_bad = errors(json!({}), 1000, 0, 0, 5);
    assert_eq!((all_bad.ratio_below, all_bad.damaged_frames), (None, 5));
    let one = port(json!({}), counted(0, 0, 0, 0), counted(0, 0, 0, 0));
    for (without, words) in [
        ("received_octets", "octets received"),
        ("receive_check_sequence_errors", "frames with a wrong check sequence"),
    ] {
        let mut last = counted(1000, 5, 500, 0);
        last["counters"].as_object_mut().unwrap().remove(without);
        let numbers = of(&port(json!({}), counted(0, 0, 0, 0), last));
        let why = numbers.errors.why_missing().unwrap().to_string();
        assert!(why.contains(words), "{why}");
    }
    assert!(of(&one).errors.known().is_none(), "no time passes");
    // More than the speed lets through did not come over this link.
    let flood = errors(json!({"ethernet": {"speed_mbps": 100}}), 1000, 1_000_000, 1_514_000_000, 0);
    near(flood.received_bits.0, 1e8, 1e-12);
}

fn correction(facts: Value, milliseconds: u64, counters: Value) -> Fact<Correction> {
    let none = json!({"corrected_bits": {"total": 0}, "corrected_blocks": {"total": 0},
        "uncorrectable_blocks": {"total": 0}});
    of(&port(facts, fec(0, none), fec(milliseconds, counters))).correction
}

fn speed(megabits: u32, code: &str) -> Value {
    json!({"ethernet": {"speed_mbps": megabits, "fec_active": code}})
}

/// c2: 1,289,063 corrected bits in 10 s of 25G with RS: 5.0000e-6, ten times below 5e-5.
#[test]
fn c2_corrected_bits() {
    let counters = json!({"corrected_bits": {"total": 1_289_063}});
    let found = correction(speed(25_000, "rs"), 10_000, counters);
    let found = found.known().unwrap();
    assert_eq!((found.code, found.counted), ("RS(528,514)", correction::From::Bits));
    near(found.raw_ratio.unwrap().0, 5.0e-6, 1e-5);
    near(found.times_below_limit.unwrap(), 10.0, 1e-3);
    // An idle link carries coded bits all the same: no frame was counted here.
    near(found.line_bits.0, 2.578_125e11, 1e-9);
}

/// c3: 58,593,750 corrected codewords in 60 s of 100G with RS(544,514): 9.429e-6. The same at 25G
/// and 5e-5 (CER 4.397e-10, c5): 465.8 s between lost codewords.
#[test]
fn c3_corrected_codewords() {
    let counters = json!({"corrected_blocks": {"total": 58_593_750u64, "lanes": []}});
    let port = {
        let mut last = counted(60_000, 0, 0, 0);
        last["fec_counters"] = counters;
        let mut first = counted(0, 0, 0, 0);
        first["fec_counters"] = json!({"corrected_blocks": {"total": 0}});
        let facts = json!({"ethernet": {"speed_mbps": 100_000, "fec_active": "rs", "lanes": 2}});
        port(facts, first, last)
    };
    let found = of(&port).correction;
    let found = found.known().unwrap();
    assert_eq!((found.code, found.counted), ("RS(544,514)", correction::From::Codewords));
    near(found.raw_ratio.unwrap().0, 9.429e-6, 1e-4);
    assert_eq!(found.uncorrectable, None, "not counted is not zero");
    // c5: 5e-5 of 2.578125e10 bits in one second.
    let counters = json!({"corrected_bits": {"total": 1_289_062}});
    let found = correction(speed(25_000, "rs"), 1000, counters);
    let between = found.known().unwrap().seconds_between_lost_at_most.unwrap();
    near(between.0, 465.8, 1e-3);
}

/// Nothing corrected in 1 s of 25G: below 2.9957 over 2.578125e10 bits.
#[test]
fn nothing_corrected_is_no_zero() {
    let counters = json!({"corrected_blocks": {"total": 0}, "uncorrectable_blocks": {"total": 0}});
    let found = correction(speed(25_000, "rs"), 1000, counters);
    let found = found.known().unwrap();
    assert_eq!((found.raw_ratio, found.uncorrectable), (None, Some(0)));
    near(found.raw_ratio_below.unwrap().0, 2.9957 / 2.578_125e10, 2e-5);
    assert_eq!(found.seconds_between_lost_at_most, None);
}

/// Which code "RS" is: section 4 of the media notes, by speed and lanes where no type tells.
#[test]
fn which_code() {
    let counters = || json!({"corrected_blocks": {"total": 1}, "corrected_bits": {"total": 1}});
    let lanes = |megabits: u32, lanes: u32| json!({"ethernet": {"speed_mbps": megabits, "fec_active": "rs", "lanes": lanes}});
    for (facts, code) in [
        (speed(25_000, "rs"), Some("RS(528,514)")),
        (speed(25_000, "base-r"), Some("BASE-R")),
        (lanes(50_000, 1), Some("RS(544,514)")),
        (lanes(50_000, 2), Some("RS(528,514)")),
        (lanes(100_000, 4), Some("RS(528,514)")),
        (lanes(100_000, 1), Some("RS(544,514)")),
        (speed(400_000, "rs"), Some("RS(544,514)")),
        (speed(100_000, "rs"), None),
        (speed(25_000, "ll-rs"), None),
        (speed(25_000, "none"), None),
        (speed(25_000, "\u{1b}"), None),
        (json!({"ethernet": {"speed_mbps": 25_000}}), None),
    ] {
        let found = correction(facts.clone(), 1000, counters());
        assert_eq!(found.known().map(|found| found.code), code, "{facts}");
    }
}

/// e1 to e4: 939.04 Mb/s in a VLAN on 1G, 14,880,952 frames of 64 octets on 10G, and the wire of a
/// full link: 10.0000 Gb/s where the counters show 9.8440.
#[test]
fn e_throughput() {
    let frames = 812_744 * 3600;
    let full = port(json!({}), counted(0, 0, 0, 0), counted(3_600_000, frames, frames * 1514, 0));
    let found = of(&full).throughput;
    near(found.smallest_frames_per_second.unwrap().0, 14_880_952.0, 1e-7); // e2
    let load = *found.received.known().unwrap();
    near(load.wire_bits_per_second.0, 10.0e9, 1e-6); // e3, e4
    near(load.share, 1.0, 1e-6);
    near(found.data_bits_per_second.unwrap().0, 9.4148e9, 1e-5);
    let slow = json!({"ethernet": {"speed_mbps": 1000}});
    let found = of(&port(slow, counted(0, 0, 0, 0), counted(1000, 0, 0, 0))).throughput;
    near(found.data_in_a_vlan_bits_per_second.unwrap().0, 939.04e6, 1e-5); // e1
    let unknown =
        port(json!({"mtu_octets": {"missing": {"reason": "gone"}}}), json!({}), json!({}));
    let found = of(&unknown).throughput;
    assert!(found.mtu_assumed && found.received.known().is_none());
}

fn fits(facts: Value, rate: f64) -> Vec<&'static str> {
    let port = port(facts, counted(0, 0, 0, 0), counted(1000, 0, 0, 0));
    let knowledge = Knowledge { measured: Some(BitsPerSecond(rate)), ..Knowledge::default() };
    let found = diagnose_port(&Host::default(), &port, knowledge).unwrap();
    let measured = found.numbers.known().unwrap().throughput.measured.clone().unwrap();
    measured.fits.iter().map(|fit| fit.kind).collect()
}

/// e5: 941 Mb/s on 1G is all there is; e6: 94 Mb/s on 1G is a hop at 100 Mb/s. The slot's ceiling
/// (one lane of 8 GT/s, 7.2 Gb/s) is the port's own.
#[test]
fn e_measured() {
    let gigabit = || json!({"ethernet": {"speed_mbps": 1000}});
    assert_eq!(fits(gigabit(), 941e6), ["full"]);
    assert_eq!(fits(gigabit(), 94e6), ["slower-hop"]);
    assert_eq!(fits(gigabit(), 2e9), ["above-speed"]);
    assert_eq!(fits(gigabit(), 300e6), ["below"]);
    let slot = json!({"slot": {"bus": "pci", "hops": [
        {"address": "0000:01:00.0", "speed_gts": 8.0, "width_lanes": 1}]}});
    assert_eq!(fits(slot, 7.2e9), ["slot"]);
    // 9.41 Gb/s on a port with MTU 9000 is what packets of 1500 octets leave.
    assert_eq!(fits(json!({"mtu_octets": 9000}), 9.41e9), ["usual-packets"]);
    assert_eq!(fits(json!({"mtu_octets": 9000}), 9.9e9), ["full"]);
}

#[test]
fn only_links_that_run() {
    let none = |facts: Value| {
        let port = port(facts, counted(0, 0, 0, 0), counted(1000, 5, 500, 0));
        found(&port).numbers.why_missing().is_some()
    };
    assert!(none(json!({"carrier": false})));
    assert!(none(json!({"carrier": {"missing": {"reason": "gone"}}})));
    assert!(none(json!({"ethernet": {"speed_mbps": {"missing": {"reason": "not-reported"}}}})));
    assert!(none(json!({"nature": "virtual"})));
    assert!(!none(json!({})));
}

fn any_count() -> impl Strategy<Value = Value> {
    prop_oneof![
        any::<u64>().prop_map(Value::from),
        (0..1000u64).prop_map(Value::from),
        Just(Value::from(u64::MAX)),
        Just(json!({"missing": {"reason": "not-supported"}})),
    ]
}

fn any_lanes() -> impl Strategy<Value = Value> {
    (any_count(), proptest::collection::vec(any::<u64>(), 0..5)).prop_map(|(total, lanes)| {
        if total.is_u64() { json!({"total": total, "lanes": lanes}) } else { total }
    })
}

fn any_instant() -> impl Strategy<Value = Value> {
    let counters = (any_count(), any_count(), any_count(), any_count(), any_count());
    let blocks = (any_lanes(), any_lanes(), any_lanes());
    let time = prop_oneof![any::<u64>(), 0..5000u64];
    (time, counters, blocks).prop_map(|(time, counters, blocks)| {
        json!({"at_milliseconds": time,
            "counters": {
                "received_frames": counters.0, "received_octets": counters.1,
                "receive_check_sequence_errors": counters.2, "sent_frames": counters.3,
                "sent_octets": counters.4},
            "fec_counters": {"corrected_blocks": blocks.0, "uncorrectable_blocks": blocks.1,
                "corrected_bits": blocks.2}})
    })
}

proptest! {
    /// No counters panic, give a bound above 1 or below nothing, or a line that is too wide.
    #[test]
    fn any_counters(
        instants in proptest::collection::vec(any_instant(), 0..4),
        megabits in prop_oneof![Just(0u32), Just(25_000), Just(100_000), any::<u32>()],
        mtu: u32,
        code in prop_oneof![Just("rs"), Just("base-r"), Just("none"), Just("other")],
        length in 0.0..200_000.0f64,
        connectors: u32,
        sent in -60.0..30.0f64,
        rate in prop_oneof![Just(f64::NAN), any::<f64>(), 1e6..1e12f64],
    ) {
        let facts = json!({
            "mtu_octets": mtu,
            "ethernet": {"speed_mbps": megabits, "fec_active": code},
            "module": {"readings": {"source": "a test", "interface_types": ["25GBASE-SR"],
                "lanes": [{"lane": 1, "rx_power_milliwatts": 0.1, "tx_power_milliwatts": 0.5}]}}
        });
        let mut port = port(facts, json!({}), json!({}));
        port.instants = serde_json::from_value(Value::from(instants)).unwrap();
        let site = Site::parse(&format!(
            "[[port]]\nname='a0'\nmedium='OM3'\nlength_m={length:?}\nconnectors={connectors}\n\
             [port.far]\ntx_power_dbm={sent:?}\n"
        ));
        let site = site.unwrap();
        let measured = Some(BitsPerSecond(rate));
        let knowledge = Knowledge { site: Some(&site), measured, ..Knowledge::default() };
        let found = diagnose_port(&Host::default(), &port, knowledge).unwrap();
        for width in [50, 80] {
            let style = Style { width, ..Style::default() };
            let text = explain::explain("host", &port, &found, false, false, style);
            prop_assert!(!text.contains("NaN") || rate.is_nan(), "{text}");
            for line in text.lines() {
                prop_assert!(line.chars().count() <= width, "{line}");
            }
        }
        document::to_string(&document::port(&port, &found), true).unwrap();
        if let Fact::Known(numbers) = &found.numbers && let Fact::Known(errors) = &numbers.errors {
            for bound in [errors.ratio, errors.ratio_above, errors.ratio_below].iter().flatten() {
                prop_assert!((0.0..=1.0).contains(&bound.0));
            }
            prop_assert!(errors.ratio_above.is_none_or(|above| Some(above) <= errors.ratio_below));
        }
    }
}
