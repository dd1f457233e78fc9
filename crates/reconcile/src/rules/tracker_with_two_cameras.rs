//! A tracker has live links to two or more cameras.
//!
//! Standing: see [`double_tie`].

use super::double_tie::{self, End};
use super::rule::Rule;
use crate::draft::Draft;
use crate::subject::Class;
use crate::world::{Case, World};

pub(super) struct TrackerWithTwoCameras;

impl Rule for TrackerWithTwoCameras {
    fn name(&self) -> &'static str {
        "tracker-with-two-cameras"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Tracker]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let end = End {
            this: "tracker",
            other: "camera",
            far: |tie| &tie.camera,
        };
        double_tie::judge(world, case, end)
    }
}
