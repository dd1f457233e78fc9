//! How the checks of a job stand by all that is known here, before anybody signs it off.
//!
//! The same reading as the reconciler's at a sign-off: the latest facts of a check count, one that fails makes the check
//! fail, one that cannot be read leaves it missing. A test holds the two against each other.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_reconcile::witness::latest;
use gladhand_reconcile::{JobView, Witness};
use gladhand_trade::requirement::MadeGood;
use gladhand_trade::{Requirement, Verdict, Wants, verdict, wait_verdict};

use super::advice::{one, thickness};
use super::bench::Bench;

/// How a check stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stands {
    /// As the standard wants it.
    Good,
    /// Nothing was recorded, or nothing that can be read; then why.
    Missing(Option<String>),
    /// Not as the standard wants it; why.
    Failed(String),
}

/// A required check that would stand against a sign-off.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Outstanding {
    /// Its name.
    pub check: String,
    /// Whether it was recorded and failed; otherwise it is missing.
    pub failed: bool,
    /// Why, where something was recorded.
    pub why: Option<String>,
}

/// The checks of one job.
pub struct Checks<'a> {
    bench: &'a Bench<'a>,
    job: &'a JobView,
    by_name: BTreeMap<String, Vec<Arc<Witness>>>,
}

impl<'a> Checks<'a> {
    /// Reads them.
    pub fn of(bench: &'a Bench<'a>, job: &'a JobView) -> Self {
        let mut by_name: BTreeMap<String, Vec<Arc<Witness>>> = BTreeMap::new();
        for check in job.of_kind(&Kind::Check) {
            if let Some(name) = check.owned("check") {
                by_name.entry(name).or_default().push(check.clone());
            }
        }
        by_name.values_mut().for_each(|facts| *facts = latest(facts));
        Self { bench, job, by_name }
    }

    /// The required checks that are missing or failed, in the order of the standard, which is the order of the work.
    pub fn outstanding(&self) -> Vec<Outstanding> {
        let (wall, load, thick) = (one(self.job, "wall"), one(self.job, "load"), thickness(self.job));
        let standard = self.bench.standard();
        let required = standard.required_for(wall.as_deref(), load.as_deref(), thick.as_ref());
        let stands = required.into_iter().filter_map(|r| {
            let (failed, why) = match self.stands(r) {
                Stands::Good => return None,
                Stands::Missing(why) => (false, why),
                Stands::Failed(why) => (true, Some(why)),
            };
            let check = r.name().to_owned();
            Some(Outstanding { check, failed, why })
        });
        stands.collect()
    }

    /// How `requirement` stands.
    pub fn stands(&self, requirement: &Requirement) -> Stands {
        let mut judged = self.verdicts(requirement);
        if judged.is_empty() {
            judged = self.waits(requirement);
        }
        let nothing = judged.is_empty();
        let mut unreadable = None;
        for verdict in judged {
            match verdict {
                Verdict::Fails { why } => return Stands::Failed(why),
                Verdict::Unreadable { why } => unreadable = unreadable.or(Some(why)),
                Verdict::Passes => {}
            }
        }
        match unreadable {
            None if !nothing => Stands::Good,
            why => Stands::Missing(why),
        }
    }

    fn latest(&self, name: &str) -> &[Arc<Witness>] {
        self.by_name.get(name).map_or(&[], Vec::as_slice)
    }

    fn verdicts(&self, requirement: &Requirement) -> Vec<Verdict> {
        let judge = |fact: &Arc<Witness>| match verdict(requirement, &fact.fact) {
            Verdict::Fails { .. } if self.made_good(requirement, fact) => Verdict::Passes,
            other => other,
        };
        self.latest(requirement.name()).iter().map(judge).collect()
    }

    /// A waiting time that nobody wrote down, from the checks that begin and end it.
    fn waits(&self, requirement: &Requirement) -> Vec<Verdict> {
        let Some((from, to)) = requirement.pair() else {
            return Vec::new();
        };
        let world = self.bench.world();
        let judge = |f: &Witness, t: &Witness| {
            let uncertainty_us = world
                .clocks
                .difference_uncertainty_us(f.timed(), t.timed(), world.standard);
            wait_verdict(requirement, &f.fact, &t.fact, uncertainty_us)
        };
        let (from, to) = (self.latest(from), self.latest(to));
        from.iter().flat_map(|f| to.iter().map(move |t| judge(f, t))).collect()
    }

    /// Whether another check makes good a value outside the band. Nothing makes good a plain "not ok".
    fn made_good(&self, requirement: &Requirement, fact: &Witness) -> bool {
        let refused = fact.fact.flag("ok") == Some(false) || fact.fact.answers().any(|(_, yes)| !yes);
        let side = match requirement.wants() {
            Wants::Measure(band) | Wants::Wait { band, .. } => fact.fact.measure("value").and_then(|m| band.side(&m)),
            _ => None,
        };
        let fits = |m: &&MadeGood| side.is_some() && (m.side.is_none() || m.side == side);
        let makes = |m: &MadeGood| self.passes(&m.check);
        !refused && requirement.made_good_by().iter().filter(fits).any(makes)
    }

    fn passes(&self, name: &str) -> bool {
        let facts = self.latest(name);
        let passes = |r: &Requirement| facts.iter().all(|f| verdict(r, &f.fact).passes());
        !facts.is_empty() && self.bench.standard().check(name).is_some_and(passes)
    }
}
