//! What became of the value that a job fact gave to a field: whether it stands, who wrote another one, and who of them
//! could have known.
//!
//! The values are those of [`crate::register`]: a field holds what no later setter has followed.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{FactId, Kind};
use serde::Serialize;

use crate::facts::Facts;
use crate::register::{self, field_value};
use crate::subject::Subject;
use crate::witness::{Witness, earliest};

/// How a value stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Standing {
    /// It is the value of the field now.
    Holds,
    /// So is another one, and neither writer knew of the other.
    Disputed,
    /// Somebody who had seen it wrote after it.
    Replaced,
}

/// Another value of the same field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Other {
    /// The fact that set it.
    pub id: FactId,
    /// The value.
    pub value: String,
    /// Who wrote it.
    pub by: Option<String>,
    /// On which device.
    pub device: String,
}

/// What a fact did to a field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Edit {
    /// The value that it set.
    pub value: String,
    /// How that stands now.
    pub standing: Standing,
    /// Different values that were written without knowing of this one, and this one without knowing of them.
    pub against: Vec<Other>,
    /// Whoever wrote next and had seen this one.
    pub followed_by: Vec<Other>,
}

type Setters = BTreeMap<String, Vec<Arc<Witness>>>;

/// The edits of the jobs that were asked for; each job is read once.
#[derive(Debug, Default)]
pub struct Edits {
    jobs: BTreeMap<String, Setters>,
}

impl Edits {
    /// What `witness` did to the fields of its job.
    pub fn of(&mut self, facts: &dyn Facts, witness: &Witness) -> BTreeMap<String, Edit> {
        let Some(job) = witness.owned("job").filter(|_| witness.is(&Kind::Job)) else {
            return BTreeMap::new();
        };
        let read = || register::setters(&facts.about(&Subject::Job(job.clone())));
        let setters = self.jobs.entry(job.clone()).or_insert_with(read);
        let wrote = |set: &&Vec<Arc<Witness>>| set.iter().any(|w| w.place == witness.place);
        let mine = setters.iter().filter(|(_, set)| wrote(set));
        mine.filter_map(|(field, set)| Some((field.clone(), edit(facts, field, set, witness)?)))
            .collect()
    }
}

fn edit(facts: &dyn Facts, field: &str, set: &[Arc<Witness>], witness: &Witness) -> Option<Edit> {
    let value = field_value(&witness.fact, field)?;
    let other = |w: &Arc<Witness>| {
        Some(Other {
            id: w.fact.id(),
            value: field_value(&w.fact, field)?.shown,
            by: w.owned("by"),
            device: facts.device_name(&w.place.log.device),
        })
    };
    let differs = |w: &Witness| field_value(&w.fact, field).is_some_and(|v| v.key != value.key);
    let later: Vec<_> = set.iter().filter(|w| witness.happens_before(w)).cloned().collect();
    let followed = |w: &Witness| set.iter().any(|l| w.happens_before(l));
    let against: Vec<_> = set.iter().filter(|w| w.concurrent(witness) && differs(w)).collect();
    let standing = match () {
        () if !later.is_empty() => Standing::Replaced,
        () if against.iter().any(|w| !followed(w)) => Standing::Disputed,
        () => Standing::Holds,
    };
    Some(Edit {
        value: value.shown.clone(),
        standing,
        against: against.into_iter().filter_map(other).collect(),
        followed_by: earliest(&later).iter().filter_map(other).collect(),
    })
}
