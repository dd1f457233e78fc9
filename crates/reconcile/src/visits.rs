//! What a job may be by its fields: every combination of the purposes, walls, loads and thicknesses that they hold.
//!
//! One combination is the usual case. Several mean that people wrote without knowing of each other: then all that any of them
//! asks is asked, and nothing is excused that only some of them excuse.

use std::sync::Arc;

use gladhand_facts::Measure;
use gladhand_trade::Visit;
use gladhand_trade::names::THICKNESS;

use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, latest};
use crate::register;
use crate::thickness;

/// What a job may be. An unknown field is one `None`.
pub struct Visits {
    purposes: Vec<Option<String>>,
    walls: Vec<Option<String>>,
    loads: Vec<Option<String>>,
    thicknesses: Vec<Option<Measure>>,
}

impl Visits {
    /// By the fields as they stand.
    pub fn now(job: &JobView) -> Self {
        Self::read(job, latest)
    }

    /// By the fields as the recorder of `deed` had them in view. A field of which it had nothing in view, because the job was
    /// opened out of its sight, is read as it stands.
    pub fn at(job: &JobView, deed: &RecordedFact) -> Self {
        Self::read(job, |setters| {
            let in_view: Vec<_> = setters.iter().filter(|w| w.happens_before(deed)).cloned().collect();
            latest(if in_view.is_empty() { setters } else { &in_view })
        })
    }

    fn read(job: &JobView, holders: impl Fn(&[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>>) -> Self {
        let values = |field: &str| {
            let holders = holders(job.setters(field));
            let values = register::values(&holders, field).into_iter();
            one_or_more(values.map(|value| value.shown).collect())
        };
        let thick: Vec<_> = job.facts.iter().filter(|w| thickness::sets(w)).cloned().collect();
        Self {
            purposes: values("purpose"),
            walls: values("wall"),
            loads: values("load"),
            thicknesses: one_or_more(thickness::measures(&holders(&thick))),
        }
    }

    /// Whether `holds` is true of one of them.
    pub fn any(&self, mut holds: impl FnMut(Visit<'_>) -> bool) -> bool {
        self.purposes.iter().any(|purpose| {
            self.walls.iter().any(|wall| {
                self.loads.iter().any(|load| {
                    self.thicknesses.iter().any(|thickness| {
                        holds(Visit {
                            purpose: purpose.as_deref(),
                            wall: wall.as_deref(),
                            load: load.as_deref(),
                            thickness: thickness.as_ref(),
                        })
                    })
                })
            })
        })
    }

    /// Whether `holds` is true of all of them.
    pub fn all(&self, holds: impl Fn(Visit<'_>) -> bool) -> bool {
        !self.any(|visit| !holds(visit))
    }

    /// The purposes.
    pub fn purposes(&self) -> impl Iterator<Item = Option<&str>> {
        self.purposes.iter().map(Option::as_deref)
    }

    /// Whether nothing is known of `field`: `wall`, `load` or `thickness`.
    pub fn is_unknown(&self, field: &str) -> bool {
        let is_none = |values: &[Option<String>]| values.iter().all(Option::is_none);
        match field {
            "wall" => is_none(&self.walls),
            "load" => is_none(&self.loads),
            THICKNESS => self.thicknesses.iter().all(Option::is_none),
            _ => false,
        }
    }
}

/// The known values, or one `None`.
fn one_or_more<T>(values: Vec<T>) -> Vec<Option<T>> {
    if values.is_empty() {
        vec![None]
    } else {
        values.into_iter().map(Some).collect()
    }
}
