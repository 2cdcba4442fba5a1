//! The memory is intact and contradicts itself: type, wavelength, rate, reach or connector cannot all
//! be true, so some of it was programmed for another module. What runs without damage is not called
//! faulty for it; and what is really inside only the label and the far end tell.

use crate::chain::PartKind;
use crate::diagnose::observation::Answer;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};
use crate::snapshot::Fact;

/// The module is not what it says it is.
pub const FAULT: Fault = Fault {
    name: "module-miscoded",
    title: "the module is not what it says it is",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "What the module says of itself cannot all be true: it was coded as another kind. The port then treats \
 it as what it is not, and limits by its type mean nothing.",
    explains: &[Symptom::Down, Symptom::Module],
    consequence: Consequence::FaultIfItSuffers,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        Row {
            sees: &see::IDENTITY_CONTRADICTS,
            yes: 18,
            no: -60,
            vital: true,
            why: "two fields that exclude each other; some makers leave one carelessly wrong",
        },
        Row {
            sees: &see::FAR_TYPE_ALONE_CONTRADICTS,
            yes: -6,
            no: 0,
            vital: false,
            why: "who told of the far end may be wrong as well",
        },
        Row {
            sees: &see::IDENTITY_CONTRADICTS_TWICE,
            yes: 3,
            no: 0,
            vital: false,
            why: "carelessness is rarer twice",
        },
        Row {
            sees: &see::BIAS_OF_ANOTHER_LASER,
            yes: 4,
            no: 0,
            vital: false,
            why: "the laser itself is of another kind than the type",
        },
        Row {
            sees: &see::CHECKSUM_WRONG,
            yes: -10,
            no: 2,
            vital: false,
            why: "a right sum over wrong fields was programmed so; a wrong one is damage",
        },
    ],
    confused_with: &[
        Confusion {
            with: "eeprom-checksum-corrupt",
            decider: "is the checksum right over fields that contradict one another?",
        },
        Confusion {
            with: "rate-unsupported-by-port",
            decider: "is the module's rate what its label says?",
        },
        Confusion {
            with: "laser-ageing",
            decider: "is the module of the kind whose limits it stores?",
        },
        Confusion {
            with: "excess-loss",
            decider: "is the module of the kind by whose limits its light is judged?",
        },
    ],
    next_tests: &[NextTest {
        step: "Take the module out and read its label; look at its connector too, which tells what cable it is made for",
        tells: "the label says another type than the memory: wrongly coded; the same: go by the part number, and compare with the far end",
        care: &[Caution::Eyes, Caution::Heat, Caution::Static],
    }],
    usual_fix: "a module that is coded as what it is",
    sources: &[
        "SFF-8472",
        "SFF-8636",
        "public issue threads",
        "common practice, no published source",
    ],
    sentence: |view| {
        let found = see::contradictions(view).unwrap_or_default();
        let found = found.first().map(|one| one.text.as_str()).unwrap_or_default();
        let module = view.module.known();
        let kind = module.and_then(see::probable_fibre).map_or_else(String::new, |fibre| {
            format!(" It is probably for {fibre}, by its wavelength and reach.")
        });
        let runs = view.port.carrier == Fact::Known(true)
            && matches!((see::ERRORS_RISING.look)(view), Answer::No(_))
            && !matches!((see::WENT_DOWN.look)(view), Answer::Yes(_))
            && view.way_out.found.is_empty();
        let haste = if runs { " Not urgent: no damage is being counted." } else { "" };
        format!("The module is not what it says it is: {found}.{kind}{haste}")
    },
};
