//! Which file of a crate uses something that stands in which other.
//!
//! A use is an import, or a path in the program such as `crate::show::line` or, where the module `show` is imported or a module of one's
//! own, `show::line`. It counts towards the file in which the name was looked for: whatever `lib.rs` or a `mod.rs` only passes on counts
//! towards that file, and its `pub use` counts from there on. `mod x;` and the import of a whole module are no uses by themselves.
//! Not seen: what is reached without a name, such as the methods of a value that somebody else returned.

use std::collections::{BTreeMap, BTreeSet};

use crate::sources::{MAIN, ModulePath, Sources};
use crate::tokens::Token;

/// Who uses whom, each with the paths that say so.
pub type Arrows = BTreeMap<(usize, usize), BTreeSet<String>>;

/// All uses between the files of a crate. `library` is its name as the binary beside it imports it.
pub fn arrows(sources: &Sources, library: &str) -> Arrows {
    let mut arrows = Arrows::new();
    for (path, module) in &sources.modules {
        let scope = Scope::new(sources, library, path, &imports(&module.tokens));
        for named in named(&module.tokens) {
            let Some((target, is_whole_module)) = scope.module_of(&named.path) else {
                continue;
            };
            let file = sources.modules[&target].file;
            if file != module.file && (named.takes_modules || !is_whole_module) {
                arrows
                    .entry((module.file, file))
                    .or_default()
                    .insert(named.path.join("::"));
            }
        }
    }
    arrows
}

/// Files of which each uses each other, if only by way of others. Every circle is as large as it can be.
pub fn circles(arrows: &Arrows) -> Vec<BTreeSet<usize>> {
    let mut reach: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for (from, to) in arrows.keys() {
        reach.entry(*from).or_default().insert(*to);
    }
    loop {
        let mut grown = reach.clone();
        for reached in grown.values_mut() {
            let further = reached.iter().filter_map(|file| reach.get(file)).flatten();
            *reached = further.chain(&*reached).copied().collect();
        }
        if grown == reach {
            break;
        }
        reach = grown;
    }
    let reaches = |from: usize, to: usize| reach.get(&from).is_some_and(|reached| reached.contains(&to));
    let on_a_circle = reach.keys().filter(|file| reaches(**file, **file));
    let circle = |file: &usize| {
        reach[file]
            .iter()
            .copied()
            .filter(|other| reaches(*other, *file))
            .collect()
    };
    on_a_circle.map(circle).collect::<BTreeSet<_>>().into_iter().collect()
}

/// A path that the program names.
struct Named {
    path: ModulePath,
    /// Uses the module itself when the path is that of one: passes it on, or brings in everything in it.
    takes_modules: bool,
}

/// One import of a `use`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Import {
    pub path: ModulePath,
    /// What it is called here. `None`: everything in it, under its own names.
    pub name: Option<String>,
    pub is_public: bool,
}

fn named(tokens: &[Token]) -> Vec<Named> {
    let imports = imports(tokens).into_iter().map(|import| Named {
        takes_modules: import.is_public || import.name.is_none(),
        path: import.path,
    });
    let paths = paths(tokens).into_iter().map(|path| Named {
        path,
        takes_modules: false,
    });
    imports.chain(paths).collect()
}

/// What the names in a module mean.
struct Scope<'s> {
    sources: &'s Sources,
    library: &'s str,
    here: &'s ModulePath,
    /// Modules that were imported, by the name that they have here.
    imported: BTreeMap<String, ModulePath>,
}

impl<'s> Scope<'s> {
    fn new(sources: &'s Sources, library: &'s str, here: &'s ModulePath, imports: &[Import]) -> Self {
        let mut scope = Self {
            sources,
            library,
            here,
            imported: BTreeMap::new(),
        };
        for import in imports {
            if let (Some(name), Some((module, true))) = (&import.name, scope.module_of(&import.path)) {
                scope.imported.insert(name.clone(), module);
            }
        }
        scope
    }

    /// The module of this crate in which the end of `path` is looked for, and whether that end is the module itself.
    fn module_of(&self, path: &[String]) -> Option<(ModulePath, bool)> {
        let (first, mut rest) = path.split_first()?;
        let mut module = self.beginning(first)?;
        while let Some((next, further)) = rest.split_first() {
            let below = if next == "super" {
                module[..module.len().checked_sub(1)?].to_vec()
            } else {
                [module.as_slice(), std::slice::from_ref(next)].concat()
            };
            if !self.sources.modules.contains_key(&below) {
                break;
            }
            (module, rest) = (below, further);
        }
        Some((module, rest.is_empty()))
    }

    fn beginning(&self, first: &str) -> Option<ModulePath> {
        let in_binary = self.here.first().is_some_and(|module| module == MAIN);
        match first {
            "crate" if in_binary => Some(vec![MAIN.to_owned()]),
            "crate" => Some(Vec::new()),
            "self" => Some(self.here.clone()),
            "super" => Some(self.here[..self.here.len().checked_sub(1)?].to_vec()),
            library if in_binary && library == self.library => Some(Vec::new()),
            name => {
                let child = [self.here.as_slice(), &[name.to_owned()]].concat();
                let is_child = self.sources.modules.contains_key(&child);
                is_child.then_some(child).or_else(|| self.imported.get(name).cloned())
            }
        }
    }
}

/// What is imported, anywhere in `tokens`.
pub fn imports(tokens: &[Token]) -> Vec<Import> {
    let mut found = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        if let Token::Group { inside, .. } = token {
            found.extend(imports(inside));
        } else if let Some(statement) = import_at(&tokens[at..]) {
            let mut before = tokens[..at].iter().rev();
            let is_public = match before.next() {
                Some(Token::Group { .. }) => before.next().and_then(Token::word) == Some("pub"),
                other => other.and_then(Token::word) == Some("pub"),
            };
            let mut tree = Vec::new();
            read_tree(statement, &[], &mut tree);
            found.extend(tree.into_iter().map(|(path, name)| Import { path, name, is_public }));
        }
    }
    found
}

/// What stands between `use` and its semicolon, if an import begins here. `use<'a>` is none.
fn import_at(tokens: &[Token]) -> Option<&[Token]> {
    let (first, rest) = tokens.split_first()?;
    let is_import = first.word() == Some("use") && rest.first().is_some_and(|next| !next.is_sign('<'));
    let end = rest.iter().position(|token| token.is_sign(';'))?;
    is_import.then_some(&rest[..end])
}

fn read_tree(tokens: &[Token], prefix: &[String], found: &mut Vec<(ModulePath, Option<String>)>) {
    let mut path = prefix.to_vec();
    let mut words = tokens.iter();
    let mut name = None;
    while let Some(token) = words.next() {
        match token {
            Token::Word { text, .. } if text == "as" => name = words.next().and_then(Token::word).map(str::to_owned),
            Token::Word { text, .. } => path.push(text.clone()),
            Token::Sign('*') => return found.push((path, None)),
            Token::Group { inside, .. } => {
                let branches = inside
                    .split(|token| token.is_sign(','))
                    .filter(|branch| !branch.is_empty());
                return branches.for_each(|branch| read_tree(branch, &path, found));
            }
            _ => {}
        }
    }
    if path.len() > 1 && path.last().is_some_and(|last| last == "self") {
        path.pop();
    }
    let name = name.or_else(|| path.last().cloned());
    found.push((path, name));
}

/// The paths of two words and more, imports excepted.
pub fn paths(tokens: &[Token]) -> Vec<ModulePath> {
    let mut found = Vec::new();
    let mut rest = tokens;
    while let Some((first, more)) = rest.split_first() {
        let import = import_at(rest);
        rest = more;
        if let Some(statement) = import {
            rest = &more[statement.len()..];
        } else if let Token::Group { inside, .. } = first {
            found.extend(paths(inside));
        } else if let Some(word) = first.word() {
            let mut path = vec![word.to_owned()];
            while let [
                Token::Sign(':'),
                Token::Sign(':'),
                Token::Word { text, .. },
                further @ ..,
            ] = rest
            {
                path.push(text.clone());
                rest = further;
            }
            found.extend(Some(path).filter(|path| path.len() > 1));
        }
    }
    found
}

#[test]
fn uses_are_found_however_they_are_written() {
    let dir = tempfile::tempdir().unwrap();
    let write = |file: &str, text: &str| {
        let file = dir.path().join(file);
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(file, text).unwrap();
    };
    write("main.rs", "fn main() { sample::start::run(); }");
    write(
        "lib.rs",
        "pub mod start; mod deep; mod leaf; pub use leaf::Leaf as Passed;",
    );
    write(
        "start.rs",
        "use crate::{deep::{self, below, Own}, Passed};\n\
         pub fn run() { let _ = format!(\"{}\", below::grown::<u8>()); assert!(deep::Own.ok()); std::fs::read(x); }\n\
         #[cfg(test)] mod tests { use crate::leaf::Leaf; }",
    );
    write(
        "deep/mod.rs",
        "pub mod below; pub(in crate::leaf) mod inner { use super::super::leaf::*; } pub struct Own;",
    );
    write(
        "deep/below.rs",
        "use super::inner; use self::super::Own as Other; pub fn grown<T>() { Other; inner::x() }",
    );
    write("leaf.rs", "pub struct Leaf; fn f() -> impl Sized + use<> {}");
    let sources = Sources::read(dir.path());
    let arrows = arrows(&sources, "sample");
    let told = arrows.iter().map(|((from, to), names)| {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        format!("{} -> {}: {}", sources.name(*from), sources.name(*to), names.join(" "))
    });
    let told: BTreeSet<String> = told.collect();
    let expected = [
        "main.rs -> start.rs: sample::start::run",
        "lib.rs -> leaf.rs: leaf::Leaf",
        "start.rs -> lib.rs: crate::Passed",
        "start.rs -> deep/mod.rs: crate::deep::Own deep::Own",
        "start.rs -> deep/below.rs: below::grown",
        "deep/mod.rs -> leaf.rs: super::super::leaf",
        "deep/below.rs -> deep/mod.rs: inner::x self::super::Own",
    ];
    assert_eq!(told, expected.map(str::to_owned).into());
}

#[test]
fn circles_are_as_large_as_they_can_be() {
    let arrows = |pairs: &[(usize, usize)]| pairs.iter().map(|pair| (*pair, BTreeSet::new())).collect::<Arrows>();
    assert!(circles(&arrows(&[(0, 1), (1, 2), (0, 2)])).is_empty());
    let found = circles(&arrows(&[(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 3), (5, 0)]));
    assert_eq!(found, [BTreeSet::from([0, 1, 2]), BTreeSet::from([3, 4])]);
}
