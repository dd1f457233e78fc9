//! Pictures that a bundle carries.

use gladhand_store::PictureHash;

use crate::error::NodeError;
use crate::merge::BundleRead;
use crate::node::Node;

impl Node {
    /// Stores a picture from a bundle; `offset` is where in the file it stands.
    pub(crate) fn store_picture(&mut self, body: &[u8], offset: u64, done: &mut BundleRead) -> Result<(), NodeError> {
        let Some((name, bytes)) = body.split_first_chunk::<32>() else {
            done.damaged.push(format!("at byte {offset}: a picture without a name"));
            return Ok(());
        };
        let hash = PictureHash(*name);
        if PictureHash::of(bytes) != hash {
            done.damaged
                .push(format!("at byte {offset}: a picture that is not what its name says"));
        } else if !matches!(self.pictures().get(&hash), Ok(Some(_))) {
            // The picture is read, not only looked for, so that a damaged one is replaced by the peer's.
            self.pictures().put(bytes)?;
            self.picture_arrived(&hash);
            done.pictures += 1;
        }
        Ok(())
    }
}
