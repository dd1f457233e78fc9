//! `retire`: the depot takes a device off the roster.

use gladhand_answers::{homes, resolve};
use gladhand_node::Role;

use super::Context;
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Takes a device off the roster from a place in its log on.
pub fn retire(context: &Context, args: &cli::Retire) -> Outcome {
    let why = args.why.trim();
    if why.is_empty() {
        return Err(Failure::bad_input("--why must say why"));
    }
    let mut node = context.open()?;
    if node.config().role != Role::Depot {
        return Err(
            Failure::bad_input("only a depot can retire a device: this home is a laptop")
                .hint("Run `gladhand retire` in the depot's home."),
        );
    }
    let device = resolve::device(&node, &args.device)?;
    let retired = homes::retire(&mut node, device, args.after, why)?;
    node.close()?;
    show::answer(retired, context.json)?;
    Ok(Exit::Done)
}
