//! The state behind `picture`: which named pictures are missing, and the channel for arrivals.

use std::collections::BTreeSet;

use gladhand_store::PictureHash;
use tokio::sync::broadcast;

/// How many arrivals are kept for a slow session. One that misses some looks all of its pictures up again.
const ARRIVALS: usize = 256;

/// See the module doc.
pub(crate) struct WantedPictures {
    /// The missing pictures. `None`: not looked up yet.
    pub(crate) lacking: Option<BTreeSet<PictureHash>>,
    /// Sends each picture that arrives.
    pub(crate) arrived: broadcast::Sender<PictureHash>,
}

impl Default for WantedPictures {
    fn default() -> Self {
        Self {
            lacking: None,
            arrived: broadcast::Sender::new(ARRIVALS),
        }
    }
}
