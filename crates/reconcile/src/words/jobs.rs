//! Sentences about jobs, their fields and their trailers.

use crate::reason::job::{DisputedField, DisputedFields, SharedTrailer};
use crate::words::described::{Described, NextStep, Step};
use crate::words::phrases::listed;
use crate::words::teller::Teller;

pub(super) fn trailer_opened_twice(t: &Teller<'_>, reason: &SharedTrailer) -> Described {
    let trailer = t.subject();
    let jobs = reason.jobs.iter();
    let jobs = listed(jobs.map(|j| format!("{}, opened by {}", j.job, t.authors(&j.opened_by))));
    let known = t.knowledge_of(&reason.knowledge, "job");
    let says = if t.is_cleared() {
        let by = t.authors(&reason.stood_down_by);
        format!("Trailer {trailer} had two jobs at once: {jobs}{known}; stood down since by {by}.")
    } else {
        format!("Trailer {trailer} has more than one open visit: {jobs}{known}.")
    };
    Described {
        says,
        next: "Agree which job goes on and stand the other down; check that the trailer was not fitted twice."
            .to_owned(),
        step: NextStep::new(Step::StandDown),
    }
}

pub(super) fn fields_disagree(t: &Teller<'_>, reason: &DisputedFields) -> Described {
    let job = t.subject();
    let known = t.knowledge_of(&reason.knowledge, "value");
    let says = if t.is_cleared() {
        let now = listed(reason.fields.iter().map(|field| settled(t, field)));
        format!("Job {job} held different values for a while{known}; {now}.")
    } else {
        let each = listed(reason.fields.iter().map(|field| disputed(t, field)));
        format!("Job {job} holds different values: {each}{known}.")
    };
    let fields = listed(reason.fields.iter().map(|field| &field.field));
    Described {
        says,
        next: format!("Find out which is right and set {fields} of the job again."),
        step: t.step_in_job(Step::SetFields),
    }
}

/// `trailer is 5312 by mara on lap-1 (…) and 5321 by jonas on lap-2 (…)`.
fn disputed(t: &Teller<'_>, field: &DisputedField) -> String {
    let values = field.values.iter();
    let values = listed(values.map(|v| format!("{} by {}", v.value, t.author(&v.fact))));
    format!("{} is {values}", field.field)
}

/// `trailer is now 5312 by mara on lap-1 (…)`. The values are spellings of one value; the first is printed.
fn settled(t: &Teller<'_>, field: &DisputedField) -> String {
    let value = field.values.first().map_or("", |v| v.value.as_str());
    let by = t.authors(field.values.iter().map(|v| &v.fact));
    format!("{} is now {value} by {by}", field.field)
}
