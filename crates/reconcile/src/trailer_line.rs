//! One trailer as a report shows it: its pair, by whom it was proven and when, and whether it can be relied on.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::name_key;
use serde::{Deserialize, Serialize};

use crate::job::JobView;
use crate::job_line::{cameras, each_once, people, times, trackers};
use crate::names::Names;
use crate::proof::Proof;
use crate::recorded_fact::RecordedFact;
use crate::reliance::{Reliance, WhyNot, reliance};
use crate::subject::Subject;
use crate::touching::Touching;
use crate::trailer::{jobs_on, speaker};
use crate::world::World;

/// A trailer in a report. Where something may hold several values all of them are listed, each once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TrailerLine {
    /// The unit number.
    pub trailer: String,
    /// The customers that its jobs name.
    pub fleet: Vec<String>,
    /// The cameras of its live pair.
    pub camera: Vec<String>,
    /// The trackers of its live pair.
    pub tracker: Vec<String>,
    /// Whether it can be relied on.
    pub relied_on: Reliance,
    /// Why not, where it is not simply yes.
    pub why_not: Option<WhyNot>,
    /// When its picture was judged good, by the job that speaks for it.
    pub proven_at: Vec<String>,
    /// By whom.
    pub proven_by: Vec<String>,
    /// The hash of that picture.
    pub picture: Vec<String>,
    /// When the job that speaks for it was signed off.
    pub signed_at: Vec<String>,
    /// By whom.
    pub signed_by: Vec<String>,
    /// Its jobs.
    pub jobs: Vec<String>,
    /// The open findings that touch it.
    pub findings: Vec<String>,
}

/// The line of the trailer of that key; `touching` knows all findings. `None` when no job names it now.
pub fn trailer_line(
    world: &World<'_>,
    names: &dyn Names,
    touching: &Touching<'_>,
    trailer: &str,
) -> Option<TrailerLine> {
    let jobs = jobs_on(world.facts, trailer);
    if jobs.is_empty() {
        return None;
    }
    let touching = touching.any(jobs.iter().map(|job| job.key.as_str()), [trailer]);
    let views: Vec<&JobView> = jobs.iter().collect();
    let (relied_on, why_not) = reliance(&views, &touching);
    let live: Vec<_> = jobs.iter().flat_map(|job| job.ties.live()).collect();
    let speaker = speaker(&views);
    let signed = speaker.map(JobView::latest_sign_offs).unwrap_or_default();
    let proofs = speaker.map(|job| proven(world, job)).unwrap_or_default();
    let judged: Vec<Arc<RecordedFact>> = proofs.iter().map(|p| p.judged.clone()).collect();
    Some(TrailerLine {
        trailer: names.spelling(&Subject::Trailer(trailer.to_owned())),
        fleet: fleets(&jobs),
        camera: cameras(names, &live),
        tracker: trackers(names, &live),
        relied_on,
        why_not,
        proven_at: times(&judged),
        proven_by: people(&judged),
        picture: each_once(proofs.iter().filter_map(Proof::picture)),
        signed_at: times(&signed),
        signed_by: people(&signed),
        jobs: jobs.iter().map(|job| job.job.clone()).collect(),
        findings: touching.iter().filter(|f| f.is_open()).map(|f| f.id.clone()).collect(),
    })
}

/// The customers that the jobs name, each once however it is written.
fn fleets(jobs: &[JobView]) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let named = jobs.iter().flat_map(|job| job.values("fleet"));
    named.filter(|fleet| seen.insert(name_key(fleet))).collect()
}

/// The latest judgements of a job, when all of them are good.
fn proven(world: &World<'_>, job: &JobView) -> Vec<Proof> {
    let proofs = Proof::all(world.clocks, job);
    let judged: Vec<Arc<RecordedFact>> = proofs.iter().map(|p| p.judged.clone()).collect();
    let last = crate::latest::latest(world.clocks, &judged);
    let is_last = |p: &Proof| last.iter().any(|l| l.place == p.judged.place);
    let found: Vec<Proof> = proofs.into_iter().filter(is_last).collect();
    if found.iter().all(Proof::is_good) {
        found
    } else {
        Vec::new()
    }
}
