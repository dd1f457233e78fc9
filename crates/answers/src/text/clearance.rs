//! The clearance for reading: the answer in the first line, then what it rests on, what to do, and what to mind.

use gladhand_facts::Moment;

use super::{Page, Piece, Text};
use crate::clearance::{Approved, Clearance, Happened, Remark, Taken, Word};
use crate::step::Step;

impl Text for Clearance {
    fn text(&self, page: Page) -> Vec<Piece> {
        vec![Piece::Out(full(self, page))]
    }
}

fn full(answer: &Clearance, page: Page) -> String {
    let mut out = headline(answer);
    out.push_str(&page.wrapped(&about(answer), ""));
    if let Some(so_far) = so_far(&answer.readings) {
        out.push_str(&page.wrapped(&format!("So far: {so_far}"), ""));
    }
    if let Some(example) = &answer.example {
        out.push_str(&page.wrapped(example, ""));
    }
    for remark in &answer.remarks {
        out.push_str(&page.wrapped(&remark_text(remark), ""));
    }
    out.push('\n');
    out.push_str(&body(answer, page));
    out.push_str(&steps(&answer.record));
    out.push_str(if answer.record.is_empty() {
        "\nMind:\n"
    } else {
        "\nBefore that, mind:\n"
    });
    answer.cautions.iter().for_each(|c| out.push_str(&page.bullet(c)));
    out
}

/// The answer in one line, with its reason.
pub fn brief(answer: &Clearance) -> String {
    let why = answer.why.as_deref().unwrap_or_default();
    match answer.answer {
        Word::Clear => match &answer.by_approval {
            Some(by) => format!("CLEAR by {}", approval(by)),
            None => "CLEAR".to_owned(),
        },
        Word::Blocked => format!("BLOCKED: {why}"),
        Word::NotDecidable => format!("NOT DECIDABLE: {why}"),
        Word::Next => format!("NEXT: {}", answer.check.as_deref().unwrap_or_default()),
        Word::Unknown => format!("NOT ENOUGH RECORDED: {}", answer.missing.join(", ")),
    }
}

/// `approval of ida, recorded on lap-1 (10:14)`.
fn approval(by: &Approved) -> String {
    let at = Moment::parse(&by.at).map_or_else(|_| by.at.clone(), |at| at.hour_minute().to_owned());
    format!("approval of {}, recorded on {} ({at})", by.by, by.device)
}

/// The first line: the answer as one word, with what is next or missing. The reason of a no stands below, in full.
pub fn headline(answer: &Clearance) -> String {
    match answer.answer {
        Word::Blocked => "BLOCKED\n".to_owned(),
        Word::NotDecidable => "NOT DECIDABLE\n".to_owned(),
        _ => format!("{}\n", brief(answer)),
    }
}

/// `Job J1, trailer 5312 of Larkspur Freight: sheet-and-post, loaded, 5/8 in.`
fn about(answer: &Clearance) -> String {
    let field = |values: &[String]| Some(values.join(" | ")).filter(|v| !v.is_empty());
    let trailer = field(&answer.trailer).map_or(String::new(), |t| format!(", trailer {t}"));
    let fleet = field(&answer.fleet).map_or(String::new(), |f| format!(" of {f}"));
    let wall = [
        ("wall", &answer.wall),
        ("load", &answer.load),
        ("thickness", &answer.thickness),
    ];
    let wall = wall.map(|(name, values)| field(values).unwrap_or_else(|| format!("{name} not recorded")));
    format!("Job {}{trailer}{fleet}: {}.", answer.job, wall.join(", "))
}

fn so_far(readings: &[Taken]) -> Option<String> {
    let each: Vec<String> = readings.iter().map(reading).collect();
    (!each.is_empty()).then(|| format!("{}.", each.join("; ")))
}

/// `first-probe 3/8 in (mara 10:14)`.
fn reading(taken: &Taken) -> String {
    let by = taken.by.as_deref().unwrap_or("somebody");
    let at = Moment::parse(&taken.at).map_or_else(|_| taken.at.clone(), |at| at.hour_minute().to_owned());
    let words = [taken.check.clone(), said(taken)];
    let words: Vec<String> = words.into_iter().filter(|word| !word.is_empty()).collect();
    format!("{} ({by} {at})", words.join(" "))
}

/// What a check was recorded with: `3/8 in`, `ok`, `2 in not ok`.
pub fn said(taken: &Taken) -> String {
    let mut words = Vec::new();
    match &taken.value {
        Some(value) => words.push(value.clone()),
        None if taken.ok == Some(true) => words.push("ok".to_owned()),
        None => {}
    }
    words.extend(taken.unit.clone());
    if taken.ok == Some(false) {
        words.push("not ok".to_owned());
    }
    words.join(" ")
}

fn remark_text(remark: &Remark) -> String {
    let what = match remark.what {
        Happened::Cut => "The hole was recorded as cut",
        Happened::StoodDown => "The job was stood down",
        Happened::SignedOff => "The job was signed off",
    };
    format!("{what} by {}.", remark.by.join(" and "))
}

/// What the answer means, in full lines.
pub fn body(answer: &Clearance, page: Page) -> String {
    let list = |head: &str, items: &[String]| {
        let lines: String = items.iter().map(|i| page.bullet(i)).collect();
        if items.is_empty() {
            String::new()
        } else {
            format!("{head}\n{lines}")
        }
    };
    let no = || {
        page.wrapped(
            &format!("Do not cut: {}.", answer.why.as_deref().unwrap_or_default()),
            "",
        )
    };
    match answer.answer {
        Word::Clear if answer.limits.is_empty() => "The wall may be cut.\n".to_owned(),
        Word::Clear => list("The wall may be cut, within these limits:", &answer.limits),
        Word::Blocked => format!("{}{}", no(), list("To make good:", &answer.make_good)),
        Word::NotDecidable => {
            let office = answer
                .office
                .iter()
                .map(|office| format!("The office: {}", office.says));
            let what: Vec<String> = answer.ask.iter().cloned().chain(office).collect();
            format!("{}{}", no(), list("What to do:", &what))
        }
        Word::Next => page.wrapped(&sentence(answer.how.as_deref().unwrap_or_default()), ""),
        Word::Unknown => "No answer until that is recorded.\n".to_owned(),
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

/// The command lines, each with what to put into it.
pub fn steps(steps: &[Step]) -> String {
    if steps.is_empty() {
        return String::new();
    }
    let each = steps.iter().map(|step| match &step.with {
        Some(with) => format!("  {}\n      ({with})\n", step.command),
        None => format!("  {}\n", step.command),
    });
    format!("Record it:\n{}", each.collect::<String>())
}
