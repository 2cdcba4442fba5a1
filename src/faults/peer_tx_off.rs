//! No light comes in while our own transmitter works: the far end is silent. Only the far end can
//! say whether its port is switched off or its fibre is broken.

use crate::chain::PartKind;
use crate::diagnose::observation::Answer;
use crate::diagnose::observations as see;
use crate::diagnose::view::View;
use crate::faults::{
    Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom, only_if,
};
use crate::snapshot::Fact;

/// True where somebody told that the far end sends nothing.
pub(super) fn is_told(view: &View<'_>) -> bool {
    matches!((see::FAR_SENDS_NOTHING.look)(view), Answer::Yes(_))
}

/// The far transmitter is off.
pub const FAULT: Fault = Fault {
    name: "peer-tx-off",
    title: "the far transmitter is off",
    status: Status::Settled,
    part: PartKind::FarPort,
    meaning: "The far end sends no light: its port is switched off, or its transmitter is. This end \
 hears nothing although it sends normally.",
    explains: &[Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        only_if(&see::ENABLED),
        only_if(&see::LINK_DOWN),
        only_if(&see::OPTICAL),
        Row {
            sees: &see::NO_LIGHT_OR_NONE_SENT,
            yes: 12,
            no: -60,
            vital: true,
            why: "light that arrives shows a working far transmitter",
        },
        Row {
            sees: &see::SENDS_LIGHT,
            yes: 4,
            no: -12,
            vital: false,
            why: "a dark transmitter here points to this end",
        },
        Row {
            sees: &see::FAR_SENDS_NOTHING,
            yes: 28,
            no: -60,
            vital: true,
            why: "the far end's own word settles it",
        },
    ],
    confused_with: &[
        Confusion { with: "fibre-strand-broken", decider: "does the far end send?" },
        Confusion {
            with: "bidi-same-side",
            decider: "do the two modules send at the same wavelength?",
        },
        Confusion { with: "admin-down", decider: "whose port is switched off" },
        Confusion {
            with: "fibre-polarity-swapped",
            decider: "does the far end send? does it see our light?",
        },
        Confusion {
            with: "lane-fault",
            decider: "of one dark lane: has the far end switched that lane off?",
        },
        Confusion { with: "no-cable", decider: "does a module answer in this cage?" },
    ],
    next_tests: &[
        NextTest {
            step: "Ask for the far end's facts: is its port switched on, what does it send, what does it \
 receive?",
            tells: "off or dark: the far port; sending: the fibre between; dark there too: swapped or both \
 strands broken",
            care: &[Caution::NoHazard],
        },
        NextTest {
            step: "Have the far port and its transmitter switched on",
            tells: "light arrives: it was off; none: the fibre between",
            care: &[Caution::LaserStarts],
        },
    ],
    usual_fix: "switch the far port on",
    sources: &["public issue threads"],
    sentence: |view| match &view.far.name {
        Some(name) if !view.dark_lanes_off_there().is_empty() => {
            format!("The far end ({name}) has switched the transmitter of a lane off.")
        }
        name if is_told(view) => {
            let port = name.as_ref().map_or_else(String::new, |name| format!(" ({name})"));
            let by = view.far.told_by;
            match &view.far.admin_up {
                Fact::Known(false) => format!("The far port{port} is switched off (told by {by})."),
                _ => format!("The far end{port} sends no light (told by {by})."),
            }
        }
        Some(name) => format!("The far end ({name}) sends no light."),
        None => "The far port or its transmitter is off, or the fibre on the way is broken.".into(),
    },
};
