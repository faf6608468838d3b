//! A part of the log in time.

use super::ledger::counted;
use super::values::dates::iso;
use crate::problem::Error;
use crate::study::Study;

/// The pieces started (else finished) within the days, ends included. A piece without a
/// day belongs to no part of time.
///
/// # Errors
/// Where the days end before they begin, or none of the log's pieces lies within them.
pub(super) fn within(study: Study, from: Option<i32>, until: Option<i32>) -> Result<Study, Error> {
    if from.is_none() && until.is_none() {
        return Ok(study);
    }
    if let (Some(from), Some(until)) = (from, until)
        && from > until
    {
        return Err(Error::Call(format!(
            "The days end on {} before they begin on {}. Exchange `--from` and `--until`.",
            iso(until),
            iso(from)
        )));
    }
    let inside =
        |day: i32| from.is_none_or(|from| day >= from) && until.is_none_or(|until| day <= until);
    let days = study.making_days();
    let keep: Vec<bool> = days.iter().map(|day| day.is_some_and(inside)).collect();
    if !keep.contains(&true) && !keep.is_empty() {
        return Err(Error::Call(none_within(days)));
    }
    Ok(study.restricted(&keep))
}

fn none_within(days: &[Option<i32>]) -> String {
    let pieces = counted(days.len() as f64, "piece");
    let known = days.iter().flatten();
    match (known.clone().min(), known.max()) {
        (Some(first), Some(last)) => format!(
            "The log holds {pieces} and none of these days: what it dates was started (else finished) from {} to {}. Name other days with `--from` and `--until`.",
            iso(*first),
            iso(*last)
        ),
        _ => format!(
            "The log holds {pieces} and no day on which one was started or finished, so no part of time can be taken. Leave out `--from` and `--until`."
        ),
    }
}
