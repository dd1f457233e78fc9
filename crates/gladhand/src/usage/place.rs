//! Which command a command line that cannot be read was about: clap's errors do not say.

use std::ffi::OsString;

use clap::{Arg, Command, CommandFactory};

use super::examples;
use crate::cli::Cli;
use crate::failure::Failure;

/// A command, or the program itself.
pub(super) struct Place {
    /// The names below the program's, such as `bundle` and `write`.
    names: Vec<String>,
    command: Command,
}

impl Place {
    /// The last command that the words name.
    pub fn of(args: &[OsString]) -> Self {
        let mut place = Self::program();
        let mut words = args.iter().skip(1).filter_map(|word| word.to_str());
        while let Some(word) = words.next() {
            if word == "--" {
                break;
            }
            let goes_on = match place.flag(word) {
                _ if !word.starts_with('-') => place.enter(word),
                Some(flag) if flag.get_action().takes_values() && !word.contains('=') => words.next().is_some(),
                Some(_) => true,
                // What is wrong is wrong here, whatever follows.
                None => false,
            };
            if !goes_on {
                break;
            }
        }
        place
    }

    /// The command of these names.
    pub fn named(names: &[&str]) -> Self {
        let mut place = Self::program();
        for name in names {
            place.enter(name);
        }
        place
    }

    fn program() -> Self {
        let mut command = Cli::command();
        // Gives each command the flags that all have.
        command.build();
        Self {
            names: Vec::new(),
            command,
        }
    }

    fn enter(&mut self, name: &str) -> bool {
        // `help` only prints; what is wrong with its words is wrong with the command that they name.
        if name == "help" {
            return true;
        }
        let found = self.command.find_subcommand(name).cloned();
        let Some(command) = found else {
            return false;
        };
        self.names.push(name.to_owned());
        self.command = command;
        true
    }

    fn flag(&self, word: &str) -> Option<&Arg> {
        let name = word.split('=').next().unwrap_or(word);
        let is_it = |arg: &&Arg| match name.strip_prefix("--") {
            Some(long) => arg.get_long() == Some(long),
            None => name
                .strip_prefix('-')
                .is_some_and(|short| arg.get_short().map(String::from).as_deref() == Some(short)),
        };
        self.command.get_arguments().find(is_it)
    }

    /// The command with its flags and commands.
    pub fn command(&self) -> &Command {
        &self.command
    }

    /// Whether no command was named.
    pub fn is_program(&self) -> bool {
        self.names.is_empty()
    }

    /// How the command is called in a sentence.
    pub fn title(&self) -> String {
        format!("`{}`", self.names.join(" "))
    }

    /// An example, and where more is said.
    pub fn help(&self) -> String {
        let names = self.names.join(" ");
        let example = examples::of(&names).map_or(String::new(), |example| format!("For example: {example}. "));
        format!("{example}See {}.", self.help_command())
    }

    /// The command line that says more.
    pub fn help_command(&self) -> String {
        let words = ["gladhand"].into_iter().chain(self.names.iter().map(String::as_str));
        words.chain(["--help"]).collect::<Vec<_>>().join(" ")
    }

    /// A word stands after all that the command takes.
    pub fn too_many(&self, word: &str) -> Failure {
        let quotes = match self.command.get_positionals().next() {
            Some(_) => "A text of several words stands in quotes. ",
            None => "",
        };
        Failure::bad_input(format!("`{word}` is one word too many for {}", self.title()))
            .hint(format!("{quotes}{}", self.help()))
    }
}
