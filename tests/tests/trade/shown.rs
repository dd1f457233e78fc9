//! `job show` and `trailer show`: what they say in the course of a job, and that following their command lines ends it.

use gladhand_tests::Home;
use serde_json::{Value, json};

use crate::yard::{AtWork, Yard};

/// The command lines that `job show` gives, without the program's name and with each word in capitals filled in.
fn lines(home: &Home, job: &str) -> Vec<String> {
    let shown = home.json(&format!("job show {job}"));
    let steps = shown["record"].as_array().unwrap().iter();
    steps.map(filled_in).collect()
}

fn filled_in(step: &Value) -> String {
    let command = step["command"].as_str().unwrap();
    let value = match step["check"].as_str().unwrap_or_default() {
        "hole-diameter" => "1 3/4 in",
        "placement-top" => "1 in",
        "placement-rear" => "12 in",
        "post-distance" => "14 in",
        "primer-wait" => "4 min",
        "rivet-count" => "8",
        _ => "4",
    };
    let picture = gladhand_tests::demo_data().join("proof-0302-I01.png");
    let words = [
        ("VALUE", value),
        ("DEPTH", "free"),
        ("JUDGEMENT", "--ok"),
        ("=ANSWER", "=yes"),
        (" ANSWER", " no"),
        ("WALL", "plate"),
        ("LOAD", "loaded"),
        (
            " --picture FILE --taken-at TIME",
            &format!(" --picture {}", picture.display()),
        ),
    ];
    let command = command.strip_prefix("gladhand ").unwrap().to_owned();
    words
        .iter()
        .fold(command, |line, (word, with)| line.replace(word, with))
}

#[test]
fn following_the_command_lines_of_a_job_ends_it_without_a_finding() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    mara.good("job M01 --trailer 5312 --camera LC-1 --tracker LT-1");
    // Each round ends at least one wait of the line at the wall or of the line by the air.
    for _ in 0..20 {
        let lines = lines(&mara, "M01");
        lines.iter().for_each(|line| drop(mara.good(line)));
        if lines.is_empty() {
            break;
        }
    }
    let shown = mara.json("job show M01");
    assert_eq!(
        (&shown["state"], &shown["relied_on"]),
        (&json!("signed-off"), &json!("yes"))
    );
    assert_eq!((&shown["record"], &shown["waits"]), (&json!([]), &json!([])));
    assert_eq!(mara.open_findings(), [] as [&str; 0]);
    let text = mara.good("job show M01").out;
    assert!(
        text.contains("24 good, 0 missing, 0 failed\n")
            && text.contains("\n  good  hole-diameter        1 3/4 in, by mara on "),
        "{text}"
    );
    assert!(
        text.starts_with("Job M01 on trailer 5312 is signed off; the trailer can be relied on.\n"),
        "{text}"
    );

    let trailer = mara.json("trailer show 5312");
    assert_eq!(trailer["jobs"][0]["proven"][0]["by"], json!("mara"));
    assert_eq!(
        (&trailer["pairs"][0]["camera"], &trailer["pairs"][0]["job"]),
        (&json!("LC-1"), &json!("M01"))
    );
    assert_eq!(trailer["findings"], json!([]));
}

#[test]
fn what_is_asked_for_must_be_known() {
    let yard = Yard::new();
    let mara = yard.laptop("lap-mara", "mara");
    for (words, says) in [
        ("job show M01", "no job 'M01' is known here"),
        ("trailer show 5312", "no job on trailer '5312' is known here"),
    ] {
        let ran = mara.run(words);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{words}");
        assert!(ran.err.contains(says), "{words}: {}", ran.err);
    }
}
