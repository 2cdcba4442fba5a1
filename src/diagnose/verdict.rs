//! From symptoms, causes and gaps to one of five verdicts.

use serde::Serialize;

use crate::chain::PartKind;
use crate::diagnose::Told;
use crate::diagnose::symptoms;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{Certainty, Examined};
use crate::faults::{Consequence, Symptom};
use crate::snapshot::Fact;

/// The verdict on a port. *Healthy* is earned: see [`symptoms::lacking`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Not in use, or made by software: not judged.
    Idle,
    /// Runs as well as its parts allow, and that could be seen.
    Healthy,
    /// Could not tell.
    Unknown,
    /// Works, but a part sets a limit or runs near one.
    Attention,
    /// Something is broken or set wrong.
    Fault,
}

impl Verdict {
    /// Plain English.
    pub fn text(self) -> &'static str {
        match self {
            Self::Idle => "not judged",
            Self::Healthy => "healthy",
            Self::Unknown => "could not tell",
            Self::Attention => "attention",
            Self::Fault => "fault",
        }
    }
}

/// The verdict on a physical port.
pub fn verdict(view: &View<'_>, found: &[Symptom], causes: &[Examined], gaps: usize) -> Verdict {
    let told_unused = view.site.is_some_and(|site| site.in_use == Some(false));
    let told_used = view.told == Some(Told::Down)
        || view.site.is_some_and(|site| {
            site.in_use == Some(true) || (site.in_use.is_none() && site.intended_mbps.is_some())
        });
    if found.contains(&Symptom::SwitchedOff) {
        return if told_used { Verdict::Fault } else { Verdict::Idle };
    }
    if found.contains(&Symptom::Down) && (told_unused || view.sign_of_use().is_none()) {
        return Verdict::Idle;
    }
    let broken = [Symptom::Down, Symptom::Errors, Symptom::FarDamage]
        .iter()
        .any(|symptom| found.contains(symptom));
    let suffers = broken || found.contains(&Symptom::Flaps) || found.contains(&Symptom::Light);
    // A cause of nothing but light that moved within its limits, or of a far module that does its
    // work, is for looking at: the link is not broken yet.
    let suffers_there = found.contains(&Symptom::FarDamage) || found.contains(&Symptom::FarLight);
    let not_yet = |cause: &Examined| match cause.from_far {
        Some(_) => !suffers_there,
        None => {
            let explained = |symptom: &&Symptom| found.contains(symptom);
            let mut explained = cause.fault.explains.iter().filter(explained).peekable();
            explained.peek().is_some() && explained.all(|one| *one == Symptom::LightMoved)
        }
    };
    let down = found.contains(&Symptom::Down);
    // The worst that is at least likely decides; what does not explain that the link is down makes
    // it no better; what explains only that a module cannot be read
    // is no reason for a link that is broken.
    let weighty = causes
        .iter()
        .filter(|cause| cause.certainty >= Some(Certainty::Likely))
        .filter(|cause| !(broken && cause.fault.is_about_the_module_alone()))
        .filter(|cause| !down || cause.fault.explains.contains(&Symptom::Down))
        .map(|cause| match cause.fault.consequence {
            Consequence::Fault if not_yet(cause) => Verdict::Attention,
            Consequence::NotInUse if told_used => Verdict::Fault,
            // A socket that held a link before, or has a far end, is missing something.
            Consequence::NotInUse => Verdict::Attention,
            Consequence::Limit => Verdict::Attention,
            Consequence::FaultIfItSuffers if !suffers => Verdict::Attention,
            Consequence::FaultIfItSuffers => Verdict::Fault,
            Consequence::Fault | Consequence::Degraded => Verdict::Fault,
        })
        .max();
    // A link that is down or damages frames is faulty even where the cause is not known.
    if broken {
        return weighty.map_or(Verdict::Fault, |verdict| verdict.max(Verdict::Attention));
    }
    if let Some(verdict) = weighty {
        return verdict;
    }
    let by_itself = |symptom: &Symptom| {
        use Symptom::{Drops, FewErrors, Flaps, Heat, Light, Lost, Module, NotOperational};
        use Symptom::{FarFewErrors, FarLight, FarModule, LightMoved};
        matches!(symptom, Light | Heat | Flaps | Drops | Module | Lost | NotOperational | FewErrors)
            || matches!(symptom, FarFewErrors | FarLight | FarModule | LightMoved)
            || *symptom == Symptom::SlotBelowLink
    };
    let noted = found.iter().any(by_itself).then_some(Verdict::Attention);
    let slow = found.contains(&Symptom::Slow).then(|| match view.ceiling(PartKind::FarPort) {
        // Below everything known: a shortfall, if the far port's ceiling is among what is known.
        Fact::Known(_) => Verdict::Fault,
        Fact::Missing(_) => Verdict::Unknown,
    });
    // Something more that is wrong never makes it better.
    if let Some(worst) = noted.max(slow) {
        return worst;
    }
    if gaps > 0 { Verdict::Unknown } else { Verdict::Healthy }
}

/// True if what the port lacks keeps it from being called healthy.
pub fn gaps_of(view: &View<'_>) -> usize {
    symptoms::lacking(view).len()
}
