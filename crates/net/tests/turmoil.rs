//! Dialling, dialling again and the heartbeat over a simulated network, in simulated time: a depot that is away, a link that
//! stands still, a link that loses everything. The nodes, TLS, the dialler and the sessions are the daemon's own; only the
//! road between them ([`Connector`]) and the clock belong to the simulation. Nothing here waits for a real clock.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;

use std::collections::BTreeSet;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use common::{acquaint, depot, laptop, note};
use gladhand_net::accept::Acceptor;
use gladhand_net::connector::{AnyStream, Connector, Opening};
use gladhand_net::counters::SharedCounters;
use gladhand_net::dial::DEFAULT_PORT;
use gladhand_net::dialler::Dialler;
use gladhand_net::heartbeat::{ACTIVE_ASK_MS, ANSWER_MS, IDLE_ASK_MS};
use gladhand_net::hub::Hub;
use gladhand_net::redial::{FIRST_WAIT_MS, LONGEST_WAIT_MS};
use gladhand_node::NodeHandle;
use gladhand_node::{Node, Silent};
use tokio::sync::mpsc;
use turmoil::Sim;

const SEED: u64 = 20_260;
const TICK: Duration = Duration::from_millis(20);
/// What the ticks and the ways there and back may add to a time that the code promises.
const SLACK_MS: u64 = 500;
/// How long a dial waits for an address that says nothing (`dial::CONNECT`).
const CONNECT_MS: u64 = 3_000;

/// When the simulation saw which address dialled.
type Dials = Arc<Mutex<Vec<(u64, SocketAddr)>>>;
/// What a host shares with the test while it runs.
type Shared = Arc<Mutex<Option<Hub>>>;

struct Simulated(Dials);

impl Connector for Simulated {
    fn open(&self, address: SocketAddr) -> Opening {
        let at = turmoil::sim_elapsed().unwrap();
        self.0.lock().unwrap().push((at.as_millis() as u64, address));
        Box::pin(async move {
            let stream = turmoil::net::TcpStream::connect(address).await?;
            Ok(Box::new(stream) as AnyStream)
        })
    }
}

/// The spread of the dials, the same in every run.
fn chance() -> impl FnMut() -> u64 {
    let mut state = SEED;
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        state >> 33
    }
}

/// What `net::Net::run` does, on a simulated host.
async fn serve(home: PathBuf, peers: Vec<String>, shared: Shared, dials: Dials) -> turmoil::Result {
    let (handle, work) = NodeHandle::start_here(Node::open(&home, &Silent)?);
    tokio::spawn(work);
    let mut hub = Hub::new(handle, SharedCounters::default()).await?;
    hub.connector = Arc::new(Simulated(dials));
    *shared.lock().unwrap() = Some(hub.clone());
    tokio::spawn(hub.clone().follow_roster());
    let (_news_in, news) = mpsc::channel(1);
    tokio::spawn(Dialler::new(hub.clone(), &peers, false).with_random(chance()).run(news));
    let door = Acceptor::new(hub.clone())?;
    let listener = turmoil::net::TcpListener::bind((Ipv4Addr::UNSPECIFIED, DEFAULT_PORT)).await?;
    loop {
        let (stream, from) = listener.accept().await?;
        hub.counters.accepted.up();
        let door = Arc::clone(&door);
        tokio::spawn(async move { door.handle(stream, from).await });
    }
}

/// Mara's laptop, which has the depot configured; the depot; and Theo's laptop, which all know and nobody has configured.
struct Yard {
    sim: Sim<'static>,
    mara: Shared,
    depot: Shared,
    theo: Shared,
    dials: Dials,
    /// Who was seen sending to whom.
    sent: BTreeSet<(IpAddr, IpAddr)>,
}

impl Yard {
    fn new(dir: &Path) -> Self {
        let mut root = depot(dir);
        let mut others = ["mara", "theo"].map(|name| laptop(dir, name, &root));
        let [mara, theo] = &mut others;
        acquaint(&mut [&mut root, mara, theo]);
        note(mara, "before the depot was there");
        drop((root, others));
        let mut builder = turmoil::Builder::new();
        builder.rng_seed(SEED).tick_duration(TICK);
        builder.min_message_latency(TICK * 2).max_message_latency(TICK * 4);
        let mut yard = Self {
            sim: builder.build(),
            mara: Shared::default(),
            depot: Shared::default(),
            theo: Shared::default(),
            dials: Dials::default(),
            sent: BTreeSet::new(),
        };
        yard.host("depot", dir, Vec::new(), yard.depot.clone());
        yard.host("theo", dir, Vec::new(), yard.theo.clone());
        let at = SocketAddr::new(yard.sim.lookup("depot"), DEFAULT_PORT).to_string();
        yard.host("mara", dir, vec![at], yard.mara.clone());
        yard
    }

    fn host(&mut self, name: &str, dir: &Path, peers: Vec<String>, shared: Shared) {
        let (home, dials) = (dir.join(name), self.dials.clone());
        self.sim.host(name, move || {
            serve(home.clone(), peers.clone(), shared.clone(), dials.clone())
        });
    }

    fn now_ms(&self) -> u64 {
        self.sim.elapsed().as_millis() as u64
    }

    fn step(&mut self) {
        self.sim.step().unwrap();
        // A message is on its way for longer than a step: none is missed.
        let sent = &mut self.sent;
        self.sim.links(|links| {
            for message in links.flatten() {
                let (from, to) = message.pair();
                sent.insert((from.ip(), to.ip()));
            }
        });
    }

    fn go_on(&mut self, for_ms: u64) {
        let end = self.now_ms() + for_ms;
        while self.now_ms() < end {
            self.step();
        }
    }

    /// How long it takes until that holds.
    fn until(&mut self, what: &str, limit_ms: u64, holds: impl Fn(&Self) -> bool) -> u64 {
        let began = self.now_ms();
        while !holds(self) {
            let taken = self.now_ms() - began;
            assert!(taken < limit_ms, "{what}: not within {limit_ms} ms");
            self.step();
        }
        self.now_ms() - began
    }

    fn sees(&self, from: &Shared, to: &Shared) -> bool {
        let key = to.lock().unwrap().as_ref().map(|hub| hub.own);
        let from = from.lock().unwrap();
        key.zip(from.as_ref())
            .is_some_and(|(key, hub)| hub.sessions.is_up(&key))
    }

    /// Both have the session, and hold the same.
    fn together(&self) -> bool {
        self.sees(&self.mara, &self.depot)
            && self.sees(&self.depot, &self.mara)
            && digest(&self.mara) == digest(&self.depot)
    }

    fn dials(&self) -> Vec<(u64, SocketAddr)> {
        self.dials.lock().unwrap().clone()
    }

    fn comes_back(&mut self) {
        // The longest wait and its spread, a dial that was under way, and the greetings.
        let limit_ms = LONGEST_WAIT_MS * 6 / 5 + CONNECT_MS + 10 * SLACK_MS;
        self.until("the session is back and both hold the same", limit_ms, Self::together);
    }
}

fn digest(of: &Shared) -> impl PartialEq + use<> {
    let hub = of.lock().unwrap().clone().unwrap();
    hub.node.lend().unwrap().book().digest()
}

#[test]
fn a_depot_that_is_away_or_cut_off_is_found_again_and_nobody_else_is_spoken_to() {
    let dir = tempfile::tempdir().unwrap();
    let mut yard = Yard::new(dir.path());
    away(&mut yard);
    stands_still(&mut yard);
    loses_everything(&mut yard);

    let (mara, depot) = (yard.sim.lookup("mara"), yard.sim.lookup("depot"));
    assert_eq!(yard.sent, BTreeSet::from([(mara, depot), (depot, mara)]));
    let only = SocketAddr::new(depot, DEFAULT_PORT);
    assert!(yard.dials().iter().all(|(_, at)| *at == only), "{:?}", yard.dials());
    let theo = yard.theo.lock().unwrap().clone().unwrap();
    assert!(theo.sessions.is_empty() && theo.counters.accepted.get() == 0);
}

/// The depot is off for ten minutes: it is dialled again and again, with waits that grow to a minute.
fn away(yard: &mut Yard) {
    yard.sim.crash("depot");
    // What the test shares with it holds its home.
    *yard.depot.lock().unwrap() = None;
    yard.go_on(600_000);
    let times: Vec<u64> = yard.dials().iter().map(|(at, _)| *at).collect();
    let waits: Vec<u64> = times.windows(2).map(|w| w[1] - w[0] - CONNECT_MS).collect();
    let mut meant = FIRST_WAIT_MS;
    for (n, wait) in waits.iter().enumerate() {
        let (least, most) = (meant * 4 / 5, meant * 6 / 5 + SLACK_MS);
        assert!((least..=most).contains(wait), "wait {n} of {waits:?}: meant {meant}");
        meant = (meant * 2).min(LONGEST_WAIT_MS);
    }
    // 0.5 + 1 + 2 + ... + 32 s and 3 s a dial are 84.5 s; then one a minute.
    assert!((14..=19).contains(&times.len()), "{} dials in ten minutes", times.len());
    yard.sim.bounce("depot");
    yard.comes_back();
}

/// Nothing gets through for a while, with a session that has nothing to say.
fn stands_still(yard: &mut Yard) {
    yard.go_on(60_000);
    let before = yard.dials().len();
    yard.sim.hold("mara", "depot");
    let limit_ms = IDLE_ASK_MS + ANSWER_MS + SLACK_MS;
    let lost = |yard: &Yard| !yard.sees(&yard.mara, &yard.depot);
    let taken_ms = yard.until("an idle laptop notices", limit_ms, lost);
    assert!(
        taken_ms >= ANSWER_MS,
        "given up after {taken_ms} ms, without a question"
    );
    let depot_lost = |yard: &Yard| !yard.sees(&yard.depot, &yard.mara);
    yard.until("the depot notices too", limit_ms, depot_lost);
    yard.go_on(20_000);
    let meanwhile = yard.dials().split_off(before);
    assert!(
        meanwhile.len() >= 3,
        "dialled meanwhile: {meanwhile:?}, now {}",
        yard.now_ms()
    );
    assert!(!yard.sees(&yard.mara, &yard.depot));
    // What was held comes late, and to connections that nobody has any more.
    yard.sim.release("mara", "depot");
    yard.comes_back();
}

/// Everything that is sent is lost, while there is something to say.
fn loses_everything(yard: &mut Yard) {
    yard.go_on(60_000);
    assert!(yard.together(), "an idle session stays up");
    let before = yard.dials().len();
    yard.sim.partition("mara", "depot");
    let mara = yard.mara.lock().unwrap().clone().unwrap();
    note(&mut mara.node.lend().unwrap(), "while the link is down");
    let lost = |yard: &Yard| !yard.sees(&yard.mara, &yard.depot);
    let limit_ms = ACTIVE_ASK_MS + ANSWER_MS + SLACK_MS;
    yard.until("a laptop with something to say notices", limit_ms, lost);
    yard.go_on(20_000);
    let meanwhile = yard.dials().split_off(before);
    assert!(
        meanwhile.len() >= 3,
        "dialled meanwhile: {meanwhile:?}, now {}",
        yard.now_ms()
    );
    assert!(digest(&yard.mara) != digest(&yard.depot), "nothing gets through");
    yard.sim.repair("mara", "depot");
    yard.comes_back();
}
