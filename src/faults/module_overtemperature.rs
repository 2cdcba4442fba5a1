//! A module that is too hot loses margin first and its link later; the log often shows a plain link
//! down. A single absurd sample is a glitch of the bus, not heat.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The module is too hot.
pub const FAULT: Fault = Fault {
    name: "module-overtemperature",
    title: "the module is too hot",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The module is hotter than its limit. It loses margin first and its link later.",
    explains: &[Symptom::Heat, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
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
        Row { sees: &see::VERY_HOT, yes: 10, no: 0, vital: false, why: "the alarm limit as well" },
        Row {
            sees: &see::OVERHEAT_STATE,
            yes: 15,
            no: 0,
            vital: false,
            why: "the driver gives it as its reason",
        },
        Row {
            sees: &see::COPPER_MODULE,
            yes: -14,
            no: 0,
            vital: false,
            why: "the heat of copper modules has an entry of its own",
        },
    ],
    confused_with: &[
        Confusion { with: "nic-thermal-throttle", decider: "which sensor is over its limit?" },
        Confusion { with: "laser-ageing", decider: "is the module hot? bias rises with heat" },
        Confusion { with: "rj45-sfp-thermal", decider: "is it a module for twisted pair?" },
    ],
    next_tests: &[NextTest {
        step: "Feel the airflow at the cage, not the module, and look for stopped fans and blocked \
 grilles",
        tells: "cooler after moving air: airflow or spacing; no change: try a lower-power type of \
 module",
        care: &[Caution::Heat],
    }],
    usual_fix: "airflow, spacing, or a module that needs less power",
    sources: &[
        "kernel networking documentation, link down reasons; kernel header enums",
        "public issue threads",
    ],
    sentence: see::heat_sentence,
};
