//! What the steps of the day do, and what comes of them. Nothing here prints: the story does that.

use gladhand_answers::resolve;
use std::path::Path;

use gladhand_facts::Fact;
use gladhand_logbook::branches;
use serde_json::{Map, Value};

use super::stage::Stage;
use super::story::Action;
use crate::failure::Failure;
use crate::show;
use gladhand_node::Node;
use gladhand_node::config::{Config, Role};
use gladhand_node::input::{self, Format};
use gladhand_reconcile::Subject;

/// How many facts share an fsync here.
const BATCH: usize = 512;

/// What a step came to.
pub(super) enum Done {
    /// A home was made.
    SetUp {
        device: String,
        depot: bool,
        person: String,
        key: String,
    },
    /// A device joined the depot.
    Joined { device: String },
    /// A file was recorded.
    Recorded { device: String, file: String, facts: u64 },
    /// One node wrote a bundle, another read it.
    Carried(Carried),
    /// A finding was settled.
    Ruled {
        device: String,
        finding: String,
        ruling: String,
        why: String,
    },
    /// Nothing but looking.
    Nothing,
}

/// A bundle that was written and read.
pub(super) struct Carried {
    pub(super) from: String,
    pub(super) to: String,
    /// How it was carried.
    pub(super) by: String,
    pub(super) file: String,
    pub(super) bytes: u64,
    pub(super) entries: u64,
    /// Whom the depot enrolled when it had read it.
    pub(super) enrolled: Vec<String>,
}

impl Stage {
    /// Does what the step does.
    pub(super) fn carry_out(&mut self, action: &Action) -> Result<Done, Failure> {
        match action {
            Action::Setup { device, depot, person } => self.set_up(device, *depot, person),
            Action::Join { device } => self.join(device),
            Action::Record { device, file } => self.record(device, file),
            Action::Bundle { from, to, by } => self.carry(from, to, by).map(Done::Carried),
            Action::Ruling {
                device,
                rule,
                subject,
                fact,
            } => self.rule(device, rule, subject, fact.clone()),
            Action::Show { .. } => Ok(Done::Nothing),
        }
    }

    fn set_up(&self, device: &str, depot: bool, person: &str) -> Result<Done, Failure> {
        let role = if depot { Role::Depot } else { Role::Laptop };
        let config = Config::new(device, role, person, "");
        let environment = self.keys.environment_for(device, self.clock.environment());
        let node = Node::create_with(&self.home(device), &config, environment)?;
        let key = node.device().short();
        node.close()?;
        Ok(Done::SetUp {
            device: device.to_owned(),
            depot,
            person: person.to_owned(),
            key,
        })
    }

    fn join(&self, device: &str) -> Result<Done, Failure> {
        let depot = self.open("harrow-street")?;
        let line = depot.invite("", 72 * 3600)?.to_line();
        depot.close()?;
        let mut node = self.open(device)?;
        node.join(&line)?;
        node.close()?;
        Ok(Done::Joined {
            device: device.to_owned(),
        })
    }

    fn record(&mut self, device: &str, file: &str) -> Result<Done, Failure> {
        let mut node = self.open(device)?;
        let facts = record_file(&mut node, &self.dir.join("data"), file)?;
        node.close()?;
        self.facts += facts;
        Ok(Done::Recorded {
            device: device.to_owned(),
            file: file.to_owned(),
            facts,
        })
    }

    fn carry(&mut self, from: &str, to: &str, by: &str) -> Result<Carried, Failure> {
        self.bundles += 1;
        let name = format!("sticks/{:02}-{from}-to-{to}.bundle", self.bundles);
        let file = self.dir.join(&name);
        let sender = self.open(from)?;
        let since = resolve::device(&sender, to)
            .map(|d| branches::surely_held_by(sender.book(), &d))
            .unwrap_or_default();
        let written = sender.write_bundle(&file, &since, &show::Bar::new())?;
        sender.close()?;
        let mut receiver = self.open(to)?;
        let read = receiver.read_bundle(&file, &show::Bar::new())?;
        receiver.close()?;
        if let Some(why) = read.refused.first().or(read.damaged.first()) {
            return Err(Failure::failed(format!("{name}: {why}")));
        }
        Ok(Carried {
            from: from.to_owned(),
            to: to.to_owned(),
            by: by.to_owned(),
            file: name,
            bytes: written.bytes,
            entries: read.entries,
            enrolled: read.enrolled,
        })
    }

    fn rule(&mut self, device: &str, rule: &str, subject: &str, mut fact: Map<String, Value>) -> Result<Done, Failure> {
        let mut node = self.open(device)?;
        let mut found = node.findings()?.into_iter();
        let is_it = |of: &Subject| Subject::from_text(of.class(), subject).as_ref() == Some(of);
        let found = found.find(|f| f.rule == rule && is_it(&f.subject));
        let found =
            found.ok_or_else(|| Failure::failed(format!("no finding {rule} on {subject} is here to be settled")))?;
        let word = |key: &str| fact.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
        let done = Done::Ruled {
            device: device.to_owned(),
            finding: found.id.clone(),
            ruling: word("ruling"),
            why: word("why"),
        };
        fact.insert("kind".into(), "ruling".into());
        fact.insert("finding".into(), found.id.into());
        let fact = Fact::from_map(&node.device(), fact).map_err(Failure::failed)?;
        self.facts += node.record(vec![fact])?.len() as u64;
        node.close()?;
        Ok(done)
    }
}

/// Records a file of `folder`, and says how many facts it held.
fn record_file(node: &mut Node, folder: &Path, file: &str) -> Result<u64, Failure> {
    let path = folder.join(file);
    let source = std::fs::File::open(&path).map_err(|e| Failure::failed(format!("{}: {e}", path.display())))?;
    let (mut facts, mut count) = (Vec::new(), 0u64);
    let mut sink = |line: input::InputLine| -> Result<(), Failure> {
        let wrong = |why: String| Failure::failed(format!("{file}, line {}: {why}", line.number));
        let map = line.object.map_err(wrong)?;
        let mut fact = Fact::from_map(&node.device(), map).map_err(|e| wrong(e.to_string()))?;
        if let Some(warning) = node.keep_picture(&mut fact, folder)? {
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
    Ok(count)
}
