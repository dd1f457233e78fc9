//! A proof picture taken out of the home: the latest that was judged, of one job or of the pair that a trailer has now.
//!
//! Deliberately absent: writing the file, which the command does, and what can be measured on the picture.
//!
//! Invariant: a judgement that names no picture is never the one; and a picture that was judged for a pair that is no longer linked is
//! taken only where there is none of the pair that is.

use std::collections::BTreeMap;

use gladhand_facts::{FactId, code_key};
use gladhand_node::Node;
use gladhand_reconcile::counting::Counting;
use gladhand_reconcile::latest::latest;
use gladhand_reconcile::proof::Proof;
use gladhand_reconcile::trailer::jobs_on;
use gladhand_reconcile::{JobView, RecordedFact};
use gladhand_store::PictureHash;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::deed::Deed;
use crate::error::{AnswerError, ProofPictureError};
use crate::image_header::{self, ImageFormat};
use crate::judging::JudgingContext;
use crate::resolve;

/// Where a device notes what it held of a picture when it recorded the fact that names it.
const HELD: &str = "picture_held";
const ABSENT: &str = "absent";

/// A proof picture that was taken out of the home.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ProofPicture {
    /// The file into which it was written, as it was named.
    pub file: String,
    /// How many bytes it has.
    pub bytes: u64,
    /// The format of the file, by its first bytes; null where they are those of none that is known.
    pub format: Option<ImageFormat>,
    /// Its width in pixels; null where its header does not say.
    pub width: Option<u32>,
    /// Its height in pixels; null where its header does not say.
    pub height: Option<u32>,
    /// The judgement that rests on it.
    #[serde(flatten)]
    pub judged: JudgedPicture,
    /// The other pictures that were judged, the latest first.
    pub others: Vec<JudgedPicture>,
}

/// A picture that was judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct JudgedPicture {
    /// Its BLAKE3 hash.
    pub picture: String,
    /// The job.
    pub job: String,
    /// The trailer's unit number; several where they were written without knowing of each other.
    pub trailer: Vec<String>,
    /// The cameras of the pair that was linked when it was judged and still is.
    pub camera: Vec<String>,
    /// The trackers of that pair.
    pub tracker: Vec<String>,
    /// Whether it was judged good; null where the judgement does not say.
    pub ok: Option<bool>,
    /// The answers of the judgement.
    pub answers: BTreeMap<String, bool>,
    /// Who judged it.
    pub by: Deed,
    /// When it was taken, as written (RFC 3339); null where nobody says.
    pub taken_at: Option<String>,
}

/// A picture that was found, before it is written.
#[derive(Debug)]
pub struct FoundPicture {
    /// Its bytes.
    pub bytes: Vec<u8>,
    judged: JudgedPicture,
    others: Vec<JudgedPicture>,
}

impl FoundPicture {
    /// What it is to be called in a folder: by its job and its hash.
    pub fn file_name(&self) -> String {
        let plain = |c: char| if c.is_alphanumeric() || c == '-' { c } else { '_' };
        let job: String = self.judged.job.chars().map(plain).take(60).collect();
        let hash: String = self.judged.picture.chars().take(12).collect();
        let format = image_header::read(&self.bytes).map(|header| header.format);
        let ending = format.map_or("bin", ImageFormat::ending);
        format!("{job}-{hash}.{ending}")
    }

    /// What there is to tell of it, written into `file`.
    pub fn written_to(self, file: String) -> ProofPicture {
        let header = image_header::read(&self.bytes);
        let size = header.and_then(|header| header.size);
        ProofPicture {
            file,
            bytes: self.bytes.len() as u64,
            format: header.map(|header| header.format),
            width: size.map(|(width, _)| width),
            height: size.map(|(_, height)| height),
            judged: self.judged,
            others: self.others,
        }
    }
}

/// Finds the picture of the job or trailer that `given` names.
///
/// # Errors
/// When nothing is called that, when no picture was judged or it is not here, or when the store cannot be read.
pub fn find(node: &Node, given: &str) -> Result<FoundPicture, ProofPictureError> {
    let judging = JudgingContext::new(node);
    let jobs = jobs_meant(&judging, given)?;
    let judged = latest_first(&judging, &jobs);
    judging.check().map_err(AnswerError::from)?;
    let shown = |(proof, job): &(Proof, &JobView)| shown(&judging, job, proof);
    let mut all = judged.iter().filter_map(shown);
    let (Some(found), Some((proof, _))) = (all.next(), judged.first()) else {
        return Err(ProofPictureError::NoneJudged(given.trim().to_owned()));
    };
    let others = all.filter(|other| other.picture != found.picture).collect();
    let not_here = || ProofPictureError::NotHere {
        picture: found.picture.clone(),
        job: found.job.clone(),
        held_by: held_by(&judging, proof),
    };
    let hash = found.picture.parse::<FactId>().map_err(|_| not_here())?;
    let bytes = node.pictures().get(&PictureHash(hash.0))?;
    Ok(FoundPicture {
        bytes: bytes.ok_or_else(not_here)?,
        judged: found,
        others,
    })
}

/// The job of that name, or the jobs on the trailer of that number.
fn jobs_meant(judging: &JudgingContext<'_>, given: &str) -> Result<Vec<JobView>, AnswerError> {
    let (given, key) = (given.trim(), code_key(given));
    let is_job = !judging.job(given).facts.is_empty();
    if !is_job && !key.is_empty() {
        let world = judging.world();
        let jobs = jobs_on(&Counting::new(&world), &key);
        if !jobs.is_empty() {
            return Ok(jobs);
        }
    }
    let name = resolve::known_job(judging.node(), given)?;
    Ok(vec![judging.job(&name)])
}

/// The judgements that name a picture, the one that decides first: those of the pair that is linked, the latest of them, and of several
/// latest the one with the last time.
fn latest_first<'j>(judging: &JudgingContext<'_>, jobs: &'j [JobView]) -> Vec<(Proof, &'j JobView)> {
    let world = judging.world();
    let of_job = |job: &'j JobView| Proof::all(world.clocks, job).into_iter().map(move |proof| (proof, job));
    let mut all: Vec<(Proof, &JobView)> = jobs
        .iter()
        .flat_map(of_job)
        .filter(|(proof, _)| proof.picture().is_some())
        .collect();
    let of_pair = |(proof, job): &(Proof, &JobView)| {
        job.ties
            .live()
            .iter()
            .any(|tie| tie.recorded.happens_before(&proof.judged))
    };
    let facts = |only_pair: bool| -> Vec<_> {
        let wanted = all.iter().filter(|one| !only_pair || of_pair(one));
        wanted.map(|(proof, _)| proof.judged.clone()).collect()
    };
    let last: Vec<_> = [facts(true), facts(false)]
        .iter()
        .find(|facts| !facts.is_empty())
        .map_or_else(Vec::new, |facts| latest(world.clocks, facts));
    let is_last = |proof: &Proof| last.iter().any(|w| w.place == proof.judged.place);
    all.sort_by_key(|one| {
        let (proof, _) = one;
        let time = (proof.judged.at().unix_us(), proof.judged.place);
        (!is_last(proof), !of_pair(one), std::cmp::Reverse(time))
    });
    all
}

fn shown(judging: &JudgingContext<'_>, job: &JobView, proof: &Proof) -> Option<JudgedPicture> {
    let live = job.ties.live();
    let of_pair: Vec<_> = live
        .iter()
        .filter(|tie| tie.recorded.happens_before(&proof.judged))
        .collect();
    let taken_at = proof.dated_by().and_then(|w| w.fact.moment("taken_at"));
    Some(JudgedPicture {
        picture: proof.picture()?,
        job: job.job.clone(),
        trailer: job.values("trailer"),
        camera: of_pair.iter().map(|tie| tie.camera.clone()).collect(),
        tracker: of_pair.iter().map(|tie| tie.tracker.clone()).collect(),
        ok: proof.judged.fact.flag("ok"),
        answers: proof
            .judged
            .fact
            .answers()
            .map(|(name, yes)| (name.to_owned(), yes))
            .collect(),
        by: Deed::of(judging, &proof.judged),
        taken_at: taken_at.map(|at| at.text().to_owned()),
    })
}

/// The devices that held it when they recorded a fact that names it.
fn held_by(judging: &JudgingContext<'_>, proof: &Proof) -> Vec<String> {
    let held = |w: &&RecordedFact| w.fact.text(HELD).is_some_and(|held| held != ABSENT);
    let naming = std::iter::once(&proof.judged).chain(&proof.taken).map(AsRef::as_ref);
    let names = naming
        .filter(held)
        .map(|w: &RecordedFact| judging.names().device_name(&w.place.log.device));
    let mut names: Vec<String> = names.collect();
    names.sort();
    names.dedup();
    names
}

#[cfg(test)]
#[path = "proof_picture_tests.rs"]
mod tests;
