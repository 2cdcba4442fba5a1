//! The adapter is behind a cable tunnel that carries less than the link, whatever its own slot says.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The cable tunnel carries less than the link.
pub const FAULT: Fault = Fault {
    name: "tunnel-bandwidth-limited",
    title: "the cable tunnel carries less than the link",
    status: Status::Settled,
    part: PartKind::Slot,
    meaning: "The adapter is in a box on a cable that carries its bus beside other things. Its own \
 slot there looks fine, but a tunnel of 40 Gb/s leaves about 22 Gb/s for it.",
    explains: &[Symptom::SlotBelowLink],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        Row {
            sees: &see::SLOT_BELOW_PORT,
            yes: 4,
            no: -60,
            vital: true,
            why: "what a tunnel leaves is common practice; a newer one may leave more",
        },
        Row {
            sees: &see::BEHIND_TUNNEL,
            yes: 18,
            no: 0,
            vital: true,
            why: "the figures of the slot in the box say nothing about the cable",
        },
    ],
    confused_with: &[Confusion {
        with: "pcie-bandwidth-limited",
        decider: "does the path to the adapter run through a cable tunnel?",
    }],
    next_tests: &[NextTest {
        step: "Measure with several flows at once, then again with the displays unplugged from the \
               same dock",
        tells: "more without displays: they share the cable; about 22 Gb/s either way: the tunnel is \
                the limit; clearly more than that: this tunnel is a newer one, and not the limit",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "a slot inside the machine, or accept it",
    sources: &["common practice, no published source"],
    sentence: |view| {
        format!(
            "The adapter is behind a cable tunnel, which usually leaves about {}, less than the link ({}).",
            crate::diagnose::words::speed(&view.ceiling(PartKind::Slot)),
            crate::diagnose::words::speed(&view.running.clone().or_else(|| view.port_best()))
        )
    },
};
