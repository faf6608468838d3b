//! How far readings of the same thing differ: repeat readings, two methods side by side, and the crossed measurement study.

mod crossed;
mod limits;
mod one_way;

pub use crossed::{
    CrossedStudy, Interaction, MeasurementComponents, SourceOfSpread, VarianceComponent,
    crossed_study,
};
pub use limits::{LimitsOfAgreement, limits_of_agreement};
pub use one_way::{GroupMean, OneWay, one_way};
pub(crate) use one_way::{group_values, rounding_of};

use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::chi_squared_quantile;

/// Half the width of a 95 % range in standard deviations, as the repeatability coefficient is defined.
const NINETY_FIVE: f64 = 1.96;

/// What repeat readings of the same subjects say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// How many subjects.
    pub subjects: usize,
    /// How many readings in all.
    pub readings: usize,
    /// `s_w`: standard deviation of readings of one subject, in the unit of the readings; zero is kept.
    pub within_standard_deviation: f64,
    /// Readings less subjects.
    pub within_degrees_of_freedom: f64,
    /// Variance of the subjects' true values by the method of moments, in squared units; negative where the subjects differ less than chance would have
    /// them, none for a single subject.
    pub between_variance: Option<f64>,
}

/// Repeat readings by one-way analysis of variance: `s_w^2` is the within mean square (Bland & Altman 1996, British Medical Journal 312, 1654). `subjects`
/// gives each reading the code of its subject; any number of readings a subject, one too.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `NoDegreesOfFreedom` where no subject was read twice.
pub fn repeat_readings(readings: &[f64], subjects: &[usize]) -> Result<Repeatability, StatsError> {
    let analysis = one_way::decompose(readings, subjects)?;
    let within = analysis.within_mean_square()?;
    let several = analysis.groups.len() > 1;
    Ok(Repeatability {
        subjects: analysis.groups.len(),
        readings: analysis.count,
        within_standard_deviation: within.sqrt(),
        within_degrees_of_freedom: analysis.within_degrees_of_freedom(),
        between_variance: if several { Some(analysis.between_variance()?) } else { None },
    })
}

impl Repeatability {
    /// `1.96 sqrt(2) s_w`: two readings of one subject differ by less in 95 of 100 cases (Bland & Altman 1996), in the unit of the readings.
    pub fn coefficient(&self) -> f64 {
        NINETY_FIVE * std::f64::consts::SQRT_2 * self.within_standard_deviation
    }

    /// Interval of `s_w` for normal readings: `s_w sqrt(df / q)` with the chi-squared quantiles `(1 + level) / 2` and `(1 - level) / 2`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`.
    pub fn within_interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let df = self.within_degrees_of_freedom;
        let end = |probability: f64| {
            self.within_standard_deviation * (df / chi_squared_quantile(probability, df)).sqrt()
        };
        Ok((end(0.5 * (1.0 + level)), end(0.5 * (1.0 - level))))
    }

    /// Reliability `lambda = between / (between + within)`, a negative between variance counting as none: the share of the spread of single readings that is
    /// real (Fuller 1987, Measurement Error Models, section 1.1). Its exact interval is that of [`crate::stats::agreement::intraclass_one_way`].
    ///
    /// # Errors
    /// `TooFewGroups` for a single subject; `NoVariation` where all readings are equal.
    pub fn reliability(&self) -> Result<f64, StatsError> {
        let single = StatsError::TooFewGroups { found: self.subjects, needed: 2 };
        let between = self.between_variance.ok_or(single)?.max(0.0);
        let total = between + self.within_standard_deviation.powi(2);
        if total == 0.0 {
            return Err(StatsError::NoVariation { what: "the readings".into() });
        }
        Ok(between / total)
    }

    /// The rest, `1 - lambda`: the share of the spread of single readings that is measuring error.
    ///
    /// # Errors
    /// As [`Repeatability::reliability`].
    pub fn within_share(&self) -> Result<f64, StatsError> {
        Ok(1.0 - self.reliability()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_hand_worked_example_of_four_readings_is_met() {
        // two subjects read twice: differences 2 and 4, so s_w^2 = (4 + 16) / 4
        let found = repeat_readings(&[10.0, 12.0, 20.0, 24.0], &[0, 0, 1, 1]).unwrap();
        assert!((found.within_standard_deviation - 5.0_f64.sqrt()).abs() < 1e-14);
        assert!((found.coefficient() - 1.96 * 10.0_f64.sqrt()).abs() < 1e-13);
        // between mean square 121, so (121 - 5) / 2
        assert!((found.between_variance.unwrap() - 58.0).abs() < 1e-12);
        assert!((found.reliability().unwrap() - 58.0 / 63.0).abs() < 1e-14);
    }

    #[test]
    fn one_subject_read_often_has_a_repeatability_and_no_reliability() {
        let found = repeat_readings(&[1.0, 2.0, 3.0], &[5, 5, 5]).unwrap();
        assert_eq!(found.within_standard_deviation, 1.0);
        assert!(matches!(found.reliability(), Err(StatsError::TooFewGroups { found: 1, .. })));
    }

    #[test]
    fn readings_that_repeat_exactly_are_kept_and_are_reliable() {
        let found = repeat_readings(&[0.1, 0.1, 0.7, 0.7], &[0, 0, 1, 1]).unwrap();
        assert_eq!((found.coefficient(), found.reliability().unwrap()), (0.0, 1.0));
        assert_eq!(found.within_interval(0.95).unwrap(), (0.0, 0.0));
    }

    #[test]
    fn subjects_that_differ_less_than_chance_have_no_reliability_left() {
        let found = repeat_readings(&[1.0, 3.0, 3.0, 1.0], &[0, 0, 1, 1]).unwrap();
        assert!(found.between_variance.unwrap() < 0.0);
        assert_eq!(found.reliability().unwrap(), 0.0);
    }

    #[test]
    fn equal_readings_and_single_readings_are_refused() {
        let flat = repeat_readings(&[2.0; 4], &[0, 0, 1, 1]).unwrap();
        assert!(matches!(flat.reliability(), Err(StatsError::NoVariation { .. })));
        let single = repeat_readings(&[1.0, 2.0], &[0, 1]);
        assert!(matches!(single, Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(repeat_readings(&[], &[]).is_err());
        assert!(repeat_readings(&[1.0, f64::NAN], &[0, 0]).is_err());
    }

    #[test]
    fn the_interval_of_the_spread_undoes_the_chi_squared_tails() {
        // df 10: 0.025 and 0.975 quantiles 3.247 and 20.483 (Fisher & Yates 1963, table IV, from memory)
        let readings: Vec<f64> = (0..20).map(|i| f64::from(i % 2)).collect();
        let subjects: Vec<usize> = (0..20).map(|i| i / 2).collect();
        let found = repeat_readings(&readings, &subjects).unwrap();
        let (low, high) = found.within_interval(0.95).unwrap();
        let s = found.within_standard_deviation;
        assert!((low / s - (10.0_f64 / 20.483).sqrt()).abs() < 1e-4);
        assert!((high / s - (10.0_f64 / 3.247).sqrt()).abs() < 2e-4);
    }

    proptest! {
        #[test]
        fn duplicates_have_half_the_mean_squared_difference(
            pairs in prop::collection::vec((-9.0_f64..9.0, -9.0_f64..9.0), 2..20)
        ) {
            let readings: Vec<f64> = pairs.iter().flat_map(|pair| [pair.0, pair.1]).collect();
            let subjects: Vec<usize> = (0..readings.len()).map(|i| i / 2).collect();
            let squares: f64 = pairs.iter().map(|pair| (pair.0 - pair.1).powi(2)).sum();
            let expected = (0.5 * squares / pairs.len() as f64).sqrt();
            let found = repeat_readings(&readings, &subjects).unwrap();
            prop_assert!((found.within_standard_deviation - expected).abs() < 1e-9);
        }
    }
}
