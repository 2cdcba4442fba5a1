//! Questions about a link that have a yes, a no, or a reason why neither can be said.
//!
//! Each named observation is written once and used by any number of faults, so that a fact has
//! one reading, one limit and one source everywhere. `fact` names what it rests on: a fault may
//! not use two observations of the same fact, else one fact would count twice.

use crate::diagnose::view::View;
use crate::module::Word;
use crate::snapshot::{Fact, Missing};

/// What was seen, in words that can be checked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    /// The finding, as a clause ("no light arrives").
    pub text: String,
    /// The value.
    pub observed: String,
    /// What it was held against, if it has a limit.
    pub limit: Option<String>,
    /// Where the limit, or else the value, comes from.
    pub source: String,
    /// The parts of the module's word that it stands on.
    pub rests_on: Vec<Word>,
}

impl Seen {
    /// A finding without a limit.
    pub fn new(
        text: impl Into<String>,
        observed: impl Into<String>,
        source: impl Into<String>,
    ) -> Self {
        Self {
            text: text.into(),
            observed: observed.into(),
            limit: None,
            source: source.into(),
            rests_on: Vec::new(),
        }
    }

    /// The same, if these parts of the module's word are true.
    #[must_use]
    pub fn resting_on(mut self, words: &[Word]) -> Self {
        self.rests_on.extend_from_slice(words);
        self
    }

    /// The same, held against a limit.
    #[must_use]
    pub fn against(mut self, limit: impl Into<String>) -> Self {
        self.limit = Some(limit.into());
        self
    }
}

/// What looking gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// It is so.
    Yes(Seen),
    /// It is not so.
    No(Seen),
    /// It cannot be told, and why.
    Unknown(Missing),
    /// The question does not arise on this port: counts neither way.
    Moot,
}

impl Answer {
    /// The same, with a yes that does not fit turned into nothing.
    pub fn filtered(self, fits: impl FnOnce(&Seen) -> bool) -> Self {
        match self {
            Self::Yes(seen) if !fits(&seen) => Self::Moot,
            other => other,
        }
    }

    /// Yes or no by a fact, with words for each.
    pub fn by(fact: Fact<bool>, yes: impl FnOnce() -> Seen, no: impl FnOnce() -> Seen) -> Self {
        match fact {
            Fact::Known(true) => Self::Yes(yes()),
            Fact::Known(false) => Self::No(no()),
            Fact::Missing(missing) => Self::Unknown(missing),
        }
    }
}

/// A named question.
#[derive(Debug)]
pub struct Observation {
    /// Name, kebab-case; unique.
    pub name: &'static str,
    /// The statement that a yes confirms, for the fault's page.
    pub statement: &'static str,
    /// The fact it rests on, in plain English.
    pub fact: &'static str,
    /// How to get that fact when it is missing.
    pub how: &'static str,
    /// Looks.
    pub look: fn(&View<'_>) -> Answer,
}

/// How to get facts of the module's memory.
pub const HOW_MODULE: &str = "run as root (or with the CAP_NET_ADMIN capability), which may read \
    the module's memory";
/// Where reading was permitted and failed.
pub const HOW_AGAIN: &str = "reading was permitted and failed: read it again, and see whether the \
    adapter and its other ports answer";
/// Where a reading does not part very weak light from none.
pub const HOW_FAINT: &str = "this reading cannot settle it: ask what the far end sends and receives \
    (--far FILE)";
/// How to get facts that the kernel gives to anybody.
pub const HOW_HOST: &str = "look at the live host, or take a fresh capture there";
/// Where this host cannot tell.
pub const HOW_ELSEWHERE: &str = "this host's driver does not tell it; look at the far end, or say what you know in the site file";
/// What was seen is known, what it means is not.
pub const HOW_ASK: &str = "watch it for longer (--seconds 60), and compare with the far end";
/// How to get a rate.
pub const HOW_RATE: &str = "observe for longer: --seconds 10";
/// How to get the medium.
pub const HOW_MEDIUM: &str = "write the medium and length of this link in the site file";
/// How to get the kernel log.
pub const HOW_LOG: &str = "run as root (or with the CAP_SYSLOG capability), which may read the \
    kernel log";
