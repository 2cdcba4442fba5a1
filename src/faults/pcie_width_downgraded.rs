//! Slot and adapter have more lanes than the link between them came up with. The usual reason is a
//! contact or a riser; a slot that is wired with fewer lanes than it says looks the same.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The slot's link came up with fewer lanes than both ends have.
pub const FAULT: Fault = Fault {
    name: "pcie-width-downgraded",
    title: "fewer lanes came up than both ends of the slot have",
    status: Status::Settled,
    part: PartKind::Slot,
    meaning: "The adapter and what it is plugged into both have more lanes than their link came up \
 with, and what is left is less than the network link needs. A dirty or half-seated contact, a \
 riser, or a slot that is not wired with all its lanes does this.",
    explains: &[Symptom::SlotBelowLink],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::ADAPTER_SILENT,
            yes: -60,
            no: 0,
            vital: false,
            why: "behind an adapter that does not answer nothing can be read or judged",
        },
        Row {
            sees: &see::SLOT_BELOW_PORT,
            yes: 10,
            no: -60,
            vital: true,
            why: "lanes that nobody needs are nobody's loss",
        },
        Row {
            sees: &see::TRAINED_NARROWER,
            yes: 22,
            no: -60,
            vital: true,
            why: "a slot that has no more lanes is narrow, not at fault",
        },
        Row {
            sees: &see::LOG_BUS_ERRORS,
            yes: 6,
            no: 0,
            vital: false,
            why: "a bad contact damages what the other lanes carry as well",
        },
    ],
    confused_with: &[Confusion {
        with: "pcie-bandwidth-limited",
        decider: "do both ends of the slot's link have more lanes than came up?",
    }],
    next_tests: &[NextTest {
        step: "Re-seat the adapter, look at its contacts and at any riser, and look here again; then \
               try another slot",
        tells: "all lanes: it was the contact; the same in this slot only: the riser, or a slot that \
                is wired with fewer lanes (the machine's manual tells); the same in every slot: the \
                adapter",
        care: &[Caution::Power, Caution::Static],
    }],
    usual_fix: "re-seat the adapter, or replace the riser, or take another slot",
    sources: &["kernel PCI bandwidth message", "common practice, no published source"],
    sentence: |view| match see::lanes_text(view) {
        Some((width, most, at)) => format!(
            "The slot's link came up with {width} of {most} lanes at {at}, and carries {}, less than \
             the link ({}).",
            crate::diagnose::words::speed(&view.ceiling(PartKind::Slot)),
            crate::diagnose::words::speed(&view.running.clone().or_else(|| view.port_best()))
        ),
        None => "The slot's link came up with fewer lanes than both ends have.".into(),
    },
};
