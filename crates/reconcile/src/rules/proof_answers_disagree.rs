//! A proof is judged `ok` with an answer `false`, or a required answer missing.
//!
//! A later judgement that had seen it and does not contradict itself clears it.
//!
//! Standing: `-`. One fact contradicts itself.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::words::{deed, deeds, listed};
use crate::world::{Case, World};

pub(super) struct ProofAnswersDisagree;

impl Rule for ProofAnswersDisagree {
    fn name(&self) -> &'static str {
        "proof-answers-disagree"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let judged = job.of_kind(&Kind::Proof).filter(|w| w.is_state(&Kind::Proof, "judged"));
        let (sound, torn): (Vec<_>, Vec<_>) = judged.cloned().partition(|w| contradictions(world, w).is_empty());
        let replaced = |w: &Arc<RecordedFact>| sound.iter().any(|s| w.happens_before(s));
        let (over, open): (Vec<_>, Vec<_>) = torn.into_iter().partition(replaced);
        let cleared = open.is_empty();
        let told = if cleared { over } else { open };
        let first = told.first()?.clone();
        let says = format!(
            "The picture of job {} was judged good by {}, although {}",
            job.job,
            deed(world, &first),
            listed(contradictions(world, &first))
        );
        let draft = Draft::new(Severity::Stop, [job.job.clone()]).by(told);
        if !cleared {
            return Some(draft.open(
                says + ".",
                "Look at the picture again and judge it once more with every answer; where one is no, the fit is not proven.",
            ));
        }
        let later: Vec<_> = sound.into_iter().filter(|s| first.happens_before(s)).collect();
        let says = format!("{says}; it was judged again since by {}.", deeds(world, &later));
        Some(draft.by(later).cleared(says))
    }
}

/// What speaks against a judgement that says the picture is good.
fn contradictions(world: &World<'_>, judged: &RecordedFact) -> Vec<String> {
    if judged.fact.flag("ok") != Some(true) {
        return Vec::new();
    }
    let no = judged.fact.answers().filter(|(_, yes)| !yes);
    let no = no.map(|(answer, _)| format!("{answer} was answered no"));
    let given: BTreeSet<&str> = judged.fact.answers().map(|(answer, _)| answer).collect();
    let missing = world
        .standard
        .proof_answers()
        .iter()
        .filter(|a| !given.contains(a.as_str()));
    let missing = missing.map(|answer| format!("{answer} was not answered"));
    no.chain(missing).collect()
}
