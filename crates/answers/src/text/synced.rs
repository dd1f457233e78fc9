//! What came of merging over the network, as text.

use super::layout::counted;
use super::{Page, Piece, Text, line};
use crate::synced::{PeerSynced, SessionTally, Synced};

impl Text for Synced {
    fn text(&self, _: Page) -> Vec<Piece> {
        let mut out: Vec<Piece> = self.peers.iter().flat_map(peer).collect();
        let advice = if self.has_refused() {
            Some("  The good part is recorded; the refused originals are kept in the home's evidence.")
        } else if self.was_turned_away() {
            Some("  A device joins with an invite of the depot: `gladhand join INVITE`.")
        } else {
            None
        };
        out.extend(advice.map(|words| Piece::Warning(words.to_owned())));
        out
    }
}

fn peer(peer: &PeerSynced) -> Vec<Piece> {
    let name = &peer.name;
    let mut out = Vec::new();
    if let Some(tally) = &peer.session {
        out.push(line(format!("{name}: {}", in_words(tally))));
        let refused = tally.refused.iter();
        out.extend(refused.map(|why| Piece::Warning(format!("gladhand: {name}: refused: {why}"))));
    }
    if let Some(failure) = &peer.failure {
        // The address stands in most of these words already.
        let words = if failure.error.starts_with(name) {
            failure.error.clone()
        } else {
            format!("{name}: {}", failure.error)
        };
        out.push(Piece::Warning(format!("gladhand: {words}")));
    }
    out
}

fn in_words(tally: &SessionTally) -> String {
    let pictures = pictures_in_words(tally);
    if tally.new + tally.sent == 0 && pictures.is_empty() {
        return "level, nothing new".to_owned();
    }
    format!(
        "level, {} came in, {} went out{pictures}, {} bytes",
        counted(tally.new, "new entry", "new entries"),
        counted(tally.sent, "entry", "entries"),
        tally.bytes_in + tally.bytes_out
    )
}

fn pictures_in_words(tally: &SessionTally) -> String {
    let came = counted(tally.pictures, "picture", "pictures");
    let out_kib = tally.picture_bytes_out.div_ceil(1024);
    match (tally.pictures, tally.picture_bytes_out) {
        (0, 0) => String::new(),
        (_, 0) => format!(", {came} came in"),
        (0, _) => format!(", {out_kib} KiB of pictures went out"),
        _ => format!(", {came} came in, {out_kib} KiB of pictures went out"),
    }
}
