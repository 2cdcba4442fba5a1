//! What a module monitors, read again and again: which bytes that are, and what they mean.
//!
//! In: the first reading of the whole memory and later ones of the monitors alone. Out: a series a
//! quantity and lane. Each later reading is laid over the first and decoded by the same maps, so
//! calibration, scale and what is not implemented hold for it as well.

use serde::Serialize;

use crate::module::memory::{A2, LOWER, PAGE_11, Place};
use crate::module::{Family, Lane, Memory, Module};
use crate::quantity::{Celsius, Milliamps, Milliwatts, Seconds, Volts};
use crate::snapshot::{Fact, MemoryBlock, Missing, ModuleFacts, Reason};

/// A stretch of bytes: place, first and last byte.
pub type Stretch = (Place, u8, u8);

/// Temperature, supply, bias, powers, and the status byte that says whether they are valid
/// (SFF-8472 table 3.17: A2h 96-105, and 110). Reading these clears no flag.
const SFF8472: Stretch = (A2, 96, 110);
/// SFF-8636: temperature to the powers of lane 4; the flags below, which reading clears, are left.
const SFF8636: Stretch = (LOWER, 22, 57);
/// CMIS: temperature and supply.
const CMIS: Stretch = (LOWER, 14, 17);
/// CMIS: powers and bias of the eight lanes of a bank.
const CMIS_LANES: Stretch = (PAGE_11, 154, 201);

/// Where the monitors of this module are; none where it says that it has none, or cannot be told.
pub fn monitors(blocks: &[MemoryBlock]) -> Vec<Stretch> {
    let memory = Memory::from_blocks(blocks);
    let Fact::Known(module) = memory.decode() else { return Vec::new() };
    if !may_measure(&module) {
        return Vec::new();
    }
    match module.family {
        Family::Sff8472 => vec![SFF8472],
        Family::Sff8636 => vec![SFF8636],
        Family::Cmis => {
            let lanes = (0..=3).filter_map(|bank| {
                let (place, first, last) = CMIS_LANES;
                let place = place.in_bank(bank);
                memory.stretch(place, first, last).ok().map(|_| (place, first, last))
            });
            std::iter::once(CMIS).chain(lanes).collect()
        }
        Family::ParsedReadings => Vec::new(),
    }
}

/// Whether it measures anything, or may once it is ready.
fn may_measure(module: &Module) -> bool {
    fn may<T>(fact: &Fact<T>) -> bool {
        fact.why_missing()
            .is_none_or(|why| !matches!(why.reason, Reason::NotImplemented | Reason::NotApplicable))
    }
    module.diagnostics != Fact::Known(false)
        && (may(&module.temperature)
            || may(&module.supply)
            || module
                .used_lanes()
                .any(|lane| may(&lane.bias) || may(&lane.tx_power) || may(&lane.rx_power)))
}

/// What a module monitors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Monitored {
    /// Case temperature, °C.
    Temperature,
    /// Supply, V.
    Supply,
    /// Laser bias, mA.
    Bias,
    /// Transmitted power, mW.
    TxPower,
    /// Received power, mW.
    RxPower,
}

impl Monitored {
    /// True for the optical powers.
    pub fn is_light(self) -> bool {
        matches!(self, Self::TxPower | Self::RxPower)
    }

    /// One count of the maps in the unit: 1/256 °C, 100 µV, 2 µA, 0.1 µW (SFF-8472 table 3.17; the
    /// other maps alike). Many modules come in coarser steps.
    pub fn step(self) -> f64 {
        match self {
            Self::Temperature => 1.0 / 256.0,
            Self::Supply => 1e-4,
            Self::Bias => 2e-3,
            Self::TxPower | Self::RxPower => 1e-4,
        }
    }
}

/// One quantity over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What is measured.
    pub what: Monitored,
    /// Of which lane, from 1; none for what is of the whole module.
    pub lane: Option<u8>,
    /// When, after the first instant, and how much in the unit of `what`. In order of time.
    pub points: Vec<(Seconds, f64)>,
}

/// All readings over time of one module.
#[derive(Debug, Clone, PartialEq)]
pub struct OverTime {
    /// When each was taken, after the first instant; in order.
    pub at: Vec<Seconds>,
    /// Those that failed, and why.
    pub failed: Vec<(Seconds, Missing)>,
    /// What was measured at least once, case first, then by lane.
    pub series: Vec<Series>,
}

impl OverTime {
    /// When and why nothing more was read, where the last reading failed.
    pub fn ended(&self) -> Option<&(Seconds, Missing)> {
        self.failed.last().filter(|(at, _)| Some(at) == self.at.last())
    }
}

/// The readings over time. `None` where nobody asked for any.
pub fn over_time(facts: &ModuleFacts) -> Option<Fact<OverTime>> {
    let readings = match &facts.readings_over_time {
        Fact::Missing(why) if why.reason == Reason::NotAsked => return None,
        Fact::Missing(why) => return Some(Fact::Missing(why.clone())),
        Fact::Known(readings) => readings,
    };
    let blocks = match &facts.memory {
        Fact::Known(blocks) => blocks,
        Fact::Missing(why) => return Some(Fact::Missing(why.clone())),
    };
    let first = Memory::from_blocks(blocks);
    let stretches = monitors(blocks);
    let mut found = OverTime { at: Vec::new(), failed: Vec::new(), series: Vec::new() };
    // A capture may come from anybody, in any order.
    let mut readings: Vec<_> = readings.iter().collect();
    readings.sort_by_key(|reading| reading.at_milliseconds);
    for reading in readings {
        // No run lasts so long that this is not exact.
        #[allow(clippy::cast_precision_loss)]
        let at = Seconds(reading.at_milliseconds as f64 / 1000.0);
        found.at.push(at);
        let failed = reading.ranges.iter().find_map(|range| range.bytes.why_missing());
        let module = match failed {
            Some(why) => Fact::Missing(why.clone()),
            None => first.read_again(&stretches, &reading.ranges).decode(),
        };
        match module {
            Fact::Known(module) => take(&mut found.series, at, &module),
            Fact::Missing(why) => found.failed.push((at, why)),
        }
    }
    found.series.sort_by_key(|series| (series.lane, series.what as u8));
    Some(Fact::Known(found))
}

/// Puts what was measured at one time where it belongs.
fn take(all: &mut Vec<Series>, at: Seconds, module: &Module) {
    let mut put = |what: Monitored, lane: Option<u8>, value: Option<f64>| {
        let Some(value) = value else { return };
        match all.iter_mut().find(|series| (series.what, series.lane) == (what, lane)) {
            Some(series) => series.points.push((at, value)),
            None => all.push(Series { what, lane, points: vec![(at, value)] }),
        }
    };
    put(Monitored::Temperature, None, module.temperature.known().map(|Celsius(c)| *c));
    put(Monitored::Supply, None, module.supply.known().map(|Volts(v)| *v));
    for Lane { number, bias, tx_power, rx_power, .. } in module.used_lanes() {
        let power = |power: &Fact<Milliwatts>| power.known().map(|Milliwatts(mw)| *mw);
        put(Monitored::Bias, Some(*number), bias.known().map(|Milliamps(ma)| *ma));
        put(Monitored::TxPower, Some(*number), power(tx_power));
        put(Monitored::RxPower, Some(*number), power(rx_power));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snapshot::{HexBytes, ReadingAgain};

    fn image(name: &str) -> Vec<MemoryBlock> {
        let path = format!("{}/fixtures/modules/{name}", env!("CARGO_MANIFEST_DIR"));
        #[allow(clippy::disallowed_methods, reason = "a test reads its fixture")]
        let bytes = std::fs::read(path).unwrap();
        let (memory, _) = Memory::from_image(&bytes).unwrap();
        memory.into_blocks()
    }

    fn range((place, first, last): Stretch, bytes: &[u8]) -> MemoryBlock {
        assert_eq!(bytes.len(), usize::from(last - first) + 1, "as long as it is read");
        MemoryBlock {
            two_wire_address: place.address,
            bank: place.bank,
            page: place.page,
            offset: first,
            bytes: Fact::Known(HexBytes(bytes.to_vec())),
        }
    }

    fn read(memory: Vec<MemoryBlock>, readings: Vec<(u64, Vec<MemoryBlock>)>) -> OverTime {
        let readings = readings
            .into_iter()
            .map(|(at_milliseconds, ranges)| ReadingAgain { at_milliseconds, ranges })
            .collect();
        let facts = ModuleFacts {
            memory: Fact::Known(memory),
            readings_over_time: Fact::Known(readings),
            ..ModuleFacts::default()
        };
        over_time(&facts).unwrap().known().unwrap().clone()
    }

    fn series(found: &OverTime, what: Monitored, lane: Option<u8>) -> Vec<f64> {
        let series = found.series.iter().find(|one| (one.what, one.lane) == (what, lane));
        series
            .map(|series| series.points.iter().map(|(_, value)| *value).collect())
            .unwrap_or_default()
    }

    /// Bytes worked by hand: SFF-8472 table 3.17 has temperature in 96-97 (1/256 °C), supply in 98-99
    /// (100 µV), bias in 100-101 (2 µA), powers in 102-105 (0.1 µW), status in 110.
    #[test]
    fn sff8472_by_hand() {
        let memory = image("northlight-10g-sr.bin");
        assert_eq!(monitors(&memory), [SFF8472]);
        let again = |celsius: u8, rx: u16, status: u8| {
            let mut bytes = vec![celsius, 0x80, 0x80, 0xe8, 0x0d, 0xac, 0x17, 0x8a];
            bytes.extend(rx.to_be_bytes());
            bytes.extend([0, 0, 0, 0, status]);
            vec![range(SFF8472, &bytes)]
        };
        let gone = MemoryBlock { bytes: Fact::missing(Reason::Gone), ..range(SFF8472, &[0; 15]) };
        let readings = vec![
            (3000, again(38, 0, 0x02)),
            (1000, again(36, 5000, 0)),
            (2000, again(37, 2500, 0)),
            (4000, again(39, 2500, 0x01)),
            (5000, vec![gone]),
        ];
        let found = read(memory, readings);
        assert_eq!(found.at, [1.0, 2.0, 3.0, 4.0, 5.0].map(Seconds));
        assert_eq!(series(&found, Monitored::Temperature, None), [36.5, 37.5, 38.5]);
        assert_eq!(series(&found, Monitored::Supply, None), [3.3; 3]);
        assert_eq!(series(&found, Monitored::Bias, Some(1)), [7.0; 3]);
        assert_eq!(series(&found, Monitored::RxPower, Some(1)), [0.5, 0.25, 0.0]);
        // The fourth said that its data is not ready, the fifth that the module is gone.
        assert_eq!(found.failed.len(), 1);
        let (at, why) = found.ended().unwrap();
        assert_eq!((*at, why.reason), (Seconds(5.0), Reason::Gone));
    }

    /// External calibration is in the first reading alone, and holds for the later ones: example A
    /// of the memory-map notes once more.
    #[test]
    fn calibration_holds_for_later_readings() {
        let memory = image("external-calibration-a.bin");
        let bytes = [0x1e, 0x40, 0x7a, 0x12, 0x08, 0x00, 0x0a, 0x28, 0x0f, 0xa0, 0, 0, 0, 0, 0];
        let found = read(memory, vec![(0, vec![range(SFF8472, &bytes)])]);
        let near = |ours: &[f64], value: f64| assert!((ours[0] - value).abs() < 5e-4, "{ours:?}");
        near(&series(&found, Monitored::Temperature, None), 30.25);
        near(&series(&found, Monitored::Supply, None), 3.3003);
        near(&series(&found, Monitored::Bias, Some(1)), 8.092);
        let rx = series(&found, Monitored::RxPower, Some(1));
        near(&[10.0 * rx[0].log10()], -6.582);
    }

    /// SFF-8636: 22-23 temperature, 26-27 supply, 34-41 received, 42-49 bias, 50-57 sent.
    #[test]
    fn sff8636_by_hand() {
        let memory = image("northlight-100g-sr4-weak-lane.bin");
        assert_eq!(monitors(&memory), [SFF8636]);
        let mut bytes = vec![0u8; 36];
        bytes[0..2].copy_from_slice(&[0x20, 0x40]);
        bytes[4..6].copy_from_slice(&33_000u16.to_be_bytes());
        for lane in 0..4u16 {
            let at = 12 + 2 * usize::from(lane);
            bytes[at..at + 2].copy_from_slice(&(1000 + lane).to_be_bytes());
            bytes[at + 8..at + 10].copy_from_slice(&(2000 + lane).to_be_bytes());
            bytes[at + 16..at + 18].copy_from_slice(&(3000 + lane).to_be_bytes());
        }
        let found = read(memory, vec![(0, vec![range(SFF8636, &bytes)])]);
        assert_eq!(series(&found, Monitored::Temperature, None), [32.25]);
        assert_eq!(series(&found, Monitored::Supply, None), [3.3]);
        assert_eq!(series(&found, Monitored::RxPower, Some(4)), [0.1003]);
        assert_eq!(series(&found, Monitored::Bias, Some(2)), [4.002]);
        assert_eq!(series(&found, Monitored::TxPower, Some(3)), [0.3002]);
    }

    /// CMIS: lower 14-17; page 11h 154-169 sent, 170-185 bias (scaled), 186-201 received; two banks.
    #[test]
    fn cmis_by_hand() {
        let memory = image("kestrel-two-banks.bin");
        let stretches = monitors(&memory);
        assert_eq!(stretches.len(), 3);
        let mut lanes = vec![0u8; 48];
        lanes[32..34].copy_from_slice(&4000u16.to_be_bytes());
        let mut others = vec![0u8; 48];
        others[46..48].copy_from_slice(&3000u16.to_be_bytes());
        let ranges = vec![
            range(stretches[0], &[0x28, 0x00, 0x80, 0xe8]),
            range(stretches[1], &lanes),
            range(stretches[2], &others),
        ];
        let found = read(memory, vec![(0, ranges)]);
        assert_eq!(series(&found, Monitored::Temperature, None), [40.0]);
        assert_eq!(series(&found, Monitored::RxPower, Some(1)), [0.4]);
        assert_eq!(series(&found, Monitored::RxPower, Some(16)), [0.3]);
    }

    /// What a later reading lacks is not taken from the first one.
    #[test]
    fn nothing_stale_is_taken_for_new() {
        let memory = image("northlight-10g-sr.bin");
        let mut short = range(SFF8472, &[0; 15]);
        short.bytes = Fact::Known(HexBytes(vec![0x24, 0x00]));
        let found = read(memory, vec![(0, vec![short]), (1, Vec::new())]);
        assert_eq!(series(&found, Monitored::Temperature, None), [36.0]);
        assert_eq!(found.series.len(), 1, "{:?}", found.series);
    }

    #[test]
    fn what_measures_nothing_is_not_read_again() {
        for name in [
            "gannet-10g-cable.bin",
            "gannet-100g-cable.bin",
            "northlight-10g-sr-no-diagnostics.bin",
        ] {
            assert_eq!(monitors(&image(name)), [], "{name}");
        }
        assert_eq!(monitors(&[]), []);
        assert_eq!(over_time(&ModuleFacts::default()), None);
    }
}
