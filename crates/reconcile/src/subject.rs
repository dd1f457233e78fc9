//! What a fact is about, and under which subjects it is filed.
//!
//! Key bytes of an index (stable, in the order of the text, no key a prefix of another): one letter for the
//! class, then for a device its 32 key bytes, for all others the UTF-8 text with each 0 byte written as
//! `00 ff`, ended by `00 00`.

use std::borrow::Cow;
use std::fmt;

use gladhand_facts::fact::{WITHDRAWN, as_text};
use gladhand_facts::{DeviceKey, Fact, Kind, code_key, name_key};
use serde::{Deserialize, Serialize};
use serde_json::Value;

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
    /// A picture, by the BLAKE3 of its bytes.
    Picture,
    /// The list of one sort of part that belongs to one fleet.
    List,
}

impl Class {
    /// All of them, in order.
    pub const ALL: [Self; 9] = [
        Self::Job,
        Self::Camera,
        Self::Tracker,
        Self::Trailer,
        Self::Code,
        Self::Device,
        Self::Finding,
        Self::Picture,
        Self::List,
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
            Self::Picture => "picture",
            Self::List => "list",
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
            Self::Picture => b'p',
            Self::List => b'l',
        }
    }
}

/// What a fact, or a finding, is about.
///
/// Jobs, parts and trailers are held by their keys ([`gladhand_facts::key`]), so that two spellings are one subject: make them
/// with the functions of the same names, which take what was written.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Subject {
    /// A job by the key of its name.
    Job(String),
    /// A camera by the key of its code.
    Camera(String),
    /// A tracker by the key of its code.
    Tracker(String),
    /// A trailer by the key of its unit number.
    Trailer(String),
    /// A code by its key; see [`Class::Code`].
    Code(String),
    /// A device by its key.
    Device(DeviceKey),
    /// A finding by its id.
    Finding(String),
    /// A picture by its hash, in hexadecimal.
    Picture(String),
    /// A list, as `camera` or `tracker`, a space, and the key of the fleet.
    List(String),
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
            Self::Picture(_) => Class::Picture,
            Self::List(_) => Class::List,
        }
    }

    /// Its name without the class: a code, a job, the hexadecimal key of a device.
    pub fn text(&self) -> Cow<'_, str> {
        match self {
            Self::Job(s)
            | Self::Camera(s)
            | Self::Tracker(s)
            | Self::Trailer(s)
            | Self::Code(s)
            | Self::Finding(s)
            | Self::Picture(s)
            | Self::List(s) => Cow::Borrowed(s),
            Self::Device(key) => Cow::Owned(key.to_string()),
        }
    }

    /// The job of that name.
    pub fn job(name: &str) -> Self {
        Self::Job(name_key(name))
    }

    /// The camera of that code.
    pub fn camera(code: &str) -> Self {
        Self::Camera(code_key(code))
    }

    /// The tracker of that code.
    pub fn tracker(code: &str) -> Self {
        Self::Tracker(code_key(code))
    }

    /// The trailer of that unit number.
    pub fn trailer(number: &str) -> Self {
        Self::Trailer(code_key(number))
    }

    /// That code.
    pub fn code(code: &str) -> Self {
        Self::Code(code_key(code))
    }

    /// The list of `sort` (`camera`, `tracker`) for a fleet.
    pub fn list(sort: &str, fleet: &str) -> Self {
        Self::List(format!("{sort} {}", name_key(fleet)))
    }

    /// The subject of `class` with that name, however it is spelled; `None` when a device's name is not a key.
    pub fn from_text(class: Class, text: &str) -> Option<Self> {
        Some(match class {
            Class::Job => Self::job(text),
            Class::Camera => Self::camera(text),
            Class::Tracker => Self::tracker(text),
            Class::Trailer => Self::trailer(text),
            Class::Code => Self::code(text),
            Class::Device => Self::Device(text.parse().ok()?),
            Class::Finding => Self::Finding(text.to_owned()),
            Class::Picture => Self::Picture(text.to_owned()),
            Class::List => Self::List(text.to_owned()),
        })
    }

    fn from_key_text(class: Class, text: String) -> Option<Self> {
        Some(match class {
            Class::Job => Self::Job(text),
            Class::Camera => Self::Camera(text),
            Class::Tracker => Self::Tracker(text),
            Class::Trailer => Self::Trailer(text),
            Class::Code => Self::Code(text),
            other => return Self::from_text(other, &text),
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
        Some((Self::from_key_text(class, text)?, used + 1))
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

/// Where the device notes what the finding that a ruling settles is about: `{"job": "J1"}`. A ruling is filed there too, so that
/// what somebody ruled on never vanishes.
pub const RULED_ON: &str = "ruled_on";

/// Under which subjects a fact recorded by `device` is filed, sorted, each once.
///
/// A fact of an unknown kind that names no job is filed under its device, so that it is reported somewhere. A withdrawal is filed
/// where the withdrawn fact is, by the keys that its recorder noted in it.
pub fn mentions(fact: &Fact, device: &DeviceKey) -> Vec<Subject> {
    let mut found = named(&|key| fact.text(key).map(Cow::into_owned), fact.kind());
    if let Some(Value::Object(withdrawn)) = fact.get(WITHDRAWN).filter(|_| *fact.kind() == Kind::Withdraw) {
        let text = |key: &str| withdrawn.get(key).and_then(as_text).map(Cow::into_owned);
        let kind = text("kind").map(|name| Kind::parse(&name));
        found.extend(named(&text, &kind.unwrap_or(Kind::Withdraw)));
    }
    if let Some(Value::Object(about)) = fact.get(RULED_ON).filter(|_| *fact.kind() == Kind::Ruling) {
        let subject = |(class, text): (&String, &Value)| {
            let class = Class::ALL.into_iter().find(|c| c.name() == class)?;
            Subject::from_text(class, &as_text(text)?)
        };
        found.extend(about.iter().filter_map(subject));
    }
    let is_homeless = !fact.kind().is_known() && fact.text("job").is_none();
    if is_homeless || *fact.kind() == Kind::Clock {
        found.push(Subject::Device(*device));
    }
    found.retain(|subject| !subject.text().is_empty());
    found.sort();
    found.dedup();
    found
}

/// What the keys of a fact name.
fn named(text: &dyn Fn(&str) -> Option<String>, kind: &Kind) -> Vec<Subject> {
    let of = |key: &str, subject: fn(&str) -> Subject| text(key).map(|code| subject(&code));
    let mut found: Vec<Subject> = of("job", Subject::job).into_iter().collect();
    found.extend(of("camera", Subject::camera));
    found.extend(of("tracker", Subject::tracker));
    found.extend(of("trailer", Subject::trailer));
    found.extend(of("vin", Subject::code));
    match kind {
        Kind::Scan => {
            let subject = match text("what").as_deref() {
                Some("camera") => Subject::camera,
                Some("tracker") => Subject::tracker,
                Some("trailer") => Subject::trailer,
                _ => Subject::code,
            };
            found.extend(of("code", subject));
        }
        Kind::Ruling => found.extend(text("finding").map(Subject::Finding)),
        Kind::Proof => found.extend(named_picture(text).map(Subject::Picture)),
        Kind::Stock => {
            let fleet = text("fleet").unwrap_or_default();
            let sorts = ["camera", "tracker"].into_iter().filter(|sort| text(sort).is_some());
            // A trailer's tracker comes with the trailer; it makes no list of trackers.
            let sorts = sorts.filter(|_| text("trailer").is_none());
            found.extend(sorts.map(|sort| Subject::list(sort, &fleet)));
        }
        _ => {}
    }
    found
}

/// The hash of the picture that a fact names: of the bytes that the device held, or as the line gives it. A file's name alone says
/// nothing about the bytes.
pub(crate) fn picture_of(fact: &Fact) -> Option<String> {
    named_picture(&|key| fact.text(key).map(Cow::into_owned))
}

fn named_picture(text: &dyn Fn(&str) -> Option<String>) -> Option<String> {
    let by_hash = |key| {
        let named = text(key)?;
        let hash = named.strip_prefix("blake3:")?.to_ascii_lowercase();
        (hash.len() == 64 && hash.bytes().all(|b| b.is_ascii_hexdigit())).then_some(hash)
    };
    by_hash("picture_blake3").or_else(|| by_hash("picture"))
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
                Subject::Job("j1".into()),
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
        assert_eq!(filed(r#"{"kind":"weigh-in","job":"J1"}"#), [Subject::Job("j1".into())]);
        assert_eq!(filed(r#"{"kind":"note","text":"x"}"#), []);
        assert_eq!(
            filed(
                r#"{"kind":"withdraw","fact":"ab","why":"slip","withdrawn":{"kind":"scan","code":"c-9","what":"camera"}}"#
            ),
            [Subject::Camera("C9".into())]
        );
        assert_eq!(
            filed(r#"{"kind":"stock","fleet":"Larkspur Freight","trailer":"LF 53","tracker":"T-1"}"#),
            [Subject::Tracker("T1".into()), Subject::Trailer("LF53".into())]
        );
        let picture = format!(
            r#"{{"kind":"proof","job":"J1","state":"taken","picture":"blake3:{}"}}"#,
            "AB".repeat(32)
        );
        assert_eq!(
            filed(&picture),
            [Subject::Job("j1".into()), Subject::Picture("ab".repeat(32))]
        );
    }
}
