//! Within a crate: files that use each other in circles can only be understood together, so circles stay small.

use gladhand_tests::repository;

use crate::figures::crates_of;
use crate::imports::{Arrows, arrows, circles};
use crate::rules::{LARGER_CIRCLES, LARGEST_CIRCLE};
use crate::sources::Sources;

#[test]
fn files_use_each_other_in_small_circles_only() {
    let mut faults = Vec::new();
    for name in crates_of(&repository()) {
        let sources = Sources::read(&repository().join("crates").join(&name).join("src"));
        let arrows = arrows(&sources, &name);
        let mut large = Vec::new();
        for circle in circles(&arrows) {
            let within = |(from, to): &(usize, usize)| circle.contains(from) && circle.contains(to);
            let shown = told(&sources, &arrows, within);
            println!("{name}: {} files in a circle\n{shown}", circle.len());
            if circle.len() > LARGEST_CIRCLE {
                large.push(format!("{name}: {} files in a circle\n{shown}", circle.len()));
            }
        }
        match (LARGER_CIRCLES.contains(&name.as_str()), large.is_empty()) {
            (true, true) => faults.push(format!(
                "{name} has no large circle any more: take it off LARGER_CIRCLES"
            )),
            (false, false) => faults.extend(large),
            _ => {}
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Who uses whom, and what, a line each.
pub fn told(sources: &Sources, arrows: &Arrows, which: impl Fn(&(usize, usize)) -> bool) -> String {
    let chosen = arrows.iter().filter(|(arrow, _)| which(arrow));
    let line = |((from, to), names): (&(usize, usize), &std::collections::BTreeSet<String>)| {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        format!(
            "  {} uses {}: {}\n",
            sources.name(*from),
            sources.name(*to),
            names.join(", ")
        )
    };
    chosen.map(line).collect()
}
