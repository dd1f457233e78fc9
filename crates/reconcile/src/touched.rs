//! Which subjects a new fact touches: all those whose findings may change because of it, and few others.
//!
//! Assumption: the facts that the rules read are those reached from their subject as listed here. A rule that
//! reads further without a line here is caught by the property test in `tests/incremental.rs`.
//!
//! - A job depends on its own facts, on all jobs that name one of its trailers, on the links, unlinks, settings and stock entries of
//!   the parts that any of these name, and on the lists' entries for the trailers.
//! - A camera, tracker, code or picture depends on the facts that name it or a part linked to it, and on the fields of the jobs that do.
//! - A trailer depends on the jobs that name it, and on their links.
//! - A code depends, beside that, on the stock entries one edit away, and on whether there is a list of its sort at all.
//! - A device of which copies are at work depends on the jobs that it records something on.
//! - A finding's status depends on the rulings that name it.
//!
//! What only says something about its own job (a check, a scan, a note) touches little; everything else is followed two steps: to the
//! jobs on the same trailers and to the parts that these name, and from there to the jobs and trailers that name these parts.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;

use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject, mentions};
use crate::world::World;

type Subjects = BTreeSet<Subject>;

/// The subjects that `news` touch, once they are among the facts of `world`. `finding` gives the subject of a finding that exists; a
/// ruling on one that does not exist touches nothing.
pub fn touched_by(
    world: &World<'_>,
    news: &[Arc<RecordedFact>],
    finding: &dyn Fn(&str) -> Option<Subject>,
) -> Subjects {
    let mut found: Subjects = news.iter().flat_map(|w| touched(world, w, finding)).collect();
    found.extend(of_new_lists(world, news));
    found
}

/// The subjects that one fact touches, apart from what a list touches by being the first of its sort.
pub fn touched(world: &World<'_>, recorded: &RecordedFact, finding: &dyn Fn(&str) -> Option<Subject>) -> Subjects {
    let named = mentions(&recorded.fact, &recorded.place.log.device);
    let mut found: Subjects = named.iter().cloned().collect();
    for subject in &named {
        match subject {
            Subject::Camera(_) | Subject::Tracker(_) => of_part(world, recorded, subject, &mut found),
            Subject::Finding(id) => found.extend(finding(id)),
            _ => {}
        }
    }
    let own: Subjects = named.iter().filter(|s| s.class() == Class::Job).cloned().collect();
    match recorded.fact.kind() {
        Kind::Note | Kind::Ruling | Kind::Clock | Kind::Handover => {}
        Kind::Check | Kind::Scan => found.extend(named_in(world, &own)),
        _ => found.extend(far(world, &named)),
    }
    let device = recorded.place.log.device;
    // A forked log names the jobs of its branches, and their trailers, whoever wrote these down.
    let names_trailers = matches!(recorded.fact.kind(), Kind::Job | Kind::Withdraw);
    let forked = world.facts.forks().into_iter().map(|fork| fork.log.device);
    found.extend(forked.filter(|d| names_trailers || *d == device).map(Subject::Device));
    found.retain(|s| !matches!(s.class(), Class::Finding | Class::List));
    found
}

/// The jobs, trailers, parts, codes and pictures that are within reach of what a fact names.
fn far(world: &World<'_>, named: &[Subject]) -> Subjects {
    let mut jobs: Subjects = named.iter().filter(|s| s.class() == Class::Job).cloned().collect();
    let others = named
        .iter()
        .filter(|s| !matches!(s.class(), Class::Job | Class::List | Class::Device));
    jobs.extend(others.flat_map(|s| jobs_about(world, s)));
    jobs.extend(jobs_on_the_trailers(world, &jobs));
    let mut found = named_in(world, &jobs);
    let parts: Vec<Subject> = found.iter().filter(|s| is_part(s)).cloned().collect();
    let partners: Subjects = parts.iter().flat_map(|part| partners(world, part)).collect();
    found.extend(partners.iter().map(code));
    found.extend(partners);
    let reach: Vec<Subject> = found
        .iter()
        .filter(|s| is_part(s) || s.class() == Class::Picture)
        .cloned()
        .collect();
    jobs.extend(reach.iter().flat_map(|s| jobs_about(world, s)));
    let on_trailers = jobs_on_the_trailers(world, &jobs);
    jobs.extend(on_trailers);
    found.extend(trailers_of(world, &jobs));
    found.extend(jobs);
    found
}

/// What the facts of these jobs name: trailers, parts, their codes, pictures.
fn named_in(world: &World<'_>, jobs: &Subjects) -> Subjects {
    let facts = jobs.iter().flat_map(|job| world.facts.about(job));
    let named = facts.flat_map(|w| mentions(&w.fact, &w.place.log.device));
    let mut found: Subjects = named
        .filter(|s| !matches!(s.class(), Class::Device | Class::Job))
        .collect();
    let codes: Vec<Subject> = found.iter().filter(|s| is_part(s)).map(code).collect();
    found.extend(codes);
    found
}

fn trailers_of(world: &World<'_>, jobs: &Subjects) -> Subjects {
    let facts = jobs.iter().flat_map(|job| world.facts.about(job));
    facts
        .filter_map(|w| w.owned("trailer"))
        .map(|t| Subject::trailer(&t))
        .collect()
}

fn jobs_on_the_trailers(world: &World<'_>, jobs: &Subjects) -> Subjects {
    let trailers = trailers_of(world, jobs);
    trailers.iter().flat_map(|trailer| jobs_about(world, trailer)).collect()
}

fn jobs_about(world: &World<'_>, subject: &Subject) -> Subjects {
    let facts = world.facts.about(subject);
    facts
        .iter()
        .filter_map(|w| w.owned("job"))
        .map(|job| Subject::job(&job))
        .collect()
}

/// What else depends on a fact because it names a camera or a tracker.
fn of_part(world: &World<'_>, recorded: &RecordedFact, part: &Subject, found: &mut Subjects) {
    found.insert(code(part));
    if matches!(recorded.fact.kind(), Kind::Stock | Kind::Withdraw) {
        // A scan that does not say of what may be one of either list.
        for class in [part.class(), Class::Code] {
            let near = world.facts.near(class, &part.text());
            found.extend(near.into_iter().map(Subject::Code));
        }
    }
}

/// All codes that jobs of a fleet may have linked, when the list of one of its sorts has only just come into being.
fn of_new_lists(world: &World<'_>, news: &[Arc<RecordedFact>]) -> Subjects {
    let stock = news.iter().filter(|w| w.is(&Kind::Stock));
    let lists = stock.flat_map(|w| mentions(&w.fact, &w.place.log.device));
    let lists: Subjects = lists.filter(|s| s.class() == Class::List).collect();
    let known: BTreeSet<_> = news.iter().map(|w| w.place).collect();
    let is_new = |list: &&Subject| world.facts.about(list).iter().all(|w| known.contains(&w.place));
    let mut classes = BTreeSet::new();
    for list in lists.iter().filter(is_new) {
        classes.insert(if list.text().starts_with("camera ") {
            Class::Camera
        } else {
            Class::Tracker
        });
    }
    let parts = classes.into_iter().flat_map(|class| world.facts.subjects(class));
    parts.map(|part| code(&part)).collect()
}

fn is_part(subject: &Subject) -> bool {
    matches!(subject.class(), Class::Camera | Class::Tracker)
}

fn code(part: &Subject) -> Subject {
    Subject::Code(part.text().into_owned())
}

/// The parts that a part was ever linked to.
fn partners(world: &World<'_>, part: &Subject) -> Subjects {
    let facts = world.facts.about(part);
    let ties = facts
        .iter()
        .filter(|w| matches!(w.fact.kind(), Kind::Link | Kind::Unlink));
    let named = ties.flat_map(|w| {
        let camera = w.owned("camera").map(|c| Subject::camera(&c));
        camera
            .into_iter()
            .chain(w.owned("tracker").map(|t| Subject::tracker(&t)))
    });
    named.filter(|s| s != part).collect()
}
