//! Negotiation needs one or two pairs, 1000BASE-T and faster need all four. With an open pair, and a
//! PHY that does not fall back, both ends agree on the fast mode for ever and never bring it up.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The cable does not carry all four pairs.
pub const FAULT: Fault = Fault {
    name: "pair-fault",
    title: "the cable does not carry all four pairs",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The far end is heard, a mode on four pairs is chosen, and the link never comes up. One of the four pairs is usually open or crossed.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::AGREED_WITHOUT_LINK,
            yes: 24,
            no: -60,
            vital: true,
            why: "the two lists agree, so only the pairs between are left",
        },
        Row {
            sees: &see::CABLE_FAILS_TRAINING,
            yes: 12,
            no: 0,
            vital: false,
            why: "the driver says so itself",
        },
        Row {
            sees: &see::NEGOTIATION_DIFFERS,
            yes: -40,
            no: 0,
            vital: false,
            why: "an end that is fixed explains it without the cable",
        },
        Row {
            sees: &see::CATEGORY_TOO_LOW,
            yes: -6,
            no: 0,
            vital: false,
            why: "a cable of too low a category may fail with all its pairs well",
        },
    ],
    confused_with: &[
        Confusion { with: "no-cable", decider: "is an offer of the far end heard?" },
        Confusion { with: "autoneg-mismatch", decider: "is an offer of the far end heard?" },
        Confusion { with: "pair-fault-downshift", decider: "is the link up, at a slower speed?" },
        Confusion {
            with: "category-too-low",
            decider: "does a short cord of a good category bring it up?",
        },
    ],
    next_tests: &[
        NextTest {
            step: "Change the patch cord for a four-pair one that is known to be good, and look again",
            tells: "link: it was the cord; no change: test the installed cable, pair by pair",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Let one end offer 100BASE-TX only, as a stop-gap",
            tells: "link at 100 Mb/s: two pairs are well and another is not",
            care: &[Caution::NoHazard],
        },
    ],
    usual_fix: "replace the cord, or re-terminate the cable; 100BASE-TX as a stop-gap",
    sources: &["public issue threads", "IEEE 802.3 clauses 28 and 40 (from memory)"],
    sentence: |_| {
        "Both ends agree on a mode that needs four pairs and it never comes up: a pair of the cable \
         is probably open."
            .into()
    },
};
