//! 10GBASE-T is specified on Category 6A; on Category 6 to 37 m, on installed Category 6 that was
//! assessed for it to 55 m (TIA TSB-155), and on Category 5e not at all. A lower or longer run may
//! link and then damage frames or drop.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The cable is of too low a category for this speed.
pub const FAULT: Fault = Fault {
    name: "category-too-low",
    title: "the cable is of too low a category for this speed",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The twisted-pair run is of a lower category, or longer, than this interface type is specified for. It may link, and damages frames, drops or falls back.",
    explains: &[Symptom::Errors, Symptom::FewErrors, Symptom::Flaps, Symptom::Slow, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::CATEGORY_MATTERS,
            yes: 0,
            no: -19,
            vital: false,
            why: "without a twisted-pair type that is choosy no category is too low; nobody thinks of it \
                  there, so it is not told as ruled out",
        },
        Row {
            sees: &see::CATEGORY_CONDITIONAL,
            yes: -10,
            no: 0,
            vital: false,
            why: "nobody told whether this run was assessed",
        },
        Row {
            sees: &see::CATEGORY_TOO_LOW,
            yes: 22,
            no: -60,
            vital: true,
            why: "category and length against what the type is specified for",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 8,
            no: 0,
            vital: false,
            why: "damage that is being counted confirms it",
        },
        Row {
            sees: &see::GOES_DOWN,
            yes: 6,
            no: 0,
            vital: false,
            why: "so does a link that drops",
        },
        Row {
            sees: &see::BOTH_OFFER_FASTER,
            yes: 4,
            no: 0,
            vital: false,
            why: "a fast mode that both offer and that does not run fits it",
        },
        Row {
            sees: &see::LOG_DOWNSHIFT,
            yes: 3,
            no: 0,
            vital: false,
            why: "a PHY that fell back could not run the faster mode on this cable",
        },
    ],
    confused_with: &[
        Confusion {
            with: "pair-fault-downshift",
            decider: "is the cable of the category that the faster mode needs?",
        },
        Confusion {
            with: "pair-fault",
            decider: "is the cable of the category that the chosen mode needs?",
        },
        Confusion { with: "duplex-mismatch", decider: "are collisions counted?" },
    ],
    next_tests: &[NextTest {
        step: "Run the link over a shorter cord of a good category (6A for 10GBASE-T), or at a lower speed for a while",
        tells: "it is well then: it was the run; no change: look at the ports",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "Category 6A, a shorter run, or a lower speed",
    sources: &["TIA TSB-155", "IEEE 802.3 clause 55 (from memory)"],
    sentence: |view| {
        format!(
            "The cable{} is of too low a category, or too long, for this speed.",
            view.site
                .and_then(crate::site::SitePort::grade)
                .map_or_else(String::new, |grade| format!(" ({})", grade.name()))
        )
    },
};
