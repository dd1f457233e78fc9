//! The picture of a history: what goes into it, in which words.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, Kind, LogId, Place};
use gladhand_node::{History, HistoryQuery, Node, NodeError};
use gladhand_reconcile::picture::{Clash, Drawn, Lane, Mark, Scene, Shape};
use gladhand_reconcile::timeline::{Basis, HistoryRow};
use gladhand_reconcile::{RecordedFact, Subject};

use crate::error::PictureError;
use crate::fact_words::summary;
use crate::shown_finding::ShownFinding;
use crate::text::history::rows::{by_the_depot, span_of_time, spans};

/// More facts than this nobody reads in one picture.
const FACTS: usize = 300;

/// Draws the history.
pub(super) fn draw(
    node: &Node,
    query: &HistoryQuery,
    history: &History,
    findings: &[ShownFinding],
) -> Result<(String, Drawn), PictureError> {
    let count = history.lines.len();
    if count > FACTS {
        return Err(PictureError::TooMany { count, most: FACTS });
    }
    Ok(scene(node, query, history, findings)?.draw())
}

fn scene(node: &Node, query: &HistoryQuery, history: &History, findings: &[ShownFinding]) -> Result<Scene, NodeError> {
    let facts: Vec<Mark> = history
        .lines
        .iter()
        .zip(&history.recorded_facts)
        .map(|(l, w)| fact(query, l, w))
        .collect();
    let sightings = sightings(node, history)?;
    let places: BTreeMap<_, Place> = history.lines.iter().map(|l| (l.id, l.place)).collect();
    let open = findings.iter().filter(|f| f.is_open());
    let clashes = open.map(|f| Clash {
        rule: f.rule.clone(),
        severity: f.severity,
        standing: f.standing,
        says: f.says.clone(),
        facts: f.facts.iter().filter_map(|id| places.get(id).copied()).collect(),
    });
    Ok(Scene {
        title: title(node, query),
        lanes: lanes(history, &facts, &sightings),
        clashes: clashes.collect(),
        facts,
        sightings,
    })
}

fn title(node: &Node, query: &HistoryQuery) -> String {
    let device = query
        .device
        .map(|d| format!("device {}", node.book().roster().name(&d)));
    let named: Vec<String> = query.subjects.iter().map(ToString::to_string).chain(device).collect();
    if named.is_empty() {
        "History of everything".to_owned()
    } else {
        format!("History of {}", named.join(", "))
    }
}

fn fact(query: &HistoryQuery, line: &HistoryRow, recorded: &RecordedFact) -> Mark {
    let shape = match recorded.fact.kind() {
        Kind::SignOff | Kind::StandDown => Shape::Square,
        _ => Shape::Dot,
    };
    let by = line.by.as_deref().unwrap_or("somebody");
    let corrected = line.corrected.as_ref();
    let clock = match corrected.map(|c| (c.basis, by_the_depot(c.basis, c.interval, &line.at))) {
        Some((Basis::Measured, told)) => format!(", really {told}"),
        Some((Basis::Server, told)) => format!(", server's time {told}"),
        _ => String::new(),
    };
    Mark {
        place: recorded.place,
        stamp: recorded.stamp,
        seen: recorded.seen.clone(),
        shape,
        at: line.at.clone(),
        label: without(summary_of(line), &query.subjects),
        small: format!("{by}, entry {}{clock}", line.place.seq),
        is_struck: line.withdrawn_by.is_some(),
    }
}

fn summary_of(line: &HistoryRow) -> String {
    let fact = Fact::from_map(&line.device_key, line.fact.clone());
    fact.map_or_else(|_| line.kind.clone(), |f| summary(&f))
}

/// What the title says already is not said again at each mark.
fn without(words: String, subjects: &[Subject]) -> String {
    let is_said = |word: &&str| {
        let is_it = |subject: &Subject| Subject::from_text(subject.class(), word).as_ref() == Some(subject);
        subjects.iter().any(is_it)
    };
    // The first word is the kind of fact.
    let mut all = words.split(' ');
    let first = all.next().into_iter();
    first
        .chain(all.filter(|word| !is_said(word)))
        .collect::<Vec<_>>()
        .join(" ")
}

/// The entries at which somebody had first seen some of the facts, where they are not facts of the history themselves.
fn sightings(node: &Node, history: &History) -> Result<Vec<Mark>, NodeError> {
    let shown: BTreeSet<(LogId, u64)> = history.lines.iter().map(|l| (l.place.log, l.place.seq)).collect();
    let mut found: BTreeMap<(LogId, u64), (String, Vec<usize>)> = BTreeMap::new();
    for (row, line) in (1..).zip(&history.lines) {
        for seen in line.seen_by.iter().filter(|s| !shown.contains(&(s.log, s.entry))) {
            let at = seen.at.clone().unwrap_or_default();
            found
                .entry((seen.log, seen.entry))
                .or_insert((at, Vec::new()))
                .1
                .push(row);
        }
    }
    let mut marks = Vec::new();
    for ((log, seq), (at, rows)) in found {
        let stamp = node.entry_stamp(&log, seq)?.unwrap_or_default();
        marks.push(Mark {
            place: Place { log, seq, index: 0 },
            stamp,
            seen: node.book().seen_at(&log, seq),
            shape: Shape::Diamond,
            at,
            label: format!("had seen {}", spans(rows)),
            small: format!("its entry {seq}"),
            is_struck: false,
        });
    }
    Ok(marks)
}

/// Logs with facts come first, in the order of the history; then those that only saw facts.
fn lanes(history: &History, facts: &[Mark], sightings: &[Mark]) -> Vec<Lane> {
    let mut logs: Vec<LogId> = Vec::new();
    for mark in facts.iter().chain(sightings) {
        if !logs.contains(&mark.place.log) {
            logs.push(mark.place.log);
        }
    }
    let all = logs.clone();
    let several = |log: &LogId| all.iter().filter(|l| l.device == log.device).count() > 1;
    let lane = |log: LogId| {
        let ordinal = all
            .iter()
            .filter(|l| l.device == log.device && l.incarnation < log.incarnation)
            .count()
            + 1;
        let name = name_of(history, &log);
        Lane {
            log,
            name: if several(&log) {
                format!("{name}, log {ordinal}")
            } else {
                name
            },
            clock: clock_of(history, &log),
        }
    };
    logs.into_iter().map(lane).collect()
}

fn name_of(history: &History, log: &LogId) -> String {
    let recorded = history
        .lines
        .iter()
        .find(|l| l.device_key == log.device)
        .map(|l| l.device.clone());
    let seen = || {
        history
            .lines
            .iter()
            .flat_map(|l| &l.seen_by)
            .find(|s| s.device_key == log.device)
            .map(|s| s.device.clone())
    };
    recorded.or_else(seen).unwrap_or_else(|| log.device.short())
}

/// What the newest fact of a lane says of its clock.
fn clock_of(history: &History, log: &LogId) -> String {
    let by_device = |l: &&HistoryRow| l.corrected.as_ref().is_some_and(|c| c.basis != Basis::Server);
    let mut own = history
        .lines
        .iter()
        .zip(&history.recorded_facts)
        .filter(|(l, _)| l.place.log == *log && by_device(l));
    let Some((corrected, at_us)) = own
        .next_back()
        .and_then(|(l, w)| Some((l.corrected.as_ref()?, w.at().unix_us())))
    else {
        return String::new();
    };
    let half_us = corrected.interval.width_us() / 2;
    let shift_us = corrected.interval.from_us.saturating_add(half_us).saturating_sub(at_us);
    match corrected.basis {
        Basis::Depot => "the depot's clock".to_owned(),
        Basis::Unmeasured => {
            let off_us = shift_us.saturating_abs().saturating_add(half_us);
            format!("clock never measured: ±{}", span_of_time(off_us))
        }
        _ if shift_us.abs() <= half_us.max(1_000_000) => format!("clock right to ±{}", span_of_time(half_us)),
        _ => {
            let way = if shift_us > 0 { "slow" } else { "fast" };
            format!(
                "clock {} {way} (±{})",
                span_of_time(shift_us.abs()),
                span_of_time(half_us)
            )
        }
    }
}
