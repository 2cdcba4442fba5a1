//! Takes out of captures and site file what tells who and where somebody is.
//!
//! In: [`Material`] and what the user wants to [`Keep`]. Out: the same material with stand-ins,
//! numbered by order of appearance in what is given out, so nothing of what they stand for can be worked out. One thing
//! has one stand-in in all of the material: the site file still joins the ends, and two ports with
//! one address still have one. Redacting twice changes nothing more.
//!
//! What stays, since it helps and tells of no single device: date codes, makers and part numbers,
//! the first three octets of a MAC address (the maker's), versions, bus addresses, what the driver
//! calls the physical port, times. Group, broadcast, loopback and all-zero addresses stay as well,
//! and so do network masks.
//!
//! - `names`: what is a secret, and its stand-in;
//! - `text`: finding secrets in running text, known ones and those that are known by their form;
//! - `memory`: module memory, whose checksums stay as right or wrong as they were;
//! - `walk`: every field of the material, once.

mod memory;
mod names;
mod text;
mod walk;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::site::Site;
use crate::snapshot::{ModuleFacts, Snapshot};
use names::{Book, Token};
use text::{Finder, How};
use walk::{Visitor, What};

/// What a report is made of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Material {
    /// The captures of the ports that it is about.
    pub snapshots: Vec<Snapshot>,
    /// The far end's capture.
    pub far: Option<Snapshot>,
    /// The port in that capture that the user named.
    pub far_port: Option<String>,
    /// The site file.
    pub site: Option<Site>,
    /// What the user says: lines of text.
    pub said: Vec<String>,
}

/// What is not to be taken out. By default everything is but interface names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keep {
    /// Serial numbers of modules and cables.
    pub serials: bool,
    /// MAC and IP addresses.
    pub addresses: bool,
    /// Host and domain names.
    pub hosts: bool,
    /// Names of interfaces. Secrets inside them are still taken out.
    pub interfaces: bool,
}

impl Default for Keep {
    fn default() -> Self {
        Self { serials: false, addresses: false, hosts: false, interfaces: true }
    }
}

impl Keep {
    /// The words that [`Keep::parse`] takes.
    pub const WORDS: [&'static str; 4] = ["serials", "addresses", "hosts", "interfaces"];

    /// Keeps what these words name, separated by commas.
    ///
    /// # Errors
    /// The word that is none of [`Keep::WORDS`], and what there is.
    pub fn parse(words: &str) -> Result<Self, String> {
        words.split(',').map(str::trim).filter(|word| !word.is_empty()).try_fold(
            Self::default(),
            |mut keep, word| {
                let kept = match word {
                    "serials" => &mut keep.serials,
                    "addresses" => &mut keep.addresses,
                    "hosts" => &mut keep.hosts,
                    "interfaces" => &mut keep.interfaces,
                    other => {
                        let there = Self::WORDS.join(", ");
                        return Err(format!("{other:?} cannot be kept; there is: {there}"));
                    }
                };
                *kept = true;
                Ok(keep)
            },
        )
    }

    /// What is kept, in [`Keep::WORDS`].
    pub fn kept(&self) -> Vec<&'static str> {
        let all = [self.serials, self.addresses, self.hosts, self.interfaces];
        Self::WORDS.into_iter().zip(all).filter(|(_, kept)| *kept).map(|(word, _)| word).collect()
    }
}

/// A kind of thing that has stand-ins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Serial number of a module or cable: `SERIAL-1`.
    SerialNumber,
    /// MAC address: the maker's three octets and a number (`02-00-00` where it is locally
    /// administered).
    MacAddress,
    /// IP address: `192.0.2.1` (RFC 5737; beyond 254 of them 198.18.0.0/15, RFC 2544, then
    /// 240.0.0.0/4, RFC 1112) or `2001:db8::1` (RFC 3849).
    IpAddress,
    /// Host or device: `host-1`, `host-1.domain-1`.
    HostName,
    /// Interface: `port-1`.
    InterfaceName,
    /// A row of bytes in a text, digits replaced by `x`: it may be module memory.
    ByteRow,
}

/// Material without secrets.
#[derive(Debug, Clone, PartialEq)]
pub struct Redacted {
    /// The material.
    pub material: Material,
    /// How many different things were replaced, by kind; kinds of which there is none are left out.
    pub replaced: BTreeMap<Kind, usize>,
    /// What was kept, in [`Keep::WORDS`].
    pub kept: Vec<&'static str>,
}

/// Most octets of secrets that are looked for in texts: a capture of 20,000 ports with a module
/// and a neighbour each has an eighth of that.
const MOST_TO_LOOK_FOR: usize = 8 * 1024 * 1024;

/// Replaces every secret by its stand-in.
///
/// # Errors
/// The names in it are so many, or so long, that texts cannot be searched for them in bounded
/// memory: nothing is given out then.
pub fn redact(material: Material, keep: &Keep) -> Result<Redacted, String> {
    redact_knowing(material, Material::default(), keep)
}

/// The same; what else is known, and does not go along, names secrets too: a log line of a chosen port
/// may name another one's module.
///
/// # Errors
/// As [`redact`].
pub fn redact_knowing(
    mut material: Material,
    mut names: Material,
    keep: &Keep,
) -> Result<Redacted, String> {
    let mut book = Book::new(*keep);
    walk::material(&mut material, &mut Fields(&mut book));
    walk::material(&mut material, &mut Texts(&mut book));
    walk::material(&mut names, &mut Fields(&mut book));
    if book.octets() > MOST_TO_LOOK_FOR {
        return Err(format!(
            "the names and serial numbers in it are longer than {} MiB altogether, so its texts \
             cannot be searched for them: make the report of fewer ports",
            MOST_TO_LOOK_FOR / 1024 / 1024
        ));
    }
    let finder = Finder::new(&book)?;
    let mut replace = Replace { book: &book, finder: &finder, rows: 0 };
    walk::material(&mut material, &mut replace);
    let mut replaced = book.counts();
    replaced.insert(Kind::ByteRow, replace.rows);
    replaced.retain(|_, count| *count > 0);
    Ok(Redacted { material, replaced, kept: keep.kept() })
}

/// First walk: what the fields name.
struct Fields<'b>(&'b mut Book);

impl Visitor for Fields<'_> {
    fn string(&mut self, what: What, text: &str) -> Option<String> {
        match what {
            What::Serial => self.0.serial(text),
            What::Host => self.0.host(text),
            What::Interface => self.0.interface(text),
            What::Address => self.0.addresses_in(text, true),
            What::Version => self.0.version(text),
            What::Text | What::Identifier => {}
        }
        None
    }

    fn memory(&mut self, module: &mut ModuleFacts) {
        memory::collect(module, self.0);
    }
}

/// Second walk: what is known by its form, in texts.
struct Texts<'b>(&'b mut Book);

impl Visitor for Texts<'_> {
    fn string(&mut self, what: What, text: &str) -> Option<String> {
        self.0.addresses_in(text, matches!(what, What::Text | What::Interface | What::Host));
        if what == What::Text {
            self.0.serials_in(text);
        }
        None
    }

    fn memory(&mut self, _: &mut ModuleFacts) {}
}

/// Third walk.
struct Replace<'b> {
    book: &'b Book,
    finder: &'b Finder,
    rows: usize,
}

impl Visitor for Replace<'_> {
    fn string(&mut self, what: What, text: &str) -> Option<String> {
        let token = match what {
            What::Serial => Some(Token::Serial(text.to_owned())),
            What::Host => Some(Token::Host(text.to_owned())),
            What::Interface => Some(Token::Interface(text.to_owned())),
            What::Address | What::Text | What::Version | What::Identifier => None,
        };
        if let Some(stand_in) = token.and_then(|token| self.book.stand_in(&token, true)) {
            return Some(stand_in);
        }
        let how = match what {
            What::Version => How::Version,
            What::Identifier => How::Identifier,
            _ => How::Text,
        };
        self.finder.scrub(self.book, text, how, &mut self.rows)
    }

    fn memory(&mut self, module: &mut ModuleFacts) {
        memory::replace(module, self.book, self.finder);
    }
}
