//! The required checks of a job, as they stood before a sign-off, or as they stand by all that is known.
//!
//! The latest facts of a check decide: those before the sign-off that no later fact of the same check follows. One that fails
//! makes the check fail; one that cannot be read leaves it missing, because it is neither a pass nor a failure. The thickness of the
//! wall may stand in a job fact or in a check.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::{Kind, Measure};
use gladhand_trade::names::{APPROVAL, THICKNESS};
use gladhand_trade::{MadeGood, Requirement, Side, Verdict, Wants, verdict, verdict_on, wait_verdict};

use crate::approvals::{Approvals, Approved, Flaw, Weighed};
use crate::job::JobView;
use crate::latest::latest;
use crate::readings::cuts;
use crate::recorded_fact::{RecordedFact, earliest};
use crate::thickness;
use crate::visits::Visits;
use crate::world::World;

/// The state of one required check.
pub struct CheckState<'a> {
    /// What the work standard wants.
    pub requirement: &'a Requirement,
    /// The latest facts that decide.
    pub facts: Vec<Arc<RecordedFact>>,
    /// What they decide.
    pub outcome: Outcome,
    /// The approvals that let a value outside the range pass.
    pub approved_by: Vec<Arc<RecordedFact>>,
    /// The approvals that do not count, and why.
    pub not_counting: Vec<(Arc<RecordedFact>, Flaw)>,
    /// The other checks that would make good a value outside the range, on this visit.
    pub made_good_by: Vec<&'a str>,
}

/// The state of one required check, apart from the standard.
pub(crate) struct RequiredCheck {
    /// Its name.
    pub name: String,
    /// Whether the standard leaves a value outside the range to the office.
    pub asks_when_outside: bool,
    /// The latest facts that decide.
    pub facts: Vec<Arc<RecordedFact>>,
    /// What they decide.
    pub outcome: Outcome,
    /// The approvals that do not count, and why.
    pub not_counting: Vec<(Arc<RecordedFact>, Flaw)>,
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
    visits: Visits,
    by_name: BTreeMap<String, Vec<Arc<RecordedFact>>>,
    approvals: Approvals,
}

type Judged = (Vec<Arc<RecordedFact>>, Verdict);

impl<'a> Checks<'a> {
    /// Those before one of its sign-offs, as `is_before` says, for the fields as the signer had them in view.
    pub fn before(
        world: &'a World<'a>,
        job: &JobView,
        sign_off: &RecordedFact,
        is_before: impl Fn(&RecordedFact) -> bool,
    ) -> Self {
        Self::read(world, job, Visits::at(job, sign_off), is_before)
    }

    /// All that are known, for a job without a sign-off.
    pub fn so_far(world: &'a World<'a>, job: &JobView) -> Self {
        Self::read(world, job, Visits::now(job), |_| true)
    }

    fn read(world: &'a World<'a>, job: &JobView, visits: Visits, counts: impl Fn(&RecordedFact) -> bool) -> Self {
        let mut by_name: BTreeMap<String, Vec<Arc<RecordedFact>>> = BTreeMap::new();
        let checks = job.facts.iter().filter(|w| w.is(&Kind::Check) || thickness::sets(w));
        let counting: Vec<_> = checks.filter(|w| counts(w)).cloned().collect();
        for check in &counting {
            // A check without a name counts as one of the thickness, as a job fact does that sets it.
            let name = check.fact.check_name().unwrap_or(THICKNESS);
            match by_name.get_mut(name) {
                Some(facts) => facts.push(check.clone()),
                None => drop(by_name.insert(name.to_owned(), vec![check.clone()])),
            }
        }
        for (name, facts) in &mut by_name {
            // The thickness is a register like the other fields of a job.
            *facts = if name == THICKNESS {
                thickness::holders(facts)
            } else {
                latest(world.clocks, facts)
            };
        }
        Self {
            world,
            visits,
            by_name,
            approvals: Approvals::among(&counting, earliest(&cuts(world, &job.facts))),
        }
    }

    fn latest(&self, name: &str) -> &[Arc<RecordedFact>] {
        self.by_name.get(name).map_or(&[], Vec::as_slice)
    }

    /// The checks that the standard requires.
    pub fn required(&self) -> Vec<&'a Requirement> {
        required_of(self.world, &self.visits)
    }

    /// The fields among `fields` that nobody recorded and that the required checks depend on: one of them is required only for
    /// some values, or the clearance reads it by wall and load.
    pub fn missing_fields(&self, fields: &[&str]) -> Vec<String> {
        missing_fields(self.world, &self.visits, fields)
    }

    /// The state of each required check.
    pub(crate) fn all_required(&self) -> Vec<RequiredCheck> {
        let states = self.required().into_iter().map(|r| self.state(r));
        let required = states.map(|state| RequiredCheck {
            name: state.requirement.name().to_owned(),
            asks_when_outside: state.requirement.asks_when_outside(),
            facts: state.facts,
            outcome: state.outcome,
            not_counting: state.not_counting,
        });
        required.collect()
    }

    /// The state of `requirement`.
    pub fn state(&self, requirement: &'a Requirement) -> CheckState<'a> {
        let (mut judged, approvals) = self.verdicts(requirement);
        if judged.is_empty() {
            judged = self.waits(requirement);
        }
        let mut facts: Vec<Arc<RecordedFact>> = judged.iter().flat_map(|(facts, _)| facts.iter().cloned()).collect();
        facts.sort_by_key(|w| w.place);
        facts.dedup_by_key(|w| w.place);
        CheckState {
            requirement,
            made_good_by: self.remedies(requirement, &facts),
            facts,
            outcome: outcome(judged),
            approved_by: approvals
                .iter()
                .filter_map(|weighed| weighed.counting.clone())
                .collect(),
            not_counting: approvals.into_iter().flat_map(|weighed| weighed.others).collect(),
        }
    }

    fn verdicts(&self, requirement: &Requirement) -> (Vec<Judged>, Vec<Weighed>) {
        let mut weighed = Vec::new();
        let mut judged = Vec::new();
        for fact in self.latest(requirement.name()) {
            let mut verdict = verdict_of(requirement, fact);
            if matches!(verdict, Verdict::Fails { .. }) && self.is_out_of_range(requirement, fact) {
                if self.made_good(requirement, fact) {
                    verdict = Verdict::Passes;
                } else if may_be_approved(requirement) {
                    let approvals = self
                        .approvals
                        .weigh(self.world, Approved::Place, std::slice::from_ref(fact));
                    if approvals.counting.is_some() {
                        verdict = Verdict::Passes;
                    }
                    weighed.push(approvals);
                }
            }
            judged.push((vec![fact.clone()], verdict));
        }
        (judged, weighed)
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

    /// Whether a value is all that is wrong. Nothing makes up for a plain "not ok".
    fn is_out_of_range(&self, requirement: &Requirement, fact: &RecordedFact) -> bool {
        let refused = fact.fact.flag("ok") == Some(false) || fact.fact.answers().any(|(_, yes)| !yes);
        !refused && side(requirement, fact).is_some()
    }

    /// The checks that fit the values of `facts`, whether they were recorded or not.
    fn remedies(&self, requirement: &'a Requirement, facts: &[Arc<RecordedFact>]) -> Vec<&'a str> {
        let others = requirement.made_good_by().iter().filter(|m| m.check() != APPROVAL);
        let others: Vec<&MadeGood> = others.collect();
        if others.is_empty() {
            return Vec::new();
        }
        let values: Vec<_> = facts.iter().filter_map(|w| side(requirement, w)).collect();
        let fits = |m: &&MadeGood| {
            let all_fit = self
                .visits
                .all(|visit| values.iter().all(|(value, side)| m.fits(value, *side, visit)));
            !values.is_empty() && all_fit
        };
        others.into_iter().filter(fits).map(MadeGood::check).collect()
    }

    /// Whether another check makes up for a value outside the band, whatever the job may be by its fields.
    fn made_good(&self, requirement: &Requirement, fact: &RecordedFact) -> bool {
        let Some((value, side)) = side(requirement, fact) else {
            return false;
        };
        let others = || requirement.made_good_by().iter().filter(|m| m.check() != APPROVAL);
        self.visits
            .all(|visit| others().any(|m| m.fits(&value, side, visit) && self.passes(m.check())))
    }

    fn passes(&self, name: &str) -> bool {
        let facts = self.latest(name);
        let passes = |r: &Requirement| facts.iter().all(|f| verdict(r, &f.fact).passes());
        !facts.is_empty() && self.world.standard.check(name).is_some_and(passes)
    }
}

/// As [`Checks::missing_fields`], for the fields that `visits` may have.
pub(crate) fn missing_fields(world: &World<'_>, visits: &Visits, fields: &[&str]) -> Vec<String> {
    let depends = |r: &Requirement, field: &str| {
        let is_read = matches!(r.wants(), Wants::Reading | Wants::YesOrNo) && matches!(field, "wall" | "load");
        let is_for = || visits.purposes().any(|purpose| r.applies().is_for(purpose));
        r.is_required() && (is_read || r.applies().depends_on(field)) && is_for()
    };
    let is_missing =
        |field: &&&str| visits.is_unknown(field) && world.standard.checks().iter().any(|r| depends(r, field));
    fields
        .iter()
        .filter(is_missing)
        .map(|field| (*field).to_owned())
        .collect()
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

/// The checks that the standard requires of a job, by its fields as they stand.
pub fn required<'a>(world: &World<'a>, job: &JobView) -> Vec<&'a Requirement> {
    let visits = Visits::now(job);
    required_of(world, &visits)
}

/// Where a field holds several values, all that any of them asks.
fn required_of<'a>(world: &World<'a>, visits: &Visits) -> Vec<&'a Requirement> {
    let wanted = |r: &&Requirement| r.is_required() && visits.any(|visit| r.applies().holds(visit));
    world.standard.checks().iter().filter(wanted).collect()
}

/// A value that is for the office.
fn may_be_approved(requirement: &Requirement) -> bool {
    let by_approval = requirement.made_good_by().iter().any(|m| m.check() == APPROVAL);
    requirement.asks_when_outside() || by_approval
}

/// The value of a fact, and where it lies from the range that the requirement wants.
fn side(requirement: &Requirement, recorded: &RecordedFact) -> Option<(Measure, Side)> {
    let (Wants::Measure(band) | Wants::Wait { band, .. }) = requirement.wants() else {
        return None;
    };
    let value = recorded.fact.measure("value")?;
    Some((value, band.side(&value)?))
}

/// The thickness may stand in a job fact; everything else is a check.
fn verdict_of(requirement: &Requirement, recorded: &RecordedFact) -> Verdict {
    if recorded.is(&Kind::Job) {
        verdict_on(requirement, thickness::measure(&recorded.fact))
    } else {
        verdict(requirement, &recorded.fact)
    }
}

/// The answers that the standard requires of a proof picture, each once: all that any of the visits asks; none where it wants no
/// picture.
pub fn proof_answers<'a>(world: &World<'a>, visits: &Visits) -> Vec<&'a str> {
    let mut found: Vec<&str> = Vec::new();
    visits.any(|visit| {
        for answer in world.standard.proof_answers_for(visit) {
            if !found.contains(&answer.as_str()) {
                found.push(answer);
            }
        }
        false
    });
    found
}
