//! The report as plain text, 80 columns wide.

use crate::render::text::{Page, Style, columns, pad};
use crate::report::{Block, Report, Section, Words};

const STYLE: Style = Style { colour: false, width: 80 };

/// The page.
pub fn page(report: &Report) -> String {
    let mut page = Page::default();
    underlined(&mut page, &report.title, '=');
    for one in &report.sections {
        section(&mut page, one, 0);
    }
    page.text
}

fn underlined(page: &mut Page, heading: &Words, mark: char) {
    page.heading(STYLE, heading.text());
    page.line(&mark.to_string().repeat(columns(heading.text()).min(STYLE.width)));
}

fn section(page: &mut Page, section: &Section, depth: usize) {
    page.line("");
    match depth {
        0 => underlined(page, &section.heading, '-'),
        _ => page.wrapped(STYLE, &"#".repeat(depth), &format!(" {}", section.heading.text())),
    }
    for one in &section.blocks {
        page.line("");
        block(page, one);
    }
    for one in &section.sections {
        self::section(page, one, depth.saturating_add(1));
    }
}

fn block(page: &mut Page, block: &Block) {
    match block {
        Block::Verdict(judged) => {
            let (port, host) = (judged.port.text(), judged.host.text());
            let word = judged.verdict.text().to_uppercase();
            page.wrapped(STYLE, "", &format!("{port} on {host}: {word}"));
            page.wrapped(STYLE, "  ", judged.headline.text());
        }
        Block::Paragraph { text } => page.wrapped(STYLE, "", text.text()),
        Block::Care { text } => page.wrapped(STYLE, "CARE  ", text.text()),
        Block::List { caption, items } => {
            page.wrapped(STYLE, "", &format!("{}:", caption.text()));
            for item in items {
                page.wrapped(STYLE, "  - ", item.text());
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

/// Columns of a row that stand side by side; the last one is wrapped.
fn table(page: &mut Page, caption: &Words, head: &[Words], rows: &[Vec<Words>]) {
    /// Wider cells push what follows to the next line.
    const WIDEST: usize = 28;
    page.wrapped(STYLE, "", &format!("{}:", caption.text()));
    let all = || std::iter::once(head).chain(rows.iter().map(Vec::as_slice));
    let widths: Vec<usize> = (0..head.len())
        .map(|column| {
            let cells = all().filter_map(|row| row.get(column));
            cells.map(|cell| columns(cell.text())).max().unwrap_or(0).min(WIDEST)
        })
        .collect();
    for row in all() {
        let Some((last, cells)) = row.split_last() else { continue };
        let mut first = String::from("  ");
        for (cell, width) in cells.iter().zip(&widths) {
            if columns(cell.text()) > *width {
                page.wrapped(STYLE, &first, cell.text());
                first = " ".repeat(columns(&first) + width + 2);
            } else {
                first.push_str(&pad(cell.text(), width + 2));
            }
        }
        // A word that has no room there (a sum, say) would be broken.
        let longest = last.text().split(' ').map(columns).max().unwrap_or(0);
        if columns(&first) + longest > STYLE.width {
            page.line(&first);
            first = "    ".to_owned();
        }
        page.wrapped(STYLE, &first, last.text());
    }
}
