//! Findings: what the merged facts contradict, now or as a device knew it.
//!
//! [`ShownFinding::of`] is the only place in which a finding of the reconciler is put into words for people.

use gladhand_facts::FactId;
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::finding::Standing;
use gladhand_reconcile::{Finding, Names, Severity, Status, ToldFinding, rules};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::error::{AnswerError, ResolveError};
use crate::history::{AskedMoment, KnownMoment};
use crate::resolve;

/// A finding as it is shown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShownFinding {
    /// The same on every node for the same rule and subject.
    pub id: String,
    /// The rule.
    pub rule: String,
    /// How much it matters: `stop` (the trailer should not be relied on), `ask` (a person must look), `note`.
    #[schemars(with = "String", extend("enum" = ["stop", "ask", "note"]))]
    pub severity: Severity,
    /// The name of the subject: a code, a job, a unit number, a device's key.
    pub subject: String,
    /// The jobs that it touches, sorted.
    pub jobs: Vec<String>,
    /// The facts that make it, sorted.
    #[schemars(with = "Vec<String>")]
    pub facts: Vec<FactId>,
    /// Whether the recorders could have known: `unaware`, `aware`, or `-` where the question does not arise.
    #[schemars(with = "String", extend("enum" = ["unaware", "aware", "-"]))]
    pub standing: Standing,
    /// Whether somebody has to act: `open`, `settled` by a ruling, `cleared` by later facts.
    #[schemars(with = "String", extend("enum" = ["open", "settled", "cleared"]))]
    pub status: Status,
    /// One plain sentence.
    pub says: String,
    /// What to do.
    pub next: String,
    /// The ruling that settled it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ruling: Option<ShownRuling>,
}

/// The ruling that settled a finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShownRuling {
    /// `accepted`, `corrected` or `void`.
    pub ruling: String,
    /// Who ruled, if the fact says so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

impl ShownFinding {
    /// Puts a finding into words; `names` knows what devices are called.
    pub fn of(finding: &Finding, names: &dyn Names) -> Self {
        Self::told(&ToldFinding::of(finding, names))
    }

    /// Puts several findings into words.
    pub fn all<'f>(findings: impl IntoIterator<Item = &'f Finding>, names: &dyn Names) -> Vec<Self> {
        findings.into_iter().map(|finding| Self::of(finding, names)).collect()
    }

    /// A finding that the reconciler has put into words.
    pub fn told(finding: &ToldFinding) -> Self {
        Self {
            id: finding.id.clone(),
            rule: finding.rule.clone(),
            severity: finding.severity,
            subject: finding.subject.clone(),
            jobs: finding.jobs.clone(),
            facts: finding.facts.clone(),
            standing: finding.standing,
            status: finding.status,
            says: finding.says.clone(),
            next: finding.next.clone(),
            ruling: finding.ruling.as_ref().map(|ruling| ShownRuling {
                ruling: ruling.ruling.clone(),
                by: ruling.by.clone(),
                why: ruling.why.clone(),
            }),
        }
    }

    /// Whether somebody has to act.
    pub fn is_open(&self) -> bool {
        self.status == Status::Open
    }

    /// Whether a trailer should not be relied on because of it.
    pub fn is_open_stop(&self) -> bool {
        self.is_open() && self.severity == Severity::Stop
    }
}

/// Which findings are asked for. What is not given does not restrict.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FindingsQuestion {
    /// Only those of this rule.
    pub rule: Option<String>,
    /// Only those that touch this job; the beginning of its name is enough.
    pub job: Option<String>,
    /// Only open ones.
    pub open: bool,
    /// Those that a device would have shown: `DEVICE` or `DEVICE@SEQ`.
    pub as_known_by: Option<String>,
}

/// The findings that were asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Findings {
    /// By rule and subject.
    pub findings: Vec<ShownFinding>,
    /// Whose knowledge this is; absent when it is what is known here now.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub as_known_by: Option<KnownMoment>,
}

impl Findings {
    /// Whether an open `stop` is among them.
    pub fn has_open_stop(&self) -> bool {
        self.findings.iter().any(ShownFinding::is_open_stop)
    }
}

/// The findings that `asked` selects.
///
/// # Errors
/// When a job, rule, device or entry is not there, or when the store cannot be read.
pub fn findings(node: &mut Node, asked: &FindingsQuestion) -> Result<Findings, AnswerError> {
    let job = asked.job.as_deref().map(|j| resolve::job(node, j)).transpose()?;
    if let Some(rule) = asked.rule.as_deref().filter(|r| !is_rule(r)) {
        return Err(ResolveError::NoRule(rule.to_owned()).into());
    }
    let moment = asked.as_known_by.as_deref().map(|given| AskedMoment::read(node, given));
    let moment = moment.transpose()?;
    let mut found = match &moment {
        Some(moment) => node.findings_at(&moment.past)?,
        None => node.findings()?,
    };
    found.retain(|f| {
        asked.rule.as_ref().is_none_or(|rule| f.rule == *rule)
            && (!asked.open || f.is_open())
            && job.as_ref().is_none_or(|job| f.jobs.contains(job))
    });
    let names = IndexedFacts::at(node, moment.as_ref().map(|m| &m.past));
    Ok(Findings {
        findings: ShownFinding::all(&found, &names),
        as_known_by: moment.as_ref().map(|m| m.known.clone()),
    })
}

fn is_rule(name: &str) -> bool {
    rules::rank(name) < rules::ALL.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::small_yard::{SmallYard, record, shown, through_json};

    /// A camera on two trackers, told to Mara alone, and a kind of fact that nobody knows.
    fn dispute() -> SmallYard {
        let mut yard = SmallYard::new();
        let (mara, depot) = (&mut yard.mara, &mut yard.depot);
        record(
            mara,
            &[r#"{"kind":"link","job":"M1","camera":"LC-1","tracker":"LT-1"}"#],
        );
        record(
            depot,
            &[
                r#"{"kind":"link","job":"H1","camera":"LC-1","tracker":"LT-2"}"#,
                r#"{"kind":"weigh-in","job":"H1"}"#,
            ],
        );
        yard.carry_to_mara();
        yard
    }

    fn asked(node: &mut Node, question: FindingsQuestion) -> Findings {
        findings(node, &question).unwrap()
    }

    #[test]
    fn findings_are_an_object_and_their_text_says_what_to_do() {
        let mut yard = dispute();
        let found = asked(&mut yard.mara, FindingsQuestion::default());
        let json = through_json(&found);
        let stop = json["findings"]
            .as_array()
            .unwrap()
            .iter()
            .find(|f| f["severity"] == "stop")
            .unwrap();
        assert_eq!(stop["rule"], "camera-on-two-trackers");
        assert_eq!(stop["jobs"], serde_json::json!(["H1", "M1"]));
        assert_eq!(
            (&stop["standing"], &stop["status"]),
            (&"unaware".into(), &"open".into())
        );
        assert_eq!(stop["facts"].as_array().unwrap().len(), 2);
        assert!(
            json.get("as_known_by").is_none() && stop.get("ruling").is_none(),
            "{json}"
        );
        assert!(found.has_open_stop());
        let text = shown(&found);
        let head = format!(
            "stop  {}  camera-on-two-trackers  LC-1  [open, unaware]\n",
            stop["id"].as_str().unwrap()
        );
        assert!(text.contains(&head) && text.contains("\n      -> "), "{text}");
        assert!(
            text.ends_with("aside: 1 open stop, 0 open asks, 1 open note; 0 settled, 0 cleared\n"),
            "{text}"
        );
    }

    #[test]
    fn a_settled_finding_names_its_ruling() {
        let mut yard = dispute();
        let id = asked(&mut yard.mara, FindingsQuestion::default()).findings[0]
            .id
            .clone();
        let ruling = r#"{"kind":"ruling","finding":"ID","ruling":"accepted","why":"looked at both","by":"mara"}"#;
        record(&mut yard.mara, &[&ruling.replace("ID", &id)]);
        let found = asked(
            &mut yard.mara,
            FindingsQuestion {
                rule: Some("camera-on-two-trackers".into()),
                ..FindingsQuestion::default()
            },
        );
        let json = through_json(&found);
        assert_eq!(json["findings"][0]["ruling"]["why"], "looked at both");
        assert!(!found.has_open_stop());
        assert!(shown(&found).contains("Settled by mara: accepted (looked at both)\n"));
    }

    #[test]
    fn a_question_selects_by_rule_job_state_and_moment() {
        let mut yard = dispute();
        let rules = |node: &mut Node, question| {
            let found = asked(node, question).findings;
            found.into_iter().map(|f| f.rule).collect::<Vec<_>>()
        };
        let by_job = |job: &str| FindingsQuestion {
            job: Some(job.into()),
            open: true,
            ..FindingsQuestion::default()
        };
        assert_eq!(rules(&mut yard.mara, by_job("M1")), ["camera-on-two-trackers"]);
        let before = FindingsQuestion {
            as_known_by: Some("lap-mara".into()),
            ..FindingsQuestion::default()
        };
        let then = asked(&mut yard.mara, before);
        assert_eq!(
            then.findings,
            [],
            "her newest entry was written before she met the depot"
        );
        assert_eq!(through_json(&then)["as_known_by"]["device"], "lap-mara");
        assert!(shown(&then).starts_with("warning: As lap-mara knew it right after its entry "));
        let wrong = FindingsQuestion {
            rule: Some("nonsense".into()),
            ..FindingsQuestion::default()
        };
        let refused = findings(&mut yard.mara, &wrong).unwrap_err();
        assert!(matches!(refused, AnswerError::Resolve(ResolveError::NoRule(name)) if name == "nonsense"));
    }
}
