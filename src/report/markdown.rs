//! The report as Markdown (CommonMark with tables), so that it can go into a ticket.

use std::fmt::Write as _;

use crate::report::{Block, Report, Section, Words};

/// The page.
pub fn page(report: &Report) -> String {
    let mut page = format!("# {}\n", escaped(&report.title));
    for one in &report.sections {
        section(&mut page, one, 2);
    }
    page
}

// Writing into a String cannot fail.
fn section(page: &mut String, section: &Section, level: usize) {
    let _ = writeln!(page, "\n{} {}", "#".repeat(level), escaped(&section.heading));
    for one in &section.blocks {
        page.push('\n');
        block(page, one);
    }
    for one in &section.sections {
        self::section(page, one, level.saturating_add(1));
    }
}

fn block(page: &mut String, block: &Block) {
    match block {
        Block::Verdict(judged) => {
            let (word, port, host) = (judged.verdict.text(), &judged.port, &judged.host);
            let (port, host) = (escaped(port), escaped(host));
            let word = word.to_uppercase();
            let _ = writeln!(page, "**{word}** {port} on {host}: {}", escaped(&judged.headline));
        }
        Block::Paragraph { text } => {
            let _ = writeln!(page, "{}", escaped(text));
        }
        Block::Care { text } => {
            let _ = writeln!(page, "**CARE** {}", escaped(text));
        }
        Block::List { caption, items } => {
            let _ = writeln!(page, "{}:\n", escaped(caption));
            for item in items {
                let _ = writeln!(page, "- {}", escaped(item));
            }
        }
        Block::Table { caption, head, rows } => table(page, caption, head, rows),
        Block::Chain(drawn) => {
            table(page, &drawn.caption, &super::chain_head(), &super::chain_rows(drawn));
        }
        Block::Gauge(gauge) => {
            let (caption, rows) = (super::gauge_caption(gauge), super::gauge_rows(gauge));
            table(page, &caption, &super::gauge_head(), &rows);
        }
    }
}

fn table(page: &mut String, caption: &Words, head: &[Words], rows: &[Vec<Words>]) {
    let row = |cells: &[Words]| {
        let cells: Vec<String> = cells.iter().map(escaped).collect();
        format!("| {} |", cells.join(" | "))
    };
    let _ =
        writeln!(page, "{}:\n\n{}\n|{}", escaped(caption), row(head), " --- |".repeat(head.len()));
    for cells in rows {
        let _ = writeln!(page, "{}", row(cells));
    }
}

/// Text that stays text: whatever could begin or end something is escaped, as CommonMark allows for
/// any mark of ASCII, and so is what some readers make a link of.
fn escaped(text: &Words) -> String {
    let text = text.text();
    let mut safe = String::with_capacity(text.len());
    for (place, character) in text.char_indices() {
        let before = text.get(..place).unwrap_or_default();
        let marks = match character {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' | '!' | '@' => {
                true
            }
            // A list or a line, where it begins the text.
            '-' | '+' | '=' => before.is_empty(),
            '.' | ')' => {
                !before.is_empty() && before.bytes().all(|byte| byte.is_ascii_digit())
                    || (character == '.' && before.to_ascii_lowercase().ends_with("www"))
            }
            ':' => text.get(place..).is_some_and(|rest| rest.starts_with("://")),
            _ => false,
        };
        if marks {
            safe.push('\\');
        }
        safe.push(character);
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::words;

    /// CommonMark 0.31.2, 2.4: any ASCII punctuation may be escaped.
    #[test]
    fn text_stays_text() {
        for (text, safe) in [
            ("a|b <i>*c*</i>", "a\\|b \\<i\\>\\*c\\*\\</i\\>"),
            ("1. not a list", "1\\. not a list"),
            ("- nor this", "\\- nor this"),
            ("-3.00 dBm", "\\-3.00 dBm"),
            ("12.5 dB", "12\\.5 dB"),
            ("http://x www.x", "http\\://x www\\.x"),
        ] {
            assert_eq!(escaped(&words(text)), safe);
        }
    }
}
