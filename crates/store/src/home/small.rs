//! The small files of a home.

use std::io;
use std::path::Path;

use crate::disk::{self, RealDisk};

/// All of our small files are shorter.
const SMALL_FILE_CAP: u64 = 1 << 20;

/// Reads a small text file.
pub(super) fn read_small(file: &Path) -> io::Result<String> {
    let bytes = disk::read_file(&RealDisk, file, SMALL_FILE_CAP)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
