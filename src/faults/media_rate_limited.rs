//! The link is up at the rate of the cable or module, and both ports could do more. Nothing is
//! broken: the part in between is of a slower kind.

use crate::chain::PartKind;
use crate::diagnose::observation::Answer;
use crate::diagnose::observations as see;
use crate::diagnose::view::View;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The test to begin with: what the far port can do, if that is not known; if it can do no more,
/// whether the speed is meant; if it can, the faster part.
pub(super) fn first_test(view: &View<'_>) -> usize {
    match (see::FAR_COULD_DO_MORE.look)(view) {
        Answer::No(_) => 1,
        Answer::Yes(_) => 2,
        Answer::Unknown(_) | Answer::Moot => 0,
    }
}

/// True where the far port is known to do no more than the module either.
pub(super) fn is_not_alone(view: &View<'_>) -> bool {
    matches!((see::FAR_COULD_DO_MORE.look)(view), Answer::No(_))
}

/// The remedy where a faster module alone would gain nothing.
pub(super) const FIX_OF_BOTH: &str = "a faster far port, with modules or a cable for it, together; or \
 accept the speed in the site file (intended_mbps)";

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
    next_tests: &[
        NextTest {
            step: "Find out what the far port can do (--far FILE, or the site file)",
            tells: "it can do more: a faster module or cable is needed, at both ends; it can do no more: \
 that port limits the link just as much",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Decide whether this speed is meant; if it is, write it in the site file \
 (intended_mbps)",
            tells: "meant: the link is as it should be; not meant: the far port and the modules or the \
 cable are needed faster, together",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Try a module or cable of the wanted speed, the same at both ends",
            tells: "faster: it was this part; no faster: a port or a setting",
            care: &[Caution::Eyes, Caution::Static],
        },
    ],
    usual_fix: "a module or cable of the wanted speed, or accept the speed in the site file (intended_mbps)",
    sources: &["SFF-8472", "SFF-8024"],
    sentence: |view| {
        let too = match &view.far.name {
            Some(name) if is_not_alone(view) => format!(", and the far port ({name}) too"),
            None if is_not_alone(view) => ", and the far port too".to_owned(),
            _ => String::new(),
        };
        format!(
            "Runs at {}, the best this module or cable can do{too}; the port could do {}.",
            crate::diagnose::words::speed(&view.running),
            crate::diagnose::words::speed(&view.port_best())
        )
    },
};
