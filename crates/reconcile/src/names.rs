//! The names that people know devices by, and the spelling in which a subject is shown.
//!
//! Neither takes part in judging: they are looked up when something is put into words, so a rename or another spelling changes
//! what is read and not what is stored.

use std::collections::{BTreeMap, BTreeSet};

use std::borrow::Cow;

use gladhand_facts::{DeviceKey, Kind};

use crate::facts::Facts;
use crate::recorded_fact::RecordedFact;
use crate::subject::Subject;

/// Knows what devices are called.
pub trait Names {
    /// The name that people know a device by.
    fn device_name(&self, device: &DeviceKey) -> String;

    /// How a subject is shown. What knows no facts shows the key.
    fn spelling(&self, subject: &Subject) -> String {
        subject.text().into_owned()
    }
}

/// Names together with facts, which know the spellings.
pub struct Spelled<'a> {
    /// The names.
    pub names: &'a dyn Names,
    /// The facts.
    pub facts: &'a dyn Facts,
}

impl Names for Spelled<'_> {
    fn device_name(&self, device: &DeviceKey) -> String {
        self.names.device_name(device)
    }

    fn spelling(&self, subject: &Subject) -> String {
        spelling(self.facts, subject)
    }
}

/// The spelling of a list if the subject stands in one, else the most frequent one; of equally frequent ones the smallest.
pub fn spelling(facts: &dyn Facts, subject: &Subject) -> String {
    let Subject::Code(code) = subject else {
        return most_used(&facts.about(subject), subject);
    };
    // A code's facts are filed under what it is the code of.
    let classes = [
        Subject::Camera(code.clone()),
        Subject::Tracker(code.clone()),
        subject.clone(),
    ];
    let about: Vec<_> = classes.iter().flat_map(|s| facts.about(s)).collect();
    most_used(&about, subject)
}

/// All spellings of a subject.
pub(crate) fn spellings(facts: &dyn Facts, subject: &Subject) -> BTreeSet<String> {
    let classes = match subject {
        Subject::Code(code) => vec![
            Subject::Camera(code.clone()),
            Subject::Tracker(code.clone()),
            subject.clone(),
        ],
        _ => vec![subject.clone()],
    };
    let about: Vec<_> = classes.iter().flat_map(|s| facts.about(s)).collect();
    let mut named = BTreeSet::new();
    for recorded in &about {
        named.extend(keys_of(subject).iter().filter_map(|key| recorded.fact.text(key)));
    }
    let spellings = named.into_iter().filter(|text| is_spelling(text, subject));
    spellings.map(Cow::into_owned).collect()
}

fn is_spelling(text: &str, subject: &Subject) -> bool {
    Subject::from_text(subject.class(), text).as_ref() == Some(subject)
}

/// The same from the facts about it.
pub(crate) fn most_used<'w, W>(about: impl IntoIterator<Item = &'w W>, subject: &Subject) -> String
where
    W: AsRef<RecordedFact> + 'w,
{
    let mut uses: BTreeMap<Cow<'_, str>, (bool, usize)> = BTreeMap::new();
    // Most facts spell it as the one before.
    let mut run: Option<(Cow<'_, str>, (bool, usize))> = None;
    for recorded in about.into_iter().map(AsRef::as_ref) {
        let is_listed = recorded.is(&Kind::Stock);
        for text in keys_of(subject).iter().filter_map(|key| recorded.fact.text(key)) {
            match &mut run {
                Some((last, (listed, count))) if *last == text => {
                    *listed |= is_listed;
                    *count += 1;
                }
                _ => add_run(&mut uses, run.replace((text, (is_listed, 1)))),
            }
        }
    }
    add_run(&mut uses, run);
    uses.retain(|text, _| is_spelling(text, subject));
    // Of equal ones the first in the order of the texts.
    let best = uses
        .into_iter()
        .rev()
        .max_by_key(|(_, (listed, count))| (*listed, *count));
    best.map_or_else(|| subject.text().into_owned(), |(text, _)| text.into_owned())
}

/// Counts facts that follow each other with one spelling.
fn add_run<'t>(uses: &mut BTreeMap<Cow<'t, str>, (bool, usize)>, run: Option<(Cow<'t, str>, (bool, usize))>) {
    if let Some((text, (is_listed, count))) = run {
        let (listed, all) = uses.entry(text).or_default();
        *listed |= is_listed;
        *all += count;
    }
}

/// The keys under which a fact may name a subject.
fn keys_of(subject: &Subject) -> &'static [&'static str] {
    match subject {
        Subject::Job(_) => &["job"],
        Subject::Camera(_) => &["camera", "code"],
        Subject::Tracker(_) => &["tracker", "code"],
        Subject::Trailer(_) => &["trailer", "code"],
        Subject::Code(_) => &["code", "vin", "camera", "tracker"],
        Subject::Device(_) | Subject::Finding(_) | Subject::Picture(_) | Subject::List(_) => &[],
    }
}

/// Names held in memory. A device without one is called by the first digits of its key.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DeviceNames(BTreeMap<DeviceKey, String>);

impl DeviceNames {
    /// Gives a device its name.
    pub fn set(&mut self, device: DeviceKey, name: impl Into<String>) {
        self.0.insert(device, name.into());
    }
}

impl FromIterator<(DeviceKey, String)> for DeviceNames {
    fn from_iter<I: IntoIterator<Item = (DeviceKey, String)>>(names: I) -> Self {
        Self(names.into_iter().collect())
    }
}

impl Names for DeviceNames {
    fn device_name(&self, device: &DeviceKey) -> String {
        self.0.get(device).cloned().unwrap_or_else(|| device.short())
    }
}
