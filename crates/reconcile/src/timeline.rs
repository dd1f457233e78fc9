//! The merged history: who did what when, on which device, and which facts are concurrent.
//!
//! The order is that of [`crate::order`]. What a device had seen of another log never shrinks, so within one log the facts before
//! a given fact form a head of the log, those after it a tail, and what lies between is concurrent. Counting takes two binary
//! searches a log; naming every concurrent pair is done only for small histories ([`Detail`]).

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, FactId, LogId, Moment, Place};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::clocks::Clocks;
use crate::edits::{Edit, Edits};
use crate::facts::Facts;
use crate::interval::Interval;
use crate::names::Names;
use crate::order::{self, Logs};
use crate::recorded_fact::RecordedFact;
use crate::timed::ClockName;

/// How much a row holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// Every concurrent fact by name, and what became of the fields that it set.
    Full,
    /// How many are concurrent: for histories of thousands of facts, in which the pairs would be millions.
    Counts,
}

/// What a corrected time is based on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// The depot's own clock.
    Depot,
    /// Clock readings that lead to the depot.
    Measured,
    /// What the work standard allows for unmeasured clocks.
    Unmeasured,
    /// A server's clock, which the work standard trusts within a limit.
    Server,
}

/// A time by the depot's clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// Not earlier than this.
    pub from: String,
    /// Not later than this.
    pub to: String,
    /// What that is based on.
    pub basis: Basis,
    /// The same in microseconds since 1970.
    #[serde(skip)]
    pub interval: Interval,
}

/// The first entry of a device that had seen a fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SeenBy {
    /// The name of the device.
    pub device: String,
    /// The device.
    pub device_key: DeviceKey,
    /// The number of the entry in the device's log.
    pub entry: u64,
    /// When that was, by its own clock.
    pub at: Option<String>,
    /// The log of that entry.
    #[serde(skip)]
    pub log: LogId,
}

/// What a recorder had seen although it bears a later time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AgainstClock {
    /// The fact with the latest written time among those that the recorder had seen.
    pub id: FactId,
    /// Its time, as written.
    pub at: String,
    /// By how much the time of the row is earlier, in microseconds.
    pub earlier_us: u64,
}

/// One line of a history.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryRow {
    /// The fact's name.
    pub id: FactId,
    /// Its kind as written.
    pub kind: String,
    /// When it happened, as written.
    pub at: String,
    /// When that was by the depot's clock; `None` when no depot is known.
    pub corrected: Option<Corrected>,
    /// Who did it.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
    /// The device.
    pub device_key: DeviceKey,
    /// Its place.
    pub place: Place,
    /// The fact itself, as shown.
    pub fact: Map<String, Value>,
    /// How many facts of this history are concurrent with it.
    pub concurrent: usize,
    /// Which ones; only with [`Detail::Full`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub concurrent_with: Option<Vec<FactId>>,
    /// Which devices had seen it later. The caller fills it in: facts alone do not tell.
    pub seen_by: Vec<SeenBy>,
    /// Set when its written time is earlier than that of a fact of this history that its recorder had seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub against_clock: Option<AgainstClock>,
    /// What became of the fields of its job that it set; only with [`Detail::Full`].
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub fields: BTreeMap<String, Edit>,
    /// The withdrawal that took it back. The caller fills it in: that depends on more than this history.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn_by: Option<FactId>,
    /// The ids of the findings that it makes. The caller fills it in if it judges as well.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<String>,
}

/// The history of `recorded_facts`, which may come in any order.
pub fn timeline(
    facts: &dyn Facts,
    names: &dyn Names,
    clocks: &Clocks,
    recorded_facts: &[Arc<RecordedFact>],
    detail: Detail,
) -> Vec<HistoryRow> {
    let logs = order::by_log(recorded_facts);
    let ids: BTreeMap<Place, FactId> = recorded_facts.iter().map(|w| (w.place, w.fact.id())).collect();
    let mut rows = Rows {
        facts,
        names,
        clocks,
        logs: &logs,
        ids: &ids,
        latest: latest_times(&logs),
        edits: (detail == Detail::Full).then(Edits::default),
    };
    order::in_order(&logs).into_iter().map(|w| rows.row(w)).collect()
}

struct Rows<'a> {
    facts: &'a dyn Facts,
    names: &'a dyn Names,
    clocks: &'a Clocks,
    logs: &'a Logs<'a, Arc<RecordedFact>>,
    /// A fact's id is a hash: computed once, not once for each pair.
    ids: &'a BTreeMap<Place, FactId>,
    latest: BTreeMap<LogId, Vec<usize>>,
    edits: Option<Edits>,
}

impl Rows<'_> {
    fn row(&mut self, recorded: &Arc<RecordedFact>) -> HistoryRow {
        let id = |w: &RecordedFact| self.ids.get(&w.place).copied().unwrap_or_else(|| w.fact.id());
        let between: Vec<&[&Arc<RecordedFact>]> = concurrent(self.logs, recorded).collect();
        let all = || between.iter().flat_map(|log| log.iter()).map(|w| id(w));
        HistoryRow {
            id: id(recorded),
            kind: recorded.fact.kind().name().to_owned(),
            at: recorded.at().text().to_owned(),
            corrected: corrected(self.clocks, recorded),
            by: recorded.owned("by"),
            device: self.names.device_name(&recorded.place.log.device),
            device_key: recorded.place.log.device,
            place: recorded.place,
            fact: recorded.fact.shown(),
            concurrent: between.iter().map(|log| log.len()).sum(),
            concurrent_with: self.edits.is_some().then(|| all().collect()),
            seen_by: Vec::new(),
            against_clock: self.against_clock(recorded),
            fields: self
                .edits
                .as_mut()
                .map(|edits| edits.of(self.facts, self.names, recorded))
                .unwrap_or_default(),
            withdrawn_by: None,
            findings: Vec::new(),
        }
    }

    /// Of each log the recorder had seen a head; what bears the latest time in it is known beforehand.
    fn against_clock(&self, recorded: &RecordedFact) -> Option<AgainstClock> {
        let latest_in = |(id, log): (&LogId, &Vec<&'_ Arc<RecordedFact>>)| {
            let head = log.partition_point(|w| w.happens_before(recorded));
            let latest = *self.latest.get(id)?.get(head.checked_sub(1)?)?;
            log.get(latest).copied().cloned()
        };
        let latest = self.logs.iter().filter_map(latest_in);
        let latest = latest.max_by_key(|w| (w.at().unix_us(), std::cmp::Reverse(w.place)))?;
        let earlier_us = latest.at().unix_us().saturating_sub(recorded.at().unix_us());
        let earlier_us = u64::try_from(earlier_us).ok().filter(|us| *us > 0)?;
        Some(AgainstClock {
            id: self.ids.get(&latest.place).copied()?,
            at: latest.at().text().to_owned(),
            earlier_us,
        })
    }
}

/// For each fact of each log: which one bears the latest written time up to there, itself included.
fn latest_times(logs: &Logs<'_, Arc<RecordedFact>>) -> BTreeMap<LogId, Vec<usize>> {
    let of_log = |log: &Vec<&Arc<RecordedFact>>| {
        let mut latest = (i64::MIN, 0);
        let up_to = log.iter().enumerate().map(|(i, w)| {
            let at_us = w.at().unix_us();
            if at_us > latest.0 {
                latest = (at_us, i);
            }
            latest.1
        });
        up_to.collect()
    };
    logs.iter().map(|(id, log)| (*id, of_log(log))).collect()
}

/// What is concurrent with `recorded`, log by log.
fn concurrent<'l, 'a>(
    logs: &'l Logs<'a, Arc<RecordedFact>>,
    recorded: &'l RecordedFact,
) -> impl Iterator<Item = &'l [&'a Arc<RecordedFact>]> {
    let others = logs.iter().filter(|(id, _)| **id != recorded.place.log);
    others.map(|(_, log)| {
        let head = log.partition_point(|w| w.happens_before(recorded));
        let tail = log.partition_point(|w| !recorded.happens_before(w));
        log.get(head..tail).unwrap_or_default()
    })
}

/// When a fact happened by the depot's clock, written in the zone in which it was written; `None` when no depot is known, and for
/// what a person says and what nobody can tell.
pub fn corrected(clocks: &Clocks, recorded: &RecordedFact) -> Option<Corrected> {
    let (timed, at) = (recorded.timed(), recorded.at());
    // Where sources contradict each other one side may be open.
    let interval = clocks.interval_of(recorded).filter(Interval::is_closed)?;
    let basis = match timed.clock {
        ClockName::Reference => Basis::Server,
        ClockName::Person(_) => return None,
        ClockName::Device(log) => match clocks.measured_interval(log, timed.at_us) {
            None => Basis::Unmeasured,
            Some(_) if clocks.is_measure(&log.device) => Basis::Depot,
            Some(_) => Basis::Measured,
        },
    };
    let written = |us: i64| Moment::from_unix_us(us, at.offset_s()).text().to_owned();
    Some(Corrected {
        from: written(interval.from_us),
        to: written(interval.to_us),
        basis,
        interval,
    })
}
