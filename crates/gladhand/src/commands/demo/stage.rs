//! The homes of the day, and what was done in them.

use std::path::{Path, PathBuf};

use gladhand_answers::findings::ShownFinding;
use gladhand_node::{IndexedFacts, Node};
use serde_json::Value;

use super::clock::{DayClock, Keys};
use super::data;
use super::story::Story;
use crate::commands::Context;
use crate::failure::Failure;
use crate::show;

/// The homes of the day, and what was done in them.
pub(super) struct Stage {
    pub(super) dir: PathBuf,
    pub(super) clock: DayClock,
    pub(super) keys: Keys,
    pub(super) bundles: usize,
    pub(super) facts: u64,
}

impl Stage {
    pub(super) fn new(dir: &Path, story: &Story) -> Result<Self, Failure> {
        Ok(Self {
            dir: dir.to_path_buf(),
            clock: DayClock::default(),
            keys: Keys::draw(story.devices())?,
            bundles: 0,
            facts: 0,
        })
    }

    pub(super) fn home(&self, device: &str) -> PathBuf {
        self.dir.join(device)
    }

    pub(super) fn open(&self, device: &str) -> Result<Node, Failure> {
        let environment = self.clock.environment();
        Ok(Node::open_with(&self.home(device), &show::Bar::new(), environment)?)
    }

    /// For a command that is carried out in the home of `device`.
    pub(super) fn context(&self, device: &str) -> Context {
        Context::new(self.home(device), false).with_environment(self.clock.environment())
    }

    /// The data files, as they would lie on a laptop's disk.
    pub(super) fn lay_out(&self) -> Result<(), Failure> {
        let folder = self.dir.join("data");
        let failed = |e: std::io::Error| Failure::failed(format!("cannot write {}: {e}", folder.display()));
        std::fs::create_dir_all(&folder).map_err(failed)?;
        std::fs::create_dir_all(self.dir.join("sticks")).map_err(failed)?;
        let mut files = data::FILES.iter().chain(data::PICTURES);
        files.try_for_each(|(name, bytes)| std::fs::write(folder.join(name), bytes).map_err(failed))
    }

    pub(super) fn findings(&self, device: &str) -> Result<Vec<ShownFinding>, Failure> {
        let mut node = self.open(device)?;
        let found = node.findings()?;
        let found = ShownFinding::all(&found, &IndexedFacts::new(&node));
        node.close()?;
        Ok(found)
    }

    /// Devices that hold the same facts give the same answer, byte for byte.
    pub(super) fn must_find_the_same(&self, device: &str, other: &str) -> Result<(), Failure> {
        let bytes = |device| serde_json::to_vec(&self.findings(device)?).map_err(Failure::failed);
        if bytes(device)? == bytes(other)? {
            Ok(())
        } else {
            Err(Failure::failed(format!(
                "{device} does not show the findings that {other} shows"
            )))
        }
    }

    /// The depot must show just the findings that the day is known to hold.
    pub(super) fn compare(&self, device: &str) -> Result<(), Failure> {
        let expected: Value = serde_json::from_str(data::EXPECTED).map_err(Failure::failed)?;
        let key = |v: &Value| {
            ["rule", "subject", "severity", "standing", "status"]
                .map(|k| v.get(k).cloned().unwrap_or_default().to_string())
        };
        let listed = expected
            .get("findings")
            .and_then(Value::as_array)
            .cloned()
            .unwrap_or_default();
        let mut want: Vec<_> = listed.iter().map(key).collect();
        let found = serde_json::to_value(self.findings(device)?).map_err(Failure::failed)?;
        let mut got: Vec<_> = found.as_array().into_iter().flatten().map(key).collect();
        want.sort();
        got.sort();
        if want != got {
            return Err(Failure::failed(format!(
                "the findings are not those that this day holds:\nwanted {want:#?}\ngot {got:#?}"
            )));
        }
        show::line(&format!(
            "{} facts on four devices, {} bundles, {} findings: just those that this day was made to hold.",
            self.facts,
            self.bundles,
            got.len()
        ))
    }
}
