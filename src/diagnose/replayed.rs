//! What is advised of a port that was read from a capture: it cannot be looked at again, so each
//! look becomes a new capture on the host.

use crate::diagnose::PortDiagnosis;

/// Rewords all that says to look again.
pub fn reword(found: &mut PortDiagnosis) {
    let steps = found.causes.iter_mut().map(|cause| &mut cause.step).chain(&mut found.next_step);
    let steps = steps.map(|step| &mut step.text);
    let asked = found.heard.iter_mut().filter_map(|heard| heard.ask.as_mut());
    let remedies = found.missing.iter_mut().chain(asked).map(|missing| &mut missing.remedy);
    for text in steps.chain(remedies).chain([&mut found.headline]) {
        *text = anew(text);
    }
}

/// The same advice, by a new capture.
pub fn anew(text: &str) -> String {
    text.replace(" with --seconds", " by --seconds")
        .replace("--seconds", "a new capture on the host with --seconds")
        .replace("run as root (", "take a new capture on the host as root (")
}
