//! A tracker has live links to two or more cameras.
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

pub(super) struct TrackerWithTwoCameras;

impl Rule for TrackerWithTwoCameras {
    fn name(&self) -> &'static str {
        "tracker-with-two-cameras"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Tracker]
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        double_link::rights(world, case)
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let end = End {
            far: |tie| &tie.camera_key,
            shown: |tie| &tie.camera,
            reason: Reason::TrackerWithTwoCameras,
        };
        double_link::judge(world, case, end)
    }
}
