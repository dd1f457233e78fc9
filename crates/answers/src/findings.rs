//! Findings: what the merged facts contradict, now or as a device knew it.

use std::collections::BTreeSet;

use gladhand_facts::{DeviceKey, code_key, name_key};
use gladhand_node::{IndexedFacts, Node};
use gladhand_reconcile::{Class, Finding, Subject, mentions, rules};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::error::{AnswerError, ResolveError};
use crate::moment::{AskedMoment, KnownMoment};
use crate::resolve::{self, scope};
pub use crate::shown_finding::{ShownFinding, ShownRuling};

/// Which findings are asked for. What is not given does not restrict.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FindingsQuestion {
    /// Only those of this rule.
    pub rule: Option<String>,
    /// Only those that touch this job; the beginning of its name is enough.
    pub job: Option<String>,
    /// Only those that touch this trailer or a job on it.
    pub trailer: Option<String>,
    /// Only those that touch this camera.
    pub camera: Option<String>,
    /// Only those that touch this tracker.
    pub tracker: Option<String>,
    /// Only those that rest on something that this device recorded: its name, or its key or the beginning of it.
    pub device: Option<String>,
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
/// When a job, part, trailer, rule, device or entry is not there, or when the store cannot be read.
pub fn findings(node: &Node, asked: &FindingsQuestion) -> Result<Findings, AnswerError> {
    if let Some(rule) = asked.rule.as_deref().filter(|r| !is_rule(r)) {
        return Err(ResolveError::NoRule(rule.to_owned()).into());
    }
    let scope = Scope::of(node, asked)?;
    let moment = asked.as_known_by.as_deref().map(|given| AskedMoment::read(node, given));
    let moment = moment.transpose()?;
    let mut found = match &moment {
        Some(moment) => node.findings_at(&moment.past)?,
        None => node.kept_findings()?,
    };
    found.retain(|f| asked.rule.as_ref().is_none_or(|rule| f.rule == *rule) && (!asked.open || f.is_open()));
    let mut chosen = Vec::new();
    for finding in found {
        if scope.takes(node, &finding)? {
            chosen.push(finding);
        }
    }
    let names = IndexedFacts::at(node, moment.as_ref().map(|m| &m.past));
    Ok(Findings {
        findings: ShownFinding::all(&chosen, &names),
        as_known_by: moment.as_ref().map(|m| m.known.clone()),
    })
}

/// What the findings must touch, all of it.
struct Scope {
    job: Option<String>,
    /// A trailer by its key, and the jobs on it.
    trailer: Option<(String, BTreeSet<String>)>,
    /// Parts by class and key.
    parts: Vec<(Class, String)>,
    device: Option<DeviceKey>,
}

impl Scope {
    fn of(node: &Node, asked: &FindingsQuestion) -> Result<Self, AnswerError> {
        let code = |class: Class, given: &Option<String>| {
            given
                .as_deref()
                .map(|given| scope::code(node, class, given))
                .transpose()
        };
        let trailer = code(Class::Trailer, &asked.trailer)?.map(|trailer| {
            let jobs = resolve::jobs_on(&IndexedFacts::new(node), &trailer).into_iter();
            (code_key(&trailer), jobs.map(|job| job.key).collect())
        });
        let mut parts = Vec::new();
        for (class, given) in [(Class::Camera, &asked.camera), (Class::Tracker, &asked.tracker)] {
            parts.extend(code(class, given)?.map(|code| (class, code_key(&code))));
        }
        Ok(Self {
            job: asked.job.as_deref().map(|j| resolve::known_job(node, j)).transpose()?,
            trailer,
            parts,
            device: asked.device.as_deref().map(|d| resolve::device(node, d)).transpose()?,
        })
    }

    fn takes(&self, node: &Node, finding: &Finding) -> Result<bool, AnswerError> {
        let touches_job = self
            .job
            .as_ref()
            .is_none_or(|job| finding.jobs.contains(&name_key(job)));
        let is_subject =
            |class: Class, key: &str| finding.subject.class() == class && code_key(&finding.subject.text()) == key;
        let touches_trailer = self.trailer.as_ref().is_none_or(|(key, jobs)| {
            is_subject(Class::Trailer, key)
                || finding.trailers.contains(key)
                || finding.jobs.iter().any(|job| jobs.contains(job))
        });
        if !touches_job || !touches_trailer {
            return Ok(false);
        }
        if self.parts.is_empty() && self.device.is_none() {
            return Ok(true);
        }
        let mut facts = Vec::new();
        for id in &finding.facts {
            facts.extend(node.fact(id)?);
        }
        let mentioned: Vec<Subject> = facts
            .iter()
            .flat_map(|w| mentions(&w.fact, &w.place.log.device))
            .collect();
        let names = |(class, key): &(Class, String)| {
            let is_it = |s: &Subject| s.class() == *class && code_key(&s.text()) == *key;
            is_subject(*class, key) || mentioned.iter().any(is_it)
        };
        let of_device = self.device.is_none_or(|device| {
            finding.subject == Subject::Device(device) || facts.iter().any(|w| w.place.log.device == device)
        });
        Ok(of_device && self.parts.iter().all(names))
    }
}

fn is_rule(name: &str) -> bool {
    rules::rank(name) < rules::ALL.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::small_home::{shown, through_json};
    use crate::small_yard::{SmallYard, record};

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
            text.ends_with("~1 open stop, 0 open asks, 1 open note; 0 settled, 0 cleared\n"),
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
        assert!(shown(&then).starts_with("!As lap-mara knew it right after its entry "));
        let wrong = FindingsQuestion {
            rule: Some("nonsense".into()),
            ..FindingsQuestion::default()
        };
        let refused = findings(&yard.mara, &wrong).unwrap_err();
        assert!(matches!(refused, AnswerError::Resolve(ResolveError::NoRule(name)) if name == "nonsense"));
    }
}
