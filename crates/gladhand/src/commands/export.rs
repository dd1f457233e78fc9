//! `export --automerge`: each job as a standard Automerge document, with a list of what they hold.

use std::path::Path;

use gladhand_reconcile::{Class, Facts};
use serde_json::{Map, Value, json};

use super::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::node::IndexedFacts;
use crate::show;

/// The list beside the documents.
const LIST: &str = "jobs.json";

/// Writes the documents.
pub fn automerge(context: &Context, dir: &Path) -> Outcome {
    let node = context.open()?;
    let folder = context.at(dir);
    std::fs::create_dir_all(&folder).map_err(|e| Failure::failed(format!("cannot make {}: {e}", dir.display())))?;
    let indexed = IndexedFacts::new(&node);
    let jobs = indexed.subjects(Class::Job);
    indexed.failure()?;
    let mut list = Vec::new();
    for (number, subject) in jobs.iter().enumerate() {
        let job = subject.text();
        let mut doc = node.load_doc(&job)?;
        let bytes = doc.save().map_err(|e| Failure::failed(format!("job {job}: {e}")))?;
        let name = format!("{:05}-{}.automerge", number + 1, tame(&job));
        write(&folder.join(&name), &bytes)?;
        let fields: Map<String, Value> = doc
            .field_values()
            .map_err(|e| Failure::failed(format!("job {job}: {e}")))?
            .into_iter()
            .map(|(field, values)| (field, values.into_iter().map(|(v, _)| v).collect::<Vec<_>>().into()))
            .collect();
        for (place, why) in doc.set_aside() {
            show::aside(&format!(
                "gladhand: job {job}: entry {} of log {} was left out: {why}",
                place.1, place.0
            ));
        }
        list.push(
            json!({"job": job, "file": name, "heads": doc.heads(), "fields": fields, "facts": doc.fact_texts().len()}),
        );
    }
    let text = serde_json::to_string_pretty(&list).map_err(Failure::failed)?;
    write(&folder.join(LIST), text.as_bytes())?;
    node.close()?;
    if context.json {
        return show::json(&list);
    }
    show::line(&format!(
        "{}: {}, listed in {LIST}",
        dir.display(),
        show::counted(list.len() as u64, "document", "documents")
    ))?;
    Ok(Exit::Done)
}

fn write(file: &Path, bytes: &[u8]) -> Result<(), Failure> {
    std::fs::write(file, bytes).map_err(|e| Failure::failed(format!("cannot write {}: {e}", file.display())))
}

/// A job's name as a part of a file name.
fn tame(job: &str) -> String {
    let safe = |c: char| {
        if c.is_ascii_alphanumeric() || c == '-' || c == '_' {
            c
        } else {
            '_'
        }
    };
    job.chars().take(60).map(safe).collect()
}
