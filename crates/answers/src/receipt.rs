//! The receipt for a fact: it is durable on this device. With what is told beside it.

use gladhand_facts::{FactId, LogId};
use gladhand_node::{Node, NodeError, RecordOutcome};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::fact_words::summary;
use crate::judging::JudgingContext;
use crate::told::Told;

/// Whether the fact is new here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// It is recorded now.
    Recorded,
    /// This device had recorded the same fact before; nothing was added.
    Already,
}

/// The receipt for one fact.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Receipt {
    /// Whether it is new.
    pub receipt: Word,
    /// The fact's id: BLAKE3 of its canonical JSON together with the device.
    #[schemars(with = "String")]
    pub fact: FactId,
    /// Its kind.
    pub kind: String,
    /// The job that it names; null when it names none.
    pub job: Option<String>,
    /// The unit number of the job's trailer; several where they were written without knowing of each other. Absent where the fact
    /// names no job, and where it was recorded by `record`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub trailer: Vec<String>,
    /// What the fact says, in a few words.
    pub says: String,
    /// The name of the device that recorded it.
    pub device: String,
    /// The log in which it stands.
    #[schemars(with = "String")]
    pub log: LogId,
    /// Its entry in that log, counted from 1.
    pub seq: u64,
    /// Its place in that entry, counted from 0.
    pub index: u32,
    /// The file that it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The line of that file, counted from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// What is told beside it; absent where the fact was recorded by `record`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub told: Option<Told>,
}

/// The receipt that the device called `device` gives for a fact.
pub fn receipt(device: &str, receipt: &gladhand_node::Receipt) -> Receipt {
    let gladhand_node::Receipt { fact, place, taken } = receipt;
    Receipt {
        receipt: match taken {
            RecordOutcome::Recorded => Word::Recorded,
            RecordOutcome::Already => Word::Already,
        },
        fact: fact.id(),
        kind: fact.kind().name().to_owned(),
        job: fact.text("job").map(std::borrow::Cow::into_owned),
        trailer: Vec::new(),
        says: summary(fact),
        device: device.to_owned(),
        log: place.log,
        seq: place.seq,
        index: place.index,
        file: None,
        line: None,
        told: None,
    }
}

impl Receipt {
    /// With the trailer of its job as it is known at `node`: a fact that landed in a wrong job is seen at once.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn with_trailer(self, node: &Node) -> Result<Self, NodeError> {
        let Some(job) = &self.job else { return Ok(self) };
        let judging = JudgingContext::new(node);
        let trailer = judging.job(job).values("trailer");
        judging.check()?;
        Ok(Self { trailer, ..self })
    }

    /// With the line of a file from which the fact came.
    #[must_use]
    pub fn from_line(self, file: &str, line: u64) -> Self {
        Self {
            file: Some(file.to_owned()),
            line: Some(line),
            ..self
        }
    }
}
