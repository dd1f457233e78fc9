//! Answers as HTML pages that stand alone: no script, nothing fetched.

pub mod report;
