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
    let same = said(same.to_str().unwrap());
    assert!(same.contains("with the same sums as here"), "{same}");
    assert!(!same.contains("other sums"), "{same}");
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
