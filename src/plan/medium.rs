//! Whether the medium carries a mode: grade, length, loss, too much light, crossings, and what
//! speaks for another kind of medium.

use crate::calc::power_budget::{self, Budget, Run};
use crate::chain::PartKind;
use crate::faults::Caution;
use crate::plan::ends::{is_bidirectional, is_direct_attach};
use crate::plan::judge::{Finding, Outcome};
use crate::plan::link::Link;
use crate::quantity::{Dbm, Decibels, Metres};
use crate::standards::cages::{self, PLUGGABLE};
use crate::standards::media::{self, Grade, Row};
use crate::standards::{attenuation, sources};

/// Connector pairs that a run of fibre has where nobody tells: one at each end.
pub const USUAL_CONNECTORS: u32 = 2;

/// The row that an interface type is judged by on this medium, with the grade told: its own grade, or
/// a lesser one of the same kind. Of direct-attach copper without a class the one that reaches longest;
/// a class of 25 Gb/s cable says nothing of faster types.
pub fn row(interface: &str, grade: Grade) -> Option<&'static Row> {
    let own = cages::row_on_at_least(interface, grade);
    let direct = || media::rows_of(interface).filter(|row| is_direct_attach(Some(row.grade)));
    own.or_else(|| match grade {
        Grade::Twinax => {
            direct().reduce(|best, next| if next.reach > best.reach { next } else { best })
        }
        _ if is_direct_attach(Some(grade)) => {
            direct().find(|row| row.interface == "10G direct attach")
        }
        _ => None,
    })
}

/// The classes of cable on which an interface type runs this length, where the class decides and is not
/// told.
fn classes(row: &Row, length: Metres) -> Vec<&'static str> {
    let fits = media::rows_of(row.interface).filter(|row| row.reach >= length);
    fits.map(|row| row.grade).filter(|grade| *grade != Grade::Twinax).map(Grade::name).collect()
}

/// Two interface types that no standard pairs: whether each hears the other inside its own limits over
/// this run, by the powers they may send; in words if so.
pub fn fits_by_power(link: &Link, types: [&'static str; 2]) -> Option<String> {
    let (grade, length) = (link.medium?, link.length?);
    let [near, far] = [row(types[0], grade)?, row(types[1], grade)?];
    let waves = types.map(media::nominal_wavelength);
    if let [Some(one), Some(other)] = waves
        && (one - other).abs() > 40.0
    {
        return None;
    }
    let run = run(link, grade, length);
    let mut least = f64::INFINITY;
    for (sends, hears) in [(near, far), (far, near)] {
        let (weakest, strongest) = power_budget::budget(sends, &run)?.received?;
        if length > sends.reach || strongest > hears.rx_most? {
            return None;
        }
        least = least.min(weakest.0 - hears.rx_least?.0);
    }
    (least >= 0.0).then(|| {
        format!("by the powers they may send each hears the other, with {least:.2} dB to spare")
    })
}

fn run(link: &Link, grade: Grade, length: Metres) -> Run {
    Run {
        grade,
        length,
        connectors: link.connectors.unwrap_or(USUAL_CONNECTORS),
        splices: link.splices,
        allowance: link.allowance,
    }
}

/// Judges the run for two interface types; tells the budget of the tighter direction.
pub fn check(link: &Link, types: [&'static str; 2], findings: &mut Vec<Finding>) -> Option<Budget> {
    let Some(grade) = link.medium else {
        let text = "nobody told the grade of the medium";
        findings.push(
            Finding::new(PartKind::Medium, Outcome::CannotTell, text, "the plan".into())
                .fix("read the printed legend on the cable's jacket; its colour is a hint only"),
        );
        return None;
    };
    let mut tightest: Option<Budget> = None;
    // A copper module against a slower jack runs, if at all, what the jack does.
    let slower = types
        .into_iter()
        .find(|name| types.contains(&PLUGGABLE) && *name != PLUGGABLE && *name != "10GBASE-T");
    let types = slower.map_or(types, |slower| [slower, slower]);
    for interface in types {
        let Some(row) = row(interface, grade) else {
            findings.push(wrong_medium(interface, grade));
            return None;
        };
        let Some(length) = link.length else {
            let text = format!(
                "nobody told the length; {interface} reaches {} on {}",
                row.reach,
                grade.name()
            );
            let finding = Finding::new(PartKind::Medium, Outcome::CannotTell, text, row.cite());
            findings.push(finding.fix("read the length marks on the jacket, or measure the run"));
            return None;
        };
        reach(link, row, grade, length, findings);
        if let Some(found) = power(link, row, grade, length, findings) {
            tightest = Some(tightest.map_or(found, |other| tighter(other, found)));
        }
        if types[0] == types[1] {
            break;
        }
    }
    findings.dedup();
    tightest
}

/// The tighter of two directions; the light is what either may bring.
fn tighter(one: Budget, other: Budget) -> Budget {
    let margin = |budget: &Budget| budget.margin.map(|margin| margin.0);
    let mut both = if margin(&other) < margin(&one) { other } else { one };
    both.loss.typical = Decibels(one.loss.typical.0.max(other.loss.typical.0));
    if let (Some((least, most)), Some((also_least, also_most))) = (one.received, other.received) {
        both.received = Some((Dbm(least.0.min(also_least.0)), Dbm(most.0.max(also_most.0))));
    }
    both
}

/// What is said of an interface type on a medium that it is not specified on.
pub fn wrong_medium(interface: &str, grade: Grade) -> Finding {
    let multimode = media::rows_of(interface).any(|row| row.grade.is_multimode());
    let single_mode = media::rows_of(interface).any(|row| row.grade == Grade::Os2);
    let long_wave =
        media::nominal_wavelength(interface).is_some_and(|nanometres| nanometres > 1000.0);
    let kinds = media::rows_of(interface).map(|row| row.grade);
    let mut names: Vec<&str> = kinds.map(Grade::name).collect();
    names.dedup();
    let specified = format!("{interface} is specified on {}", names.join(", "));
    let better = match names.last() {
        Some(best) if grade.is_twisted_pair() => format!("use {best}, or a lower speed"),
        _ => "use modules and medium of one kind".to_owned(),
    };
    let source = media::rows_of(interface).next().map_or_else(String::new, Row::cite);
    let (effect, text) = if grade.is_single_mode() && multimode && !single_mode && !long_wave {
        (
            Outcome::WillNot,
            "multimode modules on single-mode fibre: the light of a wide core does not go into a narrow \
             one, many decibels are lost",
        )
    } else if grade.is_single_mode() && long_wave {
        (
            Outcome::NotCovered,
            "it is made for multimode fibre; short runs may work, nobody answers for them",
        )
    } else if grade.is_multimode() && single_mode && !multimode {
        (
            Outcome::NotCovered,
            "single-mode modules on multimode fibre: no figure is known here for how far that runs",
        )
    } else if is_direct_attach(Some(grade))
        && media::rows_of(interface).any(|row| is_direct_attach(Some(row.grade)))
    {
        (Outcome::NotCovered, "this class of cable is not specified for it")
    } else if grade.is_fibre() || grade.is_twisted_pair() {
        let same_kind = media::rows_of(interface).any(|row| {
            (row.grade.is_twisted_pair() && grade.is_twisted_pair())
                || (row.grade.is_fibre() && grade.is_fibre())
        });
        let least = media::rows_of(interface).map(|row| row.grade).min();
        if same_kind && least.is_some_and(|least| grade > least) {
            (Outcome::NotCovered, "no figure is known here for this grade")
        } else if same_kind {
            (Outcome::NotCovered, "this grade is not good enough for that speed")
        } else {
            (Outcome::WillNot, "the interface type is for another kind of medium")
        }
    } else {
        (Outcome::WillNot, "the interface type is for another kind of medium")
    };
    Finding::new(
        PartKind::Medium,
        effect,
        format!("{interface} on {}: {text}", grade.name()),
        source,
    )
    .limit(specified)
    .fix(&better)
}

fn reach(link: &Link, row: &Row, grade: Grade, length: Metres, findings: &mut Vec<Finding>) {
    let limit = format!("{} on {} to {}", row.interface, grade.name(), row.reach);
    // Common on category 6: neither forbidden nor promised.
    let assessed = media::row_on(row.interface, Grade::Category6Assessed);
    if length > row.reach
        && grade == Grade::Category6
        && let Some(assessed) = assessed.filter(|assessed| length <= assessed.reach)
    {
        let text = format!(
            "{length} of category 6 at {}: between {} and {} it depends on the crosstalk between cables",
            row.speed, row.reach, assessed.reach
        );
        findings.push(
            Finding::new(PartKind::Medium, Outcome::CannotTell, text, assessed.cite())
                .limit(limit)
                .fix(
                    "have the run measured to 500 MHz with alien crosstalk (TIA TSB-155), use category 6A, \
                     or let the ports offer 5 Gb/s at most: the ports do not look at the cable",
                ),
        );
        return;
    }
    if length > row.reach {
        let text = if is_direct_attach(Some(grade)) {
            format!(
                "{length} of direct-attach copper is longer than {} is specified for",
                row.interface
            )
        } else {
            format!(
                "{length} of {} is longer than {} is specified for",
                grade.name(),
                row.interface
            )
        };
        let better = media::rows_of(row.interface)
            .filter(|other| other.reach >= length && other.grade.is_fibre() == grade.is_fibre())
            // What one can buy.
            .filter(|other| {
                ![Grade::Mmf62, Grade::Om1, Grade::Mmf50, Grade::Om2].contains(&other.grade)
            })
            .map(|other| other.grade.name())
            .next();
        let fix = better.map_or_else(
            || "use a shorter run, or an interface type that reaches farther".to_owned(),
            |better| format!("use {better}, or an interface type that reaches farther"),
        );
        findings.push(
            Finding::new(PartKind::Medium, Outcome::NotCovered, text, row.cite())
                .limit(limit)
                .fix(&fix),
        );
    } else if row.interface == PLUGGABLE {
        let (least, most) = cages::PLUGGABLE_WATTS;
        let text = format!(
            "a copper module takes {least} to {most} W where an SFP+ cage is made to cool {} W: it runs \
             hot, and several side by side heat each other",
            cages::SFP_PLUS_WATTS
        );
        findings.push(
            Finding::new(
                PartKind::Module,
                Outcome::WorksIf,
                text,
                format!("{}; power level II of SFF-8431, from memory", sources::cite("D14 D16")),
            )
            .limit(limit)
            .fix("ask the maker of the port how many it allows, keep the neighbouring cage empty, and see to air")
            .care(Caution::Heat),
        );
    }
    if let Some(shortest) = media::shortest(row).filter(|shortest| length < *shortest) {
        let text = format!("{length} is shorter than {} is specified for", row.interface);
        findings.push(
            Finding::new(PartKind::Medium, Outcome::NotCovered, text, sources::cite("T1 T2"))
                .limit(format!("{} from {shortest} on", row.interface))
                .fix("use a longer cord, or direct-attach copper"),
        );
    }
    if row.interface == "5GBASE-T" && grade == Grade::Category5e {
        let text = "5GBASE-T on category 5e runs as far as the crosstalk between cables permits";
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, row.cite())
                .fix("have the run assessed (TIA TSB-5021), or use category 6"),
        );
    }
    let classes = if grade == Grade::Twinax { classes(row, length) } else { Vec::new() };
    if !classes.is_empty() && length <= row.reach {
        let text = format!(
            "the class of the cable is not told: {} at {length} is specified on {}",
            row.interface,
            classes.join(", ")
        );
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, row.cite())
                .fix("look for the class on the cable's label or in the maker's list"),
        );
    }
    let copper = grade.is_twisted_pair() || is_direct_attach(Some(grade));
    if copper && link.between_buildings {
        let text = "copper between buildings or separate mains supplies: it joins their earths, and \
                    lightning finds its way along it";
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, COMMON.into())
                .fix("use fibre there, for isolation, not for reach; local codes and licensed practice decide"),
        );
    }
    if copper && link.interference {
        let text = "copper beside machines or power cables: strong interference damages frames";
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, COMMON.into())
                .fix("use fibre there, or keep the run well apart"),
        );
    }
}

const COMMON: &str = "common practice, no published source";

fn power(
    link: &Link,
    row: &Row,
    grade: Grade,
    length: Metres,
    findings: &mut Vec<Finding>,
) -> Option<Budget> {
    if !grade.is_fibre() {
        return None;
    }
    let run = run(link, grade, length);
    let long = media::engineered(row).filter(|(up_to, _)| length > *up_to);
    // Beyond what the standard asks of any fibre, its row; up to there what it allows there.
    let within = media::engineered(row).and_then(|(_, within)| within);
    let row = &Row {
        loss_most: if long.is_some() { row.loss_most } else { within.or(row.loss_most) },
        ..*row
    };
    if let Some((up_to, _)) = long {
        let text = format!(
            "over {up_to} this is an engineered link: the fibre must lose less than the cabling standard \
             allows, by measurement"
        );
        let limit = format!("{} to {up_to}, beyond by engineering to {}", row.interface, row.reach);
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, row.cite())
                .limit(limit)
                .fix("have the loss of the run measured, and hold it against what is allowed"),
        );
    }
    let budget = power_budget::budget(row, &run)?;
    loss(row, &run, &budget, findings);
    too_much(row, &budget, findings);
    if row.interface == "10GBASE-LRM" {
        let text =
            "10GBASE-LRM needs ports that compensate dispersion: made for it, not every SFP+ cage";
        let source = sources::cite("D15");
        findings.push(Finding::new(PartKind::Port, Outcome::WorksIf, text, source));
    }
    if row.interface == "1000BASE-LX" && grade.is_multimode() {
        let text = "1000BASE-LX on multimode fibre needs a mode-conditioning cord at both ends";
        findings.push(Finding::new(PartKind::Medium, Outcome::WorksIf, text, row.cite()));
    }
    let duplex = row.lanes == 1 || media::is_several(row.wavelength);
    let strands_cross = duplex && !is_bidirectional(row.interface);
    if strands_cross && let Some(crossings) = link.crossings.filter(|count| count.is_multiple_of(2))
    {
        let text = format!(
            "the two strands change places {crossings} times along the run, an even number: each end \
             sends into the other's transmitter, and neither sees light"
        );
        findings.push(
            Finding::new(
                PartKind::Medium,
                Outcome::WillNot,
                text,
                "duplex polarity (TIA-568), from memory".into(),
            )
            .limit("an odd number of crossings".into())
            .fix("swap the two plugs of one cord, at one end")
            .care(Caution::Eyes),
        );
    }
    Some(budget)
}

fn loss(row: &Row, run: &Run, budget: &Budget, findings: &mut Vec<Finding>) {
    let (Some(allowed), Some(margin), Some(typical)) =
        (budget.allowed, budget.margin, budget.typical_margin)
    else {
        return;
    };
    if margin.0 >= 0.0 {
        return;
    }
    let splices =
        if run.splices == 0 { String::new() } else { format!(" and {} splices", run.splices) };
    let allowance = if run.allowance.0 > 0.0 {
        format!(", {} put aside", run.allowance)
    } else {
        String::new()
    };
    let what = format!(
        "{} of {} with {} connector pairs{splices} may lose {:.2} dB{allowance}",
        run.length,
        run.grade.name(),
        run.connectors,
        budget.loss.most.0
    );
    let limit = format!("{} allows {:.2} dB", row.interface, allowed.0);
    let source = format!("{}; {}", row.cite(), attenuation::SOURCE);
    let bare =
        Run { connectors: run.connectors.min(2), splices: 0, allowance: Decibels(0.0), ..*run };
    let fibre_alone = power_budget::budget(row, &bare)
        .and_then(|bare| bare.margin)
        .is_some_and(|margin| margin.0 < 0.0);
    let (effect, text) = if typical.0 >= 0.0 {
        (
            Outcome::WorksIf,
            format!(
                "{what}, {:.2} dB more than allowed; with good connectors it usually loses {:.2} dB",
                -margin.0, budget.loss.typical.0
            ),
        )
    } else {
        (Outcome::NotCovered, format!("{what}, {:.2} dB more than allowed", -margin.0))
    };
    findings.push(
        Finding::new(PartKind::Medium, effect, text, source).limit(limit).fix(if fibre_alone {
            "use an interface type that allows more loss, or fibre that loses less: fewer connectors do \
             not help"
        } else {
            "do with fewer connector pairs, or have the loss measured before it is put to use"
        }),
    );
}

/// The fixed attenuator to buy for at least so much: they come in these sizes (common practice, no
/// published source); beyond, whole decibels.
fn attenuator_for(least: Decibels) -> Decibels {
    let sizes = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0];
    Decibels(sizes.into_iter().find(|size| *size >= least.0).unwrap_or(least.0.ceil()))
}

/// The attenuator that a budget needs, where the weakest module is still covered with it.
pub fn attenuated(budget: &Budget) -> Option<Decibels> {
    let whole = attenuator_for(budget.attenuator?);
    budget.margin.filter(|margin| margin.0 >= whole.0).map(|_| whole)
}

fn too_much(row: &Row, budget: &Budget, findings: &mut Vec<Finding>) {
    let Some(attenuator) = budget.attenuator else { return };
    // Fixed attenuators come in whole decibels; a reading's accuracy is no matter here.
    let whole = attenuator_for(attenuator);
    let room = attenuated(budget).is_some();
    let text = format!(
        "{} may send so much light over so short a run that the receiver is overloaded, or \
         destroyed: {:.1} dB too much",
        row.interface, attenuator.0
    );
    let fix = if room {
        format!(
            "put a fixed attenuator of {whole} at each receiver, or use a module of shorter reach"
        )
    } else {
        "have the loss of the run measured, and choose the attenuator by that: one that is large enough \
         for the strongest module would leave the weakest without cover"
            .to_owned()
    };
    let limit = row.rx_most.map_or_else(String::new, |most| format!("receives at most {most}"));
    findings.push(
        Finding::new(PartKind::Module, Outcome::WorksIf, text, row.cite())
            .limit(limit)
            .fix(&fix)
            .care(Caution::Eyes),
    );
}
