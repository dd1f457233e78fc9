//! `history`: the merged history of a job, camera, tracker, trailer or device.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, Kind, Place, VersionVector};
use gladhand_reconcile::timeline::Line;
use gladhand_reconcile::{Facts, Subject, Witness, timeline};

use super::record::summary;
use super::{Context, resolve};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::node::{Node, Shelf};
use crate::show;

type Found = BTreeMap<Place, Arc<Witness>>;

/// Shows a history.
pub fn history(context: &Context, args: &cli::History) -> Outcome {
    let node = context.open()?;
    let shelf = Shelf::new(&node);
    let mut found = gather(&node, &shelf, args)?;
    if let Some(given) = &args.as_known_by {
        let known = as_known_by(&node, given)?;
        found.retain(|place, _| known.includes(&place.log, place.seq));
    }
    if let Some(given) = &args.as_of {
        let until_us = resolve::time("--as-of", given)?;
        found.retain(|_, w| w.at().unix_us() <= until_us);
    }
    let witnesses: Vec<Arc<Witness>> = found.into_values().collect();
    let lines = timeline(&shelf, &witnesses);
    shelf.failure()?;
    if context.json {
        show::json(&lines)?;
    } else {
        show_lines(&lines)?;
    }
    node.close()?;
    Ok(Exit::Done)
}

/// Facts that fit all selectors; without any, everything.
fn gather(node: &Node, shelf: &Shelf<'_>, args: &cli::History) -> Result<Found, Failure> {
    let mut sets: Vec<Found> = Vec::new();
    if let Some(job) = &args.job {
        sets.push(about(shelf, &Subject::Job(resolve::known_job(node, job)?)));
    }
    if let Some(camera) = &args.camera {
        sets.push(with_ends(shelf, &Subject::Camera(camera.trim().to_owned())));
    }
    if let Some(tracker) = &args.tracker {
        sets.push(with_ends(shelf, &Subject::Tracker(tracker.trim().to_owned())));
    }
    if let Some(trailer) = &args.trailer {
        sets.push(of_trailer(shelf, trailer.trim()));
    }
    let everything = sets.is_empty();
    let device = args.device.as_deref().map(|d| resolve::device(node, d)).transpose()?;
    let mut found = match sets.pop() {
        Some(first) => first,
        None => all(node)?,
    };
    found.retain(|place, _| sets.iter().all(|set| set.contains_key(place)));
    found.retain(|place, _| device.is_none_or(|d| place.log.device == d));
    shelf.failure()?;
    if found.is_empty() && !everything {
        show::aside("nothing is known here about that");
    }
    Ok(found)
}

fn all(node: &Node) -> Result<Found, Failure> {
    Ok(node.all_facts()?.all().map(|w| (w.place, Arc::clone(w))).collect())
}

fn about(shelf: &Shelf<'_>, subject: &Subject) -> Found {
    shelf.about(subject).into_iter().map(|w| (w.place, w)).collect()
}

/// What names a part, and how the jobs that name it ended.
fn with_ends(shelf: &Shelf<'_>, subject: &Subject) -> Found {
    let mut found = about(shelf, subject);
    for job in jobs_in(&found) {
        let ends = |w: &Arc<Witness>| matches!(w.fact.kind(), Kind::SignOff | Kind::StandDown | Kind::Proof);
        found.extend(about(shelf, &Subject::Job(job)).into_iter().filter(|(_, w)| ends(w)));
    }
    found
}

/// Everything of the jobs on a trailer.
fn of_trailer(shelf: &Shelf<'_>, trailer: &str) -> Found {
    let mut found = about(shelf, &Subject::Trailer(trailer.to_owned()));
    for job in jobs_in(&found) {
        found.extend(about(shelf, &Subject::Job(job)));
    }
    found
}

fn jobs_in(found: &Found) -> std::collections::BTreeSet<String> {
    found
        .values()
        .filter_map(|w| w.fact.text("job").map(|j| j.into_owned()))
        .collect()
}

/// `DEVICE` or `DEVICE@SEQ`: what that device knew at its newest entry, or after that entry.
fn as_known_by(node: &Node, given: &str) -> Result<VersionVector, Failure> {
    let (name, seq) = match given.rsplit_once('@') {
        Some((name, seq)) => {
            let seq = seq
                .parse::<u64>()
                .map_err(|_| Failure::bad_input(format!("--as-known-by: '{seq}' is not an entry number")))?;
            (name, Some(seq))
        }
        None => (given, None),
    };
    let device: DeviceKey = resolve::device(node, name)?;
    if seq.is_none() && device == node.device() {
        return Ok(node.book().vector());
    }
    let Some(seq) = seq else {
        return Ok(node.book().known_by(&device));
    };
    // Several incarnations: the newest one that has such an entry.
    let vector = node.book().vector();
    let log = vector
        .iter()
        .filter(|(log, head)| log.device == device && *head >= seq)
        .map(|(log, _)| log)
        .max();
    let log = log.ok_or_else(|| Failure::bad_input(format!("--as-known-by: no entry {seq} of {name} is here")))?;
    Ok(node.book().known_at(&log, seq))
}

fn show_lines(lines: &[Line]) -> Result<(), Failure> {
    let mut rows = Vec::new();
    for line in lines {
        let mark = if line.concurrent_with.is_empty() { " " } else { "‖" };
        let text = gladhand_facts::Fact::from_map(&line.device_key, line.fact.clone())
            .map_or(line.kind.clone(), |f| summary(&f));
        rows.push(vec![
            line.at.clone(),
            line.device.clone(),
            line.place.seq.to_string(),
            line.by.clone().unwrap_or_else(|| "-".into()),
            mark.to_owned(),
            text,
        ]);
    }
    show::print(&show::table(&rows))?;
    let marked = lines.iter().filter(|l| !l.concurrent_with.is_empty()).count() as u64;
    if marked > 0 {
        show::aside(&format!(
            "‖ marks {} that others did not know of, and the other way round",
            show::counted(marked, "fact", "facts")
        ));
    }
    Ok(())
}
