//! The few things that come from outside: time, randomness, the machine. Nothing below this crate touches them.

use crate::failure::Failure;

/// Wall time in microseconds since 1970.
pub fn now_us() -> i64 {
    jiff::Timestamp::now().as_microsecond()
}

/// The time now as a fact says it: to the millisecond, with the system's offset from UTC.
pub fn now_text() -> String {
    text_of(now_us())
}

/// A time as a fact says it: to the millisecond, with the system's offset from UTC.
pub fn text_of(now_us: i64) -> String {
    let to_the_millisecond = now_us - now_us.rem_euclid(1_000);
    gladhand_facts::Moment::from_unix_us(to_the_millisecond, offset_s(now_us))
        .text()
        .to_owned()
}

/// Keeps the default panic hook from telling about panics of sled and Automerge: those are caught, and told in our own
/// words. Whatever else panics is a bug, and is shown.
pub fn hush_caught_panics() {
    let default = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let file = panic.location().map(std::panic::Location::file).unwrap_or_default();
        let caught = ["/sled-", "/automerge-", "/hexane-"]
            .iter()
            .any(|name| file.contains(name));
        if !caught {
            default(panic);
        }
    }));
}

/// The system's offset from UTC at `unix_us`, in seconds east.
pub fn offset_s(unix_us: i64) -> i32 {
    let at = jiff::Timestamp::from_microsecond(unix_us).unwrap_or_default();
    jiff::tz::TimeZone::system().to_offset(at).seconds()
}

/// Random bytes from the operating system.
///
/// # Errors
/// When the system has none to give.
pub fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0u8; N];
    fill_random(&mut bytes)?;
    Ok(bytes)
}

/// The same into a buffer.
///
/// # Errors
/// As [`random`].
pub fn fill_random(bytes: &mut [u8]) -> Result<(), Failure> {
    getrandom::fill(bytes).map_err(|e| Failure::failed(format!("no randomness from the system: {e}")))
}

/// What tells this machine from another, so that a copied home is noticed. Empty where the system has no such thing.
pub fn machine_id() -> String {
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
