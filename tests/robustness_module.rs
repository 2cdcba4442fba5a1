//! Module images that are cut, damaged or made up: no panic, the same answer twice, and no
//! reading of bytes that are not there.
//!
//! A cut image in a capture of an otherwise healthy link never makes it healthier than the whole.
//! In: the images of `fixtures/modules`, and images built here from literal offsets (memory-map
//! notes, sections 1, 3 and 4). Every image is cut at every length, as it is and padded to 1024 bytes, and
//! every single bit of it is flipped.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::fixtures;
use std::collections::BTreeSet;

use linkwright::diagnose::{Knowledge, Verdict, diagnose};
use linkwright::module::{Family, ImageError, Memory, Module};
use linkwright::render::{Style, decode, json};
use linkwright::snapshot::{Fact, HexBytes, MemoryBlock, Reason, Snapshot};
use proptest::prelude::*;

fn put(image: &mut [u8], at: usize, bytes: &[u8]) {
    image[at..at + bytes.len()].copy_from_slice(bytes);
}

/// A 100GBASE-SR4 module with readings and limits (SFF-8636).
fn qsfp28() -> Vec<u8> {
    let mut image = vec![0u8; 640];
    put(&mut image, 0, &[0x11, 0x08, 0x02]);
    put(&mut image, 22, &[0x1e, 0x40, 0, 0, 0x80, 0xe8]);
    for word in 0..12 {
        put(&mut image, 34 + 2 * word, &[0x13, 0x88]);
    }
    put(&mut image, 128, &[0x11, 0xcc, 0x0c, 0x80]);
    put(&mut image, 139, &[0x05, 0xff]);
    put(&mut image, 148, b"NORTHLIGHT OPT  ");
    put(&mut image, 186, &[0x42, 0x68]);
    put(&mut image, 192, &[0x02, 0x0f, 0xf0, 0x1a]);
    put(&mut image, 220, &[0x3c, 0, 103]);
    put(&mut image, 512, &[0x4b, 0, 0xfb, 0, 0x46, 0, 0, 0]);
    put(&mut image, 560, &[0x43, 0xe2, 0x01, 0x16, 0x36, 0x0c, 0x02, 0xbb]);
    image
}

/// A 400GBASE-SR8 module (CMIS), pages 00h-11h in linear order.
fn qsfp_dd() -> Vec<u8> {
    let mut image = vec![0u8; 2432];
    put(&mut image, 0, &[0x18, 0x50, 0x00, 0x07]);
    put(&mut image, 14, &[0x1e, 0x40, 0x80, 0xe8]);
    put(&mut image, 85, &[0x01, 0x11, 0x10, 0x88, 0x01, 0xff]);
    image[128] = 0x18;
    put(&mut image, 129, b"KESTREL FIBRE   ");
    put(&mut image, 128 + 138, &[0x42, 0x68]);
    put(&mut image, 128 + 157, &[0x0f, 0x06, 0x03, 0x07]);
    image[128 + 176] = 0x01;
    put(&mut image, 256 + 128, &[0x4b, 0, 0xfb, 0, 0x46, 0, 0, 0]);
    put(&mut image, 17 * 128 + 128, &[0x44; 4]);
    for word in 0..24 {
        put(&mut image, 17 * 128 + 154 + 2 * word, &[0x13, 0x88]);
    }
    put(&mut image, 17 * 128 + 206, &[0x10; 8]);
    image
}

/// The images by name: every one of the fixtures, and those above.
fn images() -> Vec<(String, Vec<u8>)> {
    let mut all = vec![("QSFP28".to_owned(), qsfp28()), ("QSFP-DD".to_owned(), qsfp_dd())];
    for folder in ["modules", "bad"] {
        for entry in std::fs::read_dir(fixtures().join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|extension| extension == "bin") {
                let name = path.file_name().unwrap().to_str().unwrap().to_owned();
                all.push((name, std::fs::read(path).unwrap()));
            }
        }
    }
    assert!(all.len() >= 10, "the fixtures are not where they should be");
    all
}

/// Decodes twice: the same both times, and every power a number that can be.
fn decoded(image: &[u8]) -> Result<Fact<Module>, ImageError> {
    let (memory, _) = Memory::from_image(image)?;
    let module = memory.decode();
    // NaN is not equal to itself: readings must be finite, so plain equality is right.
    assert_eq!(module, Memory::from_image(image)?.0.decode());
    for lane in module.known().map(|module| module.lanes.as_slice()).unwrap_or_default() {
        for power in [&lane.tx_power, &lane.rx_power] {
            if let Fact::Known(power) = power {
                assert!(power.0.is_finite() && power.0 >= 0.0, "{power:?}");
            }
        }
    }
    Ok(module)
}

/// Shows a module: nothing raw reaches a terminal. Ten times as slow as decoding it, so the
/// loops below show a fixed share of what they decode.
fn shown(module: &Fact<Module>) {
    if let Fact::Known(module) = module {
        let text = decode::text(module, "", Style::default());
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{text:?}");
        assert!(json::to_string(&decode::json(module, ""), true).is_ok());
    }
}

/// The bytes that a lane's received power is read from, as they lie in a linear image
/// (SFF-8472 A2h 104, SFF-8636 34, CMIS page 11h 186), lane 1 first.
fn end_of_received_power(family: Family, lane: usize) -> usize {
    match family {
        Family::Sff8472 => 256 + 106,
        Family::Sff8636 => 34 + 2 * lane,
        // Lanes 9 to 16 stand in bank 1, whose page 11h begins 2560 bytes in.
        Family::Cmis if lane > 8 => 2560 + (186 - 128) + 2 * (lane - 8),
        Family::Cmis => 17 * 128 + 186 + 2 * lane,
        Family::ParsedReadings => panic!("an image has a family"),
    }
}

#[test]
fn cut_at_every_length() {
    for (name, image) in images() {
        let mut padded = image.clone();
        padded.resize(image.len().max(1024), 0xa5);
        for (whole, what) in [(&image, "as it is"), (&padded, "padded")] {
            for length in 0..=whole.len() {
                let module = match decoded(&whole[..length]) {
                    Err(error) => {
                        assert_eq!((length, error), (0, ImageError::Empty), "{name} {what}");
                        continue;
                    }
                    Ok(Fact::Missing(why)) => {
                        assert!(why.detail.is_some(), "{name} {what} cut at {length}: {why}");
                        continue;
                    }
                    Ok(Fact::Known(module)) => module,
                };
                if length % 16 == 0 {
                    shown(&Fact::Known(module.clone()));
                }
                for (at, lane) in module.lanes.iter().enumerate() {
                    if length < end_of_received_power(module.family, at + 1) {
                        let known = lane.rx_power.known();
                        assert_eq!(known, None, "{name} {what} cut at {length}");
                    }
                }
                // A name that is cut short is no name.
                let name_ends = match module.family {
                    Family::Sff8472 => 36,
                    Family::Sff8636 => 164,
                    _ => 145,
                };
                assert!(module.vendor_name.known().is_none() || length >= name_ends, "{name}");
                for checksum in &module.checksums {
                    assert!(checksum.matches.known().is_none() || length >= 64, "{name}");
                }
            }
        }
    }
}

/// The gap says what kind it is: the page ends too early, or was not read.
#[test]
fn a_cut_is_said() {
    let module = |image: &[u8]| match decoded(image).unwrap() {
        Fact::Known(module) => module,
        Fact::Missing(why) => panic!("{why}"),
    };
    let reason = |fact: &Fact<_>| fact.why_missing().unwrap().reason;
    assert_eq!(reason(&module(&qsfp28()[..156]).vendor_name), Reason::ShortPage);
    assert_eq!(reason(&module(&qsfp28()[..128]).vendor_name), Reason::NotAsked);
    assert_eq!(reason(&module(&qsfp_dd()[..140]).vendor_name), Reason::ShortPage);
    assert_eq!(reason(&module(&qsfp_dd()[..128]).vendor_name), Reason::NotAsked);
    for whole in [qsfp28(), qsfp_dd()] {
        let module = module(&whole);
        assert!(module.lanes.iter().all(|lane| lane.rx_power.known().is_some()));
    }
}

// ---- cut images in a capture of an otherwise healthy link ---------------------------------

/// Memory blocks of a linear image (memory-map notes 5.2; banks as `decode --help` tells).
fn blocks(image: &[u8]) -> Vec<MemoryBlock> {
    let stretch = |at: usize| -> (u8, u8, u8, u8) {
        let number = u8::try_from(at).unwrap();
        match (image[0], number) {
            (0x02 | 0x03 | 0x0b, _) => (0x50 + number / 2, 0, 0, number % 2 * 128),
            (_, 0) => (0x50, 0, 0, 0),
            (_, 1..=18) => (0x50, 0, number - 1, 128),
            _ => (0x50, (number - 19) / 2 + 1, 0x10 + (number - 19) % 2, 128),
        }
    };
    let block = |(at, bytes): (usize, &[u8])| {
        let (two_wire_address, bank, page, offset) = stretch(at);
        let bytes = Fact::Known(HexBytes(bytes.to_vec()));
        MemoryBlock { two_wire_address, bank, page, offset, bytes }
    };
    image.chunks(128).enumerate().map(block).collect()
}

/// A capture of a link that is up, runs at the best of its port, and counts no damage.
fn healthy_link(whole: &Module) -> Snapshot {
    let speed = whole.top_speed.known().map_or(10_000, |speed| speed.0);
    let at = |milliseconds: u64, frames: u64| {
        serde_json::json!({
            "at_milliseconds": milliseconds, "carrier": true, "carrier_down_count": 1,
            "counters": {"received_frames": frames, "receive_check_sequence_errors": 0,
                "receive_errors": 0, "transmit_errors": 0}
        })
    };
    // Of a type whose name tells no rate, a mode that does.
    let mut modes = vec![format!("{speed}BASE-X")];
    modes.extend(whole.interface_types.iter().map(|claimed| claimed.name.clone()));
    serde_json::from_value(serde_json::json!({
        "format": "linkwright-capture", "version": {"major": 1}, "host": {"name": "keel"},
        "ports": [{
            "name": "quay0", "nature": "hardware", "admin_up": true, "carrier": true,
            "operational_state": "up",
            "ethernet": {"speed_mbps": speed, "duplex": "full", "connector": "fibre",
                "supported_modes": modes},
            "instants": [at(0, 1_000), at(1_000, 51_000)],
        }],
    }))
    .unwrap()
}

fn verdict(link: &mut Snapshot, image: &[u8]) -> Verdict {
    link.ports[0].module.memory = Fact::Known(blocks(image));
    diagnose(link, Knowledge::default()).unwrap().ports[0].verdict
}

/// How many readings of the case and of lanes in use are known.
fn readings(module: &Module) -> usize {
    let case = [module.temperature.known().is_some(), module.supply.known().is_some()];
    let lanes = module.used_lanes().flat_map(|lane| {
        [&lane.rx_power, &lane.tx_power]
            .map(|power| power.known().is_some())
            .into_iter()
            .chain([lane.bias.known().is_some()])
    });
    case.into_iter().chain(lanes).filter(|known| *known).count()
}

/// Design rule 3, "unknown is not healthy": a module's memory that was cut off never passes for
/// healthy with a reading less than the whole has, nor where the whole does not.
#[test]
fn no_cut_image_is_healthier_than_the_whole() {
    let (mut healthy, mut otherwise) = (BTreeSet::new(), BTreeSet::new());
    for (name, image) in images() {
        let Ok(Fact::Known(whole)) = decoded(&image) else { continue };
        let mut link = healthy_link(&whole);
        let of_whole = verdict(&mut link, &image);
        if of_whole == Verdict::Healthy { &mut healthy } else { &mut otherwise }
            .insert(name.clone());
        for length in 0..image.len() {
            if verdict(&mut link, &image[..length]) != Verdict::Healthy {
                continue;
            }
            assert_eq!(of_whole, Verdict::Healthy, "{name} cut at {length}");
            let cut = match decoded(&image[..length]) {
                Ok(Fact::Known(module)) => module,
                other => panic!("{name} cut at {length} is healthy with {other:?}"),
            };
            assert_eq!(readings(&cut), readings(&whole), "{name} cut at {length}");
        }
    }
    // The whole ones are what they were made to be, or the above would show nothing.
    for name in [
        "northlight-10g-sr.bin",
        "kestrel-40g-lr4.bin",
        "northlight-400g-dr4.bin",
        "kestrel-two-banks.bin",
        "gannet-100g-cable.bin",
        "gannet-200g-cable.bin",
        "gannet-10g-cable.bin",
    ] {
        assert!(healthy.contains(name), "{name} is not healthy as a whole");
    }
    for name in [
        "northlight-100g-sr4-weak-lane.bin",
        "kestrel-400g-sr8-dark-lane.bin",
        "pages-ignored-400g-sr8.bin",
        "cut-in-diagnostics.bin",
    ] {
        assert!(otherwise.contains(name), "{name} is healthy as a whole");
    }
}

/// One lane that could not be read is not covered up by the others that could.
#[test]
fn a_lane_that_was_not_read_is_a_gap() {
    let image = std::fs::read(fixtures().join("modules/northlight-400g-dr4.bin")).unwrap();
    let Fact::Known(whole) = decoded(&image).unwrap() else { panic!() };
    let mut link = healthy_link(&whole);
    assert_eq!(verdict(&mut link, &image), Verdict::Healthy);
    // Page 11h bytes 192-193 are the receive power of lane 4.
    assert_eq!(verdict(&mut link, &image[..17 * 128 + 193]), Verdict::Unknown);
    // One lane that is too strong is not covered up by weaker ones: +8 dBm where the type allows 4
    // is more than the reading can be wrong.
    let mut strong = image;
    put(&mut strong, 17 * 128 + 188, &[0xf6, 0x49]); // 63 049: +8.0 dBm on lane 2
    assert_eq!(verdict(&mut link, &strong), Verdict::Fault);
}

#[test]
fn every_bit_flipped() {
    for (_, mut image) in images() {
        for bit in 0..image.len() * 8 {
            image[bit / 8] ^= 1 << (bit % 8);
            match decoded(&image) {
                Ok(module) if bit % 64 == bit / 64 % 64 => shown(&module),
                Ok(_) => {}
                // Another identifier may be of a family whose images are smaller.
                Err(error) => {
                    let too_large = matches!(error, ImageError::TooLarge { .. });
                    assert!(too_large && bit < 8 && image.len() > 1024, "bit {bit}: {error}");
                }
            }
            image[bit / 8] ^= 1 << (bit % 8);
        }
    }
}

/// Any identifier on any of the images: a family, or a refusal that names it.
#[test]
fn every_identifier() {
    for (name, mut image) in images() {
        for identifier in 0..=u8::MAX {
            image[0] = identifier;
            let cut = image.len().min(1024);
            match decoded(&image[..cut]).unwrap() {
                Fact::Known(module) => assert_ne!(module.family, Family::ParsedReadings),
                Fact::Missing(why) => {
                    let named = why.to_string().contains(&format!("{identifier:02x}h"));
                    assert!(named || why.reason == Reason::Malformed, "{name}: {why}");
                }
            }
        }
    }
}

#[test]
fn nothing_answered() {
    for length in 1..=1024 {
        for fill in [0x00, 0xff] {
            let answer = decoded(&vec![fill; length]).unwrap();
            let why = answer.why_missing().unwrap();
            assert_eq!(why.reason, Reason::Malformed);
            assert!(why.to_string().contains("nothing answered"), "{why}");
        }
    }
}

/// An identifier of each family, so that random bytes get past byte 0.
fn identifiers() -> impl Strategy<Value = u8> {
    proptest::sample::select(vec![0x02u8, 0x03, 0x0b, 0x0c, 0x0d, 0x11, 0x18, 0x19, 0x1e, 0x20])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn random_images(
        identifier in identifiers(),
        mut bytes in proptest::collection::vec(any::<u8>(), 1..3300),
    ) {
        bytes[0] = identifier;
        match decoded(&bytes) {
            Ok(module) => {
                shown(&module);
                if let Fact::Known(module) = module {
                    prop_assert!(module.lanes.len() <= 32);
                }
            }
            Err(error) => {
                let too_large = matches!(error, ImageError::TooLarge { .. });
                prop_assert!(too_large && bytes.len() > 1024);
            }
        }
    }

    /// Blocks of a capture: any address, bank, page, offset and length, known or not.
    #[test]
    fn random_blocks(
        identifier in identifiers(),
        blocks in proptest::collection::vec(
            (any::<bool>(), 0u8..4, 0u8..20, any::<u8>(),
             proptest::option::of(proptest::collection::vec(any::<u8>(), 0..300))),
            0..12,
        ),
    ) {
        let mut all = vec![MemoryBlock {
            two_wire_address: 0x50,
            bytes: Fact::Known(HexBytes(vec![identifier])),
            ..MemoryBlock::default()
        }];
        all.extend(blocks.into_iter().map(|(second, bank, page, offset, bytes)| MemoryBlock {
            two_wire_address: if second { 0x51 } else { 0x50 },
            bank,
            page,
            offset,
            bytes: bytes.map_or_else(
                || Fact::missing(Reason::BusError),
                |bytes| Fact::Known(HexBytes(bytes)),
            ),
        }));
        let memory = Memory::from_blocks(&all);
        let module = memory.decode();
        prop_assert_eq!(&module, &memory.decode());
        shown(&module);
    }

    /// Text: hex or not, it is an image or a clear error.
    #[test]
    fn random_text(text in "[0-9a-fA-FxX# \\n]{0,400}") {
        match Memory::image_from_text(&text) {
            Ok(image) => prop_assert!(image.len() <= text.len()),
            Err(error) => prop_assert!(error.to_string().contains("line ")),
        }
        let _ = Memory::from_file(text.as_bytes());
    }
}
