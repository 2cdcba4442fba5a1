//! A splitter cable makes several ports of one cage. If one end is split and the other runs all lanes
//! as one port, no lane finds its partner, although every laser and every wire is well.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The ends split the lanes differently.
pub const FAULT: Fault = Fault {
    name: "breakout-mismatch",
    title: "the ends split the lanes differently",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "One end runs all lanes of its cage as one port, the other end runs them one by one. The lane rate is the same, but the two never make one link.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::LANES_SPLIT_APART,
            yes: 26,
            no: -60,
            vital: true,
            why: "lanes and speed at both ends are the fact itself",
        },
        Row {
            sees: &see::BOTH_SPLITS_SET,
            yes: 10,
            no: 0,
            vital: false,
            why: "both ends tell what they are set to",
        },
        Row {
            sees: &see::SPLITTER_CABLE,
            yes: 14,
            no: -6,
            vital: false,
            why: "a cable with several far ends asks for a split port",
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
        Confusion {
            with: "speed-mismatch",
            decider: "is the rate of one lane the same at both ends?",
        },
        Confusion { with: "autoneg-mismatch", decider: "is the far port split as the cable is?" },
        Confusion {
            with: "port-split-configured",
            decider: "which end is split, and is the link up?",
        },
        Confusion {
            with: "rate-unsupported-by-port",
            decider: "do the ends run the same number of lanes?",
        },
    ],
    next_tests: &[NextTest {
        step: "Ask how the port at the wide end of the cable is split, and which leg goes to which sub-port",
        tells: "it is one port: split it, or use a cable with one far end; it is split: compare the map of legs",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "split the port at the wide end as the cable is, or run all lanes at both ends",
    sources: &["public issue threads", "SFF-8636 byte 113 (from memory)"],
    sentence: |view| {
        see::split_sentence(view).unwrap_or_else(|| {
            "The cable has several far ends, and the port at its wide end is not split.".into()
        })
    },
};
