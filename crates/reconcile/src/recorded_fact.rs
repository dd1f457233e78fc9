//! A fact together with its place and with what its recorder had seen.
//!
//! That is all that happens-before needs: within one log the place decides, between logs the version vector of the later entry.
//! Wall times and stamps take no part in it.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{Fact, Kind, LogId, Moment, Place, Stamp, VersionVector, code_key, name_key};

use crate::timed::{ClockName, Timed};

/// A fact as the merged history holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordedFact {
    /// What was recorded.
    pub fact: Fact,
    /// Where it stands.
    pub place: Place,
    /// The hybrid logical clock of its entry. Orders lines for showing, decides nothing.
    pub stamp: Stamp,
    /// What the device had seen of *other* logs (and of its own earlier incarnations) when it wrote the entry,
    /// whole, not as a delta. Shared by the facts of an entry, and by entries between which nothing came in.
    pub seen: Arc<VersionVector>,
}

impl RecordedFact {
    /// Whether the recorder of `other` had this fact before it when it wrote `other`.
    pub fn happens_before(&self, other: &Self) -> bool {
        other.has_seen(&self.place)
    }

    /// Whether the recorder had seen `place` when it wrote this.
    pub fn has_seen(&self, place: &Place) -> bool {
        if place.log == self.place.log {
            (place.seq, place.index) < (self.place.seq, self.place.index)
        } else {
            self.seen.includes(&place.log, place.seq)
        }
    }

    /// Whether neither recorder had seen the other's fact.
    pub fn concurrent(&self, other: &Self) -> bool {
        self.place != other.place && !self.happens_before(other) && !other.happens_before(self)
    }

    /// When it happened: as the fact says, or else the wall time of its stamp, written in UTC.
    pub fn at(&self) -> Moment {
        self.fact
            .at()
            .unwrap_or_else(|| Moment::from_unix_us(self.stamp.wall_us, 0))
    }

    /// When it happened, and by which clock.
    pub fn timed(&self) -> Timed {
        Timed {
            clock: self.clock(),
            at_us: self.at().unix_us(),
        }
    }

    /// The clock that [`RecordedFact::at`] was read from. A time that the device filled in is the device's, even if the fact
    /// names another clock.
    pub fn clock(&self) -> ClockName {
        ClockName::of_fact(&self.fact, self.place.log)
    }

    /// Whether [`RecordedFact::at`] is the time of recording, because the fact does not say when it happened.
    pub fn is_timed_by_recording(&self) -> bool {
        self.fact.is_filled("at") || self.fact.at().is_none()
    }

    /// The clock that the fact names. It applies to the times that a person or a program gave, not to filled-in ones.
    pub fn named_clock(&self) -> ClockName {
        ClockName::named_by(&self.fact, self.place.log)
    }

    /// Whether it is of `kind`.
    pub fn is(&self, kind: &Kind) -> bool {
        self.fact.kind() == kind
    }

    /// Whether it is of `kind` and says `state`.
    pub fn is_state(&self, kind: &Kind, state: &str) -> bool {
        self.is(kind) && self.fact.text("state").as_deref() == Some(state)
    }

    /// What the text under `key` is compared by; see [`gladhand_facts::key`].
    pub fn key(&self, key: &str) -> Option<String> {
        let text = self.fact.text(key)?;
        let compared = compared_by(key, &text);
        (!compared.is_empty()).then_some(compared)
    }

    /// The text under `key`, owned.
    pub fn owned(&self, key: &str) -> Option<String> {
        self.fact.text(key).map(std::borrow::Cow::into_owned)
    }
}

/// What the text under `key` of a fact is compared by: codes and names by their keys, everything else as it is written.
pub fn compared_by(key: &str, text: &str) -> String {
    match key {
        "trailer" | "vin" | "tracker" | "camera" | "code" => code_key(text),
        "job" | "fleet" | "yard" | "by" | "assigned" | "to" => name_key(text),
        _ => text.trim().to_owned(),
    }
}

/// The facts of `set` that no other fact of `set` follows, in the order of places.
pub fn latest(set: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    if is_of_one_log(set) {
        let last = set.iter().rev().max_by_key(|w| w.place);
        return last.into_iter().cloned().collect();
    }
    // Within a log the last one follows all others, so only the last of each log can be among them.
    let mut lasts: BTreeMap<LogId, &Arc<RecordedFact>> = BTreeMap::new();
    for recorded in set {
        let last = lasts.entry(recorded.place.log).or_insert(recorded);
        if last.place < recorded.place {
            *last = recorded;
        }
    }
    let followed = |w: &RecordedFact| lasts.values().any(|later| w.happens_before(later));
    lasts.values().filter(|w| !followed(w)).map(|w| Arc::clone(w)).collect()
}

fn is_of_one_log(set: &[Arc<RecordedFact>]) -> bool {
    let same_log = |pair: &[Arc<RecordedFact>]| matches!(pair, [a, b] if a.place.log == b.place.log);
    set.windows(2).all(same_log)
}

/// The facts of `set` that follow no other fact of `set`, in the order of places.
pub fn earliest(set: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    if is_of_one_log(set) {
        let first = set.iter().min_by_key(|w| w.place);
        return first.into_iter().cloned().collect();
    }
    let mut firsts: BTreeMap<LogId, &Arc<RecordedFact>> = BTreeMap::new();
    for recorded in set {
        let first = firsts.entry(recorded.place.log).or_insert(recorded);
        if recorded.place < first.place {
            *first = recorded;
        }
    }
    let follows = |w: &RecordedFact| firsts.values().any(|earlier| earlier.happens_before(w));
    firsts.values().filter(|w| !follows(w)).map(|w| Arc::clone(w)).collect()
}
