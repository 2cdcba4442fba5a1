//! The catalogue is complete and consistent, and every fault is concluded by its own captures.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use common::{fixtures, run};
use linkwright::faults::{CATALOGUE, Caution, Fault, find};
use serde_json::Value;

/// The names of step 1, as the fault signature table gives them.
const NAMES: &[&str] = &[
    "admin-down",
    "no-cable",
    "peer-tx-off",
    "fibre-polarity-swapped",
    "module-not-ready",
    "tx-disabled",
    "tx-fault-latched",
    "remote-fault",
    "rate-unsupported-by-port",
    "media-rate-limited",
    "advert-limited-host",
    "advert-limited-peer",
    "peer-port-limited",
    "pair-fault-downshift",
    "pcie-bandwidth-limited",
    "excess-loss",
    "rx-overload",
    "module-overtemperature",
    "mmf-reach-exceeded",
    "fec-mismatch",
    // How frames flow.
    "eee-flap",
    "ring-overrun",
    "pause-storm",
    "mtu-blackhole",
    // The host's side.
    "pcie-width-downgraded",
    "usb-bus-limited",
    "tunnel-bandwidth-limited",
    "nic-device-lost",
    "nic-thermal-throttle",
    "bond-member-down",
    // The module itself, and the port's leave to operate.
    "auth-pending",
    "module-partial-insertion",
    "module-unreadable",
    "eeprom-checksum-corrupt",
    "module-rejected-by-driver",
    "module-miscoded",
    "power-budget-exceeded",
    "module-low-power",
    // Transmitter, loss and lanes.
    "tx-fault-signal-misuse",
    "weak-transmitter",
    "laser-ageing",
    "module-vcc-low",
    "lane-fault",
    "dirty-connector",
    "fibre-bend",
    "intermittent-contact",
    // Agreement between the ends.
    "speed-mismatch",
    "autoneg-mismatch",
    "fec-missing-for-medium",
    "breakout-mismatch",
    "peer-forced-speed",
    "port-split-configured",
    "duplex-mismatch",
    "pair-fault",
    "category-too-low",
    "dac-intermittent",
    // The path, and whether the optics of both ends fit it.
    "fibre-strand-broken",
    "reach-exceeded",
    "fibre-type-mismatch",
    "wavelength-mismatch",
    "bidi-same-side",
    "rj45-sfp-reach",
    "rj45-sfp-thermal",
    "module-rate-select-low",
];

#[test]
fn every_name_is_there_once_and_has_its_file() {
    let listed: BTreeSet<&str> = CATALOGUE.iter().map(|fault| fault.name).collect();
    assert_eq!(listed.len(), CATALOGUE.len(), "a name stands twice");
    for name in NAMES {
        assert!(listed.contains(name), "{name} is not in src/faults/mod.rs");
    }
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/faults");
    let files: BTreeSet<String> = common::files(&source, ".rs")
        .iter()
        .filter_map(|path| Some(path.file_stem()?.to_str()?.replace('_', "-")))
        .filter(|stem| stem != "mod")
        .collect();
    let listed: BTreeSet<String> = listed.into_iter().map(str::to_owned).collect();
    assert_eq!(files, listed, "files of src/faults and the list in mod.rs differ");
}

#[test]
fn every_entry_can_be_argued_with() {
    for fault in CATALOGUE {
        let name = fault.name;
        for bad in ["check-", "fix-", "use-", "bad-", "replace-"] {
            assert!(!name.starts_with(bad), "{name} names a remedy, not a condition");
        }
        assert!(!fault.sources.is_empty(), "{name} has no source");
        assert!(!fault.explains.is_empty(), "{name} explains no symptom");
        assert!(!fault.next_tests.is_empty(), "{name} has no next step");
        assert!(fault.before < 0, "{name} is taken for granted");
        assert!(fault.signature.iter().any(|row| row.vital), "{name} has no vital row");
        let mut facts = BTreeSet::new();
        for row in fault.signature {
            assert!(!row.why.is_empty(), "{name}: {} has no reason", row.sees.name);
            assert!(!row.sees.how.is_empty(), "{name}: how to get {}?", row.sees.fact);
            assert!(
                facts.insert(row.sees.fact) || row.yes <= 0,
                "{name} counts the fact {:?} twice",
                row.sees.fact
            );
        }
        for test in fault.next_tests {
            assert!(!test.care.is_empty(), "{name}: say NoHazard for {:?}", test.step);
            let touches = ["clean", "swap", "attenuator", "strand", "connector", "inspect"];
            let fibre = fault.signature.iter().any(|row| row.sees.name == "optical");
            let words = test.step.to_lowercase();
            if fibre && touches.iter().any(|word| words.contains(word)) {
                assert!(test.care.contains(&Caution::Eyes), "{name}: {:?} needs care", test.step);
            }
        }
        // What is taken in hand is out of the link meanwhile; these look only.
        let looks = ["bond-member-down", "nic-thermal-throttle", "no-cable", "wavelength-mismatch"];
        for test in fault.next_tests {
            let by_hand =
                [Caution::Static, Caution::Power].iter().any(|one| test.care.contains(one));
            assert!(
                !by_hand || looks.contains(&name) || linkwright::diagnose::interrupts(test.step),
                "{name}: does {:?} interrupt the link? See diagnose/next.rs",
                test.step
            );
        }
        // What is switched on over fibre starts to shine.
        let starts = |text: &str| {
            ["switch the port off and on", "switch the port on", "switch the far port on"]
                .iter()
                .chain(&["switched on", "switching on", "plug it in"])
                .any(|words| text.to_lowercase().contains(words))
        };
        let mut texts = fault.next_tests.iter().flat_map(|test| [test.step, test.tells]);
        if texts.any(starts) || starts(fault.usual_fix) {
            let mut care = fault.next_tests.iter().flat_map(|test| test.care);
            let laser = |care: &Caution| matches!(care, Caution::Eyes | Caution::LaserStarts);
            assert!(care.any(laser), "{name} starts a laser without a word of it");
        }
        for other in fault.confused_with {
            let other = find(other.with).unwrap_or_else(|| panic!("{name}: no {}", other.with));
            assert!(
                other.confused_with.iter().any(|back| back.with == name),
                "{} does not point back to {name}",
                other.name
            );
        }
    }
}

#[test]
fn no_two_signatures_are_the_same() {
    let key = |fault: &Fault| {
        fault
            .signature
            .iter()
            .map(|row| format!("{} {} {}", row.sees.name, row.yes, row.no))
            .collect::<Vec<_>>()
    };
    let mut seen = BTreeMap::new();
    for fault in CATALOGUE {
        if let Some(other) = seen.insert(key(fault), fault.name) {
            panic!("{} and {other} have the same signature", fault.name);
        }
    }
}

/// Explains the port of a fault's capture with what lies beside it.
fn explained(capture: &Path) -> Value {
    let stem = capture.to_str().unwrap().strip_suffix(".json").unwrap().to_owned();
    let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
    let mut arguments = vec!["survey", "--from", capture.to_str().unwrap(), "--format", "json"];
    if Path::new(&far).exists() {
        arguments.extend(["--far", &far]);
    }
    if Path::new(&site).exists() {
        arguments.extend(["--site", &site]);
    }
    common::json(&run(&arguments))["ports"][0].clone()
}

fn made_to_show(capture: &Path) -> Value {
    let bytes = std::fs::read(capture).unwrap();
    let value: Value = serde_json::from_slice(&bytes).unwrap();
    value["made_to_show"].clone()
}

/// Every fault has captures in which it is present, absent and unknown, and each gives what it
/// was made for: concluded with the stated certainty; another fault, or none, first; not more
/// than possible, with the missing fact named.
#[test]
fn every_fault_is_concluded_and_only_where_it_should_be() {
    for fault in CATALOGUE {
        let folder = fixtures().join("faults").join(fault.name);
        let captures: Vec<_> = common::files(&folder, ".json")
            .into_iter()
            .filter(|path| !path.to_string_lossy().ends_with(".far.json"))
            .collect();
        for kind in ["present-", "absent-", "unknown-"] {
            assert!(
                captures
                    .iter()
                    .any(|path| { path.file_name().unwrap().to_string_lossy().starts_with(kind) }),
                "{} has no {kind} capture",
                fault.name
            );
        }
        for capture in captures {
            let found = explained(&capture);
            let must = made_to_show(&capture);
            let place = capture.display();
            let first = &found["causes"][0];
            if let Some(fact) = must["missing"].as_str() {
                let certain: Vec<&Value> = found["causes"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .filter(|cause| cause["fault"] == fault.name)
                    .filter(|cause| cause["certainty"] != "possible")
                    .collect();
                assert!(certain.is_empty(), "{place}: {found:#}");
                let named = found["missing"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .any(|missing| missing["fact"].as_str().unwrap().contains(fact));
                assert!(named, "{place}: {fact:?} is not named as missing: {found:#}");
                assert_ne!(found["verdict"], "healthy", "{place}");
                continue;
            }
            assert_eq!(first["fault"], must["first"], "{place}: {found:#}");
            if let Some(certainty) = must.get("certainty") {
                assert_eq!(&first["certainty"], certainty, "{place}: {found:#}");
                assert_eq!(must["first"], fault.name, "{place}");
            } else {
                assert_ne!(first["fault"], fault.name, "{place}");
                // What is absent is not raised as more than possible either.
                let raised =
                    found["causes"].as_array().unwrap().iter().any(|cause| {
                        cause["fault"] == fault.name && cause["certainty"] != "possible"
                    });
                assert!(!raised, "{place}: {found:#}");
            }
        }
    }
}

/// Every cause that is raised shows values, sources and a next step.
#[test]
fn every_claim_names_its_evidence() {
    for fault in CATALOGUE {
        let folder = fixtures().join("faults").join(fault.name);
        for capture in common::files(&folder, "present-1.json") {
            let found = explained(&capture);
            let first = &found["causes"][0];
            let evidence = first["evidence"].as_array().unwrap();
            assert!(!evidence.is_empty(), "{}", fault.name);
            for row in evidence {
                for field in ["text", "observed", "source"] {
                    assert!(!row[field].as_str().unwrap().is_empty(), "{}: {row}", fault.name);
                }
            }
            assert!(!first["next_test"].as_str().unwrap().is_empty());
        }
    }
}
