//! 25GBASE-SR, 100GBASE-SR4 and the longer cable classes are specified for raw bit errors that only
//! FEC takes away. Without it the link comes up and damages frames in both directions.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The medium needs FEC and runs without.
pub const FAULT: Fault = Fault {
    name: "fec-missing-for-medium",
    title: "the medium needs FEC and runs without",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The link runs without the FEC that its medium is specified with. Such a medium makes bit errors by design, and nothing repairs them.",
    explains: &[Symptom::Errors, Symptom::FewErrors, Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::FEC_WEAK,
            yes: 4,
            no: -60,
            vital: true,
            why: "FEC that is at work cannot be missing",
        },
        Row {
            sees: &see::MEDIUM_NEEDS_MORE_FEC,
            yes: 22,
            no: -60,
            vital: true,
            why: "the interface type or cable class is specified with FEC",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 6,
            no: 0,
            vital: false,
            why: "what FEC would repair is what is counted",
        },
        Row {
            sees: &see::RX_LOW,
            yes: -8,
            no: 0,
            vital: false,
            why: "too little light damages frames as well",
        },
    ],
    confused_with: &[
        Confusion {
            with: "excess-loss",
            decider: "is the light inside its limits? Switch FEC on first: it costs nothing",
        },
        Confusion {
            with: "mmf-reach-exceeded",
            decider: "is FEC at work? Judge the reach with FEC on",
        },
        Confusion { with: "fec-mismatch", decider: "is the link up?" },
        Confusion { with: "dac-intermittent", decider: "do the errors stop with FEC on?" },
    ],
    next_tests: &[NextTest {
        step: "Compare the FEC code at work at both ends with what the medium needs, and let both use it (together: the link drops if they differ)",
        tells: "the errors stop: it was the missing FEC; they stay: look at light, length and cable",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "the FEC that the medium needs, at both ends",
    sources: &[
        "module-maker note on 25G cable FEC classes, 2020",
        "IEEE 802.3 clauses 91, 108 and 110",
        "SFP28 short-reach data sheets: raw error rate 5e-5",
    ],
    sentence: see::fec_sentence,
};
