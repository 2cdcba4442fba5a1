//! Less light arrives than the interface type is specified for. Which part loses it (dirt, bend, a
//! bad splice, too long a run) is for the next test to say: clean first, then swap section by
//! section.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// Too much light is lost on the way.
pub const FAULT: Fault = Fault {
    name: "excess-loss",
    title: "too much light is lost on the way",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "Less light arrives than this interface type needs. Dirt on a connector is the usual \
 reason, then a bend, a bad splice or too long a run. Where one lane of several is low \
 and the others are well, it is that lane's strand, its laser at the far end, or its receiver here.",
    explains: &[Symptom::Light, Symptom::Errors, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::RX_LOW,
            yes: 14,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::RX_FAR_TOO_LOW,
            yes: 8,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::RX_UNDER_PUBLISHED,
            yes: 2,
            no: 0,
            vital: false,
            why: "the published limit agrees",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 8,
            no: 0,
            vital: false,
            why: "damage that is being counted confirms it",
        },
        Row {
            sees: &see::CORRECTING,
            yes: 6,
            no: 0,
            vital: false,
            why: "bits that FEC has to repair are what too little light gives first",
        },
        Row {
            sees: &see::PATH_LOSES_TOO_MUCH,
            yes: 10,
            no: -20,
            vital: false,
            why: "without the far transmit power a weak far transmitter looks the same",
        },
        Row {
            sees: &see::LANE_APART,
            yes: -24,
            no: 0,
            vital: false,
            why: "one lane among good ones is that lane's fault",
        },
        Row {
            sees: &see::ONE_SIDED_OR_NEW,
            yes: -4,
            no: 0,
            vital: false,
            why: "a loss that the other direction does not have is more than the way as it is built",
        },
        Row {
            sees: &see::FALLEN,
            yes: -11,
            no: 0,
            vital: false,
            why: "a loss that came later is dirt or damage, not the way as it was built",
        },
        Row {
            sees: &see::BENDS_LIGHT,
            yes: -16,
            no: 0,
            vital: false,
            why: "a loss that moves, or grows with the wavelength, is a bend",
        },
        Row {
            sees: &see::LOSS_IS_EXPLAINED,
            yes: -25,
            no: 0,
            vital: false,
            why: "what the run and its optics lose by themselves is not excess",
        },
    ],
    confused_with: &[
        Confusion {
            with: "reach-exceeded",
            decider: "do both directions lose alike, and no more than the length explains?",
        },
        Confusion {
            with: "fibre-type-mismatch",
            decider: "is the fibre of the kind that the optics are made for?",
        },
        Confusion {
            with: "wavelength-mismatch",
            decider: "are both modules made for the same wavelength?",
        },
        Confusion {
            with: "rx-overload",
            decider: "is the reading under the least, or over the most?",
        },
        Confusion { with: "mmf-reach-exceeded", decider: "is the power low, or healthy?" },
        Confusion {
            with: "module-miscoded",
            decider: "is the module of the kind by whose limits its light is judged?",
        },
        Confusion { with: "lane-fault", decider: "are all lanes low, or one?" },
        Confusion {
            with: "dirty-connector",
            decider: "is one direction much worse, or has it become worse?",
        },
        Confusion {
            with: "fibre-bend",
            decider: "does the loss depend on wavelength or movement?",
        },
        Confusion {
            with: "weak-transmitter",
            decider: "is little sent, or is it lost on the way?",
        },
        Confusion {
            with: "fec-missing-for-medium",
            decider: "is the FEC that the medium needs at work?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Clean and inspect the connectors of the incoming strand, at both ends, and read the \
 power again",
            tells: "power rises: it was dirt; no change: swap the patch cords one at a time, then measure \
 the run",
            care: &[Caution::Eyes],
        },
        NextTest {
            step: "Of one low lane among good ones, ask for the far end's transmit power of that lane",
            tells: "a far lane that sends nothing is the far module's",
            care: &[Caution::NoHazard],
        },
    ],
    usual_fix: "clean or replace what loses the light",
    sources: &["IEEE 802.3 clause 52 power windows", "common practice, no published source"],
    sentence: |view| {
        see::light_sentence(view, false).unwrap_or_else(|| {
            format!("Less light arrives than is needed: {}.", view.rx_power_text())
        })
    },
};
