//! The rules of the house. Everything that is allowed by name stands here.

/// Each crate with what it may use of ours. It must use exactly that. In the order of the picture: whoever uses comes after whoever
/// is used.
pub const ARROWS: &[(&str, &[&str])] = &[
    ("gladhand-facts", &[]),
    ("gladhand-trade", &["gladhand-facts"]),
    ("gladhand-logbook", &["gladhand-facts"]),
    ("gladhand-reconcile", &["gladhand-facts", "gladhand-trade"]),
    ("gladhand-store", &["gladhand-facts"]),
    (
        "gladhand-node",
        &[
            "gladhand-facts",
            "gladhand-trade",
            "gladhand-logbook",
            "gladhand-reconcile",
            "gladhand-store",
        ],
    ),
    (
        "gladhand-answers",
        &[
            "gladhand-facts",
            "gladhand-trade",
            "gladhand-logbook",
            "gladhand-reconcile",
            "gladhand-store",
            "gladhand-node",
        ],
    ),
    (
        "gladhand-net",
        &["gladhand-facts", "gladhand-logbook", "gladhand-store", "gladhand-node"],
    ),
    (
        "gladhand",
        &[
            "gladhand-facts",
            "gladhand-trade",
            "gladhand-logbook",
            "gladhand-reconcile",
            "gladhand-store",
            "gladhand-node",
            "gladhand-answers",
            "gladhand-net",
        ],
    ),
];

/// The member that may use anything.
pub const FREE: &str = "gladhand-tests";

/// Heavy packages, each with its one home.
pub const HOMES: &[(&str, &str)] = &[
    ("automerge", "gladhand-logbook"),
    ("ed25519-dalek", "gladhand-logbook"),
    ("sled", "gladhand-store"),
    ("bincode", "gladhand-store"),
    ("rustls", "gladhand-net"),
    ("mdns-sd", "gladhand-net"),
    ("notify", "gladhand"),
    ("clap", "gladhand"),
    ("indicatif", "gladhand"),
];

/// Packages of which a crate may use no more than these features.
pub const ONLY_FEATURES: &[(&str, &str, &[&str])] = &[("gladhand-node", "tokio", &["sync"])];

/// Crates without a clock, randomness, environment, file or socket.
pub const PURE: &[&str] = &["facts", "trade", "logbook", "reconcile"];

/// Packages that bring one of these.
pub const IMPURE_PACKAGES: &[&str] = &[
    "getrandom",
    "rand",
    "rand_core",
    "fastrand",
    "chrono",
    "time",
    "tempfile",
    "uuid",
];

/// Names that reach for one of these.
pub const IMPURE_NAMES: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "std::time",
    "std::io::stdin",
    "SystemTime",
    "Instant",
    "Timestamp::now",
    "Zoned::now",
    "getrandom",
    "thread_rng",
    "OsRng",
];

/// What stands in `crates/gladhand/src`, from the bottom up: each may use only what comes before it.
pub const FOLDERS: &[&str] = &[
    "failure", "console", "show", "cli", "usage", "control", "inbox", "commands", "serve", "dispatch", "main",
];

/// So many files of a crate may use each other, and no more.
pub const LARGEST_CIRCLE: usize = 3;

/// Crates in which larger circles are still allowed. The list only gets shorter.
pub const LARGER_CIRCLES: &[&str] = &[];

/// So many lines may a file have, tests not counted.
pub const LONGEST_FILE: usize = 400;

/// Files that are still longer, each with how long it may be. The list only gets shorter, and the numbers only smaller.
pub const LONGER_FILES: &[(&str, usize)] = &[];

/// Files that still make their answers with `json!` instead of a type. The list only gets shorter.
pub const JSON_MACRO: &[&str] = &[];
