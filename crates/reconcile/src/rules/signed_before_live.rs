//! A sign-off, and the latest settings of the pair's tracker, after the link and before the sign-off, are not all live.
//!
//! None live in time, or all certainly later: stop. Only undecidable ones: ask. Settings asked for or failed after they were live
//! are live no longer. A decided failed or asked one beside an undecidable live one is a stop; an undecidable one beside a decided
//! live one an ask. Settings that name another camera do not count. Without a link only `signed-without-link` applies.
//!
//! Standing: the sign-off clashes with the `settings live` facts that come nearest to being in time, or with what overtook them. `-`
//! when there are neither.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::{About, Rule};
use super::signed::{self, Beside, Fault};
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::latest::latest;
use crate::placed::Placed;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::{NotLive, TrackerSettings};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::World;

pub(super) struct SignedBeforeLive;

impl Rule for SignedBeforeLive {
    fn name(&self) -> &'static str {
        "signed-before-live"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn about(&self) -> About {
        About::Work
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedBeforeLive, |sign_off, beside| {
            fault(world, job, sign_off, beside)
        })
    }
}

/// Whether settings lie after the link and before the sign-off. Ordered from bad to good.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Timing {
    Wrong,
    Undecided,
    InTime,
}

/// A linked tracker with its settings.
struct Linked<'a> {
    tracker: &'a str,
    links: Vec<&'a Tie>,
    live: Vec<Arc<RecordedFact>>,
    /// The facts by which the latest in time are not, or not certainly, live.
    overtaking: Vec<Arc<RecordedFact>>,
    /// Those of either that the sign-off clashes with.
    nearest: Vec<Arc<RecordedFact>>,
    timing: Timing,
}

fn fault(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>, beside: Beside<'_>) -> Option<Fault<NotLive>> {
    if !job.purpose_at(sign_off).wants_a_pair() {
        return None;
    }
    let mut by_pair: BTreeMap<(&str, &str), Vec<&Tie>> = BTreeMap::new();
    for link in job.live_as_of(sign_off) {
        by_pair
            .entry((&link.tracker_key, &link.camera_key))
            .or_default()
            .push(link);
    }
    let linked = by_pair.into_iter();
    let linked = linked.map(|((tracker, _), links)| Linked::read(world, tracker, links, beside));
    let mut not_live: Vec<Linked<'_>> = linked.filter(|l| l.timing != Timing::InTime).collect();
    let worst = not_live.iter().map(|l| l.timing).min()?;
    let links = not_live.iter().flat_map(|l| l.links.iter().map(|t| t.recorded.clone()));
    let evidence = links
        .chain(not_live.iter().flat_map(|l| l.overtaking.iter().cloned()))
        .collect();
    not_live.retain(|l| l.timing == worst);
    let nearest: Vec<_> = not_live.iter().flat_map(|l| l.nearest.iter().cloned()).collect();
    Some(Fault {
        severity: match worst {
            Timing::Wrong => Severity::Stop,
            _ => Severity::Ask,
        },
        awareness: Awareness::between(std::slice::from_ref(sign_off), &nearest),
        evidence,
        what: NotLive {
            trackers: not_live.iter().map(|l| l.settings(world)).collect(),
        },
    })
}

type Facts = Vec<Arc<RecordedFact>>;

impl<'a> Linked<'a> {
    /// The latest settings that are decided decide; where there are none, those that may have been in time.
    fn read(world: &World<'_>, tracker: &str, links: Vec<&'a Tie>, beside: Beside<'_>) -> Self {
        let mut all = world.facts.about(&Subject::Tracker(tracker.to_owned()));
        all.retain(|w| w.is(&Kind::Settings) && links.iter().any(|l| fits(w, l)));
        let timing = |w: &RecordedFact| timing_between(world, &links, w, beside);
        let timed: Vec<(Timing, Arc<RecordedFact>)> = all.into_iter().map(|w| (timing(&w), w)).collect();
        let of = |wanted: Timing| -> Facts {
            let found = timed.iter().filter(|(timing, _)| *timing == wanted);
            found.map(|(_, w)| w.clone()).collect()
        };
        let live: Vec<&(Timing, Arc<RecordedFact>)> = timed.iter().filter(|(_, w)| is_live(w)).collect();
        let reached = live.iter().map(|(timing, _)| *timing).max().unwrap_or(Timing::Wrong);
        let best = live.iter().filter(|(timing, _)| *timing == reached);
        let nearest: Facts = best.map(|(_, w)| w.clone()).collect();
        let (timing, overtaking) = weigh(world, &of(Timing::InTime), &of(Timing::Undecided));
        Self {
            tracker: links.first().map_or("", |link| &link.tracker),
            live: live.iter().map(|(_, w)| w.clone()).collect(),
            nearest: if overtaking.is_empty() {
                nearest
            } else {
                overtaking.clone()
            },
            links,
            overtaking,
            timing,
        }
    }

    fn settings(&self, world: &World<'_>) -> TrackerSettings {
        let links = self.links.iter().map(|t| FactRef::timed(&t.recorded, world.clocks));
        let live = self.live.iter().map(|w| FactRef::timed(w, world.clocks));
        let overtaking = self.overtaking.iter().map(|w| FactRef::timed(w, world.clocks));
        TrackerSettings {
            tracker: self.tracker.to_owned(),
            links: links.collect(),
            live: live.collect(),
            overtaking: overtaking.collect(),
        }
    }
}

/// What the settings come to, and the facts by which they are not live.
fn weigh(world: &World<'_>, decided: &[Arc<RecordedFact>], undecided: &[Arc<RecordedFact>]) -> (Timing, Facts) {
    let last = latest(world.clocks, decided);
    if last.is_empty() {
        let may_be_live = undecided.iter().any(|w| is_live(w));
        let timing = if may_be_live { Timing::Undecided } else { Timing::Wrong };
        return (timing, undecided.iter().filter(|w| !is_live(w)).cloned().collect());
    }
    let bad: Facts = last.iter().filter(|w| !is_live(w)).cloned().collect();
    if !bad.is_empty() {
        return (Timing::Wrong, bad);
    }
    // Of those that nobody can place the ones that may be later than what was live.
    let both = |w: &Arc<RecordedFact>| latest(world.clocks, &[last.as_slice(), std::slice::from_ref(w)].concat());
    let stands = |w: &&Arc<RecordedFact>| both(w).iter().any(|l| l.place == w.place);
    let doubtful: Facts = undecided
        .iter()
        .filter(|w| !is_live(w))
        .filter(stands)
        .cloned()
        .collect();
    if doubtful.is_empty() {
        (Timing::InTime, doubtful)
    } else {
        (Timing::Undecided, doubtful)
    }
}

fn is_live(settings: &RecordedFact) -> bool {
    settings.is_state(&Kind::Settings, "live")
}

/// Where settings lie between the link that suits them best and the sign-off.
fn timing_between(world: &World<'_>, links: &[&Tie], settings: &RecordedFact, beside: Beside<'_>) -> Timing {
    let before_sign_off = match beside.placed(settings) {
        Placed::Before => Timing::InTime,
        Placed::Undecided => Timing::Undecided,
        Placed::After | Placed::Afterwards => Timing::Wrong,
    };
    let fitting = links.iter().filter(|l| fits(settings, l));
    let timing = fitting.map(|l| after_link(world, &l.recorded, settings).min(before_sign_off));
    timing.max().unwrap_or(Timing::Wrong)
}

/// Settings that name a camera count only for the link to that camera.
pub(super) fn fits(settings: &RecordedFact, link: &Tie) -> bool {
    settings.key("camera").is_none_or(|camera| camera == link.camera_key)
}

/// Nobody who had seen the link can put settings before it by word.
fn after_link(world: &World<'_>, link: &RecordedFact, settings: &RecordedFact) -> Timing {
    match world.clocks.placed(settings, link) {
        Placed::After | Placed::Afterwards => Timing::InTime,
        Placed::Undecided => Timing::Undecided,
        Placed::Before => Timing::Wrong,
    }
}
