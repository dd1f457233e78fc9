//! `picture` takes a proof picture out of a home, `job next --returns` names what to come back to: seen from a shell.

use gladhand_tests::demo_data;
use gladhand_tests::process::{Home, Running, TempHome};

fn proven() -> TempHome {
    let home = TempHome::laptop();
    home.good("job J1 --trailer LF5396 --yard Tolland");
    home.good("link LC-1 LT-1");
    let picture = demo_data().join("proof-0302-I01.png");
    home.good(&[
        "proof",
        "J1",
        "judged",
        "--all-yes",
        "--picture",
        picture.to_str().unwrap(),
    ]);
    home
}

fn in_folder(home: &TempHome, line: &str) -> gladhand_tests::Ran {
    let words: Vec<&str> = line.split(' ').collect();
    Running::spawn(home.command(&words).current_dir(home.beside("."))).ran()
}

#[test]
fn a_picture_is_written_where_the_person_stands_and_overwrites_nothing() {
    let home = proven();
    let bytes = std::fs::read(demo_data().join("proof-0302-I01.png")).unwrap();
    let ran = in_folder(&home, "picture LF5396").done();
    let name = ran.out.split(':').next().unwrap().to_owned();
    assert!(name.starts_with("J1-") && name.ends_with(".png"), "{ran}");
    assert_eq!(std::fs::read(home.beside(&name)).unwrap(), bytes);
    let words = [
        ": PNG, 48 x 32 pixels, 224 bytes,",
        "job J1 on trailer LF5396, LC-1 to LT-1: judged good by mara",
    ];
    assert!(words.iter().all(|words| ran.reads(words)), "{ran}");
    std::fs::write(home.beside("mine"), "something else").unwrap();
    let refused = in_folder(&home, "picture J1 --out mine").exits(2);
    assert!(
        refused.tells("mine is there already") && refused.tells("--overwrite"),
        "{refused}"
    );
    assert_eq!(std::fs::read(home.beside("mine")).unwrap(), b"something else");
    in_folder(&home, "picture J1 --out mine --overwrite").done();
    assert_eq!(std::fs::read(home.beside("mine")).unwrap(), bytes);
    let left: Vec<_> = std::fs::read_dir(home.beside("."))
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), 3, "the home and two pictures: {left:?}");
    in_folder(&home, "picture J1 --out nowhere/mine").exits(1);

    let daemon = home.serve();
    let served = in_folder(&home, "picture . --out served").done();
    assert!(served.reads("served: PNG"), "{served}");
    assert_eq!(std::fs::read(home.beside("served")).unwrap(), bytes);
    daemon.stop();
}

#[test]
fn a_picture_that_is_not_here_is_a_failure_that_names_who_held_it() {
    let home = proven();
    let pictures = home.file("pictures");
    let copy = Home::laptop(home.beside("bram"), "bram", "bram").quiet();
    std::fs::remove_dir_all(&pictures).unwrap();
    let ran = home.run("picture J1").exits(1);
    assert!(
        ran.tells("is not held here; held when it was recorded by mara"),
        "{ran}"
    );
    let ran = copy.run("picture J1").exits(2);
    assert!(ran.tells("no job 'J1' is known here"), "{ran}");
    copy.good("job J2 --trailer LF5397");
    let ran = copy.run("picture LF5397").exits(1);
    assert!(ran.tells("no picture of LF5397 was judged"), "{ran}");
}

#[test]
fn jobs_to_come_back_to_are_listed_with_why() {
    let home = proven();
    assert!(home.good("job next --returns").tells("no job to come back to"));
    home.good("sign-off J1");
    home.good("job J2 --trailer LF5397");
    home.good(&["stand-down", "J2", "--reason", "weather", "--why", "rain came"]);
    let ran = home.good("job next --returns");
    let heads: Vec<&str> = ran.out.lines().filter(|line| line.starts_with("LF")).collect();
    assert!(heads[0].starts_with("LF5396, job J1, signed off by mara"), "{ran}");
    assert!(heads[1].starts_with("LF5397, job J2, stood down by mara"), "{ran}");
    assert!(
        ran.reads("last at Tolland: mara") && ran.reads("stood down (weather: rain came)"),
        "{ran}"
    );
    let json = home.json("job next --returns");
    assert_eq!(json["jobs"][1]["why"][0], "stood-down");
    for line in [
        "job J1 --returns",
        "job show J1 --returns",
        "job next --returns --load empty",
    ] {
        home.run(line).exits(2);
    }
}
