//! A module with several lanes shows one lane apart from its siblings: in light, in bias, or in what
//! FEC counts on it. One strand of an array connector, one laser or one receiver is the reason; the
//! whole port may be down for it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// One lane of several is at fault.
pub const FAULT: Fault = Fault {
    name: "lane-fault",
    title: "one lane stands apart from its siblings",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "One lane of the link is far worse than the lanes beside it: its strand, its place in the array \
 connector, its laser, or its receiver. The whole port needs every lane.",
    explains: &[Symptom::Light, Symptom::Module, Symptom::Errors, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::LANE_APART,
            yes: 18,
            no: -60,
            vital: true,
            why: "what is common to all lanes is out of the question",
        },
        Row {
            sees: &see::LANE_DARK,
            yes: 10,
            no: 0,
            vital: false,
            why: "no light is beyond what a reading can be wrong by",
        },
        Row {
            sees: &see::LANE_TX_FAULT,
            yes: 10,
            no: 0,
            vital: false,
            why: "the module itself says which lane it is",
        },
        Row {
            sees: &see::LANE_SETS_DIFFER,
            yes: -30,
            no: 0,
            vital: false,
            why: "filters for other wavelengths keep lanes out that are well",
        },
        Row {
            sees: &see::RX_FAR_TOO_LOW,
            yes: 8,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::FEC_LANE_APART,
            yes: 6,
            no: 0,
            vital: false,
            why: "the damage is on one lane as well",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 6,
            no: 0,
            vital: false,
            why: "damage that is being counted confirms it",
        },
        Row {
            sees: &see::CORRECTING,
            yes: 6,
            no: 0,
            vital: false,
            why: "bits that FEC has to repair are what one bad lane gives first",
        },
        Row {
            sees: &see::FAR_RUNS_FEWER_LANES,
            yes: -20,
            no: 0,
            vital: false,
            why: "a lane that the far end does not run may well be dark",
        },
        Row {
            sees: &see::FAR_LANE_SWITCHED_OFF,
            yes: -50,
            no: 4,
            vital: false,
            why: "a lane that the far end has switched off is not at fault",
        },
    ],
    confused_with: &[
        Confusion { with: "excess-loss", decider: "are all lanes low, or one?" },
        Confusion { with: "peer-tx-off", decider: "has the far end switched that lane off?" },
        Confusion { with: "weak-transmitter", decider: "is one lane weak, or all?" },
        Confusion { with: "fec-mismatch", decider: "are the powers of all lanes alike?" },
    ],
    next_tests: &[NextTest {
        step: "Clean and inspect the array connectors, and read the lanes again; then swap the trunk, then the module at one end, then at the other, one at a time, and see whether the lane follows",
        tells: "well once it is clean: it was dirt; it follows the trunk: a strand or its array connector; it follows a module: the laser of the one that sends the lane, or the receiver of the one that hears it",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "clean or replace the array connector, the cable, or the module that the lane follows",
    sources: &[
        "kernel FEC statistics by lane (IEEE 802.3 30.5.1.1.17 and .18)",
        "common practice, no published source",
    ],
    sentence: see::lane_sentence,
};
