//! The content of a report, in order: each function here is a section.
//!
//! To add one, write a function that gives a [`Section`] (or none where there is nothing to tell),
//! put it into `of_port` where it is to be read, and its name into the list at [`Section::name`].
//! All forms show it then.

use std::borrow::Cow;
use std::collections::HashMap;

use crate::calc::rates;
use crate::chain::pci_link_text;
use crate::diagnose::{Cause, Certainty, Diagnosis, PortDiagnosis, Step, Verdict};
use crate::module::Module;
use crate::render::explain::{self, NO_HAZARD};
use crate::render::json::TOOL;
use crate::render::{neighbour, numbers, over_time, readings};
use crate::report::gauge::gauges;
use crate::report::redact::{Kind, Redacted};
use crate::report::{
    Block, Drawn, DrawnPart, FORMAT, Judged, Report, Section, Words, care, paragraph, rows, table,
    words,
};
use crate::snapshot::{
    Duplex, Fact, Instant, LaneCounts, LogTie, Missing, OperationalState, Port, Reason, Slot,
    Snapshot,
};

/// What the user adds, redacted.
#[derive(Debug, Default)]
pub struct Told<'a> {
    /// What they tried.
    pub tried: &'a [String],
    /// What else they say.
    pub notes: &'a [String],
}

/// What is always said beside a step: as the README does.
const DEFER: &str = "The equipment maker's documents, local codes and licensed practice come before \
    anything said here. Laser light of these modules is invisible: never look into a port, a \
    connector or a fibre end.";
/// How the sum of a cause comes about.
const SUM: &str = "How sure: each cause starts with how common it is, and what was seen adds its \
    decibans.";
/// Lines of the kernel log that are shown; the rest is in the capture.
const LOG_LINES: usize = 20;

/// The report of what was found in redacted facts. `data_sha256` is the sum of what is enclosed.
pub fn report(
    diagnoses: &[Diagnosis<'_>],
    facts: &Redacted,
    told: &Told<'_>,
    data_sha256: &str,
) -> Report {
    let all: Vec<(&Snapshot, &Port, &PortDiagnosis)> = diagnoses
        .iter()
        .flat_map(|one| {
            let ports = one.snapshot.ports.iter().zip(&one.ports);
            ports.map(move |(port, found)| (one.snapshot, port, found))
        })
        .collect();
    let several = all.len() > 1;
    // A port that software made has no section of its own.
    let mut number = 0;
    let judged = |(snapshot, _, found): &(&Snapshot, &Port, &PortDiagnosis)| {
        let section = (several && !found.is_virtual).then(|| {
            number += 1;
            number
        });
        Block::Verdict(Judged {
            host: words(&snapshot.host.name),
            port: words(&found.name),
            verdict: found.verdict,
            headline: words(&found.headline),
            section,
        })
    };
    let mut problem: Vec<Block> = all.iter().map(judged).collect();
    problem.extend(stand_ins(facts).map(paragraph));
    let mut sections = Vec::new();
    sections.extend(Section::of(
        "problem",
        if several { "The ports" } else { "The problem" },
        problem,
    ));
    let tried = tried(told);
    match all.as_slice() {
        [(snapshot, port, found)] => {
            let (before, after) = of_port(snapshot, port, found);
            sections.extend(before.into_iter().chain(tried).chain(after));
        }
        _ => {
            for (snapshot, port, found) in &all {
                if found.is_virtual {
                    continue;
                }
                let (before, after) = of_port(snapshot, port, found);
                sections.push(Section {
                    name: "port",
                    heading: words(format!(
                        "{} on {}: {}",
                        found.name,
                        snapshot.host.name,
                        found.verdict.text()
                    )),
                    blocks: Vec::new(),
                    sections: before.into_iter().chain(after).collect(),
                });
            }
            sections.extend(tried);
        }
    }
    sections.extend(made(diagnoses, facts, data_sha256));
    Report {
        tool: TOOL,
        format: FORMAT,
        title: title(&all),
        data_sha256: data_sha256.to_owned(),
        sections,
    }
}

/// What a reader must know of the names on the page, where some are not the real ones.
fn stand_ins(facts: &Redacted) -> Option<String> {
    (!facts.replaced.is_empty()).then(|| {
        "Names and numbers such as host-1 or SERIAL-1 are stand-ins, the same one for the same thing: \
         ask the sender for the real ones. How this report was made stands at its end."
            .to_owned()
    })
}

fn title(all: &[(&Snapshot, &Port, &PortDiagnosis)]) -> Words {
    words(match all {
        [(snapshot, _, found)] => {
            format!("Report on {} of {}: {}", found.name, snapshot.host.name, found.verdict.text())
        }
        _ => {
            let count = |verdict| all.iter().filter(|one| one.2.verdict == verdict).count();
            let counts = [Verdict::Fault, Verdict::Attention, Verdict::Unknown, Verdict::Healthy];
            let counts: Vec<String> = counts
                .into_iter()
                .map(|verdict| (count(verdict), verdict.text()))
                .filter(|(count, _)| *count > 0)
                .map(|(count, text)| format!("{count} {text}"))
                .collect();
            let counts =
                if counts.is_empty() { String::new() } else { format!(": {}", counts.join(", ")) };
            format!("Report on {} ports{counts}", all.len())
        }
    })
}

/// The sections of a port: those before what was tried, and those after it.
fn of_port(
    snapshot: &Snapshot,
    port: &Port,
    found: &PortDiagnosis,
) -> (Vec<Section>, Vec<Section>) {
    let mut told = Vec::new();
    let before =
        [next(found, &mut told), chain(found), seen(port, found), causes(found, &mut told)];
    let after = [
        counters(port, found),
        how_good(found),
        readings_over_time(port),
        host(snapshot, port, found),
        not_known(snapshot, found),
    ];
    (before.into_iter().flatten().collect(), after.into_iter().flatten().collect())
}

fn next(found: &PortDiagnosis, told: &mut Vec<&'static str>) -> Option<Section> {
    let step = found.causes.first().map(|cause| &cause.step).or(found.next_step.as_ref())?;
    let mut blocks = step_blocks(step, told);
    blocks.push(paragraph(DEFER));
    Section::of("next", "What to do next", blocks)
}

/// A step with its cautions: in full where they are first told, by what they are about where they
/// come again.
fn step_blocks(step: &Step, told: &mut Vec<&'static str>) -> Vec<Block> {
    let mut blocks = vec![paragraph(explain::ended(&step.text))];
    if !step.tells.is_empty() {
        blocks.push(paragraph(format!("Outcome: {}.", step.tells)));
    }
    if step.cautions.is_empty() {
        blocks.push(paragraph(NO_HAZARD));
    }
    blocks.extend(cares(&step.cautions, told));
    blocks
}

fn cares(all: &[&'static str], told: &mut Vec<&'static str>) -> Vec<Block> {
    let (again, new): (Vec<&str>, Vec<&'static str>) =
        all.iter().copied().partition(|caution| told.contains(caution));
    told.extend(&new);
    let mut blocks: Vec<Block> = new.iter().map(care).collect();
    if !again.is_empty() {
        blocks.push(care(format!("The same care as above: {}.", explain::about(&again))));
    }
    blocks
}

fn chain(found: &PortDiagnosis) -> Option<Section> {
    if found.chain.parts.is_empty() {
        return None;
    }
    let parts = found.chain.parts.iter().map(|part| {
        let (most, read) = explain::part_words(part);
        DrawnPart {
            part: part.kind.text(),
            most: words(most),
            most_mbps: part.ceiling.known().map(|ceiling| ceiling.speed),
            mark: explain::mark(found, part.kind).unwrap_or_default(),
            read: words(read.join("; ")),
        }
    });
    let drawn = Drawn {
        caption: words("The most that each part can carry: ? is not known, - does not apply"),
        running_mbps: found.running.known().copied(),
        parts: parts.collect(),
    };
    Section::of("chain", "The chain, from this host outwards", vec![Block::Chain(drawn)])
}

fn seen(port: &Port, found: &PortDiagnosis) -> Option<Section> {
    let mut blocks = Vec::new();
    blocks.extend(rows("State of the link", ["what", "as it was seen"], state(port, found)));
    if let Fact::Known(module) = &found.module {
        let window = module.power_window(found.running.known().copied());
        blocks.extend(gauges(module, found).into_iter().map(Block::Gauge));
        let remarks = readings::remarks(port, found, module);
        let remarks = remarks.into_iter().map(|(name, text)| (name.to_owned(), text));
        let beside = readings::beside_lanes(module, window).into_iter().chain(remarks);
        blocks.extend(rows("Beside the readings", ["what", "in words"], beside));
    } else if let Fact::Missing(why) = &found.module
        && !found.is_virtual
        && why.reason != Reason::NotApplicable
    {
        blocks.push(paragraph(format!("Module readings: {}.", readings::absent(why))));
    }
    let paths = explain::path_lines(&found.paths);
    blocks.extend(rows(explain::PATHS, ["way", "light"], paths));
    Section::of("seen", "What was seen", blocks)
}

/// What the port tells of its link.
fn state(port: &Port, found: &PortDiagnosis) -> Vec<(&'static str, String)> {
    let yes = |fact: &Fact<bool>, yes: &str, no: &str| {
        told(fact.as_ref().map(|so| if *so { yes.to_owned() } else { no.to_owned() }))
    };
    let ethernet = &port.ethernet;
    let list = |fact: &Fact<Vec<String>>| told(fact.as_ref().map(|all| all.join(", ")));
    let text = |fact: &Fact<String>| told(fact.clone());
    let mut all = vec![
        ("switched on", yes(&port.admin_up, "yes", "no")),
        ("carrier", yes(&port.carrier, "yes", "no")),
        (
            "state",
            told(port.operational_state.as_ref().map(|state| {
                let state = match state {
                    OperationalState::Up => "up",
                    OperationalState::Down => "down",
                    OperationalState::Testing => "testing",
                    OperationalState::Unknown => "unknown",
                    OperationalState::Dormant => "dormant",
                    OperationalState::NotPresent => "a part is missing",
                    OperationalState::LowerLayerDown => "the layer below is down",
                };
                state.to_owned()
            })),
        ),
        ("MTU", told(port.mtu_octets.as_ref().map(|octets| format!("{octets} octets")))),
    ];
    if !found.is_virtual {
        let duplex = ethernet.duplex.as_ref().map(|duplex| match duplex {
            Duplex::Full => "full".to_owned(),
            Duplex::Half => "half".to_owned(),
        });
        all.extend([
            ("speed", told(found.running.as_ref().map(ToString::to_string))),
            ("duplex", told(duplex)),
            ("autonegotiation", yes(&ethernet.autonegotiation, "on", "off")),
            ("can do", list(&ethernet.supported_modes)),
            ("offers", list(&ethernet.advertised_modes)),
            ("the far end offered", list(&ethernet.peer_modes)),
            ("FEC set", list(&ethernet.fec_configured)),
            ("FEC at work", text(&ethernet.fec_active)),
        ]);
        if port.carrier != Fact::Known(true) {
            all.push((
                "why it is down, by the driver",
                told(ethernet.extended_state.as_ref().map(|why| {
                    let more = why.substate.iter().map(|more| format!(", {more}"));
                    format!("{}{}", why.state, more.collect::<String>())
                })),
            ));
        }
    }
    let mut all: Vec<(&'static str, String)> =
        all.into_iter().filter_map(|(name, text)| Some((name, text?))).collect();
    all.extend(neighbour::line(port).map(|line| ("neighbour", line)));
    all.extend(explain::far_text(found).map(|text| ("far end", text)));
    if let Some(far) = found.far_capture.as_ref().filter(|far| !far.joined_by_site_file) {
        let taken = far.taken_at.as_ref().map_or_else(String::new, |at| format!(", of {at}"));
        all.push(("far end", format!("{} on {}: its own capture{taken}", far.port, far.host)));
    }
    all
}

/// A fact in words; none where nobody asked, or where it does not apply.
fn told(fact: Fact<String>) -> Option<String> {
    match fact {
        Fact::Known(text) => Some(text),
        Fact::Missing(Missing { reason: Reason::NotAsked | Reason::NotApplicable, .. }) => None,
        Fact::Missing(why) => Some(format!("not known: {why}")),
    }
}

fn causes(found: &PortDiagnosis, told: &mut Vec<&'static str>) -> Option<Section> {
    let mut blocks = Vec::new();
    if !found.causes.is_empty() {
        blocks.push(paragraph(format!("{SUM} {}", explain::DECIBANS)));
    }
    if !found.unexplained.is_empty() {
        let text = explain::ended(&found.unexplained.join("; "));
        blocks.push(paragraph(format!("Not explained by any of them: {text}")));
    }
    if found.next_step.is_some() {
        blocks.push(paragraph("No fault of the catalogue fits what was seen."));
    }
    let mut sections: Vec<Section> = found
        .causes
        .iter()
        .enumerate()
        .filter_map(|(place, one)| cause(place.saturating_add(1), one, told))
        .collect();
    let ruled_out = explain::ruled_out(found).into_iter().map(|out| {
        let because = &out.because;
        let text = seen_words(&because.text, &because.observed);
        vec![words(out.fault), words(format!("{text} [{}]", because.source))]
    });
    let ruled_out = if found.causes.is_empty() && found.next_step.is_none() {
        None
    } else {
        table("Faults that would explain it and were ruled out", &["fault", "because"], ruled_out)
    };
    sections.extend(Section::of("ruled-out", "Ruled out", ruled_out.into_iter().collect()));
    if blocks.is_empty() && sections.is_empty() {
        return None;
    }
    Some(Section {
        name: "causes",
        heading: words("Causes, and what speaks for and against them"),
        blocks,
        sections,
    })
}

fn seen_words(text: &str, observed: &str) -> String {
    if observed.is_empty() { text.to_owned() } else { format!("{text}: {observed}") }
}

fn cause(place: usize, cause: &Cause, told: &mut Vec<&'static str>) -> Option<Section> {
    let examined = &cause.examined;
    let mut blocks = vec![
        paragraph(examined.fault.meaning),
        paragraph(format!(
            "Part to look at: {}. Sum: {}.",
            examined.part().text(),
            explain::sum_text(cause)
        )),
    ];
    for (caption, all) in
        [("What speaks for it", &examined.evidence), ("What speaks against it", &examined.against)]
    {
        let evidence = all.iter().map(|weighed| {
            let seen = &weighed.seen;
            let limit = seen.limit.as_ref();
            let limit = limit.map_or_else(String::new, |limit| format!(", held against {limit}"));
            let text = seen_words(&seen.text, &seen.observed);
            let text = format!("{text}{limit} [{}]", seen.source);
            vec![words(format!("{:+}", weighed.weight.0)), words(text)]
        });
        blocks.extend(table(caption, &["decibans", "what was seen"], evidence));
    }
    let vital =
        examined.gaps.iter().filter(|gap| gap.vital).map(|gap| {
            vec![words(gap.observation.fact), words(gap.why.to_string()), words(gap.how)]
        });
    let caption = "Not known, and without it the cause is no more than possible";
    blocks.extend(table(caption, &["fact", "why", "to get it"], vital));
    blocks.extend(
        examined
            .doubts
            .iter()
            .map(|doubt| paragraph(format!("Doubt: {}.", explain::doubt_text(doubt)))),
    );
    blocks.push(paragraph(format!("Next: {}", explain::ended(&cause.step.text))));
    if !cause.step.tells.is_empty() {
        blocks.push(paragraph(format!("Outcome: {}.", cause.step.tells)));
    }
    if cause.step.cautions.is_empty() {
        blocks.push(paragraph(NO_HAZARD));
    }
    blocks.extend(cares(&cause.step.cautions, told));
    blocks.push(paragraph(format!("Usual remedy: {}", explain::ended(&cause.remedy))));
    blocks.extend(cares(&cause.remedy_cautions, told));
    let certainty = match cause.certainty {
        Certainty::Established => "established",
        Certainty::Likely => "likely",
        Certainty::Possible => "possible",
    };
    let heading =
        format!("Cause {place}: {} ({certainty}) [{}]", examined.title(), examined.fault.name);
    Section::of("cause", heading, blocks)
}

fn tried(told: &Told<'_>) -> Option<Section> {
    let list = |caption: &str, items: &[String]| {
        (!items.is_empty()).then(|| Block::List {
            caption: words(caption),
            items: items.iter().map(words).collect(),
        })
    };
    let blocks = [
        list("Tried already, in the words of who made this report", told.tried),
        list("Notes, in the words of who made this report", told.notes),
    ];
    Section::of("tried", "What was tried", blocks.into_iter().flatten().collect())
}

fn counters(port: &Port, found: &PortDiagnosis) -> Option<Section> {
    let mut blocks = Vec::new();
    blocks.extend(rows("What they did", ["what", "in words"], readings::counters(port, found)));
    blocks.extend(table(
        "Counters that are not zero, since they started and while they were watched",
        &["counter", "total", "grew by", "a second"],
        counted(port),
    ));
    Section::of("counters", "Counters", blocks)
}

/// Every standard counter that is not zero.
fn counted(port: &Port) -> Vec<Vec<Words>> {
    let (Some(first), Some(last)) = (port.instants.first(), port.instants.last()) else {
        return Vec::new();
    };
    let (before, after) = (counts(first), counts(last));
    let before: HashMap<&str, u64> = before.iter().map(|(name, n)| (&**name, *n)).collect();
    let row = |(name, total): &(Cow<'static, str>, u64)| {
        let change = rates::change(&port.instants, |instant| {
            let count = if std::ptr::eq(instant, last) { Some(total) } else { before.get(&**name) };
            count.map_or_else(|| Fact::missing(Reason::NotReported), |count| Fact::Known(*count))
        });
        let (by, rate) = match change {
            // A rate for people: what f64 rounds is far beyond its figures.
            #[allow(clippy::cast_precision_loss)]
            Fact::Known(change) => {
                let rate = change.by as f64 / change.seconds;
                let digits = if rate >= 100.0 || change.by == 0 { 0 } else { 2 };
                (change.by.to_string(), format!("{rate:.digits$}"))
            }
            Fact::Missing(_) => ("?".to_owned(), "?".to_owned()),
        };
        vec![words(name), words(total.to_string()), words(by), words(rate)]
    };
    after.iter().filter(|(_, total)| *total > 0).map(row).collect()
}

/// Every standard counter that is known at an instant.
fn counts(instant: &Instant) -> Vec<(Cow<'static, str>, u64)> {
    let mut all: Vec<(Cow<'static, str>, u64)> = Vec::new();
    if let Fact::Known(counters) = &instant.counters {
        let known = counters.each().filter_map(|(name, count)| Some((name, *count.known()?)));
        all.extend(known.map(|(name, count)| (name.replace('_', " ").into(), count)));
    }
    if let Fact::Known(statistics) = &instant.statistics {
        let groups = [&statistics.phy, &statistics.mac, &statistics.control, &statistics.rmon];
        let named = groups.into_iter().flatten();
        all.extend(named.map(|(name, count)| (name.clone().into(), *count)));
    }
    let pause = instant.pause_frames.known();
    let fec = instant.fec_counters.known();
    let total = |counts: &Fact<LaneCounts>| counts.known().map(|counts| counts.total);
    let others = [
        ("pause frames received", pause.and_then(|all| all.received.known().copied())),
        ("pause frames sent", pause.and_then(|all| all.sent.known().copied())),
        ("FEC codewords corrected", fec.and_then(|all| total(&all.corrected_blocks))),
        ("FEC codewords not correctable", fec.and_then(|all| total(&all.uncorrectable_blocks))),
        ("times the link went down", instant.carrier_down_count.known().copied()),
    ];
    all.extend(others.into_iter().filter_map(|(name, count)| Some((name.into(), count?))));
    all
}

fn how_good(found: &PortDiagnosis) -> Option<Section> {
    let all = numbers::rows(found.numbers.known()?);
    let mut blocks: Vec<Block> =
        rows("In numbers", ["what", "how good"], all).into_iter().collect();
    blocks.push(paragraph(format!("[{}]", numbers::SOURCES)));
    Section::of("numbers", numbers::HEADING, blocks)
}

fn readings_over_time(port: &Port) -> Option<Section> {
    let (heading, lines) = over_time::told(port)?;
    let table = rows("What the module monitors, again and again", ["reading", "over time"], lines);
    Section::of("over-time", heading, table.into_iter().collect())
}

fn host(snapshot: &Snapshot, port: &Port, found: &PortDiagnosis) -> Option<Section> {
    let text = |fact: &Fact<String>| told(fact.clone());
    let mut all: Vec<(String, String)> = [
        ("host", Some(snapshot.host.name.clone())),
        ("kernel", text(&snapshot.host.kernel)),
        ("driver", text(&port.driver)),
        ("driver's version", text(&port.driver_version)),
        ("firmware", text(&port.firmware)),
        ("bus address", text(&port.bus_address)),
        ("physical port, by the driver", text(&port.physical_port)),
        ("MAC address", text(&port.mac_address)),
        ("permanent MAC address", text(&port.permanent_mac_address)),
        ("memory node", told(port.numa_node.as_ref().map(ToString::to_string))),
        (
            "others on this device",
            told(port.device_siblings.as_ref().map(|all| match all.as_slice() {
                [] => "none".to_owned(),
                all => all.join(", "),
            })),
        ),
    ]
    .into_iter()
    .filter_map(|(name, text)| Some((name.to_owned(), text?)))
    .collect();
    all.extend(slot(port));
    for related in [("belongs to", &port.controller), ("stands on", &port.lower)] {
        if let (name, Some(other)) = related
            && let Some(other) = &other.name
        {
            all.push((name.to_owned(), other.clone()));
        }
    }
    if let Fact::Known(sensors) = &port.sensors {
        for sensor in sensors {
            let shown = match &sensor.value {
                Fact::Known(value) => format!("{value} {}", sensor.unit),
                Fact::Missing(why) => format!("not known: {why}"),
            };
            all.push((format!("{} {}", sensor.chip, sensor.label), shown));
        }
    }
    if let Fact::Known(module) = &found.module {
        all.extend(module_facts(module));
    }
    let mut blocks: Vec<Block> =
        rows("What stands behind the port", ["what", "as it was read"], all).into_iter().collect();
    blocks.extend(kernel_log(port));
    Section::of("host", "The host, its adapter and the module", blocks)
}

fn slot(port: &Port) -> Vec<(String, String)> {
    let or_unknown = |speed: &Fact<f64>, lanes: &Fact<u32>| match (speed, lanes) {
        (Fact::Known(speed), Fact::Known(lanes)) => pci_link_text(*speed, *lanes),
        _ => "?".to_owned(),
    };
    match &port.slot {
        Fact::Missing(why) => told(Fact::Missing(why.clone()))
            .map(|text| ("slot".to_owned(), text))
            .into_iter()
            .collect(),
        Fact::Known(Slot::Other { name }) => {
            vec![("slot".to_owned(), format!("on the bus {name}"))]
        }
        Fact::Known(Slot::Usb { hops }) => hops
            .iter()
            .map(|hop| {
                let speed = told(hop.speed_mbps.as_ref().map(|speed| format!("{speed} Mb/s")));
                (format!("USB {}", hop.address), speed.unwrap_or_else(|| "?".to_owned()))
            })
            .collect(),
        Fact::Known(Slot::Pci { hops, tunnelled }) => hops
            .iter()
            .map(|hop| {
                let tunnel = if *tunnelled { ", behind a cable tunnel" } else { "" };
                let text = format!(
                    "runs {}, could {}{tunnel}",
                    or_unknown(&hop.speed_gts, &hop.width_lanes),
                    or_unknown(&hop.best_speed_gts, &hop.best_width_lanes)
                );
                (format!("PCI Express {}", hop.address), text)
            })
            .collect(),
    }
}

/// What the module says that it is.
fn module_facts(module: &Module) -> Vec<(String, String)> {
    let text = |fact: &Fact<String>| told(fact.clone());
    let types: Vec<&str> = module.interface_types.iter().map(|one| one.name.as_str()).collect();
    [
        ("module: maker", text(&module.vendor_name)),
        ("module: maker's IEEE number", text(&module.vendor_oui)),
        ("module: part number", text(&module.part_number)),
        ("module: revision", text(&module.revision)),
        ("module: serial number", text(&module.serial_number)),
        ("module: date code", text(&module.date_code)),
        ("module: form factor", text(&module.form_factor)),
        ("module: connector", text(&module.connector)),
        ("module: interface types", (!types.is_empty()).then(|| types.join(", "))),
        ("module: wavelength", told(module.wavelength.as_ref().map(ToString::to_string))),
        ("module: cable length", told(module.cable_length.as_ref().map(ToString::to_string))),
        ("module: power class", text(&module.power_class)),
        ("module: standard", text(&module.standard_revision)),
    ]
    .into_iter()
    .filter_map(|(name, text)| Some((name.to_owned(), text?)))
    .collect()
}

fn kernel_log(port: &Port) -> Vec<Block> {
    let lines = match &port.kernel_log {
        Fact::Known(lines) => lines,
        Fact::Missing(why) => {
            let text = told(Fact::Missing(why.clone()));
            return text
                .map(|text| paragraph(format!("Kernel log: {text}.")))
                .into_iter()
                .collect();
        }
    };
    let more = lines.len().saturating_sub(LOG_LINES);
    let shown = lines.iter().skip(more).map(|line| {
        let at = line.at_microseconds;
        let about = match line.names {
            LogTie::Interface => "",
            LogTie::BusAddress => " (by its bus address)",
            LogTie::Driver => " (of its driver: it may be about another port)",
        };
        vec![
            words(format!("{}.{:03} s", at / 1_000_000, at / 1000 % 1000)),
            words(format!("{}{about}", line.text)),
        ]
    });
    let caption = match more {
        0 => "Kernel log".to_owned(),
        more => format!(
            "Kernel log, the last {LOG_LINES} lines; {more} earlier ones are in the capture"
        ),
    };
    table(&caption, &["since start", "line"], shown).into_iter().collect()
}

fn not_known(snapshot: &Snapshot, found: &PortDiagnosis) -> Option<Section> {
    let missing = found.missing.iter().map(|missing| {
        vec![words(&missing.fact), words(missing.why.to_string()), words(&missing.remedy)]
    });
    let gaps = snapshot.gaps.iter().map(|gap| {
        let remedy = gap.remedy.as_deref().unwrap_or("-");
        vec![words(&gap.what), words(gap.missing.to_string()), words(remedy)]
    });
    let all = table("What was not known", &["fact", "why", "to get it"], missing.chain(gaps));
    Section::of("not-known", "Not known", all.into_iter().collect())
}

fn made(diagnoses: &[Diagnosis<'_>], facts: &Redacted, data_sha256: &str) -> Option<Section> {
    let mut all = vec![("made by".to_owned(), TOOL.to_owned())];
    let mut taken = |what: &str, snapshot: &Snapshot| {
        let at = match &snapshot.taken_at {
            Fact::Known(at) => at.clone(),
            Fact::Missing(why) => format!("not known: {why}"),
        };
        let by = if snapshot.tool.is_empty() {
            String::new()
        } else {
            format!(", with {}", snapshot.tool)
        };
        all.push((format!("{what} {}", snapshot.host.name), format!("taken {at}{by}")));
    };
    for one in diagnoses {
        taken("facts of", one.snapshot);
    }
    for beside in facts.material.snapshots.iter().skip(diagnoses.len()).chain(&facts.material.far) {
        taken("facts of the far end,", beside);
    }
    if facts.material.site.is_some() {
        all.push((
            "site file".to_owned(),
            "used: its entries for these ports are enclosed".to_owned(),
        ));
    }
    let replaced: Vec<String> = facts
        .replaced
        .iter()
        .map(|(kind, count)| format!("{count} {}", kind_words(*kind, *count)))
        .collect();
    let replaced = if replaced.is_empty() { "nothing".to_owned() } else { replaced.join(", ") };
    all.push(("replaced by stand-ins".to_owned(), replaced));
    let kept = if facts.kept.is_empty() { "nothing".to_owned() } else { facts.kept.join(", ") };
    all.push(("kept as it was, of what could name somebody".to_owned(), kept));
    all.push(("SHA-256 of the facts".to_owned(), data_sha256.to_owned()));
    let mut blocks: Vec<Block> =
        rows("Where this comes from", ["what", "how"], all).into_iter().collect();
    blocks.push(paragraph(
        "The HTML form of this report holds the facts themselves, and is read like a capture: \
         linkwright explain --from FILE.html. The sum shows whether they are still those the \
         report was made from; it is a checksum, no signature.",
    ));
    blocks.push(paragraph(
        "Everything here was read without changing anything on the host. A verdict never claims more \
         than the facts above carry; what was not known is not taken for healthy.",
    ));
    Section::of("made", "How this report was made", blocks)
}

fn kind_words(kind: Kind, count: usize) -> &'static str {
    let (one, more) = match kind {
        Kind::SerialNumber => ("serial number", "serial numbers"),
        Kind::MacAddress => ("MAC address", "MAC addresses"),
        Kind::IpAddress => ("IP address", "IP addresses"),
        Kind::HostName => ("host name", "host names"),
        Kind::InterfaceName => ("interface name", "interface names"),
        Kind::ByteRow => ("row of bytes in texts", "rows of bytes in texts"),
    };
    if count == 1 { one } else { more }
}
