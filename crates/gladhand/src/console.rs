//! Where a command writes and reads: on this process's own terminal, or through the daemon on that of the client.
//!
//! A command runs on one thread from its beginning to its end, and writes through [`crate::show`]. The daemon sets a
//! [`Console`] for that thread for as long as the command runs; without one, the process's stdout and stderr are used.
//! Threads that a command starts do not inherit it: they must not write, and are handed [`input`] if they read.

use std::cell::RefCell;
use std::io::{self, IsTerminal, Read, Write};

/// Where a command writes, and where it reads its input.
pub trait Console {
    /// Data, for stdout.
    ///
    /// # Errors
    /// When the client has gone away.
    fn out(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// A line beside the data, for stderr, without its newline.
    fn err(&mut self, text: &str);
    /// Stdin.
    fn input(&mut self) -> Box<dyn Read + Send>;
    /// How many columns the terminal has that data goes to. `None`: it goes to no terminal.
    fn width(&self) -> Option<usize>;
    /// Whether progress would be seen.
    fn shows_progress(&self) -> bool;
    /// How far a long piece of work is. `None`: it is over.
    fn progress(&mut self, tick: Option<Tick<'_>>);
}

/// How far a long piece of work is.
#[derive(Debug, Clone, Copy)]
pub struct Tick<'a> {
    /// What is being done.
    pub what: &'a str,
    /// How much of it is done.
    pub done: u64,
    /// How much there is; 0 when that is not known.
    pub total: u64,
}

thread_local! {
    static CURRENT: RefCell<Option<Box<dyn Console>>> = const { RefCell::new(None) };
}

/// Restores the console that was current before, also when the command panics.
struct Restore(Option<Box<dyn Console>>);

impl Drop for Restore {
    fn drop(&mut self) {
        CURRENT.set(self.0.take());
    }
}

/// Runs `command` with `console` as the current one.
pub fn with<T>(console: Box<dyn Console>, command: impl FnOnce() -> T) -> T {
    let _restore = Restore(CURRENT.replace(Some(console)));
    command()
}

/// Asks the current console, if there is one besides the process's own.
fn ask<T>(question: impl FnOnce(&mut dyn Console) -> T) -> Option<T> {
    CURRENT.with_borrow_mut(|current| current.as_mut().map(|console| question(console.as_mut())))
}

/// Whether output goes elsewhere than to this process's own stdout and stderr.
pub fn is_remote() -> bool {
    ask(|_| ()).is_some()
}

/// Writes data.
///
/// # Errors
/// When stdout, or the client, takes no more.
pub fn out(bytes: &[u8]) -> io::Result<()> {
    match ask(|console| console.out(bytes)) {
        Some(written) => written,
        None => {
            let mut out = io::stdout().lock();
            out.write_all(bytes).and_then(|()| out.flush())
        }
    }
}

/// Writes a line beside the data. It is no failure when nobody reads it.
pub fn err(text: &str) {
    if ask(|console| console.err(text)).is_none() {
        writeln!(io::stderr().lock(), "{text}").ok();
    }
}

/// Stdin. It may be handed to another thread.
pub fn input() -> Box<dyn Read + Send> {
    ask(|console| console.input()).unwrap_or_else(|| Box::new(io::stdin()))
}

/// How many columns the terminal has that data goes to. `None`: it goes to no terminal.
pub fn width() -> Option<usize> {
    ask(|console| console.width()).unwrap_or_else(own_width)
}

fn own_width() -> Option<usize> {
    let out = io::stdout();
    if !out.is_terminal() {
        return None;
    }
    // Shells keep their COLUMNS to themselves: one in the environment was put there on purpose.
    let wanted = std::env::var("COLUMNS").ok().and_then(|text| text.trim().parse().ok());
    wanted
        .filter(|columns| *columns > 0)
        .or_else(|| terminal_size::terminal_size_of(out).map(|(columns, _)| columns.0.into()))
}

/// Whether progress would be seen.
pub fn shows_progress() -> bool {
    ask(|console| console.shows_progress()).unwrap_or_else(|| io::stderr().is_terminal())
}

/// Tells a remote console how far a long piece of work is. `false`: there is none, show it here.
pub fn progress(tick: Option<Tick<'_>>) -> bool {
    ask(|console| console.progress(tick)).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::rc::Rc;

    #[derive(Clone, Default)]
    struct Kept(Rc<RefCell<String>>);

    impl Console for Kept {
        fn out(&mut self, bytes: &[u8]) -> io::Result<()> {
            self.0.borrow_mut().push_str(std::str::from_utf8(bytes).unwrap());
            Ok(())
        }
        fn err(&mut self, text: &str) {
            self.0.borrow_mut().push_str(&format!("({text})"));
        }
        fn input(&mut self) -> Box<dyn Read + Send> {
            Box::new(&b"typed"[..])
        }
        fn width(&self) -> Option<usize> {
            Some(60)
        }
        fn shows_progress(&self) -> bool {
            false
        }
        fn progress(&mut self, _: Option<Tick<'_>>) {}
    }

    #[test]
    fn words_go_to_the_console_that_is_set_and_no_further() {
        let kept = Kept::default();
        let typed = with(Box::new(kept.clone()), || {
            out(b"data ").unwrap();
            err("aside");
            let mut typed = String::new();
            input().read_to_string(&mut typed).unwrap();
            typed
        });
        assert_eq!((kept.0.borrow().as_str(), typed.as_str()), ("data (aside)", "typed"));
        assert_eq!(with(Box::new(kept), width), Some(60));
        assert!(!is_remote());
    }

    #[test]
    fn a_panic_puts_the_old_console_back() {
        let outcome = std::panic::catch_unwind(|| with(Box::new(Kept::default()), || panic!("on purpose")));
        assert!(outcome.is_err() && !is_remote());
    }
}
