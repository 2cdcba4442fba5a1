//! What the user says is wrong: it narrows the causes, and says which one fact would help most.
//!
//! A word is not an observation: what was not seen is asked for, and what only explains the word
//! is never more than *possible*. Nothing is asked interactively.

use serde::Serialize;

use crate::diagnose::next;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{self, Certainty, Examined};
use crate::diagnose::{Cause, MissingFact, PortDiagnosis};
use crate::faults::{Fault, Symptom};
use crate::snapshot::{Missing, Reason};

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

    fn is_explained_by(self, fault: &Fault) -> bool {
        fault.explains.iter().any(|symptom| self.covers().contains(symptom))
    }
}

/// What came of the user's word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// The word.
    pub told: Told,
    /// True if something like it was seen.
    pub seen: bool,
    /// The one fact that would help most, if one is missing.
    pub ask: Option<MissingFact>,
}

/// Puts what explains the user's word first, adds what could explain it although it was not seen,
/// and finds the one fact that would help most.
pub fn listen(view: &View<'_>, found: &mut PortDiagnosis, told: Told) {
    let seen = told.covers().iter().any(|symptom| found.symptoms.contains(symptom));
    let explaining = crate::faults::CATALOGUE.iter().filter(|fault| told.is_explained_by(fault));
    let examined: Vec<Examined> = explaining
        .map(|fault| weigh::examine(fault, view))
        .filter(|e| e.ruled_out_by.is_none())
        .collect();
    let ask = question(&examined);
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
    found.heard = Some(Heard { told, seen, ask });
}

/// The fact whose answer would move the causes in question most, all together.
fn question(examined: &[Examined]) -> Option<MissingFact> {
    let mut best: Option<(i32, MissingFact)> = None;
    // What this host can never tell is not asked for.
    let hopeless = |why: &Missing| {
        use Reason::{NotApplicable, NotImplemented, NotPresent, NotSupported};
        matches!(why.reason, NotApplicable | NotImplemented | NotPresent | NotSupported)
    };
    for gap in examined.iter().flat_map(|one| &one.gaps).filter(|gap| !hopeless(&gap.why)) {
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
