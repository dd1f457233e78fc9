//! One command line that works for each command. A test holds that each command has one, and that it is accepted.

const EXAMPLES: [(&str, &str); 39] = [
    ("setup", "gladhand setup --name laptop-mara --person mara"),
    ("invite", "gladhand invite --person mara"),
    ("join", "gladhand join invite.txt"),
    ("retire", "gladhand retire laptop-mara --why \"stolen\""),
    ("serve", "gladhand serve"),
    ("record", "gladhand record shift.jsonl"),
    (
        "job",
        "gladhand job 0302-M21 --trailer \"LF 5587\" --fleet \"Larkspur Freight\"",
    ),
    (
        "stock read",
        "gladhand stock read trailers.csv --fleet \"Larkspur Freight\" --map \"Unit no.=trailer\"",
    ),
    ("trailer show", "gladhand trailer show \"LF 5587\""),
    ("picture", "gladhand picture 0302-M14"),
    ("scan", "gladhand scan LC-N61MCJW --job . --what camera"),
    ("check", "gladhand check . hole-diameter 1 3/4 in tape-pieces 4"),
    ("link", "gladhand link LC-N61MCJW LT312372410"),
    (
        "unlink",
        "gladhand unlink LC-N61MCJW LT312372410 --why \"wrong trailer\"",
    ),
    ("settings", "gladhand settings LT312372410 live"),
    ("proof", "gladhand proof . judged --all-yes"),
    ("sign-off", "gladhand sign-off 0302-M14"),
    ("stand-down", "gladhand stand-down . --why \"the trailer has left\""),
    (
        "withdraw",
        "gladhand withdraw 4b0fb8ce8d63 --why \"read from the wrong end of the tape\"",
    ),
    ("handover", "gladhand handover \"LF 5587\" --to \"the yard's gate\""),
    ("note", "gladhand note \"The gate at Tolland is closed\""),
    (
        "ruling",
        "gladhand ruling f-p8st84fdtwpa --ruling accepted --why \"seen by bram\"",
    ),
    ("clearance", "gladhand clearance 0302-M14"),
    ("standard show", "gladhand standard show"),
    ("standard check", "gladhand standard check work-standard.toml"),
    ("standard publish", "gladhand standard publish work-standard.toml"),
    ("sync", "gladhand sync harrow-street"),
    (
        "bundle write",
        "gladhand bundle write for-ilse.bundle --for laptop-ilse",
    ),
    ("bundle read", "gladhand bundle read from-ilse.bundle"),
    ("bundle verify", "gladhand bundle verify from-ilse.bundle"),
    ("status", "gladhand status"),
    ("findings", "gladhand findings --open"),
    ("history", "gladhand history --job 0302-M14"),
    ("report", "gladhand report --format html"),
    ("export", "gladhand export --automerge documents"),
    ("verify", "gladhand verify"),
    ("completions", "gladhand completions bash"),
    ("man", "gladhand man pages"),
    ("demo", "gladhand demo"),
];

/// For a command named like `bundle write`. `None` where a command alone does nothing, as for `bundle`.
pub(super) fn of(command: &str) -> Option<&'static str> {
    let found = EXAMPLES.iter().find(|(name, _)| *name == command);
    found.map(|(_, example)| *example)
}
