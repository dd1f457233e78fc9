//! What a fact is about, and under which subjects it is filed.
//!
//! Key bytes of an index (stable, in the order of the text, no key a prefix of another): one letter for the
//! class, then for a device its 32 key bytes, for all others the UTF-8 text with each 0 byte written as
//! `00 ff`, ended by `00 00`.

use std::borrow::Cow;
use std::fmt;

use gladhand_facts::{DeviceKey, Fact, Kind};
use serde::{Deserialize, Serialize};

/// The classes of subject.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// A job.
    Job,
    /// A camera.
    Camera,
    /// A tracker.
    Tracker,
    /// A trailer, by the unit number painted on it.
    Trailer,
    /// Any code that is read or typed. Facts are filed here only when the code is neither a camera's nor a
    /// tracker's nor a trailer's (a VIN, an unspecific scan); the rule about codes looks in all three places.
    Code,
    /// A device.
    Device,
    /// A finding.
    Finding,
}

impl Class {
    /// All of them, in order.
    pub const ALL: [Self; 7] = [
        Self::Job,
        Self::Camera,
        Self::Tracker,
        Self::Trailer,
        Self::Code,
        Self::Device,
        Self::Finding,
    ];

    /// The written name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Job => "job",
            Self::Camera => "camera",
            Self::Tracker => "tracker",
            Self::Trailer => "trailer",
            Self::Code => "code",
            Self::Device => "device",
            Self::Finding => "finding",
        }
    }

    fn tag(self) -> u8 {
        match self {
            Self::Job => b'j',
            Self::Camera => b'c',
            Self::Tracker => b't',
            Self::Trailer => b'u',
            Self::Code => b'k',
            Self::Device => b'd',
            Self::Finding => b'f',
        }
    }
}

/// What a fact, or a finding, is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Subject {
    /// A job by its name.
    Job(String),
    /// A camera by its code.
    Camera(String),
    /// A tracker by its code.
    Tracker(String),
    /// A trailer by its unit number.
    Trailer(String),
    /// A code; see [`Class::Code`].
    Code(String),
    /// A device by its key.
    Device(DeviceKey),
    /// A finding by its id.
    Finding(String),
}

impl Subject {
    /// Its class.
    pub fn class(&self) -> Class {
        match self {
            Self::Job(_) => Class::Job,
            Self::Camera(_) => Class::Camera,
            Self::Tracker(_) => Class::Tracker,
            Self::Trailer(_) => Class::Trailer,
            Self::Code(_) => Class::Code,
            Self::Device(_) => Class::Device,
            Self::Finding(_) => Class::Finding,
        }
    }

    /// Its name without the class: a code, a job, the hexadecimal key of a device.
    pub fn text(&self) -> Cow<'_, str> {
        match self {
            Self::Job(s) | Self::Camera(s) | Self::Tracker(s) | Self::Trailer(s) | Self::Code(s) | Self::Finding(s) => {
                Cow::Borrowed(s)
            }
            Self::Device(key) => Cow::Owned(key.to_string()),
        }
    }

    /// The subject of `class` with that name; `None` when a device's name is not a key.
    pub fn from_text(class: Class, text: &str) -> Option<Self> {
        let text = text.to_owned();
        Some(match class {
            Class::Job => Self::Job(text),
            Class::Camera => Self::Camera(text),
            Class::Tracker => Self::Tracker(text),
            Class::Trailer => Self::Trailer(text),
            Class::Code => Self::Code(text),
            Class::Device => Self::Device(text.parse().ok()?),
            Class::Finding => Self::Finding(text),
        })
    }

    /// The bytes under which an index files it.
    pub fn to_key(&self) -> Vec<u8> {
        let mut key = vec![self.class().tag()];
        if let Self::Device(device) = self {
            key.extend_from_slice(&device.0);
            return key;
        }
        for byte in self.text().bytes() {
            key.push(byte);
            if byte == 0 {
                key.push(0xff);
            }
        }
        key.extend_from_slice(&[0, 0]);
        key
    }

    /// Reads the key back from the start of `bytes`, with the number of bytes that it took.
    pub fn from_key(bytes: &[u8]) -> Option<(Self, usize)> {
        let (tag, rest) = bytes.split_first()?;
        let class = Class::ALL.into_iter().find(|c| c.tag() == *tag)?;
        if class == Class::Device {
            let device = rest.get(..32)?.try_into().ok()?;
            return Some((Self::Device(DeviceKey(device)), 33));
        }
        let (text, used) = unescape(rest)?;
        Some((Self::from_text(class, &text)?, used + 1))
    }
}

/// Reads an escaped text up to its end mark, and says how many bytes that took.
fn unescape(bytes: &[u8]) -> Option<(String, usize)> {
    let mut text = Vec::new();
    let mut rest = bytes.iter().enumerate();
    while let Some((_, byte)) = rest.next() {
        if *byte != 0 {
            text.push(*byte);
            continue;
        }
        match rest.next()? {
            (_, 0xff) => text.push(0),
            (at, 0) => return Some((String::from_utf8(text).ok()?, at + 1)),
            _ => return None,
        }
    }
    None
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.class().name(), self.text())
    }
}

/// Under which subjects a fact recorded by `device` is filed, sorted, each once.
///
/// A fact of an unknown kind that names no job is filed under its device, so that it is reported somewhere.
pub fn mentions(fact: &Fact, device: &DeviceKey) -> Vec<Subject> {
    let text = |key: &str| fact.text(key).map(Cow::into_owned);
    let job = text("job");
    let homeless = !fact.kind().is_known() && job.is_none();
    let mut found: Vec<Subject> = job.map(Subject::Job).into_iter().collect();
    found.extend(text("camera").map(Subject::Camera));
    found.extend(text("tracker").map(Subject::Tracker));
    found.extend(text("trailer").map(Subject::Trailer));
    found.extend(text("vin").map(Subject::Code));
    match fact.kind() {
        Kind::Scan => found.extend(text("code").map(|code| scanned(fact, code))),
        Kind::Ruling => found.extend(text("finding").map(Subject::Finding)),
        _ if homeless => found.push(Subject::Device(*device)),
        _ => {}
    }
    found.sort();
    found.dedup();
    found
}

fn scanned(fact: &Fact, code: String) -> Subject {
    match fact.text("what").as_deref() {
        Some("camera") => Subject::Camera(code),
        Some("tracker") => Subject::Tracker(code),
        Some("trailer") => Subject::Trailer(code),
        _ => Subject::Code(code),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_subject() -> impl Strategy<Value = Subject> {
        let text = "[a\\x00\\xff]{0,4}";
        prop_oneof![
            text.prop_map(Subject::Job),
            text.prop_map(Subject::Camera),
            text.prop_map(Subject::Trailer),
            any::<[u8; 32]>().prop_map(|k| Subject::Device(DeviceKey(k))),
        ]
    }

    proptest! {
        #[test]
        fn keys_come_back_and_none_is_a_prefix(a in any_subject(), b in any_subject(), tail in any::<Vec<u8>>()) {
            let key = a.to_key();
            let with_tail: Vec<u8> = key.iter().chain(&tail).copied().collect();
            prop_assert_eq!(Subject::from_key(&with_tail), Some((a.clone(), key.len())));
            if a != b {
                prop_assert!(!b.to_key().starts_with(&key), "{a} and {b}");
            }
        }

        #[test]
        fn no_bytes_panic(bytes in any::<Vec<u8>>()) {
            let _ = Subject::from_key(&bytes);
        }
    }

    #[test]
    fn a_fact_is_filed_under_all_that_it_names() {
        let device = DeviceKey([1; 32]);
        let filed = |line: &str| mentions(&Fact::from_line(&device, line).unwrap(), &device);
        assert_eq!(
            filed(r#"{"kind":"link","job":"J1","camera":" C1 ","tracker":77}"#),
            [
                Subject::Job("J1".into()),
                Subject::Camera("C1".into()),
                Subject::Tracker("77".into())
            ]
        );
        assert_eq!(
            filed(r#"{"kind":"scan","code":"C9","what":"camera"}"#),
            [Subject::Camera("C9".into())]
        );
        assert_eq!(filed(r#"{"kind":"scan","code":"C9"}"#), [Subject::Code("C9".into())]);
        assert_eq!(filed(r#"{"kind":"weigh-in"}"#), [Subject::Device(device)]);
        assert_eq!(filed(r#"{"kind":"weigh-in","job":"J1"}"#), [Subject::Job("J1".into())]);
        assert_eq!(filed(r#"{"kind":"note","text":"x"}"#), []);
    }
}
