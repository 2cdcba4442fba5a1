//! Module memory as it was read: blocks of bytes, and one way to read a field from them.
//!
//! In: memory blocks of a snapshot, or a bare image. Out: a field's value, or why it is not
//! known; never zero in its place. Byte numbers are the standards': 0-127 lower half, 128-255
//! upper page.

use thiserror::Error;

use crate::module::{Family, Module, codes, sff8472};
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

/// Identity memory of every family (two-wire address A0h in 8 bits, 50h in 7).
pub const A0: Place = Place { address: 0x50, bank: 0, page: 0, name: "A0h" };
/// Diagnostics memory of SFF-8472 (A2h in 8 bits, 51h in 7).
pub const A2: Place = Place { address: 0x51, bank: 0, page: 0, name: "A2h" };

/// Where one quantity sits, what its raw bytes mean, and which table says so.
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
}

/// Largest image that makes sense: SFF-8472 identity and diagnostics are 512 bytes, linear QSFP
/// images 640.
pub const LARGEST_IMAGE: usize = 1024;

/// Why bytes are no module image.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum ImageError {
    /// Nothing there.
    #[error("the image is empty: read it again, at least 128 bytes from address A0h")]
    Empty,
    /// Too large.
    #[error(
        "the image has {length} bytes, more than any module's ({LARGEST_IMAGE}): is it the right \
         file?"
    )]
    TooLarge {
        /// Its length.
        length: usize,
    },
    /// Text that is no hex.
    #[error("the image is text, but not hex digits: {why}")]
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

    /// From a file: binary, or hex digits as text (`#` starts a comment).
    ///
    /// # Errors
    /// What keeps it from being an image.
    pub fn from_file(bytes: &[u8]) -> Result<(Self, String), ImageError> {
        // A binary image starts with a small identifier; text starts with a digit, space or #.
        let text = std::str::from_utf8(bytes).ok().filter(|text| {
            text.chars().all(|c| c.is_ascii_graphic() || c.is_ascii_whitespace())
                && text
                    .chars()
                    .next()
                    .is_some_and(|c| c.is_ascii_hexdigit() || c == '#' || c == ' ')
        });
        match text {
            Some(text) => {
                let digits: String = text
                    .lines()
                    .map(|line| line.split('#').next().unwrap_or_default())
                    .collect::<Vec<_>>()
                    .join("\n");
                let bytes =
                    HexBytes::parse(digits.trim()).map_err(|why| ImageError::NotHex { why })?;
                Self::from_image(&bytes.0)
            }
            None => Self::from_image(bytes),
        }
    }

    /// From a bare image in the usual linear order: address A0h first (lower half, upper page),
    /// then, for SFF-8472, address A2h.
    ///
    /// # Errors
    /// It is empty, or larger than any module's memory.
    pub fn from_image(image: &[u8]) -> Result<(Self, String), ImageError> {
        if image.is_empty() {
            return Err(ImageError::Empty);
        }
        if image.len() > LARGEST_IMAGE {
            return Err(ImageError::TooLarge { length: image.len() });
        }
        let halves: [(Place, u8, usize); 4] =
            [(A0, 0, 0), (A0, 128, 128), (A2, 0, 256), (A2, 128, 384)];
        let blocks = halves
            .into_iter()
            .filter_map(|(place, offset, start)| {
                let rest = image.get(start..).filter(|rest| !rest.is_empty())?;
                let bytes = rest.get(..128).unwrap_or(rest).to_vec();
                Some(MemoryBlock {
                    two_wire_address: place.address,
                    bank: place.bank,
                    page: place.page,
                    offset,
                    bytes: Fact::Known(HexBytes(bytes)),
                })
            })
            .collect();
        let length = image.len();
        let mut laid_out = format!("{length} bytes");
        laid_out.push_str(match length {
            0..=127 => ", cut short of the first half",
            128..=256 => ", address A0h",
            257..=511 => ", address A0h, and address A2h cut short",
            512 => ", addresses A0h and A2h",
            _ => ", addresses A0h and A2h; what follows is left out",
        });
        Ok((Self { blocks }, laid_out))
    }

    /// Bytes from one place.
    ///
    /// # Errors
    /// Why they are not known: the block's own reason, or that it ends before them, or that
    /// nobody read them.
    pub fn bytes<const N: usize>(&self, place: Place, first: u8) -> Result<[u8; N], Missing> {
        let mut short: Option<Missing> = None;
        let (first, end) = (usize::from(first), usize::from(first) + N);
        for block in &self.blocks {
            let here = block.two_wire_address == place.address
                && block.bank == place.bank
                && block.page == place.page;
            let start = usize::from(block.offset);
            if !here || first < start {
                continue;
            }
            match &block.bytes {
                Fact::Known(HexBytes(bytes)) => {
                    let found = bytes
                        .get(first - start..end - start)
                        .and_then(|slice| <[u8; N]>::try_from(slice).ok());
                    if let Some(found) = found {
                        return Ok(found);
                    }
                    short.get_or_insert_with(|| {
                        Missing::with(
                            Reason::ShortPage,
                            format!(
                                "{} bytes {first}-{} are needed, and what was read ends at byte {}",
                                place.name,
                                end - 1,
                                start + bytes.len()
                            ),
                        )
                    });
                }
                Fact::Missing(why) => {
                    short = Some(why.clone());
                }
            }
        }
        Err(short.unwrap_or_else(|| {
            Missing::with(Reason::NotAsked, format!("{} was not read", place.name))
        }))
    }

    /// One field.
    pub fn read<const N: usize, T>(&self, field: &Field<N, T>) -> Fact<T> {
        self.bytes(field.place, field.first_byte).map(field.meaning).into()
    }

    /// A stretch of bytes of any length.
    ///
    /// # Errors
    /// Why it is not known.
    pub fn stretch(&self, place: Place, first: u8, last: u8) -> Result<Vec<u8>, Missing> {
        (first..=last).map(|at| self.bytes::<1>(place, at).map(|[byte]| byte)).collect()
    }

    /// Decodes by the family that byte 0 of A0h names.
    pub fn decode(&self) -> Fact<Module> {
        let identifier = match self.bytes::<1>(A0, 0) {
            Ok([identifier]) => identifier,
            Err(why) => return Fact::Missing(why),
        };
        if let Ok(start) = self.stretch(A0, 0, 63) {
            // All zero has a right checksum, so this comes before it.
            for (byte, text) in [(0x00, "00h"), (0xff, "FFh")] {
                if start.iter().all(|at| *at == byte) {
                    return Fact::missing_with(
                        Reason::Malformed,
                        format!("every byte reads {text}: nothing answered"),
                    );
                }
            }
        }
        let how = format!(
            "byte 0 of A0h is {identifier:02x}h: {}, SFF-8024 table 4-1",
            codes::identifier(identifier)
        );
        match codes::family(identifier) {
            Some(Family::Sff8472) => Fact::Known(sff8472::module(self, how)),
            Some(family) => Fact::missing_with(
                Reason::NotSupported,
                format!(
                    "{how}; its memory map ({}) is not decoded by this version",
                    family.standard()
                ),
            ),
            None => Fact::missing_with(
                Reason::NotSupported,
                format!("{how}; no memory map is known for it"),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SERIAL: Field<4, u32> = Field {
        label: "four bytes",
        place: A0,
        first_byte: 126,
        meaning: u32::from_be_bytes,
        source: "test",
    };

    #[test]
    fn fields_need_all_their_bytes() {
        let image: Vec<u8> = (0..=255).collect();
        // Bytes 126-129 cross from one block into the next: no row of a standard does, and the
        // reader says so instead of gluing.
        let (memory, _) = Memory::from_image(&image).unwrap();
        assert_eq!(memory.read(&SERIAL).why_missing().unwrap().reason, Reason::ShortPage);
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
        assert_eq!(Memory::from_image(&[3; 1025]), Err(ImageError::TooLarge { length: 1025 }));
        assert!(matches!(Memory::from_file(b"03 04 zz"), Err(ImageError::NotHex { .. })));
        let (memory, _) = Memory::from_file(b"# an SFP\n03 04 07 # to here\n").unwrap();
        assert_eq!(memory.bytes::<3>(A0, 0), Ok([3, 4, 7]));
        let (nothing, _) = Memory::from_image(&[0; 256]).unwrap();
        assert_eq!(nothing.decode().why_missing().unwrap().reason, Reason::Malformed);
    }
}
