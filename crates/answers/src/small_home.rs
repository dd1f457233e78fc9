//! A small real home for tests, and what an answer looks like to a script and to a person.

use std::fmt::Debug;
use std::path::PathBuf;

use gladhand_facts::Fact;
use gladhand_node::{Config, Node, Role};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::text::{Page, Piece, Text};

/// A node in a home of its own, which goes away with it.
pub struct SmallHome {
    pub dir: tempfile::TempDir,
    pub node: Node,
}

impl SmallHome {
    /// A depot: Harrow Street.
    pub fn depot() -> Self {
        Self::new("harrow-street", Role::Depot)
    }

    /// An installer's laptop.
    pub fn laptop() -> Self {
        Self::new("laptop-mara", Role::Laptop)
    }

    fn new(name: &str, role: Role) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let node = Node::create(&dir.path().join("home"), &Config::new(name, role, "mara", "")).unwrap();
        Self { dir, node }
    }

    /// Records facts, each given as its JSON.
    pub fn record(&mut self, facts: &[&str]) {
        let device = self.node.device();
        let fact = |json: &&str| Fact::from_map(&device, serde_json::from_str(json).unwrap()).unwrap();
        self.node.record(facts.iter().map(fact).collect()).unwrap();
    }

    /// A file beside the home.
    pub fn file(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }
}

/// The answer as JSON. Read back it must be the same answer, so that a process that has only the JSON can render it.
pub fn through_json<A>(answer: &A) -> Value
where
    A: Serialize + DeserializeOwned + PartialEq + Debug,
{
    let json = serde_json::to_value(answer).unwrap();
    let back: A = serde_json::from_value(json.clone()).unwrap();
    assert_eq!(back, *answer);
    json
}

/// The keys of an answer.
pub fn keys(answer: &impl Serialize) -> Vec<String> {
    let Value::Object(map) = serde_json::to_value(answer).unwrap() else {
        panic!("an answer is an object");
    };
    map.keys().cloned().collect()
}

/// An answer as text: data as it is, asides after `~`, warnings after `!`.
pub fn shown(answer: &impl Text) -> String {
    let pieces = answer.text(Page::default()).into_iter();
    let shown = pieces.map(|piece| match piece {
        Piece::Out(text) => text,
        Piece::Aside(text) => format!("~{text}\n"),
        Piece::Warning(text) => format!("!{text}\n"),
    });
    shown.collect()
}
