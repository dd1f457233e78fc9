//! A judged picture was taken before its request.
//!
//! Its request is the latest one that whoever judged had seen. When the picture was taken stands in `taken_at`,
//! or else in the fact that says so. Certainly earlier: stop. Undecidable: ask. A judged picture of which nobody
//! says when it was taken contradicts nothing. A later judged picture that is sound clears it.
//!
//! Standing: the request clashes with the judgement, and whoever judged had it in view, so `aware`.

use std::sync::Arc;

use gladhand_facts::{Kind, Moment};

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::clocks::Order;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::Class;
use crate::timed::Timed;
use crate::words::{deed, deeds, when};
use crate::world::{Case, World};

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
        let (sound, stale): (Vec<Weighed>, Vec<Weighed>) = proofs(job, "judged")
            .map(|judged| weigh(world, job, &judged))
            .partition(|w| w.severity.is_none());
        let replaced = |w: &Weighed| sound.iter().any(|s| w.judged.happens_before(&s.judged));
        let (over, open): (Vec<Weighed>, Vec<Weighed>) = stale.into_iter().partition(replaced);
        let cleared = open.is_empty();
        let told = if cleared { over } else { open };
        let severity = told.iter().filter_map(|w| w.severity).max()?;
        let worst = told.iter().find(|w| w.severity == Some(severity))?;
        let awareness = Awareness::between(&worst.asked, std::slice::from_ref(&worst.judged));
        let draft = Draft::new(severity, [job.job.clone()])
            .by(told.iter().flat_map(|w| w.evidence.iter().cloned()))
            .standing(awareness.standing());
        let says = format!("{}{}", says(world, job, worst, severity), awareness.describe(world));
        Some(if cleared {
            draft
                .by(sound.iter().map(|w| w.judged.clone()))
                .cleared(format!("{says}; a newer picture was judged since."))
        } else {
            draft.open(format!("{says}."), next(severity))
        })
    }
}

/// A judged picture, held against its requests.
struct Weighed {
    judged: Arc<RecordedFact>,
    asked: Vec<Arc<RecordedFact>>,
    taken_at: Option<Moment>,
    evidence: Vec<Arc<RecordedFact>>,
    /// `None`: nothing speaks against it.
    severity: Option<Severity>,
}

fn proofs<'a>(job: &'a JobView, state: &'a str) -> impl Iterator<Item = Arc<RecordedFact>> + 'a {
    let proofs = job.of_kind(&Kind::Proof);
    proofs.filter(move |w| w.is_state(&Kind::Proof, state)).cloned()
}

fn weigh(world: &World<'_>, job: &JobView, judged: &Arc<RecordedFact>) -> Weighed {
    let seen = |state| -> Vec<Arc<RecordedFact>> { proofs(job, state).filter(|w| w.happens_before(judged)).collect() };
    let asked = latest(&seen("asked"));
    let taken = of_this_picture(judged, seen("taken"));
    let doubts = asked.iter().map(|request| doubt(world, judged, &taken, request));
    let severity = doubts.max().flatten();
    let with_time = |w: &&Arc<RecordedFact>| w.fact.moment("taken_at").is_some();
    let source = Some(judged)
        .filter(with_time)
        .or_else(|| taken.iter().find(with_time))
        .or(taken.first());
    Weighed {
        judged: judged.clone(),
        taken_at: source.map(|w| w.fact.moment("taken_at").unwrap_or_else(|| w.at())),
        evidence: [vec![judged.clone()], asked.clone(), taken].concat(),
        asked,
        severity,
    }
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

/// What is to be feared about a picture and one request: nothing, an `ask` or a `stop`.
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
    if let Some(picture) = dated.filter_map(taken_at).next() {
        let asked = request.timed();
        return match world.clocks.order_to_fact(picture, request) {
            Order::CertainlyBefore => Some(Severity::Stop),
            Order::CertainlyAfter => None,
            Order::Undecided if picture == asked => None,
            Order::Undecided => Some(Severity::Ask),
        };
    }
    // Nobody wrote down a time: the fact that it was taken is the taking itself.
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
fn taken_at(recorded: &RecordedFact) -> Option<Timed> {
    let at_us = recorded.fact.moment("taken_at")?.unix_us();
    Some(Timed {
        clock: recorded.named_clock(),
        at_us,
    })
}

fn says(world: &World<'_>, job: &JobView, worst: &Weighed, severity: Severity) -> String {
    let taken = worst.taken_at.as_ref().map(when).unwrap_or_default();
    let picture = format!(
        "The picture of job {} judged by {}",
        job.job,
        deed(world, &worst.judged)
    );
    let asked = deeds(world, &worst.asked);
    match severity {
        Severity::Stop => format!("{picture} was taken at {taken}, before it was requested by {asked}"),
        _ => format!(
            "{picture} was taken at {taken}, and it cannot be told whether that was after the request by {asked}"
        ),
    }
}

fn next(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "This picture does not show the finished work: request a new one and judge that.",
        _ => "Compare both times on the server; if in doubt request a new picture and judge that.",
    }
}
