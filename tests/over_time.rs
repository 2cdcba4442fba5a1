//! Readings over time, on captures: what is told of each, that replaying and saving change nothing,
//! and that a hostile capture does no harm.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::path::Path;
use std::time::{Duration, Instant};

use common::{fixtures, json, run, text};
use linkwright::observe::capture::parse;
use linkwright::snapshot::Reason;
use serde_json::{Value, json};

fn path(name: &str) -> String {
    format!("fixtures/over-time/{name}.json")
}

/// The section of one fixture as JSON.
fn told(name: &str) -> Value {
    let document = json(&run(&["explain", "--from", &path(name), "--format", "json"]));
    document["ports"][0]["readings_over_time"].clone()
}

fn of<'a>(told: &'a Value, reading: &str, lane: Option<u8>) -> &'a Value {
    let all = told["series"].as_array().unwrap();
    all.iter().find(|one| one["reading"] == reading && one["lane"] == json!(lane)).unwrap()
}

/// Its text, in one line.
fn words(arguments: &[&str]) -> String {
    text(&run(arguments)).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Other programs hold on to these names.
#[test]
fn json_names_are_frozen() {
    let told = told("pulled-out");
    let keys =
        |value: &Value| -> Vec<String> { value.as_object().unwrap().keys().cloned().collect() };
    assert_eq!(
        keys(&told),
        ["confidence", "ended_early", "failed", "readings", "series", "source", "span_seconds"]
    );
    assert_eq!(keys(&told["failed"][0]), ["at_seconds", "detail", "reason"]);
    assert_eq!(
        keys(&told["series"][0]),
        [
            "lane",
            "least",
            "light_changes",
            "mean",
            "most",
            "reading",
            "readings",
            "readings_without_light",
            "slope_a_minute",
            "slope_plus_minus",
            "trend",
            "unit"
        ]
    );
    assert_eq!(
        keys(&of(&self::told("flicker"), "rx-power", Some(1))["light_changes"][0]),
        ["at_seconds", "light"]
    );
}

/// The generator's 4 (1 - e^(-t/90)) °C: its straight line over 60 seconds rises by 1.943 °C a minute
/// (NumPy's polyfit of the formula). Bias goes 0.02 mA a degree with it.
#[test]
fn a_warm_up_is_told() {
    let told = told("warm-up");
    for (reading, lane, slope) in [("temperature", None, 1.943), ("bias", Some(1), 0.0389)] {
        let one = of(&told, reading, lane);
        assert_eq!(one["trend"], "rises", "{one:#}");
        let off = (one["slope_a_minute"].as_f64().unwrap() - slope).abs();
        assert!(off <= one["slope_plus_minus"].as_f64().unwrap(), "{one:#}");
    }
    for (reading, lane) in [("supply", None), ("tx-power", Some(1)), ("rx-power", Some(1))] {
        assert_eq!(of(&told, reading, lane)["trend"], "none");
    }
    assert_eq!((&told["readings"], &told["ended_early"]), (&json!(60), &json!(false)));
}

#[test]
fn steady_noise_is_no_trend() {
    let told = told("steady");
    for one in told["series"].as_array().unwrap() {
        assert_eq!(one["trend"], "none", "{one:#}");
    }
    let shown = words(&["explain", "--from", &path("steady")]);
    assert!(!shown.contains("rises") && !shown.contains("falls"), "{shown}");
}

/// Light is away for three seconds in twelve: 15 of 60, five times from second 1 or 10 on.
#[test]
fn light_that_flickers_is_told() {
    let told = told("flicker");
    let one = of(&told, "rx-power", Some(1));
    assert_eq!((&one["readings"], &one["readings_without_light"]), (&json!(60), &json!(15)));
    assert_eq!(one["light_changes"].as_array().unwrap().len(), 10);
    assert_eq!((&one["trend"], &one["slope_a_minute"]), (&json!("not-told"), &Value::Null));
    // 0.5248 mW is -2.80 dBm (10 log10), and what is dark is not in the mean.
    assert!((one["mean"].as_f64().unwrap() + 2.80).abs() < 0.05, "{one:#}");
    let shown = words(&["explain", "--from", &path("flicker")]);
    assert!(
        shown.contains("no light in 15 of 60 readings: light came or went 10 times"),
        "{shown}"
    );
}

/// Lane 6 loses a tenth every ten seconds: 60 log10(0.9) is -2.745 dB a minute.
#[test]
fn one_lane_falls_until_the_module_is_gone() {
    let told = told("pulled-out");
    for lane in 1..=8 {
        let one = of(&told, "rx-power", Some(lane));
        assert_eq!(one["trend"], if lane == 6 { "falls" } else { "none" }, "{one:#}");
        assert_eq!(one["readings"], 23);
    }
    let lane = of(&told, "rx-power", Some(6));
    let off = (lane["slope_a_minute"].as_f64().unwrap() + 2.745).abs();
    assert!(off <= lane["slope_plus_minus"].as_f64().unwrap(), "{lane:#}");
    assert_eq!(
        (&told["ended_early"], &told["failed"][0]["reason"]),
        (&json!(true), &json!("gone"))
    );
    let shown = words(&["explain", "--from", &path("pulled-out")]);
    assert!(shown.contains("ended at 23.2 s"), "{shown}");
}

/// Saved again, a capture gives the same text and JSON.
#[test]
fn saved_again_it_says_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let saved = folder.path().join("saved.json");
    let saved = saved.to_str().unwrap();
    for name in ["warm-up", "flicker", "pulled-out"] {
        for form in ["text", "json"] {
            let first = run(&["explain", "--from", &path(name), "--format", form, "--save", saved]);
            let again = run(&["explain", "--from", saved, "--format", form]);
            assert!(text(&first).contains(if form == "text" {
                "Readings over"
            } else {
                "rx-power"
            }));
            assert_eq!(text(&first), text(&again), "{name} {form}");
        }
    }
}

fn changed(name: &str, change: impl FnOnce(&mut Value)) -> Value {
    let bytes = std::fs::read(fixtures().join(format!("over-time/{name}.json"))).unwrap();
    let mut capture: Value = serde_json::from_slice(&bytes).unwrap();
    change(&mut capture["ports"][0]["module"]["readings_over_time"]);
    capture
}

/// More than any run makes is refused, as are stretches without number; the rest stands.
#[test]
fn too_many_readings_count_for_nothing() {
    let many = changed("steady", |readings| {
        let one = readings[0].clone();
        readings.as_array_mut().unwrap().resize(62, one);
    });
    let wide = changed("steady", |readings| {
        let one = readings[0]["ranges"][0].clone();
        readings[0]["ranges"].as_array_mut().unwrap().resize(6, one);
    });
    let wrong = changed("steady", |readings| *readings = json!("sixty"));
    for capture in [many, wide, wrong] {
        let snapshot = parse(capture.to_string().as_bytes(), Path::new("odd")).unwrap();
        let module = &snapshot.ports[0].module;
        let why = module.readings_over_time.why_missing().unwrap();
        assert_eq!(why.reason, Reason::Malformed);
        assert!(module.memory.known().is_some());
    }
}

/// Times that stand still, run back or are beyond any, bytes elsewhere, and none at all.
#[test]
fn odd_readings_do_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("odd.json");
    let odd = file.to_str().unwrap();
    let changes: [fn(&mut Value); 6] = [
        |readings| *readings = json!([]),
        |readings| {
            for reading in readings.as_array_mut().unwrap() {
                reading["at_milliseconds"] = json!(0);
            }
        },
        |readings| readings.as_array_mut().unwrap().reverse(),
        |readings| readings[3]["at_milliseconds"] = json!(u64::MAX),
        |readings| readings[3]["ranges"] = json!([{"offset": 255, "page": 7, "bytes": "ffff"}]),
        |readings| readings[3] = json!({}),
    ];
    for (place, change) in changes.into_iter().enumerate() {
        std::fs::write(&file, changed("warm-up", change).to_string()).unwrap();
        let started = Instant::now();
        let output = run(&["explain", "--from", odd]);
        assert!(matches!(output.status.code(), Some(0 | 10 | 20 | 30)), "{place}");
        assert!(text(&output).contains("Readings"), "{place}");
        assert!(started.elapsed() < Duration::from_secs(10), "{place}");
        let told = json(&run(&["explain", "--from", odd, "--format", "json"]));
        let told = &told["ports"][0]["readings_over_time"];
        // In any order, the same is said.
        if place == 2 {
            assert_eq!(*told, self::told("warm-up"));
        }
        // All at one time is no trend.
        if place == 1 {
            assert!(
                told["series"].as_array().unwrap().iter().all(|one| one["trend"] == "not-told")
            );
        }
    }
}
