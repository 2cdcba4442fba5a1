//! Somebody, or the boot configuration, has switched the port off. The transmitter is off and there
//! is no carrier by design: everything else that looks wrong on such a port follows from it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The port is switched off.
pub const FAULT: Fault = Fault {
    name: "admin-down",
    title: "the port is switched off",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The port is switched off in the host's configuration (administratively down). It has \
 no link because nobody asked it for one.",
    explains: &[Symptom::SwitchedOff],
    consequence: Consequence::NotInUse,
    before: -10,
    signature: &[Row {
        sees: &see::SWITCHED_OFF,
        yes: 60,
        no: -60,
        vital: true,
        why: "the flag is the fact itself",
    }],
    confused_with: &[
        Confusion {
            with: "tx-disabled",
            decider: "a port that is switched off disables its transmitter",
        },
        Confusion {
            with: "peer-tx-off",
            decider: "whose port is switched off: this one or the far one",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Ask whoever looks after this host whether the port is meant to be in use",
            tells: "if it is, it needs switching on; if not, all is well",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Have the port switched on, if it is meant to be in use",
            tells: "link: that was all; none: look again, as at any link that is down",
            care: &[Caution::LaserStarts],
        },
    ],
    usual_fix: "switch the port on if it is wanted; otherwise nothing",
    sources: &[
        "kernel documentation, operational states",
        "kernel source, SFP cage and PHY link code",
    ],
    sentence: |_| "This port is switched off in the host's configuration.".into(),
};
