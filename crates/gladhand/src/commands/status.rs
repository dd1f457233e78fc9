//! `status`: what this node holds, and what each known device is known to hold and to lack.

use std::collections::BTreeMap;
use std::path::Path;

use gladhand_answers::status::{FromNetwork, Met, status as answer};
use gladhand_facts::DeviceKey;
use gladhand_net::addresses::Addresses;

use super::Context;
use crate::failure::{Exit, Outcome};
use crate::inbox;
use crate::show;

/// Shows the status.
pub fn status(context: &Context) -> Outcome {
    let node = context.view()?;
    let network = from_network(node.home().layout().path());
    let status = answer(&node, &network)?;
    node.close()?;
    show::answer(status, context.json)?;
    Ok(Exit::Done)
}

/// What the daemon's network knows, where one runs in this process; otherwise what the last one wrote down.
fn from_network(home: &Path) -> FromNetwork {
    match gladhand_net::sync::running(home) {
        Some(hub) => FromNetwork {
            met: hub.addresses(|book| met(book)),
            counters: Some(hub.counters.listed()),
            inbox: inbox::waiting(home),
        },
        None => FromNetwork {
            met: met(&Addresses::load(home)),
            counters: None,
            inbox: inbox::waiting(home),
        },
    }
}

fn met(book: &Addresses) -> BTreeMap<DeviceKey, Met> {
    let met = |(key, known): (&DeviceKey, &gladhand_net::addresses::KnownPeer)| {
        let met = Met {
            met_us: known.met_us,
            held: known.held.clone(),
        };
        (*key, met)
    };
    book.peers().map(met).collect()
}
