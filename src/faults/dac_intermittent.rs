//! A direct-attach cable has no light and seldom any readings: a poor contact or a broken wire in it
//! shows as carrier that comes and goes, often with movement.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The copper cable has an intermittent contact.
pub const FAULT: Fault = Fault {
    name: "dac-intermittent",
    title: "the copper cable has an intermittent contact",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The link is on a copper cable with its ends, and carrier comes and goes. A poor contact in the cage or a damaged cable is the usual reason.",
    explains: &[Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::COPPER_CABLE,
            yes: 6,
            no: -60,
            vital: true,
            why: "on fibre or twisted pair it is another part",
        },
        Row {
            sees: &see::GOES_DOWN,
            yes: 8,
            no: -60,
            vital: true,
            why: "a steady link has no intermittent contact",
        },
        Row {
            sees: &see::GOES_DOWN_OFTEN,
            yes: 8,
            no: 0,
            vital: false,
            why: "once may be the far end that was restarted",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 4,
            no: 0,
            vital: false,
            why: "a poor contact damages frames as well",
        },
        Row {
            sees: &see::FAR_SENDS_NOTHING,
            yes: -30,
            no: 0,
            vital: false,
            why: "a far port that is switched off takes carrier away",
        },
    ],
    confused_with: &[Confusion {
        with: "fec-missing-for-medium",
        decider: "do the errors stop with FEC on?",
    }],
    next_tests: &[NextTest {
        step: "Press both ends of the cable home until they latch, then watch the link while moving it gently near its ends",
        tells: "it drops as the cable moves: the cable or the cage; it never does: swap the cable with one of a link that is well",
        care: &[Caution::Static],
    }],
    usual_fix: "replace the cable",
    sources: &["common practice, no published source"],
    sentence: |view| {
        let times = crate::diagnose::symptoms::went_down(view).map_or(0, |change| change.by);
        format!(
            "The link goes down again and again ({times} while being watched) on a copper cable: a poor \
             contact, or the cable itself."
        )
    },
};
