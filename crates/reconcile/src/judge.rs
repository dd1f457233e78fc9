//! Judging: all rules over one subject, or over all.
//!
//! A rule says what contradicts what now. What became of a finding is decided here, for all rules alike:
//!
//! - A finding is cleared only if it stood open before: it was open in the view of whoever recorded a fact that put it right.
//! - A finding that stood open in the view of such a recorder does not vanish: it is cleared, and says by what.
//! - What is open about the sign-offs of a job is cleared when a later job speaks for the trailer and was signed with it in view.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::case::{CODED, Case};
use crate::counting::Counting;
use crate::draft::Draft;
use crate::facts::InView;
use crate::finding::{Finding, HowPutRight};
use crate::purpose::Purpose;
use crate::recorded_fact::RecordedFact;
use crate::rules;
use crate::rules::rule::{About, Rule};
use crate::subject::{Class, Subject};
use crate::trailer::speaker;
use crate::world::World;

/// What the rules find on `subject`, in the order of the rules.
pub fn judge_subject(world: &World<'_>, subject: &Subject) -> Vec<Finding> {
    let rules: Vec<&dyn Rule> = rules::on(subject.class()).collect();
    if rules.is_empty() {
        return Vec::new();
    }
    let counting = Counting::new(world);
    let now = World {
        facts: &counting,
        ..*world
    };
    let case = Case::load(&now, world, subject);
    let found = rules.into_iter().filter_map(|rule| {
        let draft = judge_rule(world, &now, &case, rule)?;
        Some(draft.finish(&now, rule.name(), subject))
    });
    found.collect()
}

/// What one rule finds, with what became of it. `all` holds the withdrawn facts too.
fn judge_rule(all: &World<'_>, now: &World<'_>, case: &Case, rule: &dyn Rule) -> Option<Draft> {
    let draft = rule.judge(now, case);
    match draft {
        Some(draft) if !draft.is_cleared() => match taken_over(now, case, rule, &draft) {
            Some(sign_off) if open_in_view(all, &case.subject, rule, &sign_off).is_some() => {
                Some(draft.put_right_by(&sign_off, HowPutRight::ByLaterJob))
            }
            Some(_) => None,
            None => Some(draft),
        },
        Some(draft) if draft.resolved_by().is_empty() => Some(draft),
        Some(draft) => {
            let stood_open = |by: &Arc<RecordedFact>| open_in_view(all, &case.subject, rule, by).is_some();
            if draft.resolved_by().iter().any(stood_open) {
                Some(draft)
            } else {
                vanished(all, now, case, rule)
            }
        }
        None => vanished(all, now, case, rule),
    }
}

/// A finding that one of the facts that can put it right had open in view.
fn vanished(all: &World<'_>, now: &World<'_>, case: &Case, rule: &dyn Rule) -> Option<Draft> {
    let mut rights = rule.rights(now, case);
    rights.sort_by_key(|w| w.place);
    rights.iter().find_map(|by| {
        let draft = open_in_view(all, &case.subject, rule, by)?;
        Some(draft.put_right_by(by, HowPutRight::ByFact))
    })
}

/// The open finding that the recorder of `by` had in view.
fn open_in_view(all: &World<'_>, subject: &Subject, rule: &dyn Rule, by: &RecordedFact) -> Option<Draft> {
    let view = InView::of(all.facts, by);
    let seen = World { facts: &view, ..*all };
    let counting = Counting::new(&seen);
    let then = World {
        facts: &counting,
        ..*all
    };
    let case = Case::load(&then, &seen, subject);
    let draft = rule.judge(&then, &case).filter(|draft| !draft.is_cleared())?;
    taken_over(&then, &case, rule, &draft).is_none().then_some(draft)
}

/// The sign-off of the later job that speaks for the trailer, if it answers for what was found on this job.
fn taken_over(world: &World<'_>, case: &Case, rule: &dyn Rule, draft: &Draft) -> Option<Arc<RecordedFact>> {
    let about = rule.about();
    let job = case.job().filter(|_| about != About::Other)?;
    let jobs: Vec<_> = case.siblings(world).iter().chain([job]).collect();
    let speaker = speaker(&jobs).filter(|speaker| speaker.key != job.key)?;
    let answers = |s: &Arc<RecordedFact>| {
        let purpose = speaker.purpose_at(s);
        (purpose != Purpose::Prove || about == About::Proof) && draft.is_seen_by(s)
    };
    speaker.latest_sign_offs().into_iter().find(answers)
}

/// What the rules find on every subject, in the order of the rules, then of the subjects.
pub fn judge_all(world: &World<'_>) -> Vec<Finding> {
    let subjects = Class::ALL.into_iter().flat_map(|class| candidates(world, class));
    let mut found: Vec<Finding> = subjects.flat_map(|s| judge_subject(world, &s)).collect();
    sort(&mut found);
    found
}

/// The subjects of `class` that may have findings.
pub fn candidates(world: &World<'_>, class: Class) -> BTreeSet<Subject> {
    if class == Class::List {
        return BTreeSet::new();
    }
    let mut found: BTreeSet<Subject> = world.facts.subjects(class).into_iter().collect();
    if class == Class::Code {
        let coded = CODED.into_iter().flat_map(|class| world.facts.subjects(class));
        found.extend(coded.map(|s| Subject::Code(s.text().into_owned())));
    }
    if class == Class::Device {
        let forked = world.facts.forks().into_iter();
        found.extend(forked.map(|f| Subject::Device(f.log.device)));
        let read = world.clocks.readings().iter().flat_map(|r| [r.device, r.peer]);
        found.extend(read.map(Subject::Device));
    }
    found
}

/// Puts findings into the order of the rules, then of the subjects' texts.
pub fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let rank = |f: &Finding| rules::rank(&f.rule);
        (rank(a), a.subject.text(), &a.id).cmp(&(rank(b), b.subject.text(), &b.id))
    });
}
