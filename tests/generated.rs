//! What is generated is current: fixtures, the capture's JSON Schema, the faults' pages.
//! `UPDATE=1 cargo test --test generated` writes them.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

#[path = "../fixtures/make/files.rs"]
mod files;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use linkwright::faults::CATALOGUE;
use linkwright::render::page;
use linkwright::snapshot::Snapshot;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn current(path: &Path, wanted: &[u8]) {
    if std::env::var_os("UPDATE").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, wanted).unwrap();
        return;
    }
    let there = fs::read(path).unwrap_or_default();
    assert!(
        there == wanted,
        "{} is not current: run UPDATE=1 cargo test --test generated, and look at the difference",
        path.display()
    );
}

#[test]
fn fixtures_are_what_their_generator_writes() {
    let root = root().join("fixtures");
    let mut made = BTreeSet::new();
    for (name, bytes) in files::all() {
        current(&root.join(&name), &bytes);
        assert!(made.insert(name.clone()), "{name} is made twice");
    }
    // Whatever else lies there is not made, and must be on the list.
    let by_hand = ["README.md", "make/main.rs", "make/files.rs", "make/modules.rs", "make/rack.rs"];
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let name = path.strip_prefix(&root).unwrap().to_str().unwrap().to_owned();
            assert!(made.contains(&name) || by_hand.contains(&name.as_str()), "{name} is stale");
        }
    }
}

#[test]
fn the_captures_schema() {
    let schema = schemars::schema_for!(Snapshot);
    let text = serde_json::to_string_pretty(&schema).unwrap() + "\n";
    current(&root().join("packaging/schema/capture.schema.json"), text.as_bytes());
}

#[test]
fn the_faults_pages() {
    for fault in CATALOGUE {
        let path = root().join(format!("packaging/doc/faults/{}.md", fault.name));
        current(&path, page::page(fault).as_bytes());
    }
}
