//! `setup`, `invite`: a home of one's own, and a depot that others trust.

use std::io::Read;
use std::path::Path;

use serde_json::json;

use super::Context;
use crate::cli;
use crate::config::{Config, Role};
use crate::console;
use crate::failure::{Exit, Failure, Outcome};
use crate::node::Node;
use crate::show;

/// Makes a home.
pub fn setup(context: &Context, args: &cli::Setup) -> Outcome {
    let name = args.name.trim();
    if name.is_empty() || name.chars().count() > 60 || name.chars().any(char::is_control) {
        return Err(Failure::bad_input("--name must be 1 to 60 characters on one line"));
    }
    let listen = args.listen.trim();
    if !listen.is_empty() && !is_address(listen) {
        return Err(
            Failure::bad_input(format!("--listen '{listen}' is no address to listen at"))
                .hint("Write ADDRESS:PORT, such as 0.0.0.0:7401 for every network of this machine."),
        );
    }
    let role = if args.depot { Role::Depot } else { Role::Laptop };
    let config = Config::new(name, role, args.person.trim(), listen);
    let node = Node::create(&context.home, &config)?;
    let device = node.device();
    node.close()?;
    let role = if args.depot { "depot" } else { "laptop" };
    if context.json {
        return show::json(&json!({"name": name, "role": role, "device": device, "home": context.home}));
    }
    show::line(&format!("{name}: a new {role} in {}", context.home.display()))?;
    show::line(&format!("device key {device}"))?;
    show::aside(if args.depot {
        "Next: `gladhand invite` for each laptop."
    } else {
        "It can record from now on. To merge with others: `gladhand join INVITE` with an invite of the depot."
    });
    Ok(Exit::Done)
}

/// `host:port`, whether or not the host is known now.
fn is_address(text: &str) -> bool {
    let named = |(host, port): (&str, &str)| !host.is_empty() && port.parse::<u16>().is_ok();
    text.parse::<std::net::SocketAddr>().is_ok() || text.rsplit_once(':').is_some_and(named)
}

/// Makes a one-time invite.
pub fn invite(context: &Context, args: &cli::Invite) -> Outcome {
    let node = context.open()?;
    let address = match args.address.trim() {
        "" => where_it_listens(context, &node.config().listen),
        given => given.to_owned(),
    };
    let invite = node
        .invite(args.person.trim(), i64::from(args.valid_h) * 3600)?
        .with_address(&address);
    let text = invite.to_line();
    let until = gladhand_facts::Moment::from_unix_us(invite.expires_s.saturating_mul(1_000_000), 0);
    node.close()?;
    if context.json {
        return show::json(
            &json!({"invite": text, "id": invite.id(), "person": invite.person, "address": invite.address, "expires": until.text()}),
        );
    }
    show::line(&text)?;
    if let Ok(code) = qrcode::QrCode::new(text.as_bytes()) {
        show::aside(&code.render::<qrcode::render::unicode::Dense1x2>().build());
    }
    show::aside(&format!(
        "Good for one device until {}. On the device: gladhand join {}…",
        until.text(),
        text.get(..24).unwrap_or("")
    ));
    Ok(Exit::Done)
}

/// Where a device finds this depot: where its daemon listens now, or will.
fn where_it_listens(context: &Context, configured: &str) -> String {
    let now = crate::net::sync::running(&context.home).and_then(|hub| hub.listening);
    super::join::advertised(&now.map_or_else(|| configured.to_owned(), |at| at.to_string()))
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
