//! The adapter no longer answers on its bus. What is read of it is all ones, and looks like a storm
//! of errors.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The adapter no longer answers.
pub const FAULT: Fault = Fault {
    name: "nic-device-lost",
    title: "the adapter no longer answers on its bus",
    status: Status::Settled,
    part: PartKind::Slot,
    meaning: "A bus reads all ones where no device answers. Counters that stand at the largest number \
 there is, sensors at minus one and a dead configuration space are the marks of an adapter that is \
 gone, and not of errors on the link.",
    explains: &[Symptom::Lost],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::ALL_ONES,
            yes: 26,
            no: -14,
            vital: true,
            why: "no link counts that far; a driver that keeps its last counts may hide it",
        },
        Row {
            sees: &see::CONFIG_DEAD,
            yes: 8,
            no: -6,
            vital: false,
            why: "a device that is there tells its link; an emulated one may not",
        },
        Row {
            sees: &see::SENSORS_ALL_ONES,
            yes: 6,
            no: -4,
            vital: false,
            why: "the same all ones by another way",
        },
        Row {
            sees: &see::LOG_DEVICE_LOST,
            yes: 20,
            no: 0,
            vital: false,
            why: "the kernel says so; it may have come back since",
        },
    ],
    confused_with: &[],
    next_tests: &[
        NextTest {
            step: "Look into the kernel log for what the bus says of this adapter, and whether other \
                   devices in the same machine or on the same riser are lost too",
            tells: "several lost: power or riser; this one only: its seat, its firmware or the adapter \
                    itself",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Shut the machine down, take it off the mains, start it cold and look again; if the \
                   adapter is lost again, re-seat it, then try another slot",
            tells: "back for good: its firmware had hung; lost again in any slot: the adapter",
            care: &[Caution::Power, Caution::Static],
        },
    ],
    usual_fix: "re-seat the adapter, look after its power and its firmware",
    sources: &["public issue threads", "common practice, no published source"],
    sentence: |_| {
        "The adapter no longer answers on its bus: what is read of it is all ones, and counts \
         nothing."
            .into()
    },
};
