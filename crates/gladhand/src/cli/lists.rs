//! The flags of the commands about lists, and what the lines of a report are of.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

/// What is done with lists.
#[derive(Debug, Subcommand)]
pub enum Stock {
    /// Read a list (CSV with a header row) as stock facts; says what differs from what is known.
    Read(StockRead),
}

/// A list to be read.
#[derive(Debug, Args)]
pub struct StockRead {
    /// The file. Its columns fleet, trailer, vin, tracker and camera are read; others by --map.
    pub file: PathBuf,
    /// A column that is called otherwise, such as --map 'Unit no.=trailer'; several times.
    #[arg(long, value_name = "COLUMN=KEY")]
    pub map: Vec<String>,
    /// The fleet of all rows that name none.
    #[arg(long)]
    pub fleet: Option<String>,
}

/// What a line of a report is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ReportLines {
    /// A job.
    Job,
    /// A trailer: its pair, when and by whom it was proven, and whether it can be relied on.
    Trailer,
    /// Whoever signed off, or else opened the job.
    Person,
    /// A kind of wall.
    Wall,
    /// A week (ISO 8601).
    Week,
}
