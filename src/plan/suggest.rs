//! Planning turned round: distance, speed and what is there already; out come the media that serve,
//! the cheapest class of parts first. Classes, not makes or prices: what costs less than what is
//! common practice, no published source.

use crate::chain::PartKind;
use crate::faults::Caution;
use crate::plan::judge::{Finding, Outcome, Planned, judge};
use crate::plan::link::{End, Link};
use crate::plan::medium;
use crate::quantity::Mbps;
use crate::standards::cages::{Cage, PLUGGABLE};
use crate::standards::media::{self, Grade, Row};

/// A medium that serves, or that would but for one thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// Interface type at each end.
    pub types: [&'static str; 2],
    /// Grade of the medium.
    pub grade: Grade,
    /// Better grades that serve as well.
    pub or_better: Vec<Grade>,
    /// True where it is the medium that is there already.
    pub is_there: bool,
    /// Class of its parts; the lower the cheaper.
    pub class: Class,
    /// Cage or jack that it needs at both ends.
    pub cage: Cage,
    /// The link, judged.
    pub planned: Planned,
}

/// Classes of parts, the cheapest first (common practice, no published source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Twisted pair between jacks.
    Jacks,
    /// A copper cable with its ends fixed.
    DirectAttach,
    /// Multimode fibre.
    Multimode,
    /// Single-mode fibre, some kilometres.
    SingleMode,
    /// Twisted pair with a module in each cage.
    CopperModule,
    /// Single-mode fibre, tens of kilometres.
    LongReach,
    /// Twisted pair between jacks of 25 Gb/s and more, which scarcely any port has.
    ScarceJacks,
}

impl Class {
    fn of(row: &Row, grade: Grade) -> Self {
        match grade {
            _ if row.interface == PLUGGABLE => Self::CopperModule,
            grade if grade.is_twisted_pair() && row.speed > Mbps(10_000) => Self::ScarceJacks,
            grade if grade.is_twisted_pair() => Self::Jacks,
            grade if grade.is_multimode() => Self::Multimode,
            // Forty kilometres and what goes with it: stronger lasers, cooled.
            grade if grade.is_single_mode() && row.reach.0 > 10_000.0 => Self::LongReach,
            grade if grade.is_single_mode() => Self::SingleMode,
            _ => Self::DirectAttach,
        }
    }

    /// Plain words.
    pub fn text(self) -> &'static str {
        match self {
            Self::Jacks => "twisted pair, jack to jack",
            Self::DirectAttach => "direct-attach copper",
            Self::Multimode => "multimode fibre, two modules",
            Self::SingleMode => "single-mode fibre, two modules",
            Self::CopperModule => "twisted pair, a copper module in each cage",
            Self::LongReach => "single-mode fibre, two long-reach modules",
            Self::ScarceJacks => "twisted pair, jack to jack; scarcely any port has such jacks",
        }
    }
}

/// What serves a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestions {
    /// What serves, the medium that is there first, then the cheapest class of parts.
    pub serve: Vec<Suggestion>,
    /// What serves with an attenuator at each receiver; empty at the end, since it serves or is left out.
    weakened: Vec<Suggestion>,
    /// What was left out although its kind has this speed: the interface type, the grade and why.
    pub left_out: Vec<(&'static str, Grade, Finding)>,
}

/// Finds what serves a run at a speed. Grades that older sites have are taken only where they are told
/// to be there: nobody lays them any more.
pub fn suggest(asked: &Link, speed: Mbps) -> Suggestions {
    const NO_LONGER_LAID: &[Grade] =
        &[Grade::Mmf62, Grade::Om1, Grade::Mmf50, Grade::Om2, Grade::Os1];
    let mut found = Suggestions { serve: Vec::new(), weakened: Vec::new(), left_out: Vec::new() };
    let mut tried: Vec<(&str, Grade)> = Vec::new();
    for row in media::ROWS.iter().filter(|row| row.speed == speed) {
        let there = asked.medium.filter(|grade| is_row(row, *grade));
        let laid = (!NO_LONGER_LAID.contains(&row.grade)).then_some(row.grade);
        for grade in there.into_iter().chain(laid) {
            // What the standard has on a lesser grade serves on a better one: one row tells both.
            let assessed = grade == Grade::Category6Assessed && asked.medium != Some(grade);
            if tried.contains(&(row.interface, grade)) || assessed {
                continue;
            }
            tried.push((row.interface, grade));
            try_one(asked, row, grade, &mut found);
        }
    }
    // What is there, and is specified for nothing of this speed.
    if let Some(grade) = asked.medium.filter(|grade| !tried.iter().any(|(_, on)| on == grade)) {
        let like = |row: &&Row| {
            row.grade.is_twisted_pair() == grade.is_twisted_pair()
                && row.grade.is_fibre() == grade.is_fibre()
        };
        if let Some(row) = media::ROWS.iter().filter(|row| row.speed == speed).find(like) {
            found.left_out.push((row.interface, grade, medium::wrong_medium(row.interface, grade)));
        }
    }
    // Light that is too strong can be weakened: worth it where nothing weaker serves.
    if !found.serve.iter().any(|one| one.grade.is_single_mode()) {
        let weakened = std::mem::take(&mut found.weakened);
        found.left_out.retain(|(name, ..)| !weakened.iter().any(|one| one.types.contains(name)));
        found.serve.extend(weakened);
    }
    let reach = |one: &Suggestion| one.planned.spare_length.map_or(0.0, |spare| spare.0);
    found.serve.sort_by(|one, other| {
        let order = |one: &Suggestion| (!one.is_there, one.class, one.planned.findings.len());
        order(one).cmp(&order(other)).then_with(|| {
            // Of one class the one that reaches least beyond what is asked: it costs least.
            reach(one).total_cmp(&reach(other))
        })
    });
    let mut serve: Vec<Suggestion> = Vec::new();
    for one in std::mem::take(&mut found.serve) {
        let same = serve.iter_mut().find(|kept| kept.types == one.types && !kept.is_there);
        match same {
            Some(kept) => kept.or_better.push(one.grade),
            None => serve.push(one),
        }
    }
    // One line an interface type: of the grade on which it reaches farthest, and of the one that is
    // there. Nobody asks why a type is left out that another grade lets serve.
    let mut left_out: Vec<(&'static str, Grade, Finding)> = Vec::new();
    for one in std::mem::take(&mut found.left_out) {
        let there = asked.medium == Some(one.1);
        if !there && serve.iter().any(|kept| kept.types.contains(&one.0)) {
            continue;
        }
        let reach = |(name, grade, _): &(&str, Grade, Finding)| {
            medium::row(name, *grade).map_or(0.0, |row| row.reach.0)
        };
        let same = |kept: &&(&str, Grade, Finding)| kept.0 == one.0 && asked.medium != Some(kept.1);
        if !there && left_out.iter().find(same).is_some_and(|kept| reach(kept) > reach(&one)) {
            continue;
        }
        left_out.retain(|kept| kept.0 != one.0 || asked.medium == Some(kept.1) || there);
        left_out.push(one);
    }
    Suggestions { serve, left_out, weakened: Vec::new() }
}

fn is_row(row: &Row, grade: Grade) -> bool {
    medium::row(row.interface, grade).is_some_and(|found| found.interface == row.interface)
}

fn try_one(asked: &Link, row: &'static Row, grade: Grade, found: &mut Suggestions) {
    let other = match row.interface {
        // 25GBASE-CR runs every class of cable that it runs.
        "25GBASE-CR-S" => return,
        "1000BASE-BX10-D" => "1000BASE-BX10-U",
        "1000BASE-BX10-U" => return,
        same => same,
    };
    let class = Class::of(row, grade);
    let cage = Cage::made_for(row);
    let end = |interface: &'static str| End {
        cage: Some(cage),
        best: Some(row.speed),
        // Jacks have what their speed says, cables bring their own ends.
        module: match class {
            Class::Jacks | Class::ScarceJacks | Class::DirectAttach => Vec::new(),
            _ => vec![interface],
        },
        sharing: 1,
        ..End::default()
    };
    let link = Link {
        near: end(row.interface),
        far: end(other),
        medium: Some(grade),
        wanted: None,
        ..asked.clone()
    };
    let planned = judge(&link);
    let is_there = asked.medium == Some(grade);
    // What needs something put right is no suggestion, unless it is there; what only needs setting is.
    let stands_against = |finding: &Finding| {
        finding.effect > Outcome::WorksIf
            || (finding.effect == Outcome::WorksIf && finding.fix.is_some() && !is_there)
    };
    let heat_alone = |finding: &&Finding| finding.care == Some(Caution::Heat);
    let against = planned.findings.iter().filter(|one| stands_against(one) && !heat_alone(one));
    let against: Vec<Finding> = against.cloned().collect();
    let attenuated = planned.budget.as_ref().and_then(medium::attenuated).is_some();
    let only_too_strong = attenuated && against.iter().all(|one| one.part == PartKind::Module);
    let suggestion = Suggestion {
        types: [row.interface, other],
        grade,
        or_better: Vec::new(),
        is_there,
        class,
        cage,
        planned,
    };
    // What runs, but not at this speed, is left out for what keeps it from being fast.
    let too_slow =
        (suggestion.planned.speed != Some(row.speed)).then(|| suggestion.planned.findings.first());
    let why = against.first().or(too_slow.flatten()).cloned();
    match why {
        None => found.serve.push(suggestion),
        Some(why) => {
            if only_too_strong {
                found.weakened.push(suggestion);
            }
            found.left_out.push((row.interface, grade, why));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::words;

    fn serve(text: &str) -> Vec<(&'static str, &'static str)> {
        let (link, speed) = words::question(text).unwrap();
        let found = suggest(&link, speed);
        found.serve.iter().map(|one| (one.types[0], one.grade.name())).collect()
    }

    /// Reaches of IEEE 802.3 and TIA-568 as in tables 1.2, 1.3 and 2 of the media notes: what is
    /// suggested reaches, and what does not is left out.
    #[test]
    fn what_serves_ten_gigabit() {
        let short = serve("10m 10G");
        assert_eq!(short.first(), Some(&("10GBASE-T", "Cat6")), "{short:?}");
        assert!(!short.contains(&("10G direct attach", "twinax")), "7 m at most");
        assert!(short.contains(&("10GBASE-SR", "OM3")));
        assert!(short.contains(&("10GBASE-T pluggable", "Cat6A")));
        let place = |interface| short.iter().position(|one| one.0 == interface);
        assert!(place("10GBASE-SR") < place("10GBASE-LRM"), "the port must compensate: {short:?}");
        assert!(!short.iter().any(|one| one.0 == "10GBASE-ER"), "it would overload");
        let longer = serve("60m 10G");
        assert_eq!(longer.first(), Some(&("10GBASE-T", "Cat6A")), "{longer:?}");
        assert!(!longer.iter().any(|one| one.1 == "Cat6" || one.0 == "10GBASE-T pluggable"));
        assert_eq!(serve("250m 10G").first(), Some(&("10GBASE-SR", "OM3")));
        assert_eq!(serve("5km 10G"), [("10GBASE-LR", "OS2")]);
        assert_eq!(serve("3m 10G").get(1), Some(&("10G direct attach", "twinax")));
    }

    #[test]
    fn what_is_there_comes_first() {
        let old = serve("60m 10G OM2");
        assert_eq!(old.first(), Some(&("10GBASE-SR", "OM2")), "82 m on OM2: {old:?}");
        let (link, speed) = words::question("90m 10G OM2").unwrap();
        let found = suggest(&link, speed);
        assert!(
            found.serve.iter().all(|one| one.grade != Grade::Om2 || one.types[0] == "10GBASE-LRM")
        );
        assert!(
            found
                .left_out
                .iter()
                .any(|(name, grade, _)| *name == "10GBASE-SR" && *grade == Grade::Om2)
        );
    }

    /// Between buildings fibre is the choice for reasons other than reach (common practice).
    #[test]
    fn between_buildings_copper_is_left_out() {
        let found = serve("20m 1G between buildings");
        assert!(!found.is_empty());
        assert!(
            found.iter().all(|(_, grade)| Grade::parse(grade).unwrap().is_fibre()),
            "{found:?}"
        );
    }
}
