//! The verdict on a planned link: the fastest way that it can run, what stands against it, what it
//! needs, and the part that sets its limit.

use crate::calc::goodput::Stack;
use crate::calc::power_budget::Budget;
use crate::calc::propagation::{self, VelocityFactor};
use crate::chain::{Ceiling, Chain, Part, PartKind};
use crate::diagnose::Verdict;
use crate::faults::Caution;
use crate::plan::ends::{self, Able, Match, able, is_direct_attach, understand};
use crate::plan::link::{End, Link};
use crate::plan::medium;
use crate::plan::settings::{self, Settings};
use crate::quantity::{BitsPerSecond, Mbps, Metres, Octets, Seconds};
use crate::snapshot::{Fact, Reason};
use crate::standards::cages::{self, Fit};
use crate::standards::media::{self, Row};
use crate::standards::sources;

/// What comes of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// It comes up, inside every published limit.
    Works,
    /// It comes up if something is seen to.
    WorksIf,
    /// What is told does not say.
    CannotTell,
    /// Outside a published limit: it may run, nobody answers for it.
    NotCovered,
    /// It does not come up.
    WillNot,
}

impl Outcome {
    /// Plain words.
    pub fn text(self) -> &'static str {
        match self {
            Self::Works => "works",
            Self::WorksIf => "works, if",
            Self::CannotTell => "could not tell",
            Self::NotCovered => "not covered",
            Self::WillNot => "will not run",
        }
    }

    /// The verdict that weighs as much: for exit codes and colours.
    pub fn verdict(self) -> Verdict {
        match self {
            Self::Works => Verdict::Healthy,
            Self::WorksIf => Verdict::Attention,
            Self::CannotTell => Verdict::Unknown,
            Self::NotCovered | Self::WillNot => Verdict::Fault,
        }
    }

    /// Name in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Works => "works",
            Self::WorksIf => "works-if",
            Self::CannotTell => "unknown",
            Self::NotCovered => "not-covered",
            Self::WillNot => "will-not",
        }
    }
}

/// Something that stands against a plan, or that it needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The part it is about.
    pub part: PartKind,
    /// What it makes of the plan.
    pub effect: Outcome,
    /// What it is.
    pub text: String,
    /// The limit it was held against.
    pub limit: Option<String>,
    /// Whose limit that is.
    pub source: String,
    /// What to do.
    pub fix: Option<String>,
    /// What to be careful of.
    pub care: Option<Caution>,
}

impl Finding {
    /// One with neither limit nor fix.
    pub fn new(part: PartKind, effect: Outcome, text: impl Into<String>, source: String) -> Self {
        Self { part, effect, text: text.into(), limit: None, source, fix: None, care: None }
    }

    /// With a limit.
    #[must_use]
    pub fn limit(self, limit: String) -> Self {
        Self { limit: Some(limit), ..self }
    }

    /// With what to do.
    #[must_use]
    pub fn fix(self, fix: &str) -> Self {
        Self { fix: Some(fix.to_owned()), ..self }
    }

    /// With a caution.
    #[must_use]
    pub fn care(self, care: Caution) -> Self {
        Self { care: Some(care), ..self }
    }
}

/// A way that a link can run: an interface type at each end.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// This end's.
    pub near: Able,
    /// The other end's.
    pub far: Able,
    /// Whether they understand each other.
    pub matches: Match,
    /// Rate at the MAC.
    pub speed: Mbps,
    /// The row of this end's type on the medium, or on any where the medium is not told.
    pub row: Option<&'static Row>,
}

/// A planned link, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// What comes of it.
    pub outcome: Outcome,
    /// One sentence.
    pub headline: String,
    /// Speed it runs at; none where it does not run, or that is not known.
    pub speed: Option<Mbps>,
    /// What it delivers: the speed, or what a slot leaves of it.
    pub delivers: Option<Mbps>,
    /// Interface type at each end.
    pub types: Option<[&'static str; 2]>,
    /// The part that sets the limit, or that stands against it.
    pub limited_by: Option<PartKind>,
    /// Data a second at most, with the headers of [`Stack::USUAL`] and the MTU of the plan.
    pub goodput: Option<BitsPerSecond>,
    /// How long a signal takes from end to end.
    pub delay: Option<Seconds>,
    /// Length that is left up to the reach.
    pub spare_length: Option<Metres>,
    /// The optical power budget.
    pub budget: Option<Budget>,
    /// What both ends must be set to.
    pub settings: Option<Settings>,
    /// The parts with their ceilings.
    pub chain: Chain,
    /// What stands against it and what it needs, the worst first.
    pub findings: Vec<Finding>,
}

/// Judges a link.
pub fn judge(link: &Link) -> Planned {
    let near = able(&link.near, link.medium);
    let far = able(&link.far, link.medium);
    let chain = chain(link, &near, &far);
    let (modes, without) = negotiated(modes(link, &near, &far));
    // The fastest mode that runs; where none does, the one that comes nearest to running, and of
    // those the fastest: what stands against it is what the user wants to know.
    let judged = modes.into_iter().map(|mode| {
        let (findings, budget) = examine(link, &mode);
        // What the ends are told to be set to is theirs to change: it does not make another mode of it.
        let parts =
            findings.iter().filter(|one| !matches!(one.part, PartKind::Port | PartKind::FarPort));
        let worst = worst(parts);
        (mode, findings, budget, worst)
    });
    let rank = |(mode, _, _, worst): &(Mode, Vec<Finding>, Option<Budget>, Outcome)| {
        (std::cmp::Reverse((*worst).max(Outcome::WorksIf)), mode.speed, std::cmp::Reverse(*worst))
    };
    let all: Vec<_> = judged.collect();
    // Of the fastest ways the one that comes nearest to running.
    let fastest = all
        .iter()
        .filter(|(mode, ..)| mode.near.is_possible() && mode.far.is_possible())
        .reduce(|best, next| {
            let order = |one: &(Mode, _, _, Outcome)| (one.0.speed, std::cmp::Reverse(one.3));
            if order(next) > order(best) { next } else { best }
        })
        .map(|(mode, findings, ..)| (mode.speed, findings.clone()));
    let Some((mode, mut findings, budget, _)) =
        all.into_iter().reduce(|best, next| if rank(&next) > rank(&best) { next } else { best })
    else {
        return nothing_to_go_by(link, &near, &far, chain);
    };
    if let Some(without) = without.filter(|without| *without < mode.speed) {
        let text =
            format!("{} if both ports have that speed, {without} if one does not", mode.speed);
        let source = "IEEE 802.3 clause 28: the fastest that both offer".to_owned();
        findings.insert(0, Finding::new(PartKind::Port, Outcome::CannotTell, text, source));
    }
    let runs = worst(&findings) <= Outcome::WorksIf;
    let mut held_back = None;
    if runs
        && let Some((speed, against)) = fastest.filter(|(speed, _)| *speed > mode.speed)
        && let Some(why) = against.into_iter().max_by_key(|finding| finding.effect)
    {
        // It runs, but a faster way that the ends have does not.
        held_back = Some(why.part);
        findings.push(Finding {
            effect: Outcome::WorksIf,
            text: format!("{speed} is what both ends could do, but {}", why.text),
            ..why
        });
    }
    if let Some(wanted) = link.wanted
        && runs
        && mode.speed < wanted
    {
        let lowest = chain.lowest().map_or(PartKind::Medium, |(part, _)| part);
        let text = format!("it runs at {}, and {wanted} is wanted", mode.speed);
        findings.push(Finding::new(
            held_back.unwrap_or(lowest),
            Outcome::NotCovered,
            text,
            "the plan".into(),
        ));
    }
    let settings = settings::settings(link, &mode);
    if runs {
        for settings::ByHand { part, text } in &settings.by_hand {
            let part = *part;
            let source = match if part == PartKind::Port { mode.near.fit } else { mode.far.fit } {
                (Fit::If(_), source) => sources::cite(source),
                _ => mode.row.map_or_else(String::new, Row::cite),
            };
            findings.push(Finding::new(part, Outcome::WorksIf, text.clone(), source));
        }
    }
    // Stable: of equal effect the parts in the order they were looked at.
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.effect));
    let outcome = worst(&findings);
    let slots = [&link.near, &link.far].into_iter().filter_map(settings::slot_share);
    let delivers = slots.map(|(_, share)| share).fold(mode.speed, Mbps::min);
    let runs = runs.then_some(mode.speed);
    let limited_by = match runs {
        None => findings.first().map(|finding| finding.part),
        Some(_) => held_back.or_else(|| limit(link, &chain, mode.speed)),
    };
    // The tighter of the two ends' types.
    let rows = [mode.near.interface, mode.far.interface].into_iter();
    let rows = rows.filter_map(|name| medium::row(name, link.medium?));
    let reach = rows.map(|row| match media::engineered(row) {
        Some((up_to, _)) if link.length.is_some_and(|length| length <= up_to) => up_to.0,
        _ => row.reach.0,
    });
    let reach = reach.reduce(f64::min);
    let spare_length = reach.zip(link.length).map(|(reach, length)| Metres(reach - length.0));
    let mut planned = Planned {
        outcome,
        headline: String::new(),
        speed: runs,
        delivers: runs.map(|_| delivers),
        goodput: runs.and_then(|speed| goodput(link, speed, delivers)),
        delay: delay(link),
        types: Some([mode.near.interface, mode.far.interface]),
        limited_by,
        spare_length: spare_length.filter(|spare| spare.0 >= 0.0),
        budget,
        settings: runs.map(|_| settings),
        chain,
        findings,
    };
    planned.headline = headline(&planned);
    planned
}

/// Where the ends negotiate, the fastest speed that both have is what comes up: they do not look at
/// the cable. Other modes go; of a speed that a port may not have it is told what comes up without.
fn negotiated(modes: Vec<Mode>) -> (Vec<Mode>, Option<Mbps>) {
    let negotiates = |mode: &Mode| {
        media::rows_of(mode.near.interface).all(|row| row.autonegotiation_clause == Some(28))
    };
    if modes.is_empty() || !modes.iter().all(negotiates) {
        return (modes, None);
    }
    let possible = |mode: &&Mode| mode.near.is_possible() && mode.far.is_possible();
    let sure = |mode: &&Mode| {
        mode.matches == Match::Made
            && [mode.near, mode.far].iter().all(|able| !matches!(able.fit.0, Fit::Ask(_)))
    };
    let without = modes.iter().filter(possible).filter(sure).map(|mode| mode.speed).max();
    match modes.iter().filter(possible).max_by_key(|mode| mode.speed) {
        Some(fastest) => (vec![fastest.clone()], without),
        None => (modes, None),
    }
}

/// Every way in which the two ends could be paired.
fn modes(link: &Link, near: &[Able], far: &[Able]) -> Vec<Mode> {
    let mut modes = Vec::new();
    for one in near {
        for other in far {
            let matches = understand(one.interface, other.interface);
            // Two ends of several types are paired where they can be; a pair that cannot is only
            // worth telling where nothing else is left.
            if matches!(matches, Match::No(_)) && near.len() * far.len() > 1 {
                continue;
            }
            let row = match link.medium {
                Some(grade) => medium::row(one.interface, grade),
                None => media::rows_of(one.interface).next(),
            };
            modes.push(Mode {
                near: *one,
                far: *other,
                matches,
                speed: one.speed.min(other.speed),
                row,
            });
        }
    }
    modes
}

fn worst<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Outcome {
    findings.into_iter().map(|finding| finding.effect).max().unwrap_or(Outcome::Works)
}

/// Everything that stands against a mode.
fn examine(link: &Link, mode: &Mode) -> (Vec<Finding>, Option<Budget>) {
    let mut findings = Vec::new();
    let ends =
        [(PartKind::Module, &mode.near, &link.near), (PartKind::FarModule, &mode.far, &link.far)];
    for (part, able, end) in ends {
        let (fit, source) = able.fit;
        let (effect, why) = match fit {
            Fit::Yes | Fit::If(_) => continue,
            Fit::Ask(why) => (Outcome::CannotTell, why),
            Fit::No(why) => (Outcome::WillNot, why),
        };
        let cage = end.cage.map_or("the port", cages::Cage::name);
        let text = format!("{} in {cage}: {why}", able.interface);
        let fix = if effect == Outcome::CannotTell {
            "ask the maker of the port and of the module, or look at their lists"
        } else {
            "use a module that is made for the port, or another port"
        };
        findings.push(Finding::new(part, effect, text, sources::cite(source)).fix(fix));
    }
    let names = [mode.near.interface, mode.far.interface];
    let source = mode.row.map_or_else(String::new, |row| row.clause.to_owned());
    match mode.matches {
        Match::Made => {}
        Match::Ask(why) => findings.push(
            Finding::new(
                PartKind::FarModule,
                Outcome::CannotTell,
                format!("{} against {}: {why}", names[0], names[1]),
                source,
            )
            .fix("ask the maker of the module and of the port"),
        ),
        Match::Outside(why) => findings.push(
            Finding::new(
                PartKind::FarModule,
                Outcome::NotCovered,
                format!("{} against {}: {why}", names[0], names[1]),
                source,
            )
            .fix("use the same interface type at both ends"),
        ),
        Match::No(why) => findings.push(
            Finding::new(
                PartKind::FarModule,
                Outcome::WillNot,
                format!("{} against {}: {why}", names[0], names[1]),
                source,
            )
            .fix(if ends::is_bidirectional(names[0]) {
                "use one module of each side, D and U"
            } else {
                "use modules of the same interface type at both ends, in ports set to its speed"
            }),
        ),
    }
    if let Match::Outside(_) = mode.matches
        && let Some(text) = medium::fits_by_power(link, names)
    {
        // No standard pairs them, but each hears the other inside its own limits.
        for finding in &mut findings {
            if finding.effect == Outcome::NotCovered && finding.part == PartKind::FarModule {
                finding.effect = Outcome::WorksIf;
                finding.text = format!("{}; {text}", finding.text);
            }
        }
    }
    let budget = medium::check(link, names, &mut findings);
    settings::contradictions(link, mode, &mut findings);
    settings::slots(link, mode.speed, &mut findings);
    (findings, budget)
}

/// Nothing to pair: says what is not told.
fn nothing_to_go_by(link: &Link, near: &[Able], far: &[Able], chain: Chain) -> Planned {
    let mut findings = Vec::new();
    let ends = [
        (PartKind::Module, near, &link.near, "this end"),
        (PartKind::FarModule, far, &link.far, "the far end"),
    ];
    for (part, able, end, word) in ends {
        if !able.is_empty() {
            continue;
        }
        let label = "name its interface type, such as 10GBASE-SR: the module's label tells it";
        let (effect, text, fix) = match (end.cage, link.medium) {
            (Some(cages::Cage::Jack), Some(grade)) if !grade.is_twisted_pair() => (
                Outcome::WillNot,
                format!("{word} has a jack for twisted pair, and the medium is {}", grade.name()),
                "use a port with a cage, or twisted pair",
            ),
            (_, Some(grade)) if grade.is_fibre() => {
                (Outcome::CannotTell, format!("nobody told the module at {word}"), label)
            }
            _ => (Outcome::CannotTell, format!("nobody told the module or jack at {word}"), label),
        };
        findings.push(Finding::new(part, effect, text, "the plan".into()).fix(fix));
    }
    if findings.is_empty() {
        let names = |all: &[Able]| {
            let names: Vec<&str> = all.iter().map(|able| able.interface).collect();
            names.join(", ")
        };
        let text = format!(
            "this end can do {}, the far end {}: nothing in common",
            names(near),
            names(far)
        );
        findings.push(
            Finding::new(
                PartKind::FarModule,
                Outcome::WillNot,
                text,
                "IEEE 802.3, interface types".into(),
            )
            .fix("use modules of the same interface type at both ends"),
        );
    }
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.effect));
    let mut planned = Planned {
        outcome: worst(&findings),
        headline: String::new(),
        speed: None,
        delivers: None,
        goodput: None,
        delay: delay(link),
        types: None,
        limited_by: findings.first().map(|finding| finding.part),
        spare_length: None,
        budget: None,
        settings: None,
        chain,
        findings,
    };
    planned.headline = headline(&planned);
    planned
}

/// What carries the data: the usual headers, in packets of the plan's MTU.
pub fn stack(link: &Link) -> Stack {
    Stack { mtu: link.mtu().map_or(Stack::USUAL.mtu, Octets), ..Stack::USUAL }
}

/// Data a second: what the frames leave on the link, or what they leave of the slot, whose packets carry
/// neither check sequence nor gap.
fn goodput(link: &Link, speed: Mbps, delivers: Mbps) -> Option<BitsPerSecond> {
    let on_link = stack(link).goodput(speed)?;
    if delivers >= speed {
        return Some(on_link);
    }
    let on_bus = delivers.bits_per_second().0 * stack(link).share_on_bus()?;
    Some(BitsPerSecond(on_bus.min(on_link.0)))
}

fn delay(link: &Link) -> Option<Seconds> {
    let factor = match link.medium? {
        grade if grade.is_multimode() => VelocityFactor::MULTIMODE,
        grade if grade.is_single_mode() => VelocityFactor::SINGLE_MODE,
        grade if grade.is_twisted_pair() => VelocityFactor::TWISTED_PAIR,
        _ => return None,
    };
    propagation::delay(link.length?, factor)
}

/// The part whose ceiling is the speed, where the near port could do more.
fn limit(link: &Link, chain: &Chain, speed: Mbps) -> Option<PartKind> {
    let top = settings::top_of(&link.near)?;
    let (part, ceiling) = chain.lowest()?;
    // A speed below every ceiling is what both ends have in common, and no part's.
    (top > ceiling.speed && ceiling.speed <= speed).then_some(part)
}

fn headline(planned: &Planned) -> String {
    let part = planned.limited_by.map(PartKind::text);
    let first = planned.findings.first();
    match (planned.speed, planned.outcome) {
        (Some(speed), Outcome::Works) => match part {
            Some(part) => format!("Comes up at {speed}; the {part} sets that limit."),
            None if planned.chain.lowest().is_some_and(|(_, ceiling)| ceiling.speed > speed) => {
                format!("Comes up at {speed}, the fastest that both ends have in common.")
            }
            None => format!("Comes up at {speed}."),
        },
        (Some(speed), outcome) => {
            let limit =
                part.map_or_else(String::new, |part| format!(" (the {part} sets that limit)"));
            let less = planned.delivers.filter(|delivers| *delivers < speed);
            let less = less.map_or_else(String::new, |less| format!(", delivers {less} at most"));
            let what = first.map_or_else(String::new, |finding| finding.text.clone());
            let word = if outcome == Outcome::WorksIf { "see to this first" } else { "but" };
            format!("Comes up at {speed}{limit}{less}; {word}: {what}.")
        }
        (None, outcome) => {
            let what = first.map_or_else(String::new, |finding| finding.text.clone());
            let word = match outcome {
                Outcome::CannotTell => "Could not tell",
                Outcome::NotCovered => "Do not count on it",
                _ => "Will not come up",
            };
            let part = part.map_or_else(String::new, |part| format!(", because of the {part}"));
            format!("{word}{part}: {what}.")
        }
    }
}

/// The chain of parts, as for a link that runs, from what is told.
fn chain(link: &Link, near: &[Able], far: &[Able]) -> Chain {
    let direct = is_direct_attach(link.medium);
    let parts = vec![
        slot_part(&link.near),
        port_part(PartKind::Port, &link.near),
        module_part(PartKind::Module, &link.near, near, direct),
        medium_part(link, near, far),
        module_part(PartKind::FarModule, &link.far, far, direct),
        port_part(PartKind::FarPort, &link.far),
    ];
    Chain { parts }
}

fn ceiling(speed: Mbps, source: impl Into<String>) -> Fact<Ceiling> {
    Fact::Known(Ceiling { speed, source: source.into() })
}

fn slot_part(end: &End) -> Part {
    let read = end.slot.map(|slot| slot.text()).into_iter().collect();
    let ceiling = match settings::slot_share(end) {
        Some((slot, share)) => {
            let shared = if end.sharing > 1 {
                format!("; shared by {} ports that are busy", end.sharing)
            } else {
                String::new()
            };
            ceiling(share, format!("{}{shared}", slot.source()))
        }
        None => Fact::missing_with(Reason::NotAsked, "no slot told"),
    };
    Part { kind: PartKind::Slot, ceiling, read }
}

fn port_part(kind: PartKind, end: &End) -> Part {
    let mut read: Vec<String> = end.name().into_iter().collect();
    read.extend(end.cage.map(|cage| cage.name().to_owned()));
    let told = end.best.or_else(|| end.speeds.iter().max().copied());
    let mut top = match (told, end.cage.and_then(|cage| cage.row().top)) {
        (Some(told), _) => ceiling(told, "told in the plan"),
        (None, Some(top)) => {
            ceiling(top, format!("what such a cage is made for; {}", cages::SOURCE))
        }
        (None, None) => Fact::missing_with(Reason::NotAsked, "no speed of the port told"),
    };
    // The chain has one slot, this end's: the other end's counts with its port.
    if kind == PartKind::FarPort
        && let Some((slot, share)) = settings::slot_share(end)
        && top.known().is_none_or(|top| share < top.speed)
    {
        read.push(slot.text());
        top = ceiling(share, format!("its slot: {}", slot.source()));
    }
    Part { kind, ceiling: top, read }
}

fn module_part(kind: PartKind, end: &End, able: &[Able], direct: bool) -> Part {
    let of_cable = direct && end.module.is_empty();
    let read = if of_cable {
        Vec::new()
    } else {
        end.module.iter().map(|name| (*name).to_owned()).collect()
    };
    let fastest = able
        .iter()
        .filter(|able| end.module.contains(&able.interface) || able.interface == cages::PLUGGABLE);
    let ceiling = match fastest.max_by_key(|able| able.speed) {
        _ if of_cable => {
            Fact::missing_with(Reason::NotApplicable, "the cable is one piece with its ends")
        }
        Some(able) => {
            let clause = media::rows_of(able.interface).next().map_or("", |row| row.clause);
            ceiling(able.speed, format!("{}, {clause}", able.interface))
        }
        None if end.cage == Some(cages::Cage::Jack) => {
            Fact::missing_with(Reason::NotApplicable, "the port has a twisted-pair jack of its own")
        }
        None => Fact::missing_with(Reason::NotAsked, "no module told"),
    };
    Part { kind, ceiling, read }
}

fn medium_part(link: &Link, near: &[Able], far: &[Able]) -> Part {
    let mut read: Vec<String> =
        link.medium.map(|grade| grade.name().to_owned()).into_iter().collect();
    read.extend(link.length.map(|length| length.to_string()));
    let part = |ceiling| Part { kind: PartKind::Medium, ceiling, read: read.clone() };
    let (Some(grade), Some(length)) = (link.medium, link.length) else {
        return part(Fact::missing_with(Reason::NotAsked, "grade and length are not both told"));
    };
    // What it could carry of all that either end has: what the ends share is not the medium's matter.
    let either = near.iter().chain(far).filter(|able| able.is_possible());
    let rows = either.filter_map(|able| medium::row(able.interface, grade));
    let rows: Vec<&'static Row> = rows.collect();
    let reaching = rows.iter().rev().filter(|row| row.reach >= length).max_by_key(|row| row.speed);
    part(match (reaching, rows.iter().max_by_key(|row| row.speed)) {
        (Some(row), _) => ceiling(
            row.speed,
            format!("{} reaches {} on {} ({})", row.interface, row.reach, grade.name(), row.clause),
        ),
        (None, Some(row)) => Fact::missing_with(
            Reason::NotReported,
            format!(
                "{} is specified to {} on {}, this run is longer",
                row.interface,
                row.reach,
                grade.name()
            ),
        ),
        (None, None) => Fact::missing_with(
            Reason::NotReported,
            format!("no interface type that an end has is specified on {}", grade.name()),
        ),
    })
}
