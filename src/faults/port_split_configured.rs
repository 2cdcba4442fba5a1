//! A cage with several lanes can be one port or several. Split, each interface has its share of the
//! lanes and no more, whatever module is in it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The cage is split at this end.
pub const FAULT: Fault = Fault {
    name: "port-split-configured",
    title: "the cage is split at this end",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The cage is split here: this interface runs on some of its lanes, other interfaces on the others. It cannot be faster than its share.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::LINK_UP,
            yes: 0,
            no: -60,
            vital: true,
            why: "without a link nothing is held down",
        },
        Row {
            sees: &see::CAGE_SPLIT,
            yes: 14,
            no: -60,
            vital: true,
            why: "lanes of the port, and interfaces beside it",
        },
        Row {
            sees: &see::LEGS_ADD_UP,
            yes: 12,
            no: 0,
            vital: false,
            why: "together they are exactly the cage",
        },
        Row {
            sees: &see::SHARE_OF_LANES,
            yes: 12,
            no: -15,
            vital: false,
            why: "a leg runs at its share of the lanes",
        },
    ],
    confused_with: &[
        Confusion { with: "breakout-mismatch", decider: "is the link up? Which end is split?" },
        Confusion {
            with: "media-rate-limited",
            decider: "does the module have more lanes than this interface uses?",
        },
        Confusion { with: "peer-port-limited", decider: "is this end one leg of a split cage?" },
    ],
    next_tests: &[NextTest {
        step: "Look in the driver's or the firmware's settings whether this cage is meant to be split",
        tells: "not meant: undo the split at both ends; meant: write the speed of a leg in the site file",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "undo the split in the driver's or firmware's settings, or accept the speed in the site file (intended_mbps)",
    sources: &["common practice, no published source", "kernel source, names of physical ports"],
    sentence: |view| {
        format!(
            "Runs at {}: this interface is one leg of a cage that is split at this end.",
            crate::diagnose::words::speed(&view.running)
        )
    },
};
