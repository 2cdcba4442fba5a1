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
            yes: 14,
            no: -60,
            vital: true,
            why: "the reading against its limit; alone it may be inside the accuracy of the reading",
        },
        Row {
            sees: &see::RX_FAR_TOO_HIGH,
            yes: 8,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::RX_OVER_PUBLISHED,
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
            why: "bits that FEC has to repair are what too much light gives first",
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
        see::light_sentence(view, true).unwrap_or_else(|| {
            format!("More light arrives than is allowed: {}.", view.rx_strongest_text())
        })
    },
};
