//! Hard tests over a kept corpus: files of `tests/corpus/` are changed in ways that readers do not expect, and a target
//! says what must hold all the same.
//!
//! `tests/corpus/TARGET/` holds what the target's generator made (`FUZZ_CORPUS=write` makes it anew),
//! `tests/corpus/regressions/` what once failed: those are tried first, by the target that their name begins with. By default
//! a run is short and the same each time. `FUZZ_INPUTS=100000` or `FUZZ_SECONDS=300` runs on with other seeds
//! (`FUZZ_SEED=…` sets the first one).
//!
//! What ends the whole process (a stack that runs over, memory that runs out) is caught too: the input being tried lies
//! in a file before it is tried, and the next run takes it for a regression. An input that takes minutes ends the run.
//!
//! Deliberately not here: coverage feedback. The mutations know the formats instead, and the targets make checksums and
//! signatures right again, so that what is changed gets past the first check.

mod mutate;
mod quiet;
mod watch;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::SeededRng;
pub use mutate::{Kind, mutated, numbers};
use watch::Watch;

/// The longest input that is made.
pub const MAX_INPUT_BYTES: usize = 192 << 10;
/// More memory than all targets together may ever need at once: a frame may inflate to 64 MiB.
const MAX_RESIDENT_KIB: u64 = 1 << 20;

/// What is fuzzed.
pub struct Target<'t> {
    /// Its name: the folder of its corpus.
    pub name: &'static str,
    /// What the inputs are like.
    pub kind: Kind,
    /// How many inputs a short run tries.
    pub inputs: u64,
    /// Makes the corpus: names and bytes.
    pub generator: &'t dyn Fn() -> Vec<(&'static str, Vec<u8>)>,
}

impl Target<'_> {
    /// Tries the regressions, then the corpus as it is, then changed inputs. `check` must panic when something is wrong
    /// with what became of an input; it says whether the input was taken as good.
    pub fn run(&self, check: &mut dyn FnMut(&[u8]) -> bool) {
        let regressions = read_all(&corpus().join("regressions"), &format!("{}-", self.name));
        let seeds = self.seeds();
        let mut trial = Trial::start(self.name, check);
        let start = Instant::now();
        for (_, bytes) in regressions.iter().chain(&seeds) {
            trial.of(bytes);
        }
        let pool: Vec<&[u8]> = seeds.iter().chain(&regressions).map(|(_, b)| b.as_slice()).collect();
        let limit = Limit::of(self.inputs);
        let mut rng = SeededRng::new(limit.seed);
        while !limit.is_reached(&trial) {
            let input = mutated(&mut rng, &pool, self.kind);
            trial.of(&input);
        }
        let (tried, taken) = (trial.tried, trial.taken);
        trial.end();
        println!(
            "fuzz: {}: {tried} inputs tried ({} kept failures first), {taken} taken as good, {} refused, {:.1} s",
            self.name,
            regressions.len(),
            tried - taken,
            start.elapsed().as_secs_f64()
        );
        // Whoever refuses everything is not tested beyond its first check.
        assert!(taken * 50 >= tried, "{}: only {taken} of {tried} were read", self.name);
    }

    fn seeds(&self) -> Vec<(PathBuf, Vec<u8>)> {
        let folder = corpus().join(self.name);
        if std::env::var("FUZZ_CORPUS").is_ok_and(|v| v == "write") {
            std::fs::create_dir_all(&folder).unwrap();
            for (name, bytes) in (self.generator)() {
                std::fs::write(folder.join(name), bytes).unwrap();
            }
        }
        let seeds = read_all(&folder, "");
        assert!(
            !seeds.is_empty(),
            "{} is empty: run once with FUZZ_CORPUS=write",
            folder.display()
        );
        seeds
    }
}

/// The folder of the corpus.
pub fn corpus() -> PathBuf {
    crate::repository().join("tests").join("corpus")
}

fn read_all(folder: &Path, prefix: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.is_file() && p.file_name().unwrap().to_string_lossy().starts_with(prefix));
    paths.sort();
    paths
        .into_iter()
        .map(|p| (p.clone(), std::fs::read(p).unwrap()))
        .collect()
}

/// When a run ends.
struct Limit {
    inputs: Option<u64>,
    until: Option<Instant>,
    seed: u64,
}

impl Limit {
    fn of(inputs: u64) -> Self {
        let number = |name: &str| std::env::var(name).ok().map(|v| v.parse::<u64>().expect("a number"));
        let (asked, seconds) = (number("FUZZ_INPUTS"), number("FUZZ_SECONDS"));
        let until = seconds.map(|s| Instant::now() + Duration::from_secs(s));
        let longer = asked.is_some() || until.is_some();
        let any = std::time::UNIX_EPOCH.elapsed().map_or(1, |t| t.as_secs());
        Self {
            inputs: asked.or_else(|| until.is_none().then_some(inputs)),
            until,
            seed: number("FUZZ_SEED").unwrap_or(if longer { any } else { 1 }),
        }
    }

    fn is_reached(&self, trial: &Trial<'_>) -> bool {
        self.inputs.is_some_and(|n| trial.tried >= n) || self.until.is_some_and(|until| Instant::now() >= until)
    }
}

/// Trying one input after the other.
struct Trial<'c> {
    name: &'static str,
    check: &'c mut dyn FnMut(&[u8]) -> bool,
    watch: Watch,
    tried: u64,
    taken: u64,
}

impl<'c> Trial<'c> {
    fn start(name: &'static str, check: &'c mut dyn FnMut(&[u8]) -> bool) -> Self {
        let watch = Watch::start(name);
        if let Some(deadly) = watch.left_behind() {
            let file = keep(name, &deadly);
            println!("fuzz: {name}: the run before this one died of {}", file.display());
        }
        Self {
            name,
            check,
            watch,
            tried: 0,
            taken: 0,
        }
    }

    fn of(&mut self, input: &[u8]) {
        self.tried += 1;
        self.watch.begins(input);
        let check = &mut *self.check;
        quiet::keep_back(true);
        let outcome = catch_unwind(AssertUnwindSafe(|| check(input)));
        quiet::keep_back(false);
        self.watch.ends();
        match outcome {
            Ok(taken) => self.taken += u64::from(taken),
            Err(panic) => {
                let file = keep(self.name, input);
                let said = quiet::last().unwrap_or_default();
                println!(
                    "fuzz: {}: input {} failed: {said}: {}",
                    self.name,
                    self.tried,
                    file.display()
                );
                std::panic::resume_unwind(panic);
            }
        }
        if self.tried.is_multiple_of(64) {
            let peak_kib = watch::peak_resident_kib();
            if peak_kib > MAX_RESIDENT_KIB {
                let file = keep(self.name, input);
                panic!("{peak_kib} KiB of memory at once, by about {}", file.display());
            }
        }
    }

    fn end(self) {
        self.watch.stop();
    }
}

/// Puts a failing input among the regressions.
fn keep(name: &str, input: &[u8]) -> PathBuf {
    let folder = corpus().join("regressions");
    std::fs::create_dir_all(&folder).unwrap();
    let hash = input.iter().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
        (h ^ u64::from(*b)).wrapping_mul(0x0100_0000_01b3)
    });
    let file = folder.join(format!("{name}-{hash:016x}"));
    std::fs::write(&file, input).unwrap();
    file
}
