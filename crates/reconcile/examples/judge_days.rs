//! Judges days that come in on standard input, one JSON array of events a line, and writes for each a line with its `findings` and
//! its `trailers` with what is relied on: the rules alone, without homes, for `tests/oracles/judge/compare.py --rules-only`.
//!
//! An event is `["fact", device, tag, {…}]` or `["merge", from, to]`; `depot` is the depot. What a real device notes with a fact when it
//! records it (what a withdrawn fact or a ruled finding was about, what it held of a picture) comes with the event.

#![allow(clippy::field_reassign_with_default)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

#[path = "../tests/common/mod.rs"]
mod common;

use std::collections::BTreeMap;
use std::io::{BufRead, Write};

use common::{Yard, world};
use gladhand_facts::VersionVector;
use gladhand_reconcile::finding::finding_id;
use gladhand_reconcile::{Class, Filter, Report, Subject, ToldFinding, judge_all};
use serde_json::{Map, Value};

fn main() {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let events: Vec<Value> = serde_json::from_str(&line.unwrap()).unwrap();
        writeln!(out, "{}", serde_json::to_string(&day(&events)).unwrap()).unwrap();
        out.flush().unwrap();
    }
}

/// The findings of a day, their facts by tag, and its trailers.
fn day(events: &[Value]) -> BTreeMap<&'static str, Vec<Value>> {
    let mut yard = Yard::default();
    yard.depot_is_known = true;
    // The days of the facts are over when they are recorded, as they are on real homes.
    yard.wait(365 * 24 * 60);
    let (mut ids, mut tags) = (BTreeMap::new(), BTreeMap::new());
    for event in events {
        let word = |i: usize| event[i].as_str().unwrap().to_owned();
        if word(0) == "merge" {
            yard.saw(&word(2), &word(1), None);
            continue;
        }
        let mut line = resolved(event[3].as_object().unwrap(), &ids);
        file_withdrawal(&mut line, &yard);
        yard.record(&word(1), &serde_json::to_string(&line).unwrap(), false);
        let id = yard.facts.last().unwrap().fact.id().to_string();
        ids.insert(word(2), id.clone());
        tags.insert(id, word(2));
    }
    let clocks = yard.clocks();
    let facts = yard.memory(yard.facts.clone());
    let (world, names) = (world(&facts, &clocks), yard.names());
    let found = judge_all(&world);
    let report = Report::make(&world, &names, &found, &Filter::default(), &VersionVector::new());
    let told = ToldFinding::all(&found, &names);
    let findings = told.iter().map(|found| by_tag(found, &tags)).collect();
    let trailers = report.trailers.iter().map(|line| serde_json::to_value(line).unwrap());
    BTreeMap::from([("findings", findings), ("trailers", trailers.collect())])
}

/// A line with ids in the places of `@tag`, and of `{"ruled_on": {class: text}}` the id of the finding.
fn resolved(data: &Map<String, Value>, ids: &BTreeMap<String, String>) -> Map<String, Value> {
    let mut line = data.clone();
    for key in ["fact", "of"] {
        if let Some(tag) = data
            .get(key)
            .and_then(Value::as_str)
            .and_then(|text| text.strip_prefix('@'))
        {
            line.insert(key.to_owned(), ids[tag].clone().into());
        }
    }
    if let Some(Value::Object(about)) = data.get("ruled_on") {
        let (class, text) = about.iter().next().unwrap();
        let class = Class::ALL.into_iter().find(|c| c.name() == class).unwrap();
        let subject = Subject::from_text(class, text.as_str().unwrap()).unwrap();
        let rule = data["finding"].as_str().unwrap().trim_start_matches('@');
        let rule = rule.split('|').next().unwrap();
        line.insert("finding".to_owned(), finding_id(rule, &subject).into());
    }
    line
}

/// A withdrawal carries what the withdrawn fact was about.
fn file_withdrawal(line: &mut Map<String, Value>, yard: &Yard) {
    if line["kind"] == "withdraw" {
        let is_target = |w: &&gladhand_reconcile::RecordedFact| line["fact"] == w.fact.id().to_string();
        let target = &yard.facts.iter().find(is_target).unwrap().fact;
        let (about, job) = (target.filing_keys(), target.text("job").map(|job| job.into_owned()));
        line.insert("withdrawn".to_owned(), about.into());
        if let Some(job) = job {
            line.insert("job".to_owned(), job.into());
        }
    }
}

fn by_tag(found: &ToldFinding, tags: &BTreeMap<String, String>) -> Value {
    let mut value = serde_json::to_value(found).unwrap();
    for fact in value["facts"].as_array_mut().unwrap() {
        *fact = tags[fact.as_str().unwrap()].clone().into();
    }
    value
}
