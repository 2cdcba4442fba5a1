//! What the host bus can carry.
//!
//! PCI Express: raw rate a lane x coding x payload share of a transaction-layer packet. Rates
//! and coding: PCI Express base specifications, as quoted in sources P1 and P2 (`standards/sources`);
//! packet overhead of 24 octets (framing, sequence number, 4-double-word header, link CRC)
//! around a 256-octet payload, the common maximum payload size.

use crate::quantity::Mbps;

/// Octets around the payload of one packet (source P1).
const OVERHEAD_OCTETS: f64 = 24.0;
/// Payload size assumed, octets.
pub const PAYLOAD_OCTETS: f64 = 256.0;
/// Where these figures come from.
pub const SOURCE: &str = "lane rate and coding, less packet overhead at 256-octet payloads";
/// What a 40 Gb/s cable tunnel leaves for PCI Express.
pub const TUNNEL: Mbps = Mbps(22_000);
/// Where the tunnel's figure comes from.
pub const TUNNEL_SOURCE: &str = "common practice, no published source";

/// Payload rate of one PCI Express link, one direction. `None` for a rate or width that the
/// specifications do not have.
pub fn pci_express(speed_gts: f64, lanes: u32) -> Option<Mbps> {
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
    let payload = PAYLOAD_OCTETS / (PAYLOAD_OCTETS + OVERHEAD_OCTETS);
    let megabits = speed_gts * 1000.0 * coding * f64::from(lanes) * payload;
    // At most 64 GT/s x 32 lanes: far inside u32.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    Some(Mbps(megabits.round() as u32))
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

    /// Worked examples f1, f2, f5 of the media notes, section 7 (computed there from [P1][P2]).
    #[test]
    fn worked_examples() {
        assert_eq!(pci_express(8.0, 4), Some(Mbps(28_807))); // f1: 28.81 Gb/s
        assert_eq!(pci_express(8.0, 8), Some(Mbps(57_614))); // f2: 57.61 Gb/s
        assert_eq!(pci_express(2.5, 4), Some(Mbps(7_314))); // f5: 7.31 Gb/s
        assert_eq!(pci_express(5.0, 4), Some(Mbps(14_629))); // table: 14.6
        assert_eq!(pci_express(8.0, 3), None);
        assert_eq!(pci_express(f64::NAN, 4), None);
    }
}
