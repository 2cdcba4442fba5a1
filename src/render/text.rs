//! Lines of text: cleaned, wrapped, and coloured where that is wanted.

use std::borrow::Cow;
use std::fmt::Write as _;

use owo_colors::OwoColorize as _;

use crate::diagnose::Verdict;

/// How text is to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Whether colour is wanted. Colour never carries meaning alone.
    pub colour: bool,
    /// Columns.
    pub width: usize,
}

impl Default for Style {
    fn default() -> Self {
        Self { colour: false, width: 80 }
    }
}

impl Style {
    /// The verdict's word.
    pub fn verdict(self, verdict: Verdict) -> String {
        self.word(verdict.text(), verdict)
    }

    /// A word in capitals, in a verdict's colour.
    pub fn word(self, word: &str, verdict: Verdict) -> String {
        let word = word.to_ascii_uppercase();
        if !self.colour {
            return word;
        }
        match verdict {
            Verdict::Fault => word.red().bold().to_string(),
            Verdict::Attention => word.yellow().bold().to_string(),
            Verdict::Unknown => word.magenta().to_string(),
            Verdict::Healthy => word.green().to_string(),
            Verdict::Idle => word.dimmed().to_string(),
        }
    }

    /// A heading.
    pub fn heading(self, text: &str) -> String {
        if self.colour { text.bold().to_string() } else { text.to_owned() }
    }
}

/// Makes a string harmless to a terminal and to a reader: control characters, direction
/// overrides and invisible characters become visible escapes.
pub fn clean(text: &str) -> Cow<'_, str> {
    if is_plain(text) || text.chars().all(is_harmless) {
        return Cow::Borrowed(text);
    }
    let mut harmless = String::with_capacity(text.len());
    for character in text.chars() {
        if is_harmless(character) {
            harmless.push(character);
        } else {
            let _ = write!(harmless, "\\u{{{:x}}}", u32::from(character));
        }
    }
    Cow::Owned(harmless)
}

/// True for printable ASCII alone, as most text is: harmless, and a column a byte.
fn is_plain(text: &str) -> bool {
    text.bytes().all(|byte| matches!(byte, b' '..=b'~'))
}

/// Width in columns.
pub fn columns(text: &str) -> usize {
    if is_plain(text) { text.len() } else { unicode_width::UnicodeWidthStr::width(text) }
}

fn is_harmless(character: char) -> bool {
    !(character.is_control()
        || matches!(u32::from(character),
            // Invisible spaces, direction marks and overrides, separators, tags, fillers.
            0xad | 0x61c | 0x115f | 0x1160 | 0x17b4 | 0x17b5 | 0x180b..=0x180f
            | 0x200b..=0x200f | 0x2028..=0x202e | 0x2060..=0x206f | 0x3164
            | 0xfe00..=0xfe0f | 0xfeff | 0xffa0 | 0xfff0..=0xfffb
            | 0xe0000..=0xe0fff))
}

/// Text being put together.
#[derive(Debug, Default)]
pub struct Page {
    /// What is written so far.
    pub text: String,
}

impl Page {
    /// A line as it is: for text that is already clean.
    pub fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    /// A paragraph: cleaned, wrapped, the first line behind `first`, the rest indented as far.
    pub fn wrapped(&mut self, style: Style, first: &str, text: &str) {
        let indent = " ".repeat(columns(first));
        for line in wrap(&clean(text), style.width.max(30), first, &indent) {
            self.line(&line);
        }
    }

    /// A heading that may be longer than a line.
    pub fn heading(&mut self, style: Style, text: &str) {
        for line in wrap(&clean(text), style.width.max(30), "", "  ") {
            self.line(&style.heading(&line));
        }
    }
}

/// Lines of at most this width, broken between words, but not between a number and its unit.
pub fn wrap(text: &str, width: usize, first: &str, rest: &str) -> Vec<String> {
    let options = textwrap::Options::new(width)
        .initial_indent(first)
        .subsequent_indent(rest)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .wrap_algorithm(textwrap::WrapAlgorithm::FirstFit);
    let glued = glued(text);
    let lines = textwrap::wrap(&glued, options).into_iter();
    lines.map(|line| line.replace(GLUE, " ")).collect()
}

/// The text with a full stop, unless it ends in a mark of its own.
pub fn ended(text: &str) -> String {
    if text.ends_with(['.', '?', '!']) { text.to_owned() } else { format!("{text}.") }
}

/// A space that no line is broken at.
const GLUE: char = '\u{a0}';
/// What belongs to the number before it.
const UNITS: &[&str] = &[
    "dBm", "dB", "mW", "µW", "mA", "V", "W", "°C", "Gb/s", "Mb/s", "MBd", "GT/s", "s", "m", "km",
    "nm", "%", "kb/s", "b/s", "ms", "min", "h",
];

fn glued(text: &str) -> String {
    let mut glued = String::with_capacity(text.len());
    for (place, word) in text.split(' ').enumerate() {
        let unit = word.trim_matches(|c: char| "().,;:[]".contains(c));
        if place > 0 {
            let number = glued.ends_with(|c: char| c.is_ascii_digit());
            glued.push(if number && UNITS.contains(&unit) { GLUE } else { ' ' });
        }
        glued.push_str(word);
    }
    glued
}

/// Pads to a width in columns; longer text is kept whole.
pub fn pad(text: &str, width: usize) -> String {
    let mut padded = String::with_capacity(text.len().max(width));
    push_padded(&mut padded, text, width);
    padded
}

/// Appends what [`pad`] makes.
pub fn push_padded(to: &mut String, text: &str, width: usize) {
    to.push_str(text);
    for _ in columns(text)..width {
        to.push(' ');
    }
}

/// Cuts to a width in columns, with an ellipsis where something is lost.
pub fn cut(text: &str, width: usize) -> Cow<'_, str> {
    if columns(text) <= width {
        return text.into();
    }
    if is_plain(text) {
        let kept = text.get(..width.saturating_sub(1)).unwrap_or_default();
        return [kept, "…"].concat().into();
    }
    let mut kept = String::new();
    let mut used = 1;
    for character in text.chars() {
        used += unicode_width::UnicodeWidthChar::width(character).unwrap_or(0);
        if used > width {
            break;
        }
        kept.push(character);
    }
    kept.push('…');
    kept.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_reaches_the_terminal_raw() {
        let evil = "KESTREL\u{1b}[2J\u{9b}31m\u{202e}ERBIF\u{7}\r\n\u{200b}\u{e0041}";
        let harmless = clean(evil);
        assert!(harmless.chars().all(|c| !c.is_control() && c != '\u{202e}' && c != '\u{200b}'));
        assert!(harmless.starts_with("KESTREL\\u{1b}[2J\\u{9b}31m\\u{202e}ERBIF"));
        assert_eq!(clean("20 °C, 3 µW"), "20 °C, 3 µW");
    }

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(
            wrap("warns above 12.60 mA, or so", 18, "", ""),
            ["warns above", "12.60 mA, or so"]
        );
        assert_eq!(wrap("lane 1 is on", 7, "", ""), ["lane 1", "is on"]);
    }

    #[test]
    fn widths() {
        assert_eq!(cut("abcdef", 4), "abc…");
        assert_eq!(pad("µ", 3), "µ  ");
    }
}
