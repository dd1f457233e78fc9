//! What the real binary writes to a real terminal, whether it does the work itself or a daemon does it.

use std::fs::File;
use std::io::Read;
use std::process::Stdio;

use gladhand_tests::process::{Home, TempHome};
use rustix::pty::{self, OpenptFlags};
use rustix::termios::{Winsize, tcsetwinsize};

/// Runs a command with its stdout on a terminal of so many columns.
fn on_terminal(home: &Home, columns: u16, set_by_hand: Option<&str>, args: &[&str]) -> String {
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
