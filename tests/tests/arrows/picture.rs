//! The picture of the house in DEVELOPERS.md, drawn from what is there. `BLESS=1` draws it anew.

use std::collections::BTreeSet;
use std::path::Path;

use gladhand_tests::repository;

use crate::folders::{binary, used_by_folder};
use crate::packages::{members, uses};
use crate::rules::{ARROWS, FOLDERS, HOMES};

const BEGIN: &str = "<!-- The house, drawn by tests/tests/arrows/picture.rs; BLESS=1 draws it anew. -->\n```text\n";
const END: &str = "```\n<!-- The end of the house. -->\n";

#[test]
fn developers_md_shows_the_house_as_it_is() {
    let file = repository().join("DEVELOPERS.md");
    let text = std::fs::read_to_string(&file).unwrap();
    let (before, rest) = text
        .split_once(BEGIN)
        .expect("DEVELOPERS.md has the mark before the house");
    let (shown, after) = rest
        .split_once(END)
        .expect("DEVELOPERS.md has the mark behind the house");
    let drawn = format!("{}\n{}", crates(), folders());
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(&file, format!("{before}{BEGIN}{drawn}{END}{after}")).unwrap();
    } else {
        assert!(
            shown == drawn,
            "DEVELOPERS.md shows another house; BLESS=1 draws it anew:\n{drawn}"
        );
    }
}

fn crates() -> String {
    let members = members();
    let mut rows = vec![["crate", "uses", "heavy packages", "what it is"].map(str::to_owned)];
    for (name, _) in ARROWS {
        let package = &members[*name];
        let used = uses(package, false);
        let ours = ARROWS
            .iter()
            .filter(|(other, _)| used.contains(*other))
            .map(|(other, _)| short(other));
        let heavy = HOMES.iter().filter(|(_, home)| home == name).map(|(heavy, _)| *heavy);
        rows.push([
            short(name).to_owned(),
            listed(ours),
            listed(heavy),
            package.description.clone().unwrap_or_default(),
        ]);
    }
    columns(&rows)
}

fn folders() -> String {
    let (sources, arrows) = binary();
    let used = used_by_folder(&sources, &arrows);
    let mut rows = vec![["in gladhand", "uses", "what it is"].map(str::to_owned)];
    for folder in FOLDERS {
        let none = BTreeSet::new();
        let used = used.get(*folder).unwrap_or(&none);
        let in_order = FOLDERS.iter().copied().filter(|other| used.contains(*other));
        rows.push([(*folder).to_owned(), listed(in_order), what_it_is(folder)]);
    }
    columns(&rows)
}

fn short(name: &str) -> &str {
    name.strip_prefix("gladhand-").unwrap_or(name)
}

fn listed<'t>(words: impl Iterator<Item = &'t str>) -> String {
    let words: Vec<&str> = words.collect();
    if words.is_empty() {
        "-".to_owned()
    } else {
        words.join(" ")
    }
}

/// The first sentence of a module's documentation.
fn what_it_is(folder: &str) -> String {
    let src = repository().join("crates/gladhand/src");
    let places = [src.join(folder).join("mod.rs"), src.join(format!("{folder}.rs"))];
    let file = places.iter().find(|place| place.exists()).unwrap();
    first_sentence(&std::fs::read_to_string(file).unwrap(), file)
}

fn first_sentence(source: &str, file: &Path) -> String {
    let lines = source.lines().map_while(|line| line.strip_prefix("//!"));
    let text = lines
        .map(str::trim)
        .take_while(|line| !line.is_empty())
        .collect::<Vec<_>>()
        .join(" ");
    assert!(!text.is_empty(), "{} says nothing about itself", file.display());
    let sentence = text.split_inclusive(". ").next().unwrap_or(&text);
    sentence.trim_end().to_owned()
}

/// Rows with their cells under each other.
fn columns<const N: usize>(rows: &[[String; N]]) -> String {
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    for row in rows {
        let cells = row
            .iter()
            .enumerate()
            .map(|(at, cell)| format!("{cell:<width$}", width = width(at)));
        text.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        text.push('\n');
    }
    text
}
