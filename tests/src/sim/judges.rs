//! What must hold whatever happens. Each judge knows the rules of the house and nothing of how they are kept.
//!
//! - An acknowledged fact stays where its receipt says, as long as one disk that held it is whole.
//! - Equal histories give byte-equal findings and reports, whoever asks, whenever, after whatever.
//! - An open finding goes only when facts that have to do with it, or a ruling on it, or a record of the depot came in.
//! - In the end all hold the same, all of it verifies, and what is kept about findings is what judging anew gives.

use std::collections::{BTreeMap, BTreeSet};

use gladhand_facts::{FactId, LogId, VersionVector};
use gladhand_logbook::{Body, Entry};
use gladhand_node::{Node, Silent, entry_facts};
use gladhand_reconcile::{Filter, Finding};
use gladhand_store::testing::Faults;

use super::World;
use super::device::Device;
use super::world::Told;

/// What the judges have seen so far.
#[derive(Default)]
pub struct Seen {
    /// For each history that anybody had: who showed it first, and what it came to.
    shown: BTreeMap<[u8; 32], (String, blake3::Hash, String)>,
    /// For each device: its history and findings when it was judged last.
    last: BTreeMap<String, (VersionVector, BTreeMap<String, Finding>)>,
}

/// The words of a text that might name something: what stands between quotes in JSON.
fn words(json: &str) -> impl Iterator<Item = &str> {
    let told_by_many = ["Larkspur Freight", "Tolland", "job", "note"];
    json.split('"')
        .filter(move |w| w.len() > 3 && !told_by_many.contains(w))
}

impl World {
    /// Judges one device, as it is now.
    pub(super) fn judge(&mut self, at: usize) {
        let troubled = self.devices[at].is_troubled();
        let (name, hurt) = (self.devices[at].name.clone(), self.devices[at].hurt);
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        let shown = node.findings().and_then(|findings| {
            let report = node.report(&Filter::default())?;
            Ok((findings, report))
        });
        let (findings, report) = match shown {
            Ok(shown) => shown,
            Err(error) => {
                assert!(troubled, "{name} cannot show its findings on a healthy disk: {error}");
                self.tally.failed_calls += 1;
                return;
            }
        };
        if troubled {
            return;
        }
        self.tally.judged += 1;
        let json = serde_json::to_string(&findings).unwrap() + &serde_json::to_string(&report).unwrap();
        let (digest, vector) = (digest_of_what_counts(node, false), node.book().vector());
        // A fork that only a retired device has told of: see `forked`.
        let counts = |place: &(LogId, u64)| node.book().counts(&place.0, place.1).is_ok();
        let hearsay = node
            .book()
            .roster()
            .forks()
            .iter()
            .any(|f| !f.evidence.as_ref().is_some_and(counts));
        self.story.lock().unwrap().mark(json.as_bytes());
        if !hearsay {
            self.same_for_all(&name, digest, json);
        }
        self.none_left_for_nothing(at, hurt, vector, findings);
        self.own_facts_are_there(at);
    }

    fn same_for_all(&mut self, name: &str, digest: [u8; 32], json: String) {
        let hash = blake3::hash(json.as_bytes());
        let first = self.seen.shown.entry(digest);
        let (who, what, text) = first.or_insert_with(|| (name.to_owned(), hash, json.clone()));
        if *what != hash {
            let at = text.bytes().zip(json.bytes()).take_while(|(a, b)| a == b).count();
            let part = |t: &str| t.chars().skip(at.saturating_sub(200)).take(500).collect::<String>();
            panic!(
                "{who} and {name} have equal histories and show different things:\n{}\n{}",
                part(text),
                part(&json)
            );
        }
    }

    fn none_left_for_nothing(&mut self, at: usize, hurt: bool, vector: VersionVector, findings: Vec<Finding>) {
        let device = format!("{} in {}", self.devices[at].name, self.devices[at].dir.display());
        let now: BTreeMap<String, Finding> = findings.into_iter().map(|f| (f.id.clone(), f)).collect();
        let before = self.seen.last.insert(device, (vector.clone(), now.clone()));
        let Some((old_vector, before)) = before else { return };
        let grown = old_vector.iter().all(|(log, seq)| vector.get(&log) >= seq);
        if hurt || !grown {
            // What a disk has lost takes its findings along until it comes back.
            return;
        }
        let is_open = |id: &String| now.get(id).is_some_and(Finding::is_open);
        let left: Vec<&Finding> = before.values().filter(|f| f.is_open() && !is_open(&f.id)).collect();
        if left.is_empty() {
            return;
        }
        self.tally.left += left.len() as u64;
        let Some(node) = self.devices[at].node.as_ref() else {
            return;
        };
        let Some(news) = news(node, &old_vector, &vector) else {
            return;
        };
        for finding in left {
            let mut names: BTreeSet<&str> = finding.jobs.iter().map(String::as_str).collect();
            let subject = finding.subject.text();
            names.extend([subject.as_ref(), finding.id.as_str()]);
            for fact in &finding.facts {
                names.extend(self.texts.get(fact).into_iter().flat_map(|text| words(text)));
            }
            let why = news.iter().any(|text| words(text).any(|word| names.contains(word)));
            assert!(
                why,
                "a finding is gone, and nothing that came in has to do with it: {finding:?}\n{news:#?}"
            );
        }
    }

    /// What a device has given receipts for, it has, unless its disk was hurt.
    fn own_facts_are_there(&self, at: usize) {
        let device = &self.devices[at];
        let Some(node) = device.node.as_ref().filter(|_| !device.hurt) else {
            return;
        };
        let copied = self.devices.iter().filter(|d| d.key == device.key).count() > 1;
        for told in self
            .told
            .iter()
            .filter(|t| t.place.log.device == device.key && !t.lost && !copied)
        {
            let known = node.recorded(&told.fact).unwrap();
            assert!(
                known.is_some(),
                "{} has forgotten a fact that it gave a receipt for: {told:?}",
                device.name
            );
        }
    }

    /// After something has been lost: which facts nobody holds any more. Whoever calls this knows of a disk that is gone.
    pub(super) fn count_losses(&mut self) {
        self.devices.iter_mut().for_each(|d| d.look());
        let held = |told: &Told| {
            let place = told.place;
            self.devices.iter().any(|d| d.held.includes(&place.log, place.seq))
        };
        let gone: Vec<usize> = (0..self.told.len())
            .filter(|i| !self.told[*i].lost && !held(&self.told[*i]))
            .collect();
        self.tally.lost_with_a_disk += gone.len() as u64;
        for i in gone {
            self.told[i].lost = true;
        }
    }

    /// The last judgement, when everybody has met everybody.
    pub(super) fn judge_the_end(&mut self) {
        let causal_gaps = self.counting().map(|node| node.book().causal_gaps().count() as u64);
        self.tally.re_record += causal_gaps.sum::<u64>();
        let forked = self.forked();
        self.tally.forks += forked.len() as u64;
        self.judge_forks(&forked);
        // Two branches of a retired device's log lie about, some here, some there, and count nowhere.
        let any = self.counting().any(|node| !node.book().roster().forks().is_empty());
        if any {
            // The others' receipts hold all the same.
            self.every_receipt_holds();
        } else {
            assert!(self.are_level(), "they have met often enough, and do not hold the same");
            self.every_receipt_holds();
        }
        for at in 0..self.devices.len() {
            self.devices[at].disk.set(Faults::default());
            let before = self.tally.judged;
            self.judge(at);
            assert!(self.tally.judged > before, "{} was not judged", self.devices[at].name);
        }
        let at = self.any();
        self.judge_alone(at);
        self.devices[at].close();
        self.wake(at);
        self.judge(at);
    }

    /// One node by itself: whole, and its kept findings are what judging anew gives.
    fn judge_alone(&mut self, at: usize) {
        let name = self.devices[at].name.clone();
        let (evidence, hurt) = (self.devices[at].evidence(), self.devices[at].hurt);
        assert!(evidence <= 200, "{name} keeps {evidence} files of evidence");
        let Some(node) = self.devices[at].node.as_mut() else {
            return;
        };
        let kept = node.findings().unwrap();
        let anew = node.view().unwrap().findings();
        assert_eq!(
            kept, anew,
            "the findings kept at {name} are not those that judging anew gives"
        );
        let mut wrong = wrong_since_start(node);
        // What a disk has lost for good is named for as long as it is missing.
        wrong.retain(|line| !(hurt && line.contains("behind waits on disk")));
        assert!(wrong.is_empty(), "{name} does not verify: {wrong:#?}");
        node.rebuild(&Silent).unwrap();
        assert_eq!(
            node.findings().unwrap(),
            kept,
            "{name} finds something else with a new index"
        );
        self.nothing_counts_twice(at);
    }

    /// A fact that was recorded once more, after whatever failure, stands in one place.
    fn nothing_counts_twice(&self, at: usize) {
        let device = &self.devices[at];
        let copied = self.devices.iter().filter(|d| d.key == device.key).count() > 1;
        let Some(node) = device.node.as_ref().filter(|_| !device.hurt && !copied) else {
            return;
        };
        let mut seen = BTreeSet::new();
        for ((log, seq), facts) in all_facts(node) {
            for fact in facts.into_iter().filter(|_| log.device == device.key) {
                assert!(
                    seen.insert(fact),
                    "{} has recorded a fact twice: {log} {seq}",
                    device.name
                );
            }
        }
    }

    /// The logs that are known to be forked, of devices that count.
    fn forked(&self) -> BTreeSet<LogId> {
        let depot = self.devices[0].node.as_ref().expect("open");
        let roster = depot.book().roster();
        let known = self
            .counting()
            .flat_map(|node| node.book().roster().forks())
            .map(|fork| fork.log);
        known.filter(|log| roster.retired(&log.device).is_none()).collect()
    }

    /// A log of which two ends exist is named everywhere.
    fn judge_forks(&mut self, forked: &BTreeSet<LogId>) {
        for log in forked {
            assert!(
                self.clones.contains(&log.device),
                "a log has forked that nobody copied block by block: {log}"
            );
            let lacks = self
                .counting()
                .find(|node| !node.book().roster().forks().iter().any(|fork| fork.log == *log));
            let lacks = lacks.map(|node| node.config().name.clone());
            if let Some(name) = lacks {
                self.tell_what_all_hold();
                panic!("{name} does not know that {log} is forked");
            }
        }
    }

    /// The disk that wrote it has lost it, and whoever had heard of it was retired since: nobody takes it from him.
    fn is_left_with_the_retired(&self, told: &Told) -> bool {
        let depot = self.devices[0].node.as_ref().expect("open");
        let place = told.place;
        let holds = |d: &&Device| match &d.node {
            Some(node) => node.book().vector().includes(&place.log, place.seq),
            None => d.held.includes(&place.log, place.seq),
        };
        let is_retired = |d: &Device| depot.book().roster().retired(&d.key).is_some();
        let mut holders = self.devices.iter().filter(holds).peekable();
        let is_hurt = self.devices.iter().any(|d| d.key == place.log.device && d.hurt);
        is_hurt && holders.peek().is_some() && holders.all(is_retired)
    }

    /// Every fact with a receipt is on every node that counts.
    fn every_receipt_holds(&self) {
        let depot = self.devices[0].node.as_ref().expect("open");
        let depot_is_cloned = self.clones.contains(&self.devices[0].key);
        for node in self.counting() {
            let held: BTreeSet<FactId> = all_facts(node).into_values().flatten().collect();
            // Of a copy that took itself for the original nobody can say which branch a receipt was for.
            let is_sure = |t: &&Told| {
                let doubtful = self.clones.contains(&t.place.log.device);
                !t.lost && !doubtful && !self.is_left_with_the_retired(t)
            };
            for told in self.told.iter().filter(is_sure) {
                let (place, name) = (told.place, &node.config().name);
                let counts = |by: &Node| by.book().counts(&place.log, place.seq).is_ok();
                // On the branches of a depot's log that has forked there stand different retirements. Each goes by those of the
                // branch that it holds, and no other can reach it: what a retired device wrote since is owed to nobody there.
                let is_owed = counts(depot) && (!depot_is_cloned || counts(node));
                assert!(
                    !is_owed || held.contains(&told.fact),
                    "{name} lacks a fact that somebody has a receipt for: {told:?}"
                );
            }
        }
    }
}

/// The facts that came in between, as text; `None` when a record of the depot or a clock reading did.
fn news(node: &Node, from: &VersionVector, to: &VersionVector) -> Option<Vec<String>> {
    let mut found = Vec::new();
    for (log, last) in to.beyond(from).iter() {
        for seq in from.get(&log) + 1..=last {
            let bytes = node.journal().read_entry(&log, seq).unwrap().unwrap();
            match Entry::decode(&bytes).unwrap().body {
                Body::Governance(_) => return None,
                body => found.extend(entry_facts(&log, &body).unwrap().iter().map(|f| f.stored())),
            }
        }
    }
    Some(found)
}

/// The history of a node as far as it counts: what a retired device wrote afterwards lies on some and not on others. With
/// `closed` without what a damaged disk has cut off from its past, which nobody else takes in.
pub(super) fn digest_of_what_counts(node: &Node, closed: bool) -> [u8; 32] {
    let mut vector = node.counting_vector();
    if closed {
        node.book().causal_gaps().for_each(|(log, last)| vector.cut(&log, last));
    }
    let mut hasher = blake3::Hasher::new();
    for (log, seq) in vector.iter() {
        let bytes = node.journal().read_entry(&log, seq).ok().flatten().unwrap_or_default();
        let hash = gladhand_logbook::entry::hash(&log, &bytes);
        hasher.update(log.to_string().as_bytes());
        hasher.update(&seq.to_le_bytes()).update(&hash.0);
    }
    *hasher.finalize().as_bytes()
}

/// What does not verify, apart from the damage that was found when the node was opened.
pub fn wrong_since_start(node: &Node) -> Vec<String> {
    let at_start: Vec<String> = node.damage().iter().map(ToString::to_string).collect();
    let wrong = node.verify(&Silent).unwrap().wrong.into_iter();
    let lines = wrong.map(|w| (format!("{}: {}", w.place, w.what), w.what));
    let is_new = |line: &str, what: &str| !at_start.iter().any(|f| f.ends_with(what) || line.contains(f.as_str()));
    lines
        .filter(|(line, what)| is_new(line, what))
        .map(|(line, _)| line)
        .collect()
}

/// All facts that are held, entry by entry.
pub fn all_facts(node: &Node) -> BTreeMap<(LogId, u64), Vec<FactId>> {
    let mut found = BTreeMap::new();
    for (log, last) in node.book().vector().iter() {
        for read in node.journal().entries(&log, 1, last) {
            let (seq, bytes) = read.unwrap();
            let body = Entry::decode(&bytes).unwrap().body;
            let facts = entry_facts(&log, &body).unwrap();
            found.insert((log, seq), facts.iter().map(|f| f.id()).collect());
        }
    }
    found
}
