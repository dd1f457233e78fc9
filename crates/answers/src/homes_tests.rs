use super::*;
use crate::small_home::{SmallHome, keys, shown};

#[test]
fn a_new_home_says_what_it_is_and_what_comes_next() {
    let depot = SmallHome::depot();
    let told = set_up(&depot.node);
    assert_eq!(keys(&told), ["device", "home", "name", "role"]);
    assert_eq!(serde_json::to_value(&told).unwrap()["role"], "depot");
    let (home, device) = (&told.home, depot.node.device());
    assert_eq!(
        shown(&told),
        format!(
            "harrow-street: a new depot in {home}\ndevice key {device}\n~Next: `gladhand invite` for each laptop.\n"
        )
    );
    let laptop = set_up(&SmallHome::laptop().node);
    assert!(shown(&laptop).contains("~It can record from now on. "));
}

#[test]
fn an_invite_is_a_line_a_code_and_a_time() {
    let depot = SmallHome::depot();
    let made = invite(&depot.node, "tomas", 24, "192.168.1.20:7401").unwrap();
    assert_eq!(keys(&made), ["address", "expires", "id", "invite", "person"]);
    assert!(made.invite.starts_with("GLADHAND-INVITE-"));
    assert_eq!(
        (made.person.as_str(), made.address.as_str()),
        ("tomas", "192.168.1.20:7401")
    );
    let text = shown(&made);
    let until = format!("~Good for one device until {}. On the device: ", made.expires);
    assert!(
        text.starts_with(&format!("{}\n~", made.invite)) && text.contains(&until) && text.contains('█'),
        "{text}"
    );
    assert!(invite(&SmallHome::laptop().node, "", 24, "").is_err());
}

fn joined(enrolled: bool, merged: bool) -> Joined {
    Joined {
        joined: SmallHome::depot().node.device(),
        name: "laptop-mara".into(),
        enrolled,
        merged,
        not_merged: Vec::new(),
        unreachable: None,
    }
}

#[test]
fn joining_says_how_far_it_came() {
    let level = joined(true, true);
    let expected = ["enrolled", "joined", "merged", "name", "not_merged", "unreachable"];
    assert_eq!(keys(&level), expected);
    let head = |joined: &Joined| format!("laptop-mara has joined depot {}\n", joined.joined.short());
    let text = format!("{}~The depot has enrolled it, and both hold the same.\n", head(&level));
    assert_eq!(shown(&level), text);

    let mut cut = joined(true, false);
    cut.not_merged = vec!["the session was lost".into()];
    let text = format!(
        "!gladhand: the first merge did not work: the session was lost\n{}~The depot has enrolled it. Merge with `gladhand sync`.\n",
        head(&cut)
    );
    assert_eq!(shown(&cut), text);

    let mut away = joined(false, false);
    assert_eq!(shown(&away), format!("{}~{}\n", head(&away), crate::text::homes::LATER));
    away.unreachable = Some("nobody answers".into());
    assert!(shown(&away).contains("~gladhand: the depot cannot be reached now: nobody answers\n~"));
}

#[test]
fn a_retirement_says_what_still_counts() {
    let (mut depot, mut laptop) = (SmallHome::depot(), SmallHome::laptop());
    let line = depot.node.invite("mara", 3600).unwrap().to_line();
    laptop.node.join(&line).unwrap();
    let stranger = SmallHome::laptop().node.device();
    let nothing = retire(&mut depot.node, stranger, None, "lost").unwrap();
    assert_eq!(keys(&nothing), ["last", "name", "retired", "why"]);
    assert!(shown(&nothing).contains("is retired: nothing of it counts\n~"));

    let bundle = laptop.file("day.bundle");
    let nothing_yet = gladhand_facts::VersionVector::new();
    let quiet = gladhand_node::Silent;
    laptop.node.write_bundle(&bundle, &nothing_yet, &quiet).unwrap();
    depot.node.read_bundle(&bundle, &quiet).unwrap();
    let gone = retire(&mut depot.node, laptop.node.device(), Some(1), "stolen at Tolland").unwrap();
    assert_eq!(
        (gone.name.as_str(), gone.why.as_str()),
        ("laptop-mara", "stolen at Tolland")
    );
    assert_eq!(gone.last.values().copied().collect::<Vec<_>>(), [1]);
    let device = laptop.node.device().short();
    let text = shown(&gone);
    let start = format!("laptop-mara ({device}) is retired: what stands up to entry 1 still counts\n~Every node");
    assert!(text.starts_with(&start), "{text}");
}

#[test]
fn a_daemon_that_is_ready_says_where_it_listens() {
    let mut serving = Serving {
        serving: "harrow-street".into(),
        home: "/srv/gladhand".into(),
        control: "/srv/gladhand/control.sock".into(),
        listen: None,
        process: 4711,
    };
    assert_eq!(keys(&serving), ["control", "home", "listen", "process", "serving"]);
    assert_eq!(shown(&serving), "serving harrow-street in /srv/gladhand\n");
    serving.listen = Some("127.0.0.1:7401".parse().unwrap());
    assert_eq!(
        shown(&serving),
        "serving harrow-street in /srv/gladhand, listening at 127.0.0.1:7401\n"
    );
}
