//! A camera has live links to two or more trackers.
//!
//! Standing: see [`double_tie`].

use super::Rule;
use super::double_tie::{self, End};
use crate::finding::Draft;
use crate::judge::{Case, World};
use crate::subject::Class;

pub(super) struct CameraOnTwoTrackers;

impl Rule for CameraOnTwoTrackers {
    fn name(&self) -> &'static str {
        "camera-on-two-trackers"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Camera]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let end = End {
            this: "camera",
            other: "tracker",
            far: |tie| &tie.tracker,
        };
        double_tie::judge(world, case, end)
    }
}
