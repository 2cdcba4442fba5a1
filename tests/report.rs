//! The report as a user makes it and as a supplier's engineer opens it. Pages are read by a general
//! HTML parser (`scraper`, on html5ever), and sums are held against `sha256sum` of the coreutils.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::time::Duration;

use base64::Engine as _;
use common::{complaint, files, fixtures, json, linkwright, run, text};
use linkwright::observe::capture::understand;
use proptest::prelude::*;
use scraper::{ElementRef, Html, Selector};
use serde_json::{Value, json};

const KEEP_ALL: [&str; 2] = ["--keep", "serials,addresses,hosts"];
const FORMS: [&str; 4] = ["html", "markdown", "text", "json"];

/// A demo capture with what lies beside it.
struct Demo {
    capture: String,
    ports: Vec<String>,
    knowing: Vec<String>,
}

fn demos() -> Vec<Demo> {
    let captures = files(&fixtures(), ".json");
    let captures = captures.iter().map(|path| path.to_str().unwrap());
    let demos: Vec<Demo> = captures
        .filter(|capture| !capture.ends_with(".far.json"))
        .map(|capture| {
            let stem = capture.trim_end_matches(".json");
            let mut knowing = Vec::new();
            for (option, ending) in [("--far", "far.json"), ("--site", "site.toml")] {
                let path = format!("{stem}.{ending}");
                if Path::new(&path).exists() {
                    knowing.extend([option.to_owned(), path]);
                } else if option == "--site" && capture.contains("/hosts/") {
                    knowing.extend([option.to_owned(), "fixtures/site.toml".to_owned()]);
                }
            }
            let value: Value = serde_json::from_slice(&std::fs::read(capture).unwrap()).unwrap();
            let ports = value["ports"].as_array().unwrap().iter();
            let ports = ports.map(|port| port["name"].as_str().unwrap().to_owned()).collect();
            Demo { capture: capture.to_owned(), ports, knowing }
        })
        .collect();
    assert!(demos.len() > 200, "{}", demos.len());
    assert!(demos.iter().any(|demo| demo.knowing.len() == 4));
    demos
}

fn explained(ports: &[String], from: &str, knowing: &[String]) -> Value {
    let output = linkwright()
        .arg("explain")
        .args(ports)
        .args(["--format", "json", "--from", from])
        .args(knowing)
        .output()
        .unwrap();
    json(&output)
}

/// The same, but for strings that hold a stand-in on the one side.
fn same_but_for_stand_ins(full: &Value, private: &Value, at: &str) {
    match (full, private) {
        (Value::Object(one), Value::Object(other)) => {
            assert_eq!(one.len(), other.len(), "{at}");
            for (key, value) in one {
                same_but_for_stand_ins(value, &other[key], &format!("{at}/{key}"));
            }
        }
        (Value::Array(one), Value::Array(other)) => {
            assert_eq!(one.len(), other.len(), "{at}");
            for (place, (one, other)) in one.iter().zip(other).enumerate() {
                same_but_for_stand_ins(one, other, &format!("{at}/{place}"));
            }
        }
        (Value::String(one), Value::String(other)) if one != other => {
            // The sum over bytes among which a serial number stands.
            let sum = one.starts_with("computed ") && other.starts_with("computed ");
            let stand_in = ["SERIAL-", "host-", "domain-", "192.0.2.", "2001:db8::", ":00:00:0"];
            assert!(
                sum || stand_in.iter().any(|word| other.contains(word)),
                "{at}: {one:?} {other:?}"
            );
        }
        _ => assert_eq!(full, private, "{at}"),
    }
}

/// Every demo capture: its report is read back to the same diagnosis, whole where everything is
/// kept, and but for names where not; and every page keeps the rules for pages.
#[test]
fn a_report_is_a_capture() {
    let demos = Mutex::new(demos());
    std::thread::scope(|threads| {
        for _ in 0..4 {
            threads.spawn(|| {
                loop {
                    let Some(demo) = demos.lock().unwrap().pop() else { return };
                    read_back(&demo);
                }
            });
        }
    });
}

fn read_back(demo: &Demo) {
    let Demo { capture, ports, knowing } = demo;
    if ports.is_empty() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let before = explained(ports, capture, knowing);
    for keep in [&[][..], &KEEP_ALL] {
        let file = folder.path().join(format!("{}.html", keep.len()));
        let file = file.to_str().unwrap();
        let mut command = linkwright();
        command.arg("report").args(ports).args(["--from", capture, "-o", file]);
        let made = command.args(knowing).args(keep).output().unwrap();
        assert_eq!(made.status.code(), Some(0), "{capture}: {}", complaint(&made));
        let after = explained(ports, file, &[]);
        if keep.is_empty() {
            same_but_for_stand_ins(&before, &after, capture);
        } else {
            assert_eq!(before, after, "{capture}");
        }
        let page = std::fs::read_to_string(file).unwrap();
        page_rules(&page, capture);
    }
}

fn select<'a>(page: &'a Html, what: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(what).unwrap()).collect()
}

fn shown(element: ElementRef<'_>) -> String {
    element.text().collect()
}

/// What HTML, WCAG 2.2 (1.1.1, 1.3.1, 2.4.2, 2.4.6, 3.1.1) and the page's own policy ask for.
fn page_rules(source: &str, name: &str) {
    let page = Html::parse_document(source);
    assert!(page.errors.is_empty(), "{name}: {:?}", page.errors);
    assert!(source.starts_with("<!DOCTYPE html>"), "{name}");
    // Nothing from outside, nothing that runs.
    let lower = source.to_lowercase();
    for resource in ["http:", "https:", " src=", "url(", "@import", "srcset", "<link", "<base"] {
        // Text of modules may say anything; here it does not.
        assert!(!lower.contains(resource), "{name}: {resource}");
    }
    for element in select(&page, "*") {
        let value = element.value();
        for (attribute, content) in value.attrs() {
            assert!(!attribute.starts_with("on") && attribute != "style", "{name}: {attribute}");
            if attribute == "href" {
                let target =
                    content.strip_prefix('#').unwrap_or_else(|| panic!("{name}: {content}"));
                assert_eq!(
                    select(&page, &format!("[id={target:?}]")).len(),
                    1,
                    "{name}: {content}"
                );
            }
        }
        assert!(
            !["img", "iframe", "object", "embed", "form", "use", "image", "foreignobject"]
                .contains(&value.name()),
            "{name}: {}",
            value.name()
        );
    }
    let scripts = select(&page, "script");
    assert_eq!(scripts.len(), 1, "{name}");
    assert_eq!(scripts[0].attr("type"), Some("application/json"), "{name}");
    // Language, title, viewport, landmarks, one h1, no level skipped.
    assert_eq!(select(&page, "html[lang=en]").len(), 1);
    assert!(!shown(select(&page, "title")[0]).is_empty());
    assert_eq!(select(&page, "meta[name=viewport]").len(), 1);
    for landmark in ["header", "main", "footer", "h1"] {
        assert_eq!(select(&page, landmark).len(), 1, "{name}: {landmark}");
    }
    let mut level = 0;
    for heading in select(&page, "h1, h2, h3, h4, h5") {
        let this: u32 = heading.value().name()[1..].parse().unwrap();
        assert!(this <= level + 1, "{name}: {}", shown(heading));
        level = this;
    }
    for table in select(&page, "table") {
        let one = |what: &str| table.select(&Selector::parse(what).unwrap()).count();
        assert_eq!(one("caption"), 1, "{name}");
        assert!(one("th[scope=col]") > 1 && one("th[scope=row]") > 0, "{name}");
        assert_eq!(one("th:not([scope])"), 0, "{name}");
        let cells = one("th[scope=col]");
        for row in table.select(&Selector::parse("tr").unwrap()) {
            assert_eq!(row.child_elements().count(), cells, "{name}");
        }
    }
    for drawing in select(&page, "svg") {
        assert_eq!(drawing.attr("role"), Some("img"), "{name}");
        assert_eq!(drawing.select(&Selector::parse("title").unwrap()).count(), 1, "{name}");
    }
    let ids: Vec<&str> = select(&page, "[id]").iter().map(|one| one.attr("id").unwrap()).collect();
    let once: std::collections::BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), once.len(), "{name}");
}

/// By the coreutils, not by a library that the program uses.
fn sha256(bytes: &[u8]) -> String {
    let mut child = Command::new("sha256sum")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("sha256sum of the coreutils is needed: {error}"));
    child.stdin.take().unwrap().write_all(bytes).unwrap();
    let output = child.wait_with_output().unwrap();
    text(&output).split(' ').next().unwrap().to_owned()
}

fn shed0(more: &[&str]) -> String {
    let mut all = vec!["report", "shed0", "--from", "fixtures/hosts/keel.json", "-o", "-"];
    all.extend(["--site", "fixtures/site.toml", "--far", "fixtures/hosts/sounder.json"]);
    all.extend(more);
    let output = run(&all);
    assert_eq!(output.status.code(), Some(0), "{}", complaint(&output));
    text(&output)
}

/// CSP 3: the source is the base64 of the SHA-256 of what stands in the element.
#[test]
fn the_policy_lets_in_the_one_style_sheet_alone() {
    let page = Html::parse_document(&shed0(&[]));
    let policy = select(&page, "meta[http-equiv=Content-Security-Policy]");
    let policy = policy[0].attr("content").unwrap();
    let styles = select(&page, "style");
    assert_eq!(styles.len(), 1);
    let sum = policy.split("'sha256-").nth(1).unwrap().split('\'').next().unwrap();
    let sum = base64::engine::general_purpose::STANDARD.decode(sum).unwrap();
    let hex: String = sum.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(hex, sha256(shown(styles[0]).as_bytes()));
    let rest =
        policy.replace(policy.split("'sha256-").nth(1).unwrap().split(';').next().unwrap(), "");
    assert_eq!(
        rest,
        "default-src 'none'; style-src 'sha256-; img-src 'none'; base-uri 'none'; form-action 'none'"
    );
    // Before anything that it is to govern.
    let source = shed0(&[]);
    assert!(source.find("Content-Security-Policy").unwrap() < source.find("<style").unwrap());
}

#[test]
fn the_sum_is_that_of_the_facts_and_is_shown() {
    let source = shed0(&[]);
    let page = Html::parse_document(&source);
    let data = shown(select(&page, "script#linkwright-capture")[0]);
    let sum = sha256(data.as_bytes());
    assert_eq!(select(&page, "script")[0].attr("data-sha256"), Some(sum.as_str()));
    assert!(select(&page, "footer").iter().any(|footer| shown(*footer).contains(&sum)));
    for form in FORMS {
        assert!(shed0(&["--format", form]).contains(&sum), "{form}");
    }
    // ASCII alone, and nothing that could end it.
    assert!(data.bytes().all(|byte| (b' '..=b'~').contains(&byte) && byte != b'<'));
}

/// Facts that were changed are used, and it is said.
#[test]
fn changed_facts_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("changed.html");
    let file = file.to_str().unwrap();
    let source = shed0(&[]);
    let explain = || run(&["explain", "--from", file]);
    for (from, to, said) in [
        ("<", "<", None),
        ("\"mtu_octets\":", "\"mtu_octets\": ", Some("changed after the report was made")),
        ("data-sha256=", "data-sum=", Some("taken out")),
    ] {
        std::fs::write(file, source.replacen(from, to, 1)).unwrap();
        let output = explain();
        assert!(text(&output).contains("shed0"), "{}", complaint(&output));
        match said {
            Some(said) => assert!(complaint(&output).contains(said), "{}", complaint(&output)),
            None => assert_eq!(complaint(&output), ""),
        }
    }
    for command in [
        vec!["compare", file, file],
        vec!["explain", "shed0", "--from", "fixtures/hosts/keel.json", "--far", file],
    ] {
        assert!(complaint(&run(&command)).contains("taken out"), "{command:?}");
    }
    // What is no report, or half of one.
    for (content, said) in [
        ("<!doctype html><p>hello", "without a Linkwright report's facts"),
        (&source[..source.find("linkwright-capture").unwrap() + 30], "the page ends"),
        (&source[..source.len() - 400], "the page ends in the middle"),
        (&*format!("{source}{source}"), "more than one report's facts"),
        (&*source.replace("linkwright-enclosed", "linkwright-else"), "`format` of the facts"),
        (&*source.replace("\"length_m\":60", "\"length_m\":-60"), "its site file cannot be used"),
    ] {
        std::fs::write(file, content).unwrap();
        let output = explain();
        assert_eq!(output.status.code(), Some(1), "{said}");
        assert!(complaint(&output).contains(said), "{}", complaint(&output));
    }
}

/// Pages that were cut, or of which bytes were changed: refused or read, never a panic, and what was
/// changed inside is told.
#[test]
fn damaged_pages_are_refused_or_told() {
    let page = shed0(&[]).into_bytes();
    let text = String::from_utf8_lossy(&page).into_owned();
    let start = text.find("data-sha256=").unwrap() + 80;
    let end = start + text[start..].find("</script").unwrap();
    proptest!(|(at in 0..page.len(), byte in any::<u8>(), cut in any::<bool>())| {
        let mut damaged = page.clone();
        if cut {
            damaged.truncate(at);
        } else {
            damaged[at] = byte;
        }
        let read = understand(&damaged, Path::new("damaged"));
        if let Ok(read) = read && damaged[start..end.min(damaged.len())] != page[start..end] {
            prop_assert!(read.altered.is_some());
        }
    });
}

/// Every command reads a report.
#[test]
fn any_command_reads_a_report() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("shed0.html");
    std::fs::write(&file, shed0(&[])).unwrap();
    let file = file.to_str().unwrap();
    assert!(text(&run(&["survey", "--from", file])).contains("shed0"));
    assert!(text(&run(&["capture", "--from", file, "-o", "-"])).contains("linkwright-capture"));
    assert!(text(&run(&["compare", file, file])).contains("othing"));
    // A report of a report holds the same facts.
    let again = text(&run(&["report", "--from", file, "-o", "-"]));
    let facts = |source: &str| shown(select(&Html::parse_document(source), "script")[0]);
    assert_eq!(facts(&again), facts(&std::fs::read_to_string(file).unwrap()));
    // What the user gives goes before what is inside.
    let site = folder.path().join("site.toml");
    std::fs::write(&site, "[[port]]\nname = 'shed0'\nmedium = 'OS2'\n").unwrap();
    let with = text(&run(&["explain", "--from", file, "--site", site.to_str().unwrap()]));
    assert!(with.contains("OS2") && !with.contains("OM4"), "{with}");
}

/// Both ends in one folder, joined by the site file: the far end's capture goes along.
#[test]
fn a_far_end_that_is_joined_goes_along() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("joined.html");
    let file = file.to_str().unwrap();
    let given = ["--from", "fixtures/hosts", "--site", "fixtures/site.toml"];
    let mut all = vec!["explain", "keel/shed0", "--format", "json"];
    all.extend(given);
    let before = json(&run(&all));
    assert_eq!(before["ports"][0]["far_capture"]["joined_by_site_file"], true);
    let mut all = vec!["report", "keel/shed0", "-o", file];
    all.extend(given);
    all.extend(KEEP_ALL);
    let made = run(&all);
    assert_eq!(made.status.code(), Some(0), "{}", complaint(&made));
    assert_eq!(before, json(&run(&["explain", "--from", file, "--format", "json"])));
    // No other port of that host, or of this one, but for the names of those on the same device.
    let facts = std::fs::read_to_string(file).unwrap();
    for other in ["\"name\":\"office0\"", "\"name\":\"lab0\"", "spare0"] {
        assert!(!facts.contains(other), "{other}");
    }
}

/// The headings, in order, and every text of one form is in every other.
#[test]
fn all_forms_have_the_same_content() {
    let told = ["--tried", "cleaned both ends", "--note", "since *Monday*"];
    let form = |form: &str| shed0(&[&told[..], &["--format", form]].concat());
    let document: Value = serde_json::from_str(&form("json")).unwrap();
    fn headings(sections: &Value, all: &mut Vec<String>, texts: &mut Vec<String>) {
        for section in sections.as_array().into_iter().flatten() {
            all.push(section["heading"].as_str().unwrap().to_owned());
            for block in section["blocks"].as_array().unwrap() {
                collect(block, texts);
            }
            headings(&section["sections"], all, texts);
        }
    }
    /// What is read as text: not the names of things for programs.
    fn collect(value: &Value, texts: &mut Vec<String>) {
        match value {
            Value::String(text) => texts.push(text.clone()),
            Value::Array(all) => all.iter().for_each(|one| collect(one, texts)),
            Value::Object(all) => all
                .iter()
                .filter(|(key, _)| {
                    !["kind", "verdict", "name", "limits_are"].contains(&key.as_str())
                })
                .for_each(|(_, one)| collect(one, texts)),
            _ => {}
        }
    }
    let (mut wanted, mut texts) = (Vec::new(), Vec::new());
    headings(&document["sections"], &mut wanted, &mut texts);
    assert!(wanted.len() > 10 && texts.len() > 100);
    let source = form("html");
    let page = Html::parse_document(&source);
    let found: Vec<String> = select(&page, "h2, h3, h4, h5").into_iter().map(shown).collect();
    assert_eq!(found, wanted);
    // Words alone, without line breaks and escapes.
    let bare = |text: &str| text.replace('\\', "").split_whitespace().collect::<Vec<_>>().join(" ");
    let body: String = select(&page, "body")[0].text().map(|text| format!("{text} ")).collect();
    let (body, markdown) = (bare(&body), bare(&form("markdown")));
    let plain = form("text");
    for text in texts.iter().map(|text| bare(text)) {
        assert!(body.contains(&text), "html lacks {text:?}");
        assert!(markdown.contains(&text), "markdown lacks {text:?}");
        // Cells stand side by side there: word by word.
        for word in text.split(' ') {
            assert!(plain.contains(word), "text lacks {word:?} of {text:?}");
        }
    }
    let mut rest = markdown.as_str();
    for heading in &wanted {
        let heading = format!("# {}", bare(heading));
        rest = rest.split_once(&heading).unwrap_or_else(|| panic!("{heading}")).1;
    }
    let mut rest = bare(&plain);
    for heading in &wanted {
        rest = rest.split_once(&bare(heading)).unwrap_or_else(|| panic!("{heading}")).1.to_owned();
    }
    // In the order that a reader needs.
    let names = document["sections"].as_array().unwrap().iter();
    let names: Vec<&str> = names.map(|section| section["name"].as_str().unwrap()).collect();
    assert_eq!(
        names,
        [
            "problem", "next", "chain", "seen", "causes", "tried", "counters", "numbers", "host",
            "made"
        ]
    );
}

/// A capture that says the worst in every text.
fn hostile(evil: &str) -> Value {
    json!({
        "format": "linkwright-capture", "version": {"major": 1}, "tool": evil, "taken_at": evil,
        "host": {"name": evil, "kernel": evil},
        "gaps": [{"what": evil, "missing": {"reason": "malformed", "detail": evil}, "remedy": evil}],
        "ports": [{"name": evil, "nature": "hardware", "admin_up": true, "carrier": true,
            "driver": evil, "driver_version": evil, "firmware": evil, "bus_address": evil,
            "physical_port": evil, "device_siblings": [evil],
            "slot": {"bus": "pci", "hops": [{"address": evil}]},
            "sensors": [{"chip": evil, "label": evil, "unit": evil, "value": 1.0}],
            "ethernet": {"speed_mbps": 10000, "supported_modes": [evil], "fec_active": evil,
                "extended_state": {"state": evil, "substate": evil}},
            "module": {"readings": {"source": evil, "vendor_name": evil, "part_number": evil,
                "serial_number": "A1", "interface_types": ["10GBASE-SR"],
                "lanes": [{"lane": 1, "rx_power_milliwatts": 0.01}]}},
            "instants": [{"statistics": {"phy": {evil: 7}}, "private_counters": {evil: 8}}],
            "kernel_log": [{"text": evil}],
            "neighbours": [{"chassis": {"kind": evil, "name": evil},
                "port": {"kind": evil, "name": evil}, "port_description": evil,
                "system_name": evil, "system_description": evil, "capabilities": [evil],
                "interface_type": evil}]}]
    })
}

/// The text of Markdown, by a general parser (`pulldown-cmark`, CommonMark and tables): nothing in it
/// is markup of another kind than the report's own.
fn markdown_text(source: &str) -> String {
    use pulldown_cmark::{Event, Options, Parser, Tag};
    let mut all = String::new();
    for event in Parser::new_ext(source, Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH) {
        match event {
            Event::Text(text) => all.push_str(&text),
            Event::SoftBreak | Event::End(_) => all.push('\n'),
            Event::Start(
                Tag::Heading { .. }
                | Tag::Paragraph
                | Tag::Strong
                | Tag::List(None)
                | Tag::Item
                | Tag::Table(_)
                | Tag::TableHead
                | Tag::TableRow
                | Tag::TableCell,
            ) => {}
            other => panic!("{other:?} in {source}"),
        }
    }
    all
}

#[test]
fn hostile_texts_stay_texts() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evil.json");
    let path = file.to_str().unwrap();
    for evil in [
        "</script><script>alert(1)</script><x-evil onload='x'>",
        "\"><x-evil a=\"'--><!--<style>*{}</style>]]>&lt;",
        "</title></style></svg></table><x-evil>",
        "\u{202e}x\u{1b}[2J\u{9b}31m\u{0}\u{7}\u{200b}\u{2028}<x-evil>",
        "| [x](javascript:alert(1)) `<x-evil>` ![x](x) # *b* |",
    ] {
        std::fs::write(&file, hostile(evil).to_string()).unwrap();
        let made = |form: &str| {
            let more = ["--tried", evil.trim_matches('\0'), "--note", "x"];
            let note = [more, ["--format", form, "-o", "-"]].concat();
            let note: Vec<String> = note.iter().map(|word| word.replace('\0', "")).collect();
            let mut command = linkwright();
            let output = command
                .args(["report", "--all", "--from", path, "--keep", "hosts"])
                .args(&note)
                .output()
                .unwrap();
            assert_eq!(output.status.code(), Some(0), "{}", complaint(&output));
            text(&output)
        };
        for form in FORMS {
            let page = made(form);
            assert!(
                page.chars()
                    .all(|c| c == '\n'
                        || !(c.is_control() || "\u{202e}\u{200b}\u{2028}".contains(c))),
                "{form}: {page:?}"
            );
        }
        let source = made("html");
        let page = Html::parse_document(&source);
        assert!(page.errors.is_empty(), "{:?}", page.errors);
        assert_eq!(select(&page, "x-evil").len(), 0);
        assert_eq!(select(&page, "script").len(), 1);
        assert_eq!(select(&page, "style").len(), 1);
        assert_eq!(select(&page, "[onload]").len(), 0);
        // It is shown, as text: the host's name, the module's maker, the log, what was tried.
        let body = shown(select(&page, "main")[0]);
        let harmless = linkwright::render::clean(evil);
        assert!(body.matches(&*harmless).count() > 8, "{body}");
        let markdown = markdown_text(&made("markdown"));
        assert!(markdown.matches(&*harmless).count() > 8, "{markdown}");
        // And it is read back as it was.
        let html = folder.path().join("evil.html");
        std::fs::write(&html, &source).unwrap();
        let again = json(&run(&["explain", "--from", html.to_str().unwrap(), "--format", "json"]));
        assert_eq!(again["host"], *evil);
    }
}

/// What names a device, a host or somebody's network is in no form, unless it is kept.
#[test]
fn secrets_stay_at_home() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("secret.json");
    let capture = json!({
        "format": "linkwright-capture", "version": {"major": 1},
        "host": {"name": "lighthouse.tidewater.example"},
        "ports": [{"name": "fibre0", "nature": "hardware", "admin_up": true, "carrier": true,
            "mac_address": "00:53:00:ab:cd:ef", "permanent_mac_address": "00:53:00:ab:cd:ef",
            "ethernet": {"speed_mbps": 10000},
            "module": {"readings": {"source": "kernel", "vendor_name": "NORTHLIGHT",
                "serial_number": "NL77421X", "interface_types": ["10GBASE-SR"],
                "lanes": [{"lane": 1, "rx_power_milliwatts": 0.01}]}},
            "kernel_log": [
                {"text": "fibre0: lighthouse took module NL77421X at 10.77.3.9 from 00:53:00:ab:cd:ef"},
                {"text": "fibre0: peer fd12:3456:789a::77 gone"}],
            "neighbours": [{"chassis": {"kind": "MAC address", "name": "00:53:00:12:34:56"},
                "port": {"kind": "interface name", "name": "ge-7"}, "system_name": "bastion",
                "management_addresses": ["10.77.3.1"]}]}]
    });
    std::fs::write(&file, capture.to_string()).unwrap();
    let serial = ["NL77421X"];
    let addresses = ["ab:cd:ef", "12:34:56", "10.77.3.", "fd12:3456"];
    let hosts = ["lighthouse", "tidewater", "bastion"];
    let report = |form: &str, more: &[&str]| {
        let mut all = vec!["report", "--from", file.to_str().unwrap(), "-o", "-", "--format", form];
        all.extend(["--tried", "changed NL77421X of lighthouse for one at 10.77.3.9"]);
        all.extend(more);
        text(&run(&all)).to_lowercase()
    };
    for form in FORMS {
        let page = report(form, &[]);
        for secret in serial.iter().chain(&addresses).chain(&hosts) {
            assert!(!page.contains(&secret.to_lowercase()), "{form}: {secret}");
        }
        // The log line and the user's word are there all the same.
        assert!(page.contains("took module") && page.contains("changed"), "{form}");
        let kept = report(form, &KEEP_ALL);
        for secret in serial.iter().chain(&addresses[..1]).chain(&hosts[..1]) {
            assert!(kept.contains(&secret.to_lowercase()), "{form}: {secret}");
        }
        assert!(page.contains("fibre0"), "{form}");
        assert!(!report(form, &["--hide", "interfaces"]).contains("fibre0"), "{form}");
        assert!(report(form, &["--keep", "serials"]).contains("nl77421x"), "{form}");
    }
    let page = report("text", &[]);
    assert!(page.contains("1 serial number"), "{page}");
}

#[test]
fn files_are_written_whole_and_kept() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let report = |file: &str, more: &[&str]| {
        let mut all = vec!["report", "shed0", "--from", "fixtures/hosts/keel.json", "-o", file];
        all.extend(more);
        run(&all)
    };
    let file = at("shed0.html");
    let first = report(&file, &[]);
    assert_eq!(text(&first), format!("wrote {file} (1 port)\n"));
    let before = std::fs::read(&file).unwrap();
    let again = report(&file, &["--note", "x"]);
    assert_eq!(again.status.code(), Some(1));
    assert!(complaint(&again).contains("use --force"), "{}", complaint(&again));
    assert_eq!(std::fs::read(&file).unwrap(), before);
    assert_eq!(report(&file, &["--note", "x", "--force"]).status.code(), Some(0));
    assert_ne!(std::fs::read(&file).unwrap(), before);
    // A symbolic link stays one: as root, /dev/stdout would be replaced otherwise.
    std::os::unix::fs::symlink(&file, at("link")).unwrap();
    assert_eq!(report(&at("link"), &["--note", "by the link", "--force"]).status.code(), Some(0));
    assert_eq!(std::fs::read_link(at("link")).unwrap().to_str(), Some(&*file));
    assert!(std::fs::read_to_string(&file).unwrap().contains("by the link"));
    std::os::unix::fs::symlink("nowhere", at("lost")).unwrap();
    assert_eq!(report(&at("lost"), &["--force"]).status.code(), Some(1));
    assert!(Path::new(&at("lost")).is_symlink());
    // The form follows the file's name, unless it is given.
    for (name, more, begins) in [
        ("a.md", &[][..], "# Report on shed0"),
        ("a.txt", &[], "Report on shed0"),
        ("A.TXT", &[], "Report on shed0"),
        ("a.json", &[], "{"),
        ("a", &[], "<!DOCTYPE html>"),
        ("b.txt", &["--format", "markdown"], "# Report"),
    ] {
        assert_eq!(report(&at(name), more).status.code(), Some(0));
        let page = std::fs::read_to_string(at(name)).unwrap();
        assert!(page.starts_with(begins), "{name}: {page}");
    }
    assert!(text(&report("-", &[])).starts_with("<!DOCTYPE html>"));
    let nowhere = report(&at("no/such/folder.html"), &[]);
    assert!(complaint(&nowhere).contains("cannot write"), "{}", complaint(&nowhere));
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 9, "{left:?}");
    let which = run(&["report", "--from", "fixtures/hosts/keel.json", "-o", "-"]);
    assert!(complaint(&which).contains("which port? Name one behind `report`"));
}

/// Ended while it looks: nothing is left, neither whole nor half.
#[test]
fn an_interrupted_report_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = linkwright()
        .args(["report", "lo", "--seconds", "60", "-o"])
        .arg(folder.path().join("lo.html"))
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(700));
    let pid = nix::unistd::Pid::from_raw(child.id().try_into().unwrap());
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGINT).unwrap();
    assert!(!child.wait().unwrap().success());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// On a terminal it says what it does, and takes that away again.
#[test]
fn progress_is_shown_on_a_terminal() {
    let pair = nix::pty::openpty(None, None).unwrap();
    let output = linkwright()
        .env("TERM", "xterm")
        .args(["report", "--all", "--from", "fixtures/rack/winch.json", "-o", "-"])
        .stderr(pair.slave)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    let mut seen = [0; 4096];
    let length = std::fs::File::from(pair.master).read(&mut seen).unwrap();
    let seen = String::from_utf8_lossy(&seen[..length]).into_owned();
    assert!(seen.contains("putting the report together"), "{seen:?}");
    assert!(seen.ends_with('\r'), "{seen:?}");
}

/// 64 ports on a page.
#[test]
fn a_whole_rack_is_a_small_page() {
    let output = run(&["report", "--all", "--from", "fixtures/rack/winch.json", "-o", "-"]);
    let source = text(&output);
    assert!(source.len() < 2_000_000, "{}", source.len());
    page_rules(&source, "winch");
    let page = Html::parse_document(&source);
    assert_eq!(select(&page, "nav a").len(), select(&page, "section.port").len());
    assert!(select(&page, "section.port").len() >= 64);
}

/// WCAG 2.2, 1.4.3 and 1.4.11: text 4.5 to 1, what is drawn 3 to 1, by the formula there.
#[test]
fn colours_have_contrast_in_light_and_dark() {
    let source = shed0(&[]);
    let style = shown(select(&Html::parse_document(&source), "style")[0]);
    let luminance = |hex: &str| {
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let schemes: Vec<&str> = style.split(":root {").skip(1).collect();
    assert_eq!(schemes.len(), 3, "light, dark, print");
    for scheme in schemes {
        let scheme = scheme.split('}').next().unwrap();
        let colour = |name: &str| {
            let start = scheme.split(&format!("--{name}: ")).nth(1).unwrap();
            luminance(&start[..7])
        };
        let contrast = |one: f64, other: f64| (one.max(other) + 0.05) / (one.min(other) + 0.05);
        for (names, least) in [
            (&["text", "soft", "link", "red", "amber", "green", "violet"][..], 4.5),
            (&["line", "bar"], 3.0),
        ] {
            for name in names {
                for back in ["back", "panel"] {
                    let found = contrast(colour(name), colour(back));
                    assert!(found >= least, "{name} on {back}: {found:.2}");
                }
            }
        }
    }
}
