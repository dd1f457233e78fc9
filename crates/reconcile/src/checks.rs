//! The required checks of a job, as they stood before a sign-off, or as they stand by all that is known.
//!
//! The latest facts of a check decide: those before the sign-off that no later fact of the same check follows. One that fails
//! makes the check fail; one that cannot be read leaves it missing, because it is neither a pass nor a failure.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{Kind, Measure};
use gladhand_trade::{Requirement, Verdict, Visit, Wants, verdict, wait_verdict};

use crate::job::JobView;
use crate::recorded_fact::{RecordedFact, latest};
use crate::world::World;

/// The state of one required check.
pub struct CheckState<'a> {
    /// What the work standard wants.
    pub requirement: &'a Requirement,
    /// The latest facts that decide.
    pub facts: Vec<Arc<RecordedFact>>,
    /// What they decide.
    pub outcome: Outcome,
}

/// What the facts of a check decide.
pub enum Outcome {
    /// As the standard wants it.
    Good,
    /// Nothing was recorded, or nothing that can be read. In the second case what the trade says is wrong.
    Missing(Option<String>),
    /// The facts that fail, each with what the trade says of it.
    Failed(Vec<(Arc<RecordedFact>, String)>),
}

/// The checks of a job.
pub struct Checks<'a> {
    world: &'a World<'a>,
    by_name: BTreeMap<String, Vec<Arc<RecordedFact>>>,
}

impl<'a> Checks<'a> {
    /// All that are known, for a job without a sign-off.
    pub fn so_far(world: &'a World<'a>, job: &JobView) -> Self {
        Self::of(world, job, |_| true)
    }

    /// Those of its checks that `counts` takes.
    pub fn of(world: &'a World<'a>, job: &JobView, counts: impl Fn(&RecordedFact) -> bool) -> Self {
        let mut by_name: BTreeMap<String, Vec<Arc<RecordedFact>>> = BTreeMap::new();
        for check in job.of_kind(&Kind::Check).filter(|check| counts(check)) {
            if let Some(name) = check.owned("check") {
                by_name.entry(name).or_default().push(check.clone());
            }
        }
        by_name.values_mut().for_each(|facts| *facts = latest(facts));
        Self { world, by_name }
    }

    fn latest(&self, name: &str) -> &[Arc<RecordedFact>] {
        self.by_name.get(name).map_or(&[], Vec::as_slice)
    }

    /// The state of `requirement`.
    pub fn state(&self, requirement: &'a Requirement) -> CheckState<'a> {
        let mut judged = self.verdicts(requirement);
        if judged.is_empty() {
            judged = self.waits(requirement);
        }
        let mut facts: Vec<Arc<RecordedFact>> = judged.iter().flat_map(|(facts, _)| facts.iter().cloned()).collect();
        facts.sort_by_key(|w| w.place);
        facts.dedup_by_key(|w| w.place);
        CheckState {
            requirement,
            facts,
            outcome: outcome(judged),
        }
    }

    fn verdicts(&self, requirement: &Requirement) -> Vec<(Vec<Arc<RecordedFact>>, Verdict)> {
        let judge = |fact: &Arc<RecordedFact>| match verdict(requirement, &fact.fact) {
            Verdict::Fails { .. } if self.made_good(requirement, fact) => Verdict::Passes,
            other => other,
        };
        let facts = self.latest(requirement.name());
        facts.iter().map(|f| (vec![f.clone()], judge(f))).collect()
    }

    /// A waiting time that was not recorded itself, from the checks that begin and end it.
    fn waits(&self, requirement: &Requirement) -> Vec<(Vec<Arc<RecordedFact>>, Verdict)> {
        let Some((from, to)) = requirement.pair() else {
            return Vec::new();
        };
        let (from, to) = (self.latest(from), self.latest(to));
        let pairs = from.iter().flat_map(|f| to.iter().map(move |t| (f, t)));
        let judge = |f: &RecordedFact, t: &RecordedFact| {
            let uncertainty_us = self
                .world
                .clocks
                .difference_uncertainty_us(f.timed(), t.timed(), self.world.standard);
            wait_verdict(requirement, &f.fact, &t.fact, uncertainty_us)
        };
        pairs.map(|(f, t)| (vec![f.clone(), t.clone()], judge(f, t))).collect()
    }

    /// Whether another check makes up for a value outside the band. Nothing makes up for a plain "not ok".
    fn made_good(&self, requirement: &Requirement, fact: &RecordedFact) -> bool {
        let refused = fact.fact.flag("ok") == Some(false) || fact.fact.answers().any(|(_, yes)| !yes);
        !refused && requirement.made_good_by().iter().any(|m| self.passes(m.check()))
    }

    fn passes(&self, name: &str) -> bool {
        let facts = self.latest(name);
        let passes = |r: &Requirement| facts.iter().all(|f| verdict(r, &f.fact).passes());
        !facts.is_empty() && self.world.standard.check(name).is_some_and(passes)
    }
}

fn outcome(judged: Vec<(Vec<Arc<RecordedFact>>, Verdict)>) -> Outcome {
    let mut failed = Vec::new();
    let mut unreadable = None;
    let nothing = judged.is_empty();
    for (facts, verdict) in judged {
        match (verdict, facts.last()) {
            (Verdict::Fails { why }, Some(fact)) => failed.push((fact.clone(), why)),
            (Verdict::Unreadable { why }, _) => unreadable = unreadable.or(Some(why)),
            _ => {}
        }
    }
    match (failed.is_empty(), unreadable) {
        (false, _) => Outcome::Failed(failed),
        (true, Some(why)) => Outcome::Missing(Some(why)),
        (true, None) if nothing => Outcome::Missing(None),
        (true, None) => Outcome::Good,
    }
}

/// The checks that the standard requires of a job. Where a field holds several values, all that any of them asks.
pub fn required<'a>(world: &World<'a>, job: &JobView) -> Vec<&'a Requirement> {
    let wanted = |r: &&Requirement| r.is_required() && in_any(job, |visit| r.applies().holds(visit));
    world.standard.checks().iter().filter(wanted).collect()
}

/// Whether one of the checks for the job's purpose depends on `field`: it is required only for some of its values, or the
/// clearance reads it by wall and load.
pub fn is_depended_on(world: &World<'_>, job: &JobView, field: &str) -> bool {
    let purposes = one_or_more(job.values("purpose"));
    let depends = |r: &Requirement| {
        let applies = r.applies();
        let is_read = matches!(r.wants(), Wants::Reading | Wants::YesOrNo) && matches!(field, "wall" | "load");
        (is_read || applies.depends_on(field)) && purposes.iter().any(|purpose| applies.is_for(purpose.as_deref()))
    };
    let mut checks = world.standard.checks().iter().filter(|r| r.is_required());
    checks.any(depends)
}

/// The answers that the standard requires of the job's proof picture, each once; none where it wants no picture.
pub fn proof_answers<'a>(world: &World<'a>, job: &JobView) -> Vec<&'a str> {
    let mut found: Vec<&str> = Vec::new();
    in_any(job, |visit| {
        for answer in world.standard.proof_answers_for(visit) {
            if !found.contains(&answer.as_str()) {
                found.push(answer);
            }
        }
        false
    });
    found
}

/// Whether `holds` is true of any visit that the job may be by its fields.
fn in_any(job: &JobView, mut holds: impl FnMut(Visit<'_>) -> bool) -> bool {
    let [purposes, walls, loads] = ["purpose", "wall", "load"].map(|field| one_or_more(job.values(field)));
    let holders = job.fields.get("thickness").map_or(&[][..], Vec::as_slice);
    let thick: Vec<Measure> = holders.iter().filter_map(|w| w.fact.measure("thickness")).collect();
    let thick = one_or_more(thick);
    purposes.iter().any(|purpose| {
        walls.iter().any(|wall| {
            loads.iter().any(|load| {
                let visit = |thickness: &Option<Measure>| {
                    holds(Visit {
                        purpose: purpose.as_deref(),
                        wall: wall.as_deref(),
                        load: load.as_deref(),
                        thickness: thickness.as_ref(),
                    })
                };
                thick.iter().any(visit)
            })
        })
    })
}

/// The known values, or one `None`.
fn one_or_more<T>(values: Vec<T>) -> Vec<Option<T>> {
    if values.is_empty() {
        vec![None]
    } else {
        values.into_iter().map(Some).collect()
    }
}
