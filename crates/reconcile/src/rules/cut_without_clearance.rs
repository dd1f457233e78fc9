//! The camera hole was cut on a loaded trailer while the go/no-go answer at that moment was not `clear`.
//!
//! The moment knows what is before the cut. A trailer that turns out to have been empty clears the finding; a
//! hole cannot be uncut, so nothing else but a ruling ends it.
//!
//! Standing: the cut clashes with the readings, and with what says that the trailer was loaded. `aware` when what the cutter had
//! in view was not clear already, or when one of these was recorded with the cut in view; `unaware` when only what
//! the cutter had not seen speaks against the cut.

use std::sync::Arc;

use gladhand_trade::Answer;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::clearance::{clearance, cuts, is_reading};
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, earliest};
use crate::register;
use crate::subject::Class;
use crate::words::{deed, deeds, listed};
use crate::world::{Case, World};

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
        let moments: Vec<Moment> = cuts
            .into_iter()
            .filter_map(|cut| Moment::read(world, job, cut))
            .collect();
        let first = moments.first()?;
        let is_loaded = job.values("load").iter().any(|load| load == LOADED);
        let body = format!(
            "The camera hole of job {} was cut by {} on a loaded trailer, when the clearance was {}",
            job.job,
            deed(world, &first.cut),
            describe(&first.answer)
        );
        let speaks = moments.iter().find(|m| m.awareness.standing() == Standing::Aware);
        let awareness = speaks.map_or(&first.awareness, |m| &m.awareness);
        let (standing, body) = (awareness.standing(), format!("{body}{}", awareness.describe(world)));
        let evidence = moments.into_iter().flat_map(|m| [vec![m.cut], m.readings].concat());
        let draft = Draft::new(Severity::Stop, [job.job.clone()])
            .by(evidence)
            .standing(standing);
        if is_loaded {
            return Some(draft.open(
                format!("{body}."),
                "Look behind the wall for damaged freight, tell the office and the customer, and rule on it with what was found.",
            ));
        }
        let empty = job.fields.get("load").cloned().unwrap_or_default();
        let says = format!(
            "{body}; the trailer was empty after all, says {}.",
            deeds(world, &empty)
        );
        Some(draft.by(empty).cleared(says))
    }
}

const LOADED: &str = "loaded";

/// The moment of a cut for which no clearance was there.
struct Moment {
    cut: Arc<RecordedFact>,
    answer: Answer,
    /// What was known of the wall by then, and that the trailer was loaded.
    readings: Vec<Arc<RecordedFact>>,
    awareness: Awareness,
}

impl Moment {
    fn read(world: &World<'_>, job: &JobView, cut: Arc<RecordedFact>) -> Option<Self> {
        let mut known: Vec<Arc<RecordedFact>> = job.facts.clone();
        known.retain(|w| world.clocks.before(w, &cut));
        let loaded = loaded(&known);
        // Loaded by what was known then, or by what is known now.
        let loaded = if loaded.is_empty() { loaded_now(job) } else { loaded };
        let answer = clearance(world, &known);
        if loaded.is_empty() || answer.is_clear() {
            return None;
        }
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

/// Whether the cutter had the answer in view. Having seen some readings is not enough: they must not have been clear.
fn awareness(world: &World<'_>, job: &JobView, cut: &Arc<RecordedFact>, readings: &[Arc<RecordedFact>]) -> Awareness {
    let mut in_view: Vec<Arc<RecordedFact>> = job.facts.clone();
    in_view.retain(|w| w.happens_before(cut));
    let (seen, unseen): (Vec<_>, Vec<_>) = readings.iter().cloned().partition(|r| r.happens_before(cut));
    if !loaded(&in_view).is_empty() && !clearance(world, &in_view).is_clear() {
        let last = seen.iter().rfind(|w| is_reading(world, w)).or(seen.last());
        let last = last.map(std::slice::from_ref).unwrap_or_default();
        Awareness::between(last, std::slice::from_ref(cut))
    } else {
        Awareness::between(std::slice::from_ref(cut), &unseen)
    }
}

fn loaded(facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let holders = register::fields(facts).remove("load").unwrap_or_default();
    let says_so = |w: &Arc<RecordedFact>| w.fact.text("load").is_some_and(|load| load == LOADED);
    holders.into_iter().filter(says_so).collect()
}

fn loaded_now(job: &JobView) -> Vec<Arc<RecordedFact>> {
    loaded(&job.facts)
}

fn describe(answer: &Answer) -> String {
    match answer {
        Answer::Clear { .. } => "clear".to_owned(),
        Answer::Blocked { why, .. } => format!("blocked: {why}"),
        Answer::NotDecidable { why, .. } => format!("not decidable: {why}"),
        Answer::Next { check, .. } => format!("not there yet: {check} was still to be recorded"),
        Answer::Unknown { missing } => {
            let missing = listed(missing.iter().map(|m| (*m).to_owned()));
            format!("not there yet: {missing} was not recorded")
        }
    }
}
