//! The pictures that prove a fit: each judgement with the fact that the picture was taken and with its request.
//!
//! The picture of a proof is the one that its `taken` or its `judged` names. Its request is the latest `asked` that the recorder of
//! `taken` had seen; where that saw none, or nobody recorded that the picture was taken, the latest that the recorder of the
//! judgement had seen.

use std::sync::Arc;

use gladhand_facts::{Kind, Moment};

use crate::clocks::{Clocks, Order};
use crate::job::JobView;
use crate::latest::latest;
use crate::placed::Placed;
use crate::recorded_fact::RecordedFact;
use crate::subject::picture_of;
use crate::timed::{ClockName, Timed};

type Facts = Vec<Arc<RecordedFact>>;

/// A judged picture.
#[derive(Debug, Clone)]
pub struct Proof {
    /// The judgement.
    pub judged: Arc<RecordedFact>,
    /// The facts that say that this picture was taken; several only when concurrent.
    pub taken: Facts,
    /// Its requests; several only when concurrent.
    pub requests: Facts,
}

impl Proof {
    /// Reads what belongs to a judgement.
    pub fn read(clocks: &Clocks, job: &JobView, judged: &Arc<RecordedFact>) -> Self {
        let seen_by = |state: &str, by: &[Arc<RecordedFact>]| -> Facts {
            let proofs = job.of_kind(&Kind::Proof).filter(|w| w.is_state(&Kind::Proof, state));
            proofs
                .filter(|w| by.iter().any(|b| w.happens_before(b)))
                .cloned()
                .collect()
        };
        let judgement = std::slice::from_ref(judged);
        let taken = of_this_picture(judged, seen_by("taken", judgement));
        let mut requests = latest(clocks, &seen_by("asked", &taken));
        if requests.is_empty() {
            requests = latest(clocks, &seen_by("asked", judgement));
        }
        Self {
            judged: judged.clone(),
            taken,
            requests,
        }
    }

    /// All judged pictures of a job, in the order of the judgements' places.
    pub fn all(clocks: &Clocks, job: &JobView) -> Vec<Self> {
        job.judgements().map(|judged| Self::read(clocks, job, judged)).collect()
    }

    /// Whether it was judged good.
    pub fn is_good(&self) -> bool {
        self.judged.fact.flag("ok") == Some(true)
    }

    /// The hash of the picture, if one is named by it.
    pub fn picture(&self) -> Option<String> {
        let naming = std::iter::once(&self.judged).chain(&self.taken);
        naming.filter_map(|w| picture_of(&w.fact)).next()
    }

    /// The fact that says when the picture was taken, as far as one says so.
    pub fn dated_by(&self) -> Option<&Arc<RecordedFact>> {
        let has_date = |w: &&Arc<RecordedFact>| taken_at(w).is_some();
        let judged = Some(&self.judged).filter(has_date);
        judged
            .or_else(|| self.taken.iter().find(has_date))
            .or(self.taken.first())
    }

    /// Its steps in order: asked, taken, judged.
    pub fn steps(&self) -> impl Iterator<Item = (&'static str, &Arc<RecordedFact>)> {
        let requests = self.requests.iter().map(|w| ("asked", w));
        let taken = self.taken.iter().map(|w| ("taken", w));
        requests.chain(taken).chain([("judged", &self.judged)])
    }
}

/// The facts that say that this picture was taken: those that name the same picture; or else, unless the judgement itself says
/// when, the latest ones that do not name another.
fn of_this_picture(judged: &RecordedFact, taken: Facts) -> Facts {
    let named = |w: &RecordedFact| picture_of(&w.fact).or_else(|| w.owned("picture"));
    let picture = named(judged);
    let (naming, unnamed): (Facts, Facts) = taken.into_iter().partition(|t| named(t).is_some());
    let (same, other): (Facts, Facts) = naming.into_iter().partition(|t| named(t) == picture);
    if !same.is_empty() {
        return crate::recorded_fact::latest(&same);
    }
    if judged.fact.moment("taken_at").is_some() {
        return Vec::new();
    }
    let possible = if picture.is_none() {
        [unnamed, other].concat()
    } else {
        unnamed
    };
    crate::recorded_fact::latest(&possible)
}

/// When a picture was taken, as written.
pub(crate) fn taken_at(recorded: &RecordedFact) -> Option<Moment> {
    recorded.fact.moment("taken_at")
}

/// The same with the clock that it was read from: a server's, unless the fact says that it was the device's.
pub(crate) fn taken_time(recorded: &RecordedFact) -> Option<Timed> {
    let is_own = recorded.fact.text("taken_clock").is_some_and(|clock| clock == "device");
    let clock = if is_own {
        ClockName::Device(recorded.place.log)
    } else {
        ClockName::Reference
    };
    Some(Timed {
        clock,
        at_us: taken_at(recorded)?.unix_us(),
    })
}

/// Where a step of a proof lies beside a deed. A picture lies where a server's time certainly puts it; where that cannot tell, and by
/// any other clock, whoever had seen the deed was after it.
pub(crate) fn step_placed(clocks: &Clocks, step: &RecordedFact, deed: &RecordedFact) -> Placed {
    let by_fact = match clocks.placed(step, deed) {
        Placed::Afterwards => Placed::After,
        placed => placed,
    };
    let Some(time) = taken_time(step) else { return by_fact };
    let order = clocks.order_to_fact(time, deed);
    let is_ordered = step.happens_before(deed) || deed.happens_before(step);
    match order {
        _ if is_ordered && time.clock != ClockName::Reference => by_fact,
        Order::CertainlyBefore => Placed::Before,
        Order::CertainlyAfter => Placed::After,
        Order::Undecided if is_ordered => by_fact,
        Order::Undecided => Placed::Undecided,
    }
}
