//! Sentences: the verdict as a tired person can take it in.

use crate::chain::PartKind;
use crate::diagnose::observations::dips_below_limit;
use crate::diagnose::symptoms::{self, contradictions};
use crate::diagnose::verdict::Verdict;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{Certainty, Examined};
use crate::faults::{Consequence, Symptom};
use crate::quantity::Mbps;
use crate::snapshot::{Fact, Port};

/// A speed, or that it is not known.
pub fn speed(speed: &Fact<Mbps>) -> String {
    speed.known().map_or_else(|| "an unknown speed".to_owned(), Mbps::to_string)
}

/// How sure, before a sentence: the same words as beside each cause.
fn hedge(certainty: Certainty, by_site_file: bool, sentence: &str) -> String {
    let word = match certainty {
        Certainty::Established => "Established",
        Certainty::Likely => "Likely",
        Certainty::Possible => "Possible",
    };
    let told = if by_site_file { ", if the site file is right" } else { "" };
    format!("{word}{told}: {}", lowered(sentence))
}

/// The sentence as it goes on behind a colon; abbreviations keep their capitals.
pub(super) fn lowered(sentence: &str) -> String {
    let mut characters = sentence.chars();
    match (characters.next(), characters.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            format!("{}{second}{}", first.to_lowercase(), characters.as_str())
        }
        _ => sentence.to_owned(),
    }
}

/// The verdict in one or two sentences.
pub fn headline(
    view: &View<'_>,
    verdict: Verdict,
    found: &[Symptom],
    causes: &[Examined],
    lacking: &[String],
) -> String {
    let cause = causes.first().and_then(|cause| {
        let sentence = cause.from_far.clone().unwrap_or_else(|| (cause.fault.sentence)(view));
        let sentence = hedge(cause.certainty?, cause.without_site_file.is_some(), &sentence);
        // What is lost is not why.
        let why = (cause.fault.consequence == Consequence::Degraded).then(|| why_down(view.port));
        Some(why.map_or(sentence.clone(), |why| format!("{sentence} {why}")))
    });
    let module_alone = causes.first().is_some_and(|cause| cause.fault.is_about_the_module_alone());
    if let Some(sentence) = cause {
        let up = view.port.carrier == Fact::Known(true);
        let headline = if module_alone && found.contains(&Symptom::Down) {
            format!("{} {} {sentence}", how_down(view), why_down(view.port))
        } else if module_alone && found.contains(&Symptom::Errors) {
            format!("{DAMAGED} {sentence}")
        } else if found.contains(&Symptom::Down) {
            format!("{} {sentence}", how_down(view))
        } else if up && found.contains(&Symptom::Errors) {
            format!("The link is up but damages frames. {sentence}")
        } else {
            sentence
        };
        let mut told = causes.first().map_or(Vec::new(), |cause| cause.fault.explains.to_vec());
        if causes.first().is_some_and(|cause| cause.from_far.is_some()) {
            // The cause's own sentence tells these already; damage is told with its count.
            told = vec![Symptom::FarLight, Symptom::FarModule, Symptom::FarFewErrors];
        }
        let limits = [Symptom::Errors, Symptom::Light, Symptom::FarDamage, Symptom::FarLight];
        let crossed =
            limits.iter().any(|symptom| found.contains(symptom)) || dips_below_limit(view);
        let yet = found.contains(&Symptom::LightMoved) && !crossed;
        let yet = if yet { " No limit is crossed yet." } else { "" };
        return format!("{headline}{yet}{}", beside(view, found, &told));
    }
    match verdict {
        Verdict::Healthy => {
            let why = match (view.site.and_then(|site| site.intended_mbps), view.chain.lowest()) {
                (Some(_), _) => "the speed the site file intends".to_owned(),
                (None, Some((PartKind::Port, _))) => "the best this port can do".to_owned(),
                (None, Some((kind, _))) => format!("the best the {} can do", kind.text()),
                (None, None) => "its speed".to_owned(),
            };
            format!(
                "Runs at {}, {why}, and {}.{}",
                speed(&view.running),
                undamaged(view),
                doubted(view)
            )
        }
        Verdict::Idle if view.port.admin_up == Fact::Known(false) => {
            "Switched off in this host's configuration, and nothing shows that it should be on."
                .into()
        }
        Verdict::Idle => "No link, and nothing shows that this port should have one.".into(),
        _ if found.contains(&Symptom::Down) => {
            format!("{} {}", how_down(view), why_down(view.port))
        }
        _ if found.contains(&Symptom::Errors) => DAMAGED.into(),
        _ if found.contains(&Symptom::FarDamage) => {
            format!("{}.{}", up_here(view), beside(view, found, &[]))
        }
        _ if found.contains(&Symptom::Slow) && view.is_fixed_here() => format!(
            "Runs at {}, which this end is fixed at: autonegotiation is off here. This port could \
             do {}; {}.{}",
            speed(&view.running),
            speed(&view.port_best()),
            match &view.far.autonegotiation {
                Fact::Known(true) => "the far end negotiates",
                Fact::Known(false) => "the far end is fixed too",
                Fact::Missing(_) => "the far end may be fixed too",
            },
            beside(view, found, &[])
        ),
        _ if found.contains(&Symptom::Slow) => format!(
            "Runs at {} although this port could do {}; what is known does not say why.{}",
            speed(&view.running),
            speed(&view.port_best()),
            beside(view, found, &[])
        ),
        _ if !beside(view, found, &[]).is_empty() => {
            let runs = match &view.running {
                Fact::Known(_) => format!("Runs at {}.", speed(&view.running)),
                Fact::Missing(_) => "There is carrier.".to_owned(),
            };
            format!("{runs}{} What is known does not say why.", beside(view, found, &[]))
        }
        _ if found.contains(&Symptom::FewErrors) => few_errors(view),
        // What contradicts a healthy link says more than the name of what would settle it.
        _ if view.running.known().is_some() && !contradictions(view).is_empty() => {
            let seen: Vec<String> =
                contradictions(view).into_iter().map(|(_, seen)| seen).collect();
            format!(
                "Runs at {}; could not tell whether all is well: {}.",
                speed(&view.running),
                seen.join("; ")
            )
        }
        _ if view.running.known().is_some() && !lacking.is_empty() => format!(
            "Runs at {}; could not tell whether all is well, for want of: {}.",
            speed(&view.running),
            lacking.join(", ")
        ),
        _ if !lacking.is_empty() => {
            format!("Could not tell, for want of: {}.", lacking.join(", "))
        }
        _ => "Could not tell.".into(),
    }
}

/// What else was seen, beside what is told already: a sentence each, with a space before it.
fn beside(view: &View<'_>, found: &[Symptom], told: &[Symptom]) -> String {
    let mut text = String::new();
    let untold = |symptom| found.contains(&symptom) && !told.contains(&symptom);
    if untold(Symptom::Flaps)
        && let Some(lost) = symptoms::went_down(view)
    {
        let times = if lost.by == 1 { "once".into() } else { format!("{} times", lost.by) };
        text.push_str(&format!(
            " It went down {times} in the {:.1} s it was watched.",
            lost.seconds
        ));
    }
    if untold(Symptom::NotOperational) {
        text.push_str(
            " It is dormant: something outside (port authentication, say) does not let it in.",
        );
    }
    for (_, sentence) in view.way_out.found.iter().filter(|(symptom, _)| untold(*symptom)) {
        text.push(' ');
        text.push_str(sentence);
    }
    if untold(Symptom::LightMoved) {
        for seen in symptoms::moved_light(view) {
            text.push_str(&format!(" Of the received light: {} ({}).", seen.text, seen.observed));
        }
    }
    if untold(Symptom::Drops) {
        text.push_str(
            " Whole frames are lost or held back in or behind this host, not damaged on the link.",
        );
    }
    text
}

/// The speed, of a link that this end finds no damage on.
fn up_here(view: &View<'_>) -> String {
    format!("Runs at {}, and this end counts no damage", speed(&view.running))
}

/// What is certain about damage on a healthy link: without a rate only the count so far.
fn undamaged(view: &View<'_>) -> String {
    match view.check_sequence_errors() {
        Fact::Known(_) => "no damage is being counted".into(),
        Fact::Missing(why) => {
            let why = why.detail().unwrap_or(why.reason.text()).to_owned();
            format!(
                "no damage has been counted so far; whether any is being counted now is not known: {why}"
            )
        }
    }
}

/// That the module's word is doubted, behind a sentence; empty where it is not.
fn doubted(view: &View<'_>) -> String {
    let doubts = view.module.known().map_or(&[][..], |module| &module.doubts);
    match doubts {
        [] => String::new(),
        [one] => format!(" Doubt about the module: {}.", one.text),
        [first, rest @ ..] => {
            format!(" Doubts about the module: {}, and {} more.", first.text, rest.len())
        }
    }
}

/// A few damaged frames that the standard allows.
fn few_errors(view: &View<'_>) -> String {
    let Some(damaged) = symptoms::few_errors(view) else { return "Could not tell.".into() };
    let frames = if damaged.by == 1 { "frame" } else { "frames" };
    format!(
        "Runs at {}, with {} damaged {frames} in {:.1} s: no more than a bit-error ratio of {:.0e} \
         makes, which the standard allows. Watch longer with --seconds 60.",
        speed(&view.running),
        damaged.by,
        damaged.seconds,
        symptoms::error_ratio(view).unwrap_or_default(),
    )
}

const DAMAGED: &str = "The link is up but damages frames; what is known does not say why.";

/// The driver's reason for a link that is down, or that there is none, as a sentence.
fn why_down(port: &Port) -> String {
    let Fact::Known(state) = &port.ethernet.extended_state else {
        return "What is known does not say why.".into();
    };
    let mut words = state.state.replace('-', " ");
    if let Some(substate) = &state.substate {
        words = format!("{words}, {}", substate.replace('-', " "));
    }
    format!("The driver's reason: {words}.")
}

/// That the link is down, with what is certain about the light.
fn how_down(view: &View<'_>) -> &'static str {
    match view.is_dark() {
        Fact::Known(true) => "The link is down, and no light arrives here.",
        Fact::Known(false)
            if view.any_lane(|lane| &lane.rx_los) == Fact::Known(true)
                && view.optical_module().is_some_and(|module| !module.flags_latched) =>
        {
            "The link is down: light arrives here, but the receiver reports loss of signal."
        }
        Fact::Known(false) if view.optical_module().is_some() => {
            "The link is down, although light arrives here."
        }
        _ => "The link is down.",
    }
}

/// Legs of a bond that have no link, as a sentence with a space before it.
fn legs_without_link(legs: &[String]) -> String {
    match legs {
        [] => String::new(),
        [leg] => format!(" Its leg {leg} has no link: look there."),
        // A host may have many.
        [first, .., last] if legs.len() > 8 => {
            format!(" {} of its legs have no link, {first} to {last}: look there.", legs.len())
        }
        legs => format!(" Its legs {} have no link: look there.", legs.join(", ")),
    }
}

/// The sentence for an interface that software made.
pub fn virtual_headline(port: &Port) -> String {
    let other = port.lower.as_ref().map(|lower| match (&lower.name, lower.elsewhere) {
        (Some(name), _) => name.as_str(),
        (None, true) => "an interface in another network namespace",
        (None, false) => "another interface",
    });
    let pair = port.software_kind.as_deref() == Some("veth");
    // A host may have thousands: pieces are put together once.
    let state: [&str; 3] = match (&port.admin_up, &port.carrier, other) {
        (Fact::Known(false), _, _) => ["switched off", "", ""],
        (_, Fact::Known(false), Some(other)) if pair => {
            ["no carrier, its other end (", other, ") is switched off or pulled"]
        }
        (_, Fact::Known(false), Some(other)) => {
            ["no carrier; look at what it stands on, ", other, ""]
        }
        (_, Fact::Known(false), None) if pair => {
            ["no carrier, its other end is switched off or gone", "", ""]
        }
        (_, Fact::Known(false), None) => ["no carrier, nothing is attached to it", "", ""],
        (_, _, Some(other)) if !pair => ["stands on ", other, ", judge the link there"],
        _ => ["no link of its own to judge", "", ""],
    };
    let kind: [&str; 3] = match port.software_kind.as_deref() {
        Some(kind) => ["Software (", kind, ")"],
        None if port.name == "lo" => ["Loopback", "", ""],
        None => ["Software", "", ""],
    };
    let legs = legs_without_link(&port.legs_without_link);
    [kind.as_slice(), &[": "], &state, &[".", &legs]].concat().concat()
}
