//! The camera hole was cut on a loaded trailer while the go/no-go answer at that moment was not `clear`.
//!
//! The answer at that moment rests on what is before the cut. A trailer that was called empty after a reading that blocked or did
//! not decide counts as loaded until somebody looked inside. A trailer that turns out to have been empty clears the finding, but
//! not against such a reading; otherwise only a ruling ends it.
//!
//! Standing: the cut clashes with the readings, and with what says that the trailer was loaded. `aware` when what the cutter had
//! in view was not clear already, or when one of these was recorded with the cut in view; `unaware` when
//! everything against the cut was recorded out of the cutter's view.

use std::sync::Arc;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::clearance::{clearance, cuts, is_reading};
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::wall::{NotClear, UnclearedCut};
use crate::recorded_fact::{RecordedFact, earliest};
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
        let uncleared: Vec<Cut> = cuts.into_iter().filter_map(|cut| Cut::read(world, job, cut)).collect();
        let first = uncleared.first()?;
        let knew = uncleared.iter().find(|c| c.awareness.standing() == Standing::Aware);
        let awareness = knew.map_or(&first.awareness, |c| &c.awareness);
        let is_loaded = job.values("load").iter().any(|load| load == LOADED);
        let is_cleared = !is_loaded && !uncleared.iter().any(|c| c.answer.is_no());
        let empty_by = match job.fields.get("load") {
            Some(holders) if is_cleared => holders.clone(),
            _ => Vec::new(),
        };
        let reason = Reason::CutWithoutClearance(UnclearedCut {
            cut: FactRef::of(&first.cut),
            answer: first.answer.clone(),
            knowledge: awareness.knowledge(world),
            empty_by: FactRef::all(&empty_by),
        });
        let standing = awareness.standing();
        let evidence = uncleared.into_iter().flat_map(|c| [vec![c.cut], c.readings].concat());
        let draft = Draft::new(Severity::Stop, [job.job.clone()], reason)
            .made_by(evidence)
            .made_by(empty_by)
            .standing(standing)
            .cleared(is_cleared);
        Some(draft)
    }
}

const LOADED: &str = "loaded";

/// A cut of a loaded trailer that was not cleared.
struct Cut {
    cut: Arc<RecordedFact>,
    answer: NotClear,
    /// What was known of the wall by then, and that the trailer was loaded.
    readings: Vec<Arc<RecordedFact>>,
    awareness: Awareness,
}

impl Cut {
    /// `None` when the trailer was not loaded or the wall was clear.
    fn read(world: &World<'_>, job: &JobView, cut: Arc<RecordedFact>) -> Option<Self> {
        let mut known: Vec<Arc<RecordedFact>> = job.facts.clone();
        known.retain(|w| world.clocks.before(w, &cut));
        let loaded_then = loaded(&known);
        let loaded = if loaded_then.is_empty() {
            loaded(&job.facts)
        } else {
            loaded_then
        };
        let answer = NotClear::of(clearance(world, &known))?;
        let loaded = match loaded.is_empty() {
            true if answer.is_no() => register::fields(&known).remove("load").unwrap_or_default(),
            true => return None,
            false => loaded,
        };
        known.retain(|w| is_reading(world, w));
        let readings = [known, loaded].concat();
        Some(Self {
            awareness: awareness(world, job, &cut, &readings),
            cut,
            answer,
            readings,
        })
    }
}

/// Whether the cutter could have known the answer. Having seen some readings is not enough: they must not have been clear.
fn awareness(world: &World<'_>, job: &JobView, cut: &Arc<RecordedFact>, readings: &[Arc<RecordedFact>]) -> Awareness {
    let mut in_view: Vec<Arc<RecordedFact>> = job.facts.clone();
    in_view.retain(|w| w.happens_before(cut));
    let (seen, unseen): (Vec<_>, Vec<_>) = readings.iter().cloned().partition(|r| r.happens_before(cut));
    let answer = clearance(world, &in_view);
    if answer.is_blocked() || (!answer.is_clear() && !loaded(&in_view).is_empty()) {
        let last = seen.iter().rfind(|w| is_reading(world, w)).or(seen.last());
        let last = last.map(std::slice::from_ref).unwrap_or_default();
        Awareness::between(last, std::slice::from_ref(cut))
    } else {
        Awareness::between(std::slice::from_ref(cut), &unseen)
    }
}

/// The facts that say the trailer is loaded, by the last ones of `facts` that say anything of it.
fn loaded(facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let holders = register::fields(facts).remove("load").unwrap_or_default();
    let says_so = |w: &Arc<RecordedFact>| w.fact.text("load").is_some_and(|load| load == LOADED);
    holders.into_iter().filter(says_so).collect()
}
