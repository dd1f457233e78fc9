//! Within the binary's crate: what stands directly in `src` uses the rest of it in one direction only.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_tests::repository;

use crate::circles::told;
use crate::imports::{Arrows, arrows};
use crate::rules::FOLDERS;
use crate::sources::Sources;

/// The crate, and who uses whom in it.
pub fn binary() -> (Sources, Arrows) {
    let sources = Sources::read(&repository().join("crates/gladhand/src"));
    let arrows = arrows(&sources, "gladhand");
    (sources, arrows)
}

/// The folder directly in `src` that holds a file, or the file itself.
pub fn folder_of(sources: &Sources, file: usize) -> String {
    let first = sources.files[file].path.iter().next().unwrap();
    first.to_string_lossy().trim_end_matches(".rs").to_owned()
}

/// For each folder those that it uses.
pub fn used_by_folder(sources: &Sources, arrows: &Arrows) -> BTreeMap<String, BTreeSet<String>> {
    let mut used: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (from, to) in arrows.keys() {
        let (from, to) = (folder_of(sources, *from), folder_of(sources, *to));
        if from != to {
            used.entry(from).or_default().insert(to);
        }
    }
    used
}

#[test]
fn folders_use_only_what_stands_below_them() {
    let (sources, arrows) = binary();
    let found: BTreeSet<String> = (0..sources.files.len()).map(|file| folder_of(&sources, file)).collect();
    let known: BTreeSet<String> = FOLDERS.iter().chain(&["lib"]).map(|f| (*f).to_owned()).collect();
    assert_eq!(found, known, "FOLDERS lists what stands in crates/gladhand/src");
    // `lib` only names the others; as everybody's root it would be above and below at once.
    let place = |file: usize| FOLDERS.iter().position(|folder| *folder == folder_of(&sources, file));
    let upward = |(from, to): &(usize, usize)| {
        folder_of(&sources, *from) != folder_of(&sources, *to) && place(*from) <= place(*to)
    };
    let shown = told(&sources, &arrows, upward);
    assert!(
        shown.is_empty(),
        "in crates/gladhand/src, against the order of FOLDERS:\n{shown}"
    );
}
