//! Wrong usage of the real binary: told in our words, on stderr, with exit code 2, whether a daemon runs or not.

use gladhand_tests::process::{Home, TempHome};

const WRONG: [&[&str]; 8] = [
    &["stauts"],
    &["status", "--gate"],
    &["setup"],
    &["report", "--format", "xml"],
    &["note", "a", "--by"],
    &[],
    &["link", "a", "b", "c"],
    &["check", "."],
];

fn told(home: &Home) -> Vec<String> {
    let each = WRONG.iter().map(|args| {
        let ran = home.run(*args);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{args:?}");
        ran.err
    });
    each.collect()
}

#[test]
fn wrong_usage_is_told_in_two_lines_with_and_without_a_daemon() {
    let home = TempHome::laptop();
    let alone = told(&home);
    for said in &alone {
        let mut lines = said.lines();
        assert!(lines.next().unwrap().starts_with("gladhand: "), "{said}");
        assert!(
            lines.next().unwrap().starts_with("  ") && said.trim_end().ends_with(" --help."),
            "{said}"
        );
        for phrase in ["error:", "Usage:", "For more information, try", "tip:"] {
            assert!(!said.contains(phrase), "{said}");
        }
    }
    let daemon = home.serve();
    assert_eq!(told(&home), alone);
    daemon.stop();
}
