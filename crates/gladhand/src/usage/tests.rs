//! What is told of command lines that are wrong in every way there is.

use clap::{Command, CommandFactory};

use super::*;

/// A command line in words; quotes keep words together.
fn words(line: &str) -> Vec<OsString> {
    let pieces = line.split('"').enumerate();
    let word = |text: &str| OsString::from(text);
    pieces
        .flat_map(|(at, piece)| match at % 2 {
            0 => piece.split_whitespace().map(word).collect(),
            _ => vec![word(piece)],
        })
        .collect()
}

fn told(line: &str) -> String {
    match parse(&words(line)) {
        Err(Stopped::Wrong(failure)) => {
            assert_eq!(failure.exit, Exit::BadInput, "{line}");
            failure.to_string()
        }
        other => panic!("{line}: {other:?}"),
    }
}

/// The line, what is wrong with it, and what the hint begins with.
const WRONG: [(&str, &str, &str); 36] = [
    (
        "stauts",
        "there is no command `stauts`",
        "Did you mean `status`? See gladhand --help.",
    ),
    ("xyzzy", "there is no command `xyzzy`", "See gladhand --help."),
    ("help xyzzy", "there is no command `xyzzy`", "See gladhand --help."),
    (
        "bundle wirte x",
        "`bundle` has no command `wirte`",
        "Did you mean `write`? See gladhand bundle --help.",
    ),
    (
        "check . a --vlaue 3",
        "`check` has no flag --vlaue",
        "Did you mean --value? For example: gladhand check",
    ),
    (
        "status --gate",
        "`status` has no flag --gate",
        "For example: gladhand status. See gladhand status --help.",
    ),
    (
        "--gate findings",
        "there is no flag --gate",
        "Flags stand after their command: gladhand findings --gate.",
    ),
    ("--xyzzy", "there is no flag --xyzzy", "See gladhand --help."),
    (
        "note -x",
        "`note` has no flag -x",
        "If -x is no flag, write -- before it. For example:",
    ),
    (
        "retire x --after -1",
        "`retire` has no flag -1",
        "For example: gladhand retire",
    ),
    (
        "setup",
        "`setup` needs --name NAME: the device's name, as others see it",
        "For example: gladhand setup --name",
    ),
    (
        "ruling f-1",
        "`ruling` needs --ruling RULING and --why WHY",
        "For example: gladhand ruling",
    ),
    (
        "clearance",
        "`clearance` needs a job",
        "For example: gladhand clearance",
    ),
    ("--json join", "`join` needs an invite", "For example: gladhand join"),
    (
        "--home h bundle write",
        "`bundle write` needs a file",
        "For example: gladhand bundle write",
    ),
    (
        "export",
        "`export` needs --automerge DIR: the folder for the documents; made if it is not there",
        "For example:",
    ),
    (
        "report --format htlm",
        "--format cannot be `htlm`",
        "Did you mean `html`? It is text, json, csv or html. For",
    ),
    (
        "serve --log=quiet",
        "--log cannot be `quiet`",
        "It is text or json. For example: gladhand serve.",
    ),
    (
        "check . a --ok maybe",
        "--ok cannot be `maybe`",
        "It is true or false. For example: gladhand check",
    ),
    (
        "invite --valid-h many",
        "--valid-h cannot be `many`",
        "It is a whole number up to 4294967295. For example:",
    ),
    (
        "invite --valid-h 5000000000",
        "--valid-h cannot be `5000000000`",
        "It is a whole number up to 4294967295. ",
    ),
    (
        "retire x --after=1.5",
        "--after cannot be `1.5`",
        "It is a whole number. For example: gladhand retire",
    ),
    (
        "report --format",
        "--format needs a value",
        "It is text, json, csv or html. For example: gladhand report",
    ),
    (
        "report --format=",
        "--format needs a value",
        "It is text, json, csv or html. For example: gladhand report",
    ),
    (
        "--home",
        "--home needs a value: the home folder of this device",
        "See gladhand --help.",
    ),
    (
        "note a --at",
        "--at needs a value: when: RFC 3339 with offset",
        "For example: gladhand note",
    ),
    ("", "a command is missing", "setup        Make a home"),
    ("--json", "a command is missing", "setup        Make a home"),
    (
        "bundle",
        "`bundle` needs a command",
        "write   Write what a reader lacks",
    ),
    (
        "link a b c",
        "`c` is one word too many for `link`",
        "A text of several words stands in quotes. For example:",
    ),
    (
        "status now",
        "`now` is one word too many for `status`",
        "For example: gladhand status.",
    ),
    (
        "status --json=3",
        "--json takes no value, and was given `3`",
        "For example: gladhand status.",
    ),
    (
        "job J --job J",
        "JOB and --job exclude each other",
        "For example: gladhand job",
    ),
    (
        "check --ok --not-ok",
        "--ok and --not-ok exclude each other",
        "For example: gladhand check",
    ),
    (
        "bundle write x --for a --since b",
        "--for and --since exclude each other",
        "For example: gladhand bundle write",
    ),
    (
        "note a --by b --by c",
        "--by is given twice",
        "For example: gladhand note",
    ),
];

#[test]
fn what_is_wrong_is_told_with_what_to_do() {
    for (line, what, hint) in WRONG {
        let told = told(&format!("gladhand {line}"));
        let expected = format!("gladhand: {what}\n  {hint}");
        assert!(
            told.starts_with(&expected) && told.ends_with('.'),
            "gladhand {line}\n{told}\nexpected\n{expected}"
        );
        for phrase in [
            "error:",
            "Usage",
            "For more information",
            "tip:",
            "argument",
            "subcommand",
            "<",
            "[",
            "'--",
        ] {
            assert!(!told.contains(phrase), "{phrase} in {told}");
        }
    }
}

#[test]
fn without_a_command_all_are_listed() {
    let all = told("gladhand");
    for command in Cli::command().get_subcommands() {
        let name = command.get_name();
        assert!(
            all.lines().any(|line| line.trim_start().starts_with(name)),
            "{name} in {all}"
        );
    }
    assert!(all.lines().skip(1).all(|line| line.starts_with("  ")), "{all}");
}

#[test]
fn help_and_version_are_no_mistakes() {
    for (line, begins) in [
        ("gladhand --help", "A record of camera fittings"),
        ("gladhand help bundle", "Merge with another node by a file"),
        ("gladhand check --help", "Measured or observed checks"),
        ("gladhand --version", "gladhand "),
    ] {
        match parse(&words(line)) {
            Err(Stopped::Shown(help)) => assert!(help.to_string().starts_with(begins), "{help}"),
            other => panic!("{line}: {other:?}"),
        }
    }
}

/// Commands that do something, with the names of those above.
fn doing(command: &Command, above: &str, into: &mut Vec<String>) {
    for command in command.get_subcommands() {
        let name = format!("{above} {}", command.get_name()).trim().to_owned();
        if command.has_subcommands() {
            doing(command, &name, into);
        } else {
            into.push(name);
        }
    }
}

#[test]
fn every_command_has_an_example_that_is_accepted() {
    let mut names = Vec::new();
    doing(&Cli::command(), "", &mut names);
    assert!(names.len() > 30, "{names:?}");
    for name in names {
        let example = examples::of(&name).unwrap_or_else(|| panic!("no example for {name}"));
        assert!(
            example.starts_with(&format!("gladhand {name}")) && !example.ends_with('.'),
            "{example}"
        );
        assert!(parse(&words(example)).is_ok(), "{example}");
    }
}

#[test]
fn what_commands_find_missing_themselves_sounds_the_same() {
    let check = needs("check", "check").to_string();
    assert_eq!(
        check,
        "gladhand: `check` needs the name of a check\n  \
         For example: gladhand check . hole-diameter 1 3/4 in tape-pieces 4. See gladhand check --help."
    );
    assert_eq!(too_many("link", "c").to_string(), told("gladhand link a b c"));
}
