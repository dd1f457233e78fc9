//! The facts that count: all but those that were withdrawn.
//!
//! A withdrawal counts when its recorder had the fact in view and is the person or the device that recorded it, or the depot. A
//! withdrawal is not withdrawn, nor is the fact that opened a job. What somebody else must approve first stays in force until then: a reading of the clearance, a
//! failed check, and a wall or a load by which a reading was judged.
//!
//! Deliberately absent: histories. They show a withdrawn fact, struck through.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::{Kind, LogId, Place};
use gladhand_trade::{Verdict, verdict};

use crate::facts::{Facts, Fork, Sight};
use crate::readings::{is_check, is_reading};
use crate::recorded_fact::{RecordedFact, earliest};
use crate::subject::{Class, Subject};
use crate::world::World;

/// The facts of a world that count.
pub struct Counting<'a> {
    world: World<'a>,
}

impl<'a> Counting<'a> {
    /// Those of `world`.
    pub fn new(world: &World<'a>) -> Self {
        Self { world: *world }
    }
}

impl Facts for Counting<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        let mut found = self.world.facts.about(subject);
        let withdrawals = withdrawals(&self.world, &found).into_iter();
        let withdrawn: BTreeSet<Place> = withdrawals.filter(|w| w.counts).map(|w| w.of.place).collect();
        if !withdrawn.is_empty() {
            found.retain(|w| !withdrawn.contains(&w.place));
        }
        found
    }

    /// A withdrawal is filed where its fact is and is not withdrawn, so something is left wherever anything is filed.
    fn is_filed(&self, subject: &Subject) -> bool {
        self.world.facts.is_filed(subject)
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        self.world.facts.subjects(class)
    }

    fn near(&self, class: Class, code: &str) -> Vec<String> {
        self.world.facts.near(class, code)
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        self.world.facts.near_listed(class, code)
    }

    fn forks(&self) -> Vec<Fork> {
        self.world.facts.forks()
    }

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        self.world.facts.first_sight(log, place)
    }
}

/// A fact that was taken back.
#[derive(Debug, Clone)]
pub struct Withdrawal {
    /// The fact.
    pub of: Arc<RecordedFact>,
    /// The withdrawal.
    pub by: Arc<RecordedFact>,
    /// Who approved it, where that was needed.
    pub approved_by: Option<Arc<RecordedFact>>,
    /// Whether the fact counts no more. Otherwise somebody else must approve first.
    pub counts: bool,
}

/// The facts among `about` that a withdrawal among them takes back, in the order of the withdrawals' places.
pub fn withdrawals(world: &World<'_>, about: &[Arc<RecordedFact>]) -> Vec<Withdrawal> {
    let withdrawn = about.iter().filter(|w| w.is(&Kind::Withdraw)).filter_map(|by| {
        let id = by.owned("fact")?;
        let of = about.iter().find(|w| w.fact.id().to_string() == id)?;
        may_withdraw(world, of, by).then_some((of, by))
    });
    let read = withdrawn.map(|(of, by)| {
        let needs = needs_approval(world, about, of, by);
        let approved_by = approval(about, of, by).filter(|_| needs);
        Withdrawal {
            counts: !needs || approved_by.is_some(),
            of: of.clone(),
            by: by.clone(),
            approved_by,
        }
    });
    read.collect()
}

fn may_withdraw(world: &World<'_>, fact: &RecordedFact, withdrawal: &RecordedFact) -> bool {
    let (own, other) = (fact.place.log.device, withdrawal.place.log.device);
    let same_person = fact.key("by").is_some() && fact.key("by") == withdrawal.key("by");
    !fact.is(&Kind::Withdraw)
        && !opens_a_job(world, fact)
        && fact.happens_before(withdrawal)
        && (own == other || same_person || world.clocks.is_measure(&other))
}

/// Whether it is the first fact that names the trailer of its job. Withdrawn facts are read too: one opening does not make another.
fn opens_a_job(world: &World<'_>, fact: &RecordedFact) -> bool {
    let Some(job) = fact.key("job").filter(|_| fact.is(&Kind::Job)) else {
        return false;
    };
    let about = world.facts.about(&Subject::Job(job));
    let naming = about
        .into_iter()
        .filter(|w| w.is(&Kind::Job) && w.fact.text("trailer").is_some());
    earliest(&naming.collect::<Vec<_>>())
        .iter()
        .any(|w| w.place == fact.place)
}

/// Whether somebody else must approve before the withdrawal of `fact` counts. A reading that had the withdrawal in view was not judged
/// by what it took back.
fn needs_approval(
    world: &World<'_>,
    about: &[Arc<RecordedFact>],
    fact: &Arc<RecordedFact>,
    withdrawal: &RecordedFact,
) -> bool {
    match fact.fact.kind() {
        Kind::Check => is_reading(world, fact) || fails(world, fact),
        Kind::Job => {
            let sets = fact.fact.text("wall").is_some() || fact.fact.text("load").is_some();
            let mut readings = about.iter().filter(|w| is_reading(world, w));
            sets && readings.any(|w| !withdrawal.happens_before(w))
        }
        _ => false,
    }
}

fn fails(world: &World<'_>, check: &RecordedFact) -> bool {
    let requirement = check.owned("check").and_then(|name| world.standard.check(&name));
    let fails = requirement.is_some_and(|r| matches!(verdict(r, &check.fact), Verdict::Fails { .. }));
    fails || check.fact.flag("ok") == Some(false)
}

/// The first approval of a withdrawal by neither who recorded the fact nor who withdrew it.
fn approval(about: &[Arc<RecordedFact>], fact: &RecordedFact, withdrawal: &RecordedFact) -> Option<Arc<RecordedFact>> {
    let id = fact.fact.id().to_string();
    let approves = |w: &&Arc<RecordedFact>| {
        is_check(w, "approval")
            && w.fact.flag("ok") != Some(false)
            && w.owned("of").is_some_and(|of| of == id)
            && withdrawal.happens_before(w)
            && w.key("by")
                .is_some_and(|by| Some(&by) != fact.key("by").as_ref() && Some(&by) != withdrawal.key("by").as_ref())
    };
    about.iter().find(approves).cloned()
}
