//! Module memory: serial numbers in their field, and every other copy of a secret.
//!
//! A checksum over bytes that change changes by as much, so that a right one stays right and a wrong
//! one stays as wrong. A page that repeats another one still does, since that is a finding. Only where
//! blocks contradict each other, or run past byte 255, may a secret across them take readable bytes
//! with it.

use std::collections::BTreeMap;

use crate::module::{Family, codes};
use crate::report::redact::names::{Book, Token};
use crate::report::redact::text::{Finder, fitted, shown};
use crate::snapshot::{Fact, HexBytes, MemoryBlock, ModuleFacts};

/// Two-wire address, bank and page.
type Place = (u8, u8, u8);

const A0: Place = (0x50, 0, 0);
const A2: Place = (0x51, 0, 0);
const PAGE_01: Place = (0x50, 0, 1);
const PAGE_02: Place = (0x50, 0, 2);

/// Where a family keeps its serial number: place, first byte (16 bytes). SFF-8472 table 3.1;
/// SFF-8636 page 00h; CMIS page 00h.
fn serials(family: Option<Family>) -> &'static [(Place, usize)] {
    match family {
        Some(Family::Sff8472) => &[(A0, 68)],
        Some(Family::Sff8636) => &[(A0, 196)],
        Some(Family::Cmis) => &[(A0, 166)],
        // Not decoded; it may be any of them, or INF-8077 (page 01h, from memory).
        Some(Family::ParsedReadings) | None => &[(A0, 68), (A0, 196), (A0, 166), (PAGE_01, 196)],
    }
}

/// Bytes of a serial number field.
const SERIAL: usize = 16;

/// Checksums of a family: place, first and last byte of what it covers, and where it is stored.
fn sums(family: Option<Family>) -> &'static [(Place, usize, usize, usize)] {
    match family {
        Some(Family::Sff8472) => &[(A0, 0, 62, 63), (A0, 64, 94, 95), (A2, 0, 94, 95)],
        Some(Family::Sff8636) => &[(A0, 128, 190, 191), (A0, 192, 222, 223)],
        Some(Family::Cmis) => {
            &[(A0, 128, 221, 222), (PAGE_01, 130, 254, 255), (PAGE_02, 128, 254, 255)]
        }
        Some(Family::ParsedReadings) | None => &[],
    }
}

/// The bytes of one place, before and after. Where blocks overlap the first one counts, as it does
/// for who reads a field.
struct Image {
    old: [Option<u8>; 256],
    new: [Option<u8>; 256],
}

fn images(blocks: &[MemoryBlock]) -> BTreeMap<Place, Image> {
    let mut images = BTreeMap::new();
    for block in blocks {
        let Fact::Known(HexBytes(bytes)) = &block.bytes else { continue };
        let image = images
            .entry((block.two_wire_address, block.bank, block.page))
            .or_insert(Image { old: [None; 256], new: [None; 256] });
        let places = image.old.iter_mut().skip(usize::from(block.offset));
        for (place, byte) in places.zip(bytes) {
            place.get_or_insert(*byte);
        }
    }
    for image in images.values_mut() {
        image.new = image.old;
    }
    images
}

fn family(images: &BTreeMap<Place, Image>) -> Option<Family> {
    let identifier = images.get(&A0)?.old.first()?;
    codes::family((*identifier)?)
}

/// The bytes of a serial number that were read; none where the field is empty or nothing answered.
fn stored(images: &BTreeMap<Place, Image>, (place, first): (Place, usize)) -> Option<Vec<u8>> {
    let field = images.get(&place)?.old.get(first..first + SERIAL)?;
    let bytes: Vec<u8> = field.iter().flatten().copied().collect();
    let blank = |byte: u8| matches!(byte, 0 | b' ');
    let nothing = bytes.iter().all(|byte| blank(*byte)) || bytes.iter().all(|byte| *byte == 0xff);
    (!nothing).then_some(bytes)
}

/// What the serial number fields hold.
pub fn collect(module: &ModuleFacts, book: &mut Book) {
    let blocks = module.memory.known().map(Vec::as_slice).unwrap_or_default();
    let known = family(&images(blocks));
    let again = module.readings_over_time.known().into_iter().flatten();
    for blocks in std::iter::once(blocks).chain(again.map(|one| one.ranges.as_slice())) {
        let images = images(blocks);
        for field in serials(known) {
            if let Some(bytes) = stored(&images, *field) {
                let blank = |byte: &u8| matches!(byte, 0 | b' ');
                let start = bytes.iter().position(|byte| !blank(byte)).unwrap_or(0);
                let end = bytes.iter().rposition(|byte| !blank(byte)).unwrap_or(0);
                book.raw_serial(&shown(&bytes), bytes.get(start..=end).unwrap_or_default());
            }
        }
    }
}

/// Replaces all secrets in it.
pub fn replace(module: &mut ModuleFacts, book: &Book, finder: &Finder) {
    let mut known = None;
    if let Fact::Known(blocks) = &mut module.memory {
        known = family(&images(blocks));
        replace_in(blocks, known, book, finder);
    }
    if let Fact::Known(again) = &mut module.readings_over_time {
        for reading in again {
            replace_in(&mut reading.ranges, known, book, finder);
        }
    }
}

fn replace_in(blocks: &mut [MemoryBlock], family: Option<Family>, book: &Book, finder: &Finder) {
    let mut images = images(blocks);
    for image in images.values_mut() {
        scrub(image, book, finder);
    }
    let mut fields: Vec<(Place, usize)> = Vec::new();
    for (place, first) in serials(family) {
        let Some(bytes) = stored(&images, (*place, *first)) else { continue };
        let token = Token::Serial(shown(&bytes));
        if book.stand_in(&token, false).is_none() {
            continue;
        }
        fields.push((*place, *first));
        let stand_in = fitted(book, &token, SERIAL);
        let Some(image) = images.get_mut(place) else { continue };
        for (byte, stand_in) in image.new.iter_mut().skip(*first).zip(stand_in) {
            *byte = byte.map(|_| stand_in);
        }
    }
    for (place, first, last, at) in sums(family) {
        let Some(image) = images.get_mut(place) else { continue };
        let sum = |bytes: &[Option<u8>; 256]| {
            let covered = bytes.get(*first..=*last).unwrap_or_default();
            covered.iter().flatten().fold(0_u8, |sum, byte| sum.wrapping_add(*byte))
        };
        let more = sum(&image.new).wrapping_sub(sum(&image.old));
        let stored = image.old.get(*at).copied().flatten();
        if let Some(byte) = image.new.get_mut(*at) {
            *byte = stored.map(|stored| stored.wrapping_add(more));
        }
    }
    repeats(&mut images);
    for block in blocks {
        write_back(block, &images, &fields, book, finder);
    }
}

/// Looks for copies in each stretch that was read in one piece.
fn scrub(image: &mut Image, book: &Book, finder: &Finder) {
    for piece in image.new.chunk_by_mut(|one, next| one.is_some() && next.is_some()) {
        let mut bytes: Vec<u8> = piece.iter().flatten().copied().collect();
        if finder.scrub_bytes(book, &mut bytes) {
            for (place, byte) in piece.iter_mut().zip(bytes) {
                *place = Some(byte);
            }
        }
    }
}

/// A page that repeats page 00h, a bank that repeats bank 0, and A2h that repeats A0h say that a
/// number was ignored: there the same bytes stand after as before.
fn repeats(images: &mut BTreeMap<Place, Image>) {
    /// So many bytes alike are no chance.
    const ENOUGH: usize = 16;
    let places: Vec<Place> = images.keys().copied().collect();
    for place @ (address, bank, page) in places {
        let originals = [
            (bank != 0).then_some(((address, 0, page), 128)),
            (page != 0).then_some(((address, 0, 0), 128)),
            (address == A2.0).then_some(((A0.0, bank, page), 0)),
        ];
        for (original, from) in originals.into_iter().flatten() {
            let (Some(first), Some(this)) = (images.get(&original), images.get(&place)) else {
                continue;
            };
            let both = |from: usize| {
                let pairs = first.old.iter().zip(&this.old).skip(from);
                pairs.take_while(|(first, this)| first.is_some() && this.is_some())
            };
            let alike = both(from).all(|(first, this)| first == this);
            let count = both(from).count();
            if count < ENOUGH || !alike {
                continue;
            }
            let copy: Vec<Option<u8>> = first.new.iter().skip(from).take(count).copied().collect();
            if let Some(this) = images.get_mut(&place) {
                for (byte, copy) in this.new.iter_mut().skip(from).zip(copy) {
                    *byte = copy;
                }
            }
            break;
        }
    }
}

fn write_back(
    block: &mut MemoryBlock,
    images: &BTreeMap<Place, Image>,
    fields: &[(Place, usize)],
    book: &Book,
    finder: &Finder,
) {
    let place = (block.two_wire_address, block.bank, block.page);
    let (Fact::Known(HexBytes(bytes)), Some(image)) = (&mut block.bytes, images.get(&place)) else {
        return;
    };
    let mut hidden = bytes.len() + usize::from(block.offset) > image.old.len();
    for (at, byte) in (usize::from(block.offset)..).zip(bytes.iter_mut()) {
        let (Some(old), Some(new)) = (image.old.get(at), image.new.get(at)) else { break };
        if *old == Some(*byte) {
            *byte = new.unwrap_or(*byte);
            continue;
        }
        // Another block hides this one, and nobody reads it; it leaves with the capture, though.
        hidden = true;
        let is_serial =
            |(of, first): &(Place, usize)| *of == place && (*first..*first + SERIAL).contains(&at);
        if fields.iter().any(is_serial) {
            *byte = b'*';
        }
    }
    if hidden {
        finder.scrub_bytes(book, bytes);
    }
}
