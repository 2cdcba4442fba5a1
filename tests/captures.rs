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

// ---- limits, and how far a module's word can be taken -----------------------------------

/// The port of `fixtures/limits/NAME.json`, with its far end where there is one; and the page that
/// a person sees of it, its lines joined.
fn limits(name: &str) -> (Value, String) {
    let path = format!("fixtures/limits/{name}.json");
    let far = format!("fixtures/limits/{name}.far.json");
    let mut arguments = vec!["fibre0", "--from", &path];
    if fixtures().join(format!("limits/{name}.far.json")).exists() {
        arguments.extend(["--far", &far]);
    }
    let page = text(&run(&[&["explain"], arguments.as_slice()].concat()));
    let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
    (survey(&arguments)[0].clone(), page)
}

fn has_doubt(port: &Value, kind: &str) -> bool {
    port["doubts"].as_array().unwrap().iter().any(|doubt| doubt["kind"] == kind)
}

fn judged_by<'a>(port: &'a Value, what: &str) -> &'a Value {
    let all = port["judged_by"].as_array().unwrap();
    all.iter().find(|judged| judged["what"] == what).unwrap()
}

/// The port of `fixtures/odd/NAME.json` with other words in A2h (big-endian, SFF-8472 Rev 9.3
/// tables 3.14 and 3.17), and the second count of check sequence errors.
fn with_words(name: &str, words: &[(usize, u16)], errors: u64) -> Value {
    let path = fixtures().join(format!("odd/{name}.json"));
    let mut made: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let port = &mut made["ports"][0];
    let diagnostics = &mut port["module"]["memory"][1]["bytes"];
    let mut hex = diagnostics.as_str().unwrap().to_owned();
    for (at, word) in words {
        hex.replace_range(2 * at..2 * at + 4, &format!("{word:04x}"));
    }
    *diagnostics = hex.into();
    for (place, count) in [(0, 0), (1, errors)] {
        port["instants"][place]["counters"]["receive_check_sequence_errors"] = count.into();
        port["instants"][place]["counters"]["receive_errors"] = count.into();
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    std::fs::write(&file, made.to_string()).unwrap();
    survey(&["--from", file.to_str().unwrap()])[0].clone()
}

const RECEIVED: usize = 104;
const TEMPERATURE: usize = 96;

fn first_source(port: &Value) -> &str {
    let evidence = port["causes"][0]["evidence"].as_array().unwrap();
    let light = evidence.iter().find(|row| row["decibans"] == 14).unwrap();
    light["source"].as_str().unwrap()
}

/// Received power at the edges: a limit, and ±3 dB beside it (SFF-8472 Rev 9.3 as restated in a
/// maker's note: powers ±3 dB). Own limits: low warning 0277h = 63.1 uW, high warning 312Dh =
/// 1258.9 uW; 3 dB is a factor of 10^0.3 = 1.99526, so 31.63 uW and 2511.8 uW. Published limits of
/// 10GBASE-SR (IEEE 802.3 clause 52): least -9.9 dBm = 102.33 uW, most -1.0 dBm = 794.33 uW; 3 dB
/// off, 51.29 uW and 1584.9 uW.
#[test]
fn a_light_reading_inside_its_uncertainty_is_marginal() {
    let own = "old-errors-standing-still";
    let published = "optic-without-limits";
    let cases = [
        (own, "excess-loss", [631, 630, 317, 316]),
        (own, "rx-overload", [12589, 12590, 25117, 25119]),
        (published, "excess-loss", [1024, 1023, 513, 512]),
        (published, "rx-overload", [7943, 7944, 15848, 15850]),
    ];
    for (name, fault, [inside, crossed, last_marginal, failed]) in cases {
        let fine = with_words(name, &[(RECEIVED, inside)], 0);
        assert_eq!(fine["verdict"], "healthy", "{name} {inside}: {fine:#}");
        for marginal in [crossed, last_marginal] {
            let port = with_words(name, &[(RECEIVED, marginal)], 0);
            assert_eq!(port["verdict"], "attention", "{name} {marginal}: {port:#}");
            assert_eq!(port["causes"][0]["fault"], fault);
            assert_eq!(port["causes"][0]["certainty"], "possible");
            let headline = port["headline"].as_str().unwrap();
            assert!(headline.contains("marginal") && headline.contains("±3.0 dB"), "{headline}");
            // The same reading while frames are damaged.
            let port = with_words(name, &[(RECEIVED, marginal)], 240);
            assert_eq!(port["verdict"], "fault", "{name} {marginal}: {port:#}");
            assert_eq!(port["causes"][0]["fault"], fault);
            assert_ne!(port["causes"][0]["certainty"], "possible");
        }
        let port = with_words(name, &[(RECEIVED, failed)], 0);
        assert_eq!(port["verdict"], "fault", "{name} {failed}: {port:#}");
        assert_eq!(port["causes"][0]["fault"], fault);
        let wanted =
            if name == own { "the module's own limits, A2h" } else { "IEEE 802.3 clause 52" };
        assert!(first_source(&port).starts_with(wanted), "{port:#}");
    }
}

/// Own limits are wide: between them and the published least (63.1 and 102.3 uW) a link without
/// damage is fine, and one with damage is held against the published one.
#[test]
fn the_published_limit_speaks_where_frames_are_damaged() {
    let name = "old-errors-standing-still";
    let fine = with_words(name, &[(RECEIVED, 800)], 0);
    assert_eq!(fine["verdict"], "healthy", "{fine:#}");
    let port = with_words(name, &[(RECEIVED, 800)], 240);
    assert_eq!(port["causes"][0]["fault"], "excess-loss", "{port:#}");
    assert!(first_source(&port).starts_with("IEEE 802.3 clause 52"), "{port:#}");
}

/// Temperature at the edges, 1/256 °C a count: own high warning 4900h = 73 °C, or 70 °C where the
/// module stores none; ±3 °C (SFF-8472 Rev 9.3 as restated in a maker's note).
#[test]
fn a_temperature_inside_its_uncertainty_is_marginal() {
    for (name, limit) in [("old-errors-standing-still", 0x4900), ("optic-without-limits", 0x4600)] {
        let at = |counts: u16| with_words(name, &[(TEMPERATURE, limit + counts)], 0);
        assert_eq!(at(0)["verdict"], "healthy", "{name}");
        for counts in [1, 0x0300] {
            let port = at(counts);
            assert_eq!(port["verdict"], "attention", "{name} {counts}: {port:#}");
            assert_eq!(port["causes"][0]["fault"], "module-overtemperature");
            let headline = port["headline"].as_str().unwrap();
            assert!(headline.contains("marginal") && headline.contains("±3.0 °C"), "{headline}");
        }
        let port = at(0x0301);
        assert_eq!(port["verdict"], "fault", "{name}: {port:#}");
        assert!(port["headline"].as_str().unwrap().contains("too hot"), "{port:#}");
    }
}

/// FEC that has to repair bits makes a marginal reading a fault; 708 x 0.1 uW is -11.5 dBm, 1.2 dB
/// under the least of 100GBASE-SR4.
#[test]
fn marginal_light_with_corrected_codewords_is_a_fault() {
    let path = fixtures().join("rack/winch.json");
    let made: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let ports = made["ports"].as_array().unwrap();
    let mut weak = made.clone();
    weak["ports"] = vec![port(ports, "berth37").clone()].into();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    for (corrected, verdict) in [(0, "attention"), (812, "fault")] {
        for (place, count) in [(0, 0), (1, corrected)] {
            weak["ports"][0]["instants"][place]["fec_counters"] =
                serde_json::json!({"corrected_blocks": {"total": count}});
        }
        std::fs::write(&file, weak.to_string()).unwrap();
        let port = &survey(&["--from", file.to_str().unwrap()])[0];
        assert_eq!(port["verdict"], verdict, "{corrected}: {port:#}");
    }
}

/// The same link by its memory and by readings that a host parsed: same verdict, same cause, same
/// certainty; only the source of the limit differs, and is said.
#[test]
fn parsed_readings_are_judged_as_raw_memory_is() {
    let (raw, _) = limits("weak-by-memory");
    let (parsed, page) = limits("weak-by-readings");
    assert_eq!(raw["verdict"], "fault");
    assert_eq!(raw["causes"][0]["fault"], "excess-loss");
    for field in ["verdict", "symptoms", "running_mbps", "expected_mbps"] {
        assert_eq!(raw[field], parsed[field], "{field}");
    }
    for field in ["fault", "certainty", "decibans"] {
        assert_eq!(raw["causes"][0][field], parsed["causes"][0][field], "{field}");
    }
    assert!(first_source(&raw).starts_with("the module's own limits, A2h"));
    let source = "the limits that came with the readings (the host's sensor interface)";
    assert_eq!(first_source(&parsed), source);
    assert!(page.contains(source), "{page}");
    // A sensor interface tells no interface type: the limits that came with it are enough.
    let path = fixtures().join("limits/weak-by-readings.json");
    let mut made: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    made["ports"][0]["module"]["readings"]["interface_types"] = serde_json::json!([]);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    std::fs::write(&file, made.to_string()).unwrap();
    let untyped = &survey(&["--from", file.to_str().unwrap()])[0];
    assert_eq!(untyped["verdict"], raw["verdict"]);
    assert_eq!(untyped["causes"][0]["fault"], raw["causes"][0]["fault"]);
    assert_eq!(untyped["causes"][0]["certainty"], raw["causes"][0]["certainty"]);
}

/// A limits table that cannot be (low above high, all ones, all zero) is called so on screen and
/// in JSON, and the link is judged by the published limit: 35.5 uW is -14.5 dBm, and 10GBASE-SR
/// takes -9.9 dBm at least (IEEE 802.3 clause 52).
#[test]
fn nonsense_limits_are_called_so() {
    let (port, page) = limits("nonsense-limits");
    assert!(has_doubt(&port, "thresholds-impossible"), "{port:#}");
    assert!(page.contains("the module's limits cannot be: temperature, supply"), "{page}");
    assert!(page.contains("limits are all zero"), "{page}");
    assert_eq!(port["verdict"], "fault");
    assert_eq!(port["causes"][0]["fault"], "excess-loss");
    assert!(first_source(&port).starts_with("IEEE 802.3 clause 52"), "{port:#}");
    for what in ["receive power, low", "receive power, high", "temperature, high"] {
        let judged = judged_by(&port, what);
        assert!(judged["own_limit"].is_string(), "{judged}");
        assert!(!judged["source"].as_str().unwrap().contains("own"), "{judged}");
    }
    assert!(page.contains("judged by receive power, low: least -9.90 dBm [IEEE 802.3"), "{page}");
}

/// A module that contradicts itself is called what it is. A link that runs all the same is
/// healthy; where light is short, the cause rests on the doubted type and is no more than likely.
#[test]
fn a_lying_module_is_called_so() {
    let kinds = [
        "thresholds-impossible",
        "checksum-wrong",
        "short-reach-type-with-long-wavelength",
        "nominal-rate-contradicts-type",
    ];
    for (name, verdict) in [("lying-and-fine", "attention"), ("lying-and-weak", "fault")] {
        let (port, page) = limits(name);
        assert_eq!(port["verdict"], verdict, "{port:#}");
        for kind in kinds {
            assert!(has_doubt(&port, kind), "{name}: {kind}");
        }
        for words in [
            "limits cannot be",
            "CC_BASE does not match",
            "the wavelength is 1310 nm",
            "the nominal rate is 10300 MBd",
        ] {
            assert!(page.contains(words), "{name}: {words}: {page}");
        }
        assert!(
            judged_by(&port, "receive power, low")["source"]
                .as_str()
                .unwrap()
                .starts_with("IEEE 802.3 clause 95")
        );
    }
    let (fine, _) = limits("lying-and-fine");
    // The wavelength excludes the type; with a wrong checksum over them that is no more than possible.
    let headline = fine["headline"].as_str().unwrap();
    assert!(headline.contains("Possible: the module is not what it says it is"), "{fine:#}");
    let (weak, page) = limits("lying-and-weak");
    let cause = &weak["causes"][0];
    // One lane of four gets -14.0 dBm, the others about -3 dBm.
    assert_eq!(cause["fault"], "lane-fault");
    // Enough for "established", were the type to be believed.
    assert!(cause["decibans"].as_i64().unwrap() >= 20, "{cause:#}");
    assert_eq!(cause["certainty"], "likely");
    assert_eq!(cause["doubts"][0]["kind"], "checksum-wrong");
    assert!(page.contains("no more than likely, since it rests on what the module says"), "{page}");
}

/// A wrong checksum alone keeps nothing from being healthy, and is never hidden.
#[test]
fn a_wrong_checksum_alone_is_said() {
    let (port, page) = limits("checksum-wrong");
    assert_eq!(port["verdict"], "healthy");
    assert!(has_doubt(&port, "checksum-wrong"));
    assert!(port["headline"].as_str().unwrap().contains("CC_BASE does not match"), "{port:#}");
    assert!(page.contains("doubt: checksum CC_BASE does not match"), "{page}");
    let shown = text(&run(&["survey", "--from", "fixtures/limits/checksum-wrong.json"]));
    assert!(shown.contains("doubt"), "{shown}");
}

/// Pages that are all alike: where the readings stand on them (CMIS page 11h) nobody can tell; where
/// only the limits do (SFF-8636 page 03h) the published ones are used. Both are said.
#[test]
fn pages_that_are_all_alike_are_said() {
    let ports = survey(&["berth50", "--from", "fixtures/rack/winch.json"]);
    assert_eq!(ports[0]["verdict"], "unknown", "{:#}", ports[0]);
    assert!(has_doubt(&ports[0], "pages-identical"));

    let (port, page) = limits("pages-ignored");
    assert_eq!(port["verdict"], "healthy", "{port:#}");
    assert!(has_doubt(&port, "pages-identical"));
    assert!(port["headline"].as_str().unwrap().contains("ignores the page number"), "{port:#}");
    assert!(page.contains("ignores the page number"), "{page}");
    let judged = judged_by(&port, "receive power, low");
    assert!(judged["source"].as_str().unwrap().starts_with("IEEE 802.3 clause 95"), "{judged}");
}

/// Readings that cannot be: light although both transmitters are off, a cold outside physics.
#[test]
fn readings_that_cannot_be_are_not_healthy() {
    let (port, page) = limits("light-from-nowhere");
    assert!(has_doubt(&port, "reading-impossible"), "{port:#}");
    let words = "is received although both ends say that their transmitters are off";
    assert!(page.contains(words), "{page}");
    assert_eq!(port["causes"][0]["fault"], "tx-disabled");
    assert_eq!(port["causes"][0]["certainty"], "likely");
    assert_eq!(port["causes"][0]["doubts"][0]["kind"], "reading-impossible");
    // Without the far end's word nothing contradicts it.
    let alone = survey(&["--from", "fixtures/limits/light-from-nowhere.json"]);
    assert!(!has_doubt(&alone[0], "reading-impossible"));
    assert_eq!(alone[0]["causes"][0]["certainty"], "established");

    // 8000h is -128 °C, 7FFFh 127.996 °C: no module is as cold.
    let cold = with_words("optic-without-limits", &[(TEMPERATURE, 0x8000)], 0);
    assert_eq!(cold["verdict"], "unknown", "{cold:#}");
    assert!(has_doubt(&cold, "reading-impossible"));
}

/// The page with the limits is lost: the published limit of the type is used, and that is said, and
/// so is the read that failed; where the type has none, the limits are missing.
#[test]
fn a_lost_limit_page() {
    let (port, page) = limits("limit-page-lost");
    assert_eq!(port["verdict"], "attention", "{port:#}");
    assert_eq!(port["causes"][0]["fault"], "module-unreadable", "{port:#}");
    let judged = judged_by(&port, "receive power, low");
    assert!(judged["source"].as_str().unwrap().starts_with("IEEE 802.3 clause 95"), "{judged}");
    assert!(judged["own_limit"].as_str().unwrap().contains("bus failed"), "{judged}");
    assert!(page.contains("the module's own: the module's management bus failed"), "{page}");

    let (port, page) = limits("limit-page-lost-no-type");
    assert_eq!(port["verdict"], "attention", "{port:#}");
    assert!(page.contains("limits of the receive power"), "{page}");
}

/// The data-not-ready bit (SFF-8472 A2h byte 110 bit 0) of an SFP whose link is down: likely, since
/// some modules forget to clear it.
#[test]
fn an_sfp_whose_readings_are_not_ready() {
    let path = fixtures().join("hosts/ballast.json");
    let mut made: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let store = &mut made["ports"][0];
    let bytes = &mut store["module"]["memory"][1]["bytes"];
    let mut hex = bytes.as_str().unwrap().to_owned();
    hex.replace_range(2 * 110..2 * 111, "01");
    *bytes = hex.into();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    std::fs::write(&file, made.to_string()).unwrap();
    let ports = survey(&["store0", "--from", file.to_str().unwrap()]);
    let cause = &ports[0]["causes"][0];
    assert_eq!(cause["fault"], "module-not-ready", "{:#}", ports[0]);
    assert_eq!(cause["certainty"], "likely");
    assert!(ports[0]["headline"].as_str().unwrap().contains("not ready"), "{:#}", ports[0]);
}

/// A module in low power: said first, and the next step is about the module.
#[test]
fn a_module_that_is_not_ready() {
    let ports = survey(&["berth54", "--from", "fixtures/rack/winch.json"]);
    assert_eq!(ports[0]["verdict"], "fault");
    let headline = ports[0]["headline"].as_str().unwrap();
    assert!(headline.contains("not ready: low power"), "{headline}");
    let cause = &ports[0]["causes"][0];
    assert_eq!((&cause["fault"], &cause["part"]), (&"module-low-power".into(), &"module".into()));
    let next = cause["next_test"].as_str().unwrap();
    assert!(next.starts_with("Look at the module first") && !next.contains("far"), "{next}");
    assert!(cause["cautions"].to_string().contains("laser"));
}

// ---- what a driver counts under names of its own ----------------------------------------

/// `office0` of keel with these counters at both instants, and FEC counters as the driver offers
/// them: its survey line, and its page with the lines joined.
fn with_private(counts: &[(&str, [u64; 2])], fec: &Value) -> (Value, String) {
    private_on("keel", "office0", counts, fec)
}

fn private_on(host: &str, name: &str, counts: &[(&str, [u64; 2])], fec: &Value) -> (Value, String) {
    let path = fixtures().join(format!("hosts/{host}.json"));
    let mut made: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    made["ports"] = vec![port(made["ports"].as_array().unwrap(), name).clone()].into();
    for place in [0, 1] {
        let instant = &mut made["ports"][0]["instants"][place];
        instant["fec_counters"] = fec.clone();
        for (name, values) in counts {
            instant["private_counters"][name] = values[place].into();
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x.json");
    std::fs::write(&file, made.to_string()).unwrap();
    let from = ["--from", file.to_str().unwrap()];
    let page = text(&run(&["explain", name, from[0], from[1]]));
    assert!(page.chars().all(|c| c == '\n' || !c.is_control()), "{page:?}");
    let joined = page.split_whitespace().collect::<Vec<_>>().join(" ");
    (survey(&from)[0].clone(), joined)
}

/// A driver's own counter stands in where it offers no standard one, and only then; its name and
/// what it is taken for are said. One that stands still says nothing.
#[test]
fn a_drivers_own_counters_stand_in() {
    let not_offered = serde_json::json!({"missing": {"reason": "not-supported"}});
    let kept = serde_json::json!({"uncorrectable_blocks": {"total": 0}});
    let not_asked = serde_json::json!({"missing": {"reason": "not-asked"}});
    let lost = ("fec_uncorrectable_blocks", [5, 17]);
    let (port, page) = with_private(&[lost], &not_offered);
    assert_eq!(port["verdict"], "fault", "{page}");
    assert_eq!(port["symptoms"], serde_json::json!(["errors"]), "{page}");
    assert!(page.contains("driver's own fec_uncorrectable_blocks: 12 in 1.0 s"), "{page}");
    // On a link with a cause it is evidence, with its source.
    let (port, _) = private_on("ballast", "pool0", &[lost], &not_offered);
    let evidence = port["causes"][0]["evidence"].as_array().unwrap();
    let said = evidence
        .iter()
        // 6.20 and 20.96 are the tabulated limits of 12 (Garwood 1936, 95 %; from memory).
        .find(|row| row["observed"] == "12 in 1.0 s, between 6.2 and 21 a second")
        .unwrap();
    let source = said["source"].as_str().unwrap();
    assert!(source.starts_with("the driver's own counter fec_uncorrectable_blocks, "), "{source}");
    assert!(source.contains("(IEEE 802.3 30.5.1.1.18) [from memory, not read"), "{source}");
    for (counts, fec) in [
        (lost, &kept),
        (lost, &not_asked),
        (("fec_uncorrectable_blocks", [17, 17]), &not_offered),
        // It went back: the driver was restarted.
        (("fec_uncorrectable_blocks", [17, 5]), &not_offered),
        // What a register reads where no device answers.
        (("fec_uncorrectable_blocks", [5, u64::MAX]), &not_offered),
        // Nobody knows what this means.
        (("fec_uncorrectable_blocks #2", [5, 17]), &not_offered),
        // Symbols are no codewords.
        (("rx_pcs_symbol_err_phy", [5, 17]), &not_offered),
    ] {
        let (port, page) = with_private(&[counts], fec);
        assert_eq!(port["verdict"], "healthy", "{counts:?}: {page}");
    }
}

/// Those that grow are listed with their meaning, the nearest to damage first, ten at most.
#[test]
fn a_drivers_own_counters_are_listed() {
    let fec = serde_json::json!({"missing": {"reason": "not-applicable"}});
    let names: Vec<String> = (0..11).map(|lane| format!("rx_err_lane_{lane}_phy")).collect();
    let mut counts: Vec<(&str, [u64; 2])> =
        names.iter().map(|name| (name.as_str(), [0, 3])).collect();
    counts.extend([
        ("rx_pause", [1, 2]),
        ("rx_pcs_symbol_err_phy", [0, 9]),
        ("rx_queue_0_packets", [0, 99]),
        ("rx_discards_phy", [4, 4]),
        ("evil\u{1b}[2J\u{202e}", [0, 1]),
    ]);
    let (_, page) = with_private(&counts, &fec);
    assert_eq!(page.matches("driver's own ").count(), 11, "{page}");
    let first =
        page.find("driver's own rx_pcs_symbol_err_phy: 9 in 1.0 s: symbols that are no valid");
    assert!(first < page.find("rx_err_lane_0_phy") && first.is_some(), "{page}");
    assert!(page.contains("driver's own and 3 more that grew"), "{page}");
    for absent in ["rx_queue_0_packets", "rx_discards_phy", "evil"] {
        assert!(!page.contains(absent), "{absent}: {page}");
    }
}

/// The verdict's sentence says how sure its cause is, in the word that stands beside the cause.
#[test]
fn every_headline_says_how_sure_it_is() {
    let mut words = std::collections::BTreeSet::new();
    for entry in std::fs::read_dir(fixtures().join("faults")).unwrap() {
        let path = entry.unwrap().path().join("present-1.json");
        for port in survey(&["--from", path.to_str().unwrap()]) {
            let Some(cause) = port["causes"].get(0) else { continue };
            // A port that is not in use is told as that.
            if port["verdict"] == "idle" {
                continue;
            }
            let word = cause["certainty"].as_str().unwrap();
            let headline = port["headline"].as_str().unwrap().to_lowercase();
            assert!(headline.contains(&format!("{word}: ")), "{}: {headline}", path.display());
            words.insert(word.to_owned());
        }
    }
    assert_eq!(words.len(), 3, "{words:?}");
}
