//! Some modules raise the transmitter fault signal although nothing is wrong: those with a processor
//! of their own use it while they start. Bias and power are ordinary then; a real fault switches the
//! laser off (SFF-8472 A2h byte 110 bit 2).

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A transmitter fault is signalled, and the transmitter works.
pub const FAULT: Fault = Fault {
    name: "tx-fault-signal-misuse",
    title: "the fault signal is raised without a fault",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module signals a transmitter fault, but its laser current and the power it sends are \
 ordinary. Hosts keep such a port down although its transmitter works.",
    explains: &[Symptom::Down, Symptom::Flaps, Symptom::Module],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::FAULT_SIGNALLED,
            yes: 14,
            no: -60,
            vital: true,
            why: "the module signals a fault",
        },
        Row {
            sees: &see::SENDS_LIGHT,
            yes: 10,
            no: -60,
            vital: true,
            why: "a real fault switches the laser off",
        },
        Row {
            sees: &see::BIAS_ORDINARY,
            yes: 4,
            no: -20,
            vital: false,
            why: "an ordinary current is no laser in distress",
        },
        Row {
            sees: &see::LINK_UP,
            yes: -9,
            no: 0,
            vital: false,
            why: "a host that keeps the link up passes over the signal: nothing to mend in haste",
        },
        Row {
            sees: &see::LOG_TX_FAULT,
            yes: 2,
            no: 0,
            vital: false,
            why: "the kernel gave up on the signal, which keeps the port down",
        },
    ],
    confused_with: &[Confusion {
        with: "tx-fault-latched",
        decider: "does any light leave the transmitter?",
    }],
    next_tests: &[
        NextTest {
            step: "Wait two minutes, as a module with a processor of its own needs to start, and read it again",
            tells: "fault gone: it was starting; it stays while light leaves: the signal is misused",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Try the module in another cage",
            tells: "the signal follows the module: the module; it stays: the cage",
            care: &[Caution::Eyes, Caution::Static],
        },
    ],
    usual_fix: "a driver that ignores this module's signal, or another module",
    sources: &["kernel source, SFP cage code", "SFF-8472 A2h byte 110", "public issue threads"],
    sentence: |_| {
        "The module signals a transmitter fault, although its laser runs and light leaves it."
            .into()
    },
};
