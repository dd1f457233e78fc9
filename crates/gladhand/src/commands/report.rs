//! `report`: the reconciled shift report.

use gladhand_answers::html;
use gladhand_answers::report as answers;
use gladhand_reconcile::Filter;

use super::{Context, times};
use crate::cli::{self, ReportFormat};
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the report.
pub fn report(context: &Context, args: &cli::Report) -> Outcome {
    let filter = filter(args)?;
    let mut node = context.open()?;
    let report = answers::report(&mut node, &filter)?;
    node.close()?;
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

/// Which jobs the flags ask for.
fn filter(args: &cli::Report) -> Result<Filter, Failure> {
    let filter = Filter {
        from_us: args.from.as_deref().map(|t| times::time("--from", t)).transpose()?,
        to_us: args.to.as_deref().map(|t| times::time("--to", t)).transpose()?,
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
