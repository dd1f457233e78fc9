//! The work standard: everything that a fleet decides about its work, read from one TOML file.
//!
//! This crate knows only the structure; `config/work-standard.toml` has the values and explains each key in its comments.
//! The tables, in short:
//!
//! | table | holds | read by |
//! |---|---|---|
//! | `version`, `example`, `steps` | the name of this standard; whether nobody reviewed it; the steps of the work | here |
//! | `[[check]]` | checks with tolerances, counts, waits, conditions | [`crate::requirement`] |
//! | `[clearance]` | the go/no-go tables of probe depths | [`crate::clearance`] |
//! | `[proof]` | the answers that a proof picture must have | `proof` |
//! | `[clock]` | when a clock is off; drift; what an unmeasured clock may be off | here |
//! | `[codes]` | by which rule the codes of trackers, cameras and VINs are checked | [`crate::codes`] |
//! | `[retention]` | how long reports are kept | here |
//! | `[office]`, `[[stand-down]]` | whom to ask; why a job is given up | [`crate::advice`] |
//! | `[[kit]]`, `[[caution]]`, `[[hint]]`, `last-caution` | what to bring and what is shown | [`crate::advice`] |
//!
//! Invariants: in a standard that was read, every name that one table uses exists in the other. An unknown key is an error
//! with its line, never ignored. The same text gives an equal standard.

use std::sync::OnceLock;

use gladhand_facts::{Dimension, Measure};

use crate::advice::{Caution, Hint, KitItem, Office, StandDownReason, first_clause};
use crate::codes::{CodeRule, RULES};
use crate::proof::ProofAnswers;
use crate::requirement::{Requirement, Visit};
use crate::section::{Section, StandardError, read_document};
use crate::table::Tables;

/// The text of the standard that comes with this version.
pub const BUILT_IN: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../config/work-standard.toml"));

/// The kinds of code that the standard sets a rule for.
const CODE_KINDS: [&str; 3] = ["tracker", "camera", "vin"];

/// What is expected of clocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockLimits {
    /// A clock that is certainly off by more is reported.
    pub off_us: i64,
    /// How fast a clock may drift from its last reading, in parts per million.
    pub drift_ppm: u32,
    /// How far an unmeasured clock may be off.
    pub unmeasured_us: i64,
}

/// How long records are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Retention {
    /// Months after the work.
    pub months: u32,
    /// Months after the trailer has left the fleet. Whichever ends later counts.
    pub months_after_leaving: u32,
    /// Where that comes from.
    pub source: String,
}

/// A work standard.
#[derive(Debug, Clone, PartialEq)]
pub struct Standard {
    version: String,
    is_example: bool,
    office: Option<Office>,
    stand_down_reasons: Vec<StandDownReason>,
    checks: Vec<Requirement>,
    tables: Tables,
    proof: ProofAnswers,
    clock: ClockLimits,
    codes: Vec<(&'static str, CodeRule)>,
    retention: Retention,
    kit: Vec<KitItem>,
    cautions: Vec<Caution>,
    last_caution: String,
    hints: Vec<Hint>,
}

impl Standard {
    /// Reads a standard.
    ///
    /// # Errors
    /// [`StandardError`], with the line, the key, what is wrong and what belongs there.
    pub fn parse(text: &str) -> Result<Self, StandardError> {
        read_document(text, read)
    }

    /// The standard that comes with this version.
    ///
    /// # Panics
    /// Never in a released build: a test reads the same text, which is compiled in.
    #[allow(clippy::panic, reason = "the text is compiled in, and a test reads it")]
    pub fn built_in() -> Self {
        // Read once: it is asked for at every judgement.
        static READ: OnceLock<Standard> = OnceLock::new();
        let read =
            || Self::parse(BUILT_IN).unwrap_or_else(|e| panic!("config/work-standard.toml, as compiled in: {e}"));
        READ.get_or_init(read).clone()
    }

    /// The name of this version of the standard.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Whether its values are an example that no fleet has reviewed: the one that comes with this version, or a copy that
    /// still says so.
    pub fn is_example(&self) -> bool {
        self.is_example
    }

    /// Whom to ask when nobody at the trailer may decide alone.
    pub fn office(&self) -> Option<&Office> {
        self.office.as_ref()
    }

    /// The reasons for which a job is stood down; empty where the standard lists none.
    pub fn stand_down_reasons(&self) -> &[StandDownReason] {
        &self.stand_down_reasons
    }

    /// Whether `reason` may stand in a stand-down fact: it is listed, or nothing is.
    pub fn knows_reason(&self, reason: &str) -> bool {
        let reasons = &self.stand_down_reasons;
        reasons.is_empty() || reasons.iter().any(|r| r.name() == reason)
    }

    /// Every check that the standard knows, required or not, in the order of the file.
    pub fn checks(&self) -> &[Requirement] {
        &self.checks
    }

    /// The first check of that name.
    pub fn check(&self, name: &str) -> Option<&Requirement> {
        self.checks.iter().find(|c| c.name() == name)
    }

    /// The checks that a fit on a trailer of that wall and load needs, without those that depend on the thickness or on
    /// anything that is not known.
    pub fn required(&self, wall: Option<&str>, load: Option<&str>) -> Vec<&Requirement> {
        self.required_for(Visit {
            wall,
            load,
            ..Visit::default()
        })
    }

    /// The checks that the sign-off of such a visit needs.
    pub fn required_for(&self, visit: Visit<'_>) -> Vec<&Requirement> {
        let wanted = |c: &&Requirement| c.is_required() && c.applies().holds(visit);
        self.checks.iter().filter(wanted).collect()
    }

    /// The checks that show that the wall was cut.
    pub fn cut_shown_by(&self) -> &[String] {
        &self.tables.cut_shown_by
    }

    /// How far a probe reading may be off when it does not say so itself.
    pub fn reading_uncertainty(&self) -> Measure {
        self.tables.uncertainty
    }

    pub(crate) fn tables(&self) -> &Tables {
        &self.tables
    }

    /// The answers that a judged proof picture must have, all of them yes, where no other list is given.
    pub fn proof_answers(&self) -> &[String] {
        self.proof.answers()
    }

    /// The answers that the proof picture of such a visit must have; none where it needs no picture.
    pub fn proof_answers_for(&self, visit: Visit<'_>) -> &[String] {
        self.proof.answers_for(visit)
    }

    /// What is expected of clocks.
    pub fn clock(&self) -> ClockLimits {
        self.clock
    }

    /// The rule by which codes of `kind` are checked (`tracker`, `camera`, `vin`); none for any other kind.
    pub fn code_rule(&self, kind: &str) -> CodeRule {
        let found = self.codes.iter().find(|(k, _)| *k == kind);
        found.map_or(CodeRule::None, |(_, rule)| *rule)
    }

    /// How long records are kept.
    pub fn retention(&self) -> &Retention {
        &self.retention
    }

    /// What to bring to such a visit.
    pub fn kit(&self, visit: Visit<'_>) -> Vec<&KitItem> {
        self.kit.iter().filter(|k| k.applies().holds(visit)).collect()
    }

    /// Whether the list of what to bring to a visit of that purpose depends on that field: `wall`, `load` or `thickness`.
    pub fn kit_depends_on(&self, purpose: Option<&str>, field: &str) -> bool {
        let applies = |k: &KitItem| k.applies().is_for(purpose) && k.applies().depends_on(field);
        self.kit.iter().any(applies)
    }

    /// What to show before `step`. The last one always defers to the site, local codes and licensed practice.
    pub fn cautions(&self, step: &str) -> Vec<String> {
        self.cautions_where(|caution| caution.guards(step))
    }

    /// What to show before any of `steps` on a trailer of that load, in the order of the file; the last one as ever.
    pub fn cautions_for(&self, steps: &[&str], load: Option<&str>) -> Vec<String> {
        self.cautions_where(|caution| caution.concerns(load) && steps.iter().any(|step| caution.guards(step)))
    }

    /// The same in few words, for somebody who has read them in full. Empty where nothing guards these steps.
    pub fn short_cautions_for(&self, steps: &[&str], load: Option<&str>) -> Vec<&str> {
        let shown = |caution: &&Caution| caution.concerns(load) && steps.iter().any(|step| caution.guards(step));
        let mut short: Vec<&str> = self.cautions.iter().filter(shown).map(Caution::short).collect();
        if !short.is_empty() {
            short.push(first_clause(&self.last_caution));
        }
        short
    }

    /// What to show before the check of that name: the cautions of its step, and for a check without a step only the last
    /// one.
    pub(crate) fn cautions_before(&self, check: &str) -> Vec<String> {
        let step = self.check(check).and_then(Requirement::step);
        self.cautions_where(|caution| step.is_some_and(|step| caution.guards(step)))
    }

    fn cautions_where(&self, shown: impl Fn(&Caution) -> bool) -> Vec<String> {
        let shown = self.cautions.iter().filter(|caution| shown(caution));
        let all = shown.map(ToString::to_string).chain([self.last_caution.clone()]);
        all.collect()
    }

    /// All hints.
    pub fn hints(&self) -> &[Hint] {
        &self.hints
    }

    /// The hint of that name.
    pub fn hint(&self, name: &str) -> Option<&Hint> {
        self.hints.iter().find(|h| h.name() == name)
    }
}

fn read(top: &Section<'_>) -> Result<Standard, StandardError> {
    top.only(&[
        "version",
        "example",
        "office",
        "stand-down",
        "steps",
        "check",
        "clearance",
        "proof",
        "clock",
        "codes",
        "retention",
        "kit",
        "caution",
        "last-caution",
        "hint",
    ])?;
    let steps = top.texts("steps")?;
    let each = |key: &str| top.sections(key);
    let standard = Standard {
        version: top.text(
            "version",
            "name this version of the standard, such as \"Larkspur 2026-03\"",
        )?,
        is_example: top.flag("example", false)?,
        office: if top.has("office") {
            Some(Office::read(&top.section("office")?)?)
        } else {
            None
        },
        stand_down_reasons: each("stand-down")?
            .iter()
            .map(StandDownReason::read)
            .collect::<Result<_, _>>()?,
        checks: each("check")?
            .iter()
            .map(|s| Requirement::read(s, &steps))
            .collect::<Result<_, _>>()?,
        tables: Tables::read(&top.section("clearance")?)?,
        proof: ProofAnswers::read(&top.section("proof")?)?,
        clock: read_clock(&top.section("clock")?)?,
        codes: read_codes(&top.section("codes")?)?,
        retention: read_retention(&top.section("retention")?)?,
        kit: each("kit")?.iter().map(KitItem::read).collect::<Result<_, _>>()?,
        cautions: each("caution")?
            .iter()
            .map(|s| Caution::read(s, &steps))
            .collect::<Result<_, _>>()?,
        last_caution: top.text(
            "last-caution",
            "write the deference to site rules, local codes and licensed practice",
        )?,
        hints: each("hint")?
            .iter()
            .map(|s| Hint::read(s, &steps))
            .collect::<Result<_, _>>()?,
    };
    check_names(top, &standard)?;
    Ok(standard)
}

/// Every check that is named somewhere must be in the list of checks: a rule about any other name could never be met.
fn check_names(top: &Section<'_>, standard: &Standard) -> Result<(), StandardError> {
    let names: Vec<&str> = standard.checks.iter().map(Requirement::name).collect();
    let advice = "name one of the checks, or add a [[check]] of that name";
    let check = |section: &Section<'_>, key: &str, name: &str| {
        let what = format!("names the check '{name}', which does not exist");
        if names.contains(&name) {
            Ok(())
        } else {
            Err(section.wrong(key, &what, advice))
        }
    };
    for (section, requirement) in top.sections("check")?.iter().zip(&standard.checks) {
        if let Some((from, to)) = requirement.pair() {
            check(section, "from", from)?;
            check(section, "to", to)?;
        }
        requirement
            .made_good_by()
            .iter()
            .try_for_each(|m| check(section, "made-good-by", m.check()))?;
    }
    let clearance = top.section("clearance")?;
    standard
        .cut_shown_by()
        .iter()
        .try_for_each(|name| check(&clearance, "cut-shown-by", name))?;
    standard
        .tables
        .probe_checks()
        .try_for_each(|name| check(&clearance, "table", name))?;
    check_duplicates(top, standard)
}

/// Two checks may have one name under different conditions. Under the same conditions one of the two is a mistake.
fn check_duplicates(top: &Section<'_>, standard: &Standard) -> Result<(), StandardError> {
    for (i, (section, this)) in top.sections("check")?.iter().zip(&standard.checks).enumerate() {
        let is_same = |c: &Requirement| c.name() == this.name() && c.applies() == this.applies();
        if standard.checks.iter().take(i).any(is_same) {
            let what = format!("'{}' is defined a second time under the same conditions", this.name());
            return Err(section.wrong("name", &what, "keep one of the two"));
        }
    }
    Ok(())
}

fn read_clock(section: &Section<'_>) -> Result<ClockLimits, StandardError> {
    section.only(&["off-over", "drift-ppm", "unmeasured"])?;
    let micros = |key| {
        let measure = section.measure(key, Dimension::Time)?;
        let us = (measure.base() * gladhand_facts::measure::Exact::from_integer(1_000_000)).to_integer();
        i64::try_from(us).map_err(|_| section.wrong(key, "is longer than any clock runs", "write a shorter time"))
    };
    Ok(ClockLimits {
        off_us: micros("off-over")?,
        drift_ppm: section.whole("drift-ppm", 0)?,
        unmeasured_us: micros("unmeasured")?,
    })
}

fn read_codes(section: &Section<'_>) -> Result<Vec<(&'static str, CodeRule)>, StandardError> {
    section.only(&CODE_KINDS)?;
    let read_one = |kind: &&'static str| Ok((*kind, section.choice(kind, &RULES)?));
    CODE_KINDS.iter().map(read_one).collect()
}

fn read_retention(section: &Section<'_>) -> Result<Retention, StandardError> {
    section.only(&["months", "months-after-leaving", "source"])?;
    Ok(Retention {
        months: section.whole("months", 1)?,
        months_after_leaving: section.whole("months-after-leaving", 0)?,
        source: section.text("source", "name where it comes from")?,
    })
}

#[cfg(test)]
#[path = "standard_tests.rs"]
mod tests;
