//! The camera hole was cut on a loaded trailer while the go/no-go answer at that moment was neither clear nor clear by approval.
//!
//! A cut is judged by what its recorder had in view, also by what was withdrawn later. The trailer was loaded when he had it in view as loaded, or when it is recorded
//! as loaded since and still is. One that was called empty after a reading that blocked or did not decide counts as loaded until
//! somebody looked inside. What was loaded when it was cut is not emptied by a later entry: that is a withdrawal, or a ruling.
//!
//! Standing: the cut clashes with the readings; the fields of the job are no side. `aware` when the cutter had one of them in view,
//! `unaware` when all were recorded out of his view, `-` when there are none.

use std::sync::Arc;

use super::rule::Rule;
use crate::as_seen::as_seen;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::readings::{cuts, is_reading};
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::wall::{NotClear, UnclearedCut};
use crate::recorded_fact::{RecordedFact, earliest, latest};
use crate::register;
use crate::subject::Class;
use crate::world::World;

pub(super) struct CutWithoutClearance;

impl Rule for CutWithoutClearance {
    fn name(&self) -> &'static str {
        "cut-without-clearance"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let cuts = earliest(&cuts(world, &job.facts));
        let uncleared = || cuts.iter().filter_map(|cut| Cut::read(world, case, job, cut.clone()));
        let (mut found, mut over): (Vec<Cut>, Vec<Cut>) = uncleared().partition(|cut| cut.empty_by.is_empty());
        if found.is_empty() {
            std::mem::swap(&mut found, &mut over);
        }
        let first = found.first()?;
        let knew = found.iter().find(|c| c.awareness.standing() == Standing::Aware);
        let awareness = knew.map_or(&first.awareness, |c| &c.awareness);
        let reason = Reason::CutWithoutClearance(UnclearedCut {
            cut: FactRef::of(&first.cut),
            answer: first.answer.clone(),
            knowledge: awareness.knowledge(world),
            empty_by: FactRef::all(&first.empty_by),
        });
        let standing = awareness.standing();
        let empty_by: Vec<_> = found.iter().flat_map(|c| c.empty_by.clone()).collect();
        let evidence = found
            .into_iter()
            .flat_map(|c| [vec![c.cut], c.readings, c.loaded_by].concat());
        let draft = Draft::new(Severity::Stop, [job.key.clone()], reason)
            .made_by(evidence)
            .standing(standing)
            .cleared_by(empty_by);
        Some(draft)
    }
}

const LOADED: &str = "loaded";

/// A cut of a loaded trailer that was not cleared.
struct Cut {
    cut: Arc<RecordedFact>,
    answer: NotClear,
    /// What its recorder had in view of the wall.
    readings: Vec<Arc<RecordedFact>>,
    /// What says that the trailer was loaded, or called empty after a reading that was no yes.
    loaded_by: Vec<Arc<RecordedFact>>,
    /// What says that it was not loaded after all; empty while it counts as loaded.
    empty_by: Vec<Arc<RecordedFact>>,
    awareness: Awareness,
}

impl Cut {
    /// `None` when the trailer was not loaded or the wall was clear.
    fn read(world: &World<'_>, case: &Case, job: &JobView, cut: Arc<RecordedFact>) -> Option<Self> {
        let answer = NotClear::of(case.answer_at(world, &cut))?;
        let known = as_seen(&job.facts, case.withdrawn(), &cut);
        let (then, all) = (register::holders_of(&known, "load"), job.setters("load").to_vec());
        let (now, since) = (latest(&all), all.into_iter().filter(|w| !w.happens_before(&cut)));
        let mut empty_by = Vec::new();
        let loaded_by = if then.iter().any(|w| says_loaded(w)) || answer.is_no() {
            then
        } else {
            let later: Vec<_> = since.filter(|w| says_loaded(w)).collect();
            if !now.iter().any(|w| says_loaded(w)) {
                empty_by = now;
            }
            later
        };
        if loaded_by.is_empty() && !answer.is_no() {
            return None;
        }
        let readings: Vec<_> = known.into_iter().filter(|w| is_reading(world, w)).collect();
        Some(Self {
            awareness: awareness(world, job, &cut, &readings),
            cut,
            answer,
            readings,
            loaded_by,
            empty_by,
        })
    }
}

fn awareness(world: &World<'_>, job: &JobView, cut: &Arc<RecordedFact>, in_view: &[Arc<RecordedFact>]) -> Awareness {
    let cut = std::slice::from_ref(cut);
    match in_view.last() {
        Some(last) => Awareness::between(std::slice::from_ref(last), cut),
        None => {
            let readings = job.facts.iter().filter(|w| is_reading(world, w)).cloned();
            let unseen: Vec<_> = readings.filter(|w| cut.iter().all(|cut| w.concurrent(cut))).collect();
            Awareness::between(cut, &unseen)
        }
    }
}

fn says_loaded(recorded: &RecordedFact) -> bool {
    recorded.fact.text("load").is_some_and(|load| load == LOADED)
}
