//! What other programs hold on to: JSON names, exit codes, command and option names.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::BTreeSet;

use common::{complaint, json, run, text};
use serde_json::Value;

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

/// Changing one of these names breaks programs that read them: a visible decision.
#[test]
fn json_names_are_frozen() {
    let output = run(&[
        "explain",
        "shed0",
        "--from",
        "fixtures/hosts/keel.json",
        "--site",
        "fixtures/site.toml",
        "--format",
        "json",
    ]);
    let document = json(&output);
    assert_eq!(keys(&document), ["format", "gaps", "host", "ports", "taken_at", "tool"]);
    assert_eq!(document["format"], "linkwright-diagnosis 1");
    let port = &document["ports"][0];
    assert_eq!(
        keys(port),
        [
            "causes",
            "chain",
            "doubts",
            "expected_mbps",
            "far_capture",
            "headline",
            "judged_by",
            "limited_by",
            "missing",
            "name",
            "next_step",
            "numbers",
            "observed",
            "paths",
            "readings_over_time",
            "ruled_out",
            "running_mbps",
            "symptoms",
            "told",
            "verdict"
        ]
    );
    assert_eq!(
        keys(&port["causes"][0]),
        [
            "against",
            "cautions",
            "certainty",
            "decibans",
            "doubts",
            "evidence",
            "fault",
            "meaning",
            "next_test",
            "next_test_tells",
            "part",
            "title",
            "usual_fix",
            "usual_fix_cautions"
        ]
    );
    assert_eq!(
        keys(&port["causes"][0]["evidence"][0]),
        ["decibans", "limit", "observed", "source", "text"]
    );
    assert_eq!(
        keys(&port["chain"][0]),
        [
            "ceiling_mbps",
            "look_here",
            "part",
            "read",
            "sets_the_limit",
            "source",
            "unknown_because"
        ]
    );
    let parts: Vec<&str> =
        port["chain"].as_array().unwrap().iter().map(|p| p["part"].as_str().unwrap()).collect();
    assert_eq!(parts, ["slot", "port", "module", "medium", "far-module", "far-port"]);
    assert_eq!(keys(&port["ruled_out"][0]), ["because", "fault", "observed", "source"]);
    let blind = json(&run(&[
        "survey",
        "--from",
        "fixtures/odd/keel-unprivileged.json",
        "--format",
        "json",
    ]));
    assert_eq!(keys(&blind["ports"][0]["missing"][0]), ["detail", "fact", "reason", "remedy"]);
}

/// The names of a link's numbers, and which of them are there.
#[test]
fn json_names_of_numbers_are_frozen() {
    let numbers = |port: &str| {
        let document = json(&run(&[
            "explain",
            port,
            "--from",
            "fixtures/numbers/jetty.json",
            "--site",
            "fixtures/numbers/jetty.site.toml",
            "--measured",
            "941Mb/s",
            "--format",
            "json",
        ]));
        document["ports"][0]["numbers"].clone()
    };
    let found = numbers("lost");
    assert_eq!(keys(&found), ["correction", "errors", "light", "throughput"]);
    assert_eq!(
        keys(&found["errors"]),
        [
            "confidence",
            "counted_by",
            "damaged_before",
            "damaged_frames",
            "expected_damaged_an_hour",
            "more_seconds_at_full_speed",
            "more_seconds_at_this_traffic",
            "ratio",
            "ratio_above",
            "ratio_below",
            "received_bits",
            "received_frames",
            "specified_ratio",
            "watched_seconds"
        ]
    );
    assert_eq!(
        keys(&found["correction"]),
        [
            "code",
            "corrected",
            "corrected_by_lane",
            "counted",
            "frame_loss_ratio",
            "limit",
            "limit_ratio",
            "line_bits",
            "raw_ratio",
            "raw_ratio_below",
            "seconds_between_lost_at_most",
            "standing",
            "times_below_limit",
            "uncorrectable",
            "watched_seconds"
        ]
    );
    assert_eq!(
        keys(&found["throughput"]),
        [
            "data_bits_per_second",
            "data_in_a_vlan_bits_per_second",
            "half_duplex",
            "measured",
            "mtu_assumed",
            "mtu_octets",
            "received",
            "sent",
            "slot_is_lowest",
            "slot_mbps",
            "smallest_frames_per_second",
            "speed_mbps"
        ]
    );
    let load = ["share", "watched_seconds", "wire_bits_per_second"];
    assert_eq!(keys(&found["throughput"]["received"]), load);
    assert_eq!(keys(&found["throughput"]["measured"]), ["bits_per_second", "fits"]);
    assert_eq!(keys(&found["throughput"]["measured"]["fits"][0]), ["kind", "text"]);
    let light = numbers("b7-worse")["light"].clone();
    assert_eq!(
        keys(&light),
        [
            "connectors",
            "length_m",
            "medium",
            "most_loss_db",
            "received",
            "splices",
            "typical_loss_db",
            "ways"
        ]
    );
    assert_eq!(
        keys(&light["ways"][0]),
        [
            "excess_db",
            "excess_in_connectors",
            "lane",
            "loss_db",
            "loss_least_db",
            "loss_most_db",
            "may_be_the_readings",
            "way"
        ]
    );
    let received = ["expected_least_dbm", "expected_most_dbm", "received_dbm", "standing"];
    assert_eq!(keys(&numbers("b1")["light"]["received"]), received);
    assert_eq!(keys(&numbers("down")), ["missing"], "a link that does not run has none");
}

/// Of a host's lines only the last one has a `type`.
#[test]
fn json_names_of_lines_are_frozen() {
    let lines = text(&run(&["survey", "--from", "fixtures/hosts/keel.json", "--format", "ndjson"]));
    let lines: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let (host, ports) = lines.split_last().unwrap();
    assert_eq!(keys(host), ["format", "gaps", "host", "taken_at", "tool", "type"]);
    assert!(!ports.is_empty() && ports.iter().all(|port| port.get("type").is_none()));
}

/// The names in a report's JSON form, and the kinds of what stands in it.
#[test]
fn json_names_of_reports_are_frozen() {
    let document = json(&run(&[
        "report",
        "pool0",
        "--from",
        "fixtures/hosts/ballast.json",
        "--tried",
        "cleaned",
        "-o",
        "-",
        "--format",
        "json",
    ]));
    assert_eq!(keys(&document), ["data_sha256", "format", "sections", "title", "tool"]);
    assert_eq!(document["format"], "linkwright-report 1");
    let mut kinds = std::collections::BTreeMap::new();
    let mut names = BTreeSet::new();
    let mut rest: Vec<&Value> = document["sections"].as_array().unwrap().iter().collect();
    while let Some(section) = rest.pop() {
        let own: Vec<&str> = keys(section).into_iter().filter(|key| *key != "sections").collect();
        assert_eq!(own, ["blocks", "heading", "name"]);
        names.insert(section["name"].as_str().unwrap());
        for block in section["blocks"].as_array().unwrap() {
            kinds.insert(block["kind"].as_str().unwrap(), block);
        }
        rest.extend(section["sections"].as_array().into_iter().flatten());
    }
    assert_eq!(
        names.into_iter().collect::<Vec<_>>(),
        [
            "cause",
            "causes",
            "chain",
            "counters",
            "host",
            "made",
            "next",
            "not-known",
            "numbers",
            "problem",
            "ruled-out",
            "seen",
            "tried"
        ]
    );
    let of = |kind: &str| keys(kinds[kind]);
    assert_eq!(of("verdict"), ["headline", "host", "kind", "port", "verdict"]);
    assert_eq!(of("paragraph"), ["kind", "text"]);
    assert_eq!(of("care"), ["kind", "text"]);
    assert_eq!(of("list"), ["caption", "items", "kind"]);
    assert_eq!(of("table"), ["caption", "head", "kind", "rows"]);
    assert_eq!(of("chain"), ["caption", "kind", "parts", "running_mbps"]);
    let part = keys(&kinds["chain"]["parts"][0]);
    assert_eq!(part, ["mark", "most", "most_mbps", "part", "read"]);
    assert_eq!(of("gauge"), ["bars", "kind", "limits", "limits_are", "reading", "unit"]);
    assert_eq!(keys(&kinds["gauge"]["bars"][0]), ["of", "shown", "standing", "value"]);
    assert_eq!(keys(&kinds["gauge"]["limits"][0]), ["above", "alarm", "name", "value"]);
    assert_eq!(kinds.len(), 7, "{:?}", kinds.keys());
}

#[test]
fn verdicts_are_the_five() {
    let mut seen = BTreeSet::new();
    for path in common::files(&common::fixtures(), ".json") {
        let output = run(&["survey", "--from", path.to_str().unwrap(), "--format", "ndjson"]);
        for line in text(&output).lines() {
            let port: Value = serde_json::from_str(line).unwrap();
            if port["type"] == "host" {
                continue;
            }
            seen.insert(port["verdict"].as_str().unwrap().to_owned());
        }
    }
    let five = ["attention", "fault", "healthy", "idle", "unknown"];
    assert_eq!(seen.iter().map(String::as_str).collect::<Vec<_>>(), five);
}

#[test]
fn exit_codes() {
    let code = |arguments: &[&str]| run(arguments).status.code().unwrap();
    let keel = ["--from", "fixtures/hosts/keel.json"];
    assert_eq!(code(&["explain", "office0", keel[0], keel[1]]), 0);
    assert_eq!(code(&["explain", "lab0", keel[0], keel[1]]), 10);
    assert_eq!(code(&["explain", "store0", "--from", "fixtures/hosts/ballast.json"]), 20);
    assert_eq!(code(&["explain", "shed0", keel[0], keel[1]]), 30);
    assert_eq!(code(&["survey", keel[0], keel[1]]), 10, "the worst verdict decides");
    assert_eq!(code(&["explain", "nowhere0", keel[0], keel[1]]), 1);
    assert_eq!(code(&["explain"]), 2);
    assert_eq!(code(&["survey", "--seconds", "-1"]), 2);
    assert_eq!(code(&["explain", "office0", "--listen", "601"]), 2);
    assert_eq!(code(&["explain", "office0", "--listen", "1", keel[0], keel[1]]), 2);
    assert_eq!(code(&["survey", "--listen", "1"]), 2, "explain and capture alone listen");
    let report = ["report", "store0", "--from", "fixtures/hosts/ballast.json", "-o", "-"];
    assert_eq!(code(&report), 0, "a report that is written is written");
    assert_eq!(code(&["report", "store0"]), 2, "a report is written somewhere");
    assert_eq!(code(&["report", "--all", "store0", "-o", "-"]), 2);
    assert_eq!(code(&["faults"]), 0);
    assert_eq!(code(&["faults", "no-such-fault"]), 1);
}

#[test]
fn commands_and_options_are_named_in_help() {
    let help = text(&run(&["--help"]));
    for command in ["survey", "explain", "capture", "report", "compare", "decode", "faults"] {
        assert!(help.contains(command), "{help}");
        let output = run(&[command, "--help"]);
        assert!(output.status.success(), "{}", complaint(&output));
        assert!(text(&output).contains("Example"), "{command} --help teaches by example");
    }
    assert!(help.contains("20 fault"), "exit codes are in the help");
}

/// Plain text where colour is not wanted: pipes, NO_COLOR.
#[test]
fn no_colour_in_a_pipe_unless_asked() {
    let arguments = ["survey", "--from", "fixtures/hosts/keel.json"];
    assert!(!text(&run(&arguments)).contains('\u{1b}'));
    let mut asked = arguments.to_vec();
    asked.extend(["--colour", "always"]);
    assert!(text(&run(&asked)).contains('\u{1b}'));
}

/// No line is wider than the terminal, down to 40 columns.
#[test]
fn narrow_terminals() {
    for columns in ["40", "80", "100"] {
        let output = common::linkwright()
            .env("COLUMNS", columns)
            .args(["explain", "shed0", "--from", "fixtures/hosts/keel.json"])
            .args(["--site", "fixtures/site.toml"])
            .output()
            .unwrap();
        let width: usize = columns.parse().unwrap();
        for line in text(&output).lines() {
            let long_word = !line.trim().contains(' ');
            assert!(
                line.chars().count() <= width
                    || long_word
                    || line.starts_with("Cause")
                    || line.starts_with("The chain"),
                "{columns}: {line}"
            );
        }
    }
}
