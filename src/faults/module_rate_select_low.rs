//! A module with two rates has a switch, a pin or a bit, that sets its receiver (and often its
//! transmitter) to the lower one. The host sets it with the speed of the port, so it may follow from a
//! port that is set low on purpose: with both ports able to do more it is *likely*, not more.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module is held at its lower rate.
pub const FAULT: Fault = Fault {
    name: "module-rate-select-low",
    title: "the module is held at its lower rate",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module has two rates and is set to the lower one, while the ports could do more. Usually the \
 port is set to the lower speed and has told the module so.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::RATE_SELECT_LOW,
            yes: 16,
            no: -60,
            vital: true,
            why: "the module's own rate select; a port that is set low sets it too",
        },
        Row {
            sees: &see::NEAR_COULD_DO_MORE,
            yes: 0,
            no: -60,
            vital: false,
            why: "a slower part at this end would explain the speed",
        },
        Row {
            sees: &see::FAR_COULD_DO_MORE,
            yes: 8,
            no: -60,
            vital: true,
            why: "where the far port can do no more, the low rate is right",
        },
    ],
    confused_with: &[
        Confusion {
            with: "media-rate-limited",
            decider: "does the module name a higher rate, and has it a rate select?",
        },
        Confusion { with: "peer-port-limited", decider: "can the far port do more?" },
    ],
    next_tests: &[NextTest {
        step: "Look at what speed the ports of both ends are set to",
        tells: "set to the lower speed: raise both together, and the module follows; set to the higher: the driver does not work the rate select, try a module without one",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "set the port of each end to the higher speed",
    sources: &["SFF-8472", "common practice, no published source"],
    sentence: |view| {
        use crate::diagnose::words::speed;
        format!(
            "Runs at {} with a module that has a higher rate and is set to its lower one; this port could do {}.",
            speed(&view.running),
            speed(&view.port_best())
        )
    },
};
