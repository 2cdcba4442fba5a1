//! The link is up at the rate of the cable or module, and both ports could do more. Nothing is
//! broken: the part in between is of a slower kind.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module or cable sets the speed.
pub const FAULT: Fault = Fault {
    name: "media-rate-limited",
    title: "the module or cable sets the speed",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The link runs as fast as its module or cable can. The port could do more with a faster \
 one.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::AT_MODULE_CEILING,
            yes: 34,
            no: -60,
            vital: true,
            why: "the module's own rate equals the speed",
        },
        Row {
            sees: &see::FAR_COULD_DO_MORE,
            yes: 4,
            no: -8,
            vital: false,
            why: "a far port of the same speed limits it just as much",
        },
    ],
    confused_with: &[
        Confusion {
            with: "module-rate-select-low",
            decider: "does the module name a higher rate, and has it a rate select?",
        },
        Confusion { with: "peer-port-limited", decider: "can the far port do more?" },
        Confusion { with: "rate-unsupported-by-port", decider: "is the link up?" },
        Confusion { with: "advert-limited-host", decider: "do the lists include the higher mode?" },
        Confusion { with: "peer-forced-speed", decider: "can the modules at both ends do more?" },
        Confusion {
            with: "port-split-configured",
            decider: "does the module have more lanes than this interface uses?",
        },
    ],
    next_tests: &[NextTest {
        step: "Read the label of the module or cable",
        tells: "its rate is the speed that runs: a faster part is needed on both ends, if the far port \
 can use it",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "a module or cable of the wanted speed, or accept the speed in the site file",
    sources: &["SFF-8472", "SFF-8024"],
    sentence: |view| {
        format!(
            "Runs at {}, the best this module or cable can do; the port could do {}.",
            crate::diagnose::words::speed(&view.running),
            crate::diagnose::words::speed(&view.port_best())
        )
    },
};
