//! Histories of a small yard: rows, moments, fields with several values, and the picture of the same.

use gladhand_facts::Moment;
use gladhand_node::Node;
use serde_json::{Value, json};

use super::*;
use crate::error::{AnswerError, PictureError, ResolveError};
use crate::small_home::{shown, through_json};
use crate::small_yard::{SmallYard, record};

/// Mara and the depot write a field of M1 without knowing of each other, then the depot learns of hers.
fn handed_over() -> SmallYard {
    let mut yard = SmallYard::new();
    record(
        &mut yard.mara,
        &[
            r#"{"kind":"job","job":"M1","trailer":"LF 5301","thickness":"3/4 in","by":"mara"}"#,
            r#"{"kind":"link","job":"M1","camera":"LC-1","tracker":"LT-1","by":"mara"}"#,
        ],
    );
    record(
        &mut yard.depot,
        &[
            r#"{"kind":"job","job":"M1","thickness":"5/8 in","by":"jonas"}"#,
            r#"{"kind":"link","job":"H1","camera":"LC-1","tracker":"LT-2","by":"jonas"}"#,
        ],
    );
    yard.carry_to_depot();
    yard
}

fn of_job() -> HistoryQuestion {
    HistoryQuestion {
        job: Some("M1".into()),
        ..HistoryQuestion::default()
    }
}

fn asked(node: &Node, question: &HistoryQuestion) -> History {
    Found::ask(node, question).unwrap().answer()
}

#[test]
fn a_row_tells_what_its_recorder_could_not_know_and_what_became_of_its_fields() {
    let yard = handed_over();
    let history = asked(&yard.depot, &of_job());
    let json = through_json(&history);
    assert_eq!(json["scope"], json!({"job": "M1"}));
    let rows = json["rows"].as_array().unwrap();
    let row = |by: &str| rows.iter().find(|row| row["by"] == by && row["kind"] == "job").unwrap();
    let (mara, jonas) = (row("mara"), row("jonas"));
    assert_eq!(mara["concurrent_with"], json!([jonas["id"]]));
    assert_eq!(mara["fact"]["trailer"], "LF 5301");
    assert_eq!((&mara["place"]["seq"], &mara["place"]["index"]), (&json!(4), &json!(0)));
    let edit = &jonas["fields"]["thickness"];
    assert_eq!(
        (&edit["standing"], &edit["against"][0]["value"]),
        (&json!("disputed"), &json!("3/4 in"))
    );
    // What the depot's own entries enclose is narrower than a clock of which nothing is known.
    assert_eq!(mara["corrected"]["basis"], "measured");
    let width_us = mara["corrected"]["to_us"].as_i64().unwrap() - mara["corrected"]["from_us"].as_i64().unwrap();
    assert!((1..2 * 86_400_000_000).contains(&width_us), "{width_us}");
    assert!(json.get("findings").is_none() && json.get("as_of").is_none());
    let text = shown(&history);
    assert!(text.contains("\nField thickness of job M1:\n"), "{text}");
    assert!(
        text.contains("open until somebody who has seen both writes it again"),
        "{text}"
    );
    assert!(
        text.contains("~‖ names the rows that a recorder did not know of"),
        "{text}"
    );
}

#[test]
fn a_moment_is_told_with_the_findings_that_it_would_have_shown() {
    let yard = handed_over();
    let question = HistoryQuestion {
        camera: Some(" LC-1 ".into()),
        as_known_by: Some("lap-mara@5".into()),
        ..HistoryQuestion::default()
    };
    let history = asked(&yard.depot, &question);
    let json = through_json(&history);
    let moment = &json["as_known_by"];
    assert_eq!(
        (
            &moment["device"],
            &moment["entry"],
            &moment["newest"],
            &moment["missing"]
        ),
        (&json!("lap-mara"), &json!(5), &json!(true), &json!(0))
    );
    assert_eq!(
        (json["rows"].as_array().unwrap().len(), &json["findings"]),
        (1, &json!([]))
    );
    let text = shown(&history);
    let said = "!As lap-mara knew it right after its entry 5 (2026-03-02 12:01), the newest that is here.";
    assert!(text.starts_with(said), "{text}");
    assert!(text.ends_with("~no findings\n"), "{text}");
    let refused = |given: &str| {
        let question = HistoryQuestion {
            as_known_by: Some(given.into()),
            ..HistoryQuestion::default()
        };
        match Found::ask(&yard.depot, &question) {
            Err(AnswerError::Resolve(error)) => error,
            _ => panic!("{given} is no moment"),
        }
    };
    assert_eq!(refused("lap-mara@soon"), ResolveError::NotAnEntry("soon".into()));
    let far = ResolveError::NoEntry {
        device: "lap-mara".into(),
        seq: 99,
        held: 5,
    };
    assert_eq!(refused("lap-mara@99"), far);
}

/// The depot has Mara's facts of 12:00 and 12:01 and then writes one of 12:00.
#[test]
fn a_row_against_the_clock_says_so() {
    let mut yard = SmallYard::new();
    record(
        &mut yard.mara,
        &[
            r#"{"kind":"job","job":"M1","trailer":"LF 5301","by":"mara"}"#,
            r#"{"kind":"link","job":"M1","camera":"LC-1","tracker":"LT-1","by":"mara"}"#,
        ],
    );
    yard.carry_to_depot();
    record(
        &mut yard.depot,
        &[
            r#"{"kind":"job","job":"M1","thickness":"5/8 in","by":"jonas"}"#,
            r#"{"kind":"note","job":"M1","text":"nothing to add","by":"jonas"}"#,
        ],
    );
    let history = asked(&yard.depot, &of_job());
    let json = through_json(&history);
    let told: Vec<&Value> = json["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| &row["against_clock"])
        .collect();
    let wanted = json!({"id": json["rows"][1]["id"], "at": "2026-03-02T12:01:00Z", "earlier_us": 60_000_000});
    // The note of 12:01 is no earlier than what it had seen.
    assert_eq!(told, [&Value::Null, &Value::Null, &wanted, &Value::Null]);
    let text = shown(&history);
    let said = "the clock says 1 min 0 s before row 2, which it had seen";
    let row = text.lines().find(|line| line.contains("5/8 in")).unwrap();
    assert!(row.trim_end().ends_with(said), "{text}");
    assert_eq!(text.matches("the clock says").count(), 1, "{text}");

    let (svg, _) = Found::ask(&yard.depot, &of_job()).unwrap().draw(&yard.depot).unwrap();
    assert!(svg.contains(&format!("jonas, entry 4, {said}")), "{svg}");
}

#[test]
fn what_may_have_happened_in_time_is_counted() {
    let yard = handed_over();
    let question = HistoryQuestion {
        as_of: Some(Moment::parse("2026-03-02T12:00:30Z").unwrap()),
        ..of_job()
    };
    let history = asked(&yard.depot, &question);
    assert_eq!((history.rows.len(), history.perhaps_too), (2, 1));
    let said = "~1 more fact may have happened by 2026-03-02T12:00:30Z as well: the clocks leave it open\n";
    assert!(shown(&history).ends_with(said), "{}", shown(&history));
}

#[test]
fn nothing_that_is_known_is_said_as_a_warning() {
    let yard = handed_over();
    let question = HistoryQuestion {
        trailer: Some("LF 9".into()),
        ..HistoryQuestion::default()
    };
    let history = asked(&yard.depot, &question);
    assert_eq!(shown(&history), "!nothing is known about that\n");
}

#[test]
fn the_picture_shows_the_rows_and_findings_of_the_answer() {
    let mut yard = handed_over();
    let question = HistoryQuestion {
        camera: Some("LC-1".into()),
        findings: true,
        ..HistoryQuestion::default()
    };
    let found = Found::ask(&yard.depot, &question).unwrap();
    let (svg, holds) = found.draw(&yard.depot).unwrap();
    let mut history = found.answer();
    assert_eq!((holds.facts, holds.clashes), (history.rows.len(), 1));
    assert!(
        svg.contains(">History of camera LC-1</title>"),
        "as it was asked for: {svg}"
    );
    for finding in history.findings.iter().flatten() {
        for said in [&finding.id, &finding.rule] {
            assert!(svg.contains(said.as_str()), "{said} is missing in {svg}");
        }
    }
    history.picture = Some(Picture::new("dispute.svg", holds));
    assert_eq!(through_json(&history)["picture"]["open_findings"], 1);
    let line = "dispute.svg: 2 facts, 2 lanes, 0 meetings, 1 open finding\n";
    assert_eq!(shown(&history), line);

    let many: Vec<String> = (0..300).map(|n| format!(r#"{{"kind":"note","text":"{n}"}}"#)).collect();
    let facts = many
        .iter()
        .map(|line| gladhand_facts::Fact::from_line(&yard.mara.device(), line).unwrap());
    yard.mara.record(facts.collect()).unwrap();
    let everything = Found::ask(&yard.mara, &HistoryQuestion::default()).unwrap();
    let refused = everything.draw(&yard.mara).unwrap_err();
    assert!(
        matches!(refused, PictureError::TooMany { count: 302, most: 300 }),
        "{refused}"
    );
    assert!(everything.answer().rows.iter().all(|row| row.concurrent_with.is_none()));
}

/// Names of keys that scripts rely on.
#[test]
fn the_schema_names_each_row() {
    let schemas = crate::schema::all();
    let history = schemas.iter().find(|s| s.name == "history").unwrap();
    let schema: Value = serde_json::to_value(&history.schema).unwrap();
    let row = &schema["$defs"]["HistoryRow"]["properties"];
    for key in [
        "id",
        "kind",
        "at",
        "corrected",
        "by",
        "device",
        "device_key",
        "place",
        "fact",
        "seen_by",
        "fields",
    ] {
        assert!(row.get(key).is_some(), "{key} in {schema}");
    }
    assert_eq!(row["id"]["type"], "string");
    assert_eq!(schema["properties"]["version"]["type"], "integer");
    assert!(schema["properties"]["rows"]["description"].is_string(), "{schema}");
}
