//! What people record: a few jobs on a few trailers with a few cameras, so that they get into each other's way.

use serde_json::{Value, json};

use crate::SeededRng;

const CAMERAS: [&str; 5] = ["LC-LT91Z9J", "LC-P9D0K5X", "LC-LT91Z9K", "LC-AB12CD3", "LC-7QX2M4T"];
const TRACKERS: [&str; 5] = [
    "LT500411541",
    "LT356259101",
    "LT515506913",
    "LT515506914",
    "LT883312075",
];
const TRAILERS: [&str; 4] = ["LF 5301", "LF 5302", "LF 5338", "LF 5339"];
const CHECKS: [&str; 6] = [
    "tracker-reporting",
    "placement-top",
    "hole-diameter",
    "freight-at-opening",
    "first-probe",
    "pilot-hole",
];
const VALUES: [&str; 5] = ["1 3/4 in", "25 mm", "no", "yes", "free"];

/// A line that somebody writes at `at`. A newer version of the program knows kinds and keys that this one does not.
pub fn line(rng: &mut SeededRng, at: &str, newer: bool) -> String {
    let job = format!("0302-S{}", rng.below(5));
    let (camera, tracker) = (*rng.pick(&CAMERAS), *rng.pick(&TRACKERS));
    let mut keys = match rng.below(13) {
        0 | 1 => opened(rng, &job, tracker),
        2 => json!({"kind": "scan", "job": job, "what": "camera", "code": camera}),
        3 | 4 => check(rng, &job),
        5 | 6 => json!({"kind": "link", "job": job, "camera": camera, "tracker": tracker}),
        7 => json!({"kind": "unlink", "job": job, "camera": camera, "tracker": tracker, "why": "fitted to another"}),
        8 => json!({"kind": "settings", "job": job, "camera": camera, "tracker": tracker,
            "state": *rng.pick(&["asked", "live", "failed"])}),
        9 => json!({"kind": "proof", "job": job, "state": "judged", "ok": rng.percent(70),
            "answers": {"lens-clear": rng.percent(80)}}),
        10 => json!({"kind": "sign-off", "job": job}),
        11 => rare(rng, &job, camera),
        _ => json!({"kind": "note", "text": format!("along the fence, {}", rng.below(1_000_000))}),
    };
    if newer {
        from_a_newer_version(rng, &mut keys);
    }
    if !rng.percent(15) {
        keys["at"] = at.into();
    }
    keys.to_string()
}

fn opened(rng: &mut SeededRng, job: &str, tracker: &str) -> Value {
    json!({"kind": "job", "job": job, "trailer": *rng.pick(&TRAILERS), "tracker": tracker,
        "fleet": "Larkspur Freight", "yard": "Tolland",
        "wall": *rng.pick(&["plate", "sheet-and-post"]), "load": *rng.pick(&["empty", "loaded"])})
}

fn check(rng: &mut SeededRng, job: &str) -> Value {
    let mut keys = json!({"kind": "check", "job": job, "check": *rng.pick(&CHECKS)});
    if rng.percent(50) {
        keys["ok"] = rng.percent(80).into();
    } else {
        keys["value"] = (*rng.pick(&VALUES)).into();
    }
    keys
}

fn rare(rng: &mut SeededRng, job: &str, camera: &str) -> Value {
    match rng.below(3) {
        0 => json!({"kind": "stock", "camera": camera, "fleet": *rng.pick(&["Larkspur Freight", "Tern Haulage"])}),
        1 => json!({"kind": "stand-down", "job": job, "why": "no power in the yard"}),
        _ => json!({"kind": "scan", "job": job, "what": "other", "code": format!("BOX {}", rng.below(9))}),
    }
}

fn from_a_newer_version(rng: &mut SeededRng, keys: &mut Value) {
    keys["temperature-c"] = json!(rng.below(40));
    match rng.below(4) {
        0 => keys["kind"] = "calibration".into(),
        1 => keys["state"] = "half-live".into(),
        2 => keys["deep"] = json!({"rows": [1, [2, {"three": null}]]}),
        _ => {}
    }
}

/// A ruling on a finding.
pub fn ruling(rng: &mut SeededRng, finding: &str, at: &str) -> String {
    let ruling = *rng.pick(&["accepted", "corrected", "void"]);
    let why = format!("looked at it, {}", rng.below(1_000_000));
    json!({"kind": "ruling", "finding": finding, "ruling": ruling, "why": why, "at": at}).to_string()
}
