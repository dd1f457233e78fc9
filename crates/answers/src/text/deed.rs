//! Who did something, in a few words.

use gladhand_facts::Moment;

use crate::deed::Deed;

/// Who did something where the fact does not say.
const SOMEBODY: &str = "somebody";

/// `mara on lap-1 (2026-03-02 10:12)`.
pub fn deed(deed: &Deed) -> String {
    told(deed.by.as_deref(), &deed.device, &deed.at)
}

/// The same of several, with `and` between them.
pub fn deeds(deeds: &[Deed]) -> String {
    deeds.iter().map(deed).collect::<Vec<_>>().join(" and ")
}

/// The same from its parts.
pub fn told(by: Option<&str>, device: &str, at: &str) -> String {
    format!("{} on {device} ({})", by.unwrap_or(SOMEBODY), minute(at))
}

/// Several without their devices, for a narrow column: `mara 2026-03-02 10:12`.
pub fn short(deeds: &[Deed]) -> String {
    let one = |deed: &Deed| format!("{} {}", deed.by.as_deref().unwrap_or(SOMEBODY), minute(&deed.at));
    deeds.iter().map(one).collect::<Vec<_>>().join(" and ")
}

/// A time to the minute, as written.
fn minute(at: &str) -> String {
    Moment::parse(at).map_or_else(|_| at.to_owned(), |at| format!("{} {}", at.date(), at.hour_minute()))
}
