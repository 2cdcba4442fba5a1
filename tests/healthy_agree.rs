//! Links that look as if their ends disagreed get the verdict they were made for.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, run};
use serde_json::{Value, json};

fn ports(arguments: &[&str]) -> Vec<Value> {
    let mut all = vec!["survey", "--format", "json"];
    all.extend(arguments);
    common::json(&run(&all))["ports"].as_array().unwrap().clone()
}

#[test]
fn what_only_looks_like_it_is_not_raised() {
    let captures = common::files(&fixtures().join("agree"), ".json");
    assert!(captures.len() >= 7, "{captures:?}");
    for capture in captures {
        let made: Value = serde_json::from_slice(&std::fs::read(&capture).unwrap()).unwrap();
        for port in ports(&["--from", capture.to_str().unwrap()]) {
            let place = capture.display();
            assert_eq!(port["verdict"], made["made_to_show"]["verdict"], "{place}: {port:#}");
            if port["verdict"] == "healthy" {
                assert!(port["causes"].as_array().unwrap().is_empty(), "{place}: {port:#}");
            }
        }
    }
}

/// Siblings are told by the bus addresses of a capture's ports where no field tells them, also
/// where the ports come one at a time.
#[test]
fn legs_of_a_split_cage_are_known_by_their_bus_address() {
    let path = "fixtures/agree/legs-of-a-faster-cage.json";
    for port in ports(&["--from", path]) {
        assert_eq!(port["causes"][0]["fault"], "port-split-configured", "{port:#}");
        assert_eq!(port["causes"][0]["certainty"], "established", "{port:#}");
    }
    let lines = common::text(&run(&["survey", "--from", path, "--format", "ndjson"]));
    let ports: Vec<&str> =
        lines.lines().filter(|line| !line.contains(r#""type":"host""#)).collect();
    assert_eq!(ports.len(), 4, "{lines}");
    for line in ports {
        let port: Value = serde_json::from_str(line).unwrap();
        let port = port.get("port").filter(|port| port.is_object()).unwrap_or(&port);
        assert_eq!(port["causes"][0]["fault"], "port-split-configured", "{line}");
    }
}

/// A link meant to run at its speed is well whatever the far port could do, and Category 5e that
/// carries 10 Gb/s without damage is not accused.
#[test]
fn a_site_file_does_not_make_a_fault_of_a_link_that_works() {
    let folder = tempfile::tempdir().unwrap();
    let site = folder.path().join("site.toml");
    std::fs::write(&site, "[[port]]\nname = \"loft0\"\nmedium = \"Cat5e\"\nlength_m = 12\n")
        .unwrap();
    let path = "fixtures/agree/ten-gigabit-on-old-cable.json";
    let found = ports(&["--from", path, "--site", site.to_str().unwrap()]);
    assert_eq!(found[0]["verdict"], "healthy", "{found:#?}");
    std::fs::write(&site, "[[port]]\nname = \"fibre0\"\nintended_mbps = 10000\n").unwrap();
    let forced = "fixtures/faults/peer-forced-speed/present-1";
    let found = ports(&[
        "--from",
        &format!("{forced}.json"),
        "--far",
        &format!("{forced}.far.json"),
        "--site",
        site.to_str().unwrap(),
    ]);
    assert_eq!(found[0]["verdict"], "healthy", "{found:#?}");
}

/// A far end that says there is no link keeps this end from being called healthy.
#[test]
fn a_link_that_one_end_denies_is_not_healthy() {
    let found = ports(&[
        "--from",
        "fixtures/agree/optic-that-says-it-negotiates.json",
        "--far",
        "fixtures/faults/peer-tx-off/present-1.json",
    ]);
    assert_eq!(found[0]["verdict"], "unknown", "{found:#?}");
}

/// One fault's capture with other settings, and what is then said first.
#[test]
fn other_settings_lead_to_other_causes() {
    struct Try {
        from: &'static str,
        near: Value,
        /// Laid over the far end's capture; without it there is none.
        far: Option<Value>,
        site: &'static str,
        first: Option<(&'static str, &'static str)>,
    }
    let untold = json!({"missing": {"reason": "not-reported"}});
    let cases = [
        // RS-FEC exists from 25 Gb/s on: a port that has it is not at 10 Gb/s.
        Try {
            from: "speed-mismatch",
            near: json!({"speed_mbps": untold}),
            far: Some(json!({})),
            site: "",
            first: Some(("speed-mismatch", "established")),
        },
        // What the far port can do at most is enough.
        Try {
            from: "speed-mismatch",
            near: json!({}),
            far: None,
            site: "[port.far]\nbest_mbps = 10000\n",
            first: Some(("speed-mismatch", "established")),
        },
        // A dual-rate optic, and nothing of the far end.
        Try { from: "speed-mismatch", near: json!({}), far: None, site: "", first: None },
        // Both negotiate: then it is not that.
        Try {
            from: "autoneg-mismatch",
            near: json!({}),
            far: Some(json!({"autonegotiation": true, "speed_mbps": untold})),
            site: "",
            first: None,
        },
        // A 25G cable carries 10 Gb/s.
        Try {
            from: "autoneg-mismatch",
            near: json!({"autonegotiation": false, "speed_mbps": 10_000}),
            far: Some(json!({"speed_mbps": 10_000})),
            site: "",
            first: None,
        },
        // Half duplex that had to be assumed, and late collisions, without the far end's word.
        Try {
            from: "duplex-mismatch",
            near: json!({}),
            far: None,
            site: "",
            first: Some(("duplex-mismatch", "likely")),
        },
        Try {
            from: "peer-forced-speed",
            near: json!({}),
            far: Some(json!({"autonegotiation": true})),
            site: "",
            first: None,
        },
        // 50 m of Category 6 is beyond 37 m, and carries it where it was assessed (TIA TSB-155), which
        // nobody told; 30 m is not, nor is a better category.
        Try {
            from: "category-too-low",
            near: json!({}),
            far: None,
            site: "medium = \"Cat6\"\nlength_m = 50\n",
            first: Some(("category-too-low", "likely")),
        },
        Try {
            from: "category-too-low",
            near: json!({}),
            far: None,
            site: "medium = \"Cat6\"\nlength_m = 30\n",
            first: None,
        },
        Try {
            from: "category-too-low",
            near: json!({}),
            far: None,
            site: "medium = \"Cat8\"\nlength_m = 30\n",
            first: None,
        },
    ];
    let folder = tempfile::tempdir().unwrap();
    for (number, case) in cases.iter().enumerate() {
        let written = |name: &str, over: &Value| {
            let path = fixtures().join(format!("faults/{}/present-1{name}", case.from));
            let mut value: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
            for (key, fact) in over.as_object().unwrap() {
                value["ports"][0]["ethernet"][key] = fact.clone();
            }
            let file = folder.path().join(format!("{number}{name}"));
            std::fs::write(&file, value.to_string()).unwrap();
            file.to_str().unwrap().to_owned()
        };
        let mut arguments = vec!["--from".to_owned(), written(".json", &case.near)];
        if let Some(far) = &case.far {
            arguments.extend(["--far".to_owned(), written(".far.json", far)]);
        }
        if !case.site.is_empty() {
            let site = folder.path().join(format!("{number}.toml"));
            std::fs::write(&site, format!("[[port]]\nname = \"fibre0\"\n{}", case.site)).unwrap();
            arguments.extend(["--site".to_owned(), site.to_str().unwrap().to_owned()]);
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let found = ports(&arguments);
        let cause = &found[0]["causes"][0];
        let first = cause["fault"].as_str().zip(cause["certainty"].as_str());
        assert_eq!(first, case.first, "{number}, {}: {:#}", case.from, found[0]);
    }
}
