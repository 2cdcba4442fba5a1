//! A capture file: read, diagnosed, shown.
#![no_main]

use std::path::Path;

use libfuzzer_sys::fuzz_target;
use linkwright::diagnose::{Knowledge, diagnose};
use linkwright::observe::capture::parse;
use linkwright::render::{Style, explain, json, survey};

fuzz_target!(|bytes: &[u8]| {
    let Ok(snapshot) = parse(bytes, Path::new("fuzz")) else { return };
    let diagnosis = diagnose(&snapshot, Knowledge::default()).unwrap();
    let _ = survey::survey(&diagnosis, Style::default());
    for (port, found) in snapshot.ports.iter().zip(&diagnosis.ports) {
        let shown = explain::explain(&snapshot.host.name, port, found, true, Style::default());
        assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
    }
    let _ = json::to_string(&json::document(&diagnosis), true).unwrap();
    // What is written is read again as the same.
    let again = json::to_string(&snapshot, false).unwrap();
    assert_eq!(parse(again.as_bytes(), Path::new("again")).unwrap(), snapshot);
});
