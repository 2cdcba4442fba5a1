//! Module memory as it was read: blocks of bytes, and one way to read a field from them.
//!
//! In: memory blocks of a snapshot, or a bare image. Out: a field's value, or why it is not
//! known; never zero in its place. Byte numbers are the standards': 0-127 lower half, 128-255
//! upper page. Blocks may be of any size and in any order; a field may lie across several of
//! one half.

use thiserror::Error;

use crate::module::{Doubt, DoubtKind, Family, Module, cmis, codes, meaning, sff8472, sff8636};
use crate::snapshot::{Fact, HexBytes, MemoryBlock, Missing, Reason};

/// A 256-byte space: two-wire address, bank and page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// Two-wire address, 7 bits.
    pub address: u8,
    /// Bank.
    pub bank: u8,
    /// Page.
    pub page: u8,
    /// The name the standard gives it.
    pub name: &'static str,
}

const fn page(page: u8, name: &'static str) -> Place {
    Place { address: 0x50, bank: 0, page, name }
}

/// Identity memory of every family (two-wire address A0h in 8 bits, 50h in 7).
pub const A0: Place = page(0, "A0h");
/// Diagnostics memory of SFF-8472 (A2h in 8 bits, 51h in 7).
pub const A2: Place = Place { address: 0x51, bank: 0, page: 0, name: "A2h" };
/// Lower half of SFF-8636 and CMIS: the same bytes whatever page is selected.
pub const LOWER: Place = page(0, "lower memory");
/// Upper page 00h of SFF-8636 and CMIS: identity.
pub const PAGE_00: Place = page(0, "page 00h");
/// CMIS: advertising.
pub const PAGE_01: Place = page(1, "page 01h");
/// CMIS: limits.
pub const PAGE_02: Place = page(2, "page 02h");
/// SFF-8636: limits.
pub const PAGE_03: Place = page(3, "page 03h");
/// CMIS: lane controls, 8 lanes a bank.
pub const PAGE_10: Place = page(0x10, "page 10h");
/// CMIS: lane state, 8 lanes a bank.
pub const PAGE_11: Place = page(0x11, "page 11h");

impl Place {
    /// The same page in another bank (CMIS, pages 10h and up).
    pub const fn in_bank(self, bank: u8) -> Self {
        Self { bank, ..self }
    }
}

/// The bit in which a module says whether it implements something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bit {
    /// Which memory.
    pub place: Place,
    /// Byte.
    pub byte: u8,
    /// Bit, 7 the highest.
    pub bit: u8,
}

/// Where one quantity sits, what its raw bytes mean, and which table says so.
#[derive(Clone, Copy)]
pub struct Field<const N: usize, T> {
    /// The standard's label.
    pub label: &'static str,
    /// Which memory.
    pub place: Place,
    /// First byte.
    pub first_byte: u8,
    /// What the bytes mean.
    pub meaning: fn([u8; N]) -> T,
    /// Table of the standard.
    pub source: &'static str,
    /// The bit without which the field is *not implemented*, whatever its bytes hold.
    pub advertised: Option<Bit>,
}

impl<const N: usize, T> Field<N, T> {
    /// A row of a map, always implemented.
    pub const fn row(
        label: &'static str,
        place: Place,
        first_byte: u8,
        meaning: fn([u8; N]) -> T,
        source: &'static str,
    ) -> Self {
        Self { label, place, first_byte, meaning, source, advertised: None }
    }

    /// The same row, which counts only where a bit says that it is implemented.
    pub const fn only_if(self, bit: Bit) -> Self {
        Self { advertised: Some(bit), ..self }
    }

    /// The same row for a lane, from 1: lanes stand one behind the other.
    pub fn lane(self, lane: u8) -> Self {
        let step = u8::try_from(N).unwrap_or(u8::MAX).saturating_mul(lane.saturating_sub(1));
        Self { first_byte: self.first_byte.saturating_add(step), ..self }
    }

    /// The same row in another bank; where it is advertised does not move.
    pub const fn in_bank(self, bank: u8) -> Self {
        Self { place: self.place.in_bank(bank), ..self }
    }
}

/// Largest image of SFF-8472 (512 bytes make sense) and SFF-8636 (640 bytes make sense).
pub const LARGEST_IMAGE: usize = 1024;
/// Largest image of CMIS: lower half and pages 00h to 11h in linear order, then pages 10h and 11h
/// of banks 1, 2 and 3.
pub const LARGEST_CMIS_IMAGE: usize = (19 + 3 * 2) * 128;

/// Why bytes are no module image.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum ImageError {
    /// Nothing there.
    #[error(
        "the image is empty, so nothing was read from the module: read it again, at least 128 \
         bytes from address A0h"
    )]
    Empty,
    /// Too large.
    #[error(
        "the image has {length} bytes, and one of this kind of module has {most} at most, so it \
         is something else: is it the right file?"
    )]
    TooLarge {
        /// Its length.
        length: usize,
        /// Largest length that makes sense.
        most: usize,
    },
    /// Text that is no hex.
    #[error(
        "the image is text, but not hex digits: {why}; leave only bytes of two hex digits, and \
         put # before comments"
    )]
    NotHex {
        /// What is wrong.
        why: String,
    },
}

/// Module memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Memory {
    blocks: Vec<MemoryBlock>,
}

impl Memory {
    /// From the blocks of a snapshot.
    pub fn from_blocks(blocks: &[MemoryBlock]) -> Self {
        Self { blocks: blocks.to_vec() }
    }

    /// From a file: binary, or hex digits as text (see [`Memory::image_from_text`]).
    ///
    /// # Errors
    /// What keeps it from being an image.
    pub fn from_file(bytes: &[u8]) -> Result<(Self, String), ImageError> {
        // Text may hold a stray control character; an image is full of them, and of zeros.
        let text = std::str::from_utf8(bytes).ok().filter(|text| {
            let control = text.chars().filter(|c| c.is_control() && !c.is_ascii_whitespace());
            text.len() > 4 && control.count() <= text.len() / 50 + 1
        });
        let text = text.map(|text| text.strip_prefix('\u{feff}').unwrap_or(text));
        match text {
            Some(text) => Self::from_image(&Self::image_from_text(text)?),
            None => Self::from_image(bytes),
        }
    }

    /// Bytes of an image that is text: hex digits in pairs, white space between them or not,
    /// `0x` before them or not, and comments from `#` to the end of the line.
    ///
    /// # Errors
    /// A line that is no hex, or more bytes than any image has.
    pub fn image_from_text(text: &str) -> Result<Vec<u8>, ImageError> {
        let mut image = Vec::new();
        for (number, line) in text.lines().enumerate() {
            let line = line.split('#').next().unwrap_or_default();
            for word in line.split_ascii_whitespace() {
                let digits = word.strip_prefix("0x").or_else(|| word.strip_prefix("0X"));
                let digits = digits.unwrap_or(word);
                let bytes = match HexBytes::parse(digits) {
                    Ok(bytes) if !bytes.0.is_empty() => bytes.0,
                    Ok(_) => {
                        let why = format!("line {}: 0x without digits", number.saturating_add(1));
                        return Err(ImageError::NotHex { why });
                    }
                    Err(why) => {
                        let why = format!("line {}: {why}", number.saturating_add(1));
                        return Err(ImageError::NotHex { why });
                    }
                };
                image.extend(bytes);
                if image.len() > LARGEST_CMIS_IMAGE {
                    return Err(ImageError::TooLarge {
                        length: image.len(),
                        most: LARGEST_CMIS_IMAGE,
                    });
                }
            }
        }
        Ok(image)
    }

    /// From a bare image in the usual linear order: address A0h first (lower half, upper page),
    /// then, for SFF-8472, address A2h; for SFF-8636 and CMIS the further upper pages, and for
    /// CMIS the lane pages of further banks. Byte 0 says which. Also tells how the image was
    /// laid out.
    ///
    /// # Errors
    /// It is empty, or larger than any module's memory.
    pub fn from_image(image: &[u8]) -> Result<(Self, String), ImageError> {
        let Some(identifier) = image.first() else { return Err(ImageError::Empty) };
        let family = codes::family(*identifier);
        let length = image.len();
        let most = if family == Some(Family::Cmis) { LARGEST_CMIS_IMAGE } else { LARGEST_IMAGE };
        if length > most {
            return Err(ImageError::TooLarge { length, most });
        }
        // Two-wire address, bank, page and first byte of each stretch of 128 bytes.
        let lower = std::iter::once((0x50, 0, 0, 0));
        let upper = |page: u8| (0x50, 0, page, 128);
        let lanes = |bank: u8| [(0x50, bank, 0x10, 128), (0x50, bank, 0x11, 128)];
        let halves: Vec<(u8, u8, u8, u8)> = match family {
            Some(Family::Sff8636) => lower.chain((0..=3).map(upper)).collect(),
            Some(Family::Cmis) => {
                lower.chain((0..=0x11).map(upper)).chain((1..=3).flat_map(lanes)).collect()
            }
            _ => vec![(0x50, 0, 0, 0), (0x50, 0, 0, 128), (0x51, 0, 0, 0), (0x51, 0, 0, 128)],
        };
        let blocks = image
            .chunks(128)
            .zip(halves)
            .map(|(bytes, (two_wire_address, bank, page, offset))| MemoryBlock {
                two_wire_address,
                bank,
                page,
                offset,
                bytes: Fact::Known(HexBytes(bytes.to_vec())),
            })
            .collect();
        let laid_out = match (family, length) {
            (_, ..128) => ", cut short of the first half".to_owned(),
            (Some(Family::Sff8636), _) => paged(length, 3),
            (Some(Family::Cmis), ..=PAGED_CMIS) => paged(length, 0x11),
            (Some(Family::Cmis), _) => banked(length),
            (_, ..=256) => ", address A0h".to_owned(),
            (_, ..512) => ", address A0h, and address A2h cut short".to_owned(),
            (_, 512) => ", addresses A0h and A2h".to_owned(),
            _ => ", addresses A0h and A2h; what follows is left out".to_owned(),
        };
        Ok((Self { blocks }, format!("{length} bytes{laid_out}")))
    }

    /// Its blocks.
    pub fn into_blocks(self) -> Vec<MemoryBlock> {
        self.blocks
    }

    /// The same memory with other bytes in these stretches (place, first and last byte), which lie
    /// in one half each: those of `now`, and where those lack one, none.
    pub(crate) fn read_again(&self, stretches: &[(Place, u8, u8)], now: &[MemoryBlock]) -> Self {
        let mut blocks = now.to_vec();
        for block in &self.blocks {
            let Fact::Known(HexBytes(bytes)) = &block.bytes else {
                blocks.push(block.clone());
                continue;
            };
            // What stays of it: the pieces between the stretches.
            let stays = |at: usize| {
                !stretches.iter().any(|(place, first, last)| {
                    (place.address, place.bank, place.page)
                        == (block.two_wire_address, block.bank, block.page)
                        && (usize::from(*first)..=usize::from(*last)).contains(&at)
                })
            };
            let start = usize::from(block.offset);
            let places: Vec<usize> = (start..start + bytes.len()).collect();
            for piece in places.chunk_by(|one, next| stays(*one) == stays(*next)) {
                let Some(first) = piece.first().filter(|first| stays(**first)) else { continue };
                let Ok(offset) = u8::try_from(*first) else { continue };
                let bytes = bytes.get(first - start..first - start + piece.len());
                let bytes = Fact::Known(HexBytes(bytes.unwrap_or_default().to_vec()));
                blocks.push(MemoryBlock { offset, bytes, ..block.clone() });
            }
        }
        Self { blocks }
    }

    /// One byte.
    fn byte(&self, place: Place, at: usize) -> Result<u8, Missing> {
        let half = at / 128;
        // Of the blocks that do not have it, the one that begins nearest before it says why.
        let mut why: Option<(usize, Missing)> = None;
        for block in &self.blocks {
            let start = usize::from(block.offset);
            let here = block.two_wire_address == place.address
                && block.bank == place.bank
                && block.page == place.page;
            if !here || at < start {
                continue;
            }
            let missing = match &block.bytes {
                Fact::Known(HexBytes(bytes)) => match bytes.get(at - start) {
                    Some(byte) => return Ok(*byte),
                    // A lower half that was read whole does not promise the upper one.
                    None if start / 128 < half && start + bytes.len() >= half * 128 => continue,
                    None => Missing::with(
                        Reason::ShortPage,
                        format!(
                            "{} byte {at} is needed, and what was read ends at byte {}",
                            place.name,
                            start + bytes.len()
                        ),
                    ),
                },
                Fact::Missing(missing) => missing.clone(),
            };
            if why.as_ref().is_none_or(|(nearest, _)| start >= *nearest) {
                why = Some((start, missing));
            }
        }
        Err(why.map_or_else(
            || Missing::with(Reason::NotAsked, format!("{} was not read", named(place, half))),
            |(_, missing)| missing,
        ))
    }

    /// Bytes from one place. They may lie across blocks, but not across the two halves, which
    /// no row of a standard does.
    ///
    /// # Errors
    /// Why they are not known: the block's own reason, or that it ends before them, or that
    /// nobody read them.
    pub fn bytes<const N: usize>(&self, place: Place, first: u8) -> Result<[u8; N], Missing> {
        let (first, mut bytes) = (usize::from(first), [0; N]);
        let half_ends = (first / 128 + 1) * 128;
        if first + N > half_ends {
            return Err(Missing::with(
                Reason::ShortPage,
                format!("{} ends at byte {half_ends}", named(place, first / 128)),
            ));
        }
        for (at, byte) in bytes.iter_mut().enumerate() {
            *byte = self.byte(place, first + at)?;
        }
        Ok(bytes)
    }

    /// One field; *not implemented* where the module's own bit says so.
    pub fn read<const N: usize, T>(&self, field: &Field<N, T>) -> Fact<T> {
        if let Some(Bit { place, byte, bit }) = field.advertised {
            match self.bytes::<1>(place, byte) {
                Ok([bits]) if bits & (1 << bit) != 0 => {}
                Ok(_) => {
                    return Fact::missing_with(
                        Reason::NotImplemented,
                        format!("{}: {} byte {byte} bit {bit} is 0", field.label, place.name),
                    );
                }
                Err(why) => {
                    let detail = why.detail().unwrap_or(why.reason.text());
                    return Fact::missing_with(
                        why.reason,
                        format!(
                            "{} byte {byte} bit {bit} tells whether there is a {}, and is not \
                             known: {detail}",
                            place.name, field.label
                        ),
                    );
                }
            }
        }
        self.bytes(field.place, field.first_byte).map(field.meaning).into()
    }

    /// A stretch of bytes of any length.
    ///
    /// # Errors
    /// Why it is not known.
    pub fn stretch(&self, place: Place, first: u8, last: u8) -> Result<Vec<u8>, Missing> {
        (first..=last).map(|at| self.byte(place, usize::from(at))).collect()
    }

    /// Takes out upper pages that nothing answered for: all 00h, all FFh, or the bytes of page
    /// 00h once more. A driver that cannot select a page hands out such pages; taken at their
    /// word they would say that nothing is implemented.
    pub(crate) fn without_silent_pages(&self, pages: &[Place]) -> (Self, Vec<Doubt>) {
        // A live reader asks for the part of a page that it needs. So many bytes hold something
        // in every page of the standards.
        const ENOUGH: usize = 64;
        // So many are enough to know page 00h again: the identifier and the maker's name.
        const RECOGNISED: usize = 16;
        let known = |place: Place| -> Vec<u8> {
            (128..256).map_while(|at| self.byte(place, at).ok()).collect()
        };
        let identity = known(PAGE_00);
        let (mut memory, mut doubts) = (self.clone(), Vec::new());
        for place in pages {
            let bytes = known(*place);
            let repeats = |other: &[u8], enough: usize| {
                let common = bytes.len().min(other.len());
                let (ours, theirs) = (bytes.get(..common), other.get(..common));
                common >= enough && ours == theirs && ours.is_some_and(|b| all_alike(b).is_none())
            };
            let alike = all_alike(&bytes).filter(|_| bytes.len() >= ENOUGH);
            let (what, ignored) = if let Some(text) = alike {
                (format!("every byte of {} reads {text}: nothing answered", place.name), false)
            } else if place.page != 0 && repeats(&identity, RECOGNISED) {
                let what =
                    "reads the same as page 00h: the driver or module ignores the page number";
                (format!("{} {what}", place.name), true)
            } else if place.bank != 0 && repeats(&known(place.in_bank(0)), ENOUGH) {
                let what =
                    "reads the same as in bank 0: the driver or module ignores the bank number";
                (format!("{} {what}", named(*place, 1)), true)
            } else {
                continue;
            };
            if ignored {
                doubts.push(Doubt {
                    kind: DoubtKind::PagesIdentical,
                    text: what.clone(),
                    source: "upper pages, bytes 128-255",
                });
            }
            memory.withhold(*place, Missing::with(Reason::Malformed, what));
        }
        (memory, doubts)
    }

    /// Takes out one upper page, and says why it counts for nothing.
    pub(crate) fn withhold(&mut self, place: Place, why: Missing) {
        let here = |block: &MemoryBlock| {
            block.two_wire_address == place.address
                && (block.bank, block.page) == (place.bank, place.page)
        };
        self.blocks.retain(|block| !here(block) || block.offset < 128);
        // Page 00h shares its number with the lower half, which stays.
        for block in self.blocks.iter_mut().filter(|block| here(block)) {
            if let Fact::Known(HexBytes(bytes)) = &mut block.bytes {
                bytes.truncate(128 - usize::from(block.offset));
            }
        }
        self.blocks.push(MemoryBlock {
            two_wire_address: place.address,
            bank: place.bank,
            page: place.page,
            offset: 128,
            bytes: Fact::Missing(why),
        });
    }

    /// Decodes by the family that byte 0 of A0h names.
    pub fn decode(&self) -> Fact<Module> {
        let identifier = match self.byte(A0, 0) {
            Ok(identifier) => identifier,
            Err(why) => return Fact::Missing(why),
        };
        // All zero has right checksums, so this comes before them.
        let start: Vec<u8> = (0..128).map_while(|at| self.byte(A0, at).ok()).collect();
        if let Some(text) = all_alike(&start) {
            return Fact::missing_with(
                Reason::Malformed,
                format!("every byte reads {text}: nothing answered"),
            );
        }
        let how = format!(
            "byte 0 of A0h is {identifier:02x}h: {}, SFF-8024 table 4-1",
            codes::identifier(identifier)
        );
        let mut module = match codes::family(identifier) {
            Some(Family::Sff8472) => sff8472::module(self, how),
            Some(Family::Sff8636) => sff8636::module(self, how),
            Some(Family::Cmis) => cmis::module(self, how),
            Some(Family::ParsedReadings) | None => {
                return Fact::missing_with(
                    Reason::NotSupported,
                    format!("{how}; no memory map is known for it"),
                );
            }
        };
        meaning::unmeasured_light(&mut module);
        Fact::Known(module)
    }
}

/// What every byte reads, if they are all 00h or all FFh.
pub(crate) fn all_alike(bytes: &[u8]) -> Option<&'static str> {
    [(0x00, "00h"), (0xff, "FFh")]
        .into_iter()
        .find(|(value, _)| !bytes.is_empty() && bytes.iter().all(|byte| byte == value))
        .map(|(_, text)| text)
}

/// A place as people look for it: with its bank, and the halves of page 00h kept apart.
fn named(place: Place, half: usize) -> String {
    match (place.bank, half) {
        (0, 0) if place == PAGE_00 => LOWER.name.to_owned(),
        (0, 1) if place == LOWER => PAGE_00.name.to_owned(),
        (0, _) => place.name.to_owned(),
        (bank, _) => format!("{} of bank {bank}", place.name),
    }
}

/// Length of an image of CMIS with bank 0 alone.
const PAGED_CMIS: usize = 19 * 128;

/// How a linear image of CMIS with further banks is laid out.
fn banked(length: usize) -> String {
    let (banks, rest) = ((length - PAGED_CMIS) / 256, (length - PAGED_CMIS) % 256);
    let mut text = paged(PAGED_CMIS, 0x11);
    match banks {
        0 => {}
        1 => text.push_str(", pages 10h and 11h of bank 1"),
        last => text.push_str(&format!(", pages 10h and 11h of banks 1 to {last}")),
    }
    if rest > 0 {
        text.push_str(&format!(", and bank {} cut short", banks + 1));
    }
    text
}

/// How a linear image of lower half and upper pages is laid out.
fn paged(length: usize, last_page: usize) -> String {
    let (whole, rest) = (length / 128, length % 128);
    // One stretch is the lower half, the next is page 00h.
    let mut text = match whole.saturating_sub(2).min(last_page) {
        _ if whole < 2 => ", lower memory".to_owned(),
        0 => ", lower memory and page 00h".to_owned(),
        last => format!(", lower memory and pages 00h to {last:02x}h"),
    };
    if whole > last_page + 2 || (whole == last_page + 2 && rest > 0) {
        text.push_str("; what follows is left out");
    } else if rest > 0 {
        text.push_str(&format!(", and page {:02x}h cut short", whole.saturating_sub(1)));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    const ACROSS: Field<4, u32> = Field::row("four bytes", A0, 126, u32::from_be_bytes, "test");

    #[test]
    fn fields_need_all_their_bytes() {
        let image: Vec<u8> = (0..=255).collect();
        // Bytes 126-129 cross from the lower half into the upper: no row of a standard does,
        // and the reader says so instead of gluing.
        let (memory, _) = Memory::from_image(&image).unwrap();
        assert_eq!(memory.read(&ACROSS).why_missing().unwrap().reason, Reason::ShortPage);
        assert_eq!(memory.bytes::<2>(A0, 254), Ok([254, 255]));
        assert_eq!(memory.bytes::<2>(A0, 255).unwrap_err().reason, Reason::ShortPage);
        assert_eq!(memory.bytes::<1>(A2, 0).unwrap_err().reason, Reason::NotAsked);
        for length in 1..=127u8 {
            let (memory, _) = Memory::from_image(&image[..usize::from(length)]).unwrap();
            assert!(memory.bytes::<1>(A0, length).is_err());
            assert_eq!(memory.bytes::<1>(A0, length - 1), Ok([length - 1]));
        }
    }

    #[test]
    fn images_that_are_none() {
        assert_eq!(Memory::from_file(b""), Err(ImageError::Empty));
        assert_eq!(
            Memory::from_image(&[3; 1025]),
            Err(ImageError::TooLarge { length: 1025, most: 1024 })
        );
        assert!(matches!(Memory::from_file(b"03 04 zz"), Err(ImageError::NotHex { .. })));
        let (memory, _) = Memory::from_file(b"# an SFP\n03 04 07 # to here\n").unwrap();
        assert_eq!(memory.bytes::<3>(A0, 0), Ok([3, 4, 7]));
        let (nothing, _) = Memory::from_image(&[0; 256]).unwrap();
        assert_eq!(nothing.decode().why_missing().unwrap().reason, Reason::Malformed);
    }

    fn block(address: u8, bank: u8, page: u8, offset: u8, bytes: &[u8]) -> MemoryBlock {
        MemoryBlock {
            two_wire_address: address,
            bank,
            page,
            offset,
            bytes: Fact::Known(HexBytes(bytes.to_vec())),
        }
    }

    /// Sixteen bytes a transaction is what careful readers ask for (kernel, SFP driver): a field
    /// lies across blocks, in whatever order they came.
    #[test]
    fn a_field_across_blocks() {
        let bytes: Vec<u8> = (0..=255).collect();
        let mut blocks: Vec<MemoryBlock> = (0..16u8)
            .map(|n| block(0x50, 0, 0, n * 16, &bytes[usize::from(n) * 16..][..16]))
            .collect();
        blocks.reverse();
        let memory = Memory::from_blocks(&blocks);
        assert_eq!(memory.bytes::<4>(A0, 14), Ok([14, 15, 16, 17]));
        assert_eq!(memory.stretch(A0, 0, 255).unwrap(), bytes);
        // One of them failed: only its own bytes are missing, with its own reason.
        blocks[14].bytes = Fact::missing(Reason::BusError);
        let memory = Memory::from_blocks(&blocks);
        assert_eq!(memory.bytes::<4>(A0, 14).unwrap_err().reason, Reason::BusError);
        assert_eq!(memory.bytes::<4>(A0, 12), Ok([12, 13, 14, 15]));
        assert_eq!(memory.bytes::<4>(A0, 32), Ok([32, 33, 34, 35]));
    }

    #[test]
    fn banks_and_pages_are_kept_apart() {
        let memory = Memory::from_blocks(&[
            block(0x50, 0, 0, 0, &[0x18; 128]),
            block(0x50, 0, 0x11, 128, &[1, 2]),
            block(0x50, 1, 0x11, 128, &[3, 4]),
            block(0x51, 0, 0, 0, &[5]),
        ]);
        assert_eq!(memory.bytes::<2>(PAGE_11, 128), Ok([1, 2]));
        assert_eq!(memory.bytes::<2>(PAGE_11.in_bank(1), 128), Ok([3, 4]));
        assert_eq!(memory.bytes::<1>(A2, 0), Ok([5]));
        let gone = memory.bytes::<1>(PAGE_11.in_bank(2), 128).unwrap_err();
        assert_eq!(gone, Missing::with(Reason::NotAsked, "page 11h of bank 2 was not read"));
        // The lower half was read whole: the upper one was not asked, rather than cut short.
        let gone = memory.bytes::<1>(LOWER, 128).unwrap_err();
        assert_eq!(gone, Missing::with(Reason::NotAsked, "page 00h was not read"));
        assert_eq!(memory.bytes::<1>(PAGE_11, 130).unwrap_err().reason, Reason::ShortPage);
    }

    #[test]
    fn a_bit_tells_whether_a_field_is_there() {
        let there = Bit { place: A0, byte: 4, bit: 6 };
        let field = Field::row("two bytes", A0, 0, u16::from_be_bytes, "test").only_if(there);
        let read = |bytes: &[u8]| Memory::from_image(bytes).unwrap().0.read(&field);
        assert_eq!(read(&[3, 7, 0, 0, 0x40]), Fact::Known(0x0307));
        assert_eq!(read(&[3, 7, 0, 0, 0xbf]).why_missing().unwrap().reason, Reason::NotImplemented);
        assert_eq!(read(&[3, 7, 0, 0]).why_missing().unwrap().reason, Reason::ShortPage);
        assert_eq!(field.lane(3).first_byte, 4);
    }

    /// Linear orders of section 5.2 of the memory-map notes (kernel drivers).
    #[test]
    fn images_by_family() {
        let image = |identifier: u8, length: usize| {
            let mut image: Vec<u8> =
                (0..length).map(|at| u8::try_from(at / 128).unwrap()).collect();
            image[0] = identifier;
            Memory::from_image(&image).unwrap()
        };
        let (memory, laid_out) = image(0x03, 512);
        assert_eq!((memory.bytes::<1>(A2, 0), memory.bytes::<1>(A2, 255)), (Ok([2]), Ok([3])));
        assert_eq!(laid_out, "512 bytes, addresses A0h and A2h");
        let (memory, laid_out) = image(0x11, 640);
        assert_eq!(memory.bytes::<1>(PAGE_00, 128), Ok([1]));
        assert_eq!(memory.bytes::<1>(PAGE_03, 255), Ok([4]));
        assert_eq!(memory.bytes::<1>(A2, 0).unwrap_err().reason, Reason::NotAsked);
        assert_eq!(laid_out, "640 bytes, lower memory and pages 00h to 03h");
        assert_eq!(
            image(0x11, 641).1,
            "641 bytes, lower memory and pages 00h to 03h; what \
            follows is left out"
        );
        assert_eq!(
            image(0x0d, 300).1,
            "300 bytes, lower memory and page 00h, and page 01h cut \
            short"
        );
        let (memory, laid_out) = image(0x18, 512);
        assert_eq!(memory.bytes::<1>(PAGE_02, 128), Ok([3]));
        assert_eq!(memory.bytes::<1>(PAGE_11, 128).unwrap_err().reason, Reason::NotAsked);
        assert_eq!(laid_out, "512 bytes, lower memory and pages 00h to 02h");
        let (memory, _) = image(0x18, 2432);
        assert_eq!(memory.bytes::<1>(PAGE_11, 255), Ok([18]));
        assert_eq!(image(0x18, 200).1, "200 bytes, lower memory, and page 00h cut short");
        // The lane pages of further banks stand behind page 11h of bank 0.
        let (memory, laid_out) = image(0x18, 2432 + 2 * 256);
        assert_eq!(memory.bytes::<1>(PAGE_10.in_bank(1), 128), Ok([19]));
        assert_eq!(memory.bytes::<1>(PAGE_11.in_bank(1), 255), Ok([20]));
        assert_eq!(memory.bytes::<1>(PAGE_11.in_bank(2), 255), Ok([22]));
        assert_eq!(
            memory.bytes::<1>(PAGE_11.in_bank(3), 128).unwrap_err().reason,
            Reason::NotAsked
        );
        assert!(laid_out.ends_with("pages 00h to 11h, pages 10h and 11h of banks 1 to 2"));
        assert!(image(0x18, 2433).1.ends_with("11h, and bank 1 cut short"));
        assert!(image(0x18, 3200).1.ends_with("banks 1 to 3"));
        assert!(Memory::from_image(&[0x18; 3201]).is_err());
    }

    #[test]
    fn hex_text() {
        let read = Memory::image_from_text;
        assert_eq!(read("0x03 0X04\n07 # LC\n# all\n0a0B"), Ok(vec![3, 4, 7, 10, 11]));
        assert_eq!(read(""), Ok(vec![]));
        for (bad, line) in
            [("03\n0x", "line 2"), ("3", "line 1"), ("03\n\n0g", "line 3"), ("é", "line 1")]
        {
            let error = read(bad).unwrap_err().to_string();
            assert!(error.contains(line) && error.contains("put #"), "{bad:?}: {error}");
        }
        let long = "00".repeat(LARGEST_CMIS_IMAGE + 1);
        assert!(matches!(read(&long), Err(ImageError::TooLarge { .. })));
    }

    /// An upper page that repeats page 00h, or is all one value, is one that nobody selected.
    #[test]
    fn silent_pages() {
        let identity: Vec<u8> = (0..128).collect();
        let memory = Memory::from_blocks(&[
            block(0x50, 0, 0, 0, &[0x11; 128]),
            block(0x50, 0, 0, 128, &identity),
            block(0x50, 0, 1, 128, &[0; 128]),
            block(0x50, 0, 2, 128, &identity),
            block(0x50, 0, 3, 128, &[9; 128]),
        ]);
        let (clean, doubts) = memory.without_silent_pages(&[PAGE_00, PAGE_01, PAGE_02, PAGE_03]);
        assert!(clean.bytes::<1>(PAGE_00, 128).is_ok());
        assert_eq!(clean.bytes::<1>(PAGE_01, 200).unwrap_err().reason, Reason::Malformed);
        assert_eq!(clean.bytes::<1>(PAGE_02, 200).unwrap_err().reason, Reason::Malformed);
        assert_eq!(clean.bytes::<1>(PAGE_03, 200), Ok([9]));
        assert_eq!(
            doubts.iter().map(|doubt| doubt.kind.name()).collect::<Vec<_>>(),
            ["pages-identical"]
        );
        // A driver that ignores the bank.
        let lanes: Vec<u8> = (100..228).collect();
        let memory = Memory::from_blocks(&[
            block(0x50, 0, 0x11, 128, &lanes),
            block(0x50, 1, 0x11, 128, &lanes),
        ]);
        let (clean, doubts) = memory.without_silent_pages(&[PAGE_11, PAGE_11.in_bank(1)]);
        assert_eq!(clean.bytes::<1>(PAGE_11, 128), Ok([100]));
        let gone = clean.bytes::<1>(PAGE_11.in_bank(1), 128).unwrap_err();
        assert!(gone.to_string().contains("ignores the bank"), "{gone}");
        assert_eq!(doubts.len(), 1);
        // Page 00h silent, read together with the lower half: that half stays.
        let mut whole = vec![0xff; 256];
        whole[0] = 0x11;
        let memory = Memory::from_blocks(&[block(0x50, 0, 0, 0, &whole)]);
        let (clean, _) = memory.without_silent_pages(&[PAGE_00]);
        assert_eq!(clean.bytes::<1>(LOWER, 0), Ok([0x11]));
        assert_eq!(clean.bytes::<1>(LOWER, 127), Ok([0xff]));
        assert_eq!(clean.bytes::<1>(PAGE_00, 128).unwrap_err().reason, Reason::Malformed);
    }
}
