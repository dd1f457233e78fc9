//! The driver of a session: passes what is received to the node, and what the node returns to the peer.
//!
//! Deliberately not here: reader, writer and heartbeat, which run concurrently with it ([`super::session`]).
//!
//! Invariants: the node is never held while waiting for the peer; packets that were read before the connection failed are still
//! processed.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use gladhand_facts::DeviceKey;
use gladhand_logbook::exchange::{Message, Session};
use gladhand_store::PictureHash;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{OwnedSemaphorePermit, broadcast, mpsc, watch};
use tokio::time::Instant;

use crate::connection::{ConnectionError, Inbound, Outbound, PeerConnection};
use crate::ending::{End, Tally};
use crate::fetch::PictureFetch;
use crate::hub::Hub;
use crate::open_sessions::SessionSlot;
use crate::packet::Packet;
use crate::session::{MESSAGES_AT_ONCE, SessionSetup};
use crate::session_log;
use gladhand_node::environment;
use gladhand_node::handle::Closed;
use gladhand_node::peer::{PeerInput, PeerStep};

/// How often a session offers a clock reading to the node.
const CLOCK_INTERVAL: Duration = Duration::from_secs(600);
/// How long the side that was dialled waits with its first reading: of two readings of one contact one is enough.
const CLOCK_DELAY_WHEN_DIALLED: Duration = Duration::from_secs(20);
/// How many different refusals of one session are kept and logged.
const MAX_REFUSALS: usize = 20;

/// The state of one session.
pub(crate) struct Driver<'s> {
    pub(crate) hub: &'s Hub,
    pub(crate) setup: SessionSetup,
    pub(crate) connection: &'s PeerConnection,
    slot: &'s SessionSlot,
    pub(crate) out: &'s mpsc::UnboundedSender<Outbound>,
    pub(crate) tally: &'s mut Tally,
    /// The state of picture transfer.
    pub(crate) fetch: PictureFetch,
    /// When the next clock reading is offered to the node.
    clock_at: Instant,
    /// Whether a clock packet was received.
    clock_seen: bool,
    /// The keys on the roster when something was last refused.
    refused_under: Option<Arc<BTreeSet<DeviceKey>>>,
    /// The peer has said `bye`: the session ends when what came before it is processed.
    farewell: Option<End>,
}

/// Events of this node that a session reacts to.
struct Subscriptions {
    growth: watch::Receiver<u64>,
    arrivals: broadcast::Receiver<PictureHash>,
    released: watch::Receiver<u64>,
}

/// Memory permits are held until the node has processed the inputs.
type Inputs = (Vec<PeerInput>, Vec<OwnedSemaphorePermit>);

/// What a session reacts to.
enum SessionEvent {
    /// The peer sent a packet.
    Received(Inbound),
    /// The node committed something.
    Grown,
    /// The node was dropped, and perhaps opened again.
    NodeReopened,
    /// A picture has arrived; `None`: several have.
    PictureArrived(Option<PictureHash>),
    /// Something may be fetched now: a claim was given back, or a wait is over.
    CheckPictures,
}

impl<'s> Driver<'s> {
    pub(crate) fn new(
        hub: &'s Hub,
        setup: SessionSetup,
        (connection, slot): (&'s PeerConnection, &'s SessionSlot),
        out: &'s mpsc::UnboundedSender<Outbound>,
        tally: &'s mut Tally,
    ) -> Self {
        let clock_delay = setup.dialled.map_or(CLOCK_DELAY_WHEN_DIALLED, |_| Duration::ZERO);
        Self {
            hub,
            setup,
            connection,
            slot,
            out,
            tally,
            fetch: PictureFetch::default(),
            clock_at: Instant::now() + clock_delay,
            clock_seen: false,
            refused_under: None,
            farewell: None,
        }
    }

    /// Runs concurrently with the reader. Packets that the reader read before it ended are still processed.
    pub(crate) async fn drive(
        &mut self,
        mut inbound: mpsc::Receiver<Inbound>,
        reader: impl Future<Output = ConnectionError>,
    ) -> End {
        let mut reader = std::pin::pin!(reader);
        let mut work = std::pin::pin!(self.work(&mut inbound));
        tokio::select! {
            biased;
            end = &mut work => end.unwrap_or(End::Connection(ConnectionError::Closed)),
            ended = &mut reader => work.await.unwrap_or(End::Connection(ended)),
        }
    }

    /// `None`: the reader has ended.
    async fn work(&mut self, inbound: &mut mpsc::Receiver<Inbound>) -> Option<End> {
        match self.start().await {
            Ok((session, subscriptions)) => self.process(session, subscriptions, inbound).await,
            Err(closed) => Some(closed.into()),
        }
    }

    /// Begins the exchange and sends the first messages.
    async fn start(&mut self) -> Result<(Session, Subscriptions), Closed> {
        let begin = |node: &mut gladhand_node::Node| (node.growth(), node.picture_arrivals(), node.peer_start());
        let (growth, arrivals, (session, hello)) = self.hub.node.call(begin).await?;
        let released = self.hub.picture_claims.released();
        let subscriptions = Subscriptions {
            growth,
            arrivals,
            released,
        };
        if self.setup.peer == self.hub.own {
            self.send(Packet::Instance(self.hub.instance));
        }
        self.send_messages(hello);
        Ok((session, subscriptions))
    }

    /// Processes one event after the other. `None`: the reader has ended.
    async fn process(
        &mut self,
        mut session: Session,
        mut subscriptions: Subscriptions,
        inbound: &mut mpsc::Receiver<Inbound>,
    ) -> Option<End> {
        loop {
            // A peer that does not read what it asked for is not asked for more.
            self.connection.backlog.room().await;
            let event = self.next_event(&mut subscriptions, inbound).await?;
            let (inputs, permits) = match self.inputs_of(event, inbound).await {
                Ok(taken) => taken,
                Err(end) => return Some(end),
            };
            let farewell = self.farewell.take();
            if !inputs.is_empty() {
                session = match self.step(session, inputs).await {
                    Ok(session) => session,
                    Err(end) => return Some(end),
                };
            }
            drop(permits);
            match self.after_step(&session, &subscriptions).await {
                Ok(()) => {}
                Err(end) => return Some(end),
            }
            if farewell.is_some() {
                return farewell;
            }
        }
    }

    /// What the node has to process because of an event, and the memory permits to hold meanwhile.
    async fn inputs_of(&mut self, event: SessionEvent, inbound: &mut mpsc::Receiver<Inbound>) -> Result<Inputs, End> {
        match event {
            SessionEvent::Received(first) => return self.sort(first, inbound).await,
            // A node that was opened again has another book: the session's state does not belong to it.
            SessionEvent::NodeReopened => return Err(End::Again),
            SessionEvent::Grown if self.roster_has_changed() => return Err(End::Again),
            SessionEvent::Grown => {
                self.fetch.must_seek = true;
                return Ok((vec![PeerInput::Grown], Vec::new()));
            }
            SessionEvent::PictureArrived(hash) => self.announce(hash).await,
            SessionEvent::CheckPictures => {}
        }
        Ok((Vec::new(), Vec::new()))
    }

    /// Notes whether both sides are in sync, and goes on with the pictures. An error ends the session, also a good end.
    async fn after_step(&mut self, session: &Session, subscriptions: &Subscriptions) -> Result<(), End> {
        let in_sync = session.is_in_sync();
        // A closed channel means that the node was dropped: there is something to do first.
        let quiet = in_sync && !subscriptions.growth.has_changed().unwrap_or(true);
        if in_sync {
            if !std::mem::replace(&mut self.tally.level, true) {
                session_log::in_sync(self.hub, &self.setup, self.tally);
            }
            let (peer, held) = (self.setup.peer, session.theirs());
            self.hub
                .addresses(|book| book.note_in_sync(peer, held, environment::now_us()));
        }
        let settled = self.fetch_on(session.peer_is_done(), quiet).await? && quiet;
        self.slot.set_level(settled);
        self.slot.set_delivered(session.peer_is_done() && self.fetch.is_idle());
        if self.setup.once && settled && self.clock_seen {
            return Err(End::Level);
        }
        Ok(())
    }

    /// Waits for the next event. `None`: the reader has ended.
    async fn next_event(
        &self,
        subscriptions: &mut Subscriptions,
        inbound: &mut mpsc::Receiver<Inbound>,
    ) -> Option<SessionEvent> {
        let alarm = async {
            match self.fetch.wake_at() {
                Some(at) => tokio::time::sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        Some(tokio::select! {
            biased;
            item = inbound.recv() => SessionEvent::Received(item?),
            grown = subscriptions.growth.changed() => grown.map_or(SessionEvent::NodeReopened, |()| SessionEvent::Grown),
            arrived = subscriptions.arrivals.recv() => match arrived {
                Ok(hash) => SessionEvent::PictureArrived(Some(hash)),
                Err(RecvError::Lagged(_)) => SessionEvent::PictureArrived(None),
                Err(RecvError::Closed) => SessionEvent::NodeReopened,
            },
            _ = subscriptions.released.changed() => SessionEvent::CheckPictures,
            () = alarm => SessionEvent::CheckPictures,
        })
    }

    /// Processes the received packets of the connection itself, and collects the exchange messages for the node.
    async fn sort(&mut self, first: Inbound, inbound: &mut mpsc::Receiver<Inbound>) -> Result<Inputs, End> {
        if !self.tally.up {
            self.tally.up = true;
            self.hub.counters.sessions.up();
            let (peer, at) = (self.setup.peer, self.setup.dialled);
            self.hub
                .addresses(|book| book.note_session(peer, at, environment::now_us()));
        }
        let (mut inputs, mut permits) = (Vec::new(), Vec::new());
        let (mut next, mut taken) = (Some(first), 0);
        while let Some(item) = next {
            taken += 1;
            match item.packet {
                Packet::Exchange(message) => {
                    // Only an exchange message proves that the peer accepted our key (TLS 1.3).
                    self.slot.set_up();
                    inputs.push(PeerInput::Message(message));
                }
                Packet::Clock { .. } => self.compare_clocks(&item).await?,
                Packet::Wait { wait_ms } if self.setup.abilities.waits => self.tally.note_wait(wait_ms),
                Packet::Bye { why, words } => {
                    // What came before it is still processed.
                    self.farewell = Some(End::Bye { why, words });
                    break;
                }
                Packet::Instance(id) if id == self.hub.instance => return Err(End::Ourselves),
                Packet::Instance(_) | Packet::Probe { .. } => {}
                picture_packet if self.setup.abilities.pictures => self.handle_picture_packet(picture_packet).await?,
                _ => return Err(End::Connection(ConnectionError::ProtocolViolation)),
            }
            permits.extend(item.permits);
            next = (taken < MESSAGES_AT_ONCE).then(|| inbound.try_recv().ok()).flatten();
        }
        Ok((inputs, permits))
    }

    async fn compare_clocks(&mut self, item: &Inbound) -> Result<(), End> {
        self.clock_seen = true;
        let contact = item.packet.contact(item.received_us);
        let reading = contact.and_then(|c| c.reading(self.hub.own, self.setup.peer, item.steady_us?));
        let Some(reading) = reading.filter(|_| Instant::now() >= self.clock_at) else {
            return Ok(());
        };
        self.clock_at = Instant::now() + CLOCK_INTERVAL;
        if self.hub.node.call(move |node| node.note_clock(&reading)).await?? {
            self.hub.counters.clock_readings.up();
        }
        Ok(())
    }

    async fn step(&mut self, mut session: Session, inputs: Vec<PeerInput>) -> Result<Session, End> {
        self.fetch.received += inputs.iter().filter(|i| matches!(i, PeerInput::Message(_))).count() as u64;
        let ask = move |node: &mut gladhand_node::Node| (node.peer_step(&mut session, inputs), session);
        let (step, session) = self.hub.node.call(ask).await?;
        let step = step?;
        self.count(&step);
        if !session.is_in_sync() {
            self.connection.busy();
        }
        self.send_messages(step.send);
        match step.broken {
            Some(broken) => Err(End::Connection(ConnectionError::Wire(broken))),
            None => Ok(session),
        }
    }

    fn count(&mut self, step: &PeerStep) {
        let (tally, counters) = (&mut *self.tally, &self.hub.counters);
        tally.entries_in += step.entries;
        tally.known += step.known;
        tally.entries_out += step.offered;
        counters.entries_in.add(step.entries);
        counters.entries_known.add(step.known);
        counters.entries_out.add(step.offered);
        counters.refused.add(step.refused.len() as u64);
        tally.enrolled.extend(step.enrolled.iter().cloned());
        for name in &step.enrolled {
            tracing::info!(name, "{name} is enrolled");
        }
        self.fetch.must_seek |= step.entries > 0;
        for why in &step.refused {
            self.refuse(why.clone());
            self.refused_under = Some(self.hub.trust.keys());
        }
    }

    /// Keeps and logs a refusal, each different one once.
    pub(crate) fn refuse(&mut self, why: String) {
        let refused = &mut self.tally.refused;
        if refused.len() < MAX_REFUSALS && !refused.contains(&why) {
            let (peer, name) = (self.setup.peer.short(), self.hub.name_of(&self.setup.peer));
            tracing::warn!(peer, name, why, "something from {name} was refused: {why}");
            refused.push(why);
        }
    }

    /// Whether the roster has changed since something was refused, so that it may be admitted now.
    fn roster_has_changed(&self) -> bool {
        self.refused_under
            .as_ref()
            .is_some_and(|then| *then != self.hub.trust.keys())
    }

    fn send_messages(&mut self, messages: Vec<Message>) {
        self.fetch.sent += messages.len() as u64;
        messages
            .into_iter()
            .for_each(|message| self.send(Packet::Exchange(message)));
    }

    pub(crate) fn send(&self, packet: Packet) {
        self.connection.backlog.queued(&packet);
        // Fails only when the writer has ended, and that ends the session.
        self.out.send(Outbound::Packet(packet)).ok();
    }
}
