//! The adapter sits in a slot, or behind a bridge, that carries less than the link. The link runs
//! at its rate on the wire, and the host cannot keep up with it.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The slot carries less than the link.
pub const FAULT: Fault = Fault {
    name: "pcie-bandwidth-limited",
    title: "the slot carries less than the link",
    status: Status::Settled,
    part: PartKind::Slot,
    meaning: "The slot this adapter sits in, or a hop above it, carries less than the link does. The \
 link comes up at its rate, but the host cannot fill it.",
    explains: &[Symptom::SlotBelowLink],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::SLOT_BELOW_PORT,
            yes: 22,
            no: -60,
            vital: true,
            why: "bus arithmetic: rate, width and packet overhead",
        },
        Row {
            sees: &see::SLOT_OFFERS_LESS,
            yes: 10,
            no: 0,
            vital: false,
            why: "an adapter that could do more shows that the slot is the narrow part",
        },
        Row { sees: &see::LOG_SLOT, yes: 6, no: 0, vital: false, why: "the kernel says the same" },
        Row {
            sees: &see::ALL_LANES_WOULD_DO,
            yes: -25,
            no: 0,
            vital: true,
            why: "then the slot is wide enough, and lanes are missing",
        },
        Row {
            sees: &see::ON_USB,
            yes: -60,
            no: 0,
            vital: false,
            why: "an adapter on USB is in no slot",
        },
        Row {
            sees: &see::BEHIND_TUNNEL,
            yes: -60,
            no: 0,
            vital: false,
            why: "behind a tunnel the cable is the limit",
        },
    ],
    confused_with: &[
        Confusion { with: "ring-overrun", decider: "does the slot carry what the link needs?" },
        Confusion {
            with: "pcie-width-downgraded",
            decider: "do both ends of the slot's link have more lanes than came up?",
        },
        Confusion { with: "usb-bus-limited", decider: "is the adapter on USB, or in a slot?" },
        Confusion {
            with: "tunnel-bandwidth-limited",
            decider: "does the path to the adapter run through a cable tunnel?",
        },
    ],
    next_tests: &[NextTest {
        step: "Compare the slot's generation and lanes in the machine's manual with the adapter's; if \
               both could do more than they settled on, re-seat the adapter",
        tells: "a wider or newer slot: move the adapter; more after re-seating: it was the contact; \
                neither: the slot sets the limit",
        care: &[Caution::Power, Caution::Static],
    }],
    usual_fix: "a better slot, or another machine",
    sources: &["kernel PCI bandwidth message"],
    sentence: |view| {
        format!(
            "The slot carries {}, less than the link ({}).",
            crate::diagnose::words::speed(&view.ceiling(PartKind::Slot)),
            crate::diagnose::words::speed(&view.running.clone().or_else(|| view.port_best()))
        )
    },
};
