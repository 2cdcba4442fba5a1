//! Images with literal bytes at literal offsets (section 4 of the memory-map notes). In a linear
//! image byte b of upper page p stands at 128 * p + b (kernel, old driver interface).

use super::*;
use crate::quantity::{Celsius, Mbps, Milliwatts};
use crate::snapshot::{HexBytes, MemoryBlock};

fn near(ours: f64, theirs: f64, tolerance: f64) {
    assert!((ours - theirs).abs() <= tolerance, "{ours} is not {theirs}");
}

fn at(page: usize, byte: usize) -> usize {
    128 * page + byte
}

fn put(image: &mut [u8], page: usize, byte: usize, bytes: &[u8]) {
    image[at(page, byte)..at(page, byte) + bytes.len()].copy_from_slice(bytes);
}

/// A QSFP-DD for 400GBASE-SR8, eight lanes in use.
fn image() -> Vec<u8> {
    let mut image = vec![0u8; 2432];
    put(&mut image, 0, 0, &[0x18, 0x50, 0x00, 0x07]); // CMIS 5.0, paged, ready, no interrupt
    put(&mut image, 0, 14, &[0x1e, 0x40, 0x80, 0xe8]); // 30.25 degC, 3.3 V
    image[85] = 0x01;
    put(&mut image, 0, 86, &[0x11, 0x10, 0x88, 0x01]); // 400GAUI-8 to 400GBASE-SR8
    put(&mut image, 0, 90, &[0x0f, 0x0e, 0x44, 0x11]); // 200GAUI-4 to 200GBASE-SR4, twice
    image[94] = 0xff;
    image[128] = 0x18;
    put(&mut image, 0, 129, b"KESTREL FIBRE   ");
    put(&mut image, 0, 145, &[0x02, 0x33, 0x44]);
    put(&mut image, 0, 148, b"KF-400SR8       B ");
    put(&mut image, 0, 166, b"TWS-2001        250630A1");
    put(&mut image, 0, 200, &[0xa0, 48, 0x00, 0x28]); // class 6, 12 W, no cable, MPO 1x16
    put(&mut image, 1, 134, &[50, 35]); // OM4, OM3
    put(&mut image, 1, 138, &[0x42, 0x68]); // 17000 * 0.05 = 850 nm
    image[at(1, 151)] = 0x10;
    put(&mut image, 1, 157, &[0x0f, 0x06, 0x03, 0x0f]); // all monitors and flags, bias times 2
    put(&mut image, 1, 176, &[0x01, 0x11]);
    put(&mut image, 2, 128, &[0x4b, 0, 0xfb, 0, 0x46, 0, 0, 0]); // 75, -5, 70, 0 degC
    put(&mut image, 2, 136, &[0x8d, 0xcc, 0x74, 0x04, 0x87, 0x5a, 0x7a, 0x76]);
    put(&mut image, 2, 176, &[0x4d, 0xc8, 0x02, 0xbb, 0x3d, 0xcc, 0x06, 0xfc]); // Tx power
    put(&mut image, 2, 184, &[0x17, 0x70, 0x03, 0xe8, 0x13, 0x88, 0x07, 0xd0]); // Tx bias
    put(&mut image, 2, 192, &[0x43, 0xe2, 0x01, 0x16, 0x36, 0x0c, 0x02, 0xbb]); // Rx power
    put(&mut image, 0x11, 128, &[0x44; 4]); // every data path activated
    for lane in 0..8 {
        put(&mut image, 0x11, 154 + 2 * lane, &[0x27, 0x10]);
        put(&mut image, 0x11, 170 + 2 * lane, &[0x03, 0xe8]);
        put(&mut image, 0x11, 186 + 2 * lane, &[0x13, 0x88]);
    }
    put(&mut image, 0x11, 202, &[0x11; 4]);
    put(&mut image, 0x11, 206, &[0x10; 8]); // application 1, data path 0
    image
}

fn decoded(image: &[u8]) -> Module {
    let (memory, _) = Memory::from_image(image).unwrap();
    memory.decode().known().unwrap().clone()
}

fn reason<T>(fact: &Fact<T>) -> Reason {
    fact.why_missing().unwrap().reason
}

fn used(module: &Module) -> Vec<u8> {
    module.used_lanes().map(|lane| lane.number).collect()
}

fn has_doubt(module: &Module, kind: &str) -> bool {
    module.doubts.iter().any(|doubt| doubt.kind.name() == kind)
}

#[test]
fn identity() {
    let module = decoded(&image());
    assert_eq!(module.family, Family::Cmis);
    assert_eq!(module.form_factor, Fact::Known("QSFP-DD".into()));
    assert_eq!(module.connector, Fact::Known("MPO 1x16".into()));
    assert_eq!(module.standard_revision, Fact::Known("CMIS 5.0".into()));
    assert_eq!(module.vendor_name, Fact::Known("KESTREL FIBRE".into()));
    assert_eq!(module.vendor_oui, Fact::Known("02-33-44".into()));
    assert_eq!(module.part_number, Fact::Known("KF-400SR8".into()));
    assert_eq!(module.revision, Fact::Known("B".into()));
    assert_eq!(module.serial_number, Fact::Known("TWS-2001".into()));
    assert_eq!(module.date_code, Fact::Known("2025-06-30 lot A1".into()));
    assert_eq!(
        module.power_class,
        Fact::Known("power class 6 (up to 12.00 W; from memory)".into())
    );
    assert_eq!(module.carries, Carries::MultimodeFibre);
    assert_eq!(module.wavelength, Fact::Known(Nanometres(850.0)));
    assert_eq!(module.state, Fact::Known("ready".into()));
    assert_eq!(reason(&module.data_ready), Reason::NotApplicable);
    assert_eq!(reason(&module.cable_length), Reason::NotApplicable);
    let reaches: Vec<_> = module.reaches.iter().map(|r| (r.medium, r.metres.0)).collect();
    assert_eq!(reaches, [("OM4", 100.0), ("OM3", 70.0)]);
    assert!(module.status.is_empty(), "{:?}", module.status);
    assert!(module.flags_latched);
}

/// Memory-map notes 4.2 and 4.6: the list ends at FFh; what stands behind is not read.
#[test]
fn applications_of_the_module() {
    let mut image = image();
    put(&mut image, 0, 98, &[0x0c, 0x09, 0x44, 0x11]);
    let module = decoded(&image);
    let types: Vec<_> =
        module.interface_types.iter().map(|claimed| claimed.name.as_str()).collect();
    assert_eq!(types, ["400GBASE-SR8", "200GBASE-SR4"]);
    assert_eq!(module.speeds, [Mbps(200_000), Mbps(400_000)]);
    assert_eq!(module.top_speed, Fact::Known(Mbps(400_000)));
    assert!(module.top_speed_source.starts_with("400GBASE-SR8, CMIS application 1"));
    // Eight descriptors in the lower memory, and seven more on page 01h from 223 on.
    for nth in 0..8 {
        put(&mut image, 0, 86 + 4 * nth, &[0x0f, 0x0e, 0x44, 0x11]);
    }
    put(&mut image, 1, 223, &[0x05, 0x03, 0x11, 0xff]);
    image[at(1, 227)] = 0xff;
    let module = decoded(&image);
    let last = module.interface_types.last().unwrap();
    assert_eq!((last.name.as_str(), last.speed), ("25GBASE-SR", Some(Mbps(25_000))));
    assert!(last.source.contains("application 9"));
    // A media code that is not listed keeps its number; the host side tells the rate.
    put(&mut image, 0, 86, &[0x11, 0xc3, 0x88, 0x01]);
    let module = decoded(&image);
    let first = &module.interface_types[0];
    assert_eq!(first.name, "media interface c3h for 400GAUI-8 C2M");
    assert_eq!(first.speed, Some(Mbps(400_000)));
}

/// Notes 4.4 and 4.5: Tx power 154, Tx bias 170, Rx power 186, two bytes a lane; bias scale 2
/// makes raw 1000 into 4.000 mA.
#[test]
fn readings_of_each_lane() {
    let mut image = image();
    put(&mut image, 0x11, 154 + 14, &[0x03, 0xe8]); // lane 8 Tx: -10 dBm
    put(&mut image, 0x11, 186 + 4, &[0x00, 0x01]); // lane 3 Rx: -40 dBm
    let module = decoded(&image);
    assert_eq!(module.temperature, Fact::Known(Celsius(30.25)));
    near(module.supply.known().unwrap().0, 3.3, 1e-9);
    assert_eq!(module.rx_power_kind, Fact::Known(RxPowerKind::Average));
    assert_eq!(used(&module), [1, 2, 3, 4, 5, 6, 7, 8]);
    for lane in &module.lanes {
        near(lane.bias.known().unwrap().0, 4.0, 1e-9);
        let tx = if lane.number == 8 { -10.0 } else { 0.0 };
        let rx = if lane.number == 3 { -40.0 } else { -3.010 };
        near(lane.tx_power.known().unwrap().dbm().unwrap().0, tx, 0.0005);
        near(lane.rx_power.known().unwrap().dbm().unwrap().0, rx, 0.0005);
        assert_eq!(lane.data_path_state, Fact::Known("activated".into()));
    }
}

/// Notes 4.4: 160 bits 4-3 scale the bias, for monitors and limits alike; 3 is not defined.
#[test]
fn bias_scales() {
    for (bits, milliamps, limit) in [(0x07, 2.0, 12.0), (0x0f, 4.0, 24.0), (0x17, 8.0, 48.0)] {
        let mut image = image();
        image[at(1, 160)] = bits;
        let module = decoded(&image);
        near(module.lanes[0].bias.known().unwrap().0, milliamps, 1e-9);
        near(module.thresholds.bias.known().unwrap().high_alarm.0, limit, 1e-9);
    }
    let mut image = image();
    image[at(1, 160)] = 0x1f;
    let module = decoded(&image);
    assert_eq!(reason(&module.lanes[0].bias), Reason::Malformed);
    assert_eq!(reason(&module.thresholds.bias), Reason::Malformed);
    assert!(module.lanes[0].tx_power.known().is_some());
}

/// Notes 4.4: page 02h orders Tx power, Tx bias, Rx power, unlike SFF-8636 page 03h.
#[test]
fn limits_of_page_2() {
    let module = decoded(&image());
    let limits = &module.thresholds;
    let celsius = limits.temperature.known().unwrap();
    assert_eq!((celsius.high_alarm.0, celsius.low_alarm.0), (75.0, -5.0));
    assert_eq!((celsius.high_warning.0, celsius.low_warning.0), (70.0, 0.0));
    near(limits.supply.known().unwrap().high_alarm.0, 3.63, 1e-9);
    // 4DC8h = 19912, 43E2h = 17378 (0.1 uW).
    near(limits.tx_power.known().unwrap().high_alarm.0, 1.9912, 1e-9);
    near(limits.rx_power.known().unwrap().high_alarm.0, 1.7378, 1e-9);
}

/// Notes 4.5: a bit a lane. Each flag at its byte, each lane at its bit, and no other.
#[test]
fn one_bit_is_one_lane() {
    type Pick = fn(&Lane) -> &Fact<bool>;
    let picks: [(usize, usize, Pick); 6] = [
        (0x11, 135, |lane| &lane.tx_fault),
        (0x11, 136, |lane| &lane.tx_los),
        (0x11, 137, |lane| &lane.tx_loss_of_lock),
        (0x11, 147, |lane| &lane.rx_los),
        (0x11, 148, |lane| &lane.rx_loss_of_lock),
        (0x10, 130, |lane| &lane.tx_disabled),
    ];
    for (page, byte, pick) in picks {
        for lane in 1..=8u8 {
            let mut image = image();
            image[at(page, byte)] = 1 << (lane - 1);
            let module = decoded(&image);
            let set: Vec<_> = module
                .lanes
                .iter()
                .filter(|lane| *pick(lane) == Fact::Known(true))
                .map(|lane| lane.number)
                .collect();
            assert_eq!(set, [lane], "page {page:02x}h byte {byte}");
        }
    }
}

/// Notes 4.1: byte 9 goes high alarm, low alarm, high warning, low warning from bit 0 up, unlike
/// SFF-8636; notes 4.5: on page 11h the four are bytes, in that order.
#[test]
fn flags_go_from_low_to_high() {
    let none = Flags::default();
    let four = [
        Flags { high_alarm: true, ..none },
        Flags { low_alarm: true, ..none },
        Flags { high_warning: true, ..none },
        Flags { low_warning: true, ..none },
    ];
    for (nth, expected) in four.into_iter().enumerate() {
        let mut image = image();
        image[9] = 1 << nth;
        assert_eq!(decoded(&image).temperature_flags, Fact::Known(expected));
        assert_eq!(decoded(&image).supply_flags, Fact::Known(none));
        image[9] = 0x10 << nth;
        assert_eq!(decoded(&image).supply_flags, Fact::Known(expected));
        image[at(0x11, 139 + nth)] = 0x02;
        image[at(0x11, 143 + nth)] = 0x04;
        image[at(0x11, 149 + nth)] = 0x80;
        let module = decoded(&image);
        assert_eq!(module.lanes[1].tx_power_flags, Fact::Known(expected));
        assert_eq!(module.lanes[2].bias_flags, Fact::Known(expected));
        assert_eq!(module.lanes[7].rx_power_flags, Fact::Known(expected));
        assert_eq!(module.lanes[0].rx_power_flags, Fact::Known(none));
    }
}

/// Notes 4.4: "a monitor whose support bit is 0 is not supported, whatever its bytes hold".
#[test]
fn advertised_or_not() {
    let clear = |byte: usize, mask: u8| {
        let mut image = image();
        image[at(0x11, 135)..at(0x11, 153)].fill(0xff);
        image[at(1, byte)] &= !mask;
        decoded(&image)
    };
    let lane = |module: &Module| module.lanes[0].clone();
    assert_eq!(reason(&clear(159, 1).temperature), Reason::NotImplemented);
    assert_eq!(reason(&clear(159, 1).temperature_flags), Reason::NotImplemented);
    assert!(clear(159, 1).supply.known().is_some());
    assert_eq!(reason(&clear(159, 2).supply), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(160, 1)).bias), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(160, 1)).bias_flags), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(160, 2)).tx_power), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(160, 4)).rx_power), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(160, 4)).rx_power_flags), Reason::NotImplemented);
    assert!(lane(&clear(160, 4)).tx_power.known().is_some());
    assert_eq!(reason(&lane(&clear(157, 1)).tx_fault), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(157, 2)).tx_los), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(157, 4)).tx_loss_of_lock), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(158, 2)).rx_los), Reason::NotImplemented);
    assert_eq!(reason(&lane(&clear(158, 4)).rx_loss_of_lock), Reason::NotImplemented);
    assert_eq!(lane(&clear(158, 4)).rx_los, Fact::Known(true));
}

/// Notes 4.4: 159 is the module's monitors, 160 the lanes'; either makes it diagnostics.
#[test]
fn diagnostics_by_either_byte() {
    for (module_bits, lane_bits, expected) in
        [(0x01, 0x00, true), (0x02, 0x00, true), (0x00, 0x04, true), (0x3c, 0x18, false)]
    {
        let mut image = image();
        put(&mut image, 1, 159, &[module_bits, lane_bits]);
        let module = decoded(&image);
        assert_eq!(module.diagnostics, Fact::Known(expected), "{module_bits:02x} {lane_bits:02x}");
    }
}

/// Notes 4.5 and 4.4: 138 is a bit a lane, and counts where 157 bit 3 advertises it.
#[test]
fn equalizer_failure() {
    let failed = |bits: u8, advertised: u8| {
        let mut image = image();
        image[at(0x11, 138)] = bits;
        image[at(1, 157)] = advertised;
        decoded(&image).status.iter().any(|words| words.contains("equalizer"))
    };
    assert!(failed(0x80, 0x08));
    assert!(!failed(0x80, 0x07));
    assert!(!failed(0x00, 0x0f));
}

/// Notes 4.3: byte 212 names the transmitter, and the medium where byte 85 does not.
#[test]
fn technology() {
    let mut image = image();
    (image[85], image[212]) = (0x00, 0x06);
    let module = decoded(&image);
    assert_eq!(module.technology, Fact::Known("1310 nm EML".into()));
    assert_eq!(module.carries, Carries::SingleModeFibre);
    image[212] = 0x00; // "850 nm VCSEL" and "left empty" alike: nothing is concluded
    assert_eq!(decoded(&image).carries, Carries::Unknown);
}

/// Without page 01h nobody knows what is monitored: missing for that page's reason.
#[test]
fn advertising_that_was_not_read() {
    let module = decoded(&image()[..256]);
    assert_eq!(reason(&module.temperature), Reason::NotAsked);
    assert!(module.temperature.why_missing().unwrap().to_string().contains("page 01h"));
    assert_eq!(reason(&module.lanes[0].rx_power), Reason::NotAsked);
    assert_eq!(reason(&module.diagnostics), Reason::NotAsked);
    assert_eq!(module.vendor_name, Fact::Known("KESTREL FIBRE".into()));
    assert_eq!(module.top_speed, Fact::Known(Mbps(400_000)));
    assert_eq!(used(&module).len(), 8);
    // 512 bytes have the limits and no lane monitors (one switch driver, notes 5.2).
    let module = decoded(&image()[..512]);
    assert_eq!(module.temperature, Fact::Known(Celsius(30.25)));
    assert!(module.thresholds.rx_power.known().is_some());
    assert_eq!(reason(&module.lanes[0].rx_power), Reason::NotAsked);
}

/// A page of zeros or of FFh would say that nothing is implemented; it is one nobody selected.
#[test]
fn pages_that_nobody_selected() {
    for fill in [0x00, 0xff] {
        let mut image = image();
        image[at(1, 128)..at(1, 256)].fill(fill);
        let module = decoded(&image);
        assert_eq!(reason(&module.temperature), Reason::Malformed);
        assert_eq!(reason(&module.diagnostics), Reason::Malformed);
        let mut image = self::image();
        image[at(0x11, 128)..at(0x11, 256)].fill(fill);
        let module = decoded(&image);
        assert_eq!(reason(&module.lanes[0].rx_power), Reason::Malformed);
        assert!(module.temperature.known().is_some());
    }
    let mut image = image();
    let identity = image[at(0, 128)..at(0, 256)].to_vec();
    put(&mut image, 2, 128, &identity);
    let module = decoded(&image);
    assert_eq!(reason(&module.thresholds.temperature), Reason::Malformed);
    assert!(has_doubt(&module, "pages-identical"));
}

/// A passive copper cable: flat memory, host interface names the type.
#[test]
fn flat_memory() {
    let mut image = image();
    image[0] = 0x1e;
    image[128] = 0x1e;
    image[2] = 0x80;
    image[85] = 0x03;
    put(&mut image, 0, 86, &[0x1a, 0x01, 0x44, 0x01]);
    image[90] = 0xff;
    put(&mut image, 0, 202, &[0x43, 0x23]); // 3 * 1 m, no separable connector
    image[212] = 0x0a;
    let module = decoded(&image);
    assert_eq!(module.carries, Carries::PassiveCopper);
    assert!(module.claims("100GBASE-CR4"));
    assert_eq!(module.top_speed, Fact::Known(Mbps(100_000)));
    assert_eq!(module.cable_length, Fact::Known(Metres(3.0)));
    assert_eq!(module.diagnostics, Fact::Known(false));
    // The image does hold bytes where these pages would be.
    assert_eq!(reason(&module.temperature), Reason::NotImplemented);
    assert_eq!(reason(&module.thresholds.temperature), Reason::NotImplemented);
    assert_eq!(reason(&module.lanes[0].tx_los), Reason::NotImplemented);
    assert_eq!(reason(&module.lanes[0].rx_power), Reason::NotApplicable);
    assert_eq!(reason(&module.wavelength), Reason::NotApplicable);
    assert_eq!(used(&module), [1, 2, 3, 4]);
    assert_eq!(module.checksums.len(), 1);
}

/// Notes 4.3: byte 202 bits 7-6 are x0.1, x1, x10, x100.
#[test]
fn cable_lengths() {
    for (byte, metres) in [(0x05, 0.5), (0x41, 1.0), (0x82, 20.0), (0xc1, 100.0)] {
        let mut image = image();
        (image[85], image[202]) = (0x04, byte);
        near(decoded(&image).cable_length.known().unwrap().0, metres, 1e-9);
    }
}

#[test]
fn module_states() {
    for (bits, text) in [
        (0x03, "low power"),
        (0x05, "powering up"),
        (0x07, "ready"),
        (0x09, "powering down"),
        (0x0b, "fault (cause 2ah)"),
        (0x0f, "state 7h"),
    ] {
        let mut image = image();
        (image[3], image[41]) = (bits, 0x2a);
        assert_eq!(decoded(&image).state, Fact::Known(text.into()));
    }
    let mut image = image();
    (image[3], image[8], image[26]) = (0x06, 0x06, 0x10);
    assert_eq!(decoded(&image).status.len(), 4, "{:?}", decoded(&image).status);
}

/// Notes 4.5: byte 128 bits 3-0 are lane 1, bits 7-4 lane 2, and so on.
#[test]
fn data_path_states() {
    let mut image = image();
    put(&mut image, 0x11, 128, &[0x21, 0x43, 0x65, 0x87]);
    let module = decoded(&image);
    let states: Vec<_> =
        module.lanes.iter().map(|lane| lane.data_path_state.known().unwrap().as_str()).collect();
    assert_eq!(
        states,
        [
            "deactivated",
            "initializing",
            "deinitializing",
            "activated",
            "turning its transmitter on",
            "turning its transmitter off",
            "initialized",
            "state 8h",
        ]
    );
}

/// Notes 4.5: a lane with application 0 is not in use.
#[test]
fn lanes_in_use() {
    let active = |sets: [u8; 8]| {
        let mut image = image();
        put(&mut image, 0x11, 206, &sets);
        decoded(&image)
    };
    // Application 2 on host lanes 1-4 only, then on 5-8 only (data path 4), then on both.
    assert_eq!(used(&active([0x20, 0x20, 0x20, 0x20, 0, 0, 0, 0])), [1, 2, 3, 4]);
    assert_eq!(used(&active([0, 0, 0, 0, 0x28, 0x28, 0x28, 0x28])), [5, 6, 7, 8]);
    assert_eq!(used(&active([0x20, 0x20, 0x20, 0x20, 0x28, 0x28, 0x28, 0x28])).len(), 8);
    // An application that is not listed: each lane that has it is in use.
    assert_eq!(used(&active([0, 0x70, 0, 0, 0, 0, 0x7c, 0])), [2, 7]);
    let none = active([0; 8]);
    assert_eq!(used(&none), [] as [u8; 0]);
    assert_eq!(none.status, ["no application is selected on any lane"]);
    assert_eq!(none.lanes.len(), 8);
}

/// Eight host lanes, four media lanes (400G-FR4): media lanes 5-8 carry no light to be missed.
#[test]
fn fewer_media_lanes_than_host_lanes() {
    let mut image = image();
    image[85] = 0x02;
    put(&mut image, 0, 86, &[0x11, 0x1d, 0x84, 0x01]);
    let module = decoded(&image);
    assert!(module.claims("400G-FR4"));
    assert_eq!(used(&module), [1, 2, 3, 4]);
    // The same said by byte 210 alone.
    let mut image = self::image();
    image[210] = 0xf0;
    assert_eq!(used(&decoded(&image)), [1, 2, 3, 4]);
    // Four times 100GBASE-DR, two host lanes each: the third data path (host lanes 5 and 6) is
    // media lane 3.
    let mut image = self::image();
    image[85] = 0x02;
    put(&mut image, 0, 86, &[0x0d, 0x14, 0x21, 0x55]);
    image[at(1, 176)] = 0x0f;
    put(&mut image, 0x11, 206, &[0, 0, 0, 0, 0x18, 0x18, 0, 0]);
    assert_eq!(used(&decoded(&image)), [3]);
    // Media lanes need not be the first ones: the third place of 10101010b is lane 6.
    image[at(1, 176)] = 0xaa;
    assert_eq!(used(&decoded(&image)), [6]);
}

/// Banks beyond the first hold lanes 9 and up; page 01h byte 142 bits 1-0 say how many there are.
#[test]
fn lanes_in_further_banks() {
    let image = image();
    let block = |bank: u8, page: u8, offset: u8, bytes: &[u8]| MemoryBlock {
        two_wire_address: 0x50,
        bank,
        page,
        offset,
        bytes: Fact::Known(HexBytes(bytes.to_vec())),
    };
    let mut advertising = image[at(1, 128)..at(1, 256)].to_vec();
    advertising[142 - 128] = 0x01;
    let mut second = image[at(0x11, 128)..at(0x11, 256)].to_vec();
    second[186 - 128..188 - 128].copy_from_slice(&[0x03, 0xe8]); // lane 9 Rx: -10 dBm
    second[147 - 128] = 0x80; // lane 16 Rx LOS
    let mut blocks = vec![
        block(0, 0, 0, &image[..128]),
        block(0, 0, 128, &image[128..256]),
        block(0, 1, 128, &advertising),
        block(0, 0x11, 128, &image[at(0x11, 128)..at(0x11, 256)]),
    ];
    // The second bank was not read: its lanes are there, and missing.
    let module = Memory::from_blocks(&blocks).decode().known().unwrap().clone();
    assert_eq!(module.lanes.len(), 16);
    assert_eq!(module.lanes[8].number, 9);
    assert_eq!(reason(&module.lanes[8].rx_power), Reason::NotAsked);
    assert!(module.lanes[7].rx_power.known().is_some());
    blocks.push(block(1, 0x11, 128, &second));
    let module = Memory::from_blocks(&blocks).decode().known().unwrap().clone();
    near(module.lanes[8].rx_power.known().unwrap().dbm().unwrap().0, -10.0, 0.0005);
    assert_eq!(module.lanes[15].number, 16);
    assert_eq!(module.lanes[15].rx_los, Fact::Known(true));
    assert_eq!(module.lanes[7].rx_los, Fact::Known(false));
    assert_eq!(used(&module).len(), 16);
}

/// The checksums of the standard (00h 128-221, 01h 130-254, 02h 128-254), recomputed here.
#[test]
fn checksums() {
    let mut image = image();
    let sum = |bytes: &[u8]| {
        u8::try_from(bytes.iter().map(|byte| u32::from(*byte)).sum::<u32>() % 256).unwrap()
    };
    image[at(0, 222)] = sum(&image[at(0, 128)..at(0, 222)]);
    image[at(1, 255)] = sum(&image[at(1, 130)..at(1, 255)]);
    image[at(2, 255)] = sum(&image[at(2, 128)..at(2, 255)]);
    let module = decoded(&image);
    assert!(module.checksums.iter().all(|checksum| checksum.matches == Fact::Known(true)));
    assert_eq!(module.checksums.len(), 3);
    assert!(module.doubts.is_empty(), "{:?}", module.doubts);
    image[at(1, 128)] = 0x77; // firmware revision, which the sum leaves out
    assert!(!has_doubt(&decoded(&image), "checksum-wrong"));
    image[at(1, 140)] ^= 1;
    assert!(has_doubt(&decoded(&image), "checksum-wrong"));
}

#[test]
fn what_does_not_fit_together() {
    let mut image = image();
    image[128] = 0x19;
    assert!(has_doubt(&decoded(&image), "identifiers-differ"));
    let mut long = self::image();
    put(&mut long, 1, 138, &26_200u16.to_be_bytes()); // 1310 nm
    assert!(has_doubt(&decoded(&long), "short-reach-type-with-long-wavelength"));
    let mut copper = self::image();
    copper[85] = 0x05;
    let copper = decoded(&copper);
    assert!(has_doubt(&copper, "copper-type-with-diagnostics"));
    assert_eq!(copper.lanes[0].rx_power, Fact::Missing(no_light(Carries::TwistedPair).unwrap()));
    let mut limits = self::image();
    put(&mut limits, 2, 192, &[0xff; 8]);
    let limits = decoded(&limits);
    assert!(has_doubt(&limits, "thresholds-impossible"));
    assert_eq!(reason(&limits.thresholds.rx_power), Reason::Malformed);
    let mut rejected = self::image();
    put(&mut rejected, 0x11, 202, &[0x31, 0x11, 0x11, 0x11]);
    assert!(decoded(&rejected).status.iter().any(|words| words.contains("configuration")));
    let dark = {
        let mut image = self::image();
        put(&mut image, 0x11, 186, &[0, 0]);
        decoded(&image)
    };
    assert_eq!(dark.lanes[0].rx_power, Fact::Known(Milliwatts(0.0)));
}
