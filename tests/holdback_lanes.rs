//! What a hold-back evaluation of made-up captures found of modules and lanes, each on a small capture
//! derived from a fixture: the rule, not the figures.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use serde_json::{Value, json};

type Changes<'a> = &'a [(&'a str, Value)];
/// (page, byte of the page's own numbering, bytes as hex); bytes below 128 are in the lower half.
type Bytes<'a> = &'a [(u8, usize, &'a str)];

/// The port of this name (or the first) of a capture with other facts and module bytes, explained.
fn judged(capture: &str, name: Option<&str>, changes: Changes<'_>, bytes: Bytes<'_>) -> Value {
    explained(capture, name, changes, bytes, None)
}

fn explained(
    capture: &str,
    name: Option<&str>,
    changes: Changes<'_>,
    bytes: Bytes<'_>,
    site: Option<&str>,
) -> Value {
    let read = std::fs::read(fixtures().join(capture)).unwrap();
    let mut made: Value = serde_json::from_slice(&read).unwrap();
    let ports = made["ports"].as_array_mut().unwrap();
    ports.retain(|port| name.is_none_or(|name| port["name"] == name));
    ports.truncate(1);
    let port = &mut ports[0];
    for (pointer, value) in changes {
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        port.pointer_mut(parent).unwrap()[key] = value.clone();
    }
    for (page, at, wanted) in bytes {
        let blocks = port["module"]["memory"].as_array_mut().unwrap();
        let holds = |block: &Value| {
            let offset = block["offset"].as_u64().unwrap();
            let offset = usize::try_from(offset).unwrap();
            let length = block["bytes"].as_str().map_or(0, |hex| hex.len() / 2);
            let same = *at < 128 || block["page"] == *page;
            same && (offset..offset + length).contains(at)
        };
        let block = blocks.iter_mut().find(|block| holds(block)).unwrap();
        let offset = usize::try_from(block["offset"].as_u64().unwrap()).unwrap();
        let mut hex = block["bytes"].as_str().unwrap().to_owned();
        let place = 2 * (at - offset);
        hex.replace_range(place..place + wanted.len(), wanted);
        block["bytes"] = hex.into();
    }
    for block in port["module"]["memory"].as_array_mut().into_iter().flatten() {
        if block["page"] == 0 && block["offset"] == 128 && !bytes.is_empty() {
            block["bytes"] = with_right_sum(block["bytes"].as_str().unwrap()).into();
        }
    }
    let name = port["name"].as_str().unwrap().to_owned();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x.json");
    std::fs::write(&path, made.to_string()).unwrap();
    let mut asked = vec!["explain", &name, "--from", path.to_str().unwrap(), "--format", "json"];
    let file = folder.path().join("site.toml");
    if let Some(site) = site {
        std::fs::write(&file, format!("[[port]]\nname = \"{name}\"\n{site}")).unwrap();
        asked.extend(["--site", file.to_str().unwrap()]);
    }
    json(&run(&asked))["ports"][0].clone()
}

/// Page 00h of SFF-8636 with the checksum of bytes 128-190 in byte 191: a coded module is right in itself.
fn with_right_sum(hex: &str) -> String {
    let byte = |at: usize| u8::from_str_radix(&hex[2 * at..2 * at + 2], 16).unwrap();
    let sum = (0..63).map(byte).fold(0u8, u8::wrapping_add);
    format!("{}{sum:02x}{}", &hex[..126], &hex[128..])
}

fn sureness<'a>(port: &'a Value, fault: &str) -> Option<&'a str> {
    let causes = port["causes"].as_array().unwrap();
    causes.iter().find(|cause| cause["fault"] == fault)?["certainty"].as_str()
}

fn first(port: &Value) -> &str {
    port["causes"][0]["fault"].as_str().unwrap_or_default()
}

/// Down, with counters that stand still.
fn down() -> Vec<(&'static str, Value)> {
    let at = |ms: u32| {
        json!({"at_milliseconds": ms, "carrier": false, "carrier_up_count": 1, "carrier_down_count": 1,
            "counters": {"receive_check_sequence_errors": 0, "received_frames": 900}})
    };
    vec![
        ("/carrier", json!(false)),
        ("/operational_state", json!("down")),
        ("/ethernet/link_detected", json!(false)),
        ("/instants", json!([at(0), at(1000)])),
    ]
}

const RACK: &str = "rack/winch.json";
/// A healthy 100GBASE-SR4 port of the rack; SFF-8636, offsets from memory.
const SR4: Option<&str> = Some("berth34");

/// A module that answers is plugged in, whatever the driver's state "no cable" means.
#[test]
fn a_module_that_answers_is_plugged_in() {
    let reason = ("/ethernet/extended_state", json!({"state": "no-cable"}));
    let port = judged(RACK, SR4, &[down(), vec![reason]].concat(), &[]);
    assert_eq!(sureness(&port, "no-cable"), None, "{port:#}");
    assert_eq!(port["verdict"], "fault", "{port:#}");
}

/// An RJ45 jack (connector 22h, byte 130) or a copper pigtail (21h) on a module of an optical type,
/// and a copper technology (byte 147, high half Ah) of one: odd on a link that runs clean as well.
#[test]
fn an_optical_type_on_copper_is_told_on_any_link() {
    assert_eq!(judged(RACK, SR4, &[], &[])["verdict"], "healthy");
    for (at, value) in [(130, "22"), (130, "21"), (147, "a0")] {
        let port = judged(RACK, SR4, &[], &[(0, at, value)]);
        assert_eq!(port["verdict"], "attention", "{at} {value}: {port:#}");
        assert_eq!(port["symptoms"], json!(["module"]), "{at} {value}: {port:#}");
    }
}

/// A long wave (bytes 186-187, in 0.05 nm) in a short-wave module whose laser takes four times its
/// stored limit (page 03h bytes 184-191): the limit is another laser's, not the laser old.
#[test]
fn limits_of_a_miscoded_module_age_no_laser() {
    let bias = "61a861a861a861a8"; // 50 mA in 2 µA
    let old = judged(RACK, SR4, &[], &[(0, 42, bias)]);
    assert_ne!(sureness(&old, "laser-ageing"), Some("likely"), "{old:#}");
    let port = judged(RACK, SR4, &[], &[(0, 42, bias), (0, 186, "6658")]);
    assert_eq!(first(&port), "module-miscoded", "{port:#}");
    assert_eq!(sureness(&port, "laser-ageing"), None, "{port:#}");
    assert_eq!(port["verdict"], "attention", "{port:#}");
}

/// A twisted-pair far end on a link that is up over an optical type: somebody is wrong.
#[test]
fn an_optical_type_does_not_meet_twisted_pair() {
    let far = Some("[port.far]\nmodule = \"10GBASE-T\"\n");
    let port = explained(RACK, SR4, &[], &[], far);
    assert_eq!(port["verdict"], "attention", "{port:#}");
    assert_eq!(sureness(&port, "module-miscoded"), Some("possible"), "{port:#}");
}

/// One lane has no siblings, whatever FEC and light do.
#[test]
fn one_lane_stands_beside_none() {
    for entry in std::fs::read_dir(fixtures().join("faults/excess-loss")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if !name.starts_with("present") || name.contains("far") || !name.ends_with(".json") {
            continue;
        }
        let fec = |corrected: u32, beyond: u32| {
            json!({"corrected_blocks": {"total": corrected, "lanes": []},
                "uncorrectable_blocks": {"total": beyond, "lanes": []}})
        };
        let at = |ms: u32, bad: u32| {
            json!({"at_milliseconds": ms, "carrier": true, "carrier_down_count": 1,
                "counters": {"receive_check_sequence_errors": bad, "received_frames": 900 + ms},
                "fec_counters": fec(90_000 * bad, bad)})
        };
        let instants = json!([at(0, 0), at(1000, 40)]);
        let capture = format!("faults/excess-loss/{name}");
        let port = judged(&capture, None, &[("/instants", instants)], &[]);
        let lanes = port["observed"].to_string();
        let several = lanes.contains("lane 2") || lanes.contains("lanes");
        assert!(several || sureness(&port, "lane-fault").is_none(), "{name}: {port:#}");
    }
}

/// Lane 3's transmitter reports a fault (byte 4 bit 2) and sends nothing (bytes 54-55), the others do:
/// the lane's fault comes first, and nobody says that the module shut down.
#[test]
fn one_lanes_fault_is_not_the_modules() {
    let dark = [(0, 4, "04"), (0, 54, "0000")];
    let port = judged(RACK, SR4, &down(), &dark);
    assert_eq!(first(&port), "lane-fault", "{port:#}");
    assert!(!port.to_string().contains("shut its transmitter down"), "{port:#}");
    assert_ne!(sureness(&port, "tx-fault-latched"), Some("established"), "{port:#}");
}

/// 100GBASE-LR4 against CWDM4: two lanes are dark by the filters, and that is what leads.
#[test]
fn lanes_of_another_plan_are_no_lane_fault() {
    let port = explained(
        "faults/wavelength-mismatch/present-lanes-1.json",
        None,
        &[],
        // 100GBASE-LR4: byte 192 code 03h, LC, 10 km, a 1310 nm laser (bytes 130, 142-147, 186-187, from
        // memory); receive power of lanes 2 and 4 (bytes 36-37, 40-41).
        &[
            (0, 192, "03"),
            (0, 130, "07"),
            (0, 142, "0a0000000040"),
            (0, 186, "65b8"),
            (0, 36, "0000"),
            (0, 40, "0000"),
        ],
        Some("[port.far]\nmodule = \"100G CWDM4\"\n"),
    );
    assert_eq!(first(&port), "wavelength-mismatch", "{port:#}");
    for other in ["lane-fault", "fec-mismatch", "dirty-connector", "excess-loss"] {
        assert_eq!(sureness(&port, other), None, "{other}: {port:#}");
    }
    assert!(!port.to_string().contains("lanes 2, 4 stands"), "{port:#}");
}

/// A link that is down receives no frames: that none is damaged is no word against a long run.
#[test]
fn counters_of_a_link_that_is_down_tell_nothing() {
    let site =
        std::fs::read_to_string(fixtures().join("faults/mmf-reach-exceeded/present-1.site.toml"));
    let site = site.unwrap();
    let rest: Vec<&str> = site
        .lines()
        .filter(|line| {
            !line.starts_with("[[port]]") && !line.starts_with("name") && !line.starts_with("host")
        })
        .collect();
    let capture = "faults/mmf-reach-exceeded/present-1.json";
    let port = explained(capture, None, &down(), &[], Some(&rest.join("\n")));
    assert_eq!(sureness(&port, "mmf-reach-exceeded"), Some("likely"), "{port:#}");
    assert!(!port.to_string().contains("no damaged frames were counted"), "{port:#}");
}

/// A page that the bus loses is named.
#[test]
fn a_lost_page_is_attention() {
    for reason in ["bus-error", "timed-out"] {
        let capture = "limits/limit-page-lost.json";
        let read = std::fs::read(fixtures().join(capture)).unwrap();
        let made: Value = serde_json::from_slice(&read).unwrap();
        let blocks = made["ports"][0]["module"]["memory"].as_array().unwrap();
        let lost = blocks.iter().position(|block| !block["bytes"].is_string()).unwrap();
        let pointer = format!("/module/memory/{lost}/bytes");
        let port =
            judged(capture, None, &[(&pointer, json!({"missing": {"reason": reason}}))], &[]);
        assert_eq!(port["verdict"], "attention", "{reason}: {port:#}");
        assert_eq!(first(&port), "module-unreadable", "{reason}: {port:#}");
    }
}

/// What the kernel says of the cage's power comes before the low power that follows from it, and
/// counts once.
#[test]
fn the_power_that_is_refused_comes_first() {
    // Byte 93 bit 1: low power set by the host; bias 0 (bytes 42-49).
    let low = [(0, 93, "03"), (0, 42, "0000000000000000")];
    for line in [
        "berth34: Port module event[error]: module 0, Cable error, Power budget exceeded",
        "berth34: insufficient power for module in cage 0: power class 7 exceeds class 4",
    ] {
        let log = ("/kernel_log", json!([{"text": line}]));
        let port = judged(RACK, SR4, &[down(), vec![log]].concat(), &low);
        assert_eq!(first(&port), "power-budget-exceeded", "{port:#}");
        let told = port["causes"][0]["evidence"].to_string().matches(line).count();
        assert_eq!(told, 1, "{port:#}");
        assert_ne!(sureness(&port, "module-low-power"), Some("established"), "{port:#}");
    }
    let port = judged(RACK, SR4, &down(), &low);
    assert_eq!(first(&port), "module-low-power", "{port:#}");
    let slot = "berth34: Detected insufficient power on the PCIe slot (27W) for the module";
    let log = ("/kernel_log", json!([{"text": slot}]));
    let port = judged(RACK, SR4, &[down(), vec![log]].concat(), &low);
    assert_eq!(first(&port), "module-low-power", "{port:#}");
}

/// A refused module is dark because it is refused.
#[test]
fn a_refused_module_is_not_switched_off_besides() {
    let port = judged("faults/module-rejected-by-driver/present-1.json", None, &[], &[]);
    assert_eq!(first(&port), "module-rejected-by-driver", "{port:#}");
    let second = sureness(&port, "tx-disabled");
    assert!(matches!(second, None | Some("possible")), "{port:#}");
}
