//! What the link carries at most, what it carries now, and what a rate that somebody measured fits.

use serde::Serialize;

use crate::calc::goodput::{self, Explanation, Measured, Stack};
use crate::chain::PartKind;
use crate::diagnose::view::View;
use crate::quantity::{BitsPerSecond, Mbps, Octets, PerSecond, Seconds};
use crate::snapshot::{Counters, Duplex, Fact};

/// What the link carries. Rates are of one direction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Throughput {
    /// The speed it runs at.
    pub speed_mbps: Mbps,
    /// The MTU that is reckoned with.
    pub mtu_octets: Octets,
    /// True where the MTU is not known, and the usual one is taken.
    pub mtu_assumed: bool,
    /// Both directions share the speed.
    pub half_duplex: bool,
    /// The most data a second, TCP over IPv4 with timestamps; none for an MTU that cannot be.
    pub data_bits_per_second: Option<BitsPerSecond>,
    /// The same where each frame has a VLAN tag.
    pub data_in_a_vlan_bits_per_second: Option<BitsPerSecond>,
    /// What the slot carries, where that is known.
    pub slot_mbps: Option<Mbps>,
    /// The slot carries less than the data ceiling.
    pub slot_is_lowest: bool,
    /// Frames of 64 octets a second.
    pub smallest_frames_per_second: Option<PerSecond>,
    /// What arrives now, or why that is not known.
    pub received: Fact<Load>,
    /// What is sent now.
    pub sent: Fact<Load>,
    /// What a rate that the user measured fits.
    pub measured: Option<Fits>,
}

/// How busy the wire was in one direction, frames with their gaps and preambles.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Load {
    /// Over how long.
    pub watched_seconds: Seconds,
    /// On the wire.
    pub wire_bits_per_second: BitsPerSecond,
    /// As a share of the speed: above 1, the counters count something else, or time or speed is off.
    pub share: f64,
}

/// A rate that the user measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fits {
    /// The rate.
    pub bits_per_second: BitsPerSecond,
    /// What it fits, one or more; none for a rate or MTU that cannot be.
    pub fits: Vec<Fit>,
}

/// One thing that it fits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fit {
    /// Which.
    pub kind: &'static str,
    /// In words.
    pub text: String,
}

/// Looks at speed, MTU, slot and counters.
pub fn look(view: &View<'_>, running: Mbps, measured: Option<BitsPerSecond>) -> Throughput {
    let mtu = view.port.mtu_octets.known().copied().map(Octets);
    let stack = Stack { mtu: mtu.unwrap_or(Stack::USUAL.mtu), ..Stack::USUAL };
    let half_duplex = view.port.ethernet.duplex == Fact::Known(Duplex::Half);
    let data = stack.goodput(running);
    let slot = view.chain.ceiling(PartKind::Slot).map(|ceiling| ceiling.speed);
    Throughput {
        speed_mbps: running,
        mtu_octets: stack.mtu,
        mtu_assumed: mtu.is_none(),
        half_duplex,
        data_bits_per_second: data,
        data_in_a_vlan_bits_per_second: Stack { vlan_tags: 1, ..stack }.goodput(running),
        slot_mbps: slot,
        slot_is_lowest: slot.zip(data).is_some_and(|(slot, data)| slot.bits_per_second() < data),
        smallest_frames_per_second: goodput::frames(running, Octets(64)),
        received: load(view, running, |c| &c.received_octets, |c| &c.received_frames),
        sent: load(view, running, |c| &c.sent_octets, |c| &c.sent_frames),
        measured: measured.map(|rate| {
            let found = Measured { rate, running, half_duplex, stack, slot };
            let found = goodput::explain(&found).unwrap_or_default();
            let mut fits: Vec<Fit> = found.iter().map(fit).collect();
            if let Some(usual) = usual_packets(rate, running, &stack) {
                fits.retain(|fit| fit.kind != "below");
                fits.insert(0, usual);
            }
            Fits { bits_per_second: rate, fits }
        }),
    }
}

type Pick = fn(&Counters) -> &Fact<u64>;

fn load(view: &View<'_>, running: Mbps, octets: Pick, frames: Pick) -> Fact<Load> {
    view.counter(octets).and_then(|octets| {
        view.counter(frames).and_then(|frames| {
            let time = Seconds(octets.seconds);
            match goodput::counted(octets.by, frames.by, time) {
                Some(counted) => Fact::Known(Load {
                    watched_seconds: time,
                    wire_bits_per_second: counted.wire,
                    share: counted.wire.0 / running.bits_per_second().0,
                }),
                None => Fact::missing(crate::snapshot::Reason::Malformed),
            }
        })
    })
}

/// Where the port takes larger packets, the rate may be what those of the usual size leave.
fn usual_packets(rate: BitsPerSecond, running: Mbps, stack: &Stack) -> Option<Fit> {
    if stack.mtu <= Stack::USUAL.mtu {
        return None;
    }
    let measured = Measured { rate, running, half_duplex: false, stack: Stack::USUAL, slot: None };
    goodput::explain(&measured)?.iter().find_map(|one| match one {
        Explanation::Full { ceiling } => Some(Fit {
            kind: "usual-packets",
            text: format!(
                "This fits packets of {}, which leave {ceiling} for data at this speed: larger ones \
                 are not used on the whole way.",
                Stack::USUAL.mtu
            ),
        }),
        _ => None,
    })
}

fn fit(one: &Explanation) -> Fit {
    let kind = match one {
        Explanation::Full { .. } => "full",
        Explanation::SlowerHop { .. } => "slower-hop",
        Explanation::Slot { .. } => "slot",
        Explanation::AboveCeiling { .. } => "above-ceiling",
        Explanation::AboveSpeed { .. } => "above-speed",
        Explanation::Below { .. } => "below",
    };
    Fit { kind, text: one.sentence() }
}
