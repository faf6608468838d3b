//! Which adjusters to keep when there are too many for the rows.

use super::path::{GridOptions, penalty_grid};
use super::{Folds, cross_validate, elastic_net};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_length};
use crate::stats::products::Products;

/// How the penalties of the two selections are chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoubleSelectionOptions {
    /// Penalties tried. Default: the lasso's 60 down to a thousandth of the largest.
    pub grid: GridOptions,
    /// Folds of groups, at most the number of groups. Default 10.
    pub folds: usize,
    /// Seed of the dealing of groups to folds. Default 1.
    pub seed: u64,
}

impl Default for DoubleSelectionOptions {
    fn default() -> Self {
        Self { grid: GridOptions::default(), folds: 10, seed: 1 }
    }
}

/// A candidate that was kept, and why: its standardised coefficient in each selection, zero where that selection leaves it out.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptColumn {
    /// The candidate.
    pub name: String,
    /// Its coefficient for the outcome, in units of the outcome per standard deviation.
    pub for_outcome: f64,
    /// Its coefficients for the columns of the factor, in units of each per standard deviation.
    pub for_factor: Vec<f64>,
}

/// What double selection keeps.
#[derive(Debug, Clone, PartialEq)]
pub struct DoubleSelection {
    /// The union of the selections, in the order of the candidates.
    pub kept: Vec<KeptColumn>,
    /// Penalty of the outcome's selection; `None` where no candidate predicts the outcome.
    pub outcome_penalty: Option<f64>,
    /// The same for each column of the factor.
    pub factor_penalties: Vec<Option<f64>>,
}

impl DoubleSelection {
    /// Names of the candidates kept.
    pub fn names(&self) -> Vec<&str> {
        self.kept.iter().map(|column| column.name.as_str()).collect()
    }
}

/// Double selection (Belloni, Chernozhukov & Hansen 2014, Review of Economic Studies 81, 608-650): the lasso of the outcome on the candidates, the lasso of
/// each column of the factor on the candidates, and the union of what they keep. A candidate that only moves the factor is kept too: left out, a small effect
/// of its own would bias the factor's effect.
///
/// The penalty is that of the least cross-validated error with whole groups held out (the paper's plug-in penalty supposes independent rows), and no
/// candidate is kept where the mean alone predicts at least as well. The lasso is [`elastic_net()`]'s. `candidates` and `factor` have a row for each outcome; a
/// factor of several levels brings several columns.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`; `NoVariation` for an outcome or a factor column that does not vary; `TooFewGroups` under two groups; `OutOfRange` for an
/// option; `NotConverged`, `Backend`.
pub fn double_selection(
    candidates: &Design,
    factor: &Design,
    outcome: &[f64],
    groups: &[usize],
    options: &DoubleSelectionOptions,
) -> Result<DoubleSelection, StatsError> {
    require_length("the factor", candidates.rows(), factor.rows())?;
    let (outcome_penalty, for_outcome) = select(candidates, outcome, groups, options)?;
    let mut factor_penalties = Vec::new();
    let mut for_factor = Vec::new();
    for column in factor.matrix.columns() {
        let (penalty, coefficients) = select(candidates, &column.to_vec(), groups, options)?;
        factor_penalties.push(penalty);
        for_factor.push(coefficients);
    }
    let column = |place: usize| KeptColumn {
        name: candidates.names[place].clone(),
        for_outcome: for_outcome[place],
        for_factor: for_factor.iter().map(|coefficients| coefficients[place]).collect(),
    };
    let matters = |column: &KeptColumn| {
        column.for_outcome != 0.0 || column.for_factor.iter().any(|&value| value != 0.0)
    };
    let kept = (0..candidates.columns()).map(column).filter(matters).collect();
    Ok(DoubleSelection { kept, outcome_penalty, factor_penalties })
}

/// The cross-validated lasso of one response: its penalty and standardised coefficients; zeros where nothing predicts.
fn select(
    candidates: &Design,
    response: &[f64],
    groups: &[usize],
    options: &DoubleSelectionOptions,
) -> Result<(Option<f64>, Vec<f64>), StatsError> {
    let products = Products::new(candidates, response, groups)?;
    let nothing = || Ok((None, vec![0.0; candidates.columns()]));
    if response.windows(2).all(|pair| pair[0] == pair[1]) {
        return Err(StatsError::NoVariation {
            what: "the outcome or a column of the factor".into(),
        });
    }
    let penalties = match penalty_grid(&products, &options.grid) {
        Err(StatsError::NoVariation { .. }) => return nothing(),
        other => other?,
    };
    let count = options.folds.min(products.groups.len());
    let folds = Folds::of_groups(groups, count, options.seed)?;
    let validation = cross_validate(&products, &folds, options.grid.mixing, &penalties)?;
    if validation.mean_squared_errors[validation.minimum] >= validation.without_columns {
        return nothing();
    }
    let penalty = validation.best_penalty();
    let fit = elastic_net(candidates, response, penalty, options.grid.mixing)?;
    Ok((Some(penalty), fit.standardised))
}

#[cfg(test)]
mod tests {
    use super::super::tests::simulated;
    use super::*;
    use crate::stats::resample::stream;
    use rand_distr::{Distribution, StandardNormal};

    /// Forty candidates in a hundred rows: the factor follows the first two, the outcome the factor, a little of the first, and much of the third.
    fn example(seed: u64) -> (Design, Design, Vec<f64>, Vec<usize>) {
        let sample = simulated(100, 40, 10, seed, &[1.0, 1.0], 0.7);
        let factor = sample.outcome;
        let mut generator = stream(seed, 99);
        let outcome: Vec<f64> = (0..100)
            .map(|row| {
                let noise: f64 = StandardNormal.sample(&mut generator);
                let candidates = sample.design.matrix.row(row);
                0.2 * candidates[0] + 2.0 * candidates[2] + 0.5 * factor[row] + noise
            })
            .collect();
        let factor = Design::builder(100).number("factor", &factor).build().unwrap();
        (sample.design, factor, outcome, sample.groups)
    }

    #[test]
    fn what_moves_only_the_factor_is_kept_and_so_is_what_moves_only_the_outcome() {
        let options = DoubleSelectionOptions::default();
        for seed in 0..5 {
            let (candidates, factor, outcome, groups) = example(seed);
            let found =
                double_selection(&candidates, &factor, &outcome, &groups, &options).unwrap();
            for name in ["x0", "x1", "x2"] {
                assert!(found.names().contains(&name), "{seed} {:?}", found.names());
            }
            let third = found.kept.iter().find(|column| column.name == "x2").unwrap();
            assert!(third.for_outcome > 1.0);
            let second = found.kept.iter().find(|column| column.name == "x1").unwrap();
            assert!(second.for_factor[0] > 0.5);
            assert!(found.kept.len() < 40);
            assert!(found.outcome_penalty.is_some() && found.factor_penalties[0].is_some());
        }
    }

    #[test]
    fn where_nothing_predicts_little_is_kept_and_no_reason_is_invented() {
        let options = DoubleSelectionOptions::default();
        let mut nothing = 0;
        for seed in 0..10 {
            let sample = simulated(60, 10, 6, 100 + seed, &[], 1.0);
            let factor = simulated(60, 1, 6, 200 + seed, &[], 1.0).design;
            let found = double_selection(
                &sample.design,
                &factor,
                &sample.outcome,
                &sample.groups,
                &options,
            )
            .unwrap();
            nothing += usize::from(found.outcome_penalty.is_none());
            for column in &found.kept {
                assert!(column.for_outcome != 0.0 || column.for_factor[0] != 0.0);
            }
        }
        assert!(nothing >= 3, "{nothing}");
    }

    #[test]
    fn candidates_that_do_not_vary_are_not_kept() {
        let sample = simulated(20, 1, 4, 3, &[], 1.0);
        let flat = Design::builder(20).intercept().number("flat", &[2.0; 20]).build().unwrap();
        let options = DoubleSelectionOptions::default();
        let found =
            double_selection(&flat, &sample.design, &sample.outcome, &sample.groups, &options);
        let found = found.unwrap();
        assert!(found.kept.is_empty());
        assert_eq!((found.outcome_penalty, found.factor_penalties), (None, vec![None]));
    }

    #[test]
    fn what_cannot_be_selected_from_is_refused() {
        let (candidates, factor, outcome, groups) = example(1);
        let options = DoubleSelectionOptions::default();
        let run = |factor: &Design, outcome: &[f64], groups: &[usize]| {
            double_selection(&candidates, factor, outcome, groups, &options).unwrap_err()
        };
        let flat = Design::builder(100).number("factor", &[1.0; 100]).build().unwrap();
        assert!(matches!(run(&flat, &outcome, &groups), StatsError::NoVariation { .. }));
        assert!(matches!(run(&factor, &[1.0; 100], &groups), StatsError::NoVariation { .. }));
        assert!(matches!(run(&factor, &outcome, &[0; 100]), StatsError::TooFewGroups { .. }));
        assert!(matches!(run(&factor, &outcome[..99], &groups), StatsError::LengthMismatch { .. }));
        let short = Design::builder(2).number("factor", &[1.0, 2.0]).build().unwrap();
        assert!(matches!(run(&short, &outcome, &groups), StatsError::LengthMismatch { .. }));
    }
}
