//! Terms of art, a line each, on demand.

use crate::render::text::{Page, Style, pad};

/// Terms and what they mean, in alphabetical order.
pub const TERMS: &[(&str, &str)] = &[
    (
        "autonegotiation",
        "the two ends tell each other what they can do, and take the best they share (IEEE 802.3 clauses 28, 37, 73)",
    ),
    ("bias", "the current through a laser; it rises as the laser ages and warms"),
    (
        "bit-error ratio",
        "wrong bits divided by all bits; most links are specified for less than one in 10^12",
    ),
    (
        "bound (95 %)",
        "a value that the ratio is below (or above) so surely that it is wrong one time in twenty",
    ),
    ("carrier", "the port sees a signal it can work with from the other end"),
    ("channel", "everything the light or current runs through between the two modules"),
    ("check sequence", "four octets at the end of a frame that show whether it was damaged (FCS)"),
    ("CMIS", "the memory map of QSFP-DD, OSFP and later modules"),
    ("common practice", "a fact of the trade for which no published source is known"),
    ("corrected codewords", "blocks that FEC repaired: normal in small numbers"),
    (
        "CR, SR, LR, ER, T",
        "endings of interface types: CR direct-attach copper, SR short reach on multimode fibre, LR and ER long and longer reach on single-mode fibre, T twisted pair; a number behind them is that of the lanes",
    ),
    ("dB, dBm", "decibels compare two powers: -3 dB is half; dBm compares with one milliwatt"),
    ("decibans", "ten times the logarithm of the odds: +10 makes a cause ten times as likely"),
    ("direct attach", "a copper cable with its modules fixed to it (twinax)"),
    (
        "downshift",
        "on twisted pair: the two ends take a lower speed since the cable does not carry the one they agreed on",
    ),
    ("duplex", "full: both directions at once; half: in turn, with collisions"),
    (
        "FEC",
        "forward error correction: extra symbols by which the receiver repairs damage; both ends must use the same code",
    ),
    (
        "from memory",
        "not looked up in the standard when this program was written: check it before you act on it",
    ),
    ("lane", "one of the parallel signals that make up a fast link"),
    (
        "lane rate and coding",
        "what a slot's lanes signal, and the part of it that is left for data: 8 GT/s with 128 of 130 bits, say",
    ),
    (
        "latched",
        "a flag that stays set until it is read: it tells that something happened, not that it is so now",
    ),
    (
        "late collision",
        "a collision later in a frame than half duplex allows (after 64 octets at up to 100 Mb/s): as a rule the other end sends without listening",
    ),
    ("loss of signal", "the receiver says that nothing strong enough arrives"),
    ("margin", "how far a reading is from its limit"),
    ("MTU", "the most octets of payload a frame carries; both ends must agree"),
    ("OM1 to OM5, OS2", "grades of multimode (OM) and single-mode (OS) fibre"),
    (
        "operational state",
        "whether a port passes frames, as RFC 2863 names it: up, down, dormant, ...",
    ),
    (
        "parallel detection",
        "finding the speed of a far end that does not negotiate by its signal; duplex cannot be found so, and half is assumed (IEEE 802.3 clause 28)",
    ),
    ("pause frame", "asks the other end to stop sending for a moment (IEEE 802.3 annex 31B)"),
    ("PHY", "the part that turns frames into signals on the medium"),
    ("polarity", "which strand carries which direction: transmit must meet receive"),
    (
        "power class, power level",
        "how much power a module may take at most: classes of QSFP and later modules (SFF-8636, CMIS), levels of SFP modules (SFF-8472)",
    ),
    ("raw bit-error ratio", "wrong bits of all bits on the line, before FEC corrects them"),
    ("reach", "the longest run an interface type is specified for on a medium"),
    ("remote fault", "the far end says that it does not hear this one"),
    ("SFF-8472, SFF-8636", "the memory maps of SFP and of QSFP modules"),
    ("slot", "where the adapter is plugged in; its lanes and rate limit what it can carry"),
    ("twisted pair", "copper cable of four pairs with RJ45 plugs, by category (Cat5e, Cat6A, ...)"),
    ("uncorrectable codewords", "blocks that FEC could not repair: frames are lost"),
    ("window", "the least and the most receive power an interface type works with"),
];

/// The glossary.
pub fn terms(style: Style) -> String {
    let mut page = Page::default();
    page.heading(style, "Terms of art");
    let width = TERMS.iter().map(|(term, _)| term.len()).max().unwrap_or(0);
    for (term, meaning) in TERMS {
        page.wrapped(style, &format!("  {}  ", pad(term, width)), meaning);
    }
    page.text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_order_and_each_once() {
        let lower: Vec<String> = TERMS.iter().map(|(term, _)| term.to_lowercase()).collect();
        assert!(lower.windows(2).all(|pair| pair[0] < pair[1]), "{lower:?}");
    }
}
