//! The next test: what would best part the leading causes, cheapest and safest first.
//!
//! Reading a missing fact costs a minute and no risk, so a gap whose answer would move the
//! leaders apart comes first; the leader's own physical step follows.

use crate::diagnose::observation::{Answer, HOW_HOST, HOW_LOG, HOW_MODULE};
use crate::diagnose::observations;
use crate::diagnose::view::View;
use crate::diagnose::weigh::{Certainty, Examined, Gap};
use crate::faults::{Caution, Fault, Symptom};
use crate::snapshot::{Fact, Reason};

/// A step to take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub text: String,
    /// What its outcome would tell.
    pub tells: String,
    /// Cautions, in full.
    pub cautions: Vec<&'static str>,
}

/// How far apart, in decibans, an answer must push two causes to be worth asking for first: ten to
/// one.
const WORTH_ASKING: i32 = 10;
/// A leader is not more than this behind the first, decibans: a hundred to one.
const STILL_LEADING: i32 = 20;

/// The step for one cause among the leaders: the fact that would part it from the others best, as
/// long as one can be had by reading or asking; else its own first test.
pub fn step(view: &View<'_>, cause: &Examined, leaders: &[Examined]) -> Step {
    let rivals: Vec<&Examined> = leaders
        .iter()
        .filter(|other| other.fault.name != cause.fault.name)
        .filter(|other| (cause.weight.0 - other.weight.0).abs() <= STILL_LEADING)
        .collect();
    let mut best: Option<(i32, &Gap)> = None;
    let of_rivals = rivals.iter().flat_map(|rival| &rival.gaps);
    for gap in cause.gaps.iter().chain(of_rivals).filter(|gap| can_be_had(gap)) {
        let own = vital_to(cause, gap);
        let parts = rivals.iter().map(|rival| parts(cause, rival, gap)).max().unwrap_or(0);
        // Without what is vital to it a cause stays possible, however the others fare.
        let score = if own { gap.swing.max(parts) + 100 } else { parts };
        // What is established needs no more reading before the remedy's first step.
        let open = own || cause.certainty != Some(Certainty::Established);
        if open && score >= WORTH_ASKING && best.is_none_or(|(most, _)| score > most) {
            best = Some((score, gap));
        }
    }
    let Some((_, gap)) = best else { return physical(view, cause.fault) };
    let seen = gap.observation;
    let rival = rivals.iter().max_by_key(|rival| parts(cause, rival, gap));
    let outcomes = rival.filter(|rival| parts(cause, rival, gap) >= WORTH_ASKING).map(|rival| {
        let (yes, no) = apart(cause, rival, gap);
        let (so, not) = if yes >= no { (cause, *rival) } else { (*rival, cause) };
        format!("; if so, rather that {}; if not, rather that {}", so.fault.title, not.fault.title)
    });
    Step {
        text: format!("Find out: {} ({})", seen.fact, gap.how),
        tells: format!("it decides whether {}{}", seen.statement, outcomes.unwrap_or_default()),
        cautions: Vec::new(),
    }
}

/// The step for a cause that the far end raised: its own first test, with the end it is seen from.
pub fn step_there(view: &View<'_>, cause: &Examined) -> Step {
    let step = physical(view, cause.fault);
    Step { text: format!("As seen from the far end: {}", step.text), ..step }
}

/// False where this host or module can never tell it.
fn can_be_had(gap: &Gap) -> bool {
    use Reason::{NotApplicable, NotImplemented, NotSupported};
    let never = matches!(gap.why.reason, NotApplicable | NotImplemented | NotSupported);
    gap.swing > 0 && !(never && matches!(gap.how, HOW_HOST | HOW_MODULE | HOW_LOG))
}

fn vital_to(cause: &Examined, gap: &Gap) -> bool {
    cause.gaps.iter().any(|own| own.vital && own.observation.name == gap.observation.name)
}

/// What a yes and a no would add to the first cause more than to the second, decibans.
fn apart(one: &Examined, other: &Examined, gap: &Gap) -> (i32, i32) {
    let row = |cause: &Examined| {
        let mut rows = cause.fault.signature.iter();
        rows.find(|row| row.sees.name == gap.observation.name)
            .map_or((0, 0), |row| (row.yes, row.no))
    };
    let (one, other) = (row(one), row(other));
    (one.0.saturating_sub(other.0), one.1.saturating_sub(other.1))
}

/// How far an answer would push two causes apart, whichever answer it is.
fn parts(one: &Examined, other: &Examined, gap: &Gap) -> i32 {
    let (yes, no) = apart(one, other, gap);
    yes.saturating_sub(no).saturating_abs()
}

/// The step where something is wrong and no fault of the catalogue fits: what parts the ends of
/// the link and its parts from one another. Common practice, no published source.
pub fn without_cause(view: &View<'_>, symptoms: &[Symptom]) -> Step {
    let (text, tells, touches) = if view.sends_though_off() && symptoms.is_empty() {
        match view.far.receives_light {
            Fact::Known(true) => (
                "Have the module changed for one that tells the truth when it suits: light arrives \
                 at the far end, so it sends, and its word that it is switched off is wrong",
                "the contradiction goes with the module; if it stays, the driver tells it wrongly",
                true,
            ),
            Fact::Known(false) => (
                "Switch the port off and on again in the host's configuration and read the module \
                 once more: no light arrives at the far end, so it may be off as it says",
                "the state clears: it was left over; it stays: change the module; it clears and no \
                 light arrives there: look at the way out",
                true,
            ),
            Fact::Missing(_) => (
                "Read the module once more; if it still says both, find out whether its light \
                 arrives at the far end (--far FILE)",
                "light there: it sends, and its word that it is switched off is wrong; none: it is \
                 off as it says, and its power reading is wrong",
                false,
            ),
        }
    } else if symptoms.contains(&Symptom::Down) {
        (
            "Ask whether the far port is switched on and what it receives (--far FILE), then look \
             whether both plugs are home",
            "a far end that is off explains it; one that is on and hears nothing points to the way \
             there",
            true,
        )
    } else if symptoms.contains(&Symptom::FarDamage) {
        (
            "Clean and inspect the connectors of the strand or cable that this end sends on, at both \
             ends, then change this module, and see whether the far end still counts",
            "errors that the far end counts are made on the way out or in this transmitter; if they \
             stop, what was changed was at fault",
            true,
        )
    } else if symptoms.contains(&Symptom::Errors) {
        (
            "Take the far end's capture too (--far FILE) and see whether it counts errors; then \
             change one thing at one end, the patch cord first, and look again",
            "errors counted here are made on the way to here; if they stop, what was changed was \
             at fault, if they stay, go on to the next part",
            true,
        )
    } else if symptoms.contains(&Symptom::FewErrors) {
        (
            "Look again for longer: --seconds 60",
            "no more of them: it was chance, or is over; more of them: the link damages frames, \
             and the verdict will say so",
            false,
        )
    } else if symptoms.contains(&Symptom::Slow) && view.is_fixed_here() {
        (
            "Find out whether the far port is fixed at this speed too (--far FILE, or the site \
             file), and change neither end alone",
            "fixed there too: raise both ends together, or write the speed in the site file; it \
             negotiates: it hears no offer and assumes half duplex, so let this end negotiate again",
            false,
        )
    } else if symptoms.contains(&Symptom::Slow) {
        (
            "Find out what the far port can do and what it is set to (--far FILE)",
            "a far port that \
          can do no more is the limit; one that can is set lower, or does not agree",
            false,
        )
    } else if symptoms.contains(&Symptom::Flaps) {
        (
            "Look again with --seconds 60, while idle and while busy, and ask the far end what it \
             counts and logs at the same moments",
            "losses at both ends at once are the link's or a restart's; under load, with movement, or \
             with warmth each points to another part",
            false,
        )
    } else if symptoms.contains(&Symptom::Drops) {
        (
            "Look at this host, not at the link: how busy its processors are, and whether what it \
             sends to or takes from can keep up",
            "losses that go with load are the host's or its neighbour's, and no cable cures them",
            false,
        )
    } else if symptoms.contains(&Symptom::NotOperational) {
        (
            "Ask who runs the far port whether it wants authentication, and look at this host's \
             client for it",
            "a port that is let in becomes operational by itself",
            false,
        )
    } else {
        (
            "Get what is listed as not known, and look again with --seconds 60",
            "with those facts the link can be judged",
            false,
        )
    };
    // Whatever is not known to be twisted pair may carry light.
    let may_be_fibre = !matches!((observations::TWISTED_PAIR.look)(view), Answer::Yes(_));
    let care: &[Caution] =
        if touches && may_be_fibre { &[Caution::Eyes, Caution::Static] } else { &[] };
    Step {
        text: text.to_owned(),
        tells: tells.to_owned(),
        cautions: cautions(view, care.iter().copied(), &[text], tells),
    }
}

fn physical(view: &View<'_>, fault: &Fault) -> Step {
    match fault.first_test(view) {
        Some(test) => Step {
            text: crate::faults::with_value(test.step, view),
            tells: test.tells.to_owned(),
            cautions: cautions(view, test.care.iter().copied(), &[test.step], test.tells),
        },
        None => {
            let cautions = cautions(view, std::iter::empty(), &[fault.usual_fix], "");
            Step { text: fault.remedy_on(view), tells: String::new(), cautions }
        }
    }
}

/// What the usual remedy needs care for.
pub fn remedy_cautions(view: &View<'_>, fault: &Fault, step: &Step) -> Vec<&'static str> {
    let tests = || fault.next_tests.iter();
    let texts: Vec<&str> = tests().map(|test| test.step).chain([fault.usual_fix]).collect();
    let mut care = cautions(view, tests().flat_map(|test| test.care).copied(), &texts, "");
    // A remedy that names a part only is known by what its tests need care for.
    let by_hand = |care: &Caution| !matches!(care, Caution::NoHazard | Caution::LaserStarts);
    if is_up(view) && tests().flat_map(|test| test.care).any(by_hand) && !care.contains(&TRAFFIC) {
        care.push(TRAFFIC);
    }
    // Said once for both, where the step's outcome says it already.
    if step.cautions.contains(&TRAFFIC_THEN) {
        care.iter_mut().filter(|one| **one == TRAFFIC).for_each(|one| *one = TRAFFIC_THEN);
    }
    care
}

/// Said of a step that interrupts a link which is up.
pub const TRAFFIC: &str = "Traffic stops meanwhile: this link is up, and what it carries stops while \
    a part of it is unplugged, re-seated, cleaned, changed, set anew or switched off. Choose a time \
    for it, or move the traffic first.";
/// Said of a step that looks or asks only, where its outcome has something changed.
pub const TRAFFIC_THEN: &str = "Traffic stops once something is changed: this link is up, and what it \
    carries stops while a part of it is changed, or its speed, negotiation, FEC or splitting is set \
    anew. Choose a time for it, or move the traffic first.";
/// Said where a setting of either end is changed on a link that is up.
pub const LOCKED_OUT: &str = "You may lock yourself out: if you reach the other end, or this host, over \
    this very link, a setting that does not fit at once leaves you no way back. Have another way in \
    first.";
/// What interrupts a link, as steps and remedies of the catalogue put it.
const INTERRUPTS: [&str; 27] = [
    "another machine",
    "attenuator",
    "change one thing",
    "change the",
    "change this",
    "changed for one",
    "clean",
    "home until",
    "in this cage",
    "into another cage",
    "off and on",
    "label",
    "over a short",
    "plug the",
    "power meter",
    "put it back",
    "re-seat",
    "re-terminate",
    "replace",
    "seat the connector",
    "shorten it",
    "shut the machine down",
    "slot",
    "swap",
    "take the module",
    "try a module",
    "try the module",
];

/// True if what is said to be done takes the link down for a while.
pub fn interrupts(text: &str) -> bool {
    let text = text.to_lowercase();
    INTERRUPTS.iter().any(|words| text.contains(words))
}

/// What sets a link anew, so that it goes down and comes up again, as steps, outcomes and remedies of
/// the catalogue put it.
const SETS_ANEW: [&str; 23] = [
    "100base-tx as a stop-gap",
    "100base-tx only",
    "autonegotiation on at both ends",
    "both ends negotiate",
    "both on (twisted pair)",
    "efficient ethernet off",
    "fec at both ends",
    "fec that the medium needs",
    "let both negotiate",
    "let both use it",
    "let it offer",
    "let the port offer",
    "let this end negotiate",
    "lower speed",
    "off and on",
    "raise both",
    "same speed at both ends",
    "set both",
    "set it to",
    "set the port of each end",
    "split it",
    "switched off at both ends",
    "the split",
];

/// True if what is said to be done changes a setting that takes the link down for a while.
pub fn sets_anew(text: &str) -> bool {
    let text = text.to_lowercase();
    SETS_ANEW.iter().any(|words| text.contains(words))
}

fn is_up(view: &View<'_>) -> bool {
    view.port.carrier == Fact::Known(true)
}

/// Cautions in full, each once: of the step's own kind, and by the state of the link and what the
/// step or its outcome does to it. No light starts on twisted pair.
fn cautions(
    view: &View<'_>,
    care: impl Iterator<Item = Caution>,
    steps: &[&str],
    outcome: &str,
) -> Vec<&'static str> {
    let twisted_pair = matches!((observations::TWISTED_PAIR.look)(view), Answer::Yes(_));
    let care = care.filter(|care| !(twisted_pair && *care == Caution::LaserStarts));
    let up = is_up(view);
    let sets = up && steps.iter().copied().chain([outcome]).any(sets_anew);
    let traffic = if !up {
        None
    } else if steps.iter().any(|step| interrupts(step) || sets_anew(step)) {
        Some(TRAFFIC)
    } else {
        (interrupts(outcome) || sets).then_some(TRAFFIC_THEN)
    };
    let mut texts: Vec<&str> = Vec::new();
    for text in care.filter_map(Caution::text).chain(traffic).chain(sets.then_some(LOCKED_OUT)) {
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    texts
}
