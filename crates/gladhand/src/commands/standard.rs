//! `standard show`, `standard check`, `standard publish`: the work standard that a fleet edits and its depot publishes.
//!
//! What is shown is the text itself, comments and all: a fleet copies it, changes it and publishes it. `check` needs no home.

use std::io::Read;
use std::path::Path;

use gladhand_trade::Standard;
use gladhand_trade::section::MAX_TEXT_BYTES;
use gladhand_trade::standard::BUILT_IN;
use serde_json::{Value, json};

use super::Context;
use crate::cli;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::Node;

/// Does what the command line asks for.
pub fn standard(context: &Context, command: cli::Standard) -> Outcome {
    match command {
        cli::Standard::Show => show_it(context),
        cli::Standard::Check { file } => check(context, &file),
        cli::Standard::Publish { file } => publish(context, &file),
    }
}

fn show_it(context: &Context) -> Outcome {
    let node = context.open()?;
    let from = origin(&node);
    let text = in_force(&node).map_or_else(|| BUILT_IN.to_owned(), |(text, _)| text);
    let standard = node.standard();
    node.close()?;
    if context.json {
        let mut object = describe(&standard);
        if let Some(map) = object.as_object_mut() {
            map.insert("from".into(), from.into());
            map.insert("text".into(), text.into());
        }
        return show::json(&object);
    }
    show::aside(&format!("work standard {}, {from}", standard.version()));
    show::print(&text)?;
    Ok(Exit::Done)
}

/// The published text, where it is in force.
fn in_force(node: &Node) -> Option<(String, Standard)> {
    let (_, text) = node.book().roster().standard()?;
    Some((text.to_owned(), Standard::parse(text).ok()?))
}

fn origin(node: &Node) -> String {
    let roster = node.book().roster();
    match roster.standard() {
        None => "which comes with this version; the depot has published none that is known here".to_owned(),
        Some((version, text)) => match Standard::parse(text) {
            Ok(_) => {
                let depot = roster
                    .root()
                    .map_or_else(|| "the depot".to_owned(), |root| roster.name(&root));
                format!("published by {depot}")
            }
            Err(e) => format!(
                "which comes with this version: the published one, {version}, does not read here ({e}). Is this version too old?"
            ),
        },
    }
}

fn describe(standard: &Standard) -> Value {
    let checks: Vec<Value> = standard
        .checks()
        .iter()
        .map(|c| {
            json!({"name": c.name(), "says": c.says(), "source": c.source(), "step": c.step(), "required": c.is_required()})
        })
        .collect();
    let hints: Vec<Value> = standard
        .hints()
        .iter()
        .map(|h| json!({"name": h.name(), "step": h.step(), "says": h.says(), "source": h.source()}))
        .collect();
    json!({
        "version": standard.version(), "checks": checks, "hints": hints, "proof_answers": standard.proof_answers(),
    })
}

fn check(context: &Context, file: &Path) -> Outcome {
    let (_, standard) = read(context, file)?;
    if context.json {
        return show::json(&describe(&standard));
    }
    let checks = standard.checks();
    let required = checks.iter().filter(|c| c.is_required()).count();
    show::line(&format!(
        "{}: good. Work standard {}: {}, {required} of them required",
        file.display(),
        standard.version(),
        show::counted(checks.len() as u64, "check", "checks"),
    ))?;
    Ok(Exit::Done)
}

fn publish(context: &Context, file: &Path) -> Outcome {
    let (text, standard) = read(context, file)?;
    let mut node = context.open()?;
    let new = node.publish_standard(&text)?;
    node.close()?;
    let version = standard.version();
    if context.json {
        return show::json(&json!({"version": version, "published": new}));
    }
    if new {
        show::line(&format!("published work standard {version}"))?;
        show::aside("Every node that has merged judges by it from then on, also what was recorded before.");
    } else {
        show::line(&format!("work standard {version} is in force already"))?;
    }
    Ok(Exit::Done)
}

/// The text of a file, or of stdin for `-`, read as a standard. An error names file and line.
fn read(context: &Context, file: &Path) -> Result<(String, Standard), Failure> {
    let name = file.display();
    let wrong = |e: std::io::Error| Failure::bad_input(format!("cannot read {name}: {e}"));
    let mut source: Box<dyn Read> = if file.as_os_str() == "-" {
        Box::new(console::input())
    } else {
        Box::new(std::fs::File::open(context.at(file)).map_err(wrong)?)
    };
    let mut text = String::new();
    // One byte more than is taken, so that too long is told from just fitting.
    let most = MAX_TEXT_BYTES as u64 + 1;
    source.by_ref().take(most).read_to_string(&mut text).map_err(wrong)?;
    let standard = Standard::parse(&text).map_err(|e| {
        Failure::bad_input(format!("{name}: {e}"))
            .hint("The comments in the standard that `gladhand standard show` prints explain every key.")
    })?;
    Ok((text, standard))
}
