//! The program files of a crate, found as the compiler finds them: from `lib.rs` and `main.rs` through each `mod`. What is for tests
//! only is not among them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use proc_macro2::Delimiter;

use crate::tokens::{self, Token};

/// The way from the root of a crate to a module.
pub type ModulePath = Vec<String>;

/// A module: a whole file, or a `mod name { … }` in one.
pub struct Module {
    /// The place of its file in [`Sources::files`].
    pub file: usize,
    /// Without the modules within.
    pub tokens: Vec<Token>,
}

/// A file.
pub struct File {
    /// Below `src`.
    pub path: PathBuf,
    pub lines: usize,
}

/// Everything below one `src`.
pub struct Sources {
    pub files: Vec<File>,
    /// The library's modules; those of the binary, if there is one, lie below the module `main`.
    pub modules: BTreeMap<ModulePath, Module>,
    src: PathBuf,
}

/// What stands for the root of the binary, which is no module of the library.
pub const MAIN: &str = "main";

impl Sources {
    /// Reads the crate whose sources are in `src`.
    pub fn read(src: &Path) -> Self {
        let mut sources = Self {
            files: Vec::new(),
            modules: BTreeMap::new(),
            src: src.to_path_buf(),
        };
        for (root, module) in [("lib.rs", Vec::new()), ("main.rs", vec![MAIN.to_owned()])] {
            if src.join(root).exists() {
                sources.read_file(Path::new(root), Path::new(""), &module);
            }
        }
        assert!(!sources.files.is_empty(), "no sources in {}", src.display());
        sources
    }

    /// Reads a file and the modules that it names, whose files are in `folder`.
    fn read_file(&mut self, path: &Path, folder: &Path, module: &ModulePath) {
        let whole = self.src.join(path);
        let text = std::fs::read_to_string(&whole).unwrap_or_else(|e| panic!("{}: {e}", whole.display()));
        let program = tokens::program(&text);
        let file = self.files.len();
        self.files.push(File {
            path: path.to_path_buf(),
            lines: program.lines,
        });
        self.add_module(file, folder, module, program.tokens);
    }

    fn add_module(&mut self, file: usize, folder: &Path, module: &ModulePath, tokens: Vec<Token>) {
        let mut own = Vec::new();
        let mut rest = tokens.as_slice();
        while let Some((first, more)) = rest.split_first() {
            rest = more;
            let name = more.first().and_then(Token::word);
            let (Some("mod"), Some(name), Some(body)) = (first.word(), name, more.get(1)) else {
                own.push(first.clone());
                continue;
            };
            let below = [module.as_slice(), &[name.to_owned()]].concat();
            let folder = folder.join(name);
            match body.group(Delimiter::Brace) {
                Some((inside, _)) => self.add_module(file, &folder, &below, inside.to_vec()),
                None => self.read_file(&self.file_of(&folder), &folder, &below),
            }
            rest = &more[2..];
        }
        self.modules.insert(module.clone(), Module { file, tokens: own });
    }

    /// `folder.rs` or `folder/mod.rs`.
    fn file_of(&self, folder: &Path) -> PathBuf {
        let in_folder = folder.join("mod.rs");
        if self.src.join(&in_folder).exists() {
            in_folder
        } else {
            folder.with_extension("rs")
        }
    }

    /// The name of a file, for people.
    pub fn name(&self, file: usize) -> String {
        self.files[file].path.display().to_string()
    }

    /// The modules that a file holds.
    pub fn modules_in(&self, file: usize) -> impl Iterator<Item = &Module> {
        self.modules.values().filter(move |module| module.file == file)
    }
}
