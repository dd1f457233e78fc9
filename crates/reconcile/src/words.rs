//! Small pieces of plain sentences.

use std::sync::Arc;

use gladhand_facts::Moment;

use crate::judge::World;
use crate::witness::Witness;

/// More items than this are counted, not named.
const NAMED_AT_MOST: usize = 4;

/// `mara on lap-1 (2026-03-02 10:12)`.
pub(crate) fn deed(world: &World<'_>, witness: &Witness) -> String {
    let by = witness.owned("by").unwrap_or_else(|| "somebody".to_owned());
    let device = world.facts.device_name(&witness.place.log.device);
    format!("{by} on {device} ({})", when(&witness.at()))
}

/// Several deeds, listed.
pub(crate) fn deeds(world: &World<'_>, witnesses: &[Arc<Witness>]) -> String {
    listed(witnesses.iter().map(|w| deed(world, w)))
}

/// `2026-03-02 10:12`, in the zone in which it was written.
pub(crate) fn when(moment: &Moment) -> String {
    format!("{} {}", moment.date(), moment.hour_minute())
}

/// `a, b and c`; from the fifth item on `a, b, c, d and 3 more`.
pub(crate) fn listed(items: impl IntoIterator<Item = String>) -> String {
    let mut items: Vec<String> = items.into_iter().collect();
    if items.len() > NAMED_AT_MOST + 1 {
        let more = items.len() - NAMED_AT_MOST;
        items.truncate(NAMED_AT_MOST);
        items.push(format!("{more} more"));
    }
    match items.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_like_a_sentence() {
        let list = |n: usize| listed((1..=n).map(|i| format!("T{i}")));
        assert_eq!(list(0), "");
        assert_eq!(list(1), "T1");
        assert_eq!(list(2), "T1 and T2");
        assert_eq!(list(5), "T1, T2, T3, T4 and T5");
        assert_eq!(list(7), "T1, T2, T3, T4 and 3 more");
    }
}
