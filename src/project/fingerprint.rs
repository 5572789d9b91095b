//! Stamps: of a file's content, and of everything a tile depends on.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// BLAKE3 of a file's bytes. Written as 64 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ContentHash(pub [u8; 32]);

/// The 128-bit stamp of everything a result depends on. Written as 32 hexadecimal digits; stable across processes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fingerprint(pub [u8; 16]);

macro_rules! hexadecimal {
    ($name:ident, $bytes:literal) => {
        impl fmt::Display for $name {
            fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0
                    .iter()
                    .try_for_each(|byte| write!(formatter, "{byte:02x}"))
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(formatter, "{self}")
            }
        }

        impl std::str::FromStr for $name {
            type Err = String;

            fn from_str(text: &str) -> Result<Self, String> {
                let wrong = || format!("expected {} hexadecimal digits", 2 * $bytes);
                if text.len() != 2 * $bytes || !text.is_ascii() {
                    return Err(wrong());
                }
                let mut bytes = [0; $bytes];
                for (byte, at) in bytes.iter_mut().zip((0..).step_by(2)) {
                    *byte =
                        u8::from_str_radix(&text[at..at + 2], 16).map_err(|_not_hex| wrong())?;
                }
                Ok(Self(bytes))
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?
                    .parse()
                    .map_err(serde::de::Error::custom)
            }
        }
    };
}

hexadecimal!(ContentHash, 32);
hexadecimal!(Fingerprint, 16);
