//! The real binary plays the demo's day, step by step, and shows what the day must show: the expected findings at each
//! step and at the end, the exit codes of a gate, and the same bytes on all four nodes.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use std::collections::BTreeMap;

use gladhand_tests::facts::notes;
use gladhand_tests::process::{Running, TempHome, command};
use gladhand_tests::{Bundles, Fleet, Home, demo_data, fleet};
use serde_json::Value;
use tempfile::TempDir;

type Table = toml::Table;

/// A day as it is played.
struct Day {
    dir: TempDir,
    homes: BTreeMap<String, Home>,
    depot: String,
    bundles: Bundles,
    expected: Value,
    receipts: usize,
    shows: usize,
}

impl Day {
    fn new(expected: Value) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let bundles = Bundles::in_folder(&dir.path().join("bundles"));
        Self {
            dir,
            homes: BTreeMap::new(),
            depot: String::new(),
            bundles,
            expected,
            receipts: 0,
            shows: 0,
        }
    }

    fn home(&self, name: &str) -> &Home {
        self.homes
            .get(name)
            .unwrap_or_else(|| panic!("no device {name} in the story"))
    }

    fn play(&mut self, step: &Table) {
        let device = step.get("device").map(|d| d.as_str().unwrap());
        match text(step, "action") {
            "setup" => self.setup(step, device.unwrap()),
            "join" => fleet::join(self.home(&self.depot), self.home(device.unwrap())),
            "record" => {
                let file = demo_data().join(text(step, "file"));
                let ran = self
                    .home(device.unwrap())
                    .run(&["record", "--json", file.to_str().unwrap()]);
                let receipts = ran.done().json_lines();
                assert!(
                    receipts.iter().all(|r| r["receipt"] == "recorded"),
                    "{}",
                    file.display()
                );
                self.receipts += receipts.len();
            }
            "bundle" => {
                let (from, to) = (self.home(text(step, "from")), self.home(text(step, "to")));
                self.bundles.carry(from, to).done();
            }
            "show" => self.show(step, device.unwrap()),
            "ruling" => self.rule(step, device.unwrap()),
            other => panic!("an unknown action: {other}"),
        }
    }

    fn setup(&mut self, step: &Table, device: &str) {
        let path = self.dir.path().join(device);
        let home = if step["depot"].as_bool().unwrap() {
            device.clone_into(&mut self.depot);
            Home::depot(path, device, text(step, "person"))
        } else {
            Home::laptop(path, device, text(step, "person"))
        };
        self.homes.insert(device.to_owned(), home);
    }

    fn show(&mut self, step: &Table, device: &str) {
        let what = text(step, "what");
        let mut args = vec![what.to_owned(), "--json".to_owned()];
        for key in ["rule", "job", "camera", "from", "to", "yard"] {
            if let Some(value) = step.get(key) {
                args.extend([format!("--{key}"), value.as_str().unwrap().to_owned()]);
            }
        }
        if step.get("open").is_some() {
            args.push("--open".into());
        }
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let shown = self.home(device).run(&args).done().json();
        if what == "findings" {
            self.compare_show(text(step, "title"), &shown["findings"]);
        }
    }

    fn compare_show(&mut self, title: &str, shown: &Value) {
        let expected = self.expected["shows"].as_array().unwrap();
        let expected = expected.iter().find(|show| show["title"] == title);
        let expected = expected.unwrap_or_else(|| panic!("nothing is expected of: {title}"));
        let keys = ["rule", "subject", "status"];
        let wanted = rows(&expected["findings"], |f| {
            (0..keys.len()).map(|i| word(&f[i])).collect()
        });
        assert_eq!(
            rows(shown, |f| keys.map(|key| word(&f[key])).to_vec()),
            wanted,
            "{title}"
        );
        self.shows += 1;
    }

    fn rule(&mut self, step: &Table, device: &str) {
        let home = self.home(device);
        let found = home
            .run(&["findings", "--json", "--rule", text(step, "rule")])
            .done()
            .json();
        let about = |f: &&Value| f["subject"] == text(step, "subject");
        let finding = found["findings"]
            .as_array()
            .unwrap()
            .iter()
            .find(about)
            .expect("the finding to settle");
        let mut args = vec!["ruling", finding["id"].as_str().unwrap(), "--json"];
        for (flag, key) in [("--ruling", "ruling"), ("--why", "why"), ("--by", "by"), ("--at", "at")] {
            args.extend([flag, text(step, key)]);
        }
        home.run(&args).done();
        self.receipts += 1;
    }

    fn others(&self) -> impl Iterator<Item = (&String, &Home)> {
        self.homes.iter().filter(|(name, _)| **name != self.depot)
    }
}

fn text<'a>(step: &'a Table, key: &str) -> &'a str {
    let value = step.get(key).and_then(toml::Value::as_str);
    value.unwrap_or_else(|| panic!("no {key} in step {step:?}"))
}

fn word(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}

/// A row for each, sorted: expected.json lists them in the order of the story, the program by rule.
fn rows(list: &Value, row: impl Fn(&Value) -> Vec<String>) -> Vec<Vec<String>> {
    let mut rows: Vec<_> = list.as_array().unwrap().iter().map(row).collect();
    rows.sort();
    rows
}

/// The real binary runs by the clock of today, so that its sticks tell nothing of the clocks of that day. `gladhand demo` runs by that
/// day's clock, and finds these as well.
fn leave_out_what_the_sticks_measure(expected: &mut Value) {
    let is_measured = |row: &Value| {
        let (rule, subject) = match row {
            Value::Array(_) => (&row[0], &row[1]),
            _ => (&row["rule"], &row["subject"]),
        };
        rule == "changed-after-sign-off" && (subject == "0302-M03" || subject == "0302-M05")
    };
    match expected {
        Value::Array(rows) => {
            rows.retain(|row| !is_measured(row));
            rows.iter_mut().for_each(leave_out_what_the_sticks_measure);
        }
        Value::Object(map) => map.values_mut().for_each(leave_out_what_the_sticks_measure),
        _ => {}
    }
}

fn played() -> Day {
    let story: Table = std::fs::read_to_string(demo_data().join("story.toml"))
        .unwrap()
        .parse()
        .unwrap();
    let expected = std::fs::read_to_string(demo_data().join(text(&story, "expected"))).unwrap();
    let mut expected = serde_json::from_str(&expected).unwrap();
    leave_out_what_the_sticks_measure(&mut expected);
    let mut day = Day::new(expected);
    for step in story["step"].as_array().unwrap() {
        day.play(step.as_table().unwrap());
    }
    day
}

#[test]
fn the_day_in_tolland_yard_shows_what_it_must_and_everywhere_the_same() {
    let day = played();
    assert_eq!(
        day.receipts, 1_984,
        "facts in the day, as demo-data/README.md counts them"
    );
    assert_eq!(
        day.shows,
        day.expected["shows"].as_array().unwrap().len(),
        "each expected show was shown"
    );
    the_findings_are_the_expected_ones(&day);
    the_gate_answers_by_exit_code(&day);
    everywhere_the_same(&day);
    the_past_can_be_asked_for(&day);
}

fn the_findings_are_the_expected_ones(day: &Day) {
    let keys = ["rule", "subject", "severity", "standing", "status"];
    let brief = |f: &Value| keys.map(|key| word(&f[key])).to_vec();
    let found = day.home(&day.depot).run(&["findings", "--json"]).done().json()["findings"].take();
    assert_eq!(rows(&found, brief), rows(&day.expected["findings"], brief));
    for finding in found.as_array().unwrap() {
        let says = finding["says"].as_str().unwrap();
        assert!(says.ends_with('.') && says.len() > 40, "says: {says}");
        assert!(
            finding["facts"].as_array().is_some_and(|facts| !facts.is_empty()),
            "facts of {finding}"
        );
        let next = finding["next"].as_str().unwrap();
        assert!(
            finding["status"] != "open" || !next.is_empty(),
            "an open finding says what to do: {finding}"
        );
    }
}

/// docs/contract/command-line.md: 3 when open `stop` findings are among what is shown, and only with `--gate`.
fn the_gate_answers_by_exit_code(day: &Day) {
    let depot = day.home(&day.depot);
    depot.run(&["findings"]).exits(0);
    depot.run(&["findings", "--gate"]).exits(3);
    depot.run(&["findings", "--gate", "--json"]).exits(3);
    depot.run(&["report", "--format", "csv", "--gate"]).exits(3);
    depot.run(&["report", "--format", "csv"]).exits(0);
    // An `ask` that is open, a `stop` that is cleared, and no finding at all: the gate is open.
    depot.run(&["findings", "--gate", "--rule", "fields-disagree"]).exits(0);
    depot
        .run(&["findings", "--gate", "--rule", "tracker-with-two-cameras"])
        .exits(0);
    depot.run(&["findings", "--gate", "--job", "0302-M01"]).exits(0);
    depot.run(&["findings", "--gate", "--job", "0302-T15"]).exits(3);
    // A yard that nobody has recorded: a gate passes over nothing.
    depot.run(&["report", "--gate", "--yard", "Elsewhere"]).exits(2);
}

/// Equal version vectors give byte-equal answers.
fn everywhere_the_same(day: &Day) {
    let depot = day.home(&day.depot);
    for (_, laptop) in day.others() {
        day.bundles.carry(laptop, depot).done();
    }
    for (_, laptop) in day.others() {
        day.bundles.carry(depot, laptop).done();
    }
    let job = |format: &'static str| ["report", "--format", format];
    let (json, csv) = (job("json"), job("csv"));
    let questions: [&[&str]; 7] = [
        &["findings", "--json"],
        &json,
        &csv,
        &["history", "--json", "--device", "laptop-tomas"],
        &["history", "--json", "--job", "0302-M07"],
        &["history", "--json", "--camera", "LC-P9D0K5X"],
        &["history", "--json", "--trailer", "LF 5396"],
    ];
    for (name, laptop) in day.others() {
        assert_eq!(laptop.vector(), depot.vector(), "what {name} holds");
        for question in questions {
            let (here, there) = (laptop.run(question).done(), depot.run(question).done());
            assert_eq!(
                here.out,
                there.out,
                "`{}` on {name} and on the depot",
                question.join(" ")
            );
        }
        laptop.verifies();
    }
    depot.verifies();
    assert_eq!(depot.fact_ids().len(), day.receipts);
}

/// What a laptop knew when it recorded something is a smaller past of the same facts.
fn the_past_can_be_asked_for(day: &Day) {
    let depot = day.home(&day.depot);
    let everything = depot.fact_ids();
    let ask = |args: &[&str]| {
        depot
            .history(args)
            .iter()
            .map(|line| word(&line["id"]))
            .collect::<Vec<_>>()
    };
    let known = ask(&["--as-known-by", "laptop-mara@30"]);
    assert!(
        known.len() > 145 && known.len() < everything.len(),
        "{} of {}",
        known.len(),
        everything.len()
    );
    let early = ask(&["--as-of", "2026-03-02T12:00:00-05:00"]);
    let stock = std::fs::read_to_string(demo_data().join("01-stock.jsonl")).unwrap();
    assert_eq!(
        early.len(),
        stock.lines().count(),
        "in the morning there is only the stock list"
    );
    assert!(known.iter().chain(&early).all(|id| everything.contains(id)));
}

/// Every 256th entry keeps its signature. What a peer sends may run across one, and reads back all the same.
#[test]
fn logs_of_many_entries_verify_however_they_are_carried() {
    let fleet = Fleet::enrolled(&["mara", "ilse"]);
    let mara = &fleet.laptops[0];
    for (round, count) in [(0, 100), (1, 200), (2, 300)] {
        mara.record(&notes(count, &format!("round {round}"), true));
        let since = fleet.depot.since();
        let file = fleet.bundles.next();
        mara.run(&["bundle", "write", file.to_str().unwrap(), "--since", &since])
            .done();
        fleet.depot.read_bundle(&file).done();
        fleet.depot.verifies();
    }
    fleet.bundles.carry(&fleet.depot, &fleet.laptops[1]).done();
    fleet.laptops[1].verifies();
    assert_eq!(fleet.laptops[1].fact_ids().len(), 600);
    // Nothing new is a bundle of nothing.
    let file = fleet.bundles.next();
    let since = mara.since();
    mara.run(&["bundle", "write", file.to_str().unwrap(), "--since", &since])
        .done()
        .shows(&["0 entries"]);
    assert!(std::fs::metadata(&file).unwrap().len() < 1_500);
    fleet.depot.read_bundle(&file).done();
}

#[test]
fn a_home_is_named_by_the_environment_where_no_flag_names_one() {
    let home = TempHome::laptop();
    let mut note = command();
    note.args(["note", "by the environment"])
        .env("GLADHAND_HOME", &home.path);
    Running::spawn(&mut note).ran().done();
    assert_eq!(home.notes(), ["by the environment"]);
}
