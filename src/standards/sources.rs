//! The documents behind the tables, by the keys that the rows use.
//!
//! Brand and person names are left out on purpose. The text of IEEE Std 802.3 itself was not at
//! hand when the tables were made: figures were read in documents that quote it.

/// Key and document.
#[rustfmt::skip]
pub const SOURCES: &[(&str, &str)] = &[
    ("mem", "from memory, not read in any source"),
    ("ID", "derived: least receive power = least launch power - greatest loss"),
    ("T1", "TIA Fiber Optics Tech Consortium (tiafotc.org), 25GBASE-SR application overview"),
    ("T2", "TIA Fiber Optics Tech Consortium, 400GBASE-SR8 and 400GBASE-SR4.2"),
    ("T3", "TIA Fiber Optics Tech Consortium, 100GBASE-FR1"),
    ("T4", "TIA Fiber Optics Tech Consortium, 400GBASE-LR8"),
    ("T6", "Cable-test maker's knowledge base, 10GBASE-T field testing, quoting TIA TSB-155"),
    ("T7", "cable-test maker, OM1-OM5 / OS1-OS2 fibre after ANSI/TIA-568.3-D (modal bandwidth, 1G/10G/40G reach and loss limits)"),
    ("G1", "National conformity rule for transport-network interfaces, table 3 (10GBASE-L), a state regulation"),
    ("E1", "Optical multiplexer manual, 2007, 1000BASE-SX tables after 802.3-2000 clause 38"),
    ("E2", "Packet transport node documentation, 2011, 1000BASE-SX/LX pages"),
    ("E3", "Access multiplexer technical manual, 1000BASE-SX/LX tables"),
    ("E4", "Switch installation manual, 2013, 10GBASE-ER after 802.3ae"),
    ("E5", "Switch installation manual, 2012, 10GBASE-LRM after 802.3aq"),
    ("E6", "Switch installation instructions, 10GBASE-LRM after 802.3-2012"),
    ("D1", "module data sheet: dual-rate SFP+ SR/LR brief (10G/1G, SFF-8472 rate select)"),
    ("D2", "module data sheet: SFP+ SR"),
    ("D3", "module data sheet: XFP SR specification sheet, 2007"),
    ("D4", "module data sheet: two SFP28 SR sheets (BER 5e-5)"),
    ("D5", "module data sheet: two SFP28 LR sheets"),
    ("D6", "module data sheet: SFP28 ER"),
    ("D7", "module data sheet: QSFP+ SR4 and LR4 sheets"),
    ("D8", "module data sheet: QSFP28 SR4"),
    ("D9", "module data sheet: two QSFP28 LR4 sheets"),
    ("D10", "module data sheet: SFP56 LR (BER 2.4e-4)"),
    ("D11", "module data sheet: QSFP-DD DR4"),
    ("D12", "module data sheet: QSFP-DD FR4 (single-wavelength 100G MSA values)"),
    ("D13", "module data sheet: QSFP56 SR4 (pre-FEC 2.4e-4)"),
    ("D14", "module data sheet: SFP+ 10GBASE-T, 30 m"),
    ("D15", "module data sheet: SFP+ LRM"),
    ("D16", "module data sheet: overview of SFP+ 10GBASE-T modules"),
    ("D17", "module data sheet: SFP+ SR, second maker"),
    ("D18", "module data sheet: SFP+ SR, diagnostics accuracy page"),
    ("A1", "FPGA maker's FEC application note, 2018"),
    ("A2", "Adapter maker's 25GbE link-mode application note, after IEEE 802.3-2018"),
    ("A3", "Cable maker's 25G DAC FEC class note, 2020, after 802.3by"),
    ("A4", "Cable FAQ, 2023 (loss limits of the 25G cable classes)"),
    ("A5", "Optics maker's note on 10G/25G retimer bypass"),
    ("A6", "Switch documentation, default autonegotiation by transceiver type and 1G SFP in SFP+ ports"),
    ("A7", "Summaries of the 802.3by and 802.3cc projects (objectives and PHY list)"),
    ("A9", "General article on cable categories"),
    ("A10", "Fibre trade association loss-budget page (typical values) and cabling pages quoting TIA-568 maxima"),
    ("A11", "Form-factor overview of SFP28"),
    ("A12", "IEEE 802.3aq task-force slides on table 68-3"),
    ("C1", "Cable maker's note on TIA-598-C colours"),
    ("C2", "Trade articles, 2017, on TIA-598-D-2"),
    ("P1", "FPGA maker's PCIe throughput note, 2017"),
    ("P2", "IP maker's PCIe bandwidth article, 2016"),
    ("P3", "Published quotation of the 40 Gb/s tunnel technology brief"),
    ("K1", "Linux `include/uapi/linux/if_link.h` (comments on rtnl_link_stats64)"),
    ("K2", "Linux kernel header comment on FEC statistics"),
    ("K3", "Linux `Documentation/networking/statistics.rst`"),
    ("K4", "Linux uapi, link extended sub-states and FEC modes"),
    ("K5", "Linux uapi, Ethernet netlink statistics groups (attribute numbering follows 802.3 clause 30)"),
    ("K6", "Linux `Documentation/networking/device_drivers/ethernet`, a driver's table of counters (read in 6.12)"),
    ("K7", "Linux `Documentation/networking/device_drivers/ethernet`, a driver's statistics after IEEE 802.3 and RFC 2819 (read in 6.1)"),
    ("R1", "RFC 2863"),
    ("R2", "RFC 3635"),
    ("R3", "RFC 2665"),
    ("R4", "Equipment MIB references reproducing the RFC 1643/3635 definitions"),
    ("L2", "IEC 60825-2:2004 scope"),
    ("L3", "Equipment manuals on class 1 transceivers"),
    ("L4", "Fibre-safety training text and router safety guide citing EN 60825-1"),
];

/// The document behind a key.
pub fn document(key: &str) -> Option<&'static str> {
    SOURCES.iter().find(|(known, _)| *known == key).map(|(_, text)| *text)
}

/// The documents behind keys that stand with spaces between them; any other text as it is.
pub fn cite(keys: &str) -> String {
    let documents: Option<Vec<&str>> = keys.split(' ').map(document).collect();
    documents.map_or_else(|| keys.to_owned(), |documents| documents.join("; "))
}

/// True if a row's source names at least one known key, and no key that is not known.
pub fn resolves(source: &str) -> bool {
    let is_key = |word: &&str| {
        let mut characters = word.chars();
        characters.next().is_some_and(|c| c.is_ascii_uppercase())
            && word.len() >= 2
            && characters.all(|c| c.is_ascii_digit())
            || *word == "mem"
            || *word == "ID"
    };
    let mut keys = source
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(is_key)
        .filter(|word| *word != "T6A")
        .peekable();
    keys.peek().is_some() && keys.all(|key| document(key).is_some())
}
