//! The kernel log, as far as it names a port, its bus address or its driver.
//!
//! In: `/dev/kmsg`, where the host permits it. Out: a few lines a port, newest last. Lines are
//! untrusted text (a module's own strings appear in them) and are bounded.

use std::collections::HashMap;
use std::fs::OpenOptions;
use std::io::Read as _;
use std::os::unix::fs::OpenOptionsExt as _;

use crate::snapshot::{Fact, LogLine, LogTie, Missing, Port, Reason};

/// Lines kept a port.
const LINES: usize = 50;
/// Characters kept a line.
const LINE_LENGTH: usize = 400;
/// Records read at most: the kernel's own buffer holds fewer.
const RECORDS: usize = 200_000;

/// Reads the log and gives each port its lines.
///
/// # Errors
/// Why the log cannot be read; every port is told as well.
pub(super) fn fill(ports: &mut [Port]) -> Result<(), Missing> {
    let records = read();
    match records {
        Ok(records) => {
            share(&records, ports);
            Ok(())
        }
        Err(why) => {
            for port in ports {
                port.kernel_log = Fact::Missing(why.clone());
            }
            Err(why)
        }
    }
}

fn read() -> Result<Vec<(u64, String)>, Missing> {
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
    let mut records = Vec::new();
    let mut record = vec![0u8; 8192];
    for _ in 0..RECORDS {
        match log.read(&mut record) {
            Ok(0) => break,
            Ok(length) => {
                if let Some(found) = record.get(..length).and_then(parse) {
                    records.push(found);
                }
            }
            // Overwritten while being read: go on with the oldest that is left.
            Err(error) if error.raw_os_error() == Some(libc::EPIPE) => {}
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => break,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(refused(&error)),
        }
    }
    Ok(records)
}

/// A record: `priority,sequence,microseconds,flags[,...];text`, then lines of key and value.
/// Characters that are not printable are escaped as `\x1b` by the kernel and stay so.
fn parse(record: &[u8]) -> Option<(u64, String)> {
    let text = String::from_utf8_lossy(record);
    let (prefix, rest) = text.split_once(';')?;
    let at = prefix.split(',').nth(2)?.parse().ok()?;
    let line = rest.lines().next()?;
    Some((at, line.chars().take(LINE_LENGTH).collect()))
}

/// Reads one record and shares it out, for fuzzing.
pub(super) fn one_record(record: &[u8], ports: &mut [Port]) {
    if let Some(found) = parse(record) {
        share(&[found], ports);
    }
}

/// Gives each port the lines that name it, by looking up each word of a line once.
fn share(records: &[(u64, String)], ports: &mut [Port]) {
    let mut by_word: HashMap<String, Vec<usize>> = HashMap::new();
    let mut by_driver: HashMap<String, Vec<usize>> = HashMap::new();
    for (place, port) in ports.iter().enumerate() {
        by_word.entry(port.name.clone()).or_default().push(place);
        if let Fact::Known(address) = &port.bus_address {
            by_word.entry(address.clone()).or_default().push(place);
        }
        if let Fact::Known(driver) = &port.driver {
            by_driver.entry(driver.clone()).or_default().push(place);
        }
    }
    let mut lines: Vec<Vec<LogLine>> = vec![Vec::new(); ports.len()];
    let mut add = |place: usize, at: u64, names: LogTie, text: &str| {
        if let Some(lines) = lines.get_mut(place) {
            if lines.len() == LINES {
                lines.remove(0);
            }
            lines.push(LogLine { at_microseconds: at, names, text: text.to_owned() });
        }
    };
    for (at, text) in records {
        let mut named = false;
        for word in words(text) {
            for place in by_word.get(word).into_iter().flatten() {
                let Some(port) = ports.get(*place) else { continue };
                let names = if port.name == word { LogTie::Interface } else { LogTie::BusAddress };
                named = true;
                add(*place, *at, names, text);
            }
        }
        let first = words(text).next().unwrap_or_default();
        if !named && !words(text).any(looks_like_bus_address) {
            for place in by_driver.get(first).into_iter().flatten() {
                add(*place, *at, LogTie::Driver, text);
            }
        }
    }
    for (port, mut lines) in ports.iter_mut().zip(lines) {
        // A line that names the port twice is one line.
        lines.dedup_by(|b, a| a.at_microseconds == b.at_microseconds && a.text == b.text);
        port.kernel_log = Fact::Known(lines);
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

    #[test]
    fn lines_go_to_whom_they_name() {
        let mut ports = [port("fibre0", "0000:3b:00.0"), port("fibre1", "0000:3b:00.1")];
        let records: Vec<(u64, String)> = [
            "simnic 0000:3b:00.0 fibre0: Link is Down",
            "simnic 0000:3b:00.1: available PCIe bandwidth, limited by 2.5 GT/s",
            "simnic: loaded",
            "fibre01: not ours",
            "simnic 0000:af:00.0: another card",
        ]
        .iter()
        .zip(1..)
        .map(|(text, at)| (at, (*text).to_owned()))
        .collect();
        share(&records, &mut ports);
        let texts = |port: &Port| -> Vec<(LogTie, u64)> {
            port.kernel_log.known().unwrap().iter().map(|l| (l.names, l.at_microseconds)).collect()
        };
        assert_eq!(texts(&ports[0]), [(LogTie::BusAddress, 1), (LogTie::Driver, 3)]);
        assert_eq!(texts(&ports[1]), [(LogTie::BusAddress, 2), (LogTie::Driver, 3)]);
    }

    #[test]
    fn records() {
        let record = b"6,339,5140900,-;NET: a line\n SUBSYSTEM=x\n";
        assert_eq!(parse(record), Some((5_140_900, "NET: a line".into())));
        assert_eq!(parse(b"nonsense"), None);
    }

    proptest::proptest! {
        #[test]
        fn any_record(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            let mut ports = [port("a", "b")];
            if let Some(found) = parse(&bytes) {
                share(&[found], &mut ports);
            }
        }
    }
}
