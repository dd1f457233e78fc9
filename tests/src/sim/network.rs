//! The network of the world: lines between devices whose messages get lost, come twice, or in the wrong order, until the
//! line is cut.

use std::collections::{BTreeMap, VecDeque};

use gladhand_logbook::exchange::{Message, Session};
use gladhand_node::peer::PeerInput;
use gladhand_node::{Node, NodeError};

use super::World;

/// How bad it is, in percent of the messages.
#[derive(Debug, Clone, Copy, Default)]
pub struct Weather {
    /// Lost.
    pub lost: usize,
    /// Delivered twice.
    pub repeated: usize,
    /// Overtaken by the next.
    pub swapped: usize,
    /// The line is cut.
    pub cut: usize,
}

/// A session between two devices, seen from both ends.
pub struct Link {
    sessions: [Session; 2],
    pipes: [VecDeque<Vec<u8>>; 2],
}

type Key = (usize, usize);

impl World {
    /// Whether these two would talk to each other, after each has shown its credential.
    fn agree(&mut self, a: usize, b: usize) -> bool {
        if self.devices[a].key == self.devices[b].key {
            return false;
        }
        [(a, b), (b, a)].into_iter().all(|(host, guest)| {
            let (host_key, guest_key) = (self.devices[host].key, self.devices[guest].key);
            let Some(guest_node) = &self.devices[guest].node else {
                return false;
            };
            let credential = guest_node.book().roster().credential(&guest_key).cloned();
            debug_assert_ne!(host_key, guest_key);
            let Some(host_node) = self.devices[host].node.as_mut() else {
                return false;
            };
            if !host_node.trusted().keys.contains(&guest_key)
                && let Some(credential) = credential
            {
                // A full disk may keep a depot from enrolling; then the guest comes again another day.
                host_node.judge_credential(credential).ok();
            }
            host_node.trusted().keys.contains(&guest_key)
        })
    }

    /// Opens a line, if both want it.
    pub fn connect(&mut self, a: usize, b: usize) -> bool {
        let key = (a.min(b), a.max(b));
        if a == b || self.links.contains_key(&key) || !self.is_up(a) || !self.is_up(b) || !self.agree(a, b) {
            return false;
        }
        let ends = [key.0, key.1].map(|i| self.devices[i].node.as_ref().expect("open").peer_start());
        let [(sa, hello_a), (sb, hello_b)] = ends;
        let pipe = |hello: Vec<Message>| hello.iter().map(Message::encode).collect::<VecDeque<_>>();
        let link = Link {
            sessions: [sa, sb],
            pipes: [pipe(hello_b), pipe(hello_a)],
        };
        self.links.insert(key, link);
        self.tally.sessions += 1;
        true
    }

    fn is_up(&self, device: usize) -> bool {
        self.devices[device].node.is_some()
    }

    /// Cuts every line of a device.
    pub fn cut_off(&mut self, device: usize) {
        self.links.retain(|key, _| key.0 != device && key.1 != device);
    }

    /// Delivers the next message in one direction, in whatever weather there is.
    pub fn deliver(&mut self, key: Key, side: usize) {
        let Weather {
            lost,
            repeated,
            swapped,
            cut,
        } = self.weather;
        if self.rng.percent(cut) {
            self.links.remove(&key);
            self.tally.cuts += 1;
            return;
        }
        let Some(link) = self.links.get_mut(&key) else { return };
        let pipe = &mut link.pipes[side];
        if pipe.len() > 1 && self.rng.percent(swapped) {
            pipe.swap(0, 1);
        }
        let Some(bytes) = pipe.pop_front() else { return };
        if self.rng.percent(lost) {
            return;
        }
        if self.rng.percent(repeated) {
            pipe.push_front(bytes.clone());
        }
        self.tally.messages += 1;
        match Message::decode(&bytes) {
            Ok(message) => self.feed(key, side, PeerInput::Message(message)),
            Err(_) => drop(self.links.remove(&key)),
        }
    }

    /// Lets one end of a line take something, and puts on the line what it answers.
    fn feed(&mut self, key: Key, side: usize, input: PeerInput) {
        let at = [key.0, key.1][side];
        let troubled = self.devices[at].is_troubled();
        let name = self.devices[at].name.clone();
        let node = &mut self.devices[at].node;
        let (Some(link), Some(node)) = (self.links.get_mut(&key), node.as_mut()) else {
            self.links.remove(&key);
            return;
        };
        let before = node.book().vector().entries();
        let outcome = node.peer_step(&mut link.sessions[side], vec![input]);
        let grew = node.book().vector().entries() - before;
        match outcome {
            Ok(step) => {
                let keep = step.broken.is_none();
                link.pipes[1 - side].extend(step.send.iter().map(Message::encode));
                for refused in &step.refused {
                    self.tell(format!("    {name} does not let in: {refused}"));
                }
                self.judge_line(key);
                if !keep {
                    self.links.remove(&key);
                    self.tally.broken += 1;
                }
            }
            Err(error) => {
                assert!(troubled, "{name} failed on a healthy disk: {error}");
                let told = format!("    {name} could not take what came over the line: {error}");
                self.tell(told);
                self.links.remove(&key);
                self.tally.failed_calls += 1;
            }
        }
        self.devices[at].look();
        if grew > 0 {
            self.grown(at, Some(key));
        }
    }

    /// A good deal of memory would go into messages under way, if nothing bounded them.
    fn judge_line(&self, key: Key) {
        let Some(link) = self.links.get(&key) else { return };
        for pipe in &link.pipes {
            let frames = pipe.iter().filter(|bytes| bytes.first() == Some(&3)).count();
            let repeats = self.weather.repeated > 0;
            assert!(
                frames <= 8 || repeats,
                "{frames} frames are under way without an acknowledgement"
            );
        }
    }

    /// Tells the other lines of a device that it holds more.
    pub fn grown(&mut self, device: usize, but: Option<Key>) {
        let touches = |key: &Key| (key.0 == device || key.1 == device) && Some(*key) != but;
        let keys: Vec<Key> = self.links.keys().copied().filter(touches).collect();
        for key in keys {
            self.feed(key, usize::from(key.1 == device), PeerInput::Grown);
        }
    }

    /// Some messages, on whatever lines there are.
    pub fn let_flow(&mut self, messages: usize) {
        for _ in 0..messages {
            let waiting = waiting(&self.links);
            if waiting.is_empty() {
                return;
            }
            let (key, side) = *self.rng.pick(&waiting);
            self.deliver(key, side);
        }
    }

    /// Everything that is under way, until nothing is.
    pub fn run_dry(&mut self) {
        for _ in 0..100_000 {
            let Some((key, side)) = waiting(&self.links).first().copied() else {
                return;
            };
            self.deliver(key, side);
        }
        panic!("the lines never get quiet");
    }
}

fn waiting(links: &BTreeMap<Key, Link>) -> Vec<(Key, usize)> {
    let sides = links
        .iter()
        .flat_map(|(key, link)| (0..2).map(move |side| (*key, side, link)));
    let full = sides.filter(|(_, side, link)| !link.pipes[*side].is_empty());
    full.map(|(key, side, _)| (key, side)).collect()
}

/// A whole session between two nodes on a good line. What was refused on either side, in words.
///
/// # Errors
/// When a disk refuses.
pub fn exchange(one: &mut Node, other: &mut Node) -> Result<Vec<String>, NodeError> {
    let [(a, hello_a), (b, hello_b)] = [one.peer_start(), other.peer_start()];
    let mut sessions = [a, b];
    let mut pipes: [VecDeque<Message>; 2] = [hello_b.into(), hello_a.into()];
    let mut refused = Vec::new();
    while let Some(side) = (0..2).find(|side| !pipes[*side].is_empty()) {
        let input = pipes[side].pop_front().map(PeerInput::Message);
        let node = if side == 0 { &mut *one } else { &mut *other };
        let step = node.peer_step(&mut sessions[side], input.into_iter().collect())?;
        assert!(step.broken.is_none(), "{step:?}");
        refused.extend(step.refused);
        pipes[1 - side].extend(step.send);
    }
    Ok(refused)
}
