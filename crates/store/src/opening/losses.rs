//! Which entries damage has cost: told at the end of an open, when it is known what came later.

use gladhand_facts::LogId;

use super::Opening;
use crate::damage::Lost;
use crate::waiting::Waiting;

/// What was seen of a log beyond its head, and to which damage it is attributed.
pub(super) struct Missed {
    damage: usize,
    last: u64,
    certain: bool,
}

impl Opening<'_> {
    pub(super) fn miss(&mut self, damage: usize, log: LogId, seq: u64, certain: bool) {
        let missed = self.missed.entry(log).or_insert(Missed {
            damage,
            last: 0,
            certain,
        });
        if seq >= missed.last {
            *missed = Missed {
                damage: missed.damage,
                last: seq,
                certain,
            };
        }
    }

    pub(super) fn name_losses(&mut self) {
        for (log, missed) in &self.missed {
            let Some(damage) = self.damage.get_mut(missed.damage) else {
                continue;
            };
            let offsets = &self.journal.offsets;
            let gaps = offsets.gaps(log).into_iter().filter(|gap| gap.missing() > 0);
            damage.lost.extend(gaps.map(|gap| Lost {
                log: *log,
                from: gap.from,
                to: Some(gap.to),
            }));
            let waits = offsets.waiting(log).and_then(Waiting::last);
            let from = waits.unwrap_or_else(|| offsets.head(log)) + 1;
            if missed.last >= from {
                damage.lost.push(Lost {
                    log: *log,
                    from,
                    to: missed.certain.then_some(missed.last),
                });
            }
        }
    }
}
