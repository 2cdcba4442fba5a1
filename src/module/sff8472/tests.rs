//! Worked values of the standard, with literal bytes at literal offsets.

use super::*;

fn near(ours: f64, theirs: f64, tolerance: f64) {
    assert!((ours - theirs).abs() <= tolerance, "{ours} is not {theirs}");
}

/// An SFP+ for 10GBASE-SR with internal calibration and no readings yet.
fn image() -> Vec<u8> {
    let mut image = vec![0u8; 512];
    image[0] = 0x03;
    image[1] = 0x04;
    image[2] = 0x07;
    image[3] = 0x10;
    image[11] = 0x06;
    image[12] = 0x67;
    image[16] = 8;
    image[17] = 3;
    image[18] = 40;
    image[19] = 30;
    image[20..36].copy_from_slice(b"KESTREL FIBRE   ");
    image[37..40].copy_from_slice(&[0x02, 0x55, 0x66]);
    image[40..56].copy_from_slice(b"KF-10SR         ");
    image[56..60].copy_from_slice(b"1A  ");
    image[60] = 0x03;
    image[61] = 0x52;
    image[65] = 0x1a;
    image[68..84].copy_from_slice(b"TW0042          ");
    image[84..92].copy_from_slice(b"250630A1");
    image[92] = 0x68;
    image[93] = 0xf0;
    image[94] = 0x08;
    image
}

fn decoded(image: &[u8]) -> Module {
    let (memory, _) = Memory::from_image(image).unwrap();
    memory.decode().known().unwrap().clone()
}

fn with_reading(at: usize, raw: u16) -> Module {
    let mut image = image();
    image[256 + 98..256 + 100].copy_from_slice(&[0x80, 0xe8]);
    image[256 + at..256 + at + 2].copy_from_slice(&raw.to_be_bytes());
    decoded(&image)
}

#[test]
fn identity() {
    let module = decoded(&image());
    assert_eq!(module.connector, Fact::Known("LC".into()));
    assert_eq!(module.vendor_name, Fact::Known("KESTREL FIBRE".into()));
    assert_eq!(module.form_factor, Fact::Known("SFP, SFP+ or SFP28".into()));
    assert_eq!(module.vendor_oui, Fact::Known("02-55-66".into()));
    assert_eq!(module.part_number, Fact::Known("KF-10SR".into()));
    assert_eq!(module.revision, Fact::Known("1A".into()));
    assert_eq!(module.serial_number, Fact::Known("TW0042".into()));
    assert_eq!(module.date_code, Fact::Known("2025-06-30 lot A1".into()));
    assert!(module.claims("10GBASE-SR"));
    assert_eq!(module.top_speed, Fact::Known(Mbps(10_000)));
    assert_eq!(module.nominal_megabaud, Fact::Known(10_300));
    assert_eq!(module.carries, Carries::MultimodeFibre);
    assert_eq!(module.wavelength, Fact::Known(Nanometres(850.0)));
    let reaches: Vec<_> = module.reaches.iter().map(|r| (r.medium, r.metres.0)).collect();
    assert_eq!(reaches, [("OM1", 30.0), ("OM2", 80.0), ("OM3", 300.0), ("OM4", 400.0)]);
    assert_eq!(module.power_class, Fact::Known("power level 1 (up to 1.0 W)".into()));
}

/// SFF-8472 Rev 9.3 table 3.13 (1900h, FF00h, E700h, 8000h, 7FFFh) and values derived from it.
#[test]
fn temperature_words() {
    for (raw, celsius) in [
        (0x1900, 25.0),
        (0x00ff, 0.99609),
        (0x0001, 0.00391),
        (0xff00, -1.0),
        (0xffff, -0.00391),
        (0xe700, -25.0),
        (0x8000, -128.0),
        (0x7fff, 127.996),
    ] {
        near(with_reading(96, raw).temperature.known().unwrap().0, celsius, 0.0005);
    }
}

/// SFF-8472 Rev 9.3: 100 µV, 2 µA and 0.1 µW a count; worked values of the memory-map notes 1.9.
#[test]
fn supply_bias_and_power_words() {
    near(with_reading(98, 0x80e8).supply.known().unwrap().0, 3.3, 1e-9);
    for (raw, milliamps) in [(0x0bb8, 6.0), (0x1388, 10.0)] {
        near(with_reading(100, raw).lanes[0].bias.known().unwrap().0, milliamps, 1e-9);
    }
    for (raw, dbm) in [(0x2710, 0.0), (0x1388, -3.010), (0x03e8, -10.0), (0xffff, 8.165)] {
        let tx = *with_reading(102, raw).lanes[0].tx_power.known().unwrap();
        let rx = *with_reading(104, raw).lanes[0].rx_power.known().unwrap();
        near(tx.dbm().unwrap().0, dbm, 0.0005);
        near(rx.dbm().unwrap().0, dbm, 0.0005);
    }
    let dark = with_reading(104, 0).lanes[0].rx_power.known().unwrap().dbm();
    assert_eq!(dark, None);
}

/// Bytes 56-91 of A2h: R4..R0, then slope and offset of bias, TX power, temperature, supply.
fn external(rx: [u32; 5], lines: [(u16, u16); 4], raw: [u16; 5]) -> Module {
    let mut image = image();
    image[92] = 0x58;
    let a2 = &mut image[256..];
    for (at, coefficient) in rx.into_iter().enumerate() {
        a2[56 + 4 * at..60 + 4 * at].copy_from_slice(&coefficient.to_be_bytes());
    }
    for (at, (slope, offset)) in lines.into_iter().enumerate() {
        a2[76 + 4 * at..78 + 4 * at].copy_from_slice(&slope.to_be_bytes());
        a2[78 + 4 * at..80 + 4 * at].copy_from_slice(&offset.to_be_bytes());
    }
    for (at, word) in raw.into_iter().enumerate() {
        a2[96 + 2 * at..98 + 2 * at].copy_from_slice(&word.to_be_bytes());
    }
    decoded(&image)
}

fn check_external(module: &Module, celsius: f64, volts: f64, milliamps: f64, tx: f64, rx: f64) {
    assert_eq!(module.calibration, Fact::Known(Calibration::External));
    near(module.temperature.known().unwrap().0, celsius, 1e-9);
    near(module.supply.known().unwrap().0, volts, 1e-4);
    let lane = &module.lanes[0];
    near(lane.bias.known().unwrap().0, milliamps, 1e-9);
    near(lane.tx_power.known().unwrap().dbm().unwrap().0, tx, 0.0005);
    near(lane.rx_power.known().unwrap().dbm().unwrap().0, rx, 0.0005);
}

/// External calibration, example A of the memory-map notes 1.9 (formulas: SFF-8472 Rev 9.3
/// pages 17-23).
#[test]
fn external_calibration_a() {
    let module = external(
        [0, 0, 0x3751_b717, 0x3f00_0000, 0xc040_0000],
        [(0x0200, 0xffce), (0x0180, 0x0064), (0x0100, 0x0000), (0x0110, 0xff38)],
        [0x1e40, 0x7a12, 0x0800, 0x0a28, 0x0fa0],
    );
    check_external(&module, 30.25, 3.3003, 8.092, -3.979, -6.582);
}

/// External calibration, example B of the memory-map notes 1.9.
#[test]
fn external_calibration_b() {
    let module = external(
        [0x29e1_2e13, 0xb109_705f, 0x37fb_a882, 0x3e80_0000, 0xc100_0000],
        [(0x0080, 0x0000), (0x0300, 0xfed4), (0x00f0, 0xfe00), (0x0100, 0x0064)],
        [0xf800, 0x7e90, 0x2710, 0x05dc, 0x0bb8],
    );
    check_external(&module, -9.5, 3.25, 10.0, -3.768, -10.150);
}

/// The same polynomials by a general numeric library, and the figures of the notes by hand:
/// A is 200 + 2000 - 3 = 2197.0, B is 8.1 - 54 + 270 + 750 - 8 = 966.1 (0.1 µW).
#[test]
fn receive_polynomial_by_a_library() {
    use statrs::function::evaluate::polynomial;
    for (bits, raw, by_hand) in [
        ([0, 0, 0x3751_b717, 0x3f00_0000, 0xc040_0000], 0x0fa0, 2197.0),
        ([0x29e1_2e13, 0xb109_705f, 0x37fb_a882, 0x3e80_0000, 0xc100_0000], 0x0bb8, 966.1),
    ] {
        let module = external(bits, [(0x0100, 0); 4], [0x1900, 0x80e8, 0, 0, raw]);
        let ours = module.lanes[0].rx_power.known().unwrap().0 * 10_000.0;
        // The library takes the lowest coefficient first.
        let coefficients: Vec<f64> =
            bits.iter().rev().map(|bits| f64::from(f32::from_bits(*bits))).collect();
        near(ours, polynomial(f64::from(raw), &coefficients), 1e-6);
        near(ours, by_hand, 1e-3);
    }
}

/// SFF-8472 Rev 9.3 table 3.16a: 0100h = 1.0, 0108h = 1.03125, 01FFh = 1.99609.
#[test]
fn slopes_of_the_standard() {
    for (slope, times) in [(0x0100, 1.0), (0x0108, 1.03125), (0x01ff, 1.99609)] {
        let module = external(
            [0, 0, 0, 0x3f80_0000, 0],
            [(slope, 0), (0x0100, 0), (0x0100, 0), (0x0100, 0)],
            [0x1900, 0x80e8, 0x1388, 0, 0],
        );
        near(module.lanes[0].bias.known().unwrap().0, 10.0 * times, 0.0001);
    }
}

/// Near dark a polynomial may fall below zero: shown as no light, and said. 0.25 * 4 - 8 = -7.
#[test]
fn less_than_nothing_is_nothing_and_is_said() {
    let module = external(
        [0, 0, 0, 0x3e80_0000, 0xc100_0000],
        [(0x0100, 0); 4],
        [0x1900, 0x80e8, 0x1388, 0x1388, 4],
    );
    assert_eq!(module.lanes[0].rx_power, Fact::Known(Milliwatts(0.0)));
    assert!(has_doubt(&module, "reading-below-zero"));
    let module = with_reading(104, 0);
    assert!(!has_doubt(&module, "reading-below-zero"));
}

/// Limits are counts too: example A's temperature and supply constants on 70 °C and 3.6 V.
/// V: (272/256) * 31250 - 200 = 33003.125 -> 3.3003 V for 7A12h.
#[test]
fn limits_are_calibrated_too() {
    let mut image = image();
    image[92] = 0x58;
    let a2 = &mut image[256..];
    a2[68..72].copy_from_slice(&0x3f80_0000_u32.to_be_bytes());
    for at in [76, 80, 84] {
        a2[at..at + 4].copy_from_slice(&[0x01, 0x00, 0x00, 0x00]);
    }
    a2[88..92].copy_from_slice(&[0x01, 0x10, 0xff, 0x38]);
    a2[8..16].copy_from_slice(&[0x7a, 0x12, 0x10, 0x00, 0x70, 0x00, 0x20, 0x00]);
    a2[96..100].copy_from_slice(&[0x19, 0x00, 0x7a, 0x12]);
    let limits = *decoded(&image).thresholds.supply.known().unwrap();
    near(limits.high_alarm.0, 3.3003125, 1e-9);
    near(limits.low_alarm.0, (4096.0 * 1.0625 - 200.0) / 10_000.0, 1e-12);
}

fn has_doubt(module: &Module, kind: &str) -> bool {
    module.doubts.iter().any(|doubt| doubt.kind.name() == kind)
}

#[test]
fn calibration_that_is_no_number() {
    let module = external([0x7fc0_0000, 0, 0, 0, 0], [(0x0100, 0); 4], [0x1900, 0x80e8, 0, 0, 0]);
    assert_eq!(module.temperature.why_missing().unwrap().reason, Reason::Malformed);
    assert!(module.doubts.iter().any(|doubt| doubt.kind.name() == "calibration-unusable"));
}

#[test]
fn no_diagnostics_is_not_zero() {
    let mut image = image();
    image[92] = 0;
    let module = decoded(&image[..256]);
    assert_eq!(module.diagnostics, Fact::Known(false));
    let rx = module.lanes[0].rx_power.why_missing().unwrap();
    assert_eq!(rx.reason, Reason::NotImplemented);
}

#[test]
fn copper_has_no_light_even_if_it_claims_diagnostics() {
    let mut image = image();
    image[2] = 0x21;
    image[3] = 0;
    image[8] = 0x84; // EL intra-enclosure and passive cable, as real cables set it
    image[18] = 3;
    image[60..62].copy_from_slice(&[0x01, 0x00]);
    let module = decoded(&image);
    assert_eq!(module.carries, Carries::PassiveCopper);
    assert_eq!(module.cable_length, Fact::Known(Metres(3.0)));
    assert_eq!(module.cable_compliance, ["SFF-8431 Appendix E"]);
    assert_eq!(module.top_speed, Fact::Known(Mbps(10_000)));
    assert_eq!(module.wavelength.why_missing().unwrap().reason, Reason::NotApplicable);
    assert_eq!(module.lanes[0].rx_power.why_missing().unwrap().reason, Reason::NotApplicable);
    assert_eq!(module.lanes[0].rx_power_flags.why_missing().unwrap().reason, Reason::NotApplicable);
    assert!(has_doubt(&module, "copper-type-with-diagnostics"));
    image[92] = 0;
    assert!(!has_doubt(&decoded(&image), "copper-type-with-diagnostics"));
}

#[test]
fn twisted_pair_module() {
    let mut image = image();
    image[2] = 0x22;
    image[3] = 0;
    image[36] = 0x1c;
    image[92] = 0;
    let module = decoded(&image[..256]);
    assert_eq!(module.carries, Carries::TwistedPair);
    assert_eq!(module.top_speed, Fact::Known(Mbps(10_000)));
}

/// Bytes of other standards are named beside the Ethernet ones (memory-map notes 1.2).
#[test]
fn other_standards() {
    let mut image = image();
    image[7] = 0x40;
    image[10] = 0x10;
    let module = decoded(&image);
    assert_eq!(module.other_compliance, ["Fibre Channel short distance", "Fibre Channel 400 MB/s"]);
    assert_eq!(module.interface_types.len(), 1);
}

/// An SFP28 optic may carry byte 36 and a 10G bit: both rates are claimed, the higher is top.
#[test]
fn dual_rate() {
    let mut image = image();
    image[36] = 0x02;
    image[12] = 0xff;
    image[66] = 103;
    let module = decoded(&image);
    assert_eq!(module.speeds, [Mbps(10_000), Mbps(25_000)]);
    assert_eq!(module.top_speed, Fact::Known(Mbps(25_000)));
    assert!(module.top_speed_source.starts_with("25GBASE-SR, SFF-8472 A0h byte 36"));
}

/// Nominal rates (memory-map notes 1.3): FFh and 106 is 26 500 MBd, a 26.5625 GBd lane, which
/// is 50G only where the encoding says PAM4; byte 12 alone tells the older ones.
#[test]
fn speed_by_nominal_rate() {
    for (byte_12, byte_66, encoding, speed) in [
        (12, 0, 0x01, Some(1_000)),
        (13, 0, 0x01, Some(1_000)),
        (31, 0, 0x01, Some(2_500)),
        (99, 0, 0x06, Some(10_000)),
        (103, 0, 0x06, Some(10_000)),
        (106, 0, 0x06, Some(10_000)),
        (255, 103, 0x06, Some(25_000)),
        (255, 106, 0x08, Some(50_000)),
        (255, 106, 0x06, None),
        (0, 0, 0x06, None),
        (60, 0, 0x06, None),
    ] {
        let mut image = image();
        image[3] = 0;
        (image[11], image[12], image[66]) = (encoding, byte_12, byte_66);
        let module = decoded(&image);
        assert_eq!(module.top_speed.known().copied(), speed.map(Mbps), "{byte_12} {byte_66}");
        assert_eq!(module.top_speed_source.contains("nominal rate"), speed.is_some());
    }
}

/// Memory-map notes 1.5 (kernel): a power bit is trusted only from the revision that defines it.
#[test]
fn power_levels() {
    for (bits, revision, level) in [
        (0x00, 8, "power level 1"),
        (0x02, 3, "power level 2"),
        (0x02, 2, "power level 1"),
        (0x20, 7, "power level 3"),
        (0x20, 6, "power level 1"),
        (0x40, 8, "power level 4"),
    ] {
        let mut image = image();
        (image[64], image[94]) = (bits, revision);
        let class = decoded(&image).power_class;
        assert!(class.known().unwrap().starts_with(level), "{bits:02x}h {revision}");
    }
    let mut image = image();
    image[64] = 0x02;
    image[256 + 98..256 + 100].copy_from_slice(&[0x80, 0xe8]);
    assert!(decoded(&image).status.iter().any(|words| words.contains("not allowed")));
    image[256 + 118] = 0x01;
    assert!(decoded(&image).status.is_empty());
}

/// Memory-map notes 1.8 (SFF-8472 Rev 9.3): 110 bit 0 set means that data is not ready.
#[test]
fn data_not_ready() {
    let mut image = image();
    image[256 + 96..256 + 100].copy_from_slice(&[0x19, 0x00, 0x80, 0xe8]);
    image[256 + 110] = 0x01;
    let module = decoded(&image);
    assert_eq!(module.data_ready, Fact::Known(false));
    assert_eq!(module.temperature.why_missing().unwrap().reason, Reason::NotReported);
    assert_eq!(module.lanes[0].rx_power.why_missing().unwrap().reason, Reason::NotReported);
    assert_eq!(module.temperature_flags.why_missing().unwrap().reason, Reason::NotReported);
}

/// Both loss-of-signal senses at once mean nothing (kernel).
#[test]
fn loss_of_signal_with_both_senses() {
    let mut image = image();
    image[65] = 0x1e;
    image[256 + 110] = 0x02;
    let module = decoded(&image);
    assert_eq!(module.lanes[0].rx_los.why_missing().unwrap().reason, Reason::Malformed);
    assert!(has_doubt(&module, "loss-of-signal-sense-contradictory"));
}

/// The transmitter is off and its power is still read (memory-map notes 1.8).
#[test]
fn power_is_read_while_the_transmitter_is_off() {
    let mut image = image();
    image[256 + 102..256 + 104].copy_from_slice(&[0x00, 0x01]);
    image[256 + 110] = 0x80;
    let module = decoded(&image);
    assert_eq!(module.lanes[0].tx_disabled, Fact::Known(true));
    assert!(module.lanes[0].tx_power.known().is_some());
}

#[test]
fn what_does_not_fit_together() {
    let mut long = image();
    long[60..62].copy_from_slice(&1310u16.to_be_bytes());
    assert!(has_doubt(&decoded(&long), "short-reach-type-with-long-wavelength"));
    let mut short = image();
    short[3] = 0x20;
    assert!(has_doubt(&decoded(&short), "long-reach-type-with-short-wavelength"));
    // 100BASE-FX sends 1300 nm over multimode fibre (IEEE 802.3 clause 26): no contradiction.
    let mut fx = image();
    (fx[3], fx[6], fx[12]) = (0, 0x20, 1);
    fx[60..62].copy_from_slice(&1310u16.to_be_bytes());
    let fx = decoded(&fx);
    assert!(fx.claims("100BASE-FX") && !has_doubt(&fx, "short-reach-type-with-long-wavelength"));
    let mut slow = image();
    slow[12] = 12;
    assert!(has_doubt(&decoded(&slow), "nominal-rate-contradicts-type"));
    let sound = with_reading(96, 0x1900);
    assert!(
        !sound.doubts.iter().any(|doubt| doubt.kind.name() != "checksum-wrong"),
        "{:?}",
        sound.doubts
    );
    // 127.996 °C can be, -128 °C cannot; a supply of 0 V cannot.
    assert!(!has_doubt(&with_reading(96, 0x7fff), "reading-impossible"));
    assert!(has_doubt(&with_reading(96, 0x8000), "reading-impossible"));
    let mut unpowered = image();
    unpowered[256 + 96] = 0x19;
    assert!(has_doubt(&decoded(&unpowered), "reading-impossible"));
}

/// Diagnostics memory in which nothing answered is not a module at 0 °C and 0 V.
#[test]
fn silent_diagnostics() {
    for fill in [0x00, 0xff] {
        let mut image = image();
        image[256..].fill(fill);
        let module = decoded(&image);
        assert_eq!(module.temperature.why_missing().unwrap().reason, Reason::Malformed);
        assert!(has_doubt(&module, "page-silent"));
    }
}

/// Rates of 25.5 GBd and up: byte 12 = FFh, byte 66 in steps of 250 MBd (kernel, SFP bus code).
#[test]
fn rate_beyond_byte_12() {
    let mut image = image();
    image[3] = 0;
    image[12] = 0xff;
    image[66] = 103;
    image[36] = 0x02;
    let module = decoded(&image);
    assert_eq!(module.nominal_megabaud, Fact::Known(25_750));
    assert_eq!(module.top_speed, Fact::Known(Mbps(25_000)));
    assert!(module.claims("25GBASE-SR"));
}

/// Status bits count only where byte 93 says that they are implemented; flags by 93 bit 7.
#[test]
fn state_and_flags() {
    let mut image = image();
    image[256 + 98..256 + 100].copy_from_slice(&[0x80, 0xe8]);
    image[256 + 110] = 0x82; // transmitter disabled, loss of signal
    image[256 + 112..256 + 114].copy_from_slice(&[0x80, 0x40]); // temperature high, RX low alarm
    let module = decoded(&image);
    assert_eq!(module.lanes[0].tx_disabled, Fact::Known(true));
    assert_eq!(module.lanes[0].rx_los, Fact::Known(true));
    assert_eq!(module.lanes[0].tx_fault, Fact::Known(false));
    assert!(module.temperature_flags.known().unwrap().high_alarm);
    assert!(module.lanes[0].rx_power_flags.known().unwrap().low_alarm);
    // Warnings are in 116 and 117, in the same order: supply low and bias high.
    image[256 + 112..256 + 118].copy_from_slice(&[0, 0, 0xff, 0xff, 0x18, 0x00]);
    let module = decoded(&image);
    let none = Flags::default();
    assert_eq!(module.supply_flags, Fact::Known(Flags { low_warning: true, ..none }));
    assert_eq!(module.lanes[0].bias_flags, Fact::Known(Flags { high_warning: true, ..none }));
    assert_eq!(module.lanes[0].tx_power_flags, Fact::Known(none));
    assert_eq!(module.lanes[0].rx_power_flags, Fact::Known(none));
    image[93] = 0;
    let module = decoded(&image);
    assert_eq!(module.lanes[0].rx_los.why_missing().unwrap().reason, Reason::NotImplemented);
    assert_eq!(module.temperature_flags.why_missing().unwrap().reason, Reason::NotImplemented);
}

/// SFF-8472 Rev 9.3 table 3.15: bias 16-23, TX power 24-31, RX power 32-39, each high alarm, low
/// alarm, high warning, low warning. 1770h = 6000 -> 12 mA; 4DC8h = 19912 -> 1.9912 mW.
#[test]
fn limits_of_light() {
    let mut image = image();
    let a2 = &mut image[256..];
    a2[96] = 0x19;
    a2[16..24].copy_from_slice(&[0x17, 0x70, 0x03, 0xe8, 0x13, 0x88, 0x07, 0xd0]);
    a2[24..32].copy_from_slice(&[0x4d, 0xc8, 0x02, 0xbb, 0x3d, 0xcc, 0x06, 0xfc]);
    a2[32..40].copy_from_slice(&[0x43, 0xe2, 0x01, 0x16, 0x36, 0x0c, 0x02, 0xbb]);
    let limits = decoded(&image).thresholds;
    let bias = limits.bias.known().unwrap();
    assert_eq!((bias.high_alarm.0, bias.low_alarm.0), (12.0, 2.0));
    assert_eq!((bias.high_warning.0, bias.low_warning.0), (10.0, 4.0));
    let tx = limits.tx_power.known().unwrap();
    assert_eq!((tx.high_alarm.0, tx.low_alarm.0), (1.9912, 0.0699));
    let rx = limits.rx_power.known().unwrap();
    assert_eq!((rx.high_alarm.0, rx.low_alarm.0), (1.7378, 0.0278));
    assert_eq!((rx.high_warning.0, rx.low_warning.0), (1.3836, 0.0699));
}

/// Memory-map notes 1.4: 0Eh in byte 13 is 10/8G rate select.
#[test]
fn rate_identifier() {
    let mut image = image();
    image[13] = 0x0e;
    let dual =
        |image: &[u8]| decoded(image).options.iter().any(|words| words.contains("dual rate"));
    assert!(dual(&image));
    (image[13], image[14]) = (0, 0x0e);
    assert!(!dual(&image));
}

/// Memory-map notes 1.4-1.8: byte 13 names the rates, 65.5 and 93.3 the switch, 110.4 its pin and
/// 110.3 its soft bit, either of which selects the higher rate.
#[test]
fn rate_select() {
    let at = |identifier: u8, options: u8, enhanced: u8, status: u8| {
        let mut image = image();
        (image[13], image[65], image[93]) = (identifier, 0x1a | options, 0xf0 | enhanced);
        image[256 + 98..256 + 100].copy_from_slice(&[0x80, 0xe8]);
        image[256 + 110] = status;
        decoded(&image).rate_select_high
    };
    assert_eq!(at(0x0e, 0x20, 0, 0), Fact::Known(false));
    assert_eq!(at(0x0e, 0x20, 0, 0x10), Fact::Known(true));
    assert_eq!(at(0x0e, 0, 0x08, 0x08), Fact::Known(true));
    assert_eq!(at(0x0e, 0, 0x08, 0x20), Fact::Known(false)); // RS(1) is the transmitter's
    assert_eq!(at(0x0e, 0, 0, 0).known(), None);
    assert_eq!(at(0, 0x20, 0, 0).known(), None); // one rate only
}

/// IEEE 802.3 clause 59: 1000BASE-BX10 is on one strand (bit 6 of byte 6, SFF-8472 table 3.4); the
/// wavelengths of the others' pairs are common practice.
#[test]
fn strands() {
    let at = |type_byte: usize, bits: u8, nanometres: u16| {
        let mut image = image();
        image[3] = 0;
        image[type_byte] = bits;
        image[60..62].copy_from_slice(&nanometres.to_be_bytes());
        decoded(&image).on_one_strand()
    };
    assert_eq!(at(6, 0x40, 1310), Fact::Known(true));
    assert_eq!(at(3, 0x10, 850), Fact::Known(false)); // 10GBASE-SR
    assert_eq!(at(3, 0x20, 1310), Fact::Known(false)); // 10GBASE-LR
    assert_eq!(at(3, 0x20, 0), Fact::Known(false)); // the same, wavelength left empty
    assert_eq!(at(3, 0x80, 1550), Fact::Known(false)); // 10GBASE-ER
    assert_eq!(at(3, 0x20, 1270).known(), None);
    assert_eq!(at(3, 0x20, 1330).known(), None);
    assert_eq!(at(8, 0x04, 0).known(), None); // a copper cable
}

#[test]
fn limits_that_cannot_be() {
    let mut image = image();
    let a2 = &mut image[256..];
    a2[96..98].copy_from_slice(&[0x19, 0]);
    a2[0..8].copy_from_slice(&[0x46, 0, 0xfb, 0, 0x41, 0, 0, 0]); // 70, -5, 65, 0 °C
    a2[8..16].fill(0xff);
    a2[32..40].copy_from_slice(&[0, 10, 0, 100, 0, 10, 0, 100]); // low above high
    let module = decoded(&image);
    let limits = module.thresholds.temperature.known().unwrap();
    assert_eq!((limits.high_alarm, limits.low_alarm), (Celsius(70.0), Celsius(-5.0)));
    assert_eq!((limits.high_warning, limits.low_warning), (Celsius(65.0), Celsius(0.0)));
    assert_eq!(module.thresholds.supply.why_missing().unwrap().reason, Reason::Malformed);
    assert_eq!(module.thresholds.bias.why_missing().unwrap().reason, Reason::NotImplemented);
    assert_eq!(module.thresholds.rx_power.why_missing().unwrap().reason, Reason::Malformed);
    assert!(module.doubts.iter().any(|doubt| doubt.kind.name() == "thresholds-impossible"));
}

/// The checksum of the standard, recomputed here in its own few lines.
#[test]
fn checksum() {
    let mut image = image();
    let sum = |bytes: &[u8]| bytes.iter().map(|byte| u32::from(*byte)).sum::<u32>() % 256;
    image[63] = u8::try_from(sum(&image[0..63])).unwrap();
    image[95] = u8::try_from(sum(&image[64..95])).unwrap();
    image[256 + 95] = u8::try_from(sum(&image[256..256 + 95])).unwrap();
    let module = decoded(&image);
    assert!(module.checksums.iter().all(|checksum| checksum.matches == Fact::Known(true)));
    image[30] ^= 1;
    let module = decoded(&image);
    assert_eq!(module.checksums[0].matches, Fact::Known(false));
    assert!(module.doubts.iter().any(|doubt| doubt.kind.name() == "checksum-wrong"));
}

/// Diagnostics memory that repeats identity memory is a driver that ignores the address.
#[test]
fn pages_alike() {
    let mut image = image();
    let identity = image[..256].to_vec();
    image[256..].copy_from_slice(&identity);
    let module = decoded(&image);
    assert!(module.temperature.known().is_none());
    assert!(module.doubts.iter().any(|doubt| doubt.kind.name() == "pages-identical"));
}

/// Whatever is cut off or flipped: no panic, and a cut image never has receive power.
#[test]
fn cut_and_flipped() {
    let whole = with_reading(104, 0x1388);
    assert!(whole.lanes[0].rx_power.known().is_some());
    let image = image();
    for length in 1..image.len() {
        let (memory, _) = Memory::from_image(&image[..length]).unwrap();
        if let Fact::Known(module) = memory.decode()
            && length < 256 + 106
        {
            let rx = module.lanes.first().and_then(|lane| lane.rx_power.known());
            assert_eq!(rx, None, "cut at {length}");
        }
    }
    for bit in 0..image.len() * 8 {
        let mut image = image.clone();
        image[bit / 8] ^= 1 << (bit % 8);
        let (memory, _) = Memory::from_image(&image).unwrap();
        let _ = memory.decode();
    }
}

proptest::proptest! {
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(proptest::num::u8::ANY, 1..600)) {
        let (memory, _) = Memory::from_image(&bytes).unwrap();
        proptest::prop_assert_eq!(memory.decode(), memory.decode());
    }

    #[test]
    fn any_file(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..1200)) {
        let _ = Memory::from_file(&bytes);
    }
}
