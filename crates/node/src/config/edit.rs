//! Changing values in a TOML file that people have edited: everything around a value stays.

use toml_edit::{Array, DocumentMut, Item, Value};

/// Gives `key` a value.
pub(super) fn set(document: &mut DocumentMut, key: &str, value: impl Into<Value>) {
    let mut value = value.into();
    if let Some(old) = document.get_mut(key).and_then(Item::as_value_mut) {
        // The space and the comment beside the old value.
        *value.decor_mut() = old.decor().clone();
        *old = value;
    } else {
        document.insert(key, Item::Value(value));
    }
}

/// Gives `key` a list of texts. Texts that only follow those in the file are added behind them.
pub(super) fn set_list(document: &mut DocumentMut, key: &str, texts: &[String]) {
    if let Some(list) = document.get_mut(key).and_then(Item::as_array_mut) {
        let is_prefix = list.len() <= texts.len() && list.iter().zip(texts).all(|(old, new)| old.as_str() == Some(new));
        if is_prefix {
            texts.iter().skip(list.len()).for_each(|text| add(list, text));
            return;
        }
    }
    set(document, key, texts.iter().collect::<Array>());
}

/// Adds a text to a list; one that has a line for each of its texts gets another line.
fn add(list: &mut Array, text: &str) {
    let last = list.iter_mut().last();
    let prefix = last.as_ref().and_then(|last| last.decor().prefix()?.as_str());
    let Some(indent) = prefix
        .and_then(|prefix| prefix.rsplit_once('\n'))
        .map(|(_, indent)| indent.to_owned())
    else {
        return list.push(text);
    };
    // What follows the last text on its line, such as a comment: without a closing comma it is that text's, else the list's.
    let beside = last.map(|last| last.decor_mut()).map_or(String::new(), |decor| {
        let beside = decor
            .suffix()
            .and_then(|suffix| suffix.as_str())
            .unwrap_or_default()
            .to_owned();
        decor.set_suffix("");
        beside
    });
    let after = beside + list.trailing().as_str().unwrap_or_default();
    let (of_last_line, closing) = after.rsplit_once('\n').unwrap_or(("", &after));
    let added = Value::from(text).decorated(format!("{of_last_line}\n{indent}"), "");
    list.push_formatted(added);
    list.set_trailing(format!("\n{closing}"));
    list.set_trailing_comma(true);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_another(list: &str) -> String {
        let mut document: DocumentMut = format!("peers = {list}\n").parse().unwrap();
        set_list(&mut document, "peers", &["a:1".into(), "b:2".into(), "c:3".into()]);
        let text = document.to_string();
        let again: DocumentMut = text.parse().unwrap();
        let read: Vec<_> = again["peers"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_str)
            .collect();
        assert_eq!(read, ["a:1", "b:2", "c:3"], "{text}");
        text.strip_prefix("peers = ").unwrap().trim_end().to_owned()
    }

    #[test]
    fn a_text_is_added_in_the_layout_of_the_list() {
        let cases = [
            ("[]", r#"["a:1", "b:2", "c:3"]"#),
            ("['a:1', 'b:2'] # two", r#"['a:1', 'b:2', "c:3"] # two"#),
            ("[\n  'a:1',\n  'b:2',\n]", "[\n  'a:1',\n  'b:2',\n  \"c:3\",\n]"),
            ("[\n  'a:1',\n  'b:2'\n]", "[\n  'a:1',\n  'b:2',\n  \"c:3\",\n]"),
            (
                "[\n\t'a:1', # one\n\t'b:2', # two\n  ]",
                "[\n\t'a:1', # one\n\t'b:2', # two\n\t\"c:3\",\n  ]",
            ),
            ("[\n 'a:1',\n 'b:2' # two\n]", "[\n 'a:1',\n 'b:2', # two\n \"c:3\",\n]"),
            ("['x:9', 'b:2']", r#"["a:1", "b:2", "c:3"]"#),
        ];
        for (before, after) in cases {
            assert_eq!(with_another(before), after, "{before}");
        }
    }
}
