//! Rulings: they travel like any fact, settle what they have seen whole, and are reopened by what joins later.

use gladhand_tests::Home;
use serde_json::{Value, json};

use crate::yard::{AtWork, Yard};

struct Three {
    yard: Yard,
    depot: Home,
    mara: Home,
    ilse: Home,
}

/// Two laptops that linked one camera to two trackers without knowing of each other; the depot and mara know both.
fn torn_camera() -> Three {
    let yard = Yard::new();
    let depot = yard.depot();
    let (mara, ilse) = (yard.laptop("lap-mara", "mara"), yard.laptop("lap-ilse", "ilse"));
    yard.enrol(&depot, &mara);
    yard.enrol(&depot, &ilse);
    mara.good("job M01 --trailer 5312 --camera LC-1 --tracker LT-1");
    mara.good("link LC-1 LT-1 --job M01");
    ilse.good("job I01 --trailer 5313 --camera LC-1 --tracker LT-2");
    ilse.good("link LC-1 LT-2 --job I01");
    yard.carry(&mara, &depot);
    yard.carry(&ilse, &depot);
    yard.carry(&depot, &mara);
    Three {
        yard,
        depot,
        mara,
        ilse,
    }
}

/// The id of the finding about the camera.
fn id_of(home: &Home) -> String {
    home.finding("camera-on-two-trackers")["id"]
        .as_str()
        .unwrap()
        .to_owned()
}

fn status(home: &Home) -> Value {
    home.finding("camera-on-two-trackers")["status"].clone()
}

#[test]
fn a_ruling_settles_travels_and_is_reopened_by_a_later_fact() {
    let Three {
        yard,
        depot,
        mara,
        ilse,
    } = torn_camera();
    let finding = mara.finding("camera-on-two-trackers");
    let id = finding["id"].as_str().unwrap().to_owned();
    assert_eq!(
        (&finding["status"], &finding["standing"]),
        (&json!("open"), &json!("unaware"))
    );
    assert_eq!(
        depot.finding("camera-on-two-trackers")["id"],
        json!(id),
        "the same name everywhere"
    );

    let short = &id[..6];
    let ruled = mara.good(&[
        "ruling",
        short,
        "--ruling",
        "accepted",
        "--why",
        "LT-2 goes back to stock tomorrow",
    ]);
    assert!(
        ruled.tells("[settled") && ruled.tells("Settled by mara: accepted (LT-2 goes back to stock tomorrow)"),
        "{}",
        ruled.err
    );
    assert_eq!((status(&mara), status(&depot)), (json!("settled"), json!("open")));
    yard.carry(&mara, &depot);
    assert_eq!(status(&depot), json!("settled"));
    assert_eq!(
        depot.finding("camera-on-two-trackers")["ruling"]["why"],
        json!("LT-2 goes back to stock tomorrow")
    );

    // Ilse, who knows of none of this, links the camera a third time: the ruling had not seen that.
    ilse.good("link LC-1 LT-3 --job I01");
    yard.carry(&ilse, &depot);
    assert_eq!(status(&depot), json!("open"));
    let told = depot.good(&[
        "ruling",
        &id,
        "--ruling",
        "corrected",
        "--why",
        "looked at the trailer",
        "--by",
        "office",
    ]);
    assert!(told.tells("Settled by office: corrected"), "{}", told.err);

    yard.carry(&depot, &ilse);
    yard.carry(&depot, &mara);
    assert_eq!(mara.json("findings"), ilse.json("findings"));
    assert_eq!(status(&ilse), json!("settled"));
}

#[test]
fn when_the_cause_is_gone_the_finding_is_cleared_whatever_was_ruled() {
    let Three {
        yard,
        depot,
        mara,
        ilse,
    } = torn_camera();
    yard.carry(&depot, &ilse);
    let id = id_of(&ilse);
    ilse.good(&["ruling", &id, "--ruling", "accepted", "--why", "wait for the office"]);
    ilse.good(&[
        "unlink",
        "LC-1",
        "LT-2",
        "--job",
        "I01",
        "--why",
        "read the wrong label",
    ]);
    assert_eq!(status(&ilse), json!("cleared"));
    yard.carry(&ilse, &depot);
    yard.carry(&depot, &mara);
    assert_eq!(status(&mara), json!("cleared"));
    assert_eq!(mara.json("findings"), ilse.json("findings"));
}

#[test]
fn concurrent_rulings_both_travel_and_all_nodes_show_the_same_one() {
    let Three {
        yard,
        depot,
        mara,
        ilse,
    } = torn_camera();
    yard.carry(&depot, &ilse);
    let id = id_of(&mara);
    mara.good(&["ruling", &id, "--ruling", "accepted", "--why", "mine"]);
    ilse.good(&["ruling", &id, "--ruling", "void", "--why", "hers"]);
    for (from, to) in [(&mara, &depot), (&ilse, &depot), (&depot, &mara), (&depot, &ilse)] {
        yard.carry(from, to);
    }
    let shown = mara.finding("camera-on-two-trackers");
    assert_eq!(shown["status"], json!("settled"));
    assert_eq!(mara.json("findings"), ilse.json("findings"));
    assert_eq!(mara.json("findings"), depot.json("findings"));
}

#[test]
fn a_ruling_on_nothing_or_with_a_word_of_its_own_is_refused() {
    let Three { yard: _yard, mara, .. } = torn_camera();
    let none = mara.run(&["ruling", "f-zzzz", "--ruling", "accepted", "--why", "x"]);
    assert!(
        none.code == Some(2) && none.tells("no finding 'f-zzzz' is known here"),
        "{}",
        none.err
    );
    let word = mara.run(&["ruling", "f-", "--ruling", "fine", "--why", "x"]);
    assert_eq!(word.code, Some(2), "{}", word.err);
    assert_eq!(status(&mara), json!("open"));
}
