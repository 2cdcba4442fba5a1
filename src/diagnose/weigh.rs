//! Adds evidence up: the one place where a fault's table becomes a certainty.
//!
//! Weights are decibans (ten times the decimal logarithm of the odds): rows that are so add
//! their `yes`, rows that are not so their `no`, unknown rows add nothing but are remembered.
//! +20 or more (a hundred to one) is *established*, +10 or more (ten to one) *likely*, 0 or more
//! *possible*, less is not raised. An unknown vital row caps the fault at *possible*. A fault that
//! is established only by what a module says, where that is doubted, is *likely*.

use serde::Serialize;

use crate::chain::PartKind;
use crate::diagnose::observation::{Answer, HOW_ASK, HOW_FAINT, Observation, Seen};
use crate::diagnose::observations::{RX_LOW, Swing};
use crate::diagnose::view::View;
use crate::faults::{CATALOGUE, Consequence, Fault, Status, Symptom};
use crate::module::{Doubt, Module};
use crate::quantity::Decibans;
use crate::snapshot::{Fact, Missing};

/// How sure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Certainty {
    /// Even odds or a little more.
    Possible,
    /// Ten to one.
    Likely,
    /// A hundred to one.
    Established,
}

impl Certainty {
    /// In a word.
    pub fn text(self) -> &'static str {
        match self {
            Self::Established => "established",
            Self::Likely => "likely",
            Self::Possible => "possible",
        }
    }

    /// What a sum of weights comes to by itself.
    pub fn of(weight: Decibans) -> Option<Self> {
        match weight {
            weight if weight < POSSIBLE => None,
            weight if weight >= ESTABLISHED => Some(Self::Established),
            weight if weight >= LIKELY => Some(Self::Likely),
            _ => Some(Self::Possible),
        }
    }
}

/// From here a fault is established.
pub const ESTABLISHED: Decibans = Decibans(20);
/// From here a fault is likely.
pub const LIKELY: Decibans = Decibans(10);
/// From here a fault is possible.
pub const POSSIBLE: Decibans = Decibans(0);
/// A single row that says this much against a fault rules it out.
const RULES_OUT: i32 = -20;

/// A row that was so or was not so, with what it weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// What was seen.
    pub seen: Seen,
    /// What it added.
    pub weight: Decibans,
}

/// A fact that a fault asked for and nobody has.
#[derive(Debug, Clone)]
pub struct Gap {
    /// The observation that needs it.
    pub observation: &'static Observation,
    /// Why it is not known.
    pub why: Missing,
    /// How to get it.
    pub how: &'static str,
    /// What the fault would gain and lose by it.
    pub swing: i32,
    /// True if the fault is capped without it.
    pub vital: bool,
}

/// One fault, weighed on one port.
#[derive(Debug, Clone)]
pub struct Examined {
    /// The fault.
    pub fault: &'static Fault,
    /// The part to look at, as the end calls it that raised the fault.
    pub seat: PartKind,
    /// Sum of the weights.
    pub weight: Decibans,
    /// How sure; `None` where it is not raised.
    pub certainty: Option<Certainty>,
    /// What speaks for it, heaviest first.
    pub evidence: Vec<Weighed>,
    /// What speaks against it, heaviest first.
    pub against: Vec<Weighed>,
    /// What is not known.
    pub gaps: Vec<Gap>,
    /// Why the module's word was not enough to establish it, where it would have been.
    pub doubts: Vec<Doubt>,
    /// The row that rules it out, if one does.
    pub ruled_out_by: Option<Seen>,
    /// Of a fault that is established: what it would come to without the site file's word, where
    /// that is less; the inner `None` is not raised.
    pub without_site_file: Option<Option<Certainty>>,
    /// Its sentence with the direction in words, where the far end raised it and not this one.
    pub from_far: Option<String>,
}

impl Examined {
    /// The part to look at, as this end calls it.
    pub fn part(&self) -> PartKind {
        match (self.from_far.is_some(), self.seat) {
            (true, PartKind::Module) => PartKind::FarModule,
            (true, PartKind::Port | PartKind::Slot) => PartKind::FarPort,
            (true, PartKind::FarModule) => PartKind::Module,
            (true, PartKind::FarPort) => PartKind::Port,
            (_, part) => part,
        }
    }

    /// Its title, with the end it is seen from.
    pub fn title(&self) -> String {
        let from = if self.from_far.is_some() { ", as seen from the far end" } else { "" };
        format!("{}{from}", self.fault.title)
    }
}

/// Weighs one fault.
pub fn examine(fault: &'static Fault, view: &View<'_>) -> Examined {
    let mut examined = Examined {
        fault,
        seat: fault.part_on(view),
        weight: Decibans(fault.before),
        certainty: None,
        evidence: Vec::new(),
        against: Vec::new(),
        gaps: Vec::new(),
        doubts: Vec::new(),
        ruled_out_by: None,
        without_site_file: None,
        from_far: None,
    };
    for row in fault.signature {
        let (seen, points) = match (row.sees.look)(view) {
            Answer::Yes(seen) => (seen, row.yes),
            Answer::No(seen) => (seen, row.no),
            Answer::Moot => continue,
            Answer::Unknown(why) => {
                examined.gaps.push(Gap {
                    observation: row.sees,
                    how: how_to_get(row.sees, view, &why),
                    why,
                    swing: row.yes.saturating_sub(row.no),
                    vital: row.vital,
                });
                continue;
            }
        };
        let weight = Decibans(points);
        examined.weight = examined.weight + weight;
        if points <= RULES_OUT && examined.ruled_out_by.is_none() {
            examined.ruled_out_by = Some(seen.clone());
        }
        match points {
            1.. => examined.evidence.push(Weighed { seen, weight }),
            0 => {}
            _ => examined.against.push(Weighed { seen, weight }),
        }
    }
    examined.evidence.sort_by_key(|weighed| std::cmp::Reverse(weighed.weight));
    examined.against.sort_by_key(|weighed| weighed.weight);
    let capped = fault.status == Status::Draft || examined.gaps.iter().any(|gap| gap.vital);
    examined.certainty = match examined.weight {
        _ if matches!(fault.status, Status::Retired { .. }) => None,
        // Something must speak for it, not only common odds.
        _ if examined.evidence.is_empty() => None,
        weight if capped => Certainty::of(weight).map(|_| Certainty::Possible),
        weight => Certainty::of(weight),
    };
    if examined.certainty == Some(Certainty::Established)
        && let Fact::Known(module) = &view.module
    {
        let (beyond_doubt, doubts) = without_doubted(module, examined.weight, &examined.evidence);
        if beyond_doubt < ESTABLISHED {
            examined.certainty = Some(Certainty::Likely);
            examined.doubts = doubts;
        }
    }
    examined
}

/// How to get a fact that is missing: not by reading again what one reading cannot settle.
fn how_to_get(sees: &Observation, view: &View<'_>, why: &Missing) -> &'static str {
    if view.is_too_faint(why) {
        HOW_FAINT
    } else if sees.fact == RX_LOW.fact && Swing::of_jump(view.port).is_some() {
        HOW_ASK
    } else {
        sees.how
    }
}

/// What the weight would be without the evidence that rests on a doubted part of the module's
/// word, and the doubts.
fn without_doubted(module: &Module, all: Decibans, evidence: &[Weighed]) -> (Decibans, Vec<Doubt>) {
    let (mut left, mut doubts) = (all, Vec::<Doubt>::new());
    for row in evidence {
        let mut found = row.seen.rests_on.iter().filter_map(|word| module.doubt_of(*word));
        if let Some(doubt) = found.next() {
            left = Decibans(left.0.saturating_sub(row.weight.0));
            if !doubts.contains(doubt) {
                doubts.push(doubt.clone());
            }
        }
    }
    (left, doubts)
}

/// Weighs every fault that explains one of the symptoms, best first. Ties keep the catalogue's
/// order, which is the order of reasoning.
pub fn examine_all(view: &View<'_>, symptoms: &[Symptom]) -> Vec<Examined> {
    let mut all: Vec<Examined> = CATALOGUE
        .iter()
        .filter(|fault| fault.explains.iter().any(|symptom| symptoms.contains(symptom)))
        .map(|fault| examine(fault, view))
        .collect();
    sort(&mut all, symptoms);
    all
}

/// Best first.
pub fn sort(all: &mut [Examined], symptoms: &[Symptom]) {
    // What something broken explains of what was seen.
    let is_likely = |examined: &Examined| examined.certainty >= Some(Certainty::Likely);
    let broken: Vec<Symptom> = all
        .iter()
        .filter(|one| is_likely(one) && one.fault.consequence != Consequence::Limit)
        .flat_map(|one| one.fault.explains.iter().copied())
        .filter(|symptom| symptoms.contains(symptom))
        .collect();
    let down = symptoms.contains(&Symptom::Down);
    all.sort_by_key(|examined| {
        // A link that is down is explained before anything else that is odd.
        let beside = down && !examined.fault.explains.contains(&Symptom::Down);
        // What is lost is told behind a deeper cause that is at least likely, not behind a guess.
        let names_no_cause = examined.fault.consequence == Consequence::Degraded;
        let leads = examined.certainty >= Some(Certainty::Likely) && !names_no_cause;
        // Of two that are at least likely, what is broken comes before what only sets a limit, if it
        // explains something that the limit does not; the slot breaks no link.
        let explains_all = broken.iter().all(|symptom| examined.fault.explains.contains(symptom));
        let only_limits = leads
            && ((examined.fault.consequence == Consequence::Limit && !explains_all)
                || examined.fault.explains == [Symptom::SlotBelowLink]);
        let by_sureness = std::cmp::Reverse((examined.certainty, examined.weight));
        (examined.certainty.is_none(), beside, !leads, only_limits, by_sureness)
    });
}
