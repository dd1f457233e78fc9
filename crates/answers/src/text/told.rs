//! What is told beside a receipt, for reading; empty when there is nothing to tell.

use super::clearance::{body, headline, steps};
use super::{Page, findings};
use crate::advice::{Hint, Kit};
use crate::clearance::Clearance;
use crate::told::{Opened, Told, Waiting};

/// All of it, in order: what belongs to the step, warnings, findings.
pub fn told(told: &Told, page: Page) -> String {
    let mut out = beside(told, page);
    for warning in &told.warnings {
        let text = page.wrapped(&warning.says, "      ");
        out.push_str(&format!("!     {}", text.trim_start()));
    }
    told.findings
        .iter()
        .for_each(|f| out.push_str(&findings::finding(f, page)));
    out
}

fn beside(told: &Told, page: Page) -> String {
    let opened = told.opened.iter().map(opened);
    let kit = told.kit.iter().map(kit);
    let hints = told.hints.iter().map(hint);
    let waits = told.waits.iter().map(waiting);
    let lines = opened.chain(kit).chain(hints).chain(waits);
    let mut out: String = lines.map(|line| page.wrapped(&line, "")).collect();
    match &told.clearance {
        Some(answer) => out.push_str(&with_clearance(answer, &told.cautions, page)),
        None if !told.cautions.is_empty() => out.push_str(&mind(&told.cautions, page)),
        None => {}
    }
    out
}

fn with_clearance(answer: &Clearance, cautions: &[String], page: Page) -> String {
    let (headline, body) = (headline(answer), body(answer, page));
    format!(
        "Clearance: {headline}{body}{}{}",
        steps(&answer.record),
        mind(cautions, page)
    )
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
    format!(
        "Job {} is open: trailer {}, fleet {}, yard {}.",
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
        names => format!(" (the {} are not recorded: there may be more)", names.join(" and the ")),
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
