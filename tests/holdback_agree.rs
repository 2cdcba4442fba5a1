//! What a hold-back evaluation found: adapters that are lost, ends that disagree, copper. Each capture
//! is derived from a fault's own fixture.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, run};
use serde_json::{Value, json};

fn fixture(name: &str) -> Value {
    let path = fixtures().join("faults").join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Lays `over` upon `base`, field by field.
fn lay(base: &mut Value, over: &Value) {
    match (base, over) {
        (Value::Object(base), Value::Object(over)) => {
            for (name, value) in over {
                if value.is_object() && value.get("missing").is_none() && base.contains_key(name) {
                    lay(&mut base[name], value);
                } else {
                    base.insert(name.clone(), value.clone());
                }
            }
        }
        (base, over) => *base = over.clone(),
    }
}

/// What is said of a fixture's first port with `over` laid upon it.
fn found(name: &str, over: &Value, site: &str) -> Value {
    let mut capture = fixture(name);
    lay(&mut capture["ports"][0], over);
    explained(&capture, site, "fibre0")
}

fn explained(capture: &Value, site: &str, port: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("near.json");
    std::fs::write(&path, capture.to_string()).unwrap();
    let path = path.to_str().unwrap();
    let mut arguments = vec!["explain", port, "--from", path, "--format", "json"];
    let told = folder.path().join("site.toml");
    if !site.is_empty() {
        std::fs::write(&told, site).unwrap();
        arguments.extend(["--site", told.to_str().unwrap()]);
    }
    common::json(&run(&arguments))["ports"][0].clone()
}

fn causes(port: &Value) -> Vec<(String, String)> {
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    let all = port["causes"].as_array().unwrap().iter();
    all.map(|cause| (word(&cause["fault"]), word(&cause["certainty"]))).collect()
}

fn leads(port: &Value, fault: &str, certainty: &str) {
    assert_eq!(causes(port).first(), Some(&(fault.into(), certainty.into())), "{port:#}");
}

fn raises(port: &Value, fault: &str) -> bool {
    causes(port).iter().any(|(name, _)| name == fault)
}

fn missing(reason: &str) -> Value {
    json!({"missing": {"reason": reason}})
}

/// Counters that stand still, no carrier, and a module that answers nothing.
fn frozen() -> Value {
    let instant = |at: u64| {
        json!({"at_milliseconds": at, "carrier": false, "carrier_up_count": 3,
            "carrier_down_count": 2, "counters": {"receive_errors": 0, "received_frames": 4821,
            "sent_frames": 394, "receive_check_sequence_errors": 0}})
    };
    json!({
        "carrier": false,
        "sensors": missing("gone"),
        "module": {"memory": missing("bus-error")},
        "ethernet": {"speed_mbps": missing("not-reported")},
        "instants": [instant(0), instant(1000)],
        "kernel_log": [],
    })
}

fn with(mut base: Value, over: &Value) -> Value {
    lay(&mut base, over);
    base
}

fn log(text: &str) -> Value {
    json!({"kernel_log": [{"at_microseconds": 6, "names": "bus-address", "text": text}]})
}

/// PCI Express base specification, link status: a width of six bits, all ones where nobody answers.
fn all_ones_slot() -> Value {
    json!({"slot": {"bus": "pci", "hops": [
        {"address": "0000:3b:00.0", "speed_gts": missing("malformed"), "width_lanes": 63,
         "best_speed_gts": missing("malformed"), "best_width_lanes": 63},
        {"address": "0000:3a:00.0", "speed_gts": 2.5, "width_lanes": 1, "best_speed_gts": 8.0,
         "best_width_lanes": 16}]}})
}

fn sound_slot() -> Value {
    json!({"slot": {"bus": "pci", "hops": [{"address": "0000:3b:00.0", "speed_gts": 8.0,
        "width_lanes": 8, "best_speed_gts": 8.0, "best_width_lanes": 8}]}})
}

#[test]
fn a_lost_adapter_with_frozen_counters() {
    let base = "nic-device-lost/present-1.json";
    let dead = with(frozen(), &all_ones_slot());
    let port = found(base, &dead, "");
    leads(&port, "nic-device-lost", "likely");
    for never in ["module-partial-insertion", "module-unreadable", "pcie-width-downgraded"] {
        assert!(!raises(&port, never), "{port:#}");
    }
    for line in [
        "simnic 0000:3b:00.0: device's health compromised - reached miss count",
        "simnic 0000:3b:00.0: error reading register 0x10: 0xffffffff",
        "simnic 0000:3b:00.0: device has disappeared from the bus",
    ] {
        leads(&found(base, &with(dead.clone(), &log(line)), ""), "nic-device-lost", "established");
    }
    // The slot came back, the driver did not.
    let lost = with(frozen(), &sound_slot());
    let line = "simnic 0000:3b:00.0: PCIe link lost, device now detached";
    let port = found(base, &with(lost.clone(), &log(line)), "");
    leads(&port, "nic-device-lost", "likely");
    assert!(!raises(&port, "module-partial-insertion"), "{port:#}");
    assert!(!port["headline"].as_str().unwrap().contains("all ones"), "{port:#}");
    // It came back since; what is dead now is the module.
    let back = json!({"kernel_log": [
        {"at_microseconds": 6, "names": "bus-address", "text": line},
        {"at_microseconds": 9, "names": "interface", "text": "fibre0: Link is Up"}]});
    let port = found(base, &with(lost, &back), "");
    assert!(!raises(&port, "nic-device-lost"), "{port:#}");
    leads(&port, "module-partial-insertion", "likely");
    // Who may read modules is not told to be root.
    assert!(!port.to_string().contains("run as root"), "{port:#}");
}

#[test]
fn a_driver_without_its_device() {
    let fields = ["speed_mbps", "duplex", "autonegotiation", "supported_modes", "link_detected"];
    let gone: serde_json::Map<String, Value> =
        fields.iter().map(|field| ((*field).to_owned(), missing("gone"))).collect();
    let over = with(with(frozen(), &sound_slot()), &json!({"ethernet": gone}));
    let base = "nic-device-lost/present-1.json";
    let port = found(base, &over, "");
    assert!(raises(&port, "nic-device-lost"), "{port:#}");
    let over = with(over, &log("simnic 0000:3b:00.0: PCIe link lost"));
    leads(&found(base, &over, ""), "nic-device-lost", "established");
}

/// IEEE 802.3 clause 28: parallel detection finds a speed, and leaves half duplex.
#[test]
fn one_half_duplex_mode_is_no_offer() {
    let over = json!({"ethernet": {"peer_modes": ["100BASE-TX half"],
        "supported_modes": ["100BASE-TX half", "100BASE-TX", "1000BASE-T"]}});
    let port = found("duplex-mismatch/present-1.json", &over, "");
    leads(&port, "duplex-mismatch", "likely");
    assert!(!raises(&port, "advert-limited-peer"), "{port:#}");
    // Two modes are an offer.
    let over = json!({"ethernet": {"peer_modes": ["100BASE-TX half", "100BASE-TX"],
        "supported_modes": ["100BASE-TX half", "100BASE-TX", "1000BASE-T"]}});
    assert!(raises(&found("duplex-mismatch/present-1.json", &over, ""), "advert-limited-peer"));
}

#[test]
fn half_duplex_that_both_ends_are_meant_to_run() {
    let site = "[[port]]\nname = \"fibre0\"\nintended_mbps = 100\n[port.far]\nhalf_duplex = true\n\
        autonegotiation = false\nset_mbps = 100\n";
    let mut capture = fixture("duplex-mismatch/present-1.json");
    for instant in capture["ports"][0]["instants"].as_array_mut().unwrap() {
        for (name, count) in instant["counters"].as_object_mut().unwrap() {
            if !name.ends_with("frames") && !name.ends_with("octets") && count.is_u64() {
                *count = json!(0);
            }
        }
    }
    let port = explained(&capture, site, "fibre0");
    assert_eq!(port["verdict"], "healthy", "{port:#}");
}

#[test]
fn a_link_that_is_down_is_explained_first() {
    let narrow = json!({"slot": {"bus": "pci", "hops": [{"address": "0000:3b:00.0",
        "speed_gts": 2.5, "width_lanes": 1, "best_speed_gts": 2.5, "best_width_lanes": 1}]}});
    let port = found("fec-mismatch/present-1.json", &narrow, "");
    assert!(raises(&port, "pcie-bandwidth-limited"), "{port:#}");
    assert_eq!(causes(&port)[0].0, "fec-mismatch", "{port:#}");
    assert_eq!(port["verdict"], "fault", "{port:#}");
    // The driver names the mismatch, the far end is not asked.
    let named = json!({"ethernet": {"extended_state":
        {"state": "logical-mismatch", "substate": "fec-mismatch-during-override"}}});
    leads(&found("fec-mismatch/present-1.json", &named, ""), "fec-mismatch", "likely");
}

/// TIA TSB-155: Category 6 to 37 m, and to 55 m where the run was assessed.
#[test]
fn assessed_category_six() {
    let site = |length: u32| {
        format!("[[port]]\nname = \"fibre0\"\nmedium = \"Cat6\"\nlength_m = {length}\n")
    };
    let base = "category-too-low/present-1.json";
    let sure = |length| {
        let port = found(base, &json!({}), &site(length));
        causes(&port).into_iter().find(|(name, _)| name == "category-too-low").map(|found| found.1)
    };
    assert_eq!(sure(30), None);
    assert!(matches!(sure(46).as_deref(), Some("possible" | "likely")));
    assert_eq!(sure(80).as_deref(), Some("established"));
}

#[test]
fn offers_do_not_limit_optics() {
    let short = json!({"ethernet": {"advertised_modes": ["1000BASE-X"]}});
    let port = found("module-rate-select-low/present-1.json", &short, "");
    assert_eq!(causes(&port)[0].0, "module-rate-select-low", "{port:#}");
    assert!(!raises(&port, "advert-limited-host"), "{port:#}");
}

#[test]
fn a_headline_states_what_is_known() {
    let untold = json!({"ethernet": {"peer_modes": missing("not-reported")}});
    let port = found("advert-limited-host/present-1.json", &untold, "");
    assert!(!port["headline"].as_str().unwrap().contains("although the far end"), "{port:#}");
    let port = found("pair-fault-downshift/present-1.json", &untold, "");
    assert!(!port["headline"].as_str().unwrap().contains("both ends offer"), "{port:#}");
}

/// What is certain stands before a guess at the deeper cause; and the bond points to its leg.
#[test]
fn a_leg_of_a_bond() {
    let mut capture = fixture("bond-member-down/present-1.json");
    let index = capture["ports"][0]["controller"]["index"].clone();
    let bond = json!({"name": "bond0", "index": index, "nature": "virtual",
        "software_kind": "bond", "admin_up": true, "carrier": true});
    capture["ports"].as_array_mut().unwrap().push(bond);
    let port = explained(&capture, "", "bond0");
    assert!(port["headline"].as_str().unwrap().contains("fibre0"), "{port:#}");
    let port = explained(&capture, "", "fibre0");
    let sure = |certainty: &str| certainty != "possible";
    let all = causes(&port);
    let first_guess = all.iter().position(|(_, certainty)| !sure(certainty));
    let leg = all.iter().position(|(name, _)| name == "bond-member-down").unwrap();
    assert!(first_guess.is_none_or(|guess| leg < guess), "{port:#}");
}

/// A link that drops is more than one that is slow, however sure the reason for its speed is.
#[test]
fn what_is_broken_stands_before_what_limits() {
    let slow = json!({"ethernet": {"speed_mbps": 1000, "peer_modes": ["1000BASE-T"],
        "supported_modes": ["1000BASE-T", "10GBASE-T"],
        "advertised_modes": ["1000BASE-T", "10GBASE-T"]}});
    let port = found("eee-flap/present-1.json", &slow, "");
    assert!(raises(&port, "advert-limited-peer"), "{port:#}");
    assert_eq!(causes(&port)[0].0, "eee-flap", "{port:#}");
}

/// 1000BASE-T runs on what is commonly installed (IEEE 802.3 clause 40: Category 5), and a cable that
/// ends in its module has no category.
#[test]
fn a_category_that_does_not_matter() {
    let gigabit = json!({"ethernet": {"speed_mbps": 1000, "supported_modes": ["1000BASE-T"],
        "advertised_modes": ["1000BASE-T"], "peer_modes": ["1000BASE-T"]}});
    let port = found("category-too-low/present-1.json", &gigabit, "");
    assert!(!raises(&port, "category-too-low"), "{port:#}");
    let port = found("dac-intermittent/present-1.json", &json!({}), "");
    assert!(!raises(&port, "category-too-low"), "{port:#}");
}

/// A driver that lists a leg's own modes alone hides that the cage could do more.
#[test]
fn a_leg_that_lists_only_its_own_modes() {
    let mut capture = fixture("port-split-configured/present-1.json");
    let port = &mut capture["ports"][0];
    let mode = json!(["25GBASE-CR", "25GBASE-SR"]);
    lay(
        port,
        &json!({"physical_port": "p0s1", "device_siblings": ["fibre1", "fibre2", "fibre3"],
        "ethernet": {"supported_modes": mode, "advertised_modes": mode}}),
    );
    let port = explained(&capture, "", "fibre0");
    assert_eq!(causes(&port)[0].0, "port-split-configured", "{port:#}");
    assert_eq!(port["verdict"], "attention", "{port:#}");
}

/// Over the warning limit, and the kernel says so: the pairs are not accused.
#[test]
fn heat_that_is_logged_stands_before_a_pair() {
    let hot = |log: Value| {
        let over = json!({"sensors": [{"chip": "simnic", "label": "adapter", "unit": "°C",
            "quantity": "temperature", "value": 101.0,
            "limits": {"high_warning": 100.0, "high_alarm": 110.0}}], "kernel_log": log});
        found("pair-fault-downshift/present-1.json", &over, "")
    };
    let line = json!([{"at_microseconds": 6, "names": "interface",
        "text": "simnic fibre0: thermal throttling, temperature exceeds limit"}]);
    let port = hot(line);
    leads(&port, "nic-thermal-throttle", "established");
    assert!(
        !causes(&port)
            .iter()
            .any(|(name, sure)| { name == "pair-fault-downshift" && sure != "possible" }),
        "{port:#}"
    );
    assert!(raises(&hot(json!([])), "pair-fault-downshift"));
}

/// IEEE 802.3 clause 28: an end that hears no offer assumes half duplex, so the one that makes none is
/// the one to set right.
#[test]
fn the_end_that_is_fixed_is_the_one_to_look_at() {
    let ends = |here: bool, here_duplex: &str, there: Option<bool>, half_there: bool| {
        let set = json!({"ethernet": {"autonegotiation": here, "duplex": here_duplex}});
        let there = there.map_or_else(String::new, |there| format!("autonegotiation = {there}\n"));
        let site = format!(
            "[[port]]\nname = \"fibre0\"\n[port.far]\nhost = \"ballast\"\nhalf_duplex = {half_there}\n{there}"
        );
        let port = found("duplex-mismatch/present-1.json", &set, &site);
        leads(&port, "duplex-mismatch", "established");
        let chain = port["chain"].as_array().unwrap();
        let looked = chain.iter().find(|part| part["look_here"] == true).unwrap();
        assert_eq!(looked["part"], port["causes"][0]["part"]);
        looked["part"].as_str().unwrap().to_owned()
    };
    assert_eq!(ends(false, "full", Some(true), true), "port", "this end is fixed");
    assert_eq!(ends(false, "full", None, true), "port", "the far end had to assume half");
    assert_eq!(ends(true, "half", Some(false), false), "far-port", "the far end is fixed");
    assert_eq!(ends(false, "full", Some(false), true), "far-port", "both are fixed");
    assert_eq!(ends(false, "half", None, false), "far-port", "not known");
}
