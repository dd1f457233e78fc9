//! What it takes to record a whole job from a keyboard, and how much is said: commands, keystrokes, lines. The figures stand in
//! DEVELOPERS.md; here are the bounds, and that nothing which a person must look at is hidden behind them.

use std::collections::BTreeSet;

use gladhand_tests::markdown::{read, rows};
use gladhand_tests::process::{Running, TempHome};
use gladhand_tests::{Ran, demo_data};

/// What was typed and said.
#[derive(Debug, Default)]
struct Typed {
    commands: usize,
    /// Of the command lines, after the name of the program.
    keystrokes: usize,
    /// On stdout and stderr.
    lines: usize,
    /// Lines of cautions among them.
    cautions: usize,
    said: String,
}

/// The words of a command line as a shell reads them; quotes keep words together.
fn words(line: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => found.push(String::new()),
            _ => found.last_mut().unwrap().push(letter),
        }
    }
    found
}

impl Typed {
    /// The person stands in the folder in which the pictures lie.
    #[track_caller]
    fn run(&mut self, home: &TempHome, line: &str) -> Ran {
        let words = words(line);
        let mut command = home.command(&words.iter().map(String::as_str).collect::<Vec<_>>());
        let ran = Running::spawn(command.current_dir(home.beside("."))).ran().done();
        self.commands += 1;
        self.keystrokes += line.chars().count() + 1;
        let said = format!("{}{}", ran.out, ran.err);
        self.lines += said.lines().count();
        self.cautions += cautions(&said);
        self.said.push_str(&said);
        ran
    }
}

/// The most that a script may take.
struct Most {
    commands: usize,
    keystrokes: usize,
    lines: usize,
}

impl Typed {
    /// Holds the bounds, and that DEVELOPERS.md says what is typed.
    #[track_caller]
    fn keeps_to(&self, script: &str, most: &Most) {
        println!(
            "{script}: {} commands, {} keystrokes, {} lines, {} of cautions",
            self.commands, self.keystrokes, self.lines, self.cautions
        );
        assert!(self.commands <= most.commands, "{} commands", self.commands);
        assert!(self.keystrokes <= most.keystrokes, "{} keystrokes", self.keystrokes);
        assert!(self.lines <= most.lines, "{} lines", self.lines);
        let (cautions, lines) = (self.cautions, self.lines);
        assert!(cautions * 3 <= lines, "{cautions} of {lines} lines are cautions");
        let told = rows(&read("DEVELOPERS.md"), "script");
        let row = told.iter().find(|row| row.cells[0].starts_with(script)).expect(script);
        let typed = [self.commands, self.keystrokes].map(|count| count.to_string());
        assert_eq!(row.cells[2..4], typed, "{script} in DEVELOPERS.md");
    }
}

/// The lines of the lists and the short lines of cautions, with those into which they are wrapped.
fn cautions(said: &str) -> usize {
    let mut inside = false;
    let mut count = 0;
    for line in said.lines() {
        let goes_on = ["recorded", "Next:", "Kit:", "Clearance:", "Job "]
            .iter()
            .all(|word| !line.starts_with(word));
        inside = line.starts_with("Mind:") || (inside && goes_on);
        count += usize::from(inside);
    }
    count
}

fn laptop() -> TempHome {
    let home = TempHome::laptop();
    home.configure("yard = \"\"", "yard = \"Tolland\"");
    home.configure("fleet = \"\"", "fleet = \"Larkspur Freight\"");
    std::fs::copy(demo_data().join("proof-0302-I01.png"), home.beside("p.png")).unwrap();
    home
}

/// The job to its sign-off, from after the cut on.
fn rest(job: &str, picture: &str) -> Vec<String> {
    [
        format!("check {job} hole-d 1.75in p-w 3min tape 4 r-c 8 c-s 4"),
        format!("check {job} deb surf-p br lens label doors --ok"),
        format!("link LC-{job} LT-{job} --job {job}")
            .replace("-. ", "-1 ")
            .replace(" --job .", ""),
        format!("settings {job} live"),
        format!("proof {job} asked"),
        format!("proof {job} judged --all-yes --picture {picture}"),
        format!("sign-off {job}"),
    ]
    .to_vec()
}

const SIGNED: &str = "Nothing is missing";

#[test]
fn an_empty_plate_trailer_takes_few_commands_and_few_keys() {
    let home = laptop();
    let mut typed = Typed::default();
    typed.run(
        &home,
        "job --trailer LF5396 --wall plate --load empty --thickness 5/8in",
    );
    typed.run(&home, "check . track kit side l-r-c clear --ok");
    typed.run(&home, "check . p-t 1in p-r 12in post-d 12in");
    for line in rest(".", "p.png") {
        let ran = typed.run(&home, &line);
        assert!(!ran.tells("Freight may stand"), "on an empty trailer: {ran}");
    }
    assert!(typed.said.contains(SIGNED), "{}", typed.said);
    typed.keeps_to(
        "an empty plate trailer",
        &Most {
            commands: 12,
            keystrokes: 350,
            lines: 70,
        },
    );
}

#[test]
fn each_required_check_is_named_before_it_counts() {
    let home = laptop();
    let mut typed = Typed::default();
    typed.run(
        &home,
        "job J1 --trailer LF5396 --wall plate --load empty --thickness 5/8in",
    );
    let shown = home.json(&["job", "show", "J1"][..]);
    let required: BTreeSet<String> = shown["checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|check| check["check"].as_str().unwrap().to_owned())
        .collect();
    assert!(required.len() > 10, "{shown}");
    // Whoever only follows `Next:` comes by each of them.
    for check in &required {
        let mut named = typed.said.contains(check);
        for other in &required {
            if named {
                break;
            }
            typed.run(&home, &format!("check J1 {other} --ok"));
            named = typed.said.contains(check);
        }
        assert!(named, "{check} was never named");
    }
}

#[test]
fn a_loaded_trailer_is_told_of_its_freight_once_in_full_and_in_short_before_the_drill() {
    let home = laptop();
    let mut typed = Typed::default();
    let full = "protect the freight, and sweep it afterwards";
    let ran = typed.run(
        &home,
        "job --trailer LF5397 --wall plate --load loaded --thickness 5/8in",
    );
    assert!(ran.tells(full), "{ran}");
    typed.run(&home, "check . track kit side l-r-c clear --ok");
    let ran = typed.run(&home, "check . p-t 1in p-r 12in post-d 12in");
    assert!(
        ran.tells("Mind: Wear eye protection") && ran.tells("Freight may stand behind the wall;"),
        "{ran}"
    );
    for line in [
        "check . freight no",
        "check . pilot-h ok",
        "check . first free",
        "check . saw ok rivet-d ok",
    ] {
        let ran = typed.run(&home, line);
        assert!(!ran.tells(full), "in full once: {ran}");
    }
    for line in rest(".", "p.png") {
        typed.run(&home, &line);
    }
    assert!(typed.said.contains(SIGNED), "{}", typed.said);
    typed.keeps_to(
        "a loaded plate trailer",
        &Most {
            commands: 17,
            keystrokes: 450,
            lines: 115,
        },
    );
}

#[test]
fn three_trailers_at_once_never_get_each_others_facts() {
    let home = laptop();
    let mut typed = Typed::default();
    let trailers = ["LF5401", "LF5402", "LF5403"];
    for trailer in trailers {
        typed.run(
            &home,
            &format!("job --trailer {trailer} --wall plate --load empty --thickness 5/8in"),
        );
        typed.run(&home, &format!("check {trailer} track kit side l-r-c clear --ok"));
        let place = "p-t 1in p-r 12in post-d 12in";
        typed.run(&home, &format!("check {trailer} {place}"));
    }
    let scripts = trailers.map(|trailer| rest(trailer, &format!("{trailer}.png")));
    for n in 0..scripts[0].len() {
        for (trailer, script) in trailers.iter().zip(&scripts) {
            // One picture proves one trailer.
            let file = home.beside(&format!("{trailer}.png"));
            std::fs::copy(demo_data().join("proof-0302-I01.png"), &file).unwrap();
            let mut bytes = std::fs::read(&file).unwrap();
            bytes.extend_from_slice(trailer.as_bytes());
            std::fs::write(&file, bytes).unwrap();
            let ran = typed.run(&home, &script[n]);
            assert!(ran.out.lines().all(|receipt| receipt.contains(trailer)), "{ran}");
        }
    }
    assert_eq!(typed.said.matches(SIGNED).count(), 3, "{}", typed.said);
    typed.keeps_to(
        "three empty ones at once",
        &Most {
            commands: 36,
            keystrokes: 1_250,
            lines: 210,
        },
    );
}

#[test]
fn a_step_that_a_finding_right_above_asks_for_is_not_told_twice() {
    let home = laptop();
    let mut typed = Typed::default();
    for line in [
        "job --trailer LF5396 --wall plate --load empty --thickness 5/8in",
        "check . track kit side l-r-c clear --ok",
        "check . p-t 1in p-r 12in post-d 12in",
    ] {
        typed.run(&home, line);
    }
    for line in rest(".", "p.png") {
        if line.starts_with("sign-off") {
            break;
        }
        typed.run(&home, line.split(" --picture").next().unwrap());
    }
    let judged = typed.run(&home, "proof . judged --all-yes");
    let found = judged
        .err
        .split_whitespace()
        .find(|word| word.starts_with("f-"))
        .unwrap();
    assert!(judged.tells("-> Get the picture from the server"), "{judged}");
    assert!(
        judged.err.ends_with(&format!("Next: {found}: see above.\n")),
        "{judged}"
    );
    // Where the finding was told before, in one line now, the step stands here.
    let ran = typed.run(&home, "note \"the door sticks\" --job .");
    assert!(
        ran.tells("Next: proof-without-picture: Get the picture from the server"),
        "{ran}"
    );
    assert!(!typed.said.contains(".."), "{}", typed.said);
}

#[test]
fn a_finding_is_told_in_full_once_and_then_in_one_line() {
    let home = laptop();
    let mut typed = Typed::default();
    typed.run(&home, "job J1 --trailer LF5401");
    typed.run(&home, "link LC-1 LT-1");
    typed.run(&home, "job J2 --trailer LF5402");
    let ran = typed.run(&home, "link LC-1 LT-2");
    assert!(ran.tells("camera-on-two-trackers") && ran.tells("-> "), "{ran}");
    let ran = typed.run(&home, "check . kit ok");
    let lines: Vec<&str> = ran
        .err
        .lines()
        .filter(|line| line.contains("camera-on-two-trackers"))
        .collect();
    assert_eq!(lines.len(), 1, "{ran}");
    assert!(
        lines[0].contains("  f-") && lines[0].ends_with("[still open]") && !ran.tells("-> "),
        "{ran}"
    );
}
