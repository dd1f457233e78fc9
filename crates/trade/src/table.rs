//! The go/no-go tables: for each wall and load, which probes are made and what each depth means.
//!
//! A table that could let something unsafe through is refused when it is read, not when somebody stands at a wall: the bands
//! of a probe are in ascending order and do not overlap; only the band without an upper end may be clear, so that meeting
//! something earlier is never better; the last probe leads to no other; and every wall with every load has exactly one
//! table. What lies between two bands has no answer, on purpose.

use gladhand_facts::{Dimension, Measure};

use crate::band::{BAND_KEYS, Band};
use crate::requirement::{LOADS, WALLS};
use crate::section::{Section, StandardError};

type Read<T> = Result<T, StandardError>;

/// What a band of depths means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Meaning {
    /// The wall may be cut.
    Clear,
    /// It may not; the reason.
    Blocked(String),
    /// The next probe decides.
    Next,
    /// The probe missed the hole that it was for; the reason. The next reading of the same probe replaces it.
    Missed(String),
}

/// One row of a probe's table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TableRow {
    pub(crate) band: Band,
    pub(crate) meaning: Meaning,
}

/// One probe into the pilot hole.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Probe {
    /// The check that records it.
    pub(crate) check: String,
    /// How deep the pilot hole is for it.
    pub(crate) pilot_depth: Measure,
    /// How the pilot hole is made, or deepened.
    pub(crate) drill: String,
    /// How the probe is made and recorded.
    pub(crate) how: String,
    /// How it is recorded that the probe entered the hole in the liner; without that its reading is not clear.
    pub(crate) enters: Option<String>,
    pub(crate) rows: Vec<TableRow>,
}

/// What freight at the opening means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Freight {
    /// It need not be known.
    Ignored,
    /// It must be known; the probe decides.
    Recorded,
    /// It must be known, and freight there is a no.
    Blocks,
}

/// The table for one wall and load.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Table {
    wall: Vec<String>,
    load: Vec<String>,
    /// An answer that needs no probe.
    pub(crate) always: Option<Meaning>,
    /// A recorded thickness must lie in this band.
    pub(crate) thickness: Option<Band>,
    /// Whether the thickness must be recorded.
    pub(crate) needs_thickness: bool,
    pub(crate) freight: Freight,
    pub(crate) probes: Vec<Probe>,
    /// What the work is limited to when the answer is clear.
    pub(crate) limits: Vec<String>,
    /// The further limit for a wall that is thicker than an inner cut allows to skip.
    pub(crate) thick_wall: Option<String>,
}

/// All tables, and what they share.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tables {
    /// How far a reading may be off when it does not say so itself.
    pub(crate) uncertainty: Measure,
    /// Walls thicker than this need the inner cut.
    pub(crate) inner_cut: Band,
    /// Shown when the answer is clear and the thickness unknown.
    pub(crate) thickness_unknown: String,
    pub(crate) seal: String,
    pub(crate) stand_down: String,
    pub(crate) ask: String,
    pub(crate) cut_shown_by: Vec<String>,
    tables: Vec<Table>,
}

impl Tables {
    pub(crate) fn read(section: &Section<'_>) -> Read<Self> {
        section.only(&[
            "uncertainty",
            "inner-cut-over",
            "thickness-unknown",
            "seal",
            "stand-down",
            "ask",
            "cut-shown-by",
            "table",
        ])?;
        let sections = section.sections("table")?;
        let tables = sections.iter().map(Table::read).collect::<Read<Vec<_>>>()?;
        check_cover(section, &sections, &tables)?;
        let cut_shown_by = section.texts("cut-shown-by")?;
        if cut_shown_by.is_empty() {
            return Err(section.missing("cut-shown-by", "list the checks that show that the wall was cut"));
        }
        Ok(Self {
            uncertainty: section.measure("uncertainty", Dimension::Length)?,
            inner_cut: Band::more_than(section.measure("inner-cut-over", Dimension::Length)?),
            thickness_unknown: section.text("thickness-unknown", "say what to do when the thickness is unknown")?,
            seal: section.text("seal", "say how a pilot hole is made good")?,
            stand_down: section.text("stand-down", "say how the job ends when it is blocked")?,
            ask: section.text("ask", "say whom to ask when the answer cannot be decided")?,
            cut_shown_by,
            tables,
        })
    }

    /// The table for a wall and load; there is one for each in [`WALLS`] and [`LOADS`].
    pub(crate) fn table(&self, wall: &str, load: &str) -> Option<&Table> {
        self.tables.iter().find(|t| t.is_for(wall, load))
    }

    /// Every check that records a probe.
    pub(crate) fn probe_checks(&self) -> impl Iterator<Item = &str> {
        self.tables.iter().flat_map(|t| &t.probes).map(|p| p.check.as_str())
    }
}

fn check_cover(section: &Section<'_>, sections: &[Section<'_>], tables: &[Table]) -> Read<()> {
    for (wall, load) in WALLS.iter().flat_map(|w| LOADS.map(|l| (*w, l))) {
        let mut found = tables.iter().zip(sections).filter(|(t, _)| t.is_for(wall, load));
        if found.next().is_none() {
            let advice = format!("add a [[clearance.table]] for wall \"{wall}\", load \"{load}\"");
            return Err(section.missing("table", &advice));
        }
        if let Some((_, second)) = found.next() {
            let what = format!("is a second table for wall \"{wall}\", load \"{load}\"");
            return Err(second.wrong("wall", &what, "keep one of the two"));
        }
    }
    Ok(())
}

impl Table {
    fn is_for(&self, wall: &str, load: &str) -> bool {
        self.wall.iter().any(|w| w == wall) && self.load.iter().any(|l| l == load)
    }

    fn read(section: &Section<'_>) -> Read<Self> {
        section.only(&[
            "wall",
            "load",
            "always",
            "why",
            "thickness-at-most",
            "thickness-below",
            "thickness",
            "freight",
            "limits",
            "thick-wall",
            "probe",
        ])?;
        let listed = |key, words: &[&str]| match section.words(key, words)? {
            list if list.is_empty() => Err(section.missing(key, &format!("list some of: {}", words.join(", ")))),
            list => Ok(list),
        };
        let at_most = section.measure_opt("thickness-at-most", Some(Dimension::Length))?;
        let below = section.measure_opt("thickness-below", Some(Dimension::Length))?;
        if at_most.is_some() && below.is_some() {
            let what = "contradicts the other limit beside it";
            return Err(section.wrong("thickness-below", what, "keep one of the two"));
        }
        Ok(Self {
            wall: listed("wall", &WALLS)?,
            load: listed("load", &LOADS)?,
            always: read_always(section)?,
            thickness: at_most.map(Band::up_to).or(below.map(Band::less_than)),
            needs_thickness: at_most.is_some() || is_thickness_recorded(section)?,
            freight: read_freight(section)?,
            probes: read_probes(section)?,
            limits: section.texts("limits")?,
            thick_wall: section.text_opt("thick-wall")?,
        })
    }
}

fn read_always(section: &Section<'_>) -> Read<Option<Meaning>> {
    let probed = section.has("probe");
    match (section.has("always"), probed) {
        (true, true) => Err(section.wrong(
            "always",
            "is given together with probes",
            "keep either the answer or the probes",
        )),
        (false, false) => Err(section.missing("probe", "add a [[clearance.table.probe]], or `always`")),
        (false, true) => Ok(None),
        (true, false) => {
            let word = section.choice(
                "always",
                &[("clear", MeaningWord::Clear), ("blocked", MeaningWord::Blocked)],
            )?;
            Ok(Some(read_meaning(section, word)?))
        }
    }
}

/// The word for a [`Meaning`].
#[derive(Debug, Clone, Copy)]
enum MeaningWord {
    Clear,
    Blocked,
    Next,
    Missed,
}

fn read_meaning(section: &Section<'_>, word: MeaningWord) -> Read<Meaning> {
    Ok(match word {
        MeaningWord::Clear => Meaning::Clear,
        MeaningWord::Next => Meaning::Next,
        MeaningWord::Blocked => Meaning::Blocked(section.text("why", "say why it is blocked")?),
        MeaningWord::Missed => Meaning::Missed(section.text("why", "say what was missed")?),
    })
}

fn is_thickness_recorded(section: &Section<'_>) -> Read<bool> {
    if !section.has("thickness") {
        return Ok(false);
    }
    section.choice("thickness", &[("recorded", true)])
}

fn read_freight(section: &Section<'_>) -> Read<Freight> {
    if !section.has("freight") {
        return Ok(Freight::Ignored);
    }
    section.choice(
        "freight",
        &[("blocks", Freight::Blocks), ("recorded", Freight::Recorded)],
    )
}

fn read_probes(section: &Section<'_>) -> Read<Vec<Probe>> {
    let sections = section.sections("probe")?;
    let count = sections.len();
    let read_one = |(i, s): (usize, &Section<'_>)| {
        s.only(&["check", "pilot-depth", "drill", "how", "enters", "bands"])?;
        Ok(Probe {
            check: s.text("check", "name the check that records the probe")?,
            pilot_depth: s.measure("pilot-depth", Dimension::Length)?,
            drill: s.text("drill", "say how the pilot hole is made or deepened")?,
            how: s.text("how", "say how the probe is made and recorded")?,
            enters: s.text_opt("enters")?,
            rows: read_rows(s, i + 1 == count)?,
        })
    };
    sections.iter().enumerate().map(read_one).collect()
}

fn read_rows(section: &Section<'_>, is_last: bool) -> Read<Vec<TableRow>> {
    let mut rows: Vec<TableRow> = Vec::new();
    for s in section.sections("bands")? {
        let row = read_row(&s)?;
        if rows.last().is_some_and(|before| !before.band.is_before(&row.band)) {
            let what = "does not begin above the band before it";
            return Err(s.wrong("answer", what, "write the bands in ascending order, without overlap"));
        }
        if row.meaning == Meaning::Clear && !row.band.is_open_above() {
            let advice = "only the deepest band, which has no upper end, may be clear";
            return Err(s.wrong("answer", "is clear below another depth", advice));
        }
        if row.meaning == Meaning::Next && is_last {
            return Err(s.wrong(
                "answer",
                "leads to a next probe, but this is the last",
                "add a probe or change it",
            ));
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(section.missing("bands", "list what each range of depths means"));
    }
    Ok(rows)
}

fn read_row(section: &Section<'_>) -> Read<TableRow> {
    section.only(&[&BAND_KEYS[..], &["answer", "why"]].concat())?;
    let band = Band::read(section, Some(Dimension::Length))?;
    let words = [
        ("clear", MeaningWord::Clear),
        ("blocked", MeaningWord::Blocked),
        ("next", MeaningWord::Next),
        ("missed", MeaningWord::Missed),
    ];
    let meaning = read_meaning(section, section.choice("answer", &words)?)?;
    Ok(TableRow {
        band: band.ok_or_else(|| section.missing("at-least", "write the range of depths"))?,
        meaning,
    })
}
