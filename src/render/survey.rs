//! The survey: every port, a line each, the worst first.

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};

use crate::chain::PartKind;
use crate::diagnose::{Diagnosis, PortDiagnosis, Verdict};
use crate::render::text::{Page, Style, clean, columns, cut, pad, push_padded, wrap};
use crate::snapshot::Fact;

/// How many ports are how; then the ports as a table: name, speed now, speed to expect, verdict,
/// why. Faults stand first, then in the host's order, so that in a full rack what matters is on
/// the first screen. Software interfaces that stand on another one (VLANs and the like) are named
/// under it, in one line. What the site file joins, and gaps
/// of the whole host, follow.
pub fn survey(host: &str, diagnosis: &Diagnosis<'_>, style: Style) -> String {
    let mut page = Page::default();
    let host = clean(host);
    let tally = tally(&diagnosis.ports);
    page.heading(style, &format!("{host}: {tally}"));
    if !diagnosis.ports.is_empty() {
        let stacks = stacks(diagnosis);
        let folded: HashSet<&str> = stacks.values().flatten().copied().collect();
        let mut ports: Vec<&PortDiagnosis> =
            diagnosis.ports.iter().filter(|port| !folded.contains(port.name.as_str())).collect();
        ports.sort_by_key(|port| std::cmp::Reverse(port.verdict));
        rows(&mut page, &ports, &stacks, style);
    }
    let joined = diagnosis.ports.iter().filter_map(|port| {
        let far = port.far_capture.as_ref().filter(|far| far.joined_by_site_file)?;
        Some(format!("{} to {} on {}", port.name, far.port, far.host))
    });
    let joined: Vec<String> = joined.collect();
    if !joined.is_empty() {
        page.wrapped(
            style,
            "joined by the site file, both captures being here: ",
            &joined.join(", "),
        );
    }
    for gap in &diagnosis.snapshot.gaps {
        let remedy = gap.remedy.as_deref().map_or_else(String::new, |text| format!("; {text}"));
        page.wrapped(style, "not read: ", &format!("{}: {}{remedy}", gap.what, gap.missing));
    }
    page.text
}

/// Software interfaces that stand on another interface of this host, by the name of the one at the
/// bottom.
fn stacks<'a>(diagnosis: &'a Diagnosis<'_>) -> HashMap<&'a str, Vec<&'a str>> {
    let ports = &diagnosis.snapshot.ports;
    let below: HashMap<&str, Option<&str>> = ports
        .iter()
        .zip(&diagnosis.ports)
        .map(|(port, found)| {
            // What a veth stands on is its own other end.
            let stands = found.is_virtual
                && port.software_kind.as_deref().is_some_and(|kind| kind != "veth");
            let lower = port.lower.as_ref().filter(|lower| stands && !lower.elsewhere);
            (port.name.as_str(), lower.and_then(|lower| lower.name.as_deref()))
        })
        .collect();
    let mut stacks: HashMap<&str, Vec<&str>> = HashMap::new();
    for port in ports {
        let mut bottom = port.name.as_str();
        // Bounded, since a capture may say that two stand on each other.
        for _ in 0..8 {
            match below.get(bottom) {
                Some(Some(lower)) if below.contains_key(lower) => bottom = lower,
                _ => break,
            }
        }
        if bottom != port.name && below.get(bottom) == Some(&None) {
            stacks.entry(bottom).or_default().push(&port.name);
        }
    }
    stacks
}

/// `2 interfaces stand on it: tide1, tide2`, with the first few names.
fn stack_line(names: &[&str]) -> String {
    const FEW: usize = 6;
    let few = names.iter().take(FEW).map(|name| clean(name)).collect::<Vec<_>>().join(", ");
    match names.len() {
        1 => format!("1 interface stands on it: {few}"),
        many if many > FEW => {
            format!("{many} interfaces stand on it: {few}, and {} more", many - FEW)
        }
        many => format!("{many} interfaces stand on it: {few}"),
    }
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

fn rows(
    page: &mut Page,
    ports: &[&PortDiagnosis],
    stacks: &HashMap<&str, Vec<&str>>,
    style: Style,
) {
    let names = ports.iter().map(|port| columns(&clean(&port.name)));
    let name_width = names.max().unwrap_or(0).clamp(4, 16);
    let verdicts = ports.iter().map(|port| columns(port.verdict.text()));
    let verdict_width = verdicts.max().unwrap_or(0).max(7);
    let speeds: Vec<[Cow<'_, str>; 2]> =
        ports.iter().map(|port| [running(port), expected(port)]).collect();
    let widths = speeds.iter().flatten().map(|speed| columns(speed));
    let speed_width = widths.max().unwrap_or(0).max(7);
    let fixed = name_width + 2 * speed_width + verdict_width + 4;
    page.line(&style.heading(&format!(
        "{} {} {} {} why",
        pad("port", name_width),
        pad("runs at", speed_width),
        pad("could", speed_width),
        pad("verdict", verdict_width)
    )));
    for (port, [running, expected]) in ports.iter().zip(&speeds) {
        let mut first = String::with_capacity(style.width.max(fixed));
        for (text, width) in [
            (&*cut(&clean(&port.name), name_width), name_width),
            (running, speed_width),
            (expected, speed_width),
        ] {
            push_padded(&mut first, text, width);
            first.push(' ');
        }
        first.push_str(&style.verdict(port.verdict));
        // The word may be coloured: its own length counts.
        push_padded(
            &mut first,
            "",
            (verdict_width + 1).saturating_sub(columns(port.verdict.text())),
        );
        let why = why(port);
        let rest = style.width.saturating_sub(fixed);
        if port.is_virtual && rest >= 24 {
            // What is not judged takes one line, however many there are.
            first.push_str(&one_line(&why, rest));
            page.line(&first);
        } else if rest >= 24 {
            let mut lines = wrap(&why, rest, "", "").into_iter();
            page.line(&format!("{first}{}", lines.next().unwrap_or_default()));
            for line in lines {
                page.line(&format!("{}{line}", " ".repeat(fixed)));
            }
        } else {
            page.line(&first);
            page.wrapped(style, "    ", &why);
        }
        if let Some(names) = stacks.get(port.name.as_str()) {
            page.wrapped(style, "  + ", &stack_line(names));
        }
    }
}

/// As many whole words as fit in one line.
fn one_line(text: &str, width: usize) -> Cow<'_, str> {
    let short = cut(text, width);
    match short.strip_suffix('…').and_then(|kept| kept.rsplit_once(' ')) {
        Some((words, _)) if short != text => format!("{words} …").into(),
        _ => short,
    }
}

/// The reason in a sentence; of a healthy port only what sets its speed, since the rest of the
/// sentence is the same for all of them.
fn why(port: &PortDiagnosis) -> Cow<'_, str> {
    let doubts = port.module.known().map_or(0, |module| module.doubts.len());
    let doubts = match doubts {
        0 => String::new(),
        1 => "; one doubt about the module's word".into(),
        many => format!("; {many} doubts about the module's word"),
    };
    if port.verdict != Verdict::Healthy {
        let headline = clean(&port.headline);
        return match doubts.as_str() {
            "" => headline,
            doubts => format!("{}{doubts}", headline.trim_end_matches('.')).into(),
        };
    }
    let speed = match port.chain.lowest() {
        Some((kind, most)) if Fact::Known(most.speed) == port.running => match kind {
            PartKind::Port => "the best this port can do".to_owned(),
            kind => format!("the best the {} can do", kind.text()),
        },
        _ => "the speed that is intended".into(),
    };
    format!("{speed}{doubts}").into()
}

fn running(port: &PortDiagnosis) -> Cow<'static, str> {
    match &port.running {
        Fact::Known(speed) => speed.to_string().into(),
        Fact::Missing(_) => "-".into(),
    }
}

fn expected(port: &PortDiagnosis) -> Cow<'static, str> {
    port.expected.as_ref().map_or_else(|| "-".into(), |speed| speed.to_string().into())
}
