//! Judging: all rules over one subject, or over all.
//!
//! A rule says what contradicts what now. What became of a finding is decided here, for all rules alike:
//!
//! - A finding is cleared only if it stood open before: it was open in the view of whoever recorded a fact that put it right.
//! - A finding that stood open in the view of such a recorder does not vanish: it is cleared, and says by what.
//! - What is open about the sign-offs of a job is cleared when a later job speaks for the trailer and was signed with it in view.

use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use std::sync::Arc;

use gladhand_facts::Place;

use crate::asked::{Asked, Listener};
use crate::case::{Answers, CODED, Case};
use crate::counting::Counting;
use crate::draft::Draft;
use crate::finding::{Finding, HowPutRight};
use crate::job::JobView;
use crate::purpose::Purpose;
use crate::reads::{InView, Noted, Reads, Shortcuts};
use crate::recorded_fact::RecordedFact;
use crate::rules;
use crate::rules::rule::{About, Rule};
use crate::subject::{Class, Subject};
use crate::trailer::{has_seen, speaker};
use crate::world::World;

/// What the rules find on `subject`, in the order of the rules.
pub fn judge_subject(world: &World<'_>, subject: &Subject) -> Vec<Finding> {
    judge_with(world, subject, Shortcuts::Taken)
}

/// The same, with what was asked of the clocks.
pub fn judge_subject_asked(world: &World<'_>, subject: &Subject) -> (Vec<Finding>, Asked) {
    let listener = Listener::listening();
    let clocks = world.clocks.heard_by(listener.clone());
    let world = World {
        clocks: &clocks,
        ..*world
    };
    (judge_subject(&world, subject), listener.asked())
}

/// The same without any shortcut, which must not show.
#[doc(hidden)]
pub fn judge_subject_at_length(world: &World<'_>, subject: &Subject) -> Vec<Finding> {
    judge_with(world, subject, Shortcuts::Avoided)
}

fn judge_with(world: &World<'_>, subject: &Subject, shortcuts: Shortcuts) -> Vec<Finding> {
    let rules: Vec<&dyn Rule> = rules::on(subject.class()).collect();
    if rules.is_empty() {
        return Vec::new();
    }
    let reads = Reads::of(world.facts, shortcuts);
    let all = World {
        facts: &reads,
        ..*world
    };
    let counting = Counting::new(&all);
    let now = World {
        facts: &counting,
        ..*world
    };
    let answers = Rc::default();
    let case = Case::load(&now, &all, subject, &answers);
    let court = Court::of(&reads, &now, &case, answers);
    let found = rules.into_iter().filter_map(|rule| {
        let draft = court.judge(rule)?;
        Some(draft.finish(&now, rule.name(), subject))
    });
    found.collect()
}

/// One subject with all that its findings are judged by, now and in the views of those who recorded something about it.
struct Court<'a> {
    reads: &'a Reads<'a>,
    now: &'a World<'a>,
    case: &'a Case,
    answers: Rc<Answers>,
    /// What was read for the case.
    read_for_case: Noted,
    /// Those who recorded something about the subject, each as of the last fact before something new came into view.
    viewers: Vec<Rc<Viewer>>,
    /// All whose view was looked into before they recorded a fact, by its place.
    before: RefCell<BTreeMap<Place, Rc<Viewer>>>,
}

/// A fact, and what its recorder had in view. Each is read when it is first asked for.
struct Viewer {
    fact: Arc<RecordedFact>,
    /// Whether the fact itself is in view.
    with_own: bool,
    case: OnceCell<Case>,
    has_whole_case: OnceCell<bool>,
}

impl<'a> Court<'a> {
    fn of(reads: &'a Reads<'a>, now: &'a World<'a>, case: &'a Case, answers: Rc<Answers>) -> Self {
        let ends = ends_of(case, now);
        case.named_jobs(now);
        let mut court = Self {
            read_for_case: reads.take_noted(),
            viewers: Vec::new(),
            before: RefCell::default(),
            reads,
            now,
            case,
            answers,
        };
        let facts = last_before_news(&case.facts);
        // A sign-off is often the last fact of its log too; its view is read once.
        let mut known = BTreeSet::new();
        let before = ends.iter().chain(&facts).filter(|fact| known.insert(fact.place));
        court.viewers = before.map(|fact| court.before(fact)).collect();
        court
            .viewers
            .extend(facts.into_iter().map(|fact| Rc::new(Viewer::of(fact, true))));
        court
    }

    /// What one rule finds, with what became of it.
    fn judge(&self, rule: &dyn Rule) -> Option<Draft> {
        let draft = rule.judge(self.now, self.case);
        let read = self.reads.take_noted();
        match draft {
            Some(draft) if !draft.is_cleared() => {
                let takers = taken_over(self.now, self.case, rule, &draft);
                let Some(last) = takers.last() else { return Some(draft) };
                let stood_open =
                    takers.iter().any(|s| self.is_open_for(rule, &read, s)) || self.seen_open(rule, &read).is_some();
                stood_open.then(|| draft.put_right_by(last, HowPutRight::ByLaterJob))
            }
            Some(draft) if draft.resolved_by().is_empty() => Some(draft),
            Some(draft) if draft.resolved_by().iter().any(|by| self.is_open_for(rule, &read, by)) => Some(draft),
            Some(draft) => self.seen_open(rule, &read).map(|_| draft),
            None => self.vanished(rule, &read),
        }
    }

    /// A finding that is no more, but that somebody had open in view who recorded something about the subject.
    fn vanished(&self, rule: &dyn Rule, read: &Noted) -> Option<Draft> {
        let mut rights = rule.rights(self.now, self.case);
        rights.sort_by_key(|w| w.place);
        rights.dedup_by_key(|w| w.place);
        for by in &rights {
            if let Some(draft) = self.open_for(rule, read, &self.before(by)) {
                return Some(draft.put_right_by(by, HowPutRight::ByFact));
            }
        }
        let (viewer, draft) = self.seen_open(rule, read)?;
        let is_news = |w: &&Arc<RecordedFact>| !viewer.has_seen(&w.place) && w.place != viewer.place;
        let by = rights
            .iter()
            .find(is_news)
            .or_else(|| self.case.facts.iter().find(is_news));
        Some(draft.put_right_by(by.unwrap_or(&viewer), HowPutRight::ByFact))
    }

    /// Somebody who had the finding open in view, with the finding as it was then.
    fn seen_open(&self, rule: &dyn Rule, read: &Noted) -> Option<(Arc<RecordedFact>, Draft)> {
        let seen = |viewer: &Rc<Viewer>| Some((viewer.fact.clone(), self.open_for(rule, read, viewer)?));
        self.viewers.iter().find_map(seen)
    }

    fn is_open_for(&self, rule: &dyn Rule, read: &Noted, by: &Arc<RecordedFact>) -> bool {
        self.open_for(rule, read, &self.before(by)).is_some()
    }

    /// The finding, if it was open in that view. `read` is what was read for it now, where it is not open.
    fn open_for(&self, rule: &dyn Rule, read: &Noted, viewer: &Viewer) -> Option<Draft> {
        let view = InView::of(self.reads, &viewer.fact, viewer.with_own);
        if self.reads.saves_work() && viewer.has_whole(&self.read_for_case, &view) && read.is_within(&view) {
            return None;
        }
        let seen = World {
            facts: &view,
            ..*self.now
        };
        let counting = Counting::new(&seen);
        let then = World {
            facts: &counting,
            ..*self.now
        };
        let load = || Case::load(&then, &seen, &self.case.subject, &self.fresh_or_known_answers());
        let case = viewer.case.get_or_init(load);
        let draft = rule.judge(&then, case).filter(|draft| !draft.is_cleared())?;
        taken_over(&then, case, rule, &draft).is_empty().then_some(draft)
    }

    fn fresh_or_known_answers(&self) -> Rc<Answers> {
        if self.reads.saves_work() {
            Rc::clone(&self.answers)
        } else {
            Rc::default()
        }
    }

    /// Whoever recorded `fact`, before that.
    fn before(&self, fact: &Arc<RecordedFact>) -> Rc<Viewer> {
        let mut known = self.before.borrow_mut();
        let viewer = known.entry(fact.place);
        let viewer = viewer.or_insert_with(|| Rc::new(Viewer::of(Arc::clone(fact), false)));
        Rc::clone(viewer)
    }
}

/// The last fact of each log, and those after which something new came into view. The facts stand in the order of places, so those of a
/// log are together.
fn last_before_news(facts: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let is_last = |pair: &[Arc<RecordedFact>]| match pair {
        [a, b] => a.place.log != b.place.log || (!Arc::ptr_eq(&a.seen, &b.seen) && a.seen != b.seen),
        _ => true,
    };
    let are_last = facts.windows(2).map(is_last).chain([true]);
    let lasts = facts.iter().zip(are_last).filter(|(_, is_last)| *is_last);
    lasts.map(|(fact, _)| fact.clone()).collect()
}

/// What ends jobs: sign-offs and stand-downs of this one and of the others on its trailer.
fn ends_of(case: &Case, world: &World<'_>) -> Vec<Arc<RecordedFact>> {
    let Some(job) = case.job() else { return Vec::new() };
    let jobs = case.siblings(world).iter().chain([job]);
    jobs.flat_map(|job| job.sign_offs.iter().chain(&job.stand_downs))
        .cloned()
        .collect()
}

impl Viewer {
    /// What the recorder of `fact` had in view when it recorded it; with the fact itself, as its receipt told.
    fn of(fact: Arc<RecordedFact>, with_own: bool) -> Self {
        Self {
            fact,
            with_own,
            case: OnceCell::new(),
            has_whole_case: OnceCell::new(),
        }
    }

    /// Whether all was in view that was read for the case as it is now.
    fn has_whole(&self, case: &Noted, view: &InView<'_>) -> bool {
        *self.has_whole_case.get_or_init(|| case.is_within(view))
    }
}

/// The sign-offs of later jobs on the trailer that answer for what was found on this job's, in the order of jobs and places. None as
/// long as nobody speaks for the trailer. What one of them answered for does not come back when yet another job speaks.
fn taken_over(world: &World<'_>, case: &Case, rule: &dyn Rule, draft: &Draft) -> Vec<Arc<RecordedFact>> {
    let about = rule.about();
    let Some(job) = case
        .job()
        .filter(|job| about != About::Other && !job.sign_offs.is_empty())
    else {
        return Vec::new();
    };
    let siblings = case.siblings(world);
    let jobs: Vec<&JobView> = siblings.iter().chain([job]).collect();
    if speaker(&jobs).is_none() {
        return Vec::new();
    }
    let signed = siblings.iter().filter(|other| other.is_signed());
    let is_known = |one: &JobView| {
        let others = siblings
            .iter()
            .filter(|other| other.is_signed() && other.key != one.key);
        others
            .into_iter()
            .all(|other| has_seen(one, other) || has_seen(other, one))
    };
    let answers = |other: &JobView, s: &RecordedFact| {
        let purpose = other.purpose_at(s);
        let is_later = job.latest_sign_offs().iter().all(|own| own.happens_before(s));
        is_later && (purpose != Purpose::Prove || about == About::Proof) && draft.is_seen_by(s)
    };
    let takers = signed.filter(|other| is_known(other)).flat_map(|other| {
        let sign_offs = other.latest_sign_offs().into_iter();
        sign_offs.filter(move |s| answers(other, s)).collect::<Vec<_>>()
    });
    takers.collect()
}

/// What the rules find on every subject, in the order of the rules, then of the subjects.
pub fn judge_all(world: &World<'_>) -> Vec<Finding> {
    let subjects = Class::ALL.into_iter().flat_map(|class| candidates(world, class));
    let mut found: Vec<Finding> = subjects.flat_map(|s| judge_subject(world, &s)).collect();
    sort(&mut found);
    found
}

/// The subjects of `class` that may have findings.
pub fn candidates(world: &World<'_>, class: Class) -> BTreeSet<Subject> {
    if class == Class::List {
        return BTreeSet::new();
    }
    let mut found: BTreeSet<Subject> = world.facts.subjects(class).into_iter().collect();
    if class == Class::Code {
        let coded = CODED.into_iter().flat_map(|class| world.facts.subjects(class));
        found.extend(coded.map(|s| Subject::Code(s.text().into_owned())));
    }
    if class == Class::Device {
        let forked = world.facts.forks().into_iter();
        found.extend(forked.map(|f| Subject::Device(f.log.device)));
        let read = world.clocks.readings().iter().flat_map(|r| [r.device, r.peer]);
        found.extend(read.map(Subject::Device));
        let odd = world.clocks.oddities().iter().map(|odd| odd.log.device);
        found.extend(odd.map(Subject::Device));
    }
    found
}

/// Puts findings into the order of the rules, then of the subjects' texts.
pub fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let rank = |f: &Finding| rules::rank(&f.rule);
        (rank(a), a.subject.text(), &a.id).cmp(&(rank(b), b.subject.text(), &b.id))
    });
}
