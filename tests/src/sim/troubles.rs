//! What happens to devices: clocks, kills, power cuts, full and failing disks, rot, copies, backups, retirement.

use gladhand_node::Node;
use gladhand_store::Disk;
use gladhand_store::testing::{Crash, Faults};

use super::World;
use super::device::Device;

const MINUTE_US: i64 = 60_000_000;

impl World {
    /// A clock is set, or jumps.
    pub(super) fn set_a_clock(&mut self) {
        let at = self.any();
        let minutes = match self.rng.below(4) {
            0 => 0,
            1 => self.rng.below(6) as i64 - 3,
            2 => self.rng.below(600) as i64 - 300,
            _ => self.rng.below(400 * 24 * 60) as i64 - 200 * 24 * 60,
        };
        self.devices[at].set_clock(minutes * MINUTE_US);
        self.tally.clocks += 1;
        self.tell(format!(
            "the clock of {} is {minutes} minutes off",
            self.devices[at].name
        ));
    }

    fn crash(&mut self) -> Crash {
        match self.rng.below(3) {
            0 => Crash::Process,
            1 => Crash::PowerKeepsNothing,
            _ => Crash::PowerKeepsSome(self.rng.number()),
        }
    }

    /// A process is killed or a machine loses power, at rest or in the middle of its next write.
    pub(super) fn strike_down(&mut self) {
        let at = self.any();
        let crash = self.crash();
        let call = self.rng.below(6) as u64;
        if call > 0 {
            self.devices[at].disk.set(Faults::kill_at(call));
            self.busy(at);
        }
        self.cut_off(at);
        self.devices[at].crash(crash);
        self.tally.kills += 1;
        self.tell(format!(
            "{} is struck down at call {call}: {crash:?}",
            self.devices[at].name
        ));
    }

    /// It does something while its disk is not well.
    fn busy(&mut self, at: usize) {
        let lines = [format!(
            r#"{{"kind":"note","job":"0302-S1","text":"in a hurry, step {}"}}"#,
            self.step
        )];
        match self.rng.below(3) {
            0 => self.record(at, &lines),
            1 => self.read_stick(),
            _ => self.let_flow(10),
        }
        self.record(at, &lines);
    }

    /// A disk fails once, for a while, or is full; then it is well again.
    pub(super) fn block_a_disk(&mut self) {
        let at = self.any();
        let from = 1 + self.rng.below(4) as u64;
        let faults = match self.rng.below(4) {
            0 => Faults::once(from),
            1 => Faults::between(from, from + 1 + self.rng.below(6) as u64),
            2 => Faults::from(from),
            _ => Faults {
                room: Some(self.rng.below(2_000) as u64),
                ..Faults::default()
            },
        };
        let faults = Faults {
            count_reads: self.rng.percent(40),
            max_write: self.rng.percent(20).then_some(7),
            ..faults
        };
        self.tell(format!("the disk of {} goes wrong: {faults:?}", self.devices[at].name));
        self.devices[at].disk.set(faults);
        self.busy(at);
        if self.rng.percent(30) {
            self.judge(at);
        }
        self.devices[at].disk.set(Faults::default());
        self.tell(format!("the disk of {} is well again", self.devices[at].name));
        if self.rng.percent(50) {
            // Whatever failed is done again, and must count once.
            self.busy(at);
        }
    }

    /// A bit of a journal flips, or its end is gone, and nobody notices before the next start.
    pub(super) fn damage_a_disk(&mut self) {
        let at = self.any();
        let running = self.rng.percent(30);
        if !running {
            self.cut_off(at);
            self.devices[at].close();
        }
        let segments = self.devices[at].segments();
        if segments.is_empty() {
            return;
        }
        let file = segments[self.rng.below(segments.len())].clone();
        let Some(mut bytes) = self.devices[at].memory.bytes(&file).filter(|b| !b.is_empty()) else {
            return;
        };
        let place = self.rng.below(bytes.len());
        let how = if self.rng.percent(60) {
            bytes[place] ^= 1 << self.rng.below(8);
            "a bit flips"
        } else {
            bytes.truncate(place);
            "everything is gone"
        };
        if running {
            // In the file that is open, not another one of the same name.
            let open = self.devices[at].memory.open(&file).unwrap();
            open.truncate(bytes.len() as u64).unwrap();
            open.write_at(0, &bytes).unwrap();
        } else {
            self.devices[at].memory.put(&file, Some(bytes));
        }
        let Device { rotten, hurt, name, .. } = &mut self.devices[at];
        (*rotten, *hurt) = (true, true);
        let told = format!("in the journal of {name}, {how} at byte {place}");
        self.tell(told);
        self.tally.damaged += 1;
        if running {
            self.busy(at);
            self.cut_off(at);
            self.devices[at].crash(Crash::Process);
        }
        self.wake(at);
        self.count_losses();
    }

    /// A closed device is opened, on a disk that is well.
    pub(super) fn wake(&mut self, at: usize) {
        self.devices[at].disk.set(Faults::default());
        let name = self.devices[at].name.clone();
        let node = match self.devices[at].open() {
            Ok(node) => node,
            Err(error) => panic!("{name} does not open on a healthy disk: {error}"),
        };
        let damage = node.damage().len();
        if damage > 0 {
            self.tell(format!("{name} starts, and finds damage in {damage} places"));
        }
    }

    /// Some of the closed ones start again.
    pub(super) fn reopen_some(&mut self) {
        for at in 0..self.devices.len() {
            if self.devices[at].node.is_some() || !self.rng.percent(40) {
                continue;
            }
            if self.rng.percent(10) {
                // The disk refuses at the start; another time then.
                let call = 1 + self.rng.below(12) as u64;
                let faults = Faults {
                    count_reads: true,
                    ..Faults::once(call)
                };
                self.devices[at].disk.set(faults);
                let opened = self.devices[at].open().is_ok();
                let name = &self.devices[at].name;
                self.tell(format!("{name} starts while call {call} fails: {opened}"));
                self.devices[at].disk.set(Faults::default());
                continue;
            }
            self.wake(at);
            self.judge(at);
        }
    }

    /// Everything well and open again. Whoever lost with his journal that he was invited asks for another invite.
    pub(super) fn heal(&mut self, at: usize) {
        self.devices[at].memory.set_free_bytes(1 << 40);
        self.wake(at);
        let key = self.devices[at].key;
        let is_stranger = |node: &Node| node.book().roster().admits(&key).is_err() && node.device() == key;
        if !self.devices[at].node.as_ref().is_some_and(is_stranger) {
            return;
        }
        let Some(depot) = self.devices[0].node.as_ref() else {
            return;
        };
        let invite = depot.invite("again", 20 * 365 * 86_400).expect("an invite").to_line();
        let name = self.devices[at].name.clone();
        if let Some(node) = self.devices[at].node.as_mut() {
            node.join(&invite).expect("joined again");
        }
        self.tell(format!("{name} has lost its invite and joins again"));
    }

    /// A home is copied, and both go on. Now and then the copy cannot know that it is one.
    pub(super) fn copy_a_device(&mut self) {
        let at = 1 + self.rng.below(self.devices.len() - 1);
        if self.devices.len() > 7 {
            return;
        }
        self.cut_off(at);
        self.devices[at].close();
        let name = format!("{}-copy-{}", self.devices[at].name, self.step);
        let copy = self.devices[at].copied(self.dir.join(&name), &name);
        let unnoticed = self.rng.percent(15);
        if unnoticed {
            copy.believe();
            self.clones.insert(copy.key);
        }
        let what = if unnoticed { ", block by block" } else { "" };
        self.tell(format!("{} is copied{what}: {name}", self.devices[at].name));
        self.devices.push(copy);
        self.tally.copies += 1;
        self.wake(at);
        self.wake(self.devices.len() - 1);
    }

    /// A backup of a home is made.
    pub(super) fn back_up(&mut self) {
        let at = self.any();
        self.cut_off(at);
        self.devices[at].close();
        let name = format!("{}-backup-{}", self.devices[at].name, self.step);
        let backup = self.devices[at].copied(self.dir.join(&name), &self.devices[at].name);
        self.tell(format!("a backup of {} is made", self.devices[at].name));
        self.backups.push((at, backup));
        self.wake(at);
    }

    /// A backup is put in the place of its home: what came after it is gone from there.
    pub(super) fn restore(&mut self) {
        if self.backups.is_empty() {
            return;
        }
        let chosen = self.rng.below(self.backups.len());
        let (at, backup) = &self.backups[chosen];
        let at = *at;
        // The old folder stays, so that the new one gets files of its own.
        let dir = self.dir.join(format!("{}-restored-{}", backup.name, self.step));
        let mut restored = backup.copied(dir, &backup.name);
        let unnoticed = self.rng.percent(15);
        if unnoticed {
            restored.believe();
            self.clones.insert(restored.key);
        }
        self.cut_off(at);
        self.devices[at].close();
        restored.silent_until = self.devices[at].silent_until;
        let what = if unnoticed { ", block by block" } else { "" };
        self.tell(format!("{} is put back from a backup{what}", restored.name));
        self.devices[at] = restored;
        self.tally.restored += 1;
        self.wake(at);
        self.count_losses();
    }

    /// The depot takes a device off the roster.
    pub(super) fn retire_somebody(&mut self) {
        if self.tally.retired > 0 || self.devices.len() < 4 {
            return;
        }
        let at = 1 + self.rng.below(self.devices.len() - 1);
        let (key, name) = (self.devices[at].key, self.devices[at].name.clone());
        let troubled = self.devices[0].is_troubled();
        let Some(depot) = self.devices[0].node.as_mut() else {
            return;
        };
        match depot.retire(&key, None, "left on a bus") {
            Ok(_) => {
                self.tally.retired += 1;
                let told = format!("the depot retires {name}");
                self.tell(told);
            }
            Err(error) => assert!(troubled, "{name} cannot be retired: {error}"),
        }
        self.devices[0].look();
        self.grown(0, None);
    }
}
