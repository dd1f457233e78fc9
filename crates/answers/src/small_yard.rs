//! A depot and a laptop in real homes, for the tests of this crate.

use std::sync::Arc;

use gladhand_facts::Fact;
use gladhand_node::config::{Config, Role};
use gladhand_node::{Environment, Node, Silent};
use tempfile::TempDir;

/// 2026-03-02T12:00:00Z.
const NOON_US: i64 = 1_772_452_800_000_000;

/// Two devices that know of each other; neither clock was measured.
pub struct SmallYard {
    dir: TempDir,
    /// The depot `harrow-street`.
    pub depot: Node,
    /// The laptop `lap-mara`.
    pub mara: Node,
    carried: u32,
}

impl SmallYard {
    pub fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let open = |name: &str, role| {
            let environment = Environment {
                now_us: Arc::new(|| NOON_US),
                ..Environment::machine()
            };
            Node::create_with(&dir.path().join(name), &Config::new(name, role, name, ""), environment).unwrap()
        };
        let depot = open("harrow-street", Role::Depot);
        let mut mara = open("lap-mara", Role::Laptop);
        mara.join(&depot.invite("", 86_400).unwrap().to_line()).unwrap();
        let mut yard = Self {
            dir,
            depot,
            mara,
            carried: 0,
        };
        yard.carry_to_depot();
        yard.carry_to_mara();
        yard
    }

    /// The depot learns what Mara holds.
    pub fn carry_to_depot(&mut self) {
        let file = self.next_bundle();
        self.mara.write_bundle(&file, &Default::default(), &Silent).unwrap();
        self.depot.read_bundle(&file, &Silent).unwrap();
        self.depot.judge().unwrap();
    }

    /// Mara learns what the depot holds.
    pub fn carry_to_mara(&mut self) {
        let file = self.next_bundle();
        self.depot.write_bundle(&file, &Default::default(), &Silent).unwrap();
        self.mara.read_bundle(&file, &Silent).unwrap();
        self.mara.judge().unwrap();
    }

    fn next_bundle(&mut self) -> std::path::PathBuf {
        self.carried += 1;
        self.dir.path().join(format!("{}.bundle", self.carried))
    }
}

/// Records facts that are given as JSON without their time; they happen in the minutes after 12:00 UTC.
pub fn record(node: &mut Node, lines: &[impl AsRef<str>]) {
    for (minute, line) in lines.iter().enumerate() {
        let line = line
            .as_ref()
            .replacen('{', &format!(r#"{{"at":"2026-03-02T12:{minute:02}:00Z","#), 1);
        let fact = Fact::from_line(&node.device(), &line).unwrap();
        node.record(vec![fact]).unwrap();
    }
    node.judge().unwrap();
}
