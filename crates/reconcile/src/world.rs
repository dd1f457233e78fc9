//! What the rules read: the facts with what they are judged by.

use gladhand_trade::Standard;

use crate::clocks::Clocks;
use crate::facts::Facts;

/// All that a judgement depends on. Names of devices are no part of it.
#[derive(Clone, Copy)]
pub struct World<'a> {
    /// The merged facts.
    pub facts: &'a dyn Facts,
    /// What the work must be like.
    pub standard: &'a Standard,
    /// What is known about the clocks.
    pub clocks: &'a Clocks,
}
