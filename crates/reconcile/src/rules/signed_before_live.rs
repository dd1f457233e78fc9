//! A sign-off, and no `settings live` for the linked tracker, after the link, is before it.
//!
//! Before = happens-before, or certainly earlier by corrected time. None, or all certainly elsewhere: stop.
//! Only undecidable ones: ask. Without a link `signed-without-link` speaks and this rule is silent.
//!
//! Standing: the sign-off clashes with those `settings live` that come nearest to being in time. `-` when there are none.

use std::collections::BTreeMap;
use std::sync::Arc;

use gladhand_facts::Kind;

use super::rule::Rule;
use super::signed::{self, Trouble, signed_off};
use crate::awareness::Awareness;
use crate::clocks::Order;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::JobView;
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};
use crate::ties::Tie;
use crate::words::{deed, deeds, listed};
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
        signed::judge(world, job, |sign_off| trouble(world, job, sign_off))
    }
}

/// How well a fact stands where it should. Ordered from bad to good.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stands {
    Wrong,
    Undecided,
    Right,
}

/// A linked tracker whose settings were not certainly live.
struct Lacking<'a> {
    tracker: &'a str,
    links: Vec<&'a Tie>,
    lives: Vec<Arc<RecordedFact>>,
    /// Those of them that stand best.
    nearest: Vec<Arc<RecordedFact>>,
    stands: Stands,
}

fn trouble(world: &World<'_>, job: &JobView, sign_off: &Arc<RecordedFact>) -> Option<Trouble> {
    let mut linked: BTreeMap<&str, Vec<&Tie>> = BTreeMap::new();
    for link in job.ties.live_as_of(world.clocks, sign_off) {
        linked.entry(&link.tracker).or_default().push(link);
    }
    let weighed = linked
        .into_iter()
        .map(|(tracker, links)| weigh(world, tracker, links, sign_off));
    let mut lacking: Vec<Lacking<'_>> = weighed.filter(|l| l.stands != Stands::Right).collect();
    let worst = lacking.iter().map(|l| l.stands).min()?;
    let links = lacking.iter().flat_map(|l| l.links.iter().map(|t| t.recorded.clone()));
    let lives = lacking.iter().flat_map(|l| l.lives.iter().cloned());
    let evidence = links.chain(lives).collect();
    lacking.retain(|l| l.stands == worst);
    let nearest: Vec<_> = lacking.iter().flat_map(|l| l.nearest.iter().cloned()).collect();
    Some(Trouble {
        severity: if worst == Stands::Wrong {
            Severity::Stop
        } else {
            Severity::Ask
        },
        awareness: Awareness::between(std::slice::from_ref(sign_off), &nearest),
        evidence,
        says: says(world, job, sign_off, &lacking, worst),
        next: next(worst).to_owned(),
    })
}

/// Weighs every `settings live` of the tracker against every link of it, and keeps the best answer.
fn weigh<'a>(world: &World<'_>, tracker: &'a str, links: Vec<&'a Tie>, sign_off: &RecordedFact) -> Lacking<'a> {
    let mut lives = world.facts.about(&Subject::Tracker(tracker.to_owned()));
    lives.retain(|w| w.is_state(&Kind::Settings, "live") && links.iter().any(|l| fits(w, l)));
    let best = |live: &Arc<RecordedFact>| {
        let fitting = links.iter().filter(|l| fits(live, l));
        let stands = fitting.map(|l| after_link(world, &l.recorded, live).min(before_sign_off(world, live, sign_off)));
        stands.max().unwrap_or(Stands::Wrong)
    };
    let weighed: Vec<(Stands, &Arc<RecordedFact>)> = lives.iter().map(|live| (best(live), live)).collect();
    let stands = weighed.iter().map(|(stands, _)| *stands).max().unwrap_or(Stands::Wrong);
    let nearest = weighed.iter().filter(|(s, _)| *s == stands);
    let nearest = nearest.map(|(_, live)| Arc::clone(live)).collect();
    Lacking {
        tracker,
        links,
        lives,
        nearest,
        stands,
    }
}

/// Settings that name a camera speak only about the link to that camera.
fn fits(live: &RecordedFact, link: &Tie) -> bool {
    live.fact.text("camera").is_none_or(|camera| camera == link.camera)
}

fn after_link(world: &World<'_>, link: &RecordedFact, live: &RecordedFact) -> Stands {
    if world.clocks.before(link, live) {
        Stands::Right
    } else if world.clocks.before(live, link) {
        Stands::Wrong
    } else {
        Stands::Undecided
    }
}

fn before_sign_off(world: &World<'_>, live: &RecordedFact, sign_off: &RecordedFact) -> Stands {
    if world.clocks.before(live, sign_off) {
        Stands::Right
    } else if world.clocks.order(live, sign_off) == Order::CertainlyAfter || sign_off.happens_before(live) {
        Stands::Wrong
    } else {
        Stands::Undecided
    }
}

fn says(world: &World<'_>, job: &JobView, sign_off: &RecordedFact, lacking: &[Lacking<'_>], worst: Stands) -> String {
    let signed = signed_off(world, job, sign_off);
    let trackers = listed(lacking.iter().map(|l| l.tracker.to_owned()));
    let lives: Vec<_> = lacking.iter().flat_map(|l| l.lives.iter().cloned()).collect();
    let recorded = deeds(world, &lives);
    match (worst, lives.is_empty()) {
        (Stands::Wrong, true) => {
            let links = listed(lacking.iter().flat_map(|l| &l.links).map(|t| deed(world, &t.recorded)));
            format!("{signed}, but nothing says that tracker {trackers}, linked by {links}, ever had live settings")
        }
        (Stands::Wrong, false) => {
            format!(
                "{signed}, but the settings of tracker {trackers} were not live between its link and the sign-off: recorded live by {recorded}"
            )
        }
        _ => format!(
            "{signed}, and it cannot be told whether the settings of tracker {trackers} were live by then: recorded live by {recorded}"
        ),
    }
}

fn next(worst: Stands) -> &'static str {
    match worst {
        Stands::Wrong => {
            "Do not rely on the camera: check that the settings are live, take a new proof picture, then sign off again."
        }
        _ => {
            "Compare with the server's time for these settings; if they were live, rule on it, otherwise sign off again."
        }
    }
}
