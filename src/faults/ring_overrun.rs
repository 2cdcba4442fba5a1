//! The adapter's receive ring fills faster than the host empties it. Frames that found no buffer
//! are counted as missed, undamaged; where flow control is on, the host sends pause frames instead.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The host does not empty its receive ring in time.
pub const FAULT: Fault = Fault {
    name: "ring-overrun",
    title: "the host does not take frames in time",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "Whole, undamaged frames are lost in this host because the adapter had no free buffer \
 for them, or this host keeps asking the far end to wait. The cable and the far end are not at \
 fault: the receive ring is small, or too few processors serve it.",
    explains: &[Symptom::Drops],
    consequence: Consequence::Limit,
    before: -12,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::RECEIVE_RING_FULL,
            yes: 22,
            no: -60,
            vital: true,
            why: "the counter says itself that a buffer was wanting in this host; a pause frame \
 that is sent says that one soon will be",
        },
        Row {
            sees: &see::SLOT_BELOW_PORT,
            yes: -12,
            no: 4,
            vital: true,
            why: "behind a narrow slot buffers are not emptied in time either",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: -4,
            no: 2,
            vital: false,
            why: "frames that are lost here were whole when they came",
        },
        Row {
            sees: &see::RECEIVE_RING_SMALL,
            yes: 4,
            no: 0,
            vital: false,
            why: "a small ring overflows at the first burst",
        },
    ],
    confused_with: &[
        Confusion {
            with: "pcie-bandwidth-limited",
            decider: "does the slot carry what the link needs?",
        },
        Confusion {
            with: "pause-storm",
            decider: "does this host send the pause frames, or receive them?",
        },
    ],
    next_tests: &[NextTest {
        step: "Look at the processors' load while frames are missed, and whether one alone serves \
 the adapter; if the ring is not at its most, plan a larger one",
        tells: "one processor at its limit: spread the adapter's interrupts; none: the ring is too \
 small for the bursts",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "a larger receive ring, or interrupts spread over more processors",
    sources: &["kernel interface statistics documentation", "IEEE 802.3 annex 31B"],
    sentence: see::ring_sentence,
};
