//! The merged history: who did what when, on which device, and what they could not know of.
//!
//! The order respects happens-before whatever the clocks say; where happens-before is silent the stamp
//! decides, then the place. What a device had seen of another log never goes back, so within one log the facts
//! before a given fact are a head of the log and those after it are a tail: what lies between is concurrent.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, FactId, LogId, Place};
use serde::Serialize;
use serde_json::{Map, Value};

use crate::facts::Facts;
use crate::witness::Witness;

/// One line of a history.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    /// The fact's name.
    pub id: FactId,
    /// Its kind as written.
    pub kind: String,
    /// When it happened, as written.
    pub at: String,
    /// Who did it.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
    /// The device.
    pub device_key: DeviceKey,
    /// Where it stands.
    pub place: Place,
    /// The fact itself, as shown.
    pub fact: Map<String, Value>,
    /// The facts of this history that its recorder could not know, and whose recorders could not know it.
    pub concurrent_with: Vec<FactId>,
}

type Logs<'a> = BTreeMap<LogId, Vec<&'a Arc<Witness>>>;

/// The history of `witnesses`, which may come in any order.
pub fn timeline(facts: &dyn Facts, witnesses: &[Arc<Witness>]) -> Vec<Line> {
    let logs = by_log(witnesses);
    let order = in_order(&logs);
    order.into_iter().map(|w| line(facts, &logs, w)).collect()
}

/// The witnesses, each once, in the order of the history.
pub fn in_causal_order(witnesses: &[Arc<Witness>]) -> Vec<Arc<Witness>> {
    in_order(&by_log(witnesses)).into_iter().cloned().collect()
}

fn by_log(witnesses: &[Arc<Witness>]) -> Logs<'_> {
    let mut logs: Logs<'_> = BTreeMap::new();
    for witness in witnesses {
        logs.entry(witness.place.log).or_default().push(witness);
    }
    for log in logs.values_mut() {
        log.sort_by_key(|w| w.place);
        log.dedup_by_key(|w| w.place);
    }
    logs
}

/// Takes, again and again, the earliest stamp among the heads of the logs that follow no other head.
fn in_order<'a>(logs: &Logs<'a>) -> Vec<&'a Arc<Witness>> {
    let mut rest: Vec<std::slice::Iter<'_, &'a Arc<Witness>>> = logs.values().map(|log| log.iter()).collect();
    let mut order = Vec::new();
    loop {
        let heads: Vec<(usize, &'a Arc<Witness>)> = rest
            .iter()
            .enumerate()
            .filter_map(|(i, log)| Some((i, *log.as_slice().first()?)))
            .collect();
        let free = |w: &Witness| !heads.iter().any(|(_, other)| other.happens_before(w));
        // Happens-before has no circles, so some head is always free; a forged log must not hang us.
        let free_heads = heads.iter().filter(|(_, w)| free(w));
        let next = free_heads.min_by_key(|(_, w)| (w.stamp, w.place)).or(heads.first());
        let Some((i, witness)) = next else {
            return order;
        };
        order.push(*witness);
        if let Some(log) = rest.get_mut(*i) {
            log.next();
        }
    }
}

fn line(facts: &dyn Facts, logs: &Logs<'_>, witness: &Witness) -> Line {
    Line {
        id: witness.fact.id(),
        kind: witness.fact.kind().name().to_owned(),
        at: witness.at().text().to_owned(),
        by: witness.owned("by"),
        device: facts.device_name(&witness.place.log.device),
        device_key: witness.place.log.device,
        place: witness.place,
        fact: witness.fact.shown(),
        concurrent_with: concurrent(logs, witness),
    }
}

fn concurrent(logs: &Logs<'_>, witness: &Witness) -> Vec<FactId> {
    let mut found = Vec::new();
    for log in logs.iter().filter(|(id, _)| **id != witness.place.log).map(|(_, l)| l) {
        let head = log.partition_point(|w| w.happens_before(witness));
        let tail = log.partition_point(|w| !witness.happens_before(w));
        let between = log.get(head..tail).unwrap_or_default();
        found.extend(between.iter().map(|w| w.fact.id()));
    }
    found
}
