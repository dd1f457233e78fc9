//! Links and unlinks of cameras and trackers, as an observed-remove set.
//!
//! An unlink takes off only those links of its pair that its recorder had seen; a concurrent link stays live.

use std::sync::Arc;

use gladhand_facts::Kind;

use crate::clocks::Clocks;
use crate::recorded_fact::RecordedFact;

/// A link or an unlink.
#[derive(Debug, Clone)]
pub struct Tie {
    /// The fact.
    pub recorded: Arc<RecordedFact>,
    /// The camera of the pair.
    pub camera: String,
    /// The tracker of the pair.
    pub tracker: String,
}

impl Tie {
    fn read(recorded: &Arc<RecordedFact>, kind: &Kind) -> Option<Self> {
        if !recorded.is(kind) {
            return None;
        }
        Some(Self {
            camera: recorded.owned("camera")?,
            tracker: recorded.owned("tracker")?,
            recorded: recorded.clone(),
        })
    }

    /// Whether both are about the same camera and the same tracker.
    pub fn same_pair(&self, other: &Self) -> bool {
        self.camera == other.camera && self.tracker == other.tracker
    }
}

/// Some links and all the unlinks that may concern them.
#[derive(Debug, Clone, Default)]
pub struct Ties {
    /// The links, in the order of their places.
    pub links: Vec<Tie>,
    /// The unlinks, in the order of their places.
    pub unlinks: Vec<Tie>,
}

impl Ties {
    /// Picks the links and unlinks out of `facts`, which may name one several times.
    pub fn among(facts: &[Arc<RecordedFact>]) -> Self {
        let pick = |kind: &Kind| {
            let mut ties: Vec<Tie> = facts.iter().filter_map(|w| Tie::read(w, kind)).collect();
            ties.sort_by_key(|t| t.recorded.place);
            ties.dedup_by_key(|t| t.recorded.place);
            ties
        };
        Self {
            links: pick(&Kind::Link),
            unlinks: pick(&Kind::Unlink),
        }
    }

    /// The unlinks that took `link` off.
    pub fn removals<'a>(&'a self, link: &'a Tie) -> impl Iterator<Item = &'a Tie> {
        self.unlinks
            .iter()
            .filter(|u| u.same_pair(link) && link.recorded.happens_before(&u.recorded))
    }

    /// The links that no unlink took off.
    pub fn live(&self) -> Vec<&Tie> {
        self.links
            .iter()
            .filter(|l| self.removals(l).next().is_none())
            .collect()
    }

    /// The links that `moment` had seen and that no unlink had taken off by then. An unlink that had seen `moment`, or is
    /// certainly later by the clocks, came after it.
    pub fn live_as_of<'a>(&'a self, clocks: &'a Clocks, moment: &'a RecordedFact) -> impl Iterator<Item = &'a Tie> {
        let still_on = move |l: &&Tie| self.removals(l).all(|u| clocks.follows(&u.recorded, moment));
        self.links
            .iter()
            .filter(|l| l.recorded.happens_before(moment))
            .filter(still_on)
    }
}
