//! Which facts of one sort are the latest, by which the rules decide.
//!
//! Happens-before decides; between two times that servers gave, a certain order of the times does. Several are latest when none of
//! them is known to follow.

use std::sync::Arc;

use crate::clocks::{Clocks, Order};
use crate::recorded_fact::{self, RecordedFact};
use crate::timed::ClockName;

/// The facts of `set` that no other of them follows.
pub fn latest(clocks: &Clocks, set: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let is_reference = |w: &RecordedFact| w.clock() == ClockName::Reference;
    if set.iter().filter(|w| is_reference(w)).count() < 2 {
        return recorded_fact::latest(set);
    }
    let follows = |later: &RecordedFact, w: &RecordedFact| {
        if !is_reference(w) || !is_reference(later) {
            return w.happens_before(later);
        }
        match clocks.order_times(w.timed(), later.timed()) {
            Order::CertainlyBefore => true,
            Order::CertainlyAfter => false,
            Order::Undecided => w.happens_before(later),
        }
    };
    let is_latest = |w: &&Arc<RecordedFact>| !set.iter().any(|other| other.place != w.place && follows(other, w));
    let found: Vec<Arc<RecordedFact>> = set.iter().filter(is_latest).cloned().collect();
    if found.is_empty() {
        // Times and causality run in a circle; then causality alone decides.
        recorded_fact::latest(set)
    } else {
        found
    }
}
