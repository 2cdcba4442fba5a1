//! One direction works, the other is dark although light is sent into it. A broken strand, an
//! unplugged connector on the way and a dead receiver at its end look the same from both hosts, so
//! this stays below *established*.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};
use crate::snapshot::Fact;

/// One of the two strands carries no light.
pub const FAULT: Fault = Fault {
    name: "fibre-strand-broken",
    title: "one of the two strands carries no light",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "Light is sent into one strand and does not arrive, while the other strand works. The strand or one \
 of its connectors is broken or unplugged, or the receiver at its end is dead.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        only_if(&see::OPTICAL),
        Row {
            sees: &see::ONE_STRAND_DARK,
            yes: 26,
            no: -60,
            vital: true,
            why: "sent and not received, in one direction only; a dead receiver looks the same",
        },
        Row {
            sees: &see::REMOTE_FAULT,
            yes: 3,
            no: 0,
            vital: false,
            why: "the far end says itself that it cannot hear",
        },
        Row {
            sees: &see::ON_ONE_STRAND,
            yes: -40,
            no: 0,
            vital: false,
            why: "on one strand a break darkens both directions",
        },
        Row {
            sees: &see::RECEIVERS_UNFIT,
            yes: -20,
            no: 0,
            vital: false,
            why: "a receiver for another wavelength is dark on a whole strand",
        },
    ],
    confused_with: &[
        Confusion { with: "remote-fault", decider: "does light arrive at the far end?" },
        Confusion { with: "peer-tx-off", decider: "does the far end send?" },
        Confusion {
            with: "fibre-polarity-swapped",
            decider: "does light arrive at one of the ends, or at neither?",
        },
    ],
    next_tests: &[NextTest {
        step: "Measure the light at the far connector of the dark strand with a power meter, after looking whether every plug along it is home",
        tells: "light there: the receiver behind it is dead or its connector dirty; none: the strand, look for the break section by section",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "a spare strand, or repair of the broken one",
    sources: &["from memory", "common practice, no published source"],
    sentence: |view| {
        if view.is_dark() == Fact::Known(true) {
            "The far end sends and no light arrives here, while our light arrives there: the strand on the way in is broken or unplugged, or this receiver is dead.".into()
        } else {
            "This end sends and no light arrives at the far end, while its light arrives here: the strand on the way out is broken or unplugged, or the far receiver is dead.".into()
        }
    },
};
