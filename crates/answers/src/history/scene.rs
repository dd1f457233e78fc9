//! The picture of a history: what goes into it, in which words.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{Fact, Kind, LogId, Moment, Place};
use gladhand_node::{History, HistoryQuery, Node, NodeError};
use gladhand_reconcile::picture::{Clash, Drawn, Lane, Mark, Scene, Shape};
use gladhand_reconcile::timeline::{Basis, Corrected, HistoryRow};
use gladhand_reconcile::{RecordedFact, Subject};

use super::Found;
use crate::error::PictureError;
use crate::fact_words::summary;
use crate::text::history::rows::{Rows, against_clock, by_the_depot, span_of_time, spans};

/// More facts than this nobody reads in one picture.
const FACTS: usize = 300;

/// Draws what was found.
pub(super) fn draw(node: &Node, found: &Found) -> Result<(String, Drawn), PictureError> {
    let count = found.history.lines.len();
    if count > FACTS {
        return Err(PictureError::TooMany { count, most: FACTS });
    }
    Ok(scene(node, found)?.draw())
}

fn scene(node: &Node, found: &Found) -> Result<Scene, NodeError> {
    let history = &found.history;
    let rows: Rows = (1..).zip(&history.lines).map(|(row, line)| (line.id, row)).collect();
    let lines = history.lines.iter().zip(&history.recorded_facts);
    let facts: Vec<Mark> = lines.map(|(l, w)| fact(&found.query, history, &rows, l, w)).collect();
    let sightings = sightings(node, history)?;
    let places: BTreeMap<_, Place> = history.lines.iter().map(|l| (l.id, l.place)).collect();
    let open = found.findings.iter().filter(|f| f.is_open());
    let clashes = open.map(|f| Clash {
        id: f.id.clone(),
        rule: f.rule.clone(),
        severity: f.severity,
        standing: f.standing,
        says: f.says.clone(),
        facts: f.facts.iter().filter_map(|id| places.get(id).copied()).collect(),
    });
    Ok(Scene {
        title: title(found),
        lanes: lanes(history, &facts, &sightings),
        clashes: clashes.collect(),
        facts,
        sightings,
    })
}

/// What was asked for, in the words of the one who asked.
fn title(found: &Found) -> String {
    let scope = &found.scope;
    let named = [
        ("job", &scope.job),
        ("camera", &scope.camera),
        ("tracker", &scope.tracker),
        ("trailer", &scope.trailer),
        ("device", &scope.device),
    ];
    let named = named
        .into_iter()
        .filter_map(|(class, name)| Some(format!("{class} {}", name.as_ref()?)));
    let named: Vec<String> = named.collect();
    let of = match named.as_slice() {
        [] => "everything".to_owned(),
        named => named.join(", "),
    };
    let since = found.since.as_ref().map(|at| format!(", from {at}"));
    let until = found.as_of.as_ref().map(|at| format!(", until {at}"));
    let known = found.moment.as_ref();
    let known = known.map(|m| format!(", as {} knew it right after its entry {}", m.device, m.entry));
    let limits: String = [since, until, known].into_iter().flatten().collect();
    format!("History of {of}{limits}")
}

fn fact(query: &HistoryQuery, history: &History, rows: &Rows, line: &HistoryRow, recorded: &RecordedFact) -> Mark {
    let shape = match recorded.fact.kind() {
        Kind::SignOff | Kind::StandDown => Shape::Square,
        _ => Shape::Dot,
    };
    let interval = line.corrected.as_ref().map(|c| c.interval);
    Mark {
        place: recorded.place,
        stamp: recorded.stamp,
        seen: recorded.seen.clone(),
        shape,
        at: line.at.clone(),
        about_us: interval.map_or_else(|| recorded.at().unix_us(), |i| i.from_us.midpoint(i.to_us)),
        label: without(summary_of(line), &query.subjects),
        small: small(history, rows, line, recorded),
        is_struck: line.withdrawn_by.is_some(),
    }
}

/// Who, where it stands, and what must be known of its time and of its standing.
fn small(history: &History, rows: &Rows, line: &HistoryRow, recorded: &RecordedFact) -> String {
    let by = line.by.as_deref().unwrap_or("somebody");
    let entry = format!("entry {}", line.place.seq);
    let withdrawn = line.withdrawn_by.map(|id| match rows.get(&id) {
        Some(row) => format!("withdrawn by row {row}"),
        None => "withdrawn".to_owned(),
    });
    let against = line.against_clock.as_ref();
    let against = against.and_then(|seen| against_clock(seen.id, seen.earlier_us, rows));
    let said = [really(history, line, recorded), withdrawn, against];
    let said = [by.to_owned(), entry].into_iter().chain(said.into_iter().flatten());
    said.collect::<Vec<_>>().join(", ")
}

/// What is known of the time, unless the head of the lane says it already.
fn really(history: &History, line: &HistoryRow, recorded: &RecordedFact) -> Option<String> {
    let corrected = line.corrected.as_ref()?;
    let told = by_the_depot(corrected.basis, corrected.interval, &line.at);
    let own = clock_said(corrected, recorded);
    match corrected.basis {
        Basis::Server => Some(format!("server's time {told}")),
        Basis::Measured if !is_right(corrected, recorded) => Some(format!("really {told}")),
        _ if own == clock_of(history, &recorded.place.log) => None,
        Basis::Measured => Some(format!("really {told}")),
        Basis::Depot | Basis::Unmeasured => Some(own),
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
            about_us: Moment::parse(&at).map_or(stamp.wall_us, |at| at.unix_us()),
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
    let newest = own.next_back().and_then(|(l, w)| Some((l.corrected.as_ref()?, w)));
    newest.map_or_else(String::new, |(corrected, recorded)| clock_said(corrected, recorded))
}

fn clock_said(corrected: &Corrected, recorded: &RecordedFact) -> String {
    let half_us = corrected.interval.width_us() / 2;
    let shift_us = shift_us(corrected, recorded);
    match corrected.basis {
        Basis::Depot => "the depot's clock".to_owned(),
        Basis::Unmeasured => {
            let off_us = shift_us.saturating_abs().saturating_add(half_us);
            format!("clock never measured: ±{}", span_of_time(off_us))
        }
        _ if is_right(corrected, recorded) => format!("clock right to ±{}", span_of_time(half_us)),
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

/// By how much the true time is later than the written one.
fn shift_us(corrected: &Corrected, recorded: &RecordedFact) -> i64 {
    let middle_us = corrected.interval.from_us.midpoint(corrected.interval.to_us);
    middle_us.saturating_sub(recorded.at().unix_us())
}

/// Whether the clock shows no more than its uncertainty, or a second, beside the true time.
fn is_right(corrected: &Corrected, recorded: &RecordedFact) -> bool {
    let half_us = corrected.interval.width_us() / 2;
    shift_us(corrected, recorded).saturating_abs() <= half_us.max(1_000_000)
}
