//! Where a fact lies beside a deed such as a sign-off: the contract's "before", with what was recorded afterwards set apart.
//!
//! Whoever recorded a fact after having seen the deed cannot put it before the deed by a time of a device's clock or by word:
//! only a server's time that is certainly earlier does. An earlier time of another clock is a claim that somebody must look at,
//! unless contacts or the log itself show that the device's clock had been set meanwhile: then its order wins.

use crate::clocks::{Clocks, Order};
use crate::recorded_fact::RecordedFact;
use crate::timed::{ClockName, Timed};

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
    /// The contract's "before": seen before, or certainly earlier by the clocks, and not only claimed afterwards.
    pub fn before(&self, a: &RecordedFact, b: &RecordedFact) -> bool {
        a.place != b.place && self.placed(a, b) == Placed::Before
    }

    /// Where `fact` lies beside `deed`.
    pub fn placed(&self, fact: &RecordedFact, deed: &RecordedFact) -> Placed {
        let order = self.order(fact, deed);
        if deed.happens_before(fact) {
            return match order {
                Order::CertainlyBefore if fact.clock() == ClockName::Reference => Placed::Before,
                Order::CertainlyBefore => Placed::Afterwards,
                _ if self.claims_to_be_earlier(fact, deed) => Placed::Afterwards,
                _ => Placed::After,
            };
        }
        match order {
            Order::CertainlyBefore => Placed::Before,
            Order::CertainlyAfter => Placed::After,
            Order::Undecided => Placed::Undecided,
        }
    }

    /// Whether a fact that was recorded after the deed says an earlier time, and nothing shows that its clock had been set.
    fn claims_to_be_earlier(&self, fact: &RecordedFact, deed: &RecordedFact) -> bool {
        let clock = fact.clock();
        if clock == ClockName::Reference || matches!(clock, ClockName::Device(_)) && fact.is_timed_by_recording() {
            return false;
        }
        let (log, said) = (fact.place.log, fact.timed().as_if_read());
        match clock {
            ClockName::Device(_) if !self.ran_through(log, said.at_us, fact.stamp.wall_us) => return false,
            ClockName::Device(_) | ClockName::Person(_) | ClockName::Reference => {}
        }
        match self.order_to_fact(said, deed) {
            Order::CertainlyBefore => true,
            Order::CertainlyAfter => false,
            Order::Undecided => self.is_likely_earlier(said, deed),
        }
    }

    /// Whether a time lies before a deed by the middles of their intervals: the times of two clocks do not compare as they were
    /// read. Where an end is open nothing speaks for either.
    fn is_likely_earlier(&self, said: Timed, deed: &RecordedFact) -> bool {
        let of_deed = match deed.clock() {
            ClockName::Person(_) => self.interval(deed.timed().as_if_read()),
            ClockName::Device(_) | ClockName::Reference => self.interval_of(deed),
        };
        match (self.interval(said), of_deed) {
            (Some(said), Some(deed)) if said.is_closed() && deed.is_closed() => said.middle_us() < deed.middle_us(),
            (Some(_), Some(_)) => false,
            // No depot is known, and so no clock that could be wrong beside another.
            _ => said.at_us < deed.timed().at_us,
        }
    }
}
