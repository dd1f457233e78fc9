//! The rows of a history: what the node has, with all that a text or a page needs to show it.

use std::collections::BTreeMap;

use gladhand_facts::{DeviceKey, FactId, LogId, Place};
use gladhand_reconcile::Interval;
use gladhand_reconcile::edits::{self, EditStanding};
use gladhand_reconcile::timeline::{self, Basis};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// One fact in a history.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HistoryRow {
    /// The fact's id.
    #[schemars(with = "String")]
    pub id: FactId,
    /// Its kind as written.
    pub kind: String,
    /// When it happened, as written (RFC 3339).
    pub at: String,
    /// When that was by the depot's clock; `null` when no depot is known.
    pub corrected: Option<CorrectedTime>,
    /// Who did it; null when the fact does not say.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
    /// The public key of that device.
    #[schemars(with = "String")]
    pub device_key: DeviceKey,
    /// Where it stands: log, entry and place in the entry.
    pub place: FactPlace,
    /// The fact itself, with its keys as written.
    pub fact: Map<String, Value>,
    /// How many facts of this history are concurrent with it: its recorder did not know of them, nor their recorders of it.
    pub concurrent: u64,
    /// The ids of the concurrent facts; absent in a history of everything.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<Vec<String>>")]
    pub concurrent_with: Option<Vec<FactId>>,
    /// Which devices had seen it later, each with its first entry that had.
    pub seen_by: Vec<SeenBy>,
    /// Set when its written time is earlier than that of a fact of this history that its recorder had seen: the row stands
    /// where the order of what was seen puts it, against the clock.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub against_clock: Option<AgainstClock>,
    /// What became of each field of the job that it set; absent in a history of everything.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub fields: BTreeMap<String, FieldEdit>,
    /// The ids of the findings that it makes, if findings were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub findings: Vec<String>,
    /// The id of the withdrawal that took the fact back; absent for one that stands.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[schemars(with = "Option<String>")]
    pub withdrawn_by: Option<FactId>,
}

/// A position in a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FactPlace {
    /// Which log: `KEY.INCARNATION`.
    #[schemars(with = "String")]
    pub log: LogId,
    /// Which entry of it, counted from 1.
    pub seq: u64,
    /// Which fact of that entry, counted from 0.
    pub index: u32,
}

/// A fact that a recorder had seen although it bears a later time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct AgainstClock {
    /// The id of the fact with the latest written time among those that the recorder had seen.
    #[schemars(with = "String")]
    pub id: FactId,
    /// Its time, as written (RFC 3339).
    pub at: String,
    /// By how much the time of the row is earlier, in microseconds.
    pub earlier_us: u64,
}

/// A time by the depot's clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CorrectedTime {
    /// Not earlier than this (RFC 3339, in the offset of the time as written).
    pub from: String,
    /// Not later than this (RFC 3339, in the offset of the time as written).
    pub to: String,
    /// On what that rests: the depot's own clock, readings that lead to the depot, nothing but what the work standard says
    /// of clocks that nobody has measured, or a server's clock.
    #[schemars(with = "String", extend("enum" = ["depot", "measured", "unmeasured", "server"]))]
    pub basis: Basis,
    /// `from` in microseconds since 1970 (UTC).
    pub from_us: i64,
    /// `to` in microseconds since 1970 (UTC).
    pub to_us: i64,
}

/// The first entry of a device that had seen a fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SeenBy {
    /// The name of the device.
    pub device: String,
    /// The public key of that device.
    #[schemars(with = "String")]
    pub device_key: DeviceKey,
    /// The number of the entry in the device's log.
    pub entry: u64,
    /// When that entry was written, by the device's own clock (RFC 3339).
    pub at: Option<String>,
}

/// What a fact did to a field of its job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FieldEdit {
    /// The value that it set.
    pub value: String,
    /// How that value stands now: it holds, it is disputed by another that is concurrent, or it was replaced by a writer who had
    /// seen it.
    #[schemars(with = "String", extend("enum" = ["holds", "disputed", "replaced"]))]
    pub standing: EditStanding,
    /// Different values that are concurrent with this one: neither writer knew of the other.
    pub against: Vec<OtherValue>,
    /// The values that were written next by writers who had seen this one.
    pub followed_by: Vec<OtherValue>,
}

/// Another value of the same field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OtherValue {
    /// The id of the fact that set it.
    #[schemars(with = "String")]
    pub id: FactId,
    /// The value.
    pub value: String,
    /// Who wrote it, if the fact says so.
    pub by: Option<String>,
    /// The name of the device that recorded it.
    pub device: String,
}

impl CorrectedTime {
    /// The times between which the true one lies.
    pub fn interval(&self) -> Interval {
        Interval {
            from_us: self.from_us,
            to_us: self.to_us,
        }
    }
}

impl From<timeline::HistoryRow> for HistoryRow {
    fn from(row: timeline::HistoryRow) -> Self {
        Self {
            id: row.id,
            kind: row.kind,
            at: row.at,
            corrected: row.corrected.map(CorrectedTime::from),
            by: row.by,
            device: row.device,
            device_key: row.device_key,
            place: row.place.into(),
            fact: row.fact,
            concurrent: row.concurrent as u64,
            concurrent_with: row.concurrent_with,
            seen_by: row.seen_by.into_iter().map(SeenBy::from).collect(),
            withdrawn_by: row.withdrawn_by,
            against_clock: row.against_clock.map(AgainstClock::from),
            fields: row.fields.into_iter().map(|(field, e)| (field, e.into())).collect(),
            findings: row.findings,
        }
    }
}

impl From<Place> for FactPlace {
    fn from(Place { log, seq, index }: Place) -> Self {
        Self { log, seq, index }
    }
}

impl From<timeline::Corrected> for CorrectedTime {
    fn from(corrected: timeline::Corrected) -> Self {
        Self {
            from: corrected.from,
            to: corrected.to,
            basis: corrected.basis,
            from_us: corrected.interval.from_us,
            to_us: corrected.interval.to_us,
        }
    }
}

impl From<timeline::AgainstClock> for AgainstClock {
    fn from(seen: timeline::AgainstClock) -> Self {
        Self {
            id: seen.id,
            at: seen.at,
            earlier_us: seen.earlier_us,
        }
    }
}

impl From<timeline::SeenBy> for SeenBy {
    fn from(seen: timeline::SeenBy) -> Self {
        Self {
            device: seen.device,
            device_key: seen.device_key,
            entry: seen.entry,
            at: seen.at,
        }
    }
}

impl From<edits::Edit> for FieldEdit {
    fn from(edit: edits::Edit) -> Self {
        Self {
            value: edit.value,
            standing: edit.standing,
            against: edit.against.into_iter().map(OtherValue::from).collect(),
            followed_by: edit.followed_by.into_iter().map(OtherValue::from).collect(),
        }
    }
}

impl From<edits::Other> for OtherValue {
    fn from(other: edits::Other) -> Self {
        Self {
            id: other.id,
            value: other.value,
            by: other.by,
            device: other.device,
        }
    }
}
