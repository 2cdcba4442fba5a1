//! The way out: what the far end's own capture tells of what this end sends.
//!
//! Damage is counted where it arrives. What this end's transmitter or the way out spoils is counted
//! at the far end alone, so the far port is looked at by the same observations and weighed by the
//! same tables, with the ends exchanged: its far end is this port. In: both ports. Out: what is
//! wrong there to the eye, and the causes, with the direction in words. Pure.

use crate::chain::far::{self, FarEnd};
use crate::diagnose::observation::{Answer, Observation, Seen};
use crate::diagnose::observations as see;
use crate::diagnose::symptoms;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{self, Examined};
use crate::diagnose::words;
use crate::faults::{Fault, Symptom};
use crate::site::SitePort;
use crate::snapshot::{Fact, Host, Port};

/// What the far end sees of this link.
#[derive(Debug, Clone, Default)]
pub struct WayOut {
    /// What is wrong there, each with a sentence.
    pub found: Vec<(Symptom, String)>,
    /// The causes that are raised there, best first.
    pub raised: Vec<Examined>,
}

/// What concerns the link, of what is wrong at the far end, and what this end calls it. How fast
/// that port is, and what its host loses, is that host's matter.
const CONCERNS: &[(Symptom, Symptom)] = &[
    (Symptom::Errors, Symptom::FarDamage),
    (Symptom::FewErrors, Symptom::FarFewErrors),
    (Symptom::Light, Symptom::FarLight),
    (Symptom::Heat, Symptom::FarModule),
    (Symptom::Module, Symptom::FarModule),
];

/// All that a symptom of the far end is called here.
pub const ALL: &[Symptom] =
    &[Symptom::FarDamage, Symptom::FarFewErrors, Symptom::FarLight, Symptom::FarModule];

/// Looks from the far end. Nothing is told of a link that is down at either end: what is dark or
/// still there is told by the causes of a link that is down.
pub fn look(
    host: &Host,
    port: &Port,
    site: Option<&SitePort>,
    far_host: &Host,
    far_port: &Port,
) -> WayOut {
    let up = |port: &Port| port.carrier == Fact::Known(true) && port.admin_up != Fact::Known(false);
    if !up(port) || !up(far_port) {
        return WayOut::default();
    }
    // The run is the same from both ends; readings and movement are this end's.
    let run = site.map(|site| SitePort {
        name: far_port.name.clone(),
        medium: site.medium.clone(),
        length_m: site.length_m,
        connectors: site.connectors,
        strands: site.strands,
        splices: site.splices,
        ..SitePort::default()
    });
    let near = FarEnd::from_port(&host.name, port);
    let there = View::new(far_host, far_port, run.as_ref(), Some(near));
    let name = format!("{} on {}", far_port.name, far_host.name);

    let mut seen = symptoms::symptoms(&there);
    // An adapter's own heat, and a module that its host cannot read, are not this link's.
    seen.retain(|symptom| match symptom {
        Symptom::Heat => matches!((see::HOT.look)(&there), Answer::Yes(_)),
        Symptom::Module => symptoms::outside_its_limits(&there),
        other => CONCERNS.iter().any(|(there, _)| there == other),
    });
    let mut found: Vec<(Symptom, String)> = Vec::new();
    for (symptom, here) in CONCERNS.iter().filter(|(there, _)| seen.contains(there)) {
        let sentence = sentence(&there, *symptom, &name);
        if !found.iter().any(|(_, told)| *told == sentence) {
            found.push((*here, sentence));
        }
    }
    let raised = weigh::examine_all(&there, &seen)
        .into_iter()
        .filter(|examined| examined.certainty.is_some())
        .map(|examined| from_there(examined, &there, &name))
        .collect();
    WayOut { found, raised }
}

/// The same where only the site file tells what arrives there: it is held against the published
/// window of this module's type, if the far module is not of another one.
pub fn from_site(view: &View<'_>) -> WayOut {
    let reading = || {
        let power = *view.far.rx_power.known().filter(|power| !far::is_dark(**power))?;
        let row = view.window()?;
        let other = view.far.module_type.known().is_some_and(|name| name != row.interface);
        if other || view.port.carrier != Fact::Known(true) {
            return None;
        }
        let dbm = power.dbm()?;
        let limit = match (row.rx_least, row.rx_most) {
            (Some(least), _) if dbm < least => format!("at least {least}"),
            (_, Some(most)) if dbm > most => format!("at most {most}"),
            _ => return None,
        };
        Some(format!(
            "What this end sends does not arrive at the far end within its limits: {power}, by the \
             site file; {limit} ({}).",
            row.cite()
        ))
    };
    let found = reading().map(|sentence| (Symptom::FarLight, sentence));
    WayOut { found: found.into_iter().collect(), raised: Vec::new() }
}

/// What is seen, its value and its limit.
fn told(seen: &Seen) -> String {
    let limit = seen.limit.as_ref().map(|limit| format!(", limit {limit}")).unwrap_or_default();
    format!("{} ({}{limit})", seen.text, seen.observed)
}

fn sentence(there: &View<'_>, symptom: Symptom, name: &str) -> String {
    let yes = |look: fn(&View<'_>) -> Answer| match look(there) {
        Answer::Yes(seen) => Some(told(&seen)),
        _ => None,
    };
    let first = |looks: &[fn(&View<'_>) -> Answer]| {
        looks.iter().find_map(|look| yes(*look)).unwrap_or_else(|| "something is wrong".into())
    };
    let light = || match [see::RX_LOW.look, see::RX_HIGH.look].into_iter().find_map(yes) {
        Some(light) => format!(" Seen there: {light}."),
        None => match there.rx_power() {
            Fact::Known(_) => format!(" It receives {}.", there.rx_power_text()),
            Fact::Missing(_) => String::new(),
        },
    };
    match symptom {
        Symptom::Errors if yes(see::ERRORS_RISING.look).is_none() => format!(
            "The far end ({name}) counts late collisions: one end sends without listening, and that \
             is not damage made on the way."
        ),
        Symptom::Errors => format!(
            "The far end ({name}) counts damage on what this end sends: {}. It is made on the way \
             out, or in this transmitter.{}",
            first(&[see::ERRORS_RISING.look]),
            light()
        ),
        Symptom::FewErrors => format!(
            "The far end ({name}) counts a little damage on what this end sends, no more than the \
             standard allows: {}.",
            first(&[see::ERRORS_RISING.look])
        ),
        Symptom::Light => format!(
            "What this end sends does not arrive at the far end ({name}) within its limits: {}.",
            first(&[see::RX_LOW.look, see::RX_HIGH.look])
        ),
        Symptom::Heat => {
            format!("The far module ({name}) is hot: {}.", first(&[see::HOT.look]))
        }
        _ => {
            let looks: [(&Observation, &str); 4] = [
                (&see::TRANSMITTER_WEAK, "it sends less than its limit"),
                (&see::BIAS_HIGH, "its laser takes more current than its limit"),
                (&see::SUPPLY_LOW, "its supply is under its limit"),
                (&see::FAULT_SIGNALLED, "it signals a transmitter fault"),
            ];
            let mut all = looks.into_iter().filter_map(|(one, words)| match (one.look)(there) {
                Answer::Yes(seen) => Some(told(&Seen { text: words.into(), ..seen })),
                _ => None,
            });
            let first = all.next().unwrap_or_else(|| "something is wrong".into());
            format!("The far module ({name}) is outside its limits: {first}.")
        }
    }
}

/// Whether the fault is one of what happens to light or frames on their way.
fn is_on_the_way(fault: &Fault) -> bool {
    fault.part == crate::chain::PartKind::Medium
}

/// The same cause, told from this end.
fn from_there(mut examined: Examined, there: &View<'_>, name: &str) -> Examined {
    for row in examined.evidence.iter_mut().chain(&mut examined.against) {
        row.seen.text = format!("seen from the far end, {}", row.seen.text);
    }
    // "This port" there is the far one.
    let sentence =
        words::lowered(&(examined.fault.sentence)(there).replace("in this port", "there"));
    examined.from_far = Some(if is_on_the_way(examined.fault) {
        format!("On the way out, as seen from the far end ({name}): {sentence}")
    } else {
        format!("At the far end ({name}): {sentence}")
    });
    examined
}

/// Puts what is raised at the far end among what is raised here, best first. A fault that both ends
/// raise is told from the end that is surer of it.
pub fn merge(near: Vec<Examined>, far: Vec<Examined>, found: &[Symptom]) -> Vec<Examined> {
    if far.is_empty() {
        return near;
    }
    let mut all = near;
    for one in far {
        match all.iter_mut().find(|other| other.fault.name == one.fault.name) {
            Some(same) if same.certainty >= one.certainty => {}
            Some(same) => *same = one,
            None => all.push(one),
        }
    }
    weigh::sort(&mut all, found);
    all
}
