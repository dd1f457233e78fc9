//! What whoever did something had in view, also what was taken back only later: a deed is judged by that.

use std::sync::Arc;

use crate::counting::Withdrawal;
use crate::readings::in_view;
use crate::recorded_fact::RecordedFact;

/// The facts that the recorder of `deed` had in view: of `facts`, which count now, and of those that were withdrawn out of its view.
pub fn as_seen(facts: &[Arc<RecordedFact>], withdrawn: &[Withdrawal], deed: &RecordedFact) -> Vec<Arc<RecordedFact>> {
    let mut seen = in_view(facts, deed);
    let taken_back_later = withdrawn.iter().filter(|w| w.counts && !was_taken_back(w, deed));
    seen.extend(in_view(
        &taken_back_later.map(|w| w.of.clone()).collect::<Vec<_>>(),
        deed,
    ));
    seen.sort_by_key(|w| w.place);
    seen.dedup_by_key(|w| w.place);
    seen
}

fn was_taken_back(withdrawal: &Withdrawal, deed: &RecordedFact) -> bool {
    let approved = withdrawal.approved_by.as_ref();
    withdrawal.by.happens_before(deed) && approved.is_none_or(|approval| approval.happens_before(deed))
}
