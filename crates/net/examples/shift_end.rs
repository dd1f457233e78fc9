//! The end of a shift: `cargo run --release -p gladhand-net --example shift_end -- [LAPTOPS…]`.
//!
//! So many laptops, each with a day's facts and one picture, come to one depot in the same moment and stay, as daemons do. The
//! depot runs in a process of its own, so that its memory can be told; laptops and depot have real homes, and meet over loopback
//! with TLS. All are enrolled before. Both sides are durable before anything is acknowledged.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use gladhand_facts::{Fact, LogId, VersionVector};
use gladhand_net::{Net, Options};
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, NodeHandle, Silent};
use tokio::sync::watch;

const FACTS: usize = 300;
const JOBS: usize = 20;
const PICTURE_BYTES: usize = 300_000;
/// No run takes longer.
const DEADLINE: Duration = Duration::from_secs(900);

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    if let [role, home] = &args[..]
        && role == "depot"
    {
        return depot(Path::new(home));
    }
    let counts: Vec<usize> = args.iter().map(|n| n.parse().unwrap()).collect();
    let counts = if counts.is_empty() { vec![50, 100, 200] } else { counts };
    println!("| laptops | set up | facts of all | pictures of all | depot, peak memory | turned away |");
    println!("|---|---|---|---|---|---|");
    counts.into_iter().for_each(run);
}

/// Sets up so many laptops and a depot, lets them meet, and prints the figures.
fn run(laptops: usize) {
    let dir = tempfile::tempdir().unwrap();
    let began = Instant::now();
    let (nodes, last) = set_up(dir.path(), laptops);
    let took = began.elapsed();
    let mut depot = start_depot(&dir.path().join("depot"));
    let mut told = BufReader::new(depot.stdout.take().unwrap());
    let at = line(&mut told);
    let mut to_depot = depot.stdin.take().unwrap();
    for (log, seq) in last {
        writeln!(to_depot, "{log} {seq}").unwrap();
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .unwrap();
    let root = nodes.first().unwrap().book().roster().root().unwrap();
    writeln!(to_depot, "go").unwrap();
    for node in nodes {
        runtime.spawn(laptop::run(node, at.parse().unwrap(), root));
    }
    let figures: Vec<String> = (0..4).map(|_| line(&mut told)).collect();
    println!("| {laptops} | {:.0} s | {} |", took.as_secs_f64(), figures.join(" | "));
    depot.wait().unwrap();
    runtime.shutdown_background();
}

fn line(from: &mut impl BufRead) -> String {
    let mut line = String::new();
    from.read_line(&mut line).unwrap();
    assert!(!line.is_empty(), "the depot has ended");
    line.trim().to_owned()
}

fn start_depot(home: &Path) -> Child {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .arg("depot")
        .arg(home)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped());
    command.spawn().unwrap()
}

/// The laptops, and the last entry of each.
fn set_up(dir: &Path, laptops: usize) -> (Vec<Node>, Vec<(LogId, u64)>) {
    let mut depot = Node::create(&dir.join("depot"), &Config::new("harrow-street", Role::Depot, "", "")).unwrap();
    let (mut nodes, mut last) = (Vec::new(), Vec::new());
    for n in 0..laptops {
        let name = format!("laptop-{n}");
        let mut node = Node::create(&dir.join(&name), &Config::new(&name, Role::Laptop, &name, "")).unwrap();
        node.join(&depot.invite(&name, 3_600).unwrap().to_line()).unwrap();
        let credential = node.book().roster().credential(&node.device()).unwrap().clone();
        depot.judge_credential(credential).unwrap();
        nodes.push(node);
    }
    let bundle = dir.join("roster.bundle");
    depot.write_bundle(&bundle, &VersionVector::new(), &Silent).unwrap();
    depot.close().unwrap();
    for (n, node) in nodes.iter_mut().enumerate() {
        assert!(node.read_bundle(&bundle, &Silent).unwrap().refused.is_empty());
        fill(node, n);
        let log = node.book().own_log().unwrap();
        last.push((log, node.book().head(&log).0));
    }
    (nodes, last)
}

/// A day's work: facts of many jobs by turns, so that each is an entry of its own, and a proof with its picture.
fn fill(node: &mut Node, n: usize) {
    let device = node.device();
    let mut picture = Vec::with_capacity(PICTURE_BYTES);
    blake3::Hasher::new_derive_key("shift end")
        .update(&n.to_le_bytes())
        .finalize_xof()
        .fill({
            picture.resize(PICTURE_BYTES, 0);
            &mut picture
        });
    let hash = node.pictures().put(&picture).unwrap();
    let check = |i: usize| {
        let (job, minute) = (i % JOBS, i / JOBS);
        format!(
            r#"{{"kind":"check","job":"J-{n}-{job}","check":"bolt-torque","value":{}.{},"unit":"in","at":"2026-03-02T10:{minute:02}:{job:02}-05:00"}}"#,
            i % 7,
            i % 97
        )
    };
    let proof = format!(r#"{{"kind":"proof","job":"J-{n}-0","state":"taken","picture":"{hash}"}}"#);
    let lines = (1..FACTS).map(check).chain([proof]);
    let facts = lines.map(|line| Fact::from_line(&device, &line).unwrap()).collect();
    node.record(facts).unwrap();
}

/// A laptop that speaks the protocol by hand: see the module doc.
mod laptop {
    use std::collections::BTreeMap;
    use std::net::SocketAddr;
    use std::sync::Arc;

    use gladhand_facts::{DeviceKey, LogId};
    use gladhand_logbook::exchange::{Message, Session};
    use gladhand_logbook::frame::Frame;
    use gladhand_net::packet::{ByeReason, Packet, RANGE_BYTES};
    use gladhand_net::tls::{self, Identity, SESSION};
    use gladhand_net::trust::Accepts;
    use gladhand_node::Node;
    use gladhand_node::peer::PeerInput;
    use tokio::io::{AsyncReadExt, AsyncWriteExt, BufReader};
    use tokio::net::TcpStream;
    use tokio::time::Duration;
    use tokio_rustls::TlsConnector;
    use tokio_rustls::client::TlsStream;

    type Stream = BufReader<TlsStream<TcpStream>>;

    /// When to come again, if the depot has said so.
    type Again = Option<Duration>;

    /// What it has acknowledged: the last entry of each log.
    type Kept = BTreeMap<LogId, u64>;

    /// Comes, comes again when it is told to, and stays.
    pub async fn run(mut node: Node, depot: SocketAddr, root: DeviceKey) {
        let mut kept = Kept::new();
        loop {
            // A connection that fails is tried again, as the dialler does.
            let again = match connect(&node, depot, root).await {
                Ok(stream) => session(&mut node, &mut kept, stream).await.unwrap_or_default(),
                Err(_) => None,
            };
            tokio::time::sleep(again.unwrap_or(Duration::from_millis(500))).await;
        }
    }

    async fn connect(node: &Node, depot: SocketAddr, root: DeviceKey) -> std::io::Result<Stream> {
        let identity = Identity::from_seed(&node.transport_seed()).unwrap();
        let config = identity.client(Accepts::One(root), SESSION).unwrap();
        let stream = TcpStream::connect(depot).await?;
        stream.set_nodelay(true)?;
        let connector = TlsConnector::from(Arc::new(config));
        Ok(BufReader::new(connector.connect(tls::server_name(), stream).await?))
    }

    async fn session(node: &mut Node, kept: &mut Kept, mut stream: Stream) -> std::io::Result<Again> {
        let (mut exchange, hello) = node.peer_start();
        let mut own_vector = None;
        let (mut again, mut heard, mut rested) = (None, 0, None);
        for message in hello {
            stream.write_all(&Packet::Exchange(message).encode()).await?;
        }
        loop {
            stream.flush().await?;
            let length = stream.read_u32_le().await?;
            let mut body = vec![0; length as usize];
            stream.read_exact(&mut body).await?;
            let answers = match Packet::decode(&body).unwrap() {
                Packet::Exchange(message) => {
                    heard += 1;
                    exchanged(node, (&mut exchange, &mut own_vector), kept, message)
                }
                Packet::Wait { wait_ms } => {
                    again = Some(Duration::from_millis(wait_ms));
                    Vec::new()
                }
                Packet::Bye { why, words } => {
                    assert!(
                        matches!(why, ByeReason::Busy | ByeReason::MakeRoom | ByeReason::TakeTurns),
                        "{words}"
                    );
                    return Ok(again);
                }
                other => answer(node, other),
            };
            for answer in answers {
                stream.write_all(&answer.encode()).await?;
            }
            if exchange.is_in_sync() && rested != Some(heard) {
                rested = Some(heard);
                stream.write_all(&Packet::Rest { heard }.encode()).await?;
            }
        }
    }

    /// Its vector waits for the depot's, which has the marks of the entries that it kept.
    fn exchanged(
        node: &mut Node,
        (exchange, own_vector): (&mut Session, &mut Option<Message>),
        kept: &mut Kept,
        message: Message,
    ) -> Vec<Packet> {
        if let Message::Frame { number, bytes } = message {
            for run in Frame::decode(&bytes).unwrap().runs {
                kept.insert(run.log, run.last());
            }
            return vec![Packet::Exchange(Message::Ack { number })];
        }
        let mut send = Vec::new();
        if let (Message::Vector { held: theirs, .. }, Some(mut vector)) = (&message, own_vector.take()) {
            if let Message::Vector { held, .. } = &mut vector {
                let known = theirs.iter().filter(|(log, last)| kept.get(*log) == Some(&last.seq));
                held.extend(known.map(|(log, last)| (*log, *last)));
            }
            send.push(vector);
        }
        let step = node.peer_step(exchange, vec![PeerInput::Message(message)]).unwrap();
        assert!(step.broken.is_none(), "{:?}", step.broken);
        for message in step.send {
            if matches!(message, Message::Vector { .. }) {
                *own_vector = Some(message);
            } else {
                send.push(message);
            }
        }
        send.into_iter().map(Packet::Exchange).collect()
    }

    fn answer(node: &Node, packet: Packet) -> Vec<Packet> {
        let pictures = node.pictures();
        match packet {
            Packet::Probe { sent_us } => vec![Packet::Clock {
                probe_us: sent_us,
                received_us: sent_us,
                sent_us,
            }],
            Packet::Seek(mut hashes) => {
                hashes.retain(|hash| pictures.has(hash));
                vec![Packet::Have { answer: true, hashes }]
            }
            Packet::Want { hash, at } => {
                let range = pictures.range(&hash, at, RANGE_BYTES).unwrap().unwrap();
                vec![Packet::Range {
                    hash,
                    total: range.total,
                    at,
                    bytes: range.bytes,
                }]
            }
            _ => Vec::new(),
        }
    }
}

/// The depot's process: says where it listens, reads what it is to have in the end, and says when it has it.
#[tokio::main]
async fn depot(home: &Path) {
    let node = Node::open(home, &Silent).unwrap();
    let (handle, _thread) = NodeHandle::start(node);
    let options = Options {
        listen: "127.0.0.1:0".into(),
        ..Options::default()
    };
    let net = Net::bind(handle.clone(), options).await.unwrap();
    let hub = net.hub();
    println!("{}", net.local_addr().unwrap());
    let mut last: Vec<(LogId, u64)> = Vec::new();
    for line in std::io::stdin().lines() {
        match line.unwrap().split_once(' ') {
            Some((log, seq)) => last.push((log.parse().unwrap(), seq.parse().unwrap())),
            None => break,
        }
    }
    let (_stop, stopped) = watch::channel(false);
    tokio::spawn(net.run(stopped));
    let (began, laptops) = (Instant::now(), last.len() as u64);
    while !last.is_empty() {
        tick(began).await;
        let lacking = move |node: &mut Node| {
            last.retain(|(log, seq)| node.book().head(log).0 < *seq);
            last
        };
        last = handle.call(lacking).await.unwrap();
    }
    println!("{:.1} s", began.elapsed().as_secs_f64());
    while hub.counters.pictures_in.get() < laptops {
        tick(began).await;
    }
    println!("{:.1} s", began.elapsed().as_secs_f64());
    println!("{:.0} MB", peak_kib() as f64 / 1024.0);
    println!("{}", hub.counters.busy.get());
    // Nobody waits for sessions to be closed.
    std::process::exit(0);
}

async fn tick(began: Instant) {
    assert!(began.elapsed() < DEADLINE, "it never ends");
    tokio::time::sleep(Duration::from_millis(50)).await;
}

fn peak_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|n| n.parse().ok()).unwrap_or(0)
}
