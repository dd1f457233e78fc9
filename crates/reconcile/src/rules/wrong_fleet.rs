//! A live linked camera or tracker is in stock for another fleet than the job's, as both stand now.
//!
//! Of several stock entries the latest count. Concurrent ones of which none names the job's fleet are a stop; with the job's fleet
//! among them somebody must ask. A part that is in no stock list is no matter of this rule, nor is a job without a fleet.
//!
//! Standing: link, stock entry and the job's fleet clash, all three together. `aware` when the recorder of one of them had the
//! other two in view (usually the stock list when linking), `unaware` when nobody had.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{Rule, usual_rights};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::listed::stock_entries;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{ForeignPart, ForeignParts};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

pub(super) struct WrongFleet;

impl Rule for WrongFleet {
    fn name(&self) -> &'static str {
        "wrong-fleet"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let found = conflicts(world, job);
        let severity = found.iter().map(|c| c.severity).max()?;
        Some(draft(world, job, severity, found))
    }

    fn rights(&self, world: &World<'_>, case: &Case) -> Vec<Arc<RecordedFact>> {
        let mut found = usual_rights(world, case);
        let Some(job) = case.job() else { return found };
        let parts = job.ties.links.iter().flat_map(parts_of).collect::<BTreeSet<_>>();
        let stock = parts.iter().flat_map(|part| world.facts.about(part));
        found.extend(stock.filter(|w| matches!(w.fact.kind(), Kind::Stock | Kind::Withdraw)));
        found.extend(job.ties.unlinks.iter().map(|u| u.recorded.clone()));
        found.extend(
            job.of_kind(&Kind::Job)
                .filter(|w| w.fact.text("fleet").is_some())
                .cloned(),
        );
        found
    }
}

/// A linked part whose stock entries name another fleet than the job.
struct Conflict {
    severity: Severity,
    part: Subject,
    link: Arc<RecordedFact>,
    /// The entries that name another fleet.
    stock: Vec<Arc<RecordedFact>>,
    fleets: Vec<Arc<RecordedFact>>,
}

fn conflicts(world: &World<'_>, job: &JobView) -> Vec<Conflict> {
    let fleets = job.fields.get("fleet").cloned().unwrap_or_default();
    let own = job.value_keys("fleet");
    let mut found = Vec::new();
    for link in job.ties.live().into_iter().filter(|_| !own.is_empty()) {
        for part in parts_of(link) {
            let is_own = |w: &Arc<RecordedFact>| w.key("fleet").is_some_and(|fleet| own.contains(&fleet));
            let (good, bad): (Vec<_>, Vec<_>) = stock_entries(world, &part).into_iter().partition(is_own);
            if !bad.is_empty() {
                found.push(Conflict {
                    severity: if good.is_empty() { Severity::Stop } else { Severity::Ask },
                    part,
                    link: link.recorded.clone(),
                    stock: bad,
                    fleets: fleets.clone(),
                });
            }
        }
    }
    found
}

fn parts_of(link: &Tie) -> [Subject; 2] {
    [
        Subject::Camera(link.camera_key.clone()),
        Subject::Tracker(link.tracker_key.clone()),
    ]
}

fn draft(world: &World<'_>, job: &JobView, severity: Severity, conflicts: Vec<Conflict>) -> Draft {
    let awareness = awareness(&conflicts);
    let reason = Reason::WrongFleet(ForeignParts {
        fleets: job.values("fleet"),
        parts: foreign_parts(&conflicts),
        knowledge: awareness.knowledge(world),
    });
    let evidence = conflicts
        .into_iter()
        .flat_map(|c| [vec![c.link], c.stock, c.fleets].concat());
    Draft::new(severity, [job.key.clone()], reason)
        .made_by(evidence)
        .standing(awareness.standing())
}

/// The code as the link has it.
fn code_in(link: &RecordedFact, part: &Subject) -> String {
    link.owned(part.class().name())
        .unwrap_or_else(|| part.text().into_owned())
}

/// Each part once, with the first of its links and all the fleets that it is in stock for.
fn foreign_parts(conflicts: &[Conflict]) -> Vec<ForeignPart> {
    let mut by_part: BTreeMap<&Subject, ForeignPart> = BTreeMap::new();
    for conflict in conflicts {
        let part = by_part.entry(&conflict.part).or_insert_with(|| ForeignPart {
            part: conflict.part.clone(),
            code: code_in(&conflict.link, &conflict.part),
            link: FactRef::of(&conflict.link),
            owners: BTreeSet::new(),
        });
        part.owners
            .extend(conflict.stock.iter().filter_map(|w| w.owned("fleet")));
    }
    by_part.into_values().collect()
}

/// Of the first conflict that somebody could have known of, or else of the first.
fn awareness(conflicts: &[Conflict]) -> Awareness {
    let mut triples = conflicts.iter().flat_map(|c| {
        let pairs = c.stock.iter().flat_map(|s| c.fleets.iter().map(move |f| (s, f)));
        pairs.map(|(s, f)| awareness_of(&c.link, s, f))
    });
    let first = triples.next().unwrap_or(Awareness::NoClash);
    std::iter::once(first.clone())
        .chain(triples)
        .find(|k| k.standing() == Standing::Aware)
        .unwrap_or(first)
}

/// One of three that had the other two in view, or two that had not seen each other: there is always one or the other.
fn awareness_of(link: &Arc<RecordedFact>, stock: &Arc<RecordedFact>, fleet: &Arc<RecordedFact>) -> Awareness {
    for (last, one, other) in [(link, stock, fleet), (stock, link, fleet), (fleet, link, stock)] {
        if one.happens_before(last) && other.happens_before(last) {
            return Awareness::between(std::slice::from_ref(one), std::slice::from_ref(last));
        }
    }
    let pairs = [(link, stock), (link, fleet), (stock, fleet)];
    Awareness::of(pairs.into_iter().filter(|(a, b)| a.concurrent(b)))
}
