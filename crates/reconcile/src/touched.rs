//! Which subjects a new fact touches: all those whose findings may change because of it, and few others.
//!
//! Assumption: the facts that the rules read are those reached from their subject as listed here. A rule that
//! reads further without a line here is caught by the property test in `tests/incremental.rs`.
//!
//! - A job depends on its own facts, on the links, unlinks and settings of its parts, and on the settings and stock
//!   entries of the parts linked to these.
//! - A camera or tracker depends on its links and unlinks, and on the jobs that name it or a part linked to it.
//! - A trailer depends on the fields, sign-offs and stand-downs of the jobs that name it.
//! - A code depends on the facts that name it, on later fields, unlinks and scans of the same jobs, on the jobs that
//!   name a part linked to it, and on the stock entries one edit away.
//! - A device of which copies are at work depends on the jobs that it records something on.
//! - A finding's status depends on the rulings that name it.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject, mentions};
use crate::world::World;

/// The subjects that `recorded` touches, once it is among the facts of `world`. `finding` gives the subject of a finding that
/// exists; a ruling on one that does not exist touches nothing.
pub fn touched(
    world: &World<'_>,
    recorded: &RecordedFact,
    finding: &dyn Fn(&str) -> Option<Subject>,
) -> BTreeSet<Subject> {
    let mut found = BTreeSet::new();
    for subject in mentions(&recorded.fact, &recorded.place.log.device) {
        match &subject {
            Subject::Job(job) => of_job(world, recorded, job, &mut found),
            Subject::Camera(_) | Subject::Tracker(_) => of_part(world, recorded, &subject, &mut found),
            Subject::Finding(id) => found.extend(finding(id)),
            Subject::Trailer(_) | Subject::Code(_) | Subject::Device(_) => {}
        }
        found.insert(subject);
    }
    let device = recorded.place.log.device;
    if world.facts.forks().iter().any(|fork| fork.log.device == device) {
        found.insert(Subject::Device(device));
    }
    found.retain(|s| s.class() != Class::Finding);
    found
}

/// What else depends on a fact because it belongs to a job.
fn of_job(world: &World<'_>, recorded: &RecordedFact, job: &str, found: &mut BTreeSet<Subject>) {
    let classes: &[Class] = match recorded.fact.kind() {
        Kind::Job | Kind::Link => &[Class::Trailer, Class::Camera, Class::Tracker, Class::Code],
        Kind::Scan => &[Class::Camera, Class::Tracker, Class::Code],
        Kind::SignOff | Kind::StandDown => &[Class::Trailer],
        _ => return,
    };
    let named: BTreeSet<Subject> = world
        .facts
        .about(&Subject::Job(job.to_owned()))
        .iter()
        .flat_map(|w| mentions(&w.fact, &w.place.log.device))
        .filter(|s| classes.contains(&s.class()))
        .collect();
    for subject in named {
        if is_part(&subject) {
            let partners = partners(world, &subject);
            found.extend(partners.iter().chain([&subject]).map(code));
            found.extend(partners);
        }
        found.insert(subject);
    }
}

/// What else depends on a fact because it names a camera or a tracker.
fn of_part(world: &World<'_>, recorded: &RecordedFact, part: &Subject, found: &mut BTreeSet<Subject>) {
    found.insert(code(part));
    let is_structural = matches!(
        recorded.fact.kind(),
        Kind::Link | Kind::Unlink | Kind::Settings | Kind::Stock
    );
    if is_structural {
        let mut parts = partners(world, part);
        parts.insert(part.clone());
        found.extend(parts.iter().flat_map(|p| jobs(&world.facts.about(p))));
    }
    if recorded.is(&Kind::Stock) {
        let near = world.facts.near(part.class(), &part.text());
        found.extend(near.into_iter().map(Subject::Code));
        // A scan that does not say of what may be one of either list.
        let near = world.facts.near(Class::Code, &part.text());
        found.extend(near.into_iter().map(Subject::Code));
    }
}

fn is_part(subject: &Subject) -> bool {
    matches!(subject.class(), Class::Camera | Class::Tracker)
}

fn code(part: &Subject) -> Subject {
    Subject::Code(part.text().into_owned())
}

/// The parts that a part was ever linked to.
fn partners(world: &World<'_>, part: &Subject) -> BTreeSet<Subject> {
    let facts = world.facts.about(part);
    let ties = facts
        .iter()
        .filter(|w| matches!(w.fact.kind(), Kind::Link | Kind::Unlink));
    let named = ties.flat_map(|w| {
        let camera = w.owned("camera").map(Subject::Camera);
        camera.into_iter().chain(w.owned("tracker").map(Subject::Tracker))
    });
    named.filter(|s| s != part).collect()
}

fn jobs(facts: &[Arc<RecordedFact>]) -> BTreeSet<Subject> {
    facts.iter().filter_map(|w| w.owned("job")).map(Subject::Job).collect()
}
