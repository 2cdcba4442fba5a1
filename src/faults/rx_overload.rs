//! A receiver that gets more light than its type allows mistakes bits, and far more can destroy it.
//! Long-reach optics on a short cord do this; 10 km types are built to be safe back to back.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// Too much light arrives.
pub const FAULT: Fault = Fault {
    name: "rx-overload",
    title: "too much light arrives",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "More light arrives than this interface type allows. Long-reach optics on a short cord \
 are the usual reason.",
    explains: &[Symptom::Light, Symptom::Errors, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::RX_HIGH,
            yes: 16,
            no: -60,
            vital: true,
            why: "the reading against the type's most",
        },
        Row {
            sees: &see::RX_FAR_TOO_HIGH,
            yes: 10,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::RX_OVER_OWN_LIMIT,
            yes: 8,
            no: 0,
            vital: false,
            why: "the maker's limit agrees",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 8,
            no: 0,
            vital: false,
            why: "damage that is being counted confirms it",
        },
    ],
    confused_with: &[Confusion {
        with: "excess-loss",
        decider: "is the reading over the most, or under the least?",
    }],
    next_tests: &[NextTest {
        step: "Put a fixed attenuator into the incoming strand (first find the damage level in the \
 maker's data sheet)",
        tells: "errors stop and power falls into the window: it was overload",
        care: &[Caution::Eyes],
    }],
    usual_fix: "a fixed attenuator, or shorter-reach optics",
    sources: &[
        "operators' mailing-list thread on padding short cross-connects, 2013",
        "IEEE 802.3 clause 52 power windows",
    ],
    sentence: |view| {
        format!(
            "More light arrives than {} allows: {}.",
            view.window().map_or("this type", |row| row.interface),
            view.rx_strongest_text()
        )
    },
};
