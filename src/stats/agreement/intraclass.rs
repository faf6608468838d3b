//! Intraclass correlations of a full table of ratings.

use crate::stats::error::{StatsError, require_count, require_finite, require_level};
use crate::stats::estimate::JointTest;
use crate::stats::numeric::f_quantile;
use crate::stats::repeatability::{crossed_study, rounding_of};
use ndarray::Array2;

/// What the raters stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IntraclassForm {
    /// ICC(1): every subject may have other raters, so their leniency is part of the error.
    OneWay,
    /// ICC(2): the same raters, drawn from many; their leniency counts against agreement.
    TwoWayRandom,
    /// ICC(3): these raters and no others; their leniency is left out (consistency).
    TwoWayMixed,
}

/// Of what the reliability is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatingUnit {
    /// One rating.
    Single,
    /// The mean of all raters' ratings.
    Average,
}

/// The mean squares of a table of ratings, from which every intraclass correlation follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intraclass {
    /// Subjects `n`.
    pub subjects: usize,
    /// Raters `k`.
    pub raters: usize,
    /// Between subjects, `n - 1` degrees of freedom, in squared units as the others.
    pub subject_mean_square: f64,
    /// Between raters, `k - 1`.
    pub rater_mean_square: f64,
    /// What neither explains, `(n - 1)(k - 1)`.
    pub error_mean_square: f64,
    /// Within subjects, `n (k - 1)`.
    pub within_mean_square: f64,
}

/// Intraclass correlations of complete ratings, `ratings` being subjects x raters (Shrout & Fleiss 1979, Psychological Bulletin 86, 420-428; McGraw & Wong
/// 1996, Psychological Methods 1, 30-46). With ratings missing, see [`super::intraclass_one_way`].
///
/// # Errors
/// `TooFew` under two subjects or raters; `NotFinite`, rows counted along the table; `NoVariation` where all ratings are equal.
pub fn intraclass(ratings: &Array2<f64>) -> Result<Intraclass, StatsError> {
    let (subjects, raters) = ratings.dim();
    require_count("subjects", 2, subjects)?;
    require_count("raters", 2, raters)?;
    let values: Vec<f64> = ratings.iter().copied().collect();
    require_finite("the ratings", &values)?;
    let (rows, columns): (Vec<usize>, Vec<usize>) =
        ratings.indexed_iter().map(|(place, _)| place).unzip();
    let table = crossed_study(&values, &rows, &columns)?;
    // a spread that is only rounding is none
    let noise = rounding_of(&values);
    let kept = |mean_square: f64| if mean_square <= noise { 0.0 } else { mean_square };
    let within = (table.appraiser.sum_of_squares + table.interaction.sum_of_squares)
        / (subjects * (raters - 1)) as f64;
    let found = Intraclass {
        subjects,
        raters,
        subject_mean_square: kept(table.part.mean_square()),
        rater_mean_square: kept(table.appraiser.mean_square()),
        error_mean_square: kept(table.interaction.mean_square()),
        within_mean_square: kept(within),
    };
    if found.subject_mean_square + found.within_mean_square == 0.0 {
        return Err(StatsError::NoVariation { what: "the ratings".into() });
    }
    Ok(found)
}

impl Intraclass {
    /// With mean squares B between subjects, W within, J between raters and E of error: `(B - W) / (B + (k - 1) W)`, `(B - E) / (B + (k - 1) E + k (J - E) /
    /// n)` and `(B - E) / (B + (k - 1) E)` for a single rating; `(B - W) / B`, `(B - E) / (B + (J - E) / n)` and `(B - E) / B` for the average. Negative
    /// values mean that subjects differ less than chance would have them.
    ///
    /// # Errors
    /// `NoVariation` where the divisor is not positive: the raters see no difference between subjects.
    pub fn coefficient(&self, form: IntraclassForm, unit: RatingUnit) -> Result<f64, StatsError> {
        let between = self.subject_mean_square;
        let error = self.error_of(form);
        let leniency = match form {
            IntraclassForm::TwoWayRandom => (self.rater_mean_square - error) / self.subjects as f64,
            IntraclassForm::OneWay | IntraclassForm::TwoWayMixed => 0.0,
        };
        let k = self.raters as f64;
        let below = match unit {
            RatingUnit::Single => between + (k - 1.0) * error + k * leniency,
            RatingUnit::Average => between + leniency,
        };
        if below <= 0.0 {
            return Err(StatsError::NoVariation { what: "the mean rating of subjects".into() });
        }
        Ok((between - error) / below)
    }

    /// F test of "the intraclass correlation is zero", the same for single and average ratings: `B / W` on `n - 1` and `n (k - 1)` degrees of freedom, or
    /// `B / E` on `n - 1` and `(n - 1)(k - 1)`. Infinite for raters who agree perfectly.
    ///
    /// # Errors
    /// `NoVariation` where neither mean square is positive.
    pub fn test(&self, form: IntraclassForm) -> Result<JointTest, StatsError> {
        let (between, error) = (self.subject_mean_square, self.error_of(form));
        if between == 0.0 && error == 0.0 {
            return Err(StatsError::NoVariation { what: "the ratings, leniency apart,".into() });
        }
        Ok(JointTest {
            statistic: between / error,
            numerator: self.subjects as f64 - 1.0,
            denominator: self.error_degrees_of_freedom(form),
        })
    }

    /// Interval at a level for normal ratings: exact for forms 1 and 3, for form 2 with the Satterthwaite degrees of freedom of Fleiss & Shrout (1978,
    /// Psychometrika 43, 259-262). The average's ends are those of the single rating by Spearman-Brown, `k r / (1 + (k - 1) r)`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `NoVariation` as [`Intraclass::coefficient`], and for raters who agree perfectly, whose error cannot be seen.
    pub fn interval(
        &self,
        form: IntraclassForm,
        unit: RatingUnit,
        level: f64,
    ) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        if self.error_of(form) == 0.0 {
            let what = "the disagreement of raters".into();
            return Err(StatsError::NoVariation { what });
        }
        let upper = 0.5 * (1.0 + level);
        let (low, high) = match form {
            IntraclassForm::TwoWayRandom => self.random_interval(upper)?,
            IntraclassForm::OneWay | IntraclassForm::TwoWayMixed => {
                self.exact_interval(form, upper)
            }
        };
        let k = self.raters as f64;
        let average = |r: f64| k * r / (1.0 + (k - 1.0) * r);
        Ok(match unit {
            RatingUnit::Single => (low, high),
            RatingUnit::Average => (average(low), average(high)),
        })
    }

    /// `(F - 1) / (F + k - 1)` at the statistic divided and multiplied by F quantiles.
    fn exact_interval(&self, form: IntraclassForm, upper: f64) -> (f64, f64) {
        let statistic = self.subject_mean_square / self.error_of(form);
        let (first, second) = (self.subjects as f64 - 1.0, self.error_degrees_of_freedom(form));
        let correlation = |f: f64| (f - 1.0) / (f + self.raters as f64 - 1.0);
        (
            correlation(statistic / f_quantile(upper, first, second)),
            correlation(statistic * f_quantile(upper, second, first)),
        )
    }

    fn random_interval(&self, upper: f64) -> Result<(f64, f64), StatsError> {
        let (n, k) = (self.subjects as f64, self.raters as f64);
        let (b, j, e) = (self.subject_mean_square, self.rater_mean_square, self.error_mean_square);
        let rho = self.coefficient(IntraclassForm::TwoWayRandom, RatingUnit::Single)?;
        let of_raters = k * rho * j;
        let of_error = (n * (1.0 + (k - 1.0) * rho) - k * rho) * e;
        let parts = (n - 1.0) * of_raters.powi(2) + of_error.powi(2);
        let df = (k - 1.0) * (n - 1.0) * (of_raters + of_error).powi(2) / parts;
        let others = k * j + (k * n - k - n) * e;
        let low_f = f_quantile(upper, n - 1.0, df);
        let high_f = f_quantile(upper, df, n - 1.0);
        let low = n * (b - low_f * e) / (low_f * others + n * b);
        let high = n * (high_f * b - e) / (others + n * high_f * b);
        Ok((low, high))
    }

    fn error_of(&self, form: IntraclassForm) -> f64 {
        match form {
            IntraclassForm::OneWay => self.within_mean_square,
            IntraclassForm::TwoWayRandom | IntraclassForm::TwoWayMixed => self.error_mean_square,
        }
    }

    fn error_degrees_of_freedom(&self, form: IntraclassForm) -> f64 {
        let (n, k) = (self.subjects as f64, self.raters as f64);
        match form {
            IntraclassForm::OneWay => n * (k - 1.0),
            IntraclassForm::TwoWayRandom | IntraclassForm::TwoWayMixed => (n - 1.0) * (k - 1.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use IntraclassForm::{OneWay, TwoWayMixed, TwoWayRandom};
    use RatingUnit::{Average, Single};
    use ndarray::array;
    use proptest::prelude::*;

    #[test]
    fn raters_a_constant_apart_are_consistent_and_do_not_agree() {
        let found = intraclass(&array![[0.1, 1.1], [0.2, 1.2], [0.4, 1.4]]).unwrap();
        assert_eq!(found.coefficient(TwoWayMixed, Single).unwrap(), 1.0);
        assert!(found.coefficient(TwoWayRandom, Single).unwrap() < 0.1);
        assert!(found.coefficient(OneWay, Single).unwrap() < 0.0);
        assert_eq!(found.test(TwoWayMixed).unwrap().p_value(), 0.0);
        let interval = found.interval(TwoWayMixed, Single, 0.95);
        assert!(matches!(interval, Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn perfect_agreement_is_one_and_has_no_interval() {
        let found = intraclass(&array![[0.1, 0.1], [0.7, 0.7], [0.3, 0.3]]).unwrap();
        for form in [OneWay, TwoWayRandom, TwoWayMixed] {
            assert_eq!(found.coefficient(form, Single).unwrap(), 1.0);
            assert_eq!(found.coefficient(form, Average).unwrap(), 1.0);
            assert!(found.interval(form, Single, 0.95).is_err());
        }
    }

    #[test]
    fn subjects_with_the_same_mean_have_no_average_reliability() {
        let found = intraclass(&array![[1.0, 3.0], [3.0, 1.0]]).unwrap();
        assert_eq!(found.coefficient(OneWay, Single).unwrap(), -1.0);
        for form in [OneWay, TwoWayRandom, TwoWayMixed] {
            let average = found.coefficient(form, Average);
            assert!(matches!(average, Err(StatsError::NoVariation { .. })));
        }
    }

    #[test]
    fn one_rater_one_subject_equal_ratings_and_gaps_are_refused() {
        let message = intraclass(&array![[1.0], [2.0]]).unwrap_err().to_string();
        assert_eq!(message, "1 raters; at least 2 are needed");
        assert!(matches!(intraclass(&array![[1.0, 2.0]]), Err(StatsError::TooFew { .. })));
        let flat = intraclass(&Array2::from_elem((4, 3), 0.1));
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        let gap = intraclass(&array![[1.0, 2.0], [f64::NAN, 3.0]]);
        assert!(matches!(gap, Err(StatsError::NotFinite { row: 2, .. })));
    }

    #[test]
    fn raters_who_only_differ_in_leniency_see_no_subjects() {
        let found = intraclass(&array![[1.0, 2.0], [1.0, 2.0], [1.0, 2.0]]).unwrap();
        assert!(found.coefficient(TwoWayMixed, Single).is_err());
        assert!(found.test(TwoWayMixed).is_err());
        assert_eq!(found.coefficient(TwoWayRandom, Single).unwrap(), 0.0);
    }

    proptest! {
        #[test]
        fn the_coefficient_lies_in_its_interval_whatever_the_unit(
            ratings in prop::collection::vec(-9.0_f64..9.0, 24), scale in 0.01_f64..100.0
        ) {
            let table = Array2::from_shape_vec((8, 3), ratings).unwrap();
            let found = intraclass(&table).unwrap();
            let other = intraclass(&table.mapv(|rating| 5.0 - scale * rating)).unwrap();
            for form in [OneWay, TwoWayRandom, TwoWayMixed] {
                let value = found.coefficient(form, Single).unwrap();
                let (low, high) = found.interval(form, Single, 0.9).unwrap();
                prop_assert!(low <= value && value <= high && high < 1.0);
                prop_assert!((other.coefficient(form, Single).unwrap() - value).abs() < 1e-8);
            }
        }
    }
}
