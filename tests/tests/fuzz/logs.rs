//! What devices tell each other: entries, frames, the messages of an exchange.

use std::sync::OnceLock;

use gladhand_facts::{Fact, VersionVector};
use gladhand_logbook::exchange::{Effect, Message, Session};
use gladhand_logbook::frame::{EntryRun, Frame};
use gladhand_logbook::governance::Record;
use gladhand_logbook::jobdoc::JobDoc;
use gladhand_logbook::{Body, Entry};
use gladhand_net::packet::Packet;
use gladhand_tests::fuzz::{Kind, Target};

use crate::yard::{self, ILSE, MARA, Node, afternoon, deflated, raw, sign_again};

#[test]
fn entries() {
    let target = Target {
        name: "entries",
        kind: Kind::Bytes,
        inputs: 2_000,
        generator: &|| {
            let (depot, _) = afternoon();
            let frames = depot.frames_for(&VersionVector::new());
            let chained = frames
                .iter()
                .flat_map(|f| &f.runs)
                .flat_map(|run| run.chained().into_entries());
            let names = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j"];
            names.into_iter().zip(chained.map(|(_, _, bytes)| bytes)).collect()
        },
    };
    target.run(&mut |bytes| {
        let Ok(entry) = Entry::decode(bytes) else { return false };
        let header = Entry::header(bytes).expect("the header of what reads");
        assert_eq!(
            (header.seq, header.stamp, &header.seen),
            (entry.seq, entry.stamp, &entry.seen)
        );
        assert_eq!(Entry::decode(&entry.encode()).as_ref(), Ok(&entry));
        understood(&entry.body);
        true
    });
}

/// What it says is read by whoever shows it.
fn understood(body: &Body) {
    match body {
        Body::Loose(facts) => {
            for text in facts {
                let _ = Fact::from_stored(&yard::secret(MARA).public(), text);
            }
        }
        Body::Governance(json) => {
            if let Some(record) = Record::decode(json) {
                assert_eq!(Record::decode(&record.encode().unwrap()), Some(record));
            }
        }
        Body::Change { .. } | Body::Unknown { .. } => {}
    }
}

fn good_run() -> &'static EntryRun {
    static GOOD: OnceLock<EntryRun> = OnceLock::new();
    GOOD.get_or_init(yard::good_run)
}

#[test]
fn frames() {
    let target = Target {
        name: "frames",
        kind: Kind::Bytes,
        inputs: 150,
        generator: &|| {
            let (depot, mara) = afternoon();
            let nothing = VersionVector::new();
            let whole = |node: &Node| raw(&node.frames_for(&nothing)[0]);
            let mut early = VersionVector::new();
            early.advance(yard::log(MARA), 3);
            let part = raw(&depot.frames_for(&early)[0]);
            vec![("depot", whole(&depot)), ("mara", whole(&mara)), ("part", part)]
        },
    };
    target.run(&mut |bytes| {
        // As it is, for what reads the compressed bytes.
        let mut torn = deflated(bytes);
        if let Some(byte) = bytes.first() {
            let at = usize::from(*byte) % torn.len();
            torn[at] ^= bytes.last().copied().unwrap_or(1) | 1;
        }
        let _ = (Frame::decode(bytes), Frame::decode(&torn));
        let Ok(frame) = Frame::decode(&deflated(bytes)) else {
            return false;
        };
        assert_eq!(Frame::decode(&frame.encode().unwrap()).as_ref(), Ok(&frame));
        admitted(frame)
    });
}

/// Signed again, with a good run behind it: the good run is taken whatever else there is, and what was taken can be handed on.
fn admitted(mut frame: Frame) -> bool {
    frame.runs.retain(|run| run.log != yard::log(ILSE));
    sign_again(&mut frame);
    frame.runs.push(good_run().clone());
    let mut reader = Node::reader();
    let refused = reader.take_in(&frame);
    let held = reader.book.vector();
    assert_eq!(
        held.get(&yard::log(ILSE)),
        good_run().last(),
        "the good run: {refused:?}"
    );
    refused.iter().for_each(|e| assert!(!e.to_string().is_empty()));
    assert!(
        reader.take_in(&frame).len() <= refused.len() + frame.runs.len(),
        "the same once more"
    );
    let mut other = Node::reader();
    let mut again = Vec::new();
    for frame in reader.frames_for(&VersionVector::new()) {
        again.extend(other.take_in(&frame));
    }
    if refused.is_empty() && again.is_empty() {
        assert_eq!(other.book.digest(), reader.book.digest());
    }
    held.len() > 1
}

#[test]
fn exchanges() {
    let target = Target {
        name: "exchanges",
        kind: Kind::Bytes,
        inputs: 150,
        generator: &|| vec![("afternoon", conversation(true)), ("level", conversation(false))],
    };
    target.run(&mut |bytes| listen(bytes) > 1);
}

/// What Mara's laptop says to the depot while they come level: packets with their lengths, one after the other.
fn conversation(with_news: bool) -> Vec<u8> {
    let (mut depot, mut mara) = afternoon();
    if with_news {
        mara.note("news");
        depot.note("news of the depot");
    }
    let mut said = Vec::new();
    let (mut one, first) = Session::start(&mara.book, yard::secret(MARA).public(), yard::NOW_US);
    let (mut two, second) = Session::start(&depot.book, yard::secret(yard::DEPOT).public(), yard::NOW_US);
    let (mut to_two, mut to_one) = (
        carried_out(first, &mut one, &mut mara),
        carried_out(second, &mut two, &mut depot),
    );
    while !to_two.is_empty() || !to_one.is_empty() {
        for message in std::mem::take(&mut to_two) {
            said.extend(Packet::Exchange(message.clone()).encode());
            let effects = two.handle(&depot.book, message, &size).unwrap();
            to_one.extend(carried_out(effects, &mut two, &mut depot));
        }
        for message in std::mem::take(&mut to_one) {
            let effects = one.handle(&mara.book, message, &size).unwrap();
            to_two.extend(carried_out(effects, &mut one, &mut mara));
        }
    }
    assert!(one.is_in_sync() && two.is_in_sync());
    said.extend(Packet::Probe { sent_us: 5 }.encode());
    said
}

fn size(_: &gladhand_facts::LogId, from: u64, to: u64) -> u64 {
    (to - from + 1) * 100
}

/// Carries out what a session wants; returns what it wants to say.
fn carried_out(effects: Vec<Effect>, session: &mut Session, node: &mut Node) -> Vec<Message> {
    let mut todo: std::collections::VecDeque<Effect> = effects.into();
    let mut said = Vec::new();
    let mut count = 0;
    while let Some(effect) = todo.pop_front() {
        count += 1;
        assert!(count < 10_000, "one message has no end of effects");
        match effect {
            Effect::Send(message) => said.push(message),
            Effect::Gather(group) => {
                let bytes = Frame::gather(&group, node).unwrap().encode().unwrap();
                todo.extend(session.gathered(bytes));
            }
            Effect::Admit { number, frame } => {
                node.take_in(&frame);
                todo.extend(session.durable(number, &frame));
                todo.extend(session.offer(&node.book, &size).unwrap());
            }
            Effect::Learn(credentials) => {
                for credential in credentials {
                    node.book.roster_mut().learn_credential(credential);
                }
            }
            Effect::InSync => {}
        }
    }
    said
}

/// A node with news of its own listens to such packets, whatever they say. Returns how many messages it followed.
fn listen(bytes: &[u8]) -> usize {
    let mut node = Node::reader();
    for frame in afternoon_of_the_depot() {
        node.take_in(frame);
    }
    let (mut session, _) = Session::start(&node.book, yard::secret(9).public(), yard::NOW_US);
    let mut followed = 0;
    let mut rest = bytes;
    while let Some((length, behind)) = rest.split_first_chunk::<4>() {
        // A length that is wrong would hide everything behind it.
        let length = (u32::from_le_bytes(*length) as usize).min(behind.len());
        let (body, behind) = behind.split_at(length);
        rest = behind;
        let Ok(packet) = Packet::decode(body) else { continue };
        means_the_same(&packet);
        let _ = (
            packet.probe_time(),
            packet.contact(yard::NOW_US).map(|contact| format!("{contact:?}")),
        );
        let Packet::Exchange(mut message) = packet else {
            continue;
        };
        if let Message::Frame { bytes, .. } = &mut message
            && let Ok(mut frame) = Frame::decode(bytes)
        {
            sign_again(&mut frame);
            *bytes = frame.encode().unwrap();
        }
        match session.handle(&node.book, message, &size) {
            Err(e) => assert!(!e.to_string().is_empty()),
            Ok(effects) => {
                followed += 1;
                let said = carried_out(effects, &mut session, &mut node);
                said.into_iter().for_each(|m| means_the_same(&Packet::Exchange(m)));
            }
        }
        let _ = (session.is_in_sync(), session.theirs().entries());
    }
    followed
}

fn afternoon_of_the_depot() -> &'static [Frame] {
    static FRAMES: OnceLock<Vec<Frame>> = OnceLock::new();
    FRAMES.get_or_init(|| {
        let mut early = VersionVector::new();
        early.advance(yard::log(MARA), 2);
        let (depot, mara) = (afternoon().0, Node::device(MARA));
        let mut frames = mara.frames_for(&VersionVector::new());
        frames.extend(depot.frames_for(&early));
        frames
    })
}

/// Written and read again it says the same. The words of a farewell may be shortened, once.
fn means_the_same(packet: &Packet) {
    let bytes = packet.encode();
    let again = Packet::decode(&bytes[4..]).unwrap_or_else(|e| panic!("{e}: {packet:?}"));
    if !matches!(packet, Packet::Bye { .. }) {
        assert_eq!(&again, packet);
    }
    assert_eq!(again.encode(), Packet::decode(&again.encode()[4..]).unwrap().encode());
}

#[test]
fn changes() {
    let target = Target {
        name: "changes",
        kind: Kind::Bytes,
        inputs: 150,
        generator: &|| {
            let (first, second) = written();
            vec![("first", first), ("second", second)]
        },
    };
    let (first, _) = written();
    target.run(&mut |bytes| {
        let log = yard::log(MARA);
        let alone = gladhand_logbook::jobdoc::facts_in(&log, bytes);
        let good = (place(ILSE, 1), first.as_slice());
        let Ok(mut doc) = JobDoc::load("J1", [good, (place(MARA, 1), bytes)]) else {
            panic!("a document does not open because of one change")
        };
        let texts = doc.fact_texts();
        assert!(
            texts.iter().any(|t| t.contains("LF 5301")),
            "the good rest of {texts:?}"
        );
        let _ = (doc.field_values(), doc.heads());
        let saved = doc.save().expect("it can be exported");
        assert!(saved.len() < 8 << 20, "{} bytes of {}", saved.len(), bytes.len());
        alone.is_ok()
    });
}

fn place(n: u8, seq: u64) -> (gladhand_facts::LogId, u64) {
    (yard::log(n), seq)
}

/// Two changes of one document by two devices, as they stand in entries.
fn written() -> (Vec<u8>, Vec<u8>) {
    let fact = |n: u8, text: &str| Fact::from_line(&yard::secret(n).public(), text).unwrap();
    let opened = fact(ILSE, r#"{"kind":"job","job":"J1","trailer":"LF 5301","wall":"plate"}"#);
    let linked = fact(
        MARA,
        r#"{"kind":"link","job":"J1","camera":"LC-LT91Z9J","tracker":"LT500411541"}"#,
    );
    let loaded = fact(
        MARA,
        r#"{"kind":"job","job":"J1","load":"loaded","wall":"sheet-and-post"}"#,
    );
    let mut doc = JobDoc::new("J1").unwrap();
    let first = doc.write(yard::log(ILSE), 1, 1_772_485_200, &[opened]).unwrap();
    let second = doc.write(yard::log(MARA), 1, 1_772_485_260, &[linked, loaded]).unwrap();
    (first, second)
}
