//! Pictures that facts name: stored by BLAKE3 hash, and which of them are missing.
//!
//! The index knows which pictures facts name. Which of them are missing is looked up on the first query and kept up to date from
//! then on. A picture may arrive before or after the facts that name it.
//!
//! Deliberately not here: the files ([`gladhand_store::Pictures`]), and fetching from peers (crate `net`).
//!
//! Invariant: a fact is never refused because of its picture.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use gladhand_facts::{Fact, Kind};
use gladhand_store::{PictureHash, Pictures};
use tokio::sync::broadcast;

use crate::error::NodeError;
use crate::index_keys::PICTURE;
use crate::node::Node;

/// The key of the picture's hash in a fact whose line named a file.
const HASH_KEY: &str = "picture_blake3";
const SCHEME: &str = "blake3:";

/// The picture that a fact names by hash. `None`: it names none, or the hash cannot be read and so matches no picture.
pub fn named(fact: &Fact) -> Option<PictureHash> {
    let by_hash = |key| fact.text(key).and_then(|t| t.strip_prefix(SCHEME).and_then(parse));
    by_hash(HASH_KEY).or_else(|| by_hash("picture"))
}

fn parse(hex: &str) -> Option<PictureHash> {
    hex.parse::<gladhand_facts::FactId>().ok().map(|id| PictureHash(id.0))
}

impl Node {
    /// The pictures of this home.
    pub fn pictures(&self) -> Pictures {
        let disk = Arc::clone(&self.environment.disk);
        let limit = self.config.picture_limit_mib << 20;
        Pictures::new_on(disk, &self.home.layout().pictures(), limit).with_floor(self.config.picture_floor_mib << 20)
    }

    /// The pictures that facts name and this home lacks.
    ///
    /// # Errors
    /// When index or folder cannot be read.
    pub fn lacking_pictures(&mut self) -> Result<&BTreeSet<PictureHash>, NodeError> {
        let pictures = self.pictures();
        let mut lacking = match self.wanted.lacking.take() {
            Some(lacking) => lacking,
            None => {
                let named = self.named_pictures()?;
                // A part may be whole since a process that ended before it could put it in its place. One that the disk
                // does not show now is looked at again before it is fetched.
                named.iter().for_each(|hash| drop(pictures.resume(hash)));
                named
            }
        };
        // Files may have been put in place by a command or by hand.
        lacking.retain(|hash| !pictures.has(hash));
        Ok(self.wanted.lacking.insert(lacking))
    }

    /// How many pictures facts name that this home lacks.
    ///
    /// # Errors
    /// As [`Node::lacking_pictures`].
    pub fn pictures_missing(&self) -> Result<u64, NodeError> {
        let pictures = self.pictures();
        let lacks = |named: &BTreeSet<PictureHash>| named.iter().filter(|hash| !pictures.has(hash)).count() as u64;
        match &self.wanted.lacking {
            Some(lacking) => Ok(lacks(lacking)),
            None => Ok(lacks(&self.named_pictures()?)),
        }
    }

    fn named_pictures(&self) -> Result<BTreeSet<PictureHash>, NodeError> {
        let mut named = BTreeSet::new();
        for row in self.index.values(&[PICTURE]) {
            let (key, _) = row?;
            let hash = key.get(1..).and_then(|hash| hash.try_into().ok());
            let hash = hash.ok_or_else(|| self.broken("the key of a picture does not read"))?;
            named.insert(PictureHash(hash));
        }
        Ok(named)
    }

    /// At most `at_most` missing pictures, without those that the peer was `asked` about.
    ///
    /// # Errors
    /// As [`Node::lacking_pictures`].
    pub fn seek_pictures(
        &mut self,
        asked: &BTreeSet<PictureHash>,
        at_most: usize,
    ) -> Result<Vec<PictureHash>, NodeError> {
        let pictures = self.pictures();
        if self.wanted.lacking.is_none() {
            self.lacking_pictures()?;
        }
        let lacking = self
            .wanted
            .lacking
            .iter()
            .flatten()
            .filter(|hash| !asked.contains(*hash));
        Ok(lacking
            .filter(|hash| !pictures.has(hash))
            .take(at_most)
            .copied()
            .collect())
    }

    /// Notes that new facts name these pictures.
    pub(crate) fn note_named(&mut self, named: Vec<PictureHash>) {
        let pictures = self.pictures();
        for hash in named {
            let Some(lacking) = &mut self.wanted.lacking else {
                return;
            };
            if pictures.has(&hash) {
                self.picture_arrived(&hash);
            } else {
                lacking.insert(hash);
            }
        }
    }

    /// Notes that a picture has arrived, and notifies the sessions.
    pub fn picture_arrived(&mut self, hash: &PictureHash) {
        if let Some(lacking) = &mut self.wanted.lacking {
            lacking.remove(hash);
        }
        // Fails only when no session is open.
        self.wanted.arrived.send(*hash).ok();
    }

    /// A receiver of the pictures that arrive from now on.
    pub fn picture_arrivals(&self) -> broadcast::Receiver<PictureHash> {
        self.wanted.arrived.subscribe()
    }

    /// Keeps the picture file in `folder` that a proof names, and writes its hash into the fact. Returns a warning when there is
    /// no such file: the fact is recorded without it.
    ///
    /// # Errors
    /// When the picture is there and cannot be kept.
    pub fn keep_picture(&self, fact: &mut Fact, folder: &Path) -> Result<Option<String>, NodeError> {
        keep_beside(&self.pictures(), fact, folder)
    }
}

/// The file beside the facts that a proof names as its picture.
///
/// # Errors
/// What is wrong with the name.
pub fn file_beside(fact: &Fact) -> Result<Option<String>, String> {
    let name = match fact.text("picture") {
        Some(name) if *fact.kind() == Kind::Proof && !name.starts_with(SCHEME) => name.into_owned(),
        _ => return Ok(None),
    };
    let mut parts = Path::new(&name).components();
    if !name.is_empty() && parts.all(|c| matches!(c, std::path::Component::Normal(_))) {
        return Ok(Some(name));
    }
    Err(format!(
        "picture '{name}': only a file beside the facts is taken; the fact was recorded without it"
    ))
}

/// As [`Node::keep_picture`], without taking the node, because the picture store is independent of it.
///
/// # Errors
/// As [`Node::keep_picture`].
pub fn keep_beside(pictures: &Pictures, fact: &mut Fact, folder: &Path) -> Result<Option<String>, NodeError> {
    let name = match file_beside(fact) {
        Ok(Some(name)) => name,
        Ok(None) => return Ok(None),
        Err(warning) => return Ok(Some(warning)),
    };
    let without =
        |why: &dyn std::fmt::Display| Some(format!("picture '{name}': {why}; the fact was recorded without it"));
    let file = folder.join(&name);
    // Reading a pipe or a device might never end.
    match std::fs::metadata(&file) {
        Ok(meta) if !meta.is_file() => return Ok(without(&"not a file")),
        Ok(meta) if meta.len() > pictures.max_bytes() => {
            return Ok(without(&format!(
                "{} bytes are over the limit of {}",
                meta.len(),
                pictures.max_bytes()
            )));
        }
        Ok(_) => {}
        Err(e) => return Ok(without(&e)),
    }
    match std::fs::read(&file) {
        Ok(bytes) => {
            let hash = pictures.put(&bytes)?;
            fact.fill(HASH_KEY, hash.to_string());
            Ok(None)
        }
        Err(e) => Ok(without(&e)),
    }
}
