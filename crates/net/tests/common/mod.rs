//! Nodes on loopback for the network's tests: real homes, real sockets, ports chosen by the system.

#![allow(dead_code, missing_docs)]

use std::net::SocketAddr;
use std::path::Path;
use std::time::Duration;

use gladhand_facts::{DeviceKey, Fact, VersionVector};
use gladhand_net::hub::Hub;
use gladhand_net::session::{self, End, SessionSetup, Tally};
use gladhand_net::tls::Abilities;
use gladhand_net::{Net, Options};
use gladhand_node::NodeHandle;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Node, Silent};
use tokio::sync::watch;
use tokio::task::JoinHandle;

/// What a peer of this version understands.
pub const ALL: Abilities = Abilities {
    pictures: true,
    waits: true,
};

/// No wait in a test is longer than this; none is meant to come near it.
pub const DEADLINE: Duration = Duration::from_secs(180);

pub fn depot(dir: &Path) -> Node {
    Node::create(&dir.join("depot"), &Config::new("harrow-street", Role::Depot, "", "")).unwrap()
}

/// A laptop that no depot knows.
pub fn stranger(dir: &Path, name: &str) -> Node {
    Node::create(&dir.join(name), &Config::new(name, Role::Laptop, name, "")).unwrap()
}

/// A laptop with an invite of the depot, which the depot has not seen used yet.
pub fn laptop(dir: &Path, name: &str, depot: &Node) -> Node {
    let mut node = stranger(dir, name);
    node.join(&depot.invite(name, 3_600).unwrap().to_line()).unwrap();
    node
}

/// Makes every one of these known to every other, as a first setup over bundles would.
pub fn acquaint(nodes: &mut [&mut Node]) {
    let dir = tempfile::tempdir().unwrap();
    for _ in 0..2 {
        for from in 0..nodes.len() {
            let file = dir.path().join("bundle");
            nodes[from].write_bundle(&file, &VersionVector::new(), &Silent).unwrap();
            for to in (0..nodes.len()).filter(|to| *to != from) {
                let read = nodes[to].read_bundle(&file, &Silent).unwrap();
                assert!(read.damaged.is_empty() && read.refused.is_empty(), "{read:?}");
            }
        }
    }
}

/// A depot and laptops of these names, each known to every other.
pub fn acquainted<const N: usize>(dir: &Path, names: [&str; N]) -> (Node, [Node; N]) {
    let mut harrow = depot(dir);
    let mut laptops = names.map(|name| laptop(dir, name, &harrow));
    let mut all: Vec<&mut Node> = std::iter::once(&mut harrow).chain(&mut laptops).collect();
    acquaint(&mut all);
    (harrow, laptops)
}

pub fn note(node: &mut Node, text: &str) {
    notes(node, std::slice::from_ref(&text.to_owned()));
}

pub fn notes(node: &mut Node, texts: &[String]) {
    let device = node.device();
    let fact = |text: &String| {
        let line = serde_json::json!({"kind": "note", "text": text}).to_string();
        Fact::from_line(&device, &line).unwrap()
    };
    node.record(texts.iter().map(fact).collect()).unwrap();
}

/// A node with its network running.
pub struct Running {
    pub node: NodeHandle,
    pub hub: Hub,
    pub at: Option<SocketAddr>,
    pub key: DeviceKey,
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
    thread: std::thread::JoinHandle<Option<Node>>,
}

pub async fn start(node: Node, listens: bool, peers: &[SocketAddr]) -> Running {
    let key = node.device();
    let (handle, thread) = NodeHandle::start(node);
    let options = Options {
        listen: if listens { "127.0.0.1:0".into() } else { String::new() },
        peers: peers.iter().map(ToString::to_string).collect(),
        discover: false,
        name: key.short(),
    };
    let net = Net::bind(handle.clone(), options).await.unwrap();
    let (hub, at) = (net.hub(), net.local_addr());
    let (stop, stopped) = watch::channel(false);
    let task = tokio::spawn(async move { net.run(stopped).await.unwrap() });
    Running {
        node: handle,
        hub,
        at,
        key,
        stop,
        task,
        thread,
    }
}

/// One session between two nodes over a pipe that holds so many bytes; `one` dials, and ends it when both are level.
pub async fn over_a_pipe(width: usize, one: &Running, other: &Running, pictures: bool) -> ((Tally, End), (Tally, End)) {
    let (from_one, from_other) = tokio::io::duplex(width);
    let meet = |peer, dialled: Option<SocketAddr>| SessionSetup {
        peer,
        dialled,
        once: dialled.is_some(),
        abilities: Abilities {
            pictures,
            waits: pictures,
        },
    };
    let dialled = Some(([127, 0, 0, 1], 9).into());
    tokio::join!(
        session::run(from_one, &one.hub, meet(other.key, dialled)),
        session::run(from_other, &other.hub, meet(one.key, None)),
    )
}

impl Running {
    pub fn at(&self) -> SocketAddr {
        self.at.unwrap()
    }

    pub async fn ask<T: Send + 'static>(&self, ask: impl FnOnce(&mut Node) -> T + Send + 'static) -> T {
        self.node.call(ask).await.unwrap()
    }

    /// Waits until the node's book is as asked; looks again whenever it has grown.
    pub async fn until(&self, what: &str, mut holds: impl FnMut(&mut Node) -> bool + Send + Clone + 'static) {
        let mut growth = self.ask(|node| node.growth()).await;
        let wait = async {
            loop {
                let mut look = holds.clone();
                if self.ask(move |node| look(node)).await {
                    return;
                }
                growth.changed().await.unwrap();
            }
        };
        let done = tokio::time::timeout(DEADLINE, wait).await;
        if done.is_err() {
            let holds_now = self.ask(move |node| holds(node)).await;
            panic!("{what}: not within {DEADLINE:?} (now: {holds_now})");
        }
    }

    pub async fn until_equals(&self, other: &Running) {
        let wait = async {
            let mut growth = self.ask(|node| node.growth()).await;
            let mut others = other.ask(|node| node.growth()).await;
            loop {
                let ours = self.ask(|node| node.book().digest()).await;
                if ours == other.ask(|node| node.book().digest()).await {
                    return;
                }
                tokio::select! {
                    r = growth.changed() => r.unwrap(),
                    r = others.changed() => r.unwrap(),
                }
            }
        };
        assert!(
            tokio::time::timeout(DEADLINE, wait).await.is_ok(),
            "the two do not become equal"
        );
    }

    pub async fn until_up(&self, peer: DeviceKey, up: bool) {
        let mut changes = self.hub.sessions.changes();
        let wait = async {
            while self.hub.sessions.is_up(&peer) != up {
                changes.changed().await.unwrap();
            }
        };
        assert!(
            tokio::time::timeout(DEADLINE, wait).await.is_ok(),
            "session up: never {up}"
        );
    }

    /// Stops the network and gives the node back.
    pub async fn stop(self) -> Node {
        self.stop.send_replace(true);
        self.task.await.unwrap();
        drop((self.node, self.hub));
        tokio::task::spawn_blocking(move || self.thread.join().unwrap().unwrap())
            .await
            .unwrap()
    }
}
