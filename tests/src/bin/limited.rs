//! `limited BYTES PROGRAM ARGS…`: runs a program that dies when it writes beyond byte BYTES of any file.
//!
//! The system cuts the write that crosses the limit short and ends the process at the next one by a signal, without a
//! rng to clean up: a `kill -9` in the middle of a write, at a place that a test chooses. Nothing in the program under
//! test knows of it.

#[cfg(unix)]
fn main() {
    use std::os::unix::process::CommandExt;

    use rustix::process::{Resource, Rlimit, setrlimit};

    let mut args = std::env::args_os().skip(1);
    let bytes = args.next().and_then(|bytes| bytes.to_str()?.parse::<u64>().ok());
    let (Some(bytes), Some(program)) = (bytes, args.next()) else {
        eprintln!("usage: limited BYTES PROGRAM ARGS...");
        std::process::exit(2);
    };
    let limit = |bytes| Rlimit {
        current: Some(bytes),
        maximum: Some(bytes),
    };
    let limited = setrlimit(Resource::Core, limit(0)).and_then(|()| setrlimit(Resource::Fsize, limit(bytes)));
    if let Err(e) = limited {
        eprintln!("limited: {e}");
        std::process::exit(2);
    }
    // Returns only when it fails.
    let error = std::process::Command::new(program).args(args).exec();
    eprintln!("limited: {error}");
    std::process::exit(2);
}

#[cfg(not(unix))]
fn main() {
    eprintln!("limited: only where the system limits the size of files");
    std::process::exit(2);
}
