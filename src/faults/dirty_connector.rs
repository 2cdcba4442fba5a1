//! Dirt sits on one end face: one direction loses far more than the other, often before any limit is
//! crossed, and it came at some day. With one end's reading alone it cannot be told from any other
//! loss; see excess-loss.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A connector is dirty.
pub const FAULT: Fault = Fault {
    name: "dirty-connector",
    title: "a connector is dirty",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "One direction of the link loses far more light than the other, or more than it did: one end face \
 is dirty or scratched. Both strands run the same way, so length does not explain it.",
    explains: &[Symptom::Light, Symptom::Errors, Symptom::LightMoved],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::ONE_SIDED_OR_NEW,
            yes: 17,
            no: -30,
            vital: true,
            why: "without the far end's powers or an earlier reading it is any loss",
        },
        Row {
            sees: &see::VERY_ONE_SIDED,
            yes: 3,
            no: 0,
            vital: false,
            why: "beyond what two readings can be wrong by",
        },
        Row {
            sees: &see::FALLEN_AS_WELL,
            yes: 3,
            no: 0,
            vital: false,
            why: "it came after the link was made",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 4,
            no: 0,
            vital: false,
            why: "damage that is being counted makes the loss matter",
        },
        Row { sees: &see::RX_LOW, yes: 2, no: 0, vital: false, why: "too little light arrives" },
        Row {
            sees: &see::BENDS_LIGHT,
            yes: -20,
            no: 0,
            vital: false,
            why: "dirt loses all wavelengths alike, and does not move",
        },
        Row {
            sees: &see::TRANSMITTER_WEAK,
            yes: -12,
            no: 0,
            vital: false,
            why: "a weak transmitter explains what does not arrive",
        },
        Row {
            sees: &see::OPTICS_UNFIT,
            yes: -30,
            no: 0,
            vital: false,
            why: "what a receiver is not made for is read wrong, and lost without any dirt",
        },
        Row {
            sees: &see::LANE_APART,
            yes: -8,
            no: 0,
            vital: false,
            why: "one lane of several is told as that",
        },
    ],
    confused_with: &[
        Confusion {
            with: "excess-loss",
            decider: "is one direction much worse, or has it become worse?",
        },
        Confusion {
            with: "fibre-bend",
            decider: "does the loss depend on wavelength or movement? clean first and compare",
        },
        Confusion {
            with: "weak-transmitter",
            decider: "far receive less own transmit: is it more than the way may lose?",
        },
        Confusion { with: "mmf-reach-exceeded", decider: "is the power low, or healthy?" },
    ],
    next_tests: &[NextTest {
        step: "Clean and inspect the connectors of the worse strand at both ends, with a camera-type scope, and read the power again",
        tells: "power rises: it was dirt; no change: change the cord, then look for a bend or a bad splice",
        care: &[Caution::Eyes],
    }],
    usual_fix: "clean the connector, or replace the cord",
    sources: &["common practice, no published source"],
    sentence: |_| {
        "One connector is dirty: light is lost on one strand that is not lost on the other, or was \
         not lost before."
            .into()
    },
};
