//! A connection's bounds, over pipes and a clock that the test moves: no real time passes.

use super::*;
use gladhand_logbook::exchange::Message;
use tokio::io::DuplexStream;

struct Ends {
    peer: DuplexStream,
    inbound: mpsc::Receiver<Inbound>,
    reader: tokio::task::JoinHandle<ConnectionError>,
    connection: Arc<PeerConnection>,
    out: mpsc::UnboundedReceiver<Outbound>,
}

/// A reader at one end of a pipe; the test is the peer at the other.
fn reading(width: usize, large: &Arc<Semaphore>) -> Ends {
    let (ours, peer) = tokio::io::duplex(width);
    let (inbound_in, inbound) = mpsc::channel(8);
    let (out_in, out) = mpsc::unbounded_channel();
    let connection = Arc::new(PeerConnection::new());
    let (shared, large) = (Arc::clone(&connection), Arc::clone(large));
    let reader = tokio::spawn(async move { read_all(ours, &shared, &large, inbound_in, &out_in).await });
    Ends {
        peer,
        inbound,
        reader,
        connection,
        out,
    }
}

fn frame(bytes: usize) -> Vec<u8> {
    let message = Message::Frame {
        number: 1,
        bytes: vec![7; bytes],
    };
    Packet::Exchange(message).encode()
}

fn one_large() -> Arc<Semaphore> {
    Arc::new(Semaphore::new(1))
}

#[tokio::test(start_paused = true)]
async fn a_peer_that_stops_in_the_middle_is_dropped_in_time() {
    for sent in [1, 3, 5, 500] {
        let mut ends = reading(1_024, &one_large());
        let began = Instant::now();
        ends.peer.write_all(&frame(1_000)[..sent]).await.unwrap();
        assert!(matches!(ends.reader.await.unwrap(), ConnectionError::ReadStalled));
        assert!(
            began.elapsed() <= message_deadline(1_000) + Duration::from_millis(10),
            "after {sent} bytes"
        );
    }
}

#[tokio::test(start_paused = true)]
async fn a_peer_that_drips_does_not_hold_a_place_for_ever() {
    let mut ends = reading(1_024, &one_large());
    let began = Instant::now();
    let bytes = frame(10_000);
    let dripping = async {
        for byte in bytes.chunks(1) {
            tokio::time::sleep(Duration::from_secs(1)).await;
            if ends.peer.write_all(byte).await.is_err() {
                return;
            }
        }
    };
    let (ended, ()) = tokio::join!(ends.reader, dripping);
    assert!(matches!(ended.unwrap(), ConnectionError::ReadStalled));
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
}

#[tokio::test(start_paused = true)]
async fn a_giant_is_refused_by_its_length_alone() {
    let mut ends = reading(1_024, &one_large());
    ends.peer.write_all(&u32::MAX.to_le_bytes()).await.unwrap();
    assert!(matches!(ends.reader.await.unwrap(), ConnectionError::TooLong(u32::MAX)));
}

#[tokio::test(start_paused = true)]
async fn what_waits_to_be_dealt_with_is_bounded() {
    let mut ends = reading(1 << 16, &one_large());
    let pushed = Arc::new(AtomicU64::new(0));
    let counted = Arc::clone(&pushed);
    let pushing = tokio::spawn(async move {
        let bytes = frame(200_000);
        loop {
            if ends.peer.write_all(&bytes).await.is_err() {
                return;
            }
            counted.fetch_add(bytes.len() as u64, Ordering::Relaxed);
        }
    });
    // Nobody takes anything: what is read stays within the budget, and the pipe.
    tokio::time::sleep(Duration::from_secs(3_600)).await;
    let held = ends.connection.bytes_in.load(Ordering::Relaxed);
    assert!(held <= u64::from(BUDGET_BYTES) + 8, "{held}");
    // As soon as something is dealt with, more comes in.
    let first = ends.inbound.recv().await.unwrap();
    drop(first);
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert!(ends.connection.bytes_in.load(Ordering::Relaxed) > held);
    pushing.abort();
}

#[tokio::test(start_paused = true)]
async fn there_is_one_large_message_in_memory_at_a_time() {
    let large = one_large();
    let bytes = frame(3 << 20);
    let (mut a, mut b) = (reading(1 << 20, &large), reading(1 << 20, &large));
    let (to_a, to_b) = (bytes.clone(), bytes);
    let push_a = tokio::spawn(async move { a.peer.write_all(&to_a).await.map(|()| a.peer) });
    let held = a.inbound.recv().await.unwrap();
    let push_b = tokio::spawn(async move { b.peer.write_all(&to_b).await.map(|()| b.peer) });
    tokio::time::sleep(Duration::from_secs(5)).await;
    assert_eq!(
        b.connection.bytes_in.load(Ordering::Relaxed),
        4,
        "only its length was read"
    );
    drop(held);
    assert!(b.inbound.recv().await.is_some());
    drop((push_a.await.unwrap().unwrap(), push_b.await.unwrap().unwrap()));
}

#[tokio::test(start_paused = true)]
async fn silence_is_noticed_and_an_answer_is_not_silence() {
    let mut ends = reading(1_024, &one_large());
    let (out_in, mut asked) = mpsc::unbounded_channel();
    let connection = Arc::clone(&ends.connection);
    let watching = tokio::spawn(async move { connection.watch(&out_in).await });
    // For ten minutes the peer answers whatever it is asked.
    let began = Instant::now();
    while began.elapsed() < Duration::from_secs(600) {
        assert!(matches!(asked.recv().await, Some(Outbound::Probe)));
        let clock = Packet::Clock {
            probe_us: 1,
            received_us: 2,
            sent_us: 3,
        };
        ends.peer.write_all(&clock.encode()).await.unwrap();
        ends.inbound.recv().await.unwrap();
    }
    let silent_since = Instant::now();
    assert!(matches!(watching.await.unwrap(), ConnectionError::Silent));
    let took = silent_since.elapsed();
    assert!(
        took >= Duration::from_secs(8) && took < Duration::from_secs(45),
        "{took:?}"
    );
    assert!(ends.out.try_recv().is_err(), "an answer is not answered");
}

#[tokio::test(start_paused = true)]
async fn probes_and_hellos_are_answered_while_the_driver_is_busy() {
    let mut ends = reading(4_096, &one_large());
    let hello = Packet::Exchange(Message::Hello {
        protocol: 1,
        node: gladhand_facts::DeviceKey([1; 32]),
        digest: [2; 32],
        sent_us: 11,
    });
    ends.peer.write_all(&hello.encode()).await.unwrap();
    ends.peer
        .write_all(&Packet::Probe { sent_us: 12 }.encode())
        .await
        .unwrap();
    for expected in [11, 12] {
        match ends.out.recv().await {
            Some(Outbound::Clock { probe_us, .. }) => assert_eq!(probe_us, expected),
            other => panic!("{other:?}"),
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_peer_that_takes_nothing_is_given_up() {
    let (ours, _peer) = tokio::io::duplex(64);
    let (out, mut outbound) = mpsc::unbounded_channel();
    out.send(Outbound::Packet(Packet::decode(&frame(1_000)[4..]).unwrap()))
        .unwrap();
    let began = Instant::now();
    let written = write_all(ours, &PeerConnection::new(), &mut outbound).await;
    assert!(matches!(written, Err(ConnectionError::WriteStalled)));
    assert_eq!(began.elapsed().as_secs(), WRITE_STALL.as_secs());
}

/// Many probes of a peer that reads nothing: the queue holds two answers, and the peer goes on being read.
#[tokio::test(start_paused = true)]
async fn a_flood_of_probes_is_not_answered_one_by_one() {
    let mut ends = reading(1 << 16, &one_large());
    let probe = Packet::Probe { sent_us: 1 }.encode();
    let many: Vec<u8> = probe.iter().copied().cycle().take(probe.len() * 10_000).collect();
    let floods = (1 << 20) / many.len();
    for _ in 0..floods {
        ends.peer.write_all(&many).await.unwrap();
    }
    drop(ends.peer);
    assert!(matches!(ends.reader.await.unwrap(), ConnectionError::Closed));
    let flooded = ends.connection.bytes_in.load(Ordering::Relaxed);
    assert_eq!(flooded, (floods * many.len()) as u64, "all of it was read");
    assert_eq!(ends.out.len(), crate::outbox::ANSWERS_WAITING);
    // As soon as an answer is written the next probe is answered again.
    let answer = ends.out.recv().await.unwrap();
    assert!(!ends.connection.backlog.may_answer());
    ends.connection.backlog.written(&answer);
    assert!(ends.connection.backlog.may_answer());
}
