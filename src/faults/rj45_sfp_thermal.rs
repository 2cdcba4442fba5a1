//! A copper module takes two to three and a half watts in a cage made for one or one and a half. Side
//! by side such modules heat each other; the link flaps once they are warm.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The copper module is too hot.
pub const FAULT: Fault = Fault {
    name: "rj45-sfp-thermal",
    title: "the copper module is too hot",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The copper module is hotter than its limit. It takes more power than the cage is made to cool, and \
 its link fails once it is warm.",
    explains: &[Symptom::Heat, Symptom::Flaps, Symptom::Errors, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::COPPER_MODULE),
        Row {
            sees: &see::HOT,
            yes: 14,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::FAR_TOO_HOT,
            yes: 10,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row { sees: &see::VERY_HOT, yes: 6, no: 0, vital: false, why: "the alarm limit as well" },
        Row {
            sees: &see::LINK_SUFFERS,
            yes: 6,
            no: 0,
            vital: false,
            why: "heat that takes the link down or damages frames",
        },
        Row {
            sees: &see::OVERHEAT_STATE,
            yes: 10,
            no: 0,
            vital: false,
            why: "the driver gives it as its reason",
        },
    ],
    confused_with: &[
        Confusion { with: "rj45-sfp-reach", decider: "is the run longer than the module drives?" },
        Confusion { with: "module-overtemperature", decider: "is it a module for twisted pair?" },
    ],
    next_tests: &[NextTest {
        step: "Move air over the cage with a fan for some minutes, and look at the temperature and the link again",
        tells: "cooler and steady: air and spacing; cooler and no better: look at the length of the run",
        care: &[Caution::Heat],
    }],
    usual_fix: "air, an empty cage beside it, or another medium (direct attach, fibre, a jack)",
    sources: &[
        "module data sheets: 10GBASE-T for SFP+ cages, 2.5 to 3.5 W",
        "public issue threads",
    ],
    sentence: see::heat_sentence,
};
