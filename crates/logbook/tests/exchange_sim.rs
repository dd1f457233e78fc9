//! The exchange over a carrier that cuts, loses, repeats and reorders, as a bad network or a bad peer does.
//!
//! A plain loop driven by a seed, without threads or time. Checked at every step: nodes are causally closed (`Node::keep`),
//! nothing that was acknowledged is sent again on a good line, and in the end all hold the same. A failure is a seed.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::collections::{BTreeMap, VecDeque};

use common::Node;
use gladhand_facts::LogId;
use gladhand_logbook::exchange::{Effect, Message, Session};
use gladhand_logbook::frame::Frame;
use gladhand_logbook::governance::Record;
use gladhand_logbook::{Body, Book, GateError};

const NODES: usize = 5;

/// SplitMix64: random enough for a test, and the same everywhere.
struct SeededRng(u64);

impl SeededRng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    fn below(&mut self, bound: usize) -> usize {
        (self.next() % bound as u64) as usize
    }
    fn percent(&mut self, share: u64) -> bool {
        self.next() % 100 < share
    }
}

/// How bad the carrier is, in percent of the messages.
#[derive(Clone, Copy, Default)]
struct Weather {
    lost: u64,
    repeated: u64,
    swapped: u64,
    cut: u64,
}

struct Link {
    ends: [usize; 2],
    sessions: [Session; 2],
    pipes: [VecDeque<Vec<u8>>; 2],
    in_sync: [bool; 2],
}

struct World {
    nodes: Vec<Node>,
    links: BTreeMap<(usize, usize), Link>,
    rng: SeededRng,
    weather: Weather,
    written: u64,
    cuts: u64,
    broken: u64,
    known: u64,
    entries: u64,
}

fn size(_: &LogId, from: u64, to: u64) -> u64 {
    (to - from + 1) * 100
}

impl World {
    fn new(seed: u64, weather: Weather) -> Self {
        Self {
            nodes: (1..=NODES as u8).map(Node::new).collect(),
            links: BTreeMap::new(),
            rng: SeededRng(seed),
            weather,
            written: 0,
            cuts: 0,
            broken: 0,
            known: 0,
            entries: 0,
        }
    }

    fn write(&mut self, at: usize) {
        for _ in 0..1 + self.rng.below(4) {
            self.written += 1;
            let text = format!("{} by {at}", self.written);
            self.nodes[at].note(&text);
        }
        self.grown(at, None);
    }

    /// What a depot does when it knows a good credential.
    fn enrol(&mut self) {
        let roster = self.nodes[0].book.roster();
        let mut records = Vec::new();
        for device in roster.devices() {
            if let Some(c) = roster.credential(&device).filter(|_| !roster.is_enrolled(&device)) {
                let (name, person, invite) = (c.name.clone(), c.person.clone(), c.invite);
                records.push(Record::Enrol {
                    device,
                    name,
                    person,
                    invite,
                });
            }
        }
        if !records.is_empty() {
            self.nodes[0].write(records.iter().map(|r| Body::Governance(r.encode().unwrap())).collect());
            self.grown(0, None);
        }
    }

    fn open(&mut self, a: usize, b: usize) {
        let key = (a.min(b), a.max(b));
        if a == b || self.links.contains_key(&key) {
            return;
        }
        let ends = [key.0, key.1];
        let starts = ends.map(|n| Session::start(&self.nodes[n].book, self.nodes[n].log.device, 0));
        let [(sa, ea), (sb, eb)] = starts;
        let link = Link {
            ends,
            sessions: [sa, sb],
            pipes: Default::default(),
            in_sync: [false; 2],
        };
        self.links.insert(key, link);
        self.carry_out(key, 0, ea);
        self.carry_out(key, 1, eb);
    }

    /// Tells all sessions of a node that it holds more.
    fn grown(&mut self, at: usize, but: Option<(usize, usize)>) {
        let keys: Vec<(usize, usize)> = self.links.keys().copied().collect();
        for key in keys.into_iter().filter(|k| (k.0 == at || k.1 == at) && Some(*k) != but) {
            let side = usize::from(key.1 == at);
            let Some(link) = self.links.get_mut(&key) else { continue };
            let effects = link.sessions[side].offer(&self.nodes[at].book, &size).unwrap();
            self.carry_out(key, side, effects);
        }
    }

    fn carry_out(&mut self, key: (usize, usize), side: usize, effects: Vec<Effect>) {
        let mut work: VecDeque<Effect> = effects.into();
        let mut grew = false;
        while let Some(effect) = work.pop_front() {
            let Some(link) = self.links.get_mut(&key) else { return };
            let node = &mut self.nodes[link.ends[side]];
            link.in_sync[side] = matches!(effect, Effect::InSync);
            match effect {
                Effect::Send(message) => link.pipes[1 - side].push_back(message.encode()),
                Effect::Gather(group) => {
                    let bytes = Frame::gather(&group, node).unwrap().encode().unwrap();
                    work.extend(link.sessions[side].gathered(bytes));
                }
                Effect::Admit { number, frame } => {
                    let before = node.entries.len() as u64;
                    self.known += known(&node.book, &frame);
                    node.take_in(&frame);
                    let came = node.entries.len() as u64 - before;
                    (self.entries, grew) = (self.entries + came, grew || came > 0);
                    work.extend(link.sessions[side].durable(number, &frame));
                }
                Effect::Learn(credentials) => credentials.into_iter().for_each(|c| {
                    assert!(node.book.roster_mut().learn_credential(c));
                }),
                Effect::InSync => {}
            }
        }
        if grew && let Some(at) = self.links.get(&key).map(|link| link.ends[side]) {
            self.grown(at, Some(key));
            if at == 0 {
                self.enrol();
            }
        }
    }

    /// Delivers the next message of one direction, in the present weather.
    fn deliver(&mut self, key: (usize, usize), side: usize) {
        let Weather {
            lost,
            repeated,
            swapped,
            cut,
        } = self.weather;
        if self.rng.percent(cut) {
            self.cuts += 1;
            self.links.remove(&key);
            return;
        }
        let Some(link) = self.links.get_mut(&key) else { return };
        let pipe = &mut link.pipes[side];
        if pipe.len() > 1 && self.rng.percent(swapped) {
            pipe.swap(0, 1);
        }
        let Some(bytes) = pipe.pop_front() else { return };
        if self.rng.percent(lost) {
            return;
        }
        if self.rng.percent(repeated) {
            pipe.push_front(bytes.clone());
        }
        let message = Message::decode(&bytes).unwrap();
        let book = &self.nodes[link.ends[side]].book;
        match link.sessions[side].handle(book, message, &size) {
            Ok(effects) => self.carry_out(key, side, effects),
            Err(_) => {
                self.broken += 1;
                self.links.remove(&key);
            }
        }
    }

    fn step(&mut self) {
        match self.rng.below(100) {
            0..=7 => {
                let at = self.rng.below(NODES);
                self.write(at);
            }
            8..=15 => {
                let (a, b) = (self.rng.below(NODES), self.rng.below(NODES));
                self.open(a, b);
            }
            _ => {
                let count = self.links.len();
                if count > 0 {
                    let at = self.rng.below(count);
                    let key = *self.links.keys().nth(at).unwrap();
                    let side = self.rng.below(2);
                    self.deliver(key, side);
                }
            }
        }
    }

    fn run_dry(&mut self) {
        while let Some((key, side)) = self
            .links
            .iter()
            .find_map(|(key, link)| (0..2).find(|s| !link.pipes[*s].is_empty()).map(|s| (*key, s)))
        {
            self.deliver(key, side);
        }
    }

    /// Good weather, and all nodes meet.
    fn settle(&mut self) {
        self.weather = Weather::default();
        self.links.clear();
        for _ in 0..3 {
            for at in 0..NODES {
                self.open(at, (at + 1) % NODES);
                self.run_dry();
            }
            assert!(self.links.values().all(|l| l.sessions.iter().all(Session::is_in_sync)));
            self.links.clear();
        }
    }

    fn digests(&self) -> Vec<[u8; 32]> {
        self.nodes.iter().map(|n| n.book.digest()).collect()
    }
}

fn known(book: &Book, frame: &Frame) -> u64 {
    let held = |run: &gladhand_logbook::frame::EntryRun| (book.head(&run.log).0 + 1).saturating_sub(run.first);
    frame
        .runs
        .iter()
        .map(|run| held(run).min(run.entries.len() as u64))
        .sum()
}

fn play(seed: u64, weather: Weather, steps: usize) -> (World, Vec<[u8; 32]>) {
    let mut world = World::new(seed, weather);
    (0..steps).for_each(|_| world.step());
    let before = world.digests();
    world.settle();
    (world, before)
}

#[test]
fn in_any_weather_all_end_with_the_same_history() {
    let bad = Weather {
        lost: 2,
        repeated: 2,
        swapped: 4,
        cut: 1,
    };
    let (mut cuts, mut broken) = (0, 0);
    for seed in 0..30 {
        let (world, before) = play(seed, bad, 1_500);
        let digests = world.digests();
        assert!(digests.iter().all(|d| *d == digests[0]), "seed {seed}");
        assert_eq!(
            world.nodes[0].entries.len(),
            world.nodes[NODES - 1].entries.len(),
            "seed {seed}"
        );
        assert!(
            world.nodes[0].entries.len() as u64 > world.written,
            "seed {seed}: nothing is lost"
        );
        let (again, before_again) = play(seed, bad, 1_500);
        assert_eq!(
            (before, digests),
            (before_again, again.digests()),
            "seed {seed} is not the same twice"
        );
        (cuts, broken) = (cuts + world.cuts, broken + world.broken);
    }
    assert!(
        cuts > 50 && broken > 50,
        "the weather was too good: {cuts} cuts, {broken} broken sessions"
    );
}

/// On lines that only break, a session never sends what is held: the vector is the only resume point. Entries arrive twice
/// only over two lines at once.
#[test]
fn after_a_cut_nothing_is_sent_again_that_was_acknowledged() {
    for seed in 0..40 {
        let mut world = World::new(seed, Weather::default());
        (0..600).for_each(|_| world.write(1));
        let mut cuts = 0;
        while world.nodes[0].book.head(&world.nodes[1].log) != world.nodes[1].book.head(&world.nodes[1].log) {
            world.open(0, 1);
            // Some messages, then the line breaks.
            for _ in 0..5 + world.rng.below(5) {
                let side = (0..2).find(|s| world.links.get(&(0, 1)).is_some_and(|l| !l.pipes[*s].is_empty()));
                let Some(side) = side else { break };
                world.deliver((0, 1), side);
            }
            world.links.clear();
            cuts += 1;
            assert!(cuts < 1_000, "seed {seed} does not get on");
        }
        assert!(
            cuts > 1 && world.known == 0,
            "seed {seed}: {} came again over {cuts} lines",
            world.known
        );
    }
}

/// Entries that are written during a transfer are sent in the same session.
#[test]
fn a_session_that_stays_open_passes_on_what_is_written_meanwhile() {
    for seed in 0..40 {
        let mut world = World::new(seed, Weather::default());
        (0..100).for_each(|_| world.write(1));
        for (a, b) in [(0, 1), (1, 2), (2, 3), (3, 4)] {
            world.open(a, b);
        }
        for _ in 0..400 {
            let at = world.rng.below(NODES);
            if world.rng.percent(10) {
                world.write(at);
            }
            world.step_delivery();
        }
        world.run_dry();
        assert!(
            world.links.values().all(|l| l.sessions.iter().all(Session::is_in_sync)),
            "seed {seed}"
        );
        let digests = world.digests();
        assert!(
            digests.iter().all(|d| *d == digests[0]),
            "seed {seed}: no new session was needed"
        );
    }
}

impl World {
    fn step_delivery(&mut self) {
        let (count, side) = (self.links.len(), self.rng.below(2));
        let at = self.rng.below(count);
        let key = *self.links.keys().nth(at).unwrap();
        self.deliver(key, side);
    }
}

/// Gives `to` everything that `from` holds, as a bundle would.
fn give(from: &Node, to: &mut Node) {
    to.learn(&from.book);
    let frames = from.frames_for(&Default::default());
    frames.iter().for_each(|f| assert_eq!(to.take_in(f), []));
}

/// A cloned disk that has written as much as its clone: equal vectors, different heads. Without the heads in the digest the two
/// would believe to be in sync after one round trip; with them both sides find out at the first contact.
#[test]
fn a_fork_of_equal_length_is_found_by_both_at_the_first_contact() {
    let (mut a, mut b) = (Node::new(2), Node::new(3));
    let (mut original, mut clone) = (Node::new(4), Node::new(4));
    original.note("at gate 1");
    clone.note("at gate 2");
    // Each also holds the other's own log, so that nothing but the branch of the forked log differs.
    give(&Node::new(3), &mut a);
    give(&Node::new(2), &mut b);
    give(&original, &mut a);
    give(&clone, &mut b);
    assert_eq!(a.book.vector(), b.book.vector(), "the vectors tell nothing");
    assert_ne!(a.book.digest(), b.book.digest(), "the digest covers the heads");
    let mut world = World::new(1, Weather::default());
    world.nodes[0] = a;
    world.nodes[1] = b;
    let mut refused: [Vec<GateError>; 2] = Default::default();
    world.open(0, 1);
    // The harness swallows refusals; look at the frames that each side is sent.
    while let Some(side) = (0..2).find(|s| world.links[&(0, 1)].pipes.get(*s).is_some_and(|p| !p.is_empty())) {
        if let Ok(Message::Frame { bytes, .. }) = Message::decode(&world.links[&(0, 1)].pipes[side][0]) {
            let frame = Frame::decode(&bytes).unwrap();
            refused[side].extend(world.nodes[side].take_in(&frame));
        }
        world.deliver((0, 1), side);
    }
    for side in refused {
        let fork = side
            .iter()
            .find(|e| matches!(e, GateError::Forked { log, .. } if *log == original.log));
        assert!(fork.is_some(), "{side:?}");
    }
}

/// A laptop was lost. Devices that met it afterwards are not kept out.
#[test]
fn having_met_a_retired_device_keeps_nobody_out() {
    let mut world = World::new(7, Weather::default());
    for (a, b) in [(0, 1), (0, 2), (0, 1)] {
        world.open(a, b);
        world.run_dry();
        world.links.clear();
    }
    let lost = world.nodes[1].log;
    let last = BTreeMap::from([(lost.to_string(), world.nodes[0].book.head(&lost).0)]);
    world.nodes[0].write(vec![Body::Governance(
        Record::Retire {
            device: lost.device,
            last,
            why: "lost in the yard".into(),
        }
        .encode()
        .unwrap(),
    )]);
    // Node 2 does not know it yet, and merges with the person who has the laptop now.
    world.write(1);
    world.open(1, 2);
    world.run_dry();
    world.links.clear();
    world.write(2);
    let (own, late) = (world.nodes[2].log, world.nodes[2].book.head(&lost).0);
    for _ in 0..2 {
        world.open(0, 2);
        world.run_dry();
        world.links.clear();
    }
    let depot = &world.nodes[0].book;
    assert_eq!(
        depot.head(&own),
        world.nodes[2].book.head(&own),
        "its own entries came in"
    );
    assert!(depot.head(&lost).0 < late, "the lost laptop's late ones did not");
    // And the next contact sends nothing: each side knows what the other will never take.
    world.entries = 0;
    world.known = 0;
    world.open(0, 2);
    world.run_dry();
    assert_eq!((world.entries, world.known), (0, 0));
}

/// A retirement that reaches back before what the depot had already seen: a newcomer still gets everything, because what the
/// depot had seen is sent until the newcomer knows of the retirement.
#[test]
fn a_newcomer_gets_past_a_retirement_that_reaches_back() {
    let mut world = World::new(9, Weather::default());
    for _ in 0..3 {
        (0..3).for_each(|_| world.write(1));
        world.open(0, 1);
        world.run_dry();
        world.links.clear();
        world.write(0);
    }
    let lost = world.nodes[1].log;
    let last = BTreeMap::from([(lost.to_string(), 4)]);
    let (device, why) = (lost.device, "stolen on Tuesday, noticed on Friday".into());
    world.nodes[0].write(vec![Body::Governance(
        Record::Retire { device, last, why }.encode().unwrap(),
    )]);
    world.write(0);
    world.open(0, 3);
    world.run_dry();
    let (depot, newcomer) = (&world.nodes[0], &world.nodes[3]);
    assert_eq!(newcomer.book.head(&depot.log), depot.book.head(&depot.log));
    assert!(newcomer.book.counts(&lost, 4).is_ok() && newcomer.book.counts(&lost, 5).is_err());
    world.links.clear();
    (world.entries, world.known) = (0, 0);
    world.open(0, 3);
    world.run_dry();
    assert_eq!((world.entries, world.known), (0, 0), "and that was that");
}
