//! A capture file or a report: read, diagnosed, shown, put into a report and read back.
#![no_main]

use std::path::Path;

use libfuzzer_sys::fuzz_target;
use linkwright::diagnose::{Knowledge, diagnose};
use linkwright::observe::capture::{parse, understand};
use linkwright::render::{Style, explain, json, survey};
use linkwright::report::redact::{Keep, Material, Redacted, redact};
use linkwright::report::{build, enclosed, html, markdown, text};

fuzz_target!(|bytes: &[u8]| {
    let Ok(loaded) = understand(bytes, Path::new("fuzz")) else { return };
    for snapshot in &loaded.snapshots {
        let diagnosis = diagnose(snapshot, Knowledge::default()).unwrap();
        let _ = survey::survey(&snapshot.host.name, &diagnosis, Style::default());
        for (port, found) in snapshot.ports.iter().zip(&diagnosis.ports) {
            let host = &snapshot.host.name;
            let shown = explain::explain(host, port, found, true, true, Style::default());
            assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
        }
        let _ = json::to_string(&json::document(&diagnosis), true).unwrap();
        // What is written is read again as the same.
        let again = json::to_string(snapshot, false).unwrap();
        assert_eq!(parse(again.as_bytes(), Path::new("again")).unwrap(), *snapshot);
    }
    let count = loaded.snapshots.len();
    let snapshots = [loaded.snapshots, loaded.beside].concat();
    let material = Material {
        snapshots,
        far: loaded.far,
        far_port: loaded.far_port,
        site: loaded.site,
        ..Material::default()
    };
    let Ok(Redacted { material, replaced, kept }) = redact(material, &Keep::default()) else {
        return;
    };
    let (data, sum) = enclosed::write(&material, count).unwrap();
    let facts = Redacted { material, replaced, kept };
    let own = facts.material.snapshots.iter().take(count);
    let found = own.map(|one| diagnose(one, Knowledge::default()).unwrap());
    let report = build::report(&found.collect::<Vec<_>>(), &facts, &build::Told::default(), &sum);
    let page = html::page(&report, &data);
    for form in [&page, &markdown::page(&report), &text::page(&report)] {
        assert!(form.chars().all(|c| c == '\n' || !c.is_control()));
    }
    let back = understand(page.as_bytes(), Path::new("page")).unwrap();
    assert_eq!(back.altered, None);
    assert_eq!(back.snapshots.as_slice(), &facts.material.snapshots[..count]);
});
