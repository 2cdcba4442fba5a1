//! The verdict on each port: symptoms, causes with their evidence, what was ruled out, what is
//! missing, what to do next.
//!
//! In: a [`Snapshot`], what the user knows, what the far end's capture tells. Out: a
//! [`Diagnosis`], the same for the same input. Pure.

pub mod both_ends;
pub mod changes;
mod next;
pub mod numbers;
pub mod observation;
pub mod observations;
pub mod over_time;
pub mod replayed;
pub mod symptoms;
pub mod told;
pub mod verdict;
pub mod view;
pub mod way_out;
pub mod weigh;
pub mod words;

use serde::Serialize;

use crate::chain::far::{self, FarEnd};
use crate::chain::{Chain, PartKind};
use crate::faults::Symptom;
use crate::module::Module;
use crate::quantity::{BitsPerSecond, Mbps};
use crate::site::{Site, SitePort};
use crate::snapshot::{Fact, Host, Missing, Port, Reason, Snapshot};

pub use next::{LOCKED_OUT, Step, TRAFFIC, TRAFFIC_THEN, interrupts};
pub use numbers::Numbers;
pub use told::{Heard, Told};
pub use verdict::Verdict;
use view::View;
pub use weigh::{Certainty, Examined, Weighed};

/// What the program found on one host.
#[derive(Debug)]
pub struct Diagnosis<'a> {
    /// Where it comes from.
    pub snapshot: &'a Snapshot,
    /// One entry a port, in the snapshot's order.
    pub ports: Vec<PortDiagnosis>,
}

/// A fact that is missing, as shown to the user.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissingFact {
    /// What.
    pub fact: String,
    /// Why.
    pub why: Missing,
    /// How to get it.
    pub remedy: String,
}

/// The limit that a reading of the module was held against.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct JudgedBy {
    /// Which reading, and which side of it.
    pub what: &'static str,
    /// The limit.
    pub limit: String,
    /// Whose limit it is.
    pub source: String,
    /// Why it is not the module's own, where it is not.
    pub own_limit: Option<String>,
}

/// A cause that is raised.
#[derive(Debug, Clone)]
pub struct Cause {
    /// The fault, weighed.
    pub examined: Examined,
    /// How sure.
    pub certainty: Certainty,
    /// What to do next about it.
    pub step: Step,
    /// The usual remedy, on this link.
    pub remedy: String,
    /// What the usual remedy needs care for: it touches what the fault's own tests touch, also
    /// where the next step only asks.
    pub remedy_cautions: Vec<&'static str>,
}

impl Cause {
    /// A cause with its step.
    fn new(view: &View<'_>, examined: &Examined, certainty: Certainty, step: Step) -> Self {
        let remedy_cautions = next::remedy_cautions(view, examined.fault, &step);
        let remedy = examined.fault.remedy_on(view);
        Self { examined: examined.clone(), certainty, step, remedy, remedy_cautions }
    }
}

/// A fault that explains the symptom but is out of the question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuledOut {
    /// Its name.
    pub fault: &'static str,
    /// What rules it out.
    pub because: observation::Seen,
}

/// What the program found on one port.
#[derive(Debug)]
pub struct PortDiagnosis {
    /// Name.
    pub name: String,
    /// Verdict.
    pub verdict: Verdict,
    /// The verdict in a sentence or two.
    pub headline: String,
    /// True for software interfaces, which are not judged.
    pub is_virtual: bool,
    /// Speed now.
    pub running: Fact<Mbps>,
    /// Lowest ceiling that is known.
    pub expected: Option<Mbps>,
    /// The part that sets the limit, if the link runs at one below the near port's best.
    pub limited_by: Option<PartKind>,
    /// Symptoms.
    pub symptoms: Vec<Symptom>,
    /// The parts.
    pub chain: Chain,
    /// The first part to look at, if something is wrong.
    pub look_at: Option<PartKind>,
    /// What the module's readings were held against.
    pub judged_by: Vec<JudgedBy>,
    /// Causes, best first.
    pub causes: Vec<Cause>,
    /// What to do where something is wrong and no cause is raised.
    pub next_step: Option<Step>,
    /// What was seen, and no cause that is raised accounts for, as clauses.
    pub unexplained: Vec<&'static str>,
    /// What was ruled out.
    pub ruled_out: Vec<RuledOut>,
    /// What is missing.
    pub missing: Vec<MissingFact>,
    /// The decoded module.
    pub module: Fact<Box<Module>>,
    /// What came of what the user says is wrong, if the user says something.
    pub heard: Option<Heard>,
    /// The light between the two ends, where both tell.
    pub paths: Vec<both_ends::Path>,
    /// The far end's capture, if one was used.
    pub far_capture: Option<FarCapture>,
    /// How good the link is, if it runs.
    pub numbers: Fact<Numbers>,
    /// A rate that the user measured.
    pub measured: Option<BitsPerSecond>,
}

/// The far end's capture that was used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FarCapture {
    /// Host.
    pub host: String,
    /// Port.
    pub port: String,
    /// When it was taken, if it tells.
    pub taken_at: Option<String>,
    /// True if nobody named it: it lies beside this port's, and the site file joins the two.
    pub joined_by_site_file: bool,
}

/// What the user brings beside the snapshot.
#[derive(Debug, Default, Clone, Copy)]
pub struct Knowledge<'a> {
    /// The site file.
    pub site: Option<&'a Site>,
    /// The far end's capture.
    pub far: Option<&'a Snapshot>,
    /// Port in that capture.
    pub far_port: Option<&'a str>,
    /// True if nobody named that capture: the site file joins the two.
    pub joined: bool,
    /// What the user says is wrong.
    pub told: Option<Told>,
    /// Data a second that the user measured over the link.
    pub measured: Option<BitsPerSecond>,
    /// True where the port comes from a capture, and cannot be looked at again.
    pub replayed: bool,
}

/// Diagnoses every port of the snapshot.
///
/// # Errors
/// The far end's capture does not hold the port that is needed.
pub fn diagnose<'a>(
    snapshot: &'a Snapshot,
    knowledge: Knowledge<'_>,
) -> Result<Diagnosis<'a>, String> {
    let mut ports = Vec::with_capacity(snapshot.ports.len());
    for port in &snapshot.ports {
        ports.push(diagnose_port(&snapshot.host, port, knowledge)?);
    }
    Ok(Diagnosis { snapshot, ports })
}

/// Diagnoses one port.
///
/// # Errors
/// The far end's capture does not hold the port that is needed.
pub fn diagnose_port(
    host: &Host,
    port: &Port,
    knowledge: Knowledge<'_>,
) -> Result<PortDiagnosis, String> {
    let site = knowledge.site.and_then(|site| site.port(&host.name, &port.names()));
    if !is_physical(port, site) {
        return Ok(PortDiagnosis { measured: knowledge.measured, ..not_judged(port) });
    }
    let (mut way_out, mut far_capture) = (None, None);
    let far = match knowledge.far {
        None => None,
        Some(far) => {
            let name = knowledge.far_port.or_else(|| site.and_then(|s| s.far.port.as_deref()));
            let there = far::far_port(far, name)?;
            way_out = Some(way_out::look(host, port, site, &far.host, there));
            far_capture = Some(FarCapture {
                host: far.host.name.clone(),
                port: there.name.clone(),
                taken_at: far.taken_at.known().cloned(),
                joined_by_site_file: knowledge.joined,
            });
            Some(FarEnd::from_port(&far.host.name, there))
        }
    };
    let mut untold = site.map(|_| View::new(host, port, None, far.clone()));
    if let Some(untold) = &mut untold {
        untold.told = knowledge.told;
        untold.way_out = way_out.clone().unwrap_or_default();
    }
    let mut view = View::new(host, port, site, far);
    view.told = knowledge.told;
    view.way_out = way_out.unwrap_or_else(|| way_out::from_site(&view));
    let mut found = judge(&view, untold.as_ref());
    found.far_capture = far_capture;
    found.measured = knowledge.measured;
    found.numbers = if found.symptoms == [Symptom::Lost] {
        Fact::missing_with(Reason::Malformed, "the adapter is lost: it reads all ones")
    } else {
        numbers::numbers(&view, knowledge.measured)
    };
    if let Some(told) = knowledge.told {
        told::listen(&view, &mut found, told, knowledge.replayed);
    }
    if knowledge.replayed {
        replayed::reword(&mut found);
    }
    Ok(found)
}

/// True if the port is to be judged: hardware, or declared physical in the site file.
fn is_physical(port: &Port, site: Option<&SitePort>) -> bool {
    site.and_then(|site| site.physical).unwrap_or_else(|| port.is_hardware())
}

/// A software interface: what it claims about speed is never taken for a fact.
fn not_judged(port: &Port) -> PortDiagnosis {
    let why = || Missing::from(Reason::NotApplicable);
    PortDiagnosis {
        name: port.name.clone(),
        verdict: Verdict::Idle,
        headline: words::virtual_headline(port),
        is_virtual: true,
        running: Fact::Missing(why()),
        expected: None,
        limited_by: None,
        symptoms: Vec::new(),
        chain: Chain { parts: Vec::new() },
        look_at: None,
        judged_by: Vec::new(),
        causes: Vec::new(),
        next_step: None,
        unexplained: Vec::new(),
        ruled_out: Vec::new(),
        missing: Vec::new(),
        module: Fact::Missing(why()),
        heard: None,
        paths: Vec::new(),
        far_capture: None,
        numbers: Fact::missing_with(Reason::NotApplicable, "software made this interface"),
        measured: None,
    }
}

/// Judges what is known; `untold` is the same without the site file's word, where there is one.
fn judge(view: &View<'_>, untold: Option<&View<'_>>) -> PortDiagnosis {
    let lowest = view.chain.lowest().map(|(kind, ceiling)| (kind, ceiling.speed));
    let mut found = PortDiagnosis {
        name: view.port.name.clone(),
        verdict: Verdict::Idle,
        headline: String::new(),
        is_virtual: false,
        running: view.running.clone(),
        expected: None,
        limited_by: None,
        symptoms: Vec::new(),
        chain: view.chain.clone(),
        look_at: None,
        judged_by: observations::judged_by(view),
        causes: Vec::new(),
        next_step: None,
        unexplained: Vec::new(),
        ruled_out: Vec::new(),
        missing: Vec::new(),
        module: view.module.as_ref().map(|module| Box::new(module.clone())),
        heard: None,
        paths: both_ends::paths(view),
        far_capture: None,
        numbers: Fact::missing(Reason::NotAsked),
        measured: None,
    };
    found.expected = lowest.map(|(_, speed)| speed);
    found.limited_by = limited_by(view, lowest);
    found.symptoms = symptoms::symptoms(view);
    let mut examined = weigh::examine_all(view, &found.symptoms);
    for one in examined.iter_mut().filter(|one| one.certainty == Some(Certainty::Established)) {
        let without = untold.map(|untold| weigh::examine(one.fault, untold).certainty);
        one.without_site_file = without.filter(|without| *without != one.certainty);
    }
    let (raised, rest): (Vec<Examined>, Vec<Examined>) =
        examined.into_iter().partition(|examined| examined.certainty.is_some());
    found.ruled_out = rest
        .iter()
        .filter_map(|examined| {
            let because = examined.ruled_out_by.clone()?;
            Some(RuledOut { fault: examined.fault.name, because })
        })
        .collect();
    let raised = way_out::merge(raised, view.way_out.raised.clone(), &found.symptoms);
    found.verdict = verdict::verdict(view, &found.symptoms, &raised, verdict::gaps_of(view));
    // An idle port raises nothing but what is certain to be so.
    let raised: Vec<Examined> = if found.verdict == Verdict::Idle {
        let told_unused = view.site.is_some_and(|site| site.in_use == Some(false));
        let wanted = view.sign_of_use().is_some() && !told_unused;
        raised.into_iter().filter(|_| wanted).take(1).collect()
    } else {
        raised
    };
    found.unexplained = unexplained(view, &raised, &found.symptoms);
    found.missing = missing_facts(view, &raised, &rest, &found);
    let lacking: Vec<String> = found.missing.iter().map(|missing| missing.fact.clone()).collect();
    found.headline = words::headline(view, found.verdict, &found.symptoms, &raised, &lacking);
    found.look_at = match found.verdict {
        Verdict::Idle | Verdict::Healthy => None,
        _ => raised.first().map(Examined::part).or(found.limited_by),
    };
    let here: Vec<Examined> =
        raised.iter().filter(|cause| cause.from_far.is_none()).cloned().collect();
    found.causes = raised
        .iter()
        .filter_map(|examined| {
            let certainty = examined.certainty?;
            let step = match &examined.from_far {
                None => next::step(view, examined, &here),
                Some(_) => next::step_there(view, examined),
            };
            Some(Cause::new(view, examined, certainty, step))
        })
        .collect();
    if found.causes.is_empty() && !matches!(found.verdict, Verdict::Healthy | Verdict::Idle) {
        found.next_step = Some(next::without_cause(view, &found.symptoms));
    }
    found
}

/// The part that sets the limit: the lowest ceiling, if the link runs at it (or, for the slot,
/// above it) and it is below what the near port could do.
fn limited_by(view: &View<'_>, lowest: Option<(PartKind, Mbps)>) -> Option<PartKind> {
    let running = *view.running.known()?;
    let best = *view.port_best().known()?;
    let (kind, speed) = lowest?;
    let reached = if kind == PartKind::Slot { running > speed } else { running == speed };
    (reached && speed < best && kind != PartKind::Port).then_some(kind)
}

/// What no raised cause accounts for. Only what is certain: that no light arrives where all causes
/// are of this end's transmitter, and heat.
fn unexplained(view: &View<'_>, raised: &[Examined], symptoms: &[Symptom]) -> Vec<&'static str> {
    let mut all = Vec::new();
    let here = || raised.iter().filter(|cause| cause.from_far.is_none());
    if here().next().is_some()
        && here().all(|cause| cause.fault.is_about_sending_alone())
        && view.is_dark() == Fact::Known(true)
    {
        all.push("no light arrives here, while what is told above is of what this end sends");
    }
    let explains_heat = |cause: &Examined| cause.fault.explains.contains(&Symptom::Heat);
    if !raised.is_empty() && symptoms.contains(&Symptom::Heat) && !raised.iter().any(explains_heat)
    {
        all.push("the module or the adapter is too hot");
    }
    all
}

/// Missing facts worth telling: what keeps the port from being judged, and what the leading
/// causes would need.
fn missing_facts(
    view: &View<'_>,
    raised: &[Examined],
    rest: &[Examined],
    found: &PortDiagnosis,
) -> Vec<MissingFact> {
    let mut facts: Vec<MissingFact> = Vec::new();
    let mut add = |fact: &str, why: &Missing, remedy: &str| {
        if !facts.iter().any(|known| known.fact == fact) {
            // Where the driver itself does not know, asking it again is no help.
            let hopeless = match why.reason {
                Reason::NotReported => remedy == observation::HOW_HOST,
                Reason::NotSupported => {
                    matches!(remedy, observation::HOW_HOST | observation::HOW_MODULE)
                }
                _ => false,
            };
            let failed = remedy == observation::HOW_MODULE
                && view.host.may_read_modules == Fact::Known(true)
                && matches!(why.reason, Reason::Gone | Reason::BusError | Reason::TimedOut);
            let remedy = if failed { observation::HOW_AGAIN } else { remedy };
            let remedy = if hopeless { observation::HOW_ELSEWHERE } else { remedy };
            facts.push(MissingFact {
                fact: fact.to_owned(),
                why: why.clone(),
                remedy: remedy.to_owned(),
            });
        }
    };
    if found.verdict == Verdict::Idle {
        return facts;
    }
    // Where nothing explains what was seen, what is not known is worth telling as well.
    let unknown = found.verdict == Verdict::Unknown
        || (found.verdict == Verdict::Attention && raised.is_empty());
    let unread = found.symptoms.contains(&Symptom::Module);
    for (what, why, remedy) in symptoms::lacking(view) {
        // Where the module cannot be read, what it does not tell is worth telling in any case.
        if unknown || (unread && remedy == observation::HOW_MODULE) {
            add(what, &why, remedy);
        }
    }
    // What caps a raised cause first, then what a fault that is not ruled out waits for.
    // What the far end's causes lack is for its own capture to tell.
    let here = || raised.iter().filter(|cause| cause.from_far.is_none());
    let capped = here().filter(|e| e.certainty == Some(Certainty::Possible));
    let unexplained = raised.iter().all(|cause| cause.fault.is_about_the_module_alone());
    let waiting = rest.iter().filter(|e| e.ruled_out_by.is_none() && unexplained);
    for examined in capped.chain(waiting) {
        for gap in examined.gaps.iter().filter(|gap| gap.vital) {
            add(gap.observation.fact, &gap.why, gap.how);
        }
    }
    // A likely cause that one more fact could settle, or sink, asks for it.
    for examined in here().filter(|e| e.certainty == Some(Certainty::Likely)) {
        for gap in examined.gaps.iter().filter(|gap| gap.swing >= 20) {
            add(gap.observation.fact, &gap.why, gap.how);
        }
    }
    facts
}
