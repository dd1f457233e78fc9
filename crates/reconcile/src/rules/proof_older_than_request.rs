//! A judged picture was taken before its request.
//!
//! Its request is the latest one that the recorder of the judgement had seen. When the picture was taken is `taken_at`, or else
//! the time of the fact that says it was taken. Certainly earlier: stop. Undecidable: ask. A judged picture without any such
//! time contradicts nothing. A later judged picture that is sound clears it.
//!
//! Standing: the request clashes with the judgement, whose recorder had it in view, so `aware`.

use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::clocks::Order;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::{FactRef, WrittenTime};
use crate::reason::knowledge::Knowledge;
use crate::reason::proof::OldProof;
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::Class;
use crate::timed::Timed;
use crate::world::World;

pub(super) struct ProofOlderThanRequest;

impl Rule for ProofOlderThanRequest {
    fn name(&self) -> &'static str {
        "proof-older-than-request"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let judged = proofs(job, "judged").map(|judged| DatedProof::read(world, job, &judged));
        let (sound, old): (Vec<DatedProof>, Vec<DatedProof>) = judged.partition(|p| p.severity.is_none());
        let replaced = |p: &DatedProof| sound.iter().any(|s| p.judged.happens_before(&s.judged));
        let (over, open): (Vec<DatedProof>, Vec<DatedProof>) = old.into_iter().partition(replaced);
        let is_cleared = open.is_empty();
        let told = if is_cleared { over } else { open };
        let severity = told.iter().filter_map(|p| p.severity).max()?;
        let worst = told.iter().find(|p| p.severity == Some(severity))?;
        let awareness = Awareness::between(&worst.requests, std::slice::from_ref(&worst.judged));
        let reason = Reason::ProofOlderThanRequest(worst.reason(world, awareness.knowledge(world)));
        let replaced_by = sound.iter().filter(|_| is_cleared).map(|p| p.judged.clone());
        let draft = Draft::new(severity, [job.job.clone()], reason)
            .made_by(told.iter().flat_map(|p| p.evidence.iter().cloned()))
            .made_by(replaced_by)
            .standing(awareness.standing())
            .cleared(is_cleared);
        Some(draft)
    }
}

/// A judged picture with its requests and with when it was taken.
struct DatedProof {
    judged: Arc<RecordedFact>,
    requests: Vec<Arc<RecordedFact>>,
    /// The fact that says when the picture was taken.
    dated_by: Option<Arc<RecordedFact>>,
    evidence: Vec<Arc<RecordedFact>>,
    /// `None`: nothing says that it is older than its request.
    severity: Option<Severity>,
}

impl DatedProof {
    fn read(world: &World<'_>, job: &JobView, judged: &Arc<RecordedFact>) -> Self {
        let seen = |state| -> Vec<Arc<RecordedFact>> {
            let proofs = proofs(job, state);
            proofs.filter(|w| w.happens_before(judged)).collect()
        };
        let requests = latest(&seen("asked"));
        let taken = of_this_picture(judged, seen("taken"));
        let doubts = requests.iter().map(|request| doubt(world, judged, &taken, request));
        let severity = doubts.max().flatten();
        let has_date = |w: &&Arc<RecordedFact>| w.fact.moment("taken_at").is_some();
        let dated_by = Some(judged)
            .filter(has_date)
            .or_else(|| taken.iter().find(has_date))
            .or(taken.first());
        Self {
            judged: judged.clone(),
            dated_by: dated_by.cloned(),
            evidence: [vec![judged.clone()], requests.clone(), taken].concat(),
            requests,
            severity,
        }
    }

    fn reason(&self, world: &World<'_>, knowledge: Knowledge) -> OldProof {
        let dated_by = self.dated_by.as_ref();
        let taken_at = dated_by.map(|w| w.fact.moment("taken_at").unwrap_or_else(|| w.at()));
        let within = |w: &Arc<RecordedFact>| match taken_at_of(w) {
            Some(timed) => world.clocks.interval(timed),
            None => world.clocks.interval_of(w),
        };
        let requests = self.requests.iter().map(|w| FactRef::timed(w, world.clocks));
        OldProof {
            judged: FactRef::of(&self.judged),
            requests: requests.collect(),
            taken_at: taken_at.as_ref().map(WrittenTime::from),
            taken_within: dated_by.and_then(within),
            knowledge,
        }
    }
}

fn proofs<'a>(job: &'a JobView, state: &'a str) -> impl Iterator<Item = Arc<RecordedFact>> + 'a {
    let proofs = job.of_kind(&Kind::Proof);
    proofs.filter(move |w| w.is_state(&Kind::Proof, state)).cloned()
}

/// The facts that say that this picture was taken: those that name the same picture; or else, unless the
/// judgement itself says when, the latest ones that do not name another.
fn of_this_picture(judged: &RecordedFact, taken: Vec<Arc<RecordedFact>>) -> Vec<Arc<RecordedFact>> {
    let picture = judged.fact.text("picture");
    let (named, unnamed): (Vec<_>, Vec<_>) = taken.into_iter().partition(|t| t.fact.text("picture").is_some());
    let (same, other): (Vec<_>, Vec<_>) = named.into_iter().partition(|t| t.fact.text("picture") == picture);
    if !same.is_empty() {
        return latest(&same);
    }
    if judged.fact.moment("taken_at").is_some() {
        return Vec::new();
    }
    let possible = if picture.is_none() {
        [unnamed, other].concat()
    } else {
        unnamed
    };
    latest(&possible)
}

/// How much a picture and one of its requests contradict each other: not at all, `ask` or `stop`.
fn doubt(
    world: &World<'_>,
    judged: &RecordedFact,
    taken: &[Arc<RecordedFact>],
    request: &RecordedFact,
) -> Option<Severity> {
    if !taken.is_empty() && taken.iter().all(|t| t.happens_before(request)) {
        return Some(Severity::Stop);
    }
    let dated = std::iter::once(judged).chain(taken.iter().map(AsRef::as_ref));
    if let Some(picture) = dated.filter_map(taken_at_of).next() {
        let asked = request.timed();
        return match world.clocks.order_to_fact(picture, request) {
            Order::CertainlyBefore => Some(Severity::Stop),
            Order::CertainlyAfter => None,
            Order::Undecided if picture == asked => None,
            Order::Undecided => Some(Severity::Ask),
        };
    }
    // Without a written time the fact that the picture was taken dates it.
    let doubts = taken.iter().map(|t| {
        if world.clocks.before(request, t) {
            None
        } else if world.clocks.before(t, request) {
            Some(Severity::Stop)
        } else {
            Some(Severity::Ask)
        }
    });
    doubts.max().flatten()
}

/// The time in `taken_at`, by the clock that its fact names.
fn taken_at_of(recorded: &RecordedFact) -> Option<Timed> {
    let at_us = recorded.fact.moment("taken_at")?.unix_us();
    Some(Timed {
        clock: recorded.named_clock(),
        at_us,
    })
}
