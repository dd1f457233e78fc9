//! A linked camera or tracker is in stock for another fleet than the job's.
//!
//! A part that is in stock for the job's fleet as well is no conflict, nor is one that is in no stock list. A job
//! without a fleet is not judged. A past conflict is reported as cleared only if link, stock entry and fleet held at the same
//! time: none of them ended before another began.
//!
//! Standing: link, stock entry and the job's fleet clash, all three together. `aware` when the recorder of one of them had the
//! other two in view (usually the stock list when linking), `unaware` when nobody had.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::{Severity, Standing};
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{ForeignPart, ForeignParts};
use crate::recorded_fact::{RecordedFact, latest};
use crate::register::{setters, values};
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
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
        let fittings = Fittings::read(world, job)?;
        let open = fittings.conflicts();
        if !open.is_empty() {
            return Some(draft(world, job, open));
        }
        let over = fittings.past_conflicts();
        let resolved_by = fittings.resolving(&over);
        (!over.is_empty()).then(|| draft(world, job, over).made_by(resolved_by).cleared(true))
    }
}

/// A linked part whose stock entries name another fleet than the job.
#[derive(Clone)]
struct Conflict {
    part: Subject,
    link: Arc<RecordedFact>,
    stock: Vec<Arc<RecordedFact>>,
    fleets: Vec<Arc<RecordedFact>>,
}

/// All facts on which the judgement of one job depends.
struct Fittings {
    job: String,
    cameras: BTreeSet<String>,
    trackers: BTreeSet<String>,
    ties: Ties,
    stock: BTreeMap<Subject, Vec<Arc<RecordedFact>>>,
    fleets: Vec<Arc<RecordedFact>>,
}

impl Fittings {
    /// Reads them; `None` when all of them name one fleet, the usual case.
    fn read(world: &World<'_>, job: &JobView) -> Option<Self> {
        let fleets = setters(&job.facts).remove("fleet")?;
        let cameras = job.ties.links.iter().map(|l| Subject::Camera(l.camera.clone()));
        let trackers = job.ties.links.iter().map(|l| Subject::Tracker(l.tracker.clone()));
        let parts: BTreeSet<Subject> = cameras.chain(trackers).collect();
        let stock: BTreeMap<Subject, Vec<Arc<RecordedFact>>> = parts
            .into_iter()
            .map(|part| (part.clone(), stock_of(world, &part)))
            .collect();
        let named: BTreeSet<String> = stock.values().flatten().chain(&fleets).filter_map(fleet_of).collect();
        (named.len() > 1).then(|| Self {
            job: job.job.clone(),
            cameras: job.cameras.clone(),
            trackers: job.trackers.clone(),
            ties: job.ties.clone(),
            stock,
            fleets,
        })
    }

    /// The conflicts now.
    fn conflicts(&self) -> Vec<Conflict> {
        let fleets = latest(&self.fleets);
        let own: BTreeSet<String> = fleets.iter().filter_map(fleet_of).collect();
        let mut found = Vec::new();
        for link in self.ties.live() {
            for part in self.parts_of(link) {
                let stock = self.stock_of(&part).to_vec();
                if !stock.is_empty() && !stock.iter().filter_map(fleet_of).any(|f| own.contains(&f)) {
                    let (link, fleets) = (link.recorded.clone(), fleets.clone());
                    found.push(Conflict {
                        part,
                        link,
                        stock,
                        fleets,
                    });
                }
            }
        }
        found
    }

    /// The conflicts at any time: a link, a stock entry for one fleet and a job for another, side by side.
    fn past_conflicts(&self) -> Vec<Conflict> {
        let mut found = Vec::new();
        for link in &self.ties.links {
            for part in self.parts_of(link) {
                let pairs = self
                    .stock_of(&part)
                    .iter()
                    .flat_map(|b| self.fleets.iter().map(move |f| (b, f)));
                for (stock, fleet) in pairs.filter(|(b, f)| self.stood_side_by_side(link, &part, b, f)) {
                    found.push(Conflict {
                        part: part.clone(),
                        link: link.recorded.clone(),
                        stock: vec![stock.clone()],
                        fleets: vec![fleet.clone()],
                    });
                }
            }
        }
        found
    }

    fn stood_side_by_side(
        &self,
        link: &Tie,
        part: &Subject,
        stock: &Arc<RecordedFact>,
        fleet: &Arc<RecordedFact>,
    ) -> bool {
        let wanted = fleet_of(fleet);
        let link_ended = |of: &RecordedFact| self.ties.removals(link).any(|u| u.recorded.happens_before(of));
        let fleet_ended = |of: &RecordedFact| {
            let later = self.fleets.iter().filter(|f| fleet.happens_before(f));
            later.into_iter().any(|f| f.happens_before(of))
        };
        // An entry for the right fleet excuses the part, unless it was made with the wrong entry in view.
        let excuses = |good: &RecordedFact| {
            !stock.happens_before(good) || good.happens_before(&link.recorded) || good.happens_before(fleet)
        };
        let mut good = self.stock_of(part).iter().filter(|s| fleet_of(s) == wanted);
        fleet_of(stock) != wanted
            && !good.any(|g| excuses(g))
            && !link_ended(stock)
            && !link_ended(fleet)
            && !fleet_ended(&link.recorded)
            && !fleet_ended(stock)
    }

    fn stock_of(&self, part: &Subject) -> &[Arc<RecordedFact>] {
        self.stock.get(part).map_or(&[], Vec::as_slice)
    }

    /// The parts of a link for which the job answers: of a link made under another job only its own parts, and
    /// only those that no link of its own names.
    fn parts_of(&self, link: &Tie) -> Vec<Subject> {
        let job_of = |l: &Tie| l.recorded.owned("job");
        let foreign = job_of(link).is_some_and(|job| job != self.job);
        let own_links = || self.ties.links.iter().filter(|l| job_of(l).as_ref() == Some(&self.job));
        let camera = self.cameras.contains(&link.camera) && !own_links().any(|l| l.camera == link.camera);
        let tracker = self.trackers.contains(&link.tracker) && !own_links().any(|l| l.tracker == link.tracker);
        let camera = (!foreign || camera).then(|| Subject::Camera(link.camera.clone()));
        let tracker = (!foreign || tracker).then(|| Subject::Tracker(link.tracker.clone()));
        camera.into_iter().chain(tracker).collect()
    }

    /// The facts that resolved past conflicts: unlinks, stock entries and the fleets as they stand now.
    fn resolving(&self, conflicts: &[Conflict]) -> Vec<Arc<RecordedFact>> {
        let of_link = |u: &&Tie| conflicts.iter().any(|c| c.link.happens_before(&u.recorded));
        let unlinks = self.ties.unlinks.iter().filter(of_link).map(|u| u.recorded.clone());
        let stock = conflicts
            .iter()
            .filter_map(|c| self.stock.get(&c.part))
            .flatten()
            .cloned();
        unlinks.chain(stock).chain(latest(&self.fleets)).collect()
    }
}

fn stock_of(world: &World<'_>, part: &Subject) -> Vec<Arc<RecordedFact>> {
    let mut facts = world.facts.about(part);
    facts.retain(|w| w.is(&Kind::Stock) && w.fact.text("fleet").is_some());
    facts
}

fn fleet_of(recorded: &Arc<RecordedFact>) -> Option<String> {
    recorded.owned("fleet")
}

fn draft(world: &World<'_>, job: &JobView, conflicts: Vec<Conflict>) -> Draft {
    let awareness = awareness(&conflicts);
    let fleets = conflicts.first().map_or(&[][..], |c| c.fleets.as_slice());
    let fleets = values(fleets, "fleet").into_iter().map(|v| v.shown);
    let reason = Reason::WrongFleet(ForeignParts {
        fleets: fleets.collect(),
        parts: foreign_parts(&conflicts),
        knowledge: awareness.knowledge(world),
    });
    let evidence = conflicts
        .into_iter()
        .flat_map(|c| [vec![c.link], c.stock, c.fleets].concat());
    Draft::new(Severity::Stop, [job.job.clone()], reason)
        .made_by(evidence)
        .standing(awareness.standing())
}

/// Each part once, with the first of its links and all the fleets that it is in stock for.
fn foreign_parts(conflicts: &[Conflict]) -> Vec<ForeignPart> {
    let mut by_part: BTreeMap<&Subject, ForeignPart> = BTreeMap::new();
    for conflict in conflicts {
        let part = by_part.entry(&conflict.part).or_insert_with(|| ForeignPart {
            part: conflict.part.clone(),
            link: FactRef::of(&conflict.link),
            owners: BTreeSet::new(),
        });
        part.owners.extend(conflict.stock.iter().filter_map(fleet_of));
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
