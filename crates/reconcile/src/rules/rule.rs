//! The interface of a rule.

use crate::draft::Draft;
use crate::subject::Class;
use crate::world::{Case, World};

/// A rule. It looks at one subject, keeps no state, and what it finds depends on the facts, the standard and the clocks alone.
pub trait Rule: Sync {
    /// Its name in the contract.
    fn name(&self) -> &'static str;
    /// The classes of subject that it judges.
    fn classes(&self) -> &'static [Class];
    /// What it finds on the subject of `case`.
    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft>;
}
