//! Components are what has seen each other in a circle, and come after all that they need.

use std::collections::BTreeSet;

use super::*;
use proptest::prelude::*;

fn components(needs: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let mut search = ComponentSearch::default();
    for root in 0..needs.len() {
        if !search.is_visited(root) {
            search.from(root, &|node| needs[node].clone());
        }
    }
    search.components
}

/// Everything that a node needs, however far away; itself only if it is in a circle.
fn reachable(needs: &[Vec<usize>], from: usize) -> BTreeSet<usize> {
    let (mut found, mut todo) = (BTreeSet::new(), needs[from].clone());
    while let Some(node) = todo.pop() {
        if found.insert(node) {
            todo.extend(&needs[node]);
        }
    }
    found
}

#[test]
fn a_circle_is_one_component_and_a_chain_is_many() {
    let needs = [vec![], vec![0, 3], vec![1], vec![2], vec![3, 0], vec![]];
    assert_eq!(components(&needs), [vec![0], vec![1, 2, 3], vec![4], vec![5]]);
}

/// A first fill has more units than a stack has room for.
#[test]
fn a_long_chain_needs_no_deep_stack() {
    let length = 200_000;
    let needs: Vec<Vec<usize>> = (0..length)
        .map(|n| (n + 1 < length).then_some(n + 1).into_iter().collect())
        .collect();
    let found = components(&needs);
    assert_eq!((found.len(), &found[0]), (length, &vec![length - 1]));
}

proptest! {
    #[test]
    fn components_are_those_of_the_definition(
        edges in proptest::collection::vec((0usize..9, 0usize..9), 0..30),
    ) {
        let mut needs = vec![Vec::new(); 9];
        edges.iter().for_each(|(from, to)| needs[*from].push(*to));
        let found = components(&needs);
        let reach: Vec<BTreeSet<usize>> = (0..9).map(|node| reachable(&needs, node)).collect();
        let of = |node: usize| found.iter().position(|component| component.contains(&node)).unwrap();
        prop_assert_eq!(found.iter().map(Vec::len).sum::<usize>(), 9, "each node once");
        for a in 0..9 {
            for b in 0..9 {
                let is_circle = a == b || (reach[a].contains(&b) && reach[b].contains(&a));
                prop_assert_eq!(of(a) == of(b), is_circle, "{} and {}", a, b);
                if reach[a].contains(&b) {
                    prop_assert!(of(b) <= of(a), "{} needs {}", a, b);
                }
            }
        }
    }
}
