//! Observations on the path and on whether the optics of the two ends fit each other and the
//! fibre; and on copper modules, whose reach and heat are their own.

use super::light::{light_here, light_there};
use super::untold;
use super::{
    BEYOND_MULTIMODE_REACH, ERRORS_RISING, RX_IN_WINDOW, RX_LOW, SENDS_LIGHT, beyond_reach,
};
use crate::calc::power_budget::{Loss, Run};
use crate::chain::far::{self, HOW as HOW_FAR};
use crate::diagnose::observation::{Answer, HOW_MEDIUM, HOW_MODULE, HOW_RATE, Observation, Seen};
use crate::diagnose::symptoms::went_down;
use crate::diagnose::view::View;
use crate::module::{Carries, Word};
use crate::quantity::{Decibels, Metres, Nanometres};
use crate::site::SitePort;
use crate::snapshot::{Fact, Missing, Reason};
use crate::standards::media::{self, Grade};
use crate::standards::{accuracy, attenuation, names};

const FIT: &str = "identity of both modules; common practice";

// ---- one strand of two ------------------------------------------------------------------

/// One direction carries light, the other is dark although light is sent into it.
pub const ONE_STRAND_DARK: Observation = Observation {
    name: "one-strand-dark",
    statement: "light is sent into one strand and does not arrive, while the other strand \
        carries light",
    fact: "what the far end sends and receives",
    how: HOW_FAR,
    look: |view| {
        // Of this end's own gaps other observations tell.
        let Fact::Known(dark) = view.is_dark() else { return Answer::Moot };
        let (arrives, far) = (&view.far.receives_light, view.far.told_by);
        let seen = |text: &str, way: &str| Seen::new(text, way, format!("this host, and {far}"));
        let both_way = "the way out and the way in";
        if dark {
            let sends = match (&view.far.admin_up, &view.far.transmits) {
                (Fact::Known(false), _) => Fact::Known(false),
                (_, sends) => sends.clone(),
            };
            match (sends, arrives) {
                (Fact::Known(true), Fact::Known(true)) => Answer::Yes(seen(
                    "the far end sends and none of it arrives here, while our light arrives there",
                    "the way in is dark",
                )),
                (Fact::Known(false), _) => {
                    Answer::No(seen("the far end sends nothing", "no light to lose"))
                }
                (_, Fact::Known(false)) => Answer::No(seen("both ends are dark", both_way)),
                (Fact::Missing(why), _) => Answer::Unknown(why),
                (_, Fact::Missing(why)) => Answer::Unknown(why.clone()),
            }
        } else {
            match (arrives, (SENDS_LIGHT.look)(view)) {
                (Fact::Known(true), _) => Answer::No(seen("light arrives at both ends", both_way)),
                (Fact::Known(false), Answer::Yes(_)) => Answer::Yes(
                    seen(
                        "this end sends and none of it arrives there, while the far end's light \
                         arrives here",
                        "the way out is dark",
                    )
                    .resting_on(&[Word::Readings]),
                ),
                (Fact::Known(false), Answer::No(sent)) => Answer::No(sent),
                (Fact::Known(false), _) => Answer::Moot,
                (Fact::Missing(why), _) => Answer::Unknown(why.clone()),
            }
        }
    },
};

/// Both directions share one strand.
pub const ON_ONE_STRAND: Observation = Observation {
    name: "on-one-strand",
    statement: "both directions share one strand of fibre",
    fact: "number of strands",
    how: "look at the cord, and write `strands` of this link in the site file",
    look: |view| {
        let seen = |yes: bool, observed: &str, source: &str| {
            let text = if yes {
                "both directions share one strand"
            } else {
                "each direction has a strand of its own"
            };
            Seen::new(text, observed, source)
        };
        if let Some(strands) = view.site.and_then(|site| site.strands) {
            let told = format!("{strands} told");
            let seen = seen(strands == 1, &told, "site file");
            return if strands == 1 { Answer::Yes(seen) } else { Answer::No(seen) };
        }
        let own = view.module.as_ref().and_then(crate::module::Module::on_one_strand);
        let source = "interface type and wavelength of the modules";
        match (own, &view.far.on_one_strand) {
            (Fact::Known(true), _) | (_, Fact::Known(true)) => {
                Answer::Yes(seen(true, "a single-fibre type", source).resting_on(&[Word::Identity]))
            }
            (Fact::Known(false), _) => Answer::No(
                seen(false, "no single-fibre type", source).resting_on(&[Word::Identity]),
            ),
            (Fact::Missing(why), _) if why.reason == Reason::NotApplicable => Answer::Moot,
            (Fact::Missing(why), _) => Answer::Unknown(why),
        }
    },
};

// ---- the two modules --------------------------------------------------------------------

/// Where a wavelength lies: receivers are made for one of the first two, or for both of the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Band {
    /// 850 nm and about.
    Short,
    /// About 1310 nm.
    Long,
    /// About 1550 nm.
    Longer,
}

fn band(nanometres: Nanometres) -> Band {
    match nanometres.0 {
        ..1000.0 => Band::Short,
        1000.0..1400.0 => Band::Long,
        _ => Band::Longer,
    }
}

/// What both ends send at.
fn both_wavelengths(view: &View<'_>) -> Result<(Nanometres, Nanometres), Answer> {
    let near = match &view.module {
        Fact::Known(module) if !module.carries.is_optical() => return Err(Answer::Moot),
        Fact::Known(module) => far::wavelength(module),
        // That the module is not known is told by others.
        Fact::Missing(_) => return Err(Answer::Moot),
    };
    match (near, &view.far.wavelength) {
        (Fact::Known(near), Fact::Known(far)) => Ok((near, *far)),
        (Fact::Missing(why), _) => Err(Answer::Unknown(why)),
        (_, Fact::Missing(why)) => Err(Answer::Unknown(why.clone())),
    }
}

/// The lanes' wavelengths of both ends' types, where both are known, are of one speed, and differ
/// with several wavelengths at one end at least.
fn plans_differ<'a>(view: &'a View<'_>) -> Option<(&'a str, &'a str)> {
    let near = view.module.known()?.main_type()?.name.as_str();
    let far = view.far.module_type.known()?.as_str();
    let (ours, theirs) = (media::wavelength_plan(near)?, media::wavelength_plan(far)?);
    let several = media::is_several(ours) || media::is_several(theirs);
    let differ = several && ours != theirs && names::speed_of(near) == names::speed_of(far);
    differ.then_some((near, far))
}

/// The two modules are made for different wavelengths, on a strand for each direction.
pub const WAVELENGTHS_DIFFER: Observation = Observation {
    name: "wavelengths-differ",
    statement: "the modules of the two ends send at wavelengths of different kinds (850, 1310 or \
        1550 nm, or another set of lanes), with a strand for each direction",
    fact: "wavelengths of both modules",
    how: HOW_FAR,
    look: |view| {
        let (near, far) = match both_wavelengths(view) {
            Ok(both) => both,
            Err(answer) => return answer,
        };
        let seen = |text: &str, observed: String| {
            Seen::new(text, observed, FIT).resting_on(&[Word::Identity])
        };
        if let Some((near, far)) = plans_differ(view) {
            return Answer::Yes(seen(
                "the two ends use different sets of wavelengths",
                format!("{near} here, {far} there"),
            ));
        }
        let text = format!("{near} here, {far} there");
        if band(near) == band(far) {
            return Answer::No(seen("both ends send at the same kind of wavelength", text));
        }
        // On one strand the two ends are meant to differ; none does with a short wave.
        if band(near) != Band::Short && band(far) != Band::Short {
            match (ON_ONE_STRAND.look)(view) {
                Answer::Yes(_) => {
                    return Answer::No(seen(
                        "on one strand the two ends are meant to send at different wavelengths",
                        text,
                    ));
                }
                Answer::Unknown(why) => return Answer::Unknown(why),
                Answer::No(_) | Answer::Moot => {}
            }
            if view.far.on_one_strand.known().is_none()
                && view.site.is_none_or(|s| s.strands.is_none())
                && !is_typical(view, far)
            {
                return Answer::Unknown(Missing::with(
                    Reason::NotReported,
                    "the far module may be one that works on one strand",
                ));
            }
        }
        Answer::Yes(seen("the two ends send at different kinds of wavelength", text))
    },
};

/// True if the wavelength is the nominal one of the far module's interface type.
fn is_typical(view: &View<'_>, far: Nanometres) -> bool {
    let typical = view.far.module_type.known().and_then(|name| media::nominal_wavelength(name));
    typical.is_some_and(|nominal| (nominal - far.0).abs() < 20.0)
}

/// A receiver that is not made for what the other end sends.
pub const RECEIVERS_UNFIT: Observation = Observation {
    name: "receivers-unfit",
    statement: "neither receiver is made for the other end's light: short wave against long wave",
    fact: "what the receivers are made for",
    how: HOW_FAR,
    look: |view| match both_wavelengths(view) {
        Ok((near, far)) if (band(near) == Band::Short) != (band(far) == Band::Short) => {
            Answer::Yes(
                Seen::new(
                    "neither receiver is made for the other end's light",
                    format!("{near} here, {far} there"),
                    "wavelength ranges of the interface types (IEEE 802.3)",
                )
                .resting_on(&[Word::Identity]),
            )
        }
        _ => Answer::Moot,
    },
};

/// The lanes of one end miss the other end's filters.
pub const LANE_SETS_DIFFER: Observation = Observation {
    name: "lane-sets-differ",
    statement: "the lanes of one end's type are at other wavelengths than the other's, so that its \
        filters keep them out",
    fact: "lane wavelengths of both types",
    how: HOW_FAR,
    look: |view| match plans_differ(view) {
        Some((near, far)) => Answer::Yes(
            Seen::new(
                "the lanes of one end miss the other end's filters",
                format!("{near} here, {far} there"),
                "lane wavelengths of the interface types (IEEE 802.3 and industry agreements, \
                 partly from memory)",
            )
            .resting_on(&[Word::Identity]),
        ),
        None => Answer::Moot,
    },
};

/// The optics of the two ends do not hear each other, whatever the fibre is like.
pub const OPTICS_UNFIT: Observation = Observation {
    name: "optics-unfit",
    statement: "the receivers are not made for what arrives: short wave against long, other lanes, \
        or both ends of one strand on the same side",
    fact: "whether the optics of both ends fit each other",
    how: HOW_FAR,
    look: |view| {
        let unfit = [RECEIVERS_UNFIT.look, LANE_SETS_DIFFER.look].into_iter();
        let mut seen = unfit.filter_map(|look| match look(view) {
            Answer::Yes(seen) => Some(seen),
            _ => None,
        });
        if let Some(seen) = seen.next() {
            return Answer::Yes(seen);
        }
        match ((ON_ONE_STRAND.look)(view), (SAME_WAVELENGTH.look)(view)) {
            (Answer::Yes(_), Answer::Yes(seen)) => Answer::Yes(seen),
            _ => Answer::Moot,
        }
    },
};

/// Both ends send at the same wavelength.
pub const SAME_WAVELENGTH: Observation = Observation {
    name: "same-wavelength",
    statement: "both ends send at the same wavelength",
    fact: "wavelengths of both modules",
    how: HOW_FAR,
    look: |view| {
        let (near, far) = match both_wavelengths(view) {
            Ok(both) => both,
            Err(answer) => return answer,
        };
        let seen = |text: &str| {
            Seen::new(text, format!("{near} here, {far} there"), FIT)
                .against("different at the two ends of one strand")
                .resting_on(&[Word::Identity])
        };
        // The pairs in use are 40 nm apart at least (1270 and 1330, 1310 and 1490, 1490 and 1550).
        if (near.0 - far.0).abs() < 20.0 {
            Answer::Yes(seen("both ends send at the same wavelength"))
        } else {
            Answer::No(seen("the ends send at different wavelengths"))
        }
    },
};

// ---- the run ----------------------------------------------------------------------------

/// What the module's light is made for; `None` where it cannot be told.
fn sends_short_wave(view: &View<'_>) -> Option<bool> {
    let module = view.optical_module()?;
    match module.carries {
        Carries::MultimodeFibre => Some(true),
        Carries::SingleModeFibre => Some(false),
        _ => module.wavelength.known().map(|nanometres| band(*nanometres) == Band::Short),
    }
}

/// The fibre is not of the kind that the optics are made for.
pub const WRONG_FIBRE: Observation = Observation {
    name: "wrong-fibre",
    statement: "the fibre is of another kind (multimode, single-mode) than the interface type is \
        specified for",
    fact: "grade of the medium",
    how: HOW_MEDIUM,
    look: |view| {
        let Some(short) = sends_short_wave(view) else { return Answer::Moot };
        let Some(grade) = view.site.and_then(SitePort::grade) else {
            return Answer::Unknown(Missing::with(Reason::NotAsked, untold(view, "the medium")));
        };
        if !grade.is_fibre() {
            return Answer::Moot;
        }
        let interface = view.window().map(|row| row.interface);
        let seen = |text: &str| {
            Seen::new(text, format!("{} by the site file", grade.name()), "IEEE 802.3 media")
                .against(format!(
                    "{} is made for {} fibre",
                    interface.unwrap_or("this module"),
                    if short { "multimode" } else { "single-mode" }
                ))
                .resting_on(&[Word::Identity])
        };
        let specified = interface.is_some_and(|name| media::row_on(name, grade).is_some());
        if !specified && grade.is_multimode() != short {
            Answer::Yes(seen("the fibre is of another kind than the optics are made for"))
        } else {
            Answer::No(seen("the fibre is of the kind that the optics are made for"))
        }
    },
};

/// The light is as the wrong kind of fibre would leave it.
pub const LIGHT_AS_ON_WRONG_FIBRE: Observation = Observation {
    name: "light-as-on-wrong-fibre",
    statement: "the light is as the wrong kind of fibre leaves it: low where short wave runs on \
        single-mode fibre, sufficient where long wave runs on multimode fibre",
    fact: "receive light",
    how: HOW_MODULE,
    look: |view| match sends_short_wave(view) {
        // Nothing at all may have any cause.
        _ if view.is_dark() == Fact::Known(true) => Answer::Moot,
        Some(true) => (RX_LOW.look)(view),
        Some(false) => (RX_IN_WINDOW.look)(view),
        None => Answer::Moot,
    },
};

/// Loss of the way in and of the way out, by the readings of both ends.
fn both_losses(view: &View<'_>) -> Result<(Decibels, Decibels), Missing> {
    let (sent_there, received_there) =
        (light_there(view.far.tx_power.clone())?, light_there(view.far.rx_power.clone())?);
    Ok((
        sent_there - light_here(view, view.rx_power())?,
        light_here(view, view.tx_power())? - received_there,
    ))
}

/// Both directions lose much, and alike.
pub const BOTH_WAYS_LOSE_ALIKE: Observation = Observation {
    name: "both-ways-lose-alike",
    statement: "both directions lose much, and alike",
    fact: "loss of both directions",
    how: HOW_FAR,
    look: |view| {
        let (way_in, way_out) = match both_losses(view) {
            Ok(both) => both,
            Err(why) => return Answer::Unknown(why),
        };
        let apart = (way_in.0 - way_out.0).abs();
        let seen = |text: &str| {
            Seen::new(
                text,
                format!("{way_in} on the way in, {way_out} on the way out"),
                "transmit less receive power, both modules",
            )
            .against(format!("alike within {}", accuracy::POWER))
            .resting_on(&[Word::Readings])
        };
        // Each loss is of two readings: between once and twice their accuracy nothing is said.
        if apart > 2.0 * accuracy::POWER.0 {
            Answer::No(seen("one direction loses far more than the other"))
        } else if apart <= accuracy::POWER.0 && way_in.0.min(way_out.0) > accuracy::POWER.0 {
            Answer::Yes(seen("both directions lose alike, so that what they share is the cause"))
        } else {
            Answer::Moot
        }
    },
};

/// The run is longer than the type is specified for.
pub const BEYOND_REACH: Observation = Observation {
    name: "beyond-reach",
    statement: "the run is longer than the interface type is specified for on this fibre",
    fact: BEYOND_MULTIMODE_REACH.fact,
    how: HOW_MEDIUM,
    look: |view| beyond_reach(view, Grade::is_fibre, "the medium is not fibre"),
};

/// Pairs of connectors that a run may well have where nobody tells: two panels and a wall plate.
/// Common practice, no published source.
const CONNECTORS_UNTOLD: u32 = 4;

/// What the run is told to be, and what that loses at the wavelength of this module.
#[derive(Debug, Clone, Copy)]
pub struct Expected {
    /// The run.
    pub run: Run,
    /// False where nobody told the connector pairs, and as many as may well be are taken.
    pub connectors_told: bool,
    /// What it loses.
    pub loss: Loss,
}

/// What the run of the site file loses; `None` where grade, length or wavelength are not known, or
/// where it is no fibre.
pub fn expected_loss(view: &View<'_>) -> Option<Expected> {
    let site = view.site?;
    let (grade, length) = site.grade().zip(site.length_m.map(Metres))?;
    let wavelength = far::wavelength(view.module.known()?).known().copied()?;
    let run = Run {
        grade,
        length,
        connectors: site.connectors.unwrap_or(CONNECTORS_UNTOLD),
        splices: site.splices.unwrap_or(0),
        allowance: Decibels(0.0),
    };
    let connectors_told = site.connectors.is_some();
    Some(Expected { run, connectors_told, loss: run.loss(wavelength)? })
}

/// The loss is what the length of the run makes.
pub const LENGTH_EXPLAINS_LOSS: Observation = Observation {
    name: "length-explains-loss",
    statement: "the loss on the way in is what a run of this length loses, by the far end's \
        transmit power or else by what the type may send",
    fact: "loss against length",
    how: HOW_FAR,
    look: |view| {
        if view.site.and_then(|site| site.grade().zip(site.length_m)).is_none() {
            return Answer::Unknown(Missing::with(
                Reason::NotAsked,
                untold(view, "the medium and its length"),
            ));
        }
        let received = match (view.rx_power(), view.module.as_ref().and_then(far::wavelength)) {
            (Fact::Known(received), Fact::Known(_)) => received,
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => return Answer::Unknown(why),
        };
        let (Some(received), Some(Expected { loss: Loss { least, most, .. }, .. })) =
            (received.dbm(), expected_loss(view))
        else {
            return Answer::Moot;
        };
        // What was sent, and by how much the loss can be wrong.
        let sent = view.far.tx_power.known().and_then(|power| power.dbm());
        let window = view.window().and_then(|row| row.tx_least.zip(row.tx_most));
        let (lowest, highest, slack) = match (sent, window) {
            (Some(sent), _) => (sent - received, sent - received, 2.0 * accuracy::POWER.0),
            (None, Some((from, to))) => (from - received, to - received, accuracy::POWER.0),
            (None, None) => return Answer::Moot,
        };
        let observed = if sent.is_some() {
            lowest.to_string()
        } else {
            format!("{lowest} to {highest}, by what the type may send")
        };
        let seen = |text: &str| {
            Seen::new(text, &observed, attenuation::SOURCE)
                .against(format!("{least} to {most}, give or take {}", Decibels(slack)))
                .resting_on(&[Word::Readings])
        };
        if lowest.0 > most.0 + slack {
            Answer::No(seen("more is lost than the length explains"))
        } else if highest.0 < least.0 - slack {
            Answer::No(seen("less is lost than a run of this length would lose"))
        } else {
            Answer::Yes(seen("the loss is what a run of this length loses"))
        }
    },
};

/// The run or the optics are enough to explain what is lost.
pub const LOSS_IS_EXPLAINED: Observation = Observation {
    name: "loss-is-explained",
    statement: "the run itself explains the loss: too long for the type, of the wrong kind of \
        fibre, or with optics that do not fit each other",
    fact: "what the run and its optics are",
    how: HOW_MEDIUM,
    look: |view| {
        if let Answer::Yes(seen) = (OPTICS_UNFIT.look)(view) {
            return Answer::Yes(seen);
        }
        // What loses in one direction only is not the run as a whole.
        if matches!((BOTH_WAYS_LOSE_ALIKE.look)(view), Answer::No(_)) {
            return Answer::Moot;
        }
        if let Answer::Yes(seen) = (WRONG_FIBRE.look)(view)
            && sends_short_wave(view) == Some(true)
        {
            return Answer::Yes(seen);
        }
        match ((BEYOND_REACH.look)(view), (LENGTH_EXPLAINS_LOSS.look)(view)) {
            (Answer::Yes(seen), Answer::Yes(_)) => Answer::Yes(seen),
            _ => Answer::Moot,
        }
    },
};

// ---- copper modules ---------------------------------------------------------------------

/// The module in the cage is one for twisted pair.
pub const COPPER_MODULE: Observation = Observation {
    name: "copper-module",
    statement: "a module for twisted pair is in the cage",
    fact: "kind of module",
    how: HOW_MODULE,
    look: |view| match &view.module {
        Fact::Known(module) if module.carries == Carries::TwistedPair => Answer::Yes(Seen::new(
            "the module is one for twisted pair",
            module.carries.text(),
            "module memory",
        )),
        Fact::Known(module) => Answer::No(Seen::new(
            "the module is not one for twisted pair",
            module.carries.text(),
            "module memory",
        )),
        Fact::Missing(_) if crate::chain::has_own_jack(view.port) => Answer::No(Seen::new(
            "the port has a jack of its own",
            "twisted-pair jack",
            "connector, as the port says",
        )),
        Fact::Missing(why) => Answer::Unknown(why.clone()),
    },
};

/// The run is longer than this copper module drives at its full rate.
pub const BEYOND_COPPER_MODULE_REACH: Observation = Observation {
    name: "beyond-copper-module-reach",
    statement: "the run is longer than this copper module drives at 10 Gb/s: its own length field, \
        or 30 m for the short-reach kind",
    fact: "length of the run",
    how: HOW_MEDIUM,
    look: |view| {
        let Some(module) = view.module.known().filter(|m| m.carries == Carries::TwistedPair) else {
            return Answer::Moot;
        };
        let ten = crate::quantity::Mbps(10_000);
        let slower_there = view.far.best.known().is_some_and(|best| *best < ten);
        let at = view.running.known().or(module.top_speed.known().filter(|_| !slower_there));
        let full = at.is_some_and(|at| *at >= ten);
        if !full {
            // At lower rates these modules drive what a jack does.
            return Answer::No(Seen::new(
                "it runs below 10 Gb/s, where the reach is that of any jack",
                crate::diagnose::words::speed(&view.running),
                "module data sheets [D14]",
            ));
        }
        let Some(length) = view.site.and_then(|site| site.length_m.map(Metres)) else {
            return Answer::Unknown(Missing::with(Reason::NotAsked, untold(view, "the length")));
        };
        // Code 1Ch of table 4-4 is the kind for 30 m.
        let short = module.interface_types.iter().any(|kind| kind.source.contains("= 1ch"));
        let row = media::rows_of("10GBASE-T pluggable").next();
        let (reach, source) = match (module.cable_length.known(), row) {
            (Some(own), _) => (*own, "length field, SFF-8472 A0h byte 18".to_owned()),
            (None, Some(row)) if short => (
                row.reach,
                "short-reach 10GBASE-T, SFF-8024 table 4-4 code 1Ch; module data sheet [D14]"
                    .into(),
            ),
            _ => {
                return Answer::Unknown(Missing::with(
                    Reason::NotReported,
                    "the module does not tell how far it reaches",
                ));
            }
        };
        let seen = |text: &str| {
            Seen::new(text, length.to_string(), &source)
                .against(format!("{reach} at 10 Gb/s"))
                .resting_on(&[Word::Identity])
        };
        if length > reach {
            Answer::Yes(seen("the run is longer than the module drives"))
        } else {
            Answer::No(seen("the run is no longer than the module drives"))
        }
    },
};

/// The link is down, goes down, or damages frames.
pub const LINK_SUFFERS: Observation = Observation {
    name: "link-suffers",
    statement: "the link is down, went down while being watched, or damages frames",
    fact: "carrier and error counters over the observed time",
    how: HOW_RATE,
    look: |view| {
        let seen = |text: &str, observed: String| Seen::new(text, observed, "kernel counters");
        if view.port.carrier == Fact::Known(false) {
            return Answer::Yes(seen("the link is down", "no carrier".into()));
        }
        if let Some(change) = went_down(view) {
            return Answer::Yes(seen(
                "the link went down while being watched",
                format!("{} in {:.1} s", change.by, change.seconds),
            ));
        }
        (ERRORS_RISING.look)(view)
    },
};

// ---- rate select ------------------------------------------------------------------------

/// A module of two rates is set to the lower one.
pub const RATE_SELECT_LOW: Observation = Observation {
    name: "rate-select-low",
    statement: "the module has two rates, and its rate select is set to the lower one",
    fact: "rate select of the module",
    how: HOW_MODULE,
    look: |view| {
        let source = "rate select, SFF-8472 A2h byte 110 bits 4 and 3";
        let seen = |text: &str, observed: &str| {
            Seen::new(text, observed, source).resting_on(&[Word::Readings])
        };
        // That the module is not known is told by others.
        let Fact::Known(module) = &view.module else { return Answer::Moot };
        match &module.rate_select_high {
            Fact::Known(false) => {
                Answer::Yes(seen("the module's rate select is set to its lower rate", "low"))
            }
            Fact::Known(true) => {
                Answer::No(seen("the module's rate select is set to its higher rate", "high"))
            }
            Fact::Missing(why)
                if matches!(why.reason, Reason::NotApplicable | Reason::NotImplemented) =>
            {
                let why = why.detail().unwrap_or(why.reason.text());
                Answer::No(seen("the module cannot be held at a lower rate", why))
            }
            Fact::Missing(why) => Answer::Unknown(why.clone()),
        }
    },
};
