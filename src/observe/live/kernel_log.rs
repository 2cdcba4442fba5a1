//! The kernel log, as far as it names a port, its bus address or its driver.
//!
//! In: `/dev/kmsg`, where the host permits it. Out: a few lines a port, newest last. Lines are
//! untrusted text (a module's own strings appear in them) and are bounded.

use std::collections::{HashMap, VecDeque};
use std::fs::OpenOptions;
use std::io::Read as _;
use std::os::unix::fs::OpenOptionsExt as _;
use std::thread::JoinHandle;

use crate::snapshot::{Fact, LogLine, LogTie, Missing, Port, Reason};

/// Lines kept a port.
const LINES: usize = 50;
/// Characters kept a line.
const LINE_LENGTH: usize = 400;
/// Records read at most: the kernel's own buffer holds fewer.
const RECORDS: usize = 200_000;

/// The log being read on a thread of its own, meanwhile the kernel is asked other things.
pub(super) struct Reading(Option<JoinHandle<(Lines, Result<(), Missing>)>>);

/// Lines and the microsecond of each.
type Lines = Vec<(u64, String)>;

impl Reading {
    /// Starts to read. What is logged afterwards may be missed.
    pub fn start() -> Self {
        let thread = std::thread::Builder::new().name("kernel log".into()).spawn(|| {
            let mut lines = Vec::new();
            let read = read(|at, text| lines.push((at, text)));
            (lines, read)
        });
        Self(thread.ok())
    }

    fn end(self) -> (Lines, Result<(), Missing>) {
        let ended = self.0.and_then(|thread| thread.join().ok());
        ended.unwrap_or_else(|| (Vec::new(), Err(Reason::NotReported.into())))
    }
}

/// Waits for the log and gives each port its lines. `other_names` holds the names of
/// the host's other interfaces: a line that names one of them is not about these.
///
/// # Errors
/// Why the log cannot be read; every port is told as well.
pub(super) fn fill(
    reading: Reading,
    ports: &mut [Port],
    other_names: &[String],
) -> Result<(), Missing> {
    let mut sorter = Sorter::new(ports, other_names);
    let (lines, read) = reading.end();
    for (at, text) in lines {
        sorter.sort(at, &text);
    }
    let lines = sorter.lines;
    for (port, lines) in ports.iter_mut().zip(lines) {
        port.kernel_log = match &read {
            Ok(()) => Fact::Known(lines.into()),
            Err(why) => Fact::Missing(why.clone()),
        };
    }
    read
}

fn read(mut take: impl FnMut(u64, String)) -> Result<(), Missing> {
    let refused = |error: &std::io::Error| {
        let reason = match error.raw_os_error() {
            Some(libc::EPERM | libc::EACCES) => Reason::NotPermitted,
            _ => Reason::NotSupported,
        };
        Missing::with(reason, error.to_string())
    };
    let mut log = OpenOptions::new()
        .read(true)
        .custom_flags(libc::O_NONBLOCK)
        .open("/dev/kmsg")
        .map_err(|error| refused(&error))?;
    let mut record = vec![0u8; 8192];
    for _ in 0..RECORDS {
        match log.read(&mut record) {
            Ok(0) => break,
            Ok(length) => {
                if let Some((at, text)) = record.get(..length).and_then(parse) {
                    take(at, text);
                }
            }
            // Overwritten while being read: go on with the oldest that is left.
            Err(error) if error.raw_os_error() == Some(libc::EPIPE) => {}
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => break,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(refused(&error)),
        }
    }
    Ok(())
}

/// A record: `priority,sequence,microseconds,flags[,...];text`, then lines of key and value.
fn parse(record: &[u8]) -> Option<(u64, String)> {
    let text = String::from_utf8_lossy(record);
    let (prefix, rest) = text.split_once(';')?;
    let at = prefix.split(',').nth(2)?.parse().ok()?;
    let line = unescaped(rest.lines().next()?);
    Some((at, line.chars().take(LINE_LENGTH).collect()))
}

/// Undoes the kernel's `\xNN` for backslashes and letters beyond ASCII. What such an escape hides
/// may steer a terminal: control characters do not come back, a replacement stands for them.
fn unescaped(line: &str) -> String {
    let mut bytes = Vec::with_capacity(line.len());
    let mut rest = line.as_bytes();
    while let Some((first, others)) = rest.split_first() {
        let escaped = others
            .strip_prefix(b"x")
            .and_then(|digits| str::from_utf8(digits.get(..2)?).ok())
            .filter(|_| *first == b'\\')
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        bytes.push(escaped.unwrap_or(*first));
        rest = if escaped.is_some() { others.get(3..).unwrap_or_default() } else { others };
    }
    let replaced = |c: char| if c.is_control() && c != '\t' { '\u{fffd}' } else { c };
    String::from_utf8_lossy(&bytes).chars().map(replaced).collect()
}

/// Reads one record and shares it out, for fuzzing.
pub(super) fn one_record(record: &[u8], ports: &mut [Port]) {
    if let Some((at, text)) = parse(record) {
        Sorter::new(ports, &[]).sort(at, &text);
    }
}

/// Gives each port the lines that name it, by looking up each word of a line once.
struct Sorter<'a> {
    /// Names of all interfaces of the host; with a place, if it is one of these ports.
    by_name: HashMap<&'a str, Option<usize>>,
    by_address: HashMap<&'a str, Vec<usize>>,
    by_driver: HashMap<&'a str, Vec<usize>>,
    lines: Vec<VecDeque<LogLine>>,
}

impl<'a> Sorter<'a> {
    fn new(ports: &'a [Port], other_names: &'a [String]) -> Self {
        let mut sorter = Self {
            by_name: other_names.iter().map(|name| (name.as_str(), None)).collect(),
            by_address: HashMap::new(),
            by_driver: HashMap::new(),
            lines: vec![VecDeque::new(); ports.len()],
        };
        for (place, port) in ports.iter().enumerate() {
            sorter.by_name.insert(&port.name, Some(place));
            if let Fact::Known(address) = &port.bus_address {
                sorter.by_address.entry(address).or_default().push(place);
            }
            if let Fact::Known(driver) = &port.driver {
                sorter.by_driver.entry(driver).or_default().push(place);
            }
        }
        sorter
    }

    fn sort(&mut self, at: u64, text: &str) {
        // An interface's name says more than the address that several may share, an address
        // more than the driver.
        let mut named = false;
        for word in words(text) {
            let Some(place) = self.by_name.get(word).copied() else { continue };
            named = true;
            if let Some(place) = place {
                self.add(place, at, LogTie::Interface, text);
            }
        }
        if named {
            return;
        }
        for word in words(text) {
            let places = self.by_address.get(word).cloned().unwrap_or_default();
            named |= !places.is_empty() || looks_like_bus_address(word);
            for place in places {
                self.add(place, at, LogTie::BusAddress, text);
            }
        }
        if named {
            return;
        }
        let driver = words(text).next().unwrap_or_default();
        for place in self.by_driver.get(driver).cloned().unwrap_or_default() {
            self.add(place, at, LogTie::Driver, text);
        }
    }

    fn add(&mut self, place: usize, at: u64, names: LogTie, text: &str) {
        let Some(lines) = self.lines.get_mut(place) else { return };
        // A line that names the port twice is one line.
        if lines.back().is_some_and(|last| last.at_microseconds == at && last.text == text) {
            return;
        }
        if lines.len() == LINES {
            lines.pop_front();
        }
        lines.push_back(LogLine { at_microseconds: at, names, text: text.to_owned() });
    }
}

/// Words as interface names and bus addresses are written: a colon or full stop belongs to the
/// word only inside it.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !(c.is_alphanumeric() || matches!(c, ':' | '.' | '_' | '-' | '@')))
        .map(|word| word.trim_matches(|c: char| matches!(c, ':' | '.' | '-')))
        .filter(|word| !word.is_empty())
}

fn looks_like_bus_address(word: &str) -> bool {
    word.matches(':').count() >= 2 && word.contains('.')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(name: &str, address: &str) -> Port {
        Port {
            name: name.into(),
            bus_address: Fact::Known(address.into()),
            driver: Fact::Known("simnic".into()),
            ..Port::default()
        }
    }

    /// What each port is given of these lines: tie, and number of the line from 1.
    fn sorted(ports: &[Port], other_names: &[&str], lines: &[&str]) -> Vec<Vec<(LogTie, u64)>> {
        let other_names: Vec<String> = other_names.iter().map(|name| (*name).to_owned()).collect();
        let mut sorter = Sorter::new(ports, &other_names);
        for (at, line) in (1..).zip(lines) {
            sorter.sort(at, line);
        }
        let given = |lines: VecDeque<LogLine>| {
            lines.iter().map(|line| (line.names, line.at_microseconds)).collect()
        };
        sorter.lines.into_iter().map(given).collect()
    }

    #[test]
    fn lines_go_to_whom_they_name() {
        let ports = [port("fibre0", "0000:3b:00.0"), port("fibre1", "0000:3b:00.1")];
        let given = sorted(
            &ports,
            &["fibre0", "fibre1", "fibre7"],
            &[
                "simnic 0000:3b:00.0 fibre0: Link is Down",
                "simnic 0000:3b:00.1: available PCIe bandwidth, limited by 2.5 GT/s",
                "simnic: loaded",
                "fibre01: not ours",
                "simnic 0000:af:00.0: another card",
                "simnic fibre7: a port that was not asked for",
                "fibre0: fibre0 (fibre0) named three times",
            ],
        );
        assert_eq!(given[0], [(LogTie::Interface, 1), (LogTie::Driver, 3), (LogTie::Interface, 7)]);
        assert_eq!(given[1], [(LogTie::BusAddress, 2), (LogTie::Driver, 3)]);
    }

    /// Two ports of one card at one address: the line that names one of them is not the other's.
    #[test]
    fn a_shared_address() {
        let ports = [port("fibre0", "0000:3b:00.0"), port("fibre1", "0000:3b:00.0")];
        let lines = ["simnic 0000:3b:00.0 fibre1: Link is Down", "simnic 0000:3b:00.0: reset"];
        let given = sorted(&ports, &["fibre0", "fibre1"], &lines);
        assert_eq!(given[0], [(LogTie::BusAddress, 2)]);
        assert_eq!(given[1], [(LogTie::Interface, 1), (LogTie::BusAddress, 2)]);
    }

    #[test]
    fn the_newest_lines_are_kept() {
        let ports = [port("fibre0", "0000:3b:00.0")];
        let given = sorted(&ports, &["fibre0"], &["fibre0: line"; 60]);
        assert_eq!(given[0].len(), LINES);
        assert_eq!(given[0].last(), Some(&(LogTie::Interface, 60)));
    }

    /// The form of a record: kernel documentation of `/dev/kmsg`.
    #[test]
    fn records() {
        let record = b"6,339,5140900,-;NET: a line\n SUBSYSTEM=x\n";
        assert_eq!(parse(record), Some((5_140_900, "NET: a line".into())));
        assert_eq!(parse(b"nonsense"), None);
        let long = format!("6,1,2,-;{}", "x".repeat(5000));
        assert_eq!(parse(long.as_bytes()).unwrap().1.len(), LINE_LENGTH);
    }

    #[test]
    fn escapes() {
        assert_eq!(unescaped(r"dock \xc3\xa9 path \x5cx41"), r"dock é path \x41");
        assert_eq!(unescaped(r"red \x1b[31m"), "red \u{fffd}[31m");
        assert_eq!(unescaped(r"end \x4"), r"end \x4");
        assert_eq!(unescaped(r"no \xzz"), r"no \xzz");
    }

    proptest::proptest! {
        #[test]
        fn any_record(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            one_record(&bytes, &mut [port("a", "b")]);
            let _ = unescaped(&String::from_utf8_lossy(&bytes));
        }
    }
}
