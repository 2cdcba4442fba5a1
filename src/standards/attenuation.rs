//! What a run of fibre loses: attenuation by length, and what connectors and splices add.
//!
//! Figures of the cabling standards (ANSI/TIA-568) as quoted by a trade association's loss-budget
//! page A10 and, per kilometre, from memory where the page gives none.

use crate::quantity::{Decibels, Metres, Nanometres};
use crate::standards::media::Grade;

/// The most that a mated pair of connectors may lose.
pub const CONNECTOR_MOST: Decibels = Decibels(0.75);
/// What a mated pair usually loses (source A10).
pub const CONNECTOR_TYPICAL: Decibels = Decibels(0.5);
/// What a splice usually loses: common practice, no published source.
pub const SPLICE_TYPICAL: Decibels = Decibels(0.1);
/// The most that a splice may lose.
pub const SPLICE_MOST: Decibels = Decibels(0.3);
/// Citation.
pub const SOURCE: &str =
    "loss by length, connectors and splices (ANSI/TIA-568, partly from memory)";

/// Typical and greatest loss a kilometre; `None` for what is not fibre.
pub fn per_kilometre(grade: Grade, wavelength: Nanometres) -> Option<(Decibels, Decibels)> {
    let short = wavelength.0 < 1000.0;
    match grade {
        // OS1a: 1.0 dB/km at most (T4); such cable usually loses 0.5 (indoor/outdoor, T4).
        Grade::Os1 => Some((Decibels(0.5), Decibels(1.0))),
        Grade::Os2 if wavelength.0 > 1450.0 => Some((Decibels(0.2), Decibels(0.4))),
        Grade::Os2 => Some((Decibels(0.35), Decibels(0.4))),
        Grade::Om3 | Grade::Om4 | Grade::Om5 if short => Some((Decibels(2.3), Decibels(3.0))),
        grade if grade.is_multimode() && short => Some((Decibels(2.7), Decibels(3.5))),
        grade if grade.is_multimode() => Some((Decibels(0.8), Decibels(1.5))),
        _ => None,
    }
}

/// What a run loses: so much a kilometre, and so many connector pairs and splices at so much each.
pub fn loss(
    a_kilometre: Decibels,
    length: Metres,
    (connectors, pair): (u32, Decibels),
    (splices, splice): (u32, Decibels),
) -> Decibels {
    Decibels(
        length.0 / 1000.0 * a_kilometre.0
            + f64::from(connectors) * pair.0
            + f64::from(splices) * splice.0,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: kilometres x dB a kilometre + pairs x 0.75 + splices x 0.3
    /// (ethernet-media, examples b1, b3 and b4).
    #[test]
    fn worked_examples() {
        for (grade, nm, length, connectors, splices, wanted) in [
            (Grade::Om3, 850.0, 220.0, 2, 0, 2.16),
            (Grade::Os2, 1310.0, 8000.0, 4, 3, 7.10),
            (Grade::Os2, 1310.0, 10_000.0, 2, 2, 6.10),
        ] {
            let (_, each) = per_kilometre(grade, Nanometres(nm)).unwrap();
            let pairs = (connectors, CONNECTOR_MOST);
            let loss = loss(each, Metres(length), pairs, (splices, SPLICE_MOST));
            assert!((loss.0 - wanted).abs() < 1e-9, "{loss}");
        }
        assert_eq!(per_kilometre(Grade::Category6, Nanometres(850.0)), None);
    }
}
