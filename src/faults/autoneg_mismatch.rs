//! Where a medium has a negotiation (twisted pair, 1000BASE-X, cables of 25 Gb/s and more) both ends
//! must use it, or neither. The end that negotiates waits for a partner that never answers.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// One end negotiates and the other does not.
pub const FAULT: Fault = Fault {
    name: "autoneg-mismatch",
    title: "one end negotiates and the other does not",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "One end negotiates and the other is set by hand. The end that negotiates waits for an answer and stays down; the other may even show a link.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::NEGOTIATION_DIFFERS,
            yes: 30,
            no: -60,
            vital: true,
            why: "both ends' own settings, on a medium where they must be alike",
        },
        Row {
            sees: &see::NO_PARTNER,
            yes: 12,
            no: 0,
            vital: false,
            why: "the driver says that nobody answers",
        },
        Row {
            sees: &see::NOTHING_PLUGGED,
            yes: -40,
            no: 0,
            vital: false,
            why: "without a cable nobody can answer",
        },
        Row {
            sees: &see::LIGHT_ARRIVES,
            yes: 2,
            no: -35,
            vital: false,
            why: "on fibre an end that hears nothing has another trouble first",
        },
        Row {
            sees: &see::FAR_SENDS_NOTHING,
            yes: -40,
            no: 0,
            vital: false,
            why: "a far port that is off agrees on nothing",
        },
    ],
    confused_with: &[
        Confusion { with: "speed-mismatch", decider: "does the medium negotiate at all?" },
        Confusion { with: "no-cable", decider: "does a module or cable identify itself?" },
        Confusion {
            with: "breakout-mismatch",
            decider: "do the ends run the same number of lanes?",
        },
        Confusion { with: "pair-fault", decider: "is an offer of the far end heard?" },
    ],
    next_tests: &[NextTest {
        step: "Compare the autonegotiation setting of both ends",
        tells: "they differ: both on (twisted pair), or both off with equal speed and FEC; alike: look at the cable",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "autonegotiation on at both ends, or off at both with equal speed and FEC",
    sources: &[
        "kernel networking documentation, link down reasons; kernel header enums",
        "IEEE 802.3 clauses 28, 37 and 73 (from memory)",
    ],
    sentence: |view| {
        use crate::snapshot::Fact;
        match (&view.port.ethernet.autonegotiation, &view.far.autonegotiation) {
            (Fact::Known(true), Fact::Known(false)) => {
                "This end negotiates and the far end does not: this end waits for an answer.".into()
            }
            (Fact::Known(false), Fact::Known(true)) => {
                "The far end negotiates and this end does not: the far end waits for an answer."
                    .into()
            }
            _ => "One end negotiates and the other does not.".into(),
        }
    },
};
