//! What differs from run to run in what the binary says, replaced by words: random names, sizes on this disk, the time of the
//! run. What a story says itself stays as it is: its codes, its people, its times.

use std::sync::LazyLock;

use regex::Regex;

/// The day on which all stories of the documents and of the demo play. Every other date is that of a run.
const STORY: &str = "2026-03-0";

type Patterns = Vec<(Regex, &'static str)>;

static NAMES: LazyLock<Patterns> = LazyLock::new(|| {
    compiled(&[
        (r"GLADHAND-INVITE-[A-Z0-9]+", "INVITE"),
        (r"\b[0-9a-f]{64}(\.[0-9]+(:[0-9]+)?)?\b", "KEY"),
        (r"\bf-[0-9a-hj-km-np-tv-z]{12}\b", "FINDING"),
        (r"\b[0-9a-f]{12}\b", "FACT"),
        (r"\b[0-9a-f]{8}\b", "KEY"),
        (r"gladhand-demo-[0-9]+", "DEMO"),
    ])
});

static SIZES: LazyLock<Patterns> = LazyLock::new(|| {
    compiled(&[
        (r"\b[0-9]+ bytes\b", "N bytes"),
        (r"\b[0-9]+ KiB\b", "N KiB"),
        (r"\b[0-9]+ MiB free\b", "N MiB free"),
        (r"\(([a-z]+) [0-9]{2}:[0-9]{2}\)", "($1 HH:MM)"),
    ])
});

static TIMES: LazyLock<Patterns> = LazyLock::new(|| {
    compiled(&[
        (
            r"\b[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?(Z|[+-][0-9]{2}:[0-9]{2})?",
            "TIME",
        ),
        (r"\b[0-9]{4}-[0-9]{2}-[0-9]{2}\b", "DATE"),
    ])
});

fn compiled(patterns: &[(&str, &'static str)]) -> Patterns {
    let one = |(pattern, word): &(&str, &'static str)| (Regex::new(pattern).unwrap(), *word);
    patterns.iter().map(one).collect()
}

/// The text without random names and sizes. Columns stand one space apart: names have other widths than the words for them.
pub fn normal(text: &str) -> String {
    let mut text = text.to_owned();
    for (pattern, word) in NAMES.iter().chain(SIZES.iter()) {
        text = pattern.replace_all(&text, *word).into_owned();
    }
    for (pattern, word) in TIMES.iter() {
        let replaced = pattern.replace_all(&text, |found: &regex::Captures<'_>| {
            let found = &found[0];
            if found.starts_with(STORY) { found } else { word }.to_owned()
        });
        text = replaced.into_owned();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::normal;

    #[test]
    fn what_a_run_makes_is_replaced_and_what_a_story_says_stays() {
        let said = "recorded  0f6e2ad1c37b  f-80hshghzn33f  device key 8ee0ab63…  21237 bytes, 2026-03-02 16:41, \
                    2026-11-25T11:10:00Z, (mara 11:10), LT765406210, 0302-M03, ±24 h";
        let normal = normal(said);
        assert_eq!(
            normal,
            "recorded  FACT  FINDING  device key KEY…  N bytes, 2026-03-02 16:41, TIME, (mara HH:MM), LT765406210, 0302-M03, ±24 h"
        );
    }
}
