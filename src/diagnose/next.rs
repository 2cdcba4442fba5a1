//! The next test: what would best part the leading causes, cheapest and safest first.
//!
//! Reading a missing fact costs a minute and no risk, so a gap whose answer would move the
//! leaders apart comes first; the leader's own physical step follows.

use crate::diagnose::observation::Answer;
use crate::diagnose::observations;
use crate::diagnose::view::View;
use crate::diagnose::weigh::Examined;
use crate::faults::{Caution, Fault, Symptom};

/// A step to take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub text: String,
    /// What its outcome would tell.
    pub tells: String,
    /// Cautions, in full.
    pub cautions: Vec<&'static str>,
}

/// The step for one cause among the leaders.
pub fn step(cause: &Examined, leaders: &[Examined]) -> Step {
    // How far apart an answer could push this cause and the others.
    let best = cause
        .gaps
        .iter()
        .filter(|gap| gap.vital || leaders.len() > 1)
        .max_by_key(|gap| (gap.vital, gap.swing));
    if let Some(gap) = best
        && gap.swing > 0
        && gap.vital
    {
        let how = gap.observation.how;
        return Step {
            text: format!("Find out: {} ({how})", gap.observation.fact),
            tells: format!("it decides whether {}", gap.observation.statement),
            cautions: Vec::new(),
        };
    }
    physical(cause.fault)
}

/// The step where something is wrong and no fault of the catalogue fits: what parts the ends of
/// the link and its parts from one another. Common practice, no published source.
pub fn without_cause(view: &View<'_>, symptoms: &[Symptom]) -> Step {
    let (text, tells, touches) = if symptoms.contains(&Symptom::Down) {
        (
            "Ask whether the far port is switched on and what it receives (--far FILE), then look \
             whether both plugs are home",
            "a far end that is off explains it; one that is on and hears nothing points to the way \
             there",
            true,
        )
    } else if symptoms.contains(&Symptom::Errors) {
        (
            "Take the far end's capture too (--far FILE) and see whether it counts errors; then \
             change one thing at one end, the patch cord first, and look again",
            "errors counted here are made on the way to here; if they stop, what was changed was \
             at fault, if they stay, go on to the next part",
            true,
        )
    } else if symptoms.contains(&Symptom::FewErrors) {
        (
            "Look again for longer: --seconds 60",
            "no more of them: it was chance, or is over; more of them: the link damages frames, \
             and the verdict will say so",
            false,
        )
    } else if symptoms.contains(&Symptom::Slow) {
        (
            "Find out what the far port can do and what it is set to (--far FILE)",
            "a far port that \
          can do no more is the limit; one that can is set lower, or does not agree",
            false,
        )
    } else if symptoms.contains(&Symptom::Flaps) {
        (
            "Look again with --seconds 60, while idle and while busy, and ask the far end what it \
             counts and logs at the same moments",
            "losses at both ends at once are the link's or a restart's; under load, with movement, or \
             with warmth each points to another part",
            false,
        )
    } else if symptoms.contains(&Symptom::Drops) {
        (
            "Look at this host, not at the link: how busy its processors are, and whether what it \
             sends to or takes from can keep up",
            "losses that go with load are the host's or its neighbour's, and no cable cures them",
            false,
        )
    } else if symptoms.contains(&Symptom::NotOperational) {
        (
            "Ask who runs the far port whether it wants authentication, and look at this host's \
             client for it",
            "a port that is let in becomes operational by itself",
            false,
        )
    } else {
        (
            "Get what is listed as not known, and look again with --seconds 60",
            "with those facts the link can be judged",
            false,
        )
    };
    // Whatever is not known to be twisted pair may carry light.
    let may_be_fibre = !matches!((observations::TWISTED_PAIR.look)(view), Answer::Yes(_));
    let care: &[Caution] =
        if touches && may_be_fibre { &[Caution::Eyes, Caution::Static] } else { &[] };
    Step {
        text: text.to_owned(),
        tells: tells.to_owned(),
        cautions: care.iter().copied().filter_map(Caution::text).collect(),
    }
}

fn physical(fault: &Fault) -> Step {
    match fault.next_tests.first() {
        Some(test) => Step {
            text: test.step.to_owned(),
            tells: test.tells.to_owned(),
            cautions: test.care.iter().copied().filter_map(Caution::text).collect(),
        },
        None => {
            Step { text: fault.usual_fix.to_owned(), tells: String::new(), cautions: Vec::new() }
        }
    }
}
