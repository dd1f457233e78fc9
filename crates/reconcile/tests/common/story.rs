//! Reads the facts of the stories in `tests/stories` and plays them; see `tests/stories.rs` for the language.

use std::fs;
use std::path::{Path, PathBuf};

use gladhand_reconcile::finding::finding_id;
use gladhand_reconcile::{Class, Subject};

use super::{Yard, key_of, picture};

/// A story as far as one of its parts.
pub struct Chapter<'a> {
    /// The file's name and the part's number.
    pub name: String,
    /// All that has happened by then.
    pub yard: &'a Yard,
    /// What must be found.
    pub expected: &'a str,
}

/// Every story, in the order of the names.
pub fn paths() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/stories");
    let mut paths: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= 36, "the stories are gone");
    paths
}

/// Plays a story and shows each of its parts.
pub fn play(path: &Path, mut show: impl FnMut(Chapter<'_>)) {
    let text = fs::read_to_string(path).unwrap();
    let file = path.file_name().unwrap().to_string_lossy().into_owned();
    let mut yard = Yard::default();
    for (part, chapter) in text.split("\n+++\n").enumerate() {
        let (facts, expected) = chapter.split_once("\n---\n").expect("a part needs ---");
        for line in meaningful(facts) {
            act(&mut yard, line);
        }
        show(Chapter {
            name: format!("{file} part {}", part + 1),
            yard: &yard,
            expected,
        });
    }
}

/// Plays every part of every story.
pub fn play_all(mut show: impl FnMut(Chapter<'_>)) {
    // Only some of them while one is being written.
    let wanted = std::env::var("STORY").unwrap_or_default();
    for path in paths().into_iter().filter(|p| p.to_string_lossy().contains(&wanted)) {
        play(&path, &mut show);
    }
}

/// The lines that are neither empty nor comments.
pub fn meaningful(text: &str) -> impl Iterator<Item = &str> {
    text.lines()
        .map(str::trim)
        .filter(|l| !l.is_empty() && !l.starts_with('#'))
}

fn act(yard: &mut Yard, line: &str) {
    if let Some((device, json)) = line.split_once(" {") {
        let json = pictured(&resolved(&numbered(yard, &format!("{{{json}"))));
        let (name, joined) = match device.strip_suffix('+') {
            Some(name) => (name, true),
            None => (device, false),
        };
        return yard.record(name.trim(), &json, joined);
    }
    let words: Vec<&str> = line.split_whitespace().collect();
    match words.as_slice() {
        ["sync", a, b] => yard.sync(a, b),
        ["wait", minutes] => yard.wait(minutes.parse().unwrap()),
        ["reading", device, peer, delay_ms] => yard.measure(device, peer, delay_ms.parse().unwrap()),
        ["the", "depot", "is", "known"] => yard.depot_is_known = true,
        ["clock", device, minutes] => yard.set_clock(device, minutes.parse().unwrap()),
        ["carry", writer, reader, minutes] => yard.carry(writer, reader, minutes.parse().unwrap()),
        ["clone", copy, device, seq] => yard.clone_home(copy, device, seq.parse().unwrap()),
        ["restore", device, seq] => yard.restore(device, seq.parse().unwrap()),
        ["copy", device, seq, recorded] => yard.copy(device, seq.parse().unwrap(), recorded),
        ["fork", device, seq, recorded] => yard.fork(device, seq.parse().unwrap(), recorded),
        ["checks", device, job, wall, load, but @ ..] => {
            let [wall, load] = [*wall, *load].map(|word| Some(word).filter(|w| *w != "-"));
            let but: Vec<&str> = but.get(1).map(|list| list.split(',').collect()).unwrap_or_default();
            yard.checks(device, job, wall, load, &but);
        }
        ["fit", device, job, trailer, camera, tracker] => yard.fit(device, [job, trailer, camera, tracker]),
        ["pair", device, job, camera, tracker] => yard.pair(device, [job, camera, tracker]),
        ["proof", device, job, name] => yard.proof(device, job, name),
        [device, "saw", other] => match other.split_once(':') {
            Some((other, seq)) => yard.saw(device, other, Some(seq.parse().unwrap())),
            None => yard.saw(device, other, None),
        },
        _ => panic!("no such line in a story: {line}"),
    }
}

/// Puts the ids of facts in the place of `#4`, their numbers in the story.
fn numbered(yard: &Yard, json: &str) -> String {
    let mut out = String::new();
    let mut rest = json;
    while let Some((before, after)) = rest.split_once("\"#") {
        let (number, tail) = after.split_once('"').unwrap();
        let fact = &yard.facts[number.parse::<usize>().unwrap() - 1].fact;
        out.push_str(&format!("{before}\"{}\"", fact.id()));
        rest = tail;
    }
    out + rest
}

/// Puts the hash of a picture in the place of `picture:one`.
fn pictured(json: &str) -> String {
    let mut parts = json.split("\"picture:");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (name, tail) = part.split_once('"').unwrap();
        out.push_str(&format!("\"{}\"{tail}", picture(name)));
    }
    out
}

/// Puts the ids of findings in the place of `@rule:class:subject`.
fn resolved(json: &str) -> String {
    let mut out = String::new();
    let mut rest = json;
    while let Some((before, after)) = rest.split_once("\"@") {
        let (name, tail) = after.split_once('"').unwrap();
        let parts: Vec<&str> = name.splitn(3, ':').collect();
        let class = Class::ALL.into_iter().find(|c| c.name() == parts[1]).unwrap();
        let text = if class == Class::Device {
            key_of(parts[2]).to_string()
        } else {
            parts[2].to_owned()
        };
        let subject = Subject::from_text(class, &text).unwrap();
        let (class, id) = (parts[1], finding_id(parts[0], &subject));
        out.push_str(&format!("{before}\"{id}\",\"ruled_on\":{{\"{class}\":\"{text}\"}}"));
        rest = tail;
    }
    out + rest
}
