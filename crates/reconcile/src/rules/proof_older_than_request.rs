//! A judged picture was taken before its request.
//!
//! Its request is the latest one that the recorder of `taken` had seen (see [`crate::proof`]). When the picture was taken is `taken_at`, or else
//! the time of the fact that says it was taken. Certainly earlier: stop. Undecidable: ask. A judged picture without any such
//! time contradicts nothing. A later judged picture that is sound clears it.
//!
//! Standing: the request clashes with the judgement, whose recorder had it in view, so `aware`.

use std::sync::Arc;

use super::rule::{About, Rule};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::clocks::Order;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::placed::Placed;
use crate::proof::{Proof, taken_at, taken_time};
use crate::reason::Reason;
use crate::reason::fact_ref::{FactRef, WrittenTime};
use crate::reason::knowledge::Knowledge;
use crate::reason::proof::OldProof;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::World;

pub(super) struct ProofOlderThanRequest;

impl Rule for ProofOlderThanRequest {
    fn name(&self) -> &'static str {
        "proof-older-than-request"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let judged = Proof::all(world.clocks, job)
            .into_iter()
            .map(|proof| DatedProof::read(world, proof));
        let (sound, old): (Vec<DatedProof>, Vec<DatedProof>) = judged.partition(|p| p.severity.is_none());
        let replaced = |p: &DatedProof| sound.iter().any(|s| p.proof.judged.happens_before(&s.proof.judged));
        let (over, open): (Vec<DatedProof>, Vec<DatedProof>) = old.into_iter().partition(replaced);
        let is_cleared = open.is_empty();
        let told = if is_cleared { over } else { open };
        let severity = told.iter().filter_map(|p| p.severity).max()?;
        let worst = told.iter().find(|p| p.severity == Some(severity))?;
        let awareness = Awareness::between(&worst.proof.requests, std::slice::from_ref(&worst.proof.judged));
        let reason = Reason::ProofOlderThanRequest(worst.reason(world, awareness.knowledge(world)));
        let replaced_by = sound.iter().filter(|_| is_cleared).map(|p| p.proof.judged.clone());
        let draft = Draft::new(severity, [job.key.clone()], reason)
            .made_by(told.iter().flat_map(|p| p.proof.steps()).map(|(_, w)| w.clone()))
            .standing(awareness.standing())
            .cleared_by(replaced_by);
        Some(draft)
    }
}

/// A judged picture with what speaks against it.
struct DatedProof {
    proof: Proof,
    /// `None`: nothing says that it is older than its request.
    severity: Option<Severity>,
}

impl DatedProof {
    fn read(world: &World<'_>, proof: Proof) -> Self {
        let doubts = proof.requests.iter().map(|request| doubt(world, &proof, request));
        let severity = doubts.max().flatten();
        Self { proof, severity }
    }

    fn reason(&self, world: &World<'_>, knowledge: Knowledge) -> OldProof {
        let dated_by = self.proof.dated_by();
        let at = dated_by.map(|w| taken_at(w).unwrap_or_else(|| w.at()));
        let within = |w: &Arc<RecordedFact>| match taken_time(w) {
            Some(timed) => world.clocks.interval(timed),
            None => world.clocks.interval_of(w),
        };
        let requests = self.proof.requests.iter().map(|w| FactRef::timed(w, world.clocks));
        OldProof {
            judged: FactRef::of(&self.proof.judged),
            requests: requests.collect(),
            taken_at: at.as_ref().map(WrittenTime::from),
            taken_within: dated_by.and_then(within),
            knowledge,
        }
    }
}

/// How much a picture and one of its requests contradict each other: not at all, `ask` or `stop`.
fn doubt(world: &World<'_>, proof: &Proof, request: &RecordedFact) -> Option<Severity> {
    let taken = &proof.taken;
    if !taken.is_empty() && taken.iter().all(|t| t.happens_before(request)) {
        return Some(Severity::Stop);
    }
    let dated = std::iter::once(&proof.judged).chain(taken);
    if let Some(picture) = dated.filter_map(|w| taken_time(w)).next() {
        return match world.clocks.order_to_fact(picture, request) {
            Order::CertainlyBefore => Some(Severity::Stop),
            Order::CertainlyAfter => None,
            Order::Undecided if picture == request.timed() => None,
            Order::Undecided => Some(Severity::Ask),
        };
    }
    // Without a written time the fact that the picture was taken dates it.
    let doubts = taken.iter().map(|t| match world.clocks.placed(t, request) {
        Placed::Before => Some(Severity::Stop),
        Placed::Undecided => Some(Severity::Ask),
        Placed::After | Placed::Afterwards => None,
    });
    doubts.max().flatten()
}
