//! Images with literal bytes at literal offsets (section 3 of the memory-map notes); each upper
//! page n of a linear image begins 128 * (n + 1) bytes in, so page 03h byte 128 is image byte 512
//! and byte b of page 00h is image byte b.

use super::*;
use crate::quantity::{Celsius, Milliwatts};

fn near(ours: f64, theirs: f64, tolerance: f64) {
    assert!((ours - theirs).abs() <= tolerance, "{ours} is not {theirs}");
}

/// A QSFP28 for 100GBASE-SR4 with every monitor, at rest.
fn image() -> Vec<u8> {
    let mut image = vec![0u8; 640];
    image[0] = 0x11;
    image[1] = 0x08;
    image[2] = 0x02; // paged, no interrupt, data ready
    image[22..24].copy_from_slice(&[0x1e, 0x40]); // 30.25 degC
    image[26..28].copy_from_slice(&[0x80, 0xe8]); // 3.3 V
    image[34..42].copy_from_slice(&[0x27, 0x10, 0x13, 0x88, 0x03, 0xe8, 0x00, 0x01]);
    image[42..50].copy_from_slice(&[0x0b, 0xb8, 0x13, 0x88, 0x0b, 0xb8, 0x0b, 0xb8]);
    image[50..58].copy_from_slice(&[0x27, 0x10, 0x27, 0x10, 0x13, 0x88, 0x03, 0xe8]);
    image[93] = 0x04;
    image[98] = 0xff;
    image[128] = 0x11;
    image[129] = 0xcc; // class 4, clock recovery both ways
    image[130] = 0x0c;
    image[131] = 0x80;
    image[139] = 0x05;
    image[140] = 0xff;
    image[143] = 35; // OM3, 2 m each
    image[146] = 50; // OM4, 2 m each
    image[147] = 0x00;
    image[148..164].copy_from_slice(b"NORTHLIGHT OPT  ");
    image[165..168].copy_from_slice(&[0x02, 0x11, 0x22]);
    image[168..184].copy_from_slice(b"NL-100SR4       ");
    image[184..186].copy_from_slice(b"A ");
    image[186..188].copy_from_slice(&[0x42, 0x68]); // 17000 * 0.05 = 850 nm
    image[192] = 0x02;
    image[193..196].copy_from_slice(&[0x0f, 0xf0, 0x1a]);
    image[196..212].copy_from_slice(b"TWS-1001        ");
    image[212..220].copy_from_slice(b"250630  ");
    image[220] = 0x3c;
    image[222] = 103;
    // Page 03h: 75, -5, 70, 0 degC; 3.63, 2.97, 3.465, 3.135 V.
    image[512..520].copy_from_slice(&[0x4b, 0, 0xfb, 0, 0x46, 0, 0, 0]);
    image[528..536].copy_from_slice(&[0x8d, 0xcc, 0x74, 0x04, 0x87, 0x5a, 0x7a, 0x76]);
    image[560..568].copy_from_slice(&[0x43, 0xe2, 0x01, 0x16, 0x36, 0x0c, 0x02, 0xbb]);
    image[568..576].copy_from_slice(&[0x17, 0x70, 0x03, 0xe8, 0x13, 0x88, 0x07, 0xd0]);
    image[576..584].copy_from_slice(&[0x4d, 0xc8, 0x02, 0xbb, 0x3d, 0xcc, 0x06, 0xfc]);
    image
}

fn decoded(image: &[u8]) -> Module {
    let (memory, _) = Memory::from_image(image).unwrap();
    memory.decode().known().unwrap().clone()
}

fn reason<T>(fact: &Fact<T>) -> Reason {
    fact.why_missing().unwrap().reason
}

fn has_doubt(module: &Module, kind: &str) -> bool {
    module.doubts.iter().any(|doubt| doubt.kind.name() == kind)
}

#[test]
fn identity() {
    let module = decoded(&image());
    assert_eq!(module.family, Family::Sff8636);
    assert_eq!(module.form_factor, Fact::Known("QSFP28 or later".into()));
    assert_eq!(module.connector, Fact::Known("MPO 1x12".into()));
    assert_eq!(module.vendor_name, Fact::Known("NORTHLIGHT OPT".into()));
    assert_eq!(module.vendor_oui, Fact::Known("02-11-22".into()));
    assert_eq!(module.part_number, Fact::Known("NL-100SR4".into()));
    assert_eq!(module.revision, Fact::Known("A".into()));
    assert_eq!(module.serial_number, Fact::Known("TWS-1001".into()));
    assert_eq!(module.date_code, Fact::Known("2025-06-30".into()));
    assert_eq!(module.encoding, Fact::Known("64B/66B".into()));
    assert_eq!(module.technology, Fact::Known("850 nm VCSEL".into()));
    assert!(module.claims("100GBASE-SR4"));
    assert_eq!(module.top_speed, Fact::Known(Mbps(100_000)));
    assert_eq!(module.nominal_megabaud, Fact::Known(25_750));
    assert_eq!(module.carries, Carries::MultimodeFibre);
    assert_eq!(module.wavelength, Fact::Known(Nanometres(850.0)));
    let reaches: Vec<_> = module.reaches.iter().map(|r| (r.medium, r.metres.0)).collect();
    assert_eq!(reaches, [("OM3", 70.0), ("OM4", 100.0)]);
    assert_eq!(module.power_class, Fact::Known("power class 4 (up to 3.5 W)".into()));
    assert_eq!(module.rx_power_kind, Fact::Known(RxPowerKind::Average));
    assert_eq!(module.data_ready, Fact::Known(true));
    assert!(module.flags_latched);
    assert!(module.status.is_empty(), "{:?}", module.status);
}

/// Units of the memory-map notes 1.9 and 3.1: 1/256 degC, 100 uV, 2 uA, 0.1 uW; the powers are
/// its worked values 2710h, 1388h, 03E8h and 0001h.
#[test]
fn readings_of_each_lane() {
    let module = decoded(&image());
    assert_eq!(module.temperature, Fact::Known(Celsius(30.25)));
    near(module.supply.known().unwrap().0, 3.3, 1e-9);
    let numbers: Vec<_> = module.lanes.iter().map(|lane| lane.number).collect();
    assert_eq!(numbers, [1, 2, 3, 4]);
    for (at, rx, bias, tx) in [
        (0, 0.0, 6.0, 0.0),
        (1, -3.010, 10.0, 0.0),
        (2, -10.0, 6.0, -3.010),
        (3, -40.0, 6.0, -10.0),
    ] {
        let lane = &module.lanes[at];
        near(lane.rx_power.known().unwrap().dbm().unwrap().0, rx, 0.0005);
        near(lane.bias.known().unwrap().0, bias, 1e-9);
        near(lane.tx_power.known().unwrap().dbm().unwrap().0, tx, 0.0005);
        assert!(lane.in_use);
    }
}

/// Page 03h order: Rx power 176, Tx bias 184, Tx power 192 (memory-map notes 3.6).
#[test]
fn limits_of_page_3() {
    let module = decoded(&image());
    let limits = &module.thresholds;
    let celsius = limits.temperature.known().unwrap();
    assert_eq!((celsius.high_alarm.0, celsius.low_alarm.0), (75.0, -5.0));
    assert_eq!((celsius.high_warning.0, celsius.low_warning.0), (70.0, 0.0));
    let volts = limits.supply.known().unwrap();
    near(volts.high_alarm.0, 3.63, 1e-9);
    near(volts.low_warning.0, 3.135, 1e-9);
    // 43E2h = 17378 -> 1.7378 mW; 1770h = 6000 -> 12 mA; 4DC8h = 19912 -> 1.9912 mW.
    near(limits.rx_power.known().unwrap().high_alarm.0, 1.7378, 1e-9);
    near(limits.bias.known().unwrap().high_alarm.0, 12.0, 1e-9);
    near(limits.tx_power.known().unwrap().high_alarm.0, 1.9912, 1e-9);
    assert!(!has_doubt(&module, "thresholds-impossible"));
}

/// Byte 3: Tx4..Tx1 in bits 7-4, Rx4..Rx1 in bits 3-0; bytes 4, 5 and 86 alike (notes 3.1).
#[test]
fn one_bit_is_one_lane() {
    for lane in 1..=4u8 {
        let (low, high) = (1 << (lane - 1), 0x10 << (lane - 1));
        let only = |at: usize, bit: u8, pick: fn(&Lane) -> &Fact<bool>| {
            let mut image = image();
            image[at] = bit;
            let module = decoded(&image);
            let set: Vec<_> = module
                .lanes
                .iter()
                .filter(|lane| *pick(lane) == Fact::Known(true))
                .map(|lane| lane.number)
                .collect();
            assert_eq!(set, [lane], "byte {at} bit {bit:02x}h");
        };
        only(3, low, |lane| &lane.rx_los);
        only(3, high, |lane| &lane.tx_los);
        only(4, low, |lane| &lane.tx_fault);
        only(5, low, |lane| &lane.rx_loss_of_lock);
        only(5, high, |lane| &lane.tx_loss_of_lock);
        only(86, low, |lane| &lane.tx_disabled);
    }
}

/// Notes 3.2 (kernel masks 88h, 44h, 22h, 11h): two lanes a byte, high alarm, low alarm, high
/// warning, low warning. Notes 3.1: bytes 6 and 7 in their high half, in the same order.
#[test]
fn flags_of_each_lane() {
    let mut image = image();
    (image[6], image[7]) = (0x80, 0x10);
    (image[9], image[10]) = (0x48, 0x21);
    (image[11], image[12]) = (0x80, 0x00);
    (image[13], image[14]) = (0x00, 0x02);
    let module = decoded(&image);
    let rx: Vec<Flags> =
        module.lanes.iter().map(|lane| *lane.rx_power_flags.known().unwrap()).collect();
    let none = Flags::default();
    assert_eq!(
        rx,
        [
            Flags { low_alarm: true, ..none },
            Flags { high_alarm: true, ..none },
            Flags { high_warning: true, ..none },
            Flags { low_warning: true, ..none },
        ]
    );
    assert_eq!(module.lanes[0].bias_flags, Fact::Known(Flags { high_alarm: true, ..none }));
    assert_eq!(module.lanes[3].tx_power_flags, Fact::Known(Flags { high_warning: true, ..none }));
    assert_eq!(module.temperature_flags, Fact::Known(Flags { high_alarm: true, ..none }));
    assert_eq!(module.supply_flags, Fact::Known(Flags { low_warning: true, ..none }));
}

/// What is not advertised is not implemented, even if bytes stand there.
#[test]
fn advertised_or_not() {
    let mut image = image();
    image[3..6].fill(0xff);
    image[86] = 0xff;
    image[194..196].fill(0);
    image[220] = 0;
    let module = decoded(&image);
    let lane = &module.lanes[0];
    for state in [
        &lane.tx_los,
        &lane.tx_fault,
        &lane.rx_loss_of_lock,
        &lane.tx_loss_of_lock,
        &lane.tx_disabled,
    ] {
        assert_eq!(reason(state), Reason::NotImplemented);
    }
    assert_eq!(reason(&lane.tx_power), Reason::NotImplemented);
    assert_eq!(reason(&lane.tx_power_flags), Reason::NotImplemented);
    assert_eq!(reason(&module.temperature), Reason::NotImplemented);
    assert_eq!(reason(&module.temperature_flags), Reason::NotImplemented);
    assert_eq!(reason(&module.supply), Reason::NotImplemented);
    assert_eq!(lane.rx_los, Fact::Known(true));
    assert!(lane.rx_power.known().is_some());
    // Before revision 08h these bits are left zero by modules that measure (notes 3.3).
    image[1] = 0x07;
    let module = decoded(&image);
    assert_eq!(module.temperature, Fact::Known(Celsius(30.25)));
    assert!(module.supply.known().is_some());
    image[22..28].fill(0);
    assert_eq!(reason(&decoded(&image).temperature), Reason::NotImplemented);
}

/// Each advertisement bit for itself (notes 3.3: 194 bits 5-4, 195 bits 4, 3 and 1, 220 bit 2).
#[test]
fn advertised_one_by_one() {
    type Pick = fn(&Lane) -> bool;
    let picks: [(usize, u8, Pick); 6] = [
        (194, 5, |lane| lane.tx_loss_of_lock.known().is_some()),
        (194, 4, |lane| lane.rx_loss_of_lock.known().is_some()),
        (195, 4, |lane| lane.tx_disabled.known().is_some()),
        (195, 3, |lane| lane.tx_fault.known().is_some()),
        (195, 1, |lane| lane.tx_los.known().is_some()),
        (220, 2, |lane| lane.tx_power.known().is_some()),
    ];
    for (byte, bit, _) in picks {
        let mut image = image();
        image[194..196].fill(0);
        image[220] = 0x30;
        image[byte] |= 1 << bit;
        let module = decoded(&image);
        for (other_byte, other_bit, other) in picks {
            let expected = (other_byte, other_bit) == (byte, bit);
            assert_eq!(other(&module.lanes[0]), expected, "{byte}.{bit}: {other_byte}.{other_bit}");
        }
    }
}

/// Notes 3.3: gigabit types in byte 134.
#[test]
fn gigabit_types() {
    let mut image = image();
    (image[131], image[134], image[192]) = (0, 0x02, 0);
    let module = decoded(&image);
    assert!(module.claims("1000BASE-LX"));
    assert_eq!(module.speeds, [Mbps(1_000)]);
    assert_eq!(module.carries, Carries::SingleModeFibre);
}

/// A module of which no monitor measures anything is not one in the dark at 0 degC.
#[test]
fn no_monitors_at_all() {
    let mut image = image();
    image[1] = 0x07;
    image[22..58].fill(0);
    image[220] = 0x0c;
    let module = decoded(&image);
    assert_eq!(module.diagnostics, Fact::Known(false));
    assert_eq!(reason(&module.lanes[0].rx_power), Reason::NotImplemented);
    // One byte that measures is enough, the first or the last: then zero is dark.
    for at in [34, 57] {
        let mut image = image.clone();
        image[at] = 0x13;
        assert_eq!(decoded(&image).lanes[1].rx_power, Fact::Known(Milliwatts(0.0)), "{at}");
    }
    image[36..38].copy_from_slice(&[0x13, 0x88]);
    let module = decoded(&image);
    assert_eq!(module.lanes[0].rx_power, Fact::Known(Milliwatts(0.0)));
    assert_eq!(module.diagnostics, Fact::Known(true));
}

#[test]
fn data_not_ready() {
    let mut image = image();
    image[2] = 0x03;
    let module = decoded(&image);
    assert_eq!(module.data_ready, Fact::Known(false));
    assert_eq!(reason(&module.temperature), Reason::NotReported);
    assert_eq!(reason(&module.temperature_flags), Reason::NotReported);
    assert_eq!(reason(&module.lanes[2].rx_power), Reason::NotReported);
    assert_eq!(reason(&module.lanes[2].rx_power_flags), Reason::NotReported);
}

/// A passive cable: flat memory, copper transmitter, length in metres, no light.
#[test]
fn passive_cable() {
    let mut image = image();
    image[1] = 0x07;
    image[2] = 0x06;
    image[22..58].fill(0);
    (image[129], image[130], image[131], image[147]) = (0x00, 0x23, 0x88, 0xa0);
    image[143] = 0;
    image[146] = 3;
    image[192] = 0x0b;
    image[193..196].fill(0);
    image[220] = 0;
    let module = decoded(&image[..256]);
    assert_eq!(module.carries, Carries::PassiveCopper);
    assert_eq!(module.cable_length, Fact::Known(Metres(3.0)));
    assert!(module.claims("100GBASE-CR4") && module.claims("40GBASE-CR4"));
    assert_eq!(module.speeds, [Mbps(40_000), Mbps(100_000)]);
    assert_eq!(module.fec, Some("RS-FEC"));
    assert_eq!(module.diagnostics, Fact::Known(false));
    assert_eq!(reason(&module.wavelength), Reason::NotApplicable);
    assert_eq!(reason(&module.lanes[0].rx_power), Reason::NotApplicable);
    assert_eq!(reason(&module.lanes[0].rx_los), Reason::NotApplicable);
    assert_eq!(reason(&module.thresholds.temperature), Reason::NotImplemented);
    assert_eq!(reason(&module.thresholds.rx_power), Reason::NotApplicable);
    assert!(!has_doubt(&module, "copper-type-with-diagnostics"));
}

/// Optics whose fibre cannot be taken off are a cable, and a copper transmitter is copper.
#[test]
fn cables_by_connector_and_transmitter() {
    let mut image = image();
    image[130] = 0x23;
    image[146] = 15;
    let module = decoded(&image);
    assert_eq!(module.carries, Carries::ActiveCable);
    assert_eq!(module.cable_length, Fact::Known(Metres(15.0)));
    assert!(module.lanes[0].rx_power.known().is_some());
    // What one reports as 0 on every lane is not measured (common practice, no published source);
    // SFF-8636 bytes 34-41 are receive power of lanes 1 to 4.
    let mut unmeasured = image.clone();
    unmeasured[34..42].fill(0);
    assert_eq!(reason(&decoded(&unmeasured).lanes[3].rx_power), Reason::NotImplemented);
    // Byte 3 bits 0-3 are loss of signal: a module that flags it does measure.
    unmeasured[3] = 0x0f;
    assert_eq!(decoded(&unmeasured).lanes[3].rx_power, Fact::Known(Milliwatts(0.0)));
    unmeasured[3] = 0;
    unmeasured[34] = 20;
    assert_eq!(decoded(&unmeasured).lanes[3].rx_power, Fact::Known(Milliwatts(0.0)));
    for (technology, carries) in [(0xb0, Carries::PassiveCopper), (0xd0, Carries::ActiveCable)] {
        image[147] = technology;
        assert_eq!(decoded(&image).carries, carries);
    }
}

/// Single-wavelength 100G types have one media lane (100GBASE-DR, -FR1, -LR1); WDM has four.
#[test]
fn lanes_by_type() {
    for (code, used) in [(0x25, 1), (0x26, 1), (0x27, 1), (0x03, 4), (0x06, 4), (0x21, 2)] {
        let mut image = image();
        image[192] = code;
        let module = decoded(&image);
        let in_use: Vec<_> = module.used_lanes().map(|lane| lane.number).collect();
        assert_eq!(in_use, (1..=used).collect::<Vec<u8>>(), "{code:02x}h");
        assert_eq!(module.lanes.len(), 4);
        assert_eq!(module.top_speed, Fact::Known(Mbps(100_000)));
    }
}

/// A code that stands for several rates tells none; four plain lanes go by their nominal rate.
#[test]
fn speed_without_a_type() {
    for (code, encoding, byte_140, byte_222, speed) in [
        (0x41, 0x08, 0xff, 106, None),
        (0x0c, 0x05, 0xff, 103, Some(100_000)),
        (0x00, 0x05, 103, 0, Some(40_000)),
        (0x00, 0x05, 0xff, 103, Some(100_000)),
        (0x00, 0x08, 0xff, 106, Some(200_000)),
        (0x00, 0x05, 0xff, 106, None),
        (0x00, 0x05, 0xff, 0, None),
        (0x00, 0x05, 0, 103, None),
        (0x7f, 0x05, 0xff, 103, None),
    ] {
        let mut image = image();
        image[131] = 0x80;
        (image[192], image[139], image[140], image[222]) = (code, encoding, byte_140, byte_222);
        let module = decoded(&image);
        let told = module.top_speed.known().copied();
        assert_eq!(told, speed.map(Mbps), "{code:02x}h {byte_140} {byte_222}");
        assert_eq!(module.top_speed_source.contains("nominal rate"), speed.is_some());
    }
}

/// Byte 192 means something from SFF-8636 on, or where byte 131 bit 7 points to it.
#[test]
fn byte_192_of_older_modules() {
    let mut image = image();
    (image[1], image[131]) = (0x02, 0x04);
    let module = decoded(&image);
    assert!(module.claims("40GBASE-SR4") && !module.claims("100GBASE-SR4"));
    assert_eq!(module.standard_revision, Fact::Known("SFF-8436".into()));
    image[131] = 0x84;
    assert!(decoded(&image).claims("100GBASE-SR4"));
}

/// Byte 129 (kernel): bits 7-6 + 1, or bits 1-0 + 4; class 8 in byte 107.
#[test]
fn power_classes() {
    for (bits, text) in [
        (0x00, "power class 1 (up to 1.5 W)"),
        (0x40, "power class 2 (up to 2.0 W)"),
        (0x80, "power class 3 (up to 2.5 W)"),
        (0xc0, "power class 4 (up to 3.5 W)"),
        (0xc1, "power class 5 (up to 4.0 W)"),
        (0xc2, "power class 6 (up to 4.5 W)"),
        (0x03, "power class 7 (up to 5.0 W)"),
        (0xe3, "power class 8 (up to 7.5 W; from memory)"),
    ] {
        let mut image = image();
        image[107] = 75;
        image[129] = bits;
        assert_eq!(decoded(&image).power_class, Fact::Known(text.into()), "{bits:02x}h");
    }
}

/// Byte 93: bit 2 allows classes 5-7, bits 1 and 0 set low power; byte 98: clock recovery on.
#[test]
fn controls_of_the_host() {
    let mut image = image();
    image[129] = 0xcd;
    (image[93], image[98]) = (0x03, 0x0f);
    let module = decoded(&image);
    assert_eq!(
        module.status,
        [
            "low-power mode is set by the host (byte 93)",
            "power above class 4 is not allowed by the host (byte 93)",
            "transmit clock recovery is switched off on some lane",
        ]
    );
    image[194] = 0x00; // it cannot be switched, so the register says nothing
    (image[93], image[2]) = (0x04, 0x00);
    assert_eq!(decoded(&image).status, ["the module asks for attention (interrupt)"]);
}

/// The checksums of the standard, recomputed here in their own few lines.
#[test]
fn checksums() {
    let mut image = image();
    let sum = |bytes: &[u8]| bytes.iter().map(|byte| u32::from(*byte)).sum::<u32>() % 256;
    image[191] = u8::try_from(sum(&image[128..191])).unwrap();
    image[223] = u8::try_from(sum(&image[192..223])).unwrap();
    let module = decoded(&image);
    let names: Vec<_> = module.checksums.iter().map(|checksum| checksum.name).collect();
    assert_eq!(names, ["CC_BASE", "CC_EXT"]);
    assert!(module.checksums.iter().all(|checksum| checksum.matches == Fact::Known(true)));
    assert!(module.doubts.is_empty(), "{:?}", module.doubts);
    image[150] ^= 0x20;
    assert!(has_doubt(&decoded(&image), "checksum-wrong"));
}

/// A driver that hands out page 00h for page 03h gives no limits; nor does a page of zeros.
#[test]
fn pages_that_nobody_selected() {
    let mut image = image();
    let identity = image[128..256].to_vec();
    image[512..].copy_from_slice(&identity);
    let module = decoded(&image);
    assert_eq!(reason(&module.thresholds.temperature), Reason::Malformed);
    assert!(has_doubt(&module, "pages-identical"));
    assert_eq!(module.temperature, Fact::Known(Celsius(30.25)));
    image[512..].fill(0);
    let module = decoded(&image);
    assert_eq!(reason(&module.thresholds.temperature), Reason::Malformed);
    assert!(!has_doubt(&module, "pages-identical"));
    // 256 bytes hold no page 03h at all.
    let module = decoded(&image[..256]);
    assert_eq!(reason(&module.thresholds.temperature), Reason::NotAsked);
}

#[test]
fn what_does_not_fit_together() {
    let mut image = image();
    image[128] = 0x0d;
    assert!(has_doubt(&decoded(&image), "identifiers-differ"));
    let mut long = self::image();
    long[186..188].copy_from_slice(&26_200u16.to_be_bytes()); // 1310 nm
    assert!(has_doubt(&decoded(&long), "short-reach-type-with-long-wavelength"));
    let mut slow = self::image();
    slow[140] = 12;
    assert!(has_doubt(&decoded(&slow), "nominal-rate-contradicts-type"));
    let mut limits = self::image();
    limits[560..568].copy_from_slice(&[0, 10, 0, 100, 0, 10, 0, 100]);
    let module = decoded(&limits);
    assert!(has_doubt(&module, "thresholds-impossible"));
    assert_eq!(reason(&module.thresholds.rx_power), Reason::Malformed);
}
