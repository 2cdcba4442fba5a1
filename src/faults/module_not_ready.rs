//! A module that never came up: still powering up, a fault of its own, or no data path activated. It
//! sends nothing and hears nothing, whatever fibre and far end do. Low power has an entry of its own.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module is not ready.
pub const FAULT: Fault = Fault {
    name: "module-not-ready",
    title: "the module is not ready",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module says that it is not ready, so the link cannot come up. Either it is still \
 coming up, or it failed while it did, or the host activates no data path of it.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::MODULE_NOT_READY,
            yes: 32,
            no: -60,
            vital: true,
            why: "the module says so itself, and that explains a link down by itself",
        },
        Row {
            sees: &see::READINGS_NOT_READY,
            yes: 20,
            no: -60,
            vital: false,
            why: "a module that is still coming up says so; some forget to clear the bit",
        },
        Row {
            sees: &see::LOW_POWER,
            yes: -60,
            no: 0,
            vital: false,
            why: "low power is the more exact word, and has an entry of its own",
        },
    ],
    confused_with: &[
        Confusion {
            with: "tx-disabled",
            decider: "is the module ready, with its transmitter off, or not ready at all?",
        },
        Confusion {
            with: "module-low-power",
            decider: "is it low power that the module reports, or a fault or start that never ends?",
        },
    ],
    next_tests: &[NextTest {
        step: "Look at the module first: read its state again after a minute, then compare its \
 power class with what this cage may give, switch the port off and on again in the host's \
 configuration, and at last take the module out and put it back",
        tells: "ready: it was only coming up; low power again: the host does not let it go on \
 (driver, power class); fault, or the same in another cage: the module",
        care: &[Caution::Eyes, Caution::Heat, Caution::Static],
    }],
    usual_fix: "a cage that may give the power, a driver that wakes the module, or another module",
    sources: &[
        "CMIS module and data path states (from memory)",
        "kernel networking documentation, link down reasons",
    ],
    sentence: |view| {
        let module = view.module.known();
        match module.and_then(|module| module.state.known()) {
            Some(state) if state != "ready" => {
                format!("The module says that it is not ready: {state}.")
            }
            Some(_) => "The module is ready, but no data path of it is activated.".into(),
            None => "The module says that its readings are not ready: it never came up.".into(),
        }
    },
};
