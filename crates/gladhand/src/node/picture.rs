//! Pictures that facts name: kept by their BLAKE3, carried in bundles after the facts.

use std::path::Path;

use gladhand_facts::{Fact, Kind};
use gladhand_store::{PictureHash, Pictures};

use super::{Node, NodeError};

/// Where a fact says which bytes its picture has, when the line named a file.
const HASH_KEY: &str = "picture_blake3";
const SCHEME: &str = "blake3:";
/// As `Pictures` keeps them.
const MAX_BYTES: u64 = 32 << 20;

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
        Pictures::new(&self.home.layout().pictures())
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
        Ok(meta) if meta.len() > MAX_BYTES => {
            return Ok(without(&format!(
                "{} bytes are over the limit of {MAX_BYTES}",
                meta.len()
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
