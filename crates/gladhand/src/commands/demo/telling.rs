//! How the day is told.

use super::acts::Done;
use super::stage::Stage;
use super::story::{Show, Step, Story};
use crate::failure::Failure;

/// How the day is told.
pub(super) trait Telling {
    /// What it is called.
    fn begin(&mut self, story: &Story) -> Result<(), Failure>;
    /// A step begins.
    fn step(&mut self, number: usize, total: usize, step: &Step) -> Result<(), Failure>;
    /// What came of it.
    fn done(&mut self, done: &Done) -> Result<(), Failure>;
    /// The step looks at something.
    fn show(&mut self, stage: &Stage, device: &str, show: &Show) -> Result<(), Failure>;
    /// The step is over.
    fn end_step(&mut self) -> Result<(), Failure>;
}
