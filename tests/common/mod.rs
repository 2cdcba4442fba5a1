//! What several test files share: running the built program, and walking the fixtures.
#![allow(dead_code, reason = "each test file uses a part of it")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Folder of the fixtures.
pub fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
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
