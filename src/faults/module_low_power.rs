//! Modules of the paged kinds wait in low power until the host lets them out of it; meanwhile they send
//! nothing, whatever fibre and far end do. CMIS tells it as a state; SFF-8636 only where the host set the
//! bit: the level of the pin stands nowhere.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module is in low power.
pub const FAULT: Fault = Fault {
    name: "module-low-power",
    title: "the module is kept in low power",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module is in its low-power mode, in which its lasers are off. The host, or the cage's pin, never \
 let it out of it.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::LOW_POWER,
            yes: 30,
            no: -60,
            vital: true,
            why: "the module says so itself, and that explains a link down by itself",
        },
        Row {
            sees: &see::LASERS_UNPOWERED,
            yes: 12,
            no: -30,
            vital: false,
            why: "in low power no laser is driven",
        },
        Row {
            sees: &see::TX_DISABLED,
            yes: -16,
            no: 0,
            vital: false,
            why: "a transmitter that is switched off drives no laser either",
        },
        Row {
            sees: &see::TX_FAULT,
            yes: -16,
            no: 0,
            vital: false,
            why: "a fault switches the lasers off by itself",
        },
        Row {
            sees: &see::POWER_REFUSED,
            yes: -28,
            no: 0,
            vital: false,
            why: "then it stays in low power because the cage may not give more",
        },
        Row {
            sees: &see::LOG_POWER,
            yes: -28,
            no: 0,
            vital: false,
            why: "the same, as the kernel tells it",
        },
    ],
    confused_with: &[
        Confusion {
            with: "tx-fault-latched",
            decider: "does the module report a fault, or low power?",
        },
        Confusion {
            with: "tx-disabled",
            decider: "are the disable bits set, or is the module in low power?",
        },
        Confusion {
            with: "module-not-ready",
            decider: "is it low power that the module reports, or a fault or start that never ends?",
        },
        Confusion {
            with: "power-budget-exceeded",
            decider: "does the host hold it in low power, or may the cage not give its class?",
        },
    ],
    next_tests: &[NextTest {
        step: "Look at the module first: read its state again after a minute, then switch the port off and on again \
 in the host's configuration",
        tells: "ready: it was only coming up; low power again: the driver does not let it go on, or its power class is more than the cage gives",
        care: &[Caution::Eyes, Caution::Heat, Caution::Static],
    }],
    usual_fix: "take the module out of low power; a driver that does so",
    sources: &["CMIS module and data path states (from memory)", "SFF-8636"],
    sentence: |_| "The module is not ready: low power, and nobody has let it out of it.".into(),
};
