//! The demo's healthy and odd-but-fine captures: no cause is raised on any of them, not even as
//! possible, and none is called a fault or worth attention.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::path::Path;

use common::{files, fixtures, json, run};

#[test]
fn nothing_is_raised_where_nothing_is_wrong() {
    let mut captures = 0;
    for folder in ["odd", "healthy"] {
        for path in files(&fixtures().join(folder), ".json") {
            let path = path.to_str().unwrap().to_owned();
            if path.ends_with(".far.json") {
                continue;
            }
            captures += 1;
            let stem = path.strip_suffix(".json").unwrap();
            let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
            let mut arguments = vec!["survey", "--from", &path, "--format", "json"];
            if Path::new(&far).exists() {
                arguments.extend(["--far", &far]);
            }
            if Path::new(&site).exists() {
                arguments.extend(["--site", &site]);
            }
            let found = json(&run(&arguments));
            for port in found["ports"].as_array().unwrap() {
                let name = format!("{path}, {}", port["name"]);
                assert_eq!(port["causes"], serde_json::json!([]), "{name}");
                let verdict = port["verdict"].as_str().unwrap();
                // A run without privilege could not read the module, and says so.
                let fine = ["healthy", "idle"].contains(&verdict)
                    || (verdict == "unknown" && path.ends_with("unprivileged.json"));
                assert!(fine, "{name}: {verdict}");
            }
        }
    }
    assert!(captures >= 12, "only {captures} captures");
}
