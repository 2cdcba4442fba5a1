//! IEEE 802.3 clauses 46 and 81: a receiver that cannot hear sends *remote fault* back. We hear the
//! far end, the far end does not hear us; the way out is the one to look at.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The far end cannot hear this one.
pub const FAULT: Fault = Fault {
    name: "remote-fault",
    title: "the far end cannot hear this one",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "This port hears the far end say that it cannot hear us. The way in works, the way out \
 does not.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        Row {
            sees: &see::REMOTE_FAULT,
            yes: 30,
            no: -15,
            vital: true,
            why: "the far end says so itself",
        },
        Row {
            sees: &see::LIGHT_ARRIVES,
            yes: 5,
            no: -35,
            vital: false,
            why: "a remote fault can only be heard over a working way in",
        },
        Row {
            sees: &see::FAR_DARK,
            yes: -12,
            no: 0,
            vital: false,
            why: "a dark far end narrows it to the outgoing strand, which has an entry of its own",
        },
    ],
    confused_with: &[
        Confusion { with: "fec-mismatch", decider: "are both ends set to the same FEC?" },
        Confusion { with: "speed-mismatch", decider: "are both ends set to the same speed?" },
        Confusion { with: "fibre-strand-broken", decider: "does light arrive at the far end?" },
        Confusion { with: "fec-mismatch", decider: "are both ends set to the same FEC?" },
    ],
    next_tests: &[
        NextTest {
            step: "Ask for the far end's receive power",
            tells: "dark: the outgoing strand or its connectors; light there: settings (FEC, speed) or the \
 far receiver",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Inspect and clean the outgoing connector, with a camera-type scope",
            tells: "power rises at the far end: it was dirt",
            care: &[Caution::Eyes],
        },
    ],
    usual_fix: "as found: strand, connector, far receiver or setting",
    sources: &["from memory", "public issue threads"],
    sentence: |_| {
        "The far end says that it cannot hear this one: the way out is broken, the way in works."
            .into()
    },
};
