//! `demo`: a day in Tolland yard, played with real homes, real bundles and the same commands that a person would type.
//!
//! The story is data (`demo-data/story.toml`); this file only plays it, on the day's own clock ([`clock`]), and tells it in one
//! of two ways: [`short`] for one screen, [`whole`] with every command and all that it says. The files are compiled in, so that
//! the demo runs from anywhere. At the end the depot's findings are compared with what the day is known to hold, and the demo
//! fails if they differ.

mod acts;
mod clock;
mod data;
mod short;
mod story;
mod whole;

use std::path::{Path, PathBuf};

use gladhand_answers::findings::ShownFinding;
use serde_json::Value;

use self::acts::Done;
use self::clock::{DayClock, Keys};
use self::short::Short;
use self::story::{Action, Show, Step, Story};
use self::whole::Whole;
use super::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::{IndexedFacts, Node};

/// The homes of the day, and what was done in them.
struct Stage {
    dir: PathBuf,
    clock: DayClock,
    keys: Keys,
    bundles: usize,
    facts: u64,
}

/// How the day is told.
trait Telling {
    /// What it is called.
    fn begin(&mut self, story: &Story) -> Result<(), Failure>;
    /// A step begins.
    fn step(&mut self, number: usize, total: usize, step: &Step) -> Result<(), Failure>;
    /// What came of it.
    fn done(&mut self, done: &Done) -> Result<(), Failure>;
    /// The step looks at something.
    fn show(&mut self, stage: &Stage, device: &str, show: &Show) -> Result<(), Failure>;
    /// The step is over.
    fn end_step(&mut self) -> Result<(), Failure>;
}

/// Plays the day in `dir`, or in a temporary folder that is removed afterwards; `all`: with all that each command says.
pub fn demo(dir: Option<&Path>, all: bool) -> Outcome {
    let story = Story::read(data::STORY)?;
    let kept = dir.is_some();
    let dir = match dir {
        Some(dir) => new_folder(dir)?,
        None => new_folder(&std::env::temp_dir().join(format!("gladhand-demo-{}", std::process::id())))?,
    };
    let outcome = Stage::new(&dir, &story).and_then(|mut stage| {
        if all {
            play(&mut stage, &story, &mut Whole)
        } else {
            play(&mut stage, &story, &mut Short::default())
        }
    });
    if kept {
        outcome?;
        tell_where_it_is(&dir)?;
    } else {
        std::fs::remove_dir_all(&dir).ok();
        outcome?;
    }
    if !all {
        show::line("With every command and all that it says: gladhand demo --all")?;
    }
    Ok(Exit::Done)
}

fn tell_where_it_is(dir: &Path) -> Result<(), Failure> {
    let depot = dir.join("harrow-street");
    show::line(&format!(
        "\nThe homes are kept in {}. Go on by hand, for example:",
        dir.display()
    ))?;
    show::line(&format!("  gladhand --home {} findings --open", depot.display()))
}

fn play(stage: &mut Stage, story: &Story, telling: &mut dyn Telling) -> Result<(), Failure> {
    stage.lay_out()?;
    telling.begin(story)?;
    let total = story.step.len();
    for (number, step) in (1..).zip(&story.step) {
        stage.clock.set(&step.time)?;
        telling.step(number, total, step)?;
        match &step.action {
            Action::Show { device, show } => telling.show(stage, device, show)?,
            action => telling.done(&stage.carry_out(action)?)?,
        }
        telling.end_step()?;
    }
    stage.compare("harrow-street")
}

fn new_folder(dir: &Path) -> Result<PathBuf, Failure> {
    let taken = std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if taken {
        return Err(
            Failure::bad_input(format!("{} is not empty", dir.display())).hint("Name a new folder for the demo.")
        );
    }
    std::fs::create_dir_all(dir).map_err(|e| Failure::failed(format!("cannot make {}: {e}", dir.display())))?;
    Ok(dir.to_path_buf())
}

impl Stage {
    fn new(dir: &Path, story: &Story) -> Result<Self, Failure> {
        Ok(Self {
            dir: dir.to_path_buf(),
            clock: DayClock::default(),
            keys: Keys::draw(story.devices())?,
            bundles: 0,
            facts: 0,
        })
    }

    fn home(&self, device: &str) -> PathBuf {
        self.dir.join(device)
    }

    fn open(&self, device: &str) -> Result<Node, Failure> {
        let environment = self.clock.environment();
        Ok(Node::open_with(&self.home(device), &show::Bar::new(), environment)?)
    }

    /// For a command that is carried out in the home of `device`.
    fn context(&self, device: &str) -> Context {
        Context::new(self.home(device), false).with_environment(self.clock.environment())
    }

    /// The data files, as they would lie on a laptop's disk.
    fn lay_out(&self) -> Result<(), Failure> {
        let folder = self.dir.join("data");
        let failed = |e: std::io::Error| Failure::failed(format!("cannot write {}: {e}", folder.display()));
        std::fs::create_dir_all(&folder).map_err(failed)?;
        std::fs::create_dir_all(self.dir.join("sticks")).map_err(failed)?;
        data::FILES
            .iter()
            .try_for_each(|(name, bytes)| std::fs::write(folder.join(name), bytes).map_err(failed))
    }

    fn findings(&self, device: &str) -> Result<Vec<ShownFinding>, Failure> {
        let mut node = self.open(device)?;
        let found = node.findings()?;
        let found = ShownFinding::all(&found, &IndexedFacts::new(&node));
        node.close()?;
        Ok(found)
    }

    /// Whoever holds the same facts gives the same answer, byte for byte.
    fn must_find_the_same(&self, device: &str, other: &str) -> Result<(), Failure> {
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
    fn compare(&self, device: &str) -> Result<(), Failure> {
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
