//! A queue from the reading thread to the committing thread, bounded in number and in bytes.
//!
//! Invariants: the order of items is kept; a closed or finished queue lets neither thread wait.

use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// How many items may wait.
const MAX_ITEMS: usize = 4_096;
/// How many bytes may wait. A single longer item may wait alone.
const MAX_BYTES: usize = 8 << 20;

struct Queue<T> {
    items: VecDeque<(T, usize)>,
    bytes: usize,
    no_more: bool,
    closed: bool,
    /// How many threads wait. Waking costs a system call, so it is left out when none waits.
    waiting: usize,
}

/// See the module doc. Clones share one queue.
pub struct Ahead<T> {
    queue: Arc<Mutex<Queue<T>>>,
    changed: Arc<Condvar>,
}

impl<T> Clone for Ahead<T> {
    fn clone(&self) -> Self {
        Self {
            queue: Arc::clone(&self.queue),
            changed: Arc::clone(&self.changed),
        }
    }
}

impl<T> Ahead<T> {
    pub fn new() -> Self {
        let queue = Queue {
            items: VecDeque::new(),
            bytes: 0,
            no_more: false,
            closed: false,
            waiting: 0,
        };
        Self {
            queue: Arc::new(Mutex::new(queue)),
            changed: Arc::default(),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Queue<T>> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait<'q>(&self, mut queue: MutexGuard<'q, Queue<T>>) -> MutexGuard<'q, Queue<T>> {
        queue.waiting += 1;
        let mut queue = self.changed.wait(queue).unwrap_or_else(PoisonError::into_inner);
        queue.waiting -= 1;
        queue
    }

    fn wake(&self, queue: &Queue<T>) {
        if queue.waiting > 0 {
            self.changed.notify_all();
        }
    }

    /// Waits for room. `false`: the queue is closed.
    pub fn push(&self, item: T, bytes: usize) -> bool {
        let mut queue = self.lock();
        while !queue.closed
            && (queue.items.len() >= MAX_ITEMS || (queue.bytes + bytes > MAX_BYTES && !queue.items.is_empty()))
        {
            queue = self.wait(queue);
        }
        if queue.closed {
            return false;
        }
        queue.bytes += bytes;
        queue.items.push_back((item, bytes));
        self.wake(&queue);
        true
    }

    /// Finishes when it is dropped, also when the pushing thread panics.
    pub fn finish_at_the_end(&self) -> Finish<T> {
        Finish(self.clone())
    }

    /// Nothing more will be pushed.
    fn finish(&self) {
        self.lock().no_more = true;
        self.changed.notify_all();
    }

    /// Nothing more will be taken.
    pub fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }

    /// The next item, if there is one already.
    pub fn try_next(&self) -> Option<(T, usize)> {
        self.pop(&mut self.lock())
    }

    /// Waits for the next item. `None`: that was all.
    pub fn next(&self) -> Option<(T, usize)> {
        let mut queue = self.lock();
        loop {
            if let Some(item) = self.pop(&mut queue) {
                return Some(item);
            }
            if queue.no_more {
                return None;
            }
            queue = self.wait(queue);
        }
    }

    fn pop(&self, queue: &mut Queue<T>) -> Option<(T, usize)> {
        let (item, bytes) = queue.items.pop_front()?;
        queue.bytes -= bytes;
        self.wake(queue);
        Some((item, bytes))
    }
}

/// See [`Ahead::finish_at_the_end`].
pub struct Finish<T>(Ahead<T>);

impl<T> Drop for Finish<T> {
    fn drop(&mut self) {
        self.0.finish();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_comes_through_in_order_within_bounds() {
        let ahead = Ahead::new();
        let pushing = ahead.clone();
        let pusher = std::thread::spawn(move || {
            // Some are longer than all that may be ahead.
            (0..20_000u64).for_each(|n| assert!(pushing.push(n, if n % 5_000 == 7 { MAX_BYTES * 2 } else { 3_000 })));
            pushing.finish();
        });
        for expected in 0..20_000 {
            assert_eq!(ahead.next().map(|(n, _)| n), Some(expected));
            let queue = ahead.lock();
            assert!(queue.items.len() <= MAX_ITEMS && (queue.bytes <= MAX_BYTES || queue.items.len() == 1));
        }
        assert!(ahead.next().is_none());
        pusher.join().unwrap();
    }

    #[test]
    fn whoever_pushes_is_told_that_nobody_listens() {
        let ahead = Ahead::new();
        assert!(ahead.push(1, MAX_BYTES));
        let pushing = ahead.clone();
        let pusher = std::thread::spawn(move || pushing.push(2, 1));
        ahead.close();
        assert!(!pusher.join().unwrap());
    }
}
