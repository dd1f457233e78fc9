//! The world: who is in it, and what happens next.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};

use gladhand_facts::{DeviceKey, Fact, FactId, Moment, Place};
use gladhand_node::config::Role;
use gladhand_node::{Node, RecordOutcome};

use super::bundles::Stick;
use super::device::{Around, Device};
use super::judges::{Seen, digest_of_what_counts};
use super::network::{Link, Weather};
use super::{Story, Tally, work};
use crate::SeededRng;

/// 2026-03-02T08:00:00Z.
const MORNING_US: i64 = 1_772_438_400_000_000;
const MINUTE_US: i64 = 60_000_000;
const DAY_US: i64 = 24 * 60 * MINUTE_US;
const PEOPLE: [&str; 5] = ["mara", "ilse", "tomek", "wen", "joan"];

/// A fact that somebody has a receipt for.
#[derive(Debug, Clone)]
pub struct Told {
    /// The fact.
    pub fact: FactId,
    /// Where it stands.
    pub place: Place,
    /// The only disk that held it is gone.
    pub lost: bool,
}

/// See the module doc.
pub struct World {
    pub(super) dir: PathBuf,
    pub(super) rng: SeededRng,
    pub(super) around: Around,
    /// The depot first.
    pub(super) devices: Vec<Device>,
    pub(super) links: BTreeMap<(usize, usize), Link>,
    pub(super) weather: Weather,
    pub(super) sticks: Vec<Stick>,
    pub(super) told: Vec<Told>,
    pub(super) texts: BTreeMap<FactId, String>,
    pub(super) seen: Seen,
    /// Devices whose logs may fork.
    pub(super) clones: BTreeSet<DeviceKey>,
    pub(super) backups: Vec<(usize, Device)>,
    pub(super) story: Arc<Mutex<Story>>,
    pub(super) step: usize,
    pub(super) names: usize,
    /// What was done.
    pub tally: Tally,
}

impl World {
    /// The world of a seed.
    pub fn new(seed: u64, dir: &Path, story: Arc<Mutex<Story>>) -> Self {
        let mut rng = SeededRng::quiet(seed);
        for _ in 0..16 {
            rng.number();
        }
        let around = Around {
            true_us: Arc::new(AtomicI64::new(MORNING_US)),
            rng: Arc::new(Mutex::new(SeededRng::quiet(rng.number()))),
        };
        let mut world = Self {
            dir: dir.to_path_buf(),
            rng,
            around,
            devices: Vec::new(),
            links: BTreeMap::new(),
            weather: Weather::default(),
            sticks: Vec::new(),
            told: Vec::new(),
            texts: BTreeMap::new(),
            seen: Seen::default(),
            clones: BTreeSet::new(),
            backups: Vec::new(),
            story,
            step: 0,
            names: 0,
            tally: Tally::default(),
        };
        world.people();
        world
    }

    fn people(&mut self) {
        let depot = Device::create(self.dir.join("depot"), "harrow-street", Role::Depot, &self.around);
        self.devices.push(depot);
        for _ in 0..2 + self.rng.below(3) {
            self.newcomer();
        }
        self.weather = match self.rng.below(3) {
            0 => Weather::default(),
            1 => Weather {
                cut: 2,
                ..Weather::default()
            },
            _ => Weather {
                lost: 2,
                repeated: 2,
                swapped: 4,
                cut: 1,
            },
        };
    }

    /// Somebody gets a laptop and an invite.
    pub(super) fn newcomer(&mut self) {
        let Some(name) = PEOPLE.get(self.names) else { return };
        let Some(depot) = self.devices[0].node.as_ref() else {
            return;
        };
        let invite = depot.invite(name, 20 * 365 * 86_400).expect("an invite").to_line();
        let mut device = Device::create(self.dir.join(name), name, Role::Laptop, &self.around);
        device.newer = self.rng.percent(25);
        let node = device.node.as_mut().expect("open");
        node.join(&invite).expect("joined");
        device.look();
        self.names += 1;
        self.tell(format!(
            "{name} joins{}",
            if device.newer { ", with a newer version" } else { "" }
        ));
        self.devices.push(device);
    }

    pub(super) fn tell(&self, line: String) {
        // The folder is another one each time.
        let line = line.replace(self.dir.to_string_lossy().as_ref(), "…");
        self.story.lock().unwrap().tell(line);
    }

    /// The whole life of this world.
    pub fn run(&mut self) {
        let steps = 30 + self.rng.below(50);
        while self.step < steps {
            self.step += 1;
            self.tally.steps += 1;
            self.time_passes();
            self.next();
            self.reopen_some();
        }
        self.settle();
        self.judge_the_end();
    }

    fn time_passes(&mut self) {
        let minutes = 1 + self.rng.below(40) as i64;
        let mut by_us = minutes * MINUTE_US;
        if self.rng.percent(3) {
            by_us += DAY_US * self.rng.below(60) as i64;
            self.tell(format!("{} days pass", by_us / DAY_US));
        }
        self.around.true_us.fetch_add(by_us, Ordering::Relaxed);
    }

    /// One thing happens.
    fn next(&mut self) {
        match self.rng.below(100) {
            0..=24 => self.work(),
            25..=44 => self.meet(),
            45..=54 => self.let_flow(12),
            55..=60 => self.write_stick(),
            61..=66 => self.read_stick(),
            67..=70 => self.set_a_clock(),
            71..=76 => self.strike_down(),
            77..=84 => self.block_a_disk(),
            85..=87 => self.damage_a_disk(),
            88..=89 => self.copy_a_device(),
            90..=91 => self.back_up(),
            92..=93 => self.restore(),
            94 => self.retire_somebody(),
            95 => self.newcomer(),
            96..=97 => self.go_silent(),
            98 => self.rule(),
            _ => self.rebuild(),
        }
        let at = self.any();
        if self.rng.percent(30) {
            self.judge(at);
        }
    }

    pub(super) fn any(&mut self) -> usize {
        self.rng.below(self.devices.len())
    }

    pub(super) fn now_text(&self, device: usize) -> String {
        let us = self.devices[device].now_us();
        Moment::from_unix_us(us - us.rem_euclid(1_000_000), 0).text().to_owned()
    }

    /// Somebody records a few facts.
    fn work(&mut self) {
        let at = self.any();
        let (text, newer) = (self.now_text(at), self.devices[at].newer);
        let lines: Vec<String> = (0..1 + self.rng.below(5))
            .map(|_| work::line(&mut self.rng, &text, newer))
            .collect();
        self.record(at, &lines);
        if self.rng.percent(20) {
            // The same once more: it must not count twice.
            self.record(at, &lines);
        }
    }

    fn rule(&mut self) {
        let at = self.any();
        let text = self.now_text(at);
        let troubled = self.devices[at].is_troubled();
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        let findings = match node.findings() {
            Ok(findings) => findings,
            Err(error) => return assert!(troubled, "{error}"),
        };
        if findings.is_empty() {
            return;
        }
        let finding = findings[self.rng.below(findings.len())].id.clone();
        let line = work::ruling(&mut self.rng, &finding, &text);
        self.record(at, &[line]);
    }

    /// Records lines and keeps the receipts.
    pub(super) fn record(&mut self, at: usize, lines: &[String]) {
        let troubled = self.devices[at].is_troubled();
        let Device { node, name, key, .. } = &mut self.devices[at];
        let Some(node) = node.as_mut() else { return };
        let facts: Vec<Fact> = lines
            .iter()
            .filter_map(|line| Fact::from_line(key, line).ok())
            .collect();
        let kinds: Vec<String> = facts.iter().map(|f| f.kind().to_string()).collect();
        let told = match node.record(facts) {
            Ok(receipts) => {
                let fresh = receipts.iter().filter(|r| r.taken == RecordOutcome::Recorded).count();
                let told = format!("{name} records {} ({fresh} of them new)", kinds.join(", "));
                for receipt in receipts {
                    self.texts.insert(receipt.fact.id(), receipt.fact.stored());
                    self.told.push(Told {
                        fact: receipt.fact.id(),
                        place: receipt.place,
                        lost: false,
                    });
                    self.tally.receipts += u64::from(receipt.taken == RecordOutcome::Recorded);
                }
                told
            }
            Err(error) => {
                assert!(troubled, "{name} cannot record on a healthy disk: {error}");
                self.tally.failed_calls += 1;
                format!("{name} cannot record {}: {error}", kinds.join(", "))
            }
        };
        let at_hand = node.documents_at_hand();
        assert!(at_hand <= 512, "{at_hand} documents are kept at hand");
        self.tell(told);
        self.devices[at].look();
        self.grown(at, None);
    }

    /// Two devices come near each other.
    fn meet(&mut self) {
        let (a, b) = (self.any(), self.any());
        let silent = [a, b].iter().any(|d| self.devices[*d].silent_until > self.step);
        if silent || !self.connect(a, b) {
            return;
        }
        self.tell(format!("{} and {} meet", self.devices[a].name, self.devices[b].name));
        if self.rng.percent(50) {
            self.measure_clocks(a, b);
        }
        let messages = 4 + self.rng.below(40);
        self.let_flow(messages);
    }

    fn measure_clocks(&mut self, a: usize, b: usize) {
        let delay_us = 200 + self.rng.below(400_000) as i64;
        let noise_us = self.rng.below(delay_us as usize) as i64 - delay_us / 2;
        let offset_us = self.devices[b].offset_us() - self.devices[a].offset_us() + noise_us;
        let reading = gladhand_logbook::roster::ClockReading {
            device: self.devices[a].key,
            peer: self.devices[b].key,
            offset_us,
            delay_us,
            at_us: self.devices[a].now_us(),
        };
        let troubled = self.devices[a].is_troubled();
        let Some(node) = self.devices[a].node.as_mut() else {
            return;
        };
        if let Err(error) = node.note_clock(&reading) {
            assert!(troubled, "{error}");
            self.tally.failed_calls += 1;
        }
        self.devices[a].look();
        self.grown(a, None);
    }

    fn go_silent(&mut self) {
        let at = 1 + self.rng.below(self.devices.len() - 1);
        let steps = 10 + self.rng.below(30);
        self.devices[at].silent_until = self.step + steps;
        self.cut_off(at);
        self.tell(format!("{} is out of reach for {steps} steps", self.devices[at].name));
    }

    fn rebuild(&mut self) {
        let at = self.any();
        let troubled = self.devices[at].is_troubled();
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        if let Err(error) = node.rebuild(&gladhand_node::Silent) {
            assert!(troubled, "{error}");
            self.tally.failed_calls += 1;
        }
        self.tell(format!("{} makes its index anew", self.devices[at].name));
    }

    /// Good weather and healthy disks, and everybody meets until all hold the same.
    fn settle(&mut self) {
        self.tell("good weather: everybody meets".into());
        self.weather = Weather::default();
        self.links.clear();
        for at in 0..self.devices.len() {
            self.heal(at);
        }
        let count = self.devices.len();
        for _ in 0..4 {
            for (a, b) in (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))) {
                self.connect(a, b);
                self.run_dry();
                self.links.clear();
            }
            if self.are_level() {
                break;
            }
        }
        if self.are_level() {
            return;
        }
        self.tell("they do not come to the same history".into());
        self.tell_what_all_hold();
    }

    pub(super) fn tell_what_all_hold(&self) {
        for device in &self.devices {
            let Some(node) = &device.node else { continue };
            let roster = node.book().roster();
            self.tell(format!(
                "  {} ({}), retired {:?}",
                device.name,
                device.key.short(),
                roster.retired(&device.key).is_some()
            ));
            for (log, seq) in node.book().vector().iter() {
                let (_, hash) = node.book().head(&log);
                let counts = node.book().counts(&log, seq).err();
                let (name, inc) = (roster.name(&log.device), log.incarnation);
                self.tell(format!(
                    "      {name} {} {inc:x}: {seq} {:02x?} {counts:?}",
                    log.device.short(),
                    &hash.0[..3]
                ));
            }
        }
    }

    /// Whether all that still count hold the same.
    pub(super) fn are_level(&self) -> bool {
        let mut digests = self.counting().map(|node| digest_of_what_counts(node, true));
        let first = digests.next();
        digests.all(|digest| Some(digest) == first)
    }

    /// The nodes of devices that the depot has not retired.
    pub(super) fn counting(&self) -> impl Iterator<Item = &Node> {
        let depot = self.devices[0].node.as_ref().expect("open at the end");
        let roster = depot.book().roster();
        let retired = |key: &DeviceKey| roster.retired(key).is_some() || roster.admits(key).is_err();
        self.devices
            .iter()
            .filter(move |d| !retired(&d.key))
            .filter_map(|d| d.node.as_ref())
    }
}
