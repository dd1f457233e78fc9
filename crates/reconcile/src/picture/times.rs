//! Times as they are shown: all in one zone, which is named once.

use gladhand_facts::Moment;

use super::scene::Scene;

/// Seconds east of UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Zone(i32);

/// A time in the zone of the picture. A text that is no time stays as it is, without a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Shown {
    pub(super) day: String,
    pub(super) clock: String,
}

impl Zone {
    /// That of the first fact: the yard in which the history begins. Entries that are no facts have only UTC.
    pub(super) fn of(scene: &Scene) -> Self {
        let mut times = scene.facts.iter().filter_map(|f| Moment::parse(&f.at).ok());
        Self(times.next().map_or(0, |at| at.offset_s()))
    }

    pub(super) fn shown(self, at: &str) -> Shown {
        let Ok(moment) = Moment::parse(at) else {
            return Shown {
                day: String::new(),
                clock: at.to_owned(),
            };
        };
        // A year that does not have four digits is shown in full.
        let moment = Moment::from_unix_us(moment.unix_us(), self.0);
        match (moment.text().get(10..11), moment.text().get(11..19)) {
            (Some("T"), Some(clock)) => Shown {
                day: moment.date().to_owned(),
                clock: clock.to_owned(),
            },
            _ => Shown {
                day: String::new(),
                clock: moment.text().to_owned(),
            },
        }
    }

    /// `UTC`, `UTC-05:00`.
    pub(super) fn name(self) -> String {
        let minutes = self.0.abs() / 60;
        match (self.0, minutes) {
            (_, 0) => "UTC".to_owned(),
            (east_s, _) => {
                let sign = if east_s < 0 { '-' } else { '+' };
                format!("UTC{sign}{:02}:{:02}", minutes / 60, minutes % 60)
            }
        }
    }
}

impl Shown {
    /// `2026-03-02 16:40:53`, for sentences.
    pub(super) fn in_full(&self) -> String {
        format!("{} {}", self.day, self.clock).trim().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_time_is_shown_in_the_zone_that_is_named() {
        let zone = Zone(-5 * 3_600);
        assert_eq!(zone.name(), "UTC-05:00");
        assert_eq!(zone.shown("2026-03-03T04:30:00Z").in_full(), "2026-03-02 23:30:00");
        assert_eq!(zone.shown("2026-03-02T23:30:00.25-05:00").clock, "23:30:00");
        assert_eq!(zone.shown("soon").in_full(), "soon");
        assert_eq!(
            (Zone(0).name(), Zone(19_800).name()),
            ("UTC".into(), "UTC+05:30".into())
        );
    }
}
