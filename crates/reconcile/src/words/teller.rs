//! What every sentence about a finding is made with: the finding, and the names of devices.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, LogId};
use gladhand_trade::names::APPROVAL;

use crate::finding::{Finding, HowPutRight, PutRight, Status};
use crate::names::Names;
use crate::reason::fact_ref::{FactLabel, FactRef};
use crate::reason::knowledge::{Knowledge, Recorded};
use crate::reason::sign_off::Resolution;
use crate::subject::Subject;
use crate::words::described::{NextStep, Step};
use crate::words::phrases::{label, listed, span, when};

/// A finding with the names that its sentences need.
pub(super) struct Teller<'a> {
    pub finding: &'a Finding,
    pub names: &'a dyn Names,
}

impl Teller<'_> {
    /// The subject's code, job or unit number, as it is shown.
    pub fn subject(&self) -> String {
        self.names.spelling(&self.finding.subject)
    }

    /// Whether it is cleared by something of which the reason speaks.
    pub fn is_cleared(&self) -> bool {
        self.finding.status == Status::Cleared && self.finding.put_right.is_none()
    }

    /// `put right since by the withdrawal in job J1, by …`.
    pub fn put_right(&self, put_right: &PutRight) -> String {
        let by = self.author(&put_right.fact);
        match put_right.how {
            HowPutRight::ByFact if is_approval(&put_right.what) => {
                format!("put right since by the {}", self.approval(&put_right.fact))
            }
            HowPutRight::ByFact => format!("put right since by {}, recorded by {by}", label(&put_right.what)),
            HowPutRight::ByLaterJob => {
                format!(
                    "a later job speaks for this trailer: {} by {by}",
                    label(&put_right.what)
                )
            }
        }
    }

    /// Trailers by their keys, as they are shown.
    pub fn trailers<'k>(&self, keys: impl IntoIterator<Item = &'k String>) -> String {
        let shown = |key: &String| self.names.spelling(&Subject::Trailer(key.clone()));
        listed(keys.into_iter().map(shown))
    }

    pub fn name(&self, device: &DeviceKey) -> String {
        self.names.device_name(device)
    }

    /// `mara on lap-1 (2026-03-02 10:12)`.
    pub fn author(&self, fact: &FactRef) -> String {
        let by = fact.by.as_deref().unwrap_or("somebody");
        let device = self.name(&fact.place.log.device);
        format!("{by} on {device} ({})", when(&fact.at))
    }

    /// `approval of ida, recorded on lap-1 (2026-03-02 10:12)`.
    pub fn approval(&self, fact: &FactRef) -> String {
        let by = fact.by.as_deref().unwrap_or("somebody");
        let device = self.name(&fact.place.log.device);
        format!("approval of {by}, recorded on {device} ({})", when(&fact.at))
    }

    /// Several authors, listed.
    pub fn authors<'f>(&self, facts: impl IntoIterator<Item = &'f FactRef>) -> String {
        listed(facts.into_iter().map(|fact| self.author(fact)))
    }

    /// A step in the job that the finding is about.
    pub fn step_in_job(&self, step: Step) -> NextStep {
        NextStep {
            job: Some(self.subject()),
            ..NextStep::new(step)
        }
    }

    /// The same, where a ruling may end the finding.
    pub fn ruling_in_job(&self, step: Step) -> NextStep {
        NextStep {
            finding: Some(self.finding.id.clone()),
            ..self.step_in_job(step)
        }
    }

    /// `the job was stood down since by …`.
    pub fn resolution(&self, resolution: &Resolution) -> String {
        let (end, by) = match resolution {
            Resolution::SignedAgain(by) => ("signed off again", by),
            Resolution::StoodDown(by) => ("stood down", by),
        };
        format!("the job was {end} since by {}", self.authors(by))
    }

    /// See [`clause`].
    pub fn knowledge(&self, knowledge: &Knowledge) -> String {
        clause(knowledge, "fact", self.names)
    }

    /// The same for facts of one sort.
    pub fn knowledge_of(&self, knowledge: &Knowledge, sort: &str) -> String {
        clause(knowledge, sort, self.names)
    }
}

fn is_approval(what: &FactLabel) -> bool {
    matches!(what, FactLabel::Check { check: Some(check), .. } if check == APPROVAL)
}

/// A clause behind `; ` that says what the recorders had seen of each other; empty when there is nothing to say. `sort` is what
/// the facts of [`Knowledge::NoneOf`] are called.
pub(crate) fn clause(knowledge: &Knowledge, sort: &str, names: &dyn Names) -> String {
    let clause = match knowledge {
        Knowledge::NoClash => None,
        Knowledge::Neither(one, other) => Some(neither(one, other, names)),
        Knowledge::NoneOf(logs) => none_of(logs, sort, names),
        Knowledge::Seen {
            by,
            earlier,
            own,
            held_us,
        } => Some(held(&names.device_name(by), &label(earlier), *own, *held_us)),
    };
    clause.map_or_else(String::new, |clause| format!("; {clause}"))
}

/// `lap-a had not seen the unlink of C1 from T1, nor lap-b the sign-off of J1`.
fn neither(one: &Recorded, other: &Recorded, names: &dyn Names) -> String {
    let (name, fact) = (names.device_name(&one.device), label(&one.fact));
    let (other_name, other_fact) = (names.device_name(&other.device), label(&other.fact));
    if one.device == other.device {
        return format!("neither copy of {name} had seen what the other recorded: {fact} and {other_fact}");
    }
    format!("{name} had not seen {other_fact}, nor {other_name} {fact}")
}

/// `neither device had seen the other's link`; `None` when there are no two logs.
fn none_of(logs: &BTreeSet<LogId>, sort: &str, names: &dyn Names) -> Option<String> {
    let devices: BTreeSet<DeviceKey> = logs.iter().map(|log| log.device).collect();
    let name = || {
        devices
            .first()
            .map(|device| names.device_name(device))
            .unwrap_or_default()
    };
    match (devices.len(), logs.len()) {
        (_, 0 | 1) => None,
        (1, 2) => Some(format!("neither copy of {} had seen the other's {sort}", name())),
        (1, _) => Some(format!("none of the copies of {} had seen another's {sort}", name())),
        (2, _) => Some(format!("neither device had seen the other's {sort}")),
        _ => Some(format!("none of these devices had seen another's {sort}")),
    }
}

/// `lap-b had held the link of C1 to T1 for at least 41 minutes by its own clock`.
fn held(device: &str, fact: &str, own: bool, held_us: Option<i64>) -> String {
    match (own, held_us) {
        (true, Some(us)) => format!(
            "{device} itself had recorded {fact}, {} before by its own clock",
            span(us)
        ),
        (true, None) => format!("{device} itself had recorded {fact} before"),
        (false, Some(us)) => format!("{device} had held {fact} for at least {} by its own clock", span(us)),
        (false, None) => format!("{device} had {fact} in view"),
    }
}
