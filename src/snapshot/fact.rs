//! A fact, or the reason why it is not known.
//!
//! In: whatever `observe` or a capture file says. Out: a value, or a [`Missing`]; never a stand-in
//! such as zero or -1. In JSON a known fact is its bare value, an unknown one is
//! `{"missing": {"reason": "not-permitted", "detail": "..."}}`; a fact that is left out was not
//! asked. A value that does not fit its type is kept as *malformed*: it does not spoil the rest.

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Why a fact could not be had.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    Deserialize,
    JsonSchema,
    Default,
)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Nobody asked, or the capture does not hold it.
    #[default]
    NotAsked,
    /// The host refused: the run lacks a privilege.
    NotPermitted,
    /// The driver (or the kernel, for this kind of device) has no way to answer.
    NotSupported,
    /// The driver answered that it does not know at the moment.
    NotReported,
    /// The module itself says that it does not implement this.
    NotImplemented,
    /// The kernel is older than this question.
    OlderKernel,
    /// Fewer bytes came than the field needs.
    ShortPage,
    /// The module's two-wire bus failed.
    BusError,
    /// The device was busy, and still was when asked again.
    Busy,
    /// The interface or module disappeared while it was being read.
    Gone,
    /// No module in the cage.
    NotPresent,
    /// No answer within the time limit.
    TimedOut,
    /// The kernel's list changed while it was being read, each time it was tried.
    Interrupted,
    /// An answer came that makes no sense.
    Malformed,
    /// The question makes no sense for this kind of port.
    NotApplicable,
}

impl Reason {
    /// The reason in plain English, to follow "because".
    pub fn text(self) -> &'static str {
        match self {
            Self::NotAsked => "it was not asked, or is not in the capture",
            Self::NotPermitted => "this run was not permitted to read it",
            Self::NotSupported => "the driver does not offer it",
            Self::NotReported => "the driver says that it does not know",
            Self::NotImplemented => "the module does not implement it",
            Self::OlderKernel => "the kernel is too old to tell",
            Self::ShortPage => "the module memory read ends before it",
            Self::BusError => "the module's management bus failed",
            Self::Busy => "the device stayed busy",
            Self::Gone => "it disappeared while being read",
            Self::NotPresent => "no module is in the cage",
            Self::TimedOut => "no answer came in time",
            Self::Interrupted => "the list kept changing while being read",
            Self::Malformed => "the answer makes no sense",
            Self::NotApplicable => "it does not apply to this kind of port",
        }
    }
}

/// A fact that is not known: the reason, and what the host or module said about it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Default)]
#[serde(default)]
pub struct Missing {
    /// Why.
    pub reason: Reason,
    /// What was said, in the host's or module's own words. One pointer wide and shared: a host of
    /// a thousand ports has a hundred thousand facts; few have a detail, and many the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail: Option<Arc<Box<str>>>,
}

impl Missing {
    /// A reason with a detail.
    pub fn with(reason: Reason, detail: impl Into<String>) -> Self {
        Self { reason, detail: Some(Arc::new(detail.into().into_boxed_str())) }
    }

    /// What was said.
    pub fn detail(&self) -> Option<&str> {
        self.detail.as_ref().map(|detail| &***detail)
    }
}

impl From<Reason> for Missing {
    fn from(reason: Reason) -> Self {
        Self { reason, detail: None }
    }
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.reason, &self.detail) {
            (reason, None) => f.write_str(reason.text()),
            // The detail says who does not know it: it is not always the driver.
            (Reason::NotReported, Some(detail)) => f.write_str(detail),
            (reason, Some(detail)) => write!(f, "{} ({detail})", reason.text()),
        }
    }
}

/// A value that was read, or why it was not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fact<T> {
    /// Read.
    Known(T),
    /// Not read, and why.
    Missing(Missing),
}

impl<T> Default for Fact<T> {
    fn default() -> Self {
        Self::Missing(Missing::default())
    }
}

impl<T> Fact<T> {
    /// An unknown fact with a bare reason.
    pub fn missing(reason: Reason) -> Self {
        Self::Missing(reason.into())
    }

    /// An unknown fact with a reason and the words that came with it.
    pub fn missing_with(reason: Reason, detail: impl Into<String>) -> Self {
        Self::Missing(Missing::with(reason, detail))
    }

    /// The value, if it is known.
    pub fn known(&self) -> Option<&T> {
        match self {
            Self::Known(value) => Some(value),
            Self::Missing(_) => None,
        }
    }

    /// The reason, if it is not known.
    pub fn why_missing(&self) -> Option<&Missing> {
        match self {
            Self::Known(_) => None,
            Self::Missing(missing) => Some(missing),
        }
    }

    /// True if nobody asked for it (such a fact is left out of a capture).
    pub fn is_not_asked(&self) -> bool {
        matches!(self, Self::Missing(Missing { reason: Reason::NotAsked, detail: None }))
    }

    /// A view of the value, keeping the reason.
    pub fn as_ref(&self) -> Fact<&T> {
        match self {
            Self::Known(value) => Fact::Known(value),
            Self::Missing(missing) => Fact::Missing(missing.clone()),
        }
    }

    /// Changes a known value, keeping the reason of an unknown one.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Fact<U> {
        match self {
            Self::Known(value) => Fact::Known(change(value)),
            Self::Missing(missing) => Fact::Missing(missing),
        }
    }

    /// Goes on to a second fact that depends on the first.
    pub fn and_then<U>(self, next: impl FnOnce(T) -> Fact<U>) -> Fact<U> {
        match self {
            Self::Known(value) => next(value),
            Self::Missing(missing) => Fact::Missing(missing),
        }
    }

    /// The value as a result, so that `?` can be used inside fact-returning helpers.
    ///
    /// # Errors
    /// The reason why the fact is not known.
    pub fn result(self) -> Result<T, Missing> {
        match self {
            Self::Known(value) => Ok(value),
            Self::Missing(missing) => Err(missing),
        }
    }

    /// This fact, or another one where this is not known.
    pub fn or_else(self, other: impl FnOnce() -> Self) -> Self {
        match self {
            Self::Known(_) => self,
            Self::Missing(_) => other(),
        }
    }
}

impl<T: Copy> Fact<&T> {
    /// The value itself instead of a reference.
    pub fn copied(self) -> Fact<T> {
        self.map(|value| *value)
    }
}

impl<T> From<Result<T, Missing>> for Fact<T> {
    fn from(result: Result<T, Missing>) -> Self {
        match result {
            Ok(value) => Self::Known(value),
            Err(missing) => Self::Missing(missing),
        }
    }
}

#[derive(Serialize, Deserialize)]
struct MissingInJson<M> {
    missing: M,
}

impl<T: Serialize> Serialize for Fact<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Known(value) => value.serialize(serializer),
            Self::Missing(missing) => MissingInJson { missing }.serialize(serializer),
        }
    }
}

impl<'de, T: DeserializeOwned> Deserialize<'de> for Fact<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        // Through a JSON value, so that one value that does not fit stays a gap of its own.
        let value = serde_json::Value::deserialize(deserializer)?;
        if value.is_null() {
            return Ok(Self::default());
        }
        if let Some(object) = value.as_object()
            && object.len() == 1
            && let Some(missing) = object.get("missing")
        {
            return Ok(Self::Missing(Missing::deserialize(missing).unwrap_or_else(|_| {
                Missing::with(Reason::Malformed, "the capture gives a reason that is not known")
            })));
        }
        Ok(match serde_json::from_value(value) {
            Ok(value) => Self::Known(value),
            Err(error) => Self::missing_with(Reason::Malformed, format!("in the capture: {error}")),
        })
    }
}

impl<T: JsonSchema> JsonSchema for Fact<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("Fact_{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let value = generator.subschema_for::<T>();
        let missing = generator.subschema_for::<Missing>();
        json_schema!({
            "anyOf": [
                value,
                {
                    "type": "object",
                    "properties": { "missing": missing },
                    "required": ["missing"],
                    "additionalProperties": false
                },
                { "type": "null" }
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_forms() {
        let known: Fact<u32> = serde_json::from_str("7").unwrap();
        assert_eq!(known, Fact::Known(7));
        let text = r#"{"missing":{"reason":"not-permitted","detail":"EPERM"}}"#;
        let missing: Fact<u32> = serde_json::from_str(text).unwrap();
        assert_eq!(missing, Fact::missing_with(Reason::NotPermitted, "EPERM"));
        assert_eq!(serde_json::to_string(&missing).unwrap(), text);
        let null: Fact<u32> = serde_json::from_str("null").unwrap();
        assert!(null.is_not_asked());
    }

    #[test]
    fn a_value_that_does_not_fit_is_a_gap_not_an_error() {
        let odd: Fact<u32> = serde_json::from_str("-1").unwrap();
        assert_eq!(odd.why_missing().unwrap().reason, Reason::Malformed);
        let odd: Fact<u32> = serde_json::from_str(r#"{"missing":{"reason":"laziness"}}"#).unwrap();
        assert_eq!(odd.why_missing().unwrap().reason, Reason::Malformed);
    }
}
