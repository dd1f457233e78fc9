//! What is wrong with a command line, and what to do: a sentence for each kind of clap's errors.

use std::any::TypeId;
use std::error::Error as _;

use clap::error::{ContextKind, ContextValue, Error, ErrorKind};
use clap::{Arg, Command};

use super::place::Place;
use super::with_article;
use crate::failure::Failure;
use crate::show;

/// The failure that `error` is.
pub(super) fn told(error: &Error, place: &Place) -> Failure {
    let wrong = Wrong { error, place };
    match error.kind() {
        ErrorKind::MissingSubcommand | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => wrong.no_command(),
        ErrorKind::InvalidSubcommand => wrong.unknown_command(),
        ErrorKind::UnknownArgument => wrong.unknown_argument(),
        ErrorKind::MissingRequiredArgument => wrong.missing(),
        ErrorKind::TooManyValues => wrong.too_many(),
        ErrorKind::ArgumentConflict => wrong.conflict(),
        ErrorKind::InvalidValue if wrong.one(ContextKind::InvalidValue).is_empty() => wrong.no_value(),
        ErrorKind::InvalidValue | ErrorKind::ValueValidation => wrong.bad_value(),
        ErrorKind::InvalidUtf8 => wrong.of("a word of the command line is not UTF-8"),
        kind => wrong.of(kind.as_str().unwrap_or("the command line cannot be read")),
    }
}

struct Wrong<'a> {
    error: &'a Error,
    place: &'a Place,
}

impl Wrong<'_> {
    /// Texts that the error carries. The best guess of several is the last.
    fn all(&self, kind: ContextKind) -> Vec<String> {
        match self.error.get(kind) {
            Some(ContextValue::String(text)) => vec![text.clone()],
            Some(ContextValue::Strings(texts)) => texts.clone(),
            _ => Vec::new(),
        }
    }

    fn one(&self, kind: ContextKind) -> String {
        self.all(kind).pop().unwrap_or_default()
    }

    /// `Did you mean …? `, where something is near.
    fn near(&self, kind: ContextKind) -> String {
        let near = self.all(kind).pop();
        near.map_or(String::new(), |near| format!("Did you mean {}? ", quoted(&near)))
    }

    fn of(&self, what: impl std::fmt::Display) -> Failure {
        Failure::bad_input(what).hint(self.place.help())
    }

    fn no_command(&self) -> Failure {
        let commands = self.place.command().get_subcommands();
        let about = |command: &Command| command.get_about().map_or(String::new(), ToString::to_string);
        let rows: Vec<Vec<String>> = commands
            .filter(|command| command.get_name() != "help")
            .map(|command| vec![format!("  {}", command.get_name()), about(command)])
            .collect();
        let table = show::table(&rows);
        let hint = format!("{table}  See {}.", self.place.help_command());
        let what = if self.place.is_program() {
            "a command is missing".to_owned()
        } else {
            format!("{} needs a command", self.place.title())
        };
        Failure::bad_input(what).hint(hint.trim_start())
    }

    /// `there is no …`, or which command has none.
    fn has_no(&self, what: &str) -> String {
        if self.place.is_program() {
            return format!("there is no {what}");
        }
        format!("{} has no {what}", self.place.title())
    }

    fn unknown_command(&self) -> Failure {
        let given = quoted(&self.one(ContextKind::InvalidSubcommand));
        let near = self.near(ContextKind::SuggestedSubcommand);
        Failure::bad_input(self.has_no(&format!("command {given}")))
            .hint(format!("{near}See {}.", self.place.help_command()))
    }

    fn unknown_argument(&self) -> Failure {
        let given = self.one(ContextKind::InvalidArg);
        if !given.starts_with('-') {
            return self.place.too_many(&given);
        }
        let mut hint = self.near(ContextKind::SuggestedArg);
        if hint.is_empty() {
            hint = self.flag_of_a_command(&given).unwrap_or_default();
        }
        let may_be_text = self.place.command().get_positionals().next().is_some() && given.parse::<f64>().is_err();
        if hint.is_empty() && may_be_text {
            hint = format!("If {given} is no flag, write -- before it. ");
        }
        Failure::bad_input(self.has_no(&format!("flag {given}"))).hint(format!("{hint}{}", self.place.help()))
    }

    /// A flag before the command it belongs to.
    fn flag_of_a_command(&self, flag: &str) -> Option<String> {
        let name = flag.strip_prefix("--").filter(|_| self.place.is_program())?;
        let has_it = |command: &&Command| command.get_arguments().any(|arg| arg.get_long() == Some(name));
        let command = self.place.command().get_subcommands().find(has_it)?;
        Some(format!(
            "Flags stand after their command: gladhand {} {flag}. ",
            command.get_name()
        ))
    }

    fn missing(&self) -> Failure {
        let missing = self.all(ContextKind::InvalidArg);
        let named: Vec<String> = missing.iter().map(|arg| needed(arg)).collect();
        let mut what = format!("{} needs {}", self.place.title(), listed(&named, "and"));
        if let [flag] = missing.as_slice()
            && let Some(help) = self.argument(flag).filter(|_| flag.starts_with('-')).and_then(help_of)
        {
            what.push_str(&format!(": {help}"));
        }
        self.of(what)
    }

    fn too_many(&self) -> Failure {
        let (arg, word) = (self.one(ContextKind::InvalidArg), self.one(ContextKind::InvalidValue));
        if arg.starts_with('-') {
            return self.of(format!(
                "{} takes no value, and was given {}",
                flag(&arg),
                quoted(&word)
            ));
        }
        self.place.too_many(&word)
    }

    fn conflict(&self) -> Failure {
        let (one, others) = (self.one(ContextKind::InvalidArg), self.all(ContextKind::PriorArg));
        if others.iter().all(|other| *other == one) {
            return self.of(format!("{} is given twice", flag(&one)));
        }
        let named: Vec<String> = [&one].into_iter().chain(&others).map(|arg| flag(arg)).collect();
        self.of(format!("{} exclude each other", listed(&named, "and")))
    }

    fn no_value(&self) -> Failure {
        let arg = self.one(ContextKind::InvalidArg);
        let what = format!("{} needs a value", flag(&arg));
        let values = self.possible();
        if !values.is_empty() {
            return Failure::bad_input(what).hint(format!("{values}{}", self.place.help()));
        }
        let help = self.argument(&arg).and_then(help_of);
        self.of(help.map_or(what.clone(), |help| format!("{what}: {help}")))
    }

    fn bad_value(&self) -> Failure {
        let (arg, value) = (self.one(ContextKind::InvalidArg), self.one(ContextKind::InvalidValue));
        let near = self.near(ContextKind::SuggestedValue);
        let possible = match self.possible() {
            none if none.is_empty() => self.kind_of_value(&arg),
            possible => possible,
        };
        Failure::bad_input(format!("{} cannot be {}", flag(&arg), quoted(&value)))
            .hint(format!("{near}{possible}{}", self.place.help()))
    }

    fn possible(&self) -> String {
        let values = self.all(ContextKind::ValidValue);
        if values.is_empty() {
            return String::new();
        }
        format!("It is {}. ", listed(&values, "or"))
    }

    fn kind_of_value(&self, arg: &str) -> String {
        let kind = self.argument(arg).map(|arg| arg.get_value_parser().type_id());
        if kind.is_some_and(|kind| kind == TypeId::of::<u32>()) {
            return format!("It is a whole number up to {}. ", u32::MAX);
        }
        if kind.is_some_and(|kind| kind == TypeId::of::<u64>()) {
            return "It is a whole number. ".into();
        }
        let why = self.error.source();
        why.map_or(String::new(), |why| format!("It does not read: {why}. "))
    }

    /// The argument that clap writes so.
    fn argument(&self, written: &str) -> Option<&Arg> {
        self.place
            .command()
            .get_arguments()
            .find(|arg| arg.to_string() == written)
    }
}

/// `--name <NAME>`, as clap writes it, without what belongs to the grammar of help.
fn bare(written: &str) -> String {
    written.replace(['<', '>', '[', ']'], "").replace("...", "")
}

/// A flag without its value, or the name of a place on the command line.
fn flag(written: &str) -> String {
    let bare = bare(written);
    if bare.starts_with('-') {
        return bare.split([' ', '=']).next().unwrap_or_default().to_owned();
    }
    bare
}

/// A missing argument in a sentence: `--name NAME`, or `a job`.
fn needed(written: &str) -> String {
    let bare = bare(written);
    if bare.starts_with('-') {
        return bare;
    }
    with_article(&bare.to_lowercase())
}

/// What an argument is, to go on a sentence with.
fn help_of(arg: &Arg) -> Option<String> {
    let help = arg.get_help()?.to_string();
    let help = help.split(". ").next()?.trim_end_matches('.');
    let mut letters = help.chars();
    let first = letters.next()?;
    // A name or an abbreviation keeps its capital.
    let is_word = !letters.as_str().starts_with(char::is_uppercase);
    let first = if is_word { first.to_ascii_lowercase() } else { first };
    Some(format!("{first}{}", letters.as_str()))
}

/// Flags show what they are; a word stands in quotes.
fn quoted(text: &str) -> String {
    if text.starts_with("--") {
        return text.to_owned();
    }
    format!("`{text}`")
}

/// `a, b and c`.
fn listed(texts: &[String], last: &str) -> String {
    match texts {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., end] => format!("{} {last} {end}", most.join(", ")),
    }
}
