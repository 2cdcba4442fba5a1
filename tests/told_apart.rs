//! What was seen against what somebody told, and what is told against what is asked: each from a
//! fixture with literal changes. Rules of the medium: IEEE 802.3 clause 28 (parallel detection finds
//! 10 and 100 Mb/s and must assume half duplex) and clause 40 (1000BASE-T is always negotiated), both
//! from memory.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, fixtures, json, run, text};
use serde_json::{Value, json};

/// What a case is made of: a fixture's capture, changed; and a site file.
struct Case {
    folder: tempfile::TempDir,
    port: String,
}

impl Case {
    fn new(fixture: &str, change: impl FnOnce(&mut Value), site: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let near = changed(fixture, change);
        let port = near["ports"][0]["name"].as_str().unwrap().to_owned();
        std::fs::write(folder.path().join("near.json"), near.to_string()).unwrap();
        let site = format!("[[port]]\nname = \"{port}\"\n{site}");
        std::fs::write(folder.path().join("site.toml"), site).unwrap();
        Self { folder, port }
    }

    fn far(self, fixture: &str, change: impl FnOnce(&mut Value)) -> Self {
        let mut far = changed(fixture, change);
        // A host is not its own far end.
        far["host"]["name"] = json!("capstan");
        std::fs::write(self.folder.path().join("far.json"), far.to_string()).unwrap();
        self
    }

    fn output(&self, more: &[&str]) -> std::process::Output {
        let path = |name: &str| self.folder.path().join(name).to_str().unwrap().to_owned();
        let (near, site, far) = (path("near.json"), path("site.toml"), path("far.json"));
        let mut arguments = vec!["explain", &self.port, "--from", &near, "--site", &site];
        if std::path::Path::new(&far).exists() {
            arguments.extend(["--far", &far]);
        }
        arguments.extend(more);
        run(&arguments)
    }

    fn json(&self) -> Value {
        json(&self.output(&["--format", "json"]))["ports"][0].clone()
    }

    /// The page, with single spaces.
    fn page(&self, more: &[&str]) -> String {
        text(&self.output(more)).split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

fn changed(fixture: &str, change: impl FnOnce(&mut Value)) -> Value {
    let bytes = std::fs::read(fixtures().join("faults").join(fixture)).unwrap();
    let mut capture: Value = serde_json::from_slice(&bytes).unwrap();
    change(&mut capture["ports"][0]);
    capture
}

fn causes(port: &Value) -> Vec<(String, String)> {
    let word = |cause: &Value, key: &str| cause[key].as_str().unwrap().to_owned();
    let all = port["causes"].as_array().unwrap();
    all.iter().map(|cause| (word(cause, "fault"), word(cause, "certainty"))).collect()
}

/// Twisted pair at 100 Mb/s with 1 Gb/s to spare; set by hand or not.
fn hundred(port: &mut Value, negotiates: bool) {
    let both = json!(["100BASE-TX", "1000BASE-T"]);
    let one = json!(["100BASE-TX"]);
    let ethernet = &mut port["ethernet"];
    ethernet["autonegotiation"] = negotiates.into();
    ethernet["duplex"] = "full".into();
    ethernet["speed_mbps"] = 100.into();
    ethernet["supported_modes"] = both.clone();
    ethernet["advertised_modes"] = if negotiates { both } else { one };
    ethernet["peer_modes"] = json!({"missing": {"reason": "not-reported"}});
    count_late(port, 0);
}

fn count_late(port: &mut Value, late: u64) {
    let instants = port["instants"].as_array_mut().unwrap();
    for (instant, count) in instants.iter_mut().zip([0, late]) {
        instant["counters"]["transmit_late_collisions"] = count.into();
    }
}

/// Half duplex that was found by listening, with or without collisions that are too late.
fn listened(port: &mut Value, late: u64) {
    hundred(port, true);
    port["ethernet"]["duplex"] = "half".into();
    port["ethernet"]["peer_modes"] = json!(["100BASE-TX half"]);
    count_late(port, late);
}

const PAIR: &str = "duplex-mismatch/present-1.json";

/// An end that does not negotiate makes no offer, so no offer limits its speed; what the far end is
/// set to is asked, since one end alone that is changed makes the duplex differ.
#[test]
fn a_fixed_end_is_told_as_fixed() {
    let alone = Case::new(PAIR, |port| hundred(port, false), "").json();
    assert_eq!(causes(&alone), [], "{alone:#}");
    assert!(alone["headline"].as_str().unwrap().contains("fixed at"), "{alone:#}");
    let next = alone["next_step"].to_string();
    assert!(next.contains("change neither end alone"), "{alone:#}");
    assert!(next.contains(linkwright::diagnose::LOCKED_OUT), "{alone:#}");

    let both =
        Case::new(PAIR, |port| hundred(port, false), "").far(PAIR, |port| hundred(port, false));
    let both = both.json();
    let established = ("peer-forced-speed".to_owned(), "established".to_owned());
    assert_eq!(causes(&both), [established], "{both:#}");
    for fault in ["advert-limited-host", "advert-limited-peer"] {
        assert!(both["ruled_out"].to_string().contains(fault), "{both:#}");
    }
}

/// Late collisions need a far end that sends without listening: a word that it negotiates is
/// contradicted. Without them nothing was seen against the word.
#[test]
fn what_was_seen_goes_before_the_site_file() {
    let site = "[port.far]\nautonegotiation = true\n";
    let seen = Case::new(PAIR, |port| listened(port, 3), site).json();
    assert_eq!((&seen["verdict"], &causes(&seen)[0].0[..]), (&"fault".into(), "duplex-mismatch"));
    let headline = seen["headline"].as_str().unwrap();
    assert!(headline.contains("The site file says that it negotiates"), "{headline}");
    let quiet = Case::new(PAIR, |port| listened(port, 0), site).json();
    assert!(!quiet["headline"].as_str().unwrap().contains("The site file says"), "{quiet:#}");
}

/// What was found by listening is no offer, in the chain as in the causes, and no ceiling.
#[test]
fn what_was_found_by_listening_is_no_offer() {
    let page = Case::new(PAIR, |port| listened(port, 3), "").page(&[]);
    assert!(page.contains("it made no offer; 100BASE-TX half was found by listening"), "{page}");
    assert!(!page.contains("SETS THE LIMIT"), "{page}");
    let offered = |port: &mut Value| {
        hundred(port, true);
        port["ethernet"]["peer_modes"] = json!(["100BASE-TX half", "100BASE-TX"]);
    };
    let page = Case::new(PAIR, offered, "").page(&[]);
    assert!(page.contains("fastest mode it offered in autonegotiation"), "{page}");
}

/// Who does not negotiate makes no offer: a capture that says so is perhaps of another link.
#[test]
fn a_far_capture_that_does_not_fit_is_not_used() {
    let offer = |port: &mut Value| {
        hundred(port, true);
        port["ethernet"]["peer_modes"] = json!(["100BASE-TX", "1000BASE-T"]);
    };
    let other = Case::new(PAIR, offer, "").far(PAIR, |port| hundred(port, false));
    let output = other.output(&["--format", "json"]);
    let said = complaint(&output);
    assert!(said.contains("perhaps not the other end"), "{said}");
    let causes = causes(&json(&output)["ports"][0]);
    assert!(causes.iter().all(|(fault, _)| fault != "peer-forced-speed"), "{causes:?}");
    let own = Case::new(PAIR, offer, "").far(PAIR, offer);
    assert!(!complaint(&own.output(&[])).contains("perhaps"));
}

/// Of causes that explain the same, what is established stands before what is likely; a limit that
/// is established explains no damage.
#[test]
fn the_surer_cause_stands_first() {
    use linkwright::diagnose::weigh::{self, Examined};
    use linkwright::faults::{Symptom, find};
    use linkwright::quantity::Decibans;
    let examined = |name: &str, weight: i32| {
        let fault = find(name).unwrap();
        let weight = Decibans(weight);
        Examined {
            fault,
            seat: fault.part,
            weight,
            certainty: weigh::Certainty::of(weight),
            evidence: Vec::new(),
            against: Vec::new(),
            gaps: Vec::new(),
            doubts: Vec::new(),
            ruled_out_by: None,
            without_site_file: None,
            from_far: None,
        }
    };
    let first = |broken: &str, limit: &str, found: &[Symptom]| {
        let mut all = vec![examined(broken, 15), examined(limit, 24)];
        weigh::sort(&mut all, found);
        all[0].fault.name
    };
    let slow = [Symptom::Slow];
    assert_eq!(first("pair-fault-downshift", "peer-forced-speed", &slow), "peer-forced-speed");
    let damaged = [Symptom::Slow, Symptom::Errors];
    assert_eq!(first("excess-loss", "media-rate-limited", &damaged), "excess-loss");
}

/// A far port that somebody says is switched off is told as that, and to be switched on; what else
/// was told of the far end stands in the chain.
#[test]
fn what_the_site_file_tells_of_the_far_end_is_said() {
    let dark = "peer-tx-off/present-1.json";
    let off = Case::new(dark, |_| (), "[port.far]\nadmin_up = false\n");
    let found = off.json();
    let headline = found["headline"].as_str().unwrap();
    assert!(
        headline.contains("the far port is switched off (told by the site file)"),
        "{headline}"
    );
    let step = &found["causes"][0];
    assert!(step["next_test"].as_str().unwrap().contains("switched on"), "{step:#}");
    assert!(step["cautions"].to_string().contains("laser light starts"), "{step:#}");
    let page = off.page(&[]);
    assert!(page.contains("switched off (told by the site file); nobody told what"), "{page}");
    let powers = "[port.far]\ntx_power_dbm = -1.0\nrx_power_dbm = -17.4\n";
    let page = Case::new(dark, |_| (), powers).page(&[]);
    assert!(page.contains("sends -1.00 dBm (0.794 mW), receives -17.40 dBm"), "{page}");
    // Nobody told: asked, as before.
    let asked = Case::new(dark, |_| (), "").json();
    assert!(asked["headline"].as_str().unwrap().contains("or the fibre on the way is broken"));
}

/// Where the far port can do no more than the module either, both are named, and a faster module is
/// no remedy by itself. Nothing is unplugged to read what was read from the module.
#[test]
fn two_parts_that_limit_are_both_named() {
    let slow = "media-rate-limited/present-1.json";
    let page = |site: &str| Case::new(slow, |_| (), site).json();
    let both = page("[port.far]\nhost = \"ballast\"\nbest_mbps = 10000\n");
    assert!(both["headline"].as_str().unwrap().contains("the far port (ballast) too"), "{both:#}");
    let cause = &both["causes"][0];
    assert_eq!(cause["fault"], "media-rate-limited");
    assert!(cause["usual_fix"].as_str().unwrap().starts_with("a faster far port"), "{cause:#}");
    assert!(cause["usual_fix"].as_str().unwrap().contains("intended_mbps = 10000"), "{cause:#}");
    assert!(cause["usual_fix_cautions"].to_string().contains("Traffic stops"), "{cause:#}");
    assert_eq!(cause["cautions"], json!([]), "{cause:#}");
    let unknown = page("");
    assert_eq!(unknown["causes"][0]["cautions"], json!([]), "{unknown:#}");
    assert!(!unknown["headline"].as_str().unwrap().contains("too"), "{unknown:#}");
}

/// Light that arrives, and a receiver that reports none that it can use, stand side by side.
#[test]
fn light_and_loss_of_signal_are_told_together() {
    // SFF-8472 A2h byte 110 bit 1: receiver loss of signal.
    let with_loss = |port: &mut Value| {
        port["carrier"] = false.into();
        port["ethernet"]["link_detected"] = false.into();
        let blocks = port["module"]["memory"].as_array_mut().unwrap();
        let of = |block: &&mut Value| block["two_wire_address"] == 81 && block["offset"] == 0;
        let block = blocks.iter_mut().find(of).unwrap();
        let mut hex = block["bytes"].as_str().unwrap().to_owned();
        let byte = u8::from_str_radix(&hex[220..222], 16).unwrap();
        hex.replace_range(220..222, &format!("{:02x}", byte | 2));
        block["bytes"] = hex.into();
    };
    let headline = |found: Value| found["headline"].as_str().unwrap().to_owned();
    let found = headline(Case::new("excess-loss/present-1.json", with_loss, "").json());
    let told = "The link is down: light arrives here, but the receiver reports loss of signal.";
    assert!(found.starts_with(told), "{found}");
}
