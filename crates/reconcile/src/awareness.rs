//! Who could have known: which of the facts that clash somebody had in view when another was recorded.
//!
//! That, and nothing about clocks, gives a finding its standing. A sentence may add for how long a device had held the other
//! fact: by the device's own clock, from its first entry that had seen it (it may have held it for longer), and only where
//! that clock shows it: not when it ran backwards or was set meanwhile.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{DeviceKey, LogId};

use crate::finding::Standing;
use crate::recorded_fact::RecordedFact;
use crate::timed::{ClockName, Timed};
use crate::words::{span, thing};
use crate::world::World;

/// What is known about the facts that clash.
#[derive(Debug, Clone)]
pub(crate) enum Awareness {
    /// Nothing clashes with anything that was recorded.
    Nothing,
    /// None of them had been seen by the recorder of another; two of them.
    Neither(Arc<RecordedFact>, Arc<RecordedFact>),
    /// The recorder of `later` had `earlier` in view.
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

    /// Of pairs that clash. Where several were seen, the first in the order of places speaks.
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
            (None, None) => Self::Nothing,
        }
    }

    /// Of the pairs among `facts`, each with what it stands for, for which `clash` holds. The same answer as from all these
    /// pairs, without looking at more of them than needed: thousands of facts on one subject have millions.
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
            Self::Nothing => Standing::None,
            Self::Neither(..) => Standing::Unaware,
            Self::Seen { .. } => Standing::Aware,
        }
    }

    /// A clause that tells it, behind `; `; empty when there is nothing to tell.
    pub fn describe(&self, world: &World<'_>) -> String {
        match self {
            Self::Nothing => String::new(),
            Self::Neither(a, b) => format!("; {}", neither(world, a, b)),
            Self::Seen { earlier, later } => format!("; {}", held(world, earlier, later)),
        }
    }
}

/// `neither device had seen the other's link`, for facts of one sort of which none was recorded with another in view; `None`
/// when there are no two.
pub(crate) fn apart<'w>(
    world: &World<'_>,
    facts: impl IntoIterator<Item = &'w Arc<RecordedFact>>,
    sort: &str,
) -> Option<String> {
    let facts: Vec<&Arc<RecordedFact>> = facts.into_iter().collect();
    let devices: BTreeSet<DeviceKey> = facts.iter().map(|w| w.place.log.device).collect();
    let logs: BTreeSet<LogId> = facts.iter().map(|w| w.place.log).collect();
    let first = devices.first()?;
    match (devices.len(), logs.len()) {
        (_, 0 | 1) => None,
        (1, 2) => Some(format!(
            "neither copy of {} had seen the other's {sort}",
            world.facts.device_name(first)
        )),
        (1, _) => Some(format!(
            "none of the copies of {} had seen another's {sort}",
            world.facts.device_name(first)
        )),
        (2, _) => Some(format!("neither device had seen the other's {sort}")),
        _ => Some(format!("none of these devices had seen another's {sort}")),
    }
}

/// `lap-a had not seen the unlink of C1 from T1, nor lap-b the sign-off of J1`.
fn neither(world: &World<'_>, a: &RecordedFact, b: &RecordedFact) -> String {
    let name = |w: &RecordedFact| world.facts.device_name(&w.place.log.device);
    if a.place.log.device == b.place.log.device {
        return format!(
            "neither copy of {} had seen what the other recorded: {} and {}",
            name(a),
            thing(a),
            thing(b)
        );
    }
    format!("{} had not seen {}, nor {} {}", name(a), thing(b), name(b), thing(a))
}

/// `lap-b had held the link of C1 to T1 for at least 41 minutes by its own clock`.
fn held(world: &World<'_>, earlier: &RecordedFact, later: &RecordedFact) -> String {
    let device = world.facts.device_name(&later.place.log.device);
    let what = thing(earlier);
    let own = earlier.place.log == later.place.log;
    match (own, held_for_us(world, earlier, later)) {
        (true, Some(us)) => format!(
            "{device} itself had recorded {what}, {} before by its own clock",
            span(us)
        ),
        (true, None) => format!("{device} itself had recorded {what} before"),
        (false, Some(us)) => format!("{device} had held {what} for at least {} by its own clock", span(us)),
        (false, None) => format!("{device} had {what} in view"),
    }
}

/// Less than this says nothing.
const MINUTE_US: i64 = 60_000_000;

/// For how long the recorder of `later` had held `earlier`, by its own clock; `None` where that clock cannot tell.
fn held_for_us(world: &World<'_>, earlier: &RecordedFact, later: &RecordedFact) -> Option<i64> {
    let own = ClockName::Device(later.place.log.device);
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
    let by_own_clock = since.clock == own && world.clocks.one_clock(since, until);
    let for_us = until.at_us.checked_sub(since.at_us)?;
    (by_own_clock && for_us >= MINUTE_US).then_some(for_us)
}

#[cfg(test)]
#[path = "awareness_tests.rs"]
mod tests;
