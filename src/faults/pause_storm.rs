//! Somebody behind the far end (or the far end, if it is a host) cannot take what is sent and asks
//! for silence, by pause frames, nearly all the time. Nothing is damaged and nothing on this link is broken.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// Received pause frames keep this port from sending.
pub const FAULT: Fault = Fault {
    name: "pause-storm",
    title: "pause frames from the far end stop this port",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "Pause frames arrive at a rate that can keep this port from sending nearly all the \
 time. This link does what it is told: a device behind the \
 far end, or the far end itself where it is a host, is stuck or overloaded.",
    explains: &[Symptom::Drops],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        // What stands behind the setting alone is no evidence: only its opposite is.
        only_if(&see::OBEYS_PAUSE),
        Row {
            sees: &see::PAUSED_BY_FAR_END,
            yes: 14,
            no: -60,
            vital: true,
            why: "how long each frame stops the port is not told, only the most it can",
        },
        Row {
            sees: &see::SENDS_LITTLE,
            yes: 8,
            no: -60,
            vital: false,
            why: "a port that is stopped sends nothing; one that sends well is not stopped",
        },
        Row {
            sees: &see::SEND_QUEUE_FULL,
            yes: 8,
            no: 0,
            vital: false,
            why: "frames that wait in vain show that silence is not for want of anything to send",
        },
        Row {
            sees: &see::LOG_SEND_TIMEOUT,
            yes: 4,
            no: 0,
            vital: false,
            why: "the kernel noticed too, though it may have been earlier",
        },
    ],
    confused_with: &[Confusion {
        with: "ring-overrun",
        decider: "does this host receive the pause frames, or send them?",
    }],
    next_tests: &[NextTest {
        step: "Ask which of the far device's other ports receives pause frames or drops what it \
 should send, and follow it from port to port",
        tells: "where pause frames come from and none go on is the device that cannot take more",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "free or restart the congested device behind the far end; let the far port not pass \
 pause frames on",
    sources: &["IEEE 802.3 annex 31B (from memory)", "public issue threads"],
    sentence: see::held_back_sentence,
};
