//! `demo`: a day in Tolland yard, played with real homes, real bundles and the same commands that a person would type.
//!
//! The story is data (`demo-data/story.toml`); this file only plays it. The files are compiled in, so that the demo runs
//! from anywhere. At the end the depot's findings are compared with what the day is known to hold, and the demo fails if they
//! differ.

mod data;
mod story;

use std::path::{Path, PathBuf};

use gladhand_facts::Fact;
use serde_json::Value;

use self::story::{Action, Show, Story};
use super::{Context, findings, history, report, status};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::Node;
use gladhand_node::config::{Config, Role};
use gladhand_node::input::{self, Format};

/// How many facts share an fsync here.
const BATCH: usize = 512;

struct Stage {
    dir: PathBuf,
    bundles: usize,
    facts: u64,
}

/// Plays the day in `dir`, or in a temporary folder that is removed afterwards.
pub fn demo(dir: Option<&Path>) -> Outcome {
    let story = Story::read(data::STORY)?;
    let kept = dir.is_some();
    let dir = match dir {
        Some(dir) => new_folder(dir)?,
        None => new_folder(&std::env::temp_dir().join(format!("gladhand-demo-{}", std::process::id())))?,
    };
    let mut stage = Stage {
        dir: dir.clone(),
        bundles: 0,
        facts: 0,
    };
    let outcome = play(&mut stage, &story);
    if kept {
        outcome?;
        show::line(&format!(
            "\nThe homes are kept in {}. Go on by hand, for example:",
            dir.display()
        ))?;
        show::line(&format!(
            "  gladhand --home {} findings --open",
            stage.home("harrow-street").display()
        ))?;
    } else {
        std::fs::remove_dir_all(&dir).ok();
        outcome?;
    }
    Ok(Exit::Done)
}

fn play(stage: &mut Stage, story: &Story) -> Result<(), Failure> {
    stage.lay_out()?;
    show::line(&format!("{}\n{}", story.title, "=".repeat(story.title.chars().count())))?;
    show::line("One depot and three laptops, each a real home on this disk. Nothing below uses a network.\n")?;
    let total = story.step.len();
    for (number, step) in story.step.iter().enumerate() {
        show::line(&format!("[{}/{total}] {}", number + 1, step.title))?;
        stage.play_step(&step.action)?;
        show::line("")?;
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
    fn home(&self, device: &str) -> PathBuf {
        self.dir.join(device)
    }

    fn open(&self, device: &str) -> Result<Node, Failure> {
        Ok(Node::open(&self.home(device), &show::Bar::new())?)
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

    fn play_step(&mut self, action: &Action) -> Result<(), Failure> {
        match action {
            Action::Setup { device, depot, person } => self.setup(device, *depot, person),
            Action::Join { device } => self.join(device),
            Action::Record { device, file } => self.record(device, file),
            Action::Bundle { from, to, by } => self.carry(from, to, by),
            Action::Show { device, show } => self.show(device, show),
            Action::Ruling {
                device,
                rule,
                subject,
                fact,
            } => self.rule(device, rule, subject, fact.clone()),
        }
    }

    fn command(&self, device: &str, words: &str) -> Result<(), Failure> {
        show::line(&format!("  $ gladhand --home {device} {words}"))
    }

    fn setup(&self, device: &str, depot: bool, person: &str) -> Result<(), Failure> {
        let flag = if depot { "--depot " } else { "" };
        self.command(device, &format!("setup {flag}--name {device} --person {person}"))?;
        let role = if depot { Role::Depot } else { Role::Laptop };
        let node = Node::create(&self.home(device), &Config::new(device, role, person, ""))?;
        show::line(&format!("  device key {}…", node.device().short()))?;
        Ok(node.close()?)
    }

    fn join(&self, device: &str) -> Result<(), Failure> {
        let depot = self.open("harrow-street")?;
        let line = depot.invite("", 72 * 3600)?.to_line();
        depot.close()?;
        self.command("harrow-street", "invite > invite.txt")?;
        self.command(device, "join invite.txt")?;
        let mut node = self.open(device)?;
        node.join(&line)?;
        Ok(node.close()?)
    }

    fn record(&mut self, device: &str, file: &str) -> Result<(), Failure> {
        self.command(device, &format!("record data/{file}"))?;
        let mut node = self.open(device)?;
        let folder = self.dir.join("data");
        let path = folder.join(file);
        let source = std::fs::File::open(&path).map_err(|e| Failure::failed(format!("{}: {e}", path.display())))?;
        let (mut facts, mut count) = (Vec::new(), 0u64);
        let mut sink = |line: input::InputLine| -> Result<(), Failure> {
            let wrong = |why: String| Failure::failed(format!("{file}, line {}: {why}", line.number));
            let map = line.object.map_err(wrong)?;
            let mut fact = Fact::from_map(&node.device(), map).map_err(|e| wrong(e.to_string()))?;
            if let Some(warning) = node.keep_picture(&mut fact, &folder)? {
                show::aside(&format!("  {warning}"));
            }
            facts.push(fact);
            if facts.len() >= BATCH {
                count += node.record(std::mem::take(&mut facts))?.len() as u64;
            }
            Ok(())
        };
        input::read_lines(&mut std::io::BufReader::new(source), Format::of_name(file), &mut sink)?;
        count += node.record(facts)?.len() as u64;
        self.facts += count;
        node.close()?;
        show::line(&format!(
            "  {} durable, each with a receipt",
            show::counted(count, "fact", "facts")
        ))
    }

    fn carry(&mut self, from: &str, to: &str, by: &str) -> Result<(), Failure> {
        self.bundles += 1;
        let name = format!("sticks/{:02}-{from}-to-{to}.bundle", self.bundles);
        let file = self.dir.join(&name);
        self.command(from, &format!("bundle write {name} --for {to}"))?;
        let sender = self.open(from)?;
        let since = super::resolve::device(&sender, to)
            .map(|d| gladhand_logbook::branches::surely_held_by(sender.book(), &d))
            .unwrap_or_default();
        let written = sender.write_bundle(&file, &since, &show::Bar::new())?;
        sender.close()?;
        self.command(to, &format!("bundle read {name}"))?;
        let mut receiver = self.open(to)?;
        let read = receiver.read_bundle(&file, &show::Bar::new())?;
        receiver.close()?;
        if let Some(why) = read.refused.first().or(read.damaged.first()) {
            return Err(Failure::failed(format!("{name}: {why}")));
        }
        let entries = show::counted(read.entries, "entry", "entries");
        show::line(&format!("  {by}: {} bytes, {entries} new", written.bytes))?;
        read.enrolled
            .iter()
            .try_for_each(|name| show::line(&format!("  the depot enrols {name}")))
    }

    fn show(&self, device: &str, what: &Show) -> Result<(), Failure> {
        let context = Context::new(self.home(device), false);
        match what {
            Show::Findings { rule, open } => {
                let flags = rule
                    .iter()
                    .map(|r| format!(" --rule {r}"))
                    .chain(open.then(|| " --open".to_owned()));
                self.command(device, &format!("findings{}", flags.collect::<String>()))?;
                let args = cli::Findings {
                    rule: rule.clone(),
                    open: *open,
                    ..cli::Findings::default()
                };
                findings::findings(&context, &args)
            }
            Show::History { job, camera } => {
                let flags = [("job", job), ("camera", camera)];
                let flags = flags
                    .iter()
                    .filter_map(|(k, v)| v.as_ref().map(|v| format!(" --{k} {v}")));
                self.command(device, &format!("history{}", flags.collect::<String>()))?;
                let args = cli::History {
                    job: job.clone(),
                    camera: camera.clone(),
                    ..cli::History::default()
                };
                history::history(&context, &args)
            }
            Show::Status => {
                self.command(device, "status")?;
                status::status(&context)
            }
            Show::Report { from, to, yard } => {
                let flags = [("from", from), ("to", to), ("yard", yard)];
                let flags = flags
                    .iter()
                    .filter_map(|(k, v)| v.as_ref().map(|v| format!(" --{k} {v}")));
                self.command(device, &format!("report{}", flags.collect::<String>()))?;
                let (from, to, yard) = (from.clone(), to.clone(), yard.clone());
                let args = cli::Report {
                    from,
                    to,
                    yard,
                    fleet: None,
                    format: None,
                    gate: false,
                };
                report::report(&context, &args)
            }
        }
        .map(drop)
    }

    fn rule(
        &mut self,
        device: &str,
        rule: &str,
        subject: &str,
        mut fact: serde_json::Map<String, Value>,
    ) -> Result<(), Failure> {
        let mut node = self.open(device)?;
        let found = node
            .findings()?
            .into_iter()
            .find(|f| f.rule == rule && f.subject.text() == subject);
        let found =
            found.ok_or_else(|| Failure::failed(format!("no finding {rule} on {subject} is here to be settled")))?;
        let word = |key: &str| fact.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
        self.command(
            device,
            &format!(
                "ruling {} --ruling {} --why '{}'",
                found.id,
                word("ruling"),
                word("why")
            ),
        )?;
        fact.insert("kind".into(), "ruling".into());
        fact.insert("finding".into(), found.id.into());
        let fact = Fact::from_map(&node.device(), fact).map_err(Failure::failed)?;
        self.facts += node.record(vec![fact])?.len() as u64;
        Ok(node.close()?)
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
        let mut node = self.open(device)?;
        let found = node.findings()?;
        let found = serde_json::to_value(node.told(&found, None)).map_err(Failure::failed)?;
        node.close()?;
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
