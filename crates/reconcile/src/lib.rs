//! What the merged facts contradict: findings, report lines, histories.
//!
//! Bottom up: [`RecordedFact`] (a fact with its place and what its recorder had seen), [`Subject`] (what a fact is about),
//! [`Facts`] (the merged facts, by subject), [`Clocks`] (which of two times is certainly earlier), [`register`] (a job's fields as
//! multi-value registers), [`JobView`] (one job as the rules read it), [`visits`] (what it may be by its fields), [`Reason`] and [`Finding`] (what a rule finds, as data),
//! [`World`] (what a judgement depends on), [`rules`] (one file for each row of the contract's table), [`judge_subject`],
//! [`judge_all`] and [`Ledger`] (the same, kept up to date fact by fact), [`words`] (all English), [`Report`] and [`mod@timeline`].
//!
//! Deliberately absent: clocks, randomness, files, sockets, and any memory of the order in which facts arrived. Everything here is
//! a function of the set of facts, so two nodes with equal version vectors give equal bytes. Nothing is merged, corrected or
//! dropped automatically: a finding asks a person. Judging knows no names of devices; only [`words`], histories and reports look
//! them up ([`Names`]).
//!
//! Invariant: no file of this crate takes part in a circle of imports. Inside the crate a name is imported from the module that
//! defines it, not from the re-exports below.

#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

pub mod approvals;
pub mod as_seen;
pub mod asked;
mod awareness;
pub mod case;
pub mod checks;
pub mod clearance;
mod clock_graph;
mod clock_names;
mod clock_order;
pub mod clock_reading;
pub mod clocks;
mod contacts;
pub mod counted;
pub mod counting;
pub mod draft;
pub mod edits;
pub mod facts;
pub mod finding;
pub mod interval;
pub mod job;
pub mod job_line;
pub mod judge;
pub mod latest;
pub mod ledger;
mod listed;
pub mod log_times;
pub mod names;
pub mod near;
pub mod oddity;
pub mod order;
mod pair_readings;
pub mod picture;
pub mod placed;
pub mod proof;
pub mod purpose;
pub mod readings;
mod reads;
pub mod reason;
pub mod recorded_fact;
pub mod register;
pub mod reliance;
pub mod report;
pub mod rules;
pub mod sticks;
pub mod stretch;
pub mod subject;
pub mod thickness;
pub mod ties;
pub mod timed;
pub mod timeline;
pub mod touched;
pub mod touching;
pub mod trailer;
pub mod trailer_line;
pub mod visits;
mod wall_history;
pub mod words;
pub mod world;

pub use asked::Asked;
pub use clearance::clearance;
pub use clock_reading::ClockReading;
pub use clocks::{Clocks, Order};
pub use facts::{Facts, Fork, MemoryFacts, Sight, Split};
pub use finding::{Finding, Severity, Standing, Status};
pub use interval::Interval;
pub use job::JobView;
pub use judge::{judge_all, judge_subject, judge_subject_asked};
pub use ledger::Ledger;
pub use log_times::{DepotLog, LogTimes};
pub use names::{DeviceNames, Names};
pub use near::NearIndex;
pub use oddity::{DatedEntry, Oddity, ShownAt};
pub use reason::Reason;
pub use recorded_fact::RecordedFact;
pub use report::{Filter, Report};
pub use sticks::{HandReading, Trip};
pub use subject::{Class, Subject, mentions};
pub use timeline::timeline;
pub use touched::touched_by;
pub use words::{Described, NextStep, Step, ToldFinding, describe};
pub use world::World;
