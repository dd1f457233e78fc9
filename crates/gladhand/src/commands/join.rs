//! `join`: becoming one of a depot's devices, over the network where there is one.

use std::net::SocketAddr;

use gladhand_answers::homes::Joined;

use super::sync::Asked;
use super::{Context, setup};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_logbook::governance::Invite;
use gladhand_net::dial::{self, DialError};
use gladhand_net::sync::{self, Whom};
use gladhand_node::Node;
use gladhand_node::config::Listening;
use gladhand_node::error::JoinError;

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
        let joined = join_with(&asked, context, &line).await?;
        let listening = asked.handle.call(|node| node.config().listening()).await?;
        Ok::<_, Failure>((joined, listening))
    });
    asked.close()?;
    let (joined, listening) = joined?;
    show::answer(joined, context.json)?;
    if listening == Listening::OnTheLink {
        show::aside("While `gladhand serve` runs, other devices of the depot find this one on the local link;");
        show::aside("  `listen = \"none\"` in config.toml keeps it quiet.");
    }
    Ok(Exit::Done)
}

async fn join_with(asked: &Asked, context: &Context, line: &str) -> Result<Joined, Failure> {
    let (asking, at) = ask_depot(asked, context, line).await?;
    let typed = line.to_owned();
    let (root, name) = asked
        .handle
        .call(move |node: &mut Node| node.join(&typed).map(|root| (root, node.config().name.clone())))
        .await??;
    let mut joined = Joined {
        joined: root,
        name,
        enrolled: false,
        merged: false,
        not_merged: Vec::new(),
        unreachable: None,
    };
    match asking {
        Asking::Admitted => {
            joined.enrolled = true;
            (joined.merged, joined.not_merged) = merge(asked, context, &at).await?;
        }
        Asking::Unreachable(why) => joined.unreachable = Some(why),
        Asking::NoAddress => {}
    }
    Ok(joined)
}

async fn ask_depot(asked: &Asked, context: &Context, line: &str) -> Result<(Asking, Vec<SocketAddr>), Failure> {
    let typed = line.to_owned();
    let tried = asked
        .handle
        .call(move |node: &mut Node| node.try_invite(&typed))
        .await?;
    if matches!(tried, Err(JoinError::Joined)) && is_told_retired(asked, context, line).await? {
        return Err(retired());
    }
    let (invite, credential) = tried?;
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
        Err(DialError::Retired) => Err(retired()),
        Err(error @ (DialError::Unreachable(_) | DialError::Busy { .. } | DialError::WrongKey(_))) => {
            Ok((Asking::Unreachable(error.to_string()), addresses))
        }
    }
}

/// Whether the depot of the invite says that it has retired this device, which has joined it before.
async fn is_told_retired(asked: &Asked, context: &Context, line: &str) -> Result<bool, Failure> {
    let address = Invite::parse(line).map(|invite| invite.address).unwrap_or_default();
    if address.is_empty() {
        return Ok(false);
    }
    let hub = asked.hub(&context.home).await?;
    let merged = sync::sync(&hub, &Whom::Place(address), &[], false).await;
    Ok(merged.iter().any(|one| matches!(one.outcome, Err(DialError::Retired))))
}

fn retired() -> Failure {
    Failure::refused("the depot has retired this device: it cannot join again with this home")
        .hint("Nothing was changed here. Ask the depot; to work on, make a new home and join it with a new invite.")
}

/// Whether both sides hold the same afterwards, and why they do not.
async fn merge(asked: &Asked, context: &Context, at: &[SocketAddr]) -> Result<(bool, Vec<String>), Failure> {
    let Some(at) = at.first() else {
        return Ok((false, Vec::new()));
    };
    let hub = asked.hub(&context.home).await?;
    hub.refresh_trust().await.map_err(Failure::failed)?;
    let merged = sync::sync(&hub, &Whom::Place(at.to_string()), &[], false).await;
    let failed = merged.iter().filter_map(|one| one.outcome.as_ref().err());
    let why = failed.map(ToString::to_string).collect();
    Ok((merged.iter().any(|one| one.outcome.is_ok()), why))
}
