//! The optical power budget: what a run of fibre loses, typically and at most, held against what
//! the interface type allows: enough light at the far end of a long run, not too much on a short one.
//!
//! `loss = km x dB/km + connector pairs x dB + splices x dB + allowance` (ANSI/TIA-568 as quoted in
//! source A10); `received = sent - loss`, in decibels. Powers are averages, per lane.

use crate::quantity::{Dbm, Decibels, Metres, Nanometres};
use crate::standards::attenuation;
use crate::standards::media::{self, Grade, Row};

/// A run of fibre from module to module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Grade of the fibre.
    pub grade: Grade,
    /// Length, 0 or more.
    pub length: Metres,
    /// Mated pairs of connectors between the two modules.
    pub connectors: u32,
    /// Splices.
    pub splices: u32,
    /// Put aside for ageing and repairs, 0 or more.
    pub allowance: Decibels,
}

impl Run {
    /// What it loses at this wavelength; `None` for what is not fibre, or where no figure is known.
    pub fn loss(&self, wavelength: Nanometres) -> Option<Loss> {
        let (typical, most) = attenuation::per_kilometre(self.grade, wavelength)?;
        let (pair, splice) = (attenuation::CONNECTOR_TYPICAL, attenuation::SPLICE_TYPICAL);
        let of = |each, pair, splice| {
            attenuation::loss(each, self.length, (self.connectors, pair), (self.splices, splice))
        };
        // A connector may be as good as none: how much light can arrive is told by length alone.
        let least = of(typical, Decibels(0.0), Decibels(0.0));
        let typical = of(typical, pair, splice);
        let most = of(most, attenuation::CONNECTOR_MOST, attenuation::SPLICE_MOST);
        Some(Loss { least, typical, most: Decibels(most.0 + self.allowance.0) })
    }
}

/// What a run loses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// With connectors that lose nothing: what too much light is judged by.
    pub least: Decibels,
    /// As such runs usually are.
    pub typical: Decibels,
    /// If all of it is just as good as the cabling standard asks, with the allowance.
    pub most: Decibels,
}

/// A budget of one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// What the run loses.
    pub loss: Loss,
    /// The most that the interface type allows the run to lose, where that is published.
    pub allowed: Option<Decibels>,
    /// Allowed less the most it loses: below nothing, the run is not covered.
    pub margin: Option<Decibels>,
    /// Allowed less what it typically loses.
    pub typical_margin: Option<Decibels>,
    /// Light expected at the far end: from the weakest transmitter over the most loss to the
    /// strongest over the least.
    pub received: Option<(Dbm, Dbm)>,
    /// Attenuation that the strongest transmitter needs so as not to overload the receiver; none
    /// where it needs none.
    pub attenuator: Option<Decibels>,
}

/// The budget of an interface type (a row of it that has the powers) over a run. `None` where no
/// wavelength or no attenuation is known: twisted pair, direct attach.
pub fn budget(row: &Row, run: &Run) -> Option<Budget> {
    let wavelength = Nanometres(media::nominal_wavelength(row.interface)?);
    let loss = run.loss(wavelength)?;
    let received = received(row, &loss);
    let over = received.zip(row.rx_most).map(|((_, most), limit)| most - limit);
    Some(Budget {
        loss,
        allowed: row.loss_most,
        margin: row.loss_most.map(|allowed| Decibels(allowed.0 - loss.most.0)),
        typical_margin: row.loss_most.map(|allowed| Decibels(allowed.0 - loss.typical.0)),
        received,
        attenuator: over.filter(|over| over.0 > 1e-9),
    })
}

/// Light expected at the far end of a run that loses so much: from the weakest transmitter over the
/// most loss to the strongest over the least. `None` for a row without powers.
pub fn received(row: &Row, loss: &Loss) -> Option<(Dbm, Dbm)> {
    let less = |dbm: Dbm, by: Decibels| Dbm(dbm.0 - by.0);
    Some((less(row.tx_least?, loss.most), less(row.tx_most?, loss.least)))
}

/// What a loss beyond the expected one is worth in mated connector pairs that are as bad as the
/// standard lets them be: rounded up, at least one for any excess.
pub fn worth_in_connectors(excess: Decibels) -> Option<u32> {
    // A loss that is measured is at most some 60 dB.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    (excess.0 > 0.0 && excess.0 < 1000.0)
        .then(|| (excess.0 / attenuation::CONNECTOR_MOST.0 - 1e-9).ceil() as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Decibels = Decibels(0.0);

    fn run(grade: Grade, length: f64, connectors: u32, splices: u32) -> Run {
        Run { grade, length: Metres(length), connectors, splices, allowance: NONE }
    }

    fn of(interface: &str, run: &Run) -> Budget {
        budget(media::row_on(interface, run.grade).unwrap(), run).unwrap()
    }

    /// Worked examples b1 to b4 of the media notes, section 3: kilometres x dB a kilometre + pairs x
    /// 0.75 + splices x 0.3 (TIA-568 maxima), against the greatest channel insertion loss (T1, T7, G1, D5).
    #[test]
    fn worked_margins() {
        for (interface, run, most, margin) in [
            ("10GBASE-SR", run(Grade::Om3, 220.0, 2, 0), 2.16, 0.44), // b1
            ("25GBASE-SR", run(Grade::Om4, 90.0, 3, 0), 2.52, -0.62), // b2
            ("10GBASE-LR", run(Grade::Os2, 8000.0, 4, 3), 7.10, -0.90), // b3
            ("25GBASE-LR", run(Grade::Os2, 10_000.0, 2, 2), 6.10, 0.20), // b4
        ] {
            let found = of(interface, &run);
            assert!((found.loss.most.0 - most).abs() < 0.005, "{interface}: {found:?}");
            assert!((found.margin.unwrap().0 - margin).abs() < 0.005, "{interface}: {found:?}");
            assert!(found.loss.least <= found.loss.typical, "{interface}");
            assert!(found.loss.typical < found.loss.most, "{interface}");
        }
    }

    /// Worked example b5: a launch of -2.3 dBm over the loss of b1 arrives at -4.46 dBm; and the
    /// budget's own window of the same run by hand: -7.3 - 2.16 and -1.0 - 0.220 x 2.3.
    #[test]
    fn expected_light() {
        let found = of("10GBASE-SR", &run(Grade::Om3, 220.0, 2, 0));
        assert!((-2.3 - found.loss.most.0 - -4.46).abs() < 0.005);
        let (least, most) = found.received.unwrap();
        assert!((least.0 - -9.46).abs() < 0.005, "{least}");
        assert!((most.0 - -1.506).abs() < 0.005, "{most}");
        assert_eq!(found.attenuator, None);
    }

    /// Worked example b8: 10GBASE-ER back to back needs 4.0 - (-1.0) = 5.0 dB at least (E4).
    #[test]
    fn overload() {
        let found = of("10GBASE-ER", &run(Grade::Os2, 0.0, 0, 0));
        assert!((found.attenuator.unwrap().0 - 5.0).abs() < 1e-9, "{found:?}");
        // Over 25 km at 0.2 dB/km the fibre itself takes those 5 dB.
        assert_eq!(of("10GBASE-ER", &run(Grade::Os2, 25_000.0, 0, 0)).attenuator, None);
    }

    /// Worked example b12: by loss alone 25GBASE-SR would run 300 m of OM4 with two pairs at 0.5
    /// dB, (1.9 - 1.0) / 3.0 km; so its reach of 100 m rules (T1).
    #[test]
    fn reach_rules_on_multimode() {
        let row = media::row_on("25GBASE-SR", Grade::Om4).unwrap();
        let (_, each) = attenuation::per_kilometre(Grade::Om4, Nanometres(850.0)).unwrap();
        let by_loss = (row.loss_most.unwrap().0 - 2.0 * attenuation::CONNECTOR_TYPICAL.0) / each.0;
        assert!((by_loss * 1000.0 - 300.0).abs() < 1e-6, "{by_loss}");
        assert!(row.reach.0 < by_loss * 1000.0);
    }

    /// Worked example b7: 6.3 dB between the modules where 2.6 are allowed: 3.7 dB too much, which
    /// is what five bad pairs lose (3.7 / 0.75 = 4.93).
    #[test]
    fn excess() {
        assert_eq!(worth_in_connectors(Decibels(-2.1 - -8.4 - 2.6)), Some(5));
        assert_eq!(worth_in_connectors(Decibels(0.75)), Some(1));
        assert_eq!(worth_in_connectors(Decibels(0.76)), Some(2));
        for none in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(worth_in_connectors(Decibels(none)), None, "{none}");
        }
    }

    #[test]
    fn an_allowance_counts_where_light_is_short_alone() {
        let bare = run(Grade::Os2, 2000.0, 2, 0);
        let aged = Run { allowance: Decibels(3.0), ..bare };
        let (bare, aged) = (of("10GBASE-LR", &bare), of("10GBASE-LR", &aged));
        assert!((aged.loss.most.0 - bare.loss.most.0 - 3.0).abs() < 1e-9);
        assert_eq!(aged.loss.least, bare.loss.least);
        assert_eq!(aged.loss.typical, bare.loss.typical);
    }

    #[test]
    fn copper_has_no_budget() {
        let row = media::rows_of("25GBASE-CR").next().unwrap();
        assert_eq!(budget(row, &run(Grade::TwinaxLong, 3.0, 0, 0)), None);
    }
}
