//! One check of the work standard: its name, when it applies, and what its fact must say.
//!
//! A check with `required = false` is only named and explained; the sign-off never asks for it. A check that depends on wall,
//! load or thickness is required only where these are known. A visit whose purpose is not known is a fit.

use gladhand_facts::{Dimension, Measure};

use crate::band::{BAND_KEYS, Band};
use crate::made_good::MadeGood;
use crate::section::{Section, StandardError};

/// The walls that a job can name.
pub const WALLS: [&str; 2] = ["plate", "sheet-and-post"];
/// The loads that a job can name.
pub const LOADS: [&str; 2] = ["empty", "loaded"];

/// The purposes that a visit can have. The first is the one of a visit that names none, or none of these.
pub const PURPOSES: [&str; 4] = ["fit", "replace", "take-off", "prove"];

/// What is known of a visit to a trailer.
#[derive(Debug, Clone, Copy, Default)]
pub struct Visit<'a> {
    /// What it is for; one of [`PURPOSES`], or else the first of them.
    pub purpose: Option<&'a str>,
    /// The wall, one of [`WALLS`].
    pub wall: Option<&'a str>,
    /// The load, one of [`LOADS`].
    pub load: Option<&'a str>,
    /// The thickness of the wall.
    pub thickness: Option<&'a Measure>,
}

/// The word for a [`Wants`].
#[derive(Debug, Clone, Copy)]
enum WantsWord {
    Seen,
    Measure,
    Wait,
    Answers,
    Reading,
    YesOrNo,
}

const WANTS: [(&str, WantsWord); 6] = [
    ("seen", WantsWord::Seen),
    ("measure", WantsWord::Measure),
    ("wait", WantsWord::Wait),
    ("answers", WantsWord::Answers),
    ("reading", WantsWord::Reading),
    ("yes-or-no", WantsWord::YesOrNo),
];

/// When something of the standard applies. Empty lists and no band: always.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Applies {
    purpose: Vec<String>,
    wall: Vec<String>,
    load: Vec<String>,
    thickness: Option<Band>,
}

impl Applies {
    /// Its keys in the standard.
    pub(crate) const KEYS: [&'static str; 4] = ["purpose", "wall", "load", "thickness-over"];

    pub(crate) fn read(section: &Section<'_>) -> Result<Self, StandardError> {
        let over = section.measure_opt("thickness-over", Some(Dimension::Length))?;
        Ok(Self {
            purpose: section.words("purpose", &PURPOSES)?,
            wall: section.words("wall", &WALLS)?,
            load: section.words("load", &LOADS)?,
            thickness: over.map(Band::more_than),
        })
    }

    /// Whether it applies, given what is known. Something unknown meets no condition, except the purpose: see [`Visit`].
    pub fn holds(&self, visit: Visit<'_>) -> bool {
        let among = |list: &[String], known: Option<&str>| {
            list.is_empty() || known.is_some_and(|k| list.iter().any(|item| item == k))
        };
        let thick = self
            .thickness
            .as_ref()
            .is_none_or(|band| visit.thickness.is_some_and(|t| band.holds(t)));
        self.is_for(visit.purpose) && among(&self.wall, visit.wall) && among(&self.load, visit.load) && thick
    }

    /// Whether it concerns visits of that purpose, whatever the trailer is like.
    pub fn is_for(&self, purpose: Option<&str>) -> bool {
        let [fit, ..] = PURPOSES;
        let purpose = purpose.filter(|p| PURPOSES.contains(p)).unwrap_or(fit);
        self.purpose.is_empty() || self.purpose.iter().any(|p| p == purpose)
    }

    /// The purposes of the visits that it concerns; empty: all.
    pub fn purposes(&self) -> &[String] {
        &self.purpose
    }

    /// Whether it depends on that field of a job: `purpose`, `wall`, `load` or `thickness`.
    pub fn depends_on(&self, field: &str) -> bool {
        match field {
            "purpose" => !self.purpose.is_empty(),
            "wall" => !self.wall.is_empty(),
            "load" => !self.load.is_empty(),
            "thickness" => self.thickness.is_some(),
            _ => false,
        }
    }
}

/// What the fact of a check must say.
#[derive(Debug, Clone, PartialEq)]
pub enum Wants {
    /// That it was seen to be so: `ok` true, or a `value` of yes.
    Seen,
    /// A measure or a count within a band.
    Measure(Band),
    /// A waiting time within a band: a `value`, or the time between two other checks.
    Wait {
        /// The check that starts the wait.
        from: String,
        /// The check that ends it.
        to: String,
        /// How long.
        band: Band,
    },
    /// Answers, each of which must be yes.
    Answers(Vec<String>),
    /// A probe reading that can be read; the clearance decides what it means.
    Reading,
    /// A `value` of yes, no or cannot-be-seen, each of which passes; the clearance decides what it means.
    YesOrNo,
}

/// One check of the standard.
#[derive(Debug, Clone, PartialEq)]
pub struct Requirement {
    name: String,
    says: String,
    source: String,
    step: Option<String>,
    required: bool,
    applies: Applies,
    wants: Wants,
    ok_is_enough: bool,
    asks: bool,
    made_good_by: Vec<MadeGood>,
}

impl Requirement {
    pub(crate) fn read(section: &Section<'_>, steps: &[String]) -> Result<Self, StandardError> {
        let own = [
            "name",
            "says",
            "source",
            "step",
            "required",
            "wants",
            "value",
            "tolerance",
            "from",
            "to",
            "answers",
            "ok-is-enough",
            "outside",
            "made-good-by",
        ];
        section.only(&[&own[..], &Applies::KEYS, &BAND_KEYS].concat())?;
        let words: Vec<&str> = steps.iter().map(String::as_str).collect();
        let step = if section.has("step") {
            Some(section.word("step", &words)?)
        } else {
            None
        };
        Ok(Self {
            name: section.text("name", "write the name that the check facts carry")?,
            says: section.text("says", "say in one sentence what is checked")?,
            source: section.text("source", "name where it comes from, or write \"common practice\"")?,
            step,
            required: section.flag("required", true)?,
            applies: Applies::read(section)?,
            wants: read_wants(section)?,
            ok_is_enough: section.flag("ok-is-enough", false)?,
            asks: section.has("outside") && section.choice("outside", &[("ask", true), ("stop", false)])?,
            made_good_by: MadeGood::read_all(section)?,
        })
    }

    /// The name that the check facts carry.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What is checked, in one sentence.
    pub fn says(&self) -> &str {
        &self.says
    }

    /// Where it comes from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The step of the work that it belongs to; cautions are kept by step.
    pub fn step(&self) -> Option<&str> {
        self.step.as_deref()
    }

    /// Whether a sign-off needs it at all, where it applies.
    pub fn is_required(&self) -> bool {
        self.required
    }

    /// When it applies.
    pub fn applies(&self) -> &Applies {
        &self.applies
    }

    /// What its fact must say.
    pub fn wants(&self) -> &Wants {
        &self.wants
    }

    /// Whether `ok` alone counts as a value within the band.
    pub fn ok_is_enough(&self) -> bool {
        self.ok_is_enough
    }

    /// Whether a value outside the band is a question to the office and not a stop by itself.
    pub fn asks_when_outside(&self) -> bool {
        self.asks
    }

    /// The checks that make good a value outside the band.
    pub fn made_good_by(&self) -> &[MadeGood] {
        &self.made_good_by
    }

    /// The two checks whose times make this one, for a waiting time.
    pub fn pair(&self) -> Option<(&str, &str)> {
        match &self.wants {
            Wants::Wait { from, to, .. } => Some((from, to)),
            _ => None,
        }
    }
}

fn read_wants(section: &Section<'_>) -> Result<Wants, StandardError> {
    let word = section.choice("wants", &WANTS)?;
    refuse_meaningless(section, word)?;
    Ok(match word {
        WantsWord::Measure => Wants::Measure(read_target(section)?),
        WantsWord::Wait => Wants::Wait {
            from: section.text("from", "name the check that starts the wait")?,
            to: section.text("to", "name the check that ends the wait")?,
            band: Band::read(section, Some(Dimension::Time))?
                .ok_or_else(|| section.missing("at-least", "write how long, such as \"3 min\""))?,
        },
        WantsWord::Answers => match section.texts("answers")? {
            list if list.is_empty() => return Err(section.missing("answers", "list the answers that must be yes")),
            list => Wants::Answers(list),
        },
        WantsWord::Reading => Wants::Reading,
        WantsWord::YesOrNo => Wants::YesOrNo,
        WantsWord::Seen => Wants::Seen,
    })
}

/// Refuses keys that would never be looked at, such as a tolerance with `wants = "seen"`: the person who wrote it expects it to count.
fn refuse_meaningless(section: &Section<'_>, word: WantsWord) -> Result<(), StandardError> {
    let measured = ["value", "tolerance", "ok-is-enough", "outside", "made-good-by"];
    let meaningless: Vec<&str> = match word {
        WantsWord::Measure => vec!["from", "to", "answers"],
        WantsWord::Wait => vec!["value", "tolerance", "answers"],
        WantsWord::Answers => [&measured[..], &BAND_KEYS, &["from", "to"]].concat(),
        WantsWord::Seen | WantsWord::Reading | WantsWord::YesOrNo => {
            [&measured[..], &BAND_KEYS, &["from", "to", "answers"]].concat()
        }
    };
    match meaningless.iter().find(|key| section.has(key)) {
        Some(key) => {
            let wants = section.text("wants", "say what its fact must say")?;
            let what = format!("has no meaning beside wants = \"{wants}\"");
            Err(section.wrong(key, &what, "take it out, or change `wants`"))
        }
        None => Ok(()),
    }
}

fn read_target(section: &Section<'_>) -> Result<Band, StandardError> {
    let band = Band::read(section, None)?;
    let Some(value) = section.measure_opt("value", None)? else {
        let advice = "write `value` and `tolerance`, or `at-least`, `at-most`, `exactly`";
        return band.ok_or_else(|| section.missing("value", advice));
    };
    if band.is_some() {
        return Err(section.wrong(
            "value",
            "is given together with a band",
            "keep either the value or the band",
        ));
    }
    if value.dimension() == Dimension::Temperature {
        let advice = "write `at-least` and `at-most`: degrees of two scales do not add up";
        return Err(section.wrong("value", "is a temperature with a tolerance", advice));
    }
    let tolerance = section.measure("tolerance", value.dimension())?;
    Band::around(value, tolerance).ok_or_else(|| section.wrong("tolerance", "does not fit the value", "use its unit"))
}
