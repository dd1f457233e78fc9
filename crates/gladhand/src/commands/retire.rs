//! `retire`: the depot takes a device off the roster.

use serde_json::json;

use super::{Context, resolve};
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::config::Role;

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
    let name = node.book().roster().name(&device);
    let last = node.retire(&device, args.after, why)?;
    node.close()?;
    if context.json {
        return show::json(&json!({"retired": device, "name": name, "last": last, "why": why}));
    }
    let places: Vec<String> = last.values().map(|seq| format!("entry {seq}")).collect();
    let counts = if places.is_empty() {
        "nothing of it counts".to_owned()
    } else {
        format!("what stands up to {} still counts", places.join(" and "))
    };
    show::line(&format!("{name} ({}) is retired: {counts}", device.short()))?;
    show::aside("Every node learns it with its next merge; what comes later from that device is set aside everywhere.");
    Ok(Exit::Done)
}
