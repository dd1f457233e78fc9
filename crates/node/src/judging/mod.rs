//! Incremental judging: findings are kept in the index, and only the subjects that news touch are judged again.
//!
//! A round takes a snapshot of the node, works out on it which subjects must be judged ([`plan`](self)), judges them, and hands the
//! findings over in small parts to whoever writes them into the index ([`kept`]). So a node is held for a part at a time, however
//! much there is to judge. What arrives meanwhile is for the next round.
//!
//! The index notes up to which position everything is judged and what that depended on ([`depends`]).
//!
//! Deliberately not part of what findings depend on: names of devices, and devices that were admitted. Names are added when a
//! finding is put into words.
//!
//! Invariant: the kept findings equal those of judging everything in memory, which a test checks.

mod depends;
mod kept;
mod plan;
mod round;

pub(crate) use kept::Part;
pub(crate) use round::MAX_IN_MEMORY;

use gladhand_reconcile::Finding;

use crate::error::NodeError;
use crate::node::Node;
use crate::snapshot::Snapshot;

/// So many subjects are judged in less time than a person notices.
const FEW_SUBJECTS: usize = 500;

impl Node {
    /// All findings as of now, in the order of the rules.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn findings(&mut self) -> Result<Vec<Finding>, NodeError> {
        self.judge()?;
        self.kept_findings()
    }

    /// Judges what is new since the last call.
    ///
    /// # Errors
    /// When journal or index cannot be read or written.
    pub fn judge(&mut self) -> Result<(), NodeError> {
        self.catch_up(&crate::progress::Silent)?;
        if self.is_judged()? {
            return Ok(());
        }
        let snapshot = self.snapshot();
        match snapshot.judge_with(&mut |part| self.keep(part)) {
            // The disk refused it, and another one took it.
            Err(NodeError::IndexRenewed) => self.snapshot().judge_with(&mut |part| self.keep(part)),
            other => other,
        }
    }
}

impl Snapshot {
    /// Judges what the index does not know yet, and hands over what must be kept, part by part.
    ///
    /// # Errors
    /// When journal or index cannot be read, or the first error of `keep`.
    pub(crate) fn judge_with(&self, keep: &mut dyn FnMut(Part) -> Result<(), NodeError>) -> Result<(), NodeError> {
        match self.plan_round()? {
            Some(plan) => round::run(self, plan, keep),
            None => Ok(()),
        }
    }

    /// The same if there is little to judge. Returns whether everything is judged then.
    ///
    /// # Errors
    /// As [`Snapshot::judge_with`].
    pub(crate) fn judge_a_little_with(
        &self,
        keep: &mut dyn FnMut(Part) -> Result<(), NodeError>,
    ) -> Result<bool, NodeError> {
        match self.plan_round()? {
            Some(plan) if plan.subjects.len() > FEW_SUBJECTS => Ok(false),
            Some(plan) => round::run(self, plan, keep).map(|()| true),
            None => Ok(true),
        }
    }
}
