//! Observations of the module itself: whether it can be read, whether what it says fits together,
//! whether it is let have its power; and whether the port is let into operation.

use crate::chain::has_own_jack;
use crate::diagnose::observation::{Answer, HOW_HOST, HOW_LOG, HOW_MODULE, Observation, Seen};
use crate::diagnose::observations::{NOTHING_PLUGGED, RFC2863};
use crate::diagnose::view::View;
use crate::module::{Carries, Checksum, DoubtKind, Family, Module, Word, codes};
use crate::quantity::{Milliamps, Nanometres};
use crate::snapshot::{Fact, MemoryBlock, Missing, OperationalState, Reason};
use crate::standards::names;

const DRIVER: &str = "the driver's link down reason";

/// The port has been brought up and waits for something outside.
pub const WAITS_OUTSIDE: Observation = Observation {
    name: "waits-outside",
    statement: "the port's operational state is dormant: it waits for something outside",
    fact: "operational state",
    how: HOW_HOST,
    look: |view| {
        Answer::by(
            view.port.operational_state.clone().map(|state| state == OperationalState::Dormant),
            || Seen::new("the port waits for something outside", "dormant", RFC2863),
            || Seen::new("the port waits for nothing outside", "not dormant", RFC2863),
        )
    },
};

// ---- reading it ---------------------------------------------------------------------------

/// True if the bus failed or did not answer in time.
pub fn is_failed_read(why: &Missing) -> bool {
    matches!(why.reason, Reason::BusError | Reason::TimedOut)
}

/// Every byte came alike: the bus floats, or the driver made the bytes up.
fn is_nothing_answered(why: &Missing) -> bool {
    why.reason == Reason::Malformed
        && why.detail().is_some_and(|detail| detail.ends_with("nothing answered"))
}

fn failed_blocks<'a>(view: &View<'a>) -> impl Iterator<Item = (&'a MemoryBlock, &'a Missing)> {
    let blocks = view.port.module.memory.known().map(Vec::as_slice).unwrap_or_default();
    blocks
        .iter()
        .filter_map(|block| Some((block, block.bytes.why_missing()?)))
        .filter(|(_, why)| is_failed_read(why))
}

/// True if a stretch of the module's memory came.
fn some_read(view: &View<'_>) -> bool {
    let blocks = view.port.module.memory.known();
    blocks.is_some_and(|blocks| blocks.iter().any(|block| block.bytes.known().is_some()))
}

fn stretch(block: &MemoryBlock) -> String {
    let bank = if block.bank == 0 { String::new() } else { format!("bank {}, ", block.bank) };
    let address = u16::from(block.two_wire_address) * 2;
    format!("address {address:02X}h, {bank}page {:02x}h from byte {}", block.page, block.offset)
}

/// Why the module could not be read, where that is so; or why nobody can tell.
fn failed_read(view: &View<'_>) -> Result<Option<(String, Missing)>, Missing> {
    if let Answer::Yes(_) = (NOTHING_PLUGGED.look)(view) {
        return Ok(None);
    }
    match &view.module {
        Fact::Missing(why) if is_failed_read(why) && !some_read(view) => {
            Ok(Some(("all of the module's memory".into(), why.clone())))
        }
        // It was read, but what follows no known map tells nothing.
        Fact::Missing(why) if matches!(view.port.module.memory, Fact::Missing(_)) => {
            Err(why.clone())
        }
        _ => Ok(failed_blocks(view).next().map(|(block, why)| {
            let more = match failed_blocks(view).count() - 1 {
                0 => String::new(),
                more => format!(", and {more} more"),
            };
            (format!("{}{more}", stretch(block)), why.clone())
        })),
    }
}

/// What could not be read, as a sentence.
pub fn unreadable_sentence(view: &View<'_>) -> String {
    match failed_read(view) {
        Ok(Some((what, why))) => format!("The module cannot be read ({what}): {why}."),
        _ => "The module cannot be read.".into(),
    }
}

/// Reads of the module fail.
pub const READS_FAIL: Observation = Observation {
    name: "reads-fail",
    statement: "a module is there, and reads of its memory fail (bus error, or no answer in time)",
    fact: "whether reads of the module succeed",
    how: HOW_MODULE,
    look: |view| {
        if has_own_jack(view.port) || of_sensors_alone(view) {
            return Answer::Moot;
        }
        match failed_read(view) {
            Ok(Some((what, why))) => Answer::Yes(Seen::new(
                format!("a read fails: {what}"),
                why.to_string(),
                "module memory",
            )),
            Ok(None) => Answer::No(Seen::new(
                "no read of the module failed",
                "no bus error",
                "module memory",
            )),
            Err(why) => Answer::Unknown(why),
        }
    },
};

/// Not one read of the module succeeds.
pub const EVERY_READ_FAILS: Observation = Observation {
    name: "every-read-fails",
    statement: "the driver sees a module, and not one read of it succeeds",
    fact: "whether anything of the module can be read",
    how: HOW_MODULE,
    look: |view| {
        if has_own_jack(view.port) || of_sensors_alone(view) {
            return Answer::Moot;
        }
        let yes = |why: &Missing| {
            let text = "not one read of the module succeeds";
            Answer::Yes(Seen::new(text, why.to_string(), "module memory"))
        };
        match (&view.module, &view.port.module.memory) {
            (Fact::Missing(why), _) if is_nothing_answered(why) => yes(why),
            (Fact::Missing(why), _) if is_failed_read(why) && !some_read(view) => yes(why),
            (Fact::Missing(why), Fact::Missing(_)) => Answer::Unknown(why.clone()),
            _ => Answer::No(Seen::new("reads of the module succeed", "read", "module memory")),
        }
    },
};

/// Nothing acknowledged at the module's address: a cage that is empty may look the same.
pub const NOTHING_LISTENS: Observation = Observation {
    name: "nothing-listens",
    statement: "nothing answers at the module's address, as in an empty cage",
    fact: "how reads of the module fail",
    how: HOW_MODULE,
    look: |view| match &view.module {
        Fact::Missing(why) if why.detail().is_some_and(|d| d.starts_with("nothing answers at")) => {
            Answer::Yes(Seen::new("nothing listens, as in an empty cage", why.to_string(), "bus"))
        }
        _ => Answer::Moot,
    },
};

/// Reads were given up for want of time, which a busy host does as well.
pub const READS_LATE: Observation = Observation {
    name: "reads-late",
    statement: "reads were given up for want of time, as on a busy host",
    fact: "what became of the reads that failed",
    how: HOW_MODULE,
    look: |view| match failed_read(view) {
        Ok(Some((_, why))) if why.reason == Reason::TimedOut => {
            Answer::Yes(Seen::new("no answer came in time", why.to_string(), "module memory"))
        }
        _ => Answer::Moot,
    },
};

/// The kernel log says that the module could not be read.
pub const LOG_READ_FAILS: Observation = Observation {
    name: "log-read-fails",
    statement: "the kernel log says that the module could not be read",
    fact: "kernel log on reading the module",
    how: HOW_LOG,
    look: |view| {
        logged(view, "the kernel could not read the module", |line| {
            (line.contains("failed to read") && line.contains("eeprom"))
                || line.contains("module slow to respond")
                || line.contains("eeprom short read")
        })
    },
};

/// Memory was to be read and was not, and sensors tell something all the same.
fn of_sensors_alone(view: &View<'_>) -> bool {
    view.module.known().is_some_and(|module| module.family == Family::ParsedReadings)
}

fn logged(view: &View<'_>, text: &str, fits: fn(&str) -> bool) -> Answer {
    match view.log_line(fits) {
        Fact::Known(Some(line)) => Answer::Yes(Seen::new(text, line, "kernel log")),
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    }
}

/// The driver's reason for a link that is down, where it is this one.
fn reason_is(view: &View<'_>, state: &str, substate: Option<&str>, text: &str) -> Answer {
    match view.port.ethernet.extended_state.known() {
        Some(told)
            if told.state == state
                && (substate.is_none() || told.substate.as_deref() == substate) =>
        {
            Answer::Yes(Seen::new(text, told.state.replace('-', " "), DRIVER))
        }
        _ => Answer::Moot,
    }
}

// ---- what it says it is -------------------------------------------------------------------

/// The module's own memory, where that is what is known of it.
fn own_word<'a>(view: &'a View<'_>) -> Result<&'a Module, Answer> {
    match &view.module {
        Fact::Known(module) if module.family == Family::ParsedReadings => Err(Answer::Moot),
        Fact::Known(module) => Ok(module),
        Fact::Missing(why) => Err(Answer::Unknown(why.clone())),
    }
}

/// The checksum over the base identity does not match.
pub const CHECKSUM_WRONG: Observation = Observation {
    name: "checksum-wrong",
    statement: "the checksum over the module's base identity does not match",
    fact: "checksum of the module's identity",
    how: HOW_MODULE,
    look: |view| {
        let module = match own_word(view) {
            Ok(module) => module,
            Err(answer) => return answer,
        };
        // A wrong sum over the extended part is said as a doubt: kernels go on without that part.
        let Some(sum) = base_checksum(module) else { return Answer::Moot };
        let seen = |text: &str| {
            let (stored, computed) = sum.stored_computed.unwrap_or_default();
            let source = format!("{} over {}", sum.name, sum.covers);
            Seen::new(text, format!("computed {computed:02x}h"), source)
                .against(format!("stored {stored:02x}h"))
        };
        Answer::by(
            sum.matches.clone().map(|matches| !matches),
            || seen("the checksum of the module's identity is wrong"),
            || seen("the checksum of the module's identity is right"),
        )
    },
};

/// The driver gives the module's memory as the reason.
pub const MEMORY_REFUSED: Observation = Observation {
    name: "memory-refused",
    statement: "the driver gives the module's memory as the reason that the link is down",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        let text = "the driver says that the module's memory is at fault";
        reason_is(view, "module-memory-issue", None, text)
    },
};

/// The kernel refused the module for its checksum.
pub const LOG_CHECKSUM: Observation = Observation {
    name: "log-checksum",
    statement: "the kernel log says that the base checksum of the module is wrong",
    fact: "kernel log on the module's checksum",
    how: HOW_LOG,
    look: |view| {
        let answer = logged(view, "the kernel found the checksum wrong", |line| {
            line.contains("checksum") && line.contains("eeprom") && !line.contains("extended")
        });
        let Answer::Yes(mut seen) = answer else { return answer };
        let ours = own_word(view).ok().and_then(base_checksum).and_then(|sum| sum.stored_computed);
        if let (Some(logged), Some((stored, computed))) = (logged_sums(&seen.observed), ours) {
            seen.text.push_str(&if logged == (computed, stored) {
                ", with the same sums as here".to_owned()
            } else {
                format!(
                    " when it read the module, with other sums (computed {:02x}h, stored {:02x}h) \
                     than those of the bytes read here: the bytes changed since, reading them fails \
                     at times, or it was another module",
                    logged.0, logged.1
                )
            });
        }
        Answer::Yes(seen)
    },
};

/// The checksum over the base identity, whatever the memory map calls it.
fn base_checksum(module: &Module) -> Option<&Checksum> {
    module.checksums.iter().find(|sum| matches!(sum.name, "CC_BASE" | "page 00h"))
}

/// The two sums of a line of the kernel log that ends in `0x5e != 0x5f`, or in `(0x5e != 0x5f)`:
/// computed, then stored (kernel source, SFP cage code; from memory).
fn logged_sums(line: &str) -> Option<(u8, u8)> {
    let (before, after) = line.split_once("!=")?;
    let sum =
        |word: &str| u8::from_str_radix(word.trim_matches(['(', ')']).strip_prefix("0x")?, 16).ok();
    let (computed, stored) =
        (before.split_whitespace().next_back()?, after.split_whitespace().next()?);
    Some((sum(computed)?, sum(stored)?))
}

/// What contradicts itself in a module's identity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contradiction {
    /// One sentence.
    pub text: String,
    /// True if no careless field explains it: the type against wavelength, connector, technology
    /// or far end. A link that runs clean is not taken for well with that.
    pub hard: bool,
}

/// What in the module's identity contradicts itself. Diagnostics in a copper module are too common
/// to count, and harm nothing.
fn contradictions_of(module: &Module) -> Vec<Contradiction> {
    use DoubtKind::{
        IdentifiersDiffer, LongReachTypeWithShortWavelength, NominalRateContradictsType,
        ShortReachTypeWithLongWavelength,
    };
    let mut found: Vec<Contradiction> = module
        .doubts
        .iter()
        .filter_map(|doubt| {
            let hard = match doubt.kind {
                LongReachTypeWithShortWavelength | ShortReachTypeWithLongWavelength => true,
                IdentifiersDiffer | NominalRateContradictsType => false,
                _ => return None,
            };
            Some(Contradiction { text: doubt.text.clone(), hard })
        })
        .collect();
    // 10GBASE-LRM and 100BASE-FX send about 1300 nm and are told by no short-wave rule.
    let optical_type = module.interface_types.iter().find(|claimed| {
        ["-SR", "-SX", "-LR", "-LX", "-ER"].iter().any(|end| claimed.name.contains(end))
    });
    let mut hard = |text| found.push(Contradiction { text, hard: true });
    if let (Some(claimed), Fact::Known(connector)) = (optical_type, &module.connector)
        && [0x21, 0x22].into_iter().any(|copper| *connector == codes::connector(copper))
    {
        hard(format!("the interface type is {}, the connector {connector}", claimed.name));
    } else if let Some(claimed) = optical_type
        && matches!(module.carries, Carries::PassiveCopper | Carries::TwistedPair)
        && let Fact::Known(technology) = &module.technology
    {
        hard(format!("the interface type is {}, the technology {technology}", claimed.name));
    }
    let long = module.claims("10GBASE-LRM") || module.claims("100BASE-FX");
    let single_mode = |medium: &str| medium == "single-mode fibre";
    let all = |on_single_mode: bool| {
        !module.reaches.is_empty()
            && module.reaches.iter().all(|reach| single_mode(reach.medium) == on_single_mode)
    };
    let wrong_reach = match module.carries {
        Carries::MultimodeFibre if !long => all(true),
        Carries::SingleModeFibre => all(false),
        _ => false,
    };
    if wrong_reach && let Some(reach) = module.reaches.first() {
        let text = format!(
            "the interface type is for {}, its only reach for {}",
            module.carries.text(),
            reach.medium
        );
        found.push(Contradiction { text, hard: false });
    }
    found
}

/// What contradicts itself in what the module says, as clauses.
pub fn own_contradictions(module: &Module) -> Vec<String> {
    contradictions_of(module).into_iter().map(|one| one.text).collect()
}

/// The kind of fibre that a module of the other kind's type is probably for, where its wavelength and
/// every reach it claims agree; what they cannot both tell is not guessed.
pub fn probable_fibre(module: &Module) -> Option<&'static str> {
    /// Light for multimode fibre is around 850 nm to 940 nm, that for single-mode fibre from 1260 nm
    /// on (IEEE 802.3 clauses 52, 95 and 138; ITU-T G.652).
    const LONG_NM: f64 = 1260.0;
    const SHORT_NM: f64 = 960.0;
    let Nanometres(wavelength) = *module.wavelength.known()?;
    let reaches_are = |medium: &str| {
        !module.reaches.is_empty() && module.reaches.iter().all(|reach| reach.medium == medium)
    };
    match module.carries {
        Carries::MultimodeFibre if wavelength >= LONG_NM && reaches_are("single-mode fibre") => {
            Some("single-mode fibre")
        }
        Carries::SingleModeFibre
            if wavelength <= SHORT_NM
                && module.reaches.first().is_some_and(|one| reaches_are(one.medium))
                && !reaches_are("single-mode fibre")
                && module.reaches.iter().all(|one| one.medium.contains("fibre")) =>
        {
            Some("multimode fibre")
        }
        _ => None,
    }
}

/// An optical type on a link that is up with a far end for twisted pair: one of the two is not so.
fn against_far_type(view: &View<'_>) -> Option<Contradiction> {
    let ours = view.optical_module()?.main_type()?;
    let theirs = view.far.module_type.known()?;
    let up = view.port.carrier == Fact::Known(true);
    (up && names::is_twisted_pair(theirs)).then(|| Contradiction {
        text: format!(
            "the interface type is {}, the far end's {theirs} ({}), and the link is up",
            ours.name, view.far.told_by
        ),
        hard: true,
    })
}

/// All of it, the far end's type included.
///
/// # Errors
///
/// What to answer where the module's own memory is not known.
pub fn contradictions(view: &View<'_>) -> Result<Vec<Contradiction>, Answer> {
    let mut found = contradictions_of(own_word(view)?);
    found.extend(against_far_type(view));
    Ok(found)
}

/// True if the module's identity contradicts itself in a way that no careless field explains.
pub fn contradicts_itself_hard(view: &View<'_>) -> bool {
    contradictions(view).is_ok_and(|found| found.iter().any(|one| one.hard))
}

/// Only what was told of the far end contradicts the module.
pub const FAR_TYPE_ALONE_CONTRADICTS: Observation = Observation {
    name: "far-type-alone-contradicts",
    statement: "the module contradicts the interface type told of the far end, and nothing of its own",
    fact: "interface type of the far end",
    how: crate::chain::far::HOW,
    look: |view| match (against_far_type(view), own_word(view).map(contradictions_of)) {
        (Some(far), Ok(own)) if own.is_empty() => Answer::Yes(Seen::new(
            "nothing but the far end's type contradicts it",
            far.text,
            "both ends",
        )),
        _ => Answer::Moot,
    },
};

fn contradictions_seen(found: &[Contradiction]) -> Seen {
    let texts: Vec<&str> = found.iter().map(|one| one.text.as_str()).collect();
    Seen::new("the module's identity contradicts itself", texts.join("; "), "module memory")
}

/// Fields of the identity contradict one another.
pub const IDENTITY_CONTRADICTS: Observation = Observation {
    name: "identity-contradicts",
    statement: "type, wavelength, rate, reach, connector or identifier of the module contradict \
        one another",
    fact: "whether the module's identity fits together",
    how: HOW_MODULE,
    look: |view| {
        let module = match own_word(view) {
            Ok(module) => module,
            Err(answer) => return answer,
        };
        // Without an interface type and a maker there is nothing that could contradict itself.
        if let (true, Fact::Missing(why)) = (module.interface_types.is_empty(), &module.vendor_name)
            && is_failed_read(why)
        {
            return Answer::Unknown(why.clone());
        }
        match contradictions(view).unwrap_or_default() {
            found if found.is_empty() => Answer::No(Seen::new(
                "the module's identity fits together",
                "no contradiction",
                "module memory",
            )),
            found => Answer::Yes(contradictions_seen(&found)),
        }
    },
};

/// More than one thing contradicts itself.
pub const IDENTITY_CONTRADICTS_TWICE: Observation = Observation {
    name: "identity-contradicts-twice",
    statement: "more than one thing in the module's identity contradicts itself",
    fact: "how much of the module's identity contradicts itself",
    how: HOW_MODULE,
    look: |view| match contradictions(view) {
        Ok(found) if found.len() > 1 => Answer::Yes(Seen::new(
            "more than one thing contradicts itself",
            format!("{} contradictions", found.len()),
            "module memory",
        )),
        _ => Answer::Moot,
    },
};

/// No short-wave laser (850 nm VCSEL) takes so much.
const MOST_SHORT_WAVE_BIAS: Milliamps = Milliamps(20.0);

/// The laser takes the current of another kind of laser.
pub const BIAS_OF_ANOTHER_LASER: Observation = Observation {
    name: "bias-of-another-laser",
    statement: "a module of a short-wave type drives its laser as a long-wave one is driven",
    fact: "laser bias against the interface type",
    how: HOW_MODULE,
    look: |view| {
        let Some(module) = view.optical_module() else { return Answer::Moot };
        let long = module.claims("10GBASE-LRM") || module.claims("100BASE-FX");
        let most = module
            .used_lanes()
            .filter_map(|lane| lane.bias.known().copied())
            .max_by(|one, other| one.0.total_cmp(&other.0));
        match most {
            Some(bias)
                if module.carries == Carries::MultimodeFibre
                    && !long
                    && bias.0 > MOST_SHORT_WAVE_BIAS.0 =>
            {
                Answer::Yes(
                    Seen::new(
                        "the laser takes more than a short-wave laser does",
                        bias.to_string(),
                        "common practice, no published source",
                    )
                    .against(MOST_SHORT_WAVE_BIAS.to_string())
                    .resting_on(&[Word::Readings]),
                )
            }
            _ => Answer::Moot,
        }
    },
};

/// True if a log line says that a driver refuses this kind of module. A rate that has no mode in
/// common with the port is another matter.
fn refuses_type(line: &str) -> bool {
    let any = |words: &[&str]| words.iter().any(|word| line.contains(word));
    // "May cause unstable operation": a warning, and the module is used all the same.
    let other = any(&["interface mode", "validation", "may cause", "fec", "speed", "offload"]);
    any(&["sfp", "module", "transceiver", "optic", "cable"])
        && !other
        && any(&[
            "unsupported",
            "module is not supported",
            "transceiver is not supported",
            "unqualified",
            "not qualified",
            "not approved",
            "approved list",
            "type is not supported",
            "type that is not supported",
            "part number list",
        ])
}

/// The driver refuses this kind of module.
pub const TYPE_REFUSED: Observation = Observation {
    name: "type-refused",
    statement: "the driver says, as its reason or in the kernel log, that it does not support this \
        module or cable",
    fact: "whether the driver accepts the module",
    how: HOW_LOG,
    look: |view| {
        let text = "the driver refuses this kind of module";
        let reason = reason_is(view, "cable-issue", Some("unsupported-cable"), text);
        match (reason, logged(view, text, refuses_type)) {
            (yes @ Answer::Yes(_), _) | (_, yes @ Answer::Yes(_)) => yes,
            (_, Answer::Unknown(why)) => Answer::Unknown(why),
            _ => Answer::No(Seen::new(
                "nothing says that the driver refuses the module",
                "no such line",
                "kernel log",
            )),
        }
    },
};

// ---- power ----------------------------------------------------------------------------------

/// The driver gives the cage's power as the reason.
pub const POWER_REFUSED: Observation = Observation {
    name: "power-refused",
    statement: "the driver says that the module needs more power than the cage may give",
    fact: "link down reason",
    how: HOW_HOST,
    look: |view| {
        let text = "the driver says that the module needs too much power";
        reason_is(view, "power-budget-exceeded", None, text)
    },
};

/// The kernel log says the same.
pub const LOG_POWER: Observation = Observation {
    name: "log-power",
    statement: "the kernel log says that the module needs more power than the cage may give",
    fact: "kernel log on the module's power",
    how: HOW_LOG,
    look: |view| {
        logged(view, "the kernel says that the module needs too much power", |line| {
            // A slot's power is another matter.
            let short = ["power budget exceeded", "insufficient power", "power class"];
            let of_module = ["module", "cage", "sfp", "transceiver"];
            let any = |words: &[&str]| words.iter().any(|word| line.contains(word));
            (any(&short)
                && any(&["exceed", "insufficient"])
                && any(&of_module)
                && !line.contains("slot"))
                || (line.contains("does not support") && line.contains("w modules"))
        })
    },
};

/// The module does not get the power that it needs.
pub const POWER_WITHHELD: Observation = Observation {
    name: "power-withheld",
    statement: "the module is of a higher power class than it is allowed to use",
    fact: "whether the module is allowed its power",
    how: HOW_MODULE,
    look: |view| {
        // What the driver says outright is told by itself, and does not count twice.
        for driver in [(POWER_REFUSED.look)(view), (LOG_POWER.look)(view)] {
            if let Answer::Yes(_) = driver {
                return Answer::Moot;
            }
        }
        let module = match own_word(view) {
            Ok(module) => module,
            Err(answer) => return answer,
        };
        let class = module.power_class.known().map_or("not told", String::as_str);
        let source = "power class and power control, module memory";
        let seen = |text: &str| Seen::new(text, class, source).resting_on(&[Word::Readings]);
        match &module.power_withheld {
            Fact::Missing(why) if why.reason == Reason::NotApplicable => Answer::Moot,
            withheld => Answer::by(
                withheld.clone(),
                || seen("the host has not allowed the module its power class"),
                || seen("the module is allowed its power class"),
            ),
        }
    },
};

/// No laser is driven.
pub const LASERS_UNPOWERED: Observation = Observation {
    name: "lasers-unpowered",
    statement: "no used lane of the module has any laser current",
    fact: "laser bias",
    how: HOW_MODULE,
    look: |view| {
        let module = match own_word(view) {
            Ok(module) if module.carries.is_optical() => module,
            Ok(_) => return Answer::Moot,
            Err(answer) => return answer,
        };
        let bias: Result<Vec<Milliamps>, Missing> =
            module.used_lanes().map(|lane| lane.bias.clone().result()).collect();
        let seen = |text: &str, most: f64| {
            Seen::new(text, Milliamps(most).to_string(), "laser bias, module memory")
                .resting_on(&[Word::Readings])
        };
        match bias {
            Err(why) => Answer::Unknown(why),
            Ok(all) => match all.into_iter().map(|bias| bias.0).reduce(f64::max) {
                None => Answer::Moot,
                Some(most) if most > 0.0 => Answer::No(seen("a laser is driven", most)),
                Some(most) => Answer::Yes(seen("no laser is driven", most)),
            },
        }
    },
};

/// The module is in low power.
pub const LOW_POWER: Observation = Observation {
    name: "low-power",
    statement: "the module says that it is in low power, or that the host holds it there",
    fact: "low-power mode",
    how: HOW_MODULE,
    look: |view| {
        let module = match own_word(view) {
            Ok(module) => module,
            Err(answer) => return answer,
        };
        let seen = |text: &str, observed: &str| {
            Seen::new(text, observed, "module state and power control, module memory")
                .resting_on(&[Word::Readings])
        };
        match &module.low_power {
            Fact::Missing(why) if why.reason == Reason::NotApplicable => Answer::No(seen(
                "this kind of module has no low-power mode",
                module.family.standard(),
            )),
            _ if module.carries == Carries::PassiveCopper => {
                Answer::No(seen("a passive cable needs no power", module.carries.text()))
            }
            low => Answer::by(
                low.clone(),
                || seen("the module is in low power", "low power"),
                || seen("the module is not in low power", "not low power"),
            ),
        }
    },
};

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines as kernels write them: refusals of a kind of module, and lines that are none.
    #[test]
    fn refusals() {
        for line in [
            "sim 0000:3b:00.0: rx/tx is disabled on this device because an unsupported sfp module type was detected.",
            "sim 0000:3b:00.0: failed to initialize because an unsupported sfp+ module type was detected.",
            "fibre0: unqualified sfp+ module detected",
            "sfp fibre0: module is not supported - phys id 0x02 0x04",
            "port module event[error]: module 0, cable error, unsupported cable",
        ] {
            assert!(refuses_type(line), "{line}");
        }
        for line in [
            "fibre0: unsupported sfp module: no common interface modes",
            "fibre0: unsupported sfp module: validation with support 00 failed: -22",
            "fibre0: module northlight opt nl-10sr-s rev 1a sn tws-0001",
            "fibre0: unsupported offload requested",
            "fibre0: host does not support 2.0w modules",
        ] {
            assert!(!refuses_type(line), "{line}");
        }
    }
}
