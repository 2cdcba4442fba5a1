//! Whether the medium carries a mode: grade, length, loss, too much light, crossings, and what
//! speaks for another kind of medium.

use crate::calc::power_budget::{self, Budget, Run};
use crate::chain::PartKind;
use crate::faults::Caution;
use crate::plan::ends::{is_bidirectional, is_direct_attach};
use crate::plan::judge::{Finding, Outcome};
use crate::plan::link::Link;
use crate::quantity::{Decibels, Metres};
use crate::standards::cages::{self, PLUGGABLE};
use crate::standards::media::{self, Grade, Row};
use crate::standards::{attenuation, sources};

/// Connector pairs that a run of fibre has where nobody tells: one at each end.
pub const USUAL_CONNECTORS: u32 = 2;

/// The row that an interface type is judged by on this medium, with the grade told: its own grade, or
/// a lesser one of the same kind. Plain direct-attach copper is judged by the longest class.
pub fn row(interface: &str, grade: Grade) -> Option<&'static Row> {
    let own = cages::row_on_at_least(interface, grade);
    let of_class = || {
        let rows = media::rows_of(interface).filter(|row| is_direct_attach(Some(row.grade)));
        rows.max_by(|one, other| one.reach.0.total_cmp(&other.reach.0))
    };
    own.or_else(|| is_direct_attach(Some(grade)).then(of_class).flatten())
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
        if let Some(found) = power(link, row, grade, length, findings)
            && tightest.is_none_or(|other| found.margin.map(|m| m.0) < other.margin.map(|m| m.0))
        {
            tightest = Some(found);
        }
        if types[0] == types[1] {
            break;
        }
    }
    findings.dedup();
    tightest
}

fn wrong_medium(interface: &str, grade: Grade) -> Finding {
    let multimode = media::rows_of(interface).any(|row| row.grade.is_multimode());
    let single_mode = media::rows_of(interface).any(|row| row.grade == Grade::Os2);
    let kinds = media::rows_of(interface).map(|row| row.grade);
    let mut names: Vec<&str> = kinds.map(Grade::name).collect();
    names.dedup();
    let specified = format!("{interface} is specified on {}", names.join(", "));
    let source = media::rows_of(interface).next().map_or_else(String::new, Row::cite);
    let (effect, text) = if grade == Grade::Os2 && multimode && !single_mode {
        (
            Outcome::WillNot,
            "multimode modules on single-mode fibre: the light of a wide core does not go into a narrow \
             one, many decibels are lost",
        )
    } else if grade.is_multimode() && single_mode && !multimode {
        (
            Outcome::NotCovered,
            "single-mode modules on multimode fibre: no standard says how far that runs",
        )
    } else if grade.is_fibre() || grade.is_twisted_pair() {
        let same_kind = media::rows_of(interface).any(|row| {
            (row.grade.is_twisted_pair() && grade.is_twisted_pair())
                || (row.grade.is_fibre() && grade.is_fibre())
        });
        if same_kind {
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
    .fix("use modules and medium of one kind")
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
    let copper = grade.is_twisted_pair() || is_direct_attach(Some(grade));
    if copper && link.between_buildings {
        let text = "copper between buildings or separate mains supplies: it joins their earths, and \
                    lightning finds its way along it";
        findings.push(
            Finding::new(PartKind::Medium, Outcome::WorksIf, text, COMMON.into())
                .fix("use fibre there, for isolation, not for reach; local codes and licensed practice decide")
                .care(Caution::Power),
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
    let run = Run {
        grade,
        length,
        connectors: link.connectors.unwrap_or(USUAL_CONNECTORS),
        splices: link.splices,
        allowance: link.allowance,
    };
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
        Finding::new(PartKind::Medium, effect, text, source).limit(limit).fix(
            "do with fewer connector pairs, or have the loss measured before it is put to use",
        ),
    );
}

fn too_much(row: &Row, budget: &Budget, findings: &mut Vec<Finding>) {
    let Some(attenuator) = budget.attenuator else { return };
    // Fixed attenuators come in whole decibels; a reading's accuracy is no matter here.
    let whole = Decibels(attenuator.0.ceil());
    let room = budget.margin.is_some_and(|margin| margin.0 >= whole.0);
    let text = format!(
        "{} may send so much light over so short a run that the receiver is overloaded, or \
         destroyed: {:.1} dB too much",
        row.interface, attenuator.0
    );
    let fix = if room {
        format!(
            "put a fixed attenuator of {whole:.0} at each receiver, or use a module of shorter reach"
        )
    } else {
        "use modules of shorter reach: with an attenuator that is large enough the weakest module would \
         no longer be covered"
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
