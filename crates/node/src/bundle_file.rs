//! A bundle as a file: written beside its place and hashed on the way, read part by part, looked through without a home.
//!
//! The bytes are those of [`gladhand_logbook::bundle`]; here is only the handling of files. What a part says is judged elsewhere.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use gladhand_logbook::bundle::{self, BundleError, Header, Kind, PART_HEAD_BYTES, PartHead};
use gladhand_logbook::frame::Frame;

use crate::error::{BundleFileError, NodeError};

/// Looks through a bundle without a home: is it whole, whose is it, what is in it?
///
/// # Errors
/// When it is no bundle at all.
pub fn inspect_bundle(file: &Path) -> Result<(Header, Vec<String>), BundleFileError> {
    let mut parts = Parts::open(file)?;
    let mut faults = Vec::new();
    let header = parts.header()?;
    let mut complete = false;
    let mut entries = 0;
    loop {
        match parts.next() {
            Ok(Some(Part {
                offset, body: Err(why), ..
            })) => faults.push(format!("at byte {offset}: {why}")),
            Ok(Some(Part {
                kind: Kind::Frame,
                offset,
                body: Ok(body),
                ..
            })) => match Frame::decode(&body) {
                Ok(frame) => {
                    entries += frame.entries();
                    faults.extend(unsigned_runs(&frame).map(|why| format!("at byte {offset}: {why}")));
                }
                Err(e) => faults.push(format!("at byte {offset}: {e}")),
            },
            Ok(Some(Part {
                kind: Kind::End,
                body: Ok(body),
                before,
                ..
            })) => {
                complete = bundle::end_is_genuine(&header.writer, &before, &body);
            }
            Ok(Some(_)) => {}
            Ok(None) => break,
            Err(e) => {
                faults.push(e.to_string());
                break;
            }
        }
    }
    if !complete {
        faults.push("its signed end is missing or does not fit".into());
    }
    if complete && entries != header.entries {
        faults.push(format!(
            "it holds {entries} entries, its header says {}",
            header.entries
        ));
    }
    Ok((header, faults))
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

/// One part of a bundle.
pub(crate) struct Part {
    pub(crate) kind: Kind,
    pub(crate) offset: u64,
    /// The body, or why it cannot be used.
    pub(crate) body: Result<Vec<u8>, &'static str>,
    /// BLAKE3 of everything before this part.
    pub(crate) before: blake3::Hash,
}

/// The parts of a bundle file, one after the other.
pub(crate) struct Parts {
    path: PathBuf,
    file: std::io::BufReader<File>,
    offset: u64,
    hasher: blake3::Hasher,
    ended: bool,
}

impl Parts {
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
        if read < PART_HEAD_BYTES {
            self.ended = true;
            return Ok(Some(Part {
                kind: Kind::Frame,
                offset,
                body: Err("the bundle is cut off here"),
                before,
            }));
        }
        let head_read = PartHead::parse(&head, offset);
        let part = head_read.map_err(|source| {
            self.ended = true;
            format_error(&self.path, source)
        })?;
        let mut body = Vec::new();
        let taken = (&mut self.file).take(u64::from(part.length)).read_to_end(&mut body);
        taken.map_err(|source| self.cannot_read(source))?;
        self.offset += (PART_HEAD_BYTES + body.len()) as u64;
        self.hasher.update(&head).update(&body);
        let body = if body.len() as u64 != u64::from(part.length) {
            self.ended = true;
            Err("the bundle is cut off here")
        } else if part.fits(&body) {
            Ok(body)
        } else {
            Err("this part is damaged")
        };
        Ok(Some(Part {
            kind: part.kind,
            offset,
            body,
            before,
        }))
    }

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

/// A file that is hashed as it is written, and durable when it is finished.
pub(crate) struct Hashed {
    path: PathBuf,
    file: std::io::BufWriter<File>,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl Hashed {
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
