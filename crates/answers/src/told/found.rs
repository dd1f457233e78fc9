//! The findings that are told beside a receipt.

use std::collections::BTreeSet;

use gladhand_facts::Kind;
use gladhand_node::Receipt;
use gladhand_reconcile::{Class, Finding, JobView, Severity, Subject, judge, judge_subject, mentions, touched_by};

use crate::judging::{JudgingContext, recorded};

/// The open findings that the new fact is part of, and the open stops of its job; for a sign-off all that is open about the job. A
/// ruling shows what it ruled on.
pub(super) fn findings(judging: &JudgingContext<'_>, receipt: &Receipt, job: Option<&JobView>) -> Vec<Finding> {
    let fact = &receipt.fact;
    let world = judging.world();
    let ruled = fact.text("finding").filter(|_| *fact.kind() == Kind::Ruling);
    let mut subjects: BTreeSet<Subject> = BTreeSet::new();
    if let Some(recorded) = recorded(world.facts, fact, &receipt.place) {
        let subject_of = |id: &str| judging.node().subject_of(id).ok().flatten();
        subjects.extend(touched_by(&world, &[recorded], &subject_of));
    }
    if let Some(job) = job {
        subjects.insert(Subject::Job(job.key.clone()));
        let links = job.ties.links.iter().map(|link| &link.recorded);
        let named = job
            .facts
            .iter()
            .chain(links)
            .flat_map(|w| mentions(&w.fact, &w.place.log.device));
        subjects.extend(named.filter(|s| matches!(s.class(), Class::Camera | Class::Tracker)));
    }
    let mut found: Vec<Finding> = subjects.iter().flat_map(|s| judge_subject(&world, s)).collect();
    found.retain(|f| {
        let part = f.facts.contains(&fact.id());
        let tells_all = *fact.kind() == Kind::SignOff || f.severity == Severity::Stop;
        let of_job = tells_all && job.is_some_and(|job| f.jobs.contains(&job.key));
        ruled.as_deref() == Some(f.id.as_str()) || (f.is_open() && (part || of_job))
    });
    judge::sort(&mut found);
    found
}
