//! A laser that wears out needs more current for the same light: its control loop raises the bias
//! until it can no more. Heat raises it too, so that a hot module proves nothing.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The laser needs more current than it should.
pub const FAULT: Fault = Fault {
    name: "laser-ageing",
    title: "the laser is ageing",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The laser takes more current than the module's own limit while it sends what it should. An \
 ageing laser does that for months before its light fails.",
    explains: &[Symptom::Module],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::BIAS_HIGH,
            yes: 14,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::BIAS_FAR_TOO_HIGH,
            yes: 4,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::TRANSMITTER_WEAK,
            yes: -6,
            no: 2,
            vital: false,
            why: "while the output holds, the laser ages; once it falls, it is weak",
        },
        Row {
            sees: &see::IDENTITY_CONTRADICTS,
            yes: -24,
            no: 0,
            vital: false,
            why: "a module that is coded as another kind stores limits of another laser",
        },
        Row {
            sees: &see::BIAS_OF_ANOTHER_LASER,
            yes: -8,
            no: 0,
            vital: false,
            why: "no laser of that type lives long enough to age so far",
        },
        Row { sees: &see::HOT, yes: -15, no: 3, vital: false, why: "bias rises with heat" },
    ],
    confused_with: &[
        Confusion {
            with: "module-overtemperature",
            decider: "is the module hot? bias rises with heat",
        },
        Confusion { with: "weak-transmitter", decider: "does the output still hold?" },
        Confusion {
            with: "module-miscoded",
            decider: "is the module of the kind whose limits it stores?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Write the bias and the temperature down, and read both again in a month",
            tells: "bias climbs at equal temperature: plan a replacement; it stands still: a limit that is too tight",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Replace the module when it suits",
            tells: "bias ordinary: it was the laser",
            care: &[Caution::Eyes, Caution::Static, Caution::Heat],
        },
    ],
    usual_fix: "plan to replace the module",
    sources: &[
        "patent literature on bias-based laser failure warning",
        "common practice, no published source",
    ],
    sentence: see::bias_sentence,
};
