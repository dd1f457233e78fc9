//! The flags of `picture`.

use std::path::PathBuf;

use clap::Args;

/// `picture`
#[derive(Debug, Args)]
pub struct Picture {
    /// The job, or the unit number of the trailer: the picture of the pair that is linked now. The beginning of a job's name is
    /// enough, and . is the job that this device touched last.
    #[arg(value_name = "JOB|TRAILER")]
    pub what: String,
    /// The file to write. Default: in the current folder, named by the job and the picture's hash.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Replace the file if it is there.
    #[arg(long)]
    pub overwrite: bool,
}
