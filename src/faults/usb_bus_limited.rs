//! The adapter is on USB, and the bus or a hub on the way is slower than the link.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The USB bus carries less than the link.
pub const FAULT: Fault = Fault {
    name: "usb-bus-limited",
    title: "the USB bus carries less than the link",
    status: Status::Settled,
    part: PartKind::Slot,
    meaning: "The adapter is on USB, and it, or a hub between it and the host, runs at a bus speed \
 that is below the link's. The link comes up at its rate, but the host cannot fill it.",
    explains: &[Symptom::SlotBelowLink],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::SLOT_BELOW_PORT,
            yes: 4,
            no: -60,
            vital: true,
            why: "what the slowest hop leaves for data; the overhead is an estimate",
        },
        Row {
            sees: &see::ON_USB,
            yes: 18,
            no: 0,
            vital: true,
            why: "what is too slow above an adapter on USB is its bus",
        },
        Row {
            sees: &see::USB_SLOWER_BY_NAME,
            yes: 10,
            no: 0,
            vital: false,
            why: "then no estimate of the overhead is needed",
        },
    ],
    confused_with: &[Confusion {
        with: "pcie-bandwidth-limited",
        decider: "is the adapter on USB, or in a slot?",
    }],
    next_tests: &[NextTest {
        step: "Plug the adapter straight into another, faster socket of this host, with a cable rated \
               for it and no hub between, and look here again",
        tells: "a higher bus speed: the socket, hub or cable was the limit; the same in every socket: \
                the adapter does no more",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "a faster socket or cable, or an adapter on another bus",
    sources: &["kernel networking documentation", "common practice, no published source"],
    sentence: |view| {
        format!(
            "The adapter is on USB (slowest hop {}), which carries less than the link ({}).",
            see::usb_text(view),
            crate::diagnose::words::speed(&view.running.clone().or_else(|| view.port_best()))
        )
    },
};
