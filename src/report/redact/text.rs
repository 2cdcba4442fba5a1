//! Finding secrets in texts: known ones, and those that are known by their form.
//!
//! In: a text of any length and content. Out: the same text with stand-ins. Each text is gone
//! through a fixed number of times, whatever it and the secrets are. Where two finds overlap, all
//! of both is replaced.

use std::borrow::Cow;
use std::collections::HashMap;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::sync::LazyLock;

use aho_corasick::{AhoCorasick, Input, MatchKind};
use regex::Regex;

use crate::report::redact::Kind;
use crate::report::redact::names::{Book, Known, LONGEST_WORD, Token, Where};

/// Something that is known by its form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A MAC address with colons or dashes.
    Mac(u64),
    /// A MAC address in three groups with dots or dashes, or in two.
    DottedMac(u64),
    /// Twelve hex digits, without anything between them or with dots: perhaps a MAC address.
    BareMac(u64),
    /// More hex digits than a MAC address has.
    LongHex,
    /// An IP address.
    Ip(IpAddr),
    /// A row of bytes, and how many: it may be module memory.
    Row(usize),
}

/// Where it stands in the text.
#[derive(Debug, Clone, Copy)]
pub struct Found {
    /// First octet.
    pub start: usize,
    /// Octet behind it.
    pub end: usize,
    /// What it is.
    pub form: Form,
}

#[allow(clippy::expect_used, reason = "the patterns are fixed, and every test compiles them")]
fn pattern(text: &str) -> Regex {
    Regex::new(text).expect("a fixed pattern")
}

const H: &str = "[0-9A-Fa-f]";

/// Bytes in a row, as the kernel writes them (`%pM` and `%*ph` of its printk formats, and hex dumps
/// in groups of one, two and four bytes).
static PAIRS: LazyLock<Regex> = LazyLock::new(|| {
    let row = |digits: usize, by: &str, least: usize| {
        format!("{H}{{{digits}}}(?:{by}{H}{{{digits}}}){{{least},}}")
    };
    let by = [":", "-", "_", r"\.", " "].map(|by| row(2, by, 5));
    pattern(&[by.join("|"), row(8, " ", 3), row(4, " ", 5)].join("|"))
});
static DOTTED: LazyLock<Regex> =
    LazyLock::new(|| pattern(&format!(r"{H}{{4}}\.{H}{{4}}\.{H}{{4}}")));
/// Three groups with dashes, or two.
static DASHED: LazyLock<Regex> =
    LazyLock::new(|| pattern(&format!("{H}{{4}}-{H}{{4}}-{H}{{4}}|{H}{{6}}[-:]{H}{{6}}")));
static BARE: LazyLock<Regex> = LazyLock::new(|| pattern(&format!("{H}{{12,}}")));
static NUMBERS: LazyLock<Regex> = LazyLock::new(|| pattern(r"[0-9]+(?:\.[0-9]+){3,}"));
static SIX: LazyLock<Regex> = LazyLock::new(|| {
    pattern(&format!(r"{H}{{0,4}}(?::{H}{{0,4}}){{2,}}(?:(?:\.[0-9]{{1,3}}){{3}})?"))
});
/// Computed and stored sum in the kernel's warning of a module's checksum (SFP cage code, from
/// memory). That of the identity's second part tells what the serial number adds up to.
static SUMS: LazyLock<Regex> = LazyLock::new(|| pattern(&format!("0x{H}{{2}} != 0x{H}{{2}}")));

/// A serial number behind words that announce one, such as the kernel's line of a module that is
/// plugged in: it may have been another module, or another port's.
static SERIALS: LazyLock<Regex> = LazyLock::new(|| {
    pattern(
        r"(?i-u)(?:\b|_)(?:sn|s/n|serial(?:[ _-]?(?:number|num|no\.?))?)[ :=#]+([a-z0-9][a-z0-9._/-]{3,}[a-z0-9])",
    )
});

/// Hex digits from which on a number is a row of bytes.
const ROW_DIGITS: usize = 24;

fn digits(text: &str) -> Option<u64> {
    let digits: String = text.chars().filter(char::is_ascii_hexdigit).collect();
    u64::from_str_radix(&digits, 16).ok()
}

fn quad(text: &str) -> Option<Ipv4Addr> {
    let mut octets = [0; 4];
    let mut parts = text.split('.');
    for octet in &mut octets {
        let part = parts.next().filter(|part| part.len() <= 3)?;
        *octet = part.parse().ok()?;
    }
    parts.next().is_none().then(|| Ipv4Addr::from(octets))
}

/// Tells everything in a text that has the form of an address or of a row of bytes.
pub fn forms(text: &str, mut tell: impl FnMut(Found)) {
    if !text.bytes().any(|byte| byte.is_ascii_hexdigit() || byte == b':') {
        return;
    }
    let mut tell = |start: usize, end: usize, form: Option<Form>| {
        if let Some(form) = form {
            tell(Found { start, end, form });
        }
    };
    for one in PAIRS.find_iter(text) {
        let spelled = one.as_str();
        let count = spelled.bytes().filter(u8::is_ascii_hexdigit).count() / 2;
        let form = match count {
            // With dots it may be a version or an object identifier.
            6 if spelled.as_bytes().get(2) == Some(&b'.') => digits(spelled).map(Form::BareMac),
            _ if spelled.as_bytes().get(2) == Some(&b'.') => None,
            6 if spelled.as_bytes().get(2) != Some(&b' ') => digits(spelled).map(Form::Mac),
            _ => Some(Form::Row(count)),
        };
        tell(one.start(), one.end(), form);
    }
    for one in DOTTED.find_iter(text) {
        tell(one.start(), one.end(), digits(one.as_str()).map(Form::DottedMac));
    }
    for one in DASHED.find_iter(text) {
        // The groups in the middle of a UUID (RFC 9562 section 4) look the same.
        let beside = |byte: Option<&u8>| {
            byte.is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'-')
        };
        let before = one.start().checked_sub(1).and_then(|at| text.as_bytes().get(at));
        if !beside(before) && !beside(text.as_bytes().get(one.end())) {
            tell(one.start(), one.end(), digits(one.as_str()).map(Form::DottedMac));
        }
    }
    for one in BARE.find_iter(text) {
        let spelled = one.as_str();
        // An EUI-64 that was made of a MAC address has FFFE in the middle (RFC 4291 appendix A).
        let made = spelled.len() == 16
            && spelled.get(6..10).is_some_and(|middle| middle.eq_ignore_ascii_case("fffe"));
        let form = match spelled.len() {
            12 => digits(spelled).map(Form::BareMac),
            length if length >= ROW_DIGITS || made => Some(Form::Row(length / 2)),
            _ => Some(Form::LongHex),
        };
        tell(one.start(), one.end(), form);
    }
    for one in NUMBERS.find_iter(text) {
        let form = quad(one.as_str()).map(|quad| Form::Ip(IpAddr::V4(quad)));
        tell(one.start(), one.end(), form);
    }
    for one in SIX.find_iter(text) {
        let spelled = one.as_str();
        // A colon may belong to the sentence.
        let cut = spelled.strip_suffix(':').unwrap_or(spelled);
        let late = spelled.strip_prefix(':').unwrap_or(spelled);
        let both = late.strip_suffix(':').unwrap_or(late);
        for (after, candidate) in
            [(0, spelled), (0, cut), (spelled.len() - late.len(), late), (1, both)]
        {
            if let Ok(address) = candidate.parse::<Ipv6Addr>() {
                let start = one.start() + after;
                tell(start, start + candidate.len(), Some(Form::Ip(IpAddr::V6(address))));
                break;
            }
        }
    }
}

/// Tells everything in a text that is announced as a serial number.
pub fn serials(text: &str, mut tell: impl FnMut(&str)) {
    for found in SERIALS.captures_iter(text) {
        let Some(spelled) = found.get(1).map(|one| one.as_str()) else { continue };
        // Words have no digits; a number with a point is a ratio of signal and noise (S/N).
        let ratio = spelled.contains('.') && spelled.parse::<f64>().is_ok();
        if spelled.bytes().any(|byte| byte.is_ascii_digit()) && !ratio {
            tell(spelled);
        }
    }
}

/// True if all of the text is one address.
pub fn is_address(text: &str) -> bool {
    let (text, mut whole) = (text.trim(), false);
    forms(text, |found| {
        let address = matches!(found.form, Form::Mac(_) | Form::DottedMac(_) | Form::Ip(_));
        whole |= address && found.start == 0 && found.end == text.len();
    });
    whole
}

/// How a text is looked through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// For everything.
    Text,
    /// For names and addresses.
    Version,
    /// Short names but those of interfaces are not looked for, nor are rows of bytes: a program
    /// chose the words.
    Identifier,
}

/// A known secret in module memory.
#[derive(Debug)]
struct InMemory {
    /// Its bytes.
    bytes: Vec<u8>,
    /// What it names.
    named: Named,
    /// True if case counts.
    exact: bool,
    place: Where,
}

/// What bytes of module memory name.
#[derive(Debug)]
enum Named {
    /// Something whose stand-in is a text.
    Text(Token),
    /// A MAC address, by its six octets.
    Raw(u64),
    /// A MAC address in hex digits.
    Digits(u64),
}

/// Looks for all secrets of a book at once.
pub struct Finder {
    entries: Vec<Known>,
    /// Those that are looked for anywhere, by their place in `entries`.
    anywhere: AhoCorasick,
    anywhere_entries: Vec<usize>,
    /// Whole words as they are spelled, and in lower case, with their place in `entries`.
    words: HashMap<String, usize>,
    folded: HashMap<String, usize>,
    /// Lengths of whole words that there are, longest first.
    lengths: Vec<usize>,
    memory: AhoCorasick,
    in_memory: Vec<InMemory>,
    sums: bool,
    rows: bool,
}

/// A stretch of a text, and what comes in its place.
struct Span {
    start: usize,
    end: usize,
    with: With,
}

/// What comes in a place.
enum With {
    /// This text.
    Fixed(String),
    /// A stand-in.
    Token(Token),
    /// A MAC address, and how it was spelled.
    Mac(u64, String),
}

/// Longest name that is looked for, octets.
const LONGEST_NAME: usize = 255;

fn automaton<P: AsRef<[u8]>>(patterns: impl Iterator<Item = P>) -> Result<AhoCorasick, String> {
    AhoCorasick::builder()
        .ascii_case_insensitive(true)
        .match_kind(MatchKind::LeftmostLongest)
        .build(patterns)
        .map_err(|error| format!("the names in it cannot be searched for: {error}"))
}

impl Finder {
    /// For everything in the book.
    ///
    /// # Errors
    /// There is too much in it.
    pub fn new(book: &Book) -> Result<Self, String> {
        let entries = book.known();
        let (mut words, mut folded, mut anywhere_entries) =
            (HashMap::new(), HashMap::new(), Vec::new());
        let mut there = [false; LONGEST_WORD + 1];
        for (place, known) in entries.iter().enumerate() {
            if known.place == Where::Word {
                words.entry(known.text.clone()).or_insert(place);
                folded.entry(known.text.to_ascii_lowercase()).or_insert(place);
                if let Some(there) = there.get_mut(known.text.len()) {
                    *there = true;
                }
            } else {
                anywhere_entries.push(place);
            }
        }
        // No host has a longer name (RFC 1035), and looking for one takes the square of its length.
        if let Some(known) = entries.iter().find(|known| known.text.len() > LONGEST_NAME) {
            return Err(format!(
                "a name in it is of {} octets, so its texts cannot be searched for it: no host's is \
                 longer than {LONGEST_NAME}. Correct the capture, or keep the names with --keep",
                known.text.len()
            ));
        }
        let texts = anywhere_entries.iter().filter_map(|place| entries.get(*place));
        let anywhere = automaton(texts.map(|known| &known.text))?;
        let in_memory = in_memory(book, &entries);
        let memory = automaton(in_memory.iter().map(|one| &one.bytes))?;
        let lengths = (0..=LONGEST_WORD).rev().filter(|length| there.get(*length) == Some(&true));
        Ok(Self {
            lengths: lengths.collect(),
            entries,
            anywhere,
            anywhere_entries,
            words,
            folded,
            memory,
            in_memory,
            sums: !book.keep().serials,
            rows: !book.keep().serials || !book.keep().addresses,
        })
    }

    /// The text with stand-ins; nothing where it holds no secret. Counts the rows of bytes that
    /// were made unreadable.
    pub fn scrub(&self, book: &Book, text: &str, how: How, rows: &mut usize) -> Option<String> {
        let mut spans = Vec::new();
        self.anywhere(text, &mut spans);
        self.words(text, how, &mut spans);
        forms(text, |found| self.form(book, text, found, how, rows, &mut spans));
        if self.sums && text.contains(" != ") && text.to_ascii_lowercase().contains("extended") {
            for sums in SUMS.find_iter(text) {
                let with = With::Fixed("0xxx != 0xxx".to_owned());
                spans.push(Span { start: sums.start(), end: sums.end(), with });
            }
        }
        if spans.is_empty() { None } else { Some(put_in(book, text, spans)) }
    }

    fn anywhere(&self, text: &str, spans: &mut Vec<Span>) {
        let mut at = 0;
        while let Some(found) = self.anywhere.find(Input::new(text).range(at..)) {
            let known = self
                .anywhere_entries
                .get(found.pattern().as_usize())
                .and_then(|place| self.entries.get(*place));
            let (start, end) = (found.start(), found.end());
            let Some(known) = known else { break };
            if known.place == Where::Number && inside_number(text.as_bytes(), start, end) {
                at = start + 1;
                continue;
            }
            at = end;
            let (start, token) = match &known.token {
                Token::Domain(domain) => with_host(text, start, domain),
                token => (start, token.clone()),
            };
            spans.push(Span { start, end, with: With::Token(token) });
        }
    }

    fn words(&self, text: &str, how: How, spans: &mut Vec<Span>) {
        if self.lengths.is_empty() {
            return;
        }
        let lower = text.to_ascii_lowercase();
        let mut next = 0;
        let mut before = None;
        for (start, first) in text.char_indices() {
            let begins = !(is_word(before) && is_word(Some(first)));
            before = Some(first);
            if start < next || !begins {
                continue;
            }
            let found = self.lengths.iter().find_map(|length| {
                let end = start + length;
                let spelled = text.get(start..end)?;
                let after = text.get(end..).and_then(|rest| rest.chars().next());
                if is_word(spelled.chars().next_back()) && is_word(after) {
                    return None;
                }
                let place =
                    self.words.get(spelled).or_else(|| self.folded.get(lower.get(start..end)?));
                let known = self.entries.get(*place?)?;
                let wanted = how != How::Identifier || known.kind == Kind::InterfaceName;
                wanted.then_some((end, known))
            });
            if let Some((end, known)) = found {
                spans.push(Span { start, end, with: With::Token(known.token.clone()) });
                next = end;
            }
        }
    }

    fn form(
        &self,
        book: &Book,
        text: &str,
        found: Found,
        how: How,
        rows: &mut usize,
        spans: &mut Vec<Span>,
    ) {
        let Found { start, mut end, form } = found;
        let spelled = text.get(start..end).unwrap_or_default();
        let mut span = |start: usize, end: usize, with: With| {
            spans.push(Span { start, end, with });
        };
        match form {
            Form::Mac(mac) | Form::DottedMac(mac) | Form::BareMac(mac) => {
                if book.has_mac(mac) {
                    span(start, end, With::Mac(mac, spelled.to_owned()));
                }
            }
            Form::LongHex => {
                for (at, window) in spelled.as_bytes().windows(12).enumerate() {
                    let window = std::str::from_utf8(window).unwrap_or_default();
                    if let Some(mac) = digits(window).filter(|mac| book.has_mac(*mac)) {
                        span(start + at, start + at + 12, With::Mac(mac, window.to_owned()));
                    }
                }
            }
            Form::Ip(address) => {
                if book.stand_in(&Token::Ip(address), false).is_some() {
                    span(start, end, With::Token(Token::Ip(address)));
                }
            }
            Form::Row(count) if self.rows && how == How::Text => {
                *rows += 1;
                let known = if count == 6 { digits(spelled) } else { None };
                let with = match known.filter(|mac| book.has_mac(*mac)) {
                    Some(mac) => With::Mac(mac, spelled.to_owned()),
                    None => {
                        let hide = |c: char| if c.is_ascii_hexdigit() { 'x' } else { c };
                        With::Fixed(spelled.chars().map(hide).collect())
                    }
                };
                // The same bytes as letters, behind it.
                let rest = text.get(end..).unwrap_or_default();
                if rest.starts_with(' ')
                    // Stops early: many rows in a long text take no square of its length.
                    && rest.trim_start().chars().skip(count + 1).all(char::is_whitespace)
                {
                    end = text.len();
                }
                span(start, end, with);
            }
            Form::Row(_) => {}
        }
    }

    /// Replaces every secret in bytes of module memory, at the same length; tells whether there
    /// was one.
    pub fn scrub_bytes(&self, book: &Book, bytes: &mut [u8]) -> bool {
        let old = bytes.to_vec();
        let (mut at, mut changed) = (0, false);
        while let Some(found) = self.memory.find(Input::new(&old).range(at..)) {
            let (start, end) = (found.start(), found.end());
            let Some(one) = self.in_memory.get(found.pattern().as_usize()) else { break };
            let there = old.get(start..end).unwrap_or_default();
            let beside = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_alphanumeric);
            let refused = match one.place {
                _ if one.exact && there != one.bytes => true,
                Where::Number => inside_number(&old, start, end),
                Where::Word => {
                    beside(start.checked_sub(1).and_then(|at| old.get(at))) || beside(old.get(end))
                }
                Where::Anywhere | Where::Nowhere => false,
            };
            if refused {
                at = start + 1;
                continue;
            }
            at = end;
            if let Some(place) = bytes.get_mut(start..end) {
                place.copy_from_slice(&one.named.at_length(book, there));
                changed = true;
            }
        }
        changed
    }
}

impl Named {
    /// What comes in the place of these bytes. What does not fit there is not used.
    fn at_length(&self, book: &Book, there: &[u8]) -> Vec<u8> {
        let length = there.len();
        match self {
            Self::Text(token) => fitted(book, token, length),
            Self::Raw(mac) => {
                let mac = book.mac_stand_in(*mac).unwrap_or_default().to_be_bytes();
                mac.get(2..).unwrap_or_default().to_vec()
            }
            Self::Digits(mac) => {
                let mac = book.mac_stand_in(*mac).unwrap_or_default();
                spelled_like(&String::from_utf8_lossy(there), mac).into_bytes()
            }
        }
    }
}

/// A stand-in at a length: padded with spaces; stars where it does not fit.
pub fn fitted(book: &Book, token: &Token, length: usize) -> Vec<u8> {
    let fits = book.stand_in(token, false).is_some_and(|stand_in| stand_in.len() <= length);
    let Some(stand_in) = fits.then(|| book.stand_in(token, true)).flatten() else {
        return vec![b'*'; length];
    };
    let mut bytes = stand_in.into_bytes();
    bytes.resize(length, b' ');
    bytes
}

fn in_memory(book: &Book, entries: &[Known]) -> Vec<InMemory> {
    /// Shorter bytes are found by chance.
    const SHORTEST: usize = 4;
    let mut all: Vec<InMemory> = entries
        .iter()
        .filter(|known| known.text.len() >= SHORTEST && known.kind != Kind::InterfaceName)
        .map(|known| InMemory {
            bytes: known.text.clone().into_bytes(),
            named: Named::Text(known.token.clone()),
            exact: false,
            place: known.place,
        })
        .collect();
    let mut add = |bytes: Vec<u8>, named: Named, exact: bool| {
        all.push(InMemory { bytes, named, exact, place: Where::Anywhere });
    };
    for (bytes, shown) in book.raw_serials().filter(|(bytes, _)| bytes.len() >= SHORTEST) {
        add(bytes.to_vec(), Named::Text(Token::Serial(shown.to_owned())), true);
    }
    for mac in book.macs() {
        let raw = mac.to_be_bytes().get(2..).unwrap_or_default().to_vec();
        let pairs: Vec<String> = raw.iter().map(|byte| format!("{byte:02x}")).collect();
        for by in ["", ":", "-"] {
            add(pairs.join(by).into_bytes(), Named::Digits(mac), false);
        }
        add(raw, Named::Raw(mac), true);
    }
    for address in book.six() {
        add(address.to_string().into_bytes(), Named::Text(Token::Ip(address)), false);
    }
    all
}

fn is_word(c: Option<char>) -> bool {
    c.is_some_and(char::is_alphanumeric)
}

/// True if a digit stands beside it: it is part of a longer number.
fn inside_number(text: &[u8], start: usize, end: usize) -> bool {
    let digit = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_digit);
    digit(start.checked_sub(1).and_then(|at| text.get(at))) || digit(text.get(end))
}

/// A domain with the host's name before it: where that begins, and what both are.
fn with_host(text: &str, domain_at: usize, domain: &str) -> (usize, Token) {
    /// Longest name with its domain, octets (RFC 1035 section 2.3.4).
    const LONGEST: usize = 255;
    let before = text.get(..domain_at).unwrap_or_default();
    let alone = (domain_at, Token::Domain(domain.to_owned()));
    let Some(names) = before.strip_suffix('.') else { return alone };
    let mut start = names.len();
    for (at, c) in names.char_indices().rev() {
        if !(c.is_alphanumeric() || matches!(c, '-' | '_' | '.')) || names.len() - at > LONGEST {
            break;
        }
        start = at;
    }
    let names = names.get(start..).unwrap_or_default();
    let label = names.split('.').next().unwrap_or_default();
    if label.is_empty() {
        return alone;
    }
    (start, Token::HostOf(label.to_owned(), domain.to_owned()))
}

/// A MAC address with the separators and the case of another spelling.
fn spelled_like(spelling: &str, mac: u64) -> String {
    let upper = spelling.bytes().any(|byte| byte.is_ascii_uppercase());
    let digits = if upper { format!("{mac:012X}") } else { format!("{mac:012x}") };
    let mut digits = digits.chars();
    spelling
        .chars()
        .map(|c| if c.is_ascii_hexdigit() { digits.next().unwrap_or('0') } else { c })
        .collect()
}

/// The text with every span replaced. Of spans that overlap, the first one's stand-in stands for
/// all (the longest one's, of those that begin together).
fn put_in(book: &Book, text: &str, mut spans: Vec<Span>) -> String {
    spans.sort_by(|one, other| (one.start, other.end).cmp(&(other.start, one.end)));
    let mut merged: Vec<Span> = Vec::with_capacity(spans.len());
    for span in spans {
        match merged.last_mut() {
            Some(last) if span.start < last.end => last.end = last.end.max(span.end),
            _ => merged.push(span),
        }
    }
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for Span { start, end, with } in merged {
        out.push_str(text.get(at..start).unwrap_or_default());
        match with {
            With::Fixed(fixed) => out.push_str(&fixed),
            With::Mac(mac, spelled) => {
                out.push_str(&spelled_like(&spelled, book.mac_stand_in(mac).unwrap_or_default()));
            }
            With::Token(token) => {
                // A letter or digit beside it would make another word of it.
                if is_word(out.chars().next_back()) {
                    out.push('-');
                }
                out.push_str(&book.stand_in(&token, true).unwrap_or_default());
                if is_word(text.get(end..).and_then(|after| after.chars().next())) {
                    out.push('-');
                }
            }
        }
        at = end;
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}

/// Text in module memory, as it is shown: bytes that are not printable as `\x1b`.
pub fn shown(bytes: &[u8]) -> String {
    let shown: String = bytes
        .iter()
        .map(|byte| match byte {
            0 => Cow::Borrowed(" "),
            b' '..=b'~' => Cow::Owned(char::from(*byte).to_string()),
            other => Cow::Owned(format!("\\x{other:02x}")),
        })
        .collect();
    shown.trim().to_owned()
}
