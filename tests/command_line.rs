//! The command line as a user meets it: what it says of files and words that do not fit, and how
//! it keeps what it says short.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, json, run, text};
use serde_json::Value;

/// Words with single spaces: where a line was broken does not matter.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Each file that is too large is told by what it was taken for.
#[test]
fn a_huge_file_is_told_by_what_it_was_to_be() {
    let folder = tempfile::tempdir().unwrap();
    let huge = folder.path().join("huge");
    std::fs::File::create(&huge).unwrap().set_len(64 * 1024 * 1024 + 1).unwrap();
    let huge = huge.to_str().unwrap();
    let keel = "fixtures/hosts/keel.json";
    for (arguments, word, not) in [
        (["decode", huge].as_slice(), "memory image", "capture"),
        (&["survey", "--from", huge], "capture", "memory image"),
        (&["survey", "--from", keel, "--site", huge], "site file", "capture"),
    ] {
        let output = run(arguments);
        let said = complaint(&output);
        assert_eq!(output.status.code(), Some(1), "{said}");
        assert!(said.contains("larger than 64 MiB"), "{said}");
        assert!(said.contains(word) && !said.contains(not), "{said}");
    }
}

/// The kernel's sums are of its own reading: where they are not those of the bytes here, both are
/// explained, and where they are, that is said.
#[test]
fn sums_of_the_kernel_log_are_explained_beside_those_computed_here() {
    let path = "fixtures/faults/eeprom-checksum-corrupt/present-1.json";
    let said = |path: &str| words(&text(&run(&["explain", "--from", path])));
    let other = said(path);
    assert!(other.contains("computed 66h, held against stored 67h"), "{other}");
    let told = "with other sums (computed 5eh, stored 5fh) than those of the bytes read here";
    assert!(other.contains(told), "{other}");
    let folder = tempfile::tempdir().unwrap();
    let same = folder.path().join("same.json");
    let capture = std::fs::read_to_string(common::root().join(path)).unwrap();
    assert!(capture.contains("0x5e != 0x5f"), "{capture}");
    std::fs::write(&same, capture.replace("0x5e != 0x5f", "0x66 != 0x67")).unwrap();
    let whole = said(same.to_str().unwrap());
    assert!(whole.contains("with the same sums as here"), "{whole}");
    assert!(!whole.contains("other sums"), "{whole}");
    // Of some modules the kernel only warns, and writes it so.
    std::fs::write(&same, capture.replace(": 0x5e != 0x5f", " (0x66 != 0x67)")).unwrap();
    let whole = said(same.to_str().unwrap());
    assert!(whole.contains("with the same sums as here"), "{whole}");
}

/// Names that a page of `explain` holds under "Ruled out", and its last line there.
fn ruled_out(options: &[&str]) -> (Vec<String>, String) {
    let capture = ["explain", "store0", "--from", "fixtures/hosts/ballast.json"];
    let page = text(&run(&[&capture, options].concat()));
    let (_, section) = page.split_once("Ruled out\n").unwrap();
    let section: Vec<&str> = section.lines().take_while(|line| !line.is_empty()).collect();
    let named = section.iter().filter_map(|line| line.trim().split_once(": "));
    let names = named.map(|(name, _)| name.to_owned()).collect();
    (names, section.last().unwrap().trim().to_owned())
}

/// What is ruled out is cut to what the causes are mistaken for; the rest is counted, and one
/// option and JSON hold all of it.
#[test]
fn ruled_out_is_short_unless_all_is_asked_for() {
    let capture = ["explain", "store0", "--from", "fixtures/hosts/ballast.json"];
    let found = json(&run(&[&capture[..], &["--format", "json"]].concat()));
    let found = &found["ports"][0];
    let mut all: Vec<&str> = found["ruled_out"]
        .as_array()
        .unwrap()
        .iter()
        .collect::<Vec<_>>()
        .iter()
        .map(|out| out["fault"].as_str().unwrap())
        .collect();
    let (few, last) = ruled_out(&[]);
    assert_eq!(few.len(), 5, "{few:?}");
    assert_eq!(last, format!("and {} more; --all-ruled-out shows them", all.len() - few.len()));
    // The page of each cause names what it is mistaken for.
    let pages: String = found["causes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|cause| text(&run(&["faults", cause["fault"].as_str().unwrap()])))
        .collect();
    let alike = |name: &str| pages.contains(name);
    let most = all.iter().filter(|name| alike(name)).count();
    assert!(most > 0, "{pages}");
    assert_eq!(few.iter().filter(|name| alike(name)).count(), most.min(5), "{few:?}");
    let (mut whole, last) = ruled_out(&["--all-ruled-out"]);
    assert!(!last.contains("--all-ruled-out"), "{last}");
    all.sort_unstable();
    whole.sort_unstable();
    assert_eq!(whole, all);
}

/// A host's lines end with one of its own, which tells what could not be read for it as a whole;
/// only that line has a `type`.
#[test]
fn lines_end_with_the_host_and_its_gaps() {
    let survey = |format| {
        run(&["survey", "--from", "fixtures/odd/keel-unprivileged.json", "--format", format])
    };
    let document = json(&survey("json"));
    let lines = text(&survey("ndjson"));
    let lines: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let (host, ports) = lines.split_last().unwrap();
    assert_eq!(ports.len(), document["ports"].as_array().unwrap().len());
    assert!(ports.iter().all(|port| port.get("type").is_none() && port["name"].is_string()));
    assert_eq!(host["type"], "host");
    assert!(host["gaps"].as_array().unwrap().iter().any(|gap| gap["what"] == "kernel log"));
    for key in ["host", "taken_at", "gaps", "tool", "format"] {
        assert_eq!(host[key], document[key], "{key}");
    }
    let folder = text(&run(&["survey", "--from", "fixtures/hosts", "--format", "ndjson"]));
    let hosts = folder.lines().filter(|line| line.contains(r#""type":"host""#)).count();
    assert_eq!(hosts, 3, "one for each host: {folder}");
}

/// Where both ends lie in the folder and the site file joins them, each is the other's far end, as
/// if it had been named, and that is told.
#[test]
fn both_ends_in_a_folder_are_joined_by_the_site_file() {
    let explain = |port: &str, options: &[&str]| {
        let site = ["--site", "fixtures/site.toml"];
        run(&[&["explain", port], &site[..], options].concat())
    };
    let folder = ["--from", "fixtures/hosts"];
    let named = ["--from", "fixtures/hosts/keel.json", "--far", "fixtures/hosts/sounder.json"];
    let as_json = |options: &[&str]| {
        json(&explain("shed0", &[options, &["--format", "json"]].concat()))["ports"][0].clone()
    };
    let (mut joined, mut named) = (as_json(&folder), as_json(&named));
    let (how, named_how) = (joined["far_capture"].take(), named["far_capture"].take());
    assert_eq!(joined, named, "the same as with --far");
    assert_eq!((&how["host"], &how["port"]), (&Value::from("sounder"), &Value::from("boat0")));
    assert_eq!(how["joined_by_site_file"], true);
    assert_eq!(named_how["joined_by_site_file"], false);
    let page = words(&text(&explain("shed0", &folder)));
    assert!(page.contains("far end boat0 on sounder: its own capture"), "{page}");
    let page = words(&text(&explain("boat0", &folder)));
    assert!(page.contains("far end shed0 on keel: its own capture"), "the other way: {page}");
    let page = words(&text(&explain("lab0", &folder)));
    assert!(!page.contains("its own capture"), "nobody said where lab0 leads: {page}");
}

/// Of two captures of one host it is not known which one belongs to the other end's, and a far port
/// that two ports claim is nobody's: nothing is joined.
#[test]
fn ends_that_are_in_doubt_are_not_joined() {
    let hosts = common::fixtures().join("hosts");
    let joined = |also: &[(&str, &str)], site: &str| {
        let folder = tempfile::tempdir().unwrap();
        let copies = [("keel", "keel"), ("sounder", "sounder")];
        for (from, to) in copies.iter().chain(also) {
            let to = folder.path().join(format!("{to}.json"));
            std::fs::copy(hosts.join(format!("{from}.json")), to).unwrap();
        }
        let path = folder.path().join("site.toml");
        std::fs::write(&path, site).unwrap();
        let [folder, path] = [folder.path(), &path].map(|path| path.to_str().unwrap());
        let found = run(&["survey", "--from", folder, "--site", path, "--format", "ndjson"]);
        text(&found).matches(r#""joined_by_site_file":true"#).count()
    };
    let entry = |near: &str| {
        format!("[[port]]\nname = '{near}'\nfar = {{ host = 'sounder', port = 'boat0' }}\n")
    };
    assert_eq!(joined(&[], &entry("shed0")), 2, "both ends");
    assert_eq!(joined(&[("sounder", "sounder-in-spring")], &entry("shed0")), 0);
    assert_eq!(joined(&[("keel", "keel-in-spring")], &entry("shed0")), 0, "the other way");
    assert_eq!(joined(&[], &(entry("shed0") + &entry("lab0"))), 0);
    assert_eq!(joined(&[], &entry("boat0")), 0, "no port is its own far end");
}

/// A port that hears somebody else than the far end of the site file is not joined to it: cables
/// are moved, and the file may be old. The long form of the same name is the same neighbour.
#[test]
fn an_end_that_hears_somebody_else_is_not_joined() {
    let odd = std::fs::read_to_string(common::fixtures().join("odd/neighbour-heard.json")).unwrap();
    let odd: Value = serde_json::from_str(&odd).unwrap();
    let hosts = common::fixtures().join("hosts");
    for (host, port, joined) in [
        ("sounder", "boat0", true),
        ("Sounder.survey.example", "boat0", true),
        ("winch", "boat0", false),
        ("sounder", "boat1", false),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let mut keel: Value =
            serde_json::from_str(&std::fs::read_to_string(hosts.join("keel.json")).unwrap())
                .unwrap();
        let mut heard = odd["ports"][0]["neighbours"].clone();
        heard[0]["system_name"] = host.into();
        heard[0]["port"]["name"] = port.into();
        keel["ports"][1]["neighbours"] = heard;
        let mut sounder: Value =
            serde_json::from_str(&std::fs::read_to_string(hosts.join("sounder.json")).unwrap())
                .unwrap();
        let mut second = sounder["ports"][0].clone();
        second["name"] = "boat1".into();
        second["index"] = 77.into();
        sounder["ports"].as_array_mut().unwrap().push(second);
        for (name, capture) in [("keel", &keel), ("sounder", &sounder)] {
            let path = folder.path().join(format!("{name}.json"));
            std::fs::write(path, capture.to_string()).unwrap();
        }
        let from = folder.path().to_str().unwrap();
        for end in ["shed0", "boat0"] {
            let output = run(&["explain", end, "--from", from, "--site", "fixtures/site.toml"]);
            let page = words(&text(&output));
            assert_eq!(page.contains("its own capture"), joined, "{host}/{port}: {page}");
            let told = format!("keel/shed0 to sounder/boat0, but it hears {host}/{port}");
            assert_eq!(!complaint(&output).contains(&told), joined, "{}", complaint(&output));
        }
    }
}

/// What a neighbour announces joins nobody, but where its capture is here as well, that is told.
#[test]
fn a_neighbour_whose_capture_is_here_is_pointed_at() {
    let folder = tempfile::tempdir().unwrap();
    let odd = common::fixtures().join("odd/neighbour-heard.json");
    std::fs::copy(odd, folder.path().join("keel.json")).unwrap();
    let sounder = common::fixtures().join("hosts/sounder.json");
    let sounder = std::fs::read_to_string(sounder).unwrap();
    let far = folder.path().join("sounder.json");
    let from = folder.path().to_str().unwrap();
    let hint = "keel/desk1 hears sounder/boat3";
    // The neighbour calls its port boat3: the capture of another port of that host says nothing.
    for (name, told) in [("boat0", false), ("boat3", true)] {
        std::fs::write(&far, sounder.replace("\"boat0\"", &format!("\"{name}\""))).unwrap();
        let output = run(&["explain", "desk1", "--from", from]);
        assert_eq!(complaint(&output).contains(hint), told, "{}", complaint(&output));
        assert!(!text(&output).contains("its own capture"), "{}", text(&output));
    }
    let named = run(&["explain", "desk1", "--from", from, "--far", far.to_str().unwrap()]);
    assert!(!complaint(&named).contains(hint), "{}", complaint(&named));
}

/// Runs a command with this site file; what it complains of, and its exit code.
fn with_site(site: &str, arguments: &[&str]) -> (String, i32) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("site.toml");
    std::fs::write(&path, site).unwrap();
    let output = run(&[arguments, &["--site", path.to_str().unwrap()]].concat());
    (words(&complaint(&output)), output.status.code().unwrap())
}

/// An entry of the site file that is of no port here is told, with what was most likely meant; the
/// outcome stays.
#[test]
fn entries_of_the_site_file_that_are_of_no_port_here_are_told() {
    let survey = ["survey", "--from", "fixtures/hosts/keel.json"];
    let bare = run(&survey).status.code().unwrap();
    let entry = |host: &str, name: &str| format!("[[port]]\nhost = '{host}'\nname = '{name}'\n");
    let shed0 = || entry("keel", "shed0");
    let none = "the site file: none of its entries is used; no such";
    for (site, told) in [
        (shed0(), String::new()),
        ("[[port]]\nname = 'shed0'\n".into(), String::new()),
        (entry("keel", "shedO"), format!("{none} port is here: keel/shedO (did you mean shed0?)")),
        (
            "[[port]]\nname = 'shedO'\n".into(),
            format!("{none} port is here: shedO (did you mean shed0?)"),
        ),
        (entry("kee1", "shed0"), format!("{none} host is here: kee1 (did you mean keel?)")),
        (entry("ballast", "pool0"), format!("{none} host is here: ballast")),
        // One file may serve the whole site.
        (shed0() + &entry("ballast", "pool0"), String::new()),
        (
            shed0() + &entry("kee1", "lab0"),
            "the site file: no such host is here: kee1 (did you mean keel?)".into(),
        ),
        // shed0 has its own entry: it is not what was meant.
        (
            shed0() + &entry("keel", "shed1"),
            "the site file: no such port is here: keel/shed1".into(),
        ),
        (String::new(), "the site file: it has no entry, [[port]]".into()),
    ] {
        let (said, code) = with_site(&site, &survey);
        let told = if told.is_empty() { told } else { format!("linkwright: hint: {told}") };
        assert_eq!(said, told, "{site}");
        assert_eq!(code, bare, "{site}");
    }
    // Where one port is asked for, that it has no entry is what counts.
    let explain = ["explain", "shed0", "--from", "fixtures/hosts/keel.json"];
    let (said, _) = with_site(&entry("keel", "shedO"), &explain);
    assert!(said.contains("no entry is for keel/shed0; the nearest is keel/shedO"), "{said}");
    let both = entry("keel", "shed0") + &entry("ballast", "pool0");
    assert_eq!(with_site(&both, &explain).0, "");
}

/// A far port of the site file that is not in the capture of --far is told with the nearest name;
/// the capture of another port is not taken for it.
#[test]
fn a_far_port_that_is_not_in_the_far_capture_is_told() {
    let site = |port: &str| {
        format!("[[port]]\nname = 'shed0'\n[port.far]\nport = '{port}'\nbest_mbps = 10000\n")
    };
    let explain = ["explain", "shed0", "--from", "fixtures/hosts/keel.json"];
    let with_far = [&explain[..], &["--far", "fixtures/hosts/sounder.json"]].concat();
    let (said, code) = with_site(&site("boatO"), &with_far);
    assert!(said.contains("boatO is at the far end of shed0"), "{said}");
    assert!(
        said.contains("host sounder) has no such port, so it is not used; did you mean boat0?")
    );
    assert_eq!(code, with_site(&site("boatO"), &explain).1, "as without that capture");
    assert_eq!(with_site(&site("boat0"), &with_far).0, "");
}

/// A port is not its own far end, whatever is named by --far.
#[test]
fn a_port_is_not_its_own_far_end() {
    let keel = "fixtures/hosts/keel.json";
    let alone = run(&["explain", "shed0", "--from", keel]);
    let itself = run(&["explain", "shed0", "--from", keel, "--far", keel, "--far-port", "shed0"]);
    assert!(complaint(&itself).contains("shed0 itself"), "{}", complaint(&itself));
    assert_eq!(text(&alone), text(&itself));
    // Another port there may well be: a cord between two of one host.
    let other = run(&["explain", "shed0", "--from", keel, "--far", keel, "--far-port", "lab0"]);
    assert!(!complaint(&other).contains("itself"), "{}", complaint(&other));
}

/// The capture of --far is of one link's other end: no other port is judged by it.
#[test]
fn a_far_end_serves_its_own_link_alone() {
    let far = ["--far", "fixtures/hosts/sounder.json"];
    let hosts = ["survey", "--from", "fixtures/hosts/ballast.json", "--site", "fixtures/site.toml"];
    let without = run(&hosts);
    let with = run(&[&hosts[..], &far].concat());
    assert_eq!(text(&with), text(&without), "sounder is at no end of ballast's links");
    assert!(complaint(&with).contains("not used there"), "{}", complaint(&with));
    let keel = ["explain", "office0", "--from", "fixtures/hosts/keel.json"];
    let office = run(&[&keel[..], &["--site", "fixtures/site.toml"], &far].concat());
    assert!(!text(&office).contains("Light between"), "{}", text(&office));
    // One port alone, and nobody says otherwise: it is its far end.
    let shed = ["explain", "shed0", "--from", "fixtures/hosts/keel.json"];
    assert!(text(&run(&[&shed[..], &far].concat())).contains("Light between the ends"));
}

/// What is said where it fails, and the exit code.
fn refused(arguments: &[&str], code: i32) -> String {
    let output = run(arguments);
    let said = words(&complaint(&output));
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
    said
}

/// A file where a port, a command or a second --from is not expected: what to write instead.
#[test]
fn a_file_in_the_wrong_place_is_told_where_it_goes() {
    let keel = "fixtures/hosts/keel.json";
    for command in ["explain", "survey"] {
        let said = refused(&[command, keel], 1);
        assert!(said.contains(&format!("a file, not a port: give a capture with --from {keel}")));
    }
    let said = refused(&[keel], 2);
    assert!(said.contains(&format!("linkwright survey --from {keel}")), "{said}");
    for arguments in [
        ["survey", "--from", keel, "fixtures/hosts/ballast.json"].as_slice(),
        &["explain", "shed0", "--from", keel, "fixtures/hosts/ballast.json"],
        &["survey", "--from", keel, "--from", keel],
    ] {
        let code = if arguments.len() == 5 && arguments[3] == "--from" { 2 } else { 1 };
        let said = refused(arguments, code);
        assert!(said.contains("takes one capture") && said.contains("one folder"), "{said}");
    }
}

/// The command that is advised looks at the same capture.
#[test]
fn advice_names_the_capture_that_is_looked_at() {
    let keel = "fixtures/hosts/keel.json";
    let survey = format!("linkwright survey --from {keel}");
    assert!(refused(&["explain", "zz9", "--from", keel], 1).contains(&survey));
    assert!(refused(&["explain", "--from", keel], 1).contains(&survey));
}

/// A fault's name as one says it, or a part of it.
#[test]
fn a_fault_is_found_by_what_one_calls_it() {
    let page = text(&run(&["faults", "Power budget exceeded"]));
    assert!(page.starts_with("# power-budget-exceeded"), "{page}");
    let said = refused(&["faults", "power budget"], 1);
    assert!(said.contains("Did you mean power-budget-exceeded?"), "{said}");
    let said = refused(&["faults", "thermal"], 1);
    assert!(said.contains("rj45-sfp-thermal, or nic-thermal-throttle"), "{said}");
    assert!(!refused(&["faults", "zzz"], 1).contains("Did you mean"));
}

/// An option of another command names that command.
#[test]
fn an_option_of_another_command_names_it() {
    let said = refused(&["survey", "--symptom", "slow"], 2);
    assert!(said.contains("--symptom is an option of: explain"), "{said}");
    let said = refused(&["compare", "--from", "fixtures/hosts/keel.json"], 2);
    assert!(said.contains("linkwright compare THEN.json NOW.json"), "{said}");
}

/// A folder is not looked into deeper, and says where captures lie.
#[test]
fn captures_in_folders_of_a_folder_are_pointed_at() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("case1");
    std::fs::create_dir(&inner).unwrap();
    let outer = folder.path().to_str().unwrap();
    assert!(!refused(&["survey", "--from", outer], 1).contains("name one"));
    std::fs::write(inner.join("host.json"), "{}").unwrap();
    let said = refused(&["survey", "--from", outer], 1);
    assert!(said.contains(&format!("name one, --from {}", inner.display())), "{said}");
}

/// Several captures of one host are told apart by their files.
#[test]
fn captures_of_one_host_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["monday.json", "tuesday.json"] {
        std::fs::copy("fixtures/hosts/keel.json", folder.path().join(name)).unwrap();
    }
    let path = folder.path().to_str().unwrap();
    let page = text(&run(&["survey", "--from", path]));
    for name in ["monday.json", "tuesday.json"] {
        assert!(page.contains(&format!("keel ({name}): ")), "{page}");
    }
    let said = refused(&["explain", "shed0", "--from", path], 1);
    assert!(
        said.contains("in several captures of keel here (monday.json, tuesday.json)"),
        "{said}"
    );
    let alone = text(&run(&["survey", "--from", "fixtures/hosts"]));
    assert!(!alone.contains("keel.json"), "{alone}");
}

/// What a fault's own capture says, as text and as JSON.
fn fault_page(path: &std::path::Path) -> (String, Value) {
    let site = path.with_extension("site.toml");
    let far = path.with_extension("far.json");
    let mut arguments = vec!["explain", "--from", path.to_str().unwrap()];
    for (option, file) in [("--site", &site), ("--far", &far)] {
        if file.exists() {
            arguments.extend([option, file.to_str().unwrap()]);
        }
    }
    let page = text(&run(&arguments));
    (page, json(&run(&[&arguments[..], &["--format", "json"]].concat())))
}

/// Every counter that a cause rests on stands among the counters too, with what it grew by.
#[test]
fn counters_that_a_cause_rests_on_are_shown() {
    let mut counted = 0;
    for path in common::files(&common::fixtures().join("faults"), ".json") {
        let name = path.file_name().unwrap().to_str().unwrap();
        if !name.starts_with("present") || name.ends_with(".far.json") {
            continue;
        }
        let (page, found) = fault_page(&path);
        let counters = page.split_once("\nCounters\n").map_or("", |(_, rest)| rest);
        let counters = words(counters.split("\n\n").next().unwrap());
        for cause in found["ports"][0]["causes"].as_array().unwrap() {
            for row in cause["evidence"].as_array().unwrap() {
                let (what, observed) =
                    (row["text"].as_str().unwrap(), row["observed"].as_str().unwrap());
                let Some((by, _)) = observed.split_once(" in ") else { continue };
                let ours = !what.contains("at the far end");
                if ours && by.parse::<u64>().is_ok_and(|by| by > 0) {
                    assert!(counters.contains(&format!("{by} ")), "{name}: {what}: {counters}");
                    counted += 1;
                }
            }
        }
    }
    assert!(counted > 10, "{counted}");
}

/// Light that jumps is shown at its least with the time, and judged by it.
#[test]
fn light_that_jumps_is_judged_by_its_least() {
    let path = common::fixtures().join("faults/intermittent-contact/present-1.json");
    let mut capture: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("near.json");
    let mut explained = |least: f64| {
        let instants = capture["ports"][0]["instants"].as_array_mut().unwrap();
        for (place, instant) in instants.iter_mut().enumerate() {
            let light = if place == 0 { least } else { 0.5 };
            instant["received_milliwatts"] = serde_json::json!([light]);
            instant["counters"]["receive_check_sequence_errors"] = (place * 400).into();
            instant["counters"]["receive_errors"] = (place * 400).into();
        }
        std::fs::write(&file, capture.to_string()).unwrap();
        words(&text(&run(&["explain", "--from", file.to_str().unwrap(), "--all-ruled-out"])))
    };
    // 0.1 mW is -10 dBm; the module warns below less, and 0.02 mW (-17 dBm) is below that.
    let page = explained(0.1);
    assert!(page.contains("jumps received -10.00 dBm at 0.0 s"), "{page}");
    assert!(
        page.contains(
            "excess-loss: enough light arrives, though it jumps (-10.00 dBm at the least"
        ),
        "{page}"
    );
    let page = explained(0.02);
    assert!(page.contains("jumps received -16.99 dBm at 0.0 s"), "{page}");
    assert!(!page.contains("excess-loss: enough light arrives"), "{page}");
    assert!(!page.contains("No limit is crossed yet"), "{page}");
}

/// The page of a changed capture, with single spaces.
fn page_of(capture: &Value, options: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("near.json");
    std::fs::write(&file, capture.to_string()).unwrap();
    let port = capture["ports"][0]["name"].as_str().unwrap();
    let arguments = ["explain", port, "--from", file.to_str().unwrap()];
    words(&text(&run(&[&arguments[..], options].concat())))
}

fn capture_of(name: &str) -> Value {
    let path = common::fixtures().join("faults").join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// What a leading cause of this end's transmitter does not explain is said; where light arrives there
/// is nothing to say. The cause is established by the driver's word, without the module's, and the
/// fault's page agrees.
#[test]
fn darkness_that_the_cause_does_not_explain_is_told() {
    let mut capture = capture_of("power-budget-exceeded/present-1.json");
    let lit = page_of(&capture, &[]);
    assert!(lit.contains("Established: the module (power class"), "{lit}");
    assert!(!lit.contains("allowed the module its power class"), "{lit}");
    assert!(!lit.contains("Not explained by it"), "{lit}");
    let fault = words(&text(&run(&["faults", "power-budget-exceeded"])));
    assert!(
        fault.contains("does not arise where the driver or the kernel says outright"),
        "{fault}"
    );
    // SFF-8636 page 00h: receive power of lanes 1 to 4 in bytes 34-41.
    let memory = &mut capture["ports"][0]["module"]["memory"][0]["bytes"];
    let hex = memory.as_str().unwrap().to_owned();
    *memory = format!("{}{}{}", &hex[..68], "0".repeat(16), &hex[84..]).into();
    let dark = page_of(&capture, &[]);
    assert!(dark.contains("Cause 1: the module needs more power than the cage gives"), "{dark}");
    assert!(dark.contains("Not explained by it: no light arrives here"), "{dark}");
}

/// What only the user's own file makes certain is said to hang on it; what the host saw is not.
#[test]
fn what_the_site_file_carries_says_so() {
    let told = common::fixtures().join("faults/fibre-type-mismatch/present-1.json");
    let (page, _) = fault_page(&told);
    let page = words(&page);
    assert!(page.contains("Established, if the site file is right: the fibre is"), "{page}");
    assert!(page.contains("without what the site file says it would be possible"), "{page}");
    let keel = ["--from", "fixtures/hosts/keel.json", "--site", "fixtures/site.toml"];
    let slot = words(&text(&run(&[&["explain", "lab0"], &keel[..]].concat())));
    assert!(slot.contains("Established: the slot carries"), "{slot}");
}

/// A cause that needs healthy light is ruled out by weak light in words that do not read as for it.
#[test]
fn weak_light_rules_out_in_plain_words() {
    let (page, _) = fault_page(&common::fixtures().join("faults/excess-loss/present-1.json"));
    let page = words(&page);
    let said = "mmf-reach-exceeded: the light is not within its limits: less than the limit";
    assert!(page.contains(said), "{page}");
    assert!(!page.contains("one low lane"), "of a module of one lane: {page}");
}

/// A module that contradicts itself: as many doubts as contradictions, what it probably is, and that
/// it can wait while nothing suffers.
#[test]
fn a_miscoded_module_is_told_whole() {
    let mut capture = capture_of("module-miscoded/present-1.json");
    let down = page_of(&capture, &[]);
    assert!(down.contains("It is probably for single-mode fibre"), "{down}");
    assert!(down.contains("2 contradictions"), "{down}");
    assert_eq!(down.matches(" doubt: ").count(), 2, "{down}");
    assert!(!down.contains("RJ45") && !down.contains("Not urgent"), "{down}");
    let healthy = capture_of("weak-transmitter/present-1.json");
    for key in ["carrier", "operational_state", "ethernet", "instants"] {
        capture["ports"][0][key] = healthy["ports"][0][key].clone();
    }
    let up = page_of(&capture, &[]);
    assert!(
        up.contains("ATTENTION") && up.contains("Not urgent: no damage is being counted"),
        "{up}"
    );
}

/// The port's fastest mode is named by the module's type, and several are not told as one.
#[test]
fn the_fastest_mode_fits_the_module() {
    let mut capture = capture_of("weak-transmitter/present-1.json");
    let page = page_of(&capture, &[]);
    assert!(page.contains("fastest mode the port supports for this module: 10GBASE-SR"), "{page}");
    capture["ports"][0]["ethernet"]["supported_modes"] =
        serde_json::json!(["1000BASE-X", "10GBASE-LR", "10GBASE-CR"]);
    let page = page_of(&capture, &[]);
    assert!(page.contains("fastest modes the port supports: 10GBASE-LR, 10GBASE-CR"), "{page}");
}

/// A step of a fault's page that interrupts a link says so, as `explain` does of a link that is up.
#[test]
fn a_faults_page_says_what_stops_traffic() {
    let mut stops = 0;
    for fault in linkwright::faults::CATALOGUE {
        let page = words(&text(&run(&["faults", fault.name])));
        let (_, steps) = page.split_once("What to do next").unwrap();
        let (steps, _) = steps.split_once("Usual remedy").unwrap();
        let wanted =
            fault.next_tests.iter().filter(|test| linkwright::diagnose::interrupts(test.step));
        let told = steps.matches("On a link that is up, traffic stops meanwhile").count();
        assert_eq!(told, wanted.count(), "{}: {steps}", fault.name);
        stops += told;
    }
    assert!(stops > 10, "{stops}");
}

/// Words that the output uses are in the glossary.
#[test]
fn the_glossary_has_the_words_in_use() {
    let terms = text(&run(&["explain", "--terms"])).to_lowercase();
    for term in [
        "twisted pair",
        "cr, sr, lr",
        "parallel detection",
        "late collision",
        "downshift",
        "power class, power level",
        "lane rate and coding",
        "latched",
        "from memory",
        "common practice",
    ] {
        assert!(terms.contains(&format!("\n  {term}")), "{term}");
    }
}

/// Causes come before readings; how sums come about is told once, and so is each caution in full.
#[test]
fn a_page_says_each_thing_once() {
    let ballast = ["--from", "fixtures/hosts/ballast.json", "--site", "fixtures/site.toml"];
    let page = text(&run(&[&["explain", "store0", "pool0"], &ballast[..]].concat()));
    assert_eq!(page.matches("How sure: ").count(), 1, "{page}");
    let port = page.split("pool0 on ballast").next().unwrap();
    let place = |heading: &str| port.find(heading).unwrap_or_else(|| panic!("{heading}: {port}"));
    assert!(place("Cause 1") < place("Ruled out"), "{port}");
    assert!(place("Ruled out") < place("Module readings"), "{port}");
    let several = common::fixtures().join("faults/module-partial-insertion/present-1.json");
    let page = words(&fault_page(&several).0);
    assert!(page.matches("Cause ").count() > 1, "{page}");
    assert!(page.contains("the same care as above: Invisible laser light"), "{page}");
    for caution in ["use no magnifier on a fibre", "wear an earthed wrist strap"] {
        assert_eq!(page.matches(caution).count(), 1, "{caution}: {page}");
    }
}
