//! The identity is read, and its base checksum is wrong: the bytes are not those that the maker wrote.
//! Kernels that run the cage refuse such a module and leave its transmitter off; an adapter's own
//! firmware often does not mind, and a link that runs is no fault.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module's identity is damaged.
pub const FAULT: Fault = Fault {
    name: "eeprom-checksum-corrupt",
    title: "the module's identity is damaged",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The checksum over the module's identity does not match, so what it says it is cannot be taken as \
 fact, and kernels refuse such a module. It was re-programmed badly, or its memory is failing.",
    explains: &[Symptom::Down, Symptom::Module],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::CHECKSUM_WRONG,
            yes: 22,
            no: -60,
            vital: true,
            why: "the sum itself; some makers get it wrong on modules that work",
        },
        Row {
            sees: &see::MEMORY_REFUSED,
            yes: 14,
            no: 0,
            vital: false,
            why: "the driver says that this is why",
        },
        Row {
            sees: &see::LOG_CHECKSUM,
            yes: 14,
            no: 0,
            vital: false,
            why: "the kernel found the same, and refuses the module for it",
        },
        Row {
            sees: &see::SENDS_LIGHT,
            yes: -8,
            no: 2,
            vital: false,
            why: "a module that was refused is left with its transmitter off",
        },
    ],
    confused_with: &[
        Confusion {
            with: "module-unreadable",
            decider: "is it the reading that fails, or is what is read wrong, each time alike?",
        },
        Confusion {
            with: "module-miscoded",
            decider: "is the checksum right over fields that contradict one another?",
        },
        Confusion {
            with: "tx-disabled",
            decider: "is the checksum of the module right, and only its transmitter off?",
        },
    ],
    next_tests: &[NextTest {
        step: "Take the module out, put it back until it latches, and read it again",
        tells: "the same wrong sum: its memory is wrong; another sum each time: the bus fails; right: it was badly seated",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "replace the module, or have it programmed again",
    sources: &["SFF-8472", "kernel source, SFP cage and PHY link code"],
    sentence: |view| {
        let log =
            matches!((see::LOG_CHECKSUM.look)(view), crate::diagnose::observation::Answer::Yes(_));
        let end = if log { ", and the kernel says so too" } else { "" };
        format!(
            "The checksum of the module's identity is wrong{end}: what it says it is is no fact."
        )
    },
};
