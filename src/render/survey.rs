//! The survey: every port, a line each.

use crate::diagnose::{Diagnosis, PortDiagnosis, Verdict};
use crate::quantity::Mbps;
use crate::render::text::{Page, Style, clean, cut, pad};
use crate::snapshot::Fact;

/// Ports as a table: name, speed now, speed to expect, verdict, why. Gaps of the whole host
/// follow it.
pub fn survey(diagnosis: &Diagnosis<'_>, style: Style) -> String {
    let mut page = Page::default();
    let host = clean(&diagnosis.snapshot.host.name);
    page.line(&style.heading(&format!("{host}: {}", tally(&diagnosis.ports))));
    if !diagnosis.ports.is_empty() {
        rows(&mut page, &diagnosis.ports, style);
    }
    for gap in &diagnosis.snapshot.gaps {
        let remedy = gap.remedy.as_deref().map_or_else(String::new, |text| format!("; {text}"));
        page.wrapped(style, "not read: ", &format!("{}: {}{remedy}", gap.what, gap.missing));
    }
    page.text
}

fn tally(ports: &[PortDiagnosis]) -> String {
    if ports.is_empty() {
        return "no ports".into();
    }
    let count = |verdict| ports.iter().filter(|port| port.verdict == verdict).count();
    [Verdict::Fault, Verdict::Attention, Verdict::Unknown, Verdict::Healthy, Verdict::Idle]
        .into_iter()
        .filter_map(|verdict| {
            let count = count(verdict);
            (count > 0).then(|| format!("{count} {}", verdict.text()))
        })
        .collect::<Vec<_>>()
        .join(", ")
}

fn rows(page: &mut Page, ports: &[PortDiagnosis], style: Style) {
    let widest = ports
        .iter()
        .map(|port| unicode_width::UnicodeWidthStr::width(&*clean(&port.name)))
        .max()
        .unwrap_or(0);
    let name_width = widest.clamp(4, 16);
    let (speed_width, verdict_width) = (9, 14);
    let fixed = name_width + 2 * speed_width + verdict_width + 4;
    let rest = style.width.saturating_sub(fixed).max(12);
    page.line(&style.heading(&format!(
        "{} {} {} {} why",
        pad("port", name_width),
        pad("runs at", speed_width),
        pad("could", speed_width),
        pad("verdict", verdict_width)
    )));
    let indent = " ".repeat(fixed);
    for port in ports {
        let word = port.verdict.text().to_uppercase();
        let painted = style.verdict(port.verdict);
        let why = clean(&port.headline);
        let (first, second) = two_lines(&why, rest, port.is_virtual);
        page.line(&format!(
            "{} {} {} {}{} {first}",
            pad(&cut(&clean(&port.name), name_width), name_width),
            pad(&running(port), speed_width),
            pad(&expected(port), speed_width),
            painted,
            " ".repeat(verdict_width.saturating_sub(word.len())),
        ));
        if let Some(second) = second {
            page.line(&format!("{indent}{second}"));
        }
    }
}

/// Two lines a port at most, so that a rack stays readable; one for what is not judged.
fn two_lines(why: &str, width: usize, one: bool) -> (String, Option<String>) {
    if one {
        return (cut(why, width), None);
    }
    let mut lines = textwrap::wrap(why, width).into_iter();
    let first = lines.next().unwrap_or_default().into_owned();
    let second = match (lines.next(), lines.next()) {
        (Some(second), Some(_)) => Some(cut(&format!("{second} …"), width)),
        (second, _) => second.map(std::borrow::Cow::into_owned),
    };
    (first, second)
}

fn running(port: &PortDiagnosis) -> String {
    match &port.running {
        Fact::Known(speed) => speed.to_string(),
        Fact::Missing(_) => "-".into(),
    }
}

fn expected(port: &PortDiagnosis) -> String {
    port.expected.as_ref().map_or_else(|| "-".into(), Mbps::to_string)
}
