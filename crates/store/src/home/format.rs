//! The format file: which version of the layout a home has.

use std::io;

use super::error::OpenHomeError;
use super::layout::Layout;
use super::small::read_small;

/// The newest format of a home that this program knows.
pub const FORMAT: u32 = 1;

pub(super) const FORMAT_WORD: &str = "gladhand-home";
/// Refuses a home of a later format, and a folder that is no home.
pub(super) fn check_format(layout: &Layout) -> Result<(), OpenHomeError> {
    let file = layout.format();
    let text = match read_small(&file) {
        Ok(text) => text,
        Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {
            return Err(missing_or_damaged(layout));
        }
        Err(source) => return Err(OpenHomeError::Io { file, source }),
    };
    let found = text
        .trim_end()
        .strip_prefix(FORMAT_WORD)
        .and_then(|rest| rest.strip_prefix(' '));
    match found.and_then(|number| number.parse().ok()) {
        Some(0) | None => Err(OpenHomeError::Damaged {
            file,
            why: "it does not say 'gladhand-home' and a number",
        }),
        Some(found) if found > FORMAT => Err(OpenHomeError::TooNew {
            path: layout.path().to_path_buf(),
            found,
            known: FORMAT,
        }),
        Some(_) => Ok(()),
    }
}

/// Without the format file: no home at all, or one that lost it.
fn missing_or_damaged(layout: &Layout) -> OpenHomeError {
    if layout.key().exists() {
        OpenHomeError::Damaged {
            file: layout.format(),
            why: "it is gone, though a key is here",
        }
    } else {
        OpenHomeError::Missing(layout.path().to_path_buf())
    }
}
