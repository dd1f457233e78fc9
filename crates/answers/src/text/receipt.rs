//! A receipt as one line.

use crate::receipt::{Receipt, Word};

/// `recorded  0f6e2ad1c37b      3.0   check J1 tape-pieces 4 (trailer LF 5396)`, without a newline.
pub fn line(receipt: &Receipt) -> String {
    let word = match receipt.receipt {
        Word::Recorded => "recorded",
        Word::Already => "already",
    };
    let id: String = receipt.fact.to_string().chars().take(12).collect();
    let trailer = match receipt.trailer.as_slice() {
        // A fact about a job's fields, and a handover, say it themselves.
        [one] if receipt.says.contains(one.as_str()) => String::new(),
        [] => String::new(),
        several => format!(" (trailer {})", several.join(" | ")),
    };
    format!(
        "{word:<8}  {id}  {:>5}.{:<3} {}{trailer}",
        receipt.seq, receipt.index, receipt.says
    )
}
