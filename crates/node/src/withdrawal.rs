//! Withdrawals: which fact one takes back, whether it may, and what is noted with it.
//!
//! The fact that is taken back stays where it is; the withdrawal carries its filing keys, so that it is filed beside it
//! everywhere, also where the other one is not held yet.
//!
//! Deliberately absent: what a withdrawal does to the findings (crate `reconcile`). A withdrawal that another device has accepted
//! is not checked again here.
//!
//! Invariant: no withdrawal is recorded here of a fact that is not held here.

use std::sync::Arc;

use gladhand_facts::fact::WITHDRAWN;
use gladhand_facts::{DeviceKey, Fact, FactId, Kind, name_key};
use gladhand_reconcile::{Facts, RecordedFact, Subject};

use crate::config::Role;
use crate::error::{NodeError, RecordError, WithdrawalError};
use crate::indexed_facts::IndexedFacts;
use crate::node::Node;

/// The fact that is to be taken back. One that stands earlier in the same call has no place yet.
struct Target {
    fact: Fact,
    device: DeviceKey,
    recorded: Option<Arc<RecordedFact>>,
}

impl Node {
    /// The fact of that id, if it is held here and counts.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn fact(&self, id: &FactId) -> Result<Option<Arc<RecordedFact>>, NodeError> {
        let found = self.index.facts_beginning(&id.to_string(), 1)?;
        Ok(self.counting(found)?.pop())
    }

    /// The facts that are held here and count whose ids begin with these hexadecimal digits; at most `most` of them.
    ///
    /// # Errors
    /// When index or journal cannot be read.
    pub fn facts_beginning(&self, digits: &str, most: usize) -> Result<Vec<Arc<RecordedFact>>, NodeError> {
        let found = self.index.facts_beginning(&digits.to_ascii_lowercase(), most)?;
        self.counting(found)
    }

    fn counting(&self, found: Vec<(FactId, gladhand_facts::Place)>) -> Result<Vec<Arc<RecordedFact>>, NodeError> {
        let indexed = IndexedFacts::new(self);
        let mut facts = Vec::new();
        for (_, place) in found.iter().filter(|(_, p)| indexed.counts(&p.log, p.seq)) {
            let entry = indexed.entry(&place.log, place.seq)?;
            facts.extend(entry.get(place.index as usize).cloned());
        }
        Ok(facts)
    }

    /// Whether `fact` may be recorded here. Facts that contradict each other may; only a withdrawal may be refused.
    ///
    /// # Errors
    /// [`RecordError::Withdrawal`] when it may not.
    pub fn may_record(&self, fact: &Fact) -> Result<(), RecordError> {
        self.file_withdrawals(&mut [fact.clone()])
    }

    /// Notes with each withdrawal among `facts` what the fact that it takes back is about. A withdrawal that was recorded before
    /// is left as it is.
    pub(crate) fn file_withdrawals(&self, facts: &mut [Fact]) -> Result<(), RecordError> {
        for n in 0..facts.len() {
            let (earlier, rest) = facts.split_at_mut(n);
            let Some(fact) = rest.first_mut().filter(|fact| *fact.kind() == Kind::Withdraw) else {
                continue;
            };
            if self.recorded(&fact.id())?.is_none() {
                self.file_withdrawal(fact, earlier)?;
            }
        }
        Ok(())
    }

    fn file_withdrawal(&self, withdrawal: &mut Fact, earlier: &[Fact]) -> Result<(), RecordError> {
        if withdrawal.get(WITHDRAWN).is_some() {
            return Err(WithdrawalError::Reserved.into());
        }
        self.fill(withdrawal);
        let target = self.target(withdrawal, earlier)?;
        self.check_withdrawal(withdrawal, &target, earlier)?;
        if let Some(job) = target.fact.text("job") {
            withdrawal.fill("job", job.into_owned());
        }
        withdrawal.fill(WITHDRAWN, target.fact.filing_keys());
        Ok(())
    }

    fn target(&self, withdrawal: &Fact, earlier: &[Fact]) -> Result<Target, RecordError> {
        let given = withdrawal.text("fact").unwrap_or_default();
        let id: FactId = given
            .to_ascii_lowercase()
            .parse()
            .map_err(|_| WithdrawalError::NotAnId(given.chars().take(80).collect()))?;
        if let Some(fact) = earlier.iter().find(|fact| fact.id() == id) {
            return Ok(Target {
                fact: fact.clone(),
                device: self.device(),
                recorded: None,
            });
        }
        let recorded = self.fact(&id)?.ok_or(WithdrawalError::Unknown(id))?;
        Ok(Target {
            fact: recorded.fact.clone(),
            device: recorded.place.log.device,
            recorded: Some(recorded),
        })
    }

    fn check_withdrawal(&self, withdrawal: &Fact, target: &Target, earlier: &[Fact]) -> Result<(), RecordError> {
        let (fact, id) = (&target.fact, target.fact.id());
        if *fact.kind() == Kind::Withdraw {
            return Err(WithdrawalError::OfAWithdrawal(id).into());
        }
        let person = |fact: &Fact| fact.text("by").map(|by| name_key(&by));
        let is_own = target.device == self.device() || (person(fact).is_some() && person(fact) == person(withdrawal));
        if !is_own && self.config.role != Role::Depot {
            return Err(WithdrawalError::OfSomebodyElse {
                fact: id,
                device: target.device,
                by: fact.text("by").map(std::borrow::Cow::into_owned),
            }
            .into());
        }
        let Some(job) = fact.text("job") else { return Ok(()) };
        let named = withdrawal.text("job").filter(|named| name_key(named) != name_key(&job));
        if let Some(named) = named {
            return Err(WithdrawalError::OfAnotherJob {
                fact: id,
                job: job.into_owned(),
                named: named.into_owned(),
            }
            .into());
        }
        if self.opened_a_job(target, &job, earlier)? {
            return Err(WithdrawalError::OfAnOpening {
                fact: id,
                job: job.into_owned(),
            }
            .into());
        }
        Ok(())
    }

    /// Whether it is the fact that named the trailer of its job first, as far as is known here.
    fn opened_a_job(&self, target: &Target, job: &str, earlier: &[Fact]) -> Result<bool, NodeError> {
        let names_trailer = |fact: &Fact| *fact.kind() == Kind::Job && fact.text("trailer").is_some();
        if !names_trailer(&target.fact) {
            return Ok(false);
        }
        let indexed = IndexedFacts::new(self);
        let about = indexed.about(&Subject::job(job));
        indexed.failure()?;
        let mut others = about.iter().filter(|w| names_trailer(&w.fact));
        let was_named = match &target.recorded {
            Some(recorded) => others.any(|w| w.happens_before(recorded)),
            None => {
                let of_job = |fact: &&Fact| fact.text("job").is_some_and(|j| name_key(&j) == name_key(job));
                let before = earlier.iter().take_while(|fact| fact.id() != target.fact.id());
                others.next().is_some() || before.filter(of_job).any(names_trailer)
            }
        };
        Ok(!was_named)
    }
}
