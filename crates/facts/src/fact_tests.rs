//! What a line must say to be a fact, and that nothing in it gets lost.

use super::*;
use proptest::prelude::*;

const DEVICE: DeviceKey = DeviceKey([7; 32]);

fn take(line: &str) -> Result<Fact, FactError> {
    Fact::from_line(&DEVICE, line)
}

#[test]
fn identity_is_the_value_not_the_spelling() {
    let a = take(r#"{"kind":"link","camera":"C1","tracker":"T1"}"#).unwrap();
    let b = take(r#"{ "tracker" : "T1", "camera":"C1", "kind":"link" }"#).unwrap();
    assert_eq!(a.id(), b.id());
    let elsewhere = Fact::from_line(&DeviceKey([8; 32]), r#"{"kind":"link","camera":"C1","tracker":"T1"}"#).unwrap();
    assert_ne!(a.id(), elsewhere.id(), "another device, another fact");
}

/// The identity of the contract §3, spelled out: BLAKE3 over the key and the canonical JSON.
#[test]
fn identity_is_blake3_of_key_and_canonical_json() {
    let fact = take(r#"{"note":"x","kind":"sign-off","job":"J1"}"#).unwrap();
    let mut bytes = DEVICE.0.to_vec();
    bytes.extend_from_slice(br#"{"job":"J1","kind":"sign-off","note":"x"}"#);
    assert_eq!(fact.id().0, *blake3::hash(&bytes).as_bytes());
}

/// The published BLAKE3 vectors for "" and "abc" (BLAKE3 test vectors; first and last bytes).
#[test]
fn blake3_is_the_published_function() {
    assert!(blake3::hash(b"").to_string().starts_with("af1349b9") && blake3::hash(b"").to_string().ends_with("3262"));
    assert!(
        blake3::hash(b"abc").to_string().starts_with("6437b3ac") && blake3::hash(b"abc").to_string().ends_with("9d85")
    );
}

#[test]
fn what_the_device_adds_is_not_part_of_the_name() {
    let mut fact = take(r#"{"kind":"job","trailer":"5312"}"#).unwrap();
    let before = fact.id();
    let job = fact.made_up_job();
    fact.fill("job", job.clone());
    fact.fill("by", "mara");
    fact.fill("trailer", "9999");
    let back = Fact::from_stored(&DEVICE, &fact.stored()).unwrap();
    assert_eq!((back.id(), back.text("job").unwrap().into_owned()), (before, job));
    assert_eq!(
        back.text("trailer").unwrap(),
        "5312",
        "what the line gave is never replaced"
    );
    assert!(back.is_filled("by") && !back.is_filled("trailer"));
    assert!(!back.shown().contains_key("_filled"));
}

#[test]
fn made_up_names_have_no_letters_that_are_misread() {
    let letters: String = (0..32).map(base32_letter).collect();
    assert_eq!(letters, "0123456789abcdefghjkmnpqrstvwxyz");
    assert_eq!(base32_letter(0xe0), '0', "only the low five bits count");
    let letters = |fact: &Fact, count: usize| -> String {
        fact.id().0[..count].iter().map(|byte| base32_letter(*byte)).collect()
    };
    let fact = take(r#"{"kind":"job","fleet":"Larkspur Freight"}"#).unwrap();
    assert_eq!(fact.made_up_job(), letters(&fact, 9));
    let fact = take(r#"{"kind":"job","trailer":" lf 53-96 "}"#).unwrap();
    assert_eq!(fact.made_up_job(), format!("LF5396-{}", letters(&fact, 4)));
    let again = take(r#"{"kind":"job","trailer":" lf 53-96 "}"#).unwrap();
    assert_eq!(again.made_up_job(), fact.made_up_job());
}

#[test]
fn unknown_keys_and_kinds_survive_an_older_version() {
    let line = r#"{"kind":"weigh-in","job":"J1","axle":{"left":[1,2.5],"ok":null},"tracker":{"deep":true}}"#;
    let fact = take(line).unwrap();
    assert_eq!(fact.kind(), &Kind::Other("weigh-in".into()));
    let back = Fact::from_stored(&DEVICE, &fact.stored()).unwrap();
    assert_eq!(
        Value::Object(back.shown()),
        serde_json::from_str::<Value>(line).unwrap()
    );
    assert_eq!(back.id(), fact.id());
}

#[test]
fn refusals_name_the_key_and_the_cure() {
    let says = |line: &str| take(line).unwrap_err().to_string();
    for (line, part) in [
        ("{", "not JSON"),
        ("[1]", "not a JSON object"),
        (r#"{"camera":"C1"}"#, "no `kind`"),
        (r#"{"kind":"link","camera":"C1"}"#, "a link needs `tracker`"),
        (
            r#"{"kind":"link","camera":"  ","tracker":"T1"}"#,
            "`camera` must be a text, not an empty one",
        ),
        (
            r#"{"kind":"link","camera":["C1"],"tracker":"T1"}"#,
            "`camera` must be a text, not the list",
        ),
        (r#"{"kind":"sign-off"}"#, "a sign-off needs `job`"),
        (r#"{"kind":"stock","camera":"C1"}"#, "a stock needs `fleet`"),
        (
            r#"{"kind":"stock","fleet":"F"}"#,
            "a stock needs `camera`, `tracker` or `trailer`",
        ),
        (r#"{"kind":"note"}"#, "a note needs `text`"),
        (
            r#"{"kind":"settings","tracker":"T1","state":"on"}"#,
            "one of: asked, live, failed",
        ),
        (r#"{"kind":"job","wall":"brick"}"#, "plate, sheet-and-post"),
        (r#"{"kind":"job","thickness":"3/4 furlong"}"#, "unknown unit 'furlong'"),
        (
            r#"{"kind":"check","job":"J","check":"c","value":3,"unit":"cubit"}"#,
            "unknown unit 'cubit'",
        ),
        (
            r#"{"kind":"check","job":"J","check":"c","value":"3 cubit"}"#,
            "unknown unit 'cubit'",
        ),
        (r#"{"kind":"note","text":"x","at":"2026-03-02T10:00:00"}"#, "no offset"),
        (r#"{"kind":"note","text":"x","at":17}"#, "`at` must be an RFC 3339 time"),
        (
            r#"{"kind":"proof","job":"J","state":"judged","ok":"yes"}"#,
            "`ok` must be true or false",
        ),
        (
            r#"{"kind":"proof","job":"J","state":"judged","answers":{"lens-clear":"yes"}}"#,
            "`answers.lens-clear`",
        ),
        (
            r#"{"kind":"note","text":"x","big":12345678901234567890}"#,
            "write it as text",
        ),
        (r#"{"kind":"note","text":"x","_filled":[]}"#, "reserved"),
        (
            r#"{"kind":"link","camera":" - ","tracker":"T1"}"#,
            "`camera` is '-', which names nothing",
        ),
        (
            r#"{"kind":"job","trailer":"LF 1","planned":"next week"}"#,
            "not a date such as",
        ),
        (r#"{"kind":"clock","reference":"noon"}"#, "`reference`"),
        (
            r#"{"kind":"ruling","finding":"f","ruling":"void"}"#,
            "a ruling needs `why`",
        ),
        (r#"{"kind":"withdraw","fact":"x"}"#, "a withdraw needs `why`"),
    ] {
        assert!(says(line).contains(part), "{line}\n  said: {}", says(line));
    }
}

#[test]
fn what_is_taken() {
    for line in [
        r#"{"kind":"job","trailer":5312,"thickness":"3/4 in"}"#,
        r#"{"kind":"job","thickness":19,"unit":"mm"}"#,
        r#"{"kind":"check","job":"J","check":"probe","value":"1 3/4 in"}"#,
        r#"{"kind":"check","job":"J","check":"surface-prepared","ok":true}"#,
        r#"{"kind":"check","job":"J","check":"primer-wait","value":"2026-03-02T10:00:00-05:00"}"#,
        r#"{"kind":"check","job":"J","check":"freight","value":"none at the opening"}"#,
        r#"{"kind":"note","note":"only the common note"}"#,
        r#"{"kind":"stock","tracker":"T1","fleet":"Larkspur Freight"}"#,
        r#"{"kind":"job","vin":null}"#,
    ] {
        take(line).unwrap_or_else(|e| panic!("{line}: {e}"));
    }
    assert_eq!(
        take(r#"{"kind":"job","trailer":5312}"#)
            .unwrap()
            .text("trailer")
            .unwrap(),
        "5312"
    );
}

#[test]
fn a_line_of_fifty_megabytes_is_refused_by_its_length() {
    let line = format!(r#"{{"kind":"note","text":"{}"}}"#, "a".repeat(50 << 20));
    assert!(matches!(take(&line), Err(FactError::TooLong { .. })));
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i32>().prop_map(Value::from),
        any::<f32>()
            .prop_filter("finite", |f| f.is_finite())
            .prop_map(|f| Value::from(f64::from(f))),
        "\\PC{0,8}".prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 20, 5, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            proptest::collection::btree_map("[a-z_é😀]{1,4}", inner, 0..4)
                .prop_map(|m| Value::Object(m.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn no_line_panics(line in "\\PC{0,80}") {
        let _ = take(&line);
    }

    #[test]
    fn whatever_is_taken_comes_back_the_same(extra in proptest::collection::btree_map("x[a-z]{1,4}", any_json(), 0..5)) {
        let mut map: Map<String, Value> = extra.into_iter().collect();
        map.insert("kind".into(), "sighting".into());
        if let Ok(fact) = Fact::from_map(&DEVICE, map) {
            let back = Fact::from_stored(&DEVICE, &fact.stored()).unwrap();
            prop_assert_eq!(back.id(), fact.id());
            prop_assert_eq!(back.stored(), fact.stored());
            prop_assert_eq!(canonical::to_string(&Value::Object(back.shown())), canonical::to_string(&Value::Object(fact.shown())));
        }
    }
}

/// Found by the target `csv` of `tests/tests/fuzz`: a CSV header of many dots made a fact that was recorded, and then could
/// not be read back.
#[test]
fn what_is_nested_too_deep_to_be_read_back_is_not_taken() {
    let nested = |levels: usize| {
        let value = (0..levels).fold(Value::from(1), |inner, _| serde_json::json!({ "a": inner }));
        let map = serde_json::json!({"kind": "note", "text": "x", "more": value});
        let Value::Object(map) = map else { unreachable!() };
        Fact::from_map(&DeviceKey([1; 32]), map)
    };
    let fact = nested(MAX_DEPTH).unwrap();
    assert_eq!(
        Fact::from_stored(&DeviceKey([1; 32]), &fact.stored()).unwrap().id(),
        fact.id()
    );
    let refused = nested(MAX_DEPTH + 1).unwrap_err();
    assert_eq!(refused, FactError::TooDeep { key: "more".into() });
}
