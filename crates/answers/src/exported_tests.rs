use super::*;
use crate::small_home::{SmallHome, keys, shown};

fn export(home: &SmallHome) -> (Exported, Vec<(String, usize)>) {
    let mut kept = Vec::new();
    let keep = |name: &str, bytes: &[u8]| {
        kept.push((name.to_owned(), bytes.len()));
        Ok::<_, AnswerError>(())
    };
    let exported = exported(&home.node, "out", keep).unwrap();
    (exported, kept)
}

#[test]
fn each_job_is_a_document_and_a_line_of_the_list() {
    let mut home = SmallHome::laptop();
    home.record(&[
        r#"{"kind":"job","job":"J1/b","trailer":"4712","fleet":"Larkspur Freight"}"#,
        r#"{"kind":"note","job":"J1/b","text":"the wall is dented"}"#,
        r#"{"kind":"job","job":"J2","trailer":"4713"}"#,
    ]);
    let (answer, kept) = export(&home);
    assert_eq!(keys(&answer), ["documents", "folder", "left_out"]);
    let [first, second] = answer.documents.as_slice() else {
        panic!("two jobs, two documents");
    };
    assert_eq!(keys(first), ["facts", "fields", "file", "heads", "job"]);
    assert_eq!(
        (first.job.as_str(), first.file.as_str(), first.facts),
        ("J1/b", "00001-J1_b.automerge", 2)
    );
    assert_eq!(first.fields["trailer"], ["4712"], "one value is an array too");
    assert_eq!(first.heads.len(), 1);
    let files: Vec<&str> = kept.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(files, [&first.file, &second.file]);
    assert!(kept.iter().all(|(_, bytes)| *bytes > 0));
    assert_eq!(shown(&answer), "out: 2 documents, listed in jobs.json\n");
}

#[test]
fn what_cannot_be_kept_ends_the_export() {
    #[derive(Debug)]
    struct Full;
    impl From<AnswerError> for Full {
        fn from(error: AnswerError) -> Self {
            panic!("{error}");
        }
    }
    let mut home = SmallHome::laptop();
    home.record(&[r#"{"kind":"job","job":"J1","trailer":"4712"}"#]);
    assert!(exported(&home.node, "out", |_, _| Err(Full)).is_err());
}

#[test]
fn what_was_left_out_is_told_before_the_list() {
    let left_out = LeftOut {
        job: "J1".into(),
        log: "ab12.1".into(),
        seq: 7,
        why: "it is out of order".into(),
    };
    let (mut answer, _) = export(&SmallHome::laptop());
    answer.left_out.push(left_out);
    assert_eq!(
        shown(&answer),
        "!gladhand: job J1: entry 7 of log ab12.1 was left out: it is out of order\n\
         out: 0 documents, listed in jobs.json\n"
    );
}
