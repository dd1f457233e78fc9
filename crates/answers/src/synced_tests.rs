use serde_json::Value;

use super::*;
use crate::small_home::{SmallHome, shown};

fn met(with: &str, outcome: Result<(bool, SessionTally), SyncFailure>) -> Met {
    Met {
        with: with.into(),
        peer: None,
        outcome,
    }
}

fn failed(error: &str, cause: Cause) -> Result<(bool, SessionTally), SyncFailure> {
    Err(SyncFailure {
        error: error.into(),
        cause,
    })
}

#[test]
fn each_peer_has_its_name_and_either_a_tally_or_a_failure() {
    let home = SmallHome::depot();
    let tally = SessionTally {
        new: 2,
        sent: 1,
        bytes_in: 300,
        bytes_out: 200,
        ..SessionTally::default()
    };
    let own = Met {
        peer: Some(home.node.device()),
        ..met("abcd", Ok((true, tally)))
    };
    let away = met(
        "192.168.1.20:7401",
        failed("192.168.1.20:7401: no answer", Cause::Unreachable),
    );
    let answer = synced(&home.node, vec![own, away]);
    let both = serde_json::to_value(&answer).unwrap();
    let expected = r#"{
        "name": "192.168.1.20:7401", "device": null, "level": false,
        "error": "192.168.1.20:7401: no answer", "cause": "unreachable"
    }"#;
    let expected: Value = serde_json::from_str(expected).unwrap();
    assert_eq!(both["peers"][1], expected);
    let level = &both["peers"][0];
    assert!(level["name"] == "harrow-street" && level["level"] == true && level.get("error").is_none());
    assert!(level["new"] == 2 && level["sent"] == 1, "{level}");
    assert_eq!(
        shown(&answer),
        "harrow-street: level, 2 new entries came in, 1 entry went out, 500 bytes\n\
         !gladhand: 192.168.1.20:7401: no answer\n"
    );
    assert_eq!(serde_json::from_value::<Synced>(both).unwrap(), answer, "it reads back");
    assert_eq!(
        (answer.sessions(), answer.has_refused(), answer.was_turned_away()),
        (1, false, false)
    );
}

#[test]
fn pictures_are_told_in_the_way_that_they_went() {
    let home = SmallHome::laptop();
    let told = |pictures, picture_bytes_out| {
        let tally = SessionTally {
            pictures,
            picture_bytes_out,
            ..SessionTally::default()
        };
        shown(&synced(&home.node, vec![met("a", Ok((true, tally)))]))
    };
    let entries = "a: level, 0 new entries came in, 0 entries went out";
    assert_eq!(told(0, 0), "a: level, nothing new\n");
    assert_eq!(told(1, 0), format!("{entries}, 1 picture came in, 0 bytes\n"));
    assert_eq!(
        told(0, 1025),
        format!("{entries}, 2 KiB of pictures went out, 0 bytes\n")
    );
    assert_eq!(
        told(2, 1024),
        format!("{entries}, 2 pictures came in, 1 KiB of pictures went out, 0 bytes\n")
    );
}

#[test]
fn whoever_is_turned_away_or_refuses_something_is_told_what_to_do() {
    let home = SmallHome::laptop();
    let refused = met("a:1", failed("the device is not enrolled", Cause::Refused));
    let answer = synced(&home.node, vec![refused.clone()]);
    assert!(answer.was_turned_away());
    assert_eq!(
        shown(&answer),
        "!gladhand: a:1: the device is not enrolled\n\
         !  A device joins with an invite of the depot: `gladhand join INVITE`.\n"
    );
    let tally = SessionTally {
        refused: vec!["entry 3: a forged signature".into()],
        ..SessionTally::default()
    };
    let answer = synced(&home.node, vec![refused, met("b", Ok((true, tally)))]);
    assert!(answer.has_refused() && !answer.was_turned_away());
    let text = shown(&answer);
    assert!(
        text.contains("!gladhand: b: refused: entry 3: a forged signature\n!  The good part is recorded;"),
        "{text}"
    );
}
