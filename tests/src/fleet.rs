//! A depot and some laptops that have joined it without a network, in a temporary folder.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use tempfile::TempDir;

use crate::{Home, Ran};

/// A folder for the bundles that go from hand to hand.
#[derive(Debug)]
pub struct Bundles {
    dir: PathBuf,
    count: AtomicU32,
}

impl Bundles {
    /// Bundles in `dir`.
    pub fn in_folder(dir: &Path) -> Self {
        std::fs::create_dir_all(dir).unwrap();
        Self {
            dir: dir.to_path_buf(),
            count: AtomicU32::new(0),
        }
    }

    /// A name for the next bundle.
    pub fn next(&self) -> PathBuf {
        let number = self.count.fetch_add(1, Ordering::Relaxed) + 1;
        self.dir.join(format!("{number:04}.bundle"))
    }

    /// One node writes everything into a bundle, the other reads it.
    #[track_caller]
    pub fn carry(&self, from: &Home, to: &Home) -> Ran {
        let file = self.next();
        from.write_bundle(&file);
        to.read_bundle(&file)
    }

    /// Everybody's bundle to the first, then the first's to everybody: afterwards all hold the same.
    #[track_caller]
    pub fn exchange(&self, homes: &[&Home]) {
        let (first, others) = homes.split_first().expect("somebody");
        for other in others {
            self.carry(other, first).done();
        }
        for other in others {
            self.carry(first, other).done();
        }
    }
}

/// A depot and some laptops.
#[derive(Debug)]
pub struct Fleet {
    dir: TempDir,
    /// The depot, `harrow-street`.
    pub depot: Home,
    /// The laptops, in the order in which they were named.
    pub laptops: Vec<Home>,
    /// The bundles between them.
    pub bundles: Bundles,
}

impl Fleet {
    /// A depot, and a laptop for each person, enrolled by bundles: everybody holds everything.
    pub fn enrolled(persons: &[&str]) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let depot = Home::depot(dir.path().join("harrow-street"), "harrow-street", "bram");
        let laptops = persons
            .iter()
            .map(|person| {
                let name = format!("laptop-{person}");
                let laptop = Home::laptop(dir.path().join(&name), &name, person);
                join(&depot, &laptop);
                laptop
            })
            .collect();
        let bundles = Bundles::in_folder(&dir.path().join("bundles"));
        let fleet = Self {
            dir,
            depot,
            laptops,
            bundles,
        };
        fleet.exchange_all();
        fleet
    }

    /// The folder that everything lies in.
    pub fn dir(&self) -> &Path {
        self.dir.path()
    }

    /// All homes, the depot first.
    pub fn homes(&self) -> Vec<&Home> {
        std::iter::once(&self.depot).chain(&self.laptops).collect()
    }

    /// Afterwards all hold the same.
    #[track_caller]
    pub fn exchange_all(&self) {
        self.bundles.exchange(&self.homes());
    }
}

/// The laptop joins the depot with a new invite.
#[track_caller]
pub fn join(depot: &Home, laptop: &Home) {
    let invite = depot.run(&["invite"]).done().out;
    laptop.run(&["join", invite.trim()]).done();
}
