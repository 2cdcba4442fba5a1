//! The link itself works, and the port waits for something outside (RFC 2863 *dormant*): with Ethernet
//! that is port authentication as a rule. No fact of this host tells what it waits for, so it is no
//! more than likely.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom, only_if};

/// The port waits to be authenticated.
pub const FAULT: Fault = Fault {
    name: "auth-pending",
    title: "the port waits to be let into operation",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "There is carrier, so cable, light and speed are settled, but the port is dormant: it passes no \
 traffic until something outside lets it, port authentication (IEEE 802.1X) as a rule.",
    explains: &[Symptom::NotOperational],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_UP),
        Row {
            sees: &see::WAITS_OUTSIDE,
            yes: 28,
            no: -60,
            vital: true,
            why: "dormant means just this; what it waits for is not told",
        },
    ],
    confused_with: &[],
    next_tests: &[NextTest {
        step: "Look whether an authentication client runs for this port on this host, and what it and the \
 switch say of the last attempt",
        tells: "waiting or refused: credentials, certificate or policy; no client: whoever set the port dormant left it so",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "run or correct the authentication client, or the policy of the far port",
    sources: &["RFC 2863", "kernel networking documentation, operational states"],
    sentence: |_| {
        "The link works, but the port is dormant: it waits to be let into operation, by port \
         authentication as a rule."
            .into()
    },
};
