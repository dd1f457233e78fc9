//! Pictures over a session: what [`super::fetch`] decides, carried out.
//!
//! Files are read and written beside the node, on threads that may block: facts never wait for a picture's disk.

use gladhand_store::{PictureError, PictureHash, Pictures};
use tokio::time::Instant;

use crate::connection::{ConnectionError, Outbound};
use crate::fetch::{Claim, Current, PAUSE};
use crate::packet::{MAX_HASHES, Packet, RANGE_BYTES};
use crate::session::{Driver, End};

/// A range that has come in.
pub(crate) struct Ranged {
    pub(crate) hash: PictureHash,
    pub(crate) total: u64,
    pub(crate) at: u64,
    pub(crate) bytes: Vec<u8>,
}

impl Driver<'_> {
    /// Asks for the next thing when `quiet`. Returns whether neither side has anything left to ask for.
    pub(crate) async fn fetch_on(&mut self, quiet: bool) -> Result<bool, End> {
        if !self.meeting.pictures {
            return Ok(true);
        }
        self.fetch.expire(Instant::now());
        if quiet && self.fetch.is_free() && !self.begin_next().await && !self.seek().await? {
            self.rest();
        }
        if self.fetch.current.is_some() {
            self.connection.busy();
        }
        Ok(self.fetch.is_settled())
    }

    fn rest(&mut self) {
        let heard = self.fetch.heard;
        if self.fetch.rests() && self.fetch.rest_told.replace(heard) != Some(heard) {
            self.send(Packet::Rest { heard });
        }
    }

    /// Asks which of the missing pictures the peer has. `false`: nothing is missing that it was not asked for.
    async fn seek(&mut self) -> Result<bool, End> {
        if !self.fetch.look {
            return Ok(false);
        }
        let asked = std::mem::take(&mut self.fetch.asked);
        let ask = move |node: &mut gladhand_node::Node| (node.seek_pictures(&asked, MAX_HASHES), asked);
        let (sought, asked) = self.hub.node.call(ask).await?;
        let hashes = sought?;
        self.fetch.asked = asked;
        self.fetch.look = hashes.len() >= MAX_HASHES;
        if hashes.is_empty() {
            return Ok(false);
        }
        self.fetch.asked.extend(hashes.iter().copied());
        self.fetch.seeking = Some(Instant::now());
        self.send(Packet::Seek(hashes));
        Ok(true)
    }

    async fn begin_next(&mut self) -> bool {
        while let Some((hash, claim)) = self.fetch.claim_next(&self.hub.fetching) {
            let begun = self.on_disk(move |pictures| {
                let missing = !pictures.has(&hash);
                missing.then(|| pictures.begun(&hash)).transpose()
            });
            match begun.await {
                Ok(Some(at)) => {
                    self.want(hash, at, None, at == 0, claim);
                    return true;
                }
                Ok(None) => {}
                Err(error) => self.put_off(hash, &error),
            }
        }
        false
    }

    fn want(&mut self, hash: PictureHash, at: u64, total: Option<u64>, whole: bool, claim: Claim) {
        let since = Instant::now();
        self.fetch.current = Some(Current {
            hash,
            at,
            total,
            whole,
            since,
            claim,
        });
        self.send(Packet::Want { hash, at });
    }

    /// The disk does not take it now.
    fn put_off(&mut self, hash: PictureHash, error: &PictureError) {
        tracing::warn!(%error, "pictures wait, facts go on: {error}");
        self.fetch.todo.insert(hash);
        self.fetch.paused = Some(Instant::now() + PAUSE);
    }

    /// Deals with a word about pictures.
    pub(crate) async fn hear_of_pictures(&mut self, packet: Packet) -> Result<(), End> {
        match packet {
            Packet::Seek(hashes) => self.answer(hashes).await,
            Packet::Have { answer, hashes } => {
                if answer {
                    self.fetch.seeking = None;
                }
                self.fetch.learn(&hashes, self.meeting.peer, &self.hub.fetching);
                Ok(())
            }
            Packet::Want { hash, at } => self.serve(hash, at).await,
            Packet::Range { hash, total, at, bytes } => self.take_range(Ranged { hash, total, at, bytes }).await,
            Packet::Rest { heard } => {
                self.fetch.rest_heard = Some(heard);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    async fn answer(&mut self, sought: Vec<PictureHash>) -> Result<(), End> {
        let look = self.on_disk(move |pictures| {
            let (have, lack): (Vec<_>, Vec<_>) = sought.into_iter().partition(|hash| pictures.has(hash));
            Ok((have, lack))
        });
        let (hashes, lacking) = look.await.unwrap_or_default();
        lacking.into_iter().for_each(|hash| self.fetch.owe(hash));
        self.send(Packet::Have { answer: true, hashes });
        Ok(())
    }

    /// A picture has come in (`None`: nobody knows which): is the peer waiting for it?
    pub(crate) async fn pass_on(&mut self, arrived: Option<PictureHash>) {
        let hashes: Vec<PictureHash> = match arrived {
            Some(hash) => self.fetch.owed.take(&hash).into_iter().collect(),
            None => {
                let owed = self.fetch.owed.clone();
                let look = self.on_disk(move |pictures| Ok(owed.into_iter().filter(|h| pictures.has(h)).collect()));
                look.await.unwrap_or_default()
            }
        };
        for hashes in hashes.chunks(MAX_HASHES) {
            self.fetch.owed.retain(|hash| !hashes.contains(hash));
            let hashes = hashes.to_vec();
            self.send(Packet::Have { answer: false, hashes });
        }
    }

    async fn serve(&mut self, hash: PictureHash, at: u64) -> Result<(), End> {
        let place = std::sync::Arc::clone(&self.fetch.serving).try_acquire_owned();
        let Ok(place) = place else {
            return Err(End::Connection(ConnectionError::Unruly));
        };
        let read = self
            .on_disk(move |pictures| pictures.range(&hash, at, RANGE_BYTES))
            .await;
        let (total, bytes) = match read {
            Ok(Some(range)) if !range.bytes.is_empty() => (range.total, range.bytes),
            _ => (0, Vec::new()),
        };
        self.hub.counters.picture_bytes_out.add(bytes.len() as u64);
        self.tally.picture_bytes_out += bytes.len() as u64;
        let range = Packet::Range { hash, total, at, bytes };
        // A writer that has gone ends the session by itself.
        self.out.send(Outbound::Bulk(range, place)).ok();
        Ok(())
    }

    async fn take_range(&mut self, range: Ranged) -> Result<(), End> {
        let is_asked = |current: &mut Current| current.hash == range.hash && current.at == range.at;
        let Some(current) = self.fetch.current.take_if(is_asked) else {
            return self.unasked();
        };
        if range.total == 0 {
            // It had it when it was asked, and has it no more.
            return Ok(());
        }
        if range.total > self.hub.pictures.max_bytes() {
            self.hub.counters.pictures_too_large.up();
            let (hash, mib) = (range.hash, range.total.div_ceil(1 << 20));
            let name = self.hub.name_of(&self.meeting.peer);
            tracing::warn!(%hash, bytes = range.total, name, "a picture that {name} has is not fetched: {mib} MiB are over the limit");
            return Ok(());
        }
        let upto = range.at.saturating_add(range.bytes.len() as u64);
        let fits = !range.bytes.is_empty() && upto <= range.total;
        if !fits || current.total.is_some_and(|total| total != range.total) {
            return self.wrong(current).await;
        }
        self.keep(current, range, upto).await
    }

    fn unasked(&mut self) -> Result<(), End> {
        self.hub.counters.pictures_refused.up();
        match self.fetch.strike() {
            true => Ok(()),
            false => Err(End::Connection(ConnectionError::Unruly)),
        }
    }

    async fn keep(&mut self, current: Current, range: Ranged, upto: u64) -> Result<(), End> {
        let (hash, at, total) = (range.hash, range.at, range.total);
        let count = range.bytes.len() as u64;
        let kept = self.on_disk(move |pictures| {
            pictures.extend(&hash, at, &range.bytes)?;
            (upto == total).then(|| pictures.finish(&hash)).transpose()
        });
        let kept = kept.await;
        self.hub.counters.picture_bytes_in.add(count);
        self.tally.picture_bytes_in += count;
        match kept {
            Ok(None) => self.want(hash, upto, Some(total), current.whole, current.claim),
            Ok(Some(true)) => self.arrived(hash).await?,
            Ok(Some(false)) => return self.wrong(current).await,
            // Somebody has thrown the part away meanwhile: begin anew.
            Err(PictureError::Gap { .. }) => drop(self.fetch.todo.insert(hash)),
            Err(error) => self.put_off(hash, &error),
        }
        Ok(())
    }

    async fn arrived(&mut self, hash: PictureHash) -> Result<(), End> {
        self.hub.counters.pictures_in.up();
        self.tally.pictures_in += 1;
        self.fetch.asked.remove(&hash);
        Ok(self.hub.node.call(move |node| node.picture_arrived(&hash)).await?)
    }

    /// What came is not this picture. It is thrown away; the peer is to blame when all of it was its own.
    async fn wrong(&mut self, current: Current) -> Result<(), End> {
        let hash = current.hash;
        self.on_disk(move |pictures| pictures.abandon(&hash)).await.ok();
        if !current.whole {
            self.fetch.todo.insert(hash);
            return Ok(());
        }
        self.hub.fetching.was_wrong(self.meeting.peer, hash);
        self.hub.counters.pictures_refused.up();
        self.refuse(format!("{hash}: what was sent is not this picture; it was thrown away"));
        self.fetch.strike();
        Ok(())
    }

    async fn on_disk<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Pictures) -> Result<T, PictureError> + Send + 'static,
    ) -> Result<T, PictureError> {
        let pictures = self.hub.pictures.clone();
        let done = tokio::task::spawn_blocking(move || work(&pictures)).await;
        done.unwrap_or_else(|error| {
            Err(PictureError::Io {
                file: self.hub.pictures.folder().to_path_buf(),
                source: std::io::Error::other(error),
            })
        })
    }
}
