//! A device of the world: a real home and a real node, whose journal lies on a disk that can be made to fail.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};

use gladhand_facts::{DeviceKey, VersionVector};
use gladhand_node::config::{Config, Role};
use gladhand_node::{Environment, Node, OpenNodeError, Silent};
use gladhand_store::testing::{Crash, FaultyDisk, MemoryDisk};

use crate::SeededRng;
use crate::process::copy_folder;

/// One device.
pub struct Device {
    /// What the story calls it.
    pub name: String,
    /// Its home.
    pub dir: PathBuf,
    /// What is on its disk.
    pub memory: MemoryDisk,
    /// The way to it, which can be blocked.
    pub disk: FaultyDisk,
    /// Open, or not.
    pub node: Option<Node>,
    /// Its key.
    pub key: DeviceKey,
    /// What it held when it was last looked at.
    pub held: VersionVector,
    /// Its disk has lost something since it wrote first, or it is a copy.
    pub hurt: bool,
    /// Bytes on its disk are not what was written, and it has not been opened since.
    pub rotten: bool,
    /// It runs a version that writes what this one does not know.
    pub newer: bool,
    /// Nobody meets it before this step.
    pub silent_until: usize,
    offset_us: Arc<AtomicI64>,
    outside: Around,
}

/// What all devices share.
#[derive(Clone)]
pub struct Around {
    /// The true time.
    pub true_us: Arc<AtomicI64>,
    /// Where their randomness comes from.
    pub rng: Arc<Mutex<SeededRng>>,
}

impl Device {
    /// Makes a home and opens it.
    pub fn create(dir: PathBuf, name: &str, role: Role, around: &Around) -> Self {
        let memory = MemoryDisk::new();
        let mut device = Self {
            name: name.to_owned(),
            disk: FaultyDisk::over(Arc::new(memory.clone())),
            memory,
            node: None,
            key: DeviceKey([0; 32]),
            held: VersionVector::new(),
            hurt: false,
            rotten: false,
            newer: false,
            silent_until: 0,
            offset_us: Arc::default(),
            outside: around.clone(),
            dir,
        };
        let config = Config::new(name, role, name, "");
        let node = Node::create_with(&device.dir, &config, device.environment()).expect("a home is made");
        device.key = node.device();
        device.node = Some(node);
        device.look();
        device
    }

    /// A copy of a closed device in `dir`, as `cp -r` makes it.
    pub fn copied(&self, dir: PathBuf, name: &str) -> Self {
        copy_folder(&self.dir, &dir);
        let memory = self.memory.moved(&self.dir, &dir);
        Self {
            name: name.to_owned(),
            disk: FaultyDisk::over(Arc::new(memory.clone())),
            memory,
            node: None,
            key: self.key,
            held: self.held.clone(),
            hurt: true,
            rotten: self.rotten,
            newer: self.newer,
            silent_until: 0,
            offset_us: Arc::new(AtomicI64::new(self.offset_us.load(Ordering::Relaxed))),
            outside: self.outside.clone(),
            dir,
        }
    }

    /// Lets a copy believe that it stands where it always stood, as after copying a disk block by block.
    pub fn believe(&self) {
        let mut home = gladhand_store::Home::open(&self.dir, MACHINE).expect("the home opens");
        let log = home.writes().expect("a mark names the log");
        home.settle_as(log).expect("a mark");
    }

    fn environment(&self) -> Environment {
        let (true_us, offset_us) = (Arc::clone(&self.outside.true_us), Arc::clone(&self.offset_us));
        let rng = Arc::clone(&self.outside.rng);
        Environment {
            disk: Arc::new(self.disk.clone()),
            now_us: Arc::new(move || true_us.load(Ordering::Relaxed) + offset_us.load(Ordering::Relaxed)),
            rng: Arc::new(move |bytes| {
                let mut rng = rng.lock().unwrap();
                bytes.iter_mut().for_each(|byte| *byte = rng.number() as u8);
                Ok(())
            }),
            machine_id: MACHINE.to_owned(),
        }
    }

    /// The time by its own clock.
    pub fn now_us(&self) -> i64 {
        self.outside.true_us.load(Ordering::Relaxed) + self.offset_us.load(Ordering::Relaxed)
    }

    /// How far its clock is off.
    pub fn offset_us(&self) -> i64 {
        self.offset_us.load(Ordering::Relaxed)
    }

    /// Sets its clock.
    pub fn set_clock(&self, offset_us: i64) {
        self.offset_us.store(offset_us, Ordering::Relaxed);
    }

    /// Opens it, when it is closed.
    ///
    /// # Errors
    /// When its disk refuses.
    pub fn open(&mut self) -> Result<&mut Node, OpenNodeError> {
        if self.node.is_none() {
            self.node = Some(Node::open_with(&self.dir, &Silent, self.environment())?);
            self.rotten = false;
            self.look();
        }
        Ok(self.node.as_mut().expect("open"))
    }

    /// Whether what it does may fail through no fault of its own.
    pub fn is_troubled(&self) -> bool {
        self.rotten || self.disk.is_troubled()
    }

    /// Notes what it holds.
    pub fn look(&mut self) {
        if let Some(node) = &self.node {
            self.held = node.book().vector();
        }
    }

    /// Closes it in good order.
    pub fn close(&mut self) {
        self.look();
        if let Some(node) = self.node.take() {
            // A disk that refuses to the last is one of the troubles that it must survive.
            node.close().ok();
        }
    }

    /// Ends it at once; what its disk holds then depends on how. The disk is healthy afterwards.
    pub fn crash(&mut self, crash: Crash) {
        self.look();
        drop(self.node.take());
        // A process that was killed left no note of how its index was closed.
        std::fs::remove_file(self.dir.join("index/clean")).ok();
        if crash != Crash::Process {
            std::fs::write(self.dir.join("index/boot"), "another start of the machine").ok();
        }
        self.replace_disk(self.memory.after(crash));
    }

    /// Puts another disk in.
    pub fn replace_disk(&mut self, memory: MemoryDisk) {
        self.disk = FaultyDisk::over(Arc::new(memory.clone()));
        self.memory = memory;
    }

    /// The files of its journal.
    pub fn segments(&self) -> Vec<PathBuf> {
        let log = self.dir.join("log");
        let is_segment = |path: &PathBuf| path.parent() == Some(&log);
        self.memory.paths().into_iter().filter(is_segment).collect()
    }

    /// Files that were set aside as evidence.
    pub fn evidence(&self) -> usize {
        let below = |path: &PathBuf| path.starts_with(self.dir.join("evidence"));
        let in_memory = self.memory.paths().into_iter().filter(below).count();
        in_memory + count(&self.dir.join("evidence"))
    }
}

const MACHINE: &str = "a machine of the simulator";

fn count(dir: &Path) -> usize {
    std::fs::read_dir(dir).map_or(0, Iterator::count)
}
