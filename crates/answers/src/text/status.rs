//! The status for reading: what is missing first, then the devices, then what waits or was set aside.

use super::layout::{counted, table};
use super::{Page, Piece, Text, line};
use crate::status::{Clock, Device, DeviceStanding, SetAsideWhy, Status};

impl Text for Status {
    fn text(&self, page: Page) -> Vec<Piece> {
        let mut out = vec![
            line(self.summary.clone()),
            Piece::Out(devices(&self.devices)),
            line(format!("{} ({}), {}", self.name, self.role, self.home.display())),
            line(depot(self)),
            line(format!("work standard {}", self.standard)),
            line(disk(self)),
        ];
        for gap in &self.gaps {
            let text = page.wrapped(&format!("log of {}: {}", gap.name, gap.words), "  ");
            out.push(Piece::Out(text));
        }
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
        for waiting in &self.inbox {
            let text = page.wrapped(&format!("inbox/{}: {}", waiting.file, waiting.why), "  ");
            out.push(Piece::Out(text));
        }
        out.extend(counts(self).into_iter().map(line));
        out
    }
}

/// What a tired person wants to know first: what is missing here, and what is missing elsewhere.
pub fn summary(status: &Status) -> String {
    let is_retired = |device: &Device| device.standing == DeviceStanding::Retired;
    if status.this().is_some_and(is_retired) {
        return "this device was retired by the depot: what it records now counts nowhere else".to_owned();
    }
    format!(
        "{}Missing here: {}. Missing elsewhere: {}.{}",
        cannot_record(status),
        here(status),
        elsewhere(status),
        besides(status)
    )
}

/// Why nothing can be recorded, and what to do; nothing when it can.
fn cannot_record(status: &Status) -> String {
    if status.disk_read_only {
        return "Nothing can be recorded: the disk takes no writes. ".to_owned();
    }
    let missing = status
        .disk_free_bytes
        .map_or(0, |free| status.disk_floor_bytes.saturating_sub(free));
    match missing.div_ceil(1 << 20) {
        0 => String::new(),
        mib => format!("Nothing can be recorded: the disk is full; make room for {mib} MiB. "),
    }
}

/// What waits for somebody to look, and so may hold facts that nobody has.
fn besides(status: &Status) -> String {
    let rows = [
        (status.inbox_waiting, "waits in the inbox", "wait in the inbox"),
        (status.quarantine.len() as u64, "is set aside", "are set aside"),
    ];
    let waiting = rows.into_iter().filter(|(count, ..)| *count > 0);
    let files = waiting.map(|(count, one, many)| {
        let what = if count == 1 { one } else { many };
        format!(" {} {what}.", counted(count, "file", "files"))
    });
    behind_gaps(status).into_iter().chain(files).collect()
}

fn behind_gaps(status: &Status) -> Option<String> {
    let waiting: u64 = status.gaps.iter().map(|gap| gap.waiting).sum();
    let wait = if waiting == 1 { "waits" } else { "wait" };
    (waiting > 0).then(|| format!(" {} here {wait} behind a gap.", counted(waiting, "entry", "entries")))
}

fn here(status: &Status) -> String {
    let rows = [
        (status.entries_missing, "entry", "entries"),
        (status.pictures_missing, "picture", "pictures"),
    ];
    let missing: Vec<String> = rows
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, many)| counted(count, one, many))
        .collect();
    if missing.is_empty() {
        "nothing that is known of".to_owned()
    } else {
        missing.join(" and ")
    }
}

fn elsewhere(status: &Status) -> String {
    let others = status
        .devices
        .iter()
        .filter(|d| !d.this && d.standing != DeviceStanding::Retired);
    let others: Vec<&Device> = others.collect();
    let behind: Vec<&&Device> = others.iter().filter(|d| d.known_to_lack > 0).collect();
    match (others.as_slice(), behind.as_slice()) {
        ([], _) => {
            let why = match &status.depot {
                None => "this device has not joined a depot",
                Some(_) => "no other device is enrolled",
            };
            let held = counted(status.entries, "entry", "entries");
            format!("everything here ({held}), because {why}")
        }
        (all, []) => format!(
            "nothing, {} known to hold all that is here",
            counted(all.len() as u64, "other device is", "other devices are")
        ),
        (_, [one]) => format!(
            "{} may lack up to {}",
            called(one),
            counted(one.known_to_lack, "entry", "entries")
        ),
        (all, behind) => format!(
            "{} of {} may lack up to {}",
            behind.len(),
            counted(all.len() as u64, "other device", "other devices"),
            counted(
                behind.iter().map(|d| d.known_to_lack).max().unwrap_or(0),
                "entry",
                "entries"
            )
        ),
    }
}

/// A depot that was never met has no name yet.
fn called(device: &Device) -> String {
    let is_unnamed = device.name == device.device.short();
    if device.standing == DeviceStanding::Depot && is_unnamed {
        format!("the depot {}, not met yet,", device.name)
    } else {
        device.name.clone()
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
        "lacks up to",
        "lacking here",
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
        device.lacking_here.to_string(),
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
            "see above",
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
