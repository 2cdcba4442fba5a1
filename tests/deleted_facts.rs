//! Taking a fact away never makes the program surer of a wrong cause. For every capture in which a
//! fault is present, each fact of the port is taken out in turn (made "not asked"); no other cause
//! may then be likely or established that was not so before. What is only possible may come and go:
//! that is what a missing fact does.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::BTreeMap;
use std::path::Path;

use common::{files, fixtures};
use linkwright::diagnose::{Certainty, Knowledge, diagnose_port};
use linkwright::faults::CATALOGUE;
use linkwright::observe::capture::{load, load_site};
use linkwright::snapshot::{Host, Port};
use serde_json::Value;

/// Causes that are there as well, beside the one that the capture is made to show.
const ALSO_TRUE: &[(&str, &str)] = &[
    // The driver that refuses the module is who switches its transmitter off.
    ("module-rejected-by-driver", "tx-disabled"),
    // One capture has a copper module that is too hot and too far away.
    ("rj45-sfp-thermal", "rj45-sfp-reach"),
];

/// Every place in the value that holds something that can be taken out of its object.
fn places(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let place = format!("{at}/{}", key.replace('~', "~0").replace('/', "~1"));
                if key != "name" && key != "missing" {
                    found.push(place.clone());
                    places(inner, &place, found);
                }
            }
        }
        Value::Array(all) => {
            for (number, inner) in all.iter().enumerate() {
                places(inner, &format!("{at}/{number}"), found);
            }
        }
        _ => {}
    }
}

/// Certainty by cause.
fn causes(host: &Host, port: &Port, knowledge: Knowledge<'_>) -> BTreeMap<&'static str, Certainty> {
    let found = diagnose_port(host, port, knowledge).unwrap();
    found.causes.iter().map(|cause| (cause.examined.fault.name, cause.certainty)).collect()
}

#[test]
fn a_missing_fact_makes_nobody_surer_of_a_wrong_cause() {
    let (mut tried, mut surer) = (0, Vec::new());
    for fault in CATALOGUE {
        let folder = fixtures().join("faults").join(fault.name);
        for path in files(&folder, ".json") {
            let file = path.file_name().unwrap().to_str().unwrap().to_owned();
            if !file.starts_with("present-") || file.ends_with(".far.json") {
                continue;
            }
            let stem = path.to_str().unwrap().strip_suffix(".json").unwrap().to_owned();
            let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
            let snapshot = load(&path).unwrap().remove(0);
            let site = Path::new(&site).exists().then(|| load_site(Path::new(&site)).unwrap());
            let far = Path::new(&far).exists().then(|| load(Path::new(&far)).unwrap().remove(0));
            let knowledge =
                Knowledge { site: site.as_ref(), far: far.as_ref(), ..Knowledge::default() };
            let whole = serde_json::to_value(&snapshot.ports[0]).unwrap();
            let before = causes(&snapshot.host, &snapshot.ports[0], knowledge);
            let mut all = Vec::new();
            places(&whole, "", &mut all);
            for place in all {
                let (parent, key) = place.rsplit_once('/').unwrap();
                let mut less = whole.clone();
                let parent = less.pointer_mut(parent).and_then(Value::as_object_mut).unwrap();
                parent.remove(&key.replace("~1", "/").replace("~0", "~"));
                let Ok(port) = serde_json::from_value::<Port>(less) else { continue };
                tried += 1;
                for (name, certainty) in causes(&snapshot.host, &port, knowledge) {
                    let sure = certainty >= Certainty::Likely;
                    let was = before.get(name).copied();
                    if ALSO_TRUE.contains(&(fault.name, name)) {
                        continue;
                    }
                    if name != fault.name && sure && Some(certainty) > was {
                        surer.push(format!(
                            "{}/{file} without {place}: {name} {certainty:?}, was {was:?}",
                            fault.name
                        ));
                    }
                }
            }
        }
    }
    assert!(tried > 5_000, "only {tried} facts were taken out");
    assert!(surer.is_empty(), "{} of {tried}:\n{}", surer.len(), surer.join("\n"));
}
