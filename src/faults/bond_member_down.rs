//! A leg of a bond has no link. The bond runs on without it, so that nobody may notice before the
//! next leg goes. Why the leg is down is another matter: whatever explains that stands first.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom, only_if};

/// A leg of a bond has no link.
pub const FAULT: Fault = Fault {
    name: "bond-member-down",
    title: "a leg of a bond has no link",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The port is a leg of a bond and has no carrier. While another leg carries the bond, \
 nothing but the bond's reserve and its speed are lost. This says what is lost, not why the leg is down.",
    explains: &[Symptom::Down],
    consequence: Consequence::Degraded,
    before: -10,
    signature: &[
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::IN_BOND,
            yes: 22,
            no: 0,
            vital: true,
            why: "with the loss of carrier this is the condition itself",
        },
        Row {
            sees: &see::BOND_UP,
            yes: 8,
            no: -4,
            vital: false,
            why: "a bond that lost every leg has something in common that is at fault",
        },
        Row { sees: &see::LOG_BOND, yes: 5, no: 0, vital: false, why: "the bond says the same" },
    ],
    confused_with: &[],
    next_tests: &[NextTest {
        step: "Look at this leg by itself, as at any link that is down: the plugs at both ends, then \
               the far port, and whether it is set up for the bond",
        tells: "a link, and the bond takes the leg back: it was the plug or the far port; a link that the \
                bond does not take: the far end's settings",
        care: &[Caution::Static, Caution::Eyes],
    }],
    usual_fix: "repair the leg",
    sources: &["kernel bonding driver messages", "RFC 2863 interface state"],
    sentence: |view| {
        let name = see::bond_name(view);
        match view.bond().and_then(|bond| bond.carrier) {
            Some(true) => format!("It is a leg of {name}, which runs on without it."),
            Some(false) => format!("It is a leg of {name}, which has no carrier left."),
            None => format!("It is a leg of {name}."),
        }
    },
};
