//! Every screen as a user sees it, whole, held against the files in `tests/screens/`.
//! `UPDATE=1 cargo test --test screens` writes them; look at the difference before you keep it.
//! A file holds the command, what it prints, what it complains of, and its exit code.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::BTreeSet;

use common::{complaint, current, linkwright, none_is_stale, root, text};

const SITE: &str = "--site fixtures/site.toml";

/// A screen to look at.
struct Screen {
    /// Name of its file.
    name: String,
    /// Variables of the environment.
    environment: &'static [(&'static str, &'static str)],
    /// Arguments, between spaces; `FOLDER` is a folder to write to.
    arguments: String,
}

/// What came of it.
struct Shown {
    text: String,
    complaint: String,
    code: i32,
}

impl Screen {
    fn show(&self) -> Shown {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path().to_str().unwrap();
        let output = linkwright()
            .envs(self.environment.iter().copied())
            .args(self.arguments.split(' ').map(|word| word.replace("FOLDER", folder)))
            .output()
            .unwrap();
        Shown {
            text: text(&output).replace(folder, "FOLDER"),
            complaint: complaint(&output),
            code: output.status.code().unwrap(),
        }
    }
}

const PLAIN: &[(&str, &str)] = &[("NO_COLOR", "1")];
const NARROW: &[(&str, &str)] = &[("NO_COLOR", "1"), ("COLUMNS", "50")];
/// `--colour always` goes before it.
const COLOURED: &[(&str, &str)] = &[("NO_COLOR", "1"), ("TERM", "dumb")];

fn screens() -> Vec<Screen> {
    let mut all = Vec::new();
    let mut add = |name: &str, arguments: &str| {
        let (name, arguments) = (name.to_owned(), arguments.to_owned());
        all.push(Screen { name, environment: PLAIN, arguments });
    };
    let keel = format!("--from fixtures/hosts/keel.json {SITE}");
    let ballast = format!("--from fixtures/hosts/ballast.json {SITE}");
    let winch = "--from fixtures/rack/winch.json";
    add("survey-keel", &format!("survey {keel}"));
    add("survey-ballast", &format!("survey {ballast}"));
    add("survey-winch", &format!("survey {winch}"));
    add("survey-folder", &format!("survey --from fixtures/hosts {SITE}"));
    add("survey-unprivileged", "survey --from fixtures/odd/keel-unprivileged.json");
    add("survey-virtual-only", "survey --from fixtures/odd/virtual-only.json");
    add("report", &format!("report pool0 {ballast} -o FOLDER/pool0.html"));
    add(
        "report-text",
        &format!("report pool0 {ballast} --tried cleaned --note again -o - --format text"),
    );
    add("report-all-text", "report --all --from fixtures/odd/virtual-only.json -o - --format text");
    add("error-report-exists", "report pool0 -o README.md");
    for port in ["office0", "shed0", "lab0"] {
        add(&format!("explain-{port}"), &format!("explain {port} {keel}"));
    }
    for port in ["store0", "pool0"] {
        add(&format!("explain-{port}"), &format!("explain {port} {ballast}"));
    }
    add("explain-shed0-far", &format!("explain shed0 {keel} --far fixtures/hosts/sounder.json"));
    add("explain-json", &format!("explain store0 {ballast} --format json"));
    let jetty = "--from fixtures/numbers/jetty.json --site fixtures/numbers/jetty.site.toml";
    for port in ["c2", "damaged", "still", "b7-worse"] {
        add(&format!("explain-numbers-{port}"), &format!("explain {port} {jetty}"));
    }
    add("explain-measured", &format!("explain usb0 {jetty} --measured 420Mbit/s"));
    add("explain-measured-down", &format!("explain down {jetty} --measured 9.4G"));
    add("error-measured", &format!("explain usb0 {jetty} --measured 9.4"));
    add("survey-ndjson", &format!("survey {ballast} --format ndjson"));
    for (name, port) in [
        ("optic-without-limits", "office2"),
        ("optic-without-diagnostics", "office1"),
        ("keel-unprivileged", "shed0"),
        ("cable-without-diagnostics", "rack0"),
        ("readings-parsed-elsewhere", "office3"),
        ("old-errors-standing-still", "office0"),
        ("switched-off-and-empty", "spare0"),
        ("virtual-only", "veth0"),
        ("neighbour-heard", "desk1"),
    ] {
        add(
            &format!("explain-odd-{name}"),
            &format!("explain {port} --from fixtures/odd/{name}.json"),
        );
    }
    for name in ["warm-up", "steady", "flicker", "pulled-out"] {
        let from = format!("--from fixtures/over-time/{name}.json");
        add(&format!("explain-over-time-{name}"), &format!("explain {from}"));
    }
    for image in [
        "northlight-10g-sr.bin",
        "external-calibration-a.bin",
        "gannet-10g-cable.bin",
        "northlight-100g-sr4-weak-lane.bin",
        "kestrel-400g-sr8-dark-lane.bin",
    ] {
        add(
            &format!("decode-{}", image.trim_end_matches(".bin")),
            &format!("decode fixtures/modules/{image}"),
        );
    }
    add("decode-lying", "decode fixtures/bad/lying-100g-sr4.bin");
    add("faults", "faults");
    add("faults-excess-loss", "faults excess-loss");
    add("faults-peer-port-limited", "faults peer-port-limited");
    add("capture", "capture -o FOLDER/keel.json --from fixtures/hosts/keel.json");
    add("plan", "plan SFP28 25GBASE-SR 90m OM4 3 connectors 25GBASE-SR SFP28");
    add("plan-slot", "plan gen3x4 QSFP28 100GBASE-SR4 30m OM4 100GBASE-SR4 QSFP28 mtu 9000");
    add("plan-too-strong", "plan SFP+ 10GBASE-ER 2m OS2 10GBASE-ER SFP+");
    add("plan-copper-module", "plan SFP+ 10GBASE-T 20m Cat6A 10G RJ45 between buildings");
    add("plan-nothing-told", "plan SFP28 60m OM3");
    add("plan-site", "plan --file fixtures/plan.toml");
    add("plan-way", "plan --file fixtures/plan.toml --between keel sounder");
    add("plan-suggest", "plan --suggest 60m 10G OM2");
    add("plan-suggest-between-buildings", "plan --suggest 60m 1G between buildings");
    add("error-plan-word", "plan SFP28 25GBASE-SX");
    for command in ["survey", "explain", "capture", "compare", "decode", "plan", "faults", "report"]
    {
        add(&format!("help-{command}"), &format!("{command} --help"));
    }
    add("help", "--help");
    add("explain-terms", "explain --terms");
    add("compare", "compare fixtures/hosts/keel.json fixtures/hosts/keel.json");
    add("compare-changed", "compare fixtures/then/keel.json fixtures/hosts/keel.json");
    add("error-compare-two-hosts", "compare fixtures/hosts/keel.json fixtures/hosts/ballast.json");
    add("error-unknown-port", "explain shed1 --from fixtures/hosts/keel.json");
    add("error-which-port", "explain --from fixtures/hosts/keel.json");
    add("explain-only-port", "explain --from fixtures/limits/lying-and-weak.json");
    add("error-unknown-fault", "faults excess-los");
    add("error-no-file", "survey --from no-such-file.json");
    add("error-no-capture", "survey --from fixtures/site.toml");
    add("error-no-image", "decode fixtures/site.toml");
    add("error-usage", "explain");
    for (name, arguments) in [
        ("narrow-survey", format!("survey {keel}")),
        ("narrow-explain", format!("explain pool0 {ballast}")),
        ("narrow-plan", "plan gen3x4 SFP28 25GBASE-SR 90m OM3 25GBASE-SR SFP28".into()),
        ("narrow-plan-site", "plan --file fixtures/plan.toml".into()),
        ("narrow-plan-suggest", "plan --suggest 60m 10G".into()),
        ("narrow-over-time", "explain --from fixtures/over-time/pulled-out.json".into()),
        ("narrow-numbers", format!("explain lost {jetty}")),
        ("narrow-decode", "decode fixtures/modules/northlight-100g-sr4-weak-lane.bin".into()),
        ("narrow-fault", "faults excess-loss".into()),
    ] {
        all.push(Screen { name: name.to_owned(), environment: NARROW, arguments });
    }
    for (name, arguments) in [
        ("coloured-survey", format!("survey {ballast} --colour always")),
        ("coloured-explain", format!("explain store0 {ballast} --colour always")),
    ] {
        all.push(Screen { name: name.to_owned(), environment: COLOURED, arguments });
    }
    all
}

#[test]
fn every_screen_is_as_it_was_looked_at() {
    let folder = root().join("tests/screens");
    let mut made = BTreeSet::new();
    for screen in screens() {
        let Screen { name, environment, arguments } = &screen;
        let shown = screen.show();
        let set: String =
            environment.iter().map(|(key, value)| format!("{key}={value} ")).collect();
        let mut page = format!("$ {set}linkwright {arguments}\n{}", shown.text);
        if !shown.complaint.is_empty() {
            page.push_str(&format!("[standard error]\n{}", shown.complaint));
        }
        page.push_str(&format!("[exit code {}]\n", shown.code));
        // Escapes are written out, so that the files can be read and compared as text.
        let page = page.replace('\u{1b}', "\\e");
        let file = format!("{name}.txt");
        current(&folder.join(&file), page.as_bytes());
        assert!(made.insert(file), "{name} is made twice");
    }
    none_is_stale(&folder, &made);
}

/// No line is wider than the terminal, but for JSON, which is for programs.
#[test]
fn screens_fit_the_terminal() {
    for screen in screens().iter().filter(|screen| !screen.arguments.contains("--format")) {
        let name = &screen.name;
        let width = if screen.environment == NARROW { 50 } else { 80 };
        for line in screen.show().text.lines() {
            let columns = unicode_width::UnicodeWidthStr::width(without_colours(line).as_str());
            assert!(columns <= width, "{name}: {columns} columns: {line}");
        }
    }
}

/// Colours add nothing but escapes, and plain screens have none.
#[test]
fn colour_carries_no_meaning_alone() {
    for screen in screens() {
        let shown = screen.show().text;
        if screen.environment != COLOURED {
            assert!(!shown.contains('\u{1b}'), "{}", screen.name);
            continue;
        }
        let arguments = screen.arguments.replace(" --colour always", "");
        let plain = Screen { arguments, environment: PLAIN, name: String::new() };
        assert!(shown.contains('\u{1b}'), "{}", screen.name);
        let bare: Vec<String> = shown.lines().map(without_colours).collect();
        assert_eq!(bare, plain.show().text.lines().collect::<Vec<_>>(), "{}", screen.name);
    }
}

/// The line without its escapes, each of which ends in `m`.
fn without_colours(line: &str) -> String {
    let mut parts = line.split('\u{1b}');
    let first = parts.next().unwrap_or_default().to_owned();
    first + &parts.map(|part| part.split_once('m').unwrap().1).collect::<String>()
}
