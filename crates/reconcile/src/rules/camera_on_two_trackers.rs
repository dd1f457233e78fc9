//! A camera has live links to two or more trackers.
//!
//! Standing: see [`double_tie`].

use super::double_tie::{self, End};
use super::rule::Rule;
use crate::draft::Draft;
use crate::subject::Class;
use crate::world::{Case, World};

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
