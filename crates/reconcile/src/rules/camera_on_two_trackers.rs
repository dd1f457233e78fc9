//! A camera has live links to two or more trackers.
//!
//! Standing: see [`double_link`].

use std::sync::Arc;

use super::double_link::{self, End};
use super::rule::Rule;
use crate::case::Case;
use crate::draft::Draft;
use crate::reason::Reason;
use crate::recorded_fact::RecordedFact;
use crate::subject::Class;
use crate::world::World;

pub(super) struct CameraOnTwoTrackers;

impl Rule for CameraOnTwoTrackers {
    fn name(&self) -> &'static str {
        "camera-on-two-trackers"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Camera]
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        double_link::rights(world, case)
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let end = End {
            far: |tie| &tie.tracker_key,
            shown: |tie| &tie.tracker,
            reason: Reason::CameraOnTwoTrackers,
        };
        double_link::judge(world, case, end)
    }
}
