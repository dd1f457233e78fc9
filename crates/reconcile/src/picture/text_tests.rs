//! The text of a drawn picture, read back: where it stands, and what it says.

use super::letters::Style;

/// A piece of text where it stands.
pub struct Text {
    pub x: u32,
    pub y: u32,
    pub style: Style,
    pub content: String,
}

impl Text {
    /// Left, top, right and bottom, by the estimate.
    fn area(&self) -> (u32, u32, u32, u32) {
        let right = self.x + self.style.width(&self.content);
        (
            self.x,
            self.y - self.style.size * 3 / 4,
            right,
            self.y + self.style.size / 5,
        )
    }
}

pub fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    tag.split_once(&format!(" {name}=\""))?.1.split('"').next()
}

pub fn texts(svg: &str) -> Vec<Text> {
    let text = |piece: &str| {
        let (tag, rest) = piece.split_once('>').unwrap();
        let number = |name: &str| attribute(tag, name).unwrap().parse().unwrap();
        let size = number("font-size");
        Text {
            x: number("x"),
            y: number("y"),
            style: match attribute(tag, "font-weight") {
                Some(_) => Style::bold(size),
                None => Style::plain(size),
            },
            content: rest.split("</text>").next().unwrap().to_owned(),
        }
    };
    svg.split("<text").skip(1).map(text).collect()
}

/// Text keeps to itself and to the picture.
pub fn assert_nothing_overlaps(svg: &str) {
    let width: u32 = attribute(svg, "width").unwrap().parse().unwrap();
    let height: u32 = attribute(svg, "height").unwrap().parse().unwrap();
    let texts = texts(svg);
    for (i, text) in texts.iter().enumerate() {
        let (left, top, right, bottom) = text.area();
        assert!(
            right <= width && bottom <= height,
            "{} leaves the picture",
            text.content
        );
        for other in &texts[i + 1..] {
            let o = other.area();
            let apart = right <= o.0 || o.2 <= left || bottom <= o.1 || o.3 <= top;
            assert!(apart, "{} overlaps {}", text.content, other.content);
        }
    }
}

/// Every word stands in the picture, whole and in the order of the text.
pub fn assert_says(svg: &str, words: &str) {
    let single_spaced = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown: Vec<String> = texts(svg).into_iter().map(|t| t.content).collect();
    let (shown, words) = (single_spaced(&shown.join(" ")), single_spaced(words));
    assert!(
        format!(" {shown} ").contains(&format!(" {words} ")),
        "{words} in {shown}"
    );
}
