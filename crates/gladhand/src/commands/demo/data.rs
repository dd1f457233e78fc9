//! The day's files, compiled in.

/// Bytes of a file in `demo-data/`.
macro_rules! file {
    ($($name:literal),+) => {
        (
            concat!($($name),+),
            include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/", $($name),+)).as_slice(),
        )
    };
}

/// The proof pictures of these jobs of the day; a `-2` stands for the second one of a job.
macro_rules! pictures {
    ($($job:literal)+) => {
        &[$(file!("proof-0302-", $job, ".png")),+]
    };
}

/// The script.
pub(super) const STORY: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/story.toml"));
/// The findings at the end.
pub(super) const EXPECTED: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/expected.json"));
/// What is recorded.
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
];
/// The pictures that the facts name; they lie beside the files.
pub(super) const PICTURES: &[(&str, &[u8])] = pictures! {
    "I01" "I02" "I03" "I04" "I05" "I06" "I07" "I08" "I10" "I11" "I12" "I13" "I13-2" "I14" "I15" "I16" "I17" "I18" "I19" "I20"
    "M01" "M02" "M03" "M04" "M05" "M06" "M07" "M08" "M09" "M10" "M11" "M12" "M13" "M14" "M15" "M16" "M17" "M18" "M19" "M20"
    "T01" "T02" "T03" "T04" "T05" "T06" "T07" "T08" "T09" "T10" "T11" "T13" "T14" "T15" "T16" "T17" "T19" "T20"
};
