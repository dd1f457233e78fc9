//! What a fact says, in a few words.

use gladhand_facts::{Fact, Kind};

/// The keys that [`summary`] tells of a fact of this kind, beside its job and whether it is ok.
pub fn summary_keys(kind: &Kind) -> &'static [&'static str] {
    match kind {
        Kind::Job => &[
            "purpose",
            "planned",
            "trailer",
            "fleet",
            "tracker",
            "camera",
            "wall",
            "load",
            "thickness",
        ],
        Kind::Scan => &["what", "code"],
        Kind::Check => &["check", "value", "unit"],
        Kind::Link | Kind::Unlink => &["camera", "tracker", "why"],
        Kind::Settings => &["tracker", "state"],
        Kind::Proof => &["state"],
        Kind::Stock => &["camera", "tracker", "trailer", "fleet"],
        Kind::Withdraw => &["fact", "why"],
        Kind::Clock => &["reference", "uncertainty"],
        Kind::Handover => &["trailer", "to"],
        Kind::Note => &["text"],
        Kind::Ruling => &["finding", "ruling", "why"],
        Kind::SignOff => &[],
        Kind::StandDown => &["reason", "why"],
        Kind::Other(_) => &["camera", "tracker", "trailer", "text"],
    }
}

/// What a fact says, in a few words.
pub fn summary(fact: &Fact) -> String {
    let text = |key: &str| fact.text(key).map(std::borrow::Cow::into_owned);
    let mut words = vec![fact.kind().name().to_owned()];
    words.extend(text("job"));
    for key in summary_keys(fact.kind()) {
        match fact.get(key) {
            Some(serde_json::Value::String(_)) | None => words.extend(text(key)),
            Some(value) => words.push(value.to_string()),
        }
    }
    match fact.flag("ok") {
        Some(true) => words.push("ok".into()),
        Some(false) => words.push("not ok".into()),
        None => {}
    }
    words.join(" ")
}
