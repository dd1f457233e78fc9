//! A fact in the making, and its recording: receipt on stdout, what is told about it on stderr.

use std::path::Path;

use gladhand_answers::resolve::{self, Handle};
use gladhand_answers::told::{self, Before};
use gladhand_answers::{receipt, text};
use gladhand_facts::Fact;
use gladhand_node::{Node, Receipt};
use serde_json::{Map, Value};

use crate::cli::Common;
use crate::commands::Context;
use crate::commands::record::receipt_line;
use crate::failure::Failure;
use crate::show;

/// A fact in the making.
pub(super) struct FactDraft {
    pub(super) map: Map<String, Value>,
    pub(super) before: Before,
}

impl FactDraft {
    pub(super) fn new(kind: &str, common: Common) -> Self {
        let mut draft = Self {
            map: Map::new(),
            before: Before::Known,
        };
        draft.put("kind", Some(kind.to_owned()));
        draft.put("by", common.by);
        // A time that somebody types is that person's word, unless they say which clock they read.
        let said = common.at.as_ref().map(|_| "person".to_owned());
        draft.put("at", common.at);
        draft.put("clock", common.clock.or(said));
        draft.put("note", common.note);
        draft
    }

    pub(super) fn put(&mut self, key: &str, value: Option<String>) {
        if let Some(value) = value {
            self.map.insert(key.to_owned(), Value::from(value));
        }
    }

    /// The job that the fact is about.
    pub(super) fn put_job(&mut self, handle: Handle) {
        if !handle.known {
            self.before = Before::Unknown;
        }
        self.put("job", Some(handle.job));
    }

    /// The job that the fact is about, if one was named.
    pub(super) fn put_named_job(&mut self, node: &Node, given: Option<&str>) -> Result<(), Failure> {
        if let Some(given) = given {
            self.put_job(resolve::handle(node, given)?);
        }
        Ok(())
    }

    /// The job that the fact is about: the one that was named, or the one at hand, where there is one.
    pub(super) fn put_job_at_hand(&mut self, node: &Node, given: Option<&str>) -> Result<(), Failure> {
        if given.is_some() {
            return self.put_named_job(node, given);
        }
        match resolve::last_job(node)? {
            Some(_) => self.put_named_job(node, Some(resolve::LAST)),
            None => Ok(()),
        }
    }

    pub(super) fn put_ok(&mut self, ok: Option<bool>, not_ok: bool) {
        if let Some(ok) = ok.or(not_ok.then_some(false)) {
            self.map.insert("ok".into(), Value::Bool(ok));
        }
    }

    pub(super) fn put_answers(&mut self, answers: &[String]) -> Result<(), Failure> {
        let mut map = Map::new();
        for answer in answers {
            if let Ok(Value::Object(given)) = serde_json::from_str(answer) {
                // As it stands in a fact's line.
                map.extend(given);
                continue;
            }
            let wrong = || {
                Failure::bad_input(format!("--answer '{answer}'"))
                    .hint("Write NAME=yes or NAME=no, such as lens-clear=yes.")
            };
            let (name, word) = answer.split_once('=').ok_or_else(wrong)?;
            let truth = match word.trim().to_ascii_lowercase().as_str() {
                "yes" | "y" | "true" => true,
                "no" | "n" | "false" => false,
                _ => return Err(wrong()),
            };
            map.insert(name.trim().to_owned(), Value::Bool(truth));
        }
        if !map.is_empty() {
            self.map.insert("answers".into(), Value::Object(map));
        }
        Ok(())
    }
}

/// Records one fact, and tells.
pub(super) fn record(context: &Context, node: &mut Node, draft: FactDraft, folder: &Path) -> Result<(), Failure> {
    record_all(context, node, vec![draft], folder)
}

/// Records facts, all of them or none, and tells.
pub(super) fn record_all(
    context: &Context,
    node: &mut Node,
    mut drafts: Vec<FactDraft>,
    folder: &Path,
) -> Result<(), Failure> {
    // Typed twice is done twice: the time makes two facts of it, where a file dropped twice is one.
    let now_us = gladhand_node::environment::now_us();
    let now = gladhand_facts::Moment::from_unix_us(now_us, gladhand_node::environment::offset_s(now_us));
    for draft in drafts.iter_mut().filter(|draft| !draft.map.contains_key("at")) {
        draft.put("at", Some(now.text().to_owned()));
    }
    let mut facts = Vec::new();
    let mut befores = Vec::new();
    for draft in drafts {
        befores.push(draft.before);
        facts.push(Fact::from_map(&node.device(), draft.map).map_err(Failure::bad_input)?);
    }
    for fact in &mut facts {
        if let Some(warning) = node.keep_picture(fact, folder)? {
            show::aside(&format!("gladhand: {warning}"));
        }
    }
    let receipts = node.record(facts)?;
    for (n, (receipt, before)) in receipts.iter().zip(befores).enumerate() {
        tell(context, node, receipt, before, n + 1 == receipts.len())?;
    }
    Ok(())
}

fn tell(context: &Context, node: &Node, receipt: &Receipt, before: Before, is_last: bool) -> Result<(), Failure> {
    let told = told::told(node, receipt, before, is_last);
    let mut answer = receipt::receipt(&node.config().name, receipt).with_trailer(node)?;
    answer.told = told.as_ref().ok().cloned();
    show::line(&receipt_line(answer, context.json)?)?;
    match told {
        Ok(told) => show_told(&told),
        // The receipt is out and stays good.
        Err(e) => show::aside(&format!(
            "What is known against it could not be read. {}",
            Failure::from(e)
        )),
    }
    Ok(())
}

fn show_told(told: &told::Told) {
    let said = text::told::told(told, show::page());
    if !said.is_empty() {
        show::aside(said.trim_end());
    }
}
