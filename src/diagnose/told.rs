//! What the user says is wrong: it narrows the causes, and says which one fact would help most.
//!
//! A word is not an observation: what was not seen is asked for, and what only explains the word
//! is never more than *possible*. Nothing is asked interactively.

use serde::Serialize;

use crate::diagnose::next;
use crate::diagnose::observation::HOW_HOST;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{self, Certainty, Examined};
use crate::diagnose::{Cause, MissingFact, PortDiagnosis};
use crate::faults::{Fault, Symptom};
use crate::snapshot::Reason;

/// What the user says of the link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Told {
    /// Slower than it should be.
    Slow,
    /// No link.
    Down,
    /// Loses frames.
    Drops,
    /// Comes and goes.
    Flaps,
}

impl Told {
    /// In a sentence that begins "You say that".
    pub fn text(self) -> &'static str {
        match self {
            Self::Slow => "it is slow",
            Self::Down => "it is down",
            Self::Drops => "it loses frames",
            Self::Flaps => "it comes and goes",
        }
    }

    /// What is seen of a link that is like this.
    pub fn covers(self) -> &'static [Symptom] {
        use Symptom as S;
        match self {
            // Loss slows a transfer down as well, and so does a host that does not keep up.
            Self::Slow => &[S::Slow, S::SlotBelowLink, S::Errors, S::Drops, S::FarDamage],
            Self::Down => &[S::Down, S::SwitchedOff, S::NotOperational, S::Lost],
            Self::Drops => {
                &[S::Errors, S::FewErrors, S::Drops, S::Light, S::FarDamage, S::FarLight]
            }
            Self::Flaps => &[S::Flaps, S::Light, S::Heat, S::LightMoved],
        }
    }

    /// What the word itself says; the rest of what it covers only makes a link like this.
    fn is(self) -> &'static [Symptom] {
        use Symptom as S;
        match self {
            Self::Slow => &[S::Slow],
            Self::Down => &[S::Down, S::SwitchedOff],
            Self::Drops => &[S::Errors, S::FewErrors, S::Drops, S::FarDamage],
            Self::Flaps => &[S::Flaps],
        }
    }

    fn is_explained_by(self, fault: &Fault) -> bool {
        fault.explains.iter().any(|symptom| self.covers().contains(symptom))
    }
}

/// What came of the user's word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// The word.
    pub told: Told,
    /// True if it was seen itself.
    pub seen: bool,
    /// What was seen that makes a link like this, where it was not seen itself, in words.
    pub related: Vec<&'static str>,
    /// True where it cannot be looked at again: what was seen is a capture.
    pub replayed: bool,
    /// The one fact that would help most, if one is missing.
    pub ask: Option<MissingFact>,
}

/// Puts what explains the user's word first, adds what could explain it although it was not seen,
/// and finds the one fact that would help most.
pub fn listen(view: &View<'_>, found: &mut PortDiagnosis, told: Told, replayed: bool) {
    let is_found = |symptom: &&Symptom| found.symptoms.contains(symptom);
    let seen = told.is().iter().any(|symptom| is_found(&symptom));
    let mut related: Vec<&str> =
        told.covers().iter().filter(is_found).map(|symptom| words(*symptom)).collect();
    related.dedup();
    related.truncate(if seen { 0 } else { related.len() });
    let explaining = crate::faults::CATALOGUE.iter().filter(|fault| told.is_explained_by(fault));
    let examined: Vec<Examined> = explaining
        .map(|fault| weigh::examine(fault, view))
        .filter(|e| e.ruled_out_by.is_none())
        .collect();
    let ask = question(&examined, found);
    let mut added: Vec<&Examined> = examined
        .iter()
        .filter(|one| !found.symptoms.iter().any(|seen| one.fault.explains.contains(seen)))
        .filter(|one| one.certainty.is_some())
        .filter(|one| !found.causes.iter().any(|told| told.examined.fault.name == one.fault.name))
        .collect();
    added.sort_by_key(|one| std::cmp::Reverse(one.weight));
    for one in added {
        let step = next::step(view, one, &examined);
        found.causes.push(Cause::new(view, one, Certainty::Possible, step));
    }
    // The order among those that explain it, and among the others, stays.
    found.causes.sort_by_key(|cause| !told.is_explained_by(cause.examined.fault));
    found.heard = Some(Heard { told, seen, related, replayed, ask });
}

/// A symptom that makes a link as it is told to be, in a few words.
fn words(symptom: Symptom) -> &'static str {
    use Symptom as S;
    match symptom {
        S::SlotBelowLink => "the slot carries less than the link",
        S::Errors | S::FewErrors => "damaged frames",
        S::Drops => "whole frames lost or held back",
        S::FarDamage => "damage that the far end counts",
        S::NotOperational => "a port that is not let into operation",
        S::Lost => "an adapter that does not answer",
        S::Light | S::FarLight => "light outside its limits",
        S::LightMoved => "light that moves",
        S::Heat => "heat",
        _ => "what stands above",
    }
}

/// The fact whose answer would move the causes in question most, all together: those that are raised
/// for what the user says, or where none is, those that an answer could make likely. None where one
/// is established: what it asks for is its next step.
fn question(explaining: &[Examined], found: &PortDiagnosis) -> Option<MissingFact> {
    let raised = |one: &Examined| {
        found.causes.iter().find(|cause| cause.examined.fault.name == one.fault.name)
    };
    let certainty = explaining.iter().filter_map(raised).map(|cause| cause.certainty).max();
    if certainty == Some(Certainty::Established) {
        return None;
    }
    // What this host can never tell is not asked for, and who needs it stays open for ever.
    let hopeless = |gap: &weigh::Gap| {
        use Reason::{NotApplicable, NotImplemented, NotPresent, NotReported, NotSupported};
        matches!(gap.why.reason, NotApplicable | NotImplemented | NotPresent | NotSupported)
            || (gap.why.reason == NotReported && gap.how == HOW_HOST)
    };
    let could_be = |one: &&Examined| {
        let for_ever = one.gaps.iter().any(|gap| gap.vital && hopeless(gap));
        let gained = one.gaps.iter().map(|gap| yes(one, gap).max(0)).sum::<i32>();
        match certainty {
            Some(_) => raised(one).is_some(),
            None => !for_ever && one.weight.0.saturating_add(gained) >= weigh::LIKELY.0,
        }
    };
    let examined: Vec<&Examined> = explaining.iter().filter(could_be).collect();
    let mut best: Option<(i32, MissingFact)> = None;
    for gap in examined.iter().flat_map(|one| &one.gaps).filter(|gap| !hopeless(gap)) {
        let same = examined.iter().flat_map(|one| &one.gaps);
        let swing: i32 = same
            .filter(|other| other.observation.fact == gap.observation.fact)
            .map(|other| other.swing)
            .sum();
        if best.as_ref().is_none_or(|(most, _)| swing > *most) {
            let fact = MissingFact {
                fact: gap.observation.fact.to_owned(),
                why: gap.why.clone(),
                remedy: gap.how.to_owned(),
            };
            best = Some((swing, fact));
        }
    }
    best.map(|(_, fact)| fact)
}

/// What a yes would add to the fault, decibans.
fn yes(one: &Examined, gap: &weigh::Gap) -> i32 {
    let mut rows = one.fault.signature.iter();
    rows.find(|row| row.sees.name == gap.observation.name).map_or(0, |row| row.yes)
}
