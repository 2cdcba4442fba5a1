//! The next test: what would best part the leading causes, cheapest and safest first.
//!
//! Reading a missing fact costs a minute and no risk, so a gap whose answer would move the
//! leaders apart comes first; the leader's own physical step follows.

use crate::diagnose::weigh::Examined;
use crate::faults::{Caution, Fault};

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
