//! The day's files, compiled in.

/// Bytes of a file in `demo-data/`.
macro_rules! file {
    ($name:literal) => {
        (
            $name,
            include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/", $name)).as_slice(),
        )
    };
}

/// The script.
pub(super) const STORY: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/story.toml"));
/// The findings at the end.
pub(super) const EXPECTED: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/expected.json"));
/// What is recorded, and the pictures that lie beside it.
pub(super) const FILES: &[(&str, &[u8])] = &[
    file!("01-stock.jsonl"),
    file!("02-mara-afternoon.jsonl"),
    file!("03-ilse-afternoon.jsonl"),
    file!("04-tomas-afternoon.jsonl"),
    file!("05-mara-evening.jsonl"),
    file!("06-ilse-evening.csv"),
    file!("07-tomas-evening.jsonl"),
    file!("08-mara-night.jsonl"),
    file!("09-ilse-night.jsonl"),
    file!("10-tomas-night.jsonl"),
    file!("11-ilse-correction.jsonl"),
    file!("proof-0302-I01.png"),
    file!("proof-0302-M02.png"),
    file!("proof-0302-T02.png"),
];
