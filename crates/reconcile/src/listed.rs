//! What the lists say: which tracker a trailer carries, and which entries of a part stand.

use std::sync::Arc;

use gladhand_facts::Kind;

use crate::recorded_fact::{RecordedFact, latest};
use crate::subject::Subject;
use crate::world::World;

/// The tracker that a list gives a trailer.
#[derive(Debug, Clone)]
pub(crate) struct Listed {
    /// What it is compared by.
    pub tracker: String,
    /// The entry.
    pub entry: Arc<RecordedFact>,
}

/// The trackers that the latest entries give a trailer. Of concurrent entries all count.
pub(crate) fn listed_trackers(world: &World<'_>, trailer: &str) -> Vec<Listed> {
    let mut entries = world.facts.about(&Subject::Trailer(trailer.to_owned()));
    entries.retain(|w| w.is(&Kind::Stock) && w.fact.text("tracker").is_some());
    let entries = latest(&entries).into_iter();
    let listed = entries.filter_map(|entry| {
        let tracker = entry.key("tracker")?;
        Some(Listed { tracker, entry })
    });
    listed.collect()
}

/// The latest stock entries of a camera or tracker.
pub(crate) fn stock_entries(world: &World<'_>, part: &Subject) -> Vec<Arc<RecordedFact>> {
    let mut entries = world.facts.about(part);
    entries.retain(|w| w.is(&Kind::Stock) && w.fact.text("fleet").is_some());
    latest(&entries)
}
