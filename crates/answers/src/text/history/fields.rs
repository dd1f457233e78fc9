//! Fields of a job with more than one value: who wrote which, who of them could have known, which one stands.

use std::collections::BTreeMap;

use gladhand_reconcile::edits::EditStanding;
use serde_json::Value;

use super::rows::{Rows, aligned, indented, spans};
use crate::history::rows::{FieldEdit, HistoryRow, OtherValue};
use crate::text::layout::in_one_line;

type Told<'a> = Vec<(usize, &'a HistoryRow, &'a FieldEdit)>;

/// The fields with several values, or nothing.
pub(super) fn told(lines: &[HistoryRow], rows: &Rows) -> String {
    let mut fields: BTreeMap<(&str, &str), Told<'_>> = BTreeMap::new();
    for (row, line) in (1..).zip(lines) {
        let job = line.fact.get("job").and_then(Value::as_str).unwrap_or_default();
        for (field, edit) in &line.fields {
            fields.entry((job, field)).or_default().push((row, line, edit));
        }
    }
    fields.retain(|_, edits| edits.iter().any(|(_, _, e)| is_contested(e)));
    let one = |((job, field), edits): ((&str, &str), Told<'_>)| {
        let cells: Vec<_> = edits.iter().map(|edit| cells(edit, &edits, rows)).collect();
        let (field, job) = (in_one_line(field), in_one_line(job));
        format!("\nField {field} of job {job}:\n{}", indented(&aligned(&cells)))
    };
    fields.into_iter().map(one).collect()
}

/// Whether another value was ever written beside it or over it.
fn is_contested(edit: &FieldEdit) -> bool {
    !edit.against.is_empty() || edit.followed_by.iter().any(|o| o.value != edit.value)
}

fn cells((row, line, edit): &(usize, &HistoryRow, &FieldEdit), all: &Told<'_>, rows: &Rows) -> Vec<String> {
    let by = line.by.as_deref().unwrap_or("somebody");
    let known: Vec<usize> = all
        .iter()
        .filter(|(_, _, e)| e.followed_by.iter().any(|o| o.id == line.id))
        .map(|(r, ..)| *r)
        .collect();
    vec![
        format!("row {row}"),
        edit.value.clone(),
        format!("{by} on {}", line.device),
        state(edit, &known, rows),
    ]
}

fn state(edit: &FieldEdit, known: &[usize], rows: &Rows) -> String {
    let named = |others: &[OtherValue]| {
        let known_rows: Option<Vec<usize>> = others.iter().map(|o| rows.get(&o.id).copied()).collect();
        match known_rows {
            Some(rows) => format!("row {}", spans(rows)),
            None => others
                .iter()
                .map(|o| o.value.as_str())
                .collect::<Vec<_>>()
                .join(" and "),
        }
    };
    let mut said = Vec::new();
    if !known.is_empty() {
        said.push(format!("had seen row {}", spans(known.iter().copied())));
    }
    if !edit.against.is_empty() {
        said.push(format!("neither this nor {} knew of the other", named(&edit.against)));
    }
    said.push(match edit.standing {
        EditStanding::Holds => "this is the value now".to_owned(),
        EditStanding::Disputed => "open until somebody who has seen both writes it again".to_owned(),
        EditStanding::Replaced => format!("then came {}, which had seen it", named(&edit.followed_by)),
    });
    said.join("; ")
}
