//! Replies of the kernel's Ethernet family into facts.
//!
//! In: the body of one reply, untrusted: generic header, then attributes numbered by
//! `linux/ethtool_netlink.h`. Out: the interface index and what could be made out.

use std::sync::LazyLock;

use crate::observe::live::attributes::{Attributes, as_u8, as_u32, as_u64};
use crate::observe::live::link::numbers;
use crate::observe::live::link_modes::{
    fec_name, fec_names, mode_names, state_name, substate_name,
};
use crate::snapshot::{
    Connector, Duplex, EnergySaving, Ethernet, ExtendedState, Fact, FecCounters, FlowControl,
    LaneCounts, Missing, PauseFrames, Reason, Rings, SignalQuality, Statistics,
};

// Attribute numbers of `linux/ethtool_netlink.h`, by the names they have there.
const HEADER: u16 = 1;
const HEADER_DEV_INDEX: u16 = 1;
const BITSET_SIZE: u16 = 2;
const BITSET_BITS: u16 = 3;
const BITSET_VALUE: u16 = 4;
const BITSET_MASK: u16 = 5;
const BITSET_BITS_BIT: u16 = 1;
const BITSET_BIT_INDEX: u16 = 1;
const BITSET_BIT_VALUE: u16 = 3;
const LINKINFO_PORT: u16 = 2;
const LINKMODES_AUTONEG: u16 = 2;
const LINKMODES_OURS: u16 = 3;
const LINKMODES_PEER: u16 = 4;
const LINKMODES_SPEED: u16 = 5;
const LINKMODES_DUPLEX: u16 = 6;
const LINKMODES_LANES: u16 = 9;
const LINKSTATE_LINK: u16 = 2;
const LINKSTATE_SQI: u16 = 3;
const LINKSTATE_SQI_MAX: u16 = 4;
const LINKSTATE_EXT_STATE: u16 = 5;
const LINKSTATE_EXT_SUBSTATE: u16 = 6;
const FEC_MODES: u16 = 2;
const FEC_AUTO: u16 = 3;
const FEC_ACTIVE: u16 = 4;
const FEC_STATS: u16 = 5;
const FEC_STAT_CORRECTED: u16 = 2;
const FEC_STAT_UNCORR: u16 = 3;
const FEC_STAT_CORR_BITS: u16 = 4;
const PAUSE_AUTONEG: u16 = 2;
const PAUSE_RX: u16 = 3;
const PAUSE_TX: u16 = 4;
const PAUSE_STATS: u16 = 5;
const PAUSE_STAT_TX_FRAMES: u16 = 2;
const PAUSE_STAT_RX_FRAMES: u16 = 3;
const RINGS_RX_MAX: u16 = 2;
const RINGS_TX_MAX: u16 = 5;
const RINGS_RX: u16 = 6;
const RINGS_TX: u16 = 9;
const EEE_ACTIVE: u16 = 4;
const EEE_ENABLED: u16 = 5;
const STATS_HEADER: u16 = 2;
const STATS_GRP: u16 = 4;
const STATS_GRP_ID: u16 = 2;
const STATS_GRP_STAT: u16 = 4;
const MODULE_EEPROM_DATA: u16 = 7;
// Of `linux/genetlink.h`.
const CTRL_ATTR_FAMILY_ID: u16 = 1;
const CTRL_ATTR_OPS: u16 = 6;
const CTRL_ATTR_OP_ID: u16 = 1;
/// `SPEED_UNKNOWN` (-1) of `linux/ethtool.h`.
const SPEED_UNKNOWN: u32 = u32::MAX;

/// A gap that most ports have: its words are kept once.
type Common = LazyLock<Missing>;
static NO_OFFER: Common =
    LazyLock::new(|| Missing::with(Reason::NotReported, "no offer of the far end was heard"));
static NO_MODES: Common =
    LazyLock::new(|| Missing::with(Reason::NotReported, "the driver lists no modes"));
static NO_REASON: Common =
    LazyLock::new(|| Missing::with(Reason::NotReported, "the driver gives no reason"));

/// The attributes of a reply behind its generic header.
fn attributes(body: &[u8]) -> Option<Attributes<'_>> {
    Some(Attributes(body.get(4..)?))
}

/// The interface a reply is about; `at` is the number of its header attribute.
fn index(all: Attributes<'_>, at: u16) -> Option<u32> {
    as_u32(Attributes(all.find(at)?).find(HEADER_DEV_INDEX)?)
}

/// Numbers of the bits that are set in a bitset attribute: value, or mask.
fn bits(value: &[u8], mask: bool) -> Vec<u32> {
    let all = Attributes(value);
    let compact = all.find(if mask { BITSET_MASK } else { BITSET_VALUE });
    if let Some(words) = compact {
        let size = all.find(BITSET_SIZE).and_then(as_u32).unwrap_or(u32::MAX);
        // 32 bits a word; no kernel has more than a few hundred modes.
        return words
            .chunks(4)
            .filter_map(as_u32)
            .zip((0..).step_by(32))
            .take(64)
            .filter(|(word, _)| *word != 0)
            .flat_map(|(word, first)| {
                (0..32).filter(move |bit| word & (1 << bit) != 0).map(move |bit| first + bit)
            })
            .filter(|bit| *bit < size)
            .collect();
    }
    // The longer form: a list of bits, each with its number; a value flag marks those set.
    let Some(list) = all.find(BITSET_BITS) else { return Vec::new() };
    Attributes(list)
        .filter(|(kind, _)| *kind == BITSET_BITS_BIT)
        .filter_map(|(_, bit)| {
            let bit = Attributes(bit);
            let set = mask || bit.find(BITSET_BIT_VALUE).is_some();
            bit.find(BITSET_BIT_INDEX).and_then(as_u32).filter(|_| set)
        })
        .collect()
}

/// Reads a link information reply: what the port is wired to.
pub fn link_info(body: &[u8]) -> Option<(u32, Fact<Connector>)> {
    let all = attributes(body)?;
    let connector = match all.find(LINKINFO_PORT).and_then(as_u8) {
        Some(0x00) => Fact::Known(Connector::TwistedPair),
        Some(0x03) => Fact::Known(Connector::Fibre),
        Some(0x05) => Fact::Known(Connector::DirectAttach),
        Some(0xef) => Fact::Known(Connector::None),
        Some(0x01 | 0x02 | 0x04) => Fact::Known(Connector::Other),
        Some(0xff) | None => Fact::missing(Reason::NotReported),
        Some(other) => Fact::missing_with(Reason::Malformed, format!("connector {other:#04x}")),
    };
    Some((index(all, HEADER)?, connector))
}

/// Reads a link modes reply: speed, duplex, negotiation, lanes, modes. The other facts of the
/// result are not in this reply.
pub fn link_modes(body: &[u8]) -> Option<(u32, Ethernet)> {
    let all = attributes(body)?;
    let autonegotiation = match all.find(LINKMODES_AUTONEG).and_then(as_u8) {
        Some(0) => Fact::Known(false),
        Some(1) => Fact::Known(true),
        _ => not_reported(),
    };
    let (supported_modes, advertised_modes, fec_supported, fec_advertised) =
        match all.find(LINKMODES_OURS) {
            Some(ours) => {
                let (supported, advertised) = (bits(ours, true), bits(ours, false));
                (
                    modes_if_any(&supported),
                    modes_if_any(&advertised),
                    Fact::Known(fec_names(&supported)),
                    Fact::Known(fec_names(&advertised)),
                )
            }
            None => (not_reported(), not_reported(), not_reported(), not_reported()),
        };
    // Absent is "no word from the other end", which is not an empty offer.
    let peer_modes = match all.find(LINKMODES_PEER) {
        Some(peer) => Fact::Known(mode_names(&bits(peer, false))),
        None => Fact::Missing(NO_OFFER.clone()),
    };
    let speed_mbps = match all.find(LINKMODES_SPEED).and_then(as_u32) {
        None | Some(SPEED_UNKNOWN) => not_reported(),
        Some(speed) => Fact::Known(speed),
    };
    let duplex = match all.find(LINKMODES_DUPLEX).and_then(as_u8) {
        Some(0) => Fact::Known(Duplex::Half),
        Some(1) => Fact::Known(Duplex::Full),
        _ => not_reported(),
    };
    let lanes = all.find(LINKMODES_LANES).and_then(as_u32).map_or_else(not_reported, Fact::Known);
    Some((
        index(all, HEADER)?,
        Ethernet {
            speed_mbps,
            duplex,
            autonegotiation,
            lanes,
            supported_modes,
            advertised_modes,
            peer_modes,
            fec_supported,
            fec_advertised,
            ..Ethernet::default()
        },
    ))
}

/// A port that lists no modes at all has none to tell.
fn modes_if_any(bits: &[u32]) -> Fact<Vec<String>> {
    let names = mode_names(bits);
    if names.is_empty() {
        return Fact::Missing(NO_MODES.clone());
    }
    Fact::Known(names)
}

/// The same facts where there is no reply.
pub fn without_modes(why: &Missing) -> Ethernet {
    Ethernet {
        speed_mbps: Fact::Missing(why.clone()),
        duplex: Fact::Missing(why.clone()),
        autonegotiation: Fact::Missing(why.clone()),
        lanes: Fact::Missing(why.clone()),
        supported_modes: Fact::Missing(why.clone()),
        advertised_modes: Fact::Missing(why.clone()),
        peer_modes: Fact::Missing(why.clone()),
        fec_supported: Fact::Missing(why.clone()),
        fec_advertised: Fact::Missing(why.clone()),
        ..Ethernet::default()
    }
}

/// What a link state reply tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// Link, as the driver detects it.
    pub detected: Fact<bool>,
    /// Why it is down.
    pub extended: Fact<ExtendedState>,
    /// Signal quality of a twisted-pair PHY.
    pub quality: Fact<SignalQuality>,
}

impl State {
    /// The same facts where there is no reply.
    pub fn missing(why: &Missing) -> Self {
        Self {
            detected: Fact::Missing(why.clone()),
            extended: Fact::Missing(why.clone()),
            quality: Fact::Missing(why.clone()),
        }
    }
}

/// Reads a link state reply.
pub fn link_state(body: &[u8]) -> Option<(u32, State)> {
    let all = attributes(body)?;
    let detected = all
        .find(LINKSTATE_LINK)
        .and_then(as_u8)
        .map_or_else(not_reported, |up| Fact::Known(up != 0));
    let extended = match all.find(LINKSTATE_EXT_STATE).and_then(as_u8) {
        None => Fact::Missing(NO_REASON.clone()),
        Some(number) => {
            let state = state_name(number);
            let substate = all
                .find(LINKSTATE_EXT_SUBSTATE)
                .and_then(as_u8)
                .map(|number| substate_name(&state, number));
            Fact::Known(ExtendedState { state, substate })
        }
    };
    let quality = match all.find(LINKSTATE_SQI).and_then(as_u32) {
        None => Fact::missing(Reason::NotReported),
        Some(index) => {
            Fact::Known(SignalQuality { index, best: all.find(LINKSTATE_SQI_MAX).and_then(as_u32) })
        }
    };
    Some((index(all, HEADER)?, State { detected, extended, quality }))
}

/// What a FEC reply tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fec {
    /// Codes that configuration allows.
    pub configured: Fact<Vec<String>>,
    /// Whether the port chooses.
    pub automatic: Fact<bool>,
    /// Code at work.
    pub active: Fact<String>,
    /// Counters.
    pub counters: Fact<FecCounters>,
}

impl Fec {
    /// The same facts where there is no reply.
    pub fn missing(why: &Missing) -> Self {
        Self {
            configured: Fact::Missing(why.clone()),
            automatic: Fact::Missing(why.clone()),
            active: Fact::Missing(why.clone()),
            counters: Fact::Missing(why.clone()),
        }
    }
}

/// Reads a FEC reply.
pub fn fec(body: &[u8]) -> Option<(u32, Fec)> {
    let all = attributes(body)?;
    let counters = all.find(FEC_STATS).map_or_else(
        || Fact::missing(Reason::NotSupported),
        |nest| {
            let nest = Attributes(nest);
            Fact::Known(FecCounters {
                corrected_blocks: lanes(nest.find(FEC_STAT_CORRECTED)),
                uncorrectable_blocks: lanes(nest.find(FEC_STAT_UNCORR)),
                corrected_bits: lanes(nest.find(FEC_STAT_CORR_BITS)),
            })
        },
    );
    let told = Fec {
        configured: all
            .find(FEC_MODES)
            .map_or_else(not_reported, |set| Fact::Known(fec_names(&bits(set, false)))),
        automatic: all
            .find(FEC_AUTO)
            .and_then(as_u8)
            .map_or_else(not_reported, |on| Fact::Known(on != 0)),
        active: all
            .find(FEC_ACTIVE)
            .and_then(as_u32)
            .map_or_else(not_reported, |bit| Fact::Known(fec_name(bit))),
        counters,
    };
    Some((index(all, HEADER)?, told))
}

/// What a flow control reply tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pause {
    /// How it is set.
    pub control: Fact<FlowControl>,
    /// Pause frames.
    pub frames: Fact<PauseFrames>,
}

impl Pause {
    /// The same facts where there is no reply.
    pub fn missing(why: &Missing) -> Self {
        Self { control: Fact::Missing(why.clone()), frames: Fact::Missing(why.clone()) }
    }
}

/// Reads a flow control reply.
pub fn pause(body: &[u8]) -> Option<(u32, Pause)> {
    let all = attributes(body)?;
    let flag = |number| all.find(number).and_then(as_u8).map(|on| on != 0);
    // Counters that the driver does not keep are left out of the nest, or it is empty.
    let frames = match all.find(PAUSE_STATS).map(Attributes) {
        Some(nest) if !nest.0.is_empty() => {
            let count = |number| {
                let value = nest.find(number).and_then(as_u64);
                value.map_or_else(|| Fact::missing(Reason::NotSupported), Fact::Known)
            };
            Fact::Known(PauseFrames {
                received: count(PAUSE_STAT_RX_FRAMES),
                sent: count(PAUSE_STAT_TX_FRAMES),
            })
        }
        _ => Fact::missing(Reason::NotSupported),
    };
    let control = FlowControl {
        negotiated: flag(PAUSE_AUTONEG),
        receive: flag(PAUSE_RX),
        transmit: flag(PAUSE_TX),
    };
    Some((index(all, HEADER)?, Pause { control: Fact::Known(control), frames }))
}

/// Reads a rings reply.
pub fn rings(body: &[u8]) -> Option<(u32, Rings)> {
    let all = attributes(body)?;
    let size = |number| all.find(number).and_then(as_u32);
    let told = Rings {
        receive: size(RINGS_RX),
        receive_most: size(RINGS_RX_MAX),
        transmit: size(RINGS_TX),
        transmit_most: size(RINGS_TX_MAX),
    };
    Some((index(all, HEADER)?, told))
}

/// Reads a reply about energy-efficient Ethernet.
pub fn energy_saving(body: &[u8]) -> Option<(u32, EnergySaving)> {
    let all = attributes(body)?;
    let flag = |number| all.find(number).and_then(as_u8).map(|on| on != 0);
    let told = EnergySaving { enabled: flag(EEE_ENABLED), active: flag(EEE_ACTIVE) };
    Some((index(all, HEADER)?, told))
}

fn not_reported<T>() -> Fact<T> {
    Fact::missing(Reason::NotReported)
}

/// Total first, then lanes. A counter that the driver does not keep comes as an empty value.
fn lanes(value: Option<&[u8]>) -> Fact<LaneCounts> {
    let mut numbers = value.map(numbers).unwrap_or_default().into_iter();
    match numbers.next() {
        None => Fact::missing(Reason::NotSupported),
        Some(total) => Fact::Known(LaneCounts { total, lanes: numbers.take(64).collect() }),
    }
}

/// Statistics by group and place: the names the standards give them (IEEE 802.3 clause 30
/// without the leading `a`; RFC 2819). The place is the kernel's attribute number.
#[rustfmt::skip]
pub const STATISTICS: [&[&str]; 4] = [
    &["SymbolErrorDuringCarrier"],
    &[
        "FramesTransmittedOK", "SingleCollisionFrames", "MultipleCollisionFrames",
        "FramesReceivedOK", "FrameCheckSequenceErrors", "AlignmentErrors", "OctetsTransmittedOK",
        "FramesWithDeferredXmissions", "LateCollisions", "FramesAbortedDueToXSColls",
        "FramesLostDueToIntMACXmitError", "CarrierSenseErrors", "OctetsReceivedOK",
        "FramesLostDueToIntMACRcvError", "MulticastFramesXmittedOK", "BroadcastFramesXmittedOK",
        "FramesWithExcessiveDeferral", "MulticastFramesReceivedOK", "BroadcastFramesReceivedOK",
        "InRangeLengthErrors", "OutOfRangeLengthField", "FrameTooLongErrors",
    ],
    &["MACControlFramesTransmitted", "MACControlFramesReceived", "UnsupportedOpcodesReceived"],
    &[
        "etherStatsUndersizePkts", "etherStatsOversizePkts", "etherStatsFragments",
        "etherStatsJabbers",
    ],
];

/// Reads a statistics reply. The header is attribute 2 in this message.
pub fn statistics(body: &[u8]) -> Option<(u32, Statistics)> {
    let all = attributes(body)?;
    let mut found = Statistics::default();
    for (kind, group) in all {
        if kind != STATS_GRP {
            continue;
        }
        let group = Attributes(group);
        let Some(id) = group.find(STATS_GRP_ID).and_then(as_u32) else { continue };
        let (map, names) = match id {
            0 => (&mut found.phy, STATISTICS[0]),
            1 => (&mut found.mac, STATISTICS[1]),
            2 => (&mut found.control, STATISTICS[2]),
            3 => (&mut found.rmon, STATISTICS[3]),
            _ => continue,
        };
        for (kind, nest) in group {
            if kind != STATS_GRP_STAT {
                continue;
            }
            for (place, value) in Attributes(nest) {
                let name = names.get(usize::from(place));
                if let (Some(name), Some(count)) = (name, numbers(value).first()) {
                    map.insert((*name).to_owned(), *count);
                }
            }
        }
    }
    Some((index(all, STATS_HEADER)?, found))
}

/// The family's number and the commands it has, from the controller's answer.
pub fn family(body: &[u8]) -> Option<(u16, Vec<u8>)> {
    let all = attributes(body)?;
    let number = all
        .find(CTRL_ATTR_FAMILY_ID)
        .and_then(|value| Some(u16::from_ne_bytes(value.get(..2)?.try_into().ok()?)))?;
    let commands = all.find(CTRL_ATTR_OPS).map_or_else(Vec::new, |operations| {
        Attributes(operations)
            .filter_map(|(_, operation)| as_u32(Attributes(operation).find(CTRL_ATTR_OP_ID)?))
            .filter_map(|id| u8::try_from(id).ok())
            .collect()
    });
    Some((number, commands))
}

/// The bytes of a module memory reply.
pub fn module_bytes(body: &[u8]) -> Option<Vec<u8>> {
    Some(attributes(body)?.find(MODULE_EEPROM_DATA)?.to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::attributes::push;
    use crate::observe::live::header_test::{enumerated, header};

    fn reply(header_at: u16, attributes: &[(u16, Vec<u8>)]) -> Vec<u8> {
        let mut body = vec![0u8; 4];
        push(&mut body, header_at, &nest(&[(1, 9u32.to_ne_bytes().to_vec())]));
        for (kind, value) in attributes {
            push(&mut body, *kind, value);
        }
        body
    }

    fn nest(attributes: &[(u16, Vec<u8>)]) -> Vec<u8> {
        let mut value = Vec::new();
        for (kind, inner) in attributes {
            push(&mut value, *kind, inner);
        }
        value
    }

    fn set(value: &[u32], mask: &[u32]) -> Vec<u8> {
        let words = |bits: &[u32]| {
            let mut words = [0u32; 4];
            for bit in bits {
                words[usize::try_from(bit / 32).unwrap()] |= 1 << (bit % 32);
            }
            words.iter().flat_map(|word| word.to_ne_bytes()).collect::<Vec<u8>>()
        };
        nest(&[(2, 121u32.to_ne_bytes().to_vec()), (4, words(value)), (5, words(mask))])
    }

    #[test]
    fn modes_speed_and_the_other_end() {
        let body = reply(
            1,
            &[
                (2, vec![1]),
                (3, set(&[5, 50], &[5, 12, 33, 50, 51])),
                (4, set(&[5], &[])),
                (5, 1000u32.to_ne_bytes().to_vec()),
                (6, vec![1]),
            ],
        );
        let (index, ethernet) = link_modes(&body).unwrap();
        assert_eq!(index, 9);
        let names = |names: &[&str]| Fact::Known(names.iter().map(|n| (*n).to_owned()).collect());
        assert_eq!(ethernet.supported_modes, names(&["1000BASE-T", "10GBASE-T", "25GBASE-SR"]));
        assert_eq!(ethernet.advertised_modes, names(&["1000BASE-T"]));
        assert_eq!(ethernet.peer_modes, names(&["1000BASE-T"]));
        assert_eq!(ethernet.fec_supported, names(&["rs", "base-r"]));
        assert_eq!(ethernet.speed_mbps, Fact::Known(1000));
        assert_eq!(ethernet.duplex, Fact::Known(Duplex::Full));
    }

    #[test]
    fn unknown_is_not_a_number() {
        let body = reply(1, &[(5, vec![0xff; 4]), (6, vec![0xff])]);
        let (_, ethernet) = link_modes(&body).unwrap();
        assert_eq!(ethernet.speed_mbps.why_missing().unwrap().reason, Reason::NotReported);
        assert_eq!(ethernet.duplex.why_missing().unwrap().reason, Reason::NotReported);
        assert_eq!(ethernet.peer_modes.why_missing().unwrap().reason, Reason::NotReported);
    }

    #[test]
    fn fec_counters_that_are_not_kept_are_missing() {
        let lanes: Vec<u8> = [30u64, 10, 20].iter().flat_map(|n| n.to_ne_bytes()).collect();
        let body = reply(
            1,
            &[
                (2, set(&[50], &[])),
                (4, 50u32.to_ne_bytes().to_vec()),
                (5, nest(&[(2, lanes), (3, vec![])])),
            ],
        );
        let (index, fec) = fec(&body).unwrap();
        assert_eq!(index, 9);
        assert_eq!(fec.active, Fact::Known("rs".into()));
        let counters = fec.counters.known().unwrap();
        let corrected = LaneCounts { total: 30, lanes: vec![10, 20] };
        assert_eq!(counters.corrected_blocks, Fact::Known(corrected));
        assert!(counters.uncorrectable_blocks.known().is_none());
    }

    #[test]
    fn states_and_statistics() {
        let (_, State { detected: up, extended, .. }) =
            link_state(&reply(1, &[(2, vec![0]), (5, vec![2]), (6, vec![5])])).unwrap();
        assert_eq!(up, Fact::Known(false));
        let extended = extended.known().unwrap().clone();
        assert_eq!(extended.state, "logical-mismatch");
        assert_eq!(extended.substate.as_deref(), Some("rs-fec-not-locked"));
        let group = nest(&[
            (2, 1u32.to_ne_bytes().to_vec()),
            (3, 18u32.to_ne_bytes().to_vec()), // the set of their names, not needed
            (4, nest(&[(4, 17u64.to_ne_bytes().to_vec())])),
        ]);
        let (index, found) = statistics(&reply(2, &[(4, group)])).unwrap();
        assert_eq!(index, 9);
        assert_eq!(found.mac.get("FrameCheckSequenceErrors"), Some(&17));
    }

    /// What the reply holds is told, what it leaves out is not zero.
    #[test]
    fn flow_control_rings_and_energy_saving() {
        let frames = nest(&[(2, 7u64.to_ne_bytes().to_vec()), (3, 40u64.to_ne_bytes().to_vec())]);
        let body = reply(1, &[(2, vec![0]), (3, vec![1]), (4, vec![0]), (5, frames)]);
        let (index, told) = pause(&body).unwrap();
        assert_eq!(index, 9);
        let control =
            FlowControl { negotiated: Some(false), receive: Some(true), transmit: Some(false) };
        assert_eq!(told.control, Fact::Known(control));
        let frames = PauseFrames { received: Fact::Known(40), sent: Fact::Known(7) };
        assert_eq!(told.frames, Fact::Known(frames));
        for without in [reply(1, &[(3, vec![1])]), reply(1, &[(3, vec![1]), (5, vec![])])] {
            let why = pause(&without).unwrap().1.frames.why_missing().unwrap().reason;
            assert_eq!(why, Reason::NotSupported, "counters that the driver does not keep");
        }
        let size = |number: u32| number.to_ne_bytes().to_vec();
        let body = reply(1, &[(2, size(4096)), (5, size(2048)), (6, size(512)), (9, size(256))]);
        let told = Rings {
            receive: Some(512),
            receive_most: Some(4096),
            transmit: Some(256),
            transmit_most: Some(2048),
        };
        assert_eq!(rings(&body), Some((9, told)));
        assert_eq!(rings(&reply(1, &[])), Some((9, Rings::default())));
        let told = EnergySaving { enabled: Some(true), active: Some(false) };
        let body = reply(1, &[(4, vec![0]), (5, vec![1])]);
        assert_eq!(energy_saving(&body), Some((9, told)));
    }

    /// Statistics in the kernel header's order; the comment above each names the IEEE attribute.
    #[test]
    fn statistics_are_in_the_headers_order() {
        let text = header("ethtool_netlink.h");
        for (name, number) in [
            ("ETHTOOL_A_STATS_ETH_MAC_6_FCS_ERR", 4),
            ("ETHTOOL_A_STATS_ETH_MAC_15_RX_INT_ERR", 13),
            ("ETHTOOL_A_STATS_ETH_MAC_25_TOO_LONG_ERR", 21),
            ("ETHTOOL_A_STATS_ETH_CTRL_5_RX_UNSUP", 2),
            ("ETHTOOL_A_STATS_RMON_JABBER", 3),
        ] {
            assert_eq!(enumerated(&text, name), number, "{name}");
        }
        let named: Vec<&str> = text
            .lines()
            .filter_map(|line| line.trim().strip_prefix("/* 30.3.1.1."))
            .filter_map(|rest| rest.split_whitespace().nth(1))
            .filter_map(|name| name.strip_prefix('a'))
            .collect();
        assert_eq!(named, STATISTICS[1]);
    }

    /// Every attribute number that is read from a reply, against the kernel's header.
    #[test]
    fn reply_attributes_are_the_headers() {
        let text = header("ethtool_netlink.h");
        for (name, number) in [
            ("HEADER_DEV_INDEX", HEADER_DEV_INDEX),
            ("LINKINFO_HEADER", HEADER),
            ("LINKMODES_HEADER", HEADER),
            ("LINKSTATE_HEADER", HEADER),
            ("FEC_HEADER", HEADER),
            ("BITSET_SIZE", BITSET_SIZE),
            ("BITSET_BITS", BITSET_BITS),
            ("BITSET_VALUE", BITSET_VALUE),
            ("BITSET_MASK", BITSET_MASK),
            ("BITSET_BITS_BIT", BITSET_BITS_BIT),
            ("BITSET_BIT_INDEX", BITSET_BIT_INDEX),
            ("BITSET_BIT_VALUE", BITSET_BIT_VALUE),
            ("LINKINFO_PORT", LINKINFO_PORT),
            ("LINKMODES_AUTONEG", LINKMODES_AUTONEG),
            ("LINKMODES_OURS", LINKMODES_OURS),
            ("LINKMODES_PEER", LINKMODES_PEER),
            ("LINKMODES_SPEED", LINKMODES_SPEED),
            ("LINKMODES_DUPLEX", LINKMODES_DUPLEX),
            ("LINKMODES_LANES", LINKMODES_LANES),
            ("LINKSTATE_LINK", LINKSTATE_LINK),
            ("LINKSTATE_SQI", LINKSTATE_SQI),
            ("LINKSTATE_SQI_MAX", LINKSTATE_SQI_MAX),
            ("LINKSTATE_EXT_STATE", LINKSTATE_EXT_STATE),
            ("LINKSTATE_EXT_SUBSTATE", LINKSTATE_EXT_SUBSTATE),
            ("FEC_MODES", FEC_MODES),
            ("FEC_AUTO", FEC_AUTO),
            ("FEC_ACTIVE", FEC_ACTIVE),
            ("FEC_STATS", FEC_STATS),
            ("FEC_STAT_CORRECTED", FEC_STAT_CORRECTED),
            ("FEC_STAT_UNCORR", FEC_STAT_UNCORR),
            ("FEC_STAT_CORR_BITS", FEC_STAT_CORR_BITS),
            ("PAUSE_HEADER", HEADER),
            ("PAUSE_AUTONEG", PAUSE_AUTONEG),
            ("PAUSE_RX", PAUSE_RX),
            ("PAUSE_TX", PAUSE_TX),
            ("PAUSE_STATS", PAUSE_STATS),
            ("PAUSE_STAT_TX_FRAMES", PAUSE_STAT_TX_FRAMES),
            ("PAUSE_STAT_RX_FRAMES", PAUSE_STAT_RX_FRAMES),
            ("RINGS_HEADER", HEADER),
            ("RINGS_RX_MAX", RINGS_RX_MAX),
            ("RINGS_TX_MAX", RINGS_TX_MAX),
            ("RINGS_RX", RINGS_RX),
            ("RINGS_TX", RINGS_TX),
            ("EEE_HEADER", HEADER),
            ("EEE_ACTIVE", EEE_ACTIVE),
            ("EEE_ENABLED", EEE_ENABLED),
            ("STATS_HEADER", STATS_HEADER),
            ("STATS_GRP", STATS_GRP),
            ("STATS_GRP_ID", STATS_GRP_ID),
            ("STATS_GRP_STAT", STATS_GRP_STAT),
            ("MODULE_EEPROM_DATA", MODULE_EEPROM_DATA),
        ] {
            let full = format!("ETHTOOL_A_{name}");
            assert_eq!(enumerated(&text, &full), u32::from(number), "{full}");
        }
        for (place, name) in ["ETH_PHY", "ETH_MAC", "ETH_CTRL", "RMON"].iter().enumerate() {
            let group = enumerated(&text, &format!("ETHTOOL_STATS_{name}"));
            assert_eq!(group, u32::try_from(place).unwrap(), "{name}");
        }
        let text = header("genetlink.h");
        for (name, number) in [
            ("CTRL_ATTR_FAMILY_ID", CTRL_ATTR_FAMILY_ID),
            ("CTRL_ATTR_OPS", CTRL_ATTR_OPS),
            ("CTRL_ATTR_OP_ID", CTRL_ATTR_OP_ID),
        ] {
            assert_eq!(enumerated(&text, name), u32::from(number), "{name}");
        }
    }

    /// A reply that leaves modes out says so of each of them; nothing stays "not asked".
    #[test]
    fn what_a_reply_leaves_out_is_not_reported() {
        let (_, ethernet) = link_modes(&reply(1, &[])).unwrap();
        let missing = [
            ethernet.supported_modes.why_missing(),
            ethernet.advertised_modes.why_missing(),
            ethernet.fec_supported.why_missing(),
            ethernet.lanes.why_missing(),
            ethernet.autonegotiation.why_missing(),
        ];
        assert!(missing.iter().all(|why| why.unwrap().reason == Reason::NotReported));
    }

    /// The longer form of a bitset (without the compact flag): a list of bits, of which those
    /// with a value flag are set and all are in the mask.
    #[test]
    fn a_bitset_as_a_list() {
        let bit = |number: u32, set: bool| {
            let mut inner = vec![(BITSET_BIT_INDEX, number.to_ne_bytes().to_vec())];
            if set {
                inner.push((BITSET_BIT_VALUE, vec![]));
            }
            (BITSET_BITS_BIT, nest(&inner))
        };
        let list = nest(&[(BITSET_BITS, nest(&[bit(5, true), bit(12, false)]))]);
        assert_eq!(bits(&list, false), [5]);
        assert_eq!(bits(&list, true), [5, 12]);
    }

    /// The set's size comes from the reply: bits beyond it are not there, however long it is.
    #[test]
    fn the_replys_own_size_counts() {
        let words = [u32::MAX; 5].iter().flat_map(|word| word.to_ne_bytes()).collect::<Vec<u8>>();
        let set = nest(&[(BITSET_SIZE, 130u32.to_ne_bytes().to_vec()), (BITSET_VALUE, words)]);
        assert_eq!(bits(&set, false), (0..130).collect::<Vec<u32>>());
    }

    proptest::proptest! {
        #[test]
        fn any_bytes(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..500)) {
            let _ = (link_info(&bytes), link_modes(&bytes), link_state(&bytes));
            let _ = (fec(&bytes), statistics(&bytes), family(&bytes), module_bytes(&bytes));
            let _ = (pause(&bytes), rings(&bytes), energy_saving(&bytes));
        }
    }
}
