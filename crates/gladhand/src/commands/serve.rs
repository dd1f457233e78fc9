//! `serve`: the daemon.

use super::Context;
use crate::cli;
use crate::failure::Outcome;
use crate::serve::daemon;

/// Serves until it is told to stop.
pub fn serve(context: &Context, args: &cli::Serve) -> Outcome {
    daemon::serve(context, args.log)
}
