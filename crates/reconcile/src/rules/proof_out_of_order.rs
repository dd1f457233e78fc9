//! A judged picture was certainly asked for before the settings were live, or before the doors were closed.
//!
//! Judged are the pictures on which a sign-off stands, and the latest good ones that were asked for when the link was live. Settings
//! that were never live, or not before the sign-off, are the matter of `signed-before-live`, and a link that came later that of
//! `proof-of-another-pair`. Doors that nobody recorded as closed are missing, not late.
//!
//! Standing: the request clashes with the settings or the doors.

use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_trade::verdict;

use super::rule::{About, Rule, usual_rights};
use super::signed_before_live::fits;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::latest::latest;
use crate::placed::Placed;
use crate::proof::Proof;
use crate::readings::is_check;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::proof::{HastyProof, TooLate};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

/// The check that says that the doors were closed.
const DOORS_CLOSED: &str = "doors-closed";

pub(super) struct ProofOutOfOrder;

type Facts = Vec<Arc<RecordedFact>>;

impl Rule for ProofOutOfOrder {
    fn name(&self) -> &'static str {
        "proof-out-of-order"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let hasty: Vec<Hasty> = proofs(world, job)
            .iter()
            .filter_map(|(p, links)| Hasty::read(world, job, p, links))
            .collect();
        let first = hasty.first()?;
        let awareness = Awareness::between(&first.requests, &first.later());
        let late = [(TooLate::Settings, &first.live), (TooLate::Doors, &first.closed)].into_iter();
        let late = late.filter(|(_, facts)| !facts.is_empty());
        let reason = Reason::ProofOutOfOrder(HastyProof {
            judged: FactRef::of(&first.judged),
            requests: FactRef::all(&first.requests),
            too_late: late.map(|(what, facts)| (what, FactRef::all(facts))).collect(),
            knowledge: awareness.knowledge(world),
        });
        let evidence = hasty.iter().flat_map(Hasty::evidence);
        let draft = Draft::new(Severity::Ask, [job.key.clone()], reason)
            .made_by(evidence)
            .standing(awareness.standing())
            .cleared_by(job.standing_stand_downs());
        Some(draft)
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Facts {
        let mut found = usual_rights(world, case);
        let ends = |w: &&Arc<RecordedFact>| w.is_state(&Kind::Proof, "judged") || w.is(&Kind::SignOff);
        found.extend(case.facts.iter().filter(ends).cloned());
        found
    }
}

/// The good pictures on which the latest sign-offs stand, each with the links of that sign-off's pair; or where nobody has signed, the
/// latest ones that were asked for when the link was live.
fn proofs<'j>(world: &World<'_>, job: &'j JobView) -> Vec<(Proof, Vec<&'j Tie>)> {
    let judged: Facts = job.judgements().cloned().collect();
    let read = |judged: Facts| {
        let proofs = latest(world.clocks, &judged).into_iter();
        let proofs = proofs.map(|judged| Proof::read(world.clocks, job, &judged));
        proofs.filter(Proof::is_good).collect::<Vec<_>>()
    };
    let signed = job.latest_sign_offs();
    if signed.is_empty() {
        let proofs = read(judged).into_iter();
        return proofs
            .map(|p| {
                let links = links_at_request(world, job, &p);
                (p, links)
            })
            .collect();
    }
    let mut found = Vec::new();
    for sign_off in &signed {
        let before = |w: &&Arc<RecordedFact>| world.clocks.placed(w, sign_off) == Placed::Before;
        let links: Vec<&Tie> = job.live_as_of(sign_off).collect();
        let proofs = read(judged.iter().filter(before).cloned().collect());
        found.extend(proofs.into_iter().map(|p| (p, links.clone())));
    }
    found
}

fn says_closed(world: &World<'_>, check: &RecordedFact) -> bool {
    let requirement = world.standard.check(DOORS_CLOSED);
    requirement.is_none_or(|r| verdict(r, &check.fact).passes())
}

/// A picture that was asked for too early.
struct Hasty {
    judged: Arc<RecordedFact>,
    requests: Facts,
    /// The settings that were live only after every request.
    live: Facts,
    /// The checks that say the doors were closed, all after every request.
    closed: Facts,
}

impl Hasty {
    fn read(world: &World<'_>, job: &JobView, proof: &Proof, links: &[&Tie]) -> Option<Self> {
        if proof.requests.is_empty() || links.is_empty() {
            return None;
        }
        let live = live_settings(world, links, job);
        let closed = job
            .facts
            .iter()
            .filter(|w| is_check(w, DOORS_CLOSED) && says_closed(world, w));
        let all_later = |facts: Facts| {
            let late = |w: &Arc<RecordedFact>| {
                let mut requests = proof.requests.iter();
                requests.all(|request| world.clocks.placed(request, w) == Placed::Before)
            };
            if facts.iter().all(late) { facts } else { Vec::new() }
        };
        let (live, closed) = (all_later(live), all_later(closed.cloned().collect()));
        (!live.is_empty() || !closed.is_empty()).then(|| Self {
            judged: proof.judged.clone(),
            requests: proof.requests.clone(),
            live,
            closed,
        })
    }

    fn later(&self) -> Facts {
        [self.live.as_slice(), &self.closed].concat()
    }

    fn evidence(&self) -> Facts {
        [
            self.requests.as_slice(),
            &self.later(),
            std::slice::from_ref(&self.judged),
        ]
        .concat()
    }
}

/// The links of the pair that were there when the picture was asked for, as of the judgement.
fn links_at_request<'j>(world: &World<'_>, job: &'j JobView, proof: &Proof) -> Vec<&'j Tie> {
    let asked_after = |l: &&Tie| {
        let mut requests = proof.requests.iter();
        requests.any(|request| world.clocks.placed(&l.recorded, request) == Placed::Before)
    };
    let on = |l: &&Tie| job.ties.removals(l).all(|u| !u.recorded.happens_before(&proof.judged));
    job.ties.links.iter().filter(asked_after).filter(on).collect()
}

/// The settings of the pair that were live after the link and before every latest sign-off.
fn live_settings(world: &World<'_>, links: &[&Tie], job: &JobView) -> Facts {
    let signed = job.latest_sign_offs();
    let mut found: Facts = Vec::new();
    for link in links {
        let mut about = world.facts.about(&Subject::Tracker(link.tracker_key.clone()));
        about.retain(|w| {
            w.is_state(&Kind::Settings, "live")
                && fits(w, link)
                && world.clocks.placed(w, &link.recorded) >= Placed::Afterwards
                && world.clocks.placed(w, &link.recorded) != Placed::Undecided
                && signed.iter().all(|s| world.clocks.placed(w, s) == Placed::Before)
        });
        found.extend(about);
    }
    found.sort_by_key(|w| w.place);
    found.dedup_by_key(|w| w.place);
    found
}
