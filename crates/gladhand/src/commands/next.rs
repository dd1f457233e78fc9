//! `job next`: which open jobs wait for what.

use gladhand_answers::job_list::job_list;
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
