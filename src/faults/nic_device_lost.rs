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
    explains: &[Symptom::Lost, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::ALL_ONES,
            yes: 26,
            no: -40,
            vital: true,
            why: "no link counts that far; what goes on counting answers; last counts that stand still say nothing",
        },
        Row {
            sees: &see::CONFIG_ALL_ONES,
            yes: 20,
            no: 0,
            vital: false,
            why: "a bus reads all ones where nothing answers; so does an adapter that was put to sleep",
        },
        Row {
            sees: &see::EVERYTHING_GONE,
            yes: 16,
            no: 0,
            vital: false,
            why: "the driver gave its device up; an interface being removed answers so too",
        },
        Row {
            sees: &see::EVERY_READ_FAILS,
            yes: 4,
            no: 0,
            vital: false,
            why: "what is behind it cannot be read either; a bad module does the same",
        },
        Row {
            sees: &see::CONFIG_DEAD,
            yes: 8,
            no: -2,
            vital: false,
            why: "a device that is there tells its link; an emulated one may not, and one that was reset answers again without its driver",
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
    sentence: |view| {
        use crate::diagnose::observation::Answer;
        let yes = |one: &crate::diagnose::observation::Observation| {
            matches!((one.look)(view), Answer::Yes(_))
        };
        let how = if yes(&see::ALL_ONES) {
            "what is read of it is all ones, and counts nothing"
        } else if yes(&see::CONFIG_ALL_ONES) {
            "its configuration space reads all ones, and its counters stand still"
        } else if yes(&see::EVERYTHING_GONE) {
            "its driver answers every question with: no such device"
        } else {
            "the kernel says so, and its counters stand still"
        };
        format!("The adapter no longer answers on its bus: {how}.")
    },
};
