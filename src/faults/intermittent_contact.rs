//! A connector that has not clicked home lets the light jump: the link goes down and comes back, or
//! frames are damaged in the dips. Jumps alone are possible, no more.
//! A steady loss is none; a far end that is switched off and on takes all light away, not a part.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A connector makes contact now and then.
pub const FAULT: Fault = Fault {
    name: "intermittent-contact",
    title: "a connector makes contact only now and then",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The received light jumps, and the link goes down and comes back or damages frames meanwhile: a \
 connector is not home, or its spring is worn.",
    explains: &[Symptom::Flaps, Symptom::LightMoved, Symptom::Errors],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::WENT_DOWN,
            yes: 10,
            no: -2,
            vital: false,
            why: "carrier that was lost is what it does; a contact that opens in part, or shortly, only \
 damages frames",
        },
        Row {
            sees: &see::LIGHT_JUMPS,
            yes: 14,
            no: -30,
            vital: true,
            why: "light that jumps but does not go out moves on the way",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 8,
            no: 0,
            vital: false,
            why: "damage while the light jumps comes with the dips",
        },
        Row {
            sees: &see::FAR_SENDS,
            yes: 2,
            no: -20,
            vital: false,
            why: "a far end that sends nothing is not a contact",
        },
    ],
    confused_with: &[Confusion {
        with: "weak-transmitter",
        decider: "is the output of the transmitter steady?",
    }],
    next_tests: &[NextTest {
        step: "Push every connector of this link home until it clicks, and watch the receive power for some minutes",
        tells: "steady: it was loose; it still jumps: change the cord, then the module",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "seat the connector anew, or replace it",
    sources: &["common practice, no published source"],
    sentence: see::jump_sentence,
};
