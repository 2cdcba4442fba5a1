//! The facts inside an HTML report: inert JSON in a `script` element that nothing runs.
//!
//! It is written in ASCII with `<` escaped, so that nothing in it can end the element, and its
//! SHA-256 stands beside it: a page whose facts were changed does not fit its own sum any more. That
//! is a checksum, no signature: who changes both is not found out.

use maud::{Markup, PreEscaped, html};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use sha2::{Digest as _, Sha256};

use crate::render::json;
use crate::report::redact::Material;
use crate::site::Site;
use crate::snapshot::Snapshot;

/// The `id` of the element.
pub const ID: &str = "linkwright-capture";
/// What its start tag begins with.
const START: &str = "<script type=\"application/json\" id=\"linkwright-capture\"";
/// The attribute with the sum.
const SUM: &str = "data-sha256=\"";
/// The word in `format`.
const FORMAT: &str = "linkwright-enclosed";

/// What is inside, as it is written.
#[derive(Serialize)]
struct Written<'a> {
    format: &'static str,
    captures: &'a [Snapshot],
    beside: &'a [Snapshot],
    far: Option<&'a Snapshot>,
    far_port: Option<&'a str>,
    site: Option<&'a Site>,
}

/// The same as it is read, captures unread.
#[derive(Debug, Deserialize)]
pub struct Enclosed<'a> {
    format: Option<String>,
    /// The captures that the report is about.
    #[serde(borrow)]
    pub captures: Vec<&'a RawValue>,
    /// Captures that are only the far ends of those, joined by the site file.
    #[serde(borrow, default)]
    pub beside: Vec<&'a RawValue>,
    /// The capture that was given as the far end's.
    #[serde(borrow, default)]
    pub far: Option<&'a RawValue>,
    /// The port in it that was named.
    #[serde(default)]
    pub far_port: Option<String>,
    /// Entries of the site file.
    #[serde(default)]
    pub site: Option<Site>,
}

/// The facts as text in one line, and their SHA-256 in hex digits.
///
/// # Errors
/// They cannot be written as JSON.
pub fn write(material: &Material, chosen: usize) -> serde_json::Result<(String, String)> {
    let (captures, beside) = material.snapshots.split_at(chosen.min(material.snapshots.len()));
    let (far, far_port) = (material.far.as_ref(), material.far_port.as_deref());
    let site = material.site.as_ref();
    let written = Written { format: FORMAT, captures, beside, far, far_port, site };
    // `<` stands in strings alone.
    let data = json::to_string(&written, false)?.trim_end().replace('<', "\\u003c");
    let sum = sum(&data);
    Ok((data, sum))
}

fn sum(data: &str) -> String {
    Sha256::digest(data).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The element.
pub fn element(data: &str, sum: &str) -> Markup {
    html! {
        script type="application/json" id=(ID) data-sha256=(sum) { (PreEscaped(data)) }
    }
}

/// True for a page: JSON never begins so.
pub fn is_page(text: &str) -> bool {
    text.trim_start_matches('\u{feff}').trim_start().starts_with('<')
}

/// What was found in a page.
pub struct Found<'a> {
    /// The facts.
    pub enclosed: Enclosed<'a>,
    /// Where the sum does not fit: what is to be said about it.
    pub altered: Option<String>,
}

/// Finds the facts in a page. Time and memory grow with its length alone.
///
/// # Errors
/// What is wrong with it.
pub fn find(page: &str) -> Result<Found<'_>, String> {
    let (_, rest) =
        page.split_once(START).ok_or("it is a page without a Linkwright report's facts inside")?;
    let (tag, rest) = rest.split_once('>').ok_or("the page ends before its facts begin")?;
    let (data, after) =
        rest.split_once("</script").ok_or("the page ends in the middle of its facts")?;
    if after.contains(START) {
        // Which of them the page shows cannot be told.
        return Err("it is a page with more than one report's facts inside".to_owned());
    }
    let enclosed: Enclosed<'_> = serde_json::from_str(data).map_err(|error| error.to_string())?;
    if enclosed.format.as_deref() != Some(FORMAT) {
        return Err(format!("the `format` of the facts in the page is not {FORMAT:?}"));
    }
    let told = tag.split_once(SUM).and_then(|(_, rest)| rest.split_once('"'));
    let altered = match told {
        Some((told, _)) if told == sum(data) => None,
        Some(_) => Some(
            "its facts were changed after the report was made: they do not fit the SHA-256 in it. \
             They are used, but are no evidence",
        ),
        None => Some(
            "the SHA-256 of its facts was taken out, so it is not known whether they are as the \
             report was made",
        ),
    };
    Ok(Found { enclosed, altered: altered.map(str::to_owned) })
}
