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
    let arguments = ["explain", port, "--from", near, "--site", told, "--format", "json"];
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
