//! Summaries of one sample: robust spread, shape, and whether it looks normal.

use crate::stats::error::{StatsError, require_finite};
use crate::stats::numeric::{
    mean, median, normal_quantile, normal_sf, standard_deviation, sum, sum_of_squares,
};
use crate::whole;

/// What makes the median absolute deviation estimate the standard deviation of a normal sample: `1 / z_0.75`, to the four places that are in common use.
const NORMAL_SCALE: f64 = 1.4826;

/// Median absolute deviation from the median times 1.4826 (Hampel 1974, Journal of the American Statistical Association 69, 383-393), in the unit of the
/// values: for a normal sample the standard deviation, and hardly moved by a few wild values. It is 0 where more than half of the values are equal.
///
/// # Errors
/// `Empty`, `NotFinite`.
pub fn median_absolute_deviation(values: &[f64]) -> Result<f64, StatsError> {
    let centre = median(values)?;
    let deviations: Vec<f64> = values.iter().map(|value| (value - centre).abs()).collect();
    Ok(NORMAL_SCALE * median(&deviations)?)
}

/// Moment skewness `m_3 / m_2^(3/2)` with `m_k = sum (x - mean)^k / n`, without unit and without correction for bias; 0 for a symmetric sample.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation`.
pub fn skewness(values: &[f64]) -> Result<f64, StatsError> {
    standardised_moment(values, 3)
}

/// Moment excess kurtosis `m_4 / m_2^2 - 3`, without unit and without correction for bias; 0 for a normal population, above for heavy tails.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation`.
pub fn excess_kurtosis(values: &[f64]) -> Result<f64, StatsError> {
    Ok(standardised_moment(values, 4)? - 3.0)
}

/// Mean of `((x - mean) / sqrt(m_2))^power`.
fn standardised_moment(values: &[f64], power: i32) -> Result<f64, StatsError> {
    let standard = standardised(values)?;
    let spread = (sum_of_squares(&standard) / values.len() as f64).sqrt();
    let powers: Vec<f64> = standard.iter().map(|value| (value / spread).powi(power)).collect();
    Ok(sum(&powers) / values.len() as f64)
}

/// The values less their mean, in units of the largest deviation, so that no power of them overflows.
fn standardised(values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let centre = mean(values)?;
    let largest = values.iter().fold(0.0_f64, |most, value| most.max((value - centre).abs()));
    if largest == 0.0 {
        return Err(StatsError::NoVariation { what: "the sample".into() });
    }
    Ok(values.iter().map(|value| (value - centre) / largest).collect())
}

/// Standard deviation over mean, without unit: a spread relative to the size, for values that are lengths and not degrees.
///
/// # Errors
/// As [`standard_deviation`]; `OutOfRange` unless the mean is above 0.
pub fn coefficient_of_variation(values: &[f64]) -> Result<f64, StatsError> {
    let centre = mean(values)?;
    if centre <= 0.0 {
        let (what, expected) = ("the mean".into(), "above 0".into());
        return Err(StatsError::OutOfRange { what, value: centre, expected });
    }
    Ok(standard_deviation(values)? / centre)
}

/// Mean of what is left when the share `trimmed` of the values is cut from each end (Tukey 1962), in whole values, rounded down; in the unit of the values.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` unless `0 <= trimmed < 0.5`.
pub fn trimmed_mean(values: &[f64], trimmed: f64) -> Result<f64, StatsError> {
    require_finite("the sample", values)?;
    if !(0.0..0.5).contains(&trimmed) {
        let (what, expected) = ("the share that is trimmed".into(), "0 up to 0.5".into());
        return Err(StatsError::OutOfRange { what, value: trimmed, expected });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let cut = whole::part(trimmed * values.len() as f64);
    // twice the cut is less than the length, so something is left
    mean(&sorted[cut..values.len() - cut])
}

/// A test whether a sample could come from a normal population.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalityTest {
    /// W, up to 1 for a sample that looks perfectly normal.
    pub statistic: f64,
    /// Chance of a W so low from a normal population.
    pub p_value: f64,
}

/// Fewest and most values that the approximation was made for.
const SHAPIRO_RANGE: std::ops::RangeInclusive<usize> = 3..=5000;

/// Shapiro-Wilk test (Shapiro & Wilk 1965, Biometrika 52, 591-611) by the approximations of Royston (1995, Applied Statistics 44, 547-551, algorithm AS R94):
/// `W = (sum a_i x_(i))^2 / sum (x - mean)^2`, the weights `a` from expected normal order statistics at Blom's places with the outermost corrected by
/// polynomials in `n^-1/2`; the p value from a normal approximation to a transform of `1 - W`. For 3 values the p value is exact.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` unless there are 3 to 5,000 values; `NoVariation`.
pub fn shapiro_wilk(values: &[f64]) -> Result<NormalityTest, StatsError> {
    require_finite("the sample", values)?;
    if !SHAPIRO_RANGE.contains(&values.len()) {
        return Err(StatsError::OutOfRange {
            what: "the number of values".into(),
            value: values.len() as f64,
            expected: "3 to 5000".into(),
        });
    }
    let mut sorted = standardised(values)?;
    sorted.sort_by(f64::total_cmp);
    let weights = shapiro_weights(values.len());
    // W is at most 1 because the weights have unit length; 1 - W from the residual keeps its digits where W is near 1
    let along: f64 = sum(&weights.iter().zip(&sorted).map(|(a, x)| a * x).collect::<Vec<_>>());
    let total = sum_of_squares(&sorted);
    let left: Vec<f64> = weights.iter().zip(&sorted).map(|(a, x)| x - along * a).collect();
    let lack = (sum_of_squares(&left) / total).min(1.0);
    Ok(NormalityTest { statistic: 1.0 - lack, p_value: shapiro_p(lack, values.len()) })
}

/// `coefficients[0] + coefficients[1] x + ...`.
fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |total, coefficient| total * x + coefficient)
}

/// The weights `a` of the sorted values, of unit length and antisymmetric (Royston 1995, equations 3 to 6).
fn shapiro_weights(count: usize) -> Vec<f64> {
    let size = count as f64;
    if count == 3 {
        return vec![-(0.5_f64.sqrt()), 0.0, 0.5_f64.sqrt()];
    }
    let place = |i: usize| normal_quantile((i as f64 + 1.0 - 0.375) / (size + 0.25));
    let mut weights: Vec<f64> = (0..count).map(place).collect();
    let squares = sum_of_squares(&weights);
    let root = size.sqrt().recip();
    let corrected =
        |coefficients: &[f64], raw: f64| polynomial(coefficients, root) + raw / squares.sqrt();
    let last =
        corrected(&[0.0, 0.221157, -0.147981, -2.071190, 4.434685, -2.706056], weights[count - 1]);
    let next =
        corrected(&[0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633], weights[count - 2]);
    // up to 5 values only the outermost is corrected; what is left is shared by the others as their expectations are
    let outer: &[f64] = if count > 5 { &[last, next] } else { &[last] };
    let kept = 1.0 - 2.0 * sum_of_squares(outer);
    let inner = squares - 2.0 * sum_of_squares(&weights[count - outer.len()..]);
    let scale = (inner / kept).sqrt();
    weights.iter_mut().for_each(|weight| *weight /= scale);
    for (place, &weight) in outer.iter().enumerate() {
        weights[count - 1 - place] = weight;
        weights[place] = -weight;
    }
    weights
}

/// P value of `lack = 1 - W` (Royston 1995, section 3).
fn shapiro_p(lack: f64, count: usize) -> f64 {
    let size = count as f64;
    if count == 3 {
        let exact =
            6.0 / std::f64::consts::PI * ((1.0 - lack).sqrt().asin() - 0.75_f64.sqrt().asin());
        return exact.clamp(0.0, 1.0);
    }
    if count > 11 {
        let log = size.ln();
        let centre = polynomial(&[-1.5861, -0.31082, -0.083751, 0.0038915], log);
        let spread = polynomial(&[-0.4803, -0.082676, 0.0030302], log).exp();
        return normal_sf((lack.ln() - centre) / spread);
    }
    let bound = polynomial(&[-2.273, 0.459], size);
    if lack.ln() >= bound {
        return 0.0;
    }
    let centre = polynomial(&[0.5440, -0.39978, 0.025054, -6.714e-4], size);
    let spread = polynomial(&[1.3822, -0.77857, 0.062767, -0.0020322], size).exp();
    normal_sf((-(bound - lack.ln()).ln() - centre) / spread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn hand_worked_summaries_are_met() {
        // median 3, deviations 2 1 0 1 7
        assert!(
            (median_absolute_deviation(&[1.0, 2.0, 3.0, 4.0, 10.0]).unwrap() - 1.4826).abs()
                < 1e-15
        );
        // mean 1, deviations -1 -1 2: m2 = 2, m3 = 2, m4 = 6
        assert!((skewness(&[0.0, 0.0, 3.0]).unwrap() - 2.0 / 2.0_f64.powf(1.5)).abs() < 1e-14);
        assert!((excess_kurtosis(&[0.0, 0.0, 3.0]).unwrap() + 1.5).abs() < 1e-14);
        assert_eq!(trimmed_mean(&[1.0, 2.0, 3.0, 4.0, 100.0], 0.2).unwrap(), 3.0);
        assert_eq!(trimmed_mean(&[1.0, 2.0, 6.0], 0.3).unwrap(), 3.0);
        assert!((coefficient_of_variation(&[1.0, 2.0, 3.0]).unwrap() - 0.5).abs() < 1e-15);
    }

    #[test]
    fn constant_samples_have_no_shape() {
        let flat = [2.5; 6];
        assert_eq!(median_absolute_deviation(&flat).unwrap(), 0.0);
        assert_eq!(coefficient_of_variation(&flat).unwrap(), 0.0);
        assert!(matches!(skewness(&flat), Err(StatsError::NoVariation { .. })));
        assert!(matches!(excess_kurtosis(&flat), Err(StatsError::NoVariation { .. })));
        assert!(matches!(shapiro_wilk(&flat), Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        assert!(matches!(
            coefficient_of_variation(&[-1.0, 1.0]),
            Err(StatsError::OutOfRange { .. })
        ));
        assert!(matches!(trimmed_mean(&[1.0], 0.5), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(trimmed_mean(&[1.0], f64::NAN), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(shapiro_wilk(&[1.0, 2.0]), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(shapiro_wilk(&vec![1.0; 5001]), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(skewness(&[1.0, f64::NAN]), Err(StatsError::NotFinite { row: 1, .. })));
        assert!(matches!(median_absolute_deviation(&[]), Err(StatsError::Empty { .. })));
    }

    #[test]
    fn one_huge_value_overflows_nothing() {
        let values = [1.0, 2.0, 3.0, 4.0, 1e200];
        assert!((skewness(&values).unwrap() - 1.5).abs() < 1e-12);
        assert!(shapiro_wilk(&values).unwrap().p_value < 0.001);
    }

    #[test]
    fn small_and_middling_samples_agree_with_two_programs() {
        // R 4.2.2 shapiro.test and scipy 1.17.1 stats.shapiro, which agree with each other to 1e-9; the third sample is that of Shapiro & Wilk (1965)
        let squares: Vec<f64> = (0..30).map(|i| f64::from(i * i % 29)).collect();
        let weights = [148.0, 154.0, 158.0, 160.0, 161.0, 162.0, 166.0, 170.0, 182.0, 195.0, 236.0];
        let cases: [(&[f64], f64, f64); 6] = [
            (&[1.0, 2.0, 4.0], 0.964285714285714, 0.636886845028966),
            (&[1.0, 2.0, 3.0, 9.0], 0.828025850, 0.162712489),
            (&weights, 0.788814695, 0.00670381406),
            (&[2.0, 1.0, 4.0, 3.0, 8.0], 0.903089933, 0.427198628),
            (&[0.3, 1.1, 0.7, 2.9, 1.6, 0.2, 4.4, 0.9], 0.850708354, 0.0968554714),
            (&squares, 0.906438292, 0.0121134593),
        ];
        for (values, statistic, p_value) in cases {
            let found = shapiro_wilk(values).unwrap();
            assert!((found.statistic - statistic).abs() < 2e-9, "{found:?} {statistic}");
            assert!((found.p_value - p_value).abs() < 2e-9, "{found:?} {p_value}");
        }
    }

    proptest! {
        #[test]
        fn the_unit_and_the_origin_do_not_matter(
            values in prop::collection::vec(-5.0_f64..5.0, 4..40), scale in 0.01_f64..100.0, shift in -10.0_f64..10.0,
        ) {
            prop_assume!(standard_deviation(&values).unwrap() > 0.1);
            let moved: Vec<f64> = values.iter().map(|value| shift + scale * value).collect();
            let (here, there) = (shapiro_wilk(&values).unwrap(), shapiro_wilk(&moved).unwrap());
            prop_assert!((here.statistic - there.statistic).abs() < 1e-9);
            prop_assert!(here.statistic <= 1.0 && (0.0..=1.0).contains(&here.p_value));
            prop_assert!((skewness(&values).unwrap() - skewness(&moved).unwrap()).abs() < 1e-8);
        }

        #[test]
        fn a_mirrored_sample_is_skewed_the_other_way(values in prop::collection::vec(-5.0_f64..5.0, 4..40)) {
            prop_assume!(standard_deviation(&values).unwrap() > 0.1);
            let mirrored: Vec<f64> = values.iter().map(|value| -value).collect();
            prop_assert!((skewness(&values).unwrap() + skewness(&mirrored).unwrap()).abs() < 1e-10);
            let (here, there) = (shapiro_wilk(&values).unwrap(), shapiro_wilk(&mirrored).unwrap());
            prop_assert!((here.statistic - there.statistic).abs() < 1e-10);
        }
    }
}
