//! A module's transmitter is switched off by its disable pin or by the soft bit (SFF-8472 A2h byte
//! 110 bits 7 and 6). Some hosts leave the soft bit set. Light from the far end still arrives.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The transmitter is switched off.
pub const FAULT: Fault = Fault {
    name: "tx-disabled",
    title: "the transmitter is switched off",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module's transmitter is switched off by its disable pin or register, without any \
 fault. The far end sees no light from here.",
    explains: &[Symptom::Down, Symptom::Light],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::TX_DISABLED,
            yes: 28,
            no: -60,
            vital: true,
            why: "the module says so itself",
        },
        Row {
            sees: &see::SENDS_NOTHING,
            yes: 6,
            no: -20,
            vital: false,
            why: "light that leaves contradicts the bit",
        },
        Row {
            sees: &see::TX_FAULT,
            yes: -25,
            no: 2,
            vital: false,
            why: "a fault switches the transmitter off by itself",
        },
        Row {
            sees: &see::TYPE_REFUSED,
            yes: -26,
            no: 0,
            vital: false,
            why: "a driver that refuses a module keeps its transmitter off",
        },
    ],
    confused_with: &[
        Confusion { with: "tx-fault-latched", decider: "which bit is set: disable or fault" },
        Confusion {
            with: "module-not-ready",
            decider: "is the module ready, with its transmitter off, or not ready at all?",
        },
        Confusion {
            with: "admin-down",
            decider: "a port that is switched off disables its transmitter",
        },
        Confusion {
            with: "eeprom-checksum-corrupt",
            decider: "is the checksum of the module right, and only its transmitter off?",
        },
        Confusion {
            with: "module-rejected-by-driver",
            decider: "who switched the transmitter off: does the log say that the driver refuses the module?",
        },
        Confusion {
            with: "power-budget-exceeded",
            decider: "are the disable bits clear, and the lasers dark all the same?",
        },
        Confusion {
            with: "module-low-power",
            decider: "are the disable bits set, or is the module in low power?",
        },
    ],
    next_tests: &[NextTest {
        step: "Switch the port off and on again in the host's configuration, then read the module \
 once more",
        tells: "the bit clears: it was left over; it stays: driver or module",
        care: &[Caution::LaserStarts],
    }],
    usual_fix: "clear the disable state: switch the port off and on again",
    sources: &["SFF-8472"],
    sentence: see::disabled_sentence,
};
