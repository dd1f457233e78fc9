//! Reading and writing bundle files: hashed while written, read part by part, inspected without a home.
//!
//! Deliberately not here: the byte layout ([`gladhand_logbook::bundle`]), and what may be admitted ([`crate::merge`]).
//!
//! Invariant: reading allocates no more for a part than the file really holds, and a damaged part does not hide the parts after
//! it.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use gladhand_logbook::bundle::{self, BundleError, Header, Kind, PART_HEAD_BYTES, PartHead};
use gladhand_logbook::frame::Frame;

use crate::error::{BundleFileError, NodeError};

/// Checks a bundle without a home. Returns its header, and what is wrong with it.
///
/// # Errors
/// When the file is no bundle or cannot be read.
pub fn inspect_bundle(file: &Path) -> Result<(Header, Vec<String>), BundleFileError> {
    let mut parts = BundleReader::open(file)?;
    let header = parts.header()?;
    let mut inspected = Inspected::default();
    loop {
        match parts.next() {
            Ok(Some(part)) => inspected.add(part, &header),
            Ok(None) => break,
            Err(e) => {
                inspected.faults.push(e.to_string());
                break;
            }
        }
    }
    let faults = inspected.finish(&header);
    Ok((header, faults))
}

/// What was found while a bundle is inspected.
#[derive(Default)]
struct Inspected {
    faults: Vec<String>,
    entries: u64,
    has_genuine_end: bool,
}

impl Inspected {
    fn add(&mut self, part: Part, header: &Header) {
        let offset = part.offset;
        match (part.kind, part.body) {
            (_, Err(why)) => self.faults.push(format!("at byte {offset}: {why}")),
            (Kind::Frame, Ok(body)) => self.add_frame(offset, &body),
            (Kind::End, Ok(body)) => {
                self.has_genuine_end = bundle::end_is_genuine(&header.writer, &part.before, &body);
            }
            (Kind::Picture | Kind::Header, Ok(_)) => {}
        }
    }

    fn add_frame(&mut self, offset: u64, body: &[u8]) {
        match Frame::decode(body) {
            Ok(frame) => {
                self.entries += frame.entries();
                let unsigned = unsigned_runs(&frame).map(|why| format!("at byte {offset}: {why}"));
                self.faults.extend(unsigned);
            }
            Err(e) => self.faults.push(format!("at byte {offset}: {e}")),
        }
    }

    fn finish(mut self, header: &Header) -> Vec<String> {
        if !self.has_genuine_end {
            self.faults.push("its signed end is missing or does not fit".into());
        } else if self.entries != header.entries {
            self.faults.push(format!(
                "it holds {} entries, its header says {}",
                self.entries, header.entries
            ));
        }
        self.faults
    }
}

fn unsigned_runs(frame: &Frame) -> impl Iterator<Item = String> + '_ {
    frame
        .runs
        .iter()
        .filter(|run| !run.chained().is_vouched_for())
        .map(|run| {
            format!(
                "log {}: no valid signature vouches for entries {} to {}",
                run.log.device.short(),
                run.first,
                run.last()
            )
        })
}

/// The body of a part, or why it cannot be used.
type Body = Result<Vec<u8>, &'static str>;

/// One part of a bundle.
pub(crate) struct Part {
    pub(crate) kind: Kind,
    pub(crate) offset: u64,
    pub(crate) body: Body,
    /// BLAKE3 of everything before this part.
    pub(crate) before: blake3::Hash,
}

/// Reads the parts of a bundle file one after the other.
pub(crate) struct BundleReader {
    path: PathBuf,
    file: std::io::BufReader<File>,
    offset: u64,
    hasher: blake3::Hasher,
    ended: bool,
}

impl BundleReader {
    pub(crate) fn open(path: &Path) -> Result<Self, BundleFileError> {
        let wrong = |source| BundleFileError::Open {
            file: path.to_path_buf(),
            source,
        };
        let mut file = std::io::BufReader::new(File::open(path).map_err(wrong)?);
        let mut magic = Vec::new();
        (&mut file)
            .take(bundle::MAGIC.len() as u64)
            .read_to_end(&mut magic)
            .map_err(wrong)?;
        bundle::check_magic(&magic).map_err(|source| format_error(path, source))?;
        let mut hasher = blake3::Hasher::new();
        hasher.update(&magic);
        Ok(Self {
            path: path.to_path_buf(),
            file,
            offset: magic.len() as u64,
            hasher,
            ended: false,
        })
    }

    /// The first part, which must be the header.
    pub(crate) fn header(&mut self) -> Result<Header, BundleFileError> {
        let path = self.path.clone();
        let wrong = |source| format_error(&path, source);
        match self.next()? {
            Some(Part {
                kind: Kind::Header,
                body: Ok(body),
                ..
            }) => Header::decode(&body).map_err(wrong),
            _ => Err(wrong(BundleError::Header("it is damaged or missing".into()))),
        }
    }

    pub(crate) fn next(&mut self) -> Result<Option<Part>, BundleFileError> {
        if self.ended {
            return Ok(None);
        }
        let (offset, before) = (self.offset, self.hasher.finalize());
        let mut head = [0u8; PART_HEAD_BYTES];
        let read = self.fill(&mut head)?;
        if read == 0 {
            self.ended = true;
            return Ok(None);
        }
        let (kind, body) = if read < PART_HEAD_BYTES {
            self.ended = true;
            // What kind of part it would have been is not known: only its error is used.
            (Kind::Frame, Err("the bundle is cut off here"))
        } else {
            self.read_body(&head)?
        };
        Ok(Some(Part {
            kind,
            offset,
            body,
            before,
        }))
    }

    /// Reads the body that belongs to the head at the current offset.
    fn read_body(&mut self, head: &[u8; PART_HEAD_BYTES]) -> Result<(Kind, Body), BundleFileError> {
        let part = PartHead::parse(head, self.offset).map_err(|source| {
            self.ended = true;
            format_error(&self.path, source)
        })?;
        let mut body = Vec::new();
        let taken = (&mut self.file).take(u64::from(part.length)).read_to_end(&mut body);
        taken.map_err(|source| self.cannot_read(source))?;
        self.offset += (PART_HEAD_BYTES + body.len()) as u64;
        self.hasher.update(head).update(&body);
        if body.len() as u64 != u64::from(part.length) {
            self.ended = true;
            return Ok((part.kind, Err("the bundle is cut off here")));
        }
        let body = if part.fits(&body) {
            Ok(body)
        } else {
            Err("this part is damaged")
        };
        Ok((part.kind, body))
    }

    /// Reads until `buffer` is full or the file ends. Returns how many bytes were read.
    fn fill(&mut self, buffer: &mut [u8]) -> Result<usize, BundleFileError> {
        let mut read = Vec::new();
        let taken = (&mut self.file).take(buffer.len() as u64).read_to_end(&mut read);
        taken.map_err(|source| self.cannot_read(source))?;
        for (slot, byte) in buffer.iter_mut().zip(&read) {
            *slot = *byte;
        }
        Ok(read.len())
    }

    fn cannot_read(&self, source: std::io::Error) -> BundleFileError {
        BundleFileError::Io {
            file: self.path.clone(),
            source,
        }
    }
}

/// A file that is hashed while it is written, and durable when it is finished.
pub(crate) struct HashingWriter {
    path: PathBuf,
    file: std::io::BufWriter<File>,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl HashingWriter {
    pub(crate) fn create(path: &Path) -> Result<Self, NodeError> {
        let file = File::create(path).map_err(|e| io_error("cannot write", path, e))?;
        let file = std::io::BufWriter::new(file);
        Ok(Self {
            path: path.to_path_buf(),
            file,
            hasher: blake3::Hasher::new(),
            bytes: 0,
        })
    }

    pub(crate) fn put(&mut self, bytes: &[u8]) -> Result<(), NodeError> {
        self.hasher.update(bytes);
        self.bytes += bytes.len() as u64;
        self.file
            .write_all(bytes)
            .map_err(|e| io_error("cannot write", &self.path, e))
    }

    pub(crate) fn hash(&self) -> blake3::Hash {
        self.hasher.finalize()
    }

    pub(crate) fn finish(mut self) -> Result<u64, NodeError> {
        let flushed = self.file.flush().and_then(|()| self.file.get_ref().sync_all());
        flushed.map_err(|e| io_error("cannot write", &self.path, e))?;
        Ok(self.bytes)
    }
}

pub(crate) fn io_error(what: &str, path: &Path, source: std::io::Error) -> NodeError {
    NodeError::Io {
        what: format!("{what} {}", path.display()),
        source,
    }
}

fn format_error(file: &Path, source: BundleError) -> BundleFileError {
    BundleFileError::Format {
        file: file.to_path_buf(),
        source,
    }
}
