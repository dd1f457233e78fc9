//! `job show` and `trailer show`: everything about one job, and the life of one trailer.

use gladhand_answers::job_shown::job_shown;
use gladhand_answers::trailer_shown::trailer_shown;
use gladhand_node::environment;

use super::Context;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Shows a job.
pub fn job(context: &Context, job: &str) -> Outcome {
    let node = context.soon_judged_view()?;
    let shown = job_shown(&node, job, environment::now_us())?;
    node.close()?;
    show::answer(shown, context.json)?;
    Ok(Exit::Done)
}

/// Shows a trailer.
pub fn trailer(context: &Context, trailer: &str) -> Outcome {
    let node = context.soon_judged_view()?;
    let shown = trailer_shown(&node, trailer)?;
    node.close()?;
    show::answer(shown, context.json)?;
    Ok(Exit::Done)
}
