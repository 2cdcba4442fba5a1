//! What is a secret, and what stands in for it.
//!
//! Each kind is numbered by itself, by order of appearance. Spellings that differ are different
//! names, as they are for what joins two ends by name; addresses are compared by value.

use std::borrow::Borrow;
use std::cell::Cell;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

use crate::report::redact::text::{self, Form};
use crate::report::redact::{Keep, Kind};

/// Words that a host, device or interface may be called by, and that log lines, driver texts and
/// this program's own texts use as words. Put in a text's place of a plain word, a stand-in would
/// tell which word it is, and make the text unreadable for the diagnosis; so such a name is replaced
/// in the fields that hold it and where a domain stands behind it, and nowhere else.
#[rustfmt::skip]
const PLAIN_WORDS: &[&str] = &[
    // Words that the diagnosis looks for in texts.
    "answered", "answers", "available", "bandwidth", "bond", "cage", "checksum", "copper",
    "detached", "disabling", "discards", "does", "down", "downshift", "eeprom", "extended", "failed",
    "fault", "front", "half", "limited", "lost", "module", "modules", "not", "nothing", "occurred",
    "panel", "pcie", "persistently", "queue", "read", "remote", "respond", "sfp", "short", "slave",
    "slot", "slow", "support", "temperature", "thermal", "throttling", "timed", "transceiver",
    "transmit", "unsupported", "x_power",
    // Words of the trade.
    "active", "adapter", "address", "auto", "base", "board", "bridge", "bus", "cable", "card",
    "carrier", "channel", "configured", "connection", "connector", "controller", "core", "corrected",
    "current", "detected", "device", "disabled", "domain", "driver", "duplex", "edge", "enabled",
    "error", "errors", "ethernet", "failure", "fan", "fec", "fibre", "fiber", "firmware", "flow",
    "frame", "frames", "full", "gateway", "gbps", "hardware", "high", "host", "index", "interface",
    "interrupt", "kernel", "lane", "lanes", "laser", "level", "limit", "line", "link", "lo", "local",
    "localdomain", "localhost", "loss", "low", "mac", "main", "management", "mbps", "media", "memory",
    "mode", "monitor", "name", "net", "network", "nic", "none", "number", "off", "offset", "optical",
    "packet", "page", "pause", "pci", "phy", "physical", "port", "ports", "power", "qsfp", "ready",
    "receive", "received", "receiver", "register", "reset", "ring", "root", "router", "rx", "send",
    "sensor", "server", "serial", "signal", "speed", "start", "state", "status", "stop", "supply",
    "switch", "system", "test", "time", "timeout", "traffic", "transmitter", "twisted", "tx", "type",
    "unknown", "usb", "value", "vendor", "version", "virtual", "voltage", "warning", "watchdog",
    // Plain English.
    "a", "all", "an", "and", "any", "are", "as", "at", "be", "but", "by", "can", "cannot", "could",
    "for", "from", "has", "have", "i", "if", "in", "into", "is", "it", "its", "new", "no", "now", "of",
    "old", "on", "one", "only", "or", "other", "out", "over", "set", "so", "that", "the", "them",
    "then", "this", "to", "two", "under", "up", "use", "used", "was", "what", "when", "will", "with",
    // Domains that tell nothing.
    "arpa", "com", "example", "home", "internal", "invalid", "lan", "org",
];

/// Rates of links, Mb/s, that texts name; a serial number may be a number as well.
const RATES: &[&str] = &["100000", "200000", "400000", "800000"];

/// True if texts use this as a word or rate, so that it is not looked for in them.
fn is_plain(text: &str) -> bool {
    let folded = text.to_lowercase();
    PLAIN_WORDS.contains(&folded.as_str()) || RATES.contains(&text)
}

/// True if it has the form of a stand-in: then it is a whole word or nothing, so that a second
/// redaction does not find `host-1` in `host-12`.
fn looks_like_a_stand_in(text: &str) -> bool {
    !text.is_empty()
        && text.split('.').all(|part| {
            part.split_once('-').is_some_and(|(kind, number)| {
                ["SERIAL", "host", "domain", "port"].contains(&kind)
                    && !number.is_empty()
                    && number.bytes().all(|digit| digit.is_ascii_digit())
            })
        })
}

/// How a known secret is looked for in texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Where {
    /// Not at all.
    Nowhere,
    /// As a whole word, no letter or digit beside it.
    Word,
    /// Anywhere, also inside longer words.
    Anywhere,
    /// Anywhere, but not inside a longer number.
    Number,
}

/// Shortest secret that is looked for inside longer words, octets.
const SHORTEST_INSIDE: usize = 6;
/// Longest that is looked for as a whole word, octets.
pub const LONGEST_WORD: usize = 64;

fn place(text: &str, kind: Kind) -> Where {
    let digits = text.bytes().all(|byte| byte.is_ascii_digit());
    if text.is_empty() || is_plain(text) {
        return Where::Nowhere;
    }
    let word = text.len() <= LONGEST_WORD;
    match kind {
        Kind::IpAddress => Where::Number,
        // `port-1` and `eth1` are not in `port-10` and `eth10`.
        Kind::InterfaceName if word => Where::Word,
        _ if word && looks_like_a_stand_in(text) => Where::Word,
        // Short numbers are everywhere, and mean something else.
        _ if digits && text.len() < SHORTEST_INSIDE => Where::Nowhere,
        _ if digits && word => Where::Number,
        Kind::SerialNumber if text.chars().count() < 4 => Where::Nowhere,
        _ if text.len() < SHORTEST_INSIDE => Where::Word,
        _ => Where::Anywhere,
    }
}

/// A secret that is looked for in texts.
#[derive(Debug, Clone)]
pub struct Known {
    /// As it is spelled; case does not count.
    pub text: String,
    /// Where.
    pub place: Where,
    /// What it is.
    pub kind: Kind,
    /// What it names.
    pub token: Token,
}

/// What a stand-in stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Token {
    /// A serial number.
    Serial(String),
    /// A host, with its domain or without.
    Host(String),
    /// A domain.
    Domain(String),
    /// A host that stands before a domain, whatever it is called.
    HostOf(String, String),
    /// An interface.
    Interface(String),
    /// An IP address.
    Ip(IpAddr),
}

/// Things that are numbered when they are used first.
#[derive(Debug)]
struct Numbered<T> {
    values: HashMap<T, Cell<usize>>,
    used: Cell<usize>,
}

impl<T> Default for Numbered<T> {
    fn default() -> Self {
        Self { values: HashMap::new(), used: Cell::new(0) }
    }
}

impl<T: Eq + std::hash::Hash> Numbered<T> {
    fn add(&mut self, value: T) {
        self.values.entry(value).or_default();
    }

    /// Its number; one that has none yet gets the next, for good if it is `used` now.
    fn number<Q>(&self, value: &Q, used: bool) -> Option<usize>
    where
        T: Borrow<Q>,
        Q: Eq + std::hash::Hash + ?Sized,
    {
        let number = self.values.get(value)?;
        if number.get() > 0 {
            return Some(number.get());
        }
        let next = self.used.get() + 1;
        if used {
            number.set(next);
            self.used.set(next);
        }
        Some(next)
    }
}

impl<T: Ord> Numbered<T> {
    /// All of them, always in one order.
    fn each(&self) -> Vec<&T> {
        let mut all: Vec<&T> = self.values.keys().collect();
        all.sort_unstable();
        all
    }
}

/// All secrets of the material.
#[derive(Debug)]
pub struct Book {
    keep: Keep,
    serials: Numbered<String>,
    /// The same as the module stores them, where that is no plain text.
    raw_serials: BTreeMap<Vec<u8>, String>,
    macs: Numbered<u64>,
    addresses: Numbered<IpAddr>,
    labels: Numbered<String>,
    domains: Numbered<String>,
    /// Names with their domain, as they were spelled.
    full_names: Numbered<String>,
    interfaces: Numbered<String>,
    /// Four numbers with dots between them that stand in a field for versions.
    versions: HashSet<Ipv4Addr>,
}

impl Book {
    /// An empty one.
    pub fn new(keep: Keep) -> Self {
        Self {
            keep,
            serials: Numbered::default(),
            raw_serials: BTreeMap::new(),
            macs: Numbered::default(),
            addresses: Numbered::default(),
            labels: Numbered::default(),
            domains: Numbered::default(),
            full_names: Numbered::default(),
            interfaces: Numbered::default(),
            versions: HashSet::new(),
        }
    }

    /// What is kept.
    pub fn keep(&self) -> &Keep {
        &self.keep
    }

    /// A serial number in a field.
    pub fn serial(&mut self, text: &str) {
        if !self.keep.serials && !text.trim().is_empty() {
            self.serials.add(text.trim().to_owned());
        }
    }

    /// The serial numbers that a text announces.
    pub fn serials_in(&mut self, text: &str) {
        text::serials(text, |spelled| {
            let other = looks_like_a_stand_in(spelled) && !spelled.starts_with("SERIAL");
            if !other && !text::is_address(spelled) {
                self.serial(spelled);
            }
        });
    }

    /// A serial number in module memory: how it is shown, and its bytes.
    pub fn raw_serial(&mut self, shown: &str, bytes: &[u8]) {
        self.serial(shown);
        if !self.keep.serials && bytes != shown.trim().as_bytes() {
            self.raw_serials.insert(bytes.to_vec(), shown.trim().to_owned());
        }
    }

    /// A name of a host in a field. One that is an address is that address.
    pub fn host(&mut self, text: &str) {
        if !self.keep.addresses && text::is_address(text) {
            return self.addresses_in(text, true);
        }
        if self.keep.hosts || text.trim().is_empty() {
            return;
        }
        let (label, domain) = split(text);
        self.labels.add(label.to_owned());
        if let Some(domain) = domain {
            self.domains.add(domain.to_owned());
            self.full_names.add(text.to_owned());
        }
    }

    /// A name of an interface. The loopback interface is no secret, and is known by its name.
    pub fn interface(&mut self, text: &str) {
        if !self.keep.interfaces && !text.is_empty() && text != "lo" {
            self.interfaces.add(text.to_owned());
        }
    }

    /// What stands in for something; nothing where it is kept, or no secret. What is `used` now has
    /// its number for good.
    pub fn stand_in(&self, token: &Token, used: bool) -> Option<String> {
        match token {
            Token::Serial(text) => {
                self.serials.number(text.trim(), used).map(|number| format!("SERIAL-{number}"))
            }
            Token::Host(text) if !self.keep.addresses && text::is_address(text) => None,
            Token::Host(text) => {
                let (label, domain) = split(text);
                let host = format!("host-{}", self.labels.number(label, used)?);
                Some(match domain {
                    None => host,
                    Some(domain) => {
                        format!("{host}.domain-{}", self.domains.number(domain, used)?)
                    }
                })
            }
            Token::Domain(domain) => {
                self.domains.number(domain.as_str(), used).map(|number| format!("domain-{number}"))
            }
            Token::HostOf(label, domain) => {
                let domain = self.domains.number(domain.as_str(), used)?;
                Some(match self.labels.number(label.as_str(), used) {
                    Some(number) => format!("host-{number}.domain-{domain}"),
                    None => format!("host.domain-{domain}"),
                })
            }
            Token::Interface(name) => {
                self.interfaces.number(name.as_str(), used).map(|number| format!("port-{number}"))
            }
            Token::Ip(address) => self.ip_stand_in(*address, used).map(|ip| ip.to_string()),
        }
    }

    /// A version.
    pub fn version(&mut self, text: &str) {
        text::forms(text, |form| {
            if let Form::Ip(IpAddr::V4(quad)) = form.form {
                self.versions.insert(quad);
            }
        });
    }

    /// The addresses in a text. With `every_form` also MAC addresses without colons or dashes, and
    /// IPv4 addresses; of a field for addresses alone everything that can be one is.
    pub fn addresses_in(&mut self, text: &str, every_form: bool) {
        if self.keep.addresses {
            return;
        }
        let whole = text.trim().len();
        text::forms(text, |found| match found.form {
            Form::Mac(mac) => self.mac(mac),
            Form::BareMac(mac) if every_form => {
                // Twelve digits may be any number, twelve letters a word.
                let spelled = text.get(found.start..found.end).unwrap_or_default();
                let digit = spelled.bytes().any(|byte| byte.is_ascii_digit());
                let letter = spelled.bytes().any(|byte| byte.is_ascii_alphabetic());
                if (digit && letter) || spelled.len() == whole {
                    self.mac(mac);
                }
            }
            Form::DottedMac(mac) if every_form => self.mac(mac),
            Form::Ip(address @ IpAddr::V4(quad)) => {
                let told = spelled_whole(text, found.start, found.end);
                if every_form && (told || !self.versions.contains(&quad)) {
                    self.address(address);
                }
            }
            Form::Ip(address) => self.address(address),
            _ => {}
        });
    }

    fn mac(&mut self, mac: u64) {
        // Group addresses (the lowest bit of the first octet, IEEE 802 8.2) and zero are nobody's.
        if mac != 0 && (mac >> 40) & 1 == 0 {
            self.macs.add(mac);
        }
    }

    fn address(&mut self, address: IpAddr) {
        let nobody = match address {
            IpAddr::V4(quad) => {
                let bits = quad.to_bits();
                let is_mask =
                    bits.leading_ones() >= 8 && bits.leading_ones() + bits.trailing_zeros() >= 32;
                quad.is_loopback() || quad.is_multicast() || quad.is_unspecified() || is_mask
            }
            IpAddr::V6(six) => {
                // 0000::/8 is reserved (RFC 4291 section 2.4) but for mapped IPv4 addresses and
                // 64:ff9b::/96 (RFC 6052), and `path::to` in a text looks like it.
                let [first, ..] = six.segments();
                (first < 0x100 && first != 0x64 && six.to_ipv4_mapped().is_none())
                    || six.is_multicast()
            }
        };
        if !nobody {
            self.addresses.add(address);
        }
    }

    /// True if this MAC address is a secret.
    pub fn has_mac(&self, mac: u64) -> bool {
        self.macs.values.contains_key(&mac)
    }

    /// What stands in for a MAC address, which is used now: the maker's octets and a number.
    pub fn mac_stand_in(&self, mac: u64) -> Option<u64> {
        let number = u64::try_from(self.macs.number(&mac, true)?).unwrap_or(u64::MAX) & 0xff_ffff;
        // The second lowest bit of the first octet: locally administered (IEEE 802 8.2).
        let maker = if (mac >> 41) & 1 == 1 { 0x02_0000 } else { mac >> 24 };
        Some(maker << 24 | number)
    }

    /// What stands in for an IP address, of 2^28 at least.
    fn ip_stand_in(&self, address: IpAddr, used: bool) -> Option<IpAddr> {
        let number = u32::try_from(self.addresses.number(&address, used)?).unwrap_or(u32::MAX);
        Some(match address {
            IpAddr::V4(_) => IpAddr::V4(Ipv4Addr::from_bits(match number {
                ..=254 => 0xc000_0200 + number,
                255..=131_000 => 0xc612_0000 + number,
                _ => 0xf000_0000 | (number & 0x0fff_ffff),
            })),
            IpAddr::V6(_) => {
                IpAddr::V6(Ipv6Addr::from_bits((0x2001_0db8 << 96) | u128::from(number)))
            }
        })
    }

    /// Everything that is looked for in texts.
    pub fn known(&self) -> Vec<Known> {
        let mut all = Vec::new();
        let mut add = |text: &str, kind: Kind, token: Token| {
            let place = match place(text, kind) {
                // A domain of one short word is found behind the names of hosts alone.
                Where::Word
                    if matches!(token, Token::Domain(_)) && !looks_like_a_stand_in(text) =>
                {
                    Where::Nowhere
                }
                place => place,
            };
            if place == Where::Nowhere {
                return;
            }
            // Case does not count, and automata know that of ASCII alone.
            let mut spellings = vec![text.to_owned()];
            if !text.is_ascii() {
                spellings.extend([text.to_lowercase(), text.to_uppercase()]);
                spellings.dedup();
            }
            for text in spellings {
                all.push(Known { text, place, kind, token: token.clone() });
            }
        };
        for name in self.full_names.each().into_iter().chain(self.labels.each()) {
            add(name, Kind::HostName, Token::Host(name.clone()));
        }
        for domain in self.domains.each() {
            add(domain, Kind::HostName, Token::Domain(domain.clone()));
        }
        for serial in self.serials.each() {
            add(serial, Kind::SerialNumber, Token::Serial(serial.clone()));
        }
        for name in self.interfaces.each() {
            add(name, Kind::InterfaceName, Token::Interface(name.clone()));
        }
        for address in self.addresses.each().into_iter().filter(|address| address.is_ipv4()) {
            add(&address.to_string(), Kind::IpAddress, Token::Ip(*address));
        }
        all
    }

    /// Serial numbers that are no plain text, as stored and as shown.
    pub fn raw_serials(&self) -> impl Iterator<Item = (&[u8], &str)> {
        self.raw_serials.iter().map(|(bytes, shown)| (bytes.as_slice(), shown.as_str()))
    }

    /// Every MAC address.
    pub fn macs(&self) -> impl Iterator<Item = u64> {
        self.macs.each().into_iter().copied()
    }

    /// Every IPv6 address.
    pub fn six(&self) -> impl Iterator<Item = IpAddr> {
        self.addresses.each().into_iter().filter(|address| address.is_ipv6()).copied()
    }

    /// Octets of all names.
    pub fn octets(&self) -> usize {
        let names =
            [&self.serials, &self.labels, &self.domains, &self.full_names, &self.interfaces];
        let names: usize =
            names.iter().flat_map(|names| names.values.keys().map(String::len)).sum();
        // Each is looked for in a few spellings.
        names + 64 * (self.macs.values.len() + self.addresses.values.len())
    }

    /// How many of each kind have been replaced.
    pub fn counts(&self) -> BTreeMap<Kind, usize> {
        BTreeMap::from([
            (Kind::SerialNumber, self.serials.used.get()),
            (Kind::MacAddress, self.macs.used.get()),
            (Kind::IpAddress, self.addresses.used.get()),
            (Kind::HostName, self.labels.used.get()),
            (Kind::InterfaceName, self.interfaces.used.get()),
        ])
    }
}

fn spelled_whole(text: &str, start: usize, end: usize) -> bool {
    text.trim().len() == end - start
}

/// A host's own name, and its domain. What has spaces or an empty part in it is one name.
fn split(name: &str) -> (&str, Option<&str>) {
    let is_name = name.split('.').all(|part| {
        !part.is_empty() && part.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_'))
    });
    match name.split_once('.') {
        Some((label, domain)) if is_name && domain.chars().any(char::is_alphabetic) => {
            (label, Some(domain))
        }
        _ => (name, None),
    }
}
