//! One job as the rules read it: its facts, its fields, its pair, and how it ended.
//!
//! The pair of a job is made of its links: those that carry the job's name, and those without a job whose tracker is the job's
//! tracker. Of a `prove` or `take-off` job it is the trailer's pair, made by the other jobs on it. A link that another job on
//! another trailer made is never this job's.
//!
//! The parts that a job is about, for lists and commands, are the current values of its fields `camera` and `tracker`; a field that
//! was never set is answered by the links that carry the job's name.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use gladhand_facts::Kind;

use crate::facts::Facts;
use crate::names::most_used;
use crate::purpose::Purpose;
use crate::recorded_fact::{RecordedFact, earliest, latest};
use crate::register::{self, FieldValue};
use crate::subject::Subject;
use crate::ties::{Tie, Ties};

/// A job.
#[derive(Debug, Clone)]
pub struct JobView {
    /// What its name is compared by.
    pub key: String,
    /// Its name, in its most frequent spelling.
    pub job: String,
    /// Every fact that carries the name, in the order of places.
    pub facts: Vec<Arc<RecordedFact>>,
    /// The current holders of its fields.
    pub fields: BTreeMap<String, Vec<Arc<RecordedFact>>>,
    /// Every fact that set a field.
    setters: BTreeMap<String, Vec<Arc<RecordedFact>>>,
    /// Its cameras, as written.
    pub cameras: BTreeSet<String>,
    /// Its trackers, as written.
    pub trackers: BTreeSet<String>,
    /// The links of its pair as its purpose stands, with all unlinks of these.
    pub ties: Ties,
    /// The links that it made itself, with all unlinks of these.
    own_ties: Ties,
    /// Its sign-offs.
    pub sign_offs: Vec<Arc<RecordedFact>>,
    /// Its stand-downs.
    pub stand_downs: Vec<Arc<RecordedFact>>,
}

impl JobView {
    /// Reads a job by its name or by the key of it.
    pub fn load(facts: &dyn Facts, job: &str) -> Self {
        let subject = Subject::job(job);
        let own = facts.about(&subject);
        let setters = register::setters(&own);
        let fields = register::holders(setters.clone());
        let cameras = parts(&own, &fields, "camera");
        let trackers = parts(&own, &fields, "tracker");
        let own_ties = with_unlinks(facts, own_links(facts, &own, &fields));
        let ties = taken_over_ties(facts, &subject, &own, &fields).unwrap_or_else(|| own_ties.clone());
        let of_kind = |kind: &Kind| own.iter().filter(|w| w.is(kind)).cloned().collect();
        Self {
            key: subject.text().into_owned(),
            job: most_used(&own, &subject),
            sign_offs: of_kind(&Kind::SignOff),
            stand_downs: of_kind(&Kind::StandDown),
            setters,
            facts: own,
            fields,
            cameras,
            trackers,
            ties,
            own_ties,
        }
    }

    /// The links of its pair that were live as of a sign-off, for the purpose that the signer had in view.
    pub fn live_as_of(&self, sign_off: &RecordedFact) -> std::vec::IntoIter<&Tie> {
        if self.purpose_at(sign_off).takes_over_the_pair() {
            self.ties.live_as_of(sign_off)
        } else {
            self.own_ties.live_as_of(sign_off)
        }
    }

    /// The facts of `kind` that carry the job's name.
    pub fn of_kind<'a>(&'a self, kind: &'a Kind) -> impl Iterator<Item = &'a Arc<RecordedFact>> {
        self.facts.iter().filter(move |w| w.is(kind))
    }

    /// The judgements of its proof pictures.
    pub fn judgements(&self) -> impl Iterator<Item = &Arc<RecordedFact>> {
        self.facts.iter().filter(|w| w.is_state(&Kind::Proof, "judged"))
    }

    /// The current values of a field, as shown.
    pub fn values(&self, field: &str) -> Vec<String> {
        let holders = self.fields.get(field).map_or(&[][..], Vec::as_slice);
        register::values(holders, field).into_iter().map(|v| v.shown).collect()
    }

    /// What the current values of a field are compared by.
    pub fn value_keys(&self, field: &str) -> BTreeSet<String> {
        let holders = self.fields.get(field).map_or(&[][..], Vec::as_slice);
        register::values(holders, field).into_iter().map(|v| v.key).collect()
    }

    /// The facts that set a field, in the order of places.
    pub(crate) fn setters(&self, field: &str) -> &[Arc<RecordedFact>] {
        self.setters.get(field).map_or(&[], Vec::as_slice)
    }

    /// The facts that set each field.
    pub(crate) fn all_setters(&self) -> &BTreeMap<String, Vec<Arc<RecordedFact>>> {
        &self.setters
    }

    /// The holders of a field as the recorder of `deed` had them in view. Where the job was opened out of its sight, the field is read
    /// as it stands.
    pub fn holders_at(&self, field: &str, deed: &RecordedFact) -> Vec<Arc<RecordedFact>> {
        let setters = self.setters(field);
        let in_view: Vec<_> = setters.iter().filter(|w| w.happens_before(deed)).cloned().collect();
        if in_view.is_empty() && !self.of_kind(&Kind::Job).any(|w| w.happens_before(deed)) {
            latest(setters)
        } else {
            latest(&in_view)
        }
    }

    /// The values of a field as the recorder of `deed` had them in view.
    pub fn values_at(&self, field: &str, deed: &RecordedFact) -> Vec<FieldValue> {
        register::values(&self.holders_at(field, deed), field)
    }

    /// The job with its fields as the recorder of `deed` had them in view.
    pub fn at(&self, deed: &RecordedFact) -> Self {
        let fields = self
            .fields
            .keys()
            .map(|field| (field.clone(), self.holders_at(field, deed)));
        Self {
            fields: fields.collect(),
            ..self.clone()
        }
    }

    /// What the visit is for, as it stands.
    pub fn purpose(&self) -> Purpose {
        Purpose::strictest(self.value_keys("purpose").iter().map(String::as_str))
    }

    /// What the visit was for, as the recorder of `deed` had it in view.
    pub fn purpose_at(&self, deed: &RecordedFact) -> Purpose {
        let values = self.values_at("purpose", deed);
        Purpose::strictest(values.iter().map(|v| v.key.as_str()))
    }

    /// The facts that opened it: the first that name its trailer. A visit that is only planned opens nothing: a planned job is opened
    /// by the first thing done in it. A job that names no trailer counts as opened by its first `job` facts.
    pub fn openings(&self) -> Vec<Arc<RecordedFact>> {
        let jobs = || self.of_kind(&Kind::Job);
        let opens = |w: &&Arc<RecordedFact>| {
            w.fact.text("trailer").is_some() && register::field_value(&w.fact, "planned").is_none()
        };
        let named: Vec<_> = jobs().filter(opens).cloned().collect();
        let is_planned = jobs().any(|w| register::field_value(&w.fact, "planned").is_some());
        if is_planned {
            let done = self.facts.iter().filter(|w| is_deed(w)).cloned();
            return earliest(&done.chain(named).collect::<Vec<_>>());
        }
        if named.is_empty() {
            return earliest(&jobs().cloned().collect::<Vec<_>>());
        }
        earliest(&named)
    }

    /// The sign-offs that no other sign-off follows.
    pub fn latest_sign_offs(&self) -> Vec<Arc<RecordedFact>> {
        latest(&self.sign_offs)
    }

    /// The stand-downs that no sign-off followed. With one of these the job counts as given up, even if somebody signed it off
    /// concurrently.
    pub fn standing_stand_downs(&self) -> Vec<Arc<RecordedFact>> {
        let revived = |d: &RecordedFact| self.sign_offs.iter().any(|s| d.happens_before(s));
        self.stand_downs.iter().filter(|d| !revived(d)).cloned().collect()
    }

    /// Whether it is signed off and not given up.
    pub fn is_signed(&self) -> bool {
        !self.sign_offs.is_empty() && self.standing_stand_downs().is_empty()
    }
}

/// What opens a planned job.
fn is_deed(recorded: &RecordedFact) -> bool {
    matches!(
        recorded.fact.kind(),
        Kind::Scan | Kind::Check | Kind::Link | Kind::Unlink | Kind::Settings | Kind::Proof | Kind::SignOff
    )
}

type Holders = BTreeMap<String, Vec<Arc<RecordedFact>>>;

fn parts(own: &[Arc<RecordedFact>], fields: &Holders, part: &str) -> BTreeSet<String> {
    match fields.get(part) {
        Some(holders) => holders.iter().filter_map(|w| w.owned(part)).collect(),
        None => {
            let links = own.iter().filter(|w| w.is(&Kind::Link));
            links.filter_map(|w| w.owned(part)).collect()
        }
    }
}

/// The other jobs on the trailers of a job, by their keys.
pub(crate) fn sibling_keys(facts: &dyn Facts, job: &str, fields: &Holders) -> BTreeSet<String> {
    let trailers = fields
        .get("trailer")
        .into_iter()
        .flatten()
        .filter_map(|w| w.owned("trailer"));
    let trailers: BTreeSet<Subject> = trailers.map(|trailer| Subject::trailer(&trailer)).collect();
    let named = trailers.iter().flat_map(|trailer| facts.about(trailer));
    let mut jobs: BTreeSet<String> = named
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.key("job"))
        .collect();
    jobs.remove(job);
    // Somebody may have corrected the trailer of a job since.
    jobs.retain(|job| {
        let now = register::holders_of(&facts.about(&Subject::Job(job.clone())), "trailer");
        now.iter()
            .filter_map(|w| w.fact.text("trailer"))
            .any(|trailer| trailers.contains(&Subject::trailer(&trailer)))
    });
    jobs
}

/// The ties of the trailer's pair, where that is the job's; `None` where its own links make it.
fn taken_over_ties(facts: &dyn Facts, job: &Subject, own: &[Arc<RecordedFact>], fields: &Holders) -> Option<Ties> {
    let purposes = fields
        .get("purpose")
        .into_iter()
        .flatten()
        .filter_map(|w| w.owned("purpose"));
    if !purposes.into_iter().any(|p| Purpose::named(&p).takes_over_the_pair()) {
        return None;
    }
    let mut links = own_links(facts, own, fields);
    for sibling in sibling_keys(facts, &job.text(), fields) {
        let own = facts.about(&Subject::Job(sibling));
        links.extend(own_links(facts, &own, &register::fields(&own)));
    }
    Some(with_unlinks(facts, links))
}

/// The links that carry the job, and those without a job whose tracker is the job's.
fn own_links(facts: &dyn Facts, own: &[Arc<RecordedFact>], fields: &Holders) -> Vec<Arc<RecordedFact>> {
    let mut links: Vec<_> = own.iter().filter(|w| w.is(&Kind::Link)).cloned().collect();
    let trackers = fields
        .get("tracker")
        .into_iter()
        .flatten()
        .filter_map(|w| w.key("tracker"));
    for tracker in trackers.collect::<BTreeSet<_>>() {
        let about = facts.about(&Subject::Tracker(tracker)).into_iter();
        links.extend(about.filter(|w| w.is(&Kind::Link) && w.fact.text("job").is_none()));
    }
    links
}

/// Adds all unlinks that may concern these links, whoever recorded them.
pub(crate) fn with_unlinks(facts: &dyn Facts, links: Vec<Arc<RecordedFact>>) -> Ties {
    let trackers: BTreeSet<String> = links.iter().filter_map(|w| w.key("tracker")).collect();
    let about = trackers.into_iter().flat_map(|t| facts.about(&Subject::Tracker(t)));
    let unlinks = about.filter(|w| w.is(&Kind::Unlink));
    let all: Vec<_> = unlinks.chain(links).collect();
    Ties::among(&all)
}

/// The jobs that the links touch, by their keys: the job that a link carries, or else those whose tracker it names.
pub(crate) fn jobs_of_links(facts: &dyn Facts, links: &[&Tie]) -> BTreeSet<String> {
    links.iter().flat_map(|link| jobs_of_link(facts, link)).collect()
}

/// The jobs that a link belongs to, by their keys.
pub(crate) fn jobs_of_link(facts: &dyn Facts, link: &Tie) -> BTreeSet<String> {
    if let Some(job) = link.recorded.key("job") {
        return BTreeSet::from([job]);
    }
    let about = facts.about(&Subject::Tracker(link.tracker_key.clone()));
    let candidates: BTreeSet<String> = about
        .iter()
        .filter(|w| w.is(&Kind::Job))
        .filter_map(|w| w.key("job"))
        .collect();
    let names_it = |job: &String| {
        let holders = register::holders_of(&facts.about(&Subject::Job(job.clone())), "tracker");
        let mut trackers = holders.iter().filter_map(|w| w.key("tracker"));
        trackers.any(|tracker| tracker == link.tracker_key)
    };
    candidates.into_iter().filter(names_it).collect()
}

/// The trailers that a job names now, by their keys.
pub(crate) fn trailers_of(facts: &dyn Facts, job: &str) -> BTreeSet<String> {
    let holders = register::holders_of(&facts.about(&Subject::Job(job.to_owned())), "trailer");
    holders.iter().filter_map(|w| w.key("trailer")).collect()
}
