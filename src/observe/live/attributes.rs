//! Netlink attributes: type, length, value, one after the other.
//!
//! In: untrusted bytes. Out: the attributes that can be made out; what follows a broken one is
//! left out, what comes before it is kept.

/// Walks over attributes; flags are taken off the type.
#[derive(Debug, Clone, Copy)]
pub(super) struct Attributes<'a>(pub &'a [u8]);

impl<'a> Iterator for Attributes<'a> {
    type Item = (u16, &'a [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let length = usize::from(u16_at(self.0, 0)?);
        let kind = u16_at(self.0, 2)? & 0x3fff;
        let value = self.0.get(4..length)?;
        // Attributes are padded to four bytes; the last one need not be.
        self.0 = self.0.get(length.next_multiple_of(4)..).unwrap_or_default();
        Some((kind, value))
    }
}

impl<'a> Attributes<'a> {
    /// The value of the first attribute of a type.
    pub fn find(self, kind: u16) -> Option<&'a [u8]> {
        let mut all = self;
        all.find_map(|(found, value)| (found == kind).then_some(value))
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    let pair = bytes.get(at..at.checked_add(2)?)?;
    Some(u16::from_ne_bytes(pair.try_into().ok()?))
}

/// A u8, if the value has that size.
pub(super) fn as_u8(value: &[u8]) -> Option<u8> {
    value.first().copied()
}

/// A u32 in the machine's byte order.
pub(super) fn as_u32(value: &[u8]) -> Option<u32> {
    Some(u32::from_ne_bytes(value.get(..4)?.try_into().ok()?))
}

/// A u64 in the machine's byte order.
pub(super) fn as_u64(value: &[u8]) -> Option<u64> {
    Some(u64::from_ne_bytes(value.get(..8)?.try_into().ok()?))
}

/// Text up to the first NUL; bytes that are no UTF-8 are replaced.
pub(super) fn as_text(value: &[u8]) -> String {
    let end = value.iter().position(|byte| *byte == 0).unwrap_or(value.len());
    String::from_utf8_lossy(value.get(..end).unwrap_or_default()).into_owned()
}

/// Appends an attribute.
pub(super) fn push(to: &mut Vec<u8>, kind: u16, value: &[u8]) {
    // Requests are built here from a few small values: far below 64 KiB.
    let length = u16::try_from(value.len() + 4).unwrap_or(u16::MAX);
    to.extend_from_slice(&length.to_ne_bytes());
    to.extend_from_slice(&kind.to_ne_bytes());
    to.extend_from_slice(value);
    to.resize(to.len().next_multiple_of(4), 0);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_pushed_is_found_and_the_broken_rest_left_out() {
        let mut bytes = Vec::new();
        push(&mut bytes, 1, &[7]);
        push(&mut bytes, 0x8002, &[1, 2, 3, 4, 5]);
        bytes.extend_from_slice(&[200, 0, 3, 0, 9]); // says 200 bytes, has one
        let all: Vec<_> = Attributes(&bytes).collect();
        assert_eq!(all, [(1, &[7][..]), (2, &[1, 2, 3, 4, 5][..])]);
        assert_eq!(Attributes(&bytes).find(2), Some(&[1, 2, 3, 4, 5][..]));
        assert_eq!(Attributes(&[3, 0, 1, 0]).next(), None, "shorter than its own header");
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_end(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            proptest::prop_assert!(Attributes(&bytes).count() <= bytes.len() / 4 + 1);
        }
    }
}
