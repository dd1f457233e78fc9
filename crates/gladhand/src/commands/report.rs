//! `report`: the reconciled shift report.

use gladhand_reconcile::report::{Filter, JobLine, Report};

mod page;

use super::{Context, findings, resolve};
use crate::cli::{self, ReportFormat};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the report.
pub fn report(context: &Context, args: &cli::Report) -> Outcome {
    let filter = Filter {
        from_us: args.from.as_deref().map(|t| resolve::time("--from", t)).transpose()?,
        to_us: args.to.as_deref().map(|t| resolve::time("--to", t)).transpose()?,
        yard: args.yard.clone(),
        fleet: args.fleet.clone(),
    };
    if let (Some(from), Some(to)) = (filter.from_us, filter.to_us)
        && from > to
    {
        return Err(Failure::bad_input("--from is later than --to").hint("Nothing happens between the two."));
    }
    let mut node = context.open()?;
    let report = node.report(&filter)?;
    node.close()?;
    let default = if context.json {
        ReportFormat::Json
    } else {
        ReportFormat::Text
    };
    match args.format.unwrap_or(default) {
        ReportFormat::Json => {
            show::json(&report)?;
        }
        ReportFormat::Csv => show::bytes(csv(&report)?.as_bytes())?,
        ReportFormat::Html => show::bytes(page::render(&report).as_bytes())?,
        ReportFormat::Text => text(&report)?,
    }
    Ok(if args.gate && report.has_open_stop() {
        Exit::OpenStops
    } else {
        Exit::Done
    })
}

/// A header row and a row a job.
pub fn csv(report: &Report) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(JobLine::columns()).map_err(Failure::failed)?;
    for job in &report.jobs {
        writer.write_record(job.row()).map_err(Failure::failed)?;
    }
    let bytes = writer.into_inner().map_err(|e| Failure::failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(Failure::failed)
}

/// The report for reading.
pub fn text(report: &Report) -> Result<(), Failure> {
    let or_dash = |t: &Option<String>| t.clone().unwrap_or_else(|| "-".into());
    let head = [
        "job",
        "trailer",
        "fleet",
        "camera",
        "tracker",
        "state",
        "relied on",
        "signed",
        "by",
        "findings",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for job in &report.jobs {
        rows.push(vec![
            job.job.clone(),
            or_dash(&job.trailer),
            or_dash(&job.fleet),
            or_dash(&job.camera),
            or_dash(&job.tracker),
            job.state.name().to_owned(),
            job.relied_on.name().to_owned(),
            job.signed_at
                .as_deref()
                .map_or("-".into(), |t| t.get(..16).unwrap_or(t).replace('T', " ")),
            or_dash(&job.signed_by),
            job.findings.join(" "),
        ]);
    }
    show::print(&show::table(&rows))?;
    let relied = |name: &str| {
        report
            .totals
            .relied_on
            .iter()
            .filter(|(r, _)| r.name() == name)
            .map(|(_, n)| *n as u64)
            .sum::<u64>()
    };
    show::line("")?;
    show::line(&format!(
        "{}: {} can be relied on, {} not, {} to be looked at, {} not finished. Work standard {}.",
        show::counted(report.totals.jobs as u64, "job", "jobs"),
        relied("yes"),
        relied("no"),
        relied("ask"),
        relied("not-yet"),
        report.standard
    ))?;
    let open: Vec<_> = report.findings.iter().filter(|f| f.is_open()).collect();
    if !open.is_empty() {
        show::line("\nOpen findings")?;
        open.iter().try_for_each(|f| show::print(&show::finding(f)))?;
    }
    show::line(&findings::tally(&report.findings))
}
