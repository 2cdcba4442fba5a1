//! A module of a higher power class than its cage may feed is kept without power for its lasers. The
//! driver may say so; else the module tells that it was never allowed its class, and drives no laser.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module needs more power than the cage gives.
pub const FAULT: Fault = Fault {
    name: "power-budget-exceeded",
    title: "the module needs more power than the cage gives",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module is of a higher power class than this cage may give, or than the host has allowed it. Its \
 lasers stay off until it is.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::POWER_WITHHELD,
            yes: 18,
            no: -60,
            vital: true,
            why: "without its class allowed a module keeps its lasers off; some do not ask; the question does \
 not arise where the driver or the kernel says outright that this is why",
        },
        Row {
            sees: &see::POWER_REFUSED,
            yes: 32,
            no: 0,
            vital: false,
            why: "the driver says that this is why",
        },
        Row {
            sees: &see::LOG_POWER,
            yes: 32,
            no: 0,
            vital: false,
            why: "the kernel says that this is why",
        },
        Row {
            sees: &see::LASERS_UNPOWERED,
            yes: 6,
            no: -20,
            vital: false,
            why: "a laser that is driven has its power",
        },
        Row {
            sees: &see::TX_DISABLED,
            yes: -10,
            no: 0,
            vital: false,
            why: "a transmitter that is switched off drives no laser either",
        },
        Row {
            sees: &see::TX_FAULT,
            yes: -10,
            no: 0,
            vital: false,
            why: "a fault switches the lasers off by itself",
        },
    ],
    confused_with: &[
        Confusion {
            with: "tx-disabled",
            decider: "are the disable bits clear, and the lasers dark all the same?",
        },
        Confusion {
            with: "module-low-power",
            decider: "does the host hold it in low power, or may the cage not give its class?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Compare the module's power class (of an SFP: its power level) with what the maker's documents say this cage may give",
            tells: "above it: another cage, or a module of a lower class; within it: driver or firmware has not allowed it",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Try a module of a lower power class in this cage",
            tells: "link: it was the power",
            care: &[Caution::Eyes, Caution::Heat, Caution::Static],
        },
    ],
    usual_fix: "a module within the power class of the cage, or a cage that gives more",
    sources: &["kernel networking documentation, link down reasons", "SFF-8472", "SFF-8636"],
    sentence: |view| {
        let class = view.module.known().and_then(|module| module.power_class.known());
        let plain = |class: &String| class.replace(" (", ", ").replace(')', "");
        let class = class.map_or_else(String::new, |class| format!(" ({})", plain(class)));
        format!("The module{class} does not get the power that it needs from this cage.")
    },
};
