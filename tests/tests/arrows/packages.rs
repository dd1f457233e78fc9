//! Between crates: arrows, homes of heavy packages, features.

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{DependencyKind, MetadataCommand, Package};
use gladhand_tests::repository;

use crate::rules::{ARROWS, FREE, HOMES, ONLY_FEATURES};

/// The members of the workspace, by name.
pub fn members() -> BTreeMap<String, Package> {
    let mut command = MetadataCommand::new();
    command.manifest_path(repository().join("Cargo.toml")).no_deps();
    command.other_options(["--offline".to_owned()]);
    let packages = command.exec().unwrap().packages.into_iter();
    packages.map(|package| (package.name.to_string(), package)).collect()
}

/// What a package depends on: for itself, or also for its tests.
pub fn uses(package: &Package, for_tests: bool) -> BTreeSet<String> {
    let wanted = |kind| for_tests || kind != DependencyKind::Development;
    let used = package.dependencies.iter().filter(|d| wanted(d.kind));
    used.map(|d| d.name.clone()).collect()
}

#[test]
fn each_crate_uses_exactly_the_crates_that_it_may() {
    let members = members();
    let known: BTreeSet<&str> = ARROWS.iter().map(|(name, _)| *name).chain([FREE]).collect();
    let found: BTreeSet<&str> = members.keys().map(String::as_str).collect();
    assert_eq!(found, known, "a member of the workspace without a rule here");
    for (name, allowed) in ARROWS {
        let allowed: BTreeSet<String> = allowed.iter().map(|a| (*a).to_owned()).collect();
        let is_ours = |used: &String| known.contains(used.as_str());
        let used: BTreeSet<String> = uses(&members[*name], false).into_iter().filter(is_ours).collect();
        assert_eq!(used, allowed, "what {name} uses of ours");
        let in_tests: Vec<String> = uses(&members[*name], true).into_iter().filter(is_ours).collect();
        let beyond: Vec<_> = in_tests.iter().filter(|used| !allowed.contains(*used)).collect();
        assert!(beyond.is_empty(), "the tests of {name} use {beyond:?}");
    }
}

#[test]
fn each_heavy_package_has_one_home() {
    let members = members();
    for (heavy, home) in HOMES {
        // So that the list does not go stale unnoticed.
        assert!(
            uses(&members[*home], false).contains(*heavy),
            "{home} does not use {heavy}"
        );
        for (name, package) in members.iter().filter(|(name, _)| *name != FREE && name != home) {
            assert!(
                !uses(package, true).contains(*heavy),
                "{heavy} lives in {home}, yet {name} uses it"
            );
        }
    }
}

#[test]
fn who_may_use_a_part_of_a_package_uses_no_more() {
    let members = members();
    for (name, package, allowed) in ONLY_FEATURES {
        let dependencies = members[*name].dependencies.iter();
        let own: Vec<_> = dependencies
            .filter(|d| d.name == *package && d.kind != DependencyKind::Development)
            .collect();
        assert!(!own.is_empty(), "{name} does not use {package}");
        for dependency in own {
            assert!(
                !dependency.uses_default_features,
                "{name} uses the default features of {package}"
            );
            assert_eq!(dependency.features, *allowed, "what {name} uses of {package}");
        }
    }
}
