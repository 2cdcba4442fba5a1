//! What a neighbour announces of itself: frames of IEEE 802.1AB (Ethernet type 88CCh), parsed.
//!
//! In: one frame as it came from the wire. Out: a [`Neighbour`], or nothing where it is not such a
//! frame, or lacks one of the three elements that every one begins with. Pure. Anybody on the wire
//! can write anything into it: every text is bounded and kept as it came (`render` cleans it).
//!
//! The layout (IEEE 802.1AB clauses 8 and 9, IEEE 802.3 clause 79, IEEE 802.1Q annex D) is from
//! memory: the texts of the standards were not at hand.

use std::net::{Ipv4Addr, Ipv6Addr};

use crate::snapshot::{Neighbour, NeighbourAutonegotiation, NeighbourName};
use crate::standards::mau;

/// Ethernet type of such a frame.
pub const ETHERNET_TYPE: u16 = 0x88cc;
/// Where it is sent: no bridge passes on what has this address, so that its sender is at the
/// other end of this very cable. Frames to the two addresses that some devices do pass on
/// (01-80-C2-00-00-00 and -03) do not tell that and are left out.
pub const GROUP: [u8; 6] = [0x01, 0x80, 0xc2, 0x00, 0x00, 0x0e];
/// Longest frame that is looked at, octets: 1500 of payload, 14 before it, a VLAN tag.
pub const LONGEST: usize = 1518;
/// Longest text that is kept, octets: the standard allows no longer one.
const LONGEST_TEXT: usize = 255;
/// Most addresses that are kept.
const MOST_ADDRESSES: usize = 8;

/// One frame, or nothing if it is not a whole announcement. What follows a broken element is left
/// out; a second element of a kind that may stand once is passed over.
pub fn frame(bytes: &[u8]) -> Option<Neighbour> {
    let (head, payload) = bytes.get(..LONGEST.min(bytes.len()))?.split_at_checked(14)?;
    let (group, rest) = head.split_at_checked(6)?;
    if group != GROUP || rest.get(6..)? != ETHERNET_TYPE.to_be_bytes() {
        return None;
    }
    announcement(payload)
}

/// The elements behind the Ethernet header.
pub fn announcement(payload: &[u8]) -> Option<Neighbour> {
    let mut elements = Elements { rest: payload };
    // These three, in this order, begin every announcement.
    let mut must = |kind: u8| elements.next().filter(|(found, _)| *found == kind);
    let chassis = name(must(1)?.1, CHASSIS_KINDS)?;
    let port = name(must(2)?.1, PORT_KINDS)?;
    let (seconds, _) = word(must(3)?.1)?;
    let mut told = Neighbour { chassis, port, lifetime_seconds: seconds, ..Neighbour::default() };
    for (kind, value) in elements {
        match kind {
            0 => break,
            // A second one of the three: this frame contradicts itself.
            1..=3 => return None,
            4 => first(&mut told.port_description, text(value)),
            5 => first(&mut told.system_name, text(value)),
            6 => first(&mut told.system_description, text(value)),
            7 => first(&mut told.capabilities, capabilities(value)),
            8 if told.management_addresses.len() < MOST_ADDRESSES => {
                told.management_addresses.extend(management_address(value));
            }
            127 => organisation(value, &mut told),
            _ => {}
        }
    }
    Some(told)
}

fn first<T>(place: &mut Option<T>, value: Option<T>) {
    if place.is_none() {
        *place = value;
    }
}

/// Kind (7 bits), length (9 bits), value. Ends at an element that is cut.
struct Elements<'a> {
    rest: &'a [u8],
}

impl<'a> Iterator for Elements<'a> {
    type Item = (u8, &'a [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let (head, rest) = word(self.rest)?;
        let (value, rest) = rest.split_at_checked(usize::from(head & 0x1ff))?;
        self.rest = rest;
        Some((u8::try_from(head >> 9).ok()?, value))
    }
}

fn word(bytes: &[u8]) -> Option<(u16, &[u8])> {
    let (word, rest) = bytes.split_first_chunk()?;
    Some((u16::from_be_bytes(*word), rest))
}

/// Text as it came; octets that are not UTF-8 are marked as such.
fn text(bytes: &[u8]) -> Option<String> {
    let kept = bytes.get(..LONGEST_TEXT.min(bytes.len()))?;
    let end = kept.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    let text = String::from_utf8_lossy(kept.get(..end)?).into_owned();
    (!text.is_empty()).then_some(text)
}

/// What a name of a chassis or a port is, by its number.
#[derive(Clone, Copy, PartialEq)]
enum Form {
    Text,
    Mac,
    Address,
}

type Kinds = &'static [(u8, &'static str, Form)];
const CHASSIS_KINDS: Kinds = &[
    (1, "chassis component", Form::Text),
    (2, "interface alias", Form::Text),
    (3, "port component", Form::Text),
    (4, "MAC address", Form::Mac),
    (5, "network address", Form::Address),
    (6, "interface name", Form::Text),
    (7, "local name", Form::Text),
];
const PORT_KINDS: Kinds = &[
    (1, "interface alias", Form::Text),
    (2, "port component", Form::Text),
    (3, "MAC address", Form::Mac),
    (4, "network address", Form::Address),
    (5, "interface name", Form::Text),
    (6, "circuit number", Form::Text),
    (7, "local name", Form::Text),
];

/// Kind (1 octet) and name. Empty names are refused, as the standard asks.
fn name(value: &[u8], kinds: Kinds) -> Option<NeighbourName> {
    let (number, bytes) = value.split_first()?;
    if bytes.is_empty() {
        return None;
    }
    let known = kinds.iter().find(|(known, ..)| known == number);
    let hex = || Some(digits(bytes.get(..LONGEST_TEXT.min(bytes.len()))?, ""));
    let name = match known.map(|(.., form)| *form) {
        Some(Form::Mac) if bytes.len() == 6 => Some(digits(bytes, ":")),
        Some(Form::Address) => address(bytes).or_else(hex),
        Some(Form::Text) if std::str::from_utf8(bytes).is_ok() => text(bytes).or_else(hex),
        _ => hex(),
    };
    let kind = known.map_or_else(|| format!("kind {number}"), |(_, kind, _)| (*kind).to_owned());
    Some(NeighbourName { kind, name: name? })
}

fn digits(bytes: &[u8], between: &str) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().join(between)
}

/// Family (IANA address family numbers: 1 IPv4, 2 IPv6) and address.
fn address(bytes: &[u8]) -> Option<String> {
    let (family, address) = bytes.split_first()?;
    match family {
        1 => Some(Ipv4Addr::from(<[u8; 4]>::try_from(address).ok()?).to_string()),
        2 => Some(Ipv6Addr::from(<[u8; 16]>::try_from(address).ok()?).to_string()),
        6 if address.len() == 6 => Some(digits(address, ":")),
        _ => None,
    }
}

/// Length of family and address (1 octet), then these; what follows numbers the interface there.
fn management_address(value: &[u8]) -> Option<String> {
    let (length, rest) = value.split_first()?;
    address(rest.get(..usize::from(*length))?)
}

const CAPABILITIES: &[(u16, &str)] = &[
    (0, "other"),
    (1, "repeater"),
    (2, "bridge"),
    (3, "wireless access point"),
    (4, "router"),
    (5, "telephone"),
    (6, "cable modem"),
    (7, "station only"),
    (8, "customer VLAN bridge"),
    (9, "service VLAN bridge"),
    (10, "two-port relay"),
];

/// What it can be (2 octets), and what of that is switched on (2 octets): the latter.
fn capabilities(value: &[u8]) -> Option<Vec<String>> {
    let (_, rest) = word(value)?;
    let (enabled, _) = word(rest)?;
    let on = CAPABILITIES.iter().filter(|(bit, _)| enabled & (1 << bit) != 0);
    Some(on.map(|(_, name)| (*name).to_owned()).collect())
}

/// Identifier of the organisation (3 octets), its own number for the element (1 octet), value.
fn organisation(value: &[u8], told: &mut Neighbour) {
    match value {
        // IEEE 802.3, MAC and PHY: autonegotiation (bit 0 can, bit 1 is switched on), offer, MAU.
        [0x00, 0x12, 0x0f, 1, status, o1, o2, m1, m2, ..] => {
            let (supported, enabled) = (status & 1 != 0, status & 2 != 0);
            first(
                &mut told.autonegotiation,
                Some(NeighbourAutonegotiation {
                    supported,
                    enabled,
                    offered_modes: mau::offers(u16::from_be_bytes([*o1, *o2])),
                }),
            );
            // Number 0 is none.
            let number = u16::from_be_bytes([*m1, *m2]);
            first(&mut told.interface_type, (number != 0).then(|| mau::name(number)));
        }
        // IEEE 802.3, and later IEEE 802.1 under its own number: bit 0 can be aggregated, bit 1 is.
        [0x00, 0x12, 0x0f, 3, status, _, _, _, _, ..]
        | [0x00, 0x80, 0xc2, 7, status, _, _, _, _, ..] => {
            first(&mut told.aggregated, Some(status & 2 != 0));
        }
        // IEEE 802.3, largest frame, header and check sequence included.
        [0x00, 0x12, 0x0f, 4, s1, s2, ..] => {
            first(&mut told.largest_frame_octets, Some(u16::from_be_bytes([*s1, *s2])));
        }
        // IEEE 802.1, VLAN of untagged frames; 0 is none.
        [0x00, 0x80, 0xc2, 1, v1, v2, ..] => {
            let vlan = u16::from_be_bytes([*v1, *v2]);
            first(&mut told.port_vlan, (vlan != 0).then_some(vlan));
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Worked by hand: the head of an element is kind x 200h + length, high octet first, so that
    /// kind 1 with 7 octets is 02 07, kind 127 with 9 octets FE 09.
    const WHOLE: &[u8] = &[
        0x01, 0x80, 0xc2, 0x00, 0x00, 0x0e, // to the nearest bridge
        0x02, 0x00, 0x5e, 0x10, 0x00, 0x01, // from
        0x88, 0xcc, // type
        0x02, 0x07, 4, 0x02, 0x00, 0x5e, 0x10, 0x00, 0x00, // chassis: MAC address
        0x04, 0x06, 5, b'b', b'o', b'a', b't', b'0', // port: interface name
        0x06, 0x02, 0x00, 0x78, // holds for 120 s
        0x08, 0x04, b'q', b'u', b'a', b'y', // port description
        0x0a, 0x07, b's', b'o', b'u', b'n', b'd', b'e', b'r', // system name
        0x0c, 0x05, b't', b'i', b'd', b'a', b'l', // system description
        0x0e, 0x04, 0x00, 0x14, 0x00, 0x04, // can be bridge and router, is bridge
        0x10, 0x0c, 5, 1, 192, 0, 2, 7, 2, 0, 0, 0, 3, 0, // 192.0.2.7, interface 3, no OID
        0xfe, 0x09, 0x00, 0x12, 0x0f, 1, 0x03, 0x6c, 0x01, 0x00, 0x1e, // on; 6C01h; 30
        0xfe, 0x09, 0x00, 0x12, 0x0f, 3, 0x01, 0, 0, 0, 0, // could be aggregated, is not
        0xfe, 0x06, 0x00, 0x12, 0x0f, 4, 0x23, 0x3a, // 9018
        0xfe, 0x06, 0x00, 0x80, 0xc2, 1, 0x00, 0x14, // VLAN 20
        0x00, 0x00, // end
    ];

    #[test]
    fn every_element() {
        let told = frame(WHOLE).unwrap();
        assert_eq!(told.chassis.name, "02:00:5e:10:00:00");
        assert_eq!(told.chassis.kind, "MAC address");
        assert_eq!((told.port.kind.as_str(), told.port.name.as_str()), ("interface name", "boat0"));
        assert_eq!(told.lifetime_seconds, 120);
        assert_eq!(told.port_description.as_deref(), Some("quay"));
        assert_eq!(told.system_name.as_deref(), Some("sounder"));
        assert_eq!(told.system_description.as_deref(), Some("tidal"));
        assert_eq!(told.capabilities.unwrap(), ["bridge"]);
        assert_eq!(told.management_addresses, ["192.0.2.7"]);
        let negotiation = told.autonegotiation.unwrap();
        assert!(negotiation.supported && negotiation.enabled);
        assert_eq!(negotiation.offered_modes.last().unwrap(), "1000BASE-T");
        assert_eq!(told.interface_type.as_deref(), Some("1000BASE-T"));
        assert_eq!(told.aggregated, Some(false));
        assert_eq!(told.largest_frame_octets, Some(9018));
        assert_eq!(told.port_vlan, Some(20));
    }

    /// Cut anywhere: nothing before the third element is whole, then what is whole and no more.
    #[test]
    fn cut_at_every_length() {
        let whole = frame(WHOLE).unwrap();
        for length in 0..WHOLE.len() {
            let told = frame(&WHOLE[..length]);
            assert_eq!(told.is_some(), length >= 14 + 9 + 8 + 4, "{length}");
            let Some(told) = told else { continue };
            for (cut, full) in [
                (&told.system_name, &whole.system_name),
                (&told.system_description, &whole.system_description),
                (&told.port_description, &whole.port_description),
                (&told.interface_type, &whole.interface_type),
            ] {
                assert!(cut.is_none() || cut == full, "{length}");
            }
            assert!(told.largest_frame_octets.is_none_or(|octets| octets == 9018));
        }
    }

    fn changed(at: usize, byte: u8) -> Option<Neighbour> {
        let mut bytes = WHOLE.to_vec();
        bytes[at] = byte;
        frame(&bytes)
    }

    #[test]
    fn what_is_no_announcement() {
        assert!(changed(12, 0x08).is_none(), "another Ethernet type");
        assert!(changed(5, 0x00).is_none(), "an address that some devices pass on");
        assert!(changed(14, 0x04).is_none(), "the chassis is not first");
        assert!(changed(14 + 9, 0x02).is_none(), "the port is not second");
        assert!(changed(14 + 9 + 8, 0x08).is_none(), "no lifetime");
        assert!(changed(14 + 9 + 8 + 4, 0x06).is_none(), "a second lifetime");
    }

    #[test]
    fn texts_are_kept_as_they_came_and_no_longer_than_allowed() {
        let mut bytes = WHOLE[..14 + 9 + 8 + 4].to_vec();
        bytes.extend([0x0b, 0xff]); // kind 5, 511 octets
        bytes.extend([b"\x1b[2J<b>".as_slice(), &[b'x'; 504]].concat());
        let name = frame(&bytes).unwrap().system_name.unwrap();
        assert!(name.starts_with("\u{1b}[2J<b>x"));
        assert_eq!(name.len(), LONGEST_TEXT);
        // A name that is no text is shown as its octets; one of an unknown kind too.
        assert_eq!(changed(14 + 9 + 3, 0xff).unwrap().port.name, "ff6f617430");
        assert_eq!(changed(14 + 9 + 2, 99).unwrap().port.kind, "kind 99");
    }

    proptest! {
        /// Any octets behind a right header, and any elements behind a right beginning.
        #[test]
        fn any_octets(any in proptest::collection::vec(any::<u8>(), 0..1600), from in 0..120usize) {
            let _ = frame(&any);
            let _ = announcement(&any);
            let mut bytes = WHOLE[..from.min(WHOLE.len())].to_vec();
            bytes.extend(&any);
            if let Some(told) = frame(&bytes) {
                // One octet becomes three at most, the mark of what is not UTF-8.
                let most = 3 * LONGEST_TEXT;
                prop_assert!(told.chassis.name.len() <= most && told.port.name.len() <= most);
                let texts = [told.system_name, told.system_description, told.port_description];
                prop_assert!(texts.iter().flatten().all(|text| text.len() <= most));
                prop_assert!(told.management_addresses.len() <= MOST_ADDRESSES);
            }
        }
    }
}
