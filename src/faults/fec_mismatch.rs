//! A receiver with RS-FEC looks for codeword markers, one without for plain blocks. Set
//! differently, both see light and neither links. On optics no negotiation settles it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The two ends use different FEC.
pub const FAULT: Fault = Fault {
    name: "fec-mismatch",
    title: "the two ends use different FEC",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The two ends are set to different FEC codes. Light arrives, but neither can lock on to \
 the other's blocks.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::FEC_MATTERS,
            yes: 0,
            no: -30,
            vital: false,
            why: "below 25 Gb/s there is no FEC to agree on",
        },
        Row { sees: &see::FEC_DIFFERS, yes: 28, no: -60, vital: true, why: "both ends' own word" },
        Row {
            sees: &see::FEC_NOT_LOCKED,
            yes: 14,
            no: -5,
            vital: false,
            why: "the driver says that FEC does not lock",
        },
        Row {
            sees: &see::FEC_MISMATCH_NAMED,
            yes: 8,
            no: 0,
            vital: false,
            why: "not only that it does not lock, but why",
        },
        Row {
            sees: &see::LIGHT_ARRIVES,
            yes: 4,
            no: -35,
            vital: false,
            why: "without light there is nothing to lock on to",
        },
        Row {
            sees: &see::SPEEDS_APART,
            yes: -40,
            no: 0,
            vital: false,
            why: "at different speeds the FEC codes differ by themselves",
        },
        Row {
            sees: &see::LANE_SETS_DIFFER,
            yes: -30,
            no: 0,
            vital: false,
            why: "types that do not hear each other come with FEC codes of their own",
        },
    ],
    confused_with: &[
        Confusion { with: "remote-fault", decider: "are both ends set to the same FEC?" },
        Confusion { with: "speed-mismatch", decider: "are the speeds the same? Speeds first" },
        Confusion { with: "fec-missing-for-medium", decider: "is the link up?" },
        Confusion { with: "lane-fault", decider: "are the powers of all lanes alike?" },
    ],
    next_tests: &[NextTest {
        step: "Compare the FEC settings of both ends, and what the medium asks for",
        tells: "they differ: set both to the code the medium needs; equal: look at speed, then lane by \
 lane",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "the same FEC at both ends, as the medium requires",
    sources: &[
        "kernel networking documentation, link down reasons; kernel header enums",
        "module-maker note on 25G cable FEC classes, 2020",
    ],
    sentence: |view| match (&view.port.ethernet.fec_active, &view.far.fec) {
        (crate::snapshot::Fact::Known(near), crate::snapshot::Fact::Known(far)) => format!(
            "The ends use different FEC: {} here, {} there.",
            crate::standards::names::fec_code(near),
            crate::standards::names::fec_code(far)
        ),
        _ => "FEC does not lock: the ends are probably set to different codes.".into(),
    },
};
