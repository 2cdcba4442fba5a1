//! What is generated is current: fixtures, the capture's JSON Schema, the faults' pages.
//! `UPDATE=1 cargo test --test generated` writes them.
#![allow(clippy::unwrap_used, clippy::panic, clippy::disallowed_methods)]

mod common;
#[path = "../fixtures/make/files.rs"]
mod files;

use std::collections::BTreeSet;

use common::{current, none_is_stale, root};
use linkwright::faults::CATALOGUE;
use linkwright::render::page;
use linkwright::snapshot::Snapshot;

#[test]
fn fixtures_are_what_their_generator_writes() {
    let root = root().join("fixtures");
    let mut made = BTreeSet::new();
    for (name, bytes) in files::all() {
        current(&root.join(&name), &bytes);
        assert!(made.insert(name.clone()), "{name} is made twice");
    }
    // Whatever else lies there is not made, and must be on the list.
    made.insert("README.md".to_owned());
    let makers = common::files(&root.join("make"), ".rs");
    made.extend(
        makers.iter().filter_map(|path| Some(format!("make/{}", path.file_name()?.to_str()?))),
    );
    none_is_stale(&root, &made);
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
