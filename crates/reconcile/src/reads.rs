//! The facts that the judgement of one subject reads: each subject's facts are read once, and what was read is noted.
//!
//! What a rule finds is a function of the facts that it reads. A view has fewer facts than there are now, never others, so a view
//! that includes all that the present judgement read gives the same judgement, and need not be judged ([`Noted::is_within`]). Views
//! that lack something are filtered from the facts that were read already ([`InView`]).
//!
//! Deliberately absent: anything that outlives the judgement of one subject.
//!
//! Invariant (held by `tests/shortcuts.rs`): with and without [`Shortcuts`] the findings are the same.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::ops::Range;
use std::rc::Rc;
use std::sync::Arc;

use gladhand_facts::{LogId, Place};

use crate::facts::{Facts, Fork, Sight};
use crate::recorded_fact::RecordedFact;
use crate::subject::{Class, Subject};

/// Whether work is saved where the findings cannot depend on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shortcuts {
    /// As always.
    Taken,
    /// Every view is judged, and everything is read anew: for tests, which compare the findings.
    Avoided,
}

/// See the module doc.
pub(crate) struct Reads<'a> {
    facts: &'a dyn Facts,
    shortcuts: Shortcuts,
    files: RefCell<BTreeMap<Subject, Rc<File>>>,
    firsts: RefCell<BTreeMap<Subject, Rc<[Place]>>>,
    near: RefCell<BTreeMap<(Class, String), Vec<String>>>,
    noted: RefCell<Noted>,
    /// Goes up whenever the notes are taken.
    round: Cell<u32>,
}

/// The facts filed under one subject.
struct File {
    /// In the order of places.
    facts: Vec<Arc<RecordedFact>>,
    /// Those of each log.
    logs: Vec<(LogId, Range<usize>)>,
    /// The last round in which it was noted.
    noted_in: Cell<u32>,
}

/// What was read.
#[derive(Default)]
pub(crate) struct Noted {
    files: Vec<Rc<File>>,
    /// Subjects under which something is filed, of which no more than that was asked.
    filed: Vec<Subject>,
    forks: Vec<Fork>,
    sights: Vec<Place>,
    /// It asked for all subjects of a class: views differ in that nearly always.
    has_listed_subjects: bool,
}

impl<'a> Reads<'a> {
    /// Nothing is read yet.
    pub fn of(facts: &'a dyn Facts, shortcuts: Shortcuts) -> Self {
        Self {
            facts,
            shortcuts,
            files: RefCell::default(),
            firsts: RefCell::default(),
            near: RefCell::default(),
            noted: RefCell::default(),
            round: Cell::new(1),
        }
    }

    /// What was read of the facts as they are now since this was last asked. What views read is not among it.
    pub fn take_noted(&self) -> Noted {
        self.round.set(self.round.get() + 1);
        self.noted.take()
    }

    /// Whether shortcuts are taken.
    pub fn saves_work(&self) -> bool {
        self.shortcuts == Shortcuts::Taken
    }

    fn file(&self, subject: &Subject) -> Rc<File> {
        if let Some(file) = self.files.borrow().get(subject) {
            return Rc::clone(file);
        }
        let file = Rc::new(File::of(self.facts.about(subject)));
        if self.saves_work() {
            self.files.borrow_mut().insert(subject.clone(), Rc::clone(&file));
        }
        file
    }

    /// The first place of each log that is filed under `subject`.
    fn firsts(&self, subject: &Subject) -> Rc<[Place]> {
        if let Some(firsts) = self.firsts.borrow().get(subject) {
            return Rc::clone(firsts);
        }
        let firsts: Rc<[Place]> = self.facts.first_places(subject).into();
        self.firsts.borrow_mut().insert(subject.clone(), Rc::clone(&firsts));
        firsts
    }
}

/// The facts as they are now.
impl Facts for Reads<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        let file = self.file(subject);
        if file.noted_in.replace(self.round.get()) != self.round.get() && !file.facts.is_empty() {
            self.noted.borrow_mut().files.push(Rc::clone(&file));
        }
        file.facts.clone()
    }

    fn is_filed(&self, subject: &Subject) -> bool {
        let is_filed = !self.firsts(subject).is_empty();
        if is_filed {
            self.noted.borrow_mut().filed.push(subject.clone());
        }
        is_filed
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        self.noted.borrow_mut().has_listed_subjects = true;
        self.facts.subjects(class)
    }

    /// The names are the same in every view.
    fn near(&self, class: Class, code: &str) -> Vec<String> {
        let mut known = self.near.borrow_mut();
        let found = known.entry((class, code.to_owned()));
        found.or_insert_with(|| self.facts.near(class, code)).clone()
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        self.facts.near_listed(class, code)
    }

    fn forks(&self) -> Vec<Fork> {
        let forks = self.facts.forks();
        self.noted.borrow_mut().forks.extend(forks.iter().cloned());
        forks
    }

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        let sight = self.facts.first_sight(log, place)?;
        self.noted.borrow_mut().sights.push(entry_of(*log, sight));
        Some(sight)
    }
}

impl File {
    fn of(facts: Vec<Arc<RecordedFact>>) -> Self {
        let mut logs: Vec<(LogId, Range<usize>)> = Vec::new();
        for (at, recorded) in facts.iter().enumerate() {
            match logs.last_mut() {
                Some((log, range)) if *log == recorded.place.log => range.end = at + 1,
                _ => logs.push((recorded.place.log, at..at + 1)),
            }
        }
        Self {
            facts,
            logs,
            noted_in: Cell::new(0),
        }
    }

    fn of_log(&self, range: &Range<usize>) -> &[Arc<RecordedFact>] {
        self.facts.get(range.clone()).unwrap_or_default()
    }

    /// The facts that are in view. Whoever had seen a fact had seen those before it in its log.
    fn seen(&self, view: &InView<'_>) -> Vec<Arc<RecordedFact>> {
        let mut found = Vec::with_capacity(self.facts.len());
        for (_, range) in &self.logs {
            let of_log = self.of_log(range);
            let seen = of_log.partition_point(|w| view.includes(&w.place));
            found.extend(of_log.iter().take(seen).cloned());
        }
        found
    }

    fn is_within(&self, view: &InView<'_>) -> bool {
        let mut lasts = self.logs.iter().map(|(_, range)| self.of_log(range).last());
        lasts.all(|last| last.is_none_or(|w| view.includes(&w.place)))
    }
}

impl Noted {
    /// Whether a view answers all that was asked as the facts as they are now.
    pub fn is_within(&self, view: &InView<'_>) -> bool {
        !self.has_listed_subjects
            && self.files.iter().all(|file| file.is_within(view))
            && self.filed.iter().all(|subject| view.is_filed(subject))
            && self.forks.iter().all(|fork| view.knows(fork))
            && self.sights.iter().all(|sight| view.of.has_seen(sight))
    }
}

/// The facts that the recorder of one fact had in view when it wrote that, without or with that fact itself.
pub(crate) struct InView<'a> {
    reads: &'a Reads<'a>,
    of: &'a RecordedFact,
    with_own: bool,
}

impl<'a> InView<'a> {
    /// What was in view of the recorder of `of`.
    pub fn of(reads: &'a Reads<'a>, of: &'a RecordedFact, with_own: bool) -> Self {
        Self { reads, of, with_own }
    }

    fn includes(&self, place: &Place) -> bool {
        self.of.has_seen(place) || (self.with_own && *place == self.of.place)
    }

    fn knows(&self, fork: &Fork) -> bool {
        fork.evidence.iter().all(|place| self.of.has_seen(place))
    }
}

impl Facts for InView<'_> {
    fn about(&self, subject: &Subject) -> Vec<Arc<RecordedFact>> {
        if self.reads.saves_work() {
            return self.reads.file(subject).seen(self);
        }
        let mut found = self.reads.facts.about(subject);
        found.retain(|w| self.includes(&w.place));
        found
    }

    fn is_filed(&self, subject: &Subject) -> bool {
        if self.reads.saves_work() {
            self.reads.firsts(subject).iter().any(|place| self.includes(place))
        } else {
            !self.about(subject).is_empty()
        }
    }

    fn subjects(&self, class: Class) -> Vec<Subject> {
        let mut found = self.reads.facts.subjects(class);
        found.retain(|s| !self.about(s).is_empty());
        found
    }

    fn near(&self, class: Class, code: &str) -> Vec<String> {
        self.reads.near(class, code)
    }

    fn near_listed(&self, class: Class, code: &str) -> Vec<String> {
        self.reads.near_listed(class, code)
    }

    fn forks(&self) -> Vec<Fork> {
        let mut found = self.reads.facts.forks();
        found.retain(|fork| self.knows(fork));
        found
    }

    fn first_sight(&self, log: &LogId, place: &Place) -> Option<Sight> {
        let sight = self.reads.facts.first_sight(log, place)?;
        self.of.has_seen(&entry_of(*log, sight)).then_some(sight)
    }
}

fn entry_of(log: LogId, sight: Sight) -> Place {
    Place {
        log,
        seq: sight.seq,
        index: 0,
    }
}
