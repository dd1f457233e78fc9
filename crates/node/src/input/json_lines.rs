//! JSON Lines: one object a line. A byte order mark at the start is skipped.

use std::io::BufRead;

use gladhand_facts::fact::MAX_LINE_BYTES;
use gladhand_facts::unique_keys;
use serde_json::{Map, Value};

use super::line::{InputLine, bounded_line, shown};

pub(super) fn read<E: From<std::io::Error>>(
    source: &mut dyn BufRead,
    sink: &mut dyn FnMut(InputLine) -> Result<(), E>,
) -> Result<(), E> {
    let mut number = 0;
    while let Some((bytes, total)) = bounded_line(source, MAX_LINE_BYTES)? {
        number += 1;
        let content = if number == 1 {
            bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes)
        } else {
            &bytes
        };
        if content.trim_ascii().is_empty() && total == bytes.len() {
            continue;
        }
        sink(InputLine {
            number,
            text: shown(content),
            bytes: total,
            object: object(content, total),
        })?;
    }
    Ok(())
}

fn object(bytes: &[u8], total: usize) -> Result<Map<String, Value>, String> {
    if total > MAX_LINE_BYTES + 1 {
        return Err(format!(
            "the line has {total} bytes; a fact has at most {MAX_LINE_BYTES}"
        ));
    }
    let text =
        std::str::from_utf8(bytes).map_err(|e| format!("not UTF-8 at byte {} of the line", e.valid_up_to() + 1))?;
    unique_keys::object(text.trim()).map_err(|e| e.to_string().replace("line 1 ", ""))
}
