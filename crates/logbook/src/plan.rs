//! What a peer lacks, cut into groups that can be taken in one after the other.
//!
//! A group is what one frame carries: once the receiver holds all groups before it, the group is closed (nothing in it
//! has seen anything outside) and vouched for (each log's part ends in a checkpoint). So a receiver may stop after any group,
//! and what it holds is always a true past.
//!
//! Units are the stretches of a log between checkpoints. Units that have seen each other in a circle (two
//! laptops that kept meeting, of which we hold only every 256th signature) are strongly connected and must travel together;
//! Tarjan's algorithm finds them, and hands them out in an order in which everything comes after what it has seen.

use std::collections::BTreeMap;

use gladhand_facts::{LogId, VersionVector};

use crate::book::Book;
use crate::checkpoint::EVERY;
use crate::roster::Refusal;

/// How many entries a group should have at most; a single unit or circle may have more.
pub const GROUP_ENTRIES: u64 = 256;
/// How many bytes of entries a group should have at most.
pub const GROUP_BYTES: u64 = 1 << 20;

/// Consecutive entries of one log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// The log.
    pub log: LogId,
    /// First entry.
    pub from: u64,
    /// Last entry; it has a checkpoint.
    pub to: u64,
    /// The checkpoints to send along: the last one and every 256th.
    pub checkpoints: Vec<u64>,
}

impl Stretch {
    fn entries(&self) -> u64 {
        self.to - self.from + 1
    }
}

/// What one frame carries: at most one stretch per log.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Group {
    /// The stretches.
    pub stretches: Vec<Stretch>,
}

impl Group {
    /// How many entries it has.
    pub fn entries(&self) -> u64 {
        self.stretches.iter().map(Stretch::entries).sum()
    }

    /// What the receiver holds after it, given what it held before.
    pub fn advance(&self, vector: &mut VersionVector) {
        self.stretches.iter().for_each(|s| vector.advance(s.log, s.to));
    }
}

/// Plans what a receiver at `theirs` lacks of what `book` holds. `size` tells the bytes of a stretch (log, from, to); only
/// entries for which `wanted` answers yes for their device are sent.
pub fn plan(
    book: &Book,
    theirs: &VersionVector,
    size: &dyn Fn(&LogId, u64, u64) -> u64,
    wanted: &dyn Fn(&LogId) -> bool,
) -> Vec<Group> {
    let units = Units::between(book, theirs, wanted);
    let order = units.components(book);
    let mut groups = Vec::new();
    let mut open = Building::default();
    for component in order {
        let (entries, bytes) = units.measure(&component, size);
        if !open.is_empty() && (open.entries + entries > GROUP_ENTRIES || open.bytes + bytes > GROUP_BYTES) {
            groups.push(open.close());
        }
        open.add(&units, &component, entries, bytes);
    }
    if !open.is_empty() {
        groups.push(open.close());
    }
    groups
}

/// How far a log is sent. Of a retired device's log what does not count is kept back, but only from whoever knows of the
/// retirement: the others need it to take in entries that had seen it, the retirement itself among them.
///
/// What had seen entries that are lost here is kept back until they are found again: nobody takes it, and all that goes
/// along with it in a run would be refused as well.
fn last_to_send(book: &Book, theirs: &VersionVector, log: &LogId, head: u64) -> u64 {
    let head = head.min(book.closed_head(log));
    match book.counts(log, head) {
        Ok(()) => head,
        Err(Refusal::Retired { last, .. }) if book.roster().retirement_is_in(theirs, &log.device) => {
            // To the first signature that vouches for everything that counts, if the other lacks any of that.
            let mut vouching = book.checkpoints(log, last.saturating_sub(1), head);
            vouching
                .next()
                .filter(|_| theirs.get(log) < last)
                .unwrap_or(last.min(head))
        }
        Err(Refusal::Retired { .. }) => head,
        Err(_) => 0,
    }
}

#[derive(Default)]
struct Building {
    stretches: BTreeMap<LogId, (u64, u64)>,
    entries: u64,
    bytes: u64,
}

impl Building {
    fn is_empty(&self) -> bool {
        self.stretches.is_empty()
    }

    fn add(&mut self, units: &Units, component: &[usize], entries: u64, bytes: u64) {
        for unit in component.iter().filter_map(|i| units.all.get(*i)) {
            let slot = self.stretches.entry(unit.log).or_insert((unit.from, unit.to));
            *slot = (slot.0.min(unit.from), slot.1.max(unit.to));
        }
        self.entries += entries;
        self.bytes += bytes;
    }

    fn close(&mut self) -> Group {
        let stretches = std::mem::take(self).stretches;
        let finish = |(log, (from, to)): (LogId, (u64, u64))| {
            let regular = (from.div_ceil(EVERY)..=to / EVERY)
                .map(|n| n * EVERY)
                .filter(|seq| *seq > 0 && *seq != to);
            Stretch {
                log,
                from,
                to,
                checkpoints: regular.chain([to]).collect(),
            }
        };
        Group {
            stretches: stretches.into_iter().map(finish).collect(),
        }
    }
}

struct Unit {
    log: LogId,
    from: u64,
    to: u64,
}

struct Units {
    all: Vec<Unit>,
    /// Per log: its units' indexes in `all` are contiguous from here.
    first: BTreeMap<LogId, (usize, usize)>,
}

impl Units {
    fn between(book: &Book, theirs: &VersionVector, wanted: &dyn Fn(&LogId) -> bool) -> Self {
        let mut units = Self {
            all: Vec::new(),
            first: BTreeMap::new(),
        };
        for (log, head) in book.vector().iter().filter(|(log, _)| wanted(log)) {
            let head = last_to_send(book, theirs, &log, head);
            let start = units.all.len();
            let mut from = theirs.get(&log).saturating_add(1);
            for to in book.checkpoints(&log, theirs.get(&log), head) {
                units.all.push(Unit { log, from, to });
                from = to + 1;
            }
            units.first.insert(log, (start, units.all.len()));
        }
        units
    }

    fn measure(&self, component: &[usize], size: &dyn Fn(&LogId, u64, u64) -> u64) -> (u64, u64) {
        let units = component.iter().filter_map(|i| self.all.get(*i));
        units.fold((0, 0), |(entries, bytes), u| {
            (entries + u.to - u.from + 1, bytes + size(&u.log, u.from, u.to))
        })
    }

    /// The unit that holds an entry, if it is among those to send.
    fn holding(&self, log: &LogId, seq: u64) -> Option<usize> {
        let (start, end) = *self.first.get(log)?;
        let units = self.all.get(start..end)?;
        let at = units.partition_point(|unit| unit.to < seq);
        units.get(at).filter(|unit| unit.from <= seq).map(|_| start + at)
    }

    /// What must be held before (or together with) a unit.
    fn needs(&self, book: &Book, index: usize) -> Vec<usize> {
        let Some(unit) = self.all.get(index) else {
            return Vec::new();
        };
        let before = index
            .checked_sub(1)
            .filter(|i| self.all.get(*i).is_some_and(|u| u.log == unit.log));
        let seen = book.seen_points(&unit.log, unit.from - 1, unit.to);
        // Vectors are cumulative: the last one in the unit includes the ones before it.
        let last = seen.last().into_iter().flat_map(|(_, vector)| vector.iter());
        before
            .into_iter()
            .chain(last.filter_map(|(log, seq)| self.holding(&log, seq)))
            .collect()
    }

    /// Strongly connected components in an order in which each comes after all that it needs (Tarjan 1972, without
    /// recursion: a first fill has more units than a stack has room).
    fn components(&self, book: &Book) -> Vec<Vec<usize>> {
        let mut walk = Walk::new(self.all.len());
        for root in 0..self.all.len() {
            if !walk.visited(root) {
                walk.from(root, &|i| self.needs(book, i));
            }
        }
        walk.components
    }
}

const UNVISITED: usize = usize::MAX;

struct Walk {
    number: Vec<usize>,
    low: Vec<usize>,
    on_stack: Vec<bool>,
    stack: Vec<usize>,
    next: usize,
    components: Vec<Vec<usize>>,
}

impl Walk {
    fn new(count: usize) -> Self {
        let (number, low, on_stack) = (vec![UNVISITED; count], vec![UNVISITED; count], vec![false; count]);
        Self {
            number,
            low,
            on_stack,
            stack: Vec::new(),
            next: 0,
            components: Vec::new(),
        }
    }

    fn visited(&self, node: usize) -> bool {
        self.number.get(node).is_none_or(|n| *n != UNVISITED)
    }

    fn enter(&mut self, node: usize) {
        let order = self.next;
        self.next += 1;
        set(&mut self.number, node, order);
        set(&mut self.low, node, order);
        set(&mut self.on_stack, node, true);
        self.stack.push(node);
    }

    fn from(&mut self, root: usize, needs: &dyn Fn(usize) -> Vec<usize>) {
        self.enter(root);
        let mut path = vec![(root, needs(root))];
        while let Some((node, todo)) = path.last_mut() {
            let node = *node;
            if let Some(next) = todo.pop() {
                if !self.visited(next) {
                    self.enter(next);
                    path.push((next, needs(next)));
                } else if get(&self.on_stack, next) == Some(true) {
                    let reach = get(&self.number, next).unwrap_or(UNVISITED);
                    self.lower(node, reach);
                }
                continue;
            }
            path.pop();
            let reach = get(&self.low, node).unwrap_or(UNVISITED);
            if let Some((parent, _)) = path.last() {
                self.lower(*parent, reach);
            }
            if get(&self.number, node) == Some(reach) {
                self.close(node);
            }
        }
    }

    fn lower(&mut self, node: usize, to: usize) {
        if let Some(low) = self.low.get_mut(node) {
            *low = (*low).min(to);
        }
    }

    fn close(&mut self, root: usize) {
        let mut component = Vec::new();
        while let Some(node) = self.stack.pop() {
            set(&mut self.on_stack, node, false);
            component.push(node);
            if node == root {
                break;
            }
        }
        component.sort_unstable();
        self.components.push(component);
    }
}

fn set<T>(list: &mut [T], at: usize, value: T) {
    if let Some(slot) = list.get_mut(at) {
        *slot = value;
    }
}

fn get<T: Copy>(list: &[T], at: usize) -> Option<T> {
    list.get(at).copied()
}
