//! `setup`, `invite`: a home of one's own, and a depot that others trust.

use std::io::Read;
use std::net::SocketAddr;
use std::path::Path;

use gladhand_answers::homes;

use super::Context;
use crate::cli;
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;
use gladhand_node::Node;
use gladhand_node::config::{Config, LISTEN_NONE, Listening, Role};

/// Makes a home.
pub fn setup(context: &Context, args: &cli::Setup) -> Outcome {
    let name = args.name.trim();
    if name.is_empty() || name.chars().count() > 60 || name.chars().any(char::is_control) {
        return Err(Failure::bad_input("--name must be 1 to 60 characters on one line"));
    }
    let listen = args.listen.trim();
    if !listen.is_empty() && listen != LISTEN_NONE && !is_address(listen) {
        return Err(
            Failure::bad_input(format!("--listen '{listen}' is no address to listen at"))
                .hint("Write ADDRESS:PORT, such as 0.0.0.0:7401 for every network of this machine."),
        );
    }
    let role = if args.depot { Role::Depot } else { Role::Laptop };
    let config = Config::new(name, role, args.person.trim(), listen);
    let node = Node::create(&context.home, &config)?;
    let set_up = homes::set_up(&node);
    node.close()?;
    show::answer(set_up, context.json)?;
    Ok(Exit::Done)
}

/// `host:port`, whether or not the host is known now.
fn is_address(text: &str) -> bool {
    let named = |(host, port): (&str, &str)| !host.is_empty() && port.parse::<u16>().is_ok();
    text.parse::<SocketAddr>().is_ok() || text.rsplit_once(':').is_some_and(named)
}

/// Makes a one-time invite.
pub fn invite(context: &Context, args: &cli::Invite) -> Outcome {
    let node = context.open()?;
    let address = match args.address.trim() {
        "" => match node.config().listening() {
            Listening::At(configured) => where_it_listens(context, &configured),
            Listening::Nowhere | Listening::OnTheLink => where_it_listens(context, ""),
        },
        given => given.to_owned(),
    };
    let invited = homes::invite(&node, args.person.trim(), args.valid_h, &address)?;
    node.close()?;
    show::answer(invited, context.json)?;
    Ok(Exit::Done)
}

/// Where a device finds this depot: where its daemon listens now, or will.
fn where_it_listens(context: &Context, configured: &str) -> String {
    let now = gladhand_net::sync::running(&context.home).and_then(|hub| hub.listening);
    advertised(&now.map_or_else(|| configured.to_owned(), |at| at.to_string()))
}

/// The address that an invite of this depot should carry, when it listens at `listen`.
fn advertised(listen: &str) -> String {
    let Ok(address) = listen.trim().parse::<SocketAddr>() else {
        return listen.trim().to_owned();
    };
    if address.port() == 0 {
        // The system chooses one when the daemon starts; until then there is nothing to tell.
        return String::new();
    }
    if !address.ip().is_unspecified() {
        return address.to_string();
    }
    let networks = gladhand_net::discovery::own_networks();
    let own = networks.iter().map(|n| n.address).find(std::net::IpAddr::is_ipv4);
    own.map_or_else(String::new, |ip| SocketAddr::new(ip, address.port()).to_string())
}

/// The invite itself, or what a file of that name (or stdin) holds.
pub(super) fn invite_text(context: &Context, given: &str) -> Result<String, Failure> {
    let mut text = String::new();
    if given == "-" {
        console::input().take(65_536).read_to_string(&mut text)?;
        return Ok(text);
    }
    if given.to_ascii_uppercase().starts_with("GLADHAND-INVITE-") {
        return Ok(given.to_owned());
    }
    match std::fs::File::open(context.at(Path::new(given))) {
        Ok(file) => {
            file.take(65_536)
                .read_to_string(&mut text)
                .map_err(|e| Failure::bad_input(format!("{given}: {e}")))?;
            Ok(text)
        }
        Err(e) if given.contains(['/', '\\', '.']) => {
            Err(Failure::bad_input(format!("{given}: {e}"))
                .hint("Give the invite's line itself, or a file that holds it."))
        }
        // Neither a file nor an invite: let the invite's own error say what an invite looks like.
        Err(_) => Ok(given.to_owned()),
    }
}
