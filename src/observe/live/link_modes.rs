//! Numbers of the kernel's Ethernet family into names of IEEE 802.3.
//!
//! In: bit and code numbers. Out: the names that a snapshot holds. A number that is not listed
//! keeps its number (`mode bit 121`, `state-17`). Bits up to 92 stand in the 6.1 kernel header,
//! later ones were read from a 6.18 kernel's own list of names.

/// Link mode bits: number, kernel spelling, name.
#[rustfmt::skip]
pub(super) const MODES: &[(u32, &str, &str)] = &[
    (0, "10baseT_Half", "10BASE-T half"),
    (1, "10baseT_Full", "10BASE-T"),
    (2, "100baseT_Half", "100BASE-TX half"),
    (3, "100baseT_Full", "100BASE-TX"),
    (4, "1000baseT_Half", "1000BASE-T half"),
    (5, "1000baseT_Full", "1000BASE-T"),
    (12, "10000baseT_Full", "10GBASE-T"),
    (15, "2500baseX_Full", "2.5GBASE-X"),
    (17, "1000baseKX_Full", "1000BASE-KX"),
    (18, "10000baseKX4_Full", "10GBASE-KX4"),
    (19, "10000baseKR_Full", "10GBASE-KR"),
    (20, "10000baseR_FEC", "10GBASE-R"),
    (21, "20000baseMLD2_Full", "20GBASE-MLD2"),
    (22, "20000baseKR2_Full", "20GBASE-KR2"),
    (23, "40000baseKR4_Full", "40GBASE-KR4"),
    (24, "40000baseCR4_Full", "40GBASE-CR4"),
    (25, "40000baseSR4_Full", "40GBASE-SR4"),
    (26, "40000baseLR4_Full", "40GBASE-LR4"),
    (27, "56000baseKR4_Full", "56GBASE-KR4"),
    (28, "56000baseCR4_Full", "56GBASE-CR4"),
    (29, "56000baseSR4_Full", "56GBASE-SR4"),
    (30, "56000baseLR4_Full", "56GBASE-LR4"),
    (31, "25000baseCR_Full", "25GBASE-CR"),
    (32, "25000baseKR_Full", "25GBASE-KR"),
    (33, "25000baseSR_Full", "25GBASE-SR"),
    (34, "50000baseCR2_Full", "50GBASE-CR2"),
    (35, "50000baseKR2_Full", "50GBASE-KR2"),
    (36, "100000baseKR4_Full", "100GBASE-KR4"),
    (37, "100000baseSR4_Full", "100GBASE-SR4"),
    (38, "100000baseCR4_Full", "100GBASE-CR4"),
    (39, "100000baseLR4_ER4_Full", "100GBASE-LR4/ER4"),
    (40, "50000baseSR2_Full", "50GBASE-SR2"),
    (41, "1000baseX_Full", "1000BASE-X"),
    (42, "10000baseCR_Full", "10GBASE-CR"),
    (43, "10000baseSR_Full", "10GBASE-SR"),
    (44, "10000baseLR_Full", "10GBASE-LR"),
    (45, "10000baseLRM_Full", "10GBASE-LRM"),
    (46, "10000baseER_Full", "10GBASE-ER"),
    (47, "2500baseT_Full", "2.5GBASE-T"),
    (48, "5000baseT_Full", "5GBASE-T"),
    (52, "50000baseKR_Full", "50GBASE-KR"),
    (53, "50000baseSR_Full", "50GBASE-SR"),
    (54, "50000baseCR_Full", "50GBASE-CR"),
    (55, "50000baseLR_ER_FR_Full", "50GBASE-LR/ER/FR"),
    (56, "50000baseDR_Full", "50GBASE-DR"),
    (57, "100000baseKR2_Full", "100GBASE-KR2"),
    (58, "100000baseSR2_Full", "100GBASE-SR2"),
    (59, "100000baseCR2_Full", "100GBASE-CR2"),
    (60, "100000baseLR2_ER2_FR2_Full", "100GBASE-LR2/ER2/FR2"),
    (61, "100000baseDR2_Full", "100GBASE-DR2"),
    (62, "200000baseKR4_Full", "200GBASE-KR4"),
    (63, "200000baseSR4_Full", "200GBASE-SR4"),
    (64, "200000baseLR4_ER4_FR4_Full", "200GBASE-LR4/ER4/FR4"),
    (65, "200000baseDR4_Full", "200GBASE-DR4"),
    (66, "200000baseCR4_Full", "200GBASE-CR4"),
    (67, "100baseT1_Full", "100BASE-T1"),
    (68, "1000baseT1_Full", "1000BASE-T1"),
    (69, "400000baseKR8_Full", "400GBASE-KR8"),
    (70, "400000baseSR8_Full", "400GBASE-SR8"),
    (71, "400000baseLR8_ER8_FR8_Full", "400GBASE-LR8/ER8/FR8"),
    (72, "400000baseDR8_Full", "400GBASE-DR8"),
    (73, "400000baseCR8_Full", "400GBASE-CR8"),
    (75, "100000baseKR_Full", "100GBASE-KR"),
    (76, "100000baseSR_Full", "100GBASE-SR"),
    (77, "100000baseLR_ER_FR_Full", "100GBASE-LR/ER/FR"),
    (78, "100000baseCR_Full", "100GBASE-CR"),
    (79, "100000baseDR_Full", "100GBASE-DR"),
    (80, "200000baseKR2_Full", "200GBASE-KR2"),
    (81, "200000baseSR2_Full", "200GBASE-SR2"),
    (82, "200000baseLR2_ER2_FR2_Full", "200GBASE-LR2/ER2/FR2"),
    (83, "200000baseDR2_Full", "200GBASE-DR2"),
    (84, "200000baseCR2_Full", "200GBASE-CR2"),
    (85, "400000baseKR4_Full", "400GBASE-KR4"),
    (86, "400000baseSR4_Full", "400GBASE-SR4"),
    (87, "400000baseLR4_ER4_FR4_Full", "400GBASE-LR4/ER4/FR4"),
    (88, "400000baseDR4_Full", "400GBASE-DR4"),
    (89, "400000baseCR4_Full", "400GBASE-CR4"),
    (90, "100baseFX_Half", "100BASE-FX half"),
    (91, "100baseFX_Full", "100BASE-FX"),
    (92, "10baseT1L_Full", "10BASE-T1L"),
    (93, "800000baseCR8_Full", "800GBASE-CR8"),
    (94, "800000baseKR8_Full", "800GBASE-KR8"),
    (95, "800000baseDR8_Full", "800GBASE-DR8"),
    (96, "800000baseDR8_2_Full", "800GBASE-DR8-2"),
    (97, "800000baseSR8_Full", "800GBASE-SR8"),
    (98, "800000baseVR8_Full", "800GBASE-VR8"),
    (99, "10baseT1S_Full", "10BASE-T1S"),
    (100, "10baseT1S_Half", "10BASE-T1S half"),
    (101, "10baseT1S_P2MP_Half", "10BASE-T1S multidrop half"),
    (102, "10baseT1BRR_Full", "10BASE-T1BRR"),
    (103, "200000baseCR_Full", "200GBASE-CR"),
    (104, "200000baseKR_Full", "200GBASE-KR"),
    (105, "200000baseDR_Full", "200GBASE-DR"),
    (106, "200000baseDR_2_Full", "200GBASE-DR-2"),
    (107, "200000baseSR_Full", "200GBASE-SR"),
    (108, "200000baseVR_Full", "200GBASE-VR"),
    (109, "400000baseCR2_Full", "400GBASE-CR2"),
    (110, "400000baseKR2_Full", "400GBASE-KR2"),
    (111, "400000baseDR2_Full", "400GBASE-DR2"),
    (112, "400000baseDR2_2_Full", "400GBASE-DR2-2"),
    (113, "400000baseSR2_Full", "400GBASE-SR2"),
    (114, "400000baseVR2_Full", "400GBASE-VR2"),
    (115, "800000baseCR4_Full", "800GBASE-CR4"),
    (116, "800000baseKR4_Full", "800GBASE-KR4"),
    (117, "800000baseDR4_Full", "800GBASE-DR4"),
    (118, "800000baseDR4_2_Full", "800GBASE-DR4-2"),
    (119, "800000baseSR4_Full", "800GBASE-SR4"),
    (120, "800000baseVR4_Full", "800GBASE-VR4"),
];

/// Bits of the same set that are no speeds: negotiation, connectors, pause, backplane, FEC.
pub(super) const NO_SPEED: &[u32] = &[6, 7, 8, 9, 10, 11, 13, 14, 16, 49, 50, 51, 74];

/// FEC bits of the link mode set: number, kernel spelling, name.
pub(super) const FEC: &[(u32, &str, &str)] = &[
    (49, "FEC_NONE", "none"),
    (50, "FEC_RS", "rs"),
    (51, "FEC_BASER", "base-r"),
    (74, "FEC_LLRS", "ll-rs"),
];

/// Names of the modes whose bits are set, FEC left out.
pub(super) fn mode_names(bits: &[u32]) -> Vec<String> {
    bits.iter()
        .filter(|bit| !NO_SPEED.contains(bit))
        .map(|bit| match MODES.iter().find(|(number, _, _)| number == bit) {
            Some((_, _, name)) => (*name).to_owned(),
            None => format!("mode bit {bit}"),
        })
        .collect()
}

/// Names of the FEC codes whose bits are set.
pub(super) fn fec_names(bits: &[u32]) -> Vec<String> {
    FEC.iter()
        .filter(|(number, _, _)| bits.contains(number))
        .map(|(_, _, name)| (*name).to_owned())
        .collect()
}

/// Name of one FEC code by its bit number.
pub(super) fn fec_name(bit: u32) -> String {
    FEC.iter()
        .find(|(number, _, _)| *number == bit)
        .map_or_else(|| format!("mode bit {bit}"), |(_, _, name)| (*name).to_owned())
}

/// Extended link states: kernel spelling, name; the number is the place in the list.
pub(super) const STATES: &[(&str, &str)] = &[
    ("AUTONEG", "autonegotiation"),
    ("LINK_TRAINING_FAILURE", "link-training-failure"),
    ("LINK_LOGICAL_MISMATCH", "logical-mismatch"),
    ("BAD_SIGNAL_INTEGRITY", "bad-signal-integrity"),
    ("NO_CABLE", "no-cable"),
    ("CABLE_ISSUE", "cable-issue"),
    ("EEPROM_ISSUE", "module-memory-issue"),
    ("CALIBRATION_FAILURE", "calibration-failure"),
    ("POWER_BUDGET_EXCEEDED", "power-budget-exceeded"),
    ("OVERHEAT", "overheat"),
    ("MODULE", "module"),
];

/// Substates of a state; the number is the place in the list, from 1.
pub(super) const SUBSTATES: &[(&str, &[&str])] = &[
    (
        "autonegotiation",
        &[
            "no-partner-detected",
            "acknowledge-not-received",
            "next-page-exchange-failed",
            "no-partner-detected-in-forced-mode",
            "fec-mismatch-during-override",
            "no-common-mode",
        ],
    ),
    (
        "link-training-failure",
        &[
            "frame-lock-not-acquired",
            "link-inhibit-timeout",
            "partner-did-not-set-receiver-ready",
            "remote-fault",
        ],
    ),
    (
        "logical-mismatch",
        &[
            "no-block-lock",
            "no-alignment-marker-lock",
            "no-alignment",
            "base-r-fec-not-locked",
            "rs-fec-not-locked",
        ],
    ),
    (
        "bad-signal-integrity",
        &[
            "many-physical-errors",
            "unsupported-rate",
            "reference-clock-lost",
            "loss-of-analogue-signal",
        ],
    ),
    ("cable-issue", &["unsupported-cable", "cable-test-failure"]),
    ("module", &["module-not-ready"]),
];

/// Name of an extended state.
pub(super) fn state_name(number: u8) -> String {
    STATES
        .get(usize::from(number))
        .map_or_else(|| format!("state-{number}"), |(_, name)| (*name).to_owned())
}

/// Name of a substate of a named state.
pub(super) fn substate_name(state: &str, number: u8) -> String {
    SUBSTATES
        .iter()
        .find(|(name, _)| *name == state)
        .and_then(|(_, names)| names.get(usize::from(number).checked_sub(1)?))
        .map_or_else(|| format!("substate-{number}"), |name| (*name).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::observe::live::header_test::{header, members};

    /// Every number against the kernel header installed on this machine (linux-libc-dev, which
    /// comes with a C compiler).
    #[test]
    fn numbers_of_the_kernel_header() {
        let text = header("ethtool.h");
        let mut checked = 0;
        for (number, spelling, _) in MODES.iter().chain(FEC) {
            let line = text.lines().find(|line| {
                line.trim_start().starts_with(&format!("ETHTOOL_LINK_MODE_{spelling}_BIT"))
            });
            // Bits newer than the header cannot be checked against it.
            let Some(line) = line else {
                assert!(*number > 92, "bit {number} {spelling} is not in the header");
                continue;
            };
            let value: u32 =
                line.split('=').nth(1).unwrap().trim().trim_end_matches(',').parse().unwrap();
            assert_eq!(value, *number, "{spelling}");
            checked += 1;
        }
        assert!(checked > 75, "{checked}");
        // And the other way: no bit of the header is left out of the tables.
        for line in text.lines().filter(|line| line.contains("_BIT") && line.contains('=')) {
            let Some(rest) = line.trim().strip_prefix("ETHTOOL_LINK_MODE_") else { continue };
            let (name, bit) = rest.split_once('=').unwrap();
            let bit: u32 = bit.trim().trim_end_matches(',').parse().unwrap();
            let listed = MODES.iter().chain(FEC).any(|(number, _, _)| *number == bit);
            assert!(listed || NO_SPEED.contains(&bit), "{name} is not in the tables");
        }
        let order = members(&text, "enum ethtool_link_ext_state {");
        let ours: Vec<String> =
            STATES.iter().map(|(s, _)| format!("ETHTOOL_LINK_EXT_STATE_{s}")).collect();
        assert_eq!(order, ours);
    }

    /// Substates: the header's members in order, each beside its name here; they count from 1.
    #[test]
    fn substates_of_the_kernel_header() {
        let text = header("ethtool.h");
        for (list, state, expected) in [
            (
                "autoneg",
                "autonegotiation",
                &[
                    ("AN_NO_PARTNER_DETECTED", "no-partner-detected"),
                    ("AN_ACK_NOT_RECEIVED", "acknowledge-not-received"),
                    ("AN_NEXT_PAGE_EXCHANGE_FAILED", "next-page-exchange-failed"),
                    ("AN_NO_PARTNER_DETECTED_FORCE_MODE", "no-partner-detected-in-forced-mode"),
                    ("AN_FEC_MISMATCH_DURING_OVERRIDE", "fec-mismatch-during-override"),
                    ("AN_NO_HCD", "no-common-mode"),
                ][..],
            ),
            (
                "link_training",
                "link-training-failure",
                &[
                    ("LT_KR_FRAME_LOCK_NOT_ACQUIRED", "frame-lock-not-acquired"),
                    ("LT_KR_LINK_INHIBIT_TIMEOUT", "link-inhibit-timeout"),
                    (
                        "LT_KR_LINK_PARTNER_DID_NOT_SET_RECEIVER_READY",
                        "partner-did-not-set-receiver-ready",
                    ),
                    ("LT_REMOTE_FAULT", "remote-fault"),
                ],
            ),
            (
                "link_logical_mismatch",
                "logical-mismatch",
                &[
                    ("LLM_PCS_DID_NOT_ACQUIRE_BLOCK_LOCK", "no-block-lock"),
                    ("LLM_PCS_DID_NOT_ACQUIRE_AM_LOCK", "no-alignment-marker-lock"),
                    ("LLM_PCS_DID_NOT_GET_ALIGN_STATUS", "no-alignment"),
                    ("LLM_FC_FEC_IS_NOT_LOCKED", "base-r-fec-not-locked"),
                    ("LLM_RS_FEC_IS_NOT_LOCKED", "rs-fec-not-locked"),
                ],
            ),
            (
                "bad_signal_integrity",
                "bad-signal-integrity",
                &[
                    ("BSI_LARGE_NUMBER_OF_PHYSICAL_ERRORS", "many-physical-errors"),
                    ("BSI_UNSUPPORTED_RATE", "unsupported-rate"),
                    ("BSI_SERDES_REFERENCE_CLOCK_LOST", "reference-clock-lost"),
                    ("BSI_SERDES_ALOS", "loss-of-analogue-signal"),
                ],
            ),
            (
                "cable_issue",
                "cable-issue",
                &[
                    ("CI_UNSUPPORTED_CABLE", "unsupported-cable"),
                    ("CI_CABLE_TEST_FAILURE", "cable-test-failure"),
                ],
            ),
            ("module", "module", &[("MODULE_CMIS_NOT_READY", "module-not-ready")]),
        ] {
            let there = members(&text, &format!("enum ethtool_link_ext_substate_{list} {{"));
            let spelt: Vec<String> = expected
                .iter()
                .map(|(spelling, _)| format!("ETHTOOL_LINK_EXT_SUBSTATE_{spelling}"))
                .collect();
            assert_eq!(there, spelt);
            for (number, (spelling, name)) in (1..).zip(expected) {
                assert_eq!(substate_name(state, number), *name, "{spelling}");
            }
        }
    }

    #[test]
    fn names_agree_with_their_spelling() {
        for (_, spelling, name) in MODES {
            let rate = spelling.split("base").next().unwrap().parse().unwrap();
            let speed = crate::standards::names::speed_of(name);
            assert_eq!(speed, Some(crate::quantity::Mbps(rate)), "{spelling} {name}");
        }
        assert_eq!(mode_names(&[5, 6, 33, 50, 300]), ["1000BASE-T", "25GBASE-SR", "mode bit 300"]);
        assert_eq!(fec_names(&[5, 50, 49]), ["none", "rs"]);
        assert_eq!(state_name(4), "no-cable");
        assert_eq!(state_name(99), "state-99");
        assert_eq!(substate_name("logical-mismatch", 5), "rs-fec-not-locked");
        assert_eq!(substate_name("no-cable", 0), "substate-0");
    }
}
