//! Which approvals count.
//!
//! An approval is a check that names what it approves (`of`): the place, which is the default, or the reading. It counts when it
//! is by somebody who neither recorded what it approves nor cuts, on a device that had it in view, before the cut. A refusal that
//! is not older takes it back. Nobody approves himself: whoever is not named is no other person.
//!
//! Not here: what an approval changes, and the approvals of withdrawals.

use std::sync::Arc;

use gladhand_facts::name_key;
use gladhand_trade::names::APPROVAL;
use gladhand_trade::verdict;
use serde::{Deserialize, Serialize};

use crate::recorded_fact::RecordedFact;
use crate::world::World;

/// What an approval may be of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Approved {
    /// A place outside the default one.
    Place,
    /// Readings that do not decide whether the wall may be cut.
    Reading,
}

impl Approved {
    fn word(self) -> &'static str {
        match self {
            Self::Place => "place",
            Self::Reading => "reading",
        }
    }
}

/// Why an approval does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flaw {
    /// It says no, or nothing that can be read.
    Refused,
    /// It was refused beside it or later.
    TakenBack,
    /// It does not say whose it is.
    Nobody,
    /// Its recorder did not have in view what it approves.
    Unseen,
    /// Whoever it is by recorded what it approves, or nobody knows who did.
    OwnRecord,
    /// Whoever it is by cuts, or nobody knows who does.
    OwnCut,
    /// It is not before the cut.
    AfterCut,
}

/// The approvals of one thing.
#[derive(Debug, Clone, Default)]
pub struct Weighed {
    /// The first one that counts.
    pub counting: Option<Arc<RecordedFact>>,
    /// Those that do not, and why.
    pub others: Vec<(Arc<RecordedFact>, Flaw)>,
}

/// The approvals among some facts of a job.
pub struct Approvals {
    all: Vec<Arc<RecordedFact>>,
    cuts: Vec<Arc<RecordedFact>>,
}

impl Approvals {
    /// Those among `facts`; `cuts` are the cuts that they must be before.
    pub fn among(facts: &[Arc<RecordedFact>], cuts: Vec<Arc<RecordedFact>>) -> Self {
        let is_approval = |w: &&Arc<RecordedFact>| w.fact.check_name() == Some(APPROVAL);
        Self {
            all: facts.iter().filter(is_approval).cloned().collect(),
            cuts,
        }
    }

    /// Weighs the approvals of `what` as approvals of these facts.
    pub fn weigh(&self, world: &World<'_>, what: Approved, facts: &[Arc<RecordedFact>]) -> Weighed {
        let named = self.all.iter().filter(|w| of(w) == what.word());
        let mut weighed = Weighed::default();
        for approval in named {
            match self.flaw(world, what, approval, facts) {
                Some(flaw) => weighed.others.push((approval.clone(), flaw)),
                None if weighed.counting.is_none() => weighed.counting = Some(approval.clone()),
                None => {}
            }
        }
        weighed
    }

    fn flaw(
        &self,
        world: &World<'_>,
        what: Approved,
        approval: &Arc<RecordedFact>,
        facts: &[Arc<RecordedFact>],
    ) -> Option<Flaw> {
        if !says_yes(world, approval) {
            return Some(Flaw::Refused);
        }
        let Some(by) = person(approval) else {
            return Some(Flaw::Nobody);
        };
        let is_other = |w: &RecordedFact| person(w).is_some_and(|recorder| recorder != by);
        let is_before = |cut: &RecordedFact| !cut.happens_before(approval) && world.clocks.before(approval, cut);
        let refusals = self.all.iter().filter(|w| of(w) == what.word() && !says_yes(world, w));
        if facts.is_empty() || !facts.iter().all(|w| w.happens_before(approval)) {
            Some(Flaw::Unseen)
        } else if !facts.iter().all(|w| is_other(w)) {
            Some(Flaw::OwnRecord)
        } else if !self.cuts.iter().all(|w| is_other(w)) {
            Some(Flaw::OwnCut)
        } else if !self.cuts.iter().all(|w| is_before(w)) {
            Some(Flaw::AfterCut)
        } else {
            refusals
                .into_iter()
                .any(|w| !w.happens_before(approval))
                .then_some(Flaw::TakenBack)
        }
    }
}

/// What an approval is of; without a word about it of the place.
fn of(approval: &RecordedFact) -> String {
    approval
        .owned("of")
        .unwrap_or_else(|| Approved::Place.word().to_owned())
}

fn says_yes(world: &World<'_>, approval: &RecordedFact) -> bool {
    match world.standard.check(APPROVAL) {
        Some(requirement) => verdict(requirement, &approval.fact).passes(),
        None => approval.fact.flag("ok") == Some(true),
    }
}

/// Who recorded it, as persons are compared.
fn person(recorded: &RecordedFact) -> Option<String> {
    let by = recorded.fact.text("by")?;
    Some(name_key(&by)).filter(|key| !key.is_empty())
}
