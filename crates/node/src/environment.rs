//! What a node takes from outside: the disk of its journal, the time, randomness, the machine's name.
//!
//! It is given once, when the home is opened. A simulator gives its own and so runs a day of a whole fleet from one seed, with
//! failing disks and jumping clocks, on the code that runs in a yard.
//!
//! Deliberately not here: the small files of the home, which rarely change, and the index, which can be made again from the
//! journal. Both are always on the real disk.

use std::sync::Arc;

use gladhand_facts::Moment;
use gladhand_store::{Disk, RealDisk};

/// The system has no randomness to give.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no randomness from the system: {0}")]
pub struct NoRandomness(pub String);

/// Fills a buffer with random bytes.
pub type Rng = dyn Fn(&mut [u8]) -> Result<(), NoRandomness> + Send + Sync;

/// See the module doc. Clones share everything.
#[derive(Clone)]
pub struct Environment {
    /// Where the journal lies.
    pub disk: Arc<dyn Disk>,
    /// Wall time in microseconds since 1970.
    pub now_us: Arc<dyn Fn() -> i64 + Send + Sync>,
    /// Randomness.
    pub rng: Arc<Rng>,
    /// Identifies this machine, so that a copied home is noticed. Empty where the system has no machine id.
    pub machine_id: String,
}

impl Environment {
    /// The machine that this program runs on.
    pub fn machine() -> Self {
        Self {
            disk: Arc::new(RealDisk),
            now_us: Arc::new(now_us),
            rng: Arc::new(fill_random),
            machine_id: machine_id(),
        }
    }

    /// Wall time in microseconds since 1970.
    pub fn now_us(&self) -> i64 {
        (self.now_us)()
    }

    pub(crate) fn random<const N: usize>(&self) -> Result<[u8; N], NoRandomness> {
        let mut bytes = [0; N];
        (self.rng)(&mut bytes)?;
        Ok(bytes)
    }
}

/// The machine's wall time in microseconds since 1970.
pub fn now_us() -> i64 {
    jiff::Timestamp::now().as_microsecond()
}

/// The machine's time as facts write it: to the millisecond, with the system's offset from UTC.
pub fn now_text() -> String {
    text_of(now_us())
}

/// A time as facts write it: to the millisecond, with the system's offset from UTC.
pub fn text_of(now_us: i64) -> String {
    let to_the_millisecond = now_us - now_us.rem_euclid(1_000);
    Moment::from_unix_us(to_the_millisecond, offset_s(now_us))
        .text()
        .to_owned()
}

/// The system's offset from UTC at `unix_us`, in seconds east.
pub fn offset_s(unix_us: i64) -> i32 {
    // A time beyond the years that jiff knows takes the offset of 1970; such a time is wrong in any case.
    let at = jiff::Timestamp::from_microsecond(unix_us).unwrap_or_default();
    jiff::tz::TimeZone::system().to_offset(at).seconds()
}

/// The midnight in UTC with which a date such as `2026-03-02` begins, in microseconds since 1970.
pub fn parse_day(date: &str) -> Option<i64> {
    let day: jiff::civil::Date = date.parse().ok()?;
    // jiff also reads other forms, such as a date with a time.
    let is_plain = day.to_string() == date;
    let midnight = jiff::tz::TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok()?;
    is_plain.then(|| midnight.as_microsecond())
}

/// Random bytes from the operating system.
///
/// # Errors
/// [`NoRandomness`].
pub fn random<const N: usize>() -> Result<[u8; N], NoRandomness> {
    let mut bytes = [0u8; N];
    fill_random(&mut bytes)?;
    Ok(bytes)
}

/// Fills a buffer with random bytes from the operating system.
///
/// # Errors
/// [`NoRandomness`].
pub fn fill_random(bytes: &mut [u8]) -> Result<(), NoRandomness> {
    getrandom::fill(bytes).map_err(|e| NoRandomness(e.to_string()))
}

fn machine_id() -> String {
    let read = |path| {
        std::fs::read_to_string(path)
            .ok()
            .map(|t| t.trim().to_owned())
            .filter(|t| !t.is_empty())
    };
    read("/etc/machine-id")
        .or_else(|| read("/var/lib/dbus/machine-id"))
        .unwrap_or_default()
}
