//! Forward error correction: how far a link's raw errors are from what its code can mend.
//!
//! Formulas: section 4 of the media notes (binomial tails of independent errors). Real errors come
//! in bursts where equalisers feed them on, so that more codewords are lost than is computed here:
//! what is computed is the floor.

use statrs::distribution::{Binomial, DiscreteCDF as _};

use crate::quantity::{
    BitErrorRatio, Bits, BitsPerSecond, CodewordErrorRatio, FrameErrorRatio, Mbps, Octets,
    PerSecond, Seconds,
};
use crate::standards::media::{Fec, Trust};

/// What a code mends in one codeword.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mends {
    /// Reed-Solomon: so many wrong symbols, wherever they are.
    Symbols {
        /// Symbols of a codeword.
        of: u32,
        /// Bits of a symbol.
        bits: u32,
        /// Symbols that may be wrong.
        most: u32,
    },
    /// One burst of errors, no longer than this many bits.
    Burst {
        /// Bits from the first wrong one to the last.
        most: u32,
    },
}

/// One code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Code {
    /// The standard's name.
    pub name: &'static str,
    /// Where it is specified.
    pub clause: &'static str,
    /// Bits of a codeword on the line.
    pub block_bits: u32,
    /// Bits of them that are not parity.
    pub data_bits: u32,
    /// Octets of the MAC's stream in a codeword, gaps and preambles included.
    pub mac_octets: u32,
    /// What it mends.
    pub mends: Mends,
    /// Line rate with the code, and the 64b/66b line rate without, as a fraction.
    pub line_rate: (u32, u32),
    /// How far the figures can be trusted.
    pub trust: Trust,
    /// Where the figures were read; keys in [`crate::standards::sources`].
    pub source: &'static str,
}

/// RS(528,514), at 25 and 100 Gb/s.
pub const RS528: Code = Code {
    name: "RS(528,514)",
    clause: "IEEE 802.3 clauses 91 and 108",
    block_bits: 5280,
    data_bits: 5140,
    mac_octets: 640,
    mends: Mends::Symbols { of: 528, bits: 10, most: 7 },
    line_rate: (1, 1),
    trust: Trust::Read,
    source: "A1",
};

/// RS(544,514), on every four-level interface.
pub const RS544: Code = Code {
    name: "RS(544,514)",
    clause: "IEEE 802.3 clauses 91, 119 and 134",
    block_bits: 5440,
    data_bits: 5140,
    mac_octets: 640,
    mends: Mends::Symbols { of: 544, bits: 10, most: 15 },
    line_rate: (544, 528),
    trust: Trust::Read,
    source: "A1",
};

/// BASE-R FEC: 32 blocks of 65 bits of 64 payload bits each, and 32 bits of parity.
pub const BASE_R: Code = Code {
    name: "BASE-R",
    clause: "IEEE 802.3 clause 74",
    block_bits: 2112,
    data_bits: 2080,
    mac_octets: 256,
    mends: Mends::Burst { most: 11 },
    line_rate: (1, 1),
    trust: Trust::Memory,
    source: "mem",
};

/// Every code.
pub const CODES: &[Code] = &[RS528, RS544, BASE_R];

/// The code of an interface type; `None` where there is none, where the host cannot see it, or
/// where negotiation or the operator settles which it is.
pub fn of(fec: Fec) -> Option<&'static Code> {
    match fec {
        Fec::Rs528 => Some(&RS528),
        Fec::Rs544 => Some(&RS544),
        Fec::BaseROnly => Some(&BASE_R),
        Fec::None | Fec::InPhy | Fec::BaseROrRs | Fec::BaseROptional => None,
    }
}

/// Bits a second on all lanes together at a MAC rate of 10 Gb/s or more: 64b/66b coding, and what
/// the code adds. `None` below 10 Gb/s, where the coding is another; twisted pair has its own too.
pub fn line_rate(speed: Mbps, code: Option<&Code>) -> Option<BitsPerSecond> {
    let (with, without) = code.map_or((1, 1), |code| code.line_rate);
    let rate = speed.bits_per_second().0 * 66.0 / 64.0 * f64::from(with) / f64::from(without);
    (speed >= Mbps(10_000)).then_some(BitsPerSecond(rate))
}

impl Code {
    /// Codewords a second at a line rate. `None` for a rate that is not above zero.
    pub fn codewords(&self, line: BitsPerSecond) -> Option<PerSecond> {
        (line.0 > 0.0 && line.0.is_finite()).then(|| PerSecond(line.0 / f64::from(self.block_bits)))
    }

    /// The raw bit-error ratio from corrected codewords among all codewords of a time:
    /// `-ln(1-f)/bits`. It takes each for one wrong bit: bursts make the ratio larger than this.
    /// `None` without codewords, or where none was clean (then it may be anything).
    pub fn ratio_of_codewords(&self, corrected: u64, all: f64) -> Option<BitErrorRatio> {
        let share = share(corrected, all).filter(|share| *share < 1.0)?;
        Some(BitErrorRatio(-(-share).ln_1p() / f64::from(self.block_bits)))
    }

    /// The raw bit-error ratio from wrong symbols among those of all codewords:
    /// `1-(1-s)^(1/bits of a symbol)`. `None` as before, or for a code without symbols.
    pub fn ratio_of_symbols(&self, wrong: u64, codewords: f64) -> Option<BitErrorRatio> {
        let Mends::Symbols { of, bits, .. } = self.mends else { return None };
        let share = share(wrong, codewords * f64::from(of)).filter(|share| *share < 1.0)?;
        Some(BitErrorRatio(-((-share).ln_1p() / f64::from(bits)).exp_m1()))
    }

    /// The share of codewords that independent errors at this raw ratio make unmendable: more
    /// wrong symbols than the code mends, or for BASE-R two wrong bits or more (of which one pair in
    /// a hundred is near enough to pass for a burst). `None` for a ratio outside 0 to 1.
    pub fn uncorrectable(&self, raw: BitErrorRatio) -> Option<CodewordErrorRatio> {
        if !(0.0..=1.0).contains(&raw.0) {
            return None;
        }
        let (parts, bits, most) = match self.mends {
            Mends::Symbols { of, bits, most } => (of, bits, most),
            Mends::Burst { .. } => (self.block_bits, 1, 1),
        };
        let wrong = -(f64::from(bits) * (-raw.0).ln_1p()).exp_m1();
        let tail = Binomial::new(wrong, parts.into()).ok()?.sf(most.into());
        Some(CodewordErrorRatio(tail.clamp(0.0, 1.0)))
    }

    /// The share of frames of this size that lost codewords cost: `CER x (1 + 1/MFC)`, where `MFC`
    /// is how many such frames, with preamble and gap, one codeword carries. At most 1; an upper
    /// bound where lost codewords come together. `None` for a ratio outside 0 to 1, or no frame.
    pub fn frame_loss(&self, lost: CodewordErrorRatio, frame: Octets) -> Option<FrameErrorRatio> {
        let on_wire = f64::from(frame.0) + 20.0;
        let ratio = lost.0 * (1.0 + on_wire / f64::from(self.mac_octets));
        (frame.0 > 0 && (0.0..=1.0).contains(&lost.0)).then(|| FrameErrorRatio(ratio.min(1.0)))
    }

    /// Lost codewords a second at a line rate. `None` for a ratio outside 0 to 1, or a rate not
    /// above zero.
    pub fn lost(&self, lost: CodewordErrorRatio, line: BitsPerSecond) -> Option<PerSecond> {
        let all = self.codewords(line)?.0;
        (0.0..=1.0).contains(&lost.0).then_some(PerSecond(lost.0 * all))
    }

    /// Mean time between lost codewords. `None` where none is lost, or it is beyond all numbers.
    pub fn between_lost(&self, lost: CodewordErrorRatio, line: BitsPerSecond) -> Option<Seconds> {
        let seconds = 1.0 / self.lost(lost, line)?.0;
        seconds.is_finite().then_some(Seconds(seconds))
    }
}

/// The raw bit-error ratio from bits that FEC corrected, among all bits on the line. Bits of
/// codewords it could not correct are not among them: where there were any, the ratio is higher.
/// `None` without bits, or for more corrected than there were.
pub fn ratio_of_bits(corrected: u64, line: Bits) -> Option<BitErrorRatio> {
    share(corrected, line.0).map(BitErrorRatio)
}

/// A count's share of a whole, 0 to 1.
fn share(count: u64, all: f64) -> Option<f64> {
    // Above 2^53 the last figures go, which no ratio shows.
    #[allow(clippy::cast_precision_loss)]
    let share = count as f64 / all;
    (all > 0.0 && all.is_finite() && share <= 1.0).then_some(share)
}

/// The raw bit-error ratio that an interface type is designed for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The code's name; none for a link without FEC.
    pub code: Option<&'static str>,
    /// Direct-attach copper, else optics.
    pub copper: bool,
    /// The ratio.
    pub ratio: BitErrorRatio,
    /// Of the figure.
    pub trust: Trust,
    /// Where it was read; keys in [`crate::standards::sources`].
    pub source: &'static str,
}

/// Every limit.
#[rustfmt::skip]
pub const LIMITS: &[Limit] = &[
    Limit { code: Some(RS528.name), copper: false, ratio: BitErrorRatio(5e-5), trust: Trust::Read, source: "D4" },
    Limit { code: Some(RS528.name), copper: true, ratio: BitErrorRatio(1e-5), trust: Trust::Memory, source: "mem" },
    Limit { code: Some(RS544.name), copper: false, ratio: BitErrorRatio(2.4e-4), trust: Trust::Read, source: "D10 D13" },
    Limit { code: Some(RS544.name), copper: true, ratio: BitErrorRatio(2.4e-4), trust: Trust::Memory, source: "mem" },
    Limit { code: Some(BASE_R.name), copper: true, ratio: BitErrorRatio(1e-8), trust: Trust::Memory, source: "mem" },
    Limit { code: None, copper: true, ratio: BitErrorRatio(1e-12), trust: Trust::Memory, source: "mem" },
];

/// The limit for a code on a medium; `None` where none is known.
pub fn limit(code: Option<&Code>, copper: bool) -> Option<&'static Limit> {
    let name = code.map(|code| code.name);
    LIMITS.iter().find(|limit| limit.code == name && limit.copper == copper)
}

/// Where a raw bit-error ratio stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Ten times below the limit, or further: the usual of healthy links.
    WellBelow,
    /// At the limit, or within a factor of ten below it.
    NearLimit,
    /// Above the limit.
    Above,
}

impl Limit {
    /// The limit as a citation.
    pub fn cite(&self) -> String {
        let code = self.code.map_or_else(|| "no FEC".to_owned(), |code| format!("{code} FEC"));
        let medium = if self.copper { "direct-attach copper" } else { "optics" };
        format!("pre-FEC limit {:.1e}, {code} on {medium}{}", self.ratio.0, self.trust.note())
    }

    /// How many times below the limit a ratio is; less than 1 above it. `None` for no errors at
    /// all, which have no ratio yet: give the upper bound
    /// ([`crate::calc::bit_error_bound::bounds`]); and for what is no ratio.
    pub fn margin(&self, raw: BitErrorRatio) -> Option<f64> {
        let times = self.ratio.0 / raw.0;
        (raw.0 > 0.0 && raw.0 <= 1.0 && times.is_finite()).then_some(times)
    }

    /// Where a ratio stands; a tenth of the limit is where to warn (section 4 of the media notes;
    /// common practice, no published source). `None` as [`Self::margin`].
    pub fn judge(&self, raw: BitErrorRatio) -> Option<Standing> {
        Some(match self.margin(raw)? {
            times if times >= 10.0 => Standing::WellBelow,
            times if times >= 1.0 => Standing::NearLimit,
            _ => Standing::Above,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::bit_error_bound::tests::{near, table};
    use crate::standards::sources;
    use proptest::prelude::*;

    const FAST_25: BitsPerSecond = BitsPerSecond(25.781_25e9);
    const FAST_100: BitsPerSecond = BitsPerSecond(103.125e9);

    /// Media notes, section 4: c1 and c9.
    #[test]
    fn worked_rates() {
        for (speed, code, theirs) in [
            (25_000, RS528, 4_882_812.5),
            (50_000, RS544, 9_765_625.0),
            (100_000, RS528, 19_531_250.0),
            (100_000, RS544, 19_531_250.0),
            (200_000, RS544, 39_062_500.0),
            (400_000, RS544, 78_125_000.0),
        ] {
            let line = line_rate(Mbps(speed), Some(&code)).unwrap();
            near(code.codewords(line).unwrap().0, theirs, 1e-12);
        }
        near(line_rate(Mbps(100_000), Some(&RS544)).unwrap().0, 106.25e9, 1e-12); // c9
        near(line_rate(Mbps(100_000), None).unwrap().0, 103.125e9, 1e-12);
        assert_eq!(line_rate(Mbps(1000), None), None);
        assert_eq!(RS528.codewords(BitsPerSecond(f64::NAN)), None);
    }

    /// What the codes carry fits what they are made of: 514 symbols of 10 bits are 20 blocks of 257
    /// bits, which carry 256 each (IEEE 802.3 clause 91, from memory); BASE-R 32 of 65, which carry
    /// 64 (clause 74, from memory).
    #[test]
    fn codes_add_up() {
        for (code, blocks, of, carry) in
            [(RS528, 20, 257, 256), (RS544, 20, 257, 256), (BASE_R, 32, 65, 64)]
        {
            assert_eq!((code.data_bits, code.mac_octets * 8), (blocks * of, blocks * carry));
            if let Mends::Symbols { of, bits, most } = code.mends {
                assert_eq!(code.block_bits, of * bits);
                assert_eq!(most, (of - 514) / 2, "half the parity symbols: Reed and Solomon 1960");
            }
            assert!(sources::resolves(code.source));
        }
    }

    /// Media notes, section 4: c2, c3, c4.
    #[test]
    fn worked_counters() {
        let ours = ratio_of_bits(1_289_063, Bits(FAST_25.0 * 10.0)).unwrap();
        near(ours.0, 5.0000e-6, 1e-5);
        let limit = limit(Some(&RS528), false).unwrap();
        near(limit.margin(ours).unwrap(), 10.0, 1e-5);

        let all = RS544.codewords(BitsPerSecond(106.25e9)).unwrap().0 * 60.0;
        near(58_593_750.0 / all, 0.050, 1e-12);
        near(RS544.ratio_of_codewords(58_593_750, all).unwrap().0, 9.429e-6, 1e-4);

        let all = RS528.codewords(FAST_100).unwrap().0 * 100.0;
        near(21_000_000.0 / (all * 528.0), 2.0364e-5, 2.5e-5);
        near(RS528.ratio_of_symbols(21_000_000, all).unwrap().0, 2.0364e-6, 2.5e-5);
    }

    /// Media notes, section 4: the table of both codes, and c5 to c8.
    #[test]
    fn worked_losses() {
        for (raw, at_528, at_544) in [
            (1e-5, 1.356e-15, 2.140e-34),
            (5e-5, 4.397e-10, 2.669e-23),
            (1e-4, 8.927e-8, 1.360e-18),
            (2.4e-4, 5.154e-5, 8.152e-13),
            (5e-4, 5.613e-3, 2.793e-8),
        ] {
            near(RS528.uncorrectable(BitErrorRatio(raw)).unwrap().0, at_528, 4e-4);
            near(RS544.uncorrectable(BitErrorRatio(raw)).unwrap().0, at_544, 4e-4);
        }
        let lost = RS528.uncorrectable(BitErrorRatio(5e-5)).unwrap();
        near(RS528.frame_loss(lost, Octets(64)).unwrap().0, 4.974e-10, 2e-4); // c5
        near(RS528.between_lost(lost, FAST_25).unwrap().0, 465.8, 2e-4); // c5
        let lost = RS544.uncorrectable(BitErrorRatio(2.4e-4)).unwrap();
        let between = RS544.between_lost(lost, BitsPerSecond(106.25e9)).unwrap();
        near(between.0 / 3600.0, 17.45, 3e-4); // c6
        let lost = RS528.uncorrectable(BitErrorRatio(5e-4)).unwrap();
        near(RS528.lost(lost, FAST_25).unwrap().0, 27_407.0, 2e-5); // c7
        near(BASE_R.uncorrectable(BitErrorRatio(1e-8)).unwrap().0, 2.229e-10, 2e-4); // c8
    }

    /// Binomial tails of a general statistics library.
    #[test]
    fn tails_as_scipy_has_them() {
        for (code, kind) in [(RS528, "528"), (RS544, "544"), (BASE_R, "2112")] {
            for (_, raw, theirs) in table(kind) {
                near(code.uncorrectable(BitErrorRatio(raw)).unwrap().0, theirs, 1e-9);
            }
        }
    }

    /// Media notes, section 4, "Pre-FEC limits".
    #[test]
    fn limits() {
        for (code, copper, wanted, trust) in [
            (Some(&RS528), false, 5e-5, Trust::Read),
            (Some(&RS528), true, 1e-5, Trust::Memory),
            (Some(&BASE_R), true, 1e-8, Trust::Memory),
            (None, true, 1e-12, Trust::Memory),
            (Some(&RS544), false, 2.4e-4, Trust::Read),
        ] {
            let found = limit(code, copper).unwrap();
            assert_eq!((found.ratio, found.trust), (BitErrorRatio(wanted), trust));
            for (times, standing) in [
                (0.01, Standing::WellBelow),
                (0.11, Standing::NearLimit),
                (1.0, Standing::NearLimit),
                (1.01, Standing::Above),
            ] {
                assert_eq!(found.judge(BitErrorRatio(wanted * times)), Some(standing));
            }
            for none in [0.0, -1.0, 1.1, f64::NAN, f64::INFINITY] {
                assert_eq!(found.judge(BitErrorRatio(none)), None);
            }
        }
        assert!(limit(Some(&BASE_R), false).is_none());
        assert!(limit(None, false).is_none());
        assert!(LIMITS.iter().all(|limit| sources::resolves(limit.source)));
        let cited = limit(Some(&RS528), true).unwrap().cite();
        assert_eq!(
            cited,
            "pre-FEC limit 1.0e-5, RS(528,514) FEC on direct-attach copper, from memory"
        );
    }

    #[test]
    fn hostile_inputs_have_no_answer() {
        for all in [f64::NAN, 0.0, -1.0, f64::INFINITY, 5.0] {
            assert_eq!(RS528.ratio_of_codewords(6, all), None, "{all}");
            assert_eq!(ratio_of_bits(6, Bits(all)), None, "{all}");
        }
        assert_eq!(RS528.ratio_of_codewords(6, 6.0), None, "none was clean");
        assert_eq!(BASE_R.ratio_of_symbols(1, 100.0), None, "it has no symbols");
        let none = CodewordErrorRatio(0.0);
        assert_eq!(RS528.between_lost(none, FAST_25), None);
        assert_eq!(RS528.frame_loss(none, Octets(0)), None);
        assert_eq!(of(Fec::BaseROrRs), None);
        assert_eq!(of(Fec::Rs544), Some(&RS544));
    }

    proptest! {
        #[test]
        fn worse_bits_lose_more(power in -9.0..-2.0f64) {
            for code in CODES {
                let at = |power: f64| code.uncorrectable(BitErrorRatio(10f64.powf(power))).unwrap();
                prop_assert!(at(power) <= at(power + 0.1));
            }
        }

        /// A ratio turned into expected counts comes back.
        #[test]
        fn there_and_back(power in -9.0..-4.0f64) {
            let raw = 10f64.powf(power);
            let all = 1e12;
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let count = |share: f64, of: f64| (share * of) as u64;
            let touched = count(1.0 - (1.0 - raw).powi(5280), all);
            let symbols = count(1.0 - (1.0 - raw).powi(10), all * 528.0);
            prop_assert!((RS528.ratio_of_codewords(touched, all).unwrap().0 / raw - 1.0).abs() < 1e-3);
            prop_assert!((RS528.ratio_of_symbols(symbols, all).unwrap().0 / raw - 1.0).abs() < 1e-3);
        }

        #[test]
        fn anything(count: u64, all: f64, raw: f64, octets: u32) {
            for code in CODES {
                let _ = code.ratio_of_codewords(count, all);
                let _ = code.ratio_of_symbols(count, all);
                if let Some(lost) = code.uncorrectable(BitErrorRatio(raw)) {
                    prop_assert!((0.0..=1.0).contains(&lost.0));
                }
                let _ = code.frame_loss(CodewordErrorRatio(raw), Octets(octets));
                let _ = code.between_lost(CodewordErrorRatio(raw), BitsPerSecond(all));
            }
            for limit in LIMITS {
                let _ = limit.judge(BitErrorRatio(raw));
            }
        }
    }
}
