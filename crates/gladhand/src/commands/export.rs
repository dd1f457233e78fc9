//! `export --automerge`: each job as a standard Automerge document, with a list of what they hold.

use std::path::Path;

use gladhand_answers::exported::{LIST, exported};

use super::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the documents.
pub fn automerge(context: &Context, dir: &Path) -> Outcome {
    let node = context.view()?;
    let folder = context.at(dir);
    std::fs::create_dir_all(&folder).map_err(|e| Failure::failed(format!("cannot make {}: {e}", dir.display())))?;
    let keep = |name: &str, bytes: &[u8]| write(&folder.join(name), bytes);
    let exported = exported(&node, &dir.display().to_string(), keep)?;
    let list = serde_json::to_string_pretty(&exported.documents).map_err(Failure::failed)?;
    write(&folder.join(LIST), list.as_bytes())?;
    node.close()?;
    show::answer(exported, context.json)?;
    Ok(Exit::Done)
}

fn write(file: &Path, bytes: &[u8]) -> Result<(), Failure> {
    std::fs::write(file, bytes).map_err(|e| Failure::failed(format!("cannot write {}: {e}", file.display())))
}
