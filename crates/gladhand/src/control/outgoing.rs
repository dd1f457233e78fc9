//! Frames on their way to a client, however slowly it reads.
//!
//! A command may hold the daemon's node while it writes, and its reader may be a person who pages through a history. So
//! writing never waits: what the client has not read yet is kept in memory, and beyond a few mebibytes in a file that has no
//! name. A separate thread writes it to the socket.
//!
//! Invariant: frames leave in the order in which they came, each whole.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// More than this goes into a file.
const IN_MEMORY_BYTES: usize = 4 << 20;

enum Frame {
    Here(Vec<u8>),
    InFile { at: u64, bytes: usize },
}

#[derive(Default)]
struct Waiting {
    frames: VecDeque<Frame>,
    in_memory: usize,
    file: Option<File>,
    file_end: u64,
    no_more: bool,
    gone: bool,
}

/// The queue of one client.
#[derive(Clone)]
pub struct Outgoing {
    waiting: Arc<Mutex<Waiting>>,
    more: Arc<Condvar>,
    folder: PathBuf,
}

impl Outgoing {
    /// A queue whose overflow goes into a file in `folder`.
    pub fn new(folder: &Path) -> Self {
        Self {
            waiting: Arc::default(),
            more: Arc::default(),
            folder: folder.to_path_buf(),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts a frame at the end. Never waits for the client.
    ///
    /// # Errors
    /// When the client has gone away, or its backlog cannot be kept.
    pub fn push(&self, frame: Vec<u8>) -> io::Result<()> {
        let mut waiting = self.lock();
        if waiting.gone {
            return Err(io::ErrorKind::BrokenPipe.into());
        }
        let frame = if waiting.in_memory + frame.len() > IN_MEMORY_BYTES {
            self.spill(&mut waiting, &frame)?
        } else {
            waiting.in_memory += frame.len();
            Frame::Here(frame)
        };
        waiting.frames.push_back(frame);
        self.more.notify_all();
        Ok(())
    }

    fn spill(&self, waiting: &mut Waiting, frame: &[u8]) -> io::Result<Frame> {
        let file = match waiting.file.take() {
            Some(file) => file,
            None => nameless(&self.folder)?,
        };
        let at = waiting.file_end;
        let written = file.write_all_at(frame, at);
        waiting.file = Some(file);
        written?;
        waiting.file_end += frame.len() as u64;
        Ok(Frame::InFile { at, bytes: frame.len() })
    }

    /// Nothing more will come: [`Outgoing::carry`] ends when all is sent.
    pub fn finish(&self) {
        self.lock().no_more = true;
        self.more.notify_all();
    }

    /// Carries frames to `socket` until the end, or until the client has gone.
    pub fn carry(&self, socket: &mut dyn Write) {
        while let Some(frame) = self.next() {
            if socket.write_all(&frame).is_err() {
                break;
            }
        }
        let mut waiting = self.lock();
        *waiting = Waiting {
            gone: true,
            ..Waiting::default()
        };
    }

    /// The next frame, when there is one. `None`: there will be none.
    fn next(&self) -> Option<Vec<u8>> {
        let mut waiting = self.lock();
        loop {
            if let Some(frame) = waiting.frames.pop_front() {
                return take(&mut waiting, frame);
            }
            if waiting.no_more || waiting.gone {
                return None;
            }
            waiting = self.more.wait(waiting).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

fn take(waiting: &mut Waiting, frame: Frame) -> Option<Vec<u8>> {
    match frame {
        Frame::Here(frame) => {
            waiting.in_memory = waiting.in_memory.saturating_sub(frame.len());
            Some(frame)
        }
        Frame::InFile { at, bytes } => {
            let mut frame = vec![0; bytes];
            waiting.file.as_ref()?.read_exact_at(&mut frame, at).ok()?;
            if !waiting.frames.iter().any(|f| matches!(f, Frame::InFile { .. })) {
                (waiting.file, waiting.file_end) = (None, 0);
            }
            Some(frame)
        }
    }
}

/// A file that is gone when it is closed, also when this process is killed.
fn nameless(folder: &Path) -> io::Result<File> {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let path = folder.join(format!(".control-overflow-{number}"));
    let file = File::options()
        .read(true)
        .write(true)
        .create(true)
        .truncate(true)
        .open(&path)?;
    std::fs::remove_file(&path)?;
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_that_comes_late_gets_everything_in_order_and_memory_stays_small() {
        let dir = tempfile::tempdir().unwrap();
        let outgoing = Outgoing::new(dir.path());
        let frame = |n: u32| vec![n as u8; 70_000];
        (0..400).for_each(|n| outgoing.push(frame(n)).unwrap());
        assert!(outgoing.lock().in_memory <= IN_MEMORY_BYTES && outgoing.lock().file_end > 20 << 20);
        assert_eq!(
            std::fs::read_dir(dir.path()).unwrap().count(),
            0,
            "the file has no name"
        );
        outgoing.finish();
        let mut read = Vec::new();
        outgoing.carry(&mut read);
        assert_eq!(read.len(), 400 * 70_000);
        assert!(read.chunks(70_000).zip(0..).all(|(chunk, n)| chunk == frame(n)));
        assert!(outgoing.push(frame(0)).is_err(), "the other side has ended");
    }

    #[test]
    fn a_client_that_went_away_is_noticed() {
        struct Gone;
        impl Write for Gone {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::BrokenPipe.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let outgoing = Outgoing::new(Path::new("/nowhere"));
        outgoing.push(vec![1]).unwrap();
        outgoing.carry(&mut Gone);
        assert_eq!(outgoing.push(vec![2]).unwrap_err().kind(), io::ErrorKind::BrokenPipe);
    }
}
