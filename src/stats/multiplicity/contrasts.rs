//! Any set of contrasts, held together by the multivariate t.

use super::GroupMeans;
use crate::stats::error::{StatsError, require_finite, require_length, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{Approximation, Largest, Sampling, Sides};
use ndarray::Array2;

/// Contrasts whose intervals hold all together.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// The factor of the standard errors, between the t quantile of one contrast and that of Bonferroni.
    pub critical_value: Approximation,
    /// In the order of the contrasts.
    pub estimates: Vec<SimultaneousEstimate>,
}

/// One contrast of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimultaneousEstimate {
    /// The contrast with its own, unadjusted error.
    pub estimate: Estimate,
    /// Lower end of the simultaneous interval.
    pub low: f64,
    /// Upper end of the simultaneous interval; infinite where only one side is asked.
    pub high: f64,
    /// The probability that, were all contrasts zero, any statistic would be as large as this one; with the error of its computation.
    pub p_value: Approximation,
}

/// Simultaneous intervals and adjusted p values of contrasts with a known covariance (`m x m`, squared units, may be singular), by the multivariate t with
/// `degrees_of_freedom` (Hothorn, Bretz & Westfall 2008, Biometrical Journal 50, 346-363): estimate -/+ `c` standard errors, where the largest statistic
/// stays below `c` with probability `level`. With [`Sides::Upper`] lower limits only, and p values of "not above zero".
///
/// Different seeds differ by about the errors stated. Pairs of many means are faster by [`super::tukey_kramer`].
///
/// # Errors
/// `Empty`, `LengthMismatch`, `NotFinite`; `NoVariation` for a contrast without variance; `OutOfRange` for the level, the degrees of freedom and a matrix
/// that is not symmetrical; `NotPositive`; `NotConverged`.
pub fn simultaneous(
    values: &[f64],
    covariance: &Array2<f64>,
    degrees_of_freedom: f64,
    level: f64,
    sides: Sides,
    sampling: Sampling,
) -> Result<Family, StatsError> {
    require_finite("the list of contrasts", values)?;
    require_length("the covariance matrix", values.len(), covariance.nrows())?;
    require_length("the covariance matrix", values.len(), covariance.ncols())?;
    require_level("the level of an interval", level)?;
    let errors = standard_errors(covariance)?;
    let correlation = Array2::from_shape_fn(covariance.dim(), |(i, j)| {
        // rounding must not take the diagonal from one
        if i == j { 1.0 } else { covariance[(i, j)] / (errors[i] * errors[j]) }
    });
    let largest = Largest::new(&correlation, degrees_of_freedom, sides, sampling)?;
    let critical_value = largest.quantile(1.0 - level)?;
    let estimates = values.iter().zip(&errors).map(|(&value, &standard_error)| {
        let estimate = Estimate { value, standard_error, degrees_of_freedom };
        one_of_family(estimate, critical_value.value, sides, &largest)
    });
    Ok(Family { critical_value, estimates: estimates.collect::<Result<_, _>>()? })
}

fn one_of_family(
    estimate: Estimate,
    critical_value: f64,
    sides: Sides,
    largest: &Largest,
) -> Result<SimultaneousEstimate, StatsError> {
    let half = critical_value * estimate.standard_error;
    let (high, statistic) = match sides {
        Sides::Two => (estimate.value + half, estimate.t_statistic().abs()),
        Sides::Upper => (f64::INFINITY, estimate.t_statistic()),
    };
    let p_value = largest.tail(statistic)?;
    Ok(SimultaneousEstimate { estimate, low: estimate.value - half, high, p_value })
}

fn standard_errors(covariance: &Array2<f64>) -> Result<Vec<f64>, StatsError> {
    let variances = covariance.diag().to_vec();
    require_finite("the variances of the contrasts", &variances)?;
    match variances.iter().position(|variance| *variance <= 0.0) {
        Some(place) => Err(StatsError::NoVariation { what: format!("contrast {place}") }),
        None => Ok(variances.iter().map(|variance| variance.sqrt()).collect()),
    }
}

/// Every group against one control (Dunnett 1955, Journal of the American Statistical Association 50, 1096-1121), groups in their order without the
/// control. The correlations are products, so the result is exact to about nine digits and needs no random numbers.
///
/// # Errors
/// As [`super::tukey_kramer`]; `OutOfRange` for a control that is no group.
pub fn dunnett(
    groups: &GroupMeans,
    control: usize,
    level: f64,
    sides: Sides,
) -> Result<Family, StatsError> {
    groups.check()?;
    if control >= groups.means.len() {
        return Err(StatsError::OutOfRange {
            what: "the place of the control".into(),
            value: control as f64,
            expected: format!("a number below {}", groups.means.len()),
        });
    }
    let others: Vec<usize> = (0..groups.means.len()).filter(|&place| place != control).collect();
    let differences: Vec<Estimate> =
        others.iter().map(|&place| groups.difference(place, control)).collect();
    let shared = groups.residual_variance / groups.sizes[control] as f64;
    let covariance = Array2::from_shape_fn((others.len(), others.len()), |(i, j)| {
        if i == j { differences[i].standard_error.powi(2) } else { shared }
    });
    let values: Vec<f64> = differences.iter().map(|difference| difference.value).collect();
    let df = groups.degrees_of_freedom;
    simultaneous(&values, &covariance, df, level, sides, Sampling::from_seed(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::multiplicity::tukey_kramer;
    use ndarray::array;

    /// Dunnett 1955, blood counts of a control and two drugs (from memory; also the example of scipy.stats.dunnett).
    fn blood_counts() -> GroupMeans {
        let samples: [&[f64]; 3] = [
            &[7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
            &[9.76, 8.80, 7.68, 9.36],
            &[12.80, 9.68, 12.16, 9.20, 10.55],
        ];
        crate::stats::anova::one_way_of_samples(&samples).unwrap().groups
    }

    #[test]
    fn the_blood_counts_of_dunnett_agree_with_scipy() {
        let found = dunnett(&blood_counts(), 0, 0.95, Sides::Two).unwrap();
        // scipy 1.17.1, scipy.stats.dunnett(a, b, control=c, rng=default_rng(0 .. 2)) is randomised: p 0.6201, 0.6201, 0.6201 and 0.0060, 0.0058, 0.0058;
        // interval of the first -1.257 to 2.557 or 2.556
        let [first, second] = [found.estimates[0], found.estimates[1]];
        assert!((first.p_value.value - 0.6201).abs() < 2e-4, "{first:?}");
        assert!((second.p_value.value - 0.0058).abs() < 1e-4, "{second:?}");
        assert!((first.low + 1.257).abs() < 2e-3 && (first.high - 2.557).abs() < 2e-3);
        assert_eq!(found.critical_value.error, 0.0);
    }

    #[test]
    fn a_family_of_one_is_the_plain_interval() {
        let sampling = Sampling::from_seed(1);
        let found = simultaneous(&[2.0], &array![[0.49]], 7.0, 0.9, Sides::Two, sampling).unwrap();
        let one = found.estimates[0];
        let (low, high) = one.estimate.interval(0.9).unwrap();
        assert!((one.low - low).abs() < 1e-9 && (one.high - high).abs() < 1e-9);
        assert!((one.p_value.value - one.estimate.p_value()).abs() < 1e-12);
    }

    #[test]
    fn all_pairs_as_contrasts_are_tukeys() {
        let groups = GroupMeans { sizes: vec![6; 3], ..blood_counts() };
        let pairs = tukey_kramer(&groups, 0.95).unwrap();
        let values: Vec<f64> = pairs.iter().map(|pair| pair.difference.value).collect();
        let v = groups.residual_variance / 6.0;
        // (1, 0), (2, 0), (2, 1)
        let covariance = array![[2.0 * v, v, -v], [v, 2.0 * v, v], [-v, v, 2.0 * v]];
        let df = groups.degrees_of_freedom;
        let sampling = Sampling::from_seed(3);
        let family = simultaneous(&values, &covariance, df, 0.95, Sides::Two, sampling).unwrap();
        for (one, pair) in family.estimates.iter().zip(pairs) {
            let allowed = 6.0 * family.critical_value.error * pair.difference.standard_error;
            assert!((one.low - pair.low).abs() < allowed, "{one:?} {pair:?}");
            assert!((one.p_value.value - pair.p_value).abs() < 6.0 * one.p_value.error);
        }
    }

    #[test]
    fn one_side_gives_lower_limits_above_those_of_two() {
        let two = dunnett(&blood_counts(), 0, 0.95, Sides::Two).unwrap();
        let upper = dunnett(&blood_counts(), 0, 0.95, Sides::Upper).unwrap();
        for (one, other) in upper.estimates.iter().zip(&two.estimates) {
            assert!(one.low > other.low && one.high == f64::INFINITY);
            assert!(one.p_value.value < other.p_value.value);
        }
    }

    #[test]
    fn impossible_families_are_refused() {
        let run = |values: &[f64], covariance: Array2<f64>| {
            simultaneous(values, &covariance, 5.0, 0.95, Sides::Two, Sampling::from_seed(1))
        };
        assert!(matches!(run(&[], Array2::zeros((0, 0))), Err(StatsError::Empty { .. })));
        assert!(matches!(run(&[1.0], array![[0.0]]), Err(StatsError::NoVariation { .. })));
        assert!(run(&[1.0], array![[1.0, 0.0], [0.0, 1.0]]).is_err());
        assert!(run(&[f64::NAN], array![[1.0]]).is_err());
        let fault = run(&[1.0, 2.0], array![[1.0, 2.0], [2.0, 1.0]]);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
        assert!(dunnett(&blood_counts(), 3, 0.95, Sides::Two).is_err());
    }
}
