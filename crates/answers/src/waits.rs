//! What an open job waits for: the next piece of each line of work, not everything that is still to come.
//!
//! Two lines of work go on side by side. At the wall: readings, the cut, the checks. By the air: link, settings, picture,
//! judgement. The second is asked for only once there is something to link, that is after the cut or with the first link.
//! When neither has anything left, the job waits for its sign-off. Whether a sign-off would stand is asked of the rules
//! themselves, by supposing one.

use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_reconcile::checks::{CheckState, Checks, Outcome, required};
use gladhand_reconcile::recorded_fact::latest;
use gladhand_reconcile::{Finding, JobView, RecordedFact, Subject, describe};
use gladhand_trade::Answer;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::clearance;
use crate::judging::JudgingContext;
use crate::torn::torn;

/// The check that says that the doors were closed; a picture that is asked for before it makes a finding.
const DOORS_CLOSED: &str = "doors-closed";

/// What a job can wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WaitsFor {
    /// One value of a field that has several.
    Fields,
    /// A reading before the cut.
    Readings,
    /// The office: the readings do not decide it.
    Office,
    /// What is to be made good, and the stand-down.
    MakeGood,
    /// The cut.
    Cut,
    /// Required checks.
    Checks,
    /// The link.
    Link,
    /// The link to be taken off.
    Unlink,
    /// Settings to be asked for.
    SettingsAsked,
    /// Settings to go live.
    SettingsLive,
    /// The picture to be asked for.
    ProofAsked,
    /// The picture.
    ProofTaken,
    /// The picture to be judged.
    ProofJudged,
    /// A person to look: a rule would speak against a sign-off.
    Look,
    /// The sign-off.
    SignOff,
}

/// One thing that a job waits for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Wait {
    /// What it waits for.
    #[serde(rename = "for")]
    pub what: WaitsFor,
    /// What it waits for, in words.
    pub says: String,
    /// Minutes since the last thing that was recorded for it, by this device's clock.
    pub minutes: i64,
    /// The checks; absent unless it waits for `checks`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub checks: Vec<Outstanding>,
}

/// A required check that would stand against a sign-off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Outstanding {
    /// Its name.
    pub check: String,
    /// Whether it was recorded and failed; otherwise it is missing.
    pub failed: bool,
    /// Why, in words; null where nothing was recorded.
    pub why: Option<String>,
}

impl Outstanding {
    fn of(state: CheckState<'_>) -> Option<Self> {
        let (failed, why) = match state.outcome {
            Outcome::Good => return None,
            Outcome::Missing(why) => (false, why),
            Outcome::Failed(reasons) => (true, reasons.into_iter().next().map(|(_, why)| why)),
        };
        let check = state.requirement.name().to_owned();
        Some(Self { check, failed, why })
    }
}

/// Whether the job's purpose asks for a hole in the wall.
pub fn needs_cut(judging: &JudgingContext<'_>, job: &JobView) -> bool {
    let world = judging.world();
    let cuts = judging.standard().cut_shown_by();
    required(&world, job)
        .iter()
        .any(|r| cuts.iter().any(|cut| cut == r.name()))
}

/// What is waited for in one job.
struct OpenWork<'a> {
    judging: &'a JudgingContext<'a>,
    job: &'a JobView,
    now_us: i64,
    /// What would stand against a sign-off now.
    against: Vec<Finding>,
    /// Whether the job asks for a hole in the wall.
    needs_cut: bool,
    waits: Vec<Wait>,
}

/// What `job`, which is open, waits for.
pub fn of(judging: &JudgingContext<'_>, job: &JobView, now_us: i64) -> Vec<Wait> {
    let mut against = judging.if_signed_off(&job.job);
    against.retain(Finding::is_open);
    let mut work = OpenWork {
        judging,
        job,
        now_us,
        against,
        needs_cut: needs_cut(judging, job),
        waits: Vec::new(),
    };
    let going_on = work.wall();
    if going_on {
        work.checks();
        work.air();
        work.rest();
    }
    work.waits
}

impl OpenWork<'_> {
    fn add(&mut self, what: WaitsFor, says: impl Into<String>, since: &[Arc<RecordedFact>]) {
        self.waits.push(Wait {
            what,
            says: says.into(),
            minutes: self.minutes(since),
            checks: Vec::new(),
        });
    }

    /// Since the last of `since`, or of everything on the job where that says nothing. A clock that was ahead makes no
    /// negative wait.
    fn minutes(&self, since: &[Arc<RecordedFact>]) -> i64 {
        let last = |set: &[Arc<RecordedFact>]| set.iter().map(|w| w.at().unix_us()).max();
        let since_us = last(since).or_else(|| last(&self.job.facts)).unwrap_or(self.now_us);
        (self.now_us - since_us).div_euclid(60_000_000).max(0)
    }

    fn stands_against(&self, rule: &str) -> bool {
        self.against.iter().any(|f| f.rule == rule)
    }

    /// Whether the wall was cut, or need not be.
    fn is_cut(&self) -> bool {
        !self.needs_cut || !clearance::cuts(self.judging, self.job).is_empty()
    }

    /// The wall up to the cut. Whether anything else can be done meanwhile.
    fn wall(&mut self) -> bool {
        if self.is_cut() {
            return true;
        }
        let torn = torn(self.judging, self.job);
        match clearance::decided(self.judging, self.job, &torn) {
            Answer::NotDecidable { .. } if !torn.is_empty() => {
                let fields: Vec<&str> = torn.iter().map(|t| t.field.as_str()).collect();
                self.add(WaitsFor::Fields, format!("one value of {}", fields.join(" and ")), &[]);
                true
            }
            Answer::NotDecidable { .. } => {
                self.add(WaitsFor::Office, "the office: the readings do not decide it", &[]);
                false
            }
            Answer::Blocked { .. } => {
                let pilot = clearance::has_open_pilot(self.judging, self.job);
                let seal = if pilot { "the pilot hole to be sealed, and " } else { "" };
                self.add(WaitsFor::MakeGood, format!("{seal}the stand-down: blocked"), &[]);
                false
            }
            Answer::Unknown { missing } => {
                self.add(WaitsFor::Readings, missing.join(", "), &[]);
                true
            }
            Answer::Next { check, .. } => {
                self.add(WaitsFor::Readings, check, &[]);
                true
            }
            Answer::Clear { .. } => {
                self.add(WaitsFor::Cut, "the cut: clear", &[]);
                true
            }
        }
    }

    fn checks(&mut self) {
        let world = self.judging.world();
        let states = Checks::so_far(&world, self.job);
        // In the order of the standard, which is the order of the work.
        let required = required(&world, self.job).into_iter();
        let mut checks: Vec<Outstanding> = required.filter_map(|r| Outstanding::of(states.state(r))).collect();
        let read_first = |c: &Outstanding| {
            let before_the_cut = [WaitsFor::Readings, WaitsFor::Fields];
            let waits = self.waits.iter().any(|w| before_the_cut.contains(&w.what));
            waits && clearance::is_read(self.judging, &c.check)
        };
        checks.retain(|c| !read_first(c));
        if checks.is_empty() {
            return;
        }
        let names: Vec<&str> = checks.iter().map(|c| c.check.as_str()).collect();
        self.waits.push(Wait {
            what: WaitsFor::Checks,
            says: names.join(", "),
            minutes: self.minutes(&[]),
            checks,
        });
    }

    /// Link, settings, picture, judgement: the first that is not there.
    fn air(&mut self) {
        let cut = self.is_cut();
        if self.stands_against("signed-without-link") && self.is_take_off() {
            self.add(WaitsFor::Unlink, "the link to be taken off", &[]);
        } else if self.stands_against("signed-without-link") {
            if cut || !self.job.ties.links.is_empty() {
                self.add(WaitsFor::Link, "the link", &[]);
            }
        } else if self.stands_against("signed-before-live") {
            self.settings();
        } else if self.stands_against("signed-without-proof") && cut {
            self.proof();
        }
    }

    fn is_take_off(&self) -> bool {
        self.job.values("purpose") == ["take-off"]
    }

    fn settings(&mut self) {
        let trackers = self.job.ties.live().into_iter().map(|l| l.tracker.clone());
        let about = trackers.flat_map(|t| self.judging.facts().about(&Subject::tracker(&t)));
        let mut said: Vec<Arc<RecordedFact>> = about.filter(|w| w.is(&Kind::Settings)).collect();
        let live = self.job.ties.live();
        said.retain(|s| live.iter().any(|l| l.recorded.happens_before(s)));
        let last = latest(&said);
        let is = |state: &str| last.iter().any(|w| w.is_state(&Kind::Settings, state));
        if is("failed") {
            self.add(
                WaitsFor::SettingsAsked,
                "settings to be asked again: they failed",
                &last,
            );
        } else if is("asked") {
            self.add(WaitsFor::SettingsLive, "settings to go live", &last);
        } else {
            self.add(WaitsFor::SettingsAsked, "settings to be asked", &[]);
        }
    }

    fn proof(&mut self) {
        let said: Vec<Arc<RecordedFact>> = self.job.of_kind(&Kind::Proof).cloned().collect();
        let last = latest(&said);
        let is = |state: &str| last.iter().any(|w| w.is_state(&Kind::Proof, state));
        if !(is("taken") || is("asked")) && self.doors_are_open() {
            // A picture that is asked for before that proves nothing.
            return;
        }
        if is("judged") {
            self.add(
                WaitsFor::ProofAsked,
                "a new picture: the last was not judged good",
                &last,
            );
        } else if is("taken") {
            self.add(WaitsFor::ProofJudged, "the picture to be judged", &last);
        } else if is("asked") {
            self.add(WaitsFor::ProofTaken, "the picture", &last);
        } else {
            self.add(WaitsFor::ProofAsked, "the picture to be asked for", &[]);
        }
    }

    /// Whether the doors are still to be closed: the check is required, and missing.
    fn doors_are_open(&self) -> bool {
        let mut checks = self.waits.iter().flat_map(|wait| &wait.checks);
        checks.any(|outstanding| outstanding.check == DOORS_CLOSED)
    }

    /// What else would stand against a sign-off; or the sign-off.
    fn rest(&mut self) {
        if !self.waits.is_empty() {
            return;
        }
        // It stands within a sentence.
        let says = |f: &Finding| describe(f, self.judging.names()).next.trim_end_matches('.').to_owned();
        let next = |f: &Finding| (f.rule.clone(), says(f));
        let next: Vec<(String, String)> = self.against.iter().map(next).collect();
        for (rule, next) in &next {
            self.add(WaitsFor::Look, format!("{rule}: {next}"), &[]);
        }
        if next.is_empty() {
            self.add(WaitsFor::SignOff, "the sign-off", &[]);
        }
    }
}
