//! What is told beside a receipt, for reading; empty when there is nothing to tell. The answer comes first, what is next last.

use gladhand_reconcile::Severity;

use super::clearance::{body, brief, headline};
use super::layout::{SEVERAL, and};
use super::{Page, findings};
use crate::advice::{Hint, Kit};
use crate::clearance::{Clearance, Word};
use crate::shown_finding::ShownFinding;
use crate::step::{Step, StepKind};
use crate::told::{Next, Opened, SignedOff, Told, Waiting};

/// All of it, in order.
pub fn told(told: &Told, page: Page) -> String {
    let mut out = String::new();
    let wrapped = |text: &str| page.wrapped(text, "");
    told.opened.iter().for_each(|o| out.push_str(&wrapped(&opened(o))));
    told.clearance
        .iter()
        .for_each(|answer| out.push_str(&clearance(answer, page)));
    for warning in &told.warnings {
        let text = page.wrapped(&warning.says, "      ");
        out.push_str(&format!("!     {}", text.trim_start()));
    }
    for found in &told.findings {
        out.push_str(&finding(found, &told.new, page));
    }
    told.signed_off
        .iter()
        .for_each(|job| out.push_str(&wrapped(&nothing_missing(job))));
    told.kit.iter().for_each(|k| out.push_str(&wrapped(&kit(k))));
    if !told.cautions.is_empty() {
        out.push_str(&mind(&told.cautions, page));
    }
    told.waits.iter().for_each(|w| out.push_str(&wrapped(&waiting(w))));
    if let Some(coming) = &told.next {
        let is_above = |found: &&ShownFinding| told.new.contains(&found.id) && repeats(coming, found);
        let line = match told.findings.iter().find(is_above) {
            Some(found) => format!("Next: {}: see above.", found.id),
            None => next(coming),
        };
        out.push_str(&wrapped(&line));
    }
    told.hints.iter().for_each(|h| out.push_str(&wrapped(&hint(h))));
    if !told.mind.is_empty() {
        let mind = told.mind.join("; ");
        out.push_str(&wrapped(&format!("Mind: {}.", mind.trim_end_matches('.'))));
    }
    out
}

/// The answer in its first line, and what it asks for.
fn clearance(answer: &Clearance, page: Page) -> String {
    match answer.answer {
        Word::Unknown => page.wrapped(&format!("Clearance: {}.", brief(answer)), ""),
        Word::Clear if answer.limits.is_empty() => "Clearance: CLEAR: the wall may be cut.\n".to_owned(),
        Word::Next => page.wrapped(&format!("Clearance: {}. {}", brief(answer), body(answer, page)), ""),
        Word::Clear | Word::Blocked | Word::NotDecidable => {
            format!("Clearance: {}{}", headline(answer), body(answer, page))
        }
    }
}

/// In full when the fact makes or joins it, afterwards in one line.
fn finding(found: &ShownFinding, new: &[String], page: Page) -> String {
    if new.contains(&found.id) {
        return findings::finding(found, page);
    }
    let still = match found.severity {
        Severity::Stop | Severity::Ask => "still open",
        Severity::Note => "noted",
    };
    format!(
        "{:<4}  {}  {}  {}  [{still}]\n",
        found.severity.word(),
        found.id,
        found.rule,
        found.subject
    )
}

fn nothing_missing(signed: &SignedOff) -> String {
    // A made-up name begins with the unit number.
    let trailer = match signed.trailer.as_slice() {
        [] => String::new(),
        [one] if signed.job.contains(one.as_str()) => String::new(),
        several => format!(" on trailer {}", several.join(SEVERAL)),
    };
    format!(
        "Nothing is missing: job {}{trailer} is signed off, and nothing that is known here speaks against it.",
        signed.job
    )
}

/// Whether what is next is what the finding asks for.
fn repeats(next: &Next, found: &ShownFinding) -> bool {
    next.says
        .strip_prefix(&found.rule)
        .is_some_and(|says| says.starts_with(": "))
}

/// `Next: tape-pieces (exactly 4): gladhand check J1 tape-pieces VALUE`.
fn next(next: &Next) -> String {
    // Several checks of one step need no command each; what else there is to do has one.
    let is_group = next.record.len() > 1 && next.record.iter().all(|step| step.step == StepKind::RecordCheck);
    let commands: Vec<String> = next.record.iter().filter(|_| !is_group).map(command).collect();
    let command = match commands.as_slice() {
        [] => String::new(),
        commands => format!(": {}", commands.join("; ")),
    };
    let after = match next.checks_after {
        0 => String::new(),
        1 => "; 1 check after that".to_owned(),
        more => format!("; {more} checks after that"),
    };
    format!("Next: {}{command}{after}.", next.says)
}

fn command(step: &Step) -> String {
    match &step.with {
        Some(with) if step.range.is_none() => format!("{} ({with})", step.command),
        _ => step.command.clone(),
    }
}

fn mind(cautions: &[String], page: Page) -> String {
    let each: String = cautions.iter().map(|c| page.bullet(c)).collect();
    format!("Mind:\n{each}")
}

fn opened(opened: &Opened) -> String {
    let field = |values: &[String]| {
        if values.is_empty() {
            "not recorded".to_owned()
        } else {
            values.join(" | ")
        }
    };
    let state = match &opened.planned {
        Some(day) => format!("planned for {day}"),
        None => "open".to_owned(),
    };
    format!(
        "Job {} is {state}: trailer {}, fleet {}, yard {}.",
        opened.job,
        field(&opened.trailer),
        field(&opened.fleet),
        field(&opened.yard)
    )
}

fn kit(kit: &Kit) -> String {
    let each: Vec<String> = kit
        .items
        .iter()
        .map(|item| match item.count {
            1 => item.item.clone(),
            count => format!("{count} x {}", item.item),
        })
        .collect();
    let more = match kit.not_recorded.as_slice() {
        [] => String::new(),
        [one] => format!(" (the {one} is not recorded: there may be more)"),
        names => {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            format!(" (the {} are not recorded: there may be more)", and(&names))
        }
    };
    format!("Kit{more}: {}.", each.join("; "))
}

fn hint(hint: &Hint) -> String {
    let looked_up = match (&hint.looked_up, &hint.gives) {
        (Some(of), Some(gives)) => Some((of, gives)),
        _ => None,
    };
    let says = match (&hint.says, looked_up) {
        (Some(says), Some((of, gives))) => format!("{says}; for {of}: {gives}"),
        (Some(says), None) => says.clone(),
        (None, Some((of, gives))) => format!("{of}: {gives}"),
        (None, None) => String::new(),
    };
    format!("{}: {says} ({})", hint.hint, hint.source)
}

fn waiting(waiting: &Waiting) -> String {
    format!(
        "{}: wait {}, then record {}.",
        waiting.check, waiting.wait, waiting.then
    )
}
