//! What FEC counters say of the raw bit-error ratio: how far the link is from what its code mends.

use serde::Serialize;

use super::errors::{lacking, mean};
use crate::calc::bit_error_bound::{Confidence, bounds};
use crate::calc::fec::{self, BASE_R, Code, RS528, RS544, Standing};
use crate::calc::rates::{self, Change};
use crate::chain::settings;
use crate::diagnose::view::View;
use crate::module::Carries;
use crate::quantity::{
    BitErrorRatio, Bits, BitsPerSecond, CodewordErrorRatio, FrameErrorRatio, Mbps, Octets, Seconds,
};
use crate::snapshot::{Connector, Fact, FecCounters, LaneCounts, Missing, Reason};
use crate::standards::media::{self, Modulation};

/// What a raw ratio was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum From {
    /// Corrected bits.
    Bits,
    /// Corrected codewords, each taken for one wrong bit: bursts make the ratio larger.
    Codewords,
}

/// What was corrected in the watched time, and what follows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Correction {
    /// The code at work.
    pub code: &'static str,
    /// How long it was watched.
    pub watched_seconds: Seconds,
    /// Bits on the line meanwhile, traffic or not.
    pub line_bits: Bits,
    /// What was corrected.
    pub counted: From,
    /// How many of them.
    pub corrected: u64,
    /// The same by lane, lane 1 first; empty where the driver does not split it.
    pub corrected_by_lane: Vec<u64>,
    /// The raw ratio, before correction; none where nothing was corrected, or every codeword was.
    pub raw_ratio: Option<BitErrorRatio>,
    /// Where nothing was corrected: the raw ratio is below this, at 95 %.
    pub raw_ratio_below: Option<BitErrorRatio>,
    /// The raw ratio that the code is designed for on this medium, where that is published.
    pub limit_ratio: Option<BitErrorRatio>,
    /// The limit as a citation.
    pub limit: Option<String>,
    /// How many times below the limit the raw ratio, or its upper bound, is.
    pub times_below_limit: Option<f64>,
    /// Where it stands.
    pub standing: Option<&'static str>,
    /// Mean time between lost codewords that independent errors at the raw ratio make. Real ones
    /// come in bursts and lose more: the longest time to be expected.
    pub seconds_between_lost_at_most: Option<Seconds>,
    /// Codewords that could not be corrected meanwhile.
    pub uncorrectable: Option<u64>,
    /// Share of the received frames that went with them.
    pub frame_loss_ratio: Option<FrameErrorRatio>,
}

/// Looks at the counters.
pub fn look(view: &View<'_>, running: Mbps) -> Fact<Correction> {
    let code = match code(view, running) {
        Ok(code) => code,
        Err(why) => return Fact::Missing(why),
    };
    let Some(line) = fec::line_rate(running, Some(code)) else {
        return Fact::missing_with(
            Reason::NotApplicable,
            "the line rate of this speed is not told",
        );
    };
    // A driver's own counter does not tell what it counts, bits, symbols or codewords.
    let bits = view.fec_counter(|counters| &counters.corrected_bits);
    let words = view.fec_counter(|counters| &counters.corrected_blocks);
    let (counted, change, by_lane) = match (bits, words) {
        (Fact::Known(bits), _) => (From::Bits, bits, lanes(view, |all| &all.corrected_bits)),
        (_, Fact::Known(words)) => {
            (From::Codewords, words, lanes(view, |all| &all.corrected_blocks))
        }
        (_, Fact::Missing(why)) => {
            return lacking(&format!("{} FEC is at work; corrected codewords", code.name), &why);
        }
    };
    let limit = copper(view).and_then(|copper| fec::limit(Some(code), copper));
    let all = Bits(line.0 * change.seconds);
    let words = all.0 / f64::from(code.block_bits);
    let raw = match (change.by, counted) {
        (0, _) => None,
        (by, From::Bits) => fec::ratio_of_bits(by, all),
        (by, From::Codewords) => code.ratio_of_codewords(by, words),
    };
    let below = match change.by {
        0 => bounds(0, all, Confidence::USUAL).map(|bounds| bounds.upper),
        _ => None,
    };
    let held = limit.zip(raw.or(below));
    let lost = view.uncorrectable_words().change.known().copied();
    Fact::Known(Correction {
        code: code.name,
        watched_seconds: Seconds(change.seconds),
        line_bits: all,
        counted,
        corrected: change.by,
        corrected_by_lane: by_lane,
        raw_ratio: raw,
        raw_ratio_below: below,
        limit_ratio: limit.map(|limit| limit.ratio),
        limit: limit.map(fec::Limit::cite),
        times_below_limit: held.and_then(|(limit, ratio)| limit.margin(ratio)),
        standing: held.and_then(|(limit, ratio)| limit.judge(ratio)).map(
            |standing| match standing {
                Standing::WellBelow => "well below the limit",
                Standing::NearLimit => "near the limit",
                Standing::Above => "above the limit",
            },
        ),
        seconds_between_lost_at_most: raw
            .and_then(|raw| code.between_lost(code.uncorrectable(raw)?, line)),
        uncorrectable: lost.map(|lost| lost.by),
        frame_loss_ratio: lost
            .filter(|lost| lost.by > 0)
            .and_then(|lost| frames_lost(view, code, line, lost)),
    })
}

/// The share of frames, of the mean size of those received, that lost codewords cost.
fn frames_lost(
    view: &View<'_>,
    code: &Code,
    line: BitsPerSecond,
    lost: Change,
) -> Option<FrameErrorRatio> {
    let all = code.codewords(line)?.0 * lost.seconds;
    // Above 2^53 the last figures go, which no ratio shows.
    #[allow(clippy::cast_precision_loss)]
    let ratio = CodewordErrorRatio((lost.by as f64 / all).min(1.0));
    let octets = view.counter(|counters| &counters.received_octets).known()?.by;
    let frames = view.counter(|counters| &counters.received_frames).known()?.by;
    let frame = if frames == 0 { Octets(64) } else { mean(octets, frames) };
    code.frame_loss(ratio, frame)
}

/// Growth by lane; empty where it is not split, or the lanes of the two instants differ.
fn lanes(view: &View<'_>, pick: fn(&FecCounters) -> &Fact<LaneCounts>) -> Vec<u64> {
    let instants = &view.port.instants;
    let count = instants.last().and_then(|last| {
        last.fec_counters.known().and_then(|all| pick(all).known()).map(|counts| counts.lanes.len())
    });
    let grown = (0..count.unwrap_or(0)).map(|lane| {
        let grown = rates::change(instants, |instant| {
            instant.fec_counters.as_ref().and_then(|all| {
                pick(all).as_ref().and_then(|counts| match counts.lanes.get(lane) {
                    Some(count) => Fact::Known(*count),
                    None => Fact::missing(Reason::NotReported),
                })
            })
        });
        grown.known().map(|grown| grown.by)
    });
    grown.collect::<Option<Vec<u64>>>().unwrap_or_default()
}

/// The code at work. "RS" is two codes: by the levels of the interface type that runs, else by speed
/// and lanes, where that tells (section 4 of the media notes).
fn code(view: &View<'_>, running: Mbps) -> Result<&'static Code, Missing> {
    let active = match &view.port.ethernet.fec_active {
        Fact::Known(active) => active.as_str(),
        Fact::Missing(why) if running < Mbps(25_000) => {
            return Err(Missing::with(Reason::NotApplicable, why.reason.text()));
        }
        Fact::Missing(why) => return lacking("FEC code at work", why).result(),
    };
    match active {
        "base-r" => Ok(&BASE_R),
        "rs" => reed_solomon(view, running).ok_or_else(|| {
            let text = "which RS code is at work: neither interface type nor lanes tell";
            Missing::with(Reason::NotReported, text)
        }),
        "none" => Err(Missing::with(Reason::NotApplicable, "no FEC is at work")),
        other => {
            let code = crate::standards::names::fec_code(other);
            Err(Missing::with(
                Reason::NotReported,
                format!("{code}: its figures are not known here"),
            ))
        }
    }
}

fn reed_solomon(view: &View<'_>, running: Mbps) -> Option<&'static Code> {
    let types = view.module.known().map(|module| module.interface_types.as_slice());
    let mut levels: Vec<Modulation> = types
        .unwrap_or_default()
        .iter()
        .flat_map(|claimed| media::rows_of(&claimed.name))
        .filter(|row| row.speed == running)
        .map(|row| row.modulation)
        .collect();
    levels.dedup();
    match (levels.as_slice(), running, settings::lanes(view.port).known()) {
        ([Modulation::Nrz], ..) => Some(&RS528),
        ([Modulation::Pam4], ..) => Some(&RS544),
        ([], Mbps(25_000), _) => Some(&RS528),
        ([], Mbps(50_000), Some(2)) | ([], Mbps(100_000), Some(4)) => Some(&RS528),
        ([], Mbps(50_000), Some(1)) | ([], Mbps(100_000), Some(1 | 2)) => Some(&RS544),
        ([], Mbps(200_000..), _) => Some(&RS544),
        _ => None,
    }
}

/// Direct-attach copper or optics; none where it cannot be told, as of an active cable.
fn copper(view: &View<'_>) -> Option<bool> {
    match (view.module.known(), view.port.ethernet.connector.known()) {
        (Some(module), _) if module.carries == Carries::PassiveCopper => Some(true),
        (Some(module), _) if module.carries.is_optical() => Some(false),
        (None, Some(Connector::DirectAttach)) => Some(true),
        (None, Some(Connector::Fibre)) => Some(false),
        _ => None,
    }
}
