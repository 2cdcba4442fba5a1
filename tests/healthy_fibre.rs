//! Links that look like a fault of the path or of a copper module and are well: `healthy/fibre-*`,
//! each with the far end's capture and the site file that lie beside it.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{fixtures, json, run};
use std::path::Path;

#[test]
fn tricky_links_stay_healthy_and_raise_nothing() {
    let captures: Vec<_> = common::files(&fixtures().join("healthy"), ".json")
        .into_iter()
        .map(|path| path.to_str().unwrap().to_owned())
        .filter(|path| path.contains("/fibre-") && !path.ends_with(".far.json"))
        .collect();
    assert!(captures.len() >= 11, "{captures:?}");
    for capture in captures {
        let stem = capture.strip_suffix(".json").unwrap();
        let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
        let mut arguments = vec!["survey", "--from", &capture, "--format", "json"];
        if Path::new(&far).exists() {
            arguments.extend(["--far", &far]);
        }
        if Path::new(&site).exists() {
            arguments.extend(["--site", &site]);
        }
        let port = json(&run(&arguments))["ports"][0].clone();
        assert_eq!(port["verdict"], "healthy", "{capture}: {port:#}");
        assert_eq!(port["causes"].as_array().unwrap().len(), 0, "{capture}: {port:#}");
    }
}
