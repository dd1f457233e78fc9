use crate::requirement::Visit;
use crate::standard::{BUILT_IN, Standard};

fn visit<'v>(purpose: &'v str, load: &'v str) -> Visit<'v> {
    Visit {
        purpose: Some(purpose),
        load: Some(load),
        ..Visit::default()
    }
}

#[test]
fn a_take_off_wants_no_picture() {
    let standard = Standard::built_in();
    assert!(standard.proof_answers_for(visit("take-off", "empty")).is_empty());
    for purpose in ["fit", "replace", "prove"] {
        assert_eq!(
            standard.proof_answers_for(visit(purpose, "loaded")),
            standard.proof_answers()
        );
    }
    assert_eq!(standard.proof_answers_for(Visit::default()).len(), 4);
}

/// Freight hides the front wall of a loaded trailer; a fleet may accept a picture without it.
#[test]
fn a_fleet_may_give_another_list_for_loaded_trailers() {
    let other = "\n[[proof.instead]]\nload = [\"loaded\"]\nanswers = [\"door-frame-seen\", \"lens-clear\"]\n\n[clock]";
    let standard = Standard::parse(&BUILT_IN.replacen("\n[clock]", other, 1)).unwrap();
    assert_eq!(
        standard.proof_answers_for(visit("fit", "loaded")),
        ["door-frame-seen", "lens-clear"]
    );
    assert_eq!(
        standard.proof_answers_for(visit("fit", "empty")),
        standard.proof_answers()
    );
    assert!(standard.proof_answers_for(visit("take-off", "loaded")).is_empty());
}

#[test]
fn a_list_without_answers_is_refused() {
    let other = "\n[[proof.instead]]\nload = [\"loaded\"]\n\n[clock]";
    let error = Standard::parse(&BUILT_IN.replacen("\n[clock]", other, 1)).unwrap_err();
    assert!(
        error.to_string().contains("`proof.instead[1].answers` is missing"),
        "{error}"
    );
}
