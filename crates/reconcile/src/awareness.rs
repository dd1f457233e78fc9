//! Whether the recorders of the facts that clash could have known of each other.
//!
//! Only what a recorder had seen decides, never a clock. That gives a finding its standing. For how long a device had held the
//! other fact is added where the device's own clock can tell: from its first entry that had seen the fact (it may have held it
//! for longer), and not when that clock ran backwards or was set meanwhile.

use std::sync::Arc;

use crate::finding::Standing;
use crate::reason::fact_ref::FactLabel;
use crate::reason::knowledge::{Knowledge, Recorded};
use crate::recorded_fact::RecordedFact;
use crate::timed::{ClockName, Timed};
use crate::world::World;

/// A pair of the facts that clash, and whether one had been seen by the recorder of the other.
#[derive(Debug, Clone)]
pub(crate) enum Awareness {
    /// Nothing clashes with anything that was recorded.
    NoClash,
    /// No recorder had seen another's fact; two of the facts.
    Neither(Arc<RecordedFact>, Arc<RecordedFact>),
    /// The recorder of `later` had seen `earlier`.
    Seen {
        earlier: Arc<RecordedFact>,
        later: Arc<RecordedFact>,
    },
}

impl Awareness {
    /// Of facts on two sides, each of which clashes with each on the other side.
    pub fn between(ones: &[Arc<RecordedFact>], others: &[Arc<RecordedFact>]) -> Self {
        Self::of(ones.iter().flat_map(|a| others.iter().map(move |b| (a, b))))
    }

    /// Of pairs that clash. Where several were seen, the first in the order of places is taken.
    pub fn of<'w>(pairs: impl IntoIterator<Item = (&'w Arc<RecordedFact>, &'w Arc<RecordedFact>)>) -> Self {
        let (mut seen, mut apart) = (None::<(&Arc<RecordedFact>, &Arc<RecordedFact>)>, None);
        for (a, b) in pairs.into_iter().filter(|(a, b)| a.place != b.place) {
            let ordered = if a.happens_before(b) {
                (a, b)
            } else if b.happens_before(a) {
                (b, a)
            } else {
                apart = apart.or(Some((a, b)));
                continue;
            };
            let is_first = |(x, y): (&Arc<RecordedFact>, &Arc<RecordedFact>)| {
                (ordered.0.place, ordered.1.place) < (x.place, y.place)
            };
            if seen.is_none_or(is_first) {
                seen = Some(ordered);
            }
        }
        match (seen, apart) {
            (Some((earlier, later)), _) => Self::Seen {
                earlier: earlier.clone(),
                later: later.clone(),
            },
            (None, Some((a, b))) => Self::Neither(a.clone(), b.clone()),
            (None, None) => Self::NoClash,
        }
    }

    /// Of the pairs among `facts`, each with a mark, for whose marks `clash` holds. The same answer as [`Awareness::of`] gives
    /// for all these pairs, without looking at more of them than needed: thousands of facts on one subject have millions.
    pub fn among<T>(facts: &[(&Arc<RecordedFact>, T)], clash: impl Fn(&T, &T) -> bool) -> Self {
        let mut facts: Vec<&(&Arc<RecordedFact>, T)> = facts.iter().collect();
        facts.sort_by_key(|(w, _)| w.place);
        let pairs = || facts.iter().flat_map(|a| facts.iter().map(move |b| (a, b)));
        let seen = pairs().find(|((a, x), (b, y))| a.happens_before(b) && clash(x, y));
        if let Some(((a, _), (b, _))) = seen {
            return Self::of([(*a, *b)]);
        }
        let apart = pairs().find(|((a, x), (b, y))| a.place != b.place && clash(x, y));
        Self::of(apart.map(|((a, _), (b, _))| (*a, *b)))
    }

    /// The standing that follows from it.
    pub fn standing(&self) -> Standing {
        match self {
            Self::NoClash => Standing::None,
            Self::Neither(..) => Standing::Unaware,
            Self::Seen { .. } => Standing::Aware,
        }
    }

    /// As a reason holds it.
    pub fn knowledge(&self, world: &World<'_>) -> Knowledge {
        match self {
            Self::NoClash => Knowledge::NoClash,
            Self::Neither(a, b) => Knowledge::Neither(recorded(a), recorded(b)),
            Self::Seen { earlier, later } => Knowledge::Seen {
                by: later.place.log.device,
                earlier: FactLabel::of(earlier),
                own: earlier.place.log == later.place.log,
                held_us: held_for_us(world, earlier, later),
            },
        }
    }

    /// The same for facts of one sort: where no recorder had seen another's, all their logs are named.
    pub fn knowledge_of_one_sort<'w>(
        &self,
        world: &World<'_>,
        facts: impl IntoIterator<Item = &'w Arc<RecordedFact>>,
    ) -> Knowledge {
        match self {
            Self::Neither(..) => none_of(facts),
            _ => self.knowledge(world),
        }
    }
}

/// Of facts of one sort, none of whose recorders had seen another.
pub(crate) fn none_of<'w>(facts: impl IntoIterator<Item = &'w Arc<RecordedFact>>) -> Knowledge {
    Knowledge::NoneOf(facts.into_iter().map(|w| w.place.log).collect())
}

fn recorded(recorded: &RecordedFact) -> Recorded {
    Recorded {
        device: recorded.place.log.device,
        fact: FactLabel::of(recorded),
    }
}

/// A shorter time is not worth saying.
const MINUTE_US: i64 = 60_000_000;

/// For how long the recorder of `later` had held `earlier`, by its own clock; `None` where that clock cannot tell.
fn held_for_us(world: &World<'_>, earlier: &RecordedFact, later: &RecordedFact) -> Option<i64> {
    let own = ClockName::Device(later.place.log);
    let since = if earlier.place.log == later.place.log {
        earlier.timed()
    } else {
        let sight = world.facts.first_sight(&later.place.log, &earlier.place)?;
        Timed {
            clock: own,
            at_us: sight.stamp.own_wall_us()?,
        }
    };
    let until = later.timed();
    let by_own_clock = until.clock == own && world.clocks.one_clock(since, until);
    let for_us = until.at_us.checked_sub(since.at_us)?;
    (by_own_clock && for_us >= MINUTE_US).then_some(for_us)
}

#[cfg(test)]
#[path = "awareness_tests.rs"]
mod tests;
