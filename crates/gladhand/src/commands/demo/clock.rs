//! The day's own clock, and keys that are listed in the same order on every run.
//!
//! The demo tells of a day in March, whenever it is run: what a node stamps, measures or fills in by itself must be of that day
//! too. Keys are random all the same, so that nobody can write in the name of a demo's device; but what is told device by
//! device stands in the order of the keys, and a story that is told the other way round every second time cannot be compared.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use gladhand_facts::Moment;
use gladhand_logbook::DeviceSecret;
use zeroize::Zeroizing;

use crate::failure::Failure;
use gladhand_node::{Environment, environment};

/// How far the clock moves whenever somebody looks: no two entries have the same time, as on a real clock.
const TICK_US: i64 = 1_000;

/// The clock of all devices of the day. Copies show the same.
#[derive(Clone, Default)]
pub(super) struct DayClock(Arc<AtomicI64>);

impl DayClock {
    /// It is `time` now (RFC 3339).
    pub(super) fn set(&self, time: &str) -> Result<(), Failure> {
        let wrong = |e| Failure::failed(format!("demo-data/story.toml: {e}"));
        let moment = Moment::parse(time).map_err(wrong)?;
        self.0.store(moment.unix_us(), Ordering::Relaxed);
        Ok(())
    }

    /// This machine, at the time that the day's clock shows.
    pub(super) fn environment(&self) -> Environment {
        let clock = Arc::clone(&self.0);
        Environment {
            now_us: Arc::new(move || clock.fetch_add(TICK_US, Ordering::Relaxed)),
            ..Environment::machine()
        }
    }
}

/// What the keys of the day's devices are made from.
pub(super) struct Keys(BTreeMap<String, Zeroizing<[u8; 32]>>);

impl Keys {
    /// A random key for each device; their order is that of the names given.
    pub(super) fn draw<'d>(devices: impl Iterator<Item = &'d str>) -> Result<Self, Failure> {
        let names: Vec<&str> = devices.collect();
        let mut seeds = Vec::with_capacity(names.len());
        for _ in &names {
            seeds.push(Zeroizing::new(environment::random::<32>()?));
        }
        seeds.sort_by_key(|seed| DeviceSecret::from_seed(seed).public());
        Ok(Self(names.into_iter().map(str::to_owned).zip(seeds).collect()))
    }

    /// `outer`, with what the key of `device` is made from as the randomness: only for making its home.
    pub(super) fn environment_for(&self, device: &str, outer: Environment) -> Environment {
        let Some(seed) = self.0.get(device).cloned() else {
            return outer;
        };
        let fill = move |bytes: &mut [u8]| {
            if bytes.len() != seed.len() {
                return environment::fill_random(bytes);
            }
            bytes.copy_from_slice(&*seed);
            Ok(())
        };
        Environment {
            rng: Arc::new(fill),
            ..outer
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_shows_what_the_story_says_and_moves() {
        let clock = DayClock::default();
        clock.set("2026-03-02T18:40:00-05:00").unwrap();
        let look = clock.environment().now_us;
        let set_us = Moment::parse("2026-03-02T23:40:00Z").unwrap().unix_us();
        assert_eq!([look(), look()], [set_us, set_us + TICK_US]);
        assert!(clock.set("18:40").is_err());
    }

    #[test]
    fn keys_are_new_each_time_and_in_the_order_of_the_names() {
        let drawn = |_| Keys::draw(["one", "two", "three"].into_iter()).unwrap();
        let public = |keys: &Keys, name: &str| DeviceSecret::from_seed(&keys.0[name]).public();
        for keys in (0..20).map(drawn) {
            assert!(public(&keys, "one") < public(&keys, "two") && public(&keys, "two") < public(&keys, "three"));
        }
        assert_ne!(public(&drawn(0), "one"), public(&drawn(1), "one"));
    }
}
