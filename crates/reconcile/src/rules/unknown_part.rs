//! A linked code is in no list and near none, although there is a list of the job's fleet for this sort of part; or it stands only in
//! lists of another sort.
//!
//! A code near a listed one is the matter of `code-suspect`, one in another fleet's list that of `wrong-fleet`.
//!
//! Standing: `-`. What no list has clashes with nothing; a code that stands in the lists of another sort clashes with these entries.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::jobs_of_links;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{CodeRole, UnknownPart};
use crate::recorded_fact::RecordedFact;
use crate::register;
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
use crate::world::World;

pub(super) struct UnknownPartRule;

type Facts = Vec<Arc<RecordedFact>>;

impl Rule for UnknownPartRule {
    fn name(&self) -> &'static str {
        "unknown-part"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Code]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let roles = [(CodeRole::Camera, Class::Camera), (CodeRole::Tracker, Class::Tracker)];
        roles
            .into_iter()
            .find_map(|(role, class)| of_role(world, case, role, class))
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Facts {
        let mut found = usual_rights(world, case);
        let rights = |w: &&Arc<RecordedFact>| matches!(w.fact.kind(), Kind::Stock | Kind::Unlink);
        found.extend(case.facts.iter().filter(rights).cloned());
        found
    }
}

fn of_role(world: &World<'_>, case: &Case, role: CodeRole, class: Class) -> Option<Draft> {
    let code = case.subject.text();
    let ties = Ties::among(&case.facts);
    let links: Vec<&Tie> = ties.live().into_iter().filter(|l| key_in(l, role) == code).collect();
    let stock: Facts = case.facts.iter().filter(|w| w.is(&Kind::Stock)).cloned().collect();
    let as_this = |w: &&Arc<RecordedFact>| w.key(role.key()).is_some_and(|key| key == code);
    if links.is_empty() || stock.iter().any(|w| as_this(&w)) {
        return None;
    }
    let jobs = jobs_of_links(world.facts, &links);
    let listed_otherwise = stock;
    if listed_otherwise.is_empty() {
        let fleets: BTreeSet<String> = jobs.iter().flat_map(|job| fleets_of(world, job)).collect();
        let mut lists = fleets.iter().map(|fleet| Subject::list(role.key(), fleet));
        let is_near = || {
            world
                .facts
                .near_listed(class, &code)
                .iter()
                .any(|other| is_stocked(world, class, other))
        };
        if !lists.any(|list| world.facts.is_filed(&list)) || is_near() {
            return None;
        }
    }
    let recorded: Facts = links.iter().map(|l| l.recorded.clone()).collect();
    let awareness = Awareness::between(&recorded, &listed_otherwise);
    let reason = Reason::UnknownPart(UnknownPart {
        role,
        links: FactRef::all(&recorded),
        listed_otherwise: FactRef::all(&listed_otherwise),
        knowledge: awareness.knowledge(world),
    });
    let draft = Draft::new(Severity::Ask, jobs, reason)
        .made_by(recorded)
        .made_by(listed_otherwise)
        .standing(awareness.standing());
    Some(draft)
}

fn key_in(link: &Tie, role: CodeRole) -> &str {
    match role {
        CodeRole::Camera => &link.camera_key,
        _ => &link.tracker_key,
    }
}

fn fleets_of(world: &World<'_>, job: &str) -> BTreeSet<String> {
    let holders = register::holders_of(&world.facts.about(&Subject::Job(job.to_owned())), "fleet");
    holders.iter().filter_map(|w| w.key("fleet")).collect()
}

fn is_stocked(world: &World<'_>, class: Class, code: &str) -> bool {
    let about = Subject::from_text(class, code).map(|s| world.facts.about(&s));
    about.into_iter().flatten().any(|w| w.is(&Kind::Stock))
}
