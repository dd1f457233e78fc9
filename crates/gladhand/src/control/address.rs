//! Where a home's control socket is.
//!
//! `<home>/control.sock`, when the home is its owner's alone and its path is short enough: the name of a socket has at most
//! 107 bytes. Otherwise `gladhand/<hash>.sock` in the user's runtime folder, or `/tmp/gladhand-<uid>/<hash>.sock`, and
//! `<home>/control.path` says which. Such a folder is used only when it belongs to this user and nobody else may enter it.
//!
//! A daemon that was killed leaves a socket file at which nobody answers. Only the holder of the home's lock removes it:
//! only then can it not be a new daemon's.

use std::io;
use std::os::unix::fs::{DirBuilderExt, MetadataExt};
use std::path::{Path, PathBuf};

use crate::failure::Failure;

/// Leaves room for the name that macOS allows (103), and for Linux (107).
const MAX_PATH_BYTES: usize = 100;
const IN_HOME: &str = "control.sock";
const ELSEWHERE: &str = "control.path";

/// Where a client connects. There may be no daemon.
pub fn of(home: &Path) -> PathBuf {
    let elsewhere = std::fs::read_to_string(home.join(ELSEWHERE)).ok();
    match elsewhere.as_deref().map(str::trim_end).filter(|path| !path.is_empty()) {
        Some(path) => PathBuf::from(path),
        None => home.join(IN_HOME),
    }
}

/// Whether a client may trust what answers at `socket`: its folder is this user's alone.
pub fn is_ours(socket: &Path) -> bool {
    socket.parent().is_some_and(|folder| check_folder(folder).is_ok())
}

/// Chooses the place for a daemon that holds the home's lock, and removes what a killed daemon left there.
///
/// # Errors
/// When there is no folder that is this user's alone.
pub fn claim(home: &Path) -> Result<PathBuf, Failure> {
    remove_stale(home);
    let near = home.join(IN_HOME);
    if fits(&near) && check_folder(home).is_ok() {
        return Ok(near);
    }
    let folder = runtime_folder()?;
    let canonical = std::fs::canonicalize(home).unwrap_or_else(|_| home.to_path_buf());
    let hash = blake3::hash(canonical.as_os_str().as_encoded_bytes()).to_hex();
    let far = folder.join(format!("{}.sock", hash.get(..32).unwrap_or(&hash)));
    if !fits(&far) {
        return Err(Failure::failed(format!(
            "no place for the control socket: {} is too long a name for one",
            far.display()
        ))
        .hint("Set XDG_RUNTIME_DIR to a folder with a shorter name."));
    }
    std::fs::remove_file(&far).ok();
    let note = home.join(ELSEWHERE);
    std::fs::write(&note, format!("{}\n", far.display()))
        .map_err(|e| Failure::failed(format!("cannot write {}: {e}", note.display())))?;
    Ok(far)
}

/// Removes what points to a daemon. Only for the holder of the home's lock.
pub fn remove_stale(home: &Path) {
    let socket = of(home);
    if is_ours(&socket) {
        std::fs::remove_file(socket).ok();
    }
    std::fs::remove_file(home.join(ELSEWHERE)).ok();
}

fn fits(socket: &Path) -> bool {
    socket.as_os_str().len() <= MAX_PATH_BYTES
}

/// A folder that is this user's alone, outside of the home.
fn runtime_folder() -> Result<PathBuf, Failure> {
    let uid = rustix::process::geteuid().as_raw();
    let given = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
    let runtime = given.filter(|dir| dir.is_absolute() && check_folder(dir).is_ok());
    let folder = match runtime {
        Some(dir) => dir.join("gladhand"),
        None => PathBuf::from(format!("/tmp/gladhand-{uid}")),
    };
    match std::fs::DirBuilder::new().mode(0o700).create(&folder) {
        Err(e) if e.kind() != io::ErrorKind::AlreadyExists => {
            Err(Failure::failed(format!("cannot make {}: {e}", folder.display())))
        }
        _ => check_folder(&folder).map(|()| folder.clone()).map_err(|why| {
            Failure::failed(format!("{} is not fit for the control socket: {why}", folder.display()))
                .hint("Somebody else may have made it. Remove it, or set XDG_RUNTIME_DIR to a folder of your own.")
        }),
    }
}

fn check_folder(folder: &Path) -> Result<(), String> {
    let meta = std::fs::symlink_metadata(folder).map_err(|e| e.to_string())?;
    // A home may be named by a symbolic link; what counts is its target.
    let meta = if meta.is_symlink() {
        std::fs::metadata(folder).map_err(|e| e.to_string())?
    } else {
        meta
    };
    if !meta.is_dir() {
        return Err("it is not a folder".into());
    }
    if meta.uid() != rustix::process::geteuid().as_raw() {
        return Err("it belongs to another user".into());
    }
    if meta.mode() & 0o077 != 0 {
        return Err("others may enter it".into());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    fn home(parent: &Path, name: &str, mode: u32) -> PathBuf {
        let home = parent.join(name);
        std::fs::create_dir(&home).unwrap();
        std::fs::set_permissions(&home, std::fs::Permissions::from_mode(mode)).unwrap();
        home
    }

    #[test]
    fn a_short_private_home_has_its_socket_inside() {
        let dir = tempfile::tempdir().unwrap();
        let home = home(dir.path(), "h", 0o700);
        assert_eq!(claim(&home).unwrap(), home.join("control.sock"));
        assert_eq!(of(&home), home.join("control.sock"));
    }

    /// A client trusts no socket in a folder that another user owns, and no daemon opens one there.
    #[test]
    fn a_folder_of_another_user_is_not_ours() {
        let dir = tempfile::tempdir().unwrap();
        let theirs = home(dir.path(), "theirs", 0o700);
        if std::os::unix::fs::chown(&theirs, Some(65_534), None).is_err() {
            println!("skipped: to give a folder to another user takes root");
            return;
        }
        assert!(!is_ours(&theirs.join(IN_HOME)));
        assert!(!claim(&theirs).unwrap().starts_with(&theirs));
        remove_stale(&theirs);
    }

    #[test]
    fn a_long_or_open_home_has_it_elsewhere_and_says_where() {
        let dir = tempfile::tempdir().unwrap();
        let long = home(dir.path(), &"x".repeat(120), 0o700);
        let open = home(dir.path(), "open", 0o755);
        for home in [long, open] {
            let socket = claim(&home).unwrap();
            assert!(
                !socket.starts_with(&home) && fits(&socket) && is_ours(&socket),
                "{}",
                socket.display()
            );
            assert_eq!(of(&home), socket);
            std::fs::write(&socket, b"").unwrap();
            remove_stale(&home);
            assert!(!socket.exists());
            assert_eq!(of(&home), home.join("control.sock"));
        }
    }
}
