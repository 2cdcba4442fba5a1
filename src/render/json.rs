//! The diagnosis as JSON: the contract that other programs hold on to (`tests/contract.rs`).
//!
//! Written in ASCII, so that no string of a module or kernel can act on a terminal.

use std::io;

use serde::Serialize;
use serde_json::ser::{CharEscape, Formatter, PrettyFormatter, Serializer};
use serde_json::{Value, json};

use crate::chain::{Part, PartKind};
use crate::diagnose::{Cause, Diagnosis, MissingFact, PortDiagnosis, Weighed};
use crate::module::Doubt;
use crate::render::over_time;
use crate::snapshot::{Missing, Port, Snapshot};

/// Name and version in `tool`.
pub const TOOL: &str = concat!("linkwright ", env!("CARGO_PKG_VERSION"));
/// Version of the JSON contract in `format`.
pub const FORMAT: &str = "linkwright-diagnosis 1";

/// The whole document for one host.
pub fn document(diagnosis: &Diagnosis<'_>) -> Value {
    json!({
        "tool": TOOL,
        "format": FORMAT,
        "host": diagnosis.snapshot.host.name,
        "taken_at": diagnosis.snapshot.taken_at.known(),
        "ports": diagnosis
            .snapshot
            .ports
            .iter()
            .zip(&diagnosis.ports)
            .map(|(seen, found)| port(seen, found))
            .collect::<Vec<_>>(),
        "gaps": diagnosis.snapshot.gaps,
    })
}

/// The line that ends a host's lines, where each port is a line: what is of the host as a whole.
/// `type` tells it from the lines of ports, which have none.
pub fn host_line(snapshot: &Snapshot) -> Value {
    json!({
        "type": "host",
        "tool": TOOL,
        "format": FORMAT,
        "host": snapshot.host.name,
        "taken_at": snapshot.taken_at.known(),
        "gaps": snapshot.gaps,
    })
}

/// What was seen of the port, as it was seen: a known fact is bare, a missing one says why. The
/// speed and duplex that a software interface claims are not repeated.
fn observed(seen: &Port, found: &PortDiagnosis) -> Value {
    let last = seen.instants.last();
    let mut observed = json!({
        "admin_up": seen.admin_up,
        "operational_state": seen.operational_state,
        "carrier": seen.carrier,
        "carrier_up_count": last.map(|instant| &instant.carrier_up_count),
        "carrier_down_count": last.map(|instant| &instant.carrier_down_count),
        "mtu_octets": seen.mtu_octets,
        "counters": last.map(|instant| &instant.counters),
    });
    if let Some(object) = observed.as_object_mut()
        && !found.is_virtual
    {
        object.insert("speed_mbps".into(), json!(seen.ethernet.speed_mbps));
        object.insert("duplex".into(), json!(seen.ethernet.duplex));
    }
    if let Some(object) = observed.as_object_mut()
        && !seen.neighbours.is_not_asked()
    {
        object.insert("neighbours".into(), json!(seen.neighbours));
        object.insert("listened_milliseconds".into(), json!(seen.listened_milliseconds));
    }
    observed
}

/// One port.
pub fn port(seen: &Port, found: &PortDiagnosis) -> Value {
    json!({
        "observed": observed(seen, found),
        "name": found.name,
        "verdict": found.verdict,
        "headline": found.headline,
        "running_mbps": found.running.known().map(|speed| speed.0),
        "expected_mbps": found.expected.map(|speed| speed.0),
        "limited_by": found.limited_by,
        "symptoms": found.symptoms,
        "chain": found.chain.parts.iter().map(|one| {
            let is = |kind: Option<PartKind>| kind == Some(one.kind);
            ChainPart::of(one, is(found.limited_by), is(found.look_at))
        }).collect::<Vec<_>>(),
        "far_capture": found.far_capture,
        "judged_by": found.judged_by,
        "doubts": found.module.known().map_or_else(Vec::new, |module| {
            module.doubts.iter().map(doubt).collect()
        }),
        "causes": found.causes.iter().map(cause).collect::<Vec<_>>(),
        "next_step": found.next_step.as_ref().map(|step| json!({
            "next_test": step.text,
            "next_test_tells": step.tells,
            "cautions": step.cautions,
        })),
        "ruled_out": found.ruled_out.iter().map(|out| json!({
            "fault": out.fault,
            "because": out.because.text,
            "observed": out.because.observed,
            "source": out.because.source,
        })).collect::<Vec<_>>(),
        "missing": found.missing.iter().map(missing_fact).collect::<Vec<_>>(),
        "paths": found.paths.iter().map(|path| json!({
            "way": path.way,
            "lane": path.lane,
            "sent_milliwatts": path.sent.0,
            "received_milliwatts": path.received.0,
            "loss_db": path.loss.map(|loss| loss.loss.0),
            "loss_least_db": path.loss.map(|loss| loss.least.0),
            "loss_most_db": path.loss.map(|loss| loss.most.0),
        })).collect::<Vec<_>>(),
        "readings_over_time": over_time::value(seen),
        "numbers": found.numbers,
        "told": found.heard.as_ref().map(|heard| json!({
            "symptom": heard.told,
            "seen": heard.seen,
            "related": heard.related,
            "ask": heard.ask.as_ref().map(missing_fact),
        })),
    })
}

/// A part of a chain with its ceiling.
#[derive(Debug, Serialize)]
pub struct ChainPart<'a> {
    ceiling_mbps: Option<u32>,
    look_here: bool,
    part: PartKind,
    read: &'a [String],
    sets_the_limit: bool,
    source: Option<&'a str>,
    unknown_because: Option<String>,
}

impl<'a> ChainPart<'a> {
    /// Of a part, and what it is to the link.
    pub fn of(part: &'a Part, sets_the_limit: bool, look_here: bool) -> Self {
        let known = part.ceiling.known();
        Self {
            ceiling_mbps: known.map(|ceiling| ceiling.speed.0),
            look_here,
            part: part.kind,
            read: &part.read,
            sets_the_limit,
            source: known.map(|ceiling| ceiling.source.as_str()),
            unknown_because: part.ceiling.why_missing().map(Missing::to_string),
        }
    }
}

fn cause(cause: &Cause) -> Value {
    let examined = &cause.examined;
    json!({
        "fault": examined.fault.name,
        "title": examined.title(),
        "part": examined.part(),
        "certainty": cause.certainty,
        "decibans": examined.weight,
        "meaning": examined.fault.meaning,
        "evidence": examined.evidence.iter().map(weighed).collect::<Vec<_>>(),
        "against": examined.against.iter().map(weighed).collect::<Vec<_>>(),
        "doubts": examined.doubts.iter().map(doubt).collect::<Vec<_>>(),
        "next_test": cause.step.text,
        "next_test_tells": cause.step.tells,
        "cautions": cause.step.cautions,
        "usual_fix": cause.remedy,
        "usual_fix_cautions": cause.remedy_cautions,
    })
}

pub(super) fn doubt(doubt: &Doubt) -> Value {
    json!({
        "kind": doubt.kind,
        "text": doubt.text,
        "source": doubt.source,
        "taints": doubt.kind.taints(),
    })
}

fn weighed(weighed: &Weighed) -> Value {
    json!({
        "text": weighed.seen.text,
        "observed": weighed.seen.observed,
        "limit": weighed.seen.limit,
        "source": weighed.seen.source,
        "decibans": weighed.weight,
    })
}

fn missing_fact(missing: &MissingFact) -> Value {
    json!({
        "fact": missing.fact,
        "reason": missing.why.reason,
        "detail": missing.why.detail,
        "remedy": missing.remedy,
    })
}

/// Pretty or compact JSON in ASCII.
pub fn to_string(value: &impl Serialize, pretty: bool) -> serde_json::Result<String> {
    let mut bytes = Vec::new();
    if pretty {
        let inner = PrettyFormatter::new();
        value.serialize(&mut Serializer::with_formatter(&mut bytes, Ascii(inner)))?;
    } else {
        let inner = serde_json::ser::CompactFormatter;
        value.serialize(&mut Serializer::with_formatter(&mut bytes, Ascii(inner)))?;
    }
    bytes.push(b'\n');
    // Only ASCII was written.
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Escapes whatever is not printable ASCII; leaves the layout to the inner formatter.
struct Ascii<F>(F);

impl<F: Formatter> Formatter for Ascii<F> {
    fn write_string_fragment<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        fragment: &str,
    ) -> io::Result<()> {
        if fragment.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
            return writer.write_all(fragment.as_bytes());
        }
        // Stretches of plain text, each with the one character behind it that is not.
        for stretch in fragment.split_inclusive(|character| !matches!(character, ' '..='~')) {
            let last = stretch.chars().next_back().filter(|last| !matches!(last, ' '..='~'));
            let plain = stretch.strip_suffix(|_| last.is_some()).unwrap_or(stretch);
            writer.write_all(plain.as_bytes())?;
            for unit in last.iter().flat_map(|last| last.encode_utf16(&mut [0; 2]).to_vec()) {
                write!(writer, "\\u{unit:04x}")?;
            }
        }
        Ok(())
    }

    fn write_char_escape<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        escape: CharEscape,
    ) -> io::Result<()> {
        self.0.write_char_escape(writer, escape)
    }

    fn begin_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_array(writer)
    }

    fn end_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.0.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object_value(writer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ascii_only_and_the_same_value() {
        let value = json!({"a": "°\u{202e}\u{1b}\u{9b}\u{1f600}\"\\", "b": [1.5, null]});
        for pretty in [true, false] {
            let text = to_string(&value, pretty).unwrap();
            assert!(text.bytes().all(|byte| byte == b'\n' || (b' '..=b'~').contains(&byte)));
            assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
        }
    }
}
