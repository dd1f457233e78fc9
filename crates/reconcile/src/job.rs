//! One job as the rules read it: its facts, its fields, the parts it is about, and how it ended.
//!
//! The parts of a job are the current values of its fields `camera` and `tracker`. A field that was never set
//! is answered by the links that carry the job's name. The links of a job are all links of one of its cameras
//! or trackers, also those made by others and under other jobs.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::Kind;

use crate::facts::Facts;
use crate::recorded_fact::{RecordedFact, earliest, latest};
use crate::register;
use crate::subject::Subject;
use crate::ties::{Tie, Ties};

/// A job.
#[derive(Debug, Clone)]
pub struct JobView {
    /// Its name.
    pub job: String,
    /// Every fact that carries the name, in the order of places.
    pub facts: Vec<Arc<RecordedFact>>,
    /// The current holders of its fields.
    pub fields: BTreeMap<String, Vec<Arc<RecordedFact>>>,
    /// Its cameras.
    pub cameras: BTreeSet<String>,
    /// Its trackers.
    pub trackers: BTreeSet<String>,
    /// The links and unlinks of its cameras and trackers.
    pub ties: Ties,
    /// Its sign-offs.
    pub sign_offs: Vec<Arc<RecordedFact>>,
    /// Its stand-downs.
    pub stand_downs: Vec<Arc<RecordedFact>>,
}

impl JobView {
    /// Reads a job.
    pub fn load(facts: &dyn Facts, job: &str) -> Self {
        let own = facts.about(&Subject::Job(job.to_owned()));
        let fields = register::fields(&own);
        let cameras = parts(&own, &fields, "camera");
        let trackers = parts(&own, &fields, "tracker");
        let ties = ties(facts, &cameras, &trackers);
        let of_kind = |kind: &Kind| own.iter().filter(|w| w.is(kind)).cloned().collect();
        Self {
            job: job.to_owned(),
            sign_offs: of_kind(&Kind::SignOff),
            stand_downs: of_kind(&Kind::StandDown),
            facts: own,
            fields,
            cameras,
            trackers,
            ties,
        }
    }

    /// The facts of `kind` that carry the job's name.
    pub fn of_kind<'a>(&'a self, kind: &'a Kind) -> impl Iterator<Item = &'a Arc<RecordedFact>> {
        self.facts.iter().filter(move |w| w.is(kind))
    }

    /// The current values of a field, as shown.
    pub fn values(&self, field: &str) -> Vec<String> {
        let holders = self.fields.get(field).map_or(&[][..], Vec::as_slice);
        register::values(holders, field).into_iter().map(|v| v.shown).collect()
    }

    /// The job facts that opened it: those that follow no other.
    pub fn openings(&self) -> Vec<Arc<RecordedFact>> {
        let opened: Vec<_> = self.of_kind(&Kind::Job).cloned().collect();
        earliest(&opened)
    }

    /// The sign-offs that no other sign-off follows.
    pub fn latest_sign_offs(&self) -> Vec<Arc<RecordedFact>> {
        latest(&self.sign_offs)
    }

    /// The stand-downs that came after every sign-off.
    pub fn stand_downs_after_all(&self) -> Vec<Arc<RecordedFact>> {
        let after_all = |d: &&Arc<RecordedFact>| self.sign_offs.iter().all(|s| s.happens_before(d));
        self.stand_downs.iter().filter(after_all).cloned().collect()
    }

    /// The stand-downs that no sign-off followed. With one of these the job counts as given up, even if somebody signed it off
    /// concurrently.
    pub fn standing_stand_downs(&self) -> Vec<Arc<RecordedFact>> {
        let revived = |d: &RecordedFact| self.sign_offs.iter().any(|s| d.happens_before(s));
        self.stand_downs.iter().filter(|d| !revived(d)).cloned().collect()
    }
}

fn parts(own: &[Arc<RecordedFact>], fields: &BTreeMap<String, Vec<Arc<RecordedFact>>>, part: &str) -> BTreeSet<String> {
    match fields.get(part) {
        Some(holders) => holders.iter().filter_map(|w| w.owned(part)).collect(),
        None => {
            let links = own.iter().filter(|w| w.is(&Kind::Link));
            links.filter_map(|w| w.owned(part)).collect()
        }
    }
}

fn ties(facts: &dyn Facts, cameras: &BTreeSet<String>, trackers: &BTreeSet<String>) -> Ties {
    let cameras = cameras.iter().cloned().map(Subject::Camera);
    let trackers = trackers.iter().cloned().map(Subject::Tracker);
    let about: Vec<_> = cameras.chain(trackers).flat_map(|s| facts.about(&s)).collect();
    Ties::among(&about)
}

/// The jobs that the links touch: the job that a link carries, or else those that name one of its parts.
pub(crate) fn jobs_of_links(facts: &dyn Facts, links: &[&Tie]) -> BTreeSet<String> {
    let (with_job, without): (Vec<&Tie>, Vec<&Tie>) = links.iter().partition(|l| l.recorded.fact.text("job").is_some());
    let mut jobs: BTreeSet<String> = with_job.iter().filter_map(|l| l.recorded.owned("job")).collect();
    jobs.extend(jobs_naming(facts, &without));
    jobs
}

/// The jobs that name a part of one of the links.
fn jobs_naming(facts: &dyn Facts, links: &[&Tie]) -> BTreeSet<String> {
    let cameras = links.iter().map(|l| Subject::Camera(l.camera.clone()));
    let trackers = links.iter().map(|l| Subject::Tracker(l.tracker.clone()));
    let parts: BTreeSet<Subject> = cameras.chain(trackers).collect();
    let about = parts.iter().flat_map(|part| facts.about(part));
    let candidates: BTreeSet<String> = about
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.owned("job"))
        .collect();
    let names_one = |job: &String| {
        let view = JobView::load(facts, job);
        let names = |l: &Tie| view.cameras.contains(&l.camera) || view.trackers.contains(&l.tracker);
        links.iter().any(|l| names(l))
    };
    candidates.into_iter().filter(names_one).collect()
}
