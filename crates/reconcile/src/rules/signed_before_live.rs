//! A sign-off, and the latest settings of the linked tracker, after the link and before the sign-off, are not live.
//!
//! Before = happens-before, or certainly earlier by corrected time. None live in time, or none at all: stop. Undecidable: ask.
//! Settings asked for or failed after they were live are live no longer; failed ones of which nobody can tell whether they came after
//! are a stop as well (concurrent latest are not all live), asked ones an ask: two people often ask. Only what was certainly recorded
//! before the sign-off overtakes. Without a link only `signed-without-link` applies.
//!
//! Standing: the sign-off clashes with the `settings live` facts that come nearest to being in time, or with what overtook them. `-`
//! when there are neither.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use super::signed::{self, Fault};
use crate::awareness::Awareness;
use crate::clocks::Order;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::sign_off::{NotLive, TrackerSettings};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::world::{Case, World};

pub(super) struct SignedBeforeLive;

impl Rule for SignedBeforeLive {
    fn name(&self) -> &'static str {
        "signed-before-live"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Job]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let job = case.job()?;
        signed::judge(world, job, Reason::SignedBeforeLive, |sign_off| {
            fault(world, job, sign_off)
        })
    }
}

/// Whether settings went live after the link and before the sign-off. Ordered from bad to good.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Timing {
    Wrong,
    Undecided,
    InTime,
}

/// A linked tracker with its `settings live` facts.
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

fn fault(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Fault<NotLive>> {
    let mut by_tracker: BTreeMap<&str, Vec<&Tie>> = BTreeMap::new();
    for link in job.ties.live_as_of(world.clocks, sign_off) {
        by_tracker.entry(&link.tracker).or_default().push(link);
    }
    let linked = by_tracker.into_iter();
    let linked = linked.map(|(tracker, links)| Linked::read(world, tracker, links, sign_off));
    let mut not_live: Vec<Linked<'_>> = linked.filter(|l| l.timing != Timing::InTime).collect();
    let worst = not_live.iter().map(|l| l.timing).min()?;
    let links = not_live.iter().flat_map(|l| l.links.iter().map(|t| t.recorded.clone()));
    let evidence = links
        .chain(not_live.iter().flat_map(|l| l.live.iter().cloned()))
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

impl<'a> Linked<'a> {
    /// Weighs every `settings live` of the tracker against every link of it and what overtook it, and keeps the best answer.
    fn read(world: &World<'_>, tracker: &'a str, links: Vec<&'a Tie>, sign_off: &RecordedFact) -> Self {
        let mut all = world.facts.about(&Subject::Tracker(tracker.to_owned()));
        all.retain(|w| *w.fact.kind() == Kind::Settings && links.iter().any(|l| fits(w, l)));
        let (live, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|w| w.is_state(&Kind::Settings, "live"));
        let between = |settings: &RecordedFact| timing_between(world, &links, settings, sign_off);
        let timed: Vec<(Timing, &Arc<RecordedFact>)> = live.iter().map(|live| (between(live), live)).collect();
        let reached = timed.iter().map(|(timing, _)| *timing).max().unwrap_or(Timing::Wrong);
        let best = timed.iter().filter(|(t, _)| *t == reached);
        let best: Vec<Arc<RecordedFact>> = best.map(|(_, live)| Arc::clone(live)).collect();
        let others = others.into_iter().filter(|other| between(other) == Timing::InTime);
        let others: Vec<Arc<RecordedFact>> = others.collect();
        let (timing, overtaking) = match reached {
            Timing::InTime => overtaken(world, &best, &others),
            _ => (reached, Vec::new()),
        };
        let nearest = if overtaking.is_empty() {
            best
        } else {
            overtaking.clone()
        };
        Self {
            tracker,
            links,
            live,
            overtaking,
            nearest,
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

/// Where settings lie between the link that suits them best and the sign-off.
fn timing_between(world: &World<'_>, links: &[&Tie], settings: &RecordedFact, sign_off: &RecordedFact) -> Timing {
    let fitting = links.iter().filter(|l| fits(settings, l));
    let timing =
        fitting.map(|l| after_link(world, &l.recorded, settings).min(before_sign_off(world, settings, sign_off)));
    timing.max().unwrap_or(Timing::Wrong)
}

/// What the settings in time come to once those that are not live are looked at: the latest decide.
fn overtaken(
    world: &World<'_>,
    live: &[Arc<RecordedFact>],
    others: &[Arc<RecordedFact>],
) -> (Timing, Vec<Arc<RecordedFact>>) {
    let weigh = |other: &Arc<RecordedFact>| {
        if live.iter().any(|live| world.clocks.before(other, live)) {
            Timing::InTime
        } else if other.is_state(&Kind::Settings, "failed") || live.iter().all(|l| world.clocks.before(l, other)) {
            Timing::Wrong
        } else {
            Timing::Undecided
        }
    };
    let weighed: Vec<(Timing, &Arc<RecordedFact>)> = others.iter().map(|other| (weigh(other), other)).collect();
    let worst = weighed
        .iter()
        .map(|(timing, _)| *timing)
        .min()
        .unwrap_or(Timing::InTime);
    let overtaking = weighed
        .iter()
        .filter(|(timing, _)| *timing == worst && worst != Timing::InTime);
    (worst, overtaking.map(|(_, other)| Arc::clone(other)).collect())
}

/// Settings that name a camera count only for the link to that camera.
fn fits(live: &RecordedFact, link: &Tie) -> bool {
    live.fact.text("camera").is_none_or(|camera| camera == link.camera)
}

fn after_link(world: &World<'_>, link: &RecordedFact, live: &RecordedFact) -> Timing {
    if world.clocks.before(link, live) {
        Timing::InTime
    } else if world.clocks.before(live, link) {
        Timing::Wrong
    } else {
        Timing::Undecided
    }
}

fn before_sign_off(world: &World<'_>, live: &RecordedFact, sign_off: &RecordedFact) -> Timing {
    if world.clocks.before(live, sign_off) {
        Timing::InTime
    } else if world.clocks.order(live, sign_off) == Order::CertainlyAfter || sign_off.happens_before(live) {
        Timing::Wrong
    } else {
        Timing::Undecided
    }
}
