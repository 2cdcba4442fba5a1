//! An end that negotiates and hears no offer can find the speed by itself but must assume half duplex
//! (IEEE 802.3 clause 28). If the far end is fixed at full duplex, it sends whenever it likes: late
//! collisions here, damaged frames there.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::diagnose::view::View;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};
use crate::snapshot::{Duplex, Fact};

/// The end that is known to be fixed, where that is this one: negotiation is off here, and the far
/// end negotiates, or runs the half duplex that an end must assume which hears no offer. Otherwise
/// the far port.
pub(super) fn part_on(view: &View<'_>) -> PartKind {
    let (here, there) = (&view.port.ethernet, &view.far);
    let assumed = here.duplex == Fact::Known(Duplex::Full)
        && there.duplex == Fact::Known(Duplex::Half)
        && there.autonegotiation.known().is_none();
    let fixed_here = here.autonegotiation == Fact::Known(false)
        && (assumed || there.autonegotiation == Fact::Known(true));
    if fixed_here { PartKind::Port } else { FAULT.part }
}

/// The ends run different duplex.
pub const FAULT: Fault = Fault {
    name: "duplex-mismatch",
    title: "the ends run different duplex",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "One end runs half duplex and the other full. The half-duplex end takes what the other sends for collisions; the other end receives broken frames.",
    explains: &[Symptom::Slow, Symptom::Errors, Symptom::FewErrors],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::LINK_UP,
            yes: 0,
            no: -60,
            vital: true,
            why: "without a link there is no duplex",
        },
        Row {
            sees: &see::DUPLEX_APART,
            yes: 14,
            no: -60,
            vital: true,
            why: "duplex at both ends; half that had to be assumed is suspicious, and no more",
        },
        Row {
            sees: &see::FAR_DUPLEX_TOLD,
            yes: 20,
            no: 0,
            vital: false,
            why: "both ends tell, and differ",
        },
        Row {
            sees: &see::LATE_COLLISIONS,
            yes: 12,
            no: 0,
            vital: false,
            why: "a partner that listens before it sends makes none",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 4,
            no: 0,
            vital: false,
            why: "the full-duplex end receives broken frames",
        },
    ],
    confused_with: &[
        Confusion {
            with: "pair-fault-downshift",
            decider: "are collisions counted, and does the far end make an offer?",
        },
        Confusion { with: "peer-forced-speed", decider: "is duplex the same at both ends?" },
        Confusion {
            with: "advert-limited-peer",
            decider: "does the far end make an offer at all?",
        },
        Confusion { with: "category-too-low", decider: "is duplex the same at both ends?" },
    ],
    next_tests: &[NextTest {
        step: "Compare duplex and autonegotiation of both ends",
        tells: "one end is fixed: let both negotiate; both negotiate: change the patch cord and look again",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "let both ends negotiate",
    sources: &[
        "kernel documentation, network statistics",
        "IEEE 802.3 clause 28, parallel detection (from memory)",
    ],
    sentence: |view| match (&view.port.ethernet.duplex, &view.far.duplex) {
        (Fact::Known(near), Fact::Known(far)) if near != far => {
            let here = if *near == Duplex::Half { "half" } else { "full" };
            let there = if *far == Duplex::Half { "half" } else { "full" };
            let fixed = if part_on(view) == PartKind::Port {
                " Negotiation is off here: this end is the fixed one."
            } else {
                ""
            };
            format!("The ends run different duplex: {here} here, {there} there.{fixed}")
        }
        _ => {
            let told = if see::negotiates_by_site_alone(view) {
                " The site file says that it negotiates; what was seen (no offer, late \
                 collisions) says that it does not."
            } else {
                ""
            };
            format!(
                "This end had to assume half duplex, since the far end makes no offer: that end is \
                 fixed, at full duplex as these usually are.{told}"
            )
        }
    },
};
