//! Reads of the module fail in part or now and then, or all of them on a link that runs. Traffic does
//! not need the management bus, so this is nothing that a link suffers from; but nobody sees its light.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The module cannot be read.
pub const FAULT: Fault = Fault {
    name: "module-unreadable",
    title: "the module cannot be read reliably",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "Reads of the module's memory fail although a module is there. Traffic may be fine; what the module \
 could tell of light, heat and limits is lost.",
    explains: &[Symptom::Module],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::ADAPTER_SILENT,
            yes: -60,
            no: 0,
            vital: false,
            why: "behind an adapter that does not answer nothing can be read or judged",
        },
        Row {
            sees: &see::READS_FAIL,
            yes: 22,
            no: -60,
            vital: true,
            why: "the driver says so itself, and it was asked twice",
        },
        Row {
            sees: &see::EVERY_READ_FAILS,
            yes: -8,
            no: 0,
            vital: false,
            why: "where nothing at all answers, the contacts are as likely",
        },
        Row {
            sees: &see::LINK_UP,
            yes: 6,
            no: 0,
            vital: false,
            why: "the module works, so it is its bus, or the module is slow to answer",
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
            why: "the kernel could not read it either",
        },
    ],
    confused_with: &[
        Confusion {
            with: "module-partial-insertion",
            decider: "do all reads fail each time, or some? is there a link? does another module answer in this cage?",
        },
        Confusion {
            with: "eeprom-checksum-corrupt",
            decider: "is it the reading that fails, or is what is read wrong, each time alike?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Read it several times more, and look whether other ports of the same adapter fail too",
            tells: "other ports too: the bus of the board; now and then: a slow module; always the same page: the module or its driver",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Swap the module with one that reads well",
            tells: "the failures follow the module, or stay with the cage",
            care: &[Caution::Eyes, Caution::Static],
        },
    ],
    usual_fix: "re-seat or replace the module; else the bus of the board",
    sources: &["kernel source, SFP cage and PHY link code", "public issue threads"],
    sentence: see::unreadable_sentence,
};
