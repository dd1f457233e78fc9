//! What a history is asked for, and what the node finds.

use gladhand_facts::Moment;
use gladhand_node::{self as node, HistoryQuery, Node};
use gladhand_reconcile::Subject;
use gladhand_reconcile::picture::Drawn;

use super::scene;
use super::{History, HistoryScope};
use crate::error::{AnswerError, PictureError};
use crate::moment::{AskedMoment, KnownMoment};
use crate::resolve;
use crate::shown_finding::ShownFinding;

/// What is asked for. What is not given does not restrict.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HistoryQuestion {
    /// Of a job; the beginning of its name is enough.
    pub job: Option<String>,
    /// Of a camera.
    pub camera: Option<String>,
    /// Of a tracker.
    pub tracker: Option<String>,
    /// Of a trailer and all its jobs.
    pub trailer: Option<String>,
    /// What a device recorded: its name, or its key or the beginning of it.
    pub device: Option<String>,
    /// Only what happened from then on by the depot's clock.
    pub since: Option<Moment>,
    /// Only what had happened by then by the depot's clock.
    pub as_of: Option<Moment>,
    /// What a device could show, with the findings that it would have shown: `DEVICE` or `DEVICE@SEQ`.
    pub as_known_by: Option<String>,
    /// With the findings, also without `as_known_by`.
    pub findings: bool,
}

/// What was found.
pub struct Found {
    pub(super) query: HistoryQuery,
    pub(super) scope: HistoryScope,
    pub(super) moment: Option<KnownMoment>,
    pub(super) since: Option<String>,
    pub(super) as_of: Option<String>,
    pub(super) history: node::History,
    pub(super) findings: Vec<ShownFinding>,
}

impl Found {
    /// Asks the node.
    ///
    /// # Errors
    /// When a job, device or entry is not there, or when the store cannot be read.
    pub fn ask(node: &Node, question: &HistoryQuestion) -> Result<Self, AnswerError> {
        let moment = question
            .as_known_by
            .as_deref()
            .map(|given| AskedMoment::read(node, given));
        let moment = moment.transpose()?;
        let scope = scope(node, question)?;
        let query = HistoryQuery {
            subjects: subjects(&scope),
            device: scope.device_key,
            since_us: question.since.as_ref().map(Moment::unix_us),
            until_us: question.as_of.as_ref().map(Moment::unix_us),
            findings: question.findings || moment.is_some(),
        };
        let past = moment.as_ref().map(|m| &m.past);
        let history = node.history(&query, past)?;
        let findings = history.findings.iter().map(ShownFinding::told).collect();
        Ok(Self {
            query,
            scope,
            moment: moment.as_ref().map(|m| m.known.clone()),
            since: question.since.as_ref().map(|at| at.text().to_owned()),
            as_of: question.as_of.as_ref().map(|at| at.text().to_owned()),
            history,
            findings,
        })
    }

    /// Draws it: the picture as SVG, and what it holds.
    ///
    /// # Errors
    /// When there is too much to draw, or when the store cannot be read.
    pub fn draw(&self, node: &Node) -> Result<(String, Drawn), PictureError> {
        scene::draw(node, self)
    }

    /// The answer.
    pub fn answer(self) -> History {
        History {
            scope: self.scope,
            as_known_by: self.moment,
            since: self.since,
            as_of: self.as_of,
            perhaps_too: self.history.perhaps_too as u64,
            rows: self.history.lines.into_iter().map(Into::into).collect(),
            open: Vec::new(),
            findings: self.query.findings.then_some(self.findings),
            picture: None,
        }
    }
}

fn scope(node: &Node, question: &HistoryQuestion) -> Result<HistoryScope, AnswerError> {
    let named = |given: &Option<String>| given.as_deref().map(|name| name.trim().to_owned());
    let job = question.job.as_deref().map(|job| resolve::known_job(node, job));
    let job = job.transpose()?;
    let device = question
        .device
        .as_deref()
        .map(|d| resolve::device(node, d))
        .transpose()?;
    Ok(HistoryScope {
        job,
        camera: named(&question.camera),
        tracker: named(&question.tracker),
        trailer: named(&question.trailer),
        device: device.map(|d| node.book().roster().name(&d)),
        device_key: device,
    })
}

fn subjects(scope: &HistoryScope) -> Vec<Subject> {
    let subjects = [
        scope.job.as_deref().map(Subject::job),
        scope.camera.as_deref().map(Subject::camera),
        scope.tracker.as_deref().map(Subject::tracker),
        scope.trailer.as_deref().map(Subject::trailer),
    ];
    subjects.into_iter().flatten().collect()
}
