//! Optics and 10G direct attach settle no speed: both ports are set, and the slower port decides.
//! Without any fact about the far end the same picture could be this end's own setting, so then it
//! stays *possible*.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};

/// The far port can do no more.
pub const FAULT: Fault = Fault {
    name: "peer-port-limited",
    title: "the far port can do no more",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The far port can do no more than the speed that runs, while everything at this end \
 could. Nothing is broken: the slower port decides.",
    explains: &[Symptom::Slow],
    consequence: Consequence::Limit,
    before: -10,
    signature: &[
        only_if(&see::LINK_UP),
        Row {
            sees: &see::NO_SPEED_NEGOTIATION,
            yes: 0,
            no: -60,
            vital: false,
            why: "where speed is negotiated the offers tell, not this fault",
        },
        Row {
            sees: &see::NEAR_COULD_DO_MORE,
            yes: 12,
            no: -25,
            vital: false,
            why: "a slower part at this end would explain it",
        },
        Row {
            sees: &see::AT_FAR_CEILING,
            yes: 24,
            no: -60,
            vital: true,
            why: "the far port's best equals the speed",
        },
        Row {
            sees: &see::CAGE_SPLIT,
            yes: -25,
            no: 0,
            vital: false,
            why: "one leg of a cage that is split here can do no more either",
        },
    ],
    confused_with: &[
        Confusion { with: "module-rate-select-low", decider: "can the far port do more?" },
        Confusion { with: "advert-limited-peer", decider: "does this medium negotiate speed?" },
        Confusion { with: "media-rate-limited", decider: "can the module or cable do more?" },
        Confusion { with: "peer-forced-speed", decider: "what can the far port do at most?" },
        Confusion {
            with: "port-split-configured",
            decider: "is this end one leg of a split cage?",
        },
    ],
    next_tests: &[NextTest {
        step: "Make sure at the far end what that port can do and what it is set to (--far FILE, or \
 the site file)",
        tells: "it can do no more: it is the limit; it can: raise both ends together",
        care: &[Caution::NoHazard],
    }],
    usual_fix: "a faster far port, or accept the speed in the site file (intended_mbps)",
    sources: &["common practice, no published source"],
    sentence: |view| {
        use crate::diagnose::words::speed;
        if view.far.best.known().is_some() {
            format!(
                "Runs at {} because the far port{} can do no more; this port could do {}.",
                speed(&view.running),
                view.far.name.as_ref().map_or_else(String::new, |name| format!(" ({name})")),
                speed(&view.port_best())
            )
        } else {
            format!(
                "Runs at {}, and everything known at this end could do more: this end's setting, or the far port.",
                speed(&view.running)
            )
        }
    },
};
