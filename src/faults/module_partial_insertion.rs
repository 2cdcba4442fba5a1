//! The cage says that a module is there and nothing of it can be read: its contacts do not all meet.
//! The long presence contact meets first. A bus that is broken looks the same from one port, and so may
//! an empty cage where nothing acknowledges.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The module is not pushed home.
pub const FAULT: Fault = Fault {
    name: "module-partial-insertion",
    title: "the module is not pushed home",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The driver goes on as with a module in the cage, but not one read of it succeeds, and there is no \
 link. Usually the module is not latched, upside down, or has dirty contacts.",
    explains: &[Symptom::Down, Symptom::Module],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::ADAPTER_SILENT,
            yes: -60,
            no: 0,
            vital: false,
            why: "behind an adapter that does not answer nothing can be read or judged",
        },
        Row {
            sees: &see::EVERY_READ_FAILS,
            yes: 20,
            no: -60,
            vital: true,
            why: "a module whose contacts meet answers something",
        },
        Row {
            sees: &see::LINK_DOWN,
            yes: 4,
            no: -30,
            vital: true,
            why: "what carries a link has its contacts",
        },
        Row {
            sees: &see::NOTHING_PLUGGED,
            yes: -60,
            no: 0,
            vital: false,
            why: "an empty cage is no badly seated module",
        },
        Row {
            sees: &see::NOTHING_LISTENS,
            yes: -6,
            no: 0,
            vital: false,
            why: "some drivers say this of an empty cage too",
        },
        Row {
            sees: &see::READS_LATE,
            yes: -8,
            no: 0,
            vital: false,
            why: "a busy host and a slow bus are late as well",
        },
        Row {
            sees: &see::LOG_READ_FAILS,
            yes: 4,
            no: 0,
            vital: false,
            why: "the kernel saw it plugged in and could not read it",
        },
    ],
    confused_with: &[
        Confusion {
            with: "module-unreadable",
            decider: "do all reads fail each time, or some? is there a link? does another module answer in this cage?",
        },
        Confusion { with: "no-cable", decider: "does the cage tell that a module is there?" },
    ],
    next_tests: &[NextTest {
        step: "Look at the cage: push the module home until it latches, and see that it is not upside down; then \
 read it again",
        tells: "it answers: it was not seated; it does not: try it in another cage, and another module in this one: what fails follows the module or stays with the cage",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "re-seat the module; clean its contacts",
    sources: &["kernel source, SFP cage and PHY link code", "common practice, no published source"],
    sentence: |_| {
        "A module is seen in this cage, and nothing of it can be read: it is not pushed home, or its \
         bus is broken."
            .into()
    },
};
