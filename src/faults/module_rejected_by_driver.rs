//! A driver that accepts only certain kinds or makes of module says so in a log line, or as its reason
//! for the link that is down, and leaves the transmitter off. Light from the far end still arrives.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The driver refuses this kind of module.
pub const FAULT: Fault = Fault {
    name: "module-rejected-by-driver",
    title: "the driver refuses this kind of module",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The adapter's driver does not accept this kind or make of module, and keeps it off. The module may be \
 perfectly well in another host.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::TYPE_REFUSED,
            yes: 28,
            no: -18,
            vital: true,
            why: "the driver says so itself; a line in the log may be of an earlier module",
        },
        Row {
            sees: &see::SENDS_NOTHING,
            yes: 6,
            no: -16,
            vital: false,
            why: "a refused module is kept dark; one that sends was only warned of",
        },
        Row {
            sees: &see::TX_DISABLED,
            yes: 4,
            no: 0,
            vital: false,
            why: "it is how a refused module is kept dark",
        },
    ],
    confused_with: &[
        Confusion {
            with: "tx-disabled",
            decider: "who switched the transmitter off: does the log say that the driver refuses the module?",
        },
        Confusion {
            with: "tx-fault-latched",
            decider: "does the module report a fault, or does the driver refuse it?",
        },
        Confusion {
            with: "rate-unsupported-by-port",
            decider: "is it the kind of module that is refused, or its rate?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Read the whole log line, and look in the maker's documents which modules this adapter accepts",
            tells: "not listed: this module is not for this adapter, or its owner has to allow it",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Try a module that the adapter accepts",
            tells: "link: it was the module; no link: look at the fibre and the far end",
            care: &[Caution::Eyes, Caution::Static],
        },
    ],
    usual_fix: "a module that the adapter accepts, or the driver's setting that allows others, where its owner wants that",
    sources: &["public issue threads", "kernel networking documentation, link down reasons"],
    sentence: |_| "The driver refuses this kind of module, and keeps it off.".into(),
};
