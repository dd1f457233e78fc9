//! Pictures over the network: after the facts, range by range, on real sockets where sockets matter.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use common::{ALL, DEADLINE, Running, acquaint, acquainted, laptop, note, over_a_pipe, start};
use gladhand_facts::Fact;
use gladhand_net::connection::ConnectionError;
use gladhand_net::packet::{Packet, RANGE_BYTES};
use gladhand_net::session::{self, End, SessionSetup};
use gladhand_net::sync::{self, Whom};
use gladhand_node::config::{Config, Role};
use gladhand_node::peer::PeerInput;
use gladhand_node::{Environment, Node};
use gladhand_store::{Disk, DiskFile, PictureHash, RealDisk};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

fn picture(seed: u64, bytes: usize) -> Vec<u8> {
    // xorshift: bytes that no layer can make smaller.
    let mut state = seed * 2 + 1;
    let next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state as u8
    };
    std::iter::repeat_with(next).take(bytes).collect()
}

/// A fact that names a picture, and the picture itself if `here`.
fn proof(node: &mut Node, bytes: &[u8], here: bool) -> PictureHash {
    let hash = PictureHash::of(bytes);
    if here {
        node.pictures().put(bytes).unwrap();
    }
    let line = serde_json::json!({"kind": "proof", "job": "J-4", "camera": "TL-118/rear", "state": "taken", "picture": hash.to_string()});
    let fact = Fact::from_line(&node.device(), &line.to_string()).unwrap();
    node.record(vec![fact]).unwrap();
    hash
}

async fn until_here(at: &Running, hash: PictureHash) {
    let mut arrivals = at.ask(|node| node.picture_arrivals()).await;
    let wait = async {
        while !at.ask(move |node| node.pictures().has(&hash)).await {
            arrivals.recv().await.ok();
        }
    };
    assert!(
        tokio::time::timeout(DEADLINE, wait).await.is_ok(),
        "the picture does not come"
    );
}

/// Both hold the same, and neither has anything left to ask for.
async fn until_level(one: &Running, other: &Running) {
    let mut changes = one.hub.sessions.changes();
    let wait = async {
        while one.hub.sessions.level(&other.key) != Some(true) {
            changes.changed().await.unwrap();
        }
    };
    assert!(tokio::time::timeout(DEADLINE, wait).await.is_ok(), "never level");
}

async fn until_counted(what: &str, count: impl Fn() -> bool) {
    let wait = async {
        while !count() {
            tokio::task::yield_now().await;
        }
    };
    assert!(tokio::time::timeout(DEADLINE, wait).await.is_ok(), "{what}");
}

async fn holds(at: &Running, hash: PictureHash, bytes: &[u8]) {
    let held = at.ask(move |node| node.pictures().get(&hash)).await.unwrap();
    assert!(held.as_deref() == Some(bytes));
    assert!(at.ask(|node| node.lacking_pictures().unwrap().is_empty()).await);
}

/// Theo asks the depot for a picture that it does not have yet. When Mara brings it, he gets it in the session that is open.
#[tokio::test(flavor = "multi_thread")]
async fn a_picture_that_nobody_has_yet_comes_through_an_intermediate() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara, mut theo]) = acquainted(dir.path(), ["mara", "theo"]);
    let bytes = picture(1, 200_000);
    let hash = proof(&mut theo, &bytes, false);
    proof(&mut mara, &bytes, true);
    let harrow = start(harrow, true, &[]).await;
    let theo = start(theo, false, &[harrow.at()]).await;
    until_level(&theo, &harrow).await;
    assert!(
        theo.ask(move |node| node.lacking_pictures().unwrap().contains(&hash))
            .await
    );
    let mara = start(mara, false, &[harrow.at()]).await;
    until_here(&harrow, hash).await;
    until_here(&theo, hash).await;
    holds(&harrow, hash, &bytes).await;
    holds(&theo, hash, &bytes).await;
    assert_eq!(theo.hub.counters.picture_bytes_in.get(), bytes.len() as u64);
    assert_eq!(harrow.hub.counters.picture_bytes_in.get(), bytes.len() as u64);
    drop(mara);
}

/// Merging once waits for the pictures of both sides, and says what they were.
#[tokio::test(flavor = "multi_thread")]
async fn merging_once_brings_the_pictures_of_both() {
    let dir = tempfile::tempdir().unwrap();
    let (mut harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let (one, other) = (picture(2, 300_000), picture(3, 70_000));
    let from_mara = proof(&mut mara, &one, true);
    let from_harrow = proof(&mut harrow, &other, true);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let place = Whom::Place(harrow.at().to_string());
    let merged = sync::sync(&mara.hub, &place, &[], false).await;
    let tally = merged[0].outcome.as_ref().unwrap();
    assert!(tally.level && tally.refused.is_empty(), "{tally:?}");
    assert_eq!((tally.pictures_in, tally.picture_bytes_in), (1, 70_000));
    assert_eq!(tally.picture_bytes_out, 300_000);
    holds(&harrow, from_mara, &one).await;
    holds(&mara, from_harrow, &other).await;
}

/// Passes one connection through and cuts it after so many bytes have gone to the server.
async fn pipe_that_breaks(to: std::net::SocketAddr, after: u64) -> (std::net::SocketAddr, tokio::task::JoinHandle<()>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let at = listener.local_addr().unwrap();
    let task = tokio::spawn(async move {
        let (client, _) = listener.accept().await.unwrap();
        drop(listener);
        let server = TcpStream::connect(to).await.unwrap();
        let (mut client_in, mut client_out) = client.into_split();
        let (mut server_in, mut server_out) = server.into_split();
        let back = tokio::spawn(async move { tokio::io::copy(&mut server_in, &mut client_out).await });
        let mut limited = (&mut client_in).take(after);
        tokio::io::copy(&mut limited, &mut server_out).await.unwrap();
        back.abort();
    });
    (at, task)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_cut_in_the_middle_goes_on_where_it_was_also_after_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let bytes = picture(4, 4_000_000);
    let hash = proof(&mut mara, &bytes, true);
    let harrow = start(harrow, true, &[]).await;
    let (pipe, broken) = pipe_that_breaks(harrow.at(), 1_500_000).await;
    let mara = start(mara, false, &[pipe]).await;
    broken.await.unwrap();
    harrow.until_up(mara.key, false).await;
    let (mara, first) = (mara.stop().await, harrow.hub.counters.picture_bytes_in.get());
    let harrow = harrow.stop().await;
    let held = harrow.pictures().begun(&hash).unwrap();
    // What was on its way to the disk at the moment of the cut is there, and may not be counted.
    assert!(
        held >= first && held > 1_000_000 && held < 1_500_000,
        "{held}, counted {first}"
    );
    let (harrow, mara) = (start(harrow, true, &[]).await, start(mara, false, &[]).await);
    let place = Whom::Place(harrow.at().to_string());
    let merged = sync::sync(&mara.hub, &place, &[], false).await;
    let tally = merged[0].outcome.as_ref().unwrap();
    println!("{held} bytes before the cut, {} after it", tally.picture_bytes_out);
    holds(&harrow, hash, &bytes).await;
    assert!(
        tally.picture_bytes_out <= bytes.len() as u64 - held,
        "nothing that had arrived was sent again"
    );
}

/// The depot's process was killed while a picture arrived: what it left is whole, too long, or full of something else.
#[tokio::test(flavor = "multi_thread")]
async fn a_part_that_is_whole_or_wrong_does_not_keep_a_picture_away() {
    let dir = tempfile::tempdir().unwrap();
    let (mut harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let pictures = [40, 41, 42, 43].map(|seed| picture(seed, 100_000));
    // A bundle carries the facts before the pictures are there.
    let hashes = pictures.clone().map(|bytes| proof(&mut mara, &bytes, false));
    acquaint(&mut [&mut harrow, &mut mara]);
    for bytes in &pictures {
        mara.pictures().put(bytes).unwrap();
    }
    let [whole, too_long, wrong, whole_beside] = pictures.clone();
    let parts = [
        whole,
        [too_long, vec![0; 9]].concat(),
        wrong.iter().rev().copied().collect(),
        whole_beside,
    ];
    for (hash, part) in hashes.iter().zip(parts) {
        harrow.pictures().extend(hash, 0, &part).unwrap();
    }
    // One is there besides: its part is only left over.
    harrow.pictures().put(&pictures[3]).unwrap();
    let home = harrow.home().layout().path().to_path_buf();
    harrow.close().unwrap();
    let mut harrow = Node::open(&home, &gladhand_node::Silent).unwrap();
    let lacking: Vec<_> = harrow.lacking_pictures().unwrap().iter().copied().collect();
    let mut expected = vec![hashes[1], hashes[2]];
    expected.sort_unstable();
    assert_eq!(lacking, expected, "the whole ones were put in their places");
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let merged = sync::sync(&mara.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    for (hash, bytes) in hashes.into_iter().zip(&pictures) {
        holds(&harrow, hash, bytes).await;
    }
    let partial = home.join("pictures/partial");
    assert_eq!(std::fs::read_dir(partial).unwrap().count(), 0, "nothing is left over");
}

/// An older version says of a range behind the end that it does not have the picture.
#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_part_is_fetched_anew_from_an_older_peer() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let bytes = picture(44, 9_000);
    let hash = proof(&mut mara, &bytes, false);
    harrow.pictures().extend(&hash, 0, &[7; 9_000]).unwrap();
    let harrow = start(harrow, true, &[]).await;
    let (ours, theirs) = tokio::io::duplex(1 << 16);
    let hub = harrow.hub.clone();
    let setup = SessionSetup {
        peer: mara.device(),
        dialled: None,
        once: false,
        abilities: ALL,
    };
    let session = tokio::spawn(async move { session::run(ours, &hub, setup).await });
    let older = Hostile {
        exchange: mara.peer_start().0,
        node: mara,
        stream: theirs,
        frames: 0,
    };
    let sent = bytes.clone();
    let older = tokio::spawn(older.run(move |hash, at| match at {
        0 => vec![range(hash, 9_000, 0, sent.clone())],
        _ => vec![range(hash, 0, at, Vec::new())],
    }));
    until_here(&harrow, hash).await;
    holds(&harrow, hash, &bytes).await;
    older.abort();
    session.await.unwrap();
}

/// Mara's disk has gone bad: what she sends is not the picture. Theo has the right one.
#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_the_picture_is_thrown_away_and_comes_from_somebody_else() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara, mut theo]) = acquainted(dir.path(), ["mara", "theo"]);
    let (bad, good) = (picture(5, 150_000), picture(6, 90_000));
    let bad_hash = proof(&mut mara, &bad, true);
    let good_hash = proof(&mut mara, &good, true);
    proof(&mut theo, &bad, true);
    std::fs::write(mara.pictures().path(&bad_hash), picture(7, 150_000)).unwrap();
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let place = Whom::Place(harrow.at().to_string());
    for _ in 0..2 {
        let merged = sync::sync(&mara.hub, &place, &[], false).await;
        assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    }
    assert_eq!(
        harrow.hub.counters.pictures_refused.get(),
        1,
        "she is not asked for it again"
    );
    let lacking = harrow.ask(|node| node.lacking_pictures().unwrap().clone()).await;
    assert_eq!(lacking.into_iter().collect::<Vec<_>>(), [bad_hash]);
    assert!(harrow.ask(move |node| node.pictures().has(&good_hash)).await);
    assert_eq!(
        harrow.ask(move |node| node.pictures().begun(&bad_hash)).await.unwrap(),
        0
    );
    let theo = start(theo, false, &[harrow.at()]).await;
    until_here(&harrow, bad_hash).await;
    holds(&harrow, bad_hash, &bad).await;
    drop(theo);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_over_the_limit_is_left_and_smaller_ones_come() {
    let dir = tempfile::tempdir().unwrap();
    let mut config = Config::new("harrow-street", Role::Depot, "", "");
    config.picture_limit_mib = 1;
    let mut harrow = Node::create(&dir.path().join("depot"), &config).unwrap();
    let mut mara = laptop(dir.path(), "mara", &harrow);
    acquaint(&mut [&mut harrow, &mut mara]);
    let large = proof(&mut mara, &picture(8, 1_100_000), true);
    let bytes = picture(9, 1_000_000);
    let small = proof(&mut mara, &bytes, true);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let merged = sync::sync(&mara.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    assert!(harrow.ask(move |node| node.pictures().has(&small)).await);
    let lacking = harrow.ask(|node| node.lacking_pictures().unwrap().clone()).await;
    assert_eq!(lacking.into_iter().collect::<Vec<_>>(), [large]);
    assert_eq!(harrow.hub.counters.pictures_too_large.get(), 1);
    assert!(harrow.hub.counters.picture_bytes_in.get() <= 1_000_000 + RANGE_BYTES as u64);
}

/// The machine's disk, with as much free as is said.
#[derive(Debug)]
struct Filling(AtomicU64);

impl Disk for Filling {
    fn names(&self, dir: &Path) -> std::io::Result<Vec<String>> {
        RealDisk.names(dir)
    }
    fn create_dir(&self, dir: &Path) -> std::io::Result<()> {
        RealDisk.create_dir(dir)
    }
    fn open(&self, path: &Path) -> std::io::Result<Box<dyn DiskFile>> {
        RealDisk.open(path)
    }
    fn create(&self, path: &Path) -> std::io::Result<Box<dyn DiskFile>> {
        RealDisk.create(path)
    }
    fn rename(&self, from: &Path, to: &Path) -> std::io::Result<()> {
        RealDisk.rename(from, to)
    }
    fn remove(&self, path: &Path) -> std::io::Result<()> {
        RealDisk.remove(path)
    }
    fn sync_dir(&self, dir: &Path) -> std::io::Result<()> {
        RealDisk.sync_dir(dir)
    }
    fn free_bytes(&self, _: &Path) -> std::io::Result<u64> {
        Ok(self.0.load(Ordering::Relaxed))
    }
    fn place(&self, path: &Path) -> std::io::Result<gladhand_store::disk::FilePlace> {
        RealDisk.place(path)
    }
    fn salt(&self) -> std::io::Result<u64> {
        RealDisk.salt()
    }
}

/// With 100 MiB free facts are taken (their floor is 64 MiB) and pictures are not (theirs is 256 MiB), until there is room again.
#[tokio::test(flavor = "multi_thread")]
async fn a_full_disk_keeps_pictures_waiting_and_facts_go_on() {
    let dir = tempfile::tempdir().unwrap();
    let disk = Arc::new(Filling(AtomicU64::new(100 << 20)));
    let mut outside = Environment::machine();
    outside.disk = disk.clone();
    let config = Config::new("harrow-street", Role::Depot, "", "");
    let mut harrow = Node::create_with(&dir.path().join("depot"), &config, outside).unwrap();
    let mut mara = laptop(dir.path(), "mara", &harrow);
    acquaint(&mut [&mut harrow, &mut mara]);
    let bytes = picture(10, 100_000);
    let hash = proof(&mut mara, &bytes, true);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[harrow.at()]).await;
    until_level(&harrow, &mara).await;
    mara.ask(|node| note(node, "gate 4 is open again")).await;
    harrow.until_equals(&mara).await;
    assert!(!harrow.ask(move |node| node.pictures().has(&hash)).await);
    disk.0.store(1 << 40, Ordering::Relaxed);
    until_here(&harrow, hash).await;
    holds(&harrow, hash, &bytes).await;
}

/// An enrolled device that speaks the protocol by hand, and does with pictures what it likes.
struct Hostile {
    node: Node,
    exchange: gladhand_logbook::exchange::Session,
    stream: tokio::io::DuplexStream,
    frames: u64,
}

impl Hostile {
    async fn say(&mut self, packet: Packet) -> std::io::Result<()> {
        self.stream.write_all(&packet.encode()).await
    }

    async fn hear(&mut self) -> Option<Packet> {
        let length = self.stream.read_u32_le().await.ok()?;
        let mut body = vec![0; length as usize];
        self.stream.read_exact(&mut body).await.ok()?;
        Packet::decode(&body).ok()
    }

    /// Goes on until the other side ends it; `evil` answers a want.
    async fn run(mut self, mut evil: impl FnMut(PictureHash, u64) -> Vec<Packet>) -> u64 {
        let (exchange, hello) = self.node.peer_start();
        self.exchange = exchange;
        for message in hello {
            self.say(Packet::Exchange(message)).await.unwrap();
        }
        while let Some(packet) = self.hear().await {
            let answers = match packet {
                Packet::Exchange(message) => {
                    self.frames += u64::from(matches!(message, gladhand_logbook::exchange::Message::Frame { .. }));
                    let inputs = vec![PeerInput::Message(message)];
                    let step = self.node.peer_step(&mut self.exchange, inputs).unwrap();
                    step.send.into_iter().map(Packet::Exchange).collect()
                }
                Packet::Probe { sent_us } => vec![Packet::Clock {
                    probe_us: sent_us,
                    received_us: sent_us,
                    sent_us,
                }],
                Packet::Seek(hashes) => vec![Packet::Have { answer: true, hashes }],
                Packet::Want { hash, at } => evil(hash, at),
                _ => Vec::new(),
            };
            for answer in answers {
                if self.say(answer).await.is_err() {
                    return self.frames;
                }
            }
        }
        self.frames
    }
}

fn range(hash: PictureHash, total: u64, at: u64, bytes: Vec<u8>) -> Packet {
    Packet::Range { hash, total, at, bytes }
}

/// Every kind of wrong range is thrown away and counted, one picture after the other; facts go on in the same session.
#[tokio::test(flavor = "multi_thread")]
async fn poisoned_ranges_are_thrown_away_and_facts_go_on() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let hashes: Vec<PictureHash> = (0..6).map(|n| proof(&mut mara, &picture(20 + n, 9), false)).collect();
    let harrow = start(harrow, true, &[]).await;
    let (ours, theirs) = tokio::io::duplex(1 << 16);
    let hub = harrow.hub.clone();
    let setup = SessionSetup {
        peer: mara.device(),
        dialled: None,
        once: false,
        abilities: ALL,
    };
    let session = tokio::spawn(async move { session::run(ours, &hub, setup).await });
    let exchange = mara.peer_start().0;
    let hostile = Hostile {
        node: mara,
        exchange,
        stream: theirs,
        frames: 0,
    };
    let mut order = hashes.clone();
    order.sort();
    let hostile = tokio::spawn(hostile.run(move |hash, at| {
        let mut wrong = hash;
        wrong.0[0] ^= 1;
        match order.iter().position(|h| *h == hash).unwrap() {
            0 => vec![range(hash, 9, at, vec![7; 9])],          // other bytes
            1 => vec![range(hash, 9, at, vec![7; 500])],        // longer than it says
            2 => vec![range(hash, 9, at, Vec::new())],          // nothing, for ever
            3 => vec![range(hash, u64::MAX, at, vec![7; 500])], // endless
            4 => vec![range(hash, 9 + at, at, vec![7; 3])],     // another length each time
            _ => vec![
                range(wrong, 9, at, vec![7; 9]),    // one that nobody asked for
                range(hash, 9, at + 1, vec![7; 8]), // elsewhere
                range(hash, 0, at, Vec::new()),     // none after all
            ],
        }
    }));
    let counters = harrow.hub.counters.clone();
    until_counted("each is counted once, the unasked two as well", || {
        counters.pictures_refused.get() == 6 && counters.pictures_too_large.get() == 1
    })
    .await;
    assert!(!session.is_finished(), "nothing of this ends the session");
    let mut level = harrow.hub.sessions.changes();
    harrow.ask(|node| note(node, "facts go on")).await;
    let told = async {
        while harrow.hub.counters.entries_out.get() == 0 {
            tokio::select! {
                changed = level.changed() => changed.unwrap(),
                () = tokio::task::yield_now() => {}
            }
        }
    };
    tokio::time::timeout(DEADLINE, told).await.unwrap();
    for hash in hashes {
        let (has, begun) = harrow
            .ask(move |node| (node.pictures().has(&hash), node.pictures().begun(&hash).unwrap()))
            .await;
        assert!(!has && begun == 0, "nothing is left of {hash}: {begun}");
    }
    drop(harrow.stop().await);
    session.await.unwrap();
    assert!(hostile.await.unwrap() > 0, "the note went out");
}

/// Whoever floods, or asks for everything at once, loses its session; memory never holds more than a few ranges.
#[tokio::test(flavor = "multi_thread")]
async fn whoever_does_not_keep_to_what_was_asked_loses_the_session() {
    let dir = tempfile::tempdir().unwrap();
    let (mut harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let bytes = picture(30, 200_000);
    let hash = proof(&mut harrow, &bytes, true);
    let (peer, harrow) = (mara.device(), start(harrow, false, &[]).await);
    for flood in [range(hash, 9, 0, vec![7; 9]), Packet::Want { hash, at: 0 }] {
        let (ours, mut theirs) = tokio::io::duplex(1 << 12);
        let setup = SessionSetup {
            peer,
            dialled: None,
            once: false,
            abilities: ALL,
        };
        let hub = harrow.hub.clone();
        let session = tokio::spawn(async move { session::run(ours, &hub, setup).await });
        // It sends and never reads.
        let sent = async { while theirs.write_all(&flood.encode()).await.is_ok() {} };
        tokio::time::timeout(DEADLINE, sent).await.unwrap();
        let (_, end) = session.await.unwrap();
        assert!(
            matches!(end, End::Connection(ConnectionError::ProtocolViolation)),
            "{end:?}"
        );
    }
}

/// A version that knows nothing of pictures merges facts as ever, and no word about pictures is said to it.
#[tokio::test(flavor = "multi_thread")]
async fn the_protocol_before_still_merges_facts() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    let hash = proof(&mut mara, &picture(40, 1_000), true);
    let harrow = start(harrow, false, &[]).await;
    let mara = start(mara, false, &[]).await;
    let (mara_side, _) = over_a_pipe(4_096, &mara, &harrow, false).await;
    assert!(matches!(mara_side.1, End::Level), "{mara_side:?}");
    assert_eq!(
        mara.ask(|node| node.book().digest()).await,
        harrow.ask(|node| node.book().digest()).await
    );
    assert!(
        harrow
            .ask(move |node| node.lacking_pictures().unwrap().contains(&hash))
            .await
    );
    assert_eq!(mara.hub.counters.picture_bytes_out.get(), 0);
}

/// The versions are told apart by the name of the protocol, before anything is said.
#[tokio::test(flavor = "multi_thread")]
async fn a_peer_of_the_version_before_is_recognised() {
    use gladhand_net::tls::{self, SESSION, SESSION_WITHOUT_PICTURES, SESSION_WITHOUT_WAITS};
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    for protocol in [SESSION, SESSION_WITHOUT_WAITS, SESSION_WITHOUT_PICTURES] {
        let accepts = gladhand_net::trust::Accepts::One(harrow.key);
        let config = mara.hub.identity.client(accepts, protocol).unwrap();
        let stream = TcpStream::connect(harrow.at()).await.unwrap();
        let connector = tokio_rustls::TlsConnector::from(Arc::new(config));
        let stream = connector.connect(tls::server_name(), stream).await.unwrap();
        assert_eq!(stream.get_ref().1.alpn_protocol(), Some(protocol));
    }
}
