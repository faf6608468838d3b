//! Analysis of variance: one factor, or several terms one after the other.

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::JointTest;
use crate::stats::multiplicity::GroupMeans;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, sum, sum_of_squares};
use std::collections::BTreeMap;

/// A residual sum of squares below this share of the whole is rounding.
const ROUNDING: f64 = 1e-24;

/// A one-way analysis of variance.
#[derive(Debug, Clone, PartialEq)]
pub struct OneWay {
    /// Means, sizes and the residual variance, groups in the order of their codes.
    pub groups: GroupMeans,
    /// `sum n_g (mean_g - mean)^2`, in squared units.
    pub between: f64,
    /// `sum (y - mean_g)^2`, in squared units.
    pub within: f64,
}

impl OneWay {
    /// F test that all group means are equal.
    pub fn test(&self) -> JointTest {
        let numerator = self.groups.means.len() as f64 - 1.0;
        JointTest {
            statistic: self.between / numerator / self.groups.residual_variance,
            numerator,
            denominator: self.groups.degrees_of_freedom,
        }
    }

    /// Share of the total sum of squares between groups, without unit.
    pub fn eta_squared(&self) -> f64 {
        self.between / (self.between + self.within)
    }
}

/// One-way analysis of variance (Fisher 1925) of rows with a group code each, by corrected means.
///
/// # Errors
/// `Empty`, `NotFinite`, `LengthMismatch`; `TooFewGroups` under two; `NoDegreesOfFreedom` where every group has one row; `NoVariation` for an outcome that
/// does not vary within groups.
pub fn one_way(outcome: &[f64], groups: &[usize]) -> Result<OneWay, StatsError> {
    require_length("the list of groups", outcome.len(), groups.len())?;
    let mut samples: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for (&value, &group) in outcome.iter().zip(groups) {
        samples.entry(group).or_default().push(value);
    }
    let samples: Vec<&[f64]> = samples.values().map(Vec::as_slice).collect();
    one_way_of_samples(&samples)
}

/// [`one_way`] of samples that are apart already.
///
/// # Errors
/// As [`one_way`].
pub fn one_way_of_samples(samples: &[&[f64]]) -> Result<OneWay, StatsError> {
    if samples.len() < 2 {
        return Err(StatsError::TooFewGroups { found: samples.len(), needed: 2 });
    }
    let means = samples.iter().map(|sample| mean(sample)).collect::<Result<Vec<f64>, _>>()?;
    let sizes: Vec<usize> = samples.iter().map(|sample| sample.len()).collect();
    let rows: usize = sizes.iter().sum();
    let centre = mean(&samples.concat())?;
    let within = samples.iter().zip(&means).map(|(sample, &mean)| squares_about(sample, mean));
    let within = sum(&within.collect::<Vec<f64>>());
    let shares =
        means.iter().zip(&sizes).map(|(mean, &size)| size as f64 * (mean - centre).powi(2));
    let between = sum(&shares.collect::<Vec<f64>>());
    if rows == samples.len() {
        return Err(StatsError::NoDegreesOfFreedom { what: "the spread within groups".into() });
    }
    if within <= ROUNDING * (within + between + centre * centre) {
        return Err(StatsError::NoVariation { what: "the outcome within groups".into() });
    }
    let degrees_of_freedom = (rows - samples.len()) as f64;
    let residual_variance = within / degrees_of_freedom;
    let groups = GroupMeans { means, sizes, residual_variance, degrees_of_freedom };
    Ok(OneWay { groups, between, within })
}

fn squares_about(sample: &[f64], centre: f64) -> f64 {
    let deviations: Vec<f64> = sample.iter().map(|value| value - centre).collect();
    sum_of_squares(&deviations)
}

/// What one term adds to the terms before it.
#[derive(Debug, Clone, PartialEq)]
pub struct AnovaRow {
    /// The name of the term.
    pub name: String,
    /// Independent columns that it adds.
    pub degrees_of_freedom: usize,
    /// By how much it lowers the residual sum of squares, in squared units.
    pub sum_of_squares: f64,
    /// F test against the final residual; none for a term that adds no column.
    pub test: Option<JointTest>,
}

/// A table of terms in their order, and what is left.
#[derive(Debug, Clone, PartialEq)]
pub struct SequentialAnova {
    /// One row a term.
    pub rows: Vec<AnovaRow>,
    /// Residual degrees of freedom.
    pub residual_degrees_of_freedom: usize,
    /// Residual sum of squares, in squared units.
    pub residual_sum_of_squares: f64,
}

/// Sequential analysis of variance: each term's sum of squares after the terms before it, by one QR factorisation (Chambers & Hastie 1992, chapter 5). With
/// balanced blocks the order does not matter.
///
/// `terms` gives the name and the number of columns of each term, in the order of the design's columns; an intercept in front belongs to no term. Columns
/// that those before them explain add no degree of freedom.
///
/// # Errors
/// `LengthMismatch` of rows or of columns and terms; `NotFinite`; `NoDegreesOfFreedom` where no residual is left; `NoVariation` where the residual is only
/// rounding.
pub fn sequential_anova(
    design: &Design,
    terms: &[(&str, usize)],
    outcome: &[f64],
) -> Result<SequentialAnova, StatsError> {
    require_length("the outcome", design.rows(), outcome.len())?;
    require_finite("the outcome", outcome)?;
    let skipped = usize::from(design.has_intercept());
    let named: usize = terms.iter().map(|(_, columns)| columns).sum();
    require_length("the terms' columns", design.columns() - skipped, named)?;
    let qr = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE);
    let effects = qr.effects(&centred(outcome, design.has_intercept())?);
    let (explained, left) = effects.split_at(qr.rank());
    let residual = residual(left, sum_of_squares(outcome))?;
    let mut first = skipped;
    let rows = terms.iter().map(|&(name, columns)| {
        let range = first..first + columns;
        first += columns;
        let own = qr.kept().iter().zip(explained).filter(|(column, _)| range.contains(column));
        let own: Vec<f64> = own.map(|(_, &effect)| effect).collect();
        row(name, &own, residual, left.len())
    });
    Ok(SequentialAnova {
        rows: rows.collect(),
        residual_degrees_of_freedom: left.len(),
        residual_sum_of_squares: residual,
    })
}

fn centred(outcome: &[f64], has_intercept: bool) -> Result<Vec<f64>, StatsError> {
    let centre = if has_intercept { mean(outcome)? } else { 0.0 };
    Ok(outcome.iter().map(|value| value - centre).collect())
}

fn residual(left: &[f64], whole: f64) -> Result<f64, StatsError> {
    if left.is_empty() {
        return Err(StatsError::NoDegreesOfFreedom { what: "the residual".into() });
    }
    let residual = sum_of_squares(left);
    if residual <= ROUNDING * whole {
        return Err(StatsError::NoVariation { what: "the residual".into() });
    }
    Ok(residual)
}

fn row(name: &str, effects: &[f64], residual: f64, residual_df: usize) -> AnovaRow {
    let explained = sum_of_squares(effects);
    let numerator = effects.len() as f64;
    let denominator = residual_df as f64;
    let statistic = explained / numerator / (residual / denominator);
    let test = JointTest { statistic, numerator, denominator };
    AnovaRow {
        name: name.into(),
        degrees_of_freedom: effects.len(),
        sum_of_squares: explained,
        test: (!effects.is_empty()).then_some(test),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_worked_table_is_met() {
        // means 2 and 5 of three rows each: between 13.5, within 2 + 2
        let found = one_way(&[1.0, 4.0, 2.0, 5.0, 3.0, 6.0], &[0, 9, 0, 9, 0, 9]).unwrap();
        assert_eq!(found.groups.means, [2.0, 5.0]);
        assert!((found.between - 13.5).abs() < 1e-13 && (found.within - 4.0).abs() < 1e-13);
        assert!((found.test().statistic - 13.5).abs() < 1e-12);
    }

    #[test]
    fn one_factor_is_the_same_in_both_forms() {
        let outcome = [3.0, 1.0, 4.0, 1.5, 9.0, 2.6];
        let levels: Vec<String> = ["a", "b", "a", "b", "c", "c"].map(String::from).into();
        let design = Design::builder(6).intercept().choice("arm", &levels, None).build().unwrap();
        let table = sequential_anova(&design, &[("arm", 2)], &outcome).unwrap();
        let one = one_way(&outcome, &[0, 1, 0, 1, 2, 2]).unwrap();
        let test = table.rows[0].test.unwrap();
        assert!((test.statistic - one.test().statistic).abs() < 1e-11);
        assert_eq!(test.denominator, 3.0);
    }

    #[test]
    fn a_term_that_repeats_another_adds_nothing() {
        let x = [1.0, 2.0, 3.0, 5.0];
        let design =
            Design::builder(4).intercept().number("x", &x).number("again", &x).build().unwrap();
        let terms = [("x", 1), ("again", 1)];
        let table = sequential_anova(&design, &terms, &[1.0, 2.0, 2.0, 7.0]).unwrap();
        assert_eq!(table.rows[1].degrees_of_freedom, 0);
        assert_eq!(table.rows[1].test, None);
        assert_eq!(table.residual_degrees_of_freedom, 2);
    }

    #[test]
    fn degenerate_tables_are_refused() {
        let constant = one_way(&[1.1; 4], &[0, 0, 1, 1]);
        assert!(matches!(constant, Err(StatsError::NoVariation { .. })));
        let single = one_way(&[1.0, 2.0], &[0, 1]);
        assert!(matches!(single, Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(matches!(one_way(&[1.0, 2.0], &[3, 3]), Err(StatsError::TooFewGroups { .. })));
        assert!(one_way(&[1.0, f64::NAN, 2.0], &[0, 0, 1]).is_err());
        assert!(one_way(&[], &[]).is_err());
        let x = [1.0, 2.0, 3.0];
        let design = Design::builder(3).intercept().number("x", &x).build().unwrap();
        let exact = sequential_anova(&design, &[("x", 1)], &[2.0, 4.0, 6.0]);
        assert!(matches!(exact, Err(StatsError::NoVariation { .. })));
        assert!(sequential_anova(&design, &[], &[2.0, 4.0, 7.0]).is_err());
        let full = Design::builder(2).intercept().number("x", &x[..2]).build().unwrap();
        let none = sequential_anova(&full, &[("x", 1)], &[2.0, 4.0]);
        assert!(matches!(none, Err(StatsError::NoDegreesOfFreedom { .. })));
    }

    #[test]
    fn one_huge_value_leaves_a_finite_table() {
        let found = one_way(&[1.0, 2.0, 1e150, 3.0], &[0, 0, 1, 1]).unwrap();
        assert!(found.test().p_value() > 0.0 && found.within.is_finite());
    }
}
