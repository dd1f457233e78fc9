//! How far the index is, as it is stored: a version byte, then bincode.

use serde::{Deserialize, Serialize};

use super::error::IndexError;
use super::guard::Guarded;
use super::keys;
use crate::record::Position;

/// Layout of what this crate writes. Another one means: derive anew.
const LAYOUT: u8 = 1;

/// What is stored of how far the index is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub(super) struct Applied {
    /// The caller's schema.
    pub(super) schema: u32,
    pub(super) upto: Position,
    pub(super) fingerprint: u64,
    /// How many batches have been applied to this database.
    pub(super) count: u64,
}

impl Applied {
    /// What an empty database has applied.
    pub(super) fn nothing(schema: u32) -> Self {
        Self {
            schema,
            ..Self::default()
        }
    }

    /// How far a database is; `None` when nothing was ever applied to it.
    pub(super) fn read(db: &Guarded) -> Result<Option<Self>, IndexError> {
        let Some(bytes) = db.call(|db| db.get(keys::APPLIED))? else {
            return Ok(None);
        };
        match bytes.split_first() {
            Some((&LAYOUT, rest)) => decode(rest)
                .map(Some)
                .ok_or_else(|| db.broken("what was applied does not decode")),
            // The schema of no caller: stale, not broken.
            _ => Ok(Some(Self::nothing(u32::MAX))),
        }
    }

    /// The value to store.
    pub(super) fn to_bytes(self, db: &Guarded) -> Result<Vec<u8>, IndexError> {
        let mut bytes = vec![LAYOUT];
        bincode::serde::encode_into_std_write(self, &mut bytes, bincode::config::standard())
            .map_err(|e| db.cannot_encode(e.to_string()))?;
        Ok(bytes)
    }
}

fn decode(bytes: &[u8]) -> Option<Applied> {
    let (applied, used) = bincode::serde::decode_from_slice(bytes, bincode::config::standard()).ok()?;
    (used == bytes.len()).then_some(applied)
}
