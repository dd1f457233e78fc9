//! The tokens of a source file, without comments and without what is compiled for tests only.
//!
//! Tokens and not syntax: what is asked here (paths, imports, functions, macro names) stands in plain sequences of tokens, also inside
//! the arguments of macros, which a syntax tree does not look into.

use std::str::FromStr;

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// A token, with the lines that it is on.
#[derive(Debug, Clone)]
pub enum Token {
    /// A name or a keyword.
    Word { text: String, line: usize },
    /// One character of punctuation.
    Sign(char),
    /// A text, a number or a character: nothing here asks which.
    Literal,
    /// What stands between brackets.
    Group {
        delimiter: Delimiter,
        inside: Vec<Token>,
        end_line: usize,
    },
}

impl Token {
    /// The name or keyword that this is.
    pub fn word(&self) -> Option<&str> {
        match self {
            Self::Word { text, .. } => Some(text),
            _ => None,
        }
    }

    /// Whether it is this character.
    pub fn is_sign(&self, wanted: char) -> bool {
        matches!(self, Self::Sign(c) if *c == wanted)
    }

    /// What stands between brackets of this kind, and the line of the closing one.
    pub fn group(&self, wanted: Delimiter) -> Option<(&[Token], usize)> {
        match self {
            Self::Group {
                delimiter,
                inside,
                end_line,
            } if *delimiter == wanted => Some((inside, *end_line)),
            _ => None,
        }
    }
}

/// The program in a source file.
pub struct Program {
    pub tokens: Vec<Token>,
    /// How many lines the file has besides those of its tests.
    pub lines: usize,
}

/// Reads the text of a source file.
pub fn program(text: &str) -> Program {
    let stream = TokenStream::from_str(text).unwrap_or_else(|e| panic!("not Rust: {e}"));
    let mut test_lines = 0;
    let tokens = without_tests(stream.into_iter().collect(), &mut test_lines);
    Program {
        tokens,
        lines: text.lines().count() - test_lines,
    }
}

fn without_tests(stream: Vec<TokenTree>, test_lines: &mut usize) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut rest = stream.as_slice();
    while let Some((first, more)) = rest.split_first() {
        if is_for_tests(rest) {
            let end = end_of_item(rest);
            *test_lines += last_line(&rest[end - 1]) + 1 - first.span().start().line;
            rest = &rest[end..];
            continue;
        }
        tokens.push(match first {
            TokenTree::Ident(word) => Token::Word {
                text: word.to_string(),
                line: word.span().start().line,
            },
            TokenTree::Punct(sign) => Token::Sign(sign.as_char()),
            TokenTree::Literal(_) => Token::Literal,
            TokenTree::Group(group) => Token::Group {
                delimiter: group.delimiter(),
                inside: without_tests(group.stream().into_iter().collect(), test_lines),
                end_line: last_line(first),
            },
        });
        rest = more;
    }
    tokens
}

fn last_line(token: &TokenTree) -> usize {
    token.span().end().line
}

/// Whether an item begins here that only tests have: under `#[cfg(test)]` or `#[cfg(all(test, …))]`.
fn is_for_tests(rest: &[TokenTree]) -> bool {
    let [TokenTree::Punct(hash), TokenTree::Group(attribute), ..] = rest else {
        return false;
    };
    let inside: Vec<TokenTree> = attribute.stream().into_iter().collect();
    let [TokenTree::Ident(cfg), TokenTree::Group(condition)] = inside.as_slice() else {
        return false;
    };
    let condition = condition.stream().to_string().replace(' ', "");
    let words = condition.strip_prefix("all(").and_then(|c| c.strip_suffix(')'));
    let all_of = words.unwrap_or(&condition).split(',').collect::<Vec<_>>();
    hash.as_char() == '#' && cfg == "cfg" && all_of.contains(&"test")
}

/// Where the item ends: behind its semicolon, or behind the braces that are its body. Those of `use a::{b, c};` are none.
fn end_of_item(rest: &[TokenTree]) -> usize {
    let is_import = rest.iter().find_map(keyword).is_some_and(|keyword| keyword == "use");
    let ends = |token: &TokenTree| match token {
        TokenTree::Punct(sign) => sign.as_char() == ';',
        TokenTree::Group(group) => group.delimiter() == Delimiter::Brace && !is_import,
        _ => false,
    };
    rest.iter().position(ends).map_or(rest.len(), |at| at + 1)
}

fn keyword(token: &TokenTree) -> Option<String> {
    const KEYWORDS: [&str; 10] = [
        "use", "mod", "fn", "struct", "enum", "impl", "const", "static", "trait", "type",
    ];
    let TokenTree::Ident(word) = token else { return None };
    Some(word.to_string()).filter(|word| KEYWORDS.contains(&word.as_str()))
}
