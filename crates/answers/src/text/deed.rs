//! Who did something, in a few words.

use gladhand_facts::Moment;

use crate::deed::Deed;

/// `mara on lap-1 (2026-03-02 10:12)`.
pub fn deed(deed: &Deed) -> String {
    let by = deed.by.as_deref().unwrap_or("somebody");
    let at =
        Moment::parse(&deed.at).map_or_else(|_| deed.at.clone(), |at| format!("{} {}", at.date(), at.hour_minute()));
    format!("{by} on {} ({at})", deed.device)
}

/// The same of several, with `and` between them.
pub fn deeds(deeds: &[Deed]) -> String {
    deeds.iter().map(deed).collect::<Vec<_>>().join(" and ")
}
