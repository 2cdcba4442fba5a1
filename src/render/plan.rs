//! Planned links as text or JSON: the whole of one, a line each of several, the ways of a site, and
//! what was suggested.

use serde::Serialize;
use serde_json::{Value, json};

use crate::calc::goodput;
use crate::calc::power_budget::Budget;
use crate::chain::{Part, PartKind};
use crate::plan::judge;
use crate::plan::settings::Settings;
use crate::plan::suggest::{Suggestion, Suggestions};
use crate::plan::ways::{Remark, Way};
use crate::plan::{Finding, Link, Outcome, Planned};
use crate::quantity::{BitsPerSecond, Dbm, Decibels, Mbps, Metres, Octets, Seconds};
use crate::render::explain;
use crate::render::json::ChainPart;
use crate::render::text::{Page, Style, clean, cut, ended, pad};

/// Widest name in a table: what the columns beside it (the widest verdict has 14) leave, within reason.
fn name_width(style: Style) -> usize {
    style.width.saturating_sub(37).clamp(12, 22)
}

/// Name of a link: its own, its ends', or its place in the plan (from 1).
pub fn name(link: &Link, place: usize) -> String {
    match (&link.name, link.near.name(), link.far.name()) {
        (Some(name), ..) => name.clone(),
        (None, Some(near), Some(far)) => format!("{near} to {far}"),
        _ => format!("link {}", place + 1),
    }
}

/// One link, whole.
pub fn whole(name: &str, link: &Link, planned: &Planned, style: Style) -> String {
    let mut page = Page::default();
    page.line(&format!("{}: {}", style.heading(&clean(name)), outcome(planned.outcome, style)));
    page.wrapped(style, "  ", &planned.headline);
    page.line("");
    page.heading(style, "The parts, from this end outwards, with the most each can carry");
    let mark = |part: PartKind| {
        let stands = if planned.speed.is_some() { "SETS THE LIMIT" } else { "LOOK HERE" };
        (planned.limited_by == Some(part)).then_some(stands)
    };
    explain::parts(&mut page, &planned.chain, mark, style);
    margins(&mut page, link, planned, style);
    delivers(&mut page, link, planned, style);
    if let Some(settings) = &planned.settings {
        page.line("");
        page.heading(style, "What both ends must be set to");
        for (what, text) in [
            ("speed", &settings.speed),
            ("autonegotiation", &settings.autonegotiation),
            ("FEC", &settings.fec),
        ] {
            page.wrapped(style, &format!("  {} ", pad(what, 16)), text);
        }
        if settings.by_hand.is_empty() && settings.look_at.is_empty() {
            page.wrapped(style, "  ", "Nothing must be set by hand, as far as is told.");
        }
        for one in &settings.by_hand {
            page.wrapped(style, "  by hand          ", &one.text);
        }
        for text in &settings.look_at {
            page.wrapped(style, "  look at          ", text);
        }
    }
    if !planned.findings.is_empty() {
        page.line("");
        page.heading(style, "What stands against it, and what to see to");
        for one in &planned.findings {
            finding(&mut page, one, style);
        }
    }
    page.text
}

fn outcome(outcome: Outcome, style: Style) -> String {
    style.word(outcome.text(), outcome.verdict())
}

fn margins(page: &mut Page, link: &Link, planned: &Planned, style: Style) {
    let told = planned.budget.is_some() || planned.spare_length.is_some();
    // Where ends do not go together the length is no comfort.
    let matters = planned.speed.is_some() || planned.limited_by == Some(PartKind::Medium);
    if !told || !matters {
        return;
    }
    page.line("");
    page.heading(style, "How much is to spare");
    if let Some(spare) = planned.spare_length {
        let text = if spare.0 > 0.0 {
            format!("{spare} short of the longest that is specified")
        } else {
            "nothing: it is the longest that is specified".into()
        };
        page.wrapped(style, "  length  ", &text);
    }
    let Some(budget) = &planned.budget else { return };
    let assumed = match link.connectors {
        Some(_) => String::new(),
        None => format!(
            " ({} connector pairs are taken, none are told)",
            crate::plan::medium::USUAL_CONNECTORS
        ),
    };
    let loss = format!(
        "{:.2} dB at most, {:.2} dB typically{assumed}",
        budget.loss.most.0, budget.loss.typical.0
    );
    let margin = match (budget.allowed, budget.margin) {
        (Some(allowed), Some(margin)) if margin.0 >= 0.0 => {
            format!("; {:.2} dB are allowed, {:.2} dB to spare", allowed.0, margin.0)
        }
        (Some(allowed), Some(margin)) => {
            format!("; {:.2} dB are allowed, {:.2} dB too much", allowed.0, -margin.0)
        }
        _ => "; no allowed loss is published for it".into(),
    };
    page.wrapped(style, "  loss    ", &format!("{loss}{margin}"));
    if let Some((least, most)) = budget.received {
        let attenuator = budget.attenuator.map_or_else(String::new, |attenuator| {
            format!("; {:.1} dB too much for the receiver without an attenuator", attenuator.0)
        });
        page.wrapped(
            style,
            "  light   ",
            &format!(
                "{least} to {most} at each receiver, by what transmitters may send{attenuator}"
            ),
        );
    }
}

fn delivers(page: &mut Page, link: &Link, planned: &Planned, style: Style) {
    let Some(goodput) = planned.goodput else { return };
    page.line("");
    page.heading(style, "What it carries");
    let mtu = judge::stack(link).mtu;
    let text = format!(
        "{goodput} one way, at most: TCP with timestamps over IPv4 in packets of {mtu} [IEEE 802.3 \
         framing; RFC 791, 9293, 7323]"
    );
    page.wrapped(style, "  data    ", &text);
    // A slot carries packets of its own; what it makes of the smallest frames is not known here.
    let free = planned.speed.filter(|speed| planned.delivers == Some(*speed));
    if let Some(frames) = free.and_then(|speed| goodput::frames(speed, Octets(64))) {
        let millions = frames.0 / 1e6;
        let text = format!("{millions:.3} million a second of 64 octets, the smallest, at most");
        page.wrapped(style, "  frames  ", &text);
    }
    if let Some(delay) = planned.delay {
        page.wrapped(style, "  delay   ", &format!("{delay} from end to end of the medium"));
    }
}

fn finding(page: &mut Page, finding: &Finding, style: Style) {
    let limit =
        finding.limit.as_ref().map_or_else(String::new, |limit| format!(", held against: {limit}"));
    let source =
        if finding.source.is_empty() { String::new() } else { format!(" [{}]", finding.source) };
    let first = format!("  {} ", pad(finding.part.text(), 11));
    page.wrapped(style, &first, &format!("{}{limit}{source}", finding.text));
    let indent = "              ";
    if let Some(fix) = &finding.fix {
        page.wrapped(style, &format!("{indent}do: "), &ended(fix));
    }
    if let Some(text) = finding.care.and_then(crate::faults::Caution::text) {
        page.wrapped(style, &format!("{indent}CARE: "), text);
    }
}

/// Head of the table of links.
pub fn head(style: Style) -> String {
    let line = format!(
        "{} {} {} {}",
        pad("link", name_width(style)),
        pad("runs at", 9),
        pad("limit", 11),
        "verdict"
    );
    format!("{}\n", style.heading(line.trim_end()))
}

/// A link as a line of the table; what is to be seen to below it.
pub fn line(name: &str, planned: &Planned, style: Style) -> String {
    let mut page = Page::default();
    let name = clean(name);
    let runs = planned.speed.map_or_else(|| "-".to_owned(), |speed| speed.to_string());
    let part = planned.limited_by.map_or("-", PartKind::text);
    page.line(&format!(
        "{} {} {} {}",
        pad(&cut(&name, name_width(style)), name_width(style)),
        pad(&runs, 9),
        pad(part, 11),
        outcome(planned.outcome, style)
    ));
    if planned.outcome != Outcome::Works
        && let Some(first) = planned.findings.first()
    {
        page.wrapped(style, "    ", &ended(&first.text));
    }
    page.text
}

/// What is to be said of the site as a whole.
pub fn remarks(remarks: &[Remark], style: Style) -> String {
    let mut page = Page::default();
    if !remarks.is_empty() {
        page.heading(style, "What to see to on the site");
    }
    for remark in remarks {
        page.wrapped(style, "  ", &ended(&remark.text));
        page.wrapped(style, "    do: ", &ended(remark.fix));
    }
    page.text
}

/// Pairs of hosts that no way joins.
pub fn apart(pairs: &[(&str, &str)], style: Style) -> String {
    let mut page = Page::default();
    let pairs: Vec<String> = pairs.iter().map(|(one, other)| format!("{one} to {other}")).collect();
    if !pairs.is_empty() {
        let text = format!(
            "{}. Which devices pass traffic on? Tell it as [[device]] with switch = true or forwards = true.",
            pairs.join(", ")
        );
        page.wrapped(style, "  no way: ", &text);
    }
    page.text
}

/// The ways between hosts.
pub fn ways(
    ways: &[Way],
    name_of: &dyn Fn(usize) -> String,
    carries: &dyn Fn(usize) -> Option<Mbps>,
    style: Style,
) -> String {
    let mut page = Page::default();
    page.heading(style, "The ways between the hosts, and what each can carry at most");
    for way in ways {
        let ends = format!("{} to {}", way.from, way.to);
        let through = way.devices.get(1..way.devices.len().saturating_sub(1)).unwrap_or_default();
        let through = if through.is_empty() {
            "directly".to_owned()
        } else {
            format!("by {}", through.join(", "))
        };
        let limit = match (way.ceiling, way.limited_by) {
            _ if !way.broken.is_empty() => {
                let links: Vec<String> = way.broken.iter().map(|link| name_of(*link)).collect();
                format!("; NO WAY: {} will not run", links.join(", "))
            }
            (Some(_), Some(link)) => format!("; {} SETS THE LIMIT", name_of(link)),
            (Some(_), None) => "; every link of it carries that".into(),
            (None, limit) => {
                let link = limit
                    .or_else(|| way.links.iter().copied().find(|link| carries(*link).is_none()));
                let link = link.map_or_else(String::new, |link| {
                    format!(": whether {} runs is not known, or not covered", name_of(link))
                });
                format!("; could not tell{link}")
            }
        };
        let others = if way.others {
            "; there are other ways as short, and the devices' settings choose"
        } else {
            ""
        };
        let packets = way.packets.map_or_else(String::new, |(octets, link)| {
            let routed = if way.by_host { ", unless a host on the way routes" } else { "" };
            format!("; packets over {octets} octets are lost at {}{routed}", name_of(link))
        });
        let unknown = if way.broken.is_empty() { "?" } else { "-" };
        let figure = way.ceiling.map_or_else(|| unknown.to_owned(), |speed| speed.to_string());
        let ends = clean(&ends);
        let first = format!(
            "  {} {} ",
            pad(&cut(&ends, name_width(style) + 4), name_width(style) + 4),
            pad(&figure, 9)
        );
        page.wrapped(style, &first, &format!("{through}{limit}{packets}{others}"));
    }
    page.text
}

/// What was suggested.
pub fn suggestions(found: &Suggestions, asked: &Link, speed: Mbps, style: Style) -> String {
    let mut page = Page::default();
    let length = asked.length.map_or_else(String::new, |length| format!(" over {length}"));
    page.heading(
        style,
        &format!("{speed}{length}: what serves, the cheapest class of parts first"),
    );
    if found.serve.is_empty() {
        page.wrapped(
            style,
            "  ",
            "Nothing that is specified serves: see below for what comes nearest.",
        );
    }
    for one in &found.serve {
        suggestion(&mut page, one, style);
    }
    let copper = found.serve.iter().any(|one| !one.grade.is_fibre());
    if asked.between_buildings || asked.interference {
        let why = if asked.between_buildings {
            "Between buildings or separate mains supplies fibre is the choice for isolation, not for \
             reach: copper joins the earths and carries lightning in. Local codes and licensed practice \
             decide"
        } else {
            "Beside machines or power cables fibre is the choice for strong interference, not for reach"
        };
        page.line("");
        page.wrapped(style, "  ", &format!("{why} (common practice, no published source)."));
    } else if copper {
        page.line("");
        page.wrapped(
            style,
            "  ",
            "Between buildings, on separate mains supplies or beside strong interference take fibre \
             whatever the reach; say so with `between buildings` or `beside machines`.",
        );
    }
    if found.serve.iter().any(|one| one.grade.is_fibre())
        && let Some(care) = crate::faults::Caution::Eyes.text()
    {
        page.wrapped(style, "  CARE: ", care);
    }
    if !found.left_out.is_empty() {
        page.line("");
        page.heading(style, "Left out");
        for (interface, grade, why) in &found.left_out {
            let limit = why.limit.as_ref().map_or_else(String::new, |limit| format!(" ({limit})"));
            page.wrapped(
                style,
                "  ",
                &format!("{interface} on {}: {}{limit} [{}]", grade.name(), why.text, why.source),
            );
        }
    }
    page.text
}

fn suggestion(page: &mut Page, one: &Suggestion, style: Style) {
    let types = match one.types {
        [near, far] if near == far => near.to_owned(),
        [near, far] => format!("{near} and {far}"),
    };
    let better: Vec<&str> = one.or_better.iter().map(|grade| grade.name()).collect();
    let better =
        if better.is_empty() { String::new() } else { format!(" (or {})", better.join(", ")) };
    let there = if one.is_there { ", which is there".to_owned() } else { better };
    page.wrapped(
        style,
        "  ",
        &format!("{types} on {}{there}: {}", one.grade.name(), one.class.text()),
    );
    let mut words = vec![format!("in {} at both ends", one.cage.name())];
    words.extend(one.planned.spare_length.map(|spare| match spare.0 > 0.0 {
        true => format!("{spare} of length to spare"),
        false => "no length to spare".to_owned(),
    }));
    if let Some(Budget { margin: Some(margin), .. }) = &one.planned.budget {
        words.push(format!("{:.2} dB of loss to spare", margin.0));
    }
    words.extend(one.planned.findings.iter().map(|finding| match &finding.fix {
        Some(fix) => format!("{}: {fix}", finding.text),
        None => finding.text.clone(),
    }));
    words.extend(one.planned.settings.iter().flat_map(|settings| settings.look_at.clone()));
    page.wrapped(style, "      ", &words.join("; "));
}

/// One link as JSON.
#[derive(Debug, Serialize)]
pub struct LinkJson<'a> {
    kind: &'static str,
    name: &'a str,
    verdict: &'static str,
    headline: &'a str,
    speed_mbps: Option<Mbps>,
    delivers_mbps: Option<Mbps>,
    data_bits_per_second: Option<BitsPerSecond>,
    delay_seconds: Option<Seconds>,
    interface_types: Option<[&'static str; 2]>,
    limited_by: Option<PartKind>,
    spare_length_m: Option<Metres>,
    budget: Option<BudgetJson>,
    settings: Option<&'a Settings>,
    chain: Vec<ChainPart<'a>>,
    findings: Vec<FindingJson<'a>>,
}

#[derive(Debug, Serialize)]
struct BudgetJson {
    loss_least_db: Decibels,
    loss_typical_db: Decibels,
    loss_most_db: Decibels,
    allowed_db: Option<Decibels>,
    margin_db: Option<Decibels>,
    typical_margin_db: Option<Decibels>,
    received_least_dbm: Option<Dbm>,
    received_most_dbm: Option<Dbm>,
    attenuator_db: Option<Decibels>,
}

#[derive(Debug, Serialize)]
struct FindingJson<'a> {
    part: PartKind,
    effect: &'static str,
    text: &'a str,
    limit: Option<&'a str>,
    source: &'a str,
    r#do: Option<&'a str>,
    caution: Option<&'static str>,
}

/// One link as JSON.
pub fn json<'a>(name: &'a str, planned: &'a Planned) -> LinkJson<'a> {
    let runs = planned.speed.is_some();
    let part = |part: &'a Part| {
        let here = planned.limited_by == Some(part.kind);
        ChainPart::of(part, here && runs, here && !runs)
    };
    let budget = |budget: Budget| BudgetJson {
        loss_least_db: budget.loss.least,
        loss_typical_db: budget.loss.typical,
        loss_most_db: budget.loss.most,
        allowed_db: budget.allowed,
        margin_db: budget.margin,
        typical_margin_db: budget.typical_margin,
        received_least_dbm: budget.received.map(|(least, _)| least),
        received_most_dbm: budget.received.map(|(_, most)| most),
        attenuator_db: budget.attenuator,
    };
    LinkJson {
        kind: "link",
        name,
        verdict: planned.outcome.name(),
        headline: &planned.headline,
        speed_mbps: planned.speed,
        delivers_mbps: planned.delivers,
        data_bits_per_second: planned.goodput,
        delay_seconds: planned.delay,
        interface_types: planned.types,
        limited_by: planned.limited_by,
        spare_length_m: planned.spare_length,
        budget: planned.budget.map(budget),
        settings: planned.settings.as_ref(),
        chain: planned.chain.parts.iter().map(part).collect(),
        findings: planned.findings.iter().map(finding_json).collect(),
    }
}

fn finding_json(finding: &Finding) -> FindingJson<'_> {
    FindingJson {
        part: finding.part,
        effect: finding.effect.name(),
        text: &finding.text,
        limit: finding.limit.as_deref(),
        source: &finding.source,
        r#do: finding.fix.as_deref(),
        caution: finding.care.and_then(crate::faults::Caution::text),
    }
}

/// A way as JSON.
pub fn way_json(way: &Way, name_of: &dyn Fn(usize) -> String) -> Value {
    json!({
        "kind": "way",
        "from": way.from,
        "to": way.to,
        "devices": way.devices,
        "links": way.links.iter().map(|link| name_of(*link)).collect::<Vec<_>>(),
        "ceiling_mbps": way.ceiling,
        "limited_by": way.limited_by.map(name_of),
        "other_ways": way.others,
        "broken": way.broken.iter().map(|link| name_of(*link)).collect::<Vec<_>>(),
        "longest_packet_octets": way.packets.map(|(octets, _)| octets),
        "shortens_packets": way.packets.map(|(_, link)| name_of(link)),
    })
}

/// What is said of the site as a whole, as JSON.
pub fn site_json(remarks: &[Remark], apart: &[(&str, &str)], left_out: usize) -> Value {
    json!({
        "kind": "site",
        "remarks": remarks.iter().map(|remark| json!({"text": remark.text, "do": remark.fix})).collect::<Vec<_>>(),
        "without_way": apart,
        "hosts_whose_ways_are_left_out": left_out,
    })
}

/// What was suggested as JSON.
pub fn suggestions_json(found: &Suggestions, speed: Mbps) -> Value {
    json!({
        "tool": super::json::TOOL,
        "format": "linkwright-suggestions 1",
        "speed_mbps": speed,
        "serve": found.serve.iter().map(|one| json!({
            "interface_types": one.types,
            "medium": one.grade.name(),
            "or_better": one.or_better.iter().map(|grade| grade.name()).collect::<Vec<_>>(),
            "is_there": one.is_there,
            "class": one.class.text(),
            "cage": one.cage.name(),
            "planned": json(one.types[0], &one.planned),
        })).collect::<Vec<_>>(),
        "left_out": found.left_out.iter().map(|(interface, grade, why)| json!({
            "interface_type": interface,
            "medium": grade.name(),
            "text": why.text,
            "limit": why.limit,
            "source": why.source,
        })).collect::<Vec<_>>(),
    })
}
