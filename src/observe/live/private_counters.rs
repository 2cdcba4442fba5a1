//! Counters that a driver keeps under names of its own.
//!
//! In: an interface by its name. Out: every counter by the name the driver gives it, unjudged.
//! Netlink tells the names but not the values, so these three questions go by the older way, an
//! `ioctl`; it is the only use of one, and the only `unsafe` of the program. Anybody may ask
//! them. The interface is named, not numbered: one that is renamed meanwhile is gone.
#![allow(unsafe_code, reason = "no safe crate asks these questions; see Room and Asker::ask")]

use std::collections::BTreeMap;
use std::io;
use std::os::fd::AsRawFd;
use std::os::unix::net::UnixDatagram;
use std::ptr::NonNull;

use crate::snapshot::{Fact, Missing, Reason};

/// Most counters of one interface that are read. Drivers of many queues keep about a thousand.
const MOST: usize = 4096;
/// Longest name, octets, and the room it takes (ETH_GSTRING_LEN).
const NAME: usize = 32;
/// The set of strings that names counters (ETH_SS_STATS).
const SET: u32 = 1;
/// Room for the name of an interface, with the 0 behind it (IFNAMSIZ).
const INTERFACE: usize = 16;

/// The questions: all that can be asked here. Each only reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
enum Get {
    /// ETHTOOL_GSTRINGS
    Names = 0x1b,
    /// ETHTOOL_GSTATS
    Values = 0x1d,
    /// ETHTOOL_GSSET_INFO
    Count = 0x37,
}

/// Memory that the kernel writes its answer to. The kernel does not hold itself to the size it is
/// told: it writes as many names and values as the driver has by then. Whatever would be written
/// beyond the room meets a page behind it that nobody may touch, and the kernel says EFAULT.
struct Room {
    start: NonNull<u8>,
    usable: usize,
    mapped: usize,
}

impl Room {
    fn new() -> io::Result<Self> {
        // A multiple of any page size there is (up to 64 KiB).
        const PAGE: usize = 64 * 1024;
        let usable = (16 + MOST * NAME).next_multiple_of(PAGE);
        let mapped = usable + PAGE;
        let flags = libc::MAP_PRIVATE | libc::MAP_ANONYMOUS;
        // SAFETY: new memory at a place the kernel picks; nothing that is there is replaced.
        let start =
            unsafe { libc::mmap(std::ptr::null_mut(), mapped, libc::PROT_NONE, flags, -1, 0) };
        if start == libc::MAP_FAILED {
            return Err(io::Error::last_os_error());
        }
        let start = NonNull::new(start.cast::<u8>()).ok_or(io::ErrorKind::OutOfMemory)?;
        let room = Self { start, usable, mapped };
        // SAFETY: `usable` octets from the start are within the mapping above.
        let opened = unsafe {
            libc::mprotect(start.as_ptr().cast(), usable, libc::PROT_READ | libc::PROT_WRITE)
        };
        if opened == 0 { Ok(room) } else { Err(io::Error::last_os_error()) }
    }

    fn octets(&mut self) -> &mut [u8] {
        // SAFETY: mapped readable and writable, zeroed by the kernel, and ours alone; the
        // slice borrows `self`, so neither a call nor `drop` comes while it is held.
        unsafe { std::slice::from_raw_parts_mut(self.start.as_ptr(), self.usable) }
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        // SAFETY: the mapping that `new` made, once; nothing borrows from it any more.
        unsafe { libc::munmap(self.start.as_ptr().cast(), self.mapped) };
    }
}

/// What the kernel takes: an interface's name, and where the question is (struct ifreq).
#[repr(C)]
struct Request {
    name: [u8; INTERFACE],
    question: *mut u8,
    rest: [u8; 24 - size_of::<*mut u8>()],
}

/// Asks for counters of any number of interfaces.
pub(super) struct Asker {
    socket: UnixDatagram,
    room: Room,
}

impl Asker {
    /// # Errors
    /// The host gives no socket or no memory.
    pub fn new() -> io::Result<Self> {
        // Any socket will do; this kind is bound to nothing and can reach nobody.
        Ok(Self { socket: UnixDatagram::unbound()?, room: Room::new()? })
    }

    /// Asks one question; the head is what follows its number. The answer is in the room.
    fn ask(&mut self, interface: &str, get: Get, head: &[u32]) -> Result<&[u8], Missing> {
        let name = interface.as_bytes();
        let mut request = Request {
            name: [0; INTERFACE],
            question: self.room.start.as_ptr(),
            rest: [0; 24 - size_of::<*mut u8>()],
        };
        // A name that netlink told in other octets than UTF-8 cannot be said here.
        let fits = name.len() < INTERFACE && !name.contains(&0) && !interface.contains('\u{fffd}');
        let place = request.name.get_mut(..name.len()).filter(|_| fits);
        let Some(place) = place else {
            return Err(Missing::with(Reason::NotReported, "the interface's name cannot be said"));
        };
        place.copy_from_slice(name);
        let question = [&[get as u32], head].concat();
        for (four, word) in self.room.octets().chunks_exact_mut(4).zip(question) {
            four.copy_from_slice(&word.to_ne_bytes());
        }
        // SAFETY: the kernel reads a request of 40 octets, which this is, and the question it
        // points to; it writes to the room from its start on and, as the page behind the room is
        // closed to it, nowhere else. Both live until the call is over, and nothing borrows them.
        let code = unsafe {
            libc::ioctl(self.socket.as_raw_fd(), SIOCETHTOOL, std::ptr::from_mut(&mut request))
        };
        if code < 0 { Err(refused(&io::Error::last_os_error())) } else { Ok(self.room.octets()) }
    }

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

/// SIOCETHTOOL
const SIOCETHTOOL: libc::Ioctl = 0x8946;

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

fn refused(error: &io::Error) -> Missing {
    match error.raw_os_error() {
        Some(libc::EOPNOTSUPP) => Reason::NotSupported.into(),
        Some(libc::EPERM | libc::EACCES) => Reason::NotPermitted.into(),
        Some(libc::ENODEV) => Reason::Gone.into(),
        Some(libc::EBUSY | libc::EAGAIN) => Reason::Busy.into(),
        // The page behind the room was met.
        Some(libc::EFAULT) => {
            Missing::with(Reason::Interrupted, "the driver changed its counters meanwhile")
        }
        _ => Missing::with(Reason::NotReported, error.to_string()),
    }
}

/// Names as they lie in the answer. One without a name gets its number, one with the name of
/// another its number behind the name: no value hides another.
pub(super) fn names(octets: &[u8], count: usize) -> Result<Vec<String>, Missing> {
    let mut seen = std::collections::HashSet::new();
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

    /// Every question is a GET of the kernel's header; the match has no wildcard.
    #[test]
    fn only_gets_exist() {
        let text = header("ethtool.h");
        for get in [Get::Names, Get::Values, Get::Count] {
            let name = match get {
                Get::Names => "ETHTOOL_GSTRINGS",
                Get::Values => "ETHTOOL_GSTATS",
                Get::Count => "ETHTOOL_GSSET_INFO",
            };
            assert!(name.starts_with("ETHTOOL_G"));
            let told = define(&text, &format!("{name}\t"));
            let number = told.trim_start_matches("0x").split_whitespace().next().unwrap();
            assert_eq!(u32::from_str_radix(number, 16).unwrap(), get as u32, "{name}");
        }
    }

    /// Sizes and places, against the kernel's headers.
    #[test]
    fn layout_is_the_headers() {
        let text = header("ethtool.h");
        assert_eq!(define(&text, "ETH_GSTRING_LEN"), NAME.to_string());
        assert_eq!(enumerated(&text, "ETH_SS_STATS"), SET);
        let told = define(&header("sockios.h"), "SIOCETHTOOL");
        assert!(told.starts_with("0x8946"), "{told}");
        assert_eq!(size_of::<Request>(), 40, "struct ifreq of a 64-bit kernel");
        assert_eq!(size_of::<Request>(), size_of::<libc::ifreq>());
        let told = header("if.h");
        let words: Vec<&str> = told.split_whitespace().collect();
        let at = words.iter().position(|word| *word == "IFNAMSIZ").unwrap();
        assert_eq!(words[at + 1], INTERFACE.to_string());
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

    /// What the kernel would write beyond the room it cannot: it says so, and nothing is lost.
    #[test]
    fn nothing_is_written_behind_the_room() {
        let mut asker = Asker::new().unwrap();
        asker.room.octets().fill(0x5a);
        // Read from a place so near the end of the room that the answer does not fit.
        let behind = asker.room.usable;
        // SAFETY: the kernel is asked to write 8 octets at a place whose second half is closed.
        let place = asker.room.start.as_ptr().wrapping_add(behind - 4);
        let mut ends = [0i32; 2];
        let got = unsafe {
            assert_eq!(libc::pipe(ends.as_mut_ptr()), 0);
            assert_eq!(libc::write(ends[1], [7u8; 8].as_ptr().cast(), 8), 8);
            let got = libc::read(ends[0], place.cast(), 8);
            libc::close(ends[0]);
            libc::close(ends[1]);
            got
        };
        assert!(got <= 4, "{got}");
        assert_eq!(asker.room.octets()[behind - 5], 0x5a);
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
                    let each: std::collections::HashSet<&String> = all.iter().collect();
                    proptest::prop_assert_eq!(each.len(), count);
                    let values = values(&octets, &all);
                    proptest::prop_assert_eq!(values.is_ok(), octets.len() / 8 >= count);
                }
                Err(_) => proptest::prop_assert!(octets.len() / NAME < count),
            }
        }
    }
}
