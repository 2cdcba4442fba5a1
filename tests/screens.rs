//! Every screen as a user sees it, whole, held against the files in `tests/screens/`.
//! `UPDATE=1 cargo test --test screens` writes them; look at the difference before you keep it.
//! A file holds the command, what it prints, what it complains of, and its exit code.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::BTreeSet;

use common::{complaint, current, linkwright, none_is_stale, root, text};

const SITE: &str = "--site fixtures/site.toml";

/// Name of the screen's file, the environment it is shown in, the arguments.
fn screens() -> Vec<(String, Vec<(&'static str, &'static str)>, String)> {
    let mut all = Vec::new();
    let mut add = |name: &str, arguments: &str| {
        all.push((name.to_owned(), vec![("NO_COLOR", "1")], arguments.to_owned()));
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
    for port in ["office0", "shed0", "lab0"] {
        add(&format!("explain-{port}"), &format!("explain {port} {keel}"));
    }
    for port in ["store0", "pool0"] {
        add(&format!("explain-{port}"), &format!("explain {port} {ballast}"));
    }
    add("explain-shed0-far", &format!("explain shed0 {keel} --far fixtures/hosts/sounder.json"));
    add("explain-json", &format!("explain store0 {ballast} --format json"));
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
    ] {
        add(
            &format!("explain-odd-{name}"),
            &format!("explain {port} --from fixtures/odd/{name}.json"),
        );
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
    add(
        "capture",
        "capture -o target/screens-capture.json --force --from fixtures/hosts/keel.json",
    );
    for command in ["survey", "explain", "capture", "decode", "faults"] {
        add(&format!("help-{command}"), &format!("{command} --help"));
    }
    add("help", "--help");
    add("error-unknown-port", "explain shed1 --from fixtures/hosts/keel.json");
    add("error-unknown-fault", "faults excess-los");
    add("error-no-file", "survey --from no-such-file.json");
    add("error-no-capture", "survey --from fixtures/site.toml");
    add("error-no-image", "decode fixtures/site.toml");
    add("error-usage", "explain");
    let narrow = vec![("NO_COLOR", "1"), ("COLUMNS", "50")];
    for (name, arguments) in [
        ("narrow-survey", format!("survey {keel}")),
        ("narrow-explain", format!("explain pool0 {ballast}")),
        ("narrow-decode", "decode fixtures/modules/northlight-100g-sr4-weak-lane.bin".into()),
        ("narrow-fault", "faults excess-loss".into()),
    ] {
        all.push((name.to_owned(), narrow.clone(), arguments));
    }
    for (name, arguments) in [
        ("coloured-survey", format!("survey {ballast} --colour always")),
        ("coloured-explain", format!("explain store0 {ballast} --colour always")),
    ] {
        all.push((name.to_owned(), Vec::new(), arguments));
    }
    all
}

#[test]
fn every_screen_is_as_it_was_looked_at() {
    let folder = root().join("tests/screens");
    let mut made = BTreeSet::new();
    for (name, environment, arguments) in screens() {
        let mut command = linkwright();
        command.envs(environment.iter().copied()).args(arguments.split(' '));
        let output = command.output().unwrap();
        let set: String =
            environment.iter().map(|(key, value)| format!("{key}={value} ")).collect();
        let mut screen = format!("$ {set}linkwright {arguments}\n{}", text(&output));
        let complaint = complaint(&output);
        if !complaint.is_empty() {
            screen.push_str(&format!("[standard error]\n{complaint}"));
        }
        screen.push_str(&format!("[exit code {}]\n", output.status.code().unwrap()));
        // Escapes are written out, so that the files can be read and compared as text.
        let screen = screen.replace('\u{1b}', "\\e");
        let file = format!("{name}.txt");
        current(&folder.join(&file), screen.as_bytes());
        assert!(made.insert(file), "{name} is made twice");
    }
    none_is_stale(&folder, &made);
}

/// No line is wider than the terminal, but for what cannot be broken: the help (which wraps by
/// itself at 100 columns), JSON, commands and file names.
#[test]
fn screens_fit_the_terminal() {
    for (name, environment, arguments) in screens() {
        if arguments.contains("json ") || arguments.contains("--format") || name.starts_with("help")
        {
            continue;
        }
        let mut command = linkwright();
        command.envs(environment.iter().copied()).args(arguments.split(' '));
        let output = command.output().unwrap();
        let width = if environment.contains(&("COLUMNS", "50")) { 50 } else { 80 };
        for line in text(&output).lines() {
            let seen: String = line
                .split('\u{1b}')
                .map(|part| {
                    if line.starts_with(part) {
                        part
                    } else {
                        part.split_once('m').map_or("", |p| p.1)
                    }
                })
                .collect();
            let columns = unicode_width::UnicodeWidthStr::width(seen.as_str());
            assert!(columns <= width, "{name}: {columns} columns: {line}");
        }
    }
}
