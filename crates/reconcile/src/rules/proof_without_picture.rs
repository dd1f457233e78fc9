//! A proof is judged good and no picture is named, or what is named was not there, or is no picture, when it was recorded.
//!
//! The recording device notes with the fact what it held. Who holds the picture elsewhere is a question of `status`. A later
//! judgement that names a picture clears it.
//!
//! Standing: `-`. Nothing clashes.

use std::sync::Arc;

use super::rule::{About, Rule};
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::proof::Proof;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::proof::{BareProof, NoPicture};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, picture_of};
use crate::world::World;

/// What the device noted of the picture when it recorded the fact.
const HELD: &str = "picture_held";

pub(super) struct ProofWithoutPicture;

impl Rule for ProofWithoutPicture {
    fn name(&self) -> &'static str {
        "proof-without-picture"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Proof
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        let proofs = Proof::all(world.clocks, job).into_iter();
        let (bare, sound): (Vec<_>, Vec<_>) = proofs.map(|p| (missing(&p), p)).partition(|(why, _)| why.is_some());
        let replaced = |p: &Proof| sound.iter().any(|(_, s)| p.judged.happens_before(&s.judged));
        let (over, open): (Vec<_>, Vec<_>) = bare.into_iter().partition(|(_, p)| replaced(p));
        let is_cleared = open.is_empty();
        let told = if is_cleared { over } else { open };
        let (why, first) = told.first()?;
        let again = sound.iter().map(|(_, s)| &s.judged);
        let again: Vec<Arc<RecordedFact>> = again
            .filter(|s| is_cleared && first.judged.happens_before(s))
            .cloned()
            .collect();
        let reason = Reason::ProofWithoutPicture(BareProof {
            judged: FactRef::of(&first.judged),
            why: why.clone()?,
            judged_again: FactRef::all(&again),
        });
        let draft = Draft::new(Severity::Ask, [job.key.clone()], reason)
            .made_by(told.iter().map(|(_, p)| p.judged.clone()))
            .cleared_by(again);
        Some(draft)
    }
}

/// Why a good judgement stands for no picture.
fn missing(proof: &Proof) -> Option<NoPicture> {
    if !proof.is_good() {
        return None;
    }
    let naming: Vec<&Arc<RecordedFact>> = std::iter::once(&proof.judged)
        .chain(&proof.taken)
        .filter(|w| w.fact.text("picture").is_some())
        .collect();
    let Some(first) = naming.first() else {
        return Some(NoPicture::NotNamed);
    };
    let each: Vec<Option<NoPicture>> = naming.iter().map(|w| held(w)).collect();
    if each.iter().any(Option::is_none) {
        return None;
    }
    let named = first.owned("picture").unwrap_or_default();
    each.into_iter().flatten().min().map(|why| match why {
        NoPicture::Absent(_) => NoPicture::Absent(named),
        NoPicture::Unreadable(_) => NoPicture::Unreadable(named),
        NoPicture::NotNamed => NoPicture::NotNamed,
    })
}

/// What was wrong with the picture that a fact names, when that was recorded.
fn held(recorded: &RecordedFact) -> Option<NoPicture> {
    match recorded.fact.text(HELD).as_deref() {
        Some("unreadable") => Some(NoPicture::Unreadable(String::new())),
        Some("absent") => Some(NoPicture::Absent(String::new())),
        Some(_) => None,
        // A file's name without a hash: the file was not there.
        None if picture_of(&recorded.fact).is_none() => Some(NoPicture::Absent(String::new())),
        None => None,
    }
}
