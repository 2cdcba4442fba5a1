//! The report as one HTML page that needs nothing from outside and runs nothing.
//!
//! Markup is made by `maud`, which escapes whatever is put into it; [`crate::report::Words`] are
//! clean of control characters before. The policy in its head forbids everything but the one style
//! sheet in it, by that sheet's sum.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};

use crate::report::{Block, Drawn, Gauge, Judged, Report, Section, Words, enclosed, svg};

/// The style sheet. Contrast is that of WCAG 2.2 AA or better, in light and dark.
const STYLE: &str = include_str!("report.css");

/// The page, with the facts inside.
pub fn page(report: &Report, data: &str) -> String {
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; img-src 'none'; base-uri 'none'; \
         form-action 'none'",
        STANDARD.encode(Sha256::digest(STYLE))
    );
    let ports: Vec<(usize, &Section)> =
        (1..).zip(report.sections.iter().filter(|section| section.name == "port")).collect();
    let mut number = 0;
    let page = html! {
        (DOCTYPE)
        html lang="en" dir="ltr" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                meta name="generator" content=(report.tool);
                title { (report.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header { h1 { (report.title) } }
                @if !ports.is_empty() {
                    nav aria-label="Ports" {
                        ul {
                            @for (number, port) in &ports {
                                li { a href={ "#port-" (number) } { (port.heading) } }
                            }
                        }
                    }
                }
                main {
                    @for one in &report.sections {
                        @if one.name == "port" { ({ number += 1; section(one, 2, Some(number)) }) }
                        @else { (section(one, 2, None)) }
                    }
                }
                footer { p { "Made by " (report.tool) ". SHA-256 of the facts inside: "
                    code { (report.data_sha256) } } }
                (enclosed::element(data, &report.data_sha256))
            }
        }
    };
    page.into_string()
}

fn section(section: &Section, level: u8, port: Option<usize>) -> Markup {
    let id = port.map(|number| format!("port-{number}"));
    html! {
        section class=(section.name) id=[id] {
            @match level {
                2 => h2 { (section.heading) },
                3 => h3 { (section.heading) },
                4 => h4 { (section.heading) },
                _ => h5 { (section.heading) },
            }
            @for one in &section.blocks { (block(one)) }
            @for one in &section.sections { (self::section(one, level.saturating_add(1), None)) }
        }
    }
}

fn block(block: &Block) -> Markup {
    match block {
        Block::Verdict(judged) => verdict(judged),
        Block::Paragraph { text } => html! { p { (text) } },
        Block::Care { text } => html! { p.care { strong { "CARE" } " " (text) } },
        Block::List { caption, items } => html! {
            p { (caption) ":" }
            ul { @for item in items { li { (item) } } }
        },
        Block::Table { caption, head, rows } => table(caption, head, rows),
        Block::Chain(drawn) => chain(drawn),
        Block::Gauge(one) => gauge(one),
    }
}

fn verdict(judged: &Judged) -> Markup {
    let word = judged.verdict.text();
    let name = html! { (judged.port) " on " (judged.host) };
    html! {
        div class={ "verdict v-" (word.replace(' ', "-")) } {
            p.word {
                strong { (word.to_uppercase()) } " "
                @match judged.section {
                    Some(number) => a href={ "#port-" (number) } { (name) },
                    None => (name),
                }
            }
            p { (judged.headline) }
        }
    }
}

fn table(caption: &Words, head: &[Words], rows: &[Vec<Words>]) -> Markup {
    html! {
        table {
            caption { (caption) }
            thead { tr { @for cell in head { th scope="col" { (cell) } } } }
            tbody {
                @for row in rows {
                    tr {
                        @if let Some((first, rest)) = row.split_first() {
                            th scope="row" { (first) }
                            @for cell in rest { td { (cell) } }
                        }
                    }
                }
            }
        }
    }
}

fn chain(drawn: &Drawn) -> Markup {
    let head = super::chain_head();
    html! {
        figure { (svg::chain(drawn, "The chain: the most that each part can carry. The table \
            behind it says the same.")) }
        (table(&drawn.caption, &head, &super::chain_rows(drawn)))
    }
}

fn gauge(gauge: &Gauge) -> Markup {
    let title = format!("{} against its limits. The table behind it says the same.", gauge.reading);
    html! {
        div.gauge {
            figure {
                figcaption { (gauge.reading) }
                (svg::gauge(gauge, &title))
            }
            (table(&super::gauge_caption(gauge), &super::gauge_head(), &super::gauge_rows(gauge)))
        }
    }
}
