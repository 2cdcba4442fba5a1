//! What several test files share: running the built program, walking the fixtures, and holding
//! files that are generated against what would be generated now.
#![allow(dead_code, reason = "each test file uses a part of it")]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Folder of the crate.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// Folder of the fixtures.
pub fn fixtures() -> PathBuf {
    root().join("fixtures")
}

/// The file holds this; with `UPDATE` set it is written instead.
pub fn current(path: &Path, wanted: &[u8]) {
    if std::env::var_os("UPDATE").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, wanted).unwrap();
        return;
    }
    let there = std::fs::read(path).unwrap_or_default();
    if there == wanted {
        return;
    }
    let (there, wanted) = (String::from_utf8_lossy(&there), String::from_utf8_lossy(wanted));
    let differs = there.lines().zip(wanted.lines()).position(|(one, other)| one != other);
    let line = differs.unwrap_or_else(|| there.lines().count().min(wanted.lines().count()));
    panic!(
        "{} is not current: run UPDATE=1 cargo test with this test, and look at the difference; \
         line {}:\n  there  {:?}\n  wanted {:?}",
        path.display(),
        line + 1,
        there.lines().nth(line),
        wanted.lines().nth(line),
    );
}

/// Every file below the folder is one of these.
pub fn none_is_stale(folder: &Path, made: &BTreeSet<String>) {
    for path in files(folder, "") {
        let name = path.strip_prefix(folder).unwrap().to_str().unwrap();
        assert!(made.contains(name), "{name} is stale: nothing makes it");
    }
}

/// The built program, in a cleaned environment.
pub fn linkwright() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_linkwright"));
    command.env_clear().env("COLUMNS", "80").current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

/// Runs it with arguments.
pub fn run(arguments: &[&str]) -> Output {
    linkwright().args(arguments).output().unwrap()
}

/// Standard output as text.
pub fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// Standard error as text.
pub fn complaint(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Standard output as JSON.
pub fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}\n{}", text(output), complaint(output)))
}

/// Files below a folder with this ending, sorted.
pub fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.to_string_lossy().ends_with(ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}
