//! A part of the log in time.

use crate::study::Study;

/// The pieces started (else finished) within the days, ends included. A piece without a
/// day belongs to no part of time.
pub(super) fn within(study: Study, from: Option<i32>, until: Option<i32>) -> Study {
    if from.is_none() && until.is_none() {
        return study;
    }
    let inside =
        |day: i32| from.is_none_or(|from| day >= from) && until.is_none_or(|until| day <= until);
    let keep: Vec<bool> = study.making_days().iter().map(|day| day.is_some_and(inside)).collect();
    study.restricted(&keep)
}
