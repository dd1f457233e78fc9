//! `job next`: which open jobs wait for what; with `--returns` which jobs to come back to.

use gladhand_answers::job_list::job_list;
use gladhand_answers::job_returns::job_returns;
use gladhand_node::environment;

use super::Context;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Lists the open jobs.
pub fn next(context: &Context) -> Outcome {
    let node = context.view()?;
    let list = job_list(&node, environment::now_us())?;
    node.close()?;
    show::answer(list, context.json)?;
    Ok(Exit::Done)
}

/// Lists the jobs to come back to.
pub fn returns(context: &Context) -> Outcome {
    let node = context.judged_view()?;
    let list = job_returns(&node)?;
    node.close()?;
    show::answer(list, context.json)?;
    Ok(Exit::Done)
}
