//! The messages between the two ends of the control socket.
//!
//! ```text
//! greeting   "gladhand control 2\n", each side first of all
//! frame      length (u32, little-endian), then so many bytes of bincode: a [`ToDaemon`] or a [`ToClient`]
//! ```
//! The client says [`ToDaemon::Command`] once. The daemon answers [`ToClient::Started`] before it does anything, so that a
//! client that does not get it may open the home itself. Output follows until [`ToClient::Exit`]. Input is asked for piece by
//! piece and only when the command reads it, so nothing is taken from stdin that the command does not read.

use std::fmt;
use std::io::{self, Read, Write};

use gladhand_store::codec;
use serde::de::{DeserializeOwned, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// What each side sends first. The number changes with the messages.
pub const GREETING: &[u8] = b"gladhand control 2\n";
/// How many bytes of input or output go into one frame.
pub const PIECE_BYTES: usize = 64 << 10;

/// A command line and where it was typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Request {
    /// The version of the client.
    pub program: String,
    /// The command line, with the program's name. Bytes, because file names may be any.
    pub args: Vec<Bytes>,
    /// The client's working directory.
    pub cwd: Bytes,
    /// How many columns the client's terminal has. `None`: its stdout is no terminal.
    pub width: Option<u32>,
    /// Whether progress would be seen.
    pub shows_progress: bool,
}

/// From the client.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ToDaemon {
    /// Carry this out.
    Command(Request),
    /// What was read from stdin; nothing: it has ended.
    Input(Bytes),
    /// Stdin cannot be read, because of this.
    InputFailed(String),
}

/// From the daemon.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ToClient {
    /// The command is being carried out.
    Started,
    /// The command is not carried out, because of this.
    Refused(String),
    /// More of stdin is wanted.
    WantInput,
    /// Data for stdout.
    Out(Bytes),
    /// Data for stderr.
    Err(Bytes),
    /// How far a long piece of work is.
    Progress {
        /// What is being done.
        what: String,
        /// How much is done.
        done: u64,
        /// Of how much.
        total: u64,
    },
    /// The long work is over.
    ProgressOver,
    /// The command has ended with this exit code.
    Exit(u8),
}

/// Bytes that are encoded as one run, not one by one.
#[derive(Clone, PartialEq, Eq, Default)]
pub struct Bytes(pub Vec<u8>);

impl fmt::Debug for Bytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}", String::from_utf8_lossy(&self.0))
    }
}

impl Serialize for Bytes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_bytes(&self.0)
    }
}

impl<'de> Deserialize<'de> for Bytes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Run;
        impl Visitor<'_> for Run {
            type Value = Bytes;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("bytes")
            }
            fn visit_bytes<E>(self, bytes: &[u8]) -> Result<Bytes, E> {
                Ok(Bytes(bytes.to_vec()))
            }
            fn visit_byte_buf<E>(self, bytes: Vec<u8>) -> Result<Bytes, E> {
                Ok(Bytes(bytes))
            }
        }
        deserializer.deserialize_byte_buf(Run)
    }
}

/// A message as a frame.
///
/// # Errors
/// When it is too long.
pub fn frame<T: Serialize>(message: &T) -> io::Result<Vec<u8>> {
    let body = codec::encode(message).map_err(io::Error::other)?;
    let length = u32::try_from(body.len()).map_err(io::Error::other)?;
    let mut frame = Vec::with_capacity(4 + body.len());
    frame.extend_from_slice(&length.to_le_bytes());
    frame.extend_from_slice(&body);
    Ok(frame)
}

/// Writes a message.
///
/// # Errors
/// When it is too long or the other side has gone.
pub fn send<T: Serialize>(stream: &mut dyn Write, message: &T) -> io::Result<()> {
    stream.write_all(&frame(message)?)
}

/// Reads a message. `None`: the other side has disconnected between two messages.
///
/// # Errors
/// When it disconnects within one, or what comes is no message.
pub fn receive<T: DeserializeOwned>(stream: &mut dyn Read) -> io::Result<Option<T>> {
    let mut head = [0; 4];
    match stream.read(&mut head[..1])? {
        0 => return Ok(None),
        _ => stream.read_exact(&mut head[1..])?,
    }
    let length = u32::from_le_bytes(head) as usize;
    if length > codec::MAX_MESSAGE_BYTES {
        return Err(io::Error::new(
            io::ErrorKind::InvalidData,
            codec::CodecError::TooLong(length),
        ));
    }
    // Grows with what really comes: a length that is announced takes no memory.
    let mut body = Vec::new();
    (&mut *stream).take(length as u64).read_to_end(&mut body)?;
    if body.len() < length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    let message = codec::decode(&body).map_err(|e| io::Error::new(io::ErrorKind::InvalidData, e))?;
    Ok(Some(message))
}

/// Reads the other side's greeting, and returns whether it is ours.
///
/// # Errors
/// When none comes.
pub fn read_greeting(stream: &mut dyn Read) -> io::Result<bool> {
    let mut said = [0; GREETING.len()];
    stream.read_exact(&mut said)?;
    Ok(said == GREETING)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_come_back_from_a_stream_of_them() {
        let sent = [
            ToClient::Started,
            ToClient::Out(Bytes(vec![0xff; 300])),
            ToClient::Progress {
                what: "reading".into(),
                done: 1,
                total: 0,
            },
            ToClient::Exit(4),
        ];
        let mut stream = Vec::new();
        sent.iter().for_each(|message| send(&mut stream, message).unwrap());
        let mut rest = stream.as_slice();
        for message in sent {
            assert_eq!(receive::<ToClient>(&mut rest).unwrap(), Some(message));
        }
        assert_eq!(receive::<ToClient>(&mut rest).unwrap(), None);
    }

    #[test]
    fn what_is_no_message_is_refused() {
        assert!(receive::<ToDaemon>(&mut &[255, 255, 255, 255][..]).is_err());
        assert!(receive::<ToDaemon>(&mut &[0, 0, 0, 1, 9, 9][..]).is_err());
        assert!(receive::<ToDaemon>(&mut &[1, 0, 0, 0, 99][..]).is_err());
        assert!(receive::<ToDaemon>(&mut &[1, 0][..]).is_err());
    }
}
