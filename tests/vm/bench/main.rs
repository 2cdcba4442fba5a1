//! The host's half of the bench with a real kernel (`tests/vm/run` starts it).
//!
//! `vm-bench stage DIR` writes the scenarios' folders for the guest; `vm-bench check OUT PROGRAM`
//! holds what came back against what each scenario expects, prints a line for each, and ends with
//! 1 if anything failed.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test harness: it reads results, runs the program, and a panic is a failed scenario"
)]

mod images;
mod scenarios;
mod seen;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::ExitCode;

use scenarios::Scenario;
use seen::Seen;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments.as_slice() {
        ["stage", folder] => stage(Path::new(folder)),
        ["check", out, program] => return check(Path::new(out), Path::new(program)),
        _ => panic!("usage: vm-bench stage DIR | vm-bench check OUT PROGRAM"),
    }
    ExitCode::SUCCESS
}

/// Writes one folder a scenario: images, number of ports, shell lines.
fn stage(folder: &Path) {
    for scenario in scenarios::all() {
        let folder = folder.join(scenario.name);
        for (place, image) in scenario.ports.iter().enumerate() {
            let Some(image) = image else { continue };
            let images = folder.join(format!("images/sim{place}"));
            std::fs::create_dir_all(&images).unwrap();
            for ((address, bank, page), bytes) in &image.0 {
                let name = format!("{address:02x}-{bank:02x}-{page:02x}.bin");
                std::fs::write(images.join(name), bytes).unwrap();
            }
        }
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("ports"), scenario.ports.len().to_string()).unwrap();
        std::fs::write(folder.join("setup.sh"), scenario.setup.as_str()).unwrap();
        std::fs::write(folder.join("commands.sh"), scenario.commands).unwrap();
    }
}

fn check(out: &Path, program: &Path) -> ExitCode {
    // The assertion's own words are printed below, once.
    std::panic::set_hook(Box::new(|_| {}));
    let scenarios = scenarios::all();
    let mut passed = 0;
    for scenario in &scenarios {
        match catch_unwind(AssertUnwindSafe(|| examine(scenario, out, program))) {
            Ok(figures) => {
                passed += 1;
                println!("passed  {:<24} {}", scenario.name, scenario.about);
                figures.iter().for_each(|line| println!("        {line}"));
            }
            Err(panic) => {
                println!("FAILED  {:<24} {}", scenario.name, scenario.about);
                let words = panic
                    .downcast_ref::<String>()
                    .cloned()
                    .or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()));
                println!("        {}", words.unwrap_or_default().replace('\n', "\n        "));
            }
        }
    }
    let log = std::fs::read_to_string(out.join("dmesg")).unwrap_or_default();
    let complaint = ["BUG:", "WARNING:", "Oops", "Call Trace", "refcount_t"]
        .into_iter()
        .find(|word| log.contains(word) || log.is_empty());
    if let Some(word) = complaint {
        println!(
            "FAILED  the guest's kernel complained ({word}), or left no log: see {}",
            out.display()
        );
    }
    let whole = passed == scenarios.len() && complaint.is_none();
    println!("vm bench: {passed} of {} scenarios passed", scenarios.len());
    if whole { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// What every scenario must hold to, then its own expectations. Returns figures worth printing.
fn examine(scenario: &Scenario, out: &Path, program: &Path) -> Vec<String> {
    let seen = Seen::new(scenario, out, program);
    seen.set_up_as_told();
    seen.nothing_was_set();
    seen.memory_is_the_images();
    (scenario.check)(&seen)
}
