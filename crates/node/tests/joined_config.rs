//! `join` changes a file that belongs to people: what they wrote in it stays.

#![allow(clippy::unwrap_used)]

use std::os::unix::fs::PermissionsExt;

use gladhand_logbook::governance::Invite;
use gladhand_node::config::{Config, Role};
use gladhand_node::error::JoinError;
use gladhand_node::{Node, Silent};

const MARA: &str = "# Mara's laptop, bought in March\nlisten = ''  # nowhere\n\nname = \"laptop-mara\"\n";

fn invite_and_home(dir: &std::path::Path) -> (String, std::path::PathBuf) {
    let depot = Config::new("harrow-street", Role::Depot, "bram", "127.0.0.1:7401");
    let depot = Node::create(&dir.join("depot"), &depot).unwrap();
    let mut invite: Invite = depot.invite("mara", 3600).unwrap();
    invite.address = "depot.example:7401".into();
    let home = dir.join("laptop");
    drop(Node::create(&home, &Config::new("laptop-mara", Role::Laptop, "", "")).unwrap());
    (invite.to_line(), home)
}

#[test]
fn join_adds_what_it_learns_and_keeps_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    let (invite, home) = invite_and_home(dir.path());
    let file = home.join("config.toml");
    std::fs::write(&file, MARA).unwrap();
    // As an editor may leave it, and as a kill in the middle of an earlier change may have.
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    std::fs::write(home.join("config.toml.new"), "half").unwrap();

    let mut node = Node::open(&home, &Silent).unwrap();
    let depot = node.join(&invite).unwrap();
    let text = std::fs::read_to_string(&file).unwrap();
    let added = format!("person = \"mara\"\ndepot = \"{depot}\"\npeers = [\"depot.example:7401\"]\n");
    assert_eq!(text, format!("{MARA}{added}"));
    assert_eq!(&Config::parse(&text, "config.toml").unwrap(), node.config());
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    assert!(!home.join("config.toml.new").exists());
}

#[test]
fn a_file_that_was_spoilt_meanwhile_is_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let (invite, home) = invite_and_home(dir.path());
    let mut node = Node::open(&home, &Silent).unwrap();
    let file = home.join("config.toml");
    let spoilt = format!("{MARA}preson = 'mara'\n");
    std::fs::write(&file, &spoilt).unwrap();
    let error = node.join(&invite).unwrap_err();
    assert!(
        matches!(error, JoinError::Config(_)) && error.to_string().contains("line 5"),
        "{error}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), spoilt);
    std::fs::write(&file, MARA).unwrap();
    assert!(node.join(&invite).is_ok(), "once it reads again");
}
