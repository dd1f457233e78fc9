//! Log lines for people: `14:15 lap-mara came, 3 entries`.
//!
//! Of our own events only the message is written, which is a whole sentence; of a library's events, whose messages are not,
//! the fields too. A line stays a line, whatever a peer or a file name put into it.

use std::fmt::{self, Write};

use gladhand_node::environment;
use tracing::field::{Field, Visit};
use tracing::{Event, Level, Subscriber};
use tracing_subscriber::fmt::format::Writer;
use tracing_subscriber::fmt::{FmtContext, FormatEvent, FormatFields};
use tracing_subscriber::registry::LookupSpan;

/// Events of our own crates begin so.
const OURS: &str = "gladhand";

/// Writes a line for people.
pub(super) struct Plain {
    shows_day: bool,
    /// The local time as a fact says it, such as `2026-03-02T14:15:09.000-05:00`.
    now: fn() -> String,
}

impl Plain {
    /// For a file, which is read on another day.
    pub fn with_day() -> Self {
        Self {
            shows_day: true,
            now: environment::now_text,
        }
    }

    /// For somebody who watches.
    pub fn without_day() -> Self {
        Self {
            shows_day: false,
            now: environment::now_text,
        }
    }

    fn time(&self) -> String {
        let now = (self.now)();
        let (day, time) = now.split_once('T').unwrap_or_default();
        let minute = time.get(..5).unwrap_or(time);
        if self.shows_day {
            return format!("{day} {minute}");
        }
        minute.to_owned()
    }
}

impl<S, N> FormatEvent<S, N> for Plain
where
    S: Subscriber + for<'s> LookupSpan<'s>,
    N: for<'w> FormatFields<'w> + 'static,
{
    fn format_event(&self, _: &FmtContext<'_, S, N>, mut writer: Writer<'_>, event: &Event<'_>) -> fmt::Result {
        let mut said = Said::default();
        event.record(&mut said);
        let mut line = format!("{} ", self.time());
        line.push_str(match *event.metadata().level() {
            Level::ERROR => "error: ",
            Level::WARN => "warning: ",
            Level::INFO => "",
            Level::DEBUG | Level::TRACE => "debug: ",
        });
        let target = event.metadata().target();
        if target.starts_with(OURS) {
            line.push_str(&said.message);
        } else {
            write!(line, "{target}: {}{}", said.message, said.fields)?;
        }
        writeln!(writer, "{}", gladhand_answers::text::layout::in_one_line(&line))
    }
}

/// What an event says.
#[derive(Default)]
struct Said {
    message: String,
    fields: String,
}

impl Visit for Said {
    fn record_debug(&mut self, field: &Field, value: &dyn fmt::Debug) {
        // Writing to a string does not fail.
        match field.name() {
            "message" => write!(self.message, "{value:?}").ok(),
            name => write!(self.fields, " {name}={value:?}").ok(),
        };
    }
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::sync::{Arc, Mutex};

    use tracing_subscriber::layer::SubscriberExt;
    use tracing_subscriber::{EnvFilter, fmt};

    use super::*;

    #[derive(Clone, Default)]
    struct Kept(Arc<Mutex<Vec<u8>>>);

    impl io::Write for Kept {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    fn quarter_past_two() -> String {
        "2026-03-02T14:15:09.000-05:00".into()
    }

    fn lines(plain: Plain, events: impl FnOnce()) -> String {
        let kept = Kept::default();
        let writer = kept.clone();
        let layer = fmt::layer()
            .event_format(Plain {
                now: quarter_past_two,
                ..plain
            })
            .with_writer(move || writer.clone());
        let subscriber = tracing_subscriber::registry().with(layer).with(EnvFilter::new("trace"));
        tracing::subscriber::with_default(subscriber, events);
        let bytes = kept.0.lock().unwrap().clone();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn our_lines_are_a_time_and_a_sentence() {
        let events = || {
            tracing::info!(device = "6f1c", entries = 3, "lap-mara came, 3 entries");
            tracing::warn!(error = "full", "the index could not be flushed: full");
            tracing::error!("the network has ended");
            tracing::debug!(target: "gladhand_net::dial", "no session with lap-ilse");
        };
        let said = [
            "lap-mara came, 3 entries",
            "warning: the index could not be flushed: full",
            "error: the network has ended",
            "debug: no session with lap-ilse",
        ];
        let at = |time: &str| said.map(|line| format!("{time} {line}\n")).concat();
        assert_eq!(lines(Plain::without_day(), events), at("14:15"));
        assert_eq!(lines(Plain::with_day(), events), at("2026-03-02 14:15"));
    }

    #[test]
    fn a_library_names_itself_and_its_fields() {
        let events = || tracing::warn!(target: "rustls::conn", code = 7, "no luck");
        assert_eq!(
            lines(Plain::without_day(), events),
            "14:15 warning: rustls::conn: no luck code=7\n"
        );
    }

    #[test]
    fn a_line_stays_a_line() {
        let name = "lap\n14:16 error: \u{1b}[31mall is lost\u{202e}";
        let said = lines(Plain::without_day(), || tracing::info!("{name} came, nothing new"));
        assert_eq!(
            said,
            "14:15 lap\\n14:16 error: \\u{1b}[31mall is lost\\u{202e} came, nothing new\n"
        );
    }
}
