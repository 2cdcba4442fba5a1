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
    image[40..56].copy_from_slice(b"KF-10SR         ");
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

#[test]
fn calibration_that_is_no_number() {
    let module = external([0x7fc0_0000, 0, 0, 0, 0], [(0x0100, 0); 4], [0x1900, 0x80e8, 0, 0, 0]);
    assert_eq!(module.temperature.why_missing().unwrap().reason, Reason::Malformed);
    assert!(module.doubts.iter().any(|doubt| doubt.kind == "calibration-unusable"));
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
    image[93] = 0;
    let module = decoded(&image);
    assert_eq!(module.lanes[0].rx_los.why_missing().unwrap().reason, Reason::NotImplemented);
    assert_eq!(module.temperature_flags.why_missing().unwrap().reason, Reason::NotImplemented);
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
    assert!(module.doubts.iter().any(|doubt| doubt.kind == "thresholds-impossible"));
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
    assert!(module.doubts.iter().any(|doubt| doubt.kind == "checksum-wrong"));
}

/// Diagnostics memory that repeats identity memory is a driver that ignores the address.
#[test]
fn pages_alike() {
    let mut image = image();
    let identity = image[..256].to_vec();
    image[256..].copy_from_slice(&identity);
    let module = decoded(&image);
    assert!(module.temperature.known().is_none());
    assert!(module.doubts.iter().any(|doubt| doubt.kind == "pages-identical"));
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
