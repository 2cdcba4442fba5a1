//! What a driver says of itself and of its adapter: name, version, the firmware's version.
//!
//! In: an interface by its name. Out: the versions in the driver's own words. Netlink does not
//! tell them, so the question goes by `driver_asked`.

use crate::observe::live::driver_asked::{Asker, Get};
use crate::snapshot::{Fact, Missing, Port, Reason};

/// Octets of an answer, in words of four (struct ethtool_drvinfo).
const WORDS: usize = 49;
/// Octets that each text takes, and where it stands: driver, version, fw_version, in this order
/// behind the number of the question.
const TEXT: usize = 32;
const FIRST: usize = 4;

/// What was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Versions {
    driver: Fact<String>,
    driver_version: Fact<String>,
    firmware: Fact<String>,
}

impl Versions {
    /// Writes it into the port. The driver's name is what sysfs says, where it says one.
    pub fn fill(self, port: &mut Port) {
        port.driver_version = self.driver_version;
        port.firmware = self.firmware;
        // Of software the kind is told, and the log's lines of a kind are of no one interface.
        if port.is_hardware() && port.driver.known().is_none() && self.driver.known().is_some() {
            port.driver = self.driver;
        }
    }

    /// Nothing was told.
    pub fn missing(why: &Missing) -> Self {
        let [driver, driver_version, firmware] = [(); 3].map(|()| Fact::Missing(why.clone()));
        Self { driver, driver_version, firmware }
    }
}

impl Asker {
    /// Asks the driver of an interface.
    pub fn versions(&mut self, interface: &str) -> Versions {
        // The room is cleared as far as the answer goes: none of it is another interface's.
        match self.ask(interface, Get::Driver, &[0; WORDS - 1]) {
            Ok(answer) => versions(answer),
            Err(why) => Versions::missing(&why),
        }
    }
}

/// Versions as they lie in the answer.
pub(super) fn versions(answer: &[u8]) -> Versions {
    let text = |place: usize| {
        let from = FIRST + place * TEXT;
        match answer.get(from..from + TEXT).filter(|_| answer.len() >= WORDS * 4) {
            Some(octets) => told(octets),
            None => Fact::missing(Reason::Malformed),
        }
    };
    Versions { driver: text(0), driver_version: text(1), firmware: text(2) }
}

/// A text up to its end or the 0 behind it. Left empty, or filled with a word for "not
/// applicable" (common practice, no published source), it tells nothing.
fn told(octets: &[u8]) -> Fact<String> {
    let text = octets.split(|octet| *octet == 0).next().unwrap_or_default();
    let text = String::from_utf8_lossy(text);
    let text = text.trim();
    if text.is_empty() || text.eq_ignore_ascii_case("n/a") {
        return Fact::missing(Reason::NotReported);
    }
    Fact::Known(text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::header_test::{define, header};

    /// Order and sizes, against the kernel's header: 4 + 6 texts of 32, one of them reserved with
    /// 12, + 5 numbers of 4 octets are 196.
    #[test]
    fn layout_is_the_headers() {
        let text = header("ethtool.h");
        let (_, rest) = text.split_once("struct ethtool_drvinfo {").unwrap();
        let (inner, _) = rest.split_once("};").unwrap();
        let size = |size: &str| match size.parse::<usize>() {
            Ok(size) => size,
            Err(_) => define(&text, size).parse().unwrap(),
        };
        let mut at = 0;
        let mut places = Vec::new();
        for line in inner.lines().map(str::trim).filter(|line| !line.is_empty()) {
            let (kind, rest) = line.split_once(char::is_whitespace).unwrap();
            let name = rest.trim_end_matches(';');
            let (name, octets) = match name.split_once('[') {
                Some((name, room)) if kind == "char" => (name, size(room.trim_end_matches(']'))),
                _ => {
                    assert_eq!(kind, "__u32", "{line}");
                    (name, 4)
                }
            };
            places.push((name.to_owned(), at, octets));
            at += octets;
        }
        assert_eq!(at, WORDS * 4);
        for (place, name) in ["driver", "version", "fw_version"].iter().enumerate() {
            assert!(places.contains(&((*name).to_owned(), FIRST + place * TEXT, TEXT)), "{name}");
        }
    }

    /// An answer with these three texts, the rest of it filled with what must not be read.
    fn answer(texts: [&[u8]; 3]) -> Vec<u8> {
        let mut octets = vec![b'#'; WORDS * 4];
        for (place, text) in texts.iter().enumerate() {
            let from = 4 + place * 32;
            octets[from..from + 32].fill(0);
            octets[from..from + text.len()].copy_from_slice(text);
        }
        octets
    }

    #[test]
    fn answers_by_hand() {
        let of = |texts| versions(&answer(texts));
        let three = of([b"harbornic", b"6.1.0-28-amd64", b"22.36.1010 (TWS0000000007)"]);
        assert_eq!(three.driver, Fact::Known("harbornic".into()));
        assert_eq!(three.driver_version, Fact::Known("6.1.0-28-amd64".into()));
        assert_eq!(three.firmware, Fact::Known("22.36.1010 (TWS0000000007)".into()));
        for nothing in [b"".as_slice(), b"N/A", b"n/a", b" N/A ", b"  \t", b"\0behind"] {
            let firmware = of([b"veth", b"1.0", nothing]).firmware;
            assert_eq!(firmware, Fact::missing(Reason::NotReported), "{nothing:?}");
        }
        // Without a 0 at its end it ends where its room does.
        let full = of([&[b'a'; 32], &[b'b'; 32], &[b'c'; 32]]);
        assert_eq!(full.driver_version, Fact::Known("b".repeat(32)));
        assert_eq!(full.firmware, Fact::Known("c".repeat(32)));
        let short = versions(&answer([b"harbornic", b"1", b"2"])[..195]);
        assert_eq!(short, Versions::missing(&Reason::Malformed.into()));
    }

    /// The interfaces of this machine: one that is none is gone, and what is said of the others
    /// is as long as it can be.
    #[test]
    fn this_machine() {
        let mut asker = Asker::new().unwrap();
        assert_eq!(asker.versions("no-such-port"), Versions::missing(&Reason::Gone.into()));
        let mut asked = 0;
        for entry in std::fs::read_dir("/sys/class/net").unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let told = asker.versions(&name);
            println!("{name}: {told:?}");
            assert_ne!(told.firmware, Fact::missing(Reason::Malformed), "{name}");
            assert!(!told.firmware.is_not_asked(), "{name}");
            asked += 1;
        }
        assert!(asked > 0);
    }

    proptest::proptest! {
        /// Any octets: a text or a reason, never a text that is empty, cut in two by a 0, or longer
        /// than its room (an octet that is no UTF-8 takes three).
        #[test]
        fn any_octets(octets in proptest::collection::vec(proptest::num::u8::ANY, 0..260)) {
            let Versions { driver, driver_version, firmware } = versions(&octets);
            for text in [driver, driver_version, firmware] {
                match text {
                    Fact::Known(text) => {
                        proptest::prop_assert!(octets.len() >= 196);
                        proptest::prop_assert!(!text.trim().is_empty() && text.len() <= 3 * 32);
                        proptest::prop_assert!(!text.contains('\0'));
                    }
                    Fact::Missing(why) => {
                        let short = octets.len() < 196;
                        proptest::prop_assert_eq!(why.reason == Reason::Malformed, short);
                    }
                }
            }
        }
    }
}
