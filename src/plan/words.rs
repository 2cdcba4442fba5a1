//! A link in words, in the order of its parts: `gen3x4 SFP28 25GBASE-SR 60 m OM3 2 connectors
//! 10GBASE-SR SFP+`. What stands before the medium is this end, what stands behind it the other.

use strsim::normalized_damerau_levenshtein;

use crate::plan::link::{End, Fec, Link, Slot, parse_speed, port_speed};
use crate::quantity::{Mbps, Metres};
use crate::standards::cages::{CAGES, Cage};
use crate::standards::media::{self, Grade};

/// Longest run that is taken for one, metres.
const LONGEST: f64 = 1e6;

/// Grade of a medium by its word.
///
/// # Errors
/// The word is none; says which there are.
pub fn grade(text: &str) -> Result<Grade, String> {
    Grade::parse(text).ok_or_else(|| {
        let names: Vec<&str> = Grade::NAMES.iter().map(|(_, name)| *name).collect();
        unknown("medium", text, &names)
    })
}

/// A length.
///
/// # Errors
/// It cannot be.
pub fn length(metres: f64) -> Result<Metres, String> {
    if (0.0..=LONGEST).contains(&metres) {
        Ok(Metres(metres))
    } else {
        Err(format!("a length must be between 0 and {LONGEST} metres"))
    }
}

/// A cage by its word.
///
/// # Errors
/// The word is none; says which there are.
pub fn cage(text: &str) -> Result<Cage, String> {
    Cage::parse(text).ok_or_else(|| {
        let names: Vec<&str> = CAGES.iter().map(|row| row.name).collect();
        unknown("cage", text, &names)
    })
}

/// A slot by its words.
///
/// # Errors
/// The words are none; says what they look like.
pub fn slot(text: &str) -> Result<Slot, String> {
    Slot::parse(text)
        .ok_or_else(|| unknown("slot", text, &["gen3 x4", "gen4 x8", "usb 5G", "tunnel"]))
}

/// FEC by its word.
///
/// # Errors
/// The word is none; says which there are.
pub fn fec(text: &str) -> Result<Fec, String> {
    Fec::parse(text).ok_or_else(|| {
        let names: Vec<&str> = Fec::NAMES.iter().map(|(name, _)| *name).collect();
        unknown("FEC", text, &names)
    })
}

/// The interface types of a module: one, or several with `/` between them for a module of several
/// rates (`25GBASE-SR/10GBASE-SR`).
///
/// # Errors
/// One of them is not in the tables; says which one was most likely meant.
pub fn module(text: &str) -> Result<Vec<&'static str>, String> {
    let types: Vec<&'static str> =
        text.split('/').map(|name| interface(name.trim())).collect::<Result<_, _>>()?;
    let kinds = types.iter().map(|name| media::nominal_wavelength(name));
    let mut kinds = kinds.map(|nanometres| nanometres.map(|nm| nm > 1000.0));
    let first = kinds.next().flatten();
    if kinds.any(|kind| kind != first) {
        return Err(format!(
            "{text:?}: one module does not have both kinds of light, or light and copper"
        ));
    }
    Ok(types)
}

fn interface(name: &str) -> Result<&'static str, String> {
    let mut names = media::ROWS.iter().map(|row| row.interface);
    names.find(|known| known.eq_ignore_ascii_case(name)).ok_or_else(|| {
        let mut names: Vec<&str> = media::ROWS.iter().map(|row| row.interface).collect();
        names.dedup();
        unknown("interface type", name, &names)
    })
}

fn unknown(what: &str, word: &str, known: &[&str]) -> String {
    let near = known
        .iter()
        .filter(|_| word.len() <= 64)
        .map(|name| {
            (normalized_damerau_levenshtein(&word.to_lowercase(), &name.to_lowercase()), *name)
        })
        .max_by(|one, other| one.0.total_cmp(&other.0))
        .filter(|(alike, _)| *alike >= 0.6);
    match near {
        Some((_, name)) => format!("{what} {word:?} is not known; did you mean {name}?"),
        None => format!("{what} {word:?} is not known; write one of: {}", known.join(", ")),
    }
}

/// More connectors or splices than any run has.
pub const MANY: u32 = 1000;

/// Which end the next part belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Near,
    Far,
}

/// Reads links in words; a comma, or the word `and`, stands between two.
///
/// # Errors
/// A word that says nothing here, with what was most likely meant.
pub fn links(text: &str) -> Result<Vec<Link>, String> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace())
        .flat_map(|word| word.split_inclusive(','))
        .flat_map(|word| match word.strip_suffix(',') {
            Some(word) => [word, ","],
            None => [word, ""],
        })
        .filter(|word| !word.is_empty())
        .collect();
    words
        .split(|word| *word == "," || word.eq_ignore_ascii_case("and"))
        .map(one)
        .collect::<Result<Vec<_>, _>>()
}

fn one(words: &[&str]) -> Result<Link, String> {
    if words.is_empty() {
        return Err("a link without a word: name its parts, from this end to the other".into());
    }
    let mut link = Link::default();
    link.near.sharing = 1;
    link.far.sharing = 1;
    let mut side = Side::Near;
    let mut rest = words;
    while let Some((word, after)) = rest.split_first() {
        let second = after.first().copied().unwrap_or_default();
        let taken = take(&mut link, &mut side, word, second)?;
        rest = rest.get(taken..).unwrap_or_default();
    }
    let told = link.near.mtu.or(link.far.mtu);
    link.near.mtu = link.near.mtu.or(told);
    link.far.mtu = link.far.mtu.or(told);
    Ok(link)
}

/// The end that a part goes to: the far one from the medium on, or when this end has one already.
fn end<'a>(link: &'a mut Link, side: &mut Side, has: impl Fn(&End) -> bool) -> &'a mut End {
    if *side == Side::Near && has(&link.near) {
        *side = Side::Far;
    }
    if *side == Side::Near { &mut link.near } else { &mut link.far }
}

/// Takes one word, or two that belong together; tells how many.
fn take(link: &mut Link, side: &mut Side, word: &str, second: &str) -> Result<usize, String> {
    let lower = word.to_ascii_lowercase();
    if let Some(grade) = Grade::parse(word) {
        if link.medium.replace(grade).is_some() {
            return Err(format!("{word}: the medium is told twice"));
        }
        *side = Side::Far;
        return Ok(1);
    }
    if let Some(cage) = Cage::parse(word) {
        let end = end(link, side, |end| end.cage.is_some());
        if end.cage.replace(cage).is_some() {
            return Err(format!("{word}: the other end has a cage already"));
        }
        return Ok(1);
    }
    if lower.contains("base-") {
        let module = module(word)?;
        let end = end(link, side, |end| !end.module.is_empty());
        if !end.module.is_empty() {
            return Err(format!("{word}: the other end has a module already"));
        }
        end.module = module;
        return Ok(1);
    }
    if word.ends_with('M')
        && let Some(speed) = parse_speed(word)
    {
        // A capital M is megabits, a small one metres.
        end(link, side, |end| end.best.is_some()).best = Some(port_speed(speed.0)?);
        return Ok(1);
    }
    if let Some((metres, taken)) = metres(&lower, second) {
        if link.length.replace(length(metres)?).is_some() {
            return Err(format!("{word}: the length is told twice"));
        }
        *side = Side::Far;
        return Ok(taken);
    }
    if let Some(slot) = Slot::parse(word) {
        end(link, side, |end| end.slot.is_some()).slot = Some(slot);
        return Ok(1);
    }
    if let Some(slot) = Slot::parse(&format!("{word} {second}")) {
        end(link, side, |end| end.slot.is_some()).slot = Some(slot);
        return Ok(2);
    }
    if lower.ends_with(['g', 's'])
        && let Some(speed) = parse_speed(word)
    {
        end(link, side, |end| end.best.is_some()).best = Some(port_speed(speed.0)?);
        return Ok(1);
    }
    let count = || word.parse::<u32>().ok().filter(|count| *count <= MANY);
    match (lower.as_str(), second.to_ascii_lowercase().as_str()) {
        (_, "connector" | "connectors") if count().is_some() => {
            link.connectors = count();
            *side = Side::Far;
            Ok(2)
        }
        (_, "splice" | "splices") if count().is_some() => {
            link.splices = count().unwrap_or_default();
            *side = Side::Far;
            Ok(2)
        }
        (_, "crossing" | "crossings") if count().is_some() => {
            link.crossings = count();
            *side = Side::Far;
            Ok(2)
        }
        ("wanted", speed) => {
            let told = parse_speed(speed);
            link.wanted = Some(told.ok_or("wanted: name a speed behind it, such as 10G")?);
            Ok(2)
        }
        ("mtu", octets) => {
            let told: Option<u32> = octets.parse().ok();
            let told = told.filter(|told| (68..=65_535).contains(told));
            let told = told.ok_or("mtu: name octets behind it, between 68 and 65535")?;
            // Told once it is of both ends.
            let end = end(link, side, |end| end.mtu.is_some());
            end.mtu = Some(told);
            Ok(2)
        }
        ("fec", code) => {
            let told = fec(code)?;
            end(link, side, |end| end.fec.is_some()).fec = Some(told);
            Ok(2)
        }
        ("autonegotiation", "on" | "off") => {
            let on = second.eq_ignore_ascii_case("on");
            end(link, side, |end| end.autonegotiation.is_some()).autonegotiation = Some(on);
            Ok(2)
        }
        ("between", "buildings") => {
            link.between_buildings = true;
            Ok(2)
        }
        ("beside", "machines") => {
            link.interference = true;
            Ok(2)
        }
        _ => Err(unknown("word", word, VOCABULARY)),
    }
}

/// What a link can be told with, for help and for a word that is none.
const VOCABULARY: &[&str] = &[
    "SFP28",
    "10G",
    "RJ45",
    "25GBASE-SR",
    "gen3x4",
    "usb-5G",
    "tunnel",
    "60m",
    "OM3",
    "OS2",
    "Cat6A",
    "twinax",
    "2 connectors",
    "1 splice",
    "1 crossing",
    "wanted 10G",
    "mtu 9000",
    "fec rs",
    "autonegotiation off",
    "between buildings",
    "beside machines",
];

/// Metres: `60m`, `60 m`, `5km`, `2.5 km`, and how many words that took.
fn metres(word: &str, second: &str) -> Option<(f64, usize)> {
    let number = |text: &str| {
        let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        text.parse::<f64>().ok().filter(|_| plain)
    };
    if let Some(number) = number(word) {
        return match second.to_ascii_lowercase().as_str() {
            "m" | "metres" => Some((number, 2)),
            "km" => Some((number * 1000.0, 2)),
            _ => None,
        };
    }
    match word.strip_suffix("km") {
        Some(text) => number(text).map(|number| (number * 1000.0, 1)),
        None => Some((number(word.strip_suffix('m')?)?, 1)),
    }
}

/// What `--suggest` is asked: a link of which only the run and the speed matter.
///
/// # Errors
/// As [`links`]; or no speed, or no length.
pub fn question(text: &str) -> Result<(Link, Mbps), String> {
    let mut links = links(text)?;
    let (Some(link), true) = (links.pop(), links.is_empty()) else {
        return Err("--suggest takes one run at a time".into());
    };
    if link.length.is_none() {
        return Err("how long is the run? Name a length, such as 60m".into());
    }
    let told = link.wanted.or(link.near.best).or(link.far.best);
    if [link.wanted, link.near.best, link.far.best]
        .into_iter()
        .flatten()
        .any(|one| Some(one) != told)
    {
        return Err("--suggest takes one speed at a time".into());
    }
    let speed = told.ok_or("at what speed? Name one, such as 10G")?;
    Ok((link, speed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn parts_in_their_order() {
        let all = links("gen3 x4 SFP28 25GBASE-SR 60 m OM3 2 connectors 10GBASE-SR SFP+ and 10G RJ45 Cat6 48m rj45 2.5G").unwrap();
        let [fibre, copper] = all.as_slice() else { panic!("{all:?}") };
        assert_eq!(fibre.near.slot, Some(Slot::PciExpress { generation: 3, lanes: 4 }));
        assert_eq!(fibre.near.cage, Some(Cage::Sfp28));
        assert_eq!(fibre.near.module, ["25GBASE-SR"]);
        assert_eq!(fibre.far.module, ["10GBASE-SR"]);
        assert_eq!(fibre.far.cage, Some(Cage::SfpPlus));
        assert_eq!((fibre.medium, fibre.length), (Some(Grade::Om3), Some(Metres(60.0))));
        assert_eq!(fibre.connectors, Some(2));
        assert_eq!(copper.near.best, Some(Mbps(10_000)));
        assert_eq!(copper.far.best, Some(Mbps(2500)));
        assert_eq!(copper.length, Some(Metres(48.0)));
        // Without a medium the second of a kind is the other end's.
        let bare = &links("SFP+ 10GBASE-SR 25GBASE-SR SFP28").unwrap()[0];
        assert_eq!((bare.near.cage, bare.far.cage), (Some(Cage::SfpPlus), Some(Cage::Sfp28)));
        let commas = links("SFP+ twinax 3m SFP+, SFP28 twinax 3m SFP28").unwrap();
        assert_eq!(commas.len(), 2);
    }

    #[test]
    fn what_says_nothing_is_told() {
        for (text, hint) in [
            ("SFP28 25GBASE-SX 60m OM3", "25GBASE-SR"),
            ("SFP28 60m OMM3", "OM3"),
            ("sfpp", "SFP"),
            ("10m OM3 10m OM4", "twice"),
            ("wanted fast", "10G"),
            ("", "parts"),
            ("SFP28 and", "parts"),
            ("1e9km", "not known"),
            ("99999999m", "between"),
        ] {
            let error = links(text).unwrap_err();
            assert!(error.contains(hint), "{text}: {error}");
        }
        assert!(question("OM3 10G").unwrap_err().contains("long"));
        assert!(question("60m OM3").unwrap_err().contains("speed"));
    }

    proptest! {
        #[test]
        fn no_words_hurt(text in "\\PC{0,200}", parts in "(SFP28 |25GBASE-SR |6m |OM3 |, |fec |10G |x4 |gen3 |9 ){0,12}") {
            let _ = links(&text);
            let _ = links(&parts);
            let _ = question(&parts);
        }
    }
}
