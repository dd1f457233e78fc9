//! What the real binary writes to a real terminal, whether it does the work itself or a daemon does it.

use std::fs::File;
use std::io::Read;
use std::process::Stdio;

use gladhand_tests::process::{Home, TempHome};
use rustix::pty::{self, OpenptFlags};
use rustix::termios::{Winsize, tcsetwinsize};

/// A terminal of so many columns: the end that sees what is shown, and the one that a program writes to.
fn open_terminal(columns: u16) -> (std::os::fd::OwnedFd, File) {
    let terminal = pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    pty::grantpt(&terminal).unwrap();
    pty::unlockpt(&terminal).unwrap();
    let size = Winsize {
        ws_row: 24,
        ws_col: columns,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(&terminal, size).unwrap();
    let name = pty::ptsname(&terminal, Vec::new()).unwrap();
    let inner = File::options()
        .read(true)
        .write(true)
        .open(name.to_str().unwrap())
        .unwrap();
    (terminal, inner)
}

/// Runs a command with its stdout on a terminal of so many columns.
fn on_terminal(home: &Home, columns: u16, set_by_hand: Option<&str>, args: &[&str]) -> String {
    let (terminal, inner) = open_terminal(columns);
    let mut command = home.command(args);
    command.env_remove("COLUMNS");
    if let Some(columns) = set_by_hand {
        command.env("COLUMNS", columns);
    }
    let mut child = command
        .stdin(Stdio::null())
        .stdout(inner)
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    // It holds the inner end, whose last closing ends the reading below.
    drop(command);
    let mut shown = Vec::new();
    // Linux ends the reading of a terminal that nobody holds any more with an error.
    File::from(terminal).read_to_end(&mut shown).ok();
    child.wait().unwrap();
    String::from_utf8_lossy(&shown).replace("\r\n", "\n")
}

fn widest(shown: &str) -> usize {
    shown.lines().map(|line| line.chars().count()).max().unwrap_or(0)
}

#[test]
fn lines_are_as_wide_as_the_terminal_of_whoever_asks() {
    let home = TempHome::laptop();
    let job = [
        "job",
        "J1",
        "--trailer",
        "4821",
        "--fleet",
        "Larkspur Freight",
        "--yard",
        "Tolland",
    ];
    home.good(&job);
    let ask = ["clearance", "J1"];
    let piped = home.run(&ask).out;
    assert!(widest(&piped) > 60 && widest(&piped) <= 100, "{piped}");
    let (narrow, wide) = (on_terminal(&home, 60, None, &ask), on_terminal(&home, 200, None, &ask));
    assert!(widest(&wide) > 100 && widest(&wide) <= 200, "{wide}");
    assert!(widest(&narrow) <= 60, "{narrow}");
    let words = |shown: &str| shown.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(words(&narrow), words(&piped));
    assert_eq!(on_terminal(&home, 200, Some("60"), &ask), narrow);

    let daemon = home.serve();
    assert_eq!(on_terminal(&home, 60, None, &ask), narrow);
    assert_eq!(on_terminal(&home, 60, Some("200"), &ask), wide);
    assert_eq!(home.run(&ask).out, piped);
    daemon.stop();
}

/// Runs a command with its stderr on a terminal and lets `feed` write into its stdin; what the terminal shows.
fn shown_on_stderr(home: &Home, args: &[&str], feed: impl FnOnce(&mut std::process::Child)) -> String {
    let (terminal, inner) = open_terminal(80);
    let mut command = home.command(args);
    command
        .env("TERM", "xterm")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(inner);
    let mut child = command.spawn().unwrap();
    drop(command);
    feed(&mut child);
    let mut shown = Vec::new();
    File::from(terminal).read_to_end(&mut shown).ok();
    assert!(child.wait().unwrap().success());
    String::from_utf8_lossy(&shown).into_owned()
}

#[test]
fn recording_that_takes_a_while_shows_how_far_it_is_and_only_on_a_terminal() {
    use std::io::{BufRead, BufReader, Write};
    let home = TempHome::laptop();
    // A second line that comes when the work has gone on for longer than a moment, seen from outside.
    let slowly = |child: &mut std::process::Child| {
        let mut stdin = child.stdin.take().unwrap();
        let mut receipts = BufReader::new(child.stdout.take().unwrap()).lines();
        for text in ["one", "two"] {
            writeln!(stdin, "{{\"kind\":\"note\",\"text\":\"{text}\"}}").unwrap();
            let receipt = receipts.next().unwrap().unwrap();
            assert!(receipt.contains(text), "{receipt}");
            let since = std::time::Instant::now();
            while since.elapsed() < std::time::Duration::from_millis(400) {
                std::thread::yield_now();
            }
        }
    };
    let shown = shown_on_stderr(&home, &["record"], slowly);
    assert!(
        shown.contains("recording -") && shown.contains("2 facts recorded"),
        "{shown}"
    );
    let at_once = shown_on_stderr(&home, &["note", "at once"], |child| drop(child.stdin.take()));
    assert_eq!(at_once, "", "nothing for what takes no time");
}
