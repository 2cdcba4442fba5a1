//! What a path loses, with how far that can be trusted: what one end says it sends, less what the
//! other says it receives.
//!
//! Each reading is good to ±3 dB ([`crate::standards::accuracy::POWER`]); two readings that err by
//! themselves make a difference that is good to the root of the sum of the squares, ±4.2 dB (JCGM
//! 100:2008, 5.1.2, uncorrelated inputs).

use crate::quantity::{Decibels, Milliwatts};
use crate::standards::accuracy;

/// A loss and its interval, decibels. Less than nothing is lost where the readings say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Sent less received.
    pub loss: Decibels,
    /// It is hardly less than this.
    pub least: Decibels,
    /// It is hardly more than this.
    pub most: Decibels,
}

/// The loss between two readings; none where either is no light.
pub fn between(sent: Milliwatts, received: Milliwatts) -> Option<Loss> {
    let loss = sent.dbm()?.0 - received.dbm()?.0;
    let trust = f64::hypot(accuracy::POWER.0, accuracy::POWER.0);
    Some(Loss { loss: Decibels(loss), least: Decibels(loss - trust), most: Decibels(loss + trust) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.8318 mW is -0.80 dBm, 0.0525 mW is -12.80 dBm (10 log10); 12.0 dB between them;
    /// the root of 3² + 3² is 4.243.
    #[test]
    fn by_hand() {
        let found = between(Milliwatts(0.8318), Milliwatts(0.0525)).unwrap();
        assert!((found.loss.0 - 12.0).abs() < 0.01, "{found:?}");
        assert!((found.least.0 - 7.757).abs() < 0.01, "{found:?}");
        assert!((found.most.0 - 16.243).abs() < 0.01, "{found:?}");
        assert_eq!(between(Milliwatts(0.0), Milliwatts(0.1)), None);
        assert_eq!(between(Milliwatts(0.1), Milliwatts(0.0)), None);
    }
}
