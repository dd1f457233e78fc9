//! Cells for spreadsheets.

/// A cell that a spreadsheet shows and does not run: one that begins like a formula gets an apostrophe before it (OWASP, "CSV
/// Injection").
pub fn defused(cell: String) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']) {
        format!("'{cell}")
    } else {
        cell
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_would_run_is_changed() {
        for cell in ["=1+1", "+49 123", "-2", "@SUM(A1)", "\t=1"] {
            assert_eq!(defused(cell.to_owned()), format!("'{cell}"));
        }
        for cell in ["", "LF 5396", "a=b", "2026-03-02T10:14:00-05:00", "'=1"] {
            assert_eq!(defused(cell.to_owned()), cell);
        }
    }
}
