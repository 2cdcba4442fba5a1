//! The module's own protection has found its laser unsafe or broken and shut it down. The kernel
//! tries to clear it a few times and then gives up, with a line in the log.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The transmitter has shut itself down.
pub const FAULT: Fault = Fault {
    name: "tx-fault-latched",
    title: "the transmitter has shut itself down",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module reports a transmitter fault and sends no light. Its own protection has \
 switched the laser off.",
    explains: &[Symptom::Down, Symptom::Light],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::TX_FAULT,
            yes: 22,
            no: -60,
            vital: true,
            why: "the module says so itself",
        },
        Row {
            sees: &see::SENDS_NOTHING,
            yes: 10,
            no: -30,
            vital: false,
            why: "a fault that leaves the light on is a misused signal, not a dead laser",
        },
        Row {
            sees: &see::LOG_TX_FAULT,
            yes: 12,
            no: 0,
            vital: false,
            why: "the kernel tried to clear it and gave up",
        },
        Row {
            sees: &see::LANE_TX_FAULT,
            yes: -18,
            no: 0,
            vital: false,
            why: "a fault of one lane among others is that lane's, not the whole transmitter's",
        },
    ],
    confused_with: &[
        Confusion { with: "tx-disabled", decider: "which bit is set: disable or fault" },
        Confusion {
            with: "module-rejected-by-driver",
            decider: "does the module report a fault, or does the driver refuse it?",
        },
        Confusion {
            with: "module-low-power",
            decider: "does the module report a fault, or low power?",
        },
        Confusion {
            with: "tx-fault-signal-misuse",
            decider: "does any light leave the transmitter?",
        },
    ],
    next_tests: &[NextTest {
        step: "Take the module out, wait ten seconds, put it back once, and read it again",
        tells: "fault gone: watch it; fault returns: try the module in another cage, then replace it",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "replace the module if the fault returns",
    sources: &["kernel source, SFP cage and PHY link code", "SFF-8472"],
    sentence: see::tx_fault_sentence,
};
