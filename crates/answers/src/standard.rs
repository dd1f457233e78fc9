//! The work standard: in force, checked before it is published, published.
//!
//! What is shown is the text itself, comments and all: a fleet copies it, changes it and publishes it.

use gladhand_node::{Node, PublishError};
use gladhand_trade::Standard;
use gladhand_trade::standard::BUILT_IN;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a work standard holds, beside its text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Contents {
    /// The name of this version of the work standard.
    pub standard: String,
    /// All checks that it knows, in its order.
    pub checks: Vec<CheckOfStandard>,
    /// What it shows beside the steps of the work.
    pub hints: Vec<HintOfStandard>,
    /// The questions that a proof picture must answer with yes, where no other list is given for such a visit.
    pub proof_answers: Vec<String>,
    /// Whether it is an example whose values nobody in this fleet has reviewed.
    pub example: bool,
    /// Whom to ask when nobody at the trailer may decide alone; null where it names nobody.
    pub office: Option<Office>,
    /// The reasons for which a job is stood down; empty where it lists none, and any will do.
    pub stand_down_reasons: Vec<StandDownReason>,
}

/// Whom to ask when nobody at the trailer may decide alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Office {
    /// Its name.
    pub name: String,
    /// Its telephone number; null where the work standard gives none.
    pub number: Option<String>,
    /// Both, for reading.
    pub says: String,
}

impl Office {
    /// The office of a standard.
    pub fn of(standard: &Standard) -> Option<Self> {
        standard.office().map(|office| Self {
            name: office.name().to_owned(),
            number: office.number().map(str::to_owned),
            says: office.to_string(),
        })
    }
}

/// A reason for which a job is stood down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StandDownReason {
    /// The name that stand-down facts carry as `reason`.
    pub name: String,
    /// What it means.
    pub says: String,
}

/// What is said beside everything that rests on a standard that is an example; `None` for one that a fleet has made its own.
pub fn example_note(standard: &Standard) -> Option<String> {
    standard.is_example().then(|| {
        format!(
            "Work standard {} is an example: nobody in this fleet has reviewed its values.",
            standard.version()
        )
    })
}

/// A check of a work standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CheckOfStandard {
    /// The name that the check's facts carry.
    pub name: String,
    /// What is checked, in a sentence.
    pub says: String,
    /// Where it comes from.
    pub source: String,
    /// The step of the work that it belongs to; null when it belongs to none.
    pub step: Option<String>,
    /// Whether a sign-off needs it, where it applies.
    pub required: bool,
    /// The purposes of the visits that it is for; empty: of all.
    pub purposes: Vec<String>,
}

/// A hint of a work standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct HintOfStandard {
    /// The hint's name.
    pub name: String,
    /// The step of the work beside which it is shown.
    pub step: String,
    /// The hint itself.
    pub says: String,
    /// Where it comes from.
    pub source: String,
}

impl Contents {
    /// What `standard` holds.
    pub fn of(standard: &Standard) -> Self {
        let checks = standard.checks().iter().map(|check| CheckOfStandard {
            name: check.name().to_owned(),
            says: check.says().to_owned(),
            source: check.source().to_owned(),
            step: check.step().map(str::to_owned),
            required: check.is_required(),
            purposes: check.applies().purposes().to_vec(),
        });
        let hints = standard.hints().iter().map(|hint| HintOfStandard {
            name: hint.name().to_owned(),
            step: hint.step().to_owned(),
            says: hint.says().to_owned(),
            source: hint.source().to_owned(),
        });
        let reasons = standard.stand_down_reasons().iter().map(|reason| StandDownReason {
            name: reason.name().to_owned(),
            says: reason.says().to_owned(),
        });
        Self {
            standard: standard.version().to_owned(),
            checks: checks.collect(),
            hints: hints.collect(),
            proof_answers: standard.proof_answers().to_vec(),
            example: standard.is_example(),
            office: Office::of(standard),
            stand_down_reasons: reasons.collect(),
        }
    }
}

/// The work standard in force.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StandardShown {
    /// What it holds.
    #[serde(flatten)]
    pub contents: Contents,
    /// Where it comes from, in words that follow "work standard NAME, ".
    pub from: String,
    /// Its text, comments and all, as `standard publish` takes it.
    pub text: String,
}

/// The work standard that is in force on a node.
pub fn shown(node: &Node) -> StandardShown {
    let published = node.book().roster().standard();
    let in_force = published
        .map(|(_, text)| text)
        .filter(|text| Standard::parse(text).is_ok());
    StandardShown {
        contents: Contents::of(&node.standard()),
        from: origin(node),
        text: in_force.unwrap_or(BUILT_IN).to_owned(),
    }
}

fn origin(node: &Node) -> String {
    let roster = node.book().roster();
    match roster.standard() {
        None => "which comes with this version; the depot has published none that is known here".to_owned(),
        Some((version, text)) => match Standard::parse(text) {
            Ok(_) => {
                let depot = roster.root().map(|root| roster.name(&root));
                format!("published by {}", depot.as_deref().unwrap_or("the depot"))
            }
            Err(e) => format!(
                "which comes with this version: the published one, {version}, does not read here ({e}). Is this version too old?"
            ),
        },
    }
}

/// A work standard that reads well and was not published.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StandardChecked {
    /// The file, as it was named.
    pub file: String,
    /// What it holds.
    #[serde(flatten)]
    pub contents: Contents,
}

/// What there is to tell of a work standard that was read from `file`.
pub fn checked(file: &str, standard: &Standard) -> StandardChecked {
    StandardChecked {
        file: file.to_owned(),
        contents: Contents::of(standard),
    }
}

/// A work standard that is in force now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StandardPublished {
    /// The name of this version of the work standard.
    pub standard: String,
    /// Whether it was published just now; `false`: it was in force before.
    pub published: bool,
}

/// Puts a work standard in force, here and on every node that merges with this depot.
///
/// # Errors
/// On a node that is no depot; when the text is no work standard; when another text is known by the same version.
pub fn publish(node: &mut Node, text: &str) -> Result<StandardPublished, PublishError> {
    let standard = Standard::parse(text)?.version().to_owned();
    let published = node.publish_standard(text)?;
    Ok(StandardPublished { standard, published })
}

#[cfg(test)]
#[path = "standard_tests.rs"]
mod tests;
