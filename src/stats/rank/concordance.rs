//! Several rankings of the same things: Kendall's W, and Friedman's test, which is the same statistic.

use super::Ranking;
use crate::stats::error::{StatsError, require_count, require_finite};
use crate::stats::numeric::{chi_squared_sf, sum, sum_of_squares};
use ndarray::{Array2, ArrayView2};

/// How far several rankings of the same subjects agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Concordance {
    /// `W` from 0 to 1, corrected for ties.
    pub w: f64,
    /// `W` as if there were no ties.
    pub uncorrected: f64,
    /// How many rankings.
    pub raters: usize,
    /// How many subjects each of them ranks.
    pub subjects: usize,
}

/// `W = 12 S / (m^2 (n^3 - n) - m T)`: `S` is the spread of the `n` subjects' rank sums over `m` raters, `T = sum (t^3 - t)` over all ties within raters
/// (Kendall & Babington Smith 1939, Annals of Mathematical Statistics 10, 275-287; ties: Kendall & Gibbons 1990, section 6.8). `ratings` is subjects x raters.
///
/// # Errors
/// `Empty`, `NotFinite`; `TooFew` under two subjects or raters; `NoVariation` where every rater gives all subjects the same.
pub fn kendall_w(ratings: &Array2<f64>) -> Result<Concordance, StatsError> {
    concordance(ratings.view(), "raters", "subjects")
}

/// Friedman's test (Friedman 1937, Journal of the American Statistical Association 32, 675-701) of "the treatments do not differ" within blocks, through the
/// concordance of the blocks: `chi^2 = m (n - 1) W`. `values` is blocks x treatments; in the result, raters are blocks and subjects are treatments.
///
/// # Errors
/// As [`kendall_w`].
pub fn friedman(values: &Array2<f64>) -> Result<Concordance, StatsError> {
    concordance(values.t(), "blocks", "treatments")
}

fn concordance(
    ratings: ArrayView2<'_, f64>,
    raters_are: &str,
    subjects_are: &str,
) -> Result<Concordance, StatsError> {
    let (subjects, raters) = ratings.dim();
    require_count(subjects_are, 2, subjects)?;
    require_count(raters_are, 2, raters)?;
    let mut totals = vec![0.0; subjects];
    let mut ties = 0.0;
    for (number, column) in ratings.columns().into_iter().enumerate() {
        let column = column.to_vec();
        require_finite(&format!("number {number} of the {raters_are}"), &column)?;
        let ranking = Ranking::new(&column);
        ties += ranking.tie_term();
        totals.iter_mut().zip(&ranking.ranks).for_each(|(total, rank)| *total += rank);
    }
    let (n, m) = (subjects as f64, raters as f64);
    let untied = m * m * n * (n * n - 1.0);
    let left = untied - m * ties;
    if left <= 0.0 {
        return Err(StatsError::NoVariation { what: format!("any of the {raters_are}") });
    }
    let spread = 12.0 * spread(&totals);
    Ok(Concordance { w: spread / left, uncorrected: spread / untied, raters, subjects })
}

fn spread(totals: &[f64]) -> f64 {
    let centre = sum(totals) / totals.len() as f64;
    let deviations: Vec<f64> = totals.iter().map(|total| total - centre).collect();
    sum_of_squares(&deviations)
}

impl Concordance {
    /// `m (n - 1) W`, nearly chi-squared where there is no agreement.
    pub fn chi_squared(&self) -> f64 {
        self.raters as f64 * self.degrees_of_freedom() * self.w
    }

    /// `n - 1`.
    pub fn degrees_of_freedom(&self) -> f64 {
        self.subjects as f64 - 1.0
    }

    /// p value of "no agreement" by the chi-squared distribution; rough with fewer than about ten raters.
    pub fn p_value(&self) -> f64 {
        chi_squared_sf(self.chi_squared(), self.degrees_of_freedom())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn equal_rankings_agree_fully_and_opposite_ones_not_at_all() {
        let same = kendall_w(&array![[1.0, 10.0], [2.0, 20.0], [3.0, 30.0]]).unwrap();
        assert_eq!(same.w, 1.0);
        let opposite = kendall_w(&array![[1.0, 3.0], [2.0, 2.0], [3.0, 1.0]]).unwrap();
        assert_eq!((opposite.w, opposite.p_value()), (0.0, 1.0));
    }

    #[test]
    fn equal_rankings_with_ties_still_agree_fully() {
        let same = kendall_w(&array![[1.0, 5.0], [1.0, 5.0], [3.0, 6.0], [4.0, 9.0]]).unwrap();
        assert!((same.w - 1.0).abs() < 1e-15);
        assert!(same.uncorrected < 1.0);
    }

    #[test]
    fn tied_blocks_agree_with_scipy() {
        // scipy 1.17.1: stats.friedmanchisquare([1, 2, 2, 4], [3, 3, 3, 5], [2, 2, 4, 4])
        let table = array![[1.0, 3.0, 2.0], [2.0, 3.0, 2.0], [2.0, 3.0, 4.0], [4.0, 5.0, 4.0]];
        let found = friedman(&table).unwrap();
        assert!((found.chi_squared() - 5.142857142857143).abs() < 1e-13);
        assert!((found.p_value() - 0.07642628699076809).abs() < 1e-13);
    }

    #[test]
    fn friedman_turns_the_table() {
        let table = array![[1.0, 2.0, 3.0], [1.0, 3.0, 2.0], [2.0, 1.0, 3.0], [1.0, 2.0, 3.0]];
        let turned = table.t().to_owned();
        assert_eq!(friedman(&table).unwrap(), kendall_w(&turned).unwrap());
    }

    #[test]
    fn a_single_rater_a_single_subject_and_all_ties_are_refused() {
        let one_rater = kendall_w(&array![[1.0], [2.0]]).unwrap_err();
        assert_eq!(one_rater.to_string(), "1 raters; at least 2 are needed");
        assert!(matches!(kendall_w(&array![[1.0, 2.0]]), Err(StatsError::TooFew { .. })));
        let flat = Array2::from_elem((4, 3), 2.0);
        assert!(matches!(kendall_w(&flat), Err(StatsError::NoVariation { .. })));
        let missing = kendall_w(&array![[1.0, 2.0], [f64::NAN, 1.0]]);
        assert!(matches!(missing, Err(StatsError::NotFinite { row: 1, .. })));
    }
}
