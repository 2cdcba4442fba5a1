//! MAU types (medium attachment units): the numbers by which a neighbour names the interface type
//! its port runs, and what its list of offered modes can name.
//!
//! Numbers and modes: IANA MAU MIB (`dot3MauType`, `IANAifMauAutoNegCapBits`; RFC 4836 set it up),
//! read in a published compilation of it that ends at number 78. Later numbers are not in the
//! table: they are told by number.

use crate::snapshot::Duplex;

const HALF: Option<Duplex> = Some(Duplex::Half);
const FULL: Option<Duplex> = Some(Duplex::Full);
/// The number does not tell the duplex.
const UNSAID: Option<Duplex> = None;

/// Number, interface type as IEEE 802.3 names it, duplex. What runs at 10 Gb/s and more has no
/// half duplex (IEEE 802.3 clause 44 and on, from memory).
#[rustfmt::skip]
const TYPES: &[(u16, &str, Option<Duplex>)] = &[
    (1, "AUI", UNSAID),
    (2, "10BASE5", UNSAID),
    (3, "FOIRL", UNSAID),
    (4, "10BASE2", UNSAID),
    (5, "10BASE-T", UNSAID),
    (6, "10BASE-FP", UNSAID),
    (7, "10BASE-FB", UNSAID),
    (8, "10BASE-FL", UNSAID),
    (9, "10BROAD36", UNSAID),
    (10, "10BASE-T half", HALF),
    (11, "10BASE-T", FULL),
    (12, "10BASE-FL half", HALF),
    (13, "10BASE-FL", FULL),
    (14, "100BASE-T4", UNSAID),
    (15, "100BASE-TX half", HALF),
    (16, "100BASE-TX", FULL),
    (17, "100BASE-FX half", HALF),
    (18, "100BASE-FX", FULL),
    (19, "100BASE-T2 half", HALF),
    (20, "100BASE-T2", FULL),
    (21, "1000BASE-X half", HALF),
    (22, "1000BASE-X", FULL),
    (23, "1000BASE-LX half", HALF),
    (24, "1000BASE-LX", FULL),
    (25, "1000BASE-SX half", HALF),
    (26, "1000BASE-SX", FULL),
    (27, "1000BASE-CX half", HALF),
    (28, "1000BASE-CX", FULL),
    (29, "1000BASE-T half", HALF),
    (30, "1000BASE-T", FULL),
    (31, "10GBASE-X", FULL),
    (32, "10GBASE-LX4", FULL),
    (33, "10GBASE-R", FULL),
    (34, "10GBASE-ER", FULL),
    (35, "10GBASE-LR", FULL),
    (36, "10GBASE-SR", FULL),
    (37, "10GBASE-W", FULL),
    (38, "10GBASE-EW", FULL),
    (39, "10GBASE-LW", FULL),
    (40, "10GBASE-SW", FULL),
    (41, "10GBASE-CX4", FULL),
    (42, "2BASE-TL", UNSAID),
    (43, "10PASS-TS", UNSAID),
    (44, "100BASE-BX10D", UNSAID),
    (45, "100BASE-BX10U", UNSAID),
    (46, "100BASE-LX10", UNSAID),
    (47, "1000BASE-BX10D", UNSAID),
    (48, "1000BASE-BX10U", UNSAID),
    (49, "1000BASE-LX10", UNSAID),
    (50, "1000BASE-PX10D", UNSAID),
    (51, "1000BASE-PX10U", UNSAID),
    (52, "1000BASE-PX20D", UNSAID),
    (53, "1000BASE-PX20U", UNSAID),
    (54, "10GBASE-T", FULL),
    (55, "10GBASE-LRM", FULL),
    (56, "1000BASE-KX", UNSAID),
    (57, "10GBASE-KX4", FULL),
    (58, "10GBASE-KR", FULL),
    (59, "10/1GBASE-PRXD1", UNSAID),
    (60, "10/1GBASE-PRXD2", UNSAID),
    (61, "10/1GBASE-PRXD3", UNSAID),
    (62, "10/1GBASE-PRXU1", UNSAID),
    (63, "10/1GBASE-PRXU2", UNSAID),
    (64, "10/1GBASE-PRXU3", UNSAID),
    (65, "10GBASE-PRD1", FULL),
    (66, "10GBASE-PRD2", FULL),
    (67, "10GBASE-PRD3", FULL),
    (68, "10GBASE-PRU1", FULL),
    (69, "10GBASE-PRU3", FULL),
    (70, "40GBASE-KR4", FULL),
    (71, "40GBASE-CR4", FULL),
    (72, "40GBASE-SR4", FULL),
    (73, "40GBASE-FR", FULL),
    (74, "40GBASE-LR4", FULL),
    (75, "100GBASE-CR10", FULL),
    (76, "100GBASE-SR10", FULL),
    (77, "100GBASE-LR4", FULL),
    (78, "100GBASE-ER4", FULL),
];

/// Interface type of a MAU type; `mau 79` where it is not in the table.
pub fn name(number: u16) -> String {
    match row(number) {
        Some((_, name, _)) => (*name).to_owned(),
        None => format!("mau {number}"),
    }
}

/// Duplex that goes with an interface type as [`name`] gives it, if every number of that name
/// tells the same one.
pub fn duplex(name: &str) -> Option<Duplex> {
    let mut all = TYPES.iter().filter(|(_, known, _)| *known == name).map(|(.., duplex)| *duplex);
    let first = all.next()?;
    first.filter(|_| all.all(|other| other == first))
}

fn row(number: u16) -> Option<&'static (u16, &'static str, Option<Duplex>)> {
    TYPES.iter().find(|(known, ..)| *known == number)
}

/// Modes that the two octets of an offer can name (`IANAifMauAutoNegCapBits` 1-7 and 12-15; bit 0,
/// the highest of the first octet, is "other or unknown", 8-11 are about pause frames). There is
/// no room for anything faster than 1 Gb/s.
const OFFERS: &[(u16, &str)] = &[
    (1, "10BASE-T half"),
    (2, "10BASE-T"),
    (3, "100BASE-T4"),
    (4, "100BASE-TX half"),
    (5, "100BASE-TX"),
    (6, "100BASE-T2 half"),
    (7, "100BASE-T2"),
    (12, "1000BASE-X half"),
    (13, "1000BASE-X"),
    (14, "1000BASE-T half"),
    (15, "1000BASE-T"),
];
/// What stands for bit 0 in a list of offered modes.
pub const OTHER: &str = "other or unknown";

/// The modes of an offer, [`OTHER`] first.
pub fn offers(bits: u16) -> Vec<String> {
    let set = |bit: u16| bits & (0x8000 >> bit) != 0;
    let other = set(0).then(|| OTHER.to_owned());
    let named = OFFERS.iter().filter(|(bit, _)| set(*bit)).map(|(_, name)| (*name).to_owned());
    other.into_iter().chain(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IANA MAU MIB: dot3MauType10BaseT is 5, 10BaseTHD 10, 100BaseTXFD 16, 1000BaseTFD 30,
    /// 10GigBaseSR 36, 10GbaseT 54, 40GbaseSR4 72, 100GbaseLR4 77.
    #[test]
    fn numbers_of_the_registry() {
        for (number, text, meant) in [
            (5, "10BASE-T", UNSAID),
            (10, "10BASE-T half", HALF),
            (16, "100BASE-TX", FULL),
            (30, "1000BASE-T", FULL),
            (36, "10GBASE-SR", FULL),
            (54, "10GBASE-T", FULL),
            (72, "40GBASE-SR4", FULL),
            (77, "100GBASE-LR4", FULL),
            (79, "mau 79", UNSAID),
            (0, "mau 0", UNSAID),
        ] {
            assert_eq!(name(number), text);
            let told = duplex(text);
            assert_eq!(told, meant, "{text}");
        }
    }

    /// The list has every number once, in order, and its names tell their rate.
    #[test]
    fn the_table_is_whole() {
        let numbers: Vec<u16> = TYPES.iter().map(|(number, ..)| *number).collect();
        assert_eq!(numbers, (1..=78).collect::<Vec<u16>>());
    }

    /// 6C01h: bits 1, 2, 4, 5 and 15 of the registry, the first bit of the first octet being 0.
    #[test]
    fn an_offer_of_a_gigabit_port() {
        let meant = ["10BASE-T half", "10BASE-T", "100BASE-TX half", "100BASE-TX", "1000BASE-T"];
        assert_eq!(offers(0x6c01), meant);
        assert_eq!(offers(0x8000), [OTHER]);
        assert!(offers(0x00f0).is_empty(), "pause frames are no mode");
    }
}
