//! How much room text takes, estimated: nothing that draws the picture later can be asked.
//!
//! Invariant: the estimate is at least what the sans-serif faces of the usual systems need, so that no text runs into its
//! neighbour. A face that is wider still gets close to it.

/// How letters look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Style {
    pub(super) size: u32,
    pub(super) is_bold: bool,
}

impl Style {
    pub(super) const fn plain(size: u32) -> Self {
        Self { size, is_bold: false }
    }

    pub(super) const fn bold(size: u32) -> Self {
        Self { size, is_bold: true }
    }

    /// From one line of text to the next.
    pub(super) fn line_height(self) -> u32 {
        self.size + self.size.div_ceil(3)
    }

    /// How wide `text` is in one line.
    pub(super) fn width(self, text: &str) -> u32 {
        let per_mille: u32 = text.chars().map(per_mille).fold(0, u32::saturating_add);
        let per_mille = if self.is_bold {
            per_mille.saturating_mul(9) / 8
        } else {
            per_mille
        };
        per_mille.saturating_mul(self.size).div_ceil(1000)
    }

    /// How wide a column must be in which no word of `text` is cut, up to the width beyond which a word is.
    pub(super) fn least_width(self, text: &str) -> u32 {
        let words = words(text).map(|word| self.width(word));
        words.max().unwrap_or(0).min(LONGEST_WORD)
    }

    /// `text` in lines of at most that width. It is broken between words; only a word that is wider than a line is broken itself.
    pub(super) fn wrapped(self, text: &str, width: u32) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in words(text) {
            let longer = lines.last().map(|line| format!("{line} {word}"));
            match (lines.last_mut(), longer) {
                (Some(line), Some(longer)) if self.width(&longer) <= width => *line = longer,
                _ => lines.extend(self.pieces(word, width)),
            }
        }
        lines
    }

    /// A word in pieces that fit, nearly always one.
    fn pieces(self, word: &str, width: u32) -> Vec<String> {
        let mut pieces = Vec::new();
        let mut piece = String::new();
        for c in word.chars() {
            piece.push(c);
            if self.width(&piece) > width && piece.chars().count() > 1 {
                piece.pop();
                pieces.push(std::mem::replace(&mut piece, c.to_string()));
            }
        }
        pieces.push(piece);
        pieces
    }
}

/// What is never broken. A no-break space belongs to its word.
fn words(text: &str) -> impl Iterator<Item = &str> {
    let parts = text.split(|c: char| c.is_whitespace() && c != '\u{a0}');
    parts.filter(|part| !part.is_empty())
}

/// No column is made wider than this for one word.
const LONGEST_WORD: u32 = 480;

/// The width of a letter in thousandths of the size: the widest of the usual faces, by class.
fn per_mille(c: char) -> u32 {
    match c {
        ' ' | '\u{a0}' => 330,
        'i' | 'j' | 'l' | 'I' | '|' | '\'' | '.' | ',' | ':' | ';' => 345,
        '!' | 'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '/' | '\\' | '-' | '`' => 415,
        's' | 'c' | 'k' | 'x' | 'v' | 'y' | 'z' | 'J' | '?' | '*' | '"' => 600,
        'a'..='z' if !matches!(c, 'm' | 'w') => 640,
        '0'..='9' | 'E' | 'F' | 'L' | 'S' | 'T' | 'P' | 'Y' | '_' | '$' | '{' | '}' => 690,
        'A'..='Z' if !matches!(c, 'M' | 'W') => 800,
        '\0'..='\u{7f}' => 1000,
        '\u{80}'..='\u{24f}' => 900,
        '\u{250}'..='\u{ffff}' => 1100,
        _ => 1400,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_broken_between_words_and_nothing_is_lost() {
        let style = Style::plain(12);
        let text = "check 0302-M11 lock-rods-checked ok";
        let width = style.least_width(text);
        let lines = style.wrapped(text, width);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|line| style.width(line) <= width), "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert_eq!(style.wrapped(text, 2_000), [text]);
        assert!(style.wrapped(" \n", 100).is_empty());
    }

    #[test]
    fn only_a_word_that_no_column_can_hold_is_broken() {
        let style = Style::bold(12);
        let word = "W".repeat(200);
        assert_eq!(style.least_width(&word), LONGEST_WORD);
        let lines = style.wrapped(&format!("x {word} y"), LONGEST_WORD);
        assert!(lines.len() > 3 && lines.iter().all(|l| style.width(l) <= LONGEST_WORD));
        assert_eq!(lines.concat().matches('W').count(), 200);
        // A column narrower than a letter still gets its letters.
        assert_eq!(style.wrapped("ab", 1), ["a", "b"]);
    }
}
