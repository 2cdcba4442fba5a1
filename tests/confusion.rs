//! Every capture in which a fault is present, against every fault of the catalogue: who leads, who
//! comes next, and by how much. The table is kept in `packaging/doc/confusion.md` and in full in
//! `confusion.csv`; `UPDATE=1 cargo test --test confusion` writes them. It fails when a look-alike
//! overtakes, and, since the tables are compared, when a weight moves anything unseen.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::fmt::Write as _;
use std::path::Path;

use common::{current, files, fixtures, root};
use linkwright::chain::far::FarEnd;
use linkwright::diagnose::symptoms::symptoms;
use linkwright::diagnose::view::View;
use linkwright::diagnose::weigh::{Certainty, Examined, examine};
use linkwright::faults::{CATALOGUE, Consequence, Fault, Symptom};
use linkwright::observe::capture::{load, load_site};

/// Every fault, weighed on the port of a capture, whatever symptoms the port has.
fn weighed(capture: &Path) -> (Vec<Symptom>, Vec<Examined>) {
    let stem = capture.to_str().unwrap().strip_suffix(".json").unwrap().to_owned();
    let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
    let snapshot = load(capture).unwrap().remove(0);
    let port = &snapshot.ports[0];
    let site = Path::new(&site).exists().then(|| load_site(Path::new(&site)).unwrap());
    let far = Path::new(&far).exists().then(|| load(Path::new(&far)).unwrap().remove(0));
    let far = far.map(|far| FarEnd::from_port(&far.host.name, &far.ports[0]));
    let told = site.as_ref().and_then(|site| site.port(&snapshot.host.name, &port.names()));
    let view = View::new(&snapshot.host, port, told, far);
    (symptoms(&view), CATALOGUE.iter().map(|fault| examine(fault, &view)).collect())
}

/// A capture in which a fault is present.
struct Present {
    fault: &'static Fault,
    name: String,
    symptoms: Vec<Symptom>,
    weighed: Vec<Examined>,
}

fn present() -> Vec<Present> {
    let of = |fault: &&'static Fault| {
        let folder = fixtures().join("faults").join(fault.name);
        let captures = files(&folder, ".json").into_iter().filter(|path| {
            let name = path.file_name().unwrap().to_str().unwrap();
            name.starts_with("present-") && !name.ends_with(".far.json")
        });
        let fault = *fault;
        captures
            .map(move |path| {
                let name = path.strip_prefix(fixtures().join("faults")).unwrap();
                let name = name.to_str().unwrap().trim_end_matches(".json").to_owned();
                let (symptoms, weighed) = weighed(&path);
                Present { fault, name, symptoms, weighed }
            })
            .collect::<Vec<_>>()
    };
    CATALOGUE.iter().flat_map(of).collect()
}

#[test]
fn no_look_alike_overtakes() {
    let all = present();
    assert!(all.len() >= CATALOGUE.len());
    let mut page = String::from(
        "# Who is taken for whom\n\nEvery capture in which a fault is present (`fixtures/faults`), with the \
         fault it shows, its weight in decibans, and the heaviest of the others that explain a symptom of \
         the port and are raised. Written by `tests/confusion.rs`.\n\n\
         | capture | decibans | next | decibans | ahead by |\n| --- | --- | --- | --- | --- |\n",
    );
    let mut table = String::from("capture");
    for fault in CATALOGUE {
        let _ = write!(table, ",{}", fault.name);
    }
    table.push('\n');
    for Present { fault, name: stem, symptoms, weighed } in &all {
        let own = weighed.iter().find(|one| one.fault.name == fault.name).unwrap();
        let rivals = weighed.iter().filter(|one| {
            let explains = one.fault.explains.iter().any(|symptom| symptoms.contains(symptom));
            one.fault.name != fault.name && one.certainty.is_some() && explains
        });
        let next = rivals.max_by_key(|one| one.weight);
        assert!(own.certainty >= Some(Certainty::Possible), "{stem} does not raise its own fault");
        match next {
            None => {
                let _ = writeln!(page, "| {stem} | {} | - | | |", own.weight.0);
            }
            Some(next) => {
                let ahead = own.weight.0 - next.weight.0;
                // What a fault costs, beside what it is, is told behind it whatever its weight.
                let apart = own.fault.consequence == Consequence::Degraded
                    || next.fault.consequence == Consequence::Degraded;
                assert!(apart || ahead > 0, "{stem}: {} overtakes", next.fault.name);
                let _ = writeln!(
                    page,
                    "| {stem} | {} | {} | {} | {ahead} |",
                    own.weight.0, next.fault.name, next.weight.0
                );
            }
        }
        let _ = write!(table, "{stem}");
        for one in weighed {
            let out = one.ruled_out_by.is_some() || one.evidence.is_empty();
            let cell = if out { String::new() } else { one.weight.0.to_string() };
            let _ = write!(table, ",{cell}");
        }
        table.push('\n');
    }
    current(&root().join("packaging/doc/confusion.md"), page.as_bytes());
    current(&root().join("packaging/doc/confusion.csv"), table.as_bytes());
}
