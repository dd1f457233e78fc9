//! Small random days: devices record facts of some few kinds about some few things, and meet.

use gladhand_facts::Kind;
use gladhand_reconcile::finding::finding_id;
use gladhand_reconcile::{Class, Subject, rules};
use proptest::prelude::*;

use super::{Yard, key_of};

pub const DEVICES: [&str; 4] = ["lap-a", "lap-b", "lap-c", "depot"];

#[derive(Debug, Clone)]
pub enum Step {
    Record {
        device: usize,
        line: PlayedLine,
        joined: bool,
    },
    Meet(usize, usize),
    Hear(usize, usize),
    Fork(usize),
}

/// A line with small choices, so that things meet.
#[derive(Debug, Clone)]
pub struct PlayedLine {
    kind: usize,
    job: usize,
    camera: usize,
    tracker: usize,
    pick: usize,
    with_job: bool,
    minute: Option<u8>,
}

const KINDS: usize = 29;

/// What one yard is like. Each has only some kinds of fact and its own number of things, so that in some yards
/// everything meets everything, and in others a fact reaches a job only by way of others.
#[derive(Debug, Clone)]
struct Habits {
    kinds: Vec<usize>,
    things: usize,
    named: f64,
}

/// Kinds of fact (see [`written`]) that depend on each other.
const THEMES: [&[usize]; 11] = [
    &[0, 13, 15, 23],
    &[0, 4, 9, 13, 24, 25],
    &[0, 4, 13, 25, 26, 24],
    &[0, 2, 4, 8, 27, 24],
    &[4, 12, 13, 21, 25, 26],
    &[1, 2, 4, 7, 13],
    &[4, 5, 8, 9, 10, 14],
    &[16, 17, 18, 19],
    &[0, 4, 7, 16, 17],
    &[11, 12, 14, 23],
    &[3, 15, 20, 21, 22],
];

fn any_habits() -> impl Strategy<Value = Habits> {
    let theme = prop_oneof![
        prop::sample::select(THEMES.to_vec()).prop_map(<[usize]>::to_vec),
        prop::sample::subsequence((0..KINDS).collect::<Vec<_>>(), 1..4),
    ];
    let kinds = prop::collection::vec(theme, 1..4).prop_map(|themes| themes.concat());
    let named = prop::sample::select(vec![0.1, 0.5, 0.9]);
    (kinds, 1usize..6, named).prop_map(|(kinds, things, named)| Habits { kinds, things, named })
}

fn any_line(habits: &Habits) -> impl Strategy<Value = PlayedLine> + use<> {
    let things = habits.things;
    let choices = (
        prop::sample::select(habits.kinds.clone()),
        0..things,
        0..things,
        0..things,
        0usize..64,
    );
    (
        choices,
        prop::bool::weighted(habits.named),
        prop::option::weighted(0.2, 0u8..60),
    )
        .prop_map(|((kind, job, camera, tracker, pick), with_job, minute)| PlayedLine {
            kind,
            job,
            camera,
            tracker,
            pick,
            with_job,
            minute,
        })
}

pub fn any_day(most: usize) -> impl Strategy<Value = Vec<Step>> {
    any_habits().prop_flat_map(move |habits| prop::collection::vec(any_step(&habits), 0..most))
}

fn any_step(habits: &Habits) -> impl Strategy<Value = Step> + use<> {
    prop_oneof![
        12 => (0usize..4, any_line(habits), prop::bool::weighted(0.1))
            .prop_map(|(device, line, joined)| Step::Record { device, line, joined }),
        2 => (0usize..4, 0usize..4).prop_map(|(a, b)| Step::Meet(a, b)),
        2 => (0usize..4, 0usize..4).prop_map(|(a, b)| Step::Hear(a, b)),
        1 => (0usize..4).prop_map(Step::Fork),
    ]
}

/// Codes of which neighbours are one edit apart.
fn camera(i: usize) -> &'static str {
    ["C-10", "C-11", "X-99", "C-20", "Y-55"][i % 5]
}

fn tracker(i: usize) -> &'static str {
    ["T-1", "T-2", "U-77", "V-33", "W-44"][i % 5]
}

/// A finding that may exist: some rule on some subject.
fn some_finding(line: &PlayedLine) -> (&'static str, String, String) {
    let rule = rules::ALL[line.pick % rules::ALL.len()];
    let class = rule.classes()[line.pick / 32 % rule.classes().len()];
    let text = match class {
        Class::Job => format!("J{}", line.job),
        Class::Camera => camera(line.camera).to_owned(),
        Class::Tracker => tracker(line.tracker).to_owned(),
        Class::Trailer => "5312".to_owned(),
        Class::Device => key_of(DEVICES[line.job % 4]).to_string(),
        Class::Picture => "7".repeat(64),
        _ => camera(line.camera).to_owned(),
    };
    let id = finding_id(rule.name(), &Subject::from_text(class, &text).unwrap());
    (class.name(), text, id)
}

fn some_ruling(line: &PlayedLine) -> String {
    let (class, text, id) = some_finding(line);
    format!(r#""kind":"ruling","finding":"{id}","ruling":"accepted","why":"looked","ruled_on":{{"{class}":"{text}"}}"#)
}

/// Some earlier fact was a slip. Of what must not be taken back too: a log may hold anything.
fn some_withdrawal(line: &PlayedLine, yard: &Yard) -> String {
    let Some(slip) = yard.facts.get((line.pick * 7 + line.job) % yard.facts.len().max(1)) else {
        return r#""kind":"note","text":"nothing yet""#.to_owned();
    };
    let keys = serde_json::to_string(&slip.fact.filing_keys()).unwrap();
    format!(
        r#""kind":"withdraw","fact":"{}","why":"slip","withdrawn":{keys}"#,
        slip.fact.id()
    )
}

fn written(line: &PlayedLine, number: usize, yard: &Yard) -> String {
    let PlayedLine { job, pick, .. } = *line;
    let (camera, tracker) = (camera(line.camera), tracker(line.tracker));
    let from = |list: &[&'static str]| list[pick % list.len()];
    let body = match line.kind {
        0 => format!(
            r#""kind":"job","trailer":"{}","fleet":"{}""#,
            from(&["5312", "5313"]),
            from(&["Larkspur Freight", "Harrow Haulage", "Quill"])
        ),
        1 => format!(r#""kind":"job","camera":"{camera}""#),
        2 => format!(
            r#""kind":"job","tracker":"{tracker}","vin":"{}""#,
            from(&["1G4AH59H45G118341", "1G4AH59H45G118314"])
        ),
        3 => format!(r#""kind":"job","load":"{}","wall":"plate""#, from(&["loaded", "empty"])),
        4..=6 => format!(r#""kind":"link","camera":"{camera}","tracker":"{tracker}""#),
        7 | 8 => format!(r#""kind":"unlink","camera":"{camera}","tracker":"{tracker}""#),
        9 => format!(
            r#""kind":"settings","tracker":"{tracker}","state":"{}""#,
            from(&["asked", "live", "live"])
        ),
        10 => format!(r#""kind":"settings","camera":"{camera}","tracker":"{tracker}","state":"live""#),
        11 => format!(
            r#""kind":"proof","job":"J{job}","state":"{}","ok":true,"answers":{{"lens-clear":true}}"#,
            from(&["asked", "taken", "judged"])
        ),
        12 => format!(
            r#""kind":"proof","job":"J{job}","state":"judged","ok":{},"taken_at":"2026-03-02T08:{:02}:00Z","answers":{{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}"#,
            pick % 3 > 0,
            pick % 60
        ),
        13 | 14 => format!(r#""kind":"sign-off","job":"J{job}""#),
        15 => format!(r#""kind":"stand-down","job":"J{job}""#),
        16 => format!(
            r#""kind":"stock","camera":"{camera}","fleet":"{}""#,
            from(&["Larkspur Freight", "Harrow Haulage"])
        ),
        17 => format!(
            r#""kind":"stock","tracker":"{tracker}","fleet":"{}""#,
            from(&["Larkspur Freight", "Harrow Haulage"])
        ),
        18 => format!(
            r#""kind":"scan","what":"{}","code":"{camera}""#,
            from(&["camera", "camera", "tracker", "other"])
        ),
        19 => format!(r#""kind":"scan","code":"{camera}""#),
        20 => format!(r#""kind":"weigh-in","n":{}"#, pick % 3),
        21 => format!(
            r#""kind":"check","job":"J{job}","check":"{}","ok":{}"#,
            from(&["pilot-hole", "hole-cut", "pilot-sealed", "rivet-count"]),
            pick % 5 > 0
        ),
        22 => format!(
            r#""kind":"check","job":"J{job}","check":"first-probe","value":"{}""#,
            from(&["free", "1/4 in", "5/8 in"])
        ),
        23 => some_ruling(line),
        24 => some_withdrawal(line, yard),
        25 => format!(
            r#""kind":"job","purpose":"{}","trailer":"{}""#,
            from(&["prove", "replace", "take-off", "fit"]),
            from(&["53-12", "5312", "53 13"])
        ),
        26 => format!(
            r#""kind":"proof","job":"J{job}","state":"{}","ok":true,"picture":"blake3:{}","answers":{{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}"#,
            from(&["judged", "judged", "taken"]),
            from(&["7", "8"]).repeat(64)
        ),
        27 => format!(
            r#""kind":"stock","trailer":"{}","tracker":"{tracker}","fleet":"Larkspur Freight""#,
            from(&["5312", "5313"])
        ),
        _ => format!(
            r#""kind":"link","camera":"{}","tracker":"{tracker}""#,
            from(&["c 10", "x.99", "C-77"])
        ),
    };
    let is_of_a_job = !matches!(line.kind, 23 | 24 | 27);
    let job = if line.with_job && !body.contains(r#""job":"J"#) && is_of_a_job {
        format!(r#","job":"J{job}""#)
    } else {
        String::new()
    };
    let job = if (line.kind < 4 || line.kind == 25) && job.is_empty() {
        format!(r#","job":"J{}""#, line.job)
    } else {
        job
    };
    let time = line
        .minute
        .map(|m| format!(r#","clock":"reference","at":"2026-03-02T09:{m:02}:00Z""#))
        .unwrap_or_default();
    format!(r#"{{{body}{job}{time},"note":"{number}"}}"#)
}

pub fn play(steps: &[Step]) -> Yard {
    let mut yard = Yard::default();
    for (number, step) in steps.iter().enumerate() {
        match step {
            Step::Record { device, line, joined } => {
                let name = DEVICES[*device];
                let joined = *joined && yard.facts.last().is_some_and(|w| w.place.log.device == key_of(name));
                let line = written(line, number, &yard);
                yard.record(name, &line, joined);
            }
            Step::Meet(a, b) if a != b => yard.sync(DEVICES[*a], DEVICES[*b]),
            Step::Hear(a, b) if a != b => yard.saw(DEVICES[*a], DEVICES[*b], None),
            Step::Fork(a) => yard.fork(DEVICES[*a], 1, DEVICES[(*a + 1) % 4]),
            _ => {}
        }
    }
    yard
}
