//! On multimode fibre the reach is set by modal bandwidth, not by loss: a run can have light to
//! spare and still be too long, so power is healthy while frames are damaged. 25GBASE-SR is
//! specified for 70 m on OM3 and 100 m on OM4.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The multimode run is too long for this type.
pub const FAULT: Fault = Fault {
    name: "mmf-reach-exceeded",
    title: "the multimode run is too long for this type",
    status: Status::Settled,
    part: PartKind::Medium,
    meaning: "The run is longer than this interface type is specified for on this grade of fibre. \
 Light is sufficient, but the pulses smear.",
    explains: &[Symptom::Errors, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::OPTICAL),
        Row {
            sees: &see::BEYOND_MULTIMODE_REACH,
            yes: 24,
            no: -60,
            vital: true,
            why: "length against the published reach",
        },
        Row {
            sees: &see::RX_IN_WINDOW,
            yes: 3,
            no: -25,
            vital: true,
            why: "healthy power is what parts it from loss",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: 5,
            no: -15,
            vital: false,
            why: "without errors the run carries it all the same",
        },
        Row {
            sees: &see::MEDIUM_NEEDS_MORE_FEC,
            yes: -16,
            no: 0,
            vital: false,
            why: "without the FEC it needs a type reaches less far than it is specified for",
        },
    ],
    confused_with: &[
        Confusion { with: "excess-loss", decider: "is the power healthy, or low?" },
        Confusion {
            with: "fec-missing-for-medium",
            decider: "is the FEC that the medium needs at work?",
        },
        Confusion { with: "dirty-connector", decider: "is the power healthy, or low?" },
        Confusion { with: "reach-exceeded", decider: "is the power low, or healthy?" },
        Confusion {
            with: "fibre-type-mismatch",
            decider: "is the interface type specified on multimode fibre at all?",
        },
    ],
    next_tests: &[NextTest {
        step: "Run the link at a lower speed for a while, or shorten it with a test cord",
        tells: "errors stop: it is the length; they stay: look at power and connectors",
        care: &[Caution::Eyes],
    }],
    usual_fix: "better fibre, a shorter run, single-mode optics and fibre, or a lower speed",
    sources: &["TIA Fiber Optics Tech Consortium, 25GBASE-SR overview"],
    sentence: |view| {
        format!(
            "The run is longer than {} is specified for on this fibre.",
            view.window().map_or("this type", |row| row.interface)
        )
    },
};
