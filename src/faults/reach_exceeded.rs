//! A run that is longer than the type is specified for loses too much in both directions alike, by
//! what its length predicts. On multimode fibre the pulses smear before the light fails: that is
//! *mmf-reach-exceeded*.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The run is too long for the light of this type.
pub const FAULT: Fault = Fault {
    name: "reach-exceeded",
    title: "the run is too long for this type",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The run is longer than this interface type is specified for, and less light arrives than is \
 needed. Both directions lose alike then, since they share the length.",
    explains: &[Symptom::Light, Symptom::Errors, Symptom::Down, Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::BEYOND_REACH,
            yes: 16,
            no: -60,
            vital: true,
            why: "length against the published reach",
        },
        Row {
            sees: &see::RX_LOW,
            yes: 6,
            no: -14,
            vital: true,
            why: "a run that is too long shows as too little light",
        },
        Row {
            sees: &see::LENGTH_EXPLAINS_LOSS,
            yes: 5,
            no: -20,
            vital: false,
            why: "loss by length can be worked out; more than that is lost elsewhere",
        },
        Row {
            sees: &see::BOTH_WAYS_LOSE_ALIKE,
            yes: 8,
            no: -15,
            vital: false,
            why: "the length is the same in both directions, a connector is not",
        },
        Row {
            sees: &see::LINK_SUFFERS,
            yes: 2,
            no: -8,
            vital: false,
            why: "a link that is up and damages nothing is carried all the same",
        },
    ],
    confused_with: &[
        Confusion {
            with: "excess-loss",
            decider: "do both directions lose alike, and no more than the length explains?",
        },
        Confusion { with: "mmf-reach-exceeded", decider: "is the power low, or healthy?" },
        Confusion {
            with: "fibre-type-mismatch",
            decider: "is the fibre of the kind that the optics are made for?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Take the far end's capture too (--far FILE), and compare the loss of both directions with what the length predicts",
            tells: "alike and as predicted: the length; one direction more: clean and inspect its connectors first",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Measure the loss of the whole run with a power meter and a light source",
            tells: "as predicted by its length: a longer-reach type is needed; more: look for dirt, a bend or a bad splice",
            care: &[Caution::Eyes],
        },
    ],
    usual_fix: "a longer-reach interface type at both ends, or a shorter run",
    sources: &[
        "IEEE 802.3 reaches and power windows",
        "ANSI/TIA-568 loss figures",
        "common practice, no published source",
    ],
    sentence: |view| {
        let name = view.window().map_or("this type", |row| row.interface);
        match view.rx_power_text() {
            power if power.is_empty() => {
                format!("The run is longer than {name} is specified for.")
            }
            power => format!(
                "The run is longer than {name} is specified for, and too little light is left of it: {power}."
            ),
        }
    },
};
