//! What a peer lacks, cut into groups that can be let in one after the other.
//!
//! A group is what one frame contains. Once the receiver holds all groups before it, the group is causally closed (nothing in
//! it has seen anything outside) and signed (each log's part ends in a checkpoint). So a receiver may stop after any group,
//! and what it holds is always causally closed.
//!
//! Units are the stretches of a log between checkpoints. Units that have seen each other in a circle (two laptops that kept
//! meeting, of which we hold only every 256th signature) are strongly connected and must be in one frame. The components are
//! found in an order in which each comes after everything that it had seen.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{LogId, VersionVector};

use crate::book::Book;
use crate::checkpoint::ENTRIES_PER_CHECKPOINT;
use crate::roster::Refusal;

/// How many entries a group should have at most; a single unit or component may have more.
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
    /// The checkpoints to send with it: the last one, and every 256th.
    pub checkpoints: Vec<u64>,
}

impl Stretch {
    fn entries(&self) -> u64 {
        self.to - self.from + 1
    }
}

/// What one frame contains: at most one stretch per log.
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

/// Plans what a receiver at `theirs` lacks of what `book` holds. `size` gives the bytes of a stretch (log, from, to); only
/// logs that are `wanted` are sent.
pub fn plan(
    book: &Book,
    theirs: &VersionVector,
    size: &dyn Fn(&LogId, u64, u64) -> u64,
    wanted: &dyn Fn(&LogId) -> bool,
) -> Vec<Group> {
    let units = Units::between(book, theirs, wanted);
    let order = units.components(book);
    let mut groups = Vec::new();
    let mut open = OpenGroup::default();
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

/// How far a log is sent. Entries of a retired device that do not count are not sent to a receiver that knows of the
/// retirement. Others need them to let in entries that had seen them, among these the retirement itself.
///
/// Entries beyond a causal gap are not sent until what is missing is found again: they would be refused, and with them
/// everything in the same run.
fn last_to_send(book: &Book, theirs: &VersionVector, log: &LogId, head: u64) -> u64 {
    let head = head.min(book.closed_head(log));
    match book.counts(log, head) {
        Ok(()) => head,
        Err(Refusal::Retired { last, .. }) if book.roster().retirement_is_in(theirs, &log.device) => {
            // To the first checkpoint that covers everything that counts, if the receiver lacks any of that.
            let mut covering = book.checkpoints(log, last.saturating_sub(1), head);
            let covering = covering.next().filter(|_| theirs.get(log) < last);
            covering.unwrap_or(last.min(head))
        }
        Err(Refusal::Retired { .. }) => head,
        Err(_) => 0,
    }
}

/// A group that is being filled.
#[derive(Default)]
struct OpenGroup {
    stretches: BTreeMap<LogId, (u64, u64)>,
    entries: u64,
    bytes: u64,
}

impl OpenGroup {
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
            let regular = (from.div_ceil(ENTRIES_PER_CHECKPOINT)..=to / ENTRIES_PER_CHECKPOINT)
                .map(|n| n * ENTRIES_PER_CHECKPOINT)
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

/// A stretch of a log from one checkpoint to the next.
struct Unit {
    log: LogId,
    from: u64,
    to: u64,
}

/// All units that the receiver lacks.
struct Units {
    all: Vec<Unit>,
    /// Per log, the first of its units in `all`, and the one after its last.
    ranges: BTreeMap<LogId, (usize, usize)>,
}

impl Units {
    fn between(book: &Book, theirs: &VersionVector, wanted: &dyn Fn(&LogId) -> bool) -> Self {
        let mut units = Self {
            all: Vec::new(),
            ranges: BTreeMap::new(),
        };
        for (log, head) in book.vector().iter().filter(|(log, _)| wanted(log)) {
            let head = last_to_send(book, theirs, &log, head);
            let start = units.all.len();
            let mut from = theirs.get(&log).saturating_add(1);
            for to in book.checkpoints(&log, theirs.get(&log), head) {
                units.all.push(Unit { log, from, to });
                from = to + 1;
            }
            units.ranges.insert(log, (start, units.all.len()));
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
        let (start, end) = *self.ranges.get(log)?;
        let units = self.all.get(start..end)?;
        let at = units.partition_point(|unit| unit.to < seq);
        units.get(at).filter(|unit| unit.from <= seq).map(|_| start + at)
    }

    /// What must be held before a unit, or come together with it.
    fn needs(&self, book: &Book, index: usize) -> Vec<usize> {
        let Some(unit) = self.all.get(index) else {
            return Vec::new();
        };
        let before = self.holding(&unit.log, unit.from.saturating_sub(1));
        let seen = book.seen_points(&unit.log, unit.from - 1, unit.to);
        // Vectors are cumulative: the last one in the unit includes the ones before it.
        let last = seen.last().into_iter().flat_map(|(_, vector)| vector.iter());
        before
            .into_iter()
            .chain(last.filter_map(|(log, seq)| self.holding(&log, seq)))
            .collect()
    }

    /// Strongly connected components in an order in which each comes after all that it needs.
    fn components(&self, book: &Book) -> Vec<Vec<usize>> {
        let mut search = ComponentSearch::default();
        for root in 0..self.all.len() {
            if !search.is_visited(root) {
                search.from(root, &|i| self.needs(book, i));
            }
        }
        search.components
    }
}

/// The search for strongly connected components: the path-based algorithm (Gabow 2000), without recursion.
#[derive(Default)]
struct ComponentSearch {
    /// The order in which nodes were first visited.
    order: BTreeMap<usize, usize>,
    /// Visited nodes that are in no component yet.
    open: Vec<usize>,
    /// For each component that may still grow, the order of its first node.
    starts: Vec<usize>,
    placed: BTreeSet<usize>,
    components: Vec<Vec<usize>>,
}

/// A node on the current path, and what of its needs has not been looked at.
struct Step {
    node: usize,
    order: usize,
    todo: Vec<usize>,
}

impl ComponentSearch {
    fn is_visited(&self, node: usize) -> bool {
        self.order.contains_key(&node)
    }

    fn enter(&mut self, node: usize, todo: Vec<usize>) -> Step {
        let order = self.order.len();
        self.order.insert(node, order);
        self.open.push(node);
        self.starts.push(order);
        Step { node, order, todo }
    }

    fn from(&mut self, root: usize, needs: &dyn Fn(usize) -> Vec<usize>) {
        let mut path = vec![self.enter(root, needs(root))];
        while let Some(step) = path.last_mut() {
            if let Some(next) = step.todo.pop() {
                match self.order.get(&next) {
                    None => path.push(self.enter(next, needs(next))),
                    Some(order) if !self.placed.contains(&next) => {
                        // `next` reaches this node, so all components begun since are one with its own.
                        while self.starts.last() > Some(order) {
                            self.starts.pop();
                        }
                    }
                    Some(_) => {}
                }
                continue;
            }
            if self.starts.last() == Some(&step.order) {
                self.close(step.node);
            }
            path.pop();
        }
    }

    /// The component of `first` is complete.
    fn close(&mut self, first: usize) {
        self.starts.pop();
        let mut component = Vec::new();
        while let Some(node) = self.open.pop() {
            self.placed.insert(node);
            component.push(node);
            if node == first {
                break;
            }
        }
        component.sort_unstable();
        self.components.push(component);
    }
}

#[cfg(test)]
#[path = "plan_tests.rs"]
mod tests;
