//! Short-wave light hardly enters a single-mode core: a large loss, alike in both directions. Long
//! wave enters a multimode core well, but several paths smear its pulses: power is fine, frames are
//! bad. 1000BASE-LX and 10GBASE-LRM are specified on multimode fibre and are no mismatch there.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The fibre is of the wrong kind for the optics.
pub const FAULT: Fault = Fault {
    name: "fibre-type-mismatch",
    title: "the fibre is of the wrong kind for the optics",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The optics are made for the other kind of fibre. Short-wave optics lose most of their light on \
 single-mode fibre; long-wave optics keep it on multimode fibre, but their pulses smear.",
    explains: &[Symptom::Errors, Symptom::Down, Symptom::Light, Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::WRONG_FIBRE,
            yes: 24,
            no: -60,
            vital: true,
            why: "kind of fibre against what the interface type is specified on",
        },
        Row {
            sees: &see::LIGHT_AS_ON_WRONG_FIBRE,
            yes: 4,
            no: -8,
            vital: false,
            why: "low with short wave, sufficient with long wave",
        },
        Row {
            sees: &see::RX_FAR_TOO_LOW,
            yes: 3,
            no: 0,
            vital: false,
            why: "single-mode fibre takes many decibels from short-wave light",
        },
        Row {
            sees: &see::BOTH_WAYS_LOSE_ALIKE,
            yes: 4,
            no: -15,
            vital: false,
            why: "both strands are of the same kind, so both lose alike",
        },
        Row {
            sees: &see::LINK_SUFFERS,
            yes: 1,
            no: -8,
            vital: false,
            why: "a link that is up and damages nothing is carried all the same",
        },
    ],
    confused_with: &[
        Confusion {
            with: "excess-loss",
            decider: "is the fibre of the kind that the optics are made for?",
        },
        Confusion {
            with: "reach-exceeded",
            decider: "is the fibre of the right kind, and only too long?",
        },
        Confusion {
            with: "mmf-reach-exceeded",
            decider: "is the interface type specified on multimode fibre at all?",
        },
        Confusion {
            with: "wavelength-mismatch",
            decider: "do the two modules send at the same wavelength?",
        },
    ],
    next_tests: &[NextTest {
        step: "Read the legend and look at the colour of every cord and cable along the path (yellow is single-mode, orange, aqua and lime are multimode; the printed legend decides)",
        tells: "one piece of the other kind: change it; all of the right kind: clean and inspect the connectors next",
        care: &[Caution::Eyes],
    }],
    usual_fix: "fibre of the kind that the optics need, or optics for the fibre that lies there",
    sources: &[
        "IEEE 802.3 media of each interface type",
        "question-and-answer page on long-wave types over multimode fibre",
        "TIA-598 jacket colours",
    ],
    sentence: |view| {
        let name = view.window().map_or("this module", |row| row.interface);
        match view.site.and_then(crate::site::SitePort::grade) {
            Some(grade) => format!("The fibre is {}, for which {name} is not made.", grade.name()),
            None => format!("The fibre may be of another kind than {name} is made for."),
        }
    },
};
