//! What the counters mean that drivers keep under names of their own.
//!
//! No standard gives these names: a row says what the kernel's documentation says of a name, or
//! what plain words in it can only mean (marked `mem`, from memory). Some drivers count something
//! else under a plain name, so what rests on a row says so, and a name that is not listed means
//! nothing here. Only growth counts: a private counter that stands still proves nothing.

use crate::standards::sources;

/// What is counted, the nearest to damage on the link first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// FEC codewords that could not be corrected.
    FecUncorrected,
    /// Frames with a wrong check sequence.
    CheckSequence,
    /// Frames that do not end on an octet.
    Alignment,
    /// Symbols that are no valid code.
    SymbolErrors,
    /// 64B/66B blocks that are no valid code.
    BlockErrors,
    /// Errors on a lane before FEC.
    LaneErrors,
    /// Codewords, symbols or bits that FEC corrected.
    FecCorrected,
    /// Losses of the link.
    LinkDown,
    /// Frames of a length that is not taken.
    Length,
    /// Frames lost in this host for want of room.
    NoRoom,
    /// Pause frames received.
    PauseReceived,
    /// Pause frames sent.
    PauseSent,
}

impl Kind {
    /// What is counted, in the words of the standard that is named.
    pub fn text(self) -> &'static str {
        match self {
            Self::FecUncorrected => "codewords beyond correction (IEEE 802.3 30.5.1.1.18)",
            Self::CheckSequence => "frames with a wrong check sequence (IEEE 802.3 30.3.1.1.6)",
            Self::Alignment => "frames that do not end on an octet (IEEE 802.3 30.3.1.1.7)",
            Self::SymbolErrors => "symbols that are no valid code (IEEE 802.3 30.3.2.1.5)",
            Self::BlockErrors => "blocks that are no valid code (IEEE 802.3 45.2.3)",
            Self::LaneErrors => "errors on a lane before FEC",
            Self::FecCorrected => "corrected by FEC (codewords: IEEE 802.3 30.5.1.1.17)",
            Self::LinkDown => "losses of the link",
            Self::Length => "frames of a length that is not taken (IEEE 802.3 30.3.1.1.23 to .25)",
            Self::NoRoom => "frames lost in this host for want of room",
            Self::PauseReceived => "pause frames received (IEEE 802.3 30.3.4.3)",
            Self::PauseSent => "pause frames sent (IEEE 802.3 30.3.4.2)",
        }
    }
}

/// Names of one meaning.
#[derive(Debug)]
pub struct Row {
    /// Names in small letters, words joined by `_`; `#` is a number.
    pub names: &'static [&'static str],
    /// What is counted.
    pub kind: Kind,
    /// What is told beyond that; empty where there is nothing.
    pub note: &'static str,
    /// Key of [`crate::standards::sources`].
    pub source: &'static str,
}

impl Row {
    /// The source in words.
    pub fn cite(&self) -> &'static str {
        sources::document(self.source).unwrap_or(self.source)
    }
}

/// The table.
#[rustfmt::skip]
pub const ROWS: &[Row] = &[
    Row { names: &["rx_crc_errors_phy"], kind: Kind::CheckSequence, note: "at the port itself", source: "K6" },
    Row { names: &["rx_crc_errors"], kind: Kind::CheckSequence, note: "", source: "K7" },
    Row { names: &["crc_errors", "rx_crc_error", "rx_crc_err", "rx_fcs_errors", "rx_fcs_error", "rx_fcs_err", "fcs_errors", "port_rx_crc_errors", "mac_rx_crc_errors", "rx_frame_check_sequence_errors"], kind: Kind::CheckSequence, note: "", source: "mem" },
    Row { names: &["rx_align_errors"], kind: Kind::Alignment, note: "", source: "K7" },
    Row { names: &["rx_alignment_errors", "alignment_errors", "align_errors", "rx_align_error"], kind: Kind::Alignment, note: "", source: "mem" },
    Row { names: &["rx_symbol_err_phy"], kind: Kind::SymbolErrors, note: "frames lost to them", source: "K6" },
    Row { names: &["rx_pcs_symbol_err_phy"], kind: Kind::SymbolErrors, note: "left over by FEC, or where none is at work", source: "K6" },
    Row { names: &["rx_symbol_errors", "rx_symbol_error", "rx_symbol_err", "symbol_errors", "port_rx_symbol_errors", "mac_rx_symbol_errors", "phy_symbol_errors"], kind: Kind::SymbolErrors, note: "", source: "mem" },
    Row { names: &["pcs_errored_blocks", "rx_pcs_errored_blocks", "rx_errored_blocks", "errored_blocks", "pcs_block_errors"], kind: Kind::BlockErrors, note: "", source: "mem" },
    Row { names: &["rx_err_lane_#_phy"], kind: Kind::LaneErrors, note: "the link has a high bit-error ratio", source: "K6" },
    Row { names: &["rx_corrected_bits_phy"], kind: Kind::FecCorrected, note: "bits", source: "K6" },
    Row { names: &["fec_corrected_bits", "rx_fec_corrected_bits"], kind: Kind::FecCorrected, note: "bits", source: "mem" },
    Row { names: &["fec_corrected_symbols", "rx_fec_corrected_symbols"], kind: Kind::FecCorrected, note: "symbols", source: "mem" },
    Row { names: &["fec_corrected", "fec_corrected_errors", "fec_corrected_blocks", "fec_corrected_codewords", "rx_fec_corrected", "rx_fec_corrected_errors", "rx_fec_corrected_blocks", "rx_fec_corrected_codewords", "rx_corrected_codewords"], kind: Kind::FecCorrected, note: "codewords", source: "mem" },
    Row { names: &["fec_uncorrected", "fec_uncorrectable", "fec_uncorrected_errors", "fec_uncorrectable_errors", "fec_uncorrected_blocks", "fec_uncorrectable_blocks", "fec_uncorrected_codewords", "fec_uncorrectable_codewords", "rx_fec_uncorrected", "rx_fec_uncorrectable", "rx_fec_uncorrected_errors", "rx_fec_uncorrectable_errors", "rx_fec_uncorrected_blocks", "rx_fec_uncorrectable_blocks", "rx_fec_uncorrected_codewords", "rx_fec_uncorrectable_codewords", "rx_uncorrectable_codewords"], kind: Kind::FecUncorrected, note: "", source: "mem" },
    Row { names: &["link_down_events_phy"], kind: Kind::LinkDown, note: "", source: "K6" },
    Row { names: &["link_down_events", "link_down_count", "link_downs"], kind: Kind::LinkDown, note: "", source: "mem" },
    Row { names: &["rx_undersize_pkts_phy", "rx_fragments_phy"], kind: Kind::Length, note: "shorter than 64 octets", source: "K6" },
    Row { names: &["rx_oversize_pkts_phy", "rx_out_of_range_len_phy"], kind: Kind::Length, note: "longer than is taken", source: "K6" },
    Row { names: &["rx_in_range_len_errors_phy"], kind: Kind::Length, note: "not as long as they say", source: "K6" },
    Row { names: &["rx_undersize"], kind: Kind::Length, note: "shorter than 64 octets", source: "K7" },
    Row { names: &["rx_runts"], kind: Kind::Length, note: "shorter than 64 octets, and damaged", source: "K7" },
    Row { names: &["rx_oversize"], kind: Kind::Length, note: "longer than is taken", source: "K7" },
    Row { names: &["rx_jabbers"], kind: Kind::Length, note: "longer than is taken, and damaged", source: "K7" },
    Row { names: &["rx_discards_phy"], kind: Kind::NoRoom, note: "the adapter's buffer was full", source: "K6" },
    Row { names: &["rx_out_of_buffer"], kind: Kind::NoRoom, note: "the receive queue had no buffer", source: "K6" },
    Row { names: &["outbound_pci_buffer_overflow"], kind: Kind::NoRoom, note: "on the way to the slot", source: "K6" },
    Row { names: &["rx_missed_errors", "rx_no_buffer", "rx_no_buffers", "rx_out_of_buffers", "rx_fifo_errors", "rx_over_errors"], kind: Kind::NoRoom, note: "", source: "mem" },
    Row { names: &["rx_pause_ctrl_phy", "rx_global_pause"], kind: Kind::PauseReceived, note: "", source: "K6" },
    Row { names: &["rx_pause"], kind: Kind::PauseReceived, note: "", source: "K7" },
    Row { names: &["rx_pause_frames", "rx_flow_control_pause"], kind: Kind::PauseReceived, note: "", source: "mem" },
    Row { names: &["tx_pause_ctrl_phy", "tx_global_pause"], kind: Kind::PauseSent, note: "", source: "K6" },
    Row { names: &["tx_pause"], kind: Kind::PauseSent, note: "", source: "K7" },
    Row { names: &["tx_pause_frames", "tx_flow_control_pause"], kind: Kind::PauseSent, note: "", source: "mem" },
];

/// The row of a name. Capital letters are small ones; a blank, `-`, `.` or `:` joins words as `_`
/// does.
pub fn row(name: &str) -> Option<&'static Row> {
    // No driver's name is longer (32 octets); a capture may hold anything.
    if name.len() > 32 {
        return None;
    }
    let plain: String = name
        .chars()
        .map(|character| match character {
            ' ' | '-' | '.' | ':' => '_',
            other => other.to_ascii_lowercase(),
        })
        .collect();
    ROWS.iter().find(|row| row.names.iter().any(|pattern| fits(pattern, &plain)))
}

fn fits(pattern: &str, name: &str) -> bool {
    let Some((before, after)) = pattern.split_once('#') else { return pattern == name };
    let number = name.strip_prefix(before).and_then(|rest| rest.strip_suffix(after));
    number.is_some_and(|text| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn rows_are_in_order() {
        let mut seen = HashSet::new();
        for row in ROWS {
            assert!(sources::resolves(row.source), "{}", row.source);
            assert!(!row.names.is_empty());
            for name in row.names {
                assert!(seen.insert(*name), "{name} twice");
                assert!(name.len() <= 32, "{name} is longer than any driver's name");
                let plain =
                    |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "_#".contains(c);
                assert!(name.chars().all(plain), "{name}");
                assert!(name.matches('#').count() <= 1, "{name}");
                let said = name.replace('#', "12");
                let found = super::row(&said).unwrap();
                assert_eq!(found.names, row.names, "{said} is another row's");
                assert!(super::row(&said.to_uppercase().replace('_', "-")).is_some(), "{said}");
            }
        }
    }

    /// Names and meanings as the kernel's documentation gives them: K6 (6.12), K7 (6.1).
    #[test]
    fn names_of_the_kernels_documentation() {
        for (name, kind) in [
            // "dropped received packets due to FCS (Frame Check Sequence) error"
            ("rx_crc_errors_phy", Kind::CheckSequence),
            // "symbol errors that wasn't corrected by FEC correction algorithm or that FEC
            // algorithm was not active"
            ("rx_pcs_symbol_err_phy", Kind::SymbolErrors),
            // "corrected bits on this port according to active FEC"
            ("rx_corrected_bits_phy", Kind::FecCorrected),
            // "physical raw errors per lane l index ... before FEC corrections"
            ("rx_err_lane_3_phy", Kind::LaneErrors),
            // "the link operative state changed to down"
            ("link_down_events_phy", Kind::LinkDown),
            // "dropped due to lack of buffers on a physical port"
            ("rx_discards_phy", Kind::NoRoom),
            // K7: "equivalent to aAlignmentErrors", "aPAUSEMACCtrlFramesTransmitted"
            ("rx_align_errors", Kind::Alignment),
            ("tx_pause", Kind::PauseSent),
            ("rx_pause", Kind::PauseReceived),
        ] {
            assert_eq!(row(name).unwrap().kind, kind, "{name}");
        }
    }

    /// What means something else, or nothing that is known.
    #[test]
    fn other_names_mean_nothing() {
        for name in [
            "",
            "#",
            "rx_err_lane__phy",
            "rx_err_lane_x_phy",
            "rx_err_lane_1_phy2",
            "rx_queue_0_drops",
            "rx_packets",
            "rx_csum_complete",
            "rx_crc_errors #2",
            "rx_prio3_pause_duration",
            "tx_crc_errors",
            "rx_crc_errors_phy_and_a_tail_that_is_too_long",
        ] {
            assert!(row(name).is_none(), "{name}");
        }
    }

    proptest::proptest! {
        #[test]
        fn any_name(name in "\\PC{0,50}") {
            let _ = row(&name);
        }
    }
}
