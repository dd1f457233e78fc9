//! `status`: what this node holds, and what each known device is known to hold and to lack.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, VersionVector};
use serde_json::{Value, json};

use super::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_net::addresses::{Addresses, Known};
use gladhand_node::Node;
use gladhand_node::config::Role;
use gladhand_node::environment;

/// Shows the status.
pub fn status(context: &Context) -> Outcome {
    let mut node = context.open()?;
    let object = describe(&mut node)?;
    if context.json {
        show::json(&object)?;
    } else {
        text(&node, &object)?;
    }
    node.close()?;
    Ok(Exit::Done)
}

fn describe(node: &mut Node) -> Result<Value, Failure> {
    let pictures_missing = node.lacking_pictures()?.len();
    let node = &*node;
    let layout = node.home().layout();
    let vector = node.book().vector();
    let hub = gladhand_net::sync::running(layout.path());
    let met = match &hub {
        Some(hub) => hub.addresses(|book| known(book)),
        None => known(&Addresses::load(layout.path())),
    };
    let devices: Vec<Value> = devices(node)
        .into_iter()
        .map(|d| device(node, &vector, &d, met.get(&d)))
        .collect();
    let evidence = files_in(&layout.evidence());
    Ok(json!({
        "summary": summary(node, &devices, pictures_missing),
        "name": node.config().name,
        "role": if node.config().role == Role::Depot { "depot" } else { "laptop" },
        "device": node.device(),
        "home": layout.path(),
        "depot": node.book().roster().root(),
        "standard": node.standard().version(),
        "entries": vector.entries(),
        "vector": vector,
        "since": vector.to_string(),
        "devices": devices,
        "inbox_waiting": waiting(&layout.inbox()),
        "rejected": files_in(&layout.inbox_rejected()),
        "quarantine": quarantine(node, &evidence),
        "evidence": evidence,
        "pictures_missing": pictures_missing,
        // Counted by the daemon since its start; nobody knows without it.
        "network": hub.as_ref().map(|hub| json!(&*hub.counters)),
        "unreadable": node.problems()?,
        "disk_bytes": node.journal().disk_bytes(),
        "disk_free_bytes": node.journal().free_bytes().ok(),
        "disk_floor_bytes": node.config().disk_floor_mib << 20,
    }))
}

fn known(book: &Addresses) -> BTreeMap<DeviceKey, Known> {
    book.peers().map(|(key, known)| (*key, known.clone())).collect()
}

/// What a tired person wants to know first.
fn summary(node: &Node, devices: &[Value], pictures_missing: usize) -> String {
    if node.book().roster().retired(&node.device()).is_some() {
        return "this device was retired by the depot: what it records now counts nowhere else".to_owned();
    }
    let is = |device: &Value, key: &str, value: Value| device.get(key) == Some(&value);
    let others = devices
        .iter()
        .filter(|d| !is(d, "this", json!(true)) && !is(d, "standing", json!("retired")));
    let lacks: Vec<u64> = others
        .filter_map(|d| d.get("known_to_lack").and_then(Value::as_u64))
        .collect();
    let behind = lacks.iter().filter(|lack| **lack > 0).count();
    let pictures = match pictures_missing as u64 {
        0 => String::new(),
        missing => format!(
            "; {} missing here",
            show::counted(missing, "picture is", "pictures are")
        ),
    };
    match (lacks.len() as u64, behind) {
        (0, _) => format!("no other device is known{pictures}"),
        (all, 0) => format!(
            "synced: {} known to hold all that is here{pictures}",
            show::counted(all, "other device is", "other devices are")
        ),
        (all, behind) => format!(
            "not known to be synced: {behind} of {} may lack up to {}{pictures}",
            show::counted(all, "other device", "other devices"),
            show::counted(lacks.into_iter().max().unwrap_or(0), "entry", "entries")
        ),
    }
}

/// What was set aside of somebody's: whose, why, and where it is.
fn quarantine(node: &Node, evidence: &[String]) -> Vec<Value> {
    let roster = node.book().roster();
    let dir = node.home().layout().evidence();
    let one = |name: &String| {
        let (why, rest) = name.split_once('-')?;
        let why = match why {
            "refused" => "refused",
            "fork" => "forked",
            _ => return None,
        };
        let short = rest.split('-').next()?;
        let whose = roster.devices().into_iter().find(|d| d.short() == short);
        let name_of = whose.map_or_else(|| short.to_owned(), |d| roster.name(&d));
        Some(json!({"device": whose, "name": name_of, "why": why, "file": dir.join(name)}))
    };
    evidence.iter().filter_map(one).collect()
}

fn devices(node: &Node) -> Vec<DeviceKey> {
    let mut all = node.book().roster().devices();
    all.push(node.device());
    all.sort_unstable();
    all.dedup();
    all
}

fn device(node: &Node, vector: &VersionVector, device: &DeviceKey, met: Option<&Known>) -> Value {
    let roster = node.book().roster();
    let own = *device == node.device();
    let mut known = if own {
        vector.clone()
    } else {
        gladhand_logbook::branches::surely_held_by(node.book(), device)
    };
    // A session knows what the home at its other end holds. Of a device with copies that is only one of them.
    let single = vector.iter().filter(|(log, _)| log.device == *device).count() <= 1;
    if let Some(met) = met.filter(|_| single) {
        known.merge(&met.held);
    }
    let clock = node.clock_against(device).filter(|_| !own).map(|reading| {
        json!({
            "ahead_us": reading.offset_us, "uncertainty_us": reading.delay_us / 2, "at": environment::text_of(reading.at_us),
        })
    });
    let missing = vector
        .entries()
        .saturating_sub(known.iter().map(|(l, s)| s.min(vector.get(&l))).sum());
    let held: u64 = vector
        .iter()
        .filter(|(log, _)| log.device == *device)
        .map(|(_, seq)| seq)
        .sum();
    let standing = if roster.root() == Some(*device) {
        "depot"
    } else if roster.retired(device).is_some() {
        "retired"
    } else if roster.is_enrolled(device) {
        "enrolled"
    } else if roster.admits(device).is_ok() {
        "invited"
    } else {
        "not enrolled"
    };
    json!({
        "name": roster.name(device), "device": device, "person": roster.person(device), "standing": standing,
        "this": own, "entries_here": held, "known_to_lack": missing,
        "met": met.filter(|m| m.met_us > 0).map(|m| environment::text_of(m.met_us)), "clock": clock,
    })
}

fn clock_words(device: &Value) -> String {
    let us = |key: &str| device.get("clock").and_then(|c| c.get(key)).and_then(Value::as_i64);
    match (us("ahead_us"), us("uncertainty_us")) {
        (Some(ahead), Some(doubt)) => format!("{:+.3} s, give or take {:.3} s", ahead as f64 / 1e6, doubt as f64 / 1e6),
        _ => "-".to_owned(),
    }
}

/// What was set aside, and whose; and that nothing waits, when nothing does.
fn set_aside(object: &Value) -> Result<(), Failure> {
    for one in object.get("quarantine").and_then(Value::as_array).into_iter().flatten() {
        let word = |key: &str| one.get(key).and_then(Value::as_str).unwrap_or("-");
        show::line(&format!(
            "set aside, {}: of {}, kept in {}",
            word("why"),
            word("name"),
            word("file")
        ))?;
    }
    if object.get("inbox_waiting") == Some(&json!(0)) {
        show::line("nothing waits in the inbox")?;
    }
    Ok(())
}

fn waiting(inbox: &std::path::Path) -> usize {
    let listed = std::fs::read_dir(inbox).map(|dir| dir.flatten().filter(|e| e.path().is_file()).count());
    listed.unwrap_or(0)
}

fn files_in(dir: &std::path::Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .map(|dir| {
            dir.flatten()
                .map(|e| e.file_name().to_string_lossy().into_owned())
                .collect()
        })
        .unwrap_or_default();
    names.sort();
    names
}

fn text(node: &Node, object: &Value) -> Result<(), Failure> {
    let word = |key: &str| object.get(key).and_then(Value::as_str).unwrap_or("-").to_owned();
    let number = |key: &str| object.get(key).and_then(Value::as_u64).unwrap_or(0);
    show::line(&word("summary"))?;
    show::line(&format!("{} ({}), {}", word("name"), word("role"), word("home")))?;
    show::line(&match node.book().roster().root() {
        Some(root) if root == node.device() => "this is the depot".to_owned(),
        Some(root) => format!("depot: {}", node.book().roster().name(&root)),
        None => "has not joined a depot: it records, but cannot merge".to_owned(),
    })?;
    show::line(&format!("work standard {}", word("standard")))?;
    show::line(&format!(
        "{} of {}, {} KiB on disk, {} MiB free",
        show::counted(number("entries"), "entry", "entries"),
        show::counted(node.book().vector().len() as u64, "log", "logs"),
        number("disk_bytes") >> 10,
        number("disk_free_bytes") >> 20
    ))?;
    let mut rows = vec![
        [
            "device",
            "person",
            "standing",
            "entries here",
            "known to lack",
            "last met",
            "its clock is ahead by",
        ]
        .map(str::to_owned)
        .to_vec(),
    ];
    for device in object.get("devices").and_then(Value::as_array).into_iter().flatten() {
        let cell = |key: &str| {
            device
                .get(key)
                .map_or(String::new(), |v| v.as_str().map_or(v.to_string(), str::to_owned))
        };
        let this = if device.get("this") == Some(&Value::Bool(true)) {
            " (this)"
        } else {
            ""
        };
        rows.push(vec![
            cell("name") + this,
            cell("person"),
            cell("standing"),
            cell("entries_here"),
            cell("known_to_lack"),
            device.get("met").and_then(Value::as_str).unwrap_or("-").to_owned(),
            clock_words(device),
        ]);
    }
    show::print(&show::table(&rows))?;
    set_aside(object)?;
    let list = |key: &str| object.get(key).and_then(Value::as_array).map_or(0, Vec::len) as u64;
    for (count, one, many, hint) in [
        (
            number("inbox_waiting"),
            "file waits in the inbox",
            "files wait in the inbox",
            "`gladhand serve` reads them",
        ),
        (
            list("rejected"),
            "file of rejected lines",
            "files of rejected lines",
            "see inbox/rejected in the home",
        ),
        (
            list("evidence"),
            "piece of evidence of damage",
            "pieces of evidence of damage",
            "see evidence in the home",
        ),
        (
            list("unreadable"),
            "entry whose content does not read",
            "entries whose content does not read",
            "`gladhand verify` names them",
        ),
    ] {
        if count > 0 {
            show::line(&format!("{}: {hint}", show::counted(count, one, many)))?;
        }
    }
    Ok(())
}
