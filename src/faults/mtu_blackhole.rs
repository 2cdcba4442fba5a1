//! One end may send longer frames than the other end takes. Small ones pass, so that everything
//! seems well; long ones are dropped without a word, at best counted as of a wrong length.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Consequence, Fault, NextTest, Row, Status, Symptom, only_if};

/// Long frames are lost for their length.
pub const FAULT: Fault = Fault {
    name: "mtu-blackhole",
    title: "the two ends do not take frames of one length",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "The two ends are set to different longest frames (MTU). Small frames pass both ways, \
 longer ones than the other end takes are lost there without an answer.",
    explains: &[Symptom::Drops],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::LENGTHS_DISAGREE,
            yes: 12,
            no: -60,
            vital: true,
            why: "with the same longest frame at both ends none is too long; that they differ does \
 not show that long ones are sent",
        },
        Row {
            sees: &see::WRONG_LENGTHS_COUNTED,
            yes: 18,
            no: -4,
            vital: false,
            why: "the loss itself; many drivers do not count it",
        },
        Row {
            sees: &see::ERRORS_RISING,
            yes: -12,
            no: 4,
            vital: false,
            why: "a link that damages frames makes wrong lengths too",
        },
    ],
    confused_with: &[],
    next_tests: &[NextTest {
        step: "Send an echo request as long as this end's longest frame to the device at the far \
 end, with fragmenting forbidden, and one of 500 octets",
        tells: "only the small one is answered: the lengths differ on the way; both are: this link \
 takes them",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "the same longest frame at both ends, and at every device between",
    sources: &["IEEE 802.3 30.3.1.1.23-25", "public issue threads"],
    sentence: see::length_sentence,
};
