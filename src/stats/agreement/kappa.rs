//! Two raters who put the same subjects into categories.

use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::Estimate;
use ndarray::Array2;
use std::collections::BTreeSet;

/// More categories than any scale has; a table of them still fits in memory.
const MOST_CATEGORIES: usize = 1_000;

/// How bad it is to differ by one category or by several.
#[derive(Debug, Clone, PartialEq)]
pub enum Weights {
    /// Any difference is as bad as any other: plain kappa.
    Equal,
    /// As bad as the codes are apart.
    Linear,
    /// As bad as the square of that; with equal margins an intraclass correlation (Fleiss & Cohen 1973).
    Quadratic,
    /// `k x k`, row the first rater's code, column the second's, codes from 0; zero on the diagonal, nowhere negative.
    Disagreement(Array2<f64>),
}

/// Agreement of two raters beyond chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CohenKappa {
    /// Kappa with the large-sample error that does not suppose chance agreement; for intervals. Infinite degrees of freedom. An error of zero is kept:
    /// raters who agree on everything show none.
    pub kappa: Estimate,
    /// Kappa's standard error where the raters agree by chance alone; for the test of that.
    pub chance_standard_error: f64,
    /// Weighted share of agreement, 1 where all agree.
    pub observed: f64,
    /// The same as expected by chance from the raters' own shares.
    pub expected: f64,
    /// Subjects.
    pub subjects: usize,
}

/// `kappa = (p_o - p_e) / (1 - p_e)` with agreement weights `w = 1 - v / max v` of the disagreements `v` (Cohen 1960, Educational and Psychological
/// Measurement 20, 37-46; Cohen 1968, Psychological Bulletin 70, 213-220) and the errors of Fleiss, Cohen & Everitt (1969, Psychological Bulletin 72, 323-327).
/// The raters give codes; linear and quadratic weights take the differences of codes.
///
/// # Errors
/// `Empty`, `LengthMismatch`; `OutOfRange` for over 1,000 categories or disagreements that are not as described; `NoVariation` where both raters use one and
/// the same category only.
pub fn cohen_kappa(
    first: &[usize],
    second: &[usize],
    weights: &Weights,
) -> Result<CohenKappa, StatsError> {
    require_length("the second rater's list", first.len(), second.len())?;
    if first.is_empty() {
        return Err(StatsError::Empty { what: "the first rater's list".into() });
    }
    let table = Table::new(first, second, weights)?;
    let observed = table.average(|i, j| table.weight(i, j));
    let expected = table.expected();
    if expected >= 1.0 {
        return Err(StatsError::NoVariation { what: "the category".into() });
    }
    let left = 1.0 - expected;
    let (of_first, of_second) = table.marginal_weights();
    let subjects = first.len() as f64;
    let spread = table.average(|i, j| {
        let margins = of_first[i] + of_second[j];
        (table.weight(i, j) * left - margins * (1.0 - observed)).powi(2)
    });
    let centre = observed * expected - 2.0 * expected + observed;
    let chance = table.chance_spread(&of_first, &of_second) - expected * expected;
    Ok(CohenKappa {
        kappa: Estimate {
            value: (observed - expected) / left,
            // rounding may lead just below zero where the raters agree on everything
            standard_error: ((spread - centre * centre).max(0.0) / subjects).sqrt() / (left * left),
            degrees_of_freedom: f64::INFINITY,
        },
        chance_standard_error: (chance.max(0.0) / subjects).sqrt() / left,
        observed,
        expected,
        subjects: first.len(),
    })
}

impl CohenKappa {
    /// Two-sided p value of "the raters agree by chance alone", by `kappa` over its error under chance.
    pub fn p_value(&self) -> f64 {
        let standard_error = self.chance_standard_error;
        Estimate { standard_error, ..self.kappa }.p_value()
    }
}

/// Pairs of categories, the categories that occur being numbered by rising code.
struct Table {
    /// `k x k` agreement weights.
    weights: Array2<f64>,
    /// Place of the category of each subject by first and second rater.
    pairs: Vec<(usize, usize)>,
    /// Shares of the categories by first and second rater.
    shares: [Vec<f64>; 2],
}

impl Table {
    fn new(first: &[usize], second: &[usize], weights: &Weights) -> Result<Self, StatsError> {
        let codes: BTreeSet<usize> = first.iter().chain(second).copied().collect();
        let codes: Vec<usize> = codes.into_iter().collect();
        if codes.len() > MOST_CATEGORIES {
            return Err(StatsError::OutOfRange {
                what: "the number of categories".into(),
                value: codes.len() as f64,
                expected: format!("at most {MOST_CATEGORIES}"),
            });
        }
        let weights = agreement_weights(&codes, weights)?;
        // every code is in the list, so the search always finds it
        let place = |code: &usize| codes.partition_point(|other| other < code);
        let pairs: Vec<(usize, usize)> =
            first.iter().zip(second).map(|(a, b)| (place(a), place(b))).collect();
        let mut shares = [vec![0.0; codes.len()], vec![0.0; codes.len()]];
        for &(i, j) in &pairs {
            shares[0][i] += 1.0;
            shares[1][j] += 1.0;
        }
        let count = pairs.len() as f64;
        shares.iter_mut().flatten().for_each(|share| *share /= count);
        Ok(Self { weights, pairs, shares })
    }

    fn weight(&self, first: usize, second: usize) -> f64 {
        self.weights[(first, second)]
    }

    /// Mean over the subjects.
    fn average(&self, of: impl Fn(usize, usize) -> f64) -> f64 {
        let total: f64 = self.pairs.iter().map(|&(i, j)| of(i, j)).sum();
        total / self.pairs.len() as f64
    }

    /// Mean over all pairs of categories, as if the raters were independent.
    fn chance_average(&self, of: impl Fn(usize, usize) -> f64) -> f64 {
        let cell =
            |((i, j), _): ((usize, usize), &f64)| self.shares[0][i] * self.shares[1][j] * of(i, j);
        self.weights.indexed_iter().map(cell).sum()
    }

    fn expected(&self) -> f64 {
        self.chance_average(|i, j| self.weight(i, j))
    }

    fn chance_spread(&self, of_first: &[f64], of_second: &[f64]) -> f64 {
        self.chance_average(|i, j| (self.weight(i, j) - of_first[i] - of_second[j]).powi(2))
    }

    /// Mean weight of each category of the first rater over the second's shares, and the other way round.
    fn marginal_weights(&self) -> (Vec<f64>, Vec<f64>) {
        let mean = |weights: ndarray::ArrayView1<'_, f64>, shares: &[f64]| -> f64 {
            weights.iter().zip(shares).map(|(weight, share)| weight * share).sum()
        };
        let rows = self.weights.rows().into_iter().map(|row| mean(row, &self.shares[1]));
        let columns = self.weights.columns().into_iter().map(|row| mean(row, &self.shares[0]));
        (rows.collect(), columns.collect())
    }
}

/// `1 - v / max v` over the categories that occur; a single one agrees with itself.
fn agreement_weights(codes: &[usize], weights: &Weights) -> Result<Array2<f64>, StatsError> {
    if let Weights::Disagreement(table) = weights {
        check_disagreements(table, codes)?;
    }
    let apart = |i: usize, j: usize| codes[i].abs_diff(codes[j]) as f64;
    let size = codes.len();
    let disagreements = Array2::from_shape_fn((size, size), |(i, j)| match weights {
        Weights::Equal => f64::from(u8::from(i != j)),
        Weights::Linear => apart(i, j),
        Weights::Quadratic => apart(i, j).powi(2),
        // the check has made sure of the size
        Weights::Disagreement(table) => table[(codes[i], codes[j])],
    });
    let most = disagreements.iter().copied().fold(0.0, f64::max);
    if most == 0.0 {
        return Ok(Array2::ones((size, size)));
    }
    Ok(disagreements.mapv(|value| 1.0 - value / most))
}

fn check_disagreements(table: &Array2<f64>, codes: &[usize]) -> Result<(), StatsError> {
    let needed = codes.last().map_or(0, |code| code.saturating_add(1));
    for found in [table.nrows(), table.ncols()] {
        if found < needed {
            let what = "the table of disagreements".into();
            return Err(StatsError::LengthMismatch { what, expected: needed, found });
        }
    }
    let valid = |((i, j), value): ((usize, usize), &f64)| {
        value.is_finite() && *value >= 0.0 && (i != j || *value == 0.0)
    };
    match table.indexed_iter().find(|&cell| !valid(cell)) {
        None => Ok(()),
        Some((_, &value)) => Err(StatsError::OutOfRange {
            what: "a disagreement".into(),
            value,
            expected: "zero on the diagonal, elsewhere finite and not negative".into(),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;
    use proptest::prelude::*;

    #[test]
    fn full_agreement_is_one_without_error() {
        let found = cohen_kappa(&[0, 1, 2, 1], &[0, 1, 2, 1], &Weights::Quadratic).unwrap();
        assert_eq!((found.kappa.value, found.kappa.standard_error), (1.0, 0.0));
    }

    #[test]
    fn errors_agree_with_statsmodels() {
        // statsmodels 0.15.0: cohens_kappa([[11, 3, 1], [2, 9, 4], [0, 2, 8]], wt=None, 'linear', 'quadratic'): kappa, std_kappa, std_kappa0
        let table = [[11, 3, 1], [2, 9, 4], [0, 2, 8]];
        let cells = (0..3).flat_map(|i| (0..3).map(move |j| (i, j)));
        let (first, second): (Vec<usize>, Vec<usize>) =
            cells.flat_map(|(i, j)| std::iter::repeat_n((i, j), table[i][j])).unzip();
        for (weights, kappa, error, chance) in [
            (Weights::Equal, 0.5492957746478873, 0.10846602352563664, 0.11116207035259694),
            (Weights::Linear, 0.6258992805755396, 0.09687080815474845, 0.12201086767011957),
            (Weights::Quadratic, 0.7058823529411764, 0.09376407141942616, 0.15609493458912407),
        ] {
            let found = cohen_kappa(&first, &second, &weights).unwrap();
            assert!((found.kappa.value - kappa).abs() < 1e-14);
            assert!((found.kappa.standard_error - error).abs() < 1e-14);
            assert!((found.chance_standard_error - chance).abs() < 1e-14);
        }
    }

    #[test]
    fn independent_raters_agree_by_chance() {
        let found = cohen_kappa(&[0, 0, 1, 1], &[0, 1, 0, 1], &Weights::Equal).unwrap();
        assert_eq!((found.kappa.value, found.p_value()), (0.0, 1.0));
        // two categories with equal shares: 1 / sqrt(n)
        assert!((found.chance_standard_error - 0.5).abs() < 1e-14);
    }

    #[test]
    fn one_category_for_all_is_refused() {
        for weights in [Weights::Equal, Weights::Linear, Weights::Quadratic] {
            let fault = cohen_kappa(&[3; 5], &[3; 5], &weights);
            assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
        }
        assert!(cohen_kappa(&[], &[], &Weights::Equal).is_err());
        assert!(cohen_kappa(&[1], &[], &Weights::Equal).is_err());
    }

    #[test]
    fn a_category_nobody_uses_keeps_its_distance() {
        let one = cohen_kappa(&[0, 0, 2, 4], &[0, 2, 2, 4], &Weights::Linear).unwrap();
        let other = cohen_kappa(&[0, 0, 1, 2], &[0, 1, 1, 2], &Weights::Linear).unwrap();
        assert_eq!(one.kappa, other.kappa);
        let uneven = cohen_kappa(&[0, 0, 1, 4], &[0, 1, 1, 4], &Weights::Linear).unwrap();
        assert!(uneven.kappa.value > one.kappa.value);
    }

    #[test]
    fn disagreements_that_make_no_sense_are_refused() {
        let codes = [0, 1, 1];
        let asked = |table| cohen_kappa(&codes, &[0, 0, 1], &Weights::Disagreement(table));
        assert!(asked(array![[0.0, 1.0], [1.0, 0.0]]).is_ok());
        assert!(matches!(asked(array![[0.0]]), Err(StatsError::LengthMismatch { .. })));
        for bad in [-1.0, f64::NAN] {
            let fault = asked(array![[0.0, bad], [1.0, 0.0]]);
            assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
        }
        assert!(asked(array![[1.0, 1.0], [1.0, 0.0]]).is_err());
    }

    #[test]
    fn a_thousand_and_one_categories_are_refused() {
        let codes: Vec<usize> = (0..1_001).collect();
        let fault = cohen_kappa(&codes, &codes, &Weights::Equal);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    }

    proptest! {
        #[test]
        fn two_categories_leave_nothing_to_weigh(
            pairs in prop::collection::vec((0_usize..2, 0_usize..2), 2..40)
        ) {
            let (a, b): (Vec<usize>, Vec<usize>) = pairs.into_iter().unzip();
            let plain = cohen_kappa(&a, &b, &Weights::Equal);
            prop_assert_eq!(&plain, &cohen_kappa(&a, &b, &Weights::Quadratic));
            if let (Ok(plain), Ok(turned)) = (plain, cohen_kappa(&b, &a, &Weights::Linear)) {
                prop_assert!((plain.kappa.value - turned.kappa.value).abs() < 1e-12);
            }
        }
    }
}
