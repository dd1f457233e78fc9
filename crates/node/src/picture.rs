//! Pictures that facts name: kept by their BLAKE3, carried after the facts, in bundles and over the network.
//!
//! The index knows which pictures facts name; which of them are missing is looked up once, when somebody asks, and kept up to date
//! from then on. What is named and what is here may come in any order.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use gladhand_facts::{Fact, Kind};
use gladhand_store::{PictureHash, Pictures};
use tokio::sync::broadcast;

use crate::error::NodeError;
use crate::index_keys::PICTURE;
use crate::node::Node;

/// Where a fact says which bytes its picture has, when the line named a file.
const HASH_KEY: &str = "picture_blake3";
const SCHEME: &str = "blake3:";

/// The picture that a fact names by hash.
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

    /// The pictures that facts name and that are not here.
    ///
    /// # Errors
    /// When index or folder cannot be read.
    pub fn lacking_pictures(&mut self) -> Result<&BTreeSet<PictureHash>, NodeError> {
        let pictures = self.pictures();
        let mut lacking = match self.wanted.lacking.take() {
            Some(lacking) => lacking,
            None => self.named_pictures()?,
        };
        // Files may have been put in place by a command or by hand.
        lacking.retain(|hash| !pictures.has(hash));
        Ok(self.wanted.lacking.insert(lacking))
    }

    fn named_pictures(&self) -> Result<BTreeSet<PictureHash>, NodeError> {
        let mut named = BTreeSet::new();
        for row in self.index.values(&[PICTURE]) {
            let (key, _) = row?;
            named.extend(key.get(1..).and_then(|hash| hash.try_into().ok()).map(PictureHash));
        }
        Ok(named)
    }

    /// Pictures to ask a peer for that has not been `asked` for them yet, at most so many.
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

    /// Facts name these.
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

    /// A picture is here now. Whoever passes pictures on is told.
    pub fn picture_arrived(&mut self, hash: &PictureHash) {
        if let Some(lacking) = &mut self.wanted.lacking {
            lacking.remove(hash);
        }
        // Nobody may be listening.
        self.wanted.arrived.send(*hash).ok();
    }

    /// Tells which pictures come in from now on.
    pub fn picture_arrivals(&self) -> broadcast::Receiver<PictureHash> {
        self.wanted.arrived.subscribe()
    }

    /// Keeps the picture file that a proof names beside `folder`, and writes its hash into the fact. Returns a warning
    /// when there is no such file: the fact counts all the same.
    ///
    /// # Errors
    /// When the picture is there and cannot be kept.
    pub fn keep_picture(&self, fact: &mut Fact, folder: &Path) -> Result<Option<String>, NodeError> {
        keep_beside(&self.pictures(), fact, folder)
    }
}

/// The file beside the facts that a proof names as its picture. An error is what is wrong with the name.
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

/// As [`Node::keep_picture`], without the node: pictures are kept beside everything else.
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
    // A pipe or a device would be read for ever.
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
