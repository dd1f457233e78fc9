//! Links and unlinks of cameras and trackers, as an observed-remove set.
//!
//! An unlink takes off only those links of its pair that its recorder had seen; a concurrent link stays live.

use std::sync::Arc;

use gladhand_facts::Kind;

use crate::recorded_fact::RecordedFact;

/// A link or an unlink.
#[derive(Debug, Clone)]
pub struct Tie {
    /// The fact.
    pub recorded: Arc<RecordedFact>,
    /// The camera of the pair, as written.
    pub camera: String,
    /// The tracker of the pair, as written.
    pub tracker: String,
    /// What the camera is compared by.
    pub camera_key: String,
    /// What the tracker is compared by.
    pub tracker_key: String,
}

impl Tie {
    fn read(recorded: &Arc<RecordedFact>, kind: &Kind) -> Option<Self> {
        if !recorded.is(kind) {
            return None;
        }
        Some(Self {
            camera: recorded.owned("camera")?,
            tracker: recorded.owned("tracker")?,
            camera_key: recorded.key("camera")?,
            tracker_key: recorded.key("tracker")?,
            recorded: recorded.clone(),
        })
    }

    /// Whether both are about the same camera and the same tracker.
    pub fn same_pair(&self, other: &Self) -> bool {
        self.camera_key == other.camera_key && self.tracker_key == other.tracker_key
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

    /// The links that were live as of a sign-off: those that its recorder had seen and that no unlink has taken off, unless that
    /// unlink's recorder had seen the sign-off. Times take no part: an unlink of which the signer did not know takes off too.
    pub fn live_as_of(&self, sign_off: &RecordedFact) -> std::vec::IntoIter<&Tie> {
        let still_on = |l: &&Tie| self.removals(l).all(|u| sign_off.happens_before(&u.recorded));
        let seen = self.links.iter().filter(|l| l.recorded.happens_before(sign_off));
        seen.filter(still_on).collect::<Vec<_>>().into_iter()
    }
}
