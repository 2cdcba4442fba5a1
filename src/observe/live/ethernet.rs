//! Replies of the kernel's Ethernet family into facts.
//!
//! In: the body of one reply, untrusted: generic header, then attributes numbered by
//! `linux/ethtool_netlink.h`. Out: the interface index and what could be made out.

use crate::observe::live::attributes::{Attributes, as_u8, as_u32};
use crate::observe::live::link::numbers;
use crate::observe::live::link_modes::{
    fec_name, fec_names, mode_names, state_name, substate_name,
};
use crate::snapshot::{
    Connector, Duplex, Ethernet, ExtendedState, Fact, FecCounters, LaneCounts, Reason,
    SignalQuality, Statistics,
};

/// The attributes of a reply behind its generic header.
fn attributes(body: &[u8]) -> Option<Attributes<'_>> {
    Some(Attributes(body.get(4..)?))
}

/// The interface a reply is about; `at` is the number of its header attribute.
fn index(all: Attributes<'_>, at: u16) -> Option<u32> {
    as_u32(Attributes(all.find(at)?).find(1)?)
}

/// Numbers of the bits that are set in a bitset attribute: value, or mask.
fn bits(value: &[u8], mask: bool) -> Vec<u32> {
    let all = Attributes(value);
    let compact = all.find(if mask { 5 } else { 4 });
    if let Some(words) = compact {
        let size = all.find(2).and_then(as_u32).unwrap_or(u32::MAX);
        // 32 bits a word; no kernel has more than a few hundred modes.
        return words
            .chunks(4)
            .filter_map(as_u32)
            .zip((0..).step_by(32))
            .take(64)
            .flat_map(|(word, first)| {
                (0..32).filter(move |bit| word & (1 << bit) != 0).map(move |bit| first + bit)
            })
            .filter(|bit| *bit < size)
            .collect();
    }
    // The longer form: a list of bits, each with its number; a value flag marks those set.
    let Some(list) = all.find(3) else { return Vec::new() };
    Attributes(list)
        .filter(|(kind, _)| *kind == 1)
        .filter_map(|(_, bit)| {
            let bit = Attributes(bit);
            let set = mask || bit.find(3).is_some();
            bit.find(1).and_then(as_u32).filter(|_| set)
        })
        .collect()
}

/// Adds what a link information reply tells.
pub fn link_info(body: &[u8]) -> Option<(u32, Fact<Connector>)> {
    let all = attributes(body)?;
    let connector = match all.find(2).and_then(as_u8) {
        Some(0x00) => Fact::Known(Connector::TwistedPair),
        Some(0x03) => Fact::Known(Connector::Fibre),
        Some(0x05) => Fact::Known(Connector::DirectAttach),
        Some(0xef) => Fact::Known(Connector::None),
        Some(0x01 | 0x02 | 0x04) => Fact::Known(Connector::Other),
        Some(0xff) | None => Fact::missing(Reason::NotReported),
        Some(other) => Fact::missing_with(Reason::Malformed, format!("connector {other:#04x}")),
    };
    Some((index(all, 1)?, connector))
}

/// Fills in what a link modes reply tells; returns the index.
pub fn link_modes(body: &[u8], ethernet: &mut Ethernet) -> Option<u32> {
    let all = attributes(body)?;
    ethernet.autonegotiation = match all.find(2).and_then(as_u8) {
        Some(0) => Fact::Known(false),
        Some(1) => Fact::Known(true),
        _ => not_reported(),
    };
    if let Some(ours) = all.find(3) {
        let (supported, advertised) = (bits(ours, true), bits(ours, false));
        ethernet.supported_modes = Fact::Known(mode_names(&supported));
        ethernet.advertised_modes = Fact::Known(mode_names(&advertised));
        ethernet.fec_supported = Fact::Known(fec_names(&supported));
        ethernet.fec_advertised = Fact::Known(fec_names(&advertised));
    }
    // Absent is "no word from the other end", which is not an empty offer.
    ethernet.peer_modes = match all.find(4) {
        Some(peer) => Fact::Known(mode_names(&bits(peer, false))),
        None => Fact::missing_with(Reason::NotReported, "no offer of the far end was heard"),
    };
    ethernet.speed_mbps = match all.find(5).and_then(as_u32) {
        None | Some(0xffff_ffff) => not_reported(),
        Some(speed) => Fact::Known(speed),
    };
    ethernet.duplex = match all.find(6).and_then(as_u8) {
        Some(0) => Fact::Known(Duplex::Half),
        Some(1) => Fact::Known(Duplex::Full),
        _ => not_reported(),
    };
    ethernet.lanes = all.find(9).and_then(as_u32).map_or_else(not_reported, Fact::Known);
    index(all, 1)
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

/// Reads a link state reply.
pub fn link_state(body: &[u8]) -> Option<(u32, State)> {
    let all = attributes(body)?;
    let detected = all
        .find(2)
        .and_then(as_u8)
        .map_or_else(|| Fact::missing(Reason::NotReported), |up| Fact::Known(up != 0));
    let extended = match all.find(5).and_then(as_u8) {
        None => Fact::missing_with(Reason::NotReported, "the driver gives no reason"),
        Some(number) => {
            let state = state_name(number);
            let substate = all.find(6).and_then(as_u8).map(|number| substate_name(&state, number));
            Fact::Known(ExtendedState { state, substate })
        }
    };
    let quality = match all.find(3).and_then(as_u32) {
        None => Fact::missing(Reason::NotReported),
        Some(index) => Fact::Known(SignalQuality { index, best: all.find(4).and_then(as_u32) }),
    };
    Some((index(all, 1)?, State { detected, extended, quality }))
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

/// Reads a FEC reply.
pub fn fec(body: &[u8]) -> Option<(u32, Fec)> {
    let all = attributes(body)?;
    let counters = all.find(5).map_or_else(
        || Fact::missing(Reason::NotSupported),
        |nest| {
            let nest = Attributes(nest);
            Fact::Known(FecCounters {
                corrected_blocks: lanes(nest.find(2)),
                uncorrectable_blocks: lanes(nest.find(3)),
                corrected_bits: lanes(nest.find(4)),
            })
        },
    );
    let told = Fec {
        configured: all
            .find(2)
            .map_or_else(not_reported, |set| Fact::Known(fec_names(&bits(set, false)))),
        automatic: all.find(3).and_then(as_u8).map_or_else(not_reported, |on| Fact::Known(on != 0)),
        active: all
            .find(4)
            .and_then(as_u32)
            .map_or_else(|| Fact::missing(Reason::NotReported), |bit| Fact::Known(fec_name(bit))),
        counters,
    };
    Some((index(all, 1)?, told))
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
        if kind != 4 {
            continue;
        }
        let group = Attributes(group);
        let Some(id) = group.find(3).and_then(as_u32) else { continue };
        let (map, names) = match id {
            0 => (&mut found.phy, STATISTICS[0]),
            1 => (&mut found.mac, STATISTICS[1]),
            2 => (&mut found.control, STATISTICS[2]),
            3 => (&mut found.rmon, STATISTICS[3]),
            _ => continue,
        };
        for (kind, nest) in group {
            if kind != 5 {
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
    Some((index(all, 2)?, found))
}

/// The family's number and the commands it has, from the controller's answer.
pub fn family(body: &[u8]) -> Option<(u16, Vec<u8>)> {
    let all = attributes(body)?;
    let number =
        all.find(1).and_then(|value| Some(u16::from_ne_bytes(value.get(..2)?.try_into().ok()?)))?;
    let commands = all.find(6).map_or_else(Vec::new, |operations| {
        Attributes(operations)
            .filter_map(|(_, operation)| as_u32(Attributes(operation).find(1)?))
            .filter_map(|id| u8::try_from(id).ok())
            .collect()
    });
    Some((number, commands))
}

/// The bytes of a module memory reply.
pub fn module_bytes(body: &[u8]) -> Option<Vec<u8>> {
    Some(attributes(body)?.find(7)?.to_vec())
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
        let mut ethernet = Ethernet::default();
        assert_eq!(link_modes(&body, &mut ethernet), Some(9));
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
        let mut ethernet = Ethernet::default();
        link_modes(&body, &mut ethernet).unwrap();
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
            (3, 1u32.to_ne_bytes().to_vec()),
            (5, nest(&[(4, 17u64.to_ne_bytes().to_vec())])),
        ]);
        let (index, found) = statistics(&reply(2, &[(4, group)])).unwrap();
        assert_eq!(index, 9);
        assert_eq!(found.mac.get("FrameCheckSequenceErrors"), Some(&17));
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

    proptest::proptest! {
        #[test]
        fn any_bytes(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..500)) {
            let mut ethernet = Ethernet::default();
            let _ = (link_info(&bytes), link_modes(&bytes, &mut ethernet), link_state(&bytes));
            let _ = (fec(&bytes), statistics(&bytes), family(&bytes), module_bytes(&bytes));
        }
    }
}
