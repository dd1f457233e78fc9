//! What is left when the process is killed, the power goes, or the disk refuses, at any call?
//!
//! One rule in all of them: what was acknowledged is there, in order; of what was not, the one batch in
//! flight may be there whole; nothing else is.

use super::*;
use crate::testing::{Call, Crash, Faults, FaultyDisk};

/// A machine: what it remembers, and what can go wrong with it.
struct Machine {
    memory: MemoryDisk,
    faulty: FaultyDisk,
}

impl Machine {
    fn new() -> Self {
        Self::with(MemoryDisk::new())
    }

    fn with(memory: MemoryDisk) -> Self {
        let faulty = FaultyDisk::over(Arc::new(memory.clone()));
        Self { memory, faulty }
    }

    fn open(&self) -> Result<Opened, OpenError> {
        try_open(Arc::new(self.faulty.clone()), small())
    }
}

/// Appends batch after batch until one is refused; says how many were acknowledged.
fn append_until_refused(journal: &mut Journal, day: &[Vec<Kept>]) -> usize {
    let refused = day.iter().position(|batch| {
        let records: Vec<Record<'_>> = batch.iter().map(as_record).collect();
        journal.append(&records).is_err()
    });
    refused.unwrap_or(day.len())
}

fn flat(batches: &[Vec<Kept>]) -> Vec<Kept> {
    batches.iter().flatten().cloned().collect()
}

/// Opens what is left, checks the rule, and returns how many batches are there.
fn check_left(disk: &MemoryDisk, day: &[Vec<Kept>], acknowledged: usize, case: &str) -> usize {
    let opened = open(disk);
    let one_more = (acknowledged + 1).min(day.len());
    let there = if opened.visited == flat(&day[..acknowledged]) {
        acknowledged
    } else {
        one_more
    };
    assert!(
        opened.visited == flat(&day[..there]),
        "{case}: {acknowledged} of {} batches were acknowledged, found {:?}",
        day.len(),
        brief(&opened.visited)
    );
    there
}

/// After whatever happened, the day can go on and ends as it should.
fn check_goes_on(disk: &MemoryDisk, day: &[Vec<Kept>], there: usize, case: &str) {
    let mut journal = open(disk).journal;
    for batch in &day[there..] {
        append(&mut journal, batch);
    }
    let end = open(disk);
    assert!(
        end.visited == flat(day) && end.damage.is_empty(),
        "{case}: the day ends whole"
    );
}

fn all_crashes() -> Vec<Crash> {
    let some = (0..6).map(Crash::PowerKeepsSome);
    [Crash::Process, Crash::PowerKeepsNothing]
        .into_iter()
        .chain(some)
        .collect()
}

/// Batches that all hold something, without checkpoints that would be left out.
fn plain_day() -> Vec<Vec<Kept>> {
    let entries = |batch: Vec<Kept>| {
        batch
            .into_iter()
            .filter(|record| record.0 == RecordKind::Entry)
            .collect()
    };
    day(24)
        .into_iter()
        .map(entries)
        .filter(|batch: &Vec<Kept>| !batch.is_empty())
        .collect()
}

#[test]
fn killed_at_any_call() {
    let day = plain_day();
    let mut kills = 0;
    for call in 1.. {
        let machine = Machine::new();
        machine.faulty.set(Faults::kill_at(call));
        let acknowledged = match machine.open() {
            Ok(mut opened) => append_until_refused(&mut opened.journal, &day),
            Err(_) => 0,
        };
        if !machine.faulty.is_killed() {
            break;
        }
        kills += 1;
        for crash in all_crashes() {
            let case = format!("killed at call {call}, {crash:?}");
            let disk = machine.memory.after(crash);
            let there = check_left(&disk, &day, acknowledged, &case);
            check_goes_on(&disk, &day, there, &case);
        }
    }
    assert!(
        kills > 2 * day.len(),
        "a write and a sync a batch, and the segments: {kills}"
    );
}

#[test]
fn one_batch_is_one_write_and_one_sync() {
    let machine = Machine::new();
    let mut journal = machine.open().unwrap().journal;
    append(&mut journal, &[entry(1, 1)]);
    machine.faulty.set(Faults::default());
    append(&mut journal, &[entry(1, 2), entry(2, 1), entry(3, 1), checkpoint(3, 1)]);
    assert_eq!(machine.faulty.trace(), [Call::Write, Call::Sync]);
}

#[test]
fn a_call_that_fails_once_is_undone_and_the_same_batch_goes_in_next_time() {
    let day = plain_day();
    // One failing call, and several: also the undoing fails then, and is made up for later.
    for failures in 1..5 {
        for call in 1.. {
            let machine = Machine::new();
            let mut journal = machine.open().unwrap().journal;
            machine.faulty.set(Faults::between(call, call + failures));
            let mut refusals = 0;
            for batch in &day {
                let records: Vec<Record<'_>> = batch.iter().map(as_record).collect();
                while let Err(error) = journal.append(&records) {
                    assert!(!error.is_disk_full(), "{error}");
                    refusals += 1;
                    assert!(
                        refusals <= failures,
                        "{failures} failures from call {call}: heals by itself"
                    );
                }
            }
            let case = format!("{failures} calls from {call} failed");
            let end = open(&machine.memory.after(Crash::PowerKeepsNothing));
            assert!(
                end.visited == flat(&day) && end.damage.is_empty(),
                "{case}: {:?}",
                end.damage
            );
            assert_eq!(end.journal.end(), journal.end(), "{case}");
            if machine.faulty.calls() < call {
                break;
            }
            assert!(refusals > 0, "{case}: every call of an append counts");
        }
    }
}

#[test]
fn a_disk_that_fails_for_ever_loses_nothing_and_can_still_be_read() {
    let day = plain_day();
    for call in 1.. {
        let machine = Machine::new();
        let mut journal = machine.open().unwrap().journal;
        machine.faulty.set(Faults::from(call));
        let acknowledged = append_until_refused(&mut journal, &day);
        if acknowledged == day.len() {
            break;
        }
        assert_eq!(append_until_refused(&mut journal, &day[acknowledged..]), 0, "and again");
        for (_, log, seq, bytes) in flat(&day[..acknowledged]) {
            assert_eq!(journal.read_entry(&log, seq).unwrap(), Some(bytes));
        }
        for crash in all_crashes() {
            let case = format!("failing from call {call}, {crash:?}");
            let disk = machine.memory.after(crash);
            let there = check_left(&disk, &day, acknowledged, &case);
            check_goes_on(&disk, &day, there, &case);
        }
    }
}

#[test]
fn a_full_disk_is_said_to_be_full_and_goes_on_when_there_is_room() {
    let day = plain_day();
    for room in 0.. {
        let machine = Machine::new();
        let mut journal = machine.open().unwrap().journal;
        machine.faulty.set(Faults {
            room: Some(room),
            ..Faults::default()
        });
        let acknowledged = append_until_refused(&mut journal, &day);
        if acknowledged == day.len() {
            break;
        }
        let next: Vec<Record<'_>> = day[acknowledged].iter().map(as_record).collect();
        let error = journal.append(&next).unwrap_err();
        assert!(error.is_disk_full(), "room for {room} bytes: {error}");
        assert_eq!(
            check_left(&machine.memory.after(Crash::Process), &day, acknowledged, "full"),
            acknowledged
        );
        machine.faulty.set(Faults::default());
        assert_eq!(
            append_until_refused(&mut journal, &day[acknowledged..]),
            day.len() - acknowledged
        );
        let end = open(&machine.memory.after(Crash::PowerKeepsNothing));
        assert!(
            end.visited == flat(&day) && end.damage.is_empty(),
            "room for {room} bytes first, enough later"
        );
    }
}

#[test]
fn short_writes_are_written_on() {
    let day = plain_day();
    for max_write in [1, 7, 100] {
        let machine = Machine::new();
        let mut journal = machine.open().unwrap().journal;
        machine.faulty.set(Faults {
            max_write: Some(max_write),
            ..Faults::default()
        });
        assert_eq!(append_until_refused(&mut journal, &day), day.len());
        assert!(open(&machine.memory).visited == flat(&day));
    }
}

/// A journal with a flipped byte in the middle and an unfinished write at its end.
fn damaged() -> (MemoryDisk, Vec<Kept>) {
    let disk = MemoryDisk::new();
    let mut journal = open(&disk).journal;
    for batch in plain_day() {
        append(&mut journal, &batch);
    }
    for (number, is_last) in [(2, false), (journal.end().segment, true)] {
        let path = Path::new(DIR).join(crate::segment::file_name(number));
        let mut bytes = disk.bytes(&path).unwrap();
        bytes[100] ^= 1;
        if is_last {
            bytes.truncate(bytes.len() - 3);
        }
        disk.put(&path, Some(bytes));
    }
    let expected = open(&disk.after(Crash::Process)).visited;
    (disk, expected)
}

#[test]
fn killed_at_any_call_of_a_repair() {
    let (damaged, expected) = damaged();
    let mut kills = 0;
    for call in 1.. {
        let machine = Machine::with(damaged.after(Crash::Process));
        machine.faulty.set(Faults::kill_at(call));
        drop(machine.open());
        if !machine.faulty.is_killed() {
            break;
        }
        kills += 1;
        for crash in all_crashes() {
            let disk = machine.memory.after(crash);
            let opened = open(&disk);
            assert!(
                opened.visited == expected,
                "killed at call {call}, {crash:?}: {:?}",
                brief(&opened.visited)
            );
            assert!(open(&disk).damage.is_empty());
            let evidence = disk.paths().iter().filter(|path| path.starts_with(EVIDENCE)).count();
            assert!(evidence >= 2, "killed at call {call}, {crash:?}: the evidence is kept");
        }
    }
    assert!(kills > 10, "{kills}");
}

#[test]
fn any_call_of_an_open_may_fail() {
    let (damaged, expected) = damaged();
    for faults in [Faults::once as fn(u64) -> Faults, Faults::from] {
        let mut refusals = 0;
        for call in 1.. {
            let machine = Machine::with(damaged.after(Crash::Process));
            machine.faulty.set(Faults {
                count_reads: true,
                ..faults(call)
            });
            let opened = machine.open();
            let reached = machine.faulty.calls() >= call;
            machine.faulty.set(Faults::default());
            match opened {
                Ok(opened) => assert!(opened.visited == expected, "call {call}"),
                Err(_) => refusals += 1,
            }
            let again = machine.open().unwrap();
            assert!(again.visited == expected, "the next open, after call {call} failed");
            if !reached {
                break;
            }
        }
        assert!(refusals > 10);
    }
}

#[test]
fn a_full_disk_does_not_keep_a_torn_journal_shut() {
    let machine = Machine::new();
    let day = plain_day();
    let mut journal = machine.open().unwrap().journal;
    assert_eq!(append_until_refused(&mut journal, &day[..5]), 5);
    let path = Path::new(DIR).join(crate::segment::file_name(journal.end().segment));
    drop(journal);
    let mut bytes = machine.memory.bytes(&path).unwrap();
    let torn = bytes[40..90].to_vec();
    bytes.extend(&torn);
    machine.memory.put(&path, Some(bytes));

    machine.faulty.set(Faults {
        room: Some(0),
        ..Faults::default()
    });
    let mut opened = machine.open().unwrap();
    assert!(opened.visited == flat(&day[..5]));
    assert_eq!(
        (opened.damage.len(), opened.damage[0].evidence.clone()),
        (1, None),
        "no room for evidence yet"
    );
    let next: Vec<Record<'_>> = day[5].iter().map(as_record).collect();
    assert!(opened.journal.append(&next).unwrap_err().is_disk_full());

    machine.faulty.set(Faults::default());
    opened.journal.append(&next).unwrap();
    let kept = machine
        .memory
        .paths()
        .into_iter()
        .find(|path| path.starts_with(EVIDENCE))
        .unwrap();
    assert_eq!(machine.memory.bytes(&kept), Some(torn), "now it is kept");
    assert!(open(&machine.memory).visited == flat(&day[..6]));
}

#[test]
fn a_bad_sector_costs_what_is_in_it_and_no_more() {
    let machine = Machine::new();
    let large = |seq: u64| (RecordKind::Entry, log(seq as u8), 1, vec![seq as u8; 3000]);
    let day: Vec<Vec<Kept>> = (1..=20).map(|seq| vec![large(seq)]).collect();
    let options = Options {
        segment_bytes: 1 << 20,
        floor_bytes: 0,
    };
    let open = || try_open(Arc::new(machine.faulty.clone()), options).unwrap();
    let mut journal = open().journal;
    assert_eq!(append_until_refused(&mut journal, &day), 20);

    let path = Path::new(DIR).join(crate::segment::file_name(1));
    machine.faulty.spoil(&path, 20_000..20_001);
    let seen = journal.verify(&mut |_, _| {}).unwrap();
    assert_eq!(seen.len(), 1, "{seen:?}");
    drop(journal);
    let opened = open();
    // The sector is the one from 16384 to 20480 or what the batches in it reach to.
    assert!(
        (17..=18).contains(&opened.visited.len()),
        "{:?}",
        brief(&opened.visited)
    );
    assert_eq!(opened.damage.len(), 1);
    assert!(opened.damage[0].evidence.is_some());
    assert_eq!(open().damage, [], "the segment was written anew, elsewhere on the disk");
}
