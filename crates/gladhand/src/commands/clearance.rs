//! `clearance`: the go/no-go answer for a trailer from its readings so far. An answer is a document: the exit code is 0
//! whatever it says, and no answer is permission.

use gladhand_answers::clearance::clearance as answer;
use gladhand_answers::{JudgingContext, resolve};

use super::Context;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Shows the answer.
pub fn clearance(context: &Context, job: &str) -> Outcome {
    let node = context.view()?;
    let job = resolve::known_job(&node, job)?;
    let answer = {
        let judging = JudgingContext::new(&node);
        let answer = answer(&judging, &judging.job(&job));
        judging.check().map_err(Failure::from)?;
        answer
    };
    node.close()?;
    show::answer(answer, context.json)?;
    Ok(Exit::Done)
}
