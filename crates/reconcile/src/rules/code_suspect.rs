//! A code fails its check character, or is unknown to the stock list and one edit (Damerau) from a code in it.
//!
//! A code is in use where a job's field holds it now, a live link names it, settings name it, the stock list has it,
//! or it was scanned and not scanned otherwise later for the same job. When every use has been corrected, or the
//! depot has put the code into the stock list since, the finding is cleared.
//!
//! Standing: the uses of the code clash with the stock entries of the codes that it resembles. `-` where the check
//! character alone decides.

use std::collections::BTreeSet;
use std::sync::Arc;

use gladhand_facts::Kind;
use gladhand_trade::CodeVerdict;

use super::rule::Rule;
use crate::awareness::Awareness;
use crate::case::Case;
use crate::draft::Draft;
use crate::finding::Severity;
use crate::job::jobs_of_links;
use crate::reason::Reason;
use crate::reason::fact_ref::FactRef;
use crate::reason::part::{CodeDoubt, CodeRole, SuspectCode, Suspicion};
use crate::recorded_fact::RecordedFact;
use crate::register;
use crate::subject::{Class, Subject};
use crate::ties::{Tie, Ties};
use crate::world::World;

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
        let doubts = ROLES.iter().filter_map(|role| role.doubt(world, case, &code));
        let (over, open): (Vec<_>, Vec<_>) = doubts.partition(|d| !d.resolved_by.is_empty());
        let is_cleared = open.is_empty();
        let told = if is_cleared { over } else { open };
        let first = told.first()?;
        let awareness = Awareness::of(told.iter().flat_map(Doubt::pairs));
        let resolved_by: Vec<_> = told.iter().flat_map(|d| d.resolved_by.iter().cloned()).collect();
        let reason = Reason::CodeSuspect(SuspectCode {
            used_by: FactRef::all(&first.uses),
            doubts: told.iter().map(|d| d.doubt.clone()).collect(),
            knowledge: awareness.knowledge(world),
            resolved_by: FactRef::all(&resolved_by),
        });
        let jobs = told.iter().flat_map(|d| jobs_of(world, &d.uses));
        let draft = Draft::new(Severity::Ask, jobs, reason)
            .made_by(told.iter().flat_map(|d| [d.uses.as_slice(), &d.known].concat()))
            .standing(awareness.standing())
            .cleared_by(resolved_by.into_iter().filter(|_| is_cleared));
        Some(draft)
    }
}

/// The jobs that use a code: those that the facts carry, and those to which a link without a job belongs.
fn jobs_of(world: &World<'_>, uses: &[Arc<RecordedFact>]) -> BTreeSet<String> {
    let ties = Ties::among(uses);
    let links: Vec<&Tie> = ties.links.iter().collect();
    let named = uses.iter().filter_map(|w| w.key("job"));
    named.chain(jobs_of_links(world.facts, &links)).collect()
}

/// What a code can be, with the class whose stock list has it, where there is one.
struct Role {
    role: CodeRole,
    class: Option<Class>,
}

const ROLES: [Role; 3] = [
    Role {
        role: CodeRole::Camera,
        class: Some(Class::Camera),
    },
    Role {
        role: CodeRole::Tracker,
        class: Some(Class::Tracker),
    },
    Role {
        role: CodeRole::Vin,
        class: None,
    },
];

/// Why a code is in doubt in one role, with the facts.
struct Doubt {
    /// The facts that use it.
    uses: Vec<Arc<RecordedFact>>,
    /// The stock entries of the codes that it resembles.
    known: Vec<Arc<RecordedFact>>,
    /// What put it right; empty while it is in doubt.
    resolved_by: Vec<Arc<RecordedFact>>,
    doubt: CodeDoubt,
}

impl Doubt {
    /// The uses against the stock entries of the codes that they resemble.
    fn pairs(&self) -> impl Iterator<Item = (&Arc<RecordedFact>, &Arc<RecordedFact>)> {
        let pairs = |a| self.known.iter().map(move |b| (a, b));
        self.uses.iter().flat_map(pairs)
    }
}

impl Role {
    fn key(&self) -> &'static str {
        self.role.key()
    }

    fn doubt(&self, world: &World<'_>, case: &Case, code: &str) -> Option<Doubt> {
        let named: Vec<Arc<RecordedFact>> = case.facts.iter().filter(|w| self.names(w, code)).cloned().collect();
        if named.is_empty() {
            return None;
        }
        let (stock, uses): (Vec<_>, Vec<_>) = named.into_iter().partition(|w| w.is(&Kind::Stock));
        match world.standard.code_rule(self.key()).check(code) {
            CodeVerdict::Fails { why } => Some(self.failing(world, case, uses, stock, why)),
            _ => self.unlisted(world, case, uses, stock),
        }
    }

    /// A code that fails its check character. A stock entry of it is a use that nothing corrects.
    fn failing(
        &self,
        world: &World<'_>,
        case: &Case,
        all: Vec<Arc<RecordedFact>>,
        stock: Vec<Arc<RecordedFact>>,
        why: String,
    ) -> Doubt {
        let (standing, corrected_by) = self.sorted(world, case, &all);
        let standing = [standing, stock].concat();
        self.while_used(
            all,
            standing,
            corrected_by,
            Vec::new(),
            Suspicion::CheckCharacter { why },
        )
    }

    /// A code near listed ones, that is in no list or was in none when it was used.
    fn unlisted(
        &self,
        world: &World<'_>,
        case: &Case,
        uses: Vec<Arc<RecordedFact>>,
        stock: Vec<Arc<RecordedFact>>,
    ) -> Option<Doubt> {
        // Once the code is listed, it was in doubt only if the recorder of the entry had seen it used before.
        let uses = if stock.is_empty() {
            uses
        } else {
            seen_by_all(uses, &stock)
        };
        if uses.is_empty() {
            return None;
        }
        let known = self.resembled(world, &case.subject.text());
        if known.is_empty() {
            return None;
        }
        let near = known.iter().filter_map(|w| w.owned(self.key())).collect();
        let suspicion = Suspicion::NearListed(near);
        if stock.is_empty() {
            let (standing, corrected_by) = self.sorted(world, case, &uses);
            return Some(self.while_used(uses, standing, corrected_by, known, suspicion));
        }
        let known = seen_by_all(known, &stock);
        (!known.is_empty()).then(|| Doubt {
            uses,
            known,
            resolved_by: stock,
            doubt: self.because(suspicion),
        })
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
        let (mut standing, mut corrected_by) = (Vec::new(), Vec::new());
        for recorded in all {
            match self.corrections(world, &ties, recorded, &code) {
                none if none.is_empty() => standing.push(recorded.clone()),
                some => corrected_by.extend(some),
            }
        }
        (standing, corrected_by)
    }

    /// A doubt that lasts as long as something uses the code.
    fn while_used(
        &self,
        all: Vec<Arc<RecordedFact>>,
        standing: Vec<Arc<RecordedFact>>,
        corrected_by: Vec<Arc<RecordedFact>>,
        known: Vec<Arc<RecordedFact>>,
        suspicion: Suspicion,
    ) -> Doubt {
        let (uses, resolved_by) = if standing.is_empty() {
            (all, corrected_by)
        } else {
            (standing, Vec::new())
        };
        Doubt {
            uses,
            known,
            resolved_by,
            doubt: self.because(suspicion),
        }
    }

    fn because(&self, suspicion: Suspicion) -> CodeDoubt {
        CodeDoubt {
            role: self.role,
            suspicion,
        }
    }

    /// Whether a fact names the code in this role. A scan without `what` counts for either stock list.
    fn names(&self, recorded: &RecordedFact, code: &str) -> bool {
        let is = |key: &str| recorded.key(key).is_some_and(|text| text == code);
        match recorded.fact.kind() {
            Kind::Scan => {
                let what = recorded.fact.text("what");
                let here = what.as_deref().map_or(self.class.is_some(), |what| what == self.key());
                here && is("code")
            }
            Kind::Job => is(self.key()),
            Kind::Link | Kind::Settings | Kind::Stock => self.class.is_some() && is(self.key()),
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
        let holders = register::holders_of(&world.facts.about(&Subject::job(&job)), self.key());
        let holds = holders
            .iter()
            .any(|h| h.key(self.key()).is_some_and(|text| text == code));
        if holds { Vec::new() } else { holders }
    }

    /// The stock entries of the codes one edit away.
    fn resembled(&self, world: &World<'_>, code: &str) -> Vec<Arc<RecordedFact>> {
        let Some(class) = self.class else {
            return Vec::new();
        };
        let near = world.facts.near_listed(class, code).into_iter();
        let subjects = near.filter_map(|other| Subject::from_text(class, &other));
        let stock = subjects.flat_map(|s| world.facts.about(&s));
        stock.filter(|w| w.is(&Kind::Stock)).collect()
    }
}

/// The facts that the recorders of all of `later` had seen.
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
    let mut later = world.facts.about(&Subject::job(&job));
    later.retain(|w| {
        let other = w.key("code").is_some_and(|text| text != code);
        w.is(&Kind::Scan) && w.owned("what").as_deref() == Some(&what) && other && scan.happens_before(w)
    });
    later
}
