//! `status`: what this node holds, and what each known device is known to hold and to lack.

use gladhand_facts::{DeviceKey, VersionVector};
use serde_json::{Value, json};

use super::Context;
use crate::config::Role;
use crate::failure::{Exit, Failure, Outcome};
use crate::node::Node;
use crate::show;

/// Shows the status.
pub fn status(context: &Context) -> Outcome {
    let node = context.open()?;
    let object = describe(&node)?;
    if context.json {
        show::json(&object)?;
    } else {
        text(&node, &object)?;
    }
    node.close()?;
    Ok(Exit::Done)
}

fn describe(node: &Node) -> Result<Value, Failure> {
    let layout = node.home().layout();
    let vector = node.book().vector();
    let devices: Vec<Value> = devices(node).into_iter().map(|d| device(node, &vector, &d)).collect();
    let evidence = files_in(&layout.evidence());
    Ok(json!({
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
        "evidence": evidence,
        "unreadable": node.problems()?,
        "disk_bytes": node.journal().disk_bytes(),
        "disk_free_bytes": node.journal().free_bytes().ok(),
        "disk_floor_bytes": node.config().disk_floor_mib << 20,
    }))
}

fn devices(node: &Node) -> Vec<DeviceKey> {
    let mut all = node.book().roster().devices();
    all.push(node.device());
    all.sort_unstable();
    all.dedup();
    all
}

fn device(node: &Node, vector: &VersionVector, device: &DeviceKey) -> Value {
    let roster = node.book().roster();
    let own = *device == node.device();
    let known = if own {
        vector.clone()
    } else {
        gladhand_logbook::branches::surely_held_by(node.book(), device)
    };
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
    })
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
        ["device", "person", "standing", "entries here", "known to lack"]
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
        ]);
    }
    show::print(&show::table(&rows))?;
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
