//! One rtnetlink link message into the facts of a port.
//!
//! In: the body of an `RTM_NEWLINK` message, untrusted. Out: what could be made out; a
//! statistics structure that is shorter than this program knows leaves the rest *older kernel*.

use rtnetlink::packet_route::link::{LinkFlags, State};

use crate::observe::live::attributes::{Attributes, as_text, as_u8, as_u32, as_u64};
use crate::snapshot::{Counters, Fact, Instant, Nature, OperationalState, Port, Reason, Related};

/// Attribute numbers of `linux/if_link.h`.
mod attribute {
    pub const ADDRESS: u16 = 1;
    pub const NAME: u16 = 3;
    pub const MTU: u16 = 4;
    pub const LINK: u16 = 5;
    pub const MASTER: u16 = 10;
    pub const OPERSTATE: u16 = 16;
    pub const LINKINFO: u16 = 18;
    pub const STATS64: u16 = 23;
    pub const CARRIER: u16 = 33;
    pub const LINK_NETNSID: u16 = 37;
    pub const PHYS_PORT_NAME: u16 = 38;
    pub const CARRIER_UP_COUNT: u16 = 47;
    pub const CARRIER_DOWN_COUNT: u16 = 48;
    pub const PROP_LIST: u16 = 52;
    pub const ALT_IFNAME: u16 = 53;
    pub const PERM_ADDRESS: u16 = 54;
    pub const PARENT_DEV_NAME: u16 = 56;
    /// IFLA_INFO_KIND inside LINKINFO.
    pub const INFO_KIND: u16 = 1;
}

/// Reads a link message: the interface index, and the port with every fact that this message
/// carries and one instant of counters and carrier, which has no time yet. `None` where not even
/// an index and a name can be made out.
pub fn link(body: &[u8]) -> Option<(u32, Port)> {
    // struct ifinfomsg: family, pad, type (u16), index (i32), flags (u32), change (u32).
    let index = as_u32(body.get(4..8)?)?;
    let flags = LinkFlags::from_bits_retain(as_u32(body.get(8..12)?)?);
    let all = Attributes(body.get(16..)?);
    let mut port = Port {
        index: Fact::Known(index),
        admin_up: Fact::Known(flags.contains(LinkFlags::Up)),
        carrier: Fact::missing(Reason::OlderKernel),
        permanent_mac_address: Fact::missing(Reason::NotReported),
        physical_port: Fact::missing(Reason::NotReported),
        ..Port::default()
    };
    let mut instant = Instant {
        carrier_up_count: Fact::missing(Reason::OlderKernel),
        carrier_down_count: Fact::missing(Reason::OlderKernel),
        counters: Fact::missing(Reason::NotReported),
        ..Instant::default()
    };
    let mut elsewhere = false;
    let number = |value: &[u8]| as_u32(value).map_or(malformed(), |n| Fact::Known(u64::from(n)));
    for (kind, value) in all {
        match kind {
            attribute::NAME => port.name = as_text(value),
            attribute::ADDRESS => port.mac_address = Fact::Known(mac(value)),
            attribute::PERM_ADDRESS => port.permanent_mac_address = Fact::Known(mac(value)),
            attribute::MTU => {
                port.mtu_octets = as_u32(value).map_or(malformed(), Fact::Known);
            }
            attribute::LINK => {
                let index = as_u32(value).filter(|index| *index != 0);
                port.lower =
                    index.map(|index| Related { index: Some(index), ..Related::default() });
            }
            attribute::LINK_NETNSID => elsewhere = true,
            attribute::MASTER => {
                let index = as_u32(value).filter(|index| *index != 0);
                port.controller =
                    index.map(|index| Related { index: Some(index), ..Related::default() });
            }
            attribute::OPERSTATE => {
                port.operational_state =
                    as_u8(value).map_or(malformed(), |state| operational(State::from(state)));
            }
            attribute::CARRIER => {
                port.carrier = as_u8(value).map_or(malformed(), |up| Fact::Known(up != 0));
            }
            attribute::CARRIER_UP_COUNT => instant.carrier_up_count = number(value),
            attribute::CARRIER_DOWN_COUNT => instant.carrier_down_count = number(value),
            attribute::STATS64 => {
                let (numbers, _) = value.as_chunks::<8>();
                let numbers = numbers.iter().map(|eight| u64::from_ne_bytes(*eight));
                instant.counters =
                    Fact::Known(Counters::from_ordered(numbers, Reason::OlderKernel));
            }
            attribute::LINKINFO => {
                port.software_kind = Attributes(value).find(attribute::INFO_KIND).map(as_text);
            }
            attribute::PROP_LIST => {
                let names = Attributes(value).filter(|(kind, _)| *kind == attribute::ALT_IFNAME);
                port.alternative_names.extend(names.map(|(_, value)| as_text(value)));
            }
            attribute::PHYS_PORT_NAME => port.physical_port = Fact::Known(as_text(value)),
            attribute::PARENT_DEV_NAME => port.bus_address = Fact::Known(as_text(value)),
            _ => {}
        }
    }
    if port.name.is_empty() {
        return None;
    }
    if elsewhere && let Some(lower) = &mut port.lower {
        lower.elsewhere = true;
        // An index of another namespace means nothing here.
        lower.index = None;
    }
    port.nature = Fact::Known(if flags.contains(LinkFlags::Loopback) {
        Nature::Loopback
    } else if port.bus_address.known().is_some() {
        Nature::Hardware
    } else {
        Nature::Virtual
    });
    instant.carrier = port.carrier.clone();
    port.instants = vec![instant];
    Some((index, port))
}

fn malformed<T>() -> Fact<T> {
    Fact::missing(Reason::Malformed)
}

fn mac(value: &[u8]) -> String {
    // Some link layers have addresses of 20 octets; longer than 32 is nonsense.
    let digit = |value: u8| char::from_digit(u32::from(value), 16);
    let mut text = String::with_capacity(value.len().min(32) * 3);
    for byte in value.iter().take(32) {
        text.extend((!text.is_empty()).then_some(':'));
        text.extend(digit(byte >> 4));
        text.extend(digit(byte & 15));
    }
    text
}

fn operational(state: State) -> Fact<OperationalState> {
    Fact::Known(match state {
        State::Up => OperationalState::Up,
        State::Down => OperationalState::Down,
        State::Testing => OperationalState::Testing,
        State::Unknown => OperationalState::Unknown,
        State::Dormant => OperationalState::Dormant,
        State::NotPresent => OperationalState::NotPresent,
        State::LowerLayerDown => OperationalState::LowerLayerDown,
        other => {
            return Fact::missing_with(Reason::Malformed, format!("state {other:?}"));
        }
    })
}

/// Checks that a u64 array attribute is read whole; used by the family's replies as well.
pub(super) fn numbers(value: &[u8]) -> Vec<u64> {
    value.chunks(8).filter_map(as_u64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::attributes::push;
    use crate::observe::live::header_test::{enumerated, header, members};

    fn body(flags: u32, attributes: &[(u16, &[u8])]) -> Vec<u8> {
        let mut body = vec![0u8; 16];
        body[4..8].copy_from_slice(&7u32.to_ne_bytes());
        body[8..12].copy_from_slice(&flags.to_ne_bytes());
        for (kind, value) in attributes {
            push(&mut body, *kind, value);
        }
        body
    }

    /// Operational states and flags by number: RFC 2863 as `linux/if.h` numbers it (6 is up,
    /// 3 lower layer down), IFF_UP = 1, IFF_LOOPBACK = 8.
    #[test]
    fn facts_of_a_link() {
        let (index, port) = link(&body(
            1,
            &[
                (3, b"fibre0\0"),
                (1, &[2, 0, 0, 0, 0, 9]),
                (4, &9000u32.to_ne_bytes()),
                (16, &[6]),
                (33, &[1]),
                (47, &4u32.to_ne_bytes()),
                (38, b"p1s0\0"),
                (56, b"0000:3b:00.0\0"),
                (999, &[1, 2, 3]),
            ],
        ))
        .unwrap();
        assert_eq!(index, 7);
        assert_eq!(port.name, "fibre0");
        assert_eq!(port.mac_address, Fact::Known("02:00:00:00:00:09".into()));
        assert_eq!(port.mtu_octets, Fact::Known(9000));
        assert_eq!(port.operational_state, Fact::Known(OperationalState::Up));
        assert_eq!(port.carrier, Fact::Known(true));
        assert_eq!(port.nature, Fact::Known(Nature::Hardware));
        assert_eq!(port.physical_port, Fact::Known("p1s0".into()));
        assert_eq!(port.instants[0].carrier_up_count, Fact::Known(4));
        assert!(port.instants[0].carrier_down_count.known().is_none());
    }

    /// Attribute numbers against `linux/if_link.h`.
    #[test]
    fn attributes_are_the_headers() {
        let text = header("if_link.h");
        for (name, number) in [
            ("IFLA_ADDRESS", attribute::ADDRESS),
            ("IFLA_IFNAME", attribute::NAME),
            ("IFLA_MTU", attribute::MTU),
            ("IFLA_LINK", attribute::LINK),
            ("IFLA_MASTER", attribute::MASTER),
            ("IFLA_OPERSTATE", attribute::OPERSTATE),
            ("IFLA_LINKINFO", attribute::LINKINFO),
            ("IFLA_PHYS_PORT_NAME", attribute::PHYS_PORT_NAME),
            ("IFLA_STATS64", attribute::STATS64),
            ("IFLA_CARRIER", attribute::CARRIER),
            ("IFLA_LINK_NETNSID", attribute::LINK_NETNSID),
            ("IFLA_CARRIER_UP_COUNT", attribute::CARRIER_UP_COUNT),
            ("IFLA_CARRIER_DOWN_COUNT", attribute::CARRIER_DOWN_COUNT),
            ("IFLA_PROP_LIST", attribute::PROP_LIST),
            ("IFLA_ALT_IFNAME", attribute::ALT_IFNAME),
            ("IFLA_PERM_ADDRESS", attribute::PERM_ADDRESS),
            ("IFLA_PARENT_DEV_NAME", attribute::PARENT_DEV_NAME),
            ("IFLA_INFO_KIND", attribute::INFO_KIND),
        ] {
            assert_eq!(enumerated(&text, name), u32::from(number), "{name}");
        }
    }

    /// Counters in the order of `struct rtnl_link_stats64` of `linux/if_link.h`, which says what
    /// each one is. The installed header may be older than the last ones.
    #[test]
    fn counters_are_in_the_headers_order() {
        let theirs = members(&header("if_link.h"), "struct rtnl_link_stats64 {");
        let ours = [
            ("rx_packets", "received_frames"),
            ("tx_packets", "sent_frames"),
            ("rx_bytes", "received_octets"),
            ("tx_bytes", "sent_octets"),
            ("rx_errors", "receive_errors"),
            ("tx_errors", "transmit_errors"),
            ("rx_dropped", "receive_discards"),
            ("tx_dropped", "transmit_discards"),
            ("multicast", "received_multicast_frames"),
            ("collisions", "collisions"),
            ("rx_length_errors", "receive_length_errors"),
            ("rx_over_errors", "receive_overruns"),
            ("rx_crc_errors", "receive_check_sequence_errors"),
            ("rx_frame_errors", "receive_alignment_errors"),
            ("rx_fifo_errors", "receive_queue_overflows"),
            ("rx_missed_errors", "receive_missed"),
            ("tx_aborted_errors", "transmit_aborted"),
            ("tx_carrier_errors", "transmit_carrier_errors"),
            ("tx_fifo_errors", "transmit_queue_underruns"),
            ("tx_heartbeat_errors", "transmit_heartbeat_errors"),
            ("tx_window_errors", "transmit_late_collisions"),
            ("rx_compressed", "received_compressed_frames"),
            ("tx_compressed", "sent_compressed_frames"),
            ("rx_nohandler", "receive_unhandled"),
            ("rx_otherhost_dropped", "receive_other_host_drops"),
        ];
        let names: Vec<&str> = Counters::default().each().map(|(name, _)| name).collect();
        assert_eq!(names, ours.map(|(_, name)| name));
        assert!(theirs.len() >= 24, "{theirs:?}");
        assert_eq!(theirs, ours.map(|(name, _)| name)[..theirs.len()]);
    }

    #[test]
    fn a_short_statistics_structure_is_an_older_kernel_not_zero() {
        let mut stats = Vec::new();
        for number in 1..=13u64 {
            stats.extend_from_slice(&number.to_ne_bytes());
        }
        let (_, port) = link(&body(0, &[(3, b"a\0"), (23, &stats)])).unwrap();
        let counters = port.instants[0].counters.known().unwrap().clone();
        assert_eq!(counters.received_frames, Fact::Known(1));
        assert_eq!(counters.receive_check_sequence_errors, Fact::Known(13));
        let missing = counters.receive_alignment_errors.why_missing().unwrap().reason;
        assert_eq!(missing, Reason::OlderKernel);
    }

    #[test]
    fn one_odd_attribute_does_not_hide_the_others() {
        let (_, port) = link(&body(0, &[(4, &[1]), (3, b"a\0"), (16, &[]), (33, &[0])])).unwrap();
        assert_eq!(port.mtu_octets.why_missing().unwrap().reason, Reason::Malformed);
        assert_eq!(port.carrier, Fact::Known(false));
        assert!(link(&body(0, &[])).is_none());
    }

    proptest::proptest! {
        #[test]
        fn any_bytes(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..600)) {
            let _ = link(&bytes);
        }
    }
}
