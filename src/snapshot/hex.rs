//! Bytes that are hex digits in JSON.

use std::borrow::Cow;
use std::fmt::Write as _;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Raw bytes; in JSON a string of hex digits, in which white space does not count.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct HexBytes(pub Vec<u8>);

impl HexBytes {
    /// Reads hex digits; white space between bytes does not count.
    ///
    /// # Errors
    /// Says which character is no hex digit, or that the last byte is half a byte.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut bytes = Vec::with_capacity(text.len() / 2);
        let mut high = None;
        for (place, character) in text.char_indices() {
            if character.is_ascii_whitespace() && high.is_none() {
                continue;
            }
            let Some(digit) = character.to_digit(16).and_then(|digit| u8::try_from(digit).ok())
            else {
                return Err(format!(
                    "character {} ({character:?}) is no hex digit",
                    place.saturating_add(1)
                ));
            };
            match high.take() {
                None => high = Some(digit),
                Some(upper) => bytes.push((upper << 4) | digit),
            }
        }
        if high.is_some() {
            return Err("the last byte has one hex digit only".into());
        }
        Ok(Self(bytes))
    }

    /// The bytes as lower-case hex digits without spaces.
    pub fn text(&self) -> String {
        self.0.iter().fold(String::with_capacity(self.0.len() * 2), |mut text, byte| {
            // Writing into a String cannot fail.
            let _ = write!(text, "{byte:02x}");
            text
        })
    }
}

impl Serialize for HexBytes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text())
    }
}

impl<'de> Deserialize<'de> for HexBytes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<str>::deserialize(deserializer)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

impl JsonSchema for HexBytes {
    fn schema_name() -> Cow<'static, str> {
        "HexBytes".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": "^(\\s*[0-9a-fA-F]{2})*\\s*$",
            "description": "raw bytes as hex digits"
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hex_both_ways() {
        assert_eq!(HexBytes::parse("03 04\n07").unwrap().0, [3, 4, 7]);
        assert_eq!(HexBytes(vec![0xde, 0xad]).text(), "dead");
        assert!(HexBytes::parse("0").is_err());
        assert!(HexBytes::parse("0 3").is_err());
        assert!(HexBytes::parse("zz").is_err());
    }
}
