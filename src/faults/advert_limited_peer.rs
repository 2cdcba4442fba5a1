//! Autonegotiation takes the best mode that both ends offer, and the far end offers nothing faster
//! than what runs.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The far end offers nothing faster.
pub const FAULT: Fault = Fault {
    name: "advert-limited-peer",
    title: "the far end offers nothing faster",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The far end offers nothing faster than the speed that runs. The link does what was \
 negotiated.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
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
            sees: &see::FAR_OFFERS_NOTHING_FASTER,
            yes: 34,
            no: -60,
            vital: true,
            why: "the far end's own list is the fact itself",
        },
        Row {
            sees: &see::LOG_DOWNSHIFT,
            yes: -15,
            no: 0,
            vital: false,
            why: "a PHY that fell back may have shortened the list",
        },
    ],
    confused_with: &[
        Confusion { with: "advert-limited-host", decider: "does the far end offer a faster mode?" },
        Confusion { with: "peer-port-limited", decider: "does this medium negotiate speed?" },
        Confusion {
            with: "pair-fault-downshift",
            decider: "does the far end offer a faster mode?",
        },
        Confusion { with: "peer-forced-speed", decider: "does the far end negotiate?" },
        Confusion { with: "duplex-mismatch", decider: "does the far end make an offer at all?" },
    ],
    next_tests: &[NextTest {
        step: "Look at the far port: what can it do, and what is it set to offer?",
        tells: "it can do more: set it to; it cannot: a faster far port, or accept the speed",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "a faster far port, or let it offer all it can",
    sources: &["public issue threads"],
    sentence: |view| {
        format!(
            "Runs at {} because the far end offers nothing faster; this port could do {}.",
            crate::diagnose::words::speed(&view.running),
            crate::diagnose::words::speed(&view.port_best())
        )
    },
};
