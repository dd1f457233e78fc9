//! Fact lines for tests: a job as it is fitted, with codes of the demo's own scheme.

use serde_json::{Value, json};

/// A line of JSON with `kind` and these keys.
pub fn line(kind: &str, mut keys: Value) -> String {
    keys["kind"] = kind.into();
    keys.to_string()
}

/// Everything that fits a trailer in good order, nine lines: opened, scanned, checked, linked, live, proved, signed off.
pub fn fitting(job: &str, trailer: &str, camera: &str, tracker: &str) -> Vec<String> {
    let at = |minute: u32| format!("2026-03-02T16:{minute:02}:00-05:00");
    let fields = json!({"job": job, "trailer": trailer, "tracker": tracker, "fleet": "Larkspur Freight",
        "yard": "Tolland", "wall": "plate", "load": "empty", "at": at(0)});
    vec![
        line("job", fields),
        line(
            "scan",
            json!({"job": job, "what": "tracker", "code": tracker, "at": at(1)}),
        ),
        line(
            "check",
            json!({"job": job, "check": "tracker-reporting", "ok": true, "at": at(2)}),
        ),
        line(
            "scan",
            json!({"job": job, "what": "camera", "code": camera, "at": at(3)}),
        ),
        line(
            "check",
            json!({"job": job, "check": "placement-top", "value": "1 3/4 in", "at": at(4)}),
        ),
        line(
            "link",
            json!({"job": job, "camera": camera, "tracker": tracker, "at": at(20)}),
        ),
        line(
            "settings",
            json!({"job": job, "tracker": tracker, "camera": camera, "state": "live", "at": at(25)}),
        ),
        line(
            "proof",
            json!({"job": job, "state": "judged", "ok": true, "at": at(30),
            "answers": {"lens-clear": true}}),
        ),
        line("sign-off", json!({"job": job, "at": at(40)})),
    ]
}

/// Short notes that differ, each on a job of its own when `jobs` is given.
pub fn notes(count: usize, prefix: &str, jobs: bool) -> Vec<String> {
    let note = |n: usize| {
        let mut keys = json!({"text": format!("{prefix} {n}"), "at": "2026-03-02T17:00:00-05:00"});
        if jobs {
            keys["job"] = format!("{prefix}-{n}").into();
        }
        line("note", keys)
    };
    (0..count).map(note).collect()
}
