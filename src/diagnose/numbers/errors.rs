//! What damaged frames say of the bit-error ratio.
//!
//! Check sequences cover the bits of frames alone: an idle link, however bad, damages none. So the
//! bits are those of frames, and a short look at little traffic bounds the ratio badly; what it
//! bounds it to is told, and how much longer it takes.

use serde::Serialize;

use crate::calc::bit_error_bound::{
    self as bound, Confidence, bits_still_needed, expected_damaged_frames, time_at,
};
use crate::diagnose::symptoms;
use crate::diagnose::view::View;
use crate::quantity::{BitErrorRatio, Bits, BitsPerSecond, Mbps, Octets, PerSecond, Seconds};
use crate::snapshot::{Fact, Missing};

/// What was received in the watched time, and what follows. Each bound holds by itself at
/// `confidence`; a damaged frame is taken for one wrong bit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Errors {
    /// How long it was watched.
    pub watched_seconds: Seconds,
    /// Frames received whole meanwhile, where that is counted.
    pub received_frames: Option<u64>,
    /// Their bits, check sequences included.
    pub received_bits: Bits,
    /// Frames with a wrong check sequence meanwhile.
    pub damaged_frames: u64,
    /// Such frames before that, since the counter began: over an unknown time.
    pub damaged_before: u64,
    /// Who counts them.
    pub counted_by: String,
    /// Damaged frames over bits; none where nothing was received.
    pub ratio: Option<BitErrorRatio>,
    /// The ratio is below this.
    pub ratio_below: Option<BitErrorRatio>,
    /// The ratio is above this; none where no frame was damaged.
    pub ratio_above: Option<BitErrorRatio>,
    /// How sure each of the two bounds is, as a share.
    pub confidence: f64,
    /// The ratio that the interface type is specified for.
    pub specified_ratio: BitErrorRatio,
    /// Further time without damage until that ratio is shown, at the traffic of the watched time; 0
    /// where it is shown already.
    pub more_seconds_at_this_traffic: Option<Seconds>,
    /// The same at the full speed: at best, since gaps between frames are no bits of theirs.
    pub more_seconds_at_full_speed: Option<Seconds>,
    /// Damaged frames that the specified ratio makes an hour, at the traffic of the watched time.
    pub expected_damaged_an_hour: Option<f64>,
}

/// Looks at the counters.
pub fn look(view: &View<'_>, running: Mbps) -> Fact<Errors> {
    let damaged = view.damaged_frames();
    let change = match damaged.change {
        Fact::Known(change) => change,
        Fact::Missing(why) => return lacking("frames with a wrong check sequence", &why),
    };
    let octets = match view.counter(|counters| &counters.received_octets) {
        Fact::Known(octets) => octets,
        Fact::Missing(why) => return lacking("octets received", &why),
    };
    let frames = view.counter(|counters| &counters.received_frames).known().copied();
    let bits = view.received_bits().unwrap_or(Bits(0.0));
    let time = Seconds(octets.seconds);
    let specified = BitErrorRatio(symptoms::error_ratio(view).unwrap_or(1e-12));
    let found = bound::bounds(change.by, bits, Confidence::USUAL);
    let more = bits_still_needed(specified, change.by, bits, Confidence::USUAL);
    let hour = frames.filter(|frames| frames.by > 0).and_then(|frames| {
        // Frames and octets of one observation are far below 2^53.
        #[allow(clippy::cast_precision_loss)]
        let rate = PerSecond(frames.by as f64 / time.0);
        expected_damaged_frames(specified, mean(octets.by, frames.by), rate, Seconds(3600.0))
    });
    Fact::Known(Errors {
        watched_seconds: time,
        received_frames: frames.map(|frames| frames.by),
        received_bits: bits,
        damaged_frames: change.by,
        damaged_before: change.total.saturating_sub(change.by),
        counted_by: damaged.source,
        ratio: found.map(|found| found.point),
        ratio_below: found.map(|found| found.upper),
        ratio_above: found.and_then(|found| found.lower),
        confidence: Confidence::USUAL.share(),
        specified_ratio: specified,
        more_seconds_at_this_traffic: more
            .and_then(|more| time_at(more, BitsPerSecond(bits.0 / time.0))),
        more_seconds_at_full_speed: more.and_then(|more| time_at(more, running.bits_per_second())),
        expected_damaged_an_hour: hour,
    })
}

/// The mean frame, check sequence included. For one frame or more.
pub fn mean(octets: u64, frames: u64) -> Octets {
    let mean = octets.checked_div(frames).unwrap_or(0).saturating_add(4);
    Octets(u32::try_from(mean).unwrap_or(u32::MAX))
}

/// Which counter is not there, and why.
pub(super) fn lacking<T>(what: &str, why: &Missing) -> Fact<T> {
    let detail = why.detail().map(|detail| format!(": {detail}")).unwrap_or_default();
    Fact::missing_with(why.reason, format!("{what}{detail}"))
}
