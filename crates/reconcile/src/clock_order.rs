//! The order of times and of facts, by what is known about the clocks; see [`crate::clocks`] for what decides.

use std::cmp::Ordering;

use gladhand_trade::Standard;

use crate::clocks::{Clocks, Order};
use crate::interval::Interval;
use crate::recorded_fact::RecordedFact;
use crate::timed::{ClockName, Timed};

impl Clocks {
    /// The order of two times.
    pub fn order_times(&self, a: Timed, b: Timed) -> Order {
        if self.one_clock(a, b) {
            return match a.at_us.cmp(&b.at_us) {
                Ordering::Less => Order::CertainlyBefore,
                Ordering::Greater => Order::CertainlyAfter,
                Ordering::Equal => Order::Undecided,
            };
        }
        apart(self.interval(a), self.interval(b))
    }

    /// The order of a time and a fact.
    pub fn order_to_fact(&self, a: Timed, b: &RecordedFact) -> Order {
        if self.one_clock(a, b.timed()) {
            self.order_times(a, b.timed())
        } else {
            apart(self.interval(a), self.interval_of(b))
        }
    }

    /// How far the difference of two times, as they were read or said, may be off: nothing by one clock, otherwise as far as
    /// the ends of their intervals lie from the readings, or what the standard allows for unmeasured clocks.
    pub fn difference_uncertainty_us(&self, a: Timed, b: Timed, standard: &Standard) -> i64 {
        let (a, b) = (a.as_if_read(), b.as_if_read());
        if self.one_clock(a, b) {
            return 0;
        }
        let bare = |timed: Timed| match timed.clock {
            ClockName::Reference => 0,
            ClockName::Device(_) | ClockName::Person(_) => standard.clock().unmeasured_us,
        };
        // A clock that is surely an hour wrong has a narrow interval an hour away: the distance counts, not the width.
        let off = |at_us: i64, i: Interval| {
            let early = at_us.saturating_sub(i.from_us);
            early.max(i.to_us.saturating_sub(at_us))
        };
        let one = |timed: Timed| {
            self.interval(timed)
                .map_or_else(|| bare(timed), |i| off(timed.at_us, i))
        };
        one(a).saturating_add(one(b))
    }

    /// The order in which two facts happened. What was seen decides, unless one of the times is a server's and certain.
    pub fn order(&self, a: &RecordedFact, b: &RecordedFact) -> Order {
        let by_time = || self.order_by_time(a, b);
        let has_reference = [a, b].iter().any(|w| w.clock() == ClockName::Reference);
        let certain = Some(has_reference).filter(|has| *has).map(|_| by_time());
        match certain {
            Some(order @ (Order::CertainlyBefore | Order::CertainlyAfter)) => order,
            _ if a.happens_before(b) => Order::CertainlyBefore,
            _ if b.happens_before(a) => Order::CertainlyAfter,
            _ => by_time(),
        }
    }

    /// The order of the times of two facts, whoever had seen what.
    fn order_by_time(&self, a: &RecordedFact, b: &RecordedFact) -> Order {
        if self.one_clock(a.timed(), b.timed()) {
            self.order_times(a.timed(), b.timed())
        } else {
            apart(self.interval_of(a), self.interval_of(b))
        }
    }

    /// Whether `b` came after `a`: it had seen it, or neither had seen the other and the clocks leave no doubt.
    pub fn follows(&self, b: &RecordedFact, a: &RecordedFact) -> bool {
        a.place != b.place && self.order(a, b) == Order::CertainlyBefore
    }
}

/// The order of two intervals: certain only when they do not touch.
fn apart(a: Option<Interval>, b: Option<Interval>) -> Order {
    match (a, b) {
        (Some(a), Some(b)) if a.to_us < b.from_us => Order::CertainlyBefore,
        (Some(a), Some(b)) if b.to_us < a.from_us => Order::CertainlyAfter,
        _ => Order::Undecided,
    }
}
