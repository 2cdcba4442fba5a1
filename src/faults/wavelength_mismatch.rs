//! The two ends hold modules for different wavelengths. A receiver for 850 nm is blind at 1310 nm and
//! the other way round; sets of lanes that differ miss each other's filters. 1310 nm and 1550 nm
//! receivers mostly hear each other, so there the mismatch alone is not the cause. On one strand the
//! ends are meant to differ.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The two modules are made for different wavelengths.
pub const FAULT: Fault = Fault {
    name: "wavelength-mismatch",
    title: "the two modules are made for different wavelengths",
    status: Status::Settled,
    part: PartKind::Module,
    meaning: "The modules of the two ends send at different wavelengths, and neither receiver is made for the \
 other's light. Each end may look well by itself.",
    explains: &[Symptom::Down, Symptom::Errors, Symptom::Light, Symptom::Flaps],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::WAVELENGTHS_DIFFER,
            yes: 16,
            no: -60,
            vital: true,
            why: "what the two modules say they are",
        },
        Row {
            sees: &see::RECEIVERS_UNFIT,
            yes: 20,
            no: 0,
            vital: false,
            why: "short wave against long wave: neither can hear the other",
        },
        Row {
            sees: &see::LANE_SETS_DIFFER,
            yes: 10,
            no: 0,
            vital: false,
            why: "filters keep other lanes out; the lanes of some types are from memory",
        },
        Row {
            sees: &see::LANE_APART,
            yes: 4,
            no: 0,
            vital: false,
            why: "lanes that meet no filter of their own are missing, while others arrive",
        },
        Row {
            sees: &see::LINK_DOWN,
            yes: 2,
            no: -12,
            vital: false,
            why: "a link that is up was heard after all",
        },
        Row {
            sees: &see::FAR_SENDS_NOTHING,
            yes: -15,
            no: 0,
            vital: false,
            why: "a silent far end explains the darkness as well",
        },
    ],
    confused_with: &[
        Confusion {
            with: "fibre-type-mismatch",
            decider: "do the two modules send at the same wavelength?",
        },
        Confusion {
            with: "bidi-same-side",
            decider: "do the ends share one strand, where they are meant to differ?",
        },
        Confusion {
            with: "excess-loss",
            decider: "are both modules made for the same wavelength?",
        },
    ],
    next_tests: &[NextTest {
        step: "Read the labels of both modules, or their identities in both captures",
        tells: "different wavelengths on a pair of strands: one of the two is the wrong type; alike: look at the fibre",
        care: &[Caution::Eyes, Caution::Static],
    }],
    usual_fix: "the same interface type at both ends",
    sources: &[
        "IEEE 802.3 wavelength ranges of each interface type",
        "common practice, no published source",
    ],
    sentence: |view| {
        let near = view.module.known().and_then(|module| module.main_type());
        match (near, view.far.module_type.known()) {
            (Some(near), Some(far)) if near.name != *far => format!(
                "The optics of the two ends do not fit each other: {} here, {far} there.",
                near.name
            ),
            _ => "The optics of the two ends are for different wavelengths.".into(),
        }
    },
};
