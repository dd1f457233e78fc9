//! The key file: the seed of the device key as hex, and its CRC32.
//!
//! The CRC is there because any 64 hexadecimal digits are a key: without it a flipped digit would be another device, not
//! damage.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use zeroize::Zeroizing;

use super::error::OpenHomeError;

/// The text of a key file.
pub(super) fn key_text(seed: &[u8; 32]) -> Zeroizing<String> {
    let mut text = Zeroizing::new(String::with_capacity(80));
    for byte in seed {
        text.push_str(&Zeroizing::new(format!("{byte:02x}")));
    }
    text.push_str(&format!(" {:08x}\n", crc32fast::hash(seed)));
    text
}

/// Reads a key file; the second value is whether others than the owner can read it.
pub(super) fn read_key(file: &Path) -> Result<(Zeroizing<[u8; 32]>, bool), OpenHomeError> {
    let io = |source| OpenHomeError::Io {
        file: file.to_path_buf(),
        source,
    };
    let damaged = |why| OpenHomeError::Damaged {
        file: file.to_path_buf(),
        why,
    };
    let opened = match File::open(file) {
        Ok(opened) => opened,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Err(damaged("it is gone")),
        Err(source) => return Err(io(source)),
    };
    let exposed = opened.metadata().map_err(io)?.permissions().mode() & 0o077 != 0;
    let mut bytes = Zeroizing::new(Vec::with_capacity(128));
    opened.take(128).read_to_end(&mut bytes).map_err(io)?;
    let seed =
        parse_key(&bytes).ok_or_else(|| damaged("it is not a key as setup wrote it; restore it from a backup"))?;
    Ok((seed, exposed))
}

fn parse_key(bytes: &[u8]) -> Option<Zeroizing<[u8; 32]>> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (hex, crc) = text.trim_end().split_once(' ')?;
    let mut seed = Zeroizing::new([0; 32]);
    if hex.len() != 64 || crc.len() != 8 {
        return None;
    }
    for (slot, pair) in seed.iter_mut().zip(hex.as_bytes().chunks_exact(2)) {
        *slot = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    let good = u32::from_str_radix(crc, 16) == Ok(crc32fast::hash(seed.as_slice()));
    good.then_some(seed)
}
