//! The shift report as one HTML page: readable in black and white, on paper and by a screen reader; no script, nothing fetched.
//!
//! Like every report it holds no time of making and no name of the node: equal knowledge gives equal bytes.

use gladhand_reconcile::picture::entity;
use gladhand_reconcile::report::{JobLine, Report};
use gladhand_reconcile::{Status, ToldFinding};

use crate::show;

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;margin:2rem auto;max-width:78rem;padding:0 1rem;color:#111}\
h1{font-size:1.4rem}h2{font-size:1.1rem;margin-top:2rem}table{border-collapse:collapse;width:100%}\
th,td{text-align:left;white-space:nowrap;padding:.25rem .5rem;border-bottom:1px solid #bbb;vertical-align:top}th{border-bottom:2px solid #111}\
.no{font-weight:700}article{border-left:.3rem solid #111;padding:.1rem .8rem;margin:.8rem 0;break-inside:avoid}\
article.ask{border-left-style:dashed}article.done{border-left-color:#bbb}code{font-size:.95em}.next{font-weight:600}\
@media print{body{margin:0;max-width:none;font-size:11px}}";

/// The page.
pub(super) fn render(report: &Report) -> String {
    let scope = &report.scope;
    let said = [
        ("from", &scope.from),
        ("to", &scope.to),
        ("yard", &scope.yard),
        ("fleet", &scope.fleet),
    ];
    let said: Vec<String> = said
        .iter()
        .filter_map(|(k, v)| v.as_ref().map(|v| format!("{k} {}", escaped(v))))
        .collect();
    let scope = if said.is_empty() {
        "everything that is known".to_owned()
    } else {
        said.join(", ")
    };
    let rows: String = report.jobs.iter().map(row).collect();
    let (open, over): (Vec<_>, Vec<_>) = report.findings.iter().partition(|f| f.is_open());
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\"><title>Shift report</title>\n\
         <meta name=\"viewport\" content=\"width=device-width\"><style>{STYLE}</style></head>\n<body>\n\
         <h1>Shift report</h1>\n<p>Scope: {scope}. Work standard {}.</p>\n<p>{}</p>\n\
         <h2>Jobs</h2>\n<table>\n<thead><tr><th scope=\"col\">job</th><th scope=\"col\">trailer</th><th scope=\"col\">fleet</th>\
         <th scope=\"col\">camera</th><th scope=\"col\">tracker</th><th scope=\"col\">state</th><th scope=\"col\">relied on</th>\
         <th scope=\"col\">signed</th><th scope=\"col\">by</th><th scope=\"col\">findings</th></tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n\
         {}{}</body>\n</html>\n",
        escaped(&report.standard),
        summary(report),
        section("Open findings", &open),
        section("Settled and cleared", &over),
    )
}

fn summary(report: &Report) -> String {
    let relied: Vec<String> = report
        .totals
        .relied_on
        .iter()
        .map(|(r, n)| format!("{} {n}", r.name()))
        .collect();
    format!(
        "{}; can be relied on: {}.",
        show::counted(report.totals.jobs as u64, "job", "jobs"),
        relied.join(", ")
    )
}

fn row(job: &JobLine) -> String {
    let text = |t: &Option<String>| escaped(t.as_deref().unwrap_or("–"));
    let links: Vec<String> = job
        .findings
        .iter()
        .map(|id| format!("<a href=\"#{0}\">{0}</a>", escaped(id)))
        .collect();
    let relied = job.relied_on.name();
    let class = if relied == "yes" { "" } else { " class=\"no\"" };
    format!(
        "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td{class}>{relied}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n",
        escaped(&job.job),
        text(&job.trailer),
        text(&job.fleet),
        text(&job.camera),
        text(&job.tracker),
        job.state.name(),
        job.signed_at
            .as_deref()
            .map_or("–".into(), |t| escaped(&t.get(..16).unwrap_or(t).replace('T', " "))),
        text(&job.signed_by),
        links.join(" "),
    )
}

fn section(title: &str, findings: &[&ToldFinding]) -> String {
    if findings.is_empty() {
        return String::new();
    }
    let each: String = findings.iter().map(|f| article(f)).collect();
    format!("<h2>{title}</h2>\n{each}")
}

fn article(f: &ToldFinding) -> String {
    let severity = f.severity.word();
    let class = if f.is_open() { severity } else { "done" };
    let after = match (&f.ruling, f.status) {
        (Some(r), _) => format!(
            "<p>Settled by {}: {} ({})</p>",
            escaped(r.by.as_deref().unwrap_or("somebody")),
            escaped(&r.ruling),
            escaped(r.why.as_deref().unwrap_or("no reason given"))
        ),
        (None, Status::Open) => format!("<p class=\"next\">{}</p>", escaped(&f.next)),
        (None, _) => String::new(),
    };
    format!(
        "<article id=\"{0}\" class=\"{class}\"><p><strong>{severity}</strong> {1} <code>{2}</code> ({3}) <code>{0}</code></p><p>{4}</p>{after}</article>\n",
        escaped(&f.id),
        escaped(&f.rule),
        escaped(&f.subject),
        show::status(f.status),
        escaped(&f.says),
    )
}

/// Text that cannot be taken for markup.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match entity(c) {
            Some(entity) => out.push_str(entity),
            None => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn no_text_becomes_markup() {
        assert_eq!(escaped("<b a=\"x\">&'"), "&lt;b a=&quot;x&quot;&gt;&amp;&#39;");
    }
}
