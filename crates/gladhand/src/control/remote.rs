//! The console of a command that the daemon runs for a client.

use std::io::{self, Read};
use std::os::unix::net::UnixStream;

use super::outgoing::Outgoing;
use super::wire::{self, Bytes, PIECE_BYTES, ToClient, ToDaemon};
use crate::console::{Console, Tick};

/// Output goes to the client, input comes from it.
pub struct Remote {
    outgoing: Outgoing,
    socket: UnixStream,
    screen: Screen,
}

/// What the client shows output on.
#[derive(Debug, Clone, Copy)]
pub struct Screen {
    /// How many columns it has. `None`: the client's stdout is no terminal.
    pub width: Option<usize>,
    /// Whether anybody would see progress.
    pub shows_progress: bool,
}

impl Remote {
    /// A console for the client behind `socket`.
    pub fn new(outgoing: Outgoing, socket: UnixStream, screen: Screen) -> Self {
        Self {
            outgoing,
            socket,
            screen,
        }
    }
}

impl Console for Remote {
    fn out(&mut self, bytes: &[u8]) -> io::Result<()> {
        let send = |piece: &[u8]| say(&self.outgoing, &ToClient::Out(Bytes(piece.to_vec())));
        bytes.chunks(PIECE_BYTES).try_for_each(send)
    }

    fn err(&mut self, text: &str) {
        let mut line = text.as_bytes().to_vec();
        line.push(b'\n');
        let mut pieces = line.chunks(PIECE_BYTES);
        // It is no failure when nobody reads it; writing data will notice.
        pieces
            .try_for_each(|piece| say(&self.outgoing, &ToClient::Err(Bytes(piece.to_vec()))))
            .ok();
    }

    fn input(&mut self) -> Box<dyn Read + Send> {
        match self.socket.try_clone() {
            Ok(socket) => Box::new(RemoteInput {
                outgoing: self.outgoing.clone(),
                socket,
                piece: io::Cursor::default(),
            }),
            Err(error) => Box::new(Broken(error.kind())),
        }
    }

    fn width(&self) -> Option<usize> {
        self.screen.width
    }

    fn shows_progress(&self) -> bool {
        self.screen.shows_progress
    }

    fn progress(&mut self, tick: Option<Tick<'_>>) {
        let message = match tick {
            Some(Tick { what, done, total }) => ToClient::Progress {
                what: what.to_owned(),
                done,
                total,
            },
            None => ToClient::ProgressOver,
        };
        say(&self.outgoing, &message).ok();
    }
}

/// Puts a message into the queue.
pub fn say(outgoing: &Outgoing, message: &ToClient) -> io::Result<()> {
    outgoing.push(wire::frame(message)?)
}

/// The client's stdin, asked for piece by piece.
struct RemoteInput {
    outgoing: Outgoing,
    socket: UnixStream,
    piece: io::Cursor<Vec<u8>>,
}

impl Read for RemoteInput {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let taken = self.piece.read(into)?;
        if taken > 0 || into.is_empty() {
            return Ok(taken);
        }
        say(&self.outgoing, &ToClient::WantInput)?;
        match wire::receive::<ToDaemon>(&mut self.socket)? {
            Some(ToDaemon::Input(Bytes(piece))) => {
                self.piece = io::Cursor::new(piece);
                self.piece.read(into)
            }
            Some(ToDaemon::InputFailed(why)) => Err(io::Error::other(why)),
            Some(ToDaemon::Command(_)) => Err(io::ErrorKind::InvalidData.into()),
            None => Err(io::Error::other(
                "whoever sent it has gone away, or the daemon is shutting down",
            )),
        }
    }
}

struct Broken(io::ErrorKind);

impl Read for Broken {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        Err(self.0.into())
    }
}
