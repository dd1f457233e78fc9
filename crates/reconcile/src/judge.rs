//! Judging: all rules over one subject, or over all.

use std::collections::BTreeSet;

use crate::finding::Finding;
use crate::rules;
use crate::rules::rule::Rule;
use crate::subject::{Class, Subject};
use crate::world::{CODED, Case, World};

/// What the rules find on `subject`, in the order of the rules.
pub fn judge_subject(world: &World<'_>, subject: &Subject) -> Vec<Finding> {
    let rules: Vec<&dyn Rule> = rules::on(subject.class()).collect();
    if rules.is_empty() {
        return Vec::new();
    }
    let case = Case::load(world, subject);
    let found = rules.into_iter().filter_map(|rule| {
        let draft = rule.judge(world, &case)?;
        Some(draft.finish(world, rule.name(), subject))
    });
    found.collect()
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
        let odd = world.clocks.oddities().iter().map(|odd| odd.log.device);
        found.extend(odd.map(Subject::Device));
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
