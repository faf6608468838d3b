//! The ratings as ordered categories: only their order counts, not how far apart the marks are.

use super::super::fit::own_name;
use super::super::model::{FEWEST_CLUSTERS, Model, model};
use super::super::sample::thinned_sample;
use super::super::{Bench, RatedRows};
use super::change::Asked;
use super::{Answers, Log};
use crate::stats::design::{Design, INTERCEPT};
use crate::stats::ordinal::{OrderedOutcome, OrdinalFit, fit_ordinal};
use crate::words::again::AgainWords;

/// Over so many different marks, they are grouped by their quantiles.
const MOST_CATEGORIES: usize = 12;
const GROUPS: usize = 10;
/// The test of proportional odds is held to this, because it rejects too often where categories hold few rows; those with fewer are not tested at all.
const DOUBTFUL_AT: f64 = 0.01;
const FEWEST_IN_CATEGORY: usize = 5;

/// `stands` where the headline stands out: only then is it told whether the odds are the same all along the scale, and the test of it is dear.
pub(super) fn answer(
    log: &Log,
    (at, stands): (usize, bool),
    asked: &[Option<Asked>],
    answers: &mut [Answers],
    words: &mut AgainWords,
) {
    let (sample, thinned) = thinned_sample(log.columns, log.scores, at, log.has_lots);
    let Ok(model) = model(log.columns, log.scores, &sample, at, log.has_lots) else { return };
    let rows = log.rated.of_reeds(&sample.reeds);
    let (marks, grouped) = categories(&rows.score);
    let clusters = clusters(&model, &rows);
    let Some((fit, outcome)) = fitted(&model, rows, &marks) else { return };
    let Ok(robust) = fit.clustered(&clusters) else { return };
    words.ordered = true;
    words.grouped |= grouped;
    words.thinned |= thinned;
    let uneven = stands && is_uneven(&fit, &outcome);
    for (asked, answer) in asked.iter().zip(answers) {
        let contrast = asked.and_then(|asked| asked.contrast(&model, &fit.names));
        answer.ordered = contrast.and_then(|contrast| robust.contrast(&contrast).ok());
        answer.uneven = uneven;
    }
}

fn fitted(model: &Model, rows: RatedRows, marks: &[f64]) -> Option<(OrdinalFit, OrderedOutcome)> {
    let bench = Bench::new(model, rows);
    let design = bench.design(&model.own_columns(), bench.lot_means().as_deref()).ok()?;
    let outcome = OrderedOutcome::new(marks).ok()?;
    let fit = fit_ordinal(&without_intercept(&design), &outcome).ok()?;
    Some((fit, outcome))
}

/// The thresholds are the intercept.
fn without_intercept(design: &Design) -> Design {
    let kept: Vec<usize> =
        (0..design.columns()).filter(|&at| design.names[at] != INTERCEPT).collect();
    design.select(&kept)
}

/// Lots, in five or more of them; else the reeds, which may have several ratings.
fn clusters(model: &Model, rows: &RatedRows) -> Vec<usize> {
    if model.lots >= FEWEST_CLUSTERS {
        rows.reed.iter().map(|&reed| model.lot[reed]).collect()
    } else {
        rows.reed.clone()
    }
}

/// The marks as they are or, where many differ, the tenth of the ratings that each lies in; and whether they were grouped.
fn categories(scores: &[f64]) -> (Vec<f64>, bool) {
    let mut sorted = scores.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut distinct = sorted.clone();
    distinct.dedup();
    if distinct.len() <= MOST_CATEGORIES {
        return (scores.to_vec(), false);
    }
    // equal marks stay together: a mark lies in the group of the first of its equals
    let group = |score: &f64| {
        let below = sorted.partition_point(|other| other < score);
        (below * GROUPS / sorted.len()) as f64
    };
    (scores.iter().map(group).collect(), true)
}

/// Whether one odds ratio may well not serve all marks, for any of the factor's columns.
fn is_uneven(fit: &OrdinalFit, outcome: &OrderedOutcome) -> bool {
    if outcome.counts().iter().any(|&count| count < FEWEST_IN_CATEGORY) {
        return false;
    }
    let Ok(tests) = fit.proportionality() else { return false };
    let is_own = |name: &str| name.starts_with(own_name(0).trim_end_matches('0'));
    tests.columns.iter().any(|(name, test)| is_own(name) && test.p_value() <= DOUBTFUL_AT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_marks_are_categories_as_they_are() {
        let marks = [3.0, 1.0, 2.0, 3.0];
        assert_eq!(categories(&marks), (marks.to_vec(), false));
    }

    #[test]
    fn many_marks_fall_into_ten_groups_of_a_tenth_each() {
        let marks: Vec<f64> = (0..40).map(|mark| f64::from(mark) / 4.0).collect();
        let (groups, grouped) = categories(&marks);
        assert!(grouped);
        for group in 0..10 {
            assert_eq!(groups.iter().filter(|&&found| found == f64::from(group)).count(), 4);
        }
        assert!(groups.windows(2).all(|pair| pair[0] <= pair[1]));
    }

    #[test]
    fn equal_marks_are_never_torn_apart() {
        let marks: Vec<f64> =
            (0..40).map(|mark| if mark < 25 { 5.0 } else { f64::from(mark) }).collect();
        let (groups, _) = categories(&marks);
        assert!(groups[..25].iter().all(|group| *group == groups[0]));
    }
}
