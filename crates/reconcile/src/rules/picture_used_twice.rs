//! Equal picture bytes stand for proofs of two trailers, of two pairs, or for a `prove` job and an earlier one.
//!
//! A picture stands for a proof where it was judged good. When every trailer concerned was proven again with another picture the
//! finding is cleared.
//!
//! Standing: the judgements clash with each other.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::proof::Proof;
use crate::purpose::Purpose;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::proof::{PictureUse, SharedPicture};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::trailer::siblings;
use crate::world::World;

pub(super) struct PictureUsedTwice;

impl Rule for PictureUsedTwice {
    fn name(&self) -> &'static str {
        "picture-used-twice"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Picture]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let picture = case.subject.text();
        let jobs: BTreeSet<String> = case.facts.iter().filter_map(|w| w.key("job")).collect();
        let views: Vec<JobView> = jobs.iter().map(|job| JobView::load(world.facts, job)).collect();
        let uses: Vec<Use<'_>> = views.iter().flat_map(|job| Use::all(world, job, &picture)).collect();
        let clashing: Vec<&Use<'_>> = uses.iter().filter(|a| uses.iter().any(|b| a.clashes(b))).collect();
        let open: Vec<&Use<'_>> = clashing.iter().copied().filter(|u| u.again.is_empty()).collect();
        let is_cleared = open.is_empty();
        if clashing.is_empty() {
            return None;
        }
        let marked: Vec<(&Arc<RecordedFact>, &Use<'_>)> = clashing.iter().map(|u| (&u.judged, *u)).collect();
        let awareness = Awareness::among(&marked, |a, b| a.clashes(b));
        let reason = Reason::PictureUsedTwice(SharedPicture {
            uses: clashing.iter().map(|u| u.told()).collect(),
            knowledge: awareness.knowledge_of_one_sort(world, clashing.iter().map(|u| &u.judged)),
        });
        let again = clashing.iter().flat_map(|u| u.again.iter().cloned());
        let again: Vec<Arc<RecordedFact>> = again.filter(|_| is_cleared).collect();
        let draft = Draft::new(Severity::Stop, clashing.iter().map(|u| u.job.key.clone()), reason)
            .made_by(clashing.iter().map(|u| u.judged.clone()))
            .standing(awareness.standing())
            .cleared_by(again);
        Some(draft)
    }
}

/// A good judgement of the picture.
struct Use<'j> {
    job: &'j JobView,
    judged: Arc<RecordedFact>,
    trailers: BTreeSet<String>,
    /// The pair that was live when it was judged.
    pairs: BTreeSet<(String, String)>,
    /// Later good judgements of another picture.
    again: Vec<Arc<RecordedFact>>,
}

impl<'j> Use<'j> {
    fn all(world: &World<'_>, job: &'j JobView, picture: &str) -> Vec<Self> {
        let proofs: Vec<Proof> = Proof::all(world.clocks, job)
            .into_iter()
            .filter(Proof::is_good)
            .collect();
        let (own, others): (Vec<Proof>, Vec<Proof>) = proofs
            .into_iter()
            .partition(|p| p.picture().as_deref() == Some(picture));
        let elsewhere = siblings(world.facts, job);
        let elsewhere = elsewhere.iter().flat_map(|sibling| Proof::all(world.clocks, sibling));
        let others: Vec<Proof> = elsewhere.filter(Proof::is_good).chain(others).collect();
        let other = |judged: &RecordedFact| {
            let is_other = |o: &&Proof| o.picture().is_some_and(|p| p != picture);
            let later = others
                .iter()
                .filter(is_other)
                .filter(|o| judged.happens_before(&o.judged));
            later.map(|o| o.judged.clone()).collect()
        };
        let of = |p: &Proof| Self {
            job,
            trailers: job.value_keys("trailer"),
            pairs: job
                .ties
                .live_as_of(&p.judged)
                .map(|l| (l.camera_key.clone(), l.tracker_key.clone()))
                .collect(),
            again: other(&p.judged),
            judged: p.judged.clone(),
        };
        own.iter().map(of).collect()
    }

    fn clashes(&self, other: &Self) -> bool {
        if self.judged.place == other.judged.place {
            return false;
        }
        let apart = |a: &BTreeSet<String>, b: &BTreeSet<String>| !a.is_empty() && !b.is_empty() && a.is_disjoint(b);
        let other_pair = !self.pairs.is_empty() && !other.pairs.is_empty() && self.pairs.is_disjoint(&other.pairs);
        let is_new_proof = |job: &JobView| job.purpose() == Purpose::Prove;
        let proves = self.job.key != other.job.key && (is_new_proof(self.job) || is_new_proof(other.job));
        apart(&self.trailers, &other.trailers) || other_pair || proves
    }

    fn told(&self) -> PictureUse {
        PictureUse {
            job: self.job.job.clone(),
            trailers: self.job.values("trailer"),
            judged: FactRef::of(&self.judged),
        }
    }
}
