//! What a judgement asked of the clocks, so that whoever keeps findings knows when to judge again.
//!
//! A finding depends on the clocks only through these answers. After a new reading, or whatever else tells of clocks, a subject whose
//! questions are answered as before has the findings that it had ([`Clocks::still_answers`](crate::Clocks::still_answers)); most
//! subjects ask nothing, because what was seen decides.
//!
//! Deliberately absent: facts. What touches a subject is said by [`crate::touched_by`].

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use gladhand_facts::{LogId, Place};
use serde::{Deserialize, Serialize};

use crate::interval::Interval;
use crate::timed::{ClockName, Timed};

/// Something that was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Question {
    /// Which device's clock is the measure of the others, and whether there is one.
    Measure,
    /// When the fact at this place happened.
    Fact(Place),
    /// When a clock showed a time.
    Time(ClockName, i64),
    /// Whether these two times were read from one clock that ran through between them.
    OneClock(ClockName, i64, ClockName, i64),
    /// Whether the clock of a log ran through between two times.
    RanThrough(LogId, i64, i64),
    /// Everything that was measured. Only devices ask that.
    Everything,
}

/// The questions that were asked, with what was answered.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Asked {
    questions: BTreeSet<Question>,
    /// A hash of the answers, in the order of the questions.
    answers: [u8; 32],
}

impl Asked {
    /// Whether nothing was asked: whatever becomes known about clocks, the findings stay.
    pub fn is_nothing(&self) -> bool {
        self.questions.is_empty()
    }

    /// The logs of whose clocks something was asked; `None` when it was asked of all.
    pub fn logs(&self) -> Option<BTreeSet<LogId>> {
        let mut logs = BTreeSet::new();
        for question in &self.questions {
            match question {
                Question::Measure => {}
                Question::Fact(place) => drop(logs.insert(place.log)),
                Question::Time(clock, _) => logs.extend(log_of(*clock)),
                Question::OneClock(one, _, other, _) => logs.extend(log_of(*one).into_iter().chain(log_of(*other))),
                Question::RanThrough(log, ..) => drop(logs.insert(*log)),
                Question::Everything => return None,
            }
        }
        Some(logs)
    }

    /// The questions, in order.
    pub fn questions(&self) -> impl Iterator<Item = &Question> {
        self.questions.iter()
    }

    /// Whether these are the answers, given in the order of the questions.
    pub(crate) fn was_answered_by(&self, answers: impl IntoIterator<Item = Answer>) -> bool {
        self.answers == hash_of(answers)
    }
}

fn log_of(clock: ClockName) -> Option<LogId> {
    match clock {
        ClockName::Device(log) | ClockName::Person(log) => Some(log),
        ClockName::Reference => None,
    }
}

/// What was answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answer {
    Is(bool),
    Within(Option<Interval>),
    Hash([u8; 32]),
    /// Nobody can answer any more: the fact is gone.
    Gone,
}

fn hash_of(answers: impl IntoIterator<Item = Answer>) -> [u8; 32] {
    let mut hasher = blake3::Hasher::new();
    for answer in answers {
        match answer {
            Answer::Is(yes) => hasher.update(&[0, u8::from(yes)]),
            Answer::Within(None) => hasher.update(&[1]),
            Answer::Within(Some(Interval { from_us, to_us })) => {
                let bytes = [from_us.to_be_bytes(), to_us.to_be_bytes()].concat();
                hasher.update(&[2]).update(&bytes)
            }
            Answer::Hash(hash) => hasher.update(&[3]).update(&hash),
            Answer::Gone => hasher.update(&[4]),
        };
    }
    *hasher.finalize().as_bytes()
}

type Heard = Arc<Mutex<BTreeMap<Question, Answer>>>;

/// Hears what is asked, if anybody listens. That is no part of what is known, so all of them are equal.
#[derive(Debug, Clone, Default)]
pub(crate) struct Listener(Option<Heard>);

impl PartialEq for Listener {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for Listener {}

impl Listener {
    /// One that listens.
    pub(crate) fn listening() -> Self {
        Self(Some(Heard::default()))
    }

    /// Notes a question with its answer, which is worked out only if somebody listens, and once.
    pub(crate) fn hear(&self, question: Question, answer: impl FnOnce() -> Answer) {
        if let Some(heard) = &self.0 {
            let mut heard = heard.lock().unwrap_or_else(PoisonError::into_inner);
            heard.entry(question).or_insert_with(answer);
        }
    }

    /// All that was heard.
    pub(crate) fn asked(&self) -> Asked {
        let Some(heard) = &self.0 else {
            return Asked::default();
        };
        let heard = heard.lock().unwrap_or_else(PoisonError::into_inner);
        Asked {
            questions: heard.keys().copied().collect(),
            answers: hash_of(heard.values().copied()),
        }
    }
}

/// The time that a question is about.
pub(crate) fn time(timed: Timed) -> Question {
    Question::Time(timed.clock, timed.at_us)
}
