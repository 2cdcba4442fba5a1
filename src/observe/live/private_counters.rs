//! Counters that a driver keeps under names of its own.
//!
//! In: an interface by its name. Out: every counter by the name the driver gives it, unjudged.
//! Netlink tells the names but not the values, so these three questions go by `driver_asked`.

use std::collections::{BTreeMap, HashSet};

use crate::observe::live::driver_asked::{Asker, Get};
use crate::snapshot::{Fact, Missing, Reason};

/// Most counters of one interface that are read. Drivers of many queues keep about a thousand.
const MOST: usize = 4096;
/// Longest name, octets, and the room it takes (ETH_GSTRING_LEN).
const NAME: usize = 32;
/// The set of strings that names counters (ETH_SS_STATS).
const SET: u32 = 1;

impl Asker {
    /// How many counters the driver keeps.
    fn count(&mut self, interface: &str) -> Result<usize, Missing> {
        // Reserved, then the sets that are asked for as 64 bits in this machine's order.
        let [low, high] = halves(1 << SET);
        let answer = self.ask(interface, Get::Count, &[0, low, high, 0])?;
        let sets =
            answer.get(8..16).and_then(|eight| Some(u64::from_ne_bytes(eight.try_into().ok()?)));
        if sets != Some(1 << SET) {
            return Err(Reason::NotSupported.into());
        }
        let count = word(answer, 16).ok_or(Reason::Malformed)?;
        bounded(count)
    }

    /// Names of the counters, in the driver's order; none twice.
    pub fn names(&mut self, interface: &str) -> Result<Vec<String>, Missing> {
        let count = self.count(interface)?;
        let told = u32::try_from(count).unwrap_or(u32::MAX);
        let answer = self.ask(interface, Get::Names, &[SET, told])?;
        same(word(answer, 8), count)?;
        names(answer.get(12..).unwrap_or_default(), count)
    }

    /// Values of the counters of those names.
    pub fn values(&mut self, interface: &str, names: &[String]) -> Fact<BTreeMap<String, u64>> {
        self.told(interface, names).into()
    }

    fn told(
        &mut self,
        interface: &str,
        names: &[String],
    ) -> Result<BTreeMap<String, u64>, Missing> {
        let told = u32::try_from(names.len()).unwrap_or(u32::MAX);
        let answer = self.ask(interface, Get::Values, &[told])?;
        // A driver may have made more of them, or fewer, since it told their names.
        same(word(answer, 4), names.len())?;
        values(answer.get(8..).unwrap_or_default(), names)
    }
}

fn halves(number: u64) -> [u32; 2] {
    let [a, b, c, d, e, f, g, h] = number.to_ne_bytes();
    [u32::from_ne_bytes([a, b, c, d]), u32::from_ne_bytes([e, f, g, h])]
}

fn word(answer: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_ne_bytes(answer.get(at..at.checked_add(4)?)?.try_into().ok()?))
}

fn bounded(count: u32) -> Result<usize, Missing> {
    match usize::try_from(count) {
        Ok(0) => Err(Reason::NotSupported.into()),
        Ok(count) if count <= MOST => Ok(count),
        _ => Err(Missing::with(
            Reason::NotReported,
            format!("the driver keeps {count} counters, and more than {MOST} are not read"),
        )),
    }
}

/// The kernel tells as many as were expected.
fn same(told: Option<u32>, expected: usize) -> Result<(), Missing> {
    if told.and_then(|told| usize::try_from(told).ok()) == Some(expected) {
        return Ok(());
    }
    Err(Missing::with(Reason::Interrupted, "the driver changed its counters meanwhile"))
}

/// Names as they lie in the answer. One without a name gets its number, one with the name of
/// another its number behind the name: no value hides another.
pub(super) fn names(octets: &[u8], count: usize) -> Result<Vec<String>, Missing> {
    let mut seen = HashSet::new();
    let mut all = Vec::with_capacity(count.min(MOST));
    for (place, octets) in (1..).zip(octets.chunks_exact(NAME).take(count.min(MOST))) {
        let name = octets.split(|octet| *octet == 0).next().unwrap_or_default();
        let mut name = String::from_utf8_lossy(name).trim().to_owned();
        if name.is_empty() {
            name = format!("#{place}");
        }
        while !seen.insert(name.clone()) {
            name.push_str(&format!(" #{place}"));
        }
        all.push(name);
    }
    if all.len() == count { Ok(all) } else { Err(Reason::Malformed.into()) }
}

/// Values as they lie in the answer, by the names that were told before.
pub(super) fn values(octets: &[u8], names: &[String]) -> Result<BTreeMap<String, u64>, Missing> {
    let numbers = octets.chunks_exact(8).filter_map(|eight| eight.try_into().ok());
    let all: Vec<u64> = numbers.map(u64::from_ne_bytes).take(names.len()).collect();
    if all.len() < names.len() {
        return Err(Reason::Malformed.into());
    }
    Ok(names.iter().cloned().zip(all).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::header_test::{define, enumerated, header};

    /// Sizes and places, against the kernel's header.
    #[test]
    fn layout_is_the_headers() {
        let text = header("ethtool.h");
        assert_eq!(define(&text, "ETH_GSTRING_LEN"), NAME.to_string());
        assert_eq!(enumerated(&text, "ETH_SS_STATS"), SET);
        for (structure, fields) in [
            ("struct ethtool_sset_info {", ["cmd", "reserved", "sset_mask", "data"].as_slice()),
            ("struct ethtool_gstrings {", &["cmd", "string_set", "len", "data"]),
            ("struct ethtool_stats {", &["cmd", "n_stats", "data"]),
        ] {
            let (_, rest) = text.split_once(structure).unwrap();
            let (inner, _) = rest.split_once("};").unwrap();
            let names: Vec<&str> = inner
                .lines()
                .filter_map(|line| line.split_whitespace().nth(1))
                .map(|name| name.trim_end_matches([';', '[', ']']))
                .collect();
            assert_eq!(names, fields, "{structure}");
        }
    }

    /// The interfaces of this machine, whatever they are: what has no counters says so, the
    /// counters that are there have names, and a name that is none is gone.
    #[test]
    fn this_machine() {
        let mut asker = Asker::new().unwrap();
        assert_eq!(asker.names("lo").unwrap_err().reason, Reason::NotSupported);
        assert_eq!(asker.names("no-such-port").unwrap_err().reason, Reason::Gone);
        for odd in ["", "a-name-of-sixteen", "a\0b", "quay\u{fffd}"] {
            let why = asker.names(odd).unwrap_err().reason;
            assert!(matches!(why, Reason::NotReported | Reason::Gone), "{odd:?} {why:?}");
        }
        for entry in std::fs::read_dir("/sys/class/net").unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            match asker.names(&name) {
                Ok(names) => {
                    let values = asker.values(&name, &names);
                    println!("{name}: {} counters", names.len());
                    assert_eq!(values.known().unwrap().len(), names.len(), "{name}");
                    assert!(asker.values(&name, &names[1..]).known().is_none(), "not as many");
                }
                Err(why) => println!("{name}: {why}"),
            }
        }
    }

    /// Values worked by hand; a count that is not what was told is refused.
    #[test]
    fn answers_by_hand() {
        let mut octets = [0u8; 4 * NAME];
        octets[..9].copy_from_slice(b"rx_errors");
        octets[NAME..NAME + 9].copy_from_slice(b"rx_errors");
        octets[2 * NAME..3 * NAME].fill(b'x');
        let told = names(&octets, 4).unwrap();
        assert_eq!(told, ["rx_errors", "rx_errors #2", &"x".repeat(32), "#4"]);
        let four = [1u64, u64::MAX, 3, 4].map(u64::to_ne_bytes).concat();
        let all = values(&four, &told).unwrap();
        assert_eq!(all["rx_errors #2"], u64::MAX);
        assert_eq!(all.len(), 4);
        assert!(names(&octets, 5).is_err());
        assert!(values(&four[..31], &told).is_err());
        assert_eq!(bounded(0).unwrap_err().reason, Reason::NotSupported);
        assert_eq!(bounded(4096), Ok(4096));
        assert!(bounded(4097).is_err());
        assert!(same(Some(4), 4).is_ok());
        assert!(same(Some(5), 4).is_err());
        assert!(same(None, 4).is_err());
    }

    proptest::proptest! {
        /// Any octets are names: as many as there are places, none twice, none longer than its
        /// place and number can make it.
        #[test]
        fn any_names(octets in proptest::collection::vec(proptest::num::u8::ANY, 0..400), count in 0usize..20) {
            match names(&octets, count) {
                Ok(all) => {
                    proptest::prop_assert_eq!(all.len(), count);
                    let each: HashSet<&String> = all.iter().collect();
                    proptest::prop_assert_eq!(each.len(), count);
                    let values = values(&octets, &all);
                    proptest::prop_assert_eq!(values.is_ok(), octets.len() / 8 >= count);
                }
                Err(_) => proptest::prop_assert!(octets.len() / NAME < count),
            }
        }
    }
}
