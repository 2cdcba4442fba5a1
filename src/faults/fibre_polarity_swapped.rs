//! A duplex link crosses once, transmit to receive. Where it does not cross, or crosses twice, both
//! ends send into each other's transmitters: both are dark while both send. Two broken strands look
//! the same, so this stays below *established*.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The two strands are swapped.
pub const FAULT: Fault = Fault {
    name: "fibre-polarity-swapped",
    title: "the two strands are swapped",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "Both ends send, and neither sees light: transmit is joined to transmit. It happens \
 after patch work, or where a wall plate crosses the pair a second time.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        only_if(&see::OPTICAL),
        Row {
            sees: &see::NO_LIGHT,
            yes: 8,
            no: -60,
            vital: true,
            why: "swapped strands leave this receiver dark",
        },
        Row {
            sees: &see::SENDS_LIGHT,
            yes: 3,
            no: -20,
            vital: false,
            why: "this end must send for the pattern to hold",
        },
        Row {
            sees: &see::FAR_DARK,
            yes: 9,
            no: -60,
            vital: true,
            why: "the far receiver is dark as well",
        },
        Row {
            sees: &see::FAR_SENDS,
            yes: 9,
            no: -60,
            vital: true,
            why: "a silent far end explains the darkness better",
        },
        Row {
            sees: &see::ON_ONE_STRAND,
            yes: -40,
            no: 0,
            vital: false,
            why: "one strand cannot be swapped",
        },
    ],
    confused_with: &[
        Confusion {
            with: "fibre-strand-broken",
            decider: "does light arrive at one of the ends, or at neither?",
        },
        Confusion { with: "peer-tx-off", decider: "does the far end send?" },
    ],
    next_tests: &[NextTest {
        step: "Swap the two strands at one end only",
        tells: "link comes up: they were swapped; still dark: measure the strands, both may be broken",
        care: &[Caution::Eyes],
    }],
    usual_fix: "cross the pair exactly once along the path",
    sources: &["common practice, no published source", "public issue threads"],
    sentence: |_| {
        "Both ends send and neither sees light: the two strands are swapped somewhere, or both are broken.".into()
    },
};
