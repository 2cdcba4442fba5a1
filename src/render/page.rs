//! A fault's page, in Markdown that reads well on a terminal; the same text that
//! `packaging/doc/faults/` holds.

use std::fmt::Write as _;

use crate::diagnose::interrupts;
use crate::faults::{CATALOGUE, Fault, Status};
use crate::render::explain::{DECIBANS, NO_HAZARD};
use crate::render::text::{Page, Style, ended};

/// The page of one fault.
pub fn page(fault: &Fault) -> String {
    let mut text = String::new();
    // Writing into a String cannot fail.
    let _ = writeln!(text, "# {}\n\n{}.\n\n{}", fault.name, sentence(fault.title), fault.meaning);
    let _ = writeln!(text, "\nPart to look at: {}. Status: {}.", fault.part.text(), status(fault));
    let _ = writeln!(text, "\n## Evidence\n");
    let _ = writeln!(text, "{DECIBANS} It starts at {:+}.\n", fault.before);
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
        let _ = writeln!(text, "- {} Outcome: {}.", ended(test.step), test.tells);
        let stops = interrupts(test.step);
        if test.care.iter().all(|care| care.text().is_none()) && !stops {
            let _ = writeln!(text, "  CARE: {NO_HAZARD}");
        }
        for caution in test.care.iter().filter_map(|care| care.text()) {
            let _ = writeln!(text, "  CARE: {caution}");
        }
        if stops {
            let _ = writeln!(text, "  CARE: On a link that is up, traffic stops meanwhile.");
        }
    }
    let _ = writeln!(text, "\nUsual remedy: {}.\n\n## Sources\n", fault.usual_fix);
    for source in fault.sources {
        let _ = writeln!(text, "- {source}");
    }
    text
}

/// The page wrapped for a terminal: what goes on stands under its own beginning.
pub fn on_terminal(fault: &Fault, style: Style) -> String {
    let mut shown = Page::default();
    for line in page(fault).lines() {
        let start = ["  CARE: ", "- "].into_iter().find(|start| line.starts_with(start));
        let start = start.unwrap_or_default();
        match line.strip_prefix(start) {
            _ if line.starts_with('#') => shown.line(&style.heading(line)),
            Some("") | None => shown.line(line),
            Some(rest) => shown.wrapped(style, start, rest),
        }
    }
    shown.text
}

fn sentence(title: &str) -> String {
    let mut characters = title.chars();
    characters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

fn status(fault: &Fault) -> String {
    match fault.status {
        Status::Draft => "draft (new: it is never held to be more than possible)".into(),
        Status::Settled => "settled (tested on captures; it may be held to be established)".into(),
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
