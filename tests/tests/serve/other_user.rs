//! The control socket answers its owner (and root), and nobody else: neither through closed folders nor through opened ones.
//!
//! It takes a second user. Run by root, this file drops to one with `setpriv`; otherwise it says that it was skipped.

use std::io::Read;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::process::Command;

use gladhand::control::wire::GREETING;
use gladhand_tests::process::{DEADLINE, TempHome};

/// Tells [`knock`] where.
const SOCKET: &str = "GLADHAND_TEST_SOCKET";
/// `nobody` on most systems; it need not have a name.
const OTHER_USER: [&str; 3] = ["--reuid=65534", "--regid=65534", "--clear-groups"];

/// Runs in a process of its own, which may be another user's: prints what comes of connecting.
#[test]
#[ignore = "only a helper: the test of this file runs it as another user"]
fn knock() {
    let Some(socket) = std::env::var_os(SOCKET) else {
        return;
    };
    let mut stream = match UnixStream::connect(socket) {
        Ok(stream) => stream,
        Err(e) => return println!("knock: {:?}", e.kind()),
    };
    stream.set_read_timeout(Some(DEADLINE)).unwrap();
    let mut answer = Vec::new();
    let read = stream.by_ref().take(GREETING.len() as u64).read_to_end(&mut answer);
    let greeted = answer == GREETING;
    println!("knock: connected, greeted {greeted}, {} bytes, {read:?}", answer.len());
}

/// A copy of this program where every user can run it.
struct Knocker {
    program: std::path::PathBuf,
    socket: std::path::PathBuf,
}

impl Knocker {
    fn knock(&self, mut command: Command) -> String {
        let ran = command
            .args(["--ignored", "--exact", "other_user::knock", "--nocapture"])
            .env(SOCKET, &self.socket)
            .current_dir("/")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ran.stdout);
        let told = said.lines().find_map(|line| line.split_once("knock: "));
        let (_, told) =
            told.unwrap_or_else(|| panic!("the helper did not run: {said}{}", String::from_utf8_lossy(&ran.stderr)));
        told.to_owned()
    }

    fn as_owner(&self) -> String {
        self.knock(Command::new(&self.program))
    }

    fn as_other_user(&self) -> String {
        let mut command = Command::new("setpriv");
        command.args(OTHER_USER).arg(&self.program);
        self.knock(command)
    }
}

fn can_be_another_user() -> bool {
    let mut check = Command::new("setpriv");
    check.args(OTHER_USER).arg("true");
    check.output().is_ok_and(|ran| ran.status.success())
}

fn set_mode(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
}

#[test]
fn another_user_is_turned_away_also_where_the_folders_are_open() {
    if !can_be_another_user() {
        println!("skipped: to become another user takes root and the program setpriv");
        return;
    }
    let home = TempHome::laptop();
    let daemon = home.serve();
    let desk = tempfile::tempdir().unwrap();
    let program = desk.path().join("knocker");
    std::fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
    set_mode(desk.path(), 0o755);
    set_mode(&program, 0o755);
    let knocker = Knocker {
        program,
        socket: home.socket(),
    };
    let outer = home.path.parent().unwrap();

    assert!(knocker.as_owner().contains("greeted true"), "{}", knocker.as_owner());
    assert_eq!(knocker.as_other_user(), "PermissionDenied", "the home is closed");

    set_mode(outer, 0o755);
    set_mode(&home.path, 0o777);
    assert_eq!(
        knocker.as_other_user(),
        "PermissionDenied",
        "the socket itself is closed"
    );

    set_mode(&home.socket(), 0o666);
    assert_eq!(
        knocker.as_other_user(),
        "connected, greeted false, 0 bytes, Ok(0)",
        "the daemon asks the system who calls"
    );
    assert!(
        knocker.as_owner().contains("greeted true"),
        "others are served meanwhile"
    );

    set_mode(&home.path, 0o700);
    home.good("note alive");
    daemon.stop();
}
