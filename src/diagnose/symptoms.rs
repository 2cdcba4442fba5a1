//! What is wrong to the eye, before any cause is weighed; and what a healthy verdict needs.

use crate::calc::bit_errors;
use crate::calc::rates::Change;
use crate::chain::{PartKind, far, has_own_jack};
use crate::diagnose::observation::{Answer, Observation, Seen};
use crate::diagnose::observations as see;
use crate::diagnose::view::View;
use crate::faults::Symptom;
use crate::module::{Carries, Family, Lane, Module, Word};
use crate::quantity::{Mbps, Milliwatts};
use crate::snapshot::{Connector, Counters, Duplex, Fact, Missing, OperationalState, Port, Reason};

/// Everything that looks wrong on this port.
pub fn symptoms(view: &View<'_>) -> Vec<Symptom> {
    let yes = |look: fn(&View<'_>) -> Answer| matches!(look(view), Answer::Yes(_));
    let mut found = Vec::new();
    if view.port.admin_up == Fact::Known(false) {
        // Nothing else on a port that is switched off is a symptom.
        return vec![Symptom::SwitchedOff];
    }
    if yes(see::ALL_ONES.look) {
        // What an adapter reads that does not answer is no count of anything.
        return vec![Symptom::Lost];
    }
    let down = view.port.carrier == Fact::Known(false);
    if see::is_silent(view) {
        // Nor is what cannot be read of it a fault of what is behind it.
        return if down { vec![Symptom::Down, Symptom::Lost] } else { vec![Symptom::Lost] };
    }
    if down {
        found.push(Symptom::Down);
    }
    if slower_than(view).is_some() || see::is_leg_of_faster_cage(view) {
        found.push(Symptom::Slow);
    }
    if yes(see::SLOT_BELOW_PORT.look) {
        found.push(Symptom::SlotBelowLink);
    }
    if yes(see::ERRORS_RISING.look) {
        let few = few_errors(view).is_some();
        found.push(if few { Symptom::FewErrors } else { Symptom::Errors });
    } else if !down && yes(see::LATE_COLLISIONS.look) {
        // The other end receives them broken.
        found.push(Symptom::Errors);
    }
    // A wholly dark reading on a link that is up is a contradiction, not a symptom: see below.
    if yes(see::RX_LOW.look) || yes(see::RX_HIGH.look) {
        found.push(Symptom::Light);
    }
    if yes(see::HOT.look) || yes(see::ADAPTER_HOT.look) {
        found.push(Symptom::Heat);
    }
    // What is told by the cord's movement was looked at by somebody: that is no reading's noise.
    if !down && !moved_light(view).is_empty() {
        found.push(Symptom::LightMoved);
    }
    // Outside the module's own limits, sending too little, or sending in spite of a fault.
    if outside_its_limits(view) {
        found.push(Symptom::Module);
    }
    if went_down(view).is_some() {
        found.push(Symptom::Flaps);
    }
    // In this host, before it or behind it: whole frames that are lost or made to wait.
    let dropping: [fn(&View<'_>) -> bool; 4] =
        [see::is_lost_here, see::is_holding_back, see::is_held_back, see::is_too_long];
    if dropping.into_iter().any(|is| is(view)) {
        found.push(Symptom::Drops);
    }
    if !down && view.port.operational_state == Fact::Known(OperationalState::Dormant) {
        found.push(Symptom::NotOperational);
    }
    let suffers =
        [Symptom::Down, Symptom::Errors, Symptom::Light].iter().any(|one| found.contains(one));
    // One careless field is said and no more while the link runs without damage; a module that
    // cannot be what it says it is is odd on any link.
    let speaks_against_itself = see::contradicts_itself_hard(view)
        || (suffers && yes(see::IDENTITY_CONTRADICTS.look))
        || (down && yes(see::CHECKSUM_WRONG.look));
    if reads_are_lost(view) || speaks_against_itself {
        found.push(Symptom::Module);
    }
    for (symptom, _) in &view.way_out.found {
        if !found.contains(symptom) {
            found.push(*symptom);
        }
    }
    found
}

/// True if the module is outside its own limits, sends too little, or sends in spite of a fault.
pub fn outside_its_limits(view: &View<'_>) -> bool {
    let yes = |look: fn(&View<'_>) -> Answer| matches!(look(view), Answer::Yes(_));
    let down = view.port.carrier == Fact::Known(false);
    let misused = !down && yes(see::FAULT_SIGNALLED.look) && yes(see::SENDS_LIGHT.look);
    yes(see::SUPPLY_LOW.look)
        || yes(see::BIAS_HIGH.look)
        || see::own_transmitter_is_weak(view)
        || misused
}

/// How the received light moved: in the watch, since an earlier reading, or with the cord.
pub fn moved_light(view: &View<'_>) -> Vec<Seen> {
    if view.optical_module().is_none() {
        return Vec::new();
    }
    let with_the_cord = view.site.and_then(|site| site.changes_when_moved) == Some(true);
    let moved: &[&Observation] = if with_the_cord { &[&see::BENDS_LIGHT] } else { &[] };
    let looks = [&see::LIGHT_JUMPS, &see::FALLEN].into_iter().chain(moved.iter().copied());
    looks
        .filter_map(|one| match (one.look)(view) {
            Answer::Yes(seen) => Some(seen),
            _ => None,
        })
        .collect()
}

/// True if the bus failed where a module is, and readings or all of its memory are lost by it; of
/// optics any part of it, since what limits and flags would have told is lost too.
fn reads_are_lost(view: &View<'_>) -> bool {
    let lost = |module: &Module| {
        module.carries.is_optical()
            || unread(module).iter().any(|(_, why)| see::is_failed_read(why))
    };
    matches!((see::READS_FAIL.look)(view), Answer::Yes(_)) && view.module.known().is_none_or(lost)
}

/// A counter of the kernel's.
type Pick = fn(&Counters) -> &Fact<u64>;

/// How often carrier was lost while being watched, if it was.
pub fn went_down(view: &View<'_>) -> Option<Change> {
    let change = crate::calc::rates::change(&view.port.instants, |instant| {
        instant.carrier_down_count.clone()
    });
    change.known().copied().filter(|change| change.by > 0)
}

/// Damaged frames, where they are no more than the bit-error ratio of the interface type makes
/// among the octets received meanwhile. `None` where there are none, or more, or where codewords
/// beyond correction are counted too, or where what was received is not known.
pub fn few_errors(view: &View<'_>) -> Option<Change> {
    let words = view.uncorrectable_words().change;
    if words.known().is_some_and(|words| words.by > 0) {
        return None;
    }
    let damaged = view.check_sequence_errors().known().copied()?;
    let bits = view.received_bits()?.0;
    let allowed = bit_errors::allowed(damaged.by, bits, error_ratio(view)?);
    (damaged.by > 0 && allowed).then_some(damaged)
}

/// The bit-error ratio that this link may have.
pub fn error_ratio(view: &View<'_>) -> Option<f64> {
    let twisted_pair = matches!((see::TWISTED_PAIR.look)(view), Answer::Yes(_));
    Some(bit_errors::ratio(*view.running.known()?, twisted_pair))
}

/// The speed the link could be expected to have and does not: the near port's best, unless the
/// site file says that the speed that runs is the intended one.
pub fn slower_than(view: &View<'_>) -> Option<Mbps> {
    let running = *view.running.known()?;
    if let Some(intended) = view.site.and_then(|site| site.intended_mbps.map(Mbps)) {
        return (running < intended).then_some(intended);
    }
    let best = *view.port_best().known()?;
    (running < best).then_some(best)
}

/// What a healthy verdict still lacks, with the reason; empty if it is earned.
///
/// Needed: carrier, a speed that equals the lowest known ceiling or the intended one, error
/// counters that were seen to stand still (or have never counted), and every reading of the
/// module that it has and that could be read; on fibre, receive power of every lane and
/// temperature. What the module itself does not implement, and
/// what the driver has no way to read, is a note and not a gap.
pub fn lacking(view: &View<'_>) -> Vec<(&'static str, Missing, &'static str)> {
    use crate::diagnose::observation::{HOW_ASK, HOW_HOST, HOW_MODULE, HOW_RATE};
    let mut gaps = Vec::new();
    match &view.port.admin_up {
        Fact::Known(_) => {}
        Fact::Missing(why) => gaps.push(("administrative state", why.clone(), HOW_HOST)),
    }
    match &view.port.carrier {
        Fact::Known(_) => {}
        Fact::Missing(why) => gaps.push(("carrier", why.clone(), HOW_HOST)),
    }
    if let Fact::Missing(why) = &view.running {
        gaps.push(("speed", why.clone(), HOW_HOST));
    }
    let intended = view.site.is_some_and(|site| site.intended_mbps.is_some());
    if !intended && let Fact::Missing(why) = view.port_best() {
        gaps.push(("what this port can do", why, HOW_HOST));
    }
    match view.check_sequence_errors() {
        Fact::Known(_) => {}
        // Never an error since the counter began is as good as none just now.
        Fact::Missing(why) if why.reason != Reason::Malformed && never_damaged(view) => {}
        Fact::Missing(why) => gaps.push(("receive error counters over time", why, HOW_RATE)),
    }
    for (what, text) in contradictions(view) {
        gaps.push((what, Missing::with(Reason::NotReported, text), HOW_ASK));
    }
    let readable = |why: &Missing| {
        !matches!(why.reason, Reason::NotSupported | Reason::NotImplemented | Reason::NotApplicable)
    };
    // Many hosts tell no slot at all; one that was refused or lost is a gap.
    if let Fact::Missing(why) = &view.port.slot
        && readable(why)
        && !matches!(why.reason, Reason::NotAsked | Reason::NotReported)
    {
        gaps.push((see::SLOT_BELOW_PORT.fact, why.clone(), HOW_HOST));
    }
    if !has_own_jack(view.port) {
        match &view.module {
            Fact::Missing(why) if why.reason == Reason::NotAsked && !is_cage(view) => {}
            Fact::Missing(why) if readable(why) => {
                gaps.push(("module memory", why.clone(), HOW_MODULE));
            }
            Fact::Missing(_) => {}
            Fact::Known(module) => {
                for (what, why) in unread(module) {
                    gaps.push((what, why, HOW_MODULE));
                }
                // Light that nothing can be held against is not known to be enough.
                if view.rx_power().known().is_some()
                    && let Answer::Unknown(why) = (see::RX_LOW.look)(view)
                {
                    gaps.push(("limits of the receive power", why, HOW_MODULE));
                }
            }
        }
    }
    gaps
}

/// Readings of a module that could be there and could not be had, each with the first reason.
///
/// Light, every used lane of it, and temperature are needed for any reason. The others are not
/// judged, and somebody else's readings often leave them out: they are needed only where memory
/// was to be read and was not. What the module does not implement, or has no use for, is no gap.
fn unread(module: &Module) -> Vec<(&'static str, Missing)> {
    let needed = |why: &Missing| {
        !matches!(why.reason, Reason::NotSupported | Reason::NotImplemented | Reason::NotApplicable)
    };
    let cut_off = |why: &Missing| module.family != Family::ParsedReadings && needed(why);
    // Neither light nor temperature is asked of what is certain to be copper.
    let judged = module.carries.is_optical() || module.carries == Carries::Unknown;
    let lane = |pick: fn(&Lane) -> Option<&Missing>, counts: &dyn Fn(&Missing) -> bool| {
        module.used_lanes().filter_map(pick).find(|why| counts(why)).cloned()
    };
    let one = |why: Option<&Missing>, counts: &dyn Fn(&Missing) -> bool| {
        why.filter(|why| counts(why)).cloned()
    };
    let no_lane = (judged && module.used_lanes().next().is_none())
        .then(|| Missing::with(Reason::NotReported, "no lane of the module is in use"));
    let counts: &dyn Fn(&Missing) -> bool = if judged { &needed } else { &cut_off };
    [
        ("receive power", no_lane.or_else(|| lane(|lane| lane.rx_power.why_missing(), counts))),
        ("module temperature", one(module.temperature.why_missing(), counts)),
        ("transmit power", lane(|lane| lane.tx_power.why_missing(), &cut_off)),
        ("laser bias", lane(|lane| lane.bias.why_missing(), &cut_off)),
        ("module supply", one(module.supply.why_missing(), &cut_off)),
    ]
    .into_iter()
    .filter_map(|(what, why)| Some((what, why?)))
    .collect()
}

/// What speaks against calling the link healthy although no symptom is known for it: each is
/// something that happened or was read and that no fault of the catalogue explains yet.
///
/// Each is what to find out, and what was seen, as a clause.
pub fn contradictions(view: &View<'_>) -> Vec<(&'static str, String)> {
    let mut found = Vec::new();
    if view.port.carrier == Fact::Known(true) {
        found.extend(against_carrier(view.port));
        let readings = impossible_while_up(view);
        found.extend(readings.map(|text| ("whether the module's readings are true", text)));
    }
    if view.port.carrier == Fact::Known(true) && view.far.carrier == Fact::Known(false) {
        let text = "the far end's capture shows no link, this end one".to_owned();
        found.push(("which end is right about the link", text));
    }
    let rising: [(&str, Pick); 6] = [
        ("receive errors", |c| &c.receive_errors),
        ("transmit errors", |c| &c.transmit_errors),
        ("frames of a wrong length", |c| &c.receive_length_errors),
        ("alignment errors", |c| &c.receive_alignment_errors),
        ("losses of carrier while sending", |c| &c.transmit_carrier_errors),
        ("late collisions", |c| &c.transmit_late_collisions),
    ];
    for (what, pick) in rising {
        if let Fact::Known(change) = view.counter(pick)
            && change.by > 0
        {
            let text = format!("{what} are being counted ({})", change.by);
            found.push(("why errors are counted", text));
        }
    }
    // Frames only: octets of an old driver go round within minutes.
    let frames: [Pick; 2] = [|c| &c.received_frames, |c| &c.sent_frames];
    let back = frames.into_iter().any(|pick| {
        let change = view.counter(pick);
        change.why_missing().is_some_and(|why| why.reason == Reason::Malformed)
    });
    if back {
        let text = "the frame counters went back, as they do when the driver is loaded anew or the \
                    adapter is reset: what was counted before is lost";
        found.push(("what was counted over the whole time", text.into()));
    }
    if let Some(change) = went_down(view) {
        let times = if change.by == 1 { "once".into() } else { format!("{} times", change.by) };
        let times = format!("it went down {times} while being watched");
        found.push(("why the link goes down", times));
    }
    // Half duplex at both ends, at the speed that is meant, is a choice and no riddle.
    let meant = view.far.duplex.known() == Some(&Duplex::Half)
        && view.site.is_some_and(|site| site.intended_mbps.is_some())
        && slower_than(view).is_none();
    if view.port.ethernet.duplex.known() == Some(&Duplex::Half) && !meant {
        found.push(("why it runs half duplex", "it runs half duplex".into()));
    }
    if let Some(state) = view.port.operational_state.known()
        && !matches!(state, OperationalState::Up | OperationalState::Unknown)
        && view.port.carrier == Fact::Known(true)
    {
        let word = match state {
            OperationalState::Up | OperationalState::Unknown => "up",
            OperationalState::Down => "down",
            OperationalState::Testing => "in a test mode",
            OperationalState::Dormant => "dormant, waiting for something outside",
            OperationalState::NotPresent => "missing a part",
            OperationalState::LowerLayerDown => "down in a layer below",
        };
        let text = format!("its operational state is {word}, in spite of carrier");
        found.push(("why it is not operational", text));
    }
    for (what, state) in [
        ("a transmitter fault", view.any_lane(|lane| &lane.tx_fault)),
        ("a transmitter that is switched off", view.any_lane(|lane| &lane.tx_disabled)),
    ] {
        // A latched flag may be history: it says nothing about a link that is up now. Whether a
        // transmitter is switched off is a control, which no family latches.
        let history = what == "a transmitter fault"
            && view.module.known().is_some_and(|module| module.flags_latched);
        // Of a module that says that it sends all the same, its doubt tells more.
        let doubted = what != "a transmitter fault" && view.sends_though_off();
        if state == Fact::Known(true) && !history && !doubted {
            let text = format!("the module reports {what} on a link that is up");
            found.push(("what the module reports", text));
        }
    }
    // A doubted identity or limit is said and no more: what runs without damage runs.
    if let Fact::Known(module) = &view.module
        && let Some(doubt) = module.doubt_of(Word::Readings)
    {
        found.push(("module readings that can be believed", doubt.text.clone()));
    }
    if let Answer::Yes(seen) = (see::MODULE_NOT_READY.look)(view) {
        let text = format!("{} ({}), on a link that is up", seen.text, seen.observed);
        found.push(("what the module reports", text));
    }
    let corrected = view.fec_counter(|counters| &counters.corrected_blocks);
    let uncorrectable = view.fec_counter(|counters| &counters.uncorrectable_blocks);
    for counter in [corrected, uncorrectable] {
        if let Fact::Missing(why) = counter
            && why.reason == Reason::Malformed
        {
            let text = format!("a counter of FEC codewords cannot be: {why}");
            found.push(("FEC counters over time", text));
        }
    }
    for kind in [PartKind::Port, PartKind::Module] {
        if let (Fact::Known(running), Fact::Known(most)) = (&view.running, view.ceiling(kind))
            && *running > most
        {
            let text = format!("it runs at {running}, and the {} says {most}", kind.text());
            found.push(("which of two speeds is true", text));
        }
    }
    found
}

/// What the driver says that no link which is up can have.
fn against_carrier(port: &Port) -> impl Iterator<Item = (&'static str, String)> {
    let ethernet = &port.ethernet;
    let detected = (ethernet.link_detected == Fact::Known(false))
        .then(|| ("whether there is a link", "the driver detects no link".to_owned()));
    let connector = (ethernet.connector == Fact::Known(Connector::None))
        .then(|| ("what is connected", "the driver says that nothing is connected".to_owned()));
    let reason = ethernet.extended_state.known().map(|state| {
        let state = state.state.replace('-', " ");
        (
            "why a reason is given",
            format!("the driver gives a reason for a link that is down ({state})"),
        )
    });
    let all = [detected, connector, reason].into_iter().flatten();
    all.map(|(what, text)| (what, format!("{text}, in spite of carrier")))
}

/// Readings that no module can have while its link is up: a link needs light both ways, and the
/// laser current that makes it. Light on some lanes only is a symptom, and told as that.
fn impossible_while_up(view: &View<'_>) -> impl Iterator<Item = String> {
    let lanes: Vec<&Lane> =
        view.optical_module().map(|module| module.used_lanes().collect()).unwrap_or_default();
    let known = |pick: fn(&Lane) -> Option<f64>| {
        let values: Option<Vec<f64>> = lanes.iter().map(|lane| pick(lane)).collect();
        values.unwrap_or_default().into_iter().reduce(f64::max)
    };
    let power = |most: Option<f64>, word: &str| {
        let most = Milliwatts(most?);
        let text = most.dbm().map_or_else(|| "0 mW".to_owned(), |_| most.to_string());
        far::is_dark(most).then(|| format!("the module reports {text} {word} while the link is up"))
    };
    let received = power(known(|lane| lane.rx_power.known().map(|power| power.0)), "received");
    // Sending from some lanes only is no symptom of its own, so every lane that is needed counts.
    let sent = power(view.tx_power().known().map(|power| power.0), "transmitted");
    let bias = known(|lane| lane.bias.known().map(|current| current.0))
        .filter(|most| *most <= 0.0)
        .map(|_| "the module reports 0 mA of laser bias while the link is up".to_owned());
    [received, sent, bias].into_iter().flatten()
}

/// True if no frame with a wrong check sequence was ever counted, among frames that were.
fn never_damaged(view: &View<'_>) -> bool {
    let Some(counters) = view.last().and_then(|instant| instant.counters.known()) else {
        return false;
    };
    counters.receive_check_sequence_errors == Fact::Known(0)
        && counters.received_frames.known().is_some_and(|frames| *frames > 0)
}

/// True if the port says that fibre or a direct-attach cable is its medium.
pub fn is_cage(view: &View<'_>) -> bool {
    matches!(view.port.ethernet.connector.known(), Some(Connector::Fibre | Connector::DirectAttach))
}
