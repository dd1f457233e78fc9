//! Watches over a trial: the input is on disk before it is tried, and one that takes minutes ends the process.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Nothing that is bounded takes this long, on whatever machine.
const TOO_LONG: Duration = Duration::from_secs(240);

/// See the module doc.
pub(super) struct Watch {
    file: PathBuf,
    /// Milliseconds since the start at which the input was begun; 0: none.
    since_ms: Arc<AtomicU64>,
    over: Arc<AtomicBool>,
    start: Instant,
}

impl Watch {
    pub(super) fn start(name: &'static str) -> Self {
        let program = std::env::current_exe().unwrap();
        let folder = program.ancestors().nth(2).unwrap().join("fuzz");
        std::fs::create_dir_all(&folder).unwrap();
        let watch = Self {
            file: folder.join(format!("{name}.trying")),
            since_ms: Arc::default(),
            over: Arc::default(),
            start: Instant::now(),
        };
        watch.look_after(name);
        watch
    }

    fn look_after(&self, name: &'static str) {
        let (since_ms, over, start) = (self.since_ms.clone(), self.over.clone(), self.start);
        let file = self.file.clone();
        std::thread::spawn(move || {
            while !over.load(Ordering::SeqCst) {
                std::thread::sleep(Duration::from_millis(200));
                let began = since_ms.load(Ordering::SeqCst);
                let took = start.elapsed().saturating_sub(Duration::from_millis(began));
                if began > 0 && took > TOO_LONG {
                    eprintln!("fuzz: {name}: {took:?} were not enough for {}", file.display());
                    std::process::exit(101);
                }
            }
        });
    }

    /// The input that an earlier run of this target died of.
    pub(super) fn left_behind(&self) -> Option<Vec<u8>> {
        std::fs::read(&self.file).ok()
    }

    pub(super) fn begins(&self, input: &[u8]) {
        std::fs::write(&self.file, input).unwrap();
        let now_ms = u64::try_from(self.start.elapsed().as_millis()).unwrap();
        self.since_ms.store(now_ms.max(1), Ordering::SeqCst);
    }

    pub(super) fn ends(&self) {
        self.since_ms.store(0, Ordering::SeqCst);
    }

    pub(super) fn stop(self) {
        std::fs::remove_file(&self.file).ok();
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        if std::thread::panicking() {
            // The input is kept elsewhere already.
            std::fs::remove_file(&self.file).ok();
        }
    }
}

/// The most memory that this process has had at once; 0 where the system does not say.
pub(super) fn peak_resident_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().split(' ').next()?.parse().ok()).unwrap_or(0)
}
