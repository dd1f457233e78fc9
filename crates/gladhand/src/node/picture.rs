//! Pictures that facts name: kept by their BLAKE3, carried in bundles after the facts.

use std::path::Path;

use gladhand_facts::{Fact, Kind};
use gladhand_store::{PictureHash, Pictures};

use super::{Node, NodeError};

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
        Pictures::new(&self.home.layout().pictures())
    }

    /// Keeps the picture file that a proof names beside `folder`, and writes its hash into the fact. Returns a warning
    /// when there is no such file: the fact counts all the same.
    ///
    /// # Errors
    /// When the picture is there and cannot be kept.
    pub fn keep_picture(&self, fact: &mut Fact, folder: &Path) -> Result<Option<String>, NodeError> {
        let name = match fact.text("picture") {
            Some(name) if *fact.kind() == Kind::Proof && !name.starts_with(SCHEME) => name.into_owned(),
            _ => return Ok(None),
        };
        let plain = Path::new(&name)
            .components()
            .all(|c| matches!(c, std::path::Component::Normal(_)));
        if !plain {
            return Ok(Some(format!(
                "picture '{name}': only a file beside the facts is taken; the fact was recorded without it"
            )));
        }
        match std::fs::read(folder.join(&name)) {
            Ok(bytes) => {
                let hash = self.pictures().put(&bytes)?;
                fact.fill(HASH_KEY, hash.to_string());
                Ok(None)
            }
            Err(e) => Ok(Some(format!("picture '{name}': {e}; the fact was recorded without it"))),
        }
    }
}
