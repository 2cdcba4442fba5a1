//! Cautions by what the link is: light that a step starts, traffic that it stops.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use serde_json::{Value, json};

/// What is said of the port of a fault's fixture, changed.
fn explained(name: &str, change: impl FnOnce(&mut Value), site: &str) -> Value {
    let bytes = std::fs::read(fixtures().join("faults").join(name)).unwrap();
    let mut capture: Value = serde_json::from_slice(&bytes).unwrap();
    change(&mut capture["ports"][0]);
    let folder = tempfile::tempdir().unwrap();
    let (near, told) = (folder.path().join("near.json"), folder.path().join("site.toml"));
    std::fs::write(&near, capture.to_string()).unwrap();
    std::fs::write(&told, site).unwrap();
    let port = capture["ports"][0]["name"].as_str().unwrap();
    let (near, told) = (near.to_str().unwrap(), told.to_str().unwrap());
    let mut arguments = vec!["explain", port, "--from", near, "--site", told, "--format", "json"];
    let far = fixtures().join("faults").join(name.replace(".json", ".far.json"));
    if far.exists() {
        arguments.extend(["--far", far.to_str().unwrap()]);
    }
    json(&run(&arguments))["ports"][0].clone()
}

fn cause<'a>(port: &'a Value, fault: &str) -> &'a Value {
    let mut causes = port["causes"].as_array().unwrap().iter();
    causes.find(|cause| cause["fault"] == fault).unwrap_or_else(|| panic!("{port:#}"))
}

/// A far or near port on fibre that is switched on begins to shine; one on twisted pair does not.
#[test]
fn switching_on_starts_light_on_fibre_only() {
    let site = std::fs::read_to_string(fixtures().join("faults/peer-tx-off/present-1.site.toml"));
    let port = explained("peer-tx-off/present-1.json", |_| (), &site.unwrap_or_default());
    let dark = cause(&port, "peer-tx-off");
    assert!(dark["usual_fix_cautions"].to_string().contains("laser light starts"), "{dark:#}");

    let used = "[[port]]\nname = \"fibre0\"\nin_use = true\n";
    let with_jack = |connector: &str| {
        let change = |port: &mut Value| {
            port["ethernet"]["connector"] = json!(connector);
            port["ethernet"]["supported_modes"] = json!(["1000BASE-T"]);
            port["module"] = json!({"memory": {"missing": {"reason": "not-supported"}}});
        };
        let port = explained("admin-down/present-1.json", change, used);
        cause(&port, "admin-down")["usual_fix_cautions"].to_string().contains("laser")
    };
    assert!(with_jack("fibre"));
    assert!(!with_jack("twisted-pair"));
}

/// What unplugs, re-seats or cleans a part of a link that is up says that its traffic stops; of a link
/// that is down nothing stops, and a step that only asks stops nothing.
#[test]
fn what_interrupts_a_link_that_is_up_says_so() {
    let traffic = linkwright::diagnose::TRAFFIC;
    let up = explained("excess-loss/present-1.json", |_| (), "");
    let up = cause(&up, "excess-loss");
    assert!(up["usual_fix_cautions"].to_string().contains(traffic), "{up:#}");
    let shown = |step: &Value| step["cautions"].to_string().contains(traffic);
    assert_eq!(shown(up), !up["next_test"].as_str().unwrap().starts_with("Find out"), "{up:#}");

    let mut steps = 0;
    for entry in std::fs::read_dir(fixtures().join("faults")).unwrap() {
        let folder = entry.unwrap().file_name().into_string().unwrap();
        let port = explained(&format!("{folder}/present-1.json"), |_| (), "");
        let is_up = port["observed"]["carrier"] == true;
        for cause in port["causes"].as_array().unwrap() {
            let step = cause["next_test"].as_str().unwrap();
            assert!(is_up || !shown(cause), "{folder}: {cause:#}");
            if is_up && (step.starts_with("Clean") || step.starts_with("Swap")) {
                assert!(shown(cause), "{folder}: {cause:#}");
                steps += 1;
            }
        }
    }
    assert!(steps > 1, "{steps}");
}

/// A setting that restarts a link says so, in the step's outcome and in the remedy, and that one may
/// lock oneself out; of a link that is down nothing stops. A cord to be changed by the outcome of a
/// step that only asks is told as well.
#[test]
fn a_setting_that_restarts_a_link_that_is_up_says_so() {
    use linkwright::diagnose::{LOCKED_OUT, TRAFFIC, TRAFFIC_THEN};
    for fault in
        ["peer-forced-speed", "advert-limited-host", "duplex-mismatch", "peer-port-limited"]
    {
        let name = format!("{fault}/present-1");
        let site = fixtures().join("faults").join(format!("{name}.site.toml"));
        let site = std::fs::read_to_string(site).unwrap_or_default();
        let port = explained(&format!("{name}.json"), |_| (), &site);
        let found = cause(&port, fault);
        let step = found["cautions"].to_string();
        let fix = found["usual_fix_cautions"].to_string();
        let asks = found["next_test"].as_str().unwrap().starts_with("Find out");
        assert!(asks || (step.contains(TRAFFIC_THEN) && step.contains(LOCKED_OUT)), "{found:#}");
        // The remedy for a port that can do no more is another port.
        let set = fault != "peer-port-limited";
        assert_eq!(fix.contains(LOCKED_OUT), set, "{found:#}");
        assert_eq!(fix.contains(TRAFFIC) || fix.contains(TRAFFIC_THEN), set, "{found:#}");
    }
    let down = explained("fec-mismatch/present-1.json", |_| (), "");
    let down = cause(&down, "fec-mismatch");
    for care in ["cautions", "usual_fix_cautions"] {
        let care = down[care].to_string();
        assert!(!care.contains(LOCKED_OUT) && !care.contains("Traffic"), "{down:#}");
    }
}
