//! A code fails its check character, or is unknown to the stock list and one edit (Damerau) from a code in it.
//!
//! A code is in use where a job's field holds it now, a live link names it, settings name it, the stock list has it,
//! or it was scanned and not scanned otherwise later for the same job. When every use has been corrected, or the
//! depot has put the code into the stock list since, the finding is cleared.
//!
//! Standing: the uses of the code clash with the stock entries of the codes that it resembles. `-` where a check character speaks: no
//! other fact does.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_trade::CodeVerdict;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::jobs_of_links;
use crate::recorded_fact::RecordedFact;
use crate::register;
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
use crate::words::{deeds, listed};
use crate::world::{Case, World};

pub(super) struct CodeSuspect;

impl Rule for CodeSuspect {
    fn name(&self) -> &'static str {
        "code-suspect"
    }

    fn classes(&self) -> &'static [Class] {
        &[Class::Code]
    }

    fn judge(&self, world: &World<'_>, case: &Case) -> Option<Draft> {
        let code = case.subject.text();
        let doubts: Vec<Doubt> = ROLES
            .iter()
            .filter_map(|role| Role::doubt(role, world, case, &code))
            .collect();
        let (over, open): (Vec<_>, Vec<_>) = doubts.into_iter().partition(|d| !d.mended_by.is_empty());
        let cleared = open.is_empty();
        let told = if cleared { over } else { open };
        let first = told.first()?;
        let reasons = listed(told.iter().map(|d| d.says.clone()));
        let by = deeds(world, &first.uses);
        let awareness = Awareness::of(told.iter().flat_map(Doubt::pairs));
        let draft = Draft::new(Severity::Ask, told.iter().flat_map(|d| jobs_of(world, &d.uses)))
            .by(told
                .iter()
                .flat_map(|d| [d.uses.as_slice(), &d.known, &d.mended_by].concat()))
            .standing(awareness.standing());
        let says = format!("Code {code}, recorded by {by}, {reasons}{}", awareness.describe(world));
        Some(if cleared {
            let since: Vec<_> = told.into_iter().flat_map(|d| d.mended_by).collect();
            draft.cleared(format!("{says}; put right since by {}.", deeds(world, &since)))
        } else {
            draft.open(
                says + ".",
                "Read the label again. If the code is wrong, record it anew; if it is right, rule on it or have it put into the stock list.",
            )
        })
    }
}

/// The jobs that use a code: those that the facts carry, and those to which a link without a job belongs.
fn jobs_of(world: &World<'_>, uses: &[Arc<RecordedFact>]) -> BTreeSet<String> {
    let ties = Ties::among(uses);
    let links: Vec<&Tie> = ties.links.iter().collect();
    let named = uses.iter().filter_map(|w| w.owned("job"));
    named.chain(jobs_of_links(world.facts, &links)).collect()
}

/// What a code can be.
struct Role {
    name: &'static str,
    /// The class whose stock list has it, where there is one.
    class: Option<Class>,
}

const ROLES: [Role; 3] = [
    Role {
        name: "camera",
        class: Some(Class::Camera),
    },
    Role {
        name: "tracker",
        class: Some(Class::Tracker),
    },
    Role {
        name: "vin",
        class: None,
    },
];

/// What speaks against a code in one role.
struct Doubt {
    /// The facts that use it.
    uses: Vec<Arc<RecordedFact>>,
    /// The stock entries of the codes that it resembles.
    known: Vec<Arc<RecordedFact>>,
    /// What put it right; empty while it is in doubt.
    mended_by: Vec<Arc<RecordedFact>>,
    says: String,
}

impl Doubt {
    /// The uses against the stock entries of the codes that they resemble.
    fn pairs(&self) -> impl Iterator<Item = (&Arc<RecordedFact>, &Arc<RecordedFact>)> {
        let pairs = |a| self.known.iter().map(move |b| (a, b));
        self.uses.iter().flat_map(pairs)
    }
}

impl Role {
    fn doubt(&self, world: &World<'_>, case: &Case, code: &str) -> Option<Doubt> {
        let all: Vec<Arc<RecordedFact>> = case.facts.iter().filter(|w| self.names(w, code)).cloned().collect();
        let (stock, all): (Vec<_>, Vec<_>) = all.into_iter().partition(|w| w.is(&Kind::Stock));
        if all.is_empty() && stock.is_empty() {
            return None;
        }
        let verdict = world.standard.code_rule(self.name).check(code);
        if let CodeVerdict::Fails { why } = verdict {
            let (uses, corrected) = self.sorted(world, case, &all);
            let standing = [uses, stock].concat();
            return Some(self.doubted(all, standing, corrected, Vec::new(), why));
        }
        let all = if stock.is_empty() {
            all
        } else {
            seen_by_all(all, &stock)
        };
        if all.is_empty() {
            return None;
        }
        let known = self.resembled(world, code);
        if known.is_empty() {
            return None;
        }
        let why = format!(
            "is not in the stock list, but {} is, one character away",
            self.listed(&known)
        );
        if stock.is_empty() {
            let (uses, corrected) = self.sorted(world, case, &all);
            Some(self.doubted(all, uses, corrected, known, why))
        } else {
            self.listed_since(all, known, stock, why)
        }
    }

    /// The uses that stand, and what corrected the others.
    fn sorted(
        &self,
        world: &World<'_>,
        case: &Case,
        all: &[Arc<RecordedFact>],
    ) -> (Vec<Arc<RecordedFact>>, Vec<Arc<RecordedFact>>) {
        let code = case.subject.text();
        let ties = Ties::among(&case.facts);
        let (mut uses, mut corrected) = (Vec::new(), Vec::new());
        for recorded in all {
            match self.corrections(world, &ties, recorded, &code) {
                none if none.is_empty() => uses.push(recorded.clone()),
                some => corrected.extend(some),
            }
        }
        (uses, corrected)
    }

    /// A doubt that stands as long as something uses the code.
    fn doubted(
        &self,
        all: Vec<Arc<RecordedFact>>,
        uses: Vec<Arc<RecordedFact>>,
        corrected: Vec<Arc<RecordedFact>>,
        known: Vec<Arc<RecordedFact>>,
        why: String,
    ) -> Doubt {
        let over = uses.is_empty();
        Doubt {
            uses: if over { all } else { uses },
            known,
            mended_by: if over { corrected } else { Vec::new() },
            says: format!("as a {} {why}", self.name),
        }
    }

    /// The code is in the stock list now. It was in doubt if whoever listed it had seen it used before (`uses` are
    /// those), beside the code that it resembles.
    fn listed_since(
        &self,
        uses: Vec<Arc<RecordedFact>>,
        known: Vec<Arc<RecordedFact>>,
        stock: Vec<Arc<RecordedFact>>,
        why: String,
    ) -> Option<Doubt> {
        let known = seen_by_all(known, &stock);
        (!known.is_empty()).then(|| Doubt {
            uses,
            known,
            mended_by: stock,
            says: format!("as a {} {why}", self.name),
        })
    }

    /// Whether a fact names the code in this role. A scan that does not say of what counts for any stock list.
    fn names(&self, recorded: &RecordedFact, code: &str) -> bool {
        let is = |key: &str| recorded.fact.text(key).is_some_and(|text| text == code);
        match recorded.fact.kind() {
            Kind::Scan => {
                let what = recorded.fact.text("what");
                let here = what.as_deref().map_or(self.class.is_some(), |what| what == self.name);
                here && is("code")
            }
            Kind::Job => is(self.name),
            Kind::Link | Kind::Settings | Kind::Stock => self.class.is_some() && is(self.name),
            _ => false,
        }
    }

    /// The facts that corrected one use of the code.
    fn corrections(
        &self,
        world: &World<'_>,
        ties: &Ties,
        recorded: &Arc<RecordedFact>,
        code: &str,
    ) -> Vec<Arc<RecordedFact>> {
        match recorded.fact.kind() {
            Kind::Job => self.job_corrections(world, recorded, code),
            Kind::Link => link_removals(ties, recorded),
            Kind::Scan => scan_corrections(world, recorded, code),
            _ => Vec::new(),
        }
    }

    /// The current holders of the field, when none of them holds the code.
    fn job_corrections(&self, world: &World<'_>, recorded: &RecordedFact, code: &str) -> Vec<Arc<RecordedFact>> {
        let Some(job) = recorded.owned("job") else {
            return Vec::new();
        };
        let fields = register::fields(&world.facts.about(&Subject::Job(job)));
        let holders = fields.get(self.name).cloned().unwrap_or_default();
        let holds = holders
            .iter()
            .any(|h| h.fact.text(self.name).is_some_and(|text| text == code));
        if holds { Vec::new() } else { holders }
    }

    /// The stock entries of the codes one edit away.
    fn resembled(&self, world: &World<'_>, code: &str) -> Vec<Arc<RecordedFact>> {
        let Some(class) = self.class else {
            return Vec::new();
        };
        let near = world.facts.near(class, code).into_iter();
        let subjects = near.filter_map(|other| Subject::from_text(class, &other));
        let stock = subjects.flat_map(|s| world.facts.about(&s));
        stock.filter(|w| w.is(&Kind::Stock)).collect()
    }

    fn listed(&self, known: &[Arc<RecordedFact>]) -> String {
        let codes: BTreeSet<String> = known.iter().filter_map(|w| w.owned(self.name)).collect();
        listed(codes)
    }
}

/// The facts that whoever recorded any of `later` had seen.
fn seen_by_all(facts: Vec<Arc<RecordedFact>>, later: &[Arc<RecordedFact>]) -> Vec<Arc<RecordedFact>> {
    let seen = |w: &Arc<RecordedFact>| later.iter().all(|l| w.happens_before(l));
    facts.into_iter().filter(seen).collect()
}

/// The unlinks of a pair name both of its codes, so they are among the facts about either.
fn link_removals(ties: &Ties, link: &RecordedFact) -> Vec<Arc<RecordedFact>> {
    let own = ties.links.iter().find(|l| l.recorded.place == link.place);
    let removals = own.into_iter().flat_map(|l| ties.removals(l));
    removals.map(|u| u.recorded.clone()).collect()
}

/// Later scans of the same thing for the same job that read another code.
fn scan_corrections(world: &World<'_>, scan: &RecordedFact, code: &str) -> Vec<Arc<RecordedFact>> {
    let (Some(job), Some(what)) = (scan.owned("job"), scan.owned("what")) else {
        return Vec::new();
    };
    let mut later = world.facts.about(&Subject::Job(job));
    later.retain(|w| {
        let other = w.fact.text("code").is_some_and(|text| text != code);
        w.is(&Kind::Scan) && w.owned("what").as_deref() == Some(&what) && other && scan.happens_before(w)
    });
    later
}
