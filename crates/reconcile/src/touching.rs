//! Which findings touch a job or a trailer, looked up once for a whole report.

use std::collections::{BTreeMap, BTreeSet};

use crate::finding::Finding;

/// Findings by the jobs and trailers that they touch.
pub struct Touching<'f> {
    findings: &'f [Finding],
    by_job: BTreeMap<&'f str, Vec<usize>>,
    by_trailer: BTreeMap<&'f str, Vec<usize>>,
}

impl<'f> Touching<'f> {
    /// Sorts `findings`.
    pub fn new(findings: &'f [Finding]) -> Self {
        let mut by_job: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        let mut by_trailer: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (n, finding) in findings.iter().enumerate() {
            for job in &finding.jobs {
                by_job.entry(job).or_default().push(n);
            }
            for trailer in &finding.trailers {
                by_trailer.entry(trailer).or_default().push(n);
            }
        }
        Self {
            findings,
            by_job,
            by_trailer,
        }
    }

    /// Those that touch one of these jobs or trailers, by their keys, in the order of the findings.
    pub fn any<'k>(
        &self,
        jobs: impl IntoIterator<Item = &'k str>,
        trailers: impl IntoIterator<Item = &'k str>,
    ) -> Vec<&'f Finding> {
        let of_jobs = jobs.into_iter().filter_map(|job| self.by_job.get(job));
        let of_trailers = trailers.into_iter().filter_map(|trailer| self.by_trailer.get(trailer));
        let places: BTreeSet<usize> = of_jobs.chain(of_trailers).flatten().copied().collect();
        places.into_iter().filter_map(|n| self.findings.get(n)).collect()
    }
}
