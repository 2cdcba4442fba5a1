//! An empty socket: the driver sees no cable, or no module answers in the cage.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// Nothing is plugged in.
pub const FAULT: Fault = Fault {
    name: "no-cable",
    title: "nothing is plugged in",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "No cable or module is in this socket. The port is switched on and waits for one.",
    explains: &[Symptom::Down],
    consequence: Consequence::NotInUse,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::NOTHING_PLUGGED,
            yes: 35,
            no: -60,
            vital: true,
            why: "the driver, or the empty cage, says it outright",
        },
    ],
    confused_with: &[
        Confusion {
            with: "peer-tx-off",
            decider: "with a module in the cage, light or its absence decides",
        },
        Confusion {
            with: "module-partial-insertion",
            decider: "does the cage tell that a module is there?",
        },
        Confusion { with: "autoneg-mismatch", decider: "does a module or cable identify itself?" },
        Confusion { with: "pair-fault", decider: "is an offer of the far end heard?" },
    ],
    next_tests: &[NextTest {
        step: "Look at the socket: is anything plugged in, and did it click?",
        tells: "nothing there: plug it in or label the port as spare; something there: it is not \
 seated, or not seen",
        care: &[Caution::Static, Caution::LaserStarts],
    }],
    usual_fix: "plug it in, or label the port as spare",
    sources: &["kernel networking documentation, link down reasons; kernel header enums"],
    sentence: |_| "Nothing is plugged into this port.".into(),
};
