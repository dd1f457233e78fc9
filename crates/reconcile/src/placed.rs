//! Where a fact lies beside a deed such as a sign-off: the contract's "before", with what was recorded afterwards set apart.
//!
//! Whoever recorded a fact after having seen the deed cannot put it before the deed by a time of a device's clock or by word:
//! only a server's time that is certainly earlier does. An earlier time of another clock is a claim that somebody must look at.

use crate::clocks::{Clocks, Order};
use crate::recorded_fact::RecordedFact;
use crate::timed::ClockName;

/// Where a fact lies beside a deed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Placed {
    /// It counts as before the deed.
    Before,
    /// Recorded by somebody who had seen the deed, with an earlier time that only a device's clock or a person vouches for.
    Afterwards,
    /// Nobody can tell.
    Undecided,
    /// It does not count as before the deed.
    After,
}

impl Clocks {
    /// Where `fact` lies beside `deed`.
    pub fn placed(&self, fact: &RecordedFact, deed: &RecordedFact) -> Placed {
        let is_reference = |w: &RecordedFact| w.clock() == ClockName::Reference;
        let order = self.order(fact, deed);
        if fact.happens_before(deed) {
            let is_later = order == Order::CertainlyAfter && (is_reference(fact) || is_reference(deed));
            return if is_later { Placed::After } else { Placed::Before };
        }
        let is_earlier = order == Order::CertainlyBefore;
        match (deed.happens_before(fact), order) {
            (true, _) if is_earlier && is_reference(fact) => Placed::Before,
            (true, _) if is_earlier => Placed::Afterwards,
            (true, _) | (false, Order::CertainlyAfter) => Placed::After,
            (false, Order::CertainlyBefore) => Placed::Before,
            (false, Order::Undecided) => Placed::Undecided,
        }
    }
}
