//! Every demo capture gets the verdict it was made for; replay is exact.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, fixtures, json, run, text};
use serde_json::Value;

fn survey(arguments: &[&str]) -> Vec<Value> {
    let mut all = vec!["survey", "--format", "json"];
    all.extend(arguments);
    json(&run(&all))["ports"].as_array().unwrap().clone()
}

fn port<'a>(ports: &'a [Value], name: &str) -> &'a Value {
    ports.iter().find(|port| port["name"] == name).unwrap()
}

#[test]
fn the_demo_site() {
    let site = ["--site", "fixtures/site.toml"];
    let keel = survey(&["--from", "fixtures/hosts/keel.json", site[0], site[1]]);
    let office = port(&keel, "office0");
    assert_eq!(office["verdict"], "healthy");
    assert!(office["causes"].as_array().unwrap().is_empty());
    let shed = port(&keel, "shed0");
    assert_eq!(shed["verdict"], "attention");
    assert_eq!(shed["running_mbps"], 10_000);
    assert_eq!(shed["expected_mbps"], 10_000);
    assert_eq!(shed["limited_by"], "far-port");
    assert_eq!(shed["causes"][0]["fault"], "peer-port-limited");
    assert_eq!(shed["causes"][0]["certainty"], "established");
    let lab = port(&keel, "lab0");
    assert_eq!(lab["verdict"], "attention");
    assert_eq!(lab["limited_by"], "slot");
    assert_eq!(lab["causes"][0]["fault"], "pcie-bandwidth-limited");
    // 10G in a gen1 x4 slot: 7.31 Gb/s (worked example f5 of the media notes).
    assert_eq!(lab["expected_mbps"], 7314);

    let ballast = survey(&["--from", "fixtures/hosts/ballast.json", site[0], site[1]]);
    let store = port(&ballast, "store0");
    assert_eq!(store["verdict"], "fault");
    assert!(store["headline"].as_str().unwrap().contains("no light"));
    // Without the far end's word no cause is more than possible, and that word is asked for.
    for cause in store["causes"].as_array().unwrap() {
        assert_eq!(cause["certainty"], "possible");
    }
    let missing = store["missing"].as_array().unwrap();
    assert!(missing.iter().any(|fact| fact["fact"] == "whether the far end sends"));
    let pool = port(&ballast, "pool0");
    assert_eq!(pool["verdict"], "fault");
    assert_eq!(pool["causes"][0]["fault"], "excess-loss");
}

/// The far end's capture instead of the site file leads to the same limit.
#[test]
fn the_far_ends_capture_tells_as_much_as_the_site_file() {
    let ports = survey(&[
        "shed0",
        "--from",
        "fixtures/hosts/keel.json",
        "--far",
        "fixtures/hosts/sounder.json",
    ]);
    assert_eq!(ports[0]["limited_by"], "far-port");
    assert_eq!(ports[0]["causes"][0]["fault"], "peer-port-limited");
    assert_eq!(ports[0]["causes"][0]["certainty"], "established");
}

/// The same link without any word on the far end: not told as if it were known.
#[test]
fn without_a_far_fact_nothing_is_established() {
    let ports = survey(&["shed0", "--from", "fixtures/hosts/keel.json"]);
    assert_eq!(ports[0]["verdict"], "unknown");
    assert_eq!(ports[0]["causes"][0]["fault"], "peer-port-limited");
    assert_eq!(ports[0]["causes"][0]["certainty"], "possible");
    assert_eq!(ports[0]["limited_by"], Value::Null);
}

/// A speed that the site file intends is healthy.
#[test]
fn an_intended_speed_is_healthy() {
    let folder = tempfile::tempdir().unwrap();
    let site = folder.path().join("site.toml");
    std::fs::write(&site, "[[port]]\nname = \"shed0\"\nintended_mbps = 10000\n").unwrap();
    let ports =
        survey(&["shed0", "--from", "fixtures/hosts/keel.json", "--site", site.to_str().unwrap()]);
    assert_eq!(ports[0]["verdict"], "healthy");
    assert!(ports[0]["causes"].as_array().unwrap().is_empty());
}

/// Odd but fine: the verdict the file names, and no cause.
#[test]
fn odd_but_fine() {
    let mut seen = 0;
    for path in common::files(&fixtures().join("odd"), ".json") {
        let value: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        let Some(verdict) = value["made_to_show"]["verdict"].as_str() else { continue };
        let ports = survey(&["--from", path.to_str().unwrap()]);
        assert_eq!(ports[0]["verdict"], verdict, "{}: {:#}", path.display(), ports[0]);
        assert!(ports[0]["causes"].as_array().unwrap().is_empty(), "{}", path.display());
        seen += 1;
    }
    assert!(seen >= 8, "{seen}");
}

#[test]
fn an_unprivileged_run_is_not_healthy_and_says_why() {
    let ports = survey(&["--from", "fixtures/odd/keel-unprivileged.json"]);
    assert_eq!(ports[0]["verdict"], "unknown");
    let missing = ports[0]["missing"].as_array().unwrap();
    let memory = missing.iter().find(|fact| fact["fact"] == "module memory").unwrap();
    assert_eq!(memory["reason"], "not-permitted");
    assert!(memory["remedy"].as_str().unwrap().contains("CAP_NET_ADMIN"));
}

/// Software interfaces are not judged, and their claimed speed is not repeated.
#[test]
fn software_interfaces_are_not_judged() {
    let ports = survey(&["--from", "fixtures/odd/virtual-only.json"]);
    assert_eq!(ports.len(), 5);
    for port in &ports {
        assert_eq!(port["verdict"], "idle", "{port}");
        assert_eq!(port["running_mbps"], Value::Null);
        assert!(port["causes"].as_array().unwrap().is_empty());
    }
    let pulled = port(&ports, "veth1");
    assert!(pulled["headline"].as_str().unwrap().contains("veth2"), "{pulled}");
}

/// A capture that is read and written again is the same capture.
#[test]
fn captures_survive_a_round_trip() {
    let folder = tempfile::tempdir().unwrap();
    for path in common::files(&fixtures().join("hosts"), ".json") {
        let once = folder.path().join("once.json");
        let twice = folder.path().join("twice.json");
        for (from, to) in [(&path, &once), (&once, &twice)] {
            let (from, to) = (from.to_str().unwrap(), to.to_str().unwrap());
            let output = run(&["capture", "--from", from, "-o", to, "--force"]);
            assert!(output.status.success(), "{}", complaint(&output));
        }
        assert_eq!(std::fs::read(&once).unwrap(), std::fs::read(&twice).unwrap());
        let explain = |file: &std::path::Path| {
            text(&run(&["survey", "--from", file.to_str().unwrap(), "--format", "json"]))
        };
        assert_eq!(explain(&path), explain(&once));
    }
}

/// A rack of 64 ports with modules of every family: the first line counts, faults come first, no
/// line is wider than the screen and no reason is cut off.
#[test]
fn a_rack_of_64_ports() {
    let path = "fixtures/rack/winch.json";
    let made: Value =
        serde_json::from_slice(&std::fs::read(fixtures().join("rack/winch.json")).unwrap())
            .unwrap();
    let wanted = made["made_to_show"]["not healthy"].as_object().unwrap();
    let ports = survey(&["--from", path]);
    assert_eq!(ports.len(), 64);
    for port in &ports {
        let name = port["name"].as_str().unwrap();
        let verdict = wanted.get(name).map_or("healthy", |verdict| verdict.as_str().unwrap());
        assert_eq!(port["verdict"], verdict, "{port:#}");
    }
    // The host's order stays in what programs read.
    assert_eq!(ports[0]["name"], "berth01");
    let count = |verdict: &str| ports.iter().filter(|port| port["verdict"] == verdict).count();

    for columns in ["80", "60", "120"] {
        let output =
            common::linkwright().env("COLUMNS", columns).args(["survey", "--from", path]).output();
        let shown = text(&output.unwrap());
        let mut lines = shown.lines();
        if columns != "60" {
            let tally = format!(
                "winch: {} fault, {} attention, {} could not tell, {} healthy, {} not judged",
                count("fault"),
                count("attention"),
                count("unknown"),
                count("healthy"),
                count("idle")
            );
            assert_eq!(lines.next().unwrap(), tally);
        }
        for line in shown.lines() {
            assert!(line.chars().count() <= columns.parse().unwrap(), "{columns}: {line:?}");
            assert!(!line.contains('…'), "{columns}: {line:?}");
        }
        // Worst first, in the host's order among equals; every port once.
        let order: Vec<&str> = shown
            .lines()
            .filter_map(|line| line.split(' ').next().filter(|word| word.starts_with("berth")))
            .collect();
        assert_eq!(order.len(), 64);
        let rank = |name: &&str| {
            let verdict = wanted.get(*name).map_or("healthy", |verdict| verdict.as_str().unwrap());
            ["fault", "attention", "unknown", "healthy", "idle"]
                .iter()
                .position(|word| *word == verdict)
        };
        let mut sorted = order.clone();
        sorted.sort_unstable();
        sorted.sort_by_key(rank);
        assert_eq!(order, sorted);
        // Every word of a fault's reason is there.
        let words: Vec<&str> = shown.split_whitespace().collect();
        let shown = words.join(" ");
        for port in ports.iter().filter(|port| port["verdict"] == "fault") {
            let headline = port["headline"].as_str().unwrap();
            assert!(shown.contains(headline), "{headline:?} in {shown}");
        }
    }
}

/// Where no fault fits, the answer still says what to do, with care unless it is twisted pair.
#[test]
fn a_fault_that_is_not_known_still_gets_a_next_step() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    for (fault, eyes) in [("advert-limited-peer", false), ("peer-port-limited", true)] {
        let path = fixtures().join(format!("faults/{fault}/present-1.json"));
        let mut value: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        let port = &mut value["ports"][0];
        let best = port["ethernet"]["supported_modes"].as_array().unwrap().clone();
        let slow: Vec<Value> = best
            .into_iter()
            .filter(|mode| !mode.as_str().unwrap().contains(if eyes { "25G" } else { "10G" }))
            .collect();
        for list in ["supported_modes", "advertised_modes"] {
            port["ethernet"][list] = slow.clone().into();
        }
        port["instants"][1]["counters"]["receive_check_sequence_errors"] = 99.into();
        std::fs::write(&file, value.to_string()).unwrap();
        let ports = survey(&["--from", file.to_str().unwrap()]);
        assert_eq!(ports[0]["verdict"], "fault", "{:#}", ports[0]);
        assert!(ports[0]["causes"].as_array().unwrap().is_empty(), "{:#}", ports[0]);
        let next = &ports[0]["next_step"];
        assert!(next["next_test"].as_str().unwrap().contains("patch cord"));
        let careful = next["cautions"].to_string().contains("laser");
        assert_eq!(careful, eyes, "{next}");
    }
}

/// A remedy that touches fibre carries its caution even where the next step only asks.
#[test]
fn a_remedy_on_fibre_carries_its_caution() {
    let ballast = survey(&["--from", "fixtures/hosts/ballast.json"]);
    let swapped = port(&ballast, "store0")["causes"]
        .as_array()
        .unwrap()
        .iter()
        .find(|cause| cause["fault"] == "fibre-polarity-swapped")
        .unwrap();
    assert!(swapped["cautions"].as_array().unwrap().is_empty());
    assert!(swapped["usual_fix_cautions"][0].as_str().unwrap().contains("laser light"));
    let output = run(&["explain", "store0", "--from", "fixtures/hosts/ballast.json"]);
    let shown = text(&output);
    let remedy = shown.split("  remedy   cross the pair").nth(1).unwrap();
    let remedy = remedy.split("\n\n").next().unwrap();
    assert!(remedy.contains("  CARE     Invisible laser light"), "{shown}");
}
