//! A copper module in a cage has a watt or three for what a jack does with more: the usual kind drives
//! 10GBASE-T over 30 m, not 100 m. Below 10 Gb/s it reaches as far as a jack.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The run is too long for this copper module.
pub const FAULT: Fault = Fault {
    name: "rj45-sfp-reach",
    title: "the run is too long for this copper module",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The copper module in this cage drives 10 Gb/s over a short run only, and this run is longer. A port \
 with its own jack would carry it.",
    explains: &[Symptom::Down, Symptom::Errors, Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::COPPER_MODULE),
        Row {
            sees: &see::BEYOND_COPPER_MODULE_REACH,
            yes: 24,
            no: -60,
            vital: true,
            why: "length against what the module drives",
        },
        Row {
            sees: &see::HOT,
            yes: -10,
            no: 2,
            vital: false,
            why: "a hot module fails at any length",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 5,
            no: 0,
            vital: false,
            why: "damage that is being counted confirms it",
        },
    ],
    confused_with: &[Confusion { with: "rj45-sfp-thermal", decider: "is the module hot?" }],
    next_tests: &[NextTest {
        step: "Run the link over a short good cord to the same far port",
        tells: "it runs clean: the length; it does not: the module, its heat, or the far port",
        care: &[Caution::Heat],
    }],
    usual_fix: "a shorter run, a port with its own jack, fibre, or a lower speed",
    sources: &[
        "module data sheet: 10GBASE-T for SFP+ cages, 30 m",
        "SFF-8024 table 4-4, from memory",
    ],
    sentence: |view| {
        let length = view.site.and_then(|site| site.length_m).map(crate::quantity::Metres);
        match length {
            Some(length) => {
                format!("The run of {length} is longer than this copper module drives at 10 Gb/s.")
            }
            None => "The run may be longer than this copper module drives at 10 Gb/s.".into(),
        }
    },
};
