//! A gate never passes over nothing: each name that nobody has recorded, each empty scope, and what may be empty on purpose. The table
//! "Gates" of DEVELOPERS.md is made here.

use gladhand_tests::process::TempHome;
use gladhand_tests::tables;

/// The home in which a gate is run.
#[derive(Clone, Copy)]
enum Where {
    /// Nothing was recorded.
    Empty,
    /// A job on a trailer with a linked pair, and nothing against it.
    Clean,
    /// The same, and a second trailer with the same camera.
    Stopped,
}

impl Where {
    fn words(self) -> &'static str {
        match self {
            Self::Empty => "empty",
            Self::Clean => "a job",
            Self::Stopped => "an open stop",
        }
    }
}

/// The home, the command line behind the name of the program, the exit code.
const GATES: &[(Where, &str, i32)] = &[
    (Where::Empty, "findings --gate", 2),
    (Where::Empty, "report --gate", 2),
    (Where::Empty, "findings --gate --may-be-empty", 0),
    (Where::Empty, "report --gate --may-be-empty", 0),
    (Where::Empty, "findings --gate --may-be-empty --job J1", 2),
    (Where::Empty, "report --gate --may-be-empty --yard Tolland", 2),
    (Where::Clean, "findings --gate", 0),
    (Where::Clean, "report --gate", 0),
    (Where::Clean, "findings --gate --job J2", 2),
    (Where::Clean, "findings --gate --job LF5397", 2),
    (Where::Clean, "findings --gate --trailer LF5397", 2),
    (Where::Clean, "findings --gate --camera LC-4822", 2),
    (Where::Clean, "findings --gate --tracker LT-2", 2),
    (Where::Clean, "findings --gate --device mra", 2),
    (Where::Clean, "findings --gate --device lap-nobody", 2),
    (Where::Clean, "findings --gate --rule signed-without-lnk", 2),
    (Where::Clean, "findings --gate --as-known-by mra", 2),
    (Where::Clean, "findings --gate --may-be-empty --trailer LF5397", 2),
    (Where::Clean, "findings --gate --trailer lf-5396 --camera lc4821", 0),
    (Where::Clean, "report --gate --yard Toland", 2),
    (Where::Clean, "report --gate --fleet Larkspur", 2),
    (Where::Clean, "report --gate --may-be-empty --yard Toland", 2),
    (Where::Clean, "report --gate --yard TOLLAND", 0),
    (Where::Clean, "report --gate --day 2020-01-01", 2),
    (Where::Clean, "report --gate --from 2020-01-01 --to 2020-01-02", 2),
    (Where::Clean, "report --gate --day 2020-01-01 --may-be-empty", 0),
    (Where::Stopped, "findings --gate", 3),
    (Where::Stopped, "report --gate", 3),
    (Where::Stopped, "findings --gate --may-be-empty", 3),
    (Where::Stopped, "findings --gate --trailer LF5396", 3),
    (Where::Stopped, "findings --gate --rule signed-without-link", 0),
];

fn home(filled: Where) -> TempHome {
    let home = TempHome::laptop();
    if !matches!(filled, Where::Empty) {
        let job = [
            "job",
            "J1",
            "--trailer",
            "LF5396",
            "--yard",
            "Tolland",
            "--fleet",
            "Larkspur Freight",
        ];
        home.good(&job);
        home.good("link LC-4821 LT-1");
    }
    if matches!(filled, Where::Stopped) {
        home.good("job K7 --trailer LX8800");
        home.good("link LC-4821 LT-9");
    }
    home
}

#[test]
fn each_gate_over_nothing_ends_with_2_and_names_what_is_near() {
    let homes = [Where::Empty, Where::Clean, Where::Stopped].map(|filled| (filled.words(), home(filled)));
    let mut rows = Vec::new();
    for (filled, line, code) in GATES {
        let (_, home) = homes.iter().find(|(words, _)| *words == filled.words()).unwrap();
        let ran = home.run(*line).exits(*code);
        let says = ran.err.lines().next().unwrap_or("-").to_owned();
        let says = says.strip_prefix("gladhand: ").unwrap_or(&says).to_owned();
        if *code == 2 {
            let is_told = ran.tells("near to it") || ran.tells("--may-be-empty") || ran.err.lines().count() > 1;
            assert!(is_told, "what to do about it: {ran}");
        }
        rows.push(vec![
            filled.words().to_owned(),
            format!("`{line}`"),
            code.to_string(),
            says,
        ]);
    }
    tables::check("DEVELOPERS.md", &["home", "gate", "ends with", "says"], &rows);
}

#[test]
fn a_misspelt_name_shows_what_is_near() {
    let home = home(Where::Clean);
    for (line, near) in [
        ("findings --gate --job J2", "job J1"),
        ("findings --gate --job LF5397", "trailer LF5396"),
        ("findings --gate --trailer LF5397", "LF5396"),
        ("findings --gate --camera LC-4822", "LC-4821"),
        ("findings --gate --tracker LT-2", "LT-1"),
        ("findings --gate --device mra", "mara"),
        ("report --gate --yard Toland", "Tolland"),
        ("report --gate --fleet Larkspur", "Larkspur Freight"),
    ] {
        let ran = home.run(line).exits(2);
        assert!(ran.tells(&format!("near to it: {near}")), "{line}: {ran}");
    }
}
