//! A proof is judged `ok` with an answer `false`, or a required answer missing.
//!
//! A later judgement that had seen it and does not contradict itself clears it.
//!
//! Standing: `-`. One fact contradicts itself.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::rule::{About, Rule};
use crate::case::Case;
use crate::checks::proof_answers;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::proof::ContradictoryProof;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::visits::Visits;
use crate::world::World;

pub(super) struct ProofAnswersDisagree;

impl Rule for ProofAnswersDisagree {
    fn name(&self) -> &'static str {
        "proof-answers-disagree"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let judged = job.judgements();
        let (contradictory, sound): (Vec<_>, Vec<_>) = judged.cloned().partition(|w| contradicts_itself(world, job, w));
        let replaced = |w: &Arc<RecordedFact>| sound.iter().any(|s| w.happens_before(s));
        let (over, open): (Vec<_>, Vec<_>) = contradictory.into_iter().partition(replaced);
        let is_cleared = open.is_empty();
        let evidence = if is_cleared { over } else { open };
        let first = evidence.first()?;
        let again = sound.into_iter().filter(|s| is_cleared && first.happens_before(s));
        let again: Vec<_> = again.collect();
        let reason = Reason::ProofAnswersDisagree(ContradictoryProof {
            judged: FactRef::of(first),
            answered_no: answered_no(first),
            unanswered: unanswered(world, job, first),
            judged_again: FactRef::all(&again),
        });
        let draft = Draft::new(Severity::Stop, [job.key.clone()], reason);
        Some(draft.made_by(evidence).cleared_by(again))
    }
}

/// Whether it says that the picture is good, and gives answers that say otherwise.
fn contradicts_itself(world: &World<'_>, job: &JobView, judged: &RecordedFact) -> bool {
    let is_good = judged.fact.flag("ok") == Some(true);
    is_good && !(answered_no(judged).is_empty() && unanswered(world, job, judged).is_empty())
}

fn answered_no(judged: &RecordedFact) -> Vec<String> {
    let no = judged.fact.answers().filter(|(_, yes)| !yes);
    no.map(|(answer, _)| answer.to_owned()).collect()
}

/// The answers that the work standard requires of such a visit, as whoever judged had it in view, and that the judgement does not
/// give.
fn unanswered(world: &World<'_>, job: &JobView, judged: &RecordedFact) -> Vec<String> {
    let given: BTreeSet<&str> = judged.fact.answers().map(|(answer, _)| answer).collect();
    let required = proof_answers(world, &Visits::at(job, judged)).into_iter();
    required.filter(|a| !given.contains(a)).map(str::to_owned).collect()
}
