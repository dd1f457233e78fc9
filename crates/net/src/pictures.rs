//! Picture transfer of a session: carries out what [`super::fetch`] decides.
//!
//! Deliberately past the node: picture files are read and written on blocking threads without taking the node, so facts never
//! wait for a picture's disk. The node is only told when a picture has arrived.
//!
//! Invariant: a picture counts as here only after its bytes were checked against its hash ([`Pictures::finish`]).

use gladhand_store::{PictureError, PictureHash, Pictures};
use tokio::time::Instant;

use crate::connection::{ConnectionError, Outbound};
use crate::driver::Driver;
use crate::ending::End;
use crate::fetch::{Claim, Current, PAUSE};
use crate::packet::{MAX_HASHES, Packet, RANGE_BYTES};

/// A received range.
pub(crate) struct ReceivedRange {
    pub(crate) hash: PictureHash,
    pub(crate) total: u64,
    pub(crate) at: u64,
    pub(crate) bytes: Vec<u8>,
}

impl Driver<'_> {
    /// Sends the next request if the facts of the peer are here, and that there is none if the session is `quiet`. Returns whether
    /// both sides are idle.
    pub(crate) async fn fetch_on(&mut self, facts_are_here: bool, quiet: bool) -> Result<bool, End> {
        if !self.setup.abilities.pictures {
            return Ok(true);
        }
        self.fetch.expire(Instant::now());
        let requests = facts_are_here && self.fetch.is_free();
        if requests && !self.begin_next().await? && !self.seek().await? && quiet {
            self.send_rest();
        }
        if self.fetch.current.is_some() {
            self.connection.busy();
        }
        Ok(self.fetch.is_settled())
    }

    fn send_rest(&mut self) {
        let heard = self.fetch.received;
        if self.fetch.is_idle() && self.fetch.rest_sent.replace(heard) != Some(heard) {
            self.send(Packet::Rest { heard });
        }
    }

    /// Asks the peer which of the missing pictures it has. `false`: it was asked about all of them already.
    async fn seek(&mut self) -> Result<bool, End> {
        if !self.fetch.must_seek {
            return Ok(false);
        }
        let asked = std::mem::take(&mut self.fetch.asked);
        let ask = move |node: &mut gladhand_node::Node| (node.seek_pictures(&asked, MAX_HASHES), asked);
        let (sought, asked) = self.hub.node.call(ask).await?;
        let hashes = sought?;
        self.fetch.asked = asked;
        self.fetch.must_seek = hashes.len() >= MAX_HASHES;
        if hashes.is_empty() {
            return Ok(false);
        }
        self.fetch.asked.extend(hashes.iter().copied());
        self.fetch.seeking = Some(Instant::now());
        self.send(Packet::Seek(hashes));
        Ok(true)
    }

    /// Requests the first range of the next picture. `false`: there is none.
    async fn begin_next(&mut self) -> Result<bool, End> {
        while let Some((hash, claim)) = self.fetch.claim_next(&self.hub.picture_claims) {
            match self.on_disk(move |pictures| pictures.resume(&hash)).await {
                Ok(Some(at)) => {
                    self.want(hash, at, None, at == 0, claim);
                    return Ok(true);
                }
                // It has arrived some other way, or its part was whole already.
                Ok(None) => self.hub.node.call(move |node| node.picture_arrived(&hash)).await?,
                Err(error) => self.pause(hash, &error),
            }
        }
        Ok(false)
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

    /// Pauses fetching: the disk refused to store.
    fn pause(&mut self, hash: PictureHash, error: &PictureError) {
        tracing::warn!(%error, "pictures wait, facts go on: {error}");
        self.fetch.todo.insert(hash);
        self.fetch.paused_until = Some(Instant::now() + PAUSE);
    }

    /// Handles a packet about pictures.
    pub(crate) async fn handle_picture_packet(&mut self, packet: Packet) -> Result<(), End> {
        match packet {
            Packet::Seek(hashes) => self.answer_seek(hashes).await,
            Packet::Have { answer, hashes } => {
                if answer {
                    self.fetch.seeking = None;
                }
                self.fetch
                    .note_available(&hashes, self.setup.peer, &self.hub.picture_claims);
                Ok(())
            }
            Packet::Want { hash, at } => self.serve(hash, at).await,
            Packet::Range { hash, total, at, bytes } => self.take_range(ReceivedRange { hash, total, at, bytes }).await,
            Packet::Rest { heard } => {
                self.fetch.rest_received = Some(heard);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    async fn answer_seek(&mut self, sought: Vec<PictureHash>) -> Result<(), End> {
        let look = self.on_disk(move |pictures| {
            let (have, lack): (Vec<_>, Vec<_>) = sought.into_iter().partition(|hash| pictures.has(hash));
            Ok((have, lack))
        });
        // If the folder cannot be read this node has none of them to send.
        let (hashes, lacking) = look.await.unwrap_or_default();
        lacking.into_iter().for_each(|hash| self.fetch.note_awaited(hash));
        self.send(Packet::Have { answer: true, hashes });
        Ok(())
    }

    /// Tells the peer about a picture that has arrived, if it waits for it. `None`: several have arrived, and it is not known
    /// which, so all that the peer waits for are looked up.
    pub(crate) async fn announce(&mut self, arrived: Option<PictureHash>) {
        let hashes: Vec<PictureHash> = match arrived {
            Some(hash) => self.fetch.awaited.take(&hash).into_iter().collect(),
            None => {
                let awaited = self.fetch.awaited.clone();
                let look = self.on_disk(move |pictures| Ok(awaited.into_iter().filter(|h| pictures.has(h)).collect()));
                // If the folder cannot be read they stay noted, and the next arrival looks again.
                look.await.unwrap_or_default()
            }
        };
        for hashes in hashes.chunks(MAX_HASHES) {
            self.fetch.awaited.retain(|hash| !hashes.contains(hash));
            let hashes = hashes.to_vec();
            self.send(Packet::Have { answer: false, hashes });
        }
    }

    async fn serve(&mut self, hash: PictureHash, at: u64) -> Result<(), End> {
        let permit = std::sync::Arc::clone(&self.fetch.serving).try_acquire_owned();
        let Ok(permit) = permit else {
            return Err(End::Connection(ConnectionError::ProtocolViolation));
        };
        let read = self
            .on_disk(move |pictures| pictures.range(&hash, at, RANGE_BYTES))
            .await;
        let (total, bytes) = match read {
            // Without bytes: the picture ends before that offset, so what the peer has of it is not its beginning.
            Ok(Some(range)) => (range.total, range.bytes),
            // Gone or unreadable. A total of 0 tells the peer that the picture is not here.
            _ => (0, Vec::new()),
        };
        self.hub.counters.picture_bytes_out.add(bytes.len() as u64);
        self.tally.picture_bytes_out += bytes.len() as u64;
        let range = Packet::Range { hash, total, at, bytes };
        // Fails only when the writer has ended, and that ends the session.
        self.out.send(Outbound::Bulk(range, permit)).ok();
        Ok(())
    }

    async fn take_range(&mut self, range: ReceivedRange) -> Result<(), End> {
        let is_asked = |current: &mut Current| current.hash == range.hash && current.at == range.at;
        let Some(current) = self.fetch.current.take_if(is_asked) else {
            return self.count_unasked();
        };
        if range.total == 0 {
            // The peer had the picture when it was asked and no longer has it; or, from an older version, it ends before that
            // offset. Asked for it from the start the peer says which.
            return if range.at > 0 {
                self.discard(current).await
            } else {
                Ok(())
            };
        }
        if range.total > self.hub.pictures.max_bytes() {
            self.hub.counters.pictures_too_large.up();
            let (hash, mib) = (range.hash, range.total.div_ceil(1 << 20));
            let name = self.hub.name_of(&self.setup.peer);
            tracing::warn!(%hash, bytes = range.total, name, "a picture that {name} has is not fetched: {mib} MiB are over the limit");
            return Ok(());
        }
        let upto = range.at.saturating_add(range.bytes.len() as u64);
        let fits = !range.bytes.is_empty() && upto <= range.total;
        if !fits || current.total.is_some_and(|total| total != range.total) {
            return self.discard(current).await;
        }
        self.store(current, range, upto).await
    }

    fn count_unasked(&mut self) -> Result<(), End> {
        self.hub.counters.pictures_refused.up();
        match self.fetch.strike() {
            true => Ok(()),
            false => Err(End::Connection(ConnectionError::ProtocolViolation)),
        }
    }

    async fn store(&mut self, current: Current, range: ReceivedRange, upto: u64) -> Result<(), End> {
        let (hash, at, total) = (range.hash, range.at, range.total);
        let count = range.bytes.len() as u64;
        let stored = self.on_disk(move |pictures| {
            pictures.extend(&hash, at, &range.bytes)?;
            (upto == total).then(|| pictures.finish(&hash)).transpose()
        });
        let stored = stored.await;
        self.hub.counters.picture_bytes_in.add(count);
        self.tally.picture_bytes_in += count;
        match stored {
            Ok(None) => self.want(hash, upto, Some(total), current.whole, current.claim),
            Ok(Some(true)) => self.arrived(hash).await?,
            Ok(Some(false)) => return self.discard(current).await,
            // The part was removed meanwhile: fetch the picture from the start.
            Err(PictureError::Gap { .. }) => drop(self.fetch.todo.insert(hash)),
            Err(error) => self.pause(hash, &error),
        }
        Ok(())
    }

    async fn arrived(&mut self, hash: PictureHash) -> Result<(), End> {
        self.hub.counters.pictures_in.up();
        self.tally.pictures_in += 1;
        self.fetch.asked.remove(&hash);
        Ok(self.hub.node.call(move |node| node.picture_arrived(&hash)).await?)
    }

    /// Discards a picture whose bytes do not match its hash. The peer is to blame only if all of its bytes were the peer's.
    async fn discard(&mut self, current: Current) -> Result<(), End> {
        let hash = current.hash;
        let abandoned = self.on_disk(move |pictures| pictures.abandon(&hash)).await;
        if !current.whole {
            match abandoned {
                Ok(()) => drop(self.fetch.todo.insert(hash)),
                // The part stays, and the next request would begin at its end again.
                Err(error) => self.pause(hash, &error),
            }
            return Ok(());
        }
        self.hub.picture_claims.note_wrong(self.setup.peer, hash);
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
