//! What both ends must be set to, and whether what the plan says of them is that.

use std::num::NonZeroU32;

use serde::Serialize;

use crate::chain::PartKind;
use crate::plan::judge::{Finding, Mode, Outcome};
use crate::plan::link::{End, Fec, Link, Slot};
use crate::quantity::{Mbps, Metres};
use crate::standards::cages::Fit;
use crate::standards::media::{self, Grade};

/// What a link needs set at both ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Settings {
    /// Of the speed.
    pub speed: String,
    /// Of autonegotiation.
    pub autonegotiation: String,
    /// Of FEC.
    pub fec: String,
    /// Which ends must be set by hand: what to set there. Empty where the ports see to it.
    pub by_hand: Vec<ByHand>,
    /// What nothing negotiates and most ports have by default: worth a look.
    pub look_at: Vec<String>,
}

/// The settings of a mode over its medium.
pub fn settings(link: &Link, mode: &Mode) -> Settings {
    let row = mode.row;
    let clause = row.and_then(|row| row.autonegotiation_clause);
    let speed = mode.speed;
    let off = |end: &End| end.autonegotiation == Some(false);
    let negotiated = matches!(clause, Some(28 | 73)) && !off(&link.near) && !off(&link.far);
    let (mut by_hand, mut look_at) = (Vec::new(), Vec::new());
    for (part, end, able, word) in [
        (PartKind::Port, &link.near, &mode.near, "this end"),
        (PartKind::FarPort, &link.far, &mode.far, "far end"),
    ] {
        let slower = top_of(end).is_some_and(|top| top > speed);
        if slower && !negotiated {
            by_hand.push(ByHand { part, text: format!("{word}: set the port to {speed}") });
        } else if let Fit::If(text) = able.fit.0 {
            by_hand.push(ByHand { part, text: format!("{word}: {text}") });
        }
    }
    if clause == Some(73) && !negotiated {
        let fec = if fec_by_class(link).is_empty() { "the same FEC" } else { fec_by_class(link) };
        let text = format!("both ends: autonegotiation off, {speed}, {fec}");
        by_hand.push(ByHand { part: PartKind::Port, text });
    }
    let autonegotiation = match clause {
        Some(37 | 73) if off(&link.near) || off(&link.far) => "off at both ends".into(),
        Some(28) => "on at both ends (clause 28; it is part of the standard)".into(),
        Some(37) => "the same at both ends, on if both have it (clause 37)".into(),
        Some(73) => {
            "on at both ends (clause 73); where a port lacks it, off at both, with speed and \
                     FEC set alike"
                .into()
        }
        _ => "there is none for this interface type".into(),
    };
    let fec = match row.map(|row| row.fec) {
        Some(media::Fec::BaseROrRs) if !negotiated && !fec_by_class(link).is_empty() => {
            fec_by_class(link).to_owned()
        }
        _ => fec_needed(link, row).to_owned(),
    };
    if matches!(row.map(|row| row.fec), Some(media::Fec::Rs528 | media::Fec::Rs544)) && !negotiated
    {
        look_at.push(
            "see that RS-FEC is on at both ends: by setting or by default, nothing negotiates it here"
                .into(),
        );
    }
    let speed =
        if negotiated { format!("{speed}, negotiated") } else { format!("{speed} at both ends") };
    Settings { speed, autonegotiation, fec, by_hand, look_at }
}

/// Something that must be set by hand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ByHand {
    /// The port to set; of both ends this one.
    pub part: PartKind,
    /// What to set.
    pub text: String,
}

/// The fastest that a port is for.
pub fn top_of(end: &End) -> Option<Mbps> {
    let listed = end.speeds.iter().max().copied();
    end.best.or(listed).or_else(|| end.cage.and_then(|cage| cage.row().top))
}

/// What a 25 Gb/s cable of this class needs where nothing negotiates it; empty where that is not told.
fn fec_by_class(link: &Link) -> &'static str {
    match link.medium {
        Some(Grade::TwinaxLong) => "RS-FEC at both ends",
        Some(Grade::TwinaxShort) => "BASE-R or RS-FEC, the same at both ends",
        Some(Grade::TwinaxNoFec) => "the same FEC or none at both ends",
        _ => "",
    }
}

fn fec_needed(link: &Link, row: Option<&media::Row>) -> &'static str {
    match row.map(|row| row.fec) {
        Some(media::Fec::None) => "none at both ends",
        Some(media::Fec::InPhy) => "part of the interface type, nothing to set",
        Some(media::Fec::Rs528) => "RS-FEC at both ends (RS(528,514), clause 91 or 108)",
        Some(media::Fec::Rs544) => "RS-FEC at both ends (RS(544,514)), always on",
        Some(media::Fec::BaseROnly) => "BASE-R at both ends (clause 74), negotiated",
        Some(media::Fec::BaseROptional) => "none, or BASE-R at both ends (clause 74)",
        Some(media::Fec::BaseROrRs) => match (link.medium, link.length) {
            (Some(Grade::TwinaxNoFec), _) => "negotiated; a cable of class CA-25G-N needs none",
            (Some(Grade::TwinaxShort), _) => {
                "negotiated; a cable of class CA-25G-S needs BASE-R or RS-FEC"
            }
            (Some(Grade::TwinaxLong), _) => "negotiated; a cable of class CA-25G-L needs RS-FEC",
            (_, Some(Metres(length))) if length > 3.0 => "RS-FEC at both ends: over 3 m needs it",
            _ => {
                "RS-FEC at both ends serves every class of cable; shorter ones do with BASE-R or none"
            }
        },
        None => "not known",
    }
}

/// What the plan says of the ends' settings, held against what the link needs.
pub fn contradictions(link: &Link, mode: &Mode, findings: &mut Vec<Finding>) {
    negotiation(link, mode, findings);
    fec_contradictions(link, mode, findings);
    let (near, far) = (link.near.mtu, link.far.mtu);
    if let (Some(near), Some(far)) = (near, far)
        && near != far
    {
        let text = format!(
            "one end takes packets of {near} octets, the other of {far}: longer ones vanish without a word"
        );
        let part = if near > far { PartKind::FarPort } else { PartKind::Port };
        findings.push(
            Finding::new(
                part,
                Outcome::NotCovered,
                text,
                "IEEE 802.3: frames too long are dropped".into(),
            )
            .fix("set both ends, and every switch on the way, to the same MTU"),
        );
    }
}

fn negotiation(link: &Link, mode: &Mode, findings: &mut Vec<Finding>) {
    let Some(clause @ (28 | 37 | 73)) = mode.row.and_then(|row| row.autonegotiation_clause) else {
        return;
    };
    let (near, far) = (link.near.autonegotiation, link.far.autonegotiation);
    let off = |told: Option<bool>| told == Some(false);
    if !off(near) && !off(far) {
        return;
    }
    // Agreed, where the standard allows it: what is to be set by hand then stands with the settings.
    if off(near) && off(far) && clause != 28 {
        return;
    }
    let part = if off(near) { PartKind::Port } else { PartKind::FarPort };
    let differ = (near == Some(true)) || (far == Some(true));
    let (effect, text) = match clause {
        28 if mode.speed >= Mbps(1000) => {
            (Outcome::WillNot, "without autonegotiation there is no 1000BASE-T or faster")
        }
        28 => (Outcome::WillNot, "one end does not negotiate: speed and duplex do not match"),
        37 if differ => (
            Outcome::WillNot,
            "one end negotiates and the other does not: the end that does stays down",
        ),
        73 if differ => (
            Outcome::WillNot,
            "one end negotiates and the other does not: clause 73 detects no port that is forced",
        ),
        37 => (Outcome::WorksIf, "without autonegotiation here it must be off at both ends"),
        _ => (
            Outcome::WorksIf,
            "without autonegotiation both ends need it off, and the same speed and FEC by hand",
        ),
    };
    let source = format!("IEEE 802.3 clause {clause}, partly from memory");
    findings.push(Finding::new(part, effect, text, source).fix(if clause == 28 {
        "switch autonegotiation on at both ends"
    } else {
        "switch autonegotiation on at both ends, or off at both"
    }));
}

fn fec_contradictions(link: &Link, mode: &Mode, findings: &mut Vec<Finding>) {
    let Some(row) = mode.row else { return };
    let told = [(PartKind::Port, link.near.fec), (PartKind::FarPort, link.far.fec)];
    if let [(_, Some(near)), (part, Some(far))] = told
        && near != far
    {
        let text = format!(
            "one end is set to {}, the other to {}: light and signal are there, and neither end locks",
            near.text(),
            far.text()
        );
        findings.push(
            Finding::new(part, Outcome::WillNot, text, format!("{}, section FEC", row.clause))
                .fix("set both ends alike"),
        );
        return;
    }
    for (part, fec) in told {
        let Some(fec) = fec else { continue };
        let Some(effect) = wrong_fec(link, row, fec) else { continue };
        let text = if effect == Outcome::WorksIf {
            format!("{} serves only if the cable's class allows it, which is not told", fec.text())
        } else {
            format!(
                "{} is set; {} needs: {}",
                fec.text(),
                row.interface,
                fec_needed(link, Some(row))
            )
        };
        findings.push(
            Finding::new(part, effect, text, row.clause.to_owned())
                .fix("set what the interface type needs, at both ends"),
        );
        return;
    }
}

/// What a FEC setting makes of the link; nothing where it is right.
fn wrong_fec(link: &Link, row: &media::Row, fec: Fec) -> Option<Outcome> {
    let wrong = match row.fec {
        // Part of the PHY: a setting of the port means nothing.
        media::Fec::InPhy => false,
        media::Fec::Rs528 | media::Fec::Rs544 => fec != Fec::Rs,
        media::Fec::None => fec != Fec::None,
        media::Fec::BaseROptional => fec == Fec::Rs,
        media::Fec::BaseROnly => match (fec, link.medium) {
            (Fec::BaseR, _) | (Fec::None, Some(Grade::TwinaxNoFec)) => false,
            (Fec::None, Some(Grade::Twinax)) => return Some(Outcome::WorksIf),
            _ => true,
        },
        media::Fec::BaseROrRs => {
            let long = link.length.is_some_and(|length| length.0 > 3.0);
            match (fec, link.medium) {
                (Fec::Rs, _) => false,
                _ if long => true,
                (_, Some(Grade::TwinaxNoFec)) | (Fec::BaseR, Some(Grade::TwinaxShort)) => false,
                (_, Some(Grade::Twinax)) => return Some(Outcome::WorksIf),
                _ => true,
            }
        }
    };
    wrong.then_some(Outcome::NotCovered)
}

/// Whether the slots carry what the link does.
pub fn slots(link: &Link, speed: Mbps, findings: &mut Vec<Finding>) {
    let ends = [(PartKind::Slot, &link.near), (PartKind::FarPort, &link.far)];
    for (part, end) in ends {
        let Some((slot, share)) = slot_share(end) else { continue };
        if share >= speed {
            continue;
        }
        let which = if part == PartKind::Slot { "this end's slot" } else { "the far end's slot" };
        let sharing = if end.sharing > 1 {
            format!(", {share} a port when all {} are busy", end.sharing)
        } else {
            String::new()
        };
        let carries = slot.carries().unwrap_or_default();
        let text = format!(
            "{which} ({}) carries {carries}{sharing}: the link comes up at {speed} and delivers less",
            slot.text()
        );
        findings.push(
            Finding::new(part, Outcome::WorksIf, text, slot.source().to_owned())
                .limit(format!("{speed} in one direction"))
                .fix(match slot {
                    Slot::PciExpress { .. } => {
                        "use a slot with more lanes or of a newer generation, or plan with what it carries"
                    }
                    _ => "use an adapter in a slot of the machine, or plan with what this carries",
                }),
        );
    }
}

/// The slot of an end, and what it leaves for this port.
pub fn slot_share(end: &End) -> Option<(Slot, Mbps)> {
    let slot = end.slot?;
    let ports = NonZeroU32::new(end.sharing).unwrap_or(NonZeroU32::MIN);
    Some((slot, crate::calc::slot::each(slot.carries()?, ports)))
}
