//! A receipt as one line.

use crate::receipt::{Receipt, Word};

/// `recorded  0f6e2ad1c37b      3.0   job J1 LF 5396`, without a newline.
pub fn line(receipt: &Receipt) -> String {
    let word = match receipt.receipt {
        Word::Recorded => "recorded",
        Word::Already => "already",
    };
    let id: String = receipt.fact.to_string().chars().take(12).collect();
    format!(
        "{word:<8}  {id}  {:>5}.{:<3} {}",
        receipt.seq, receipt.index, receipt.says
    )
}
