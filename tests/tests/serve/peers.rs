//! The network with real processes: a depot's daemon that is killed in the middle of a transfer goes on where it was, and a day with
//! a depot and three laptops whose daemons come and go.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::sync::{Arc, Mutex};

use gladhand_tests::Home;
use gladhand_tests::process::until;

/// A home that speaks to configured peers only.
fn setup(dir: &Path, name: &str, more: &[&str]) -> Home {
    Home::made(dir.join(name), name, more).quiet()
}

/// Joins with an invite, and has merged with the depot then.
fn joins(laptop: &Home, invite: &str) {
    let ran = laptop.run(&["--json", "join", invite]);
    assert_eq!(ran.json()["merged"], true, "{ran}");
}

fn entries(home: &Home) -> u64 {
    home.status()["entries"].as_u64().unwrap()
}

fn notes(count: usize, what: &str) -> String {
    let line = |i: usize| {
        let noise = blake3::derive_key(what, &i.to_le_bytes())
            .map(|b| format!("{b:02x}"))
            .concat();
        format!(
            "{}\n",
            serde_json::json!({"kind": "note", "text": noise, "job": format!("J-{}", i % 97)})
        )
    };
    (0..count).map(line).collect()
}

/// Forwards to wherever `to` says, and runs `at_budget` once, when so many bytes have come from the dialling side.
fn proxy(to: Arc<Mutex<SocketAddr>>, budget: usize, at_budget: impl FnOnce() + Send + 'static) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap();
    std::thread::spawn(move || {
        let (mut left, mut at_budget) = (budget, Some(at_budget));
        for client in listener.incoming() {
            let mut client = client.unwrap();
            let Ok(mut server) = TcpStream::connect(*to.lock().unwrap()) else {
                continue;
            };
            let (mut back_from, mut back_to) = (server.try_clone().unwrap(), client.try_clone().unwrap());
            std::thread::spawn(move || std::io::copy(&mut back_from, &mut back_to));
            let mut buffer = [0; 4_096];
            while let Ok(n @ 1..) = client.read(&mut buffer) {
                left = left.saturating_sub(n);
                if left == 0
                    && let Some(run) = at_budget.take()
                {
                    run();
                }
                if server.write_all(&buffer[..n]).is_err() {
                    break;
                }
            }
            client.shutdown(std::net::Shutdown::Both).ok();
            server.shutdown(std::net::Shutdown::Both).ok();
        }
    });
    at
}

#[test]
fn a_daemon_killed_in_the_middle_of_a_transfer_goes_on_where_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let depot = setup(dir.path(), "harrow-street", &["--depot", "--listen", "127.0.0.1:0"]);
    let mara = setup(dir.path(), "mara", &[]);
    let daemon = depot.serve();
    let invite = depot.json(&["invite", "--person", "mara"])["invite"]
        .as_str()
        .unwrap()
        .to_owned();
    joins(&mara, &invite);
    let before = entries(&depot);
    for part in ["early", "morning", "noon", "afternoon", "evening", "night"] {
        mara.feed("record", notes(1_000, part)).done();
    }
    let total = entries(&mara);
    let to = Arc::new(Mutex::new(daemon.listens_at()));
    let held = Arc::new(Mutex::new(Some(daemon)));
    let victim = Arc::clone(&held);
    // More than may be under way without an acknowledgement, so some of it is durable by then.
    let at = proxy(Arc::clone(&to), 160_000, move || drop(victim.lock().unwrap().take())).to_string();
    mara.run(&["--json", "sync", &at]).exits(5);
    assert!(held.lock().unwrap().is_none(), "the depot was killed");

    let daemon = depot.serve();
    *to.lock().unwrap() = daemon.listens_at();
    let kept = entries(&depot);
    assert!(
        kept > before && kept < total,
        "{before} < {kept} < {total}: in the middle"
    );
    let resumed = mara.json(&["sync", &at]);
    // To the last entry: what was acknowledged before the kill is not sent again, and what was not is.
    assert_eq!(resumed["peers"][0]["sent"].as_u64().unwrap(), total - kept, "{resumed}");
    assert_eq!(entries(&depot), entries(&mara));
    println!(
        "{total} entries, {kept} of them durable when the depot was killed; then {} sent",
        total - kept
    );
    drop(daemon);
    depot.good("verify");
    mara.good("verify");
}

/// Harrow Street and three laptops, each daemon stopped and started by turns: the intermediate never meets both ends at once.
#[test]
fn a_day_of_daemons_that_come_and_go() {
    let dir = tempfile::tempdir().unwrap();
    let depot = setup(dir.path(), "harrow-street", &["--depot", "--listen", "127.0.0.1:0"]);
    let laptops = ["mara", "theo", "ilse"].map(|name| setup(dir.path(), name, &["--listen", "127.0.0.1:0"]));
    let daemon = depot.serve();
    let first_address = daemon.listens_at();
    for laptop in &laptops {
        let invite = depot.json(&["invite"])["invite"].as_str().unwrap().to_owned();
        joins(laptop, &invite);
    }
    laptops.iter().for_each(|laptop| drop(laptop.good("sync")));
    drop(daemon);
    let [mara, theo, ilse] = &laptops;
    let chain = [mara, theo, ilse];
    mara.good(&["note", "only Mara saw this"]);
    // Mara meets Theo, Theo meets Ilse, Ilse meets the depot; never two of these at once.
    for (listens, dials) in chain.iter().zip(&chain[1..]) {
        let daemon = listens.serve();
        dials.good(&["sync", &daemon.listens_at().to_string()]);
    }
    let daemon = depot.serve();
    ilse.good(&["sync", &daemon.listens_at().to_string()]);
    let history = depot.good("history").out;
    assert!(history.contains("only Mara saw this"), "{history}");
    // With daemons on both sides nobody has to ask.
    let address = daemon.listens_at().to_string();
    // The depot has another address by now than the one in his invite.
    theo.configure(&first_address.to_string(), &address);
    let theos = theo.serve();
    depot.good(&["note", "from the depot to whoever is there"]);
    until("Theo has the depot's note", || {
        theo.good("history").out.contains("whoever is there")
    });
    theo.good(&["note", "and back"]);
    until("the depot has Theo's", || {
        depot.good("history").out.contains("and back")
    });
    drop((theos, daemon));
    until("all is whole", || {
        depot.run("verify").code == Some(0) && theo.run("verify").code == Some(0)
    });
}

/// A laptop that the depot has retired is told so over every carrier, and its status begins with it.
#[test]
fn a_retired_laptop_is_told_so_however_it_asks() {
    let dir = tempfile::tempdir().unwrap();
    let depot = setup(dir.path(), "harrow-street", &["--depot", "--listen", "127.0.0.1:0"]);
    let daemon = depot.serve();
    let address = daemon.listens_at().to_string();
    let [by_sync, by_join, by_bundle] = ["mara", "theo", "ilse"].map(|name| {
        let laptop = setup(dir.path(), name, &[]);
        let invite = depot.good("invite").out;
        joins(&laptop, invite.trim());
        laptop
    });
    for name in ["mara", "theo", "ilse"] {
        depot.good(&["retire", name, "--why", "lost in the yard"]);
    }
    let told = "the depot has retired this device";
    let synced = by_sync.run(&["sync", &address]);
    assert!(synced.code == Some(6) && synced.err.contains(told), "{synced}");
    let invite = depot.good("invite").out;
    let joined = by_join.run(&["join", invite.trim()]);
    assert!(joined.code == Some(6) && joined.err.contains(told), "{joined}");
    let bundle = dir.path().join("depot.bundle");
    let bundle = bundle.to_str().unwrap();
    depot.good(&["bundle", "write", bundle]);
    let read = by_bundle.run(&["bundle", "read", bundle]);
    assert!(read.err.contains(told), "{read}");
    for laptop in [by_sync, by_join, by_bundle] {
        let status = laptop.run("status");
        assert!(
            status.out.starts_with("this device was retired by the depot"),
            "{status}"
        );
        assert!(status.err.contains(told), "{status}");
    }
    daemon.stop();
}

/// Whom a device meets and where is nobody else's business.
#[test]
fn configuration_and_addresses_are_for_the_owner_only() {
    let dir = tempfile::tempdir().unwrap();
    let depot = setup(dir.path(), "harrow-street", &["--depot", "--listen", "127.0.0.1:0"]);
    let laptop = setup(dir.path(), "mara", &[]);
    let mode = |home: &Home, name| std::fs::metadata(home.file(name)).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&laptop, "config.toml"), 0o600, "made by setup");
    let daemon = depot.serve();
    let invite = depot.good("invite").out;
    joins(&laptop, invite.trim());
    for home in [&depot, &laptop] {
        for file in ["config.toml", "peers.json"] {
            assert_eq!(mode(home, file), 0o600, "{file} in {}", home.path.display());
        }
    }
    daemon.stop();
}
