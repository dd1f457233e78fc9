//! The network with real processes: a depot's daemon that is killed in the middle of a transfer goes on where it was, and a day with
//! a depot and three laptops whose daemons come and go.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;

const DEADLINE: Duration = Duration::from_secs(180);

struct Home(PathBuf);

impl Home {
    fn run(&self, args: &[&str]) -> Output {
        self.run_with(args, "")
    }

    fn run_with(&self, args: &[&str], input: &str) -> Output {
        let mut child = Command::new(env!("CARGO_BIN_EXE_gladhand"))
            .arg("--home")
            .arg(&self.0)
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
        child.wait_with_output().unwrap()
    }

    fn done(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert!(output.status.success(), "{args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&self.done(&[&["--json"], args].concat())).unwrap()
    }

    fn joins(&self, invite: &str) {
        let output = self.run(&["--json", "join", invite]);
        let joined: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(joined["merged"], true, "{output:?}");
    }

    fn entries(&self) -> u64 {
        self.json(&["status"])["entries"].as_u64().unwrap()
    }

    fn serve(&self) -> Daemon {
        let mut child = Command::new(env!("CARGO_BIN_EXE_gladhand"))
            .arg("--home")
            .arg(&self.0)
            .arg("serve")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let at = line.rsplit(' ').find_map(|word| word.trim().parse().ok());
        Daemon { child, at }
    }
}

struct Daemon {
    child: Child,
    at: Option<SocketAddr>,
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // As hard as it gets: nothing may depend on a clean end.
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let until = Instant::now() + DEADLINE;
    while !holds() {
        assert!(Instant::now() < until, "{what}: not within {DEADLINE:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A home that speaks to configured peers only.
fn setup(dir: &Path, name: &str, more: &[&str]) -> Home {
    let home = Home(dir.join(name));
    home.done(&[&["setup", "--name", name], more].concat());
    let file = home.0.join("config.toml");
    let config = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, config.replace("discover = true", "discover = false")).unwrap();
    home
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
    mara.joins(&invite);
    let before = depot.entries();
    for part in ["early", "morning", "noon", "afternoon", "evening", "night"] {
        assert!(mara.run_with(&["record"], &notes(1_000, part)).status.success());
    }
    let total = mara.entries();
    let to = Arc::new(Mutex::new(daemon.at.unwrap()));
    let held = Arc::new(Mutex::new(Some(daemon)));
    let victim = Arc::clone(&held);
    // More than may be under way without an acknowledgement, so some of it is durable by then.
    let at = proxy(Arc::clone(&to), 160_000, move || drop(victim.lock().unwrap().take())).to_string();
    let cut = mara.run(&["--json", "sync", &at]);
    assert_eq!(cut.status.code(), Some(5), "{cut:?}");
    assert!(held.lock().unwrap().is_none(), "the depot was killed");

    let daemon = depot.serve();
    *to.lock().unwrap() = daemon.at.unwrap();
    let kept = depot.entries();
    assert!(
        kept > before && kept < total,
        "{before} < {kept} < {total}: in the middle"
    );
    let resumed = mara.json(&["sync", &at]);
    // To the last entry: what was acknowledged before the kill is not sent again, and what was not is.
    assert_eq!(resumed["peers"][0]["sent"].as_u64().unwrap(), total - kept, "{resumed}");
    assert_eq!(depot.entries(), mara.entries());
    println!(
        "{total} entries, {kept} of them durable when the depot was killed; then {} sent",
        total - kept
    );
    drop(daemon);
    depot.done(&["verify"]);
    mara.done(&["verify"]);
}

/// Harrow Street and three laptops, each daemon stopped and started by turns: the intermediate never meets both ends at once.
#[test]
fn a_day_of_daemons_that_come_and_go() {
    let dir = tempfile::tempdir().unwrap();
    let depot = setup(dir.path(), "harrow-street", &["--depot", "--listen", "127.0.0.1:0"]);
    let laptops = ["mara", "theo", "ilse"].map(|name| setup(dir.path(), name, &["--listen", "127.0.0.1:0"]));
    let daemon = depot.serve();
    for laptop in &laptops {
        let invite = depot.json(&["invite"])["invite"].as_str().unwrap().to_owned();
        laptop.joins(&invite);
    }
    laptops.iter().for_each(|laptop| drop(laptop.done(&["sync"])));
    drop(daemon);
    let [mara, theo, ilse] = &laptops;
    let chain = [mara, theo, ilse];
    mara.done(&["note", "only Mara saw this"]);
    // Mara meets Theo, Theo meets Ilse, Ilse meets the depot; never two of these at once.
    for (listens, dials) in chain.iter().zip(&chain[1..]) {
        let daemon = listens.serve();
        dials.done(&["sync", &daemon.at.unwrap().to_string()]);
    }
    let daemon = depot.serve();
    ilse.done(&["sync", &daemon.at.unwrap().to_string()]);
    let history = depot.done(&["history"]);
    assert!(history.contains("only Mara saw this"), "{history}");
    // With daemons on both sides nobody has to ask.
    let address = daemon.at.unwrap().to_string();
    let file = theo.0.join("config.toml");
    let config = std::fs::read_to_string(&file).unwrap();
    let peers = config.lines().find(|l| l.starts_with("peers")).unwrap();
    std::fs::write(&file, config.replace(peers, &format!("peers = [\"{address}\"]"))).unwrap();
    let theos = theo.serve();
    depot.done(&["note", "from the depot to whoever is there"]);
    until("Theo has the depot's note", || {
        theo.done(&["history"]).contains("whoever is there")
    });
    theo.done(&["note", "and back"]);
    until("the depot has Theo's", || depot.done(&["history"]).contains("and back"));
    drop((theos, daemon));
    until("all is whole", || {
        depot.run(&["verify"]).status.success() && theo.run(&["verify"]).status.success()
    });
}
