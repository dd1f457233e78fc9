//! Under which wall and load each reading of a job was taken, and which readings still speak of the wall as it stands.
//!
//! A reading belongs to the wall and load that its recorder had in view; one that was recorded before these belongs to the
//! first ones recorded. It is current until somebody who had seen these writes another value; setting the old value back does
//! not revive it, because the trailer may have been loaded anew. Values that were written without knowing of each other
//! change nothing.
//!
//! `seen-empty` puts aside every reading that whoever looked inside had in view, and makes the trailer an empty one until
//! somebody sets its load or reads its wall again.
//!
//! Not here: what the readings mean.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_trade::names::{FREIGHT_AT_OPENING, PILOT_HOLE, PILOT_SEALED, SECOND_HOLE_ENTERED, SEEN_EMPTY};
use gladhand_trade::{Verdict, verdict};

use crate::order::in_causal_order;
use crate::readings::{is_check, is_reading};
use crate::recorded_fact::{RecordedFact, earliest, latest};
use crate::register;
use crate::world::World;

type Facts = Vec<Arc<RecordedFact>>;

/// A wall and a load, as far as each is known.
pub(crate) type WallAndLoad = (Option<String>, Option<String>);

/// The readings of a job, with the wall and load that each belongs to.
pub(crate) struct WallHistory {
    walls: Facts,
    loads: Facts,
    /// The readings that speak of the wall as it stands, in causal order, without those that were put aside.
    current: Facts,
    /// The other readings that were not put aside.
    earlier: Facts,
    /// What says that a pilot hole was sealed, or what the trailer looked like inside: of any time.
    always: Facts,
    /// Those who saw the trailer empty, unless somebody else saw it otherwise at the same time or later.
    seen_empty: Facts,
}

impl WallHistory {
    pub(crate) fn of(world: &World<'_>, facts: &[Arc<RecordedFact>]) -> Self {
        let ordered = in_causal_order(facts);
        let looks: Facts = ordered.iter().filter(|w| is_check(w, SEEN_EMPTY)).cloned().collect();
        let mut seen_empty = latest(&looks);
        if seen_empty.iter().any(|w| !says_empty(world, w)) {
            seen_empty.clear();
        }
        let is_aside = |w: &Arc<RecordedFact>| seen_empty.iter().any(|seen| w.happens_before(seen));
        let is_of_the_wall = |w: &&Arc<RecordedFact>| {
            let is_seal = is_check(w, PILOT_SEALED);
            !is_seal && (is_reading(world, w) || is_check(w, SECOND_HOLE_ENTERED) || is_check(w, PILOT_HOLE))
        };
        let readings = ordered.iter().filter(is_of_the_wall).filter(|w| !is_aside(w));
        let always = ordered
            .iter()
            .filter(|w| is_check(w, PILOT_SEALED) || is_check(w, SEEN_EMPTY));
        let readings: Facts = readings.cloned().collect();
        let mut history = Self {
            walls: register::setters_of(facts, "wall"),
            loads: register::setters_of(facts, "load"),
            current: Facts::new(),
            earlier: Facts::new(),
            always: always.cloned().collect(),
            seen_empty,
        };
        // While wall or load disagree there is nothing that a reading could be current for; what blocked goes on blocking.
        let is_one = |field| one(&latest(history.setters(field)), field).is_some();
        let is_agreed = !readings.is_empty() && is_one("wall") && is_one("load");
        let readings = readings.into_iter();
        (history.current, history.earlier) = readings.partition(|w| is_agreed && history.is_of_this_wall(w));
        history
    }

    fn setters(&self, field: &str) -> &[Arc<RecordedFact>] {
        match field {
            "wall" => &self.walls,
            "load" => &self.loads,
            _ => &[],
        }
    }

    /// The wall and load as they stand. A trailer that was seen empty after its load was last set is empty.
    pub(crate) fn now(&self) -> WallAndLoad {
        let loads = latest(self.setters("load"));
        let was_set_before = |seen: &Arc<RecordedFact>| loads.iter().all(|load| load.happens_before(seen));
        let is_seen_empty = self.current.is_empty()
            && self.earlier.is_empty()
            && !loads.is_empty()
            && self.seen_empty.iter().any(was_set_before);
        let load = if is_seen_empty {
            Some("empty".to_owned())
        } else {
            one(&loads, "load")
        };
        (one(&latest(self.setters("wall")), "wall"), load)
    }

    /// The readings that speak of the wall as it stands, in causal order.
    pub(crate) fn current(&self) -> Facts {
        self.with_always(self.current.iter())
    }

    /// All others, by the wall and load under which they were taken.
    pub(crate) fn earlier(&self) -> Vec<(WallAndLoad, Facts)> {
        let mut by_wall: BTreeMap<WallAndLoad, Facts> = BTreeMap::new();
        for reading in &self.earlier {
            let of = |field| one(&self.base(field, reading), field);
            by_wall
                .entry((of("wall"), of("load")))
                .or_default()
                .push(reading.clone());
        }
        let whole = |(wall, facts): (&WallAndLoad, &Facts)| (wall.clone(), self.with_always(facts.iter()));
        by_wall.iter().map(whole).collect()
    }

    fn with_always<'f>(&self, readings: impl Iterator<Item = &'f Arc<RecordedFact>>) -> Facts {
        let all: Facts = readings.cloned().chain(self.always.iter().cloned()).collect();
        in_causal_order(&all)
    }

    /// Freight at the opening is seen from inside and depends on no wall.
    fn is_of_this_wall(&self, reading: &RecordedFact) -> bool {
        let is_freight = is_check(reading, FREIGHT_AT_OPENING);
        !self.is_changed("load", reading) && (is_freight || !self.is_changed("wall", reading))
    }

    /// What the field was when the reading was taken: as its recorder had it in view, or as it was first recorded.
    fn base(&self, field: &str, reading: &RecordedFact) -> Facts {
        let setters = self.setters(field);
        let in_view: Facts = setters.iter().filter(|w| w.happens_before(reading)).cloned().collect();
        if in_view.is_empty() {
            earliest(setters)
        } else {
            latest(&in_view)
        }
    }

    /// Whether somebody who knew that value wrote another one since.
    fn is_changed(&self, field: &str, reading: &RecordedFact) -> bool {
        let setters = self.setters(field).iter();
        let since: Vec<&Arc<RecordedFact>> = setters.filter(|w| !w.happens_before(reading)).collect();
        if since.is_empty() {
            return false;
        }
        let base = self.base(field, reading);
        let known = register::values(&base, field);
        let is_other = |w: &RecordedFact| {
            let value = register::field_value(&w.fact, field);
            value.is_some_and(|value| known.iter().all(|k| k.key != value.key))
        };
        let follows = |w: &RecordedFact| base.iter().any(|b| b.happens_before(w));
        since.into_iter().any(|w| is_other(w) && follows(w))
    }
}

fn one(holders: &[Arc<RecordedFact>], field: &str) -> Option<String> {
    match register::values(holders, field).as_slice() {
        [value] => Some(value.shown.clone()),
        _ => None,
    }
}

fn says_empty(world: &World<'_>, recorded: &RecordedFact) -> bool {
    let requirement = world.standard.check(SEEN_EMPTY);
    requirement.is_some_and(|r| verdict(r, &recorded.fact) == Verdict::Passes)
}
