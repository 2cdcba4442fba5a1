//! Modules that work on one strand come in pairs: each sends at the wavelength that the other one
//! receives. Two of the same side send at the same wavelength, and each receives nothing but the
//! reflection of its own light, which its filter mostly takes away.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};
use crate::snapshot::Fact;

/// Both ends of one strand hold the same side of a pair.
pub const FAULT: Fault = Fault {
    name: "bidi-same-side",
    title: "both ends of one strand send at the same wavelength",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The link runs on one strand, where the two modules must be partners. Both are of the same side: \
 they send at the same wavelength, and neither receives the other.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::LINK_DOWN),
        only_if(&see::OPTICAL),
        Row {
            sees: &see::ON_ONE_STRAND,
            yes: 8,
            no: -60,
            vital: true,
            why: "on a pair of strands both ends send at the same wavelength, as they should",
        },
        Row {
            sees: &see::SAME_WAVELENGTH,
            yes: 22,
            no: -60,
            vital: true,
            why: "partners on one strand differ",
        },
        Row {
            sees: &see::RX_IN_WINDOW,
            yes: -15,
            no: 4,
            vital: false,
            why: "nothing or a reflection arrives; good light speaks against it",
        },
        Row {
            sees: &see::FAR_SENDS_NOTHING,
            yes: -12,
            no: 0,
            vital: false,
            why: "a silent far end explains the darkness as well",
        },
    ],
    confused_with: &[
        Confusion {
            with: "wavelength-mismatch",
            decider: "do the ends share one strand, where they are meant to differ?",
        },
        Confusion {
            with: "peer-tx-off",
            decider: "do the two modules send at the same wavelength?",
        },
    ],
    next_tests: &[NextTest {
        step: "Compare the labels of both modules: each must send at the wavelength that the other one receives",
        tells: "the same transmit wavelength on both: one of them is the wrong side; partners: look at the far port and the strand",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "the partner of one of the two modules",
    sources: &[
        "IEEE 802.3 clause 59 (1000BASE-BX10-D and -U)",
        "common practice, no published source",
    ],
    sentence: |view| match &view.far.wavelength {
        Fact::Known(nanometres) => format!(
            "Both ends of the one strand send at {nanometres}: both modules are of the same side, and neither hears the other."
        ),
        Fact::Missing(_) => {
            "The two modules may be of the same side: on one strand they must be partners.".into()
        }
    },
};
