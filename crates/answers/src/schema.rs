//! The JSON schemas of all answers, generated from their definitions.
//!
//! They describe what this program writes: a key that is always written is required, also where its value may be null.

use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::clearance::Clearance;
use crate::findings::Findings;
use crate::history::History;
use crate::job_list::JobList;
use crate::job_returns::JobReturns;
use crate::job_shown::JobShown;
use crate::proof_picture::ProofPicture;
use crate::receipt::Receipt;
use crate::report::ShiftReport;
use crate::status::Status;
use crate::trailer_shown::TrailerShown;
use crate::version::Versioned;
use crate::{bundles, exported, homes, standard, synced, verified};

/// A schema and the name of its file in `docs/schemas`, without its ending.
pub struct Named {
    /// The name.
    pub name: &'static str,
    /// The schema.
    pub schema: Schema,
    /// Reads an answer as its structure and writes it again. It is the same where nothing was lost on the way: where the
    /// answer has no key that the structure, and so the schema, does not know.
    pub written_again: fn(&Value) -> Result<Value, serde_json::Error>,
}

fn named<T: JsonSchema + Serialize + DeserializeOwned>(name: &'static str) -> Named {
    let generate = || {
        let settings = SchemaSettings::draft2020_12().for_serialize();
        settings
            .with_transform(RecursiveTransform(unwrap_description))
            .into_generator()
    };
    let mut schema = generate().into_root_schema_for::<Versioned<T>>();
    // What a reader of the schema asks for is the answer, not what it is wrapped in.
    let of_answer = generate().into_root_schema_for::<T>();
    for key in ["title", "description"] {
        schema.remove(key);
        if let Some(value) = of_answer.get(key) {
            schema.insert(key.to_owned(), value.clone());
        }
    }
    Named {
        name,
        schema,
        written_again: |answer| serde_json::to_value(Versioned::<T>::deserialize(answer)?),
    }
}

/// The line ends of a doc comment are those of the source, not of the text.
fn unwrap_description(schema: &mut Schema) {
    if let Some(Value::String(text)) = schema.get_mut("description") {
        let paragraphs = text.split("\n\n").map(|paragraph| paragraph.replace('\n', " "));
        *text = paragraphs.collect::<Vec<_>>().join("\n\n");
    }
}

/// One for each answer.
pub fn all() -> Vec<Named> {
    vec![
        named::<Clearance>("clearance"),
        named::<JobList>("job-next"),
        named::<JobReturns>("job-returns"),
        named::<JobShown>("job"),
        named::<ProofPicture>("picture"),
        named::<TrailerShown>("trailer"),
        named::<Receipt>("receipt"),
        named::<Status>("status"),
        named::<bundles::BundleInspected>("bundle-inspected"),
        named::<bundles::BundleTaken>("bundle-taken"),
        named::<bundles::BundleWritten>("bundle-written"),
        named::<exported::Exported>("exported"),
        named::<homes::Invited>("invited"),
        named::<homes::Joined>("joined"),
        named::<homes::Retired>("retired"),
        named::<homes::Serving>("serving"),
        named::<homes::SetUp>("set-up"),
        named::<standard::StandardChecked>("standard-checked"),
        named::<standard::StandardPublished>("standard-published"),
        named::<standard::StandardShown>("standard-shown"),
        named::<synced::Synced>("synced"),
        named::<verified::Verified>("verified"),
        // One line for each answer.
        named::<Findings>("findings"),
        named::<History>("history"),
        named::<ShiftReport>("report"),
    ]
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// Each property below `at`, with its path.
    fn properties(schema: &Value, at: &str, found: &mut Vec<(String, Value)>) {
        match schema {
            Value::Object(map) => {
                for (key, inner) in map {
                    if let ("properties", Value::Object(own)) = (key.as_str(), inner) {
                        let own = own.iter().map(|(name, of)| (format!("{at}/{name}"), of.clone()));
                        found.extend(own);
                    }
                    properties(inner, &format!("{at}/{key}"), found);
                }
            }
            Value::Array(all) => all.iter().for_each(|inner| properties(inner, at, found)),
            _ => {}
        }
    }

    #[test]
    fn every_property_says_what_it_means() {
        for Named { name, schema, .. } in all() {
            let mut found = Vec::new();
            properties(schema.as_value(), name, &mut found);
            assert!(found.len() > 1, "{name} has properties");
            // A tag with one possible word says all there is to say by itself.
            found.retain(|(_, property)| property.get("const").is_none());
            for (path, property) in found {
                let says = property["description"].as_str().unwrap_or_default();
                assert!(says.ends_with('.'), "{path} needs a description: {says:?}");
                assert!(
                    !says.contains("[`"),
                    "{path}: a link into the code means nothing to a script: {says:?}"
                );
            }
        }
    }

    #[test]
    fn every_answer_is_an_object_with_a_version_a_title_and_a_description() {
        for Named { name, schema, .. } in all() {
            let schema = schema.as_value();
            assert_eq!(schema["type"], "object", "{name}");
            assert_eq!(schema["properties"]["version"]["type"], "integer", "{name}");
            let required = schema["required"].as_array().unwrap();
            assert!(required.iter().any(|key| key == "version"), "{name}");
            let title = schema["title"].as_str().unwrap();
            assert!(!title.contains("Versioned"), "{name}: {title}");
            let says = schema["description"].as_str().unwrap_or_default();
            assert!(says.ends_with('.'), "{name}: {says:?}");
        }
    }

    #[test]
    fn every_answer_has_its_own_name_that_a_file_can_have() {
        let all = all();
        let names: BTreeSet<&str> = all.iter().map(|named| named.name).collect();
        assert_eq!(names.len(), all.len());
        let fits = |name: &str| name.chars().all(|c| c.is_ascii_lowercase() || c == '-');
        assert!(names.iter().all(|name| fits(name)), "{names:?}");
    }
}
