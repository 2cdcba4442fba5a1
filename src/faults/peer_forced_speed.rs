//! A far port that is able to do more but is fixed at a lower speed holds this end down as well. That
//! is a setting, unlike a far port that can do no more.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The far port is fixed at a lower speed.
pub const FAULT: Fault = Fault {
    name: "peer-forced-speed",
    title: "the far port is fixed at a lower speed",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The far port could do more but is fixed at the speed that runs, and this end is set to match. Nothing is broken: a setting decides.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::LINK_UP,
            yes: 0,
            no: -60,
            vital: true,
            why: "without a link nothing is held down",
        },
        Row {
            sees: &see::FAR_COULD_DO_MORE,
            yes: 12,
            no: -15,
            vital: true,
            why: "a far port that can do no more is no setting",
        },
        Row {
            sees: &see::FAR_FIXED_HERE,
            yes: 16,
            no: -15,
            vital: true,
            why: "the far port's own setting",
        },
        Row {
            sees: &see::NEAR_COULD_DO_MORE,
            yes: 6,
            no: -30,
            vital: false,
            why: "a slower part at this end would explain it",
        },
        Row {
            sees: &see::FAR_MODULE_COULD_DO_MORE,
            yes: 4,
            no: -40,
            vital: false,
            why: "a slower module there would explain it",
        },
        Row {
            sees: &see::HEARS_FASTER_OFFER,
            yes: -40,
            no: 0,
            vital: false,
            why: "a far end that offers more is not fixed",
        },
    ],
    confused_with: &[
        Confusion { with: "peer-port-limited", decider: "what can the far port do at most?" },
        Confusion { with: "media-rate-limited", decider: "can the modules at both ends do more?" },
        Confusion { with: "advert-limited-peer", decider: "does the far end negotiate?" },
        Confusion { with: "duplex-mismatch", decider: "is duplex the same at both ends?" },
    ],
    next_tests: &[NextTest {
        step: "Ask why the far port is fixed at this speed, and what it could do",
        tells: "no reason: raise both ends together, in one go, since the link drops until both agree; a reason: write the speed in the site file",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "raise both ends together",
    sources: &["common practice, no published source"],
    sentence: |view| {
        format!(
            "Runs at {} because {}; it could do {}.",
            crate::diagnose::words::speed(&view.running),
            if view.is_fixed_here() {
                "this end and the far port are both fixed at it"
            } else {
                "the far port is fixed at it"
            },
            crate::diagnose::words::speed(&view.far.best)
        )
    },
};
