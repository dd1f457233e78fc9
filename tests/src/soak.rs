//! A depot and five laptops as real processes, killed at random while people record; then quiet, and every receipt must be
//! everywhere.
//!
//! All daemons find the depot through a [`Relay`]: it stands still while the depot comes back at another address, and it cuts
//! lines. SeededRng is seeded; what the system's scheduler adds is not, so a seed narrows a failure down and does not replay it.
//!
//! Waiting is for something, and bounded; nothing here depends on how long anything takes.

use std::collections::BTreeSet;
use std::io::Write;
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use gladhand_node::{Node, Silent};

use crate::process::{Daemon, until_in};
use crate::sim::judges::all_facts;
use crate::{Fleet, Home, SeededRng};

const PEOPLE: [&str; 5] = ["mara", "ilse", "tomek", "wen", "joan"];
/// No wait is longer than this; none is meant to come near it.
const DEADLINE: Duration = Duration::from_secs(300);

/// What was done.
#[derive(Debug, Default, Clone, Copy)]
pub struct Soaked {
    /// Facts with a receipt.
    pub receipts: usize,
    /// Commands that were cut short because a daemon was killed under them.
    pub cut_short: u64,
    /// Daemons killed with signal 9.
    pub kills: u64,
    /// Lines that the relay cut.
    pub cuts: u64,
}

/// Forwards to wherever the depot listens now.
#[derive(Clone)]
struct Relay {
    at: SocketAddr,
    to: Arc<Mutex<Option<SocketAddr>>>,
    lines: Arc<Mutex<Vec<TcpStream>>>,
}

impl Relay {
    fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let relay = Self {
            at: listener.local_addr().unwrap(),
            to: Arc::default(),
            lines: Arc::default(),
        };
        let own = relay.clone();
        // Ends with the process: a listener has no other end.
        std::thread::spawn(move || listener.incoming().flatten().for_each(|client| own.join(client)));
        relay
    }

    fn join(&self, client: TcpStream) {
        let to = *self.to.lock().unwrap();
        let Some(server) = to.and_then(|to| TcpStream::connect(to).ok()) else {
            return;
        };
        self.lines.lock().unwrap().extend(client.try_clone());
        for (from, to) in [(&client, &server), (&server, &client)] {
            if let (Ok(from), Ok(to)) = (from.try_clone(), to.try_clone()) {
                std::thread::spawn(move || copy(from, to));
            }
        }
    }

    /// Cuts one of the lines that were ever up.
    fn cut(&self, rng: &mut SeededRng) -> bool {
        let mut lines = self.lines.lock().unwrap();
        if lines.is_empty() {
            return false;
        }
        let at = rng.below(lines.len());
        lines.swap_remove(at).shutdown(Shutdown::Both).is_ok()
    }
}

fn copy(mut from: TcpStream, mut to: TcpStream) {
    std::io::copy(&mut from, &mut to).ok();
    from.shutdown(Shutdown::Both).ok();
    to.shutdown(Shutdown::Both).ok();
}

/// Starts the daemon of a home and waits until it is ready. A command may hold the home for a moment, so more than one try may be
/// needed.
fn serve(home: &Home) -> Daemon {
    let mut started = None;
    until_in("the daemon starts", DEADLINE, || {
        match Daemon::try_start(&mut home.command("serve")) {
            Ok(daemon) => started = Some(daemon),
            Err(said) => {
                let busy = said.contains("in use") || said.contains("running");
                assert!(busy, "the daemon does not start: {said}");
            }
        }
        started.is_some()
    });
    started.unwrap()
}

/// Everything that the threads share.
struct Yard {
    homes: Vec<Home>,
    daemons: Vec<Mutex<Option<Daemon>>>,
    relay: Relay,
    receipts: Mutex<BTreeSet<String>>,
    cut_short: AtomicU64,
    over: AtomicBool,
}

impl Yard {
    fn new(fleet: &Fleet) -> Self {
        let relay = Relay::start();
        let homes: Vec<Home> = fleet.homes().into_iter().cloned().collect();
        for (number, home) in homes.iter().enumerate() {
            let peers = format!("peers = [\"{}\"]", relay.at);
            let (from, to) = if number == 0 {
                ("listen = \"\"", "listen = \"127.0.0.1:0\"")
            } else {
                ("peers = []", peers.as_str())
            };
            home.configure(from, to);
            home.configure("discover = true", "discover = false");
        }
        Self {
            daemons: homes.iter().map(|_| Mutex::new(None)).collect(),
            homes,
            relay,
            receipts: Mutex::default(),
            cut_short: AtomicU64::new(0),
            over: AtomicBool::new(false),
        }
    }

    /// Starts the daemon of a home, if none runs.
    fn start(&self, at: usize) {
        let mut daemon = self.daemons[at].lock().unwrap();
        if daemon.is_none() {
            let started = serve(&self.homes[at]);
            if at == 0 {
                *self.relay.to.lock().unwrap() = Some(started.listens_at());
            }
            *daemon = Some(started);
        }
    }

    fn kill(&self, at: usize) -> bool {
        let daemon = self.daemons[at].lock().unwrap().take();
        daemon.is_some()
    }

    /// Somebody records until it is over. A command that a kill has cut short has printed receipts only for what is durable.
    fn work(&self, at: usize, mut rng: SeededRng) {
        let mut number = 0;
        while !self.over.load(Ordering::Relaxed) {
            let lines: Vec<String> = (0..1 + rng.below(8))
                .map(|_| {
                    number += 1;
                    line(at, number, &mut rng)
                })
                .collect();
            let (receipts, whole) = record(&self.homes[at], &lines.join("\n"));
            self.receipts.lock().unwrap().extend(receipts);
            self.cut_short.fetch_add(u64::from(!whole), Ordering::Relaxed);
            // People are slower than this.
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Kills and cuts until the time is up.
    fn strike(&self, rng: &mut SeededRng, action: Duration) -> (u64, u64) {
        let (mut kills, mut cuts) = (0, 0);
        let end = Instant::now() + action;
        while Instant::now() < end {
            std::thread::sleep(Duration::from_millis(20 + rng.below(300) as u64));
            if rng.percent(25) {
                cuts += u64::from(self.relay.cut(rng));
                continue;
            }
            let at = rng.below(self.homes.len());
            kills += u64::from(self.kill(at));
            std::thread::sleep(Duration::from_millis(rng.below(200) as u64));
            self.start(at);
        }
        (kills, cuts)
    }

    /// Nobody records, nobody is killed: waits until all hold the same.
    fn until_level(&self) {
        (0..self.homes.len()).for_each(|at| self.start(at));
        let deadline = Instant::now() + DEADLINE;
        loop {
            let vectors: Vec<_> = self.homes.iter().map(Home::vector).collect();
            if vectors.iter().all(|vector| *vector == vectors[0]) {
                return;
            }
            let behind: Vec<_> = vectors.iter().map(ToString::to_string).collect();
            assert!(
                Instant::now() < deadline,
                "they do not come to the same: {}",
                behind.join("\n")
            );
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

fn line(at: usize, number: u32, rng: &mut SeededRng) -> String {
    let job = format!("0302-P{}", rng.below(60));
    let mut keys = match rng.below(4) {
        0 => {
            serde_json::json!({"kind": "check", "job": job, "check": "placement-top", "value": format!("{number} mm")})
        }
        1 => {
            serde_json::json!({"kind": "link", "job": job, "camera": format!("LC-{at}"), "tracker": format!("LT-{number}")})
        }
        2 => serde_json::json!({"kind": "job", "job": job, "trailer": format!("LF {number}")}),
        _ => serde_json::json!({"kind": "note", "text": format!("{number} by {at}")}),
    };
    keys["at"] = format!("2026-03-02T16:00:{:02}-05:00", number % 60).into();
    keys["note"] = format!("{at} {number}").into();
    keys.to_string()
}

/// The facts for which a receipt was printed, and whether the command came to its end.
fn record(home: &Home, lines: &str) -> (Vec<String>, bool) {
    let mut command = home.start(&["record", "--json", "-"]);
    let mut pipe = command.stdin();
    // It may be cut short before it has read everything.
    pipe.write_all(lines.as_bytes()).ok();
    drop(pipe);
    let ran = command.ran_or_killed();
    // The last line may be torn.
    let receipts = ran
        .out
        .lines()
        .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok());
    let facts = receipts.filter_map(|receipt| receipt["fact"].as_str().map(str::to_owned));
    (facts.collect(), ran.code == Some(0))
}

/// The whole of it: `action` of recording and killing, then quiet, then the judgement.
pub fn soak(seed: u64, action: Duration) -> Soaked {
    let mut rng = SeededRng::new(seed);
    let fleet = Fleet::enrolled(&PEOPLE);
    let yard = Yard::new(&fleet);
    (0..yard.homes.len()).for_each(|at| yard.start(at));
    let (kills, cuts) = std::thread::scope(|scope| {
        for at in 1..yard.homes.len() {
            let (yard, rng) = (&yard, SeededRng::quiet(rng.number()));
            scope.spawn(move || yard.work(at, rng));
        }
        let struck = yard.strike(&mut rng, action);
        yard.over.store(true, Ordering::Relaxed);
        struck
    });
    yard.until_level();
    for at in 0..yard.homes.len() {
        yard.kill(at);
    }
    let receipts = yard.receipts.into_inner().unwrap();
    judge(&yard.homes, &receipts);
    Soaked {
        receipts: receipts.len(),
        cut_short: yard.cut_short.load(Ordering::Relaxed),
        kills,
        cuts,
    }
}

/// Every receipt is everywhere, each fact once, and all say the same.
fn judge(homes: &[Home], receipts: &BTreeSet<String>) {
    let report = homes[0].report();
    for home in homes {
        let held = facts_in(&home.path);
        let mut once = BTreeSet::new();
        for fact in &held {
            assert!(once.insert(fact), "{} holds {fact} twice", home.path.display());
        }
        let lacking: Vec<&String> = receipts.iter().filter(|fact| !once.contains(fact)).collect();
        assert!(lacking.is_empty(), "{} lacks {lacking:?}", home.path.display());
        assert!(
            home.report() == report,
            "{} reports something else",
            home.path.display()
        );
        home.verifies();
    }
}

fn facts_in(home: &Path) -> Vec<String> {
    let node = Node::open(home, &Silent).unwrap();
    all_facts(&node)
        .into_values()
        .flatten()
        .map(|fact| fact.to_string())
        .collect()
}
