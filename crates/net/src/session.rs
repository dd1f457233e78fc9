//! One session with one peer over one connection: the exchange's state machine, driven.
//!
//! Reader, writer and heartbeat run beside the driver (see [`super::connection`]). The driver feeds what comes in to the node,
//! a few messages at a time so that they share an index update, and sends what the node returns. It stays open and passes new
//! entries on as the node commits them, wherever they came from.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use gladhand_facts::DeviceKey;
use gladhand_logbook::exchange::{Message, Session};
use gladhand_store::PictureHash;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{OwnedSemaphorePermit, broadcast, mpsc, watch};
use tokio::time::Instant;

use crate::connection::{self, ConnectionError, Inbound, Outbound, PeerConnection};
use crate::ending::farewell;
pub use crate::ending::{End, Tally};
use crate::fetch::Fetch;
use crate::hub::Hub;
use crate::live::{Ending, Ticket};
use crate::packet::Packet;
use crate::telling;
use gladhand_node::environment;
use gladhand_node::handle::Closed;
use gladhand_node::peer::{PeerInput, PeerStep};

/// How many messages the node takes in one step.
const AT_ONCE: usize = 8;
/// How often a session offers a clock reading to the node,
const CLOCK_PACE: Duration = Duration::from_secs(600);
/// and how long the side that was dialled leaves it to the other.
const CLOCK_PAUSE: Duration = Duration::from_secs(20);
/// How many different refusals of one session are told.
const MAX_REFUSALS_TOLD: usize = 20;
/// How long a side may take to send its last words.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// How a session came to be.
#[derive(Debug, Clone, Copy)]
pub struct Meeting {
    /// The peer, as TLS has proved it.
    pub peer: DeviceKey,
    /// Where it was dialled; `None`: it dialled us.
    pub dialled: Option<SocketAddr>,
    /// End when both sides hold the same, instead of staying open.
    pub once: bool,
    /// Whether the peer speaks of pictures; versions before did not.
    pub pictures: bool,
}

/// Runs a session over `stream` to its end.
pub async fn run<S: AsyncRead + AsyncWrite + Unpin>(stream: S, hub: &Hub, meeting: Meeting) -> (Tally, End) {
    let connection = Arc::new(PeerConnection::new());
    let mut tally = Tally::default();
    let entered = hub.live.enter(meeting.peer, meeting.dialled.is_some(), &connection);
    let (from, to) = tokio::io::split(stream);
    let (out, mut outbound) = mpsc::unbounded_channel();
    let (inbound_in, inbound) = mpsc::channel(AT_ONCE);
    let ticket = match entered {
        Ok(ticket) => ticket,
        Err(not_now) => {
            out.send(Outbound::Packet(farewell(&End::NotNow(not_now)))).ok();
            drop(out);
            let last = connection::write_all(to, &connection, &mut outbound);
            tokio::time::timeout(LAST_WORDS, last).await.ok();
            let end = not_now.into();
            telling::left(hub, &meeting, &tally, &end);
            return (tally, end);
        }
    };
    let mut ended = ticket.end.clone();
    let reader = connection::read_all(from, &connection, &hub.large, inbound_in, &out);
    let end = {
        let writer = connection::write_all(to, &connection, &mut outbound);
        let mut driver = Driver {
            hub,
            meeting,
            connection: &connection,
            ticket: &ticket,
            out: &out,
            tally: &mut tally,
            // Of two readings at one contact one is enough: the side that dialled takes it.
            clock_at: Instant::now()
                + if meeting.dialled.is_some() {
                    Duration::ZERO
                } else {
                    CLOCK_PAUSE
                },
            clock_seen: false,
            refused_under: None,
            fetch: Fetch::default(),
        };
        let mut writer = std::pin::pin!(writer);
        let end = tokio::select! {
            biased;
            ending = ended.wait_for(Option::is_some) => End::Ended(ending.ok().and_then(|e| *e).unwrap_or(Ending::Shutdown)),
            end = driver.drive(inbound, reader) => end,
            silent = connection.watch(&out) => End::Connection(silent),
            written = &mut writer => End::Connection(written.err().unwrap_or(ConnectionError::Closed)),
        };
        if !matches!(end, End::Connection(_)) {
            out.send(Outbound::Packet(farewell(&end))).ok();
        }
        drop(out);
        if !matches!(end, End::Connection(_)) {
            tokio::time::timeout(LAST_WORDS, writer).await.ok();
        }
        end
    };
    finish(hub, &meeting, &connection, &mut tally);
    telling::left(hub, &meeting, &tally, &end);
    (tally, end)
}

fn finish(hub: &Hub, meeting: &Meeting, connection: &PeerConnection, tally: &mut Tally) {
    use std::sync::atomic::Ordering::Relaxed;
    (tally.bytes_in, tally.bytes_out) = (connection.bytes_in.load(Relaxed), connection.bytes_out.load(Relaxed));
    hub.counters.bytes_in.add(tally.bytes_in);
    hub.counters.bytes_out.add(tally.bytes_out);
    if tally.up {
        hub.addresses(|book| book.met(meeting.peer, meeting.dialled, environment::now_us()));
    }
}

pub(crate) struct Driver<'s> {
    pub(crate) hub: &'s Hub,
    pub(crate) meeting: Meeting,
    pub(crate) connection: &'s PeerConnection,
    ticket: &'s Ticket,
    pub(crate) out: &'s mpsc::UnboundedSender<Outbound>,
    pub(crate) tally: &'s mut Tally,
    /// The pictures.
    pub(crate) fetch: Fetch,
    /// When the next clock reading is of interest.
    clock_at: Instant,
    /// Whether the clocks have been compared.
    clock_seen: bool,
    /// The keys on the roster when something was refused.
    refused_under: Option<Arc<BTreeSet<DeviceKey>>>,
}

/// What a session listens to, apart from its peer.
struct Ears {
    growth: watch::Receiver<u64>,
    arrivals: broadcast::Receiver<PictureHash>,
    released: watch::Receiver<u64>,
}

/// What there is to deal with.
enum Turn {
    In(Inbound),
    Grown,
    Anew,
    /// A picture has come in; `None`: several have.
    Arrived(Option<PictureHash>),
    /// Look again at what is to fetch.
    Look,
}

impl Driver<'_> {
    /// Runs beside the reader; what the reader has read before it ended is still dealt with.
    async fn drive(
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
            Ok((session, ears)) => self.go_on(session, ears, inbound).await,
            Err(closed) => Some(closed.into()),
        }
    }

    async fn start(&mut self) -> Result<(Session, Ears), Closed> {
        let begin = |node: &mut gladhand_node::Node| (node.growth(), node.picture_arrivals(), node.peer_start());
        let (growth, arrivals, (session, hello)) = self.hub.node.call(begin).await?;
        let released = self.hub.fetching.released();
        let ears = Ears {
            growth,
            arrivals,
            released,
        };
        if self.meeting.peer == self.hub.own {
            self.send(Packet::Instance(self.hub.instance));
        }
        self.say(hello);
        Ok((session, ears))
    }

    async fn go_on(
        &mut self,
        mut session: Session,
        mut ears: Ears,
        inbound: &mut mpsc::Receiver<Inbound>,
    ) -> Option<End> {
        loop {
            let taken = match self.turn(&mut ears, inbound).await? {
                Turn::In(first) => self.sort(first, inbound).await,
                // The node was opened anew: so is the session.
                Turn::Anew => return Some(End::Again),
                Turn::Grown if self.roster_has_changed() => return Some(End::Again),
                Turn::Grown => {
                    self.fetch.look = true;
                    Ok((vec![PeerInput::Grown], Vec::new()))
                }
                Turn::Arrived(hash) => {
                    self.pass_on(hash).await;
                    Ok((Vec::new(), Vec::new()))
                }
                Turn::Look => Ok((Vec::new(), Vec::new())),
            };
            let (inputs, places) = match taken {
                Ok(taken) => taken,
                Err(end) => return Some(end),
            };
            if !inputs.is_empty() {
                session = match self.step(session, inputs).await {
                    Ok(session) => session,
                    Err(end) => return Some(end),
                };
            }
            drop(places);
            let quiet = session.is_in_sync() && !ears.growth.has_changed().unwrap_or(true);
            if session.is_in_sync() {
                if !std::mem::replace(&mut self.tally.level, true) {
                    telling::came(self.hub, &self.meeting, self.tally);
                }
                let (peer, held) = (self.meeting.peer, session.theirs());
                self.hub.addresses(|book| book.level(peer, held, environment::now_us()));
            }
            let settled = match self.fetch_on(quiet).await {
                Ok(settled) => settled && quiet,
                Err(end) => return Some(end),
            };
            self.ticket.set_level(settled);
            if self.meeting.once && settled && self.clock_seen {
                return Some(End::Level);
            }
        }
    }

    /// Waits for the next thing to deal with. `None`: the reader has ended.
    async fn turn(&self, ears: &mut Ears, inbound: &mut mpsc::Receiver<Inbound>) -> Option<Turn> {
        let alarm = async {
            match self.fetch.wake_at() {
                Some(at) => tokio::time::sleep_until(at).await,
                None => std::future::pending().await,
            }
        };
        Some(tokio::select! {
            biased;
            item = inbound.recv() => Turn::In(item?),
            grown = ears.growth.changed() => grown.map_or(Turn::Anew, |()| Turn::Grown),
            arrived = ears.arrivals.recv() => match arrived {
                Ok(hash) => Turn::Arrived(Some(hash)),
                Err(RecvError::Lagged(_)) => Turn::Arrived(None),
                Err(RecvError::Closed) => Turn::Anew,
            },
            _ = ears.released.changed() => Turn::Look,
            () = alarm => Turn::Look,
        })
    }

    /// Sorts what has come in: the carrier's words are dealt with here, the exchange's are for the node.
    async fn sort(
        &mut self,
        first: Inbound,
        inbound: &mut mpsc::Receiver<Inbound>,
    ) -> Result<(Vec<PeerInput>, Vec<OwnedSemaphorePermit>), End> {
        if !self.tally.up {
            self.tally.up = true;
            self.hub.counters.sessions.up();
            let (peer, at) = (self.meeting.peer, self.meeting.dialled);
            self.hub.addresses(|book| book.met(peer, at, environment::now_us()));
        }
        let (mut inputs, mut places) = (Vec::new(), Vec::new());
        let mut next = Some(first);
        while let Some(item) = next {
            match item.packet {
                Packet::Exchange(message) => {
                    // Only now is it certain that the peer wants us.
                    self.ticket.confirm();
                    inputs.push(PeerInput::Message(message));
                }
                Packet::Clock { .. } => self.compare_clocks(&item).await?,
                Packet::Bye { why, words } => return Err(End::Bye { why, words }),
                Packet::Instance(id) if id == self.hub.instance => return Err(End::Ourselves),
                Packet::Instance(_) | Packet::Probe { .. } => {}
                about_pictures if self.meeting.pictures => self.hear_of_pictures(about_pictures).await?,
                _ => return Err(End::Connection(ConnectionError::Unruly)),
            }
            places.extend(item.place);
            next = (inputs.len() < AT_ONCE).then(|| inbound.try_recv().ok()).flatten();
        }
        Ok((inputs, places))
    }

    async fn compare_clocks(&mut self, item: &Inbound) -> Result<(), End> {
        self.clock_seen = true;
        let contact = item.packet.contact(item.received_us);
        let reading = contact.and_then(|c| c.reading(self.hub.own, self.meeting.peer, item.steady_us?));
        let Some(reading) = reading.filter(|_| Instant::now() >= self.clock_at) else {
            return Ok(());
        };
        self.clock_at = Instant::now() + CLOCK_PACE;
        if self.hub.node.call(move |node| node.note_clock(&reading)).await?? {
            self.hub.counters.clock_readings.up();
        }
        Ok(())
    }

    async fn step(&mut self, mut session: Session, inputs: Vec<PeerInput>) -> Result<Session, End> {
        self.fetch.heard += inputs.iter().filter(|i| matches!(i, PeerInput::Message(_))).count() as u64;
        let ask = move |node: &mut gladhand_node::Node| (node.peer_step(&mut session, inputs), session);
        let (step, session) = self.hub.node.call(ask).await?;
        let step = step?;
        self.count(&step);
        if !session.is_in_sync() {
            self.connection.busy();
        }
        self.say(step.send);
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
        self.fetch.look |= step.entries > 0;
        for why in &step.refused {
            self.refuse(why.clone());
            self.refused_under = Some(self.hub.trust.keys());
        }
    }

    /// Notes what was refused, and tells it once.
    pub(crate) fn refuse(&mut self, why: String) {
        let told = &mut self.tally.refused;
        if told.len() < MAX_REFUSALS_TOLD && !told.contains(&why) {
            let (peer, name) = (self.meeting.peer.short(), self.hub.name_of(&self.meeting.peer));
            tracing::warn!(peer, name, why, "something from {name} was refused: {why}");
            told.push(why);
        }
    }

    /// Whether something was refused that the roster may allow now.
    fn roster_has_changed(&self) -> bool {
        self.refused_under
            .as_ref()
            .is_some_and(|then| *then != self.hub.trust.keys())
    }

    fn say(&mut self, messages: Vec<Message>) {
        self.fetch.said += messages.len() as u64;
        messages
            .into_iter()
            .for_each(|message| self.send(Packet::Exchange(message)));
    }

    pub(crate) fn send(&self, packet: Packet) {
        // A writer that has gone ends the session by itself.
        self.out.send(Outbound::Packet(packet)).ok();
    }
}
