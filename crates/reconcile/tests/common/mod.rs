//! A yard in a box: devices that record facts and meet, without any of the machinery that really carries them.
//!
//! Each device has a log and a version vector of what it had seen; `saw` hands over a log up to an entry with
//! all that this entry had seen, as a merge would.

#![allow(
    dead_code,
    unused_imports,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic
)]

pub mod days;
mod log_times;
mod order;
pub mod story;
mod visits;

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use gladhand_facts::fact::WITHDRAWN;
use gladhand_facts::{DeviceKey, Fact, FactId, Kind, LogId, Moment, Place, Stamp, VersionVector};
use gladhand_reconcile::names::spelling;
use gladhand_reconcile::{
    ClockReading, Clocks, DeviceNames, Facts, Fork, HandReading, MemoryFacts, Names, RecordedFact, Sight, Split,
    Subject, Trip, World,
};
use gladhand_trade::Standard;
use log_times::Written;
pub use order::{Dice, causal_order};

/// The built-in standard, read once.
pub fn standard() -> &'static Standard {
    static STANDARD: OnceLock<Standard> = OnceLock::new();
    STANDARD.get_or_init(Standard::built_in)
}

/// What the tests judge by.
pub fn world<'a>(facts: &'a dyn Facts, clocks: &'a Clocks) -> World<'a> {
    World {
        facts,
        standard: standard(),
        clocks,
    }
}

/// 2026-03-02T08:00:00Z, when the day begins.
pub const MORNING_US: i64 = 1_772_438_400_000_000;
const MINUTE_US: i64 = 60_000_000;

struct Device {
    log: LogId,
    /// What it had seen of other logs, entry by entry, of this log.
    entries: Vec<Arc<VersionVector>>,
    /// What it has seen of other logs now.
    seen: VersionVector,
    shared: Arc<VersionVector>,
    index: u32,
    stamp: Stamp,
    clock_us: i64,
}

#[derive(Default)]
pub struct Yard {
    devices: BTreeMap<String, Device>,
    pub facts: Vec<RecordedFact>,
    pub forks: Vec<Fork>,
    /// When each log had newly seen something.
    pub sights: Vec<(LogId, Sight, Arc<VersionVector>)>,
    /// What was measured between clocks; the depot's is the measure from the first reading on.
    pub readings: Vec<ClockReading>,
    pub depot_is_known: bool,
    /// Every entry.
    pub written: Vec<Written>,
    /// The bundles that were carried.
    pub trips: Vec<Trip>,
    /// Those of which the reader has not written anything yet: writer, its head, and what both clocks showed.
    waiting: BTreeMap<String, Vec<(LogId, u64, i64, i64)>>,
    known: BTreeSet<FactId>,
    minutes: i64,
}

pub fn key_of(name: &str) -> DeviceKey {
    DeviceKey(*blake3::hash(name.as_bytes()).as_bytes())
}

/// How a proof names the picture of that name: by the hash of its bytes.
pub fn picture(name: &str) -> String {
    format!("blake3:{}", blake3::hash(name.as_bytes()).to_hex())
}

impl Yard {
    fn device(&mut self, name: &str) -> &mut Device {
        self.devices.entry(name.to_owned()).or_insert_with(|| Device {
            log: LogId {
                device: key_of(name),
                incarnation: 1,
            },
            entries: Vec::new(),
            seen: VersionVector::new(),
            shared: Arc::default(),
            index: 0,
            stamp: Stamp::default(),
            clock_us: 0,
        })
    }

    /// Records a line; `joined` puts it into the same entry as the device's last fact.
    pub fn record(&mut self, name: &str, line: &str, joined: bool) {
        self.minutes += 1;
        let now_us = self.now_us();
        let device = self.device(name);
        let mut fact = Fact::from_line(&device.log.device, line).unwrap_or_else(|e| panic!("{line}: {e}"));
        assert!(
            self.known.insert(fact.id()),
            "the same line twice on one device is one fact: {line}"
        );
        let shows_us = now_us + self.device(name).clock_us;
        fact.fill("at", Moment::from_unix_us(shows_us, 0).text());
        self.file_withdrawal(&mut fact);
        let device = self.device(name);
        if joined {
            device.index += 1;
        } else {
            self.entry(name);
        }
        let device = self.device(name);
        let recorded = RecordedFact {
            fact,
            place: Place {
                log: device.log,
                seq: device.entries.len() as u64,
                index: device.index,
            },
            stamp: device.stamp,
            seen: device.entries.last().unwrap().clone(),
        };
        self.facts.push(recorded);
    }

    /// A withdrawal carries the keys under which the withdrawn fact is filed, as a node notes them.
    fn file_withdrawal(&self, fact: &mut Fact) {
        if *fact.kind() != Kind::Withdraw {
            return;
        }
        let of = fact.text("fact").map(Cow::into_owned);
        let slip = self.facts.iter().find(|w| Some(w.fact.id().to_string()) == of);
        let Some(slip) = slip else {
            return;
        };
        if let Some(job) = slip.fact.text("job") {
            fact.fill("job", job.into_owned());
        }
        fact.fill(WITHDRAWN, slip.fact.filing_keys());
    }

    /// A new entry of the device, with what it has seen by now. The bundles that it has read are recorded before.
    fn entry(&mut self, name: &str) {
        for (writer, head, written_us, read_us) in self.waiting.remove(name).unwrap_or_default() {
            self.one_entry(name);
            let device = self.device(name);
            let place = Place {
                log: device.log,
                seq: device.entries.len() as u64,
                index: 0,
            };
            self.trips.push(Trip {
                place,
                read_us,
                writer,
                head,
                written_us,
            });
        }
        self.one_entry(name);
    }

    fn one_entry(&mut self, name: &str) {
        let now_us = self.now_us();
        let device = self.device(name);
        device.stamp = device.stamp.tick(now_us + device.clock_us);
        let news = *device.shared != device.seen;
        if news {
            device.shared = Arc::new(device.seen.clone());
        }
        device.entries.push(device.shared.clone());
        device.index = 0;
        let sight = Sight {
            seq: device.entries.len() as u64,
            stamp: device.stamp,
        };
        let seen = news.then(|| device.shared.clone());
        let (log, Sight { seq, stamp }) = (device.log, sight);
        self.written.push(Written {
            log,
            seq,
            stamp,
            seen: seen.clone(),
        });
        if let Some(seen) = seen {
            self.sights.push((log, sight, seen));
        }
    }

    /// The true time.
    pub fn now_us(&self) -> i64 {
        MORNING_US + self.minutes * MINUTE_US
    }

    /// What the device's clock shows.
    pub fn shows_us(&self, name: &str) -> i64 {
        self.now_us() + self.devices.get(name).map_or(0, |device| device.clock_us)
    }

    /// Time passes and nobody records anything.
    pub fn wait(&mut self, minutes: i64) {
        self.minutes += minutes;
    }

    /// `name` measures the clock of `peer` over a way that takes so long, and records the reading.
    pub fn measure(&mut self, name: &str, peer: &str, delay_ms: i64) {
        let now_us = self.now_us();
        let there_us = now_us + self.device(peer).clock_us;
        self.entry(name);
        let device = self.device(name);
        let at_us = now_us + device.clock_us;
        let reading = ClockReading {
            device: device.log.device,
            peer: key_of(peer),
            at_us,
            offset_us: there_us - at_us,
            delay_us: delay_ms * 1_000,
            place: Place {
                log: device.log,
                seq: device.entries.len() as u64,
                index: 0,
            },
        };
        self.readings.push(reading);
        self.depot_is_known = true;
    }

    /// What is known about the clocks, and what the logs tell of them.
    pub fn clocks(&self) -> Clocks {
        if self.depot_is_known {
            let depot = key_of("depot");
            let mut logs = log_times::log_times(depot, &self.written, &self.facts, &self.readings, &self.forks);
            logs.trips = self.trips.clone();
            logs.trips.sort();
            let by_hand = self.facts.iter().filter_map(|w| HandReading::of_fact(&w.fact, w.place));
            logs.by_hand = by_hand.collect();
            logs.by_hand.sort();
            Clocks::of_logs(depot, standard().clock(), self.readings.clone(), logs)
        } else {
            Clocks::unmeasured()
        }
    }

    /// `name` takes in the log of `other` up to entry `seq` (all of it when `None`), with what belongs to it.
    pub fn saw(&mut self, name: &str, other: &str, seq: Option<u64>) {
        let log = self.device(other).log;
        let last = seq.unwrap_or(self.device(other).entries.len() as u64);
        let mut news = if seq.is_none() {
            self.device(other).seen.clone()
        } else {
            VersionVector::new()
        };
        if last > 0 {
            news.merge(&self.device(other).entries[last as usize - 1].clone());
            news.advance(log, last);
        }
        let device = self.device(name);
        news.cut(&device.log, 0);
        device.seen.merge(&news);
    }

    pub fn sync(&mut self, a: &str, b: &str) {
        self.saw(a, b, None);
        self.saw(b, a, None);
    }

    /// `writer` writes a bundle, and `reader` reads it after so many minutes.
    pub fn carry(&mut self, writer: &str, reader: &str, minutes: i64) {
        let written_us = self.shows_us(writer);
        let sender = self.device(writer);
        let (log, head) = (sender.log, sender.entries.len() as u64);
        // What the sender has seen and not acknowledged travels as well.
        self.saw(reader, writer, None);
        self.wait(minutes);
        let read_us = self.shows_us(reader);
        let waiting = self.waiting.entry(reader.to_owned()).or_default();
        waiting.push((log, head, written_us, read_us));
    }

    /// The device's clock is off by so much from now on.
    pub fn set_clock_us(&mut self, name: &str, us: i64) {
        self.device(name).clock_us = us;
    }

    /// The device's clock is off by so many minutes from now on.
    pub fn set_clock(&mut self, name: &str, minutes: i64) {
        self.device(name).clock_us = minutes * MINUTE_US;
    }

    /// The device comes back from a backup that held its log up to `seq`: a new incarnation.
    pub fn restore(&mut self, name: &str, seq: u64) {
        let device = self.device(name);
        let old = device.log;
        let held = device.entries[..seq as usize].last().map(|s| (**s).clone());
        device.seen = held.unwrap_or_default();
        device.seen.advance(old, seq);
        device.log.incarnation += 1;
        device.entries.clear();
    }

    /// A second machine with the home of `name` as it was at entry `seq`: the same device, in a log of its own.
    pub fn clone_home(&mut self, copy: &str, name: &str, seq: u64) {
        let original = self.device(name);
        let (old, clock_us) = (original.log, original.clock_us);
        let held = original.entries[..seq as usize].last().map(|s| (**s).clone());
        let device = self.device(copy);
        device.log = LogId {
            incarnation: old.incarnation + 1,
            ..old
        };
        device.seen = held.unwrap_or_default();
        device.seen.advance(old, seq);
        device.clock_us = clock_us;
    }

    /// Two entries claim place `seq` of the device's log; `recorded` noted it in its last entry.
    pub fn fork(&mut self, name: &str, seq: u64, recorded: &str) {
        self.note_fork(name, seq, Split::Claimed(vec![[1; 32], [2; 32]]), recorded);
    }

    /// A copy of the device goes on in a log of its own from place `seq` on; `recorded` noted it in its last entry.
    pub fn copy(&mut self, name: &str, seq: u64, recorded: &str) {
        let mut copy = self.device(name).log;
        copy.incarnation += 1;
        self.note_fork(name, seq, Split::Continued(vec![copy]), recorded);
    }

    fn note_fork(&mut self, name: &str, seq: u64, split: Split, recorded: &str) {
        let log = self.device(name).log;
        let noted = self.device(recorded).log;
        let evidence = self.facts.iter().map(|w| w.place).filter(|p| p.log == noted).max();
        self.forks.push(Fork {
            log,
            seq,
            split,
            evidence: evidence.into_iter().collect(),
        });
    }

    /// What the devices are called, and how things are spelled.
    pub fn names(&self) -> YardNames {
        YardNames {
            devices: self.device_names(),
            facts: self.memory(self.facts.clone()),
        }
    }

    /// What the devices are called.
    pub fn device_names(&self) -> DeviceNames {
        let names = self.devices.keys();
        names.map(|name| (key_of(name), name.clone())).collect()
    }

    /// The facts in memory, in the given order.
    pub fn memory(&self, order: impl IntoIterator<Item = RecordedFact>) -> MemoryFacts {
        let mut memory = MemoryFacts::new(order);
        for fork in &self.forks {
            memory.note_fork(fork.clone());
        }
        for (log, sight, seen) in &self.sights {
            memory.note_sight(*log, *sight, seen.clone());
        }
        memory
    }
}

/// The names of a yard.
pub struct YardNames {
    pub devices: DeviceNames,
    pub facts: MemoryFacts,
}

impl Names for YardNames {
    fn device_name(&self, device: &DeviceKey) -> String {
        self.devices.device_name(device)
    }

    fn spelling(&self, subject: &Subject) -> String {
        spelling(&self.facts, subject)
    }
}
