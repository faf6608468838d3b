//! One answer from several filled tables.

use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use nalgebra::{DMatrix, DVector};

/// A pooled estimate and what the missing cells cost it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pooled {
    /// The mean of the estimates, with the pooled error and its degrees of freedom.
    pub estimate: Estimate,
    /// Mean squared error inside tables, `U`.
    pub within: f64,
    /// Variance of the estimates between tables, `B`.
    pub between: f64,
    /// Relative increase in variance, `(1 + 1/m) B / U`.
    pub relative_increase: f64,
    /// Share of the variance that the missing cells cause, `(1 + 1/m) B / T`.
    pub share_of_variance: f64,
    /// Fraction of information missing, `(r + 2 / (df + 3)) / (1 + r)`.
    pub fraction_missing: f64,
}

/// Rubin's rules (Rubin 1987, chapter 3) for the same quantity estimated in `m` filled tables: the mean, with variance `T = U + (1 + 1/m) B` and the degrees of
/// freedom of Barnard & Rubin (1999, Biometrika 86, 948-955), `1 / (1/v_m + 1/v_obs)` with `v_m = (m - 1) / lambda^2`, `lambda = (1 + 1/m) B / T` and
/// `v_obs = (v + 1) / (v + 3) v (1 - lambda)`, where `v` are the degrees of freedom without missing cells: those the estimates carry, the fewest of them.
///
/// # Errors
/// `TooFewGroups` under two tables; `NotFinite` for an estimate or error that is no number; `OutOfRange` for a negative error or degrees of freedom that are
/// not positive; `NoVariation` where every error is zero.
pub fn pool(estimates: &[Estimate]) -> Result<Pooled, StatsError> {
    require_tables(estimates.len())?;
    for (table, estimate) in estimates.iter().enumerate() {
        require_sound(table, estimate)?;
    }
    let tables = estimates.len() as f64;
    let value = estimates.iter().map(|e| e.value).sum::<f64>() / tables;
    let within = estimates.iter().map(|e| e.standard_error.powi(2)).sum::<f64>() / tables;
    let squares: f64 = estimates.iter().map(|e| (e.value - value).powi(2)).sum();
    let between = squares / (tables - 1.0);
    let extra = (1.0 + 1.0 / tables) * between;
    let total = within + extra;
    if within <= 0.0 {
        return Err(StatsError::NoVariation { what: "the outcome in the filled tables".into() });
    }
    let complete = estimates.iter().map(|e| e.degrees_of_freedom).fold(f64::INFINITY, f64::min);
    let share_of_variance = extra / total;
    let degrees_of_freedom = barnard_rubin(tables, share_of_variance, complete);
    let relative_increase = extra / within;
    Ok(Pooled {
        estimate: Estimate { value, standard_error: total.sqrt(), degrees_of_freedom },
        within,
        between,
        relative_increase,
        share_of_variance,
        fraction_missing: (relative_increase + 2.0 / (degrees_of_freedom + 3.0))
            / (1.0 + relative_increase),
    })
}

fn require_tables(found: usize) -> Result<(), StatsError> {
    if found >= 2 {
        return Ok(());
    }
    Err(StatsError::TooFewGroups { found, needed: 2 })
}

fn require_sound(table: usize, estimate: &Estimate) -> Result<(), StatsError> {
    for (what, value) in [("estimate", estimate.value), ("standard error", estimate.standard_error)]
    {
        if !value.is_finite() {
            let what = format!("the list of {what}s");
            return Err(StatsError::NotFinite { what, row: table, value });
        }
    }
    let parts = [
        ("standard error", estimate.standard_error, estimate.standard_error >= 0.0),
        (
            "number of degrees of freedom",
            estimate.degrees_of_freedom,
            estimate.degrees_of_freedom > 0.0,
        ),
    ];
    match parts.iter().find(|part| !part.2) {
        Some(&(what, value, _)) => Err(StatsError::OutOfRange {
            what: format!("the {what} of table {table}"),
            value,
            expected: "above zero".into(),
        }),
        None => Ok(()),
    }
}

fn barnard_rubin(tables: f64, lambda: f64, complete: f64) -> f64 {
    let from_tables = (tables - 1.0) / (lambda * lambda);
    if complete.is_infinite() {
        return from_tables;
    }
    let from_rows = (complete + 1.0) / (complete + 3.0) * complete * (1.0 - lambda);
    // either may be infinite, and then the other counts
    1.0 / (1.0 / from_tables + 1.0 / from_rows)
}

/// Test that `k` quantities are zero together, from their estimates and covariances in each of `m` tables: `D1` of Li, Raghunathan & Rubin (1991, Journal of
/// the American Statistical Association 86, 1065-1073). With the means `Q`, `U` and the covariance `B` between tables, `r = (1 + 1/m) tr(B U^{-1}) / k` and `D1
/// = Q' U^{-1} Q / (k (1 + r))` is compared with F on `k` and, with `t = k (m - 1)`, `4 + (t - 4) (1 + (1 - 2/t) / r)^2` degrees of freedom where `t > 4`, else
/// `t (1 + 1/k) (1 + 1/r)^2 / 2`. It supposes that the missing cells cost each quantity about the same share, and tables of many rows.
///
/// # Errors
/// `TooFewGroups` under two tables; `Empty` for no quantity; `LengthMismatch`; `NotFinite`; `RankDeficient` where the mean covariance is singular.
pub fn pool_joint(
    estimates: &[Vec<f64>],
    covariances: &[DMatrix<f64>],
) -> Result<JointTest, StatsError> {
    require_tables(estimates.len())?;
    require_length("the list of covariances", estimates.len(), covariances.len())?;
    let size = estimates[0].len();
    check_joint(estimates, covariances, size)?;
    let tables = estimates.len() as f64;
    let vectors: Vec<DVector<f64>> =
        estimates.iter().map(|e| DVector::from_column_slice(e)).collect();
    let mean = vectors.iter().sum::<DVector<f64>>() / tables;
    let within = covariances.iter().sum::<DMatrix<f64>>() / tables;
    let singular = || StatsError::RankDeficient { columns: vec!["the pooled quantities".into()] };
    let own = within.diagonal();
    let lower = within.cholesky().ok_or_else(singular)?.l();
    if lower.diagonal().iter().zip(own.iter()).any(|(left, own)| left * left <= 1e-12 * own) {
        return Err(singular());
    }
    // tr(B U^{-1}) is the variance between tables of L^{-1} Q, added up
    let length = |vector: &DVector<f64>| {
        lower.solve_lower_triangular(vector).map(|solved| solved.norm_squared())
    };
    let spread = vectors.iter().map(|vector| length(&(vector - &mean))).sum::<Option<f64>>();
    let wald = length(&mean).ok_or_else(singular)?;
    let trace = spread.ok_or_else(singular)? / (tables - 1.0);
    let numerator = size as f64;
    let increase = (1.0 + 1.0 / tables) * trace / numerator;
    Ok(JointTest {
        statistic: wald / (numerator * (1.0 + increase)),
        numerator,
        denominator: joint_degrees(numerator, numerator * (tables - 1.0), increase),
    })
}

fn joint_degrees(size: f64, total: f64, increase: f64) -> f64 {
    if total > 4.0 {
        return 4.0 + (total - 4.0) * (1.0 + (1.0 - 2.0 / total) / increase).powi(2);
    }
    0.5 * total * (1.0 + 1.0 / size) * (1.0 + 1.0 / increase).powi(2)
}

fn check_joint(
    estimates: &[Vec<f64>],
    covariances: &[DMatrix<f64>],
    size: usize,
) -> Result<(), StatsError> {
    for (estimate, covariance) in estimates.iter().zip(covariances) {
        require_length("the list of estimates", size, estimate.len())?;
        crate::stats::error::require_finite("the list of estimates", estimate)?;
        require_length("the rows of a covariance", size, covariance.nrows())?;
        require_length("the columns of a covariance", size, covariance.ncols())?;
        crate::stats::error::require_finite("the covariance", covariance.as_slice())?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn estimate(value: f64, standard_error: f64, degrees_of_freedom: f64) -> Estimate {
        Estimate { value, standard_error, degrees_of_freedom }
    }

    #[test]
    fn a_hand_worked_pooling_is_met() {
        // means 1, 2, 3 with errors 1: U 1, B 1, T 1 + 4/3; v_m = 2 / (4/7)^2 = 6.125
        let tables = [1.0, 2.0, 3.0].map(|value| estimate(value, 1.0, f64::INFINITY));
        let pooled = pool(&tables).unwrap();
        assert!((pooled.estimate.value - 2.0).abs() < 1e-15);
        assert!((pooled.estimate.standard_error - (7.0_f64 / 3.0).sqrt()).abs() < 1e-15);
        assert!((pooled.estimate.degrees_of_freedom - 6.125).abs() < 1e-12);
        assert!((pooled.relative_increase - 4.0 / 3.0).abs() < 1e-15);
        // few rows: v_obs = 11/13 * 10 * 3/7
        let few = pool(&tables.map(|e| estimate(e.value, 1.0, 10.0))).unwrap();
        let rows = 11.0 / 13.0 * 10.0 * 3.0 / 7.0;
        let expected = 1.0 / (1.0 / 6.125 + 1.0 / rows);
        assert!((few.estimate.degrees_of_freedom - expected).abs() < 1e-12);
    }

    #[test]
    fn tables_that_agree_cost_nothing_between_them() {
        let pooled = pool(&[estimate(2.0, 0.5, f64::INFINITY); 4]).unwrap();
        assert_eq!((pooled.between, pooled.fraction_missing), (0.0, 0.0));
        assert_eq!(pooled.estimate.degrees_of_freedom, f64::INFINITY);
        // Barnard & Rubin still take (v + 1) / (v + 3) of few degrees of freedom
        let few = pool(&[estimate(2.0, 0.5, 10.0); 4]).unwrap();
        assert!((few.estimate.degrees_of_freedom - 110.0 / 13.0).abs() < 1e-12);
    }

    #[test]
    fn estimates_without_any_error_are_refused() {
        let none = pool(&[estimate(1.0, 0.0, 5.0), estimate(2.0, 0.0, 5.0)]);
        assert!(matches!(none, Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn one_table_and_nonsense_are_refused() {
        let good = estimate(1.0, 1.0, 5.0);
        assert!(matches!(pool(&[good]), Err(StatsError::TooFewGroups { found: 1, .. })));
        let nan = pool(&[good, estimate(f64::NAN, 1.0, 5.0)]);
        assert!(matches!(nan, Err(StatsError::NotFinite { row: 1, .. })));
        assert!(matches!(
            pool(&[good, estimate(1.0, -1.0, 5.0)]),
            Err(StatsError::OutOfRange { .. })
        ));
        assert!(matches!(
            pool(&[good, estimate(1.0, 1.0, f64::NAN)]),
            Err(StatsError::OutOfRange { .. })
        ));
    }

    #[test]
    fn the_joint_test_of_two_quantities_is_met_by_hand() {
        // U is the identity; means 2 and 0; deviations (1, 0), (-1, 0), (0, 0): trace 1, r = 4/3 / 2
        let estimates = [vec![3.0, 0.0], vec![1.0, 0.0], vec![2.0, 0.0]];
        let covariances = vec![DMatrix::identity(2, 2); 3];
        let found = pool_joint(&estimates, &covariances).unwrap();
        let r = 2.0 / 3.0;
        assert!((found.statistic - 4.0 / (2.0 * (1.0 + r))).abs() < 1e-14);
        // t = 4: 4 * 1.5 * (1 + 1.5)^2 / 2
        assert!((found.denominator - 18.75).abs() < 1e-12);
    }

    #[test]
    fn singular_or_ill_shaped_covariances_are_refused() {
        let estimates = [vec![1.0, 2.0], vec![2.0, 1.0]];
        let ones = vec![DMatrix::from_element(2, 2, 1.0); 2];
        assert!(matches!(pool_joint(&estimates, &ones), Err(StatsError::RankDeficient { .. })));
        let small = vec![DMatrix::identity(1, 1); 2];
        assert!(matches!(pool_joint(&estimates, &small), Err(StatsError::LengthMismatch { .. })));
        let none = [vec![], vec![]];
        assert!(pool_joint(&none, &vec![DMatrix::zeros(0, 0); 2]).is_err());
    }

    proptest! {
        #[test]
        fn one_quantity_tested_jointly_is_its_t_squared(
            values in prop::collection::vec((-3.0_f64..3.0, 0.1_f64..2.0), 2..9)
        ) {
            let pooled = pool(&values.iter().map(|v| estimate(v.0, v.1, f64::INFINITY)).collect::<Vec<_>>()).unwrap();
            let estimates: Vec<Vec<f64>> = values.iter().map(|v| vec![v.0]).collect();
            let covariances: Vec<_> = values.iter().map(|v| DMatrix::from_element(1, 1, v.1 * v.1)).collect();
            let joint = pool_joint(&estimates, &covariances).unwrap();
            prop_assert!((joint.statistic - pooled.estimate.t_statistic().powi(2)).abs() < 1e-9 * (1.0 + joint.statistic));
        }

        #[test]
        fn a_change_of_unit_leaves_the_shares(
            values in prop::collection::vec((-3.0_f64..3.0, 0.1_f64..2.0), 2..9), scale in 0.01_f64..100.0
        ) {
            let with = |scale: f64| {
                let scaled = values.iter().map(|v| estimate(scale * v.0, scale * v.1, 20.0));
                pool(&scaled.collect::<Vec<_>>()).unwrap()
            };
            let (plain, scaled) = (with(1.0), with(scale));
            prop_assert!((plain.fraction_missing - scaled.fraction_missing).abs() < 1e-9);
            prop_assert!((plain.estimate.degrees_of_freedom - scaled.estimate.degrees_of_freedom).abs() < 1e-7);
        }
    }
}
