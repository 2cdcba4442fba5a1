//! Cages and jacks: how many lanes, how fast, how much heat; and which module runs in which cage.
//!
//! Lane counts and rates: the SFF form factors (SFF-8402, SFF-8635, SFF-8665), from memory. What
//! runs where: section 8 of the media notes, with its keys in [`super::sources`].

use crate::quantity::Mbps;
use crate::standards::media::{Grade, Row};

/// What a module is plugged into, or a twisted-pair cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cage {
    /// A jack for twisted pair.
    Jack,
    /// One lane of 1.25 GBd.
    Sfp,
    /// One lane of 10 Gb/s.
    SfpPlus,
    /// One lane of 25 Gb/s.
    Sfp28,
    /// One lane of 50 Gb/s.
    Sfp56,
    /// Four lanes of 10 Gb/s.
    QsfpPlus,
    /// Four lanes of 25 Gb/s.
    Qsfp28,
    /// Four lanes of 50 Gb/s.
    Qsfp56,
    /// Eight lanes of 50 Gb/s.
    QsfpDd,
}

/// A cage, as a row.
#[derive(Debug, Clone, Copy)]
pub struct CageRow {
    /// Which.
    pub cage: Cage,
    /// What people write.
    pub name: &'static str,
    /// Lanes; 0 for a jack, whose pairs are the cable's matter.
    pub lanes: u8,
    /// What a port with this cage is made for; not told by a jack.
    pub top: Option<Mbps>,
}

const JACK: &CageRow = &CageRow { cage: Cage::Jack, name: "RJ45", lanes: 0, top: None };

/// Every cage.
pub const CAGES: &[CageRow] = &[
    *JACK,
    CageRow { cage: Cage::Sfp, name: "SFP", lanes: 1, top: Some(Mbps(1000)) },
    CageRow { cage: Cage::SfpPlus, name: "SFP+", lanes: 1, top: Some(Mbps(10_000)) },
    CageRow { cage: Cage::Sfp28, name: "SFP28", lanes: 1, top: Some(Mbps(25_000)) },
    CageRow { cage: Cage::Sfp56, name: "SFP56", lanes: 1, top: Some(Mbps(50_000)) },
    CageRow { cage: Cage::QsfpPlus, name: "QSFP+", lanes: 4, top: Some(Mbps(40_000)) },
    CageRow { cage: Cage::Qsfp28, name: "QSFP28", lanes: 4, top: Some(Mbps(100_000)) },
    CageRow { cage: Cage::Qsfp56, name: "QSFP56", lanes: 4, top: Some(Mbps(200_000)) },
    CageRow { cage: Cage::QsfpDd, name: "QSFP-DD", lanes: 8, top: Some(Mbps(400_000)) },
];

/// Citation of what a cage is made for.
pub const SOURCE: &str = "SFF form factors, from memory";

impl Cage {
    /// Its row.
    pub fn row(self) -> &'static CageRow {
        // Every cage has its row: a test holds them together.
        CAGES.iter().find(|row| row.cage == self).unwrap_or(JACK)
    }

    /// What people write.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Finds a cage by name, in any case.
    pub fn parse(text: &str) -> Option<Self> {
        CAGES.iter().find(|row| row.name.eq_ignore_ascii_case(text)).map(|row| row.cage)
    }

    /// The cage that modules of an interface type are usually made for (from memory); a jack for
    /// twisted pair.
    pub fn made_for(row: &Row) -> Self {
        match row.speed {
            _ if row.grade.is_twisted_pair() && row.interface != PLUGGABLE => Self::Jack,
            Mbps(..=1000) => Self::Sfp,
            Mbps(..=10_000) => Self::SfpPlus,
            Mbps(25_000) => Self::Sfp28,
            Mbps(40_000) => Self::QsfpPlus,
            Mbps(50_000) => Self::Sfp56,
            Mbps(100_000) if row.lanes != 2 => Self::Qsfp28,
            Mbps(..=200_000) => Self::Qsfp56,
            _ => Self::QsfpDd,
        }
    }
}

/// The row name of a twisted-pair module for an SFP+ cage.
pub const PLUGGABLE: &str = "10GBASE-T pluggable";
/// What such a module usually takes, watts: least and most (sources D14, D16).
pub const PLUGGABLE_WATTS: (f64, f64) = (2.5, 3.5);
/// The most that an SFP+ cage is made to cool, watts: power level II (SFF-8431, from memory).
pub const SFP_PLUS_WATTS: f64 = 1.5;

/// Whether a module made for one cage runs in another, at one of its interface types.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fit {
    /// Yes.
    Yes,
    /// Yes, if something is seen to.
    If(&'static str),
    /// Nobody but the maker can tell.
    Ask(&'static str),
    /// No.
    No(&'static str),
}

/// A [`Fit`] and where it is from.
pub type Fitted = (Fit, &'static str);

/// Whether a module made for `form` runs an interface type of `speed` in `cage`, and who says so.
pub fn fit(cage: Cage, form: Cage, speed: Mbps) -> Fitted {
    const MEMORY: &str = "from memory";
    let Some(top) = cage.row().top else {
        return (Fit::No("a jack takes no module"), SOURCE);
    };
    match (cage.row().lanes, form.row().lanes) {
        (1, 4 | 8) => return (Fit::No("it is wider than the cage"), SOURCE),
        (4 | 8, 1) => {
            let text = "it takes a mechanical adapter, and a port that runs one lane alone";
            return (Fit::Ask(text), MEMORY);
        }
        _ => {}
    }
    if speed > top {
        return match (form, cage) {
            (Cage::Sfp28, Cage::SfpPlus) => (
                Fit::No(
                    "it fits, but the cage's lane is made for 10 Gb/s; a module whose retimer \
                         cannot be bypassed does not run at 10 Gb/s either",
                ),
                "A5",
            ),
            (Cage::SfpPlus, Cage::Sfp) => (
                Fit::No(
                    "it fits, but the cage's lane is made for 1.25 GBd; at 1 Gb/s it runs if \
                         the module has that rate too",
                ),
                "D1",
            ),
            _ => (Fit::No("the cage's lanes are not made for this rate"), SOURCE),
        };
    }
    match (form, cage) {
        _ if form == cage => (Fit::Yes, SOURCE),
        // A module that has the slower rate besides its own: rate select must reach it.
        (Cage::Sfp28, Cage::SfpPlus) => (
            Fit::Ask(
                "such a module runs at 10 Gb/s only if its retimer is bypassed, by rate select \
                      or by itself, and a host that takes it for an SFP+ may never ask for it",
            ),
            "A5",
        ),
        (Cage::SfpPlus, Cage::Sfp) => {
            (Fit::If("the module's rate select must be on the low rate"), "D1")
        }
        (Cage::Sfp, _) => (
            Fit::If(
                "the port must run 1000BASE-X; some such ports have no autonegotiation at \
                     1 Gb/s, and then it must be off at the other end too",
            ),
            "A6",
        ),
        (Cage::SfpPlus, _) => (Fit::If("the port must be set to 10 Gb/s"), "A11"),
        (Cage::QsfpPlus, Cage::Qsfp28 | Cage::Qsfp56 | Cage::QsfpDd) => {
            (Fit::If("the port must offer 40 Gb/s and be set to it"), MEMORY)
        }
        _ if form > cage => (
            Fit::Ask("the module must have this slower rate, and the port must ask for it"),
            MEMORY,
        ),
        _ => (Fit::If("the port must offer the slower rate and be set to it"), MEMORY),
    }
}

/// Grades from the least to the best of a kind: what is specified on one runs on those behind it
/// (ISO/IEC 11801 and TIA-568: categories are backward compatible).
const BETTER: &[&[Grade]] = &[&[
    Grade::Category5e,
    Grade::Category6,
    Grade::Category6Assessed,
    Grade::Category6a,
    Grade::Category7,
    Grade::Category8,
]];

/// The row of an interface type on a grade, or on the best lesser grade of its kind that has one.
pub fn row_on_at_least(interface: &str, grade: Grade) -> Option<&'static Row> {
    let line = BETTER.iter().find(|line| line.contains(&grade));
    let lesser = line.into_iter().flat_map(|line| line.iter().rev().skip_while(|g| **g != grade));
    super::media::row_on(interface, grade)
        .or_else(|| lesser.into_iter().find_map(|grade| super::media::row_on(interface, *grade)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::media;

    #[test]
    fn every_cage_has_its_row_and_its_name() {
        for row in CAGES {
            assert_eq!(row.cage.row().name, row.name);
            assert_eq!(Cage::parse(&row.name.to_lowercase()), Some(row.cage));
        }
        assert_eq!(Cage::parse("barge"), None);
    }

    /// Section 8 of the media notes, row by row (keys A5, A6, A11, D1; the rest from memory there).
    #[test]
    fn what_runs_where() {
        use Cage::{Jack, Qsfp28, QsfpPlus, Sfp, Sfp28, SfpPlus};
        type Check = fn(Fit) -> bool;
        let no: Check = |fit| matches!(fit, Fit::No(_));
        let yes_if: Check = |fit| matches!(fit, Fit::If(_));
        let ask: Check = |fit| matches!(fit, Fit::Ask(_));
        for (form, cage, speed, wanted) in [
            (Sfp, SfpPlus, 1000, yes_if),
            (SfpPlus, Sfp, 10_000, no),
            (SfpPlus, Sfp, 1000, yes_if),
            (SfpPlus, Sfp28, 10_000, yes_if),
            (Sfp28, SfpPlus, 25_000, no),
            (Sfp28, SfpPlus, 10_000, ask),
            (QsfpPlus, Qsfp28, 40_000, yes_if),
            (Qsfp28, QsfpPlus, 100_000, no),
            (Sfp28, Qsfp28, 25_000, ask),
            (Qsfp28, Sfp28, 100_000, no),
            (SfpPlus, Jack, 10_000, no),
        ] {
            let (found, source) = fit(cage, form, Mbps(speed));
            assert!(wanted(found), "{form:?} in {cage:?} at {speed}: {found:?}");
            assert!(!source.is_empty());
        }
        for row in CAGES.iter().filter_map(|row| Some((row.cage, row.top?))) {
            assert_eq!(fit(row.0, row.0, row.1).0, Fit::Yes);
        }
    }

    /// IEEE 802.3 names the rate, the maker's choice of a cage follows it.
    #[test]
    fn modules_fit_the_cage_they_are_made_for() {
        for row in media::ROWS {
            let cage = Cage::made_for(row);
            if let Some(top) = cage.row().top {
                assert!(row.speed <= top, "{} in {}", row.interface, cage.name());
                assert_eq!(fit(cage, cage, row.speed).0, Fit::Yes, "{}", row.interface);
            }
        }
    }

    /// TIA-568 and ISO/IEC 11801 as in table 2 of the media notes: 10GBASE-T on category 8 as on
    /// category 7 and 6A, on category 5e not at all.
    #[test]
    fn better_cable_serves_too() {
        let reach = |interface, grade| row_on_at_least(interface, grade).map(|row| row.reach.0);
        assert_eq!(reach("10GBASE-T", Grade::Category8), Some(100.0));
        assert_eq!(reach("1000BASE-T", Grade::Category7), Some(100.0));
        assert_eq!(reach("10GBASE-T", Grade::Category6), Some(37.0));
        assert_eq!(reach("10GBASE-T", Grade::Category5e), None);
        assert_eq!(reach("10GBASE-LRM", Grade::Om4), None, "OM1 to OM3 alone are named");
        assert_eq!(reach("10GBASE-LR", Grade::Os1), Some(10_000.0), "loss rules there");
        assert_eq!(reach("10GBASE-SR", Grade::Os2), None);
        assert_eq!(reach("25GBASE-SR", Grade::Om2), None);
    }
}
