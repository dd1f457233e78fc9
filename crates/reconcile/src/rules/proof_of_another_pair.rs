//! The judged picture on which a sign-off stands was asked for, taken or judged before the live link of the pair that was signed for.
//!
//! Certainly: stop. Undecidable: ask. With several live links of one pair it is enough that the picture is later than one.
//!
//! Standing: the steps of the proof clash with the link and the sign-off.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::rule::{About, Rule};
use super::signed::{self, Beside, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::latest::latest;
use crate::placed::Placed;
use crate::proof::{Proof, step_placed};
use crate::reason::Reason;
use crate::reason::fact_ref::{FactRef, PairRef};
use crate::reason::sign_off::{ForeignProof, ProofStep};
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::ties::Tie;
use crate::world::World;

pub(super) struct ProofOfAnotherPair;

impl Rule for ProofOfAnotherPair {
    fn name(&self) -> &'static str {
        "proof-of-another-pair"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::ProofOfAnotherPair, |sign_off, beside| {
            fault(world, job, sign_off, beside)
        })
    }
}

/// The good ones of the latest judgements before a sign-off.
pub(super) fn proofs_before(world: &World<'_>, job: &JobView, beside: Beside<'_>) -> Vec<Proof> {
    let in_time: Vec<Arc<RecordedFact>> = job.judgements().filter(|w| beside.is_before(w)).cloned().collect();
    let last = latest(world.clocks, &in_time);
    let proofs = last.iter().map(|judged| Proof::read(world.clocks, job, judged));
    proofs.filter(Proof::is_good).collect()
}

fn fault(
    world: &World<'_>,
    job: &JobView,
    sign_off: &Arc<RecordedFact>,
    beside: Beside<'_>,
) -> Option<Fault<ForeignProof>> {
    if !job.purpose_at(sign_off).wants_a_pair() {
        return None;
    }
    let mut by_pair: BTreeMap<(&str, &str), Vec<&Tie>> = BTreeMap::new();
    for link in job.live_as_of(sign_off) {
        by_pair
            .entry((&link.camera_key, &link.tracker_key))
            .or_default()
            .push(link);
    }
    let proofs = proofs_before(world, job, beside);
    let faults = by_pair
        .values()
        .flat_map(|links| proofs.iter().map(move |proof| (links, proof)));
    let faults = faults.filter_map(|(links, proof)| of_pair(world, sign_off, links, proof));
    faults.max_by_key(|fault| fault.severity)
}

/// What is wrong with one picture as the proof of one pair.
fn of_pair(
    world: &World<'_>,
    sign_off: &Arc<RecordedFact>,
    links: &[&Tie],
    proof: &Proof,
) -> Option<Fault<ForeignProof>> {
    let placed = |step: &RecordedFact| {
        let each = links.iter().map(|link| step_placed(world.clocks, step, &link.recorded));
        each.max().unwrap_or(Placed::After)
    };
    let too_early: Vec<_> = proof.steps().filter(|(_, step)| placed(step) < Placed::After).collect();
    let is_certain = too_early.iter().any(|(_, step)| placed(step) == Placed::Before);
    let shown: Vec<_> = too_early
        .into_iter()
        .filter(|(_, step)| !is_certain || placed(step) == Placed::Before)
        .collect();
    let steps: Vec<Arc<RecordedFact>> = shown.iter().map(|(_, w)| Arc::clone(w)).collect();
    let first = links.first().filter(|_| !steps.is_empty())?;
    let links: Vec<Arc<RecordedFact>> = links.iter().map(|l| l.recorded.clone()).collect();
    let other_side = [links.as_slice(), std::slice::from_ref(sign_off)].concat();
    let step = |(step, w): &(&'static str, &Arc<RecordedFact>)| ProofStep {
        step: (*step).to_owned(),
        fact: FactRef::timed(w, world.clocks),
    };
    Some(Fault {
        severity: if is_certain { Severity::Stop } else { Severity::Ask },
        awareness: Awareness::between(&steps, &other_side),
        what: ForeignProof {
            pair: PairRef::all(&[first]).into_iter().next()?,
            steps: shown.iter().map(step).collect(),
        },
        evidence: [steps, links].concat(),
    })
}
