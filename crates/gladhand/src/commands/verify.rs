//! `verify`: the whole store read back.

use gladhand_answers::verified::verified;

use super::Context;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Verifies the store; with `rebuild` makes what is derived anew first.
pub fn verify(context: &Context, rebuild: bool) -> Outcome {
    let bar = show::Bar::new();
    let node = if rebuild {
        let mut node = context.open()?;
        node.rebuild(&bar)?;
        // Told at once: reading everything back takes long, and may fail.
        show::aside("the index was made anew from the journal");
        node.into_view()?
    } else {
        context.view()?
    };
    let verified = verified(&node, &bar)?;
    drop(bar);
    node.close()?;
    let exit = if verified.wrong.is_empty() {
        Exit::Done
    } else {
        Exit::Failed
    };
    show::answer(verified, context.json)?;
    Ok(exit)
}
