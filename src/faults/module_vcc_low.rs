//! A module is specified for 3.3 V, give or take 5 %; it keeps limits of its own for the supply.
//! Where the modules beside it read the same, the host's supply is low; where they do not, it is this
//! module or the contacts of its cage.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The module's supply is too low.
pub const FAULT: Fault = Fault {
    name: "module-vcc-low",
    title: "the module's supply voltage is low",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The module measures less supply voltage than its own limit. The host's supply, the contacts of \
 the cage, or the module's own meter is the reason: its neighbours tell which.",
    explains: &[Symptom::Module],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::SUPPLY_LOW,
            yes: 16,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::SUPPLY_FAR_TOO_LOW,
            yes: 6,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::SUPPLY_VERY_LOW,
            yes: 8,
            no: 0,
            vital: false,
            why: "the alarm limit as well",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 2,
            no: 0,
            vital: false,
            why: "damage that is being counted makes it urgent",
        },
    ],
    confused_with: &[],
    next_tests: &[
        NextTest {
            step: "Compare the supply that the other modules of this host report",
            tells: "all low: the host's supply; only this one: module or cage",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Put the module into another cage, or another host, and read its supply",
            tells: "still low: the module; well there: the cage or the host",
            care: &[Caution::Eyes, Caution::Static, Caution::Heat],
        },
    ],
    usual_fix: "the host's supply, the contacts of the cage, or the module",
    sources: &[
        "SFF-8472, SFF-8636 and CMIS: supply monitor and its limits",
        "common practice, no published source",
    ],
    sentence: see::supply_sentence,
};
