//! The device before anything is damaged, the blows that its files take, and what each case must come to.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};

use gladhand_tests::facts::line;
use gladhand_tests::{Bundles, Fleet, Home, demo_data, files_below};
use serde_json::{Value, json};

pub const SEGMENT: &str = "log/00000001.seg";

/// What happens to a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blow {
    /// One bit of this byte is another one.
    Flip(usize),
    /// It ends here.
    Cut(usize),
    /// It is not there.
    Delete,
    /// It is as long as it was, and all zeros.
    Zero,
    /// Its beginning and its end have changed places.
    Swap,
}

impl Blow {
    pub fn strike(self, file: &Path) {
        let mut bytes = std::fs::read(file).unwrap();
        match self {
            Self::Flip(at) => bytes[at] ^= 0x04,
            Self::Cut(at) => bytes.truncate(at),
            Self::Zero => bytes.fill(0),
            Self::Swap => {
                let half = bytes.len() / 2;
                bytes.rotate_left(half);
            }
            Self::Delete => return std::fs::remove_file(file).unwrap(),
        }
        std::fs::write(file, bytes).unwrap();
    }

    /// The blows that a file of this length can take, in a few places.
    pub fn few(len: usize) -> Vec<Self> {
        let mut blows = vec![Self::Delete, Self::Zero, Self::Cut(0)];
        if len > 1 {
            blows.extend([len - 1, len / 2].map(Self::Cut));
            blows.extend([0, len / 3, len - 1].map(Self::Flip));
        }
        blows.dedup();
        blows
    }
}

/// What the device and its depot hold before anything is damaged, and what each must answer afterwards.
pub struct Scene {
    pub fleet: Fleet,
    /// Where the journal ended after each command that wrote to it.
    pub ends: Vec<usize>,
    /// The device as it was before it met anybody that evening.
    pub early: Home,
    /// Everything, written by the depot.
    pub bundle: PathBuf,
    pub findings: String,
    pub report: String,
    pub vector: Value,
    /// What the device answers to [`QUESTION`].
    pub history: Vec<Value>,
    /// The files of the device's index. Nobody opens the device itself again, for that might change them.
    pub index: Vec<PathBuf>,
    pub cases: AtomicU32,
}

/// A history that is found through the index.
pub const QUESTION: [&str; 2] = ["--trailer", "LF 5338"];

/// The scene, shared by the tests that run at the same time; the last one takes its folder away.
pub fn scene() -> Arc<Scene> {
    static SCENE: Mutex<Weak<Scene>> = Mutex::new(Weak::new());
    let mut shared = SCENE.lock().unwrap_or_else(PoisonError::into_inner);
    shared.upgrade().unwrap_or_else(|| {
        let made = Arc::new(Scene::make());
        *shared = Arc::downgrade(&made);
        made
    })
}

impl Scene {
    pub fn make() -> Self {
        let fleet = Fleet::enrolled(&["mara", "ilse"]);
        let journal = fleet.laptops[0].file(SEGMENT);
        let mut ends = vec![std::fs::metadata(&journal).unwrap().len() as usize];
        let data = std::fs::read_to_string(demo_data().join("02-mara-afternoon.jsonl")).unwrap();
        let picture = fleet.dir().join("proof-0302-M02.png");
        std::fs::copy(demo_data().join("proof-0302-M02.png"), picture).unwrap();
        for (number, lines) in data.lines().collect::<Vec<_>>().chunks(40).enumerate() {
            // As a file, because the picture is looked for beside it.
            let file = fleet.dir().join(format!("part-{number}.jsonl"));
            std::fs::write(&file, lines.join("\n")).unwrap();
            fleet.laptops[0].run(&["record", file.to_str().unwrap()]).done();
            ends.push(std::fs::metadata(&journal).unwrap().len() as usize);
        }
        let other = demo_data().join("03-ilse-afternoon.jsonl");
        fleet.laptops[1].run(&["record", other.to_str().unwrap()]).done();
        let early = fleet.laptops[0].copied(fleet.dir().join("early"));
        fleet.exchange_all();
        ends.push(std::fs::metadata(&journal).unwrap().len() as usize);
        let bundle = fleet.bundles.next();
        fleet.depot.write_bundle(&bundle);
        Self {
            findings: fleet.depot.findings(),
            report: fleet.depot.report(),
            vector: fleet.depot.vector(),
            history: fleet.laptops[0].history(&QUESTION),
            index: files_below(&fleet.laptops[0].file("index")),
            ends,
            early,
            bundle,
            fleet,
            cases: AtomicU32::new(0),
        }
    }

    pub fn device(&self) -> &Home {
        &self.fleet.laptops[0]
    }

    /// A device and a depot for one case; nobody else touches them.
    pub fn case(&self) -> Case<'_> {
        self.case_of(self.device())
    }

    /// The same from another state of the device.
    pub fn case_of(&self, device: &Home) -> Case<'_> {
        let number = self.cases.fetch_add(1, Ordering::Relaxed);
        let dir = self.fleet.dir().join(format!("case-{number}"));
        Case {
            scene: self,
            device: device.stand_in(dir.join("device")),
            dir: dir.clone(),
            bundles: Bundles::in_folder(&dir.join("bundles")),
        }
    }

    pub fn length(&self, file: impl AsRef<Path>) -> usize {
        std::fs::metadata(self.device().file(file)).unwrap().len() as usize
    }

    /// A journal that ends where a batch ended, or is not there, looks whole: only the index knows that there was more.
    pub fn leaves_no_trace(&self, blow: Blow) -> bool {
        match blow {
            Blow::Delete | Blow::Cut(0) => true,
            Blow::Cut(at) => self.ends.contains(&at),
            _ => false,
        }
    }
}

pub struct Case<'s> {
    pub scene: &'s Scene,
    pub dir: PathBuf,
    pub device: Home,
    pub bundles: Bundles,
}

impl Case<'_> {
    pub fn evidence(&self) -> Vec<PathBuf> {
        files_below(&self.device.file("evidence"))
    }

    /// The depot's bundle brings back whatever was lost.
    pub fn everything_comes_back(&self, what: &str) {
        self.device.read_bundle(&self.scene.bundle).done();
        let held = self.device.vector();
        for (log, head) in self.scene.vector.as_object().unwrap() {
            // More, where the device went on in its log.
            let is_back = held[log].as_u64() >= head.as_u64();
            assert!(is_back, "entries of log {log} after {what}: {held}");
        }
        assert_eq!(self.device.findings(), self.scene.findings, "findings after {what}");
    }

    /// The device records on, and the depot takes what it wrote without finding a fork. Returns how many logs the device
    /// has written.
    pub fn goes_on(&self, what: &str) -> usize {
        let depot = self.scene.fleet.depot.stand_in(self.dir.join("depot"));
        let fact = line("note", json!({"text": format!("after {what}"), "job": "0302-M01"}));
        self.device.record(&[fact]);
        self.bundles.carry(&self.device, &depot).done();
        let (here, there) = (self.device.status(), depot.status());
        assert_eq!(here["vector"], there["vector"], "what both hold after {what}");
        let findings = self.device.findings();
        assert_eq!(findings, depot.findings(), "findings on both after {what}");
        assert!(!findings.contains("log-forked"), "a fork after {what}: {findings}");
        let own = here["device"].as_str().unwrap();
        let logs = here["vector"].as_object().unwrap();
        self.device.verifies();
        logs.keys().filter(|log| log.starts_with(own)).count()
    }
}
