//! Whole visits to a trailer, so that a story need tell only what is not as it should be.

use super::{Yard, picture, standard};

const ALL_YES: &str = r#""front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true"#;

impl Yard {
    /// Everything of a job that the work standard requires, all of it good, except the checks in `but`.
    pub fn checks(&mut self, name: &str, job: &str, wall: Option<&str>, load: Option<&str>, but: &[&str]) {
        let required = standard().required(wall, load);
        for check in required.iter().map(|r| r.name()).filter(|n| !but.contains(n)) {
            let says = match check {
                "placement-top" => r#""value":"1 in""#,
                "placement-rear" | "post-distance" => r#""value":"12 in""#,
                "hole-diameter" => r#""value":"1 3/4 in""#,
                "inner-cut-offset" => r#""value":"10 in""#,
                "primer-wait" => r#""value":"5 min""#,
                "first-probe" => r#""value":"free""#,
                "freight-at-opening" => r#""value":"no""#,
                "thickness" => r#""value":"1/2 in""#,
                _ => r#""ok":true"#,
            };
            let line = format!(r#"{{"kind":"check","job":"{job}","check":"{check}",{says}}}"#);
            self.record(name, &line, false);
        }
    }

    /// A good fit on an empty plate trailer up to the proof, without the sign-off.
    pub fn fit(&mut self, name: &str, [job, trailer, camera, tracker]: [&str; 4]) {
        let opens =
            format!(r#""trailer":"{trailer}","fleet":"Larkspur Freight","wall":"plate","load":"empty","by":"mara""#);
        self.record(name, &format!(r#"{{"kind":"job","job":"{job}",{opens}}}"#), false);
        self.pair(name, [job, camera, tracker]);
        self.checks(name, job, Some("plate"), Some("empty"), &[]);
        self.proof(name, job, &format!("{job}_{trailer}_{camera}"));
    }

    /// A camera is linked and its settings go live.
    pub fn pair(&mut self, name: &str, [job, camera, tracker]: [&str; 3]) {
        let ends = format!(r#""job":"{job}","camera":"{camera}","tracker":"{tracker}""#);
        self.record(name, &format!(r#"{{"kind":"link",{ends},"by":"mara"}}"#), false);
        self.record(name, &format!(r#"{{"kind":"settings",{ends},"state":"live"}}"#), false);
    }

    /// A picture is asked for and judged good.
    pub fn proof(&mut self, name: &str, job: &str, of: &str) {
        let named = picture(of);
        let asked = format!(r#"{{"kind":"proof","job":"{job}","state":"asked","note":"{of}"}}"#);
        self.record(name, &asked, false);
        let judged = format!(r#""state":"judged","picture":"{named}","ok":true,"by":"mara","answers":{{{ALL_YES}}}"#);
        self.record(name, &format!(r#"{{"kind":"proof","job":"{job}",{judged}}}"#), false);
    }
}
