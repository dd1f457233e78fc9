//! One spelling for one JSON value: the canonicalization scheme of RFC 8785.
//!
//! Object members are sorted by the UTF-16 code units of their names, there is no white space, strings use
//! the short escapes, and numbers are written as ECMAScript would write them. Two lines that mean the same
//! JSON value have the same bytes here, whatever their spacing, member order or number spelling.
//!
//! Not here: numbers that a double cannot hold exactly. RFC 8785 is defined over I-JSON (RFC 7493), so such
//! numbers are refused by [`check_numbers`] before a fact is made; nothing is ever rounded silently.

use serde_json::{Map, Value};

/// The largest integer that every double around it can tell apart (2^53 - 1, RFC 7493 §2.2).
const MAX_SAFE_INTEGER: u64 = (1 << 53) - 1;

/// Writes `value` in canonical form.
///
/// ```
/// let v: serde_json::Value = serde_json::from_str(r#"{ "b": 1.50, "a": "\u0041" }"#).unwrap();
/// assert_eq!(gladhand_facts::canonical::to_string(&v), r#"{"a":"A","b":1.5}"#);
/// ```
pub fn to_string(value: &Value) -> String {
    let mut out = String::new();
    write_value(&mut out, value);
    out
}

/// Writes an object in canonical form without the members whose names `skip` selects.
pub fn object_without(map: &Map<String, Value>, skip: impl Fn(&str) -> bool) -> String {
    let mut out = String::new();
    write_members(&mut out, map.iter().filter(|(name, _)| !skip(name)));
    out
}

/// The first number in `value` that a double cannot hold exactly, as text.
pub fn check_numbers(value: &Value) -> Option<String> {
    match value {
        Value::Number(n) => {
            let too_large = n.as_u64().is_some_and(|u| u > MAX_SAFE_INTEGER)
                || n.as_i64().is_some_and(|i| i.unsigned_abs() > MAX_SAFE_INTEGER)
                || (n.is_f64()
                    && n.as_f64()
                        .is_some_and(|f| f.fract() == 0.0 && f.abs() > MAX_SAFE_INTEGER as f64));
            too_large.then(|| n.to_string())
        }
        Value::Array(items) => items.iter().find_map(check_numbers),
        Value::Object(map) => map.values().find_map(check_numbers),
        _ => None,
    }
}

fn write_value(out: &mut String, value: &Value) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(true) => out.push_str("true"),
        Value::Bool(false) => out.push_str("false"),
        Value::Number(n) => write_number(out, n),
        Value::String(s) => write_text(out, s),
        Value::Array(items) => write_items(out, items),
        Value::Object(map) => write_members(out, map.iter()),
    }
}

fn write_items(out: &mut String, items: &[Value]) {
    out.push('[');
    for (i, item) in items.iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        write_value(out, item);
    }
    out.push(']');
}

fn write_members<'a>(out: &mut String, members: impl Iterator<Item = (&'a String, &'a Value)>) {
    let mut members: Vec<_> = members.collect();
    // UTF-8 order and UTF-16 order differ beyond the basic multilingual plane; the RFC asks for UTF-16.
    members.sort_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
    out.push('{');
    for (i, (name, value)) in members.into_iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        write_text(out, name);
        out.push(':');
        write_value(out, value);
    }
    out.push('}');
}

fn write_number(out: &mut String, n: &serde_json::Number) {
    if let Some(u) = n.as_u64() {
        out.push_str(&u.to_string());
    } else if let Some(i) = n.as_i64() {
        out.push_str(&i.to_string());
    } else {
        // Every number that is neither is a double here; one of an extended serde_json keeps its own spelling.
        out.push_str(
            &n.as_f64()
                .map_or_else(|| n.to_string(), |f| ryu_js::Buffer::new().format(f).to_owned()),
        );
    }
}

fn write_text(out: &mut String, text: &str) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\u{9}' => out.push_str("\\t"),
            '\u{a}' => out.push_str("\\n"),
            '\u{c}' => out.push_str("\\f"),
            '\u{d}' => out.push_str("\\r"),
            c if u32::from(c) < 0x20 => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;

    fn canon(text: &str) -> String {
        to_string(&serde_json::from_str(text).unwrap())
    }

    /// Values of RFC 8785 §3.2.2 (numbers, strings, literals) and §3.2.3 (member order), quoted from memory.
    #[test]
    fn published_examples_of_rfc_8785() {
        assert_eq!(
            canon(
                "{\"numbers\":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],\
                 \"string\":\"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\"literals\":[null,true,false]}"
            ),
            "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
             \"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}"
        );
        let sorted =
            canon("{\"\\u20ac\":1,\"\\r\":2,\"\\ufb33\":3,\"1\":4,\"\\ud83d\\ude00\":5,\"\\u0080\":6,\"\\u00f6\":7}");
        let order: Vec<u32> = sorted
            .chars()
            .filter(|c| ('2'..='7').contains(c) || *c == '4')
            .filter_map(|c| c.to_digit(10))
            .collect();
        assert_eq!(
            order,
            [2, 4, 6, 7, 5, 3],
            "UTF-16 order puts the emoji before U+FB33: {sorted}"
        );
    }

    #[test]
    fn spelling_does_not_matter() {
        assert_eq!(canon(r#"{"a":1.0,"b":[1e2]}"#), canon(r#"{ "b" : [ 100 ], "a" : 1 }"#));
        assert_eq!(canon("-0.0"), "0");
    }

    #[test]
    fn numbers_that_would_be_rounded_are_named() {
        assert_eq!(check_numbers(&serde_json::json!({"a":[1,2.5]})), None);
        let big: Value = serde_json::from_str(r#"{"a":{"b":9007199254740993}}"#).unwrap();
        assert_eq!(check_numbers(&big).as_deref(), Some("9007199254740993"));
        let huge: Value = serde_json::from_str("[123456789012345678901234567890]").unwrap();
        assert!(check_numbers(&huge).is_some());
    }
}
