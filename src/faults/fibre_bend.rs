//! Light leaves a fibre that is bent too tightly, the longer wavelength first; and what is pinched
//! changes when it is moved. Without one or the other sign a bend is any loss.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A fibre is bent too tightly.
pub const FAULT: Fault = Fault {
    name: "fibre-bend",
    title: "a fibre is bent too tightly",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The fibre is pinched or bent too tightly: the longer wavelength loses more on the same strand, \
 and the light changes when the cord is moved.",
    explains: &[Symptom::Light, Symptom::Errors, Symptom::LightMoved],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::BENDS_LIGHT,
            yes: 20,
            no: -30,
            vital: true,
            why: "without dependence on wavelength or movement it is any loss",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 4,
            no: 0,
            vital: false,
            why: "damage that is being counted makes the loss matter",
        },
        Row { sees: &see::RX_LOW, yes: 4, no: 0, vital: false, why: "too little light arrives" },
    ],
    confused_with: &[
        Confusion {
            with: "dirty-connector",
            decider: "clean first and compare: does the loss depend on wavelength or movement?",
        },
        Confusion {
            with: "excess-loss",
            decider: "does the loss depend on wavelength or movement?",
        },
    ],
    next_tests: &[NextTest {
        step: "Follow the cord along its way and look for pinches, cabinet doors and tight loops; move the route gently while somebody reads the power",
        tells: "power moves with the cord: a bend; steady: clean the connectors and compare",
        care: &[Caution::Eyes],
    }],
    usual_fix: "lay the cord anew, within its bend radius",
    sources: &["common practice, no published source"],
    sentence: |_| "A fibre on the way is bent too tightly or pinched.".into(),
};
