//! Does a factor go with how even the reeds are, whatever it does to their mean?
//!
//! What is looked at are the reeds' scores less what their factor's model says, each over the root of one less its leverage so that reeds of small lots do not
//! look even. A choice: the test of Brown & Forsythe (1974) of a level against the reference, and the ratio of their standard deviations with an error that
//! allows for long tails (Layard 1973, Journal of the American Statistical Association 68, 195-198: the variance of a log variance from the pooled fourth
//! moment). A number: the regression of the log squared residual on the factor (Harvey 1976, Econometrica 44, 461-465) beside what its own model holds, errors
//! by lots. Spreads are a family of their own (Benjamini & Hochberg 1995).

use std::collections::BTreeMap;

use super::super::scores::centred_within;
use super::Looked;
use super::model::Model;
use crate::finding::Spread;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::{LinearFit, least_squares};
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::numeric::{mean, standard_deviation, t_quantile};
use crate::stats::rank::{SpreadCentre, spread_test};

/// Reeds that a number takes, and that a level takes.
const FEWEST_REEDS: usize = 30;
const FEWEST_IN_LEVEL: usize = 10;
/// A reed that its own model follows closer than this has no residual worth the name.
const LEAST_FREE: f64 = 0.1;
/// Residuals smaller than this share of their standard deviation count as that, so that a reed that happens to lie on the line does not outweigh all others.
const SMALLEST: f64 = 0.05;
/// Over so many reeds lots count as independent reeds: the errors by lots would take too long.
const MOST_BY_LOTS: usize = 5_000;
/// A spread is told from this adjusted p on.
pub(super) const TOLD_AT: f64 = 0.05;

/// The residuals of a factor's model, ready to be compared.
pub(super) struct Residuals<'a> {
    model: &'a Model,
    design: Design,
    /// One a reed; none where the model leaves it no freedom.
    scaled: Vec<Option<f64>>,
}

impl<'a> Residuals<'a> {
    pub fn of(model: &'a Model) -> Option<Self> {
        let design = model.design.without_aliases().0;
        if model.scores.len() <= design.columns() + 1 {
            return None;
        }
        let fit = least_squares(&design, &model.scores).ok()?;
        let scaled = scaled(model, &fit);
        Some(Self { model, design, scaled })
    }

    /// The spread for one step of a number, or of a level against the reference.
    pub fn spread(&self, own: usize, step: f64) -> Option<Spread> {
        if self.model.reference.is_some() { self.of_level(own) } else { self.per_step(step) }
    }

    fn of_level(&self, own: usize) -> Option<Spread> {
        let level = self.model.raw.get(own)?;
        let in_reference = |reed: usize| self.model.raw.iter().all(|column| column[reed] == 0.0);
        let members = |wanted: &dyn Fn(usize) -> bool| -> Vec<f64> {
            let reeds = (0..self.scaled.len()).filter(|&reed| wanted(reed));
            reeds.filter_map(|reed| self.scaled[reed]).collect()
        };
        ratio_of_groups(&members(&|reed| level[reed] == 1.0), &members(&in_reference))
    }

    fn per_step(&self, step: f64) -> Option<Spread> {
        if self.scaled.iter().flatten().count() < FEWEST_REEDS {
            return None;
        }
        let logs = centred_within(&self.log_squares()?, &self.model.lot);
        let own = self.design.column(self.model.own.first()?).ok()?;
        let mut contrast = vec![0.0; self.design.columns()];
        contrast[own] = 1.0;
        let fit = least_squares(&self.design, &logs).ok()?;
        let by_lots = self.is_by_lots() && logs.len() <= MOST_BY_LOTS;
        let found = if by_lots {
            fit.clustered(&self.model.clusters).ok()?.contrast(&contrast).ok()?
        } else {
            fit.classical(&contrast).ok()?
        };
        // a log variance is twice a log standard deviation
        spread(&found.scaled(step / 2.0), found.p_value())
    }

    /// Log squared residuals; where there is none, the average of the others.
    fn log_squares(&self) -> Option<Vec<f64>> {
        let known: Vec<f64> = self.scaled.iter().flatten().copied().collect();
        let least = SMALLEST * standard_deviation(&known).ok()?;
        if least <= 0.0 {
            return None;
        }
        let log = |residual: f64| 2.0 * residual.abs().max(least).ln();
        let logs: Vec<f64> = known.into_iter().map(log).collect();
        let average = mean(&logs).ok()?;
        Some(self.scaled.iter().map(|residual| residual.map_or(average, log)).collect())
    }

    fn is_by_lots(&self) -> bool {
        is_by_lots(self.model)
    }
}

/// Whether lots are the clusters; where reeds are, the lots' levels stand in the design.
fn is_by_lots(model: &Model) -> bool {
    model.columns_beside_own().len() == model.adjuster_columns().len()
}

fn scaled(model: &Model, fit: &LinearFit) -> Vec<Option<f64>> {
    let mut in_lot: BTreeMap<usize, usize> = BTreeMap::new();
    for lot in &model.lot {
        *in_lot.entry(*lot).or_default() += 1;
    }
    // the mean of the lot was taken out of every column and takes its own share of each reed
    let by_lots = is_by_lots(model);
    let of_mean = |lot: &usize| if by_lots { 1.0 / in_lot[lot] as f64 } else { 0.0 };
    let rows = fit.residuals.iter().zip(fit.leverages()).zip(&model.lot);
    rows.map(|((residual, leverage), lot)| {
        let free = 1.0 - leverage - of_mean(lot);
        (free >= LEAST_FREE).then(|| residual / free.sqrt())
    })
    .collect()
}

fn ratio_of_groups(level: &[f64], reference: &[f64]) -> Option<Spread> {
    if level.len().min(reference.len()) < FEWEST_IN_LEVEL {
        return None;
    }
    let values: Vec<f64> = level.iter().chain(reference).copied().collect();
    let groups: Vec<usize> = (0..values.len()).map(|at| usize::from(at >= level.len())).collect();
    let p = spread_test(&values, &groups, SpreadCentre::Median).ok()?.p_value();
    let deviation = |group: &[f64]| standard_deviation(group).ok().filter(|found| *found > 0.0);
    let tails = pooled_tails([level, reference])?;
    let square = |group: &[f64]| {
        let n = group.len() as f64;
        (tails - (n - 3.0) / n) / (4.0 * (n - 1.0))
    };
    let log_ratio = Estimate {
        value: (deviation(level)? / deviation(reference)?).ln(),
        standard_error: (square(level) + square(reference)).max(0.0).sqrt(),
        degrees_of_freedom: (values.len() - 2) as f64,
    };
    spread(&log_ratio, p)
}

/// The fourth moment over the square of the second, pooled over groups about their own means; 3 for the normal.
fn pooled_tails(groups: [&[f64]; 2]) -> Option<f64> {
    let (mut fourth, mut second, mut n) = (0.0, 0.0, 0.0);
    for group in groups {
        let centre = mean(group).ok()?;
        for value in group {
            let square = (value - centre).powi(2);
            fourth += square * square;
            second += square;
            n += 1.0;
        }
    }
    (second > 0.0).then(|| n * fourth / (second * second))
}

fn spread(log_ratio: &Estimate, p: f64) -> Option<Spread> {
    let reach = t_quantile(0.975, log_ratio.degrees_of_freedom) * log_ratio.standard_error;
    let [ratio, low, high] = [0.0, -reach, reach].map(|by| (log_ratio.value + by).exp());
    let is_known = [ratio, low, high, p].iter().all(|value| value.is_finite());
    is_known.then_some(Spread { ratio, low, high, p, q: None })
}

/// Adjusts the tests of all spreads together.
pub(super) fn adjust(looked: &mut [Looked]) {
    let mut spreads: Vec<&mut Spread> =
        looked.iter_mut().filter_map(|entry| entry.result.spread.as_mut()).collect();
    let p: Vec<f64> = spreads.iter().map(|spread| spread.p).collect();
    let adjusted = benjamini_hochberg(&p).unwrap_or_default();
    for (spread, q) in spreads.iter_mut().zip(adjusted) {
        spread.q = Some(q);
    }
}

/// Whether a spread stands out from chance: by its adjusted p and by its own interval.
pub(super) fn stands_out(spread: &Spread) -> bool {
    spread.q.is_some_and(|q| q <= TOLD_AT) && (spread.low > 1.0 || spread.high < 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// -9, -7, … 9: mean 0, squares add up to 330, fourth powers to 19 338.
    fn odd(times: f64) -> Vec<f64> {
        (0..10).map(|at| times * (2.0 * f64::from(at) - 9.0)).collect()
    }

    #[test]
    fn the_ratio_of_two_groups_has_the_error_worked_by_hand() {
        let found = ratio_of_groups(&odd(2.0), &odd(1.0)).unwrap();
        assert!((found.ratio - 2.0).abs() < 1e-12);
        // pooled tails: 20 * (16 + 1) * 19338 / (5 * 330)^2
        let tails = 20.0 * 17.0 * 19_338.0 / (5.0 * 330.0_f64).powi(2);
        let error = (2.0 * (tails - 0.7) / 36.0).sqrt();
        let expected = 2.0 * (t_quantile(0.975, 18.0) * error).exp();
        assert!((found.high - expected).abs() < 1e-12, "{} {expected}", found.high);
    }

    #[test]
    fn groups_of_equal_spread_have_the_ratio_one_and_do_not_stand_out() {
        let found = ratio_of_groups(&odd(1.0), &odd(-1.0)).unwrap();
        assert!((found.ratio - 1.0).abs() < 1e-12 && (found.p - 1.0).abs() < 1e-12);
        assert!(!stands_out(&Spread { q: Some(found.p), ..found }));
    }

    #[test]
    fn nine_reeds_are_no_level_and_equal_reeds_have_no_spread() {
        assert_eq!(ratio_of_groups(&odd(1.0)[1..], &odd(1.0)), None);
        assert_eq!(ratio_of_groups(&[1.0; 12], &odd(1.0)), None);
    }
}
