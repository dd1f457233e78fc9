//! Messages between two processes of the same version on one machine, as bytes.
//!
//! bincode with its standard configuration and a limit. Such bytes are never stored, and both sides are the same program, so
//! the layout may change with every version. The module is in this crate because only this crate depends on bincode.

use serde::Serialize;
use serde::de::DeserializeOwned;

/// No message is longer.
pub const MAX_MESSAGE_BYTES: usize = 16 << 20;

/// Why a message could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum CodecError {
    /// It cannot be written.
    #[error("the message cannot be written: {0}")]
    Write(String),
    /// The bytes are not such a message.
    #[error("not a message of this kind: {0}")]
    Read(String),
    /// Longer than [`MAX_MESSAGE_BYTES`].
    #[error("a message of {0} bytes is over the limit of {MAX_MESSAGE_BYTES}")]
    TooLong(usize),
}

/// A message as bytes.
///
/// # Errors
/// [`CodecError`] when it is too long.
pub fn encode<T: Serialize>(message: &T) -> Result<Vec<u8>, CodecError> {
    let bytes = bincode::serde::encode_to_vec(message, bincode::config::standard())
        .map_err(|e| CodecError::Write(e.to_string()))?;
    if bytes.len() > MAX_MESSAGE_BYTES {
        return Err(CodecError::TooLong(bytes.len()));
    }
    Ok(bytes)
}

/// Reads what [`encode`] wrote. All of the bytes must be used, and no length in them may claim more.
///
/// # Errors
/// [`CodecError`] when the bytes are not such a message.
pub fn decode<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, CodecError> {
    if bytes.len() > MAX_MESSAGE_BYTES {
        return Err(CodecError::TooLong(bytes.len()));
    }
    let config = bincode::config::standard().with_limit::<MAX_MESSAGE_BYTES>();
    let (message, used) =
        bincode::serde::decode_from_slice(bytes, config).map_err(|e| CodecError::Read(e.to_string()))?;
    if used != bytes.len() {
        return Err(CodecError::Read(format!("{} bytes too many", bytes.len() - used)));
    }
    Ok(message)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn messages_come_back(message: (u64, Vec<String>, Option<Vec<u8>>)) {
            let bytes = encode(&message).unwrap();
            prop_assert_eq!(decode::<(u64, Vec<String>, Option<Vec<u8>>)>(&bytes).unwrap(), message);
        }

        #[test]
        fn any_bytes_are_a_message_or_refused(bytes: Vec<u8>) {
            drop(decode::<(u64, Vec<String>, Option<Vec<u8>>)>(&bytes));
        }
    }

    #[test]
    fn a_message_that_claims_to_be_huge_is_refused_without_taking_the_memory() {
        // 253: a 64-bit length follows (bincode's varints).
        let mut bytes = vec![253];
        bytes.extend_from_slice(&u64::MAX.to_le_bytes());
        assert!(decode::<Vec<u64>>(&bytes).is_err());
        assert!(matches!(
            encode(&vec![0u8; MAX_MESSAGE_BYTES + 1]),
            Err(CodecError::TooLong(_))
        ));
        assert!(decode::<u8>(&[1, 2]).is_err());
    }
}
