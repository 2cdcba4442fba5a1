//! What changed since then, port by port.

use serde_json::{Value, json};

use crate::diagnose::changes::{self, Changed, Comparison};
use crate::diagnose::{PortDiagnosis, Verdict};
use crate::render::text::{Page, Style, clean};
use crate::snapshot::{Fact, Snapshot};

/// Every port on which something changed, with the verdict then and now; then the others in a line.
pub fn compare(
    before: &Snapshot,
    after: &Snapshot,
    ports: &[Comparison<'_>],
    style: Style,
) -> String {
    let mut page = Page::default();
    let changed = ports.iter().filter(|port| is_changed(port)).count();
    let kernels = kernels(before, after);
    let verdict = match changed {
        _ if changes::looks_like_two(before, after) => "two machines?".to_owned(),
        0 if kernels.is_some() => "the kernel changed, the ports did not".to_owned(),
        0 => "nothing changed".to_owned(),
        1 => "one port changed".to_owned(),
        many => format!("{many} ports changed"),
    };
    page.heading(style, &format!("{}: {verdict}", after.host.name));
    let time = |snapshot: &Snapshot| match &snapshot.taken_at {
        Fact::Known(time) => time.clone(),
        Fact::Missing(_) => "a time that is not told".into(),
    };
    page.wrapped(style, "  ", &format!("from {} to {}", time(before), time(after)));
    if let Some((then, now)) = kernels {
        let text = format!("kernel, and the drivers that are part of it: from {then} to {now}");
        page.wrapped(style, "  ", &text);
    }
    if changes::looks_like_two(before, after) {
        page.wrapped(
            style,
            "  ",
            "Is this the same machine? Both captures bear this host name, but most of their ports are \
             not the same ones. If they are of two machines, or the adapters \
             were changed, what differs below says nothing of a link.",
        );
        page.line("");
        let only = |there: fn(&Comparison<'_>) -> bool| -> Vec<&str> {
            ports.iter().filter(|port| there(port)).map(|port| port.name).collect()
        };
        for (first, names) in [
            ("then only: ", only(|port| port.after.is_none())),
            ("now only:  ", only(|port| port.before.is_none())),
        ] {
            if !names.is_empty() {
                page.wrapped(style, first, &names.join(", "));
            }
        }
    }
    let doubted = changes::looks_like_two(before, after);
    let shown = |port: &&Comparison<'_>| {
        is_changed(port) && !(doubted && (port.before.is_none() || port.after.is_none()))
    };
    for port in ports.iter().filter(shown) {
        one(&mut page, port, style);
    }
    let others: Vec<&str> =
        ports.iter().filter(|port| !is_changed(port)).map(|port| port.name).collect();
    if !others.is_empty() {
        page.line("");
        page.wrapped(style, "As it was: ", &others.join(", "));
    }
    page.text
}

/// The host's kernel then and now, if it is another one.
pub fn kernels<'a>(before: &'a Snapshot, after: &'a Snapshot) -> Option<(&'a str, &'a str)> {
    let (then, now) = (before.host.kernel.known()?, after.host.kernel.known()?);
    (then != now).then_some((then, now))
}

/// True if something changed on the port, or its verdict.
pub fn is_changed(port: &Comparison<'_>) -> bool {
    let verdict = |found: Option<&PortDiagnosis>| found.map(|found| found.verdict);
    !port.changed.is_empty() || verdict(port.before) != verdict(port.after)
}

fn one(page: &mut Page, port: &Comparison<'_>, style: Style) {
    page.line("");
    page.line(&style.heading(&clean(port.name)));
    for (word, found) in [("then", port.before), ("now ", port.after)] {
        let Some(found) = found else { continue };
        let verdict: Verdict = found.verdict;
        let first = format!("  {word}  {}: ", verdict.text().to_uppercase());
        page.wrapped(style, &first, &found.headline);
    }
    if port.changed.is_empty() {
        page.wrapped(style, "  ", "No fact that is compared changed; the verdict did.");
    }
    for Changed { what, before, after, note } in &port.changed {
        let text = if what == "port" {
            format!("{what}: {}", if after == "there" { "it was not there then" } else { note })
        } else if note.is_empty() {
            format!("{what}: from {before} to {after}")
        } else {
            format!("{what}: {note} ({before} then, {after} now)")
        };
        page.wrapped(style, "  changed   ", &text);
    }
    for text in &port.undecided {
        page.wrapped(style, "  perhaps   ", text);
    }
    for text in &port.one_sided {
        page.wrapped(style, "  not known ", text);
    }
    if !port.same.is_empty() {
        page.wrapped(style, "  the same  ", &port.same.join(", "));
    }
}

/// The same as JSON.
pub fn json(before: &Snapshot, after: &Snapshot, ports: &[Comparison<'_>]) -> Value {
    json!({
        "tool": super::json::TOOL,
        "format": "linkwright-comparison 1",
        "host": after.host.name,
        "taken_at_then": before.taken_at.known(),
        "taken_at_now": after.taken_at.known(),
        "looks_like_two_machines": changes::looks_like_two(before, after),
        "kernel_then": before.host.kernel.known(),
        "kernel_now": after.host.kernel.known(),
        "ports": ports.iter().map(|port| json!({
            "name": port.name,
            "verdict_then": port.before.map(|found| found.verdict),
            "verdict_now": port.after.map(|found| found.verdict),
            "headline_now": port.after.map(|found| &found.headline),
            "changed": port.changed.iter().map(|changed| json!({
                "what": changed.what,
                "then": changed.before,
                "now": changed.after,
                "note": changed.note,
            })).collect::<Vec<_>>(),
            "known_on_one_side": port.one_sided,
            "undecided": port.undecided,
            "same": port.same,
        })).collect::<Vec<_>>(),
    })
}
