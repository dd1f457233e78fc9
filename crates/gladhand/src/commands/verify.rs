//! `verify`: the whole store read back.

use serde_json::json;

use super::Context;
use crate::failure::{Exit, Outcome};
use crate::show;

/// Verifies the store; with `rebuild` makes what is derived anew first.
pub fn verify(context: &Context, rebuild: bool) -> Outcome {
    let mut node = context.open()?;
    let bar = show::Bar::new();
    if rebuild {
        node.rebuild(&bar)?;
        show::aside("the index was made anew from the journal");
    }
    let done = node.verify(&bar)?;
    drop(bar);
    node.close()?;
    if context.json {
        let wrong: Vec<_> = done
            .wrong
            .iter()
            .map(|w| json!({"place": w.place, "what": w.what}))
            .collect();
        show::json(&json!({
            "entries": done.entries, "signatures": done.signatures, "pictures": done.pictures, "wrong": wrong,
        }))?;
    } else {
        show::line(&format!(
            "{} chained, {} checked, {} read",
            show::counted(done.entries, "entry", "entries"),
            show::counted(done.signatures, "signature", "signatures"),
            show::counted(done.pictures, "picture", "pictures")
        ))?;
        done.wrong
            .iter()
            .try_for_each(|w| show::line(&format!("wrong: {}: {}", w.place, w.what)))?;
        if done.wrong.is_empty() {
            show::line("everything fits")?;
        }
    }
    Ok(if done.wrong.is_empty() {
        Exit::Done
    } else {
        Exit::Failed
    })
}
