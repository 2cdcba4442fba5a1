//! Energy-efficient Ethernet lets the link sleep between frames; some pairs of PHYs lose it when
//! they wake. It drops while idle and holds under load, and no frame is damaged.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom, only_if};

/// The link is lost while it sleeps.
pub const FAULT: Fault = Fault {
    name: "eee-flap",
    title: "the link is lost while energy saving lets it sleep",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "Energy-efficient Ethernet is active, and the link drops while next to nothing is \
 sent. The two PHYs do not wake together; the cable may be well.",
    explains: &[Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::TWISTED_PAIR),
        Row {
            sees: &see::ENERGY_SAVING_ACTIVE,
            yes: 6,
            no: -60,
            vital: true,
            why: "it cannot be without; alone it says little, for many good links have it",
        },
        Row {
            sees: &see::IDLE_MEANWHILE,
            yes: 6,
            no: -20,
            vital: true,
            why: "a link in use does not sleep; but most links are idle most of the time",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: -15,
            no: 4,
            vital: false,
            why: "a poor cable damages frames as well as dropping the link",
        },
        Row {
            sees: &see::LOST_AGAIN_AND_AGAIN,
            yes: 5,
            no: 0,
            vital: false,
            why: "a plug that was pulled is lost once; a link that cannot wake, each time it sleeps",
        },
    ],
    confused_with: &[],
    next_tests: &[NextTest {
        step: "Have energy-efficient Ethernet switched off at both ends for a day, and compare",
        tells: "no more drops: it was that; as many: change the patch cord",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "energy-efficient Ethernet off at both ends",
    sources: &["IEEE 802.3 clause 78", "public issue threads"],
    sentence: |_| {
        "The link drops while it is idle and energy-efficient Ethernet lets it sleep; no damage is \
         counted."
            .into()
    },
};
