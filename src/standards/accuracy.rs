//! How exact a module's own readings are.
//!
//! A module maker's figures for SFF-8472 diagnostics (SFF-8472 Rev 9.3 as restated in a maker's
//! application note, 2002, pages 18-20): temperature ±3 °C, powers ±3 dB, bias ±10 %, supply
//! ±100 mV. Most data sheets still quote ±3 dB; better ones ±2 dB. A reading that is nearer to a
//! limit than this is *marginal*: it may be on either side.

use crate::quantity::{Celsius, Decibels, Volts};

/// Optical power readings.
pub const POWER: Decibels = Decibels(3.0);
/// Temperature readings.
pub const TEMPERATURE: Celsius = Celsius(3.0);
/// Supply readings.
pub const SUPPLY: Volts = Volts(0.1);
/// Bias readings: ten percent beyond a limit is this many times the limit.
pub const BIAS_RATIO: f64 = 1.1;
/// Citation of these two.
pub const SOURCE_BIAS_SUPPLY: &str = "module readings are accurate to about ±10 % of bias and \
     ±0.1 V (SFF-8472 Rev 9.3; the later maps alike, from memory)";
/// Citation of the figures above.
pub const SOURCE: &str = "module readings are accurate to about ±3 dB and ±3 °C (SFF-8472 \
     Rev 9.3; the later maps alike, from memory)";

/// Highest case temperature of a commercial-grade module where it stores no limit of its own:
/// SFF-8636 page 00h byte 190 reads 0 as 70 °C (from memory).
pub const CASE_TEMPERATURE_MOST: Celsius = Celsius(70.0);

/// What an adapter's chip is not to exceed where its driver gives no limit. Common practice, no
/// published source.
pub const DIE_TEMPERATURE_MOST: Celsius = Celsius(110.0);

/// Whether a module can have such a temperature at all: outside -60 °C to 130 °C it would not
/// answer, so that the reading is a fault of the bus or of the module's word. Common practice, no
/// published source.
pub fn can_be(temperature: Celsius) -> bool {
    (-60.0..=130.0).contains(&temperature.0)
}

/// Receive power at or below this counts as no light: receivers show their floor as anything
/// from 0 mW to about -30 dBm, and no Ethernet type works that low (the lowest receive limit in
/// the media table is -21 dBm). Common practice, no published source.
pub const NO_LIGHT_DBM: f64 = -30.0;

/// The most optical power that any of the maps can say: 65535 steps of 0.1 µW, and half a step for
/// what calibration rounds (SFF-8472 Rev 9.3 table 3.17).
pub const MOST_POWER_MILLIWATTS: f64 = 6.5536;
