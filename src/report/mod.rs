//! The report: the page that goes with a support request, and a capture at the same time.
//!
//! Facts of the chosen ports, and of what relates to them, go through [`redact`]; what is found is
//! found from what is left, so that no form of the report can hold what its capture does not.
//! [`build`] makes a [`Report`] of it, sections in order, and the forms show that and nothing else:
//! [`html`] (with the facts inside, [`enclosed`]), [`markdown`], [`text`], and JSON as it is here.
//! Pure: no I/O, no clock, no randomness.
//!
//! Whatever is shown is [`Words`], which cannot hold a control character.

pub mod build;
pub mod enclosed;
mod gauge;
pub mod html;
pub mod markdown;
pub mod redact;
mod svg;
pub mod text;

use maud::Render;
use serde::Serialize;

use crate::diagnose::Verdict;
use crate::quantity::Mbps;
use crate::render::clean;

pub use gauge::{Bar, Gauge, Limit};

/// Version of the report's JSON form in `format`.
pub const FORMAT: &str = "linkwright-report 1";

/// Text for readers, cleaned: see [`clean`].
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[serde(transparent)]
pub struct Words(String);

impl Words {
    /// The text.
    pub fn text(&self) -> &str {
        &self.0
    }
}

/// Cleans text.
pub fn words(text: impl AsRef<str>) -> Words {
    Words(clean(text.as_ref()).into_owned())
}

impl Render for Words {
    fn render_to(&self, page: &mut String) {
        self.0.render_to(page);
    }
}

/// What every form shows.
#[derive(Debug, Serialize)]
pub struct Report {
    /// Program and version.
    pub tool: &'static str,
    /// [`FORMAT`].
    pub format: &'static str,
    /// In a line.
    pub title: Words,
    /// SHA-256 of the facts that the HTML form holds, hex digits.
    pub data_sha256: String,
    /// The parts of the report, in the order that they are read.
    pub sections: Vec<Section>,
}

/// A part of the report under a heading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Section {
    /// What it is, for programs: `problem`, `next`, `chain`, `seen`, `causes`, `cause`,
    /// `ruled-out`, `tried`, `counters`, `numbers`, `over-time`, `host`, `not-known`, `made`; `port`
    /// holds those of one port where there are several.
    pub name: &'static str,
    /// Heading.
    pub heading: Words,
    /// What stands in it.
    pub blocks: Vec<Block>,
    /// Parts of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<Section>,
}

impl Section {
    /// A section of blocks; none where there are none.
    fn of(name: &'static str, heading: impl AsRef<str>, blocks: Vec<Block>) -> Option<Self> {
        let heading = words(heading);
        (!blocks.is_empty()).then_some(Self { name, heading, blocks, sections: Vec::new() })
    }
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Block {
    /// The verdict on a port.
    Verdict(Judged),
    /// Running text.
    Paragraph {
        /// The text.
        text: Words,
    },
    /// A caution, or that none is needed.
    Care {
        /// The text.
        text: Words,
    },
    /// Lines of text that somebody wrote.
    List {
        /// What they are.
        caption: Words,
        /// The lines.
        items: Vec<Words>,
    },
    /// A table; the first column heads its row.
    Table {
        /// What it shows.
        caption: Words,
        /// Heads of the columns.
        head: Vec<Words>,
        /// Rows, as many cells each.
        rows: Vec<Vec<Words>>,
    },
    /// The parts of a link.
    Chain(Drawn),
    /// Readings against their limits.
    Gauge(Gauge),
}

/// The verdict on a port.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// Host.
    pub host: Words,
    /// Port.
    pub port: Words,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, in a sentence or two.
    pub headline: Words,
    /// Number of the section that tells more, from 1, where several ports are shown.
    #[serde(skip)]
    pub section: Option<usize>,
}

/// The parts of a link with the most that each can carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drawn {
    /// What it shows.
    pub caption: Words,
    /// Speed that the link runs at.
    pub running_mbps: Option<Mbps>,
    /// From this host outwards.
    pub parts: Vec<DrawnPart>,
}

/// A part of a link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawnPart {
    /// Which.
    pub part: &'static str,
    /// The most it can carry; `?` is not known, `-` does not apply.
    pub most: Words,
    /// The same as a number.
    pub most_mbps: Option<Mbps>,
    /// What it is to the link, in capitals, if anything.
    pub mark: &'static str,
    /// What was read of it, and where the figure is from.
    pub read: Words,
}

/// A table of names and texts; none where there are none.
fn rows<N: AsRef<str>, T: AsRef<str>>(
    caption: &str,
    head: [&str; 2],
    rows: impl IntoIterator<Item = (N, T)>,
) -> Option<Block> {
    let rows = rows.into_iter().map(|(name, text)| vec![words(name), words(text)]);
    table(caption, &head, rows)
}

/// A table; none where it would be empty.
fn table(
    caption: &str,
    head: &[&str],
    rows: impl IntoIterator<Item = Vec<Words>>,
) -> Option<Block> {
    let rows: Vec<_> = rows.into_iter().collect();
    let head = head.iter().map(words).collect();
    (!rows.is_empty()).then(|| Block::Table { caption: words(caption), head, rows })
}

fn paragraph(text: impl AsRef<str>) -> Block {
    Block::Paragraph { text: words(text) }
}

fn care(text: impl AsRef<str>) -> Block {
    Block::Care { text: words(text) }
}

/// Heads of the table that says what the chain's drawing shows.
fn chain_head() -> Vec<Words> {
    ["part", "most", "what was read of it"].map(words).into()
}

/// Its rows.
fn chain_rows(drawn: &Drawn) -> Vec<Vec<Words>> {
    let row = |part: &DrawnPart| {
        let read = match part.mark {
            "" => part.read.clone(),
            mark => words(format!("{mark}. {}", part.read.text())),
        };
        vec![words(part.part), part.most.clone(), read]
    };
    drawn.parts.iter().map(row).collect()
}

/// Caption of the table that says what a gauge's drawing shows.
fn gauge_caption(gauge: &Gauge) -> Words {
    let limits: Vec<String> = gauge
        .limits
        .iter()
        .map(|limit| format!("{} {} {}", limit.name, svg::number(limit.value), gauge.unit))
        .collect();
    let limits = if limits.is_empty() { String::new() } else { format!(": {}", limits.join(", ")) };
    words(format!("{}; limits: {}{limits}", gauge.reading, gauge.limits_are.text()))
}

/// Heads of that table.
fn gauge_head() -> Vec<Words> {
    ["of", "reading", "against the limits"].map(words).into()
}

/// Its rows.
fn gauge_rows(gauge: &Gauge) -> Vec<Vec<Words>> {
    let row = |bar: &Bar| vec![bar.of.clone(), bar.shown.clone(), words(&bar.standing)];
    gauge.bars.iter().map(row).collect()
}
