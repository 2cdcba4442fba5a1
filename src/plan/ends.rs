//! What each end could run, and whether two ends understand each other.

use crate::plan::link::End;
use crate::quantity::Mbps;
use crate::standards::cages::{self, Cage, Fit, Fitted, PLUGGABLE};
use crate::standards::media::{self, Grade, Row};

/// An interface type that an end could run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Able {
    /// The standard's name.
    pub interface: &'static str,
    /// Rate at the MAC.
    pub speed: Mbps,
    /// Whether it runs in this port, and who says so.
    pub fit: Fitted,
}

impl Able {
    /// Nothing that the end is told to have forbids it.
    pub fn is_possible(&self) -> bool {
        !matches!(self.fit.0, Fit::No(_))
    }
}

/// Everything the end could run on this medium, or could not for a reason worth telling. Empty where
/// nothing is told that would say.
pub fn able(end: &End, medium: Option<Grade>) -> Vec<Able> {
    let twisted_pair = medium.is_some_and(Grade::is_twisted_pair);
    let is_jack = end.cage == Some(Cage::Jack) || (end.cage.is_none() && twisted_pair);
    if is_jack && end.module.is_empty() {
        return jack(end);
    }
    let mut types: Vec<&'static str> = end.module.clone();
    if types.is_empty() && is_direct_attach(medium) {
        types = direct_attach_types(end.cage);
    }
    let fastest =
        types.iter().filter_map(|name| media::rows_of(name).next()).map(|row| row.speed).max();
    let top = end.cage.and_then(|cage| cage.row().top).filter(|_| end.module.is_empty());
    let faster_unknown = top.zip(fastest).is_some_and(|(top, fastest)| {
        top > fastest && end.best.unwrap_or(top) > fastest && top > Mbps(100_000)
    });
    let slowest_lane_first = types.iter().filter_map(|name| media::rows_of(name).next());
    let form = slowest_lane_first.max_by_key(|row| row.speed).map(Cage::made_for);
    types
        .into_iter()
        .filter_map(|interface| {
            let interface = as_module(interface, end);
            let row = media::rows_of(interface).next()?;
            let own = match Cage::made_for(row) {
                // A twisted-pair module for a cage.
                Cage::Jack if row.speed <= Mbps(1000) => Cage::Sfp,
                Cage::Jack => Cage::SfpPlus,
                own => own,
            };
            // A cable comes with the ends that its cages ask for.
            let form = if end.module.is_empty() { own } else { form.unwrap_or(own) };
            let form = if interface == PLUGGABLE { Cage::SfpPlus } else { form };
            let fit = match end.cage {
                Some(cage) => cages::fit(cage, form, row.speed),
                None => (Fit::Yes, cages::SOURCE),
            };
            let fit = if faster_unknown { (FASTER, "the tables of this program") } else { fit };
            Some(Able { interface, speed: row.speed, fit: port_allows(end, row.speed, fit) })
        })
        .collect()
}

/// What is said where a port is made for more than the tables have.
const FASTER: Fit =
    Fit::Ask("the port is made for more, by an interface type that is not known here");

/// 10GBASE-T in a cage is a module, which drives less cable than a jack.
fn as_module(interface: &'static str, end: &End) -> &'static str {
    if interface == "10GBASE-T" && end.cage.is_some_and(|cage| cage != Cage::Jack) {
        PLUGGABLE
    } else {
        interface
    }
}

/// True for copper cables that end in modules.
pub fn is_direct_attach(medium: Option<Grade>) -> bool {
    medium.is_some_and(|grade| !grade.is_fibre() && !grade.is_twisted_pair())
}

/// What such a cable can run in a cage: types of as many lanes, none faster than the cage is made for;
/// where that leaves none, the slowest.
fn direct_attach_types(cage: Option<Cage>) -> Vec<&'static str> {
    let mut seen: Vec<&'static Row> = Vec::new();
    let lanes = |row: &Row| cage.is_none_or(|cage| cage.row().lanes == row.lanes);
    for row in media::ROWS.iter().filter(|row| is_direct_attach(Some(row.grade)) && lanes(row)) {
        if !seen.iter().any(|known| known.interface == row.interface) {
            seen.push(row);
        }
    }
    let top = cage.and_then(|cage| cage.row().top).unwrap_or(Mbps(u32::MAX));
    let slowest = seen.iter().map(|row| row.speed).min().unwrap_or_default().max(top);
    seen.iter().filter(|row| row.speed <= slowest).map(|row| row.interface).collect()
}

fn port_allows(end: &End, speed: Mbps, fit: Fitted) -> Fitted {
    const TOLD: &str = "as told in the plan";
    if matches!(fit.0, Fit::No(_)) {
        return fit;
    }
    if !end.speeds.is_empty() {
        return if end.speeds.contains(&speed) {
            fit
        } else {
            (Fit::No("the port does not have this speed"), TOLD)
        };
    }
    match end.best {
        Some(best) if speed > best => (Fit::No("the port is not that fast"), TOLD),
        _ => fit,
    }
}

/// What a twisted-pair jack could run, fastest last.
fn jack(end: &End) -> Vec<Able> {
    const MEMORY: &str = "from memory";
    let top = end.best.or_else(|| end.speeds.iter().max().copied());
    let mut types: Vec<(&'static str, Mbps)> = Vec::new();
    for row in media::ROWS {
        let known = types.iter().any(|(name, _)| *name == row.interface);
        if row.grade.is_twisted_pair() && row.interface != PLUGGABLE && !known {
            types.push((row.interface, row.speed));
        }
    }
    types
        .into_iter()
        .filter(|(_, speed)| *speed <= top.unwrap_or(Mbps(1000)))
        .map(|(interface, speed)| {
            let fit = match (speed, top) {
                (_, Some(top)) if top > Mbps(40_000) => (FASTER, "the tables of this program"),
                (_, None) => (Fit::Ask("nobody told which speeds the jack has"), "the plan"),
                (Mbps(1000), _) => (Fit::Yes, MEMORY),
                (Mbps(2500 | 5000), Some(top)) if top > Mbps(5000) && end.speeds.is_empty() => {
                    (Fit::Ask("older 10GBASE-T ports do not have this speed"), MEMORY)
                }
                _ => (Fit::Yes, MEMORY),
            };
            Able { interface, speed, fit: port_allows(end, speed, fit) }
        })
        .collect()
}

/// Whether two interface types understand each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Match {
    /// They are made for each other.
    Made,
    /// They may, but no standard says so.
    Outside(&'static str),
    /// Something that is not told decides.
    Ask(&'static str),
    /// They do not.
    No(&'static str),
}

/// Pairs of different names that are specified to run together, in either order.
const TOGETHER: &[(&str, &str)] = &[
    ("1000BASE-BX10-D", "1000BASE-BX10-U"),
    ("1000BASE-LX", "1000BASE-LX10"),
    ("25GBASE-CR", "25GBASE-CR-S"),
    ("10GBASE-T", PLUGGABLE),
];

/// Names that are one direction of a pair on one strand.
pub fn is_bidirectional(interface: &str) -> bool {
    interface.contains("-BX")
}

/// Whether these two understand each other.
pub fn understand(near: &str, far: &str) -> Match {
    let is = |(one, other): &(&str, &str)| {
        (*one == near && *other == far) || (*one == far && *other == near)
    };
    if TOGETHER.iter().any(is) {
        return Match::Made;
    }
    if near == far {
        return if is_bidirectional(near) {
            Match::No(
                "both modules of a pair that shares one strand are of the same side: each sends at \
                 the wavelength that the other sends at, and hears nothing",
            )
        } else {
            Match::Made
        };
    }
    if is_bidirectional(near) != is_bidirectional(far) {
        return Match::No("one end shares one strand for both directions, the other does not");
    }
    let (Some(one), Some(other)) = (media::power_window(near), media::power_window(far)) else {
        let speeds = |name| media::rows_of(name).next().map(|row| row.speed);
        let twisted = |name| media::rows_of(name).any(|row| row.grade.is_twisted_pair());
        return if (near == PLUGGABLE || far == PLUGGABLE) && twisted(near) && twisted(far) {
            Match::Ask(
                "many such modules run lower speeds on the cable than towards the port, not all do",
            )
        } else if speeds(near) == speeds(far) {
            Match::No("the two ends are for different media")
        } else {
            Match::No("the two ends run at different speeds")
        };
    };
    if one.lanes != other.lanes && (one.lane_gigabaud - other.lane_gigabaud).abs() < 1e-6 {
        return Match::Ask(
            "they run the same rate on different numbers of lanes: it takes a port that is split into \
             lanes, and a cord that fans out. Then name at both ends what one lane runs",
        );
    }
    if one.speed != other.speed || one.lanes != other.lanes {
        return Match::No(
            "the two ends run at different signalling rates: light arrives, and neither end locks",
        );
    }
    if one.wavelength == other.wavelength {
        return Match::Outside("they send the same light at the same rate, with different powers");
    }
    let (near, far) = (media::nominal_wavelength(near), media::nominal_wavelength(far));
    match near.zip(far) {
        // Both windows lie around 1310 nm: the receivers hear each other.
        Some((one, other)) if (one - other).abs() < 40.0 => {
            Match::Outside("they send near the same wavelength, with different limits")
        }
        // Receivers for long waves may take all of them; no standard says that they do.
        Some((one, other)) if one > 1000.0 && other > 1000.0 => Match::Outside(
            "they send at different wavelengths, which the other's receiver is not specified for",
        ),
        _ => Match::No("the two ends send at different wavelengths"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::words;

    fn near(text: &str) -> (End, Option<Grade>) {
        let link = words::links(text).unwrap().remove(0);
        (link.near, link.medium)
    }

    fn can(text: &str) -> Vec<(&'static str, bool)> {
        let (end, medium) = near(text);
        able(&end, medium).iter().map(|able| (able.interface, able.is_possible())).collect()
    }

    #[test]
    fn what_an_end_can_run() {
        assert_eq!(can("SFP28 25GBASE-SR 60m OM3"), [("25GBASE-SR", true)]);
        assert_eq!(can("SFP+ 25GBASE-SR 60m OM3"), [("25GBASE-SR", false)]);
        assert_eq!(
            can("SFP+ 25GBASE-SR/10GBASE-SR 60m OM3"),
            [("25GBASE-SR", false), ("10GBASE-SR", true)]
        );
        assert_eq!(can("SFP+ 10GBASE-T 20m Cat6A"), [(PLUGGABLE, true)]);
        assert_eq!(can("1G RJ45 20m Cat6A"), [("1000BASE-T", true)]);
        assert_eq!(can("SFP28 60m OM3"), [], "no module is told");
        assert!(can("SFP28 3m twinax").contains(&("25GBASE-CR", true)));
        assert!(!can("SFP28 3m twinax").iter().any(|one| one.0 == "100GBASE-CR4"));
        assert_eq!(can("QSFP+ 3m twinax"), [("40GBASE-CR4", true)]);
        assert_eq!(can("SFP 3m twinax"), [("10G direct attach", false)]);
    }

    /// Section 8 of the media notes: 10G optics against 25G optics, wavelength pairs, LRM with LR;
    /// IEEE 802.3 clause 59 for the pair on one strand.
    #[test]
    fn who_understands_whom() {
        type Check = fn(Match) -> bool;
        let no: Check = |found| matches!(found, Match::No(_));
        let made: Check = |found| found == Match::Made;
        let outside: Check = |found| matches!(found, Match::Outside(_));
        let ask: Check = |found| matches!(found, Match::Ask(_));
        for (one, other, wanted) in [
            ("10GBASE-SR", "25GBASE-SR", no),
            ("10GBASE-SR", "10GBASE-LR", no),
            ("10GBASE-LRM", "10GBASE-LR", outside),
            ("10GBASE-LR", "10GBASE-ER", outside),
            ("1000BASE-BX10-D", "1000BASE-BX10-D", no),
            ("1000BASE-BX10-D", "1000BASE-BX10-U", made),
            ("1000BASE-BX10-D", "1000BASE-LX10", no),
            ("1000BASE-BX10-U", "1000BASE-LX10", no),
            ("100GBASE-SR4", "25GBASE-SR", ask),
            ("40GBASE-SR4", "10GBASE-SR", ask),
            ("1000BASE-T", PLUGGABLE, ask),
            ("1000BASE-LX", "1000BASE-LX10", made),
            ("100GBASE-LR4", "100GBASE-ER4", outside),
            ("10GBASE-T", PLUGGABLE, made),
            ("10GBASE-T", "10GBASE-SR", no),
            ("25GBASE-CR", "25GBASE-CR-S", made),
        ] {
            assert!(wanted(understand(one, other)), "{one} {other}: {:?}", understand(one, other));
            assert!(wanted(understand(other, one)), "{other} {one}");
        }
    }
}
