//! Optics and 10G direct attach settle no speed: two ports that are set apart, or two modules of
//! different rates, see light and never lock. A port that is set to a rate its own module does not
//! have does the same.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The ends are at different speeds.
pub const FAULT: Fault = Fault {
    name: "speed-mismatch",
    title: "the ends are at different speeds",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The two ends, or this port and its module, are at different speeds. Light arrives, but its rate is not the one that is listened for.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::SPEEDS_APART,
            yes: 24,
            no: -60,
            vital: true,
            why: "the settings are the fact itself; a module may do a rate that it does not claim",
        },
        Row {
            sees: &see::FAR_SPEED_TOLD,
            yes: 12,
            no: 0,
            vital: false,
            why: "the far end's own word: two speeds never make a link",
        },
        Row {
            sees: &see::RATE_REFUSED,
            yes: 10,
            no: 0,
            vital: false,
            why: "the driver says that the rate does not fit, or that nobody answers at it",
        },
        Row {
            sees: &see::LIGHT_ARRIVES,
            yes: 2,
            no: -35,
            vital: false,
            why: "without light there is nothing that could be at another speed",
        },
        Row {
            sees: &see::LANES_SPLIT_APART,
            yes: -40,
            no: 0,
            vital: true,
            why: "another number of lanes makes another speed: that is the cause then",
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
            with: "fec-mismatch",
            decider: "are the speeds the same? Speeds first: FEC follows from the speed",
        },
        Confusion {
            with: "autoneg-mismatch",
            decider: "does the medium negotiate, and do both ends?",
        },
        Confusion {
            with: "rate-unsupported-by-port",
            decider: "does the port have a mode at the module's rate at all?",
        },
        Confusion {
            with: "breakout-mismatch",
            decider: "do the ends run the same number of lanes?",
        },
        Confusion { with: "remote-fault", decider: "are both ends set to the same speed?" },
    ],
    next_tests: &[NextTest {
        step: "Compare the speed that both ports are set to, and the rates of both modules",
        tells: "they differ: set both ends to one speed that both modules have; equal: look at FEC, then at the light",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "the same speed at both ends, and modules that have it",
    sources: &[
        "kernel networking documentation, link down reasons; kernel header enums",
        "IEEE 802.3 clauses 52 and 112: no speed is negotiated on optics",
        "common practice, no published source",
    ],
    sentence: |view| match (see::speeds_here(view), see::speeds_there(view)) {
        (Some(here), Some(there)) => format!("The speeds do not meet: {here} here, {there} there."),
        _ => "The ends are set to different speeds.".into(),
    },
};
