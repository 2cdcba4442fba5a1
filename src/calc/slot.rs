//! What the host bus can carry.
//!
//! PCI Express: raw rate a lane x coding x payload share of a transaction-layer packet. Rates
//! and coding: PCI Express base specifications, as quoted in sources P1 and P2 (`standards/sources`);
//! packet overhead of 24 octets (framing, sequence number, 4-double-word header, link CRC)
//! around a 256-octet payload, the common maximum payload size.

use std::num::NonZeroU32;

use crate::quantity::{Mbps, Octets};

/// Octets around the payload of one packet (source P1).
const OVERHEAD: Octets = Octets(24);
/// Payload size assumed where it is not told.
pub const USUAL_PAYLOAD: Octets = Octets(256);
/// Where these figures come from.
pub const SOURCE: &str = "lane rate and coding, less packet overhead at 256-octet payloads";
/// What a 40 Gb/s cable tunnel leaves for PCI Express.
pub const TUNNEL: Mbps = Mbps(22_000);
/// Where the tunnel's figure comes from.
pub const TUNNEL_SOURCE: &str = "common practice, no published source";
/// Widths that slots have; 12 and 32 lanes are in the specifications alone.
const WIDTHS: [u32; 5] = [1, 2, 4, 8, 16];

/// Payload rate of one PCI Express link, one direction, at the usual payload size. `None` for a
/// rate or width that the specifications do not have.
pub fn pci_express(speed_gts: f64, lanes: u32) -> Option<Mbps> {
    pci_express_with(speed_gts, lanes, USUAL_PAYLOAD)
}

/// The same at a maximum payload size of 128, 256, 512, 1024, 2048 or 4096 octets, one of which
/// both ends are set to; `None` for any other.
pub fn pci_express_with(speed_gts: f64, lanes: u32, payload: Octets) -> Option<Mbps> {
    let share = payload_share(payload)?;
    Some(megabits(data_rate(speed_gts, lanes)? * share))
}

/// Rate of one link after line coding, one direction: what packets and their overhead share.
/// `None` as [`pci_express`].
pub fn coded(speed_gts: f64, lanes: u32) -> Option<Mbps> {
    data_rate(speed_gts, lanes).map(megabits)
}

/// The narrowest slot of a generation whose payload rate covers a need, and that rate. `None`
/// where 16 lanes do not, or as [`pci_express`]. A tenth on top for descriptors and flow control is
/// common practice: it is not in here.
pub fn narrowest(speed_gts: f64, need: Mbps) -> Option<(u32, Mbps)> {
    let rates =
        WIDTHS.into_iter().filter_map(|lanes| Some((lanes, pci_express(speed_gts, lanes)?)));
    rates.into_iter().find(|(_, rate)| *rate >= need)
}

/// What each of so many ports of one adapter is left with when all are busy.
pub fn each(rate: Mbps, ports: NonZeroU32) -> Mbps {
    Mbps(rate.0 / ports)
}

/// Payload of a packet as a share of it.
fn payload_share(payload: Octets) -> Option<f64> {
    let all = f64::from(payload.0) + f64::from(OVERHEAD.0);
    let known = payload.0.is_power_of_two() && (128..=4096).contains(&payload.0);
    known.then(|| f64::from(payload.0) / all)
}

/// Megabits a second after line coding.
fn data_rate(speed_gts: f64, lanes: u32) -> Option<f64> {
    if !matches!(lanes, 1 | 2 | 4 | 8 | 12 | 16 | 32) {
        return None;
    }
    // (GT/s, share of bits that are data); 64 GT/s: 236 of 256 octets (from memory).
    let (_, coding) = [
        (2.5, 0.8),
        (5.0, 0.8),
        (8.0, 128.0 / 130.0),
        (16.0, 128.0 / 130.0),
        (32.0, 128.0 / 130.0),
        (64.0, 236.0 / 256.0),
    ]
    .into_iter()
    .find(|(rate, _)| (rate - speed_gts).abs() < 0.01)?;
    Some(speed_gts * 1000.0 * coding * f64::from(lanes))
}

/// At most 64 GT/s on 32 lanes: far inside u32.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn megabits(rate: f64) -> Mbps {
    Mbps(rate.round() as u32)
}

/// What a USB bus speed leaves for data: 480 Mb/s and up, as the bus names it.
///
/// Only the raw rate is known here; protocol overhead comes on top (common practice: a tenth).
pub fn usb(bus: Mbps) -> Mbps {
    Mbps(bus.0 / 10 * 9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::bit_error_bound::tests::near;
    use crate::calc::goodput::Stack;
    use proptest::prelude::*;

    /// Worked examples f1, f2, f5 of the media notes, section 7 (computed there from [P1][P2]).
    #[test]
    fn worked_examples() {
        assert_eq!(pci_express(8.0, 4), Some(Mbps(28_807))); // f1: 28.81 Gb/s
        assert_eq!(pci_express(8.0, 8), Some(Mbps(57_614))); // f2: 57.61 Gb/s
        assert_eq!(pci_express(2.5, 4), Some(Mbps(7_314))); // f5: 7.31 Gb/s
        assert_eq!(pci_express(5.0, 4), Some(Mbps(14_629))); // table: 14.6
        assert_eq!(pci_express_with(16.0, 8, Octets(128)), Some(Mbps(106_131))); // f3: 106.13
        let two = NonZeroU32::new(2).unwrap();
        assert_eq!(each(pci_express(8.0, 4).unwrap(), two), Mbps(14_403)); // f4: 14.40 a port
        // f6: the tunnel against the ceiling of 25G, IPv4 and TCP with timestamps, MTU 1500.
        let ceiling = Stack::USUAL.goodput(Mbps(25_000)).unwrap();
        near(TUNNEL.bits_per_second().0 / ceiling.0, 0.935, 6e-4);
        // f2: 58 % of the line; f1: enough for 25G, not for 40G.
        near(pci_express(8.0, 8).unwrap().bits_per_second().0 / 100e9, 0.58, 9e-3);
        assert!((Mbps(25_000)..Mbps(40_000)).contains(&pci_express(8.0, 4).unwrap()));
        assert_eq!(pci_express(8.0, 3), None);
        for speed in [f64::NAN, 0.0, -8.0, f64::INFINITY] {
            assert_eq!(pci_express(speed, 4), None);
            assert_eq!(narrowest(speed, Mbps(0)), None);
        }
        for payload in [0, 64, 200, 8192, u32::MAX] {
            assert_eq!(pci_express_with(8.0, 4, Octets(payload)), None);
        }
        assert_eq!(narrowest(32.0, Mbps(u32::MAX)), None);
    }

    /// Media notes, section 7: rates after coding, Gb/s, by width; generation 6 from memory there.
    #[test]
    fn table_of_rates() {
        for (speed, rates, close) in [
            (2.5, [2.0, 4.0, 8.0, 16.0, 32.0], 0.001),
            (5.0, [4.0, 8.0, 16.0, 32.0, 64.0], 0.001),
            (8.0, [7.877, 15.754, 31.508, 63.015, 126.031], 0.001),
            (16.0, [15.754, 31.508, 63.015, 126.031, 252.062], 0.001),
            (32.0, [31.508, 63.015, 126.031, 252.062, 504.123], 0.001),
            (64.0, [59.0, 118.0, 236.0, 472.0, 944.0], 0.001),
        ] {
            for (lanes, theirs) in [1, 2, 4, 8, 16].into_iter().zip(rates) {
                let found = f64::from(coded(speed, lanes).unwrap().0) / 1000.0;
                assert!((found - theirs).abs() <= close, "{speed} x{lanes}: {found}");
            }
        }
        // The shares at 128, 256 and 512 octets.
        for (payload, share) in [(128, 0.8421), (256, 0.9143), (512, 0.9552)] {
            assert!((payload_share(Octets(payload)).unwrap() - share).abs() < 5.1e-5);
        }
    }

    /// Media notes, section 7: the smallest link that covers a port, and its rate in Gb/s.
    #[test]
    #[rustfmt::skip]
    fn table_of_smallest_links() {
        const NO: (u32, f64) = (0, 0.0);
        for (need, links) in [
            (1000, [(1, 1.8), (1, 3.7), (1, 7.2), (1, 14.4), (1, 28.8)]),
            (2500, [(2, 3.7), (1, 3.7), (1, 7.2), (1, 14.4), (1, 28.8)]),
            (5000, [(4, 7.3), (2, 7.3), (1, 7.2), (1, 14.4), (1, 28.8)]),
            (10_000, [(8, 14.6), (4, 14.6), (2, 14.4), (1, 14.4), (1, 28.8)]),
            (25_000, [(16, 29.3), (8, 29.3), (4, 28.8), (2, 28.8), (1, 28.8)]),
            (2 * 25_000, [NO, (16, 58.5), (8, 57.6), (4, 57.6), (2, 57.6)]),
            (40_000, [NO, (16, 58.5), (8, 57.6), (4, 57.6), (2, 57.6)]),
            (50_000, [NO, (16, 58.5), (8, 57.6), (4, 57.6), (2, 57.6)]),
            (100_000, [NO, NO, (16, 115.2), (8, 115.2), (4, 115.2)]),
            (2 * 100_000, [NO, NO, NO, (16, 230.5), (8, 230.5)]),
            (400_000, [NO, NO, NO, NO, (16, 460.9)]),
        ] {
            for (speed, (lanes, rate)) in [2.5, 5.0, 8.0, 16.0, 32.0].into_iter().zip(links) {
                let found = narrowest(speed, Mbps(need));
                let found = found.map_or(NO, |(lanes, rate)| (lanes, f64::from(rate.0) / 1000.0));
                assert_eq!(found.0, lanes, "{need} at {speed} GT/s");
                assert!((found.1 - rate).abs() <= 0.0501, "{need} at {speed} GT/s: {}", found.1);
            }
        }
    }

    proptest! {
        #[test]
        fn anything(speed: f64, lanes: u32, payload: u32, need: u32) {
            let _ = pci_express_with(speed, lanes, Octets(payload));
            let _ = narrowest(speed, Mbps(need));
        }

        /// Larger payloads, more lanes and faster lanes carry more, and never more than is coded.
        #[test]
        fn more_carries_more(speed in 0..5usize, width in 0..4usize, size in 7..12u32) {
            let speeds = [2.5, 5.0, 8.0, 16.0, 32.0, 64.0];
            let at = |speed: usize, width: usize, size: u32| {
                pci_express_with(speeds[speed], WIDTHS[width], Octets(1 << size)).unwrap()
            };
            let here = at(speed, width, size);
            prop_assert!(here < at(speed + 1, width, size));
            prop_assert!(here < at(speed, width + 1, size));
            prop_assert!(here < at(speed, width, size + 1));
            prop_assert!(here < coded(speeds[speed], WIDTHS[width]).unwrap());
        }
    }
}
