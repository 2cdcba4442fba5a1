//! The explanation of one port: verdict, chain, causes, what was ruled out, what is missing.

use crate::calc::path_loss::Loss;
use crate::chain::{Chain, Part, PartKind};
use crate::diagnose::both_ends::{Path, Way};
use crate::diagnose::observation::Seen;
use crate::diagnose::replayed::anew;
use crate::diagnose::{
    Cause, Certainty, Examined, Heard, PortDiagnosis, RuledOut, Step, Verdict, Weighed,
};
use crate::faults::Status;
use crate::module::Doubt;
use crate::quantity::{Decibans, Milliwatts};
pub use crate::render::text::ended;
use crate::render::text::{Page, Style, clean, pad};
use crate::render::{neighbour, numbers, over_time, readings};
use crate::snapshot::{Fact, Port, Reason};

/// What the weights of the evidence are.
pub const DECIBANS: &str = "+10 makes a cause ten times as likely, -10 a tenth as likely (decibans). A sum \
    of 0 or more is possible, of 10 or more likely, of 20 or more established.";
/// How the sum comes about.
const SUM: &str = "How sure: each cause starts with how common it is, and what was seen adds the number at \
    the end of its line.";
/// What is said of a step that needs no caution.
pub const NO_HAZARD: &str = "NO HAZARD known for this step.";

/// Faults that are ruled out and shown where not all are wanted.
const FEW_RULED_OUT: usize = 5;

/// One port, whole; of the faults that are ruled out the few that come to mind first, unless all
/// of them are wanted. `sums`: how a cause's sum comes about is explained, once on a page.
pub fn explain(
    host: &str,
    port: &Port,
    found: &PortDiagnosis,
    all_ruled_out: bool,
    sums: bool,
    style: Style,
) -> String {
    let mut page = Page::default();
    page.line(&format!(
        "{} on {}: {}",
        style.heading(&clean(&found.name)),
        clean(host),
        style.verdict(found.verdict)
    ));
    page.wrapped(style, "  ", &found.headline);
    if let Some(step) = found.causes.first().map(|cause| &cause.step).or(found.next_step.as_ref()) {
        first_step(&mut page, step, style);
    }
    if let Some(line) = neighbour::line(port) {
        page.wrapped(style, "  neighbour ", &line);
    }
    if let Some(text) = far_text(found) {
        page.wrapped(style, "  far end ", &text);
    }
    if let Some(heard) = &found.heard {
        heard_text(&mut page, heard, port, found, style);
    }
    if !found.chain.parts.is_empty() {
        chain(&mut page, found, style);
    }
    let mut told = Vec::new();
    for (place, cause) in found.causes.iter().enumerate() {
        causes(&mut page, place + 1, cause, &mut told, style);
    }
    if !found.unexplained.is_empty() {
        page.line("");
        page.wrapped(style, "Not explained by it: ", &ended(&found.unexplained.join("; ")));
    }
    if let Some(next) = &found.next_step {
        page.line("");
        page.heading(style, "No fault of the catalogue fits what was seen");
        step(&mut page, next, &mut told, style);
    }
    if !found.ruled_out.is_empty() && !found.causes.is_empty() {
        page.line("");
        page.heading(style, "Ruled out");
        // The line that counts the rest takes as much room as one more.
        let all = all_ruled_out || found.ruled_out.len() <= FEW_RULED_OUT.saturating_add(1);
        let few = if all { usize::MAX } else { FEW_RULED_OUT };
        for out in ruled_out(found).into_iter().take(few) {
            page.wrapped(style, "  ", &seen_text(out.fault, &out.because));
        }
        if let more @ 1.. = found.ruled_out.len().saturating_sub(few) {
            page.wrapped(style, "  ", &format!("and {more} more; --all-ruled-out shows them"));
        }
    }
    if !found.causes.is_empty() && sums {
        page.line("");
        page.wrapped(style, "", &format!("{SUM} {DECIBANS}"));
    }
    paths(&mut page, &found.paths, style);
    if !found.is_virtual {
        readings::section(&mut page, port, found, style);
        over_time::section(&mut page, port, style);
    }
    numbers::section(&mut page, found, style);
    if !found.missing.is_empty() {
        page.line("");
        page.heading(style, "Not known");
        for missing in &found.missing {
            page.wrapped(
                style,
                "  ",
                &format!("{}: {}. To get it: {}.", missing.fact, missing.why, missing.remedy),
            );
        }
    }
    page.text
}

/// What is said of a far end that nobody named.
pub fn far_text(found: &PortDiagnosis) -> Option<String> {
    let far = found.far_capture.as_ref().filter(|far| far.joined_by_site_file)?;
    let taken = far.taken_at.as_ref().map_or_else(String::new, |at| format!(", of {at}"));
    Some(format!(
        "{} on {}: its own capture{taken}, which is here too; the site file joins the two",
        far.port, far.host
    ))
}

/// What is ruled out: first what the causes are mistaken for, in their order, then what came
/// nearest to being raised.
pub fn ruled_out(found: &PortDiagnosis) -> Vec<&RuledOut> {
    let mistaken: Vec<&str> = found
        .causes
        .iter()
        .flat_map(|cause| cause.examined.fault.confused_with)
        .map(|other| other.with)
        .collect();
    let mut all: Vec<&RuledOut> = found.ruled_out.iter().collect();
    all.sort_by_key(|out| {
        mistaken.iter().position(|name| *name == out.fault).unwrap_or(usize::MAX)
    });
    all
}

/// A fault that is ruled out, and by what.
fn seen_text(fault: &str, because: &Seen) -> String {
    if because.observed.is_empty() {
        return format!("{fault}: {}", because.text);
    }
    format!("{fault}: {} ({})", because.text, because.observed)
}

/// What to do next, where a tired reader looks first; the whole of it stands with its cause.
fn first_step(page: &mut Page, step: &Step, style: Style) {
    page.wrapped(style, "  Next: ", &ended(&step.text));
    if !step.cautions.is_empty() {
        let text = format!("{}. In full below.", about(&step.cautions));
        page.wrapped(style, "  CARE: ", &text);
    }
}

/// The light between the two ends, a line a lane and direction.
fn paths(page: &mut Page, paths: &[Path], style: Style) {
    if paths.is_empty() {
        return;
    }
    page.line("");
    page.heading(style, PATHS);
    for (way, text) in path_lines(paths) {
        page.wrapped(style, &format!("  {way}  "), &text);
    }
}

/// Heading of the light between the two ends.
pub const PATHS: &str = "Light between the ends (each reading is good to 3 dB, a loss to 4.2 dB)";

/// Its lines: direction with lane, and text.
pub fn path_lines(paths: &[Path]) -> Vec<(String, String)> {
    let several = paths.iter().any(|path| path.lane != paths.first().map_or(0, |first| first.lane));
    let power = |power: Milliwatts| {
        power.dbm().map_or_else(|| "no light".to_owned(), |dbm| dbm.to_string())
    };
    let line = |path: &Path| {
        let way = if path.way == Way::In { "in " } else { "out" };
        let lane = if several { format!(" lane {}", path.lane) } else { String::new() };
        let lost = match path.loss {
            Some(Loss { loss, least, most }) => {
                format!("{:.1} dB lost ({:.1} to {:.1} dB)", loss.0, least.0, most.0)
            }
            None => "the loss cannot be told".to_owned(),
        };
        let (sent, received) = (power(path.sent), power(path.received));
        (format!("{way}{lane}"), format!("{lost}: {sent} sent, {received} received"))
    };
    paths.iter().map(line).collect()
}

/// What came of what the user says is wrong.
fn heard_text(page: &mut Page, heard: &Heard, port: &Port, found: &PortDiagnosis, style: Style) {
    let said = format!("You say that {}. ", heard.told.text());
    let span = port.instants.last().zip(port.instants.first());
    let span =
        span.map_or(0, |(last, first)| last.at_milliseconds.saturating_sub(first.at_milliseconds));
    let seen = match (heard.seen, span) {
        (true, _) if found.causes.is_empty() => "It was seen.".to_owned(),
        (true, _) => "It was seen; its causes come first.".to_owned(),
        _ if !heard.related.is_empty() => format!(
            "That itself was not seen, but what makes a link so: {}. Its causes come first.",
            heard.related.join(", ")
        ),
        (false, 0) => "One look does not show it: look for longer, with --seconds 60.".to_owned(),
        (false, span) => format!(
            "Nothing of it was seen in {} s: look while it happens, or for longer, with --seconds 60.",
            Seconds(span)
        ),
    };
    let seen = if heard.replayed { anew(&seen) } else { seen };
    page.line("");
    page.wrapped(style, "  ", &format!("{said}{seen}"));
    if let Some(ask) = &heard.ask {
        let text = format!("{}: {}. To get it: {}.", ask.fact, ask.why, ask.remedy);
        page.wrapped(style, "  the fact that would help most  ", &text);
    }
}

/// Milliseconds, shown as seconds.
struct Seconds(u64);

impl std::fmt::Display for Seconds {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}", self.0 / 1000, self.0 % 1000 / 100)
    }
}

fn chain(page: &mut Page, found: &PortDiagnosis, style: Style) {
    page.line("");
    page.heading(style, CHAIN);
    parts(page, &found.chain, |part| mark(found, part), style);
}

/// Heading of the chain.
pub const CHAIN: &str = "The chain, from this host outwards, with the most each part can carry";

/// What a part is to the link, in words; empty where it is only pointed at.
pub fn mark(found: &PortDiagnosis, part: PartKind) -> Option<&'static str> {
    if found.limited_by == Some(part) {
        Some("SETS THE LIMIT")
    } else if found.look_at == Some(part) {
        Some(if found.verdict >= Verdict::Attention { "LOOK HERE" } else { "" })
    } else {
        None
    }
}

/// The parts of a chain, a line each; what `mark` tells of a part stands first.
pub fn parts(
    page: &mut Page,
    chain: &Chain,
    mark: impl Fn(PartKind) -> Option<&'static str>,
    style: Style,
) {
    for part in &chain.parts {
        let marked = mark(part.kind);
        let (figure, mut words) = part_words(part);
        if let Some(text) = marked.filter(|text| !text.is_empty()) {
            words.insert(0, text.into());
        }
        let arrow = if marked.is_some() { "> " } else { "  " };
        let first = format!("{arrow}{} {} ", pad(part.kind.text(), 11), pad(&figure, 9));
        page.wrapped(style, &first, &words.join("; "));
    }
}

/// The most a part can carry (`?` is not known, `-` does not apply), and what was read of it.
pub fn part_words(part: &Part) -> (String, Vec<String>) {
    let figure = match &part.ceiling {
        Fact::Known(ceiling) => ceiling.speed.to_string(),
        Fact::Missing(why) if why.reason == Reason::NotApplicable => "-".into(),
        Fact::Missing(_) => "?".into(),
    };
    let mut words = part.read.clone();
    match &part.ceiling {
        Fact::Known(ceiling) => words.push(ceiling.source.clone()),
        Fact::Missing(why) => words.push(match &why.detail {
            Some(detail) => detail.to_string(),
            None => why.to_string(),
        }),
    }
    // A source that opens with a type that was read says it once.
    if let Fact::Known(ceiling) = &part.ceiling {
        words.retain(|word| !ceiling.source.starts_with(&format!("{word}, ")));
    }
    (figure, words)
}

fn causes(
    page: &mut Page,
    place: usize,
    cause: &Cause,
    told: &mut Vec<&'static str>,
    style: Style,
) {
    let examined = &cause.examined;
    page.line("");
    page.heading(
        style,
        &format!(
            "Cause {place}: {} ({}) [{}]",
            examined.title(),
            certainty(cause),
            examined.fault.name
        ),
    );
    page.wrapped(style, "  ", examined.fault.meaning);
    page.wrapped(style, "  sum      ", &sum_text(cause));
    for weighed in &examined.evidence {
        evidence(page, "  for      ", weighed, style);
    }
    for weighed in &examined.against {
        evidence(page, "  against  ", weighed, style);
    }
    for doubt in &examined.doubts {
        page.wrapped(style, "  doubt    ", &doubt_text(doubt));
    }
    step(page, &cause.step, told, style);
    page.wrapped(style, "  remedy   ", &format!("{}.", cause.remedy));
    let (said, new): (Vec<&'static str>, Vec<&'static str>) = cause
        .remedy_cautions
        .iter()
        .copied()
        .partition(|caution| cause.step.cautions.contains(caution));
    if !said.is_empty() {
        page.wrapped(style, "           ", "The same care goes for the remedy.");
    }
    care(page, &new, told, style);
}

fn step(page: &mut Page, step: &Step, told: &mut Vec<&'static str>, style: Style) {
    page.wrapped(style, "  next     ", &ended(&step.text));
    if !step.tells.is_empty() {
        page.wrapped(style, "           ", &format!("Outcome: {}.", step.tells));
    }
    if step.cautions.is_empty() {
        page.wrapped(style, "  CARE     ", NO_HAZARD);
    }
    care(page, &step.cautions, told, style);
}

/// Cautions in full where they are first told on a page, by what they are about where they come again.
fn care(page: &mut Page, all: &[&'static str], told: &mut Vec<&'static str>, style: Style) {
    let (again, new): (Vec<&str>, Vec<&'static str>) =
        all.iter().copied().partition(|caution| told.contains(caution));
    for caution in new {
        page.wrapped(style, "  CARE     ", caution);
        told.push(caution);
    }
    if !again.is_empty() {
        let text = format!("the same care as above: {}.", about(&again));
        page.wrapped(style, "  CARE     ", &text);
    }
}

/// What cautions are about: each opens with it.
pub fn about(cautions: &[&str]) -> String {
    let about: Vec<&str> = cautions.iter().filter_map(|one| one.split(':').next()).collect();
    about.join("; ")
}

/// What the weights add up to, and what holds the cause back where that is less than the sum.
pub fn sum_text(cause: &Cause) -> String {
    let Examined { weight, fault, gaps, doubts, .. } = &cause.examined;
    let held = if Certainty::of(*weight) <= Some(cause.certainty) {
        ""
    } else if gaps.iter().any(|gap| gap.vital) {
        "; no more than possible, since a fact that it needs is not known"
    } else if !doubts.is_empty() {
        "; no more than likely, for the doubt below"
    } else if fault.status == Status::Draft {
        "; no more than possible, since its entry in the catalogue is a draft"
    } else {
        "; no more than possible, since its symptom was not seen"
    };
    let told = cause.examined.without_site_file.map_or_else(String::new, |without| {
        let without = without.map_or("not raised", |certainty| certainty.text());
        format!("; without what the site file says it would be {without}")
    });
    format!(
        "{}: {:+} to start with, for how common it is, and what was seen{held}{told}",
        weight, fault.before
    )
}

/// How sure, in a word.
pub fn certainty(cause: &Cause) -> &'static str {
    cause.certainty.text()
}

/// Why a cause that rests on the module's word is not established.
pub fn doubt_text(doubt: &Doubt) -> String {
    let words: Vec<&str> = doubt.kind.taints().iter().map(|word| word.text()).collect();
    format!(
        "no more than likely, since it rests on {}, and {} [{}]",
        words.join(" and "),
        doubt.text,
        doubt.source
    )
}

fn evidence(page: &mut Page, first: &str, weighed: &Weighed, style: Style) {
    let seen = &weighed.seen;
    let limit =
        seen.limit.as_ref().map_or_else(String::new, |limit| format!(", held against {limit}"));
    let Decibans(points) = weighed.weight;
    page.wrapped(
        style,
        first,
        &format!("{}: {}{limit} [{}; {points:+}]", seen.text, seen.observed, seen.source),
    );
}
