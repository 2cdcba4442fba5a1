//! Autonegotiation takes the best mode that both ends offer. This port supports a faster one, and
//! the far end offers it, but this port does not offer it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// This end offers less than it can.
pub const FAULT: Fault = Fault {
    name: "advert-limited-host",
    title: "this end offers less than it can",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "This port does not offer a faster mode that both ends can do. Autonegotiation then \
 settles on the slower one.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::SPEED_IS_NEGOTIATED,
            yes: 0,
            no: -60,
            vital: false,
            why: "where nothing is negotiated no list of offers sets the speed",
        },
        Row {
            sees: &see::OFFERS_LESS_THAN_IT_CAN,
            yes: 16,
            no: -60,
            vital: true,
            why: "the two lists are the fact itself",
        },
        Row {
            sees: &see::FAR_OFFERS_FASTER,
            yes: 18,
            no: -60,
            vital: true,
            why: "without a faster offer from the far end this end's list changes nothing",
        },
    ],
    confused_with: &[
        Confusion { with: "advert-limited-peer", decider: "does the far end offer a faster mode?" },
        Confusion { with: "pair-fault-downshift", decider: "do both ends offer the faster mode?" },
        Confusion { with: "media-rate-limited", decider: "do the lists include the higher mode?" },
    ],
    next_tests: &[NextTest {
        step: "Compare the modes this port offers with those it supports, in the host's network \
 configuration",
        tells: "a list that leaves the faster mode out: let the port offer it again",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "let the port offer all its modes",
    sources: &["public issue threads"],
    sentence: |view| {
        use crate::diagnose::observation::Answer;
        let told = matches!((see::FAR_OFFERS_FASTER.look)(view), Answer::Yes(_));
        let far = if told { ", although the far end does" } else { "" };
        format!(
            "Runs at {} because this port does not offer a faster mode{far}.",
            crate::diagnose::words::speed(&view.running)
        )
    },
};
