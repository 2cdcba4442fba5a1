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
    ("corrected codewords", "blocks that FEC repaired: normal in small numbers"),
    ("dB, dBm", "decibels compare two powers: -3 dB is half; dBm compares with one milliwatt"),
    ("decibans", "ten times the logarithm of the odds: +10 makes a cause ten times as likely"),
    ("direct attach", "a copper cable with its modules fixed to it (twinax)"),
    ("duplex", "full: both directions at once; half: in turn, with collisions"),
    (
        "FEC",
        "forward error correction: extra symbols by which the receiver repairs damage; both ends must use the same code",
    ),
    ("lane", "one of the parallel signals that make up a fast link"),
    ("loss of signal", "the receiver says that nothing strong enough arrives"),
    ("margin", "how far a reading is from its limit"),
    ("MTU", "the most octets of payload a frame carries; both ends must agree"),
    ("OM1 to OM5, OS2", "grades of multimode (OM) and single-mode (OS) fibre"),
    (
        "operational state",
        "whether a port passes frames, as RFC 2863 names it: up, down, dormant, ...",
    ),
    ("pause frame", "asks the other end to stop sending for a moment (IEEE 802.3 annex 31B)"),
    ("PHY", "the part that turns frames into signals on the medium"),
    ("polarity", "which strand carries which direction: transmit must meet receive"),
    ("raw bit-error ratio", "wrong bits of all bits on the line, before FEC corrects them"),
    ("reach", "the longest run an interface type is specified for on a medium"),
    ("remote fault", "the far end says that it does not hear this one"),
    ("SFF-8472, SFF-8636", "the memory maps of SFP and of QSFP modules"),
    ("slot", "where the adapter is plugged in; its lanes and rate limit what it can carry"),
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
