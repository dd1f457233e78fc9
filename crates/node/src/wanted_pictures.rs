//! Which pictures facts name and the home lacks, and who wants to hear of arrivals. Kept up to date once somebody has asked.

use std::collections::BTreeSet;

use gladhand_store::PictureHash;
use tokio::sync::broadcast;

/// How many arrivals a session may be late in hearing of.
const ARRIVALS: usize = 256;

/// Which pictures are missing, and who wants to know.
pub(crate) struct WantedPictures {
    /// `None`: nobody has asked yet.
    pub(crate) lacking: Option<BTreeSet<PictureHash>>,
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
