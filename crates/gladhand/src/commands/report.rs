//! `report`: the reconciled shift report.

use gladhand_answers::html;
use gladhand_answers::report as answers;
use gladhand_answers::report_by::ReportBy;
use gladhand_answers::resolve::scope;
use gladhand_reconcile::Filter;

use super::times::{self, End};
use super::{Context, gate_over_nothing};
use crate::cli::{self, ReportFormat, ReportLines};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the report.
pub fn report(context: &Context, args: &cli::Report) -> Outcome {
    let mut filter = filter(args)?;
    let node = context.judged_view()?;
    // A name that nobody has recorded would make an empty report, which says nothing.
    filter.yard = filter.yard.map(|yard| scope::yard(&node, &yard)).transpose()?;
    filter.fleet = filter.fleet.map(|fleet| scope::fleet(&node, &fleet)).transpose()?;
    let report = answers::report_by(&node, &filter, lines(args))?;
    node.close()?;
    if args.gate && !args.may_be_empty && report.jobs.is_empty() {
        return Err(gate_over_nothing("no job is in this report"));
    }
    let stops = args.gate && report.has_open_stop();
    let default = if context.json {
        ReportFormat::Json
    } else {
        ReportFormat::Text
    };
    match args.format.unwrap_or(default) {
        ReportFormat::Json => show::answer(report, true)?,
        ReportFormat::Csv => show::bytes(&report.csv().map_err(Failure::failed)?)?,
        ReportFormat::Html => show::bytes(html::report::render(&report).as_bytes())?,
        ReportFormat::Text => show::answer(report, false)?,
    }
    Ok(if stops { Exit::OpenStops } else { Exit::Done })
}

fn lines(args: &cli::Report) -> ReportBy {
    match args.by {
        None | Some(ReportLines::Job) => ReportBy::Job,
        Some(ReportLines::Trailer) => ReportBy::Trailer,
        Some(ReportLines::Person) => ReportBy::Person,
        Some(ReportLines::Wall) => ReportBy::Wall,
        Some(ReportLines::Week) => ReportBy::Week,
    }
}

/// Which jobs the flags ask for.
fn filter(args: &cli::Report) -> Result<Filter, Failure> {
    let day = args.day.as_deref().or(args.shift.then_some("today"));
    let (from, to) = match day {
        Some(day) => (Some(day), Some(day)),
        None => (args.from.as_deref(), args.to.as_deref()),
    };
    let filter = Filter {
        from_us: from.map(|t| times::time("--from", t, End::Beginning)).transpose()?,
        to_us: to.map(|t| times::time("--to", t, End::End)).transpose()?,
        yard: args.yard.clone(),
        fleet: args.fleet.clone(),
    };
    if let (Some(from), Some(to)) = (filter.from_us, filter.to_us)
        && from > to
    {
        return Err(Failure::bad_input("--from is later than --to").hint("Nothing happens between the two."));
    }
    Ok(filter)
}
