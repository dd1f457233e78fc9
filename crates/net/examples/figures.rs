//! Figures of the network on this machine: `cargo run --release --example net_figures [ENTRIES]`.
//!
//! A laptop with that many entries (one fact each) and an empty depot, both with real homes on the disk, over loopback with TLS: first
//! fill, a contact with nothing new, and a thousand new entries. Both sides are durable before anything is acknowledged.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

use std::time::{Duration, Instant};

use gladhand_facts::{DeviceKey, Fact};
use gladhand_net::sync::{self, Whom};
use gladhand_net::{Net, Options};
use gladhand_node::Node;
use gladhand_node::NodeHandle;
use gladhand_node::config::{Config, Role};
use tokio::sync::watch;

/// Facts of many jobs by turns, so that each is an entry of its own.
fn facts(device: &DeviceKey, from: usize, count: usize) -> Vec<Fact> {
    let checks = ["corrugation-depth", "front-wall", "bolt-torque", "light"];
    let line = |i: usize| {
        format!(
            r#"{{"kind":"check","job":"J-{}","check":"{}","value":{}.{},"unit":"in","by":"mara","at":"2026-03-02T{:02}:{:02}:{:02}-05:00"}}"#,
            i % 8_000,
            checks[i % 4],
            i % 7,
            i % 97,
            i / 3_600 % 24,
            i / 60 % 60,
            i % 60
        )
    };
    (from..from + count)
        .map(|i| Fact::from_line(device, &line(i)).unwrap())
        .collect()
}

fn fill(node: &mut Node, count: usize) {
    let device = node.device();
    for from in (0..count).step_by(4_096) {
        node.record(facts(&device, from, 4_096.min(count - from))).unwrap();
    }
}

fn resident_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmRSS:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|n| n.parse().ok()).unwrap_or(0)
}

#[tokio::main]
async fn main() {
    let count: usize = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(50_000);
    let dir = tempfile::tempdir().unwrap();
    let depot = Node::create(&dir.path().join("depot"), &Config::new("depot", Role::Depot, "", "")).unwrap();
    let mut laptop = Node::create(&dir.path().join("l"), &Config::new("l", Role::Laptop, "l", "")).unwrap();
    laptop.join(&depot.invite("l", 3_600).unwrap().to_line()).unwrap();
    let began = Instant::now();
    fill(&mut laptop, count);
    println!("recording {count} entries: {:.2?}", began.elapsed());
    let device = laptop.device();

    let ((depot, _d), (laptop, _l)) = (NodeHandle::start(depot), NodeHandle::start(laptop));
    let options = |listen: &str| Options {
        listen: listen.into(),
        ..Options::default()
    };
    let server = Net::bind(depot, options("127.0.0.1:0")).await.unwrap();
    let client = Net::bind(laptop.clone(), options("")).await.unwrap();
    let (place, server_hub, hub) = (
        Whom::Place(server.local_addr().unwrap().to_string()),
        server.hub(),
        client.hub(),
    );
    let (_stop, stopped) = watch::channel(false);
    tokio::spawn(server.run(stopped));
    let gone = || async {
        while server_hub.sessions.is_up(&device) {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    };

    let began = Instant::now();
    let merged = sync::sync(&hub, &place, &[], false).await;
    let (took, tally) = (began.elapsed(), merged[0].outcome.as_ref().unwrap().clone());
    println!(
        "first fill: {took:.2?}, {:.0} entries/s, {} bytes out ({:.1} an entry), {} KiB resident (both)",
        count as f64 / took.as_secs_f64(),
        tally.bytes_out,
        tally.bytes_out as f64 / count as f64,
        resident_kib()
    );
    for _ in 0..5 {
        gone().await;
        let began = Instant::now();
        let merged = sync::sync(&hub, &place, &[], false).await;
        let (took, tally) = (began.elapsed(), merged[0].outcome.as_ref().unwrap().clone());
        println!(
            "nothing new: {took:.2?} with connect and handshake, {} + {} bytes",
            tally.bytes_out, tally.bytes_in
        );
    }
    gone().await;
    laptop
        .call(move |node| node.record(facts(&device, count, 1_000)).map(|_| ()).unwrap())
        .await
        .unwrap();
    let began = Instant::now();
    let merged = sync::sync(&hub, &place, &[], false).await;
    let (took, tally) = (began.elapsed(), merged[0].outcome.as_ref().unwrap().clone());
    println!("1000 new: {took:.2?}, {} bytes out", tally.bytes_out);
}
