//! Who wrote a fact, and where it is.
//!
//! A device is its ed25519 public key. It writes one append-only log per incarnation; a place is a position
//! in one of those logs, counted from 1. A fact's identity is the BLAKE3 hash of the device and the fact's canonical
//! JSON, so the same line recorded twice on one device is the same fact.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// What is wrong with the text of an identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IdError {
    /// Not 64 hexadecimal digits.
    #[error("'{0}' is not an identifier of 64 hexadecimal digits")]
    NotHex(String),
    /// Not `KEY.INCARNATION`.
    #[error("'{0}' is not a log: a log is written KEY.INCARNATION")]
    NotALog(String),
}

macro_rules! hex_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub [u8; 32]);

        impl $name {
            /// The first eight hexadecimal digits, for people. Never use it as a key.
            pub fn short(&self) -> String {
                self.to_string().chars().take(8).collect()
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.iter().try_for_each(|b| write!(f, "{b:02x}"))
            }
        }
        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}({})", stringify!($name), self.short())
            }
        }
        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, IdError> {
                parse_hex(text).map(Self).ok_or_else(|| IdError::NotHex(text.chars().take(80).collect()))
            }
        }
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                if s.is_human_readable() { s.collect_str(self) } else { self.0.serialize(s) }
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                if d.is_human_readable() {
                    let text = String::deserialize(d)?;
                    text.parse().map_err(serde::de::Error::custom)
                } else {
                    <[u8; 32]>::deserialize(d).map(Self)
                }
            }
        }
    };
}

hex_id! {
    /// The ed25519 public key of a device; its name in every log.
    DeviceKey
}
hex_id! {
    /// BLAKE3 of a fact's canonical JSON together with the device that recorded it.
    FactId
}

fn parse_hex(text: &str) -> Option<[u8; 32]> {
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    let mut out = [0u8; 32];
    for (slot, pair) in out.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        *slot = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    Some(out)
}

/// One append-only log: a device, and which of its incarnations wrote it.
///
/// The first incarnation of a home is 1. A home that notices that it was copied or restored takes a new number
/// (ordinal in the upper 32 bits, randomness in the lower), so two copies never write the same log.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LogId {
    /// The device that writes the log.
    pub device: DeviceKey,
    /// Which of the device's logs: 1 for the first, a new number whenever the home begins another one.
    pub incarnation: u64,
}

impl fmt::Display for LogId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{:x}", self.device, self.incarnation)
    }
}
impl fmt::Debug for LogId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Log({}.{:x})", self.device.short(), self.incarnation)
    }
}
impl FromStr for LogId {
    type Err = IdError;
    fn from_str(text: &str) -> Result<Self, IdError> {
        let bad = || IdError::NotALog(text.chars().take(100).collect());
        let (key, incarnation) = text.split_once('.').ok_or_else(bad)?;
        let device = key.parse().map_err(|_| bad())?;
        let incarnation = u64::from_str_radix(incarnation, 16).map_err(|_| bad())?;
        Ok(Self { device, incarnation })
    }
}
impl Serialize for LogId {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if s.is_human_readable() {
            s.collect_str(self)
        } else {
            (self.device, self.incarnation).serialize(s)
        }
    }
}
impl<'de> Deserialize<'de> for LogId {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        if d.is_human_readable() {
            String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
        } else {
            let (device, incarnation) = <(DeviceKey, u64)>::deserialize(d)?;
            Ok(Self { device, incarnation })
        }
    }
}

/// A position in a log. Several facts may share an entry: `index` tells them apart, in the order they were given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Place {
    /// Which log.
    pub log: LogId,
    /// Which entry of it, counted from 1.
    pub seq: u64,
    /// Which fact of that entry, counted from 0.
    pub index: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_survive_text() {
        let log = LogId {
            device: DeviceKey([0xab; 32]),
            incarnation: 0x1_0000_00ff,
        };
        assert_eq!(log.to_string().parse::<LogId>().unwrap(), log);
        assert_eq!(
            serde_json::from_str::<LogId>(&serde_json::to_string(&log).unwrap()).unwrap(),
            log
        );
    }

    #[test]
    fn bad_identifiers_are_told_apart() {
        assert!(matches!("xyz".parse::<FactId>(), Err(IdError::NotHex(_))));
        assert!(matches!("é".repeat(32).parse::<FactId>(), Err(IdError::NotHex(_))));
        assert!(matches!("ab.1".parse::<LogId>(), Err(IdError::NotALog(_))));
    }
}
