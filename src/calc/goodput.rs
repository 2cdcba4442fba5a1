//! What of a link's speed is left for data, and what a measured rate says.
//!
//! Frame arithmetic of section 6 of the media notes: around a packet stand 14 octets of header, 4 of
//! check sequence, 8 of preamble and 12 of gap (IEEE 802.3, from memory), 4 a VLAN tag; inside it the
//! headers of RFC 791, 8200, 9293 and 768, and 12 octets of timestamps (RFC 7323).

use crate::quantity::{BitsPerSecond, Mbps, Octets, PerSecond, Seconds};

/// Header, check sequence, preamble and gap around an untagged packet, octets.
const AROUND: u32 = 38;
/// Preamble and gap around a frame, octets.
const BETWEEN: f64 = 20.0;
/// Check sequence, which byte counters leave out (kernel, `if_link.h`), octets.
const CHECK: f64 = 4.0;
/// The smallest frame of IEEE 802.3, octets (from memory).
const LEAST_FRAME: Octets = Octets(64);

/// Internet protocol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Internet {
    /// Version 4: a header of 20 octets, packets of 68 octets at least (RFC 791).
    V4,
    /// Version 6: a header of 40 octets, packets of 1280 octets at least (RFC 8200).
    V6,
}

/// Transport protocol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transport {
    /// TCP: a header of 20 octets, 32 with timestamps.
    Tcp {
        /// Timestamps are in use, as they are by default.
        timestamps: bool,
    },
    /// UDP: a header of 8 octets.
    Udp,
}

/// What carries the data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stack {
    /// Largest packet.
    pub mtu: Octets,
    /// VLAN tags on each frame.
    pub vlan_tags: u8,
    /// Internet protocol.
    pub internet: Internet,
    /// Transport protocol.
    pub transport: Transport,
}

impl Stack {
    /// What most transfers are: 1500 octets, no tag, IPv4, TCP with timestamps.
    pub const USUAL: Self = Self {
        mtu: Octets(1500),
        vlan_tags: 0,
        internet: Internet::V4,
        transport: Transport::Tcp { timestamps: true },
    };

    /// The share of the MAC's rate that is data, full packets back to back. `None` for an MTU that
    /// the protocol does not allow.
    pub fn efficiency(&self) -> Option<f64> {
        let (least, internet) = match self.internet {
            Internet::V4 => (68, 20),
            Internet::V6 => (1280, 40),
        };
        let transport = match self.transport {
            Transport::Tcp { timestamps: false } => 20,
            Transport::Tcp { timestamps: true } => 32,
            Transport::Udp => 8,
        };
        if self.mtu.0 < least {
            return None;
        }
        let data = f64::from(self.mtu.0) - f64::from(internet + transport);
        let around = AROUND + 4 * u32::from(self.vlan_tags);
        Some(data / (f64::from(self.mtu.0) + f64::from(around)))
    }

    /// The share of what crosses the host bus that is data: packets with their Ethernet header, without
    /// check sequence, preamble and gap, which the adapter adds.
    pub fn share_on_bus(&self) -> Option<f64> {
        let inside = f64::from(self.mtu.0 + 14 + 4 * u32::from(self.vlan_tags));
        let on_wire = f64::from(self.mtu.0 + AROUND + 4 * u32::from(self.vlan_tags));
        Some(self.efficiency()? * on_wire / inside)
    }

    /// The most data a second at a speed, one direction, full duplex: `speed x (MTU - headers) /
    /// (MTU + 38)`. `None` as [`Self::efficiency`], or for no speed.
    pub fn goodput(&self, speed: Mbps) -> Option<BitsPerSecond> {
        let rate = speed.bits_per_second().0 * self.efficiency()?;
        (rate > 0.0).then_some(BitsPerSecond(rate))
    }
}

/// Frames of this size (with check sequence) that a speed carries back to back. `None` for frames
/// below 64 octets.
pub fn frames(speed: Mbps, frame: Octets) -> Option<PerSecond> {
    let bits = (f64::from(frame.0) + BETWEEN) * 8.0;
    (frame >= LEAST_FRAME).then(|| PerSecond(speed.bits_per_second().0 / bits))
}

/// What byte and packet counters say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Octets that were counted, as a rate: without check sequence, preamble and gap.
    pub shown: BitsPerSecond,
    /// What the wire was busy with: to be held against the speed.
    pub wire: BitsPerSecond,
}

/// Rates from how far the counters grew. `None` for a time that is not above zero.
pub fn counted(octets: u64, packets: u64, time: Seconds) -> Option<Counted> {
    if !(time.0 > 0.0 && time.0.is_finite()) {
        return None;
    }
    // Above 2^53 the last figures go, which no rate shows.
    #[allow(clippy::cast_precision_loss)]
    let (octets, packets) = (octets as f64, packets as f64);
    let rate = |octets: f64| BitsPerSecond(octets * 8.0 / time.0);
    let (shown, wire) = (rate(octets), rate(octets + packets * (CHECK + BETWEEN)));
    wire.0.is_finite().then_some(Counted { shown, wire })
}

/// A rate that somebody measured, and what is known of the link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Data a second, one direction.
    pub rate: BitsPerSecond,
    /// Speed that the link runs at.
    pub running: Mbps,
    /// The link runs half duplex.
    pub half_duplex: bool,
    /// What carried the data.
    pub stack: Stack,
    /// What the host bus carries at most ([`super::slot`]), where known.
    pub slot: Option<Mbps>,
}

/// What a measured rate fits. None is a proof: a rate may fit by chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Explanation {
    /// The data ceiling of the running speed, within 1 %: the link gives what it can.
    Full {
        /// That ceiling.
        ceiling: BitsPerSecond,
    },
    /// The data ceiling of a lower standard speed, within 1.5 %: some hop of the path may run at it.
    SlowerHop {
        /// The speed of that hop.
        speed: Mbps,
        /// Its data ceiling.
        ceiling: BitsPerSecond,
    },
    /// What the host bus carries: from 10 % below, for descriptors and flow control, to 5 % above,
    /// for payloads larger than assumed.
    Slot {
        /// What the bus carries.
        ceiling: Mbps,
    },
    /// Above the data ceiling, but not above the speed: packets larger than assumed, or headers
    /// counted as data.
    AboveCeiling {
        /// The ceiling.
        ceiling: BitsPerSecond,
    },
    /// Above the speed: no data of one direction of this link.
    AboveSpeed {
        /// An eighth of it fits the ceiling: bits may have been taken for octets.
        eighth_fits: bool,
    },
    /// Below the ceiling, and none of the known ones.
    Below {
        /// Its share of the ceiling of the running speed.
        share: f64,
        /// Eight times it fits the ceiling: it may be octets a second.
        eightfold_fits: bool,
        /// The link runs half duplex: both directions share the speed, and collisions cost more.
        half_duplex: bool,
    },
}

/// Speeds that the standards name, slowest first.
const SPEEDS: [u32; 12] =
    [10, 100, 1000, 2500, 5000, 10_000, 25_000, 40_000, 50_000, 100_000, 200_000, 400_000];

/// True if a rate is a ceiling, give or take a share of it.
fn fits(rate: BitsPerSecond, ceiling: BitsPerSecond, by: f64) -> bool {
    (rate.0 / ceiling.0 - 1.0).abs() <= by
}

/// What a measured rate fits: all of it, since a number may fit more than one ceiling; one at least.
/// `None` for a rate that is zero, negative or no number, or a stack that cannot be.
pub fn explain(measured: &Measured) -> Option<Vec<Explanation>> {
    let Measured { rate, running, half_duplex, stack, slot } = *measured;
    let ceiling = stack.goodput(running)?;
    if !(rate.0 > 0.0 && rate.0.is_finite()) {
        return None;
    }
    let mut all = Vec::new();
    if fits(rate, ceiling, 0.01) {
        all.push(Explanation::Full { ceiling });
    }
    // A hop that is slower need not take the long packets that this port does.
    let usual = Stack { mtu: Octets(stack.mtu.0.min(1500)), ..stack };
    for speed in SPEEDS.map(Mbps).into_iter().filter(|speed| *speed < running) {
        let ceilings = [stack, usual].into_iter().filter_map(|stack| stack.goodput(speed));
        if let Some(ceiling) = ceilings.into_iter().find(|lower| fits(rate, *lower, 0.015)) {
            all.push(Explanation::SlowerHop { speed, ceiling });
        }
    }
    if let Some(slot) = slot.filter(|slot| slot.bits_per_second() < ceiling)
        && (0.9..=1.05).contains(&(rate.0 / slot.bits_per_second().0))
    {
        all.push(Explanation::Slot { ceiling: slot });
    }
    if all.is_empty() {
        all.push(if rate > running.bits_per_second() {
            let eighth = BitsPerSecond(rate.0 / 8.0);
            Explanation::AboveSpeed { eighth_fits: fits(eighth, ceiling, 0.01) }
        } else if rate > ceiling {
            Explanation::AboveCeiling { ceiling }
        } else {
            let eightfold_fits = fits(BitsPerSecond(rate.0 * 8.0), ceiling, 0.01);
            Explanation::Below { share: rate.0 / ceiling.0, eightfold_fits, half_duplex }
        });
    }
    Some(all)
}

impl Explanation {
    /// What it says and what to look for, in a sentence or two.
    pub fn sentence(&self) -> String {
        match *self {
            Self::Full { ceiling } => format!(
                "This is all the data that the link can carry at the speed it runs at ({ceiling}): it is fine."
            ),
            Self::SlowerHop { speed, ceiling } => format!(
                "This fits a hop at {speed} ({ceiling} of data): look for a port on the way that runs at that speed."
            ),
            Self::Slot { ceiling } => format!(
                "This fits what the adapter's slot carries ({ceiling}): look at the slot's generation and width."
            ),
            Self::AboveCeiling { ceiling } => format!(
                "This is more than packets of that size leave for data ({ceiling}): headers were counted, or packets are larger."
            ),
            Self::AboveSpeed { eighth_fits } => format!(
                "This cannot be data of one direction of this link: look for compression, several links or both \
                 directions added up, or bits taken for octets{}.",
                if eighth_fits { " (an eighth of it fits the link)" } else { "" }
            ),
            Self::Below { share, eightfold_fits, half_duplex } => format!(
                "This is {:.1} % of what the link can carry and fits no known ceiling: look for {}{}the hosts, TCP window \
                 and round-trip time, and loss.",
                share * 100.0,
                if half_duplex { "collisions, as the link runs half duplex, " } else { "" },
                if eightfold_fits {
                    "octets taken for bits (eight times it fits the link), "
                } else {
                    ""
                },
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::bit_error_bound::tests::near;
    use proptest::prelude::*;

    const SPEEDS_OF_TABLES: [u32; 7] = [1000, 2500, 5000, 10_000, 25_000, 40_000, 100_000];

    fn stack(mtu: u32, internet: Internet, transport: Transport) -> Stack {
        Stack { mtu: Octets(mtu), vlan_tags: 0, internet, transport }
    }

    /// Media notes, section 6: both tables of what is left, in Gb/s.
    #[test]
    #[rustfmt::skip]
    fn tables_of_goodput() {
        use Internet::{V4, V6};
        const PLAIN: Transport = Transport::Tcp { timestamps: false };
        const STAMPED: Transport = Transport::Tcp { timestamps: true };
        const UDP: Transport = Transport::Udp;
        for (mtu, internet, transport, efficiency, rates) in [
            (1500, V4, PLAIN, 0.949285, [0.9493, 2.3732, 4.7464, 9.4928, 23.7321, 37.9714, 94.9285]),
            (1500, V4, STAMPED, 0.941482, [0.9415, 2.3537, 4.7074, 9.4148, 23.5371, 37.6593, 94.1482]),
            (1500, V6, PLAIN, 0.936281, [0.9363, 2.3407, 4.6814, 9.3628, 23.4070, 37.4512, 93.6281]),
            (1500, V6, STAMPED, 0.928479, [0.9285, 2.3212, 4.6424, 9.2848, 23.2120, 37.1391, 92.8479]),
            (1500, V4, UDP, 0.957087, [0.9571, 2.3927, 4.7854, 9.5709, 23.9272, 38.2835, 95.7087]),
            (1500, V6, UDP, 0.944083, [0.9441, 2.3602, 4.7204, 9.4408, 23.6021, 37.7633, 94.4083]),
            (9000, V4, PLAIN, 0.991370, [0.9914, 2.4784, 4.9568, 9.9137, 24.7842, 39.6548, 99.1370]),
            (9000, V4, STAMPED, 0.990042, [0.9900, 2.4751, 4.9502, 9.9004, 24.7511, 39.6017, 99.0042]),
            (9000, V6, PLAIN, 0.989157, [0.9892, 2.4729, 4.9458, 9.8916, 24.7289, 39.5663, 98.9157]),
            (9000, V6, STAMPED, 0.987829, [0.9878, 2.4696, 4.9391, 9.8783, 24.6957, 39.5132, 98.7829]),
            (9000, V4, UDP, 0.992697, [0.9927, 2.4817, 4.9635, 9.9270, 24.8174, 39.7079, 99.2697]),
            (9000, V6, UDP, 0.990485, [0.9905, 2.4762, 4.9524, 9.9048, 24.7621, 39.6194, 99.0485]),
        ] {
            let stack = stack(mtu, internet, transport);
            let found = stack.efficiency().unwrap();
            assert!((found - efficiency).abs() < 5.1e-7, "{stack:?}: {found}");
            for (speed, theirs) in SPEEDS_OF_TABLES.into_iter().zip(rates) {
                let found = stack.goodput(Mbps(speed)).unwrap().0 / 1e9;
                assert!((found - theirs).abs() < 5.1e-5, "{stack:?} at {speed}: {found}");
            }
        }
    }

    /// Media notes, section 6: the table of frames a second; e2.
    #[test]
    #[rustfmt::skip]
    fn table_of_frames() {
        for (frame, rates) in [
            (64, [1_488_095.0, 3_720_238.0, 7_440_476.0, 14_880_952.0, 37_202_381.0, 59_523_810.0, 148_809_524.0]),
            (512, [234_962.0, 587_406.0, 1_174_812.0, 2_349_624.0, 5_874_060.0, 9_398_496.0, 23_496_241.0]),
            (1518, [81_274.0, 203_186.0, 406_372.0, 812_744.0, 2_031_860.0, 3_250_975.0, 8_127_438.0]),
            (9018, [13_830.0, 34_576.0, 69_152.0, 138_305.0, 345_762.0, 553_220.0, 1_383_049.0]),
        ] {
            for (speed, theirs) in SPEEDS_OF_TABLES.into_iter().zip(rates) {
                let found = frames(Mbps(speed), Octets(frame)).unwrap().0;
                assert!((found - theirs).abs() <= 0.5, "{frame} at {speed}: {found}");
            }
        }
        let each = 1.0 / frames(Mbps(10_000), Octets(64)).unwrap().0;
        near(each, 67.2e-9, 1e-9); // e2
        assert_eq!(frames(Mbps(10_000), Octets(63)), None);
    }

    /// Media notes, section 6: e1, e3, e4.
    #[test]
    fn worked_rates() {
        let tagged = Stack { vlan_tags: 1, ..Stack::USUAL };
        near(tagged.goodput(Mbps(1000)).unwrap().0, 939.04e6, 6e-6); // e1
        // e3, e4: 10G full of 1518-octet frames for an hour, of which the kernel counts 1514.
        let packets = 812_744 * 3600;
        let found = counted(packets * 1514, packets, Seconds(3600.0)).unwrap();
        near(found.shown.0, 9.8440e9, 6e-6);
        near(found.wire.0, 10.0000e9, 1e-6);
        for time in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(counted(1, 1, Seconds(time)), None);
        }
        assert!(counted(u64::MAX, u64::MAX, Seconds(1.0)).is_some());
        assert_eq!(counted(u64::MAX, u64::MAX, Seconds(f64::MIN_POSITIVE)), None);
    }

    fn explained(megabits: f64, running: u32, slot: Option<u32>) -> Vec<Explanation> {
        let rate = BitsPerSecond(megabits * 1e6);
        let slot = slot.map(Mbps);
        let half_duplex = running <= 100;
        let measured =
            Measured { rate, running: Mbps(running), half_duplex, stack: Stack::USUAL, slot };
        explain(&measured).unwrap()
    }

    /// Media notes, section 6, e5 and e6; section 7, f5; the rest by hand from the tables above.
    #[test]
    fn measured_rates() {
        // e5: 941 Mb/s on 1G are 99.95 % of the ceiling.
        let full = explained(941.0, 1000, None);
        let [Explanation::Full { ceiling }] = full[..] else { panic!("{full:?}") };
        near(941e6 / ceiling.0, 0.9995, 6e-5);
        // e6: 94 Mb/s on "1G" fit the ceiling of 100 Mb/s, 94.15.
        let slower = explained(94.0, 1000, None);
        let [Explanation::SlowerHop { speed: Mbps(100), ceiling }] = slower[..] else {
            panic!("{slower:?}")
        };
        near(ceiling.0, 94.15e6, 3e-5);
        // f5: a 10G card in a slot for 7.31 Gb/s.
        let slot = explained(6900.0, 10_000, Some(7314));
        assert_eq!(slot, [Explanation::Slot { ceiling: Mbps(7314) }]);
        // A number that fits two: 94.9 Gb/s on 200G, in a slot for 105.
        let both = explained(94_900.0, 200_000, Some(105_000));
        assert!(
            matches!(
                both[..],
                [Explanation::SlowerHop { speed: Mbps(100_000), .. }, Explanation::Slot { .. }]
            ),
            "{both:?}"
        );
        // A slot that carries more than the link is not its ceiling.
        assert!(matches!(explained(9400.0, 10_000, Some(9800))[..], [Explanation::Full { .. }]));
        // 9.8 of 10 is more than 1500-octet packets leave (9.41), but jumbo frames would.
        assert!(matches!(explained(9800.0, 10_000, None)[..], [Explanation::AboveCeiling { .. }]));
        let above = |megabits| explained(megabits, 1000, None);
        assert_eq!(above(1200.0), [Explanation::AboveSpeed { eighth_fits: false }]);
        assert_eq!(above(7530.0), [Explanation::AboveSpeed { eighth_fits: true }]);
        // 117.7 megabytes a second are 941.6 Mb/s.
        let octets = above(117.7);
        assert!(
            matches!(
                octets[..],
                [Explanation::Below { eightfold_fits: true, half_duplex: false, .. }]
            ),
            "{octets:?}"
        );
        let half = explained(40.0, 100, None);
        let [Explanation::Below { share, eightfold_fits: false, half_duplex: true }] = half[..]
        else {
            panic!("{half:?}")
        };
        near(share, 40.0 / 94.1482, 1e-5);
    }

    #[test]
    fn sentences() {
        let said = |megabits, running, slot| explained(megabits, running, slot)[0].sentence();
        assert_eq!(
            said(94.0, 1000, None),
            "This fits a hop at 100 Mb/s (94.15 Mb/s of data): look for a port on the way that runs at that speed."
        );
        assert_eq!(
            said(40.0, 100, None),
            "This is 42.5 % of what the link can carry and fits no known ceiling: look for collisions, as the link \
             runs half duplex, the hosts, TCP window and round-trip time, and loss."
        );
        assert_eq!(
            said(941.0, 1000, None),
            "This is all the data that the link can carry at the speed it runs at (941.5 Mb/s): it is fine."
        );
        assert!(said(7530.0, 1000, None).ends_with("(an eighth of it fits the link)."));
    }

    #[test]
    fn hostile_inputs_have_no_answer() {
        for rate in [f64::NAN, 0.0, -1.0, f64::INFINITY] {
            let measured = Measured {
                rate: BitsPerSecond(rate),
                running: Mbps(1000),
                half_duplex: false,
                stack: Stack::USUAL,
                slot: Some(Mbps(0)),
            };
            assert_eq!(explain(&measured), None);
        }
        assert_eq!(Stack::USUAL.goodput(Mbps(0)), None);
        let small = |mtu, internet| stack(mtu, internet, Transport::Udp).efficiency();
        assert_eq!(small(67, Internet::V4), None);
        assert_eq!(small(1279, Internet::V6), None);
        assert!(small(u32::MAX, Internet::V6).is_some());
    }

    proptest! {
        #[test]
        fn larger_packets_carry_more(mtu in 1280..65_000u32, tags in 0..3u8, stamped: bool, new: bool) {
            let transport = Transport::Tcp { timestamps: stamped };
            let internet = if new { Internet::V6 } else { Internet::V4 };
            let at = |mtu| Stack { vlan_tags: tags, ..stack(mtu, internet, transport) }.efficiency().unwrap();
            prop_assert!(at(mtu) < at(mtu + 1) && at(mtu + 1) < 1.0);
        }

        /// Every ceiling is found again.
        #[test]
        fn there_and_back(at in 0..12usize, mtu in 1280..9200u32) {
            let stack = Stack { mtu: Octets(mtu), ..Stack::USUAL };
            let ceiling = stack.goodput(Mbps(SPEEDS[at])).unwrap();
            for running in &SPEEDS[at..] {
                let measured = Measured { rate: ceiling, running: Mbps(*running), half_duplex: false, stack, slot: None };
                let found = explain(&measured).unwrap();
                match found[..] {
                    [Explanation::Full { .. }] => prop_assert_eq!(*running, SPEEDS[at]),
                    [Explanation::SlowerHop { speed, .. }] => prop_assert_eq!(speed, Mbps(SPEEDS[at])),
                    _ => prop_assert!(false, "{:?}", found),
                }
            }
        }

        #[test]
        fn anything(rate: f64, running: u32, half_duplex: bool, mtu: u32, tags: u8, slot: Option<u32>, octets: u64) {
            let stack = Stack { mtu: Octets(mtu), vlan_tags: tags, ..Stack::USUAL };
            let measured = Measured { rate: BitsPerSecond(rate), running: Mbps(running), half_duplex, stack, slot: slot.map(Mbps) };
            for found in explain(&measured).into_iter().flatten() {
                prop_assert!(found.sentence().ends_with('.'));
            }
            let _ = counted(octets, octets, Seconds(rate));
        }
    }
}
