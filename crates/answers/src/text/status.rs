//! The status for reading: what is missing first, then the devices, then what waits or was set aside.

use super::layout::{counted, table};
use super::{Page, Piece, Text, line};
use crate::status::{Clock, Device, DeviceStanding, SetAsideWhy, Status};

impl Text for Status {
    fn text(&self, _: Page) -> Vec<Piece> {
        let mut out = vec![
            line(self.summary.clone()),
            line(format!("{} ({}), {}", self.name, self.role, self.home.display())),
            line(depot(self)),
            line(format!("work standard {}", self.standard)),
            line(disk(self)),
            Piece::Out(devices(&self.devices)),
        ];
        out.extend(self.quarantine.iter().map(|one| {
            let why = match one.why {
                SetAsideWhy::Refused => "refused",
                SetAsideWhy::Forked => "forked",
            };
            line(format!(
                "set aside, {why}: of {}, kept in {}",
                one.name,
                one.file.display()
            ))
        }));
        if self.inbox_waiting == 0 {
            out.push(line("nothing waits in the inbox"));
        }
        out.extend(counts(self).into_iter().map(line));
        out
    }
}

/// What a tired person wants to know first.
pub fn summary(status: &Status) -> String {
    let is_retired = |device: &Device| device.standing == DeviceStanding::Retired;
    if status.this().is_some_and(is_retired) {
        return "this device was retired by the depot: what it records now counts nowhere else".to_owned();
    }
    let others = status.devices.iter().filter(|d| !d.this && !is_retired(d));
    let lacks: Vec<u64> = others.map(|d| d.known_to_lack).collect();
    let behind = lacks.iter().filter(|lack| **lack > 0).count();
    let pictures = match status.pictures_missing {
        0 => String::new(),
        missing => format!("; {} missing here", counted(missing, "picture is", "pictures are")),
    };
    match (lacks.len() as u64, behind) {
        (0, _) => format!("no other device is known{pictures}"),
        (all, 0) => format!(
            "synced: {} known to hold all that is here{pictures}",
            counted(all, "other device is", "other devices are")
        ),
        (all, behind) => format!(
            "not known to be synced: {behind} of {} may lack up to {}{pictures}",
            counted(all, "other device", "other devices"),
            counted(lacks.into_iter().max().unwrap_or(0), "entry", "entries")
        ),
    }
}

fn depot(status: &Status) -> String {
    match (&status.depot, &status.depot_name) {
        (Some(depot), _) if *depot == status.device => "this is the depot".to_owned(),
        (Some(_), Some(name)) => format!("depot: {name}"),
        _ => "has not joined a depot: it records, but cannot merge".to_owned(),
    }
}

fn disk(status: &Status) -> String {
    format!(
        "{} of {}, {} KiB on disk, {} MiB free",
        counted(status.entries, "entry", "entries"),
        counted(status.vector.len() as u64, "log", "logs"),
        status.disk_bytes >> 10,
        status.disk_free_bytes.unwrap_or(0) >> 20
    )
}

fn devices(devices: &[Device]) -> String {
    let head = [
        "device",
        "person",
        "standing",
        "entries here",
        "known to lack",
        "last met",
        "its clock is ahead by",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(devices.iter().map(device));
    table(&rows)
}

fn device(device: &Device) -> Vec<String> {
    let this = if device.this { " (this)" } else { "" };
    vec![
        format!("{}{this}", device.name),
        device.person.clone(),
        standing(device.standing).to_owned(),
        device.entries_here.to_string(),
        device.known_to_lack.to_string(),
        device.met.clone().unwrap_or_else(|| "-".to_owned()),
        device.clock.as_ref().map_or_else(|| "-".to_owned(), clock),
    ]
}

fn standing(standing: DeviceStanding) -> &'static str {
    match standing {
        DeviceStanding::Depot => "depot",
        DeviceStanding::Retired => "retired",
        DeviceStanding::Enrolled => "enrolled",
        DeviceStanding::Invited => "invited",
        DeviceStanding::NotEnrolled => "not enrolled",
    }
}

fn clock(clock: &Clock) -> String {
    let seconds = |us: i64| us as f64 / 1e6;
    format!(
        "{:+.3} s, give or take {:.3} s",
        seconds(clock.ahead_us),
        seconds(clock.uncertainty_us)
    )
}

/// What waits, was rejected or does not read, each with what to do about it.
fn counts(status: &Status) -> Vec<String> {
    let rows = [
        (
            status.inbox_waiting,
            "file waits in the inbox",
            "files wait in the inbox",
            "`gladhand serve` reads them",
        ),
        (
            status.rejected.len() as u64,
            "file of rejected lines",
            "files of rejected lines",
            "see inbox/rejected in the home",
        ),
        (
            status.evidence.len() as u64,
            "piece of evidence of damage",
            "pieces of evidence of damage",
            "see evidence in the home",
        ),
        (
            status.unreadable.len() as u64,
            "entry whose content does not read",
            "entries whose content does not read",
            "`gladhand verify` names them",
        ),
    ];
    let told = rows.into_iter().filter(|(count, ..)| *count > 0);
    told.map(|(count, one, many, hint)| format!("{}: {hint}", counted(count, one, many)))
        .collect()
}
