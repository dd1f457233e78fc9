//! `join`: becoming one of a depot's devices, over the network where there is one.

use std::net::SocketAddr;

use serde_json::json;

use super::sync::Asked;
use super::{Context, setup};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_net::dial::{self, DialError};
use gladhand_net::sync::{self, Whom};
use gladhand_node::Node;

/// What came of asking the depot itself.
enum Asking {
    /// It has taken us on.
    Admitted,
    /// The invite does not say where it is.
    NoAddress,
    /// It cannot be reached now.
    Unreachable(String),
}

/// Joins the depot of an invite. A depot that answers decides at once; otherwise the invite is shown with the first merge.
pub fn join(context: &Context, invite: &str) -> Outcome {
    let line = setup::invite_text(context, invite)?;
    let asked = Asked::new(context)?;
    let joined = asked.runtime.block_on(async {
        let address = ask_depot(&asked, context, &line).await?;
        let typed = line.clone();
        let (root, name) = asked
            .handle
            .call(move |node: &mut Node| node.join(&typed).map(|root| (root, node.config().name.clone())))
            .await??;
        let merged = match &address {
            (Asking::Admitted, at) => merge(&asked, context, at).await?,
            _ => false,
        };
        Ok::<_, Failure>((root, name, address.0, merged))
    });
    asked.close()?;
    let (root, name, asking, merged) = joined?;
    let admitted = matches!(asking, Asking::Admitted);
    if context.json {
        let unreachable = match &asking {
            Asking::Unreachable(why) => Some(why),
            _ => None,
        };
        return show::json(&json!({
            "joined": root, "name": name, "enrolled": admitted, "merged": merged, "unreachable": unreachable,
        }));
    }
    show::line(&format!("{name} has joined depot {}", root.short()))?;
    match asking {
        Asking::Admitted if merged => show::aside("The depot has enrolled it, and both hold the same."),
        Asking::Admitted => show::aside("The depot has enrolled it. Merge with `gladhand sync`."),
        Asking::Unreachable(why) => {
            show::aside(&format!("gladhand: the depot cannot be reached now: {why}"));
            later();
        }
        Asking::NoAddress => later(),
    }
    Ok(Exit::Done)
}

fn later() {
    show::aside(
        "The depot enrols it at the first contact: `gladhand sync ADDR`, or `gladhand bundle write FILE` for the depot to read.",
    );
}

async fn ask_depot(asked: &Asked, context: &Context, line: &str) -> Result<(Asking, Vec<SocketAddr>), Failure> {
    let typed = line.to_owned();
    let (invite, credential) = asked
        .handle
        .call(move |node: &mut Node| node.try_invite(&typed))
        .await??;
    if invite.address.is_empty() {
        return Ok((Asking::NoAddress, Vec::new()));
    }
    let addresses = match dial::resolve(&invite.address).await {
        Ok(addresses) => addresses,
        Err(error) => return Ok((Asking::Unreachable(error.to_string()), Vec::new())),
    };
    let hub = asked.hub(&context.home).await?;
    match dial::present(&hub, &addresses, invite.root, &credential).await {
        Ok(_) => Ok((Asking::Admitted, addresses)),
        Err(DialError::Refused(why)) => Err(Failure::refused(format!("the depot refuses the invite: {why}"))
            .hint("Nothing was changed here. Ask the depot for a new invite.")),
        Err(error @ (DialError::Unreachable(_) | DialError::WrongKey(_))) => {
            Ok((Asking::Unreachable(error.to_string()), addresses))
        }
    }
}

async fn merge(asked: &Asked, context: &Context, at: &[SocketAddr]) -> Result<bool, Failure> {
    let Some(at) = at.first() else { return Ok(false) };
    let hub = asked.hub(&context.home).await?;
    hub.refresh_trust().await.map_err(Failure::failed)?;
    let merged = sync::sync(&hub, &Whom::Place(at.to_string()), &[], false).await;
    for one in &merged {
        if let Err(error) = &one.outcome {
            show::aside(&format!("gladhand: the first merge did not work: {error}"));
        }
    }
    Ok(merged.iter().any(|m| m.outcome.is_ok()))
}
