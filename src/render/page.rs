//! A fault's page, in Markdown that reads well on a terminal; the same text that
//! `packaging/doc/faults/` holds.

use std::fmt::Write as _;

use crate::faults::{CATALOGUE, Fault, Status};

/// The page of one fault.
pub fn page(fault: &Fault) -> String {
    let mut text = String::new();
    // Writing into a String cannot fail.
    let _ = writeln!(text, "# {}\n\n{}.\n\n{}", fault.name, sentence(fault.title), fault.meaning);
    let _ = writeln!(text, "\nPart to look at: {}. Status: {}.", fault.part.text(), status(fault));
    let _ = writeln!(text, "\n## Evidence\n");
    let _ = writeln!(
        text,
        "Starts at {:+} decibans; +20 is established, +10 likely, 0 possible.\n",
        fault.before
    );
    for row in fault.signature {
        let vital = if row.vital { ", needed to be sure" } else { "" };
        let _ = writeln!(
            text,
            "- {} ({:+} if so, {:+} if not{vital}): {}",
            row.sees.statement, row.yes, row.no, row.why
        );
    }
    if !fault.confused_with.is_empty() {
        let _ = writeln!(text, "\n## Mistaken for\n");
        for other in fault.confused_with {
            let _ = writeln!(text, "- {}: {}", other.with, other.decider);
        }
    }
    let _ = writeln!(text, "\n## What to do next\n");
    for test in fault.next_tests {
        let _ = writeln!(text, "- {}. Outcome: {}.", test.step, test.tells);
        for caution in test.care.iter().filter_map(|care| care.text()) {
            let _ = writeln!(text, "  CARE: {caution}");
        }
    }
    let _ = writeln!(text, "\nUsual remedy: {}.\n\n## Sources\n", fault.usual_fix);
    for source in fault.sources {
        let _ = writeln!(text, "- {source}");
    }
    text
}

fn sentence(title: &str) -> String {
    let mut characters = title.chars();
    characters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

fn status(fault: &Fault) -> String {
    match fault.status {
        Status::Draft => "draft (never more than possible)".into(),
        Status::Settled => "settled".into(),
        Status::Retired { replaced_by } => format!("retired, replaced by {replaced_by}"),
    }
}

/// The list of all faults, a line each.
pub fn list() -> String {
    let widest = CATALOGUE.iter().map(|fault| fault.name.len()).max().unwrap_or(0);
    CATALOGUE.iter().fold(String::new(), |mut text, fault| {
        let _ = writeln!(text, "{:widest$}  {}", fault.name, fault.title);
        text
    })
}
