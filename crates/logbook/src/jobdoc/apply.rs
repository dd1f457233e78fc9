//! Applying changes, and checking that the document can still be read.

use std::collections::BTreeSet;

use automerge::{AutoCommit, Change, ChangeHash};

use super::error::{DocError, guarded, refused};

/// Applies changes, and fails unless the document holds all of them and still reads back after it is saved. Then the document
/// is of no further use.
///
/// Automerge applies some changes that no honest writer encodes so, and then writes a document that it cannot read. Whether
/// a change is among those must not depend on what else it is loaded with: two devices would hold different documents.
pub(super) fn apply(doc: &mut AutoCommit, changes: Vec<Change>) -> Result<(), DocError> {
    if changes.is_empty() {
        return Ok(());
    }
    guarded(|| {
        let hashes: Vec<ChangeHash> = changes.iter().map(Change::hash).collect();
        doc.apply_changes(changes).map_err(refused)?;
        let held: BTreeSet<ChangeHash> = doc.get_changes(&[]).iter().map(Change::hash).collect();
        // What depends on something that is missing waits in a queue, and Automerge says nothing about it.
        if !hashes.iter().all(|hash| held.contains(hash)) {
            return Err(DocError::Refused("it is not in the document afterwards".into()));
        }
        let heads = doc.get_heads();
        check_readable(&doc.save(), &heads)
    })
}

/// Whether a saved document reads back to these heads. Reading checks the hash of every change in it.
pub(super) fn check_readable(saved: &[u8], heads: &[ChangeHash]) -> Result<(), DocError> {
    let again = AutoCommit::load(saved).map_err(refused)?.get_heads();
    if again == heads {
        Ok(())
    } else {
        Err(DocError::Refused("the saved document reads back to other heads".into()))
    }
}
