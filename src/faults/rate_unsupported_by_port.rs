//! A port can run a module only at a rate that is among its own modes. A 25G-only module in a 10G
//! port lights up and never links.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The port has no mode at the module's rate.
pub const FAULT: Fault = Fault {
    name: "rate-unsupported-by-port",
    title: "the port has no mode at the module's rate",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The module's rate is not among the modes of this port. The two can never agree, \
 whatever the far end does.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::MODULE_RATE_FOREIGN,
            yes: 32,
            no: -60,
            vital: true,
            why: "the two lists are the fact itself",
        },
        Row {
            sees: &see::NO_COMMON_MODE,
            yes: 6,
            no: 0,
            vital: false,
            why: "the driver says the same",
        },
    ],
    confused_with: &[
        Confusion { with: "media-rate-limited", decider: "is the link up, at the module's rate?" },
        Confusion {
            with: "module-rejected-by-driver",
            decider: "is it the kind of module that is refused, or its rate?",
        },
        Confusion { with: "module-miscoded", decider: "is the module's rate what its label says?" },
        Confusion {
            with: "speed-mismatch",
            decider: "does the port have a mode at the module's rate?",
        },
        Confusion {
            with: "breakout-mismatch",
            decider: "do the ends run the same number of lanes?",
        },
    ],
    next_tests: &[NextTest {
        step: "Compare the label of the module with what the port is specified for",
        tells: "they differ: move the module to a port of its rate, or take a module of this port's \
 rate",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "the right rate of module, the right port, or a dual-rate module",
    sources: &["kernel source, SFP cage and PHY link code"],
    sentence: |view| {
        format!(
            "This port has no mode at the module's rate ({}).",
            view.module
                .known()
                .and_then(|module| module.top_speed.known().copied())
                .map_or_else(|| "unknown".to_owned(), |speed| speed.to_string())
        )
    },
};
