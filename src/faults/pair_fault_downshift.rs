//! 1000BASE-T and faster need all four pairs. With one open pair both ends still offer the fast
//! mode, fail to bring it up, and fall back to one that needs two pairs.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// A pair of the cable is broken.
pub const FAULT: Fault = Fault {
    name: "pair-fault-downshift",
    title: "a pair of the cable is broken",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "Both ends offer a faster mode than the one that runs: the PHY fell back because the \
 cable could not carry it. One of the four pairs is usually open.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        only_if(&see::TWISTED_PAIR),
        Row {
            sees: &see::BOTH_OFFER_FASTER,
            yes: 25,
            no: -60,
            vital: true,
            why: "with autonegotiation the best common mode runs unless it failed",
        },
        Row {
            sees: &see::LOG_DOWNSHIFT,
            yes: 20,
            no: 0,
            vital: false,
            why: "the PHY says so itself",
        },
        Row {
            sees: &see::ADAPTER_AT_ALARM,
            yes: -17,
            no: 0,
            vital: false,
            why: "so hot an adapter steps down by itself",
        },
        Row {
            sees: &see::HOT_AND_LOGGED,
            yes: -17,
            no: 0,
            vital: false,
            why: "over its limit, and its driver says that it acts on it",
        },
        Row {
            sees: &see::LOG_THERMAL,
            yes: -8,
            no: 0,
            vital: false,
            why: "a driver that talks of heat may have stepped down for it, also where no sensor tells",
        },
        Row {
            sees: &see::CATEGORY_TOO_LOW,
            yes: -18,
            no: 0,
            vital: false,
            why: "a cable of too low a category falls back with all its pairs well",
        },
    ],
    confused_with: &[
        Confusion { with: "advert-limited-host", decider: "do both ends offer the faster mode?" },
        Confusion { with: "advert-limited-peer", decider: "does the far end offer a faster mode?" },
        Confusion {
            with: "nic-thermal-throttle",
            decider: "is the adapter too hot, and does the speed come back when it is cool?",
        },
        Confusion {
            with: "duplex-mismatch",
            decider: "are collisions counted, and does the far end make an offer?",
        },
        Confusion { with: "pair-fault", decider: "is the link up?" },
        Confusion {
            with: "category-too-low",
            decider: "is the cable of the category that the faster mode needs?",
        },
    ],
    next_tests: &[NextTest {
        step: "Change the patch cord for one that is known to be good, and look again",
        tells: "full speed: the cord; no change: test the installed cable, pair by pair",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "re-terminate or replace the cable",
    sources: &["kernel PHY core, downshift warning", "public issue threads"],
    sentence: |view| {
        use crate::diagnose::observation::Answer;
        let told = matches!((see::BOTH_OFFER_FASTER.look)(view), Answer::Yes(_));
        let why = if told { "although both ends offer more" } else { "after the PHY fell back" };
        format!(
            "Runs at {} {why}: the cable does not carry the faster mode, usually for one broken pair.",
            crate::diagnose::words::speed(&view.running)
        )
    },
};
