//! Sums that keep the small terms, and the moments built on them.

use crate::stats::error::{StatsError, require_finite};

/// Compensated sum (Neumaier 1974, Zeitschrift fuer angewandte Mathematik und Mechanik 54, 39-51): the rounding error of each addition is carried along.
///
/// The unit is that of the values; an empty slice sums to 0; NaN and infinities pass through.
pub fn sum(values: &[f64]) -> f64 {
    compensated(values.iter().copied())
}

/// Compensated sum of squares, in squared units.
pub fn sum_of_squares(values: &[f64]) -> f64 {
    compensated(values.iter().map(|value| value * value))
}

fn compensated(values: impl Iterator<Item = f64>) -> f64 {
    let mut total = 0.0_f64;
    let mut lost = 0.0_f64;
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    // an infinite total makes the compensation NaN, which would hide the infinity
    if total.is_finite() { total + lost } else { total }
}

/// Arithmetic mean, `sum(x) / n`, corrected once by the mean of the deviations (Chan, Golub & LeVeque 1983, The American Statistician 37, 242-247).
///
/// # Errors
/// `Empty`, `NotFinite`.
pub fn mean(values: &[f64]) -> Result<f64, StatsError> {
    require_finite("the sample", values)?;
    let count = values.len() as f64;
    // dividing first keeps values near the largest double from overflowing
    let rough = compensated(values.iter().map(|value| value / count));
    Ok(rough + compensated(values.iter().map(|value| (value - rough) / count)))
}

/// Sample variance with divisor `n - 1`, by the corrected two-pass formula (Chan, Golub & LeVeque 1983).
///
/// # Errors
/// `Empty`, `NotFinite`, and `TooFewRows` for a single value.
pub fn variance(values: &[f64]) -> Result<f64, StatsError> {
    let centre = mean(values)?;
    let count = values.len();
    if count < 2 {
        return Err(StatsError::TooFewRows { rows: count, columns: 1 });
    }
    let squares = compensated(values.iter().map(|value| (value - centre).powi(2)));
    let drift = compensated(values.iter().map(|value| value - centre));
    Ok(((squares - drift * drift / count as f64) / (count as f64 - 1.0)).max(0.0))
}

/// Sample standard deviation, the square root of [`variance`], in the unit of the values.
///
/// # Errors
/// As [`variance`].
pub fn standard_deviation(values: &[f64]) -> Result<f64, StatsError> {
    Ok(variance(values)?.sqrt())
}

/// Autocorrelation at a lag: `sum (x_i - m)(x_{i+lag} - m) / sum (x_i - m)^2`, as the NIST StRD defines it.
///
/// # Errors
/// `Empty`, `NotFinite`, `TooFewRows` where the lag is not shorter than the sample, `NoVariation`.
pub fn autocorrelation(values: &[f64], lag: usize) -> Result<f64, StatsError> {
    let centre = mean(values)?;
    if values.len() <= lag {
        return Err(StatsError::TooFewRows { rows: values.len(), columns: lag });
    }
    let below = compensated(values.iter().map(|value| (value - centre).powi(2)));
    if below == 0.0 {
        return Err(StatsError::NoVariation { what: "the sample".into() });
    }
    let pairs = values.iter().zip(&values[lag..]);
    Ok(compensated(pairs.map(|(a, b)| (a - centre) * (b - centre))) / below)
}

/// The sum of products: eight sums side by side, which the processor adds at once, added up in a fixed order.
pub(crate) fn dot(left: &[f64], right: &[f64]) -> f64 {
    debug_assert_eq!(left.len(), right.len());
    let mut sums = [0.0_f64; 8];
    let (left_parts, right_parts) = (left.chunks_exact(8), right.chunks_exact(8));
    let rest: f64 =
        left_parts.remainder().iter().zip(right_parts.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in left_parts.zip(right_parts) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    rest + sums.iter().sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `sum i^2 = n (n + 1) (2 n + 1) / 6`, exact in doubles.
    #[test]
    fn a_sum_of_products_takes_every_pair_whatever_their_number() {
        for count in 0..40_u32 {
            let values: Vec<f64> = (1..=count).map(f64::from).collect();
            let expected = f64::from(count * (count + 1) * (2 * count + 1) / 6);
            assert_eq!(dot(&values, &values), expected, "{count}");
        }
    }

    #[test]
    fn small_terms_survive_large_ones() {
        // Neumaier's own example: a plain sum gives 0
        assert_eq!(sum(&[1.0, 1e100, 1.0, -1e100]), 2.0);
    }

    #[test]
    fn an_infinite_sum_stays_infinite() {
        assert_eq!(sum(&[1.0, f64::INFINITY]), f64::INFINITY);
        assert!(sum(&[f64::NAN, 1.0]).is_nan());
    }

    #[test]
    fn a_constant_sample_has_no_spread() {
        assert_eq!(standard_deviation(&[0.1; 7]).unwrap(), 0.0);
        assert_eq!(mean(&[0.1; 7]).unwrap(), 0.1);
    }

    #[test]
    fn one_value_has_a_mean_and_no_variance() {
        assert_eq!(mean(&[3.5]).unwrap(), 3.5);
        assert!(matches!(variance(&[3.5]), Err(StatsError::TooFewRows { .. })));
    }

    #[test]
    fn a_value_that_is_no_number_is_refused_with_its_row() {
        assert!(matches!(mean(&[1.0, f64::NAN]), Err(StatsError::NotFinite { row: 1, .. })));
        assert!(matches!(mean(&[]), Err(StatsError::Empty { .. })));
    }

    #[test]
    fn constants_have_no_autocorrelation() {
        assert!(matches!(
            autocorrelation(&[2.0, 2.0, 2.0], 1),
            Err(StatsError::NoVariation { .. })
        ));
    }
}
