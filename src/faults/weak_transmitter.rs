//! A transmitter sends, but less than its type must. What arrives at the other end is low then although
//! the way between loses no more than it may: far receive less own transmit parts the two.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A transmitter sends too little.
pub const FAULT: Fault = Fault {
    name: "weak-transmitter",
    title: "a transmitter is weak",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "A module sends light, but less than its own limit or its interface type's least. The other end \
 gets too little although nothing is lost on the way.",
    explains: &[Symptom::Module, Symptom::Light, Symptom::Errors],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::TRANSMITTER_WEAK,
            yes: 18,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::TRANSMITTER_FAR_TOO_WEAK,
            yes: 6,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::ITS_WAY_IS_ORDINARY,
            yes: 8,
            no: -15,
            vital: false,
            why: "with an ordinary way, what arrives is low because little is sent",
        },
        Row {
            sees: &see::BIAS_HIGH,
            yes: 3,
            no: 0,
            vital: false,
            why: "a laser that needs much current is worn",
        },
        Row {
            sees: &see::LANE_APART,
            yes: -8,
            no: 0,
            vital: false,
            why: "one weak lane among good ones is that lane's",
        },
    ],
    confused_with: &[
        Confusion {
            with: "dirty-connector",
            decider: "far receive less own transmit: is it more than the way may lose?",
        },
        Confusion { with: "excess-loss", decider: "is little sent, or is it lost on the way?" },
        Confusion { with: "laser-ageing", decider: "does the output still hold?" },
        Confusion { with: "lane-fault", decider: "are all lanes weak, or one?" },
        Confusion {
            with: "intermittent-contact",
            decider: "is the output of the transmitter steady?",
        },
    ],
    next_tests: &[NextTest {
        step: "Measure what leaves the module with a power meter, through a clean test cord",
        tells: "low there: the module; ordinary: its reading, or dirt at its connector",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "replace the module that sends too little",
    sources: &["IEEE 802.3 launch powers of each type", "common practice, no published source"],
    sentence: see::weak_sentence,
};
