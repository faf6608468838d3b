//! One quantity estimated from several independent parts, each with an error of its own: the common value, and whether the parts differ.

use super::error::StatsError;
use super::estimate::{Estimate, JointTest};

/// What the parts say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combined {
    /// The mean of the estimates, each weighed by one over its variance, in their unit.
    pub common: Estimate,
    /// The test that all parts estimate the same value.
    pub differ: JointTest,
}

/// Combines independent estimates `b_i` with errors `s_i` on `f_i` degrees of freedom, weights `w_i = 1 / s_i^2`, `W = sum w_i`, `h_i = w_i / W`.
///
/// The common value is `m = sum h_i b_i` (Graybill & Deal 1959, Biometrics 15, 543-550). Its variance is `(1 + 4 sum h_i (1 - h_i) / f_i) / W`, which allows for
/// the weights being estimated (Meier 1953, Biometrics 9, 59-73), on `1 / sum (h_i^2 / f_i)` degrees of freedom (Satterthwaite 1946).
///
/// That the parts differ is tested as Welch (1951, Biometrika 38, 330-336) tests means of unequal variance: with `c = sum (1 - h_i)^2 / f_i`,
/// `F = sum w_i (b_i - m)^2 / (k - 1) / (1 + 2 (k - 2) c / (k^2 - 1))` on `k - 1` and `(k^2 - 1) / (3 c)` degrees of freedom. For two parts this is the t test of
/// their difference with Satterthwaite's degrees of freedom.
///
/// # Errors
/// `TooFew` with fewer than two parts; `OutOfRange` for an error that is not positive or degrees of freedom that are none.
pub fn combine(parts: &[Estimate]) -> Result<Combined, StatsError> {
    if parts.len() < 2 {
        return Err(StatsError::TooFew { what: "estimates".into(), found: parts.len(), needed: 2 });
    }
    parts.iter().try_for_each(require_usable)?;
    let weights: Vec<f64> = parts.iter().map(|part| part.standard_error.powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let sum = |of: &dyn Fn(&Estimate, f64) -> f64| -> f64 {
        parts.iter().zip(&weights).map(|(part, weight)| of(part, weight / total)).sum()
    };
    let value = sum(&|part, share| share * part.value);
    let learnt = sum(&|part, share| share * (1.0 - share) / part.degrees_of_freedom);
    let known = sum(&|part, share| share * share / part.degrees_of_freedom);
    let apart = sum(&|part, share| (1.0 - share).powi(2) / part.degrees_of_freedom);
    let scatter = total * sum(&|part, share| share * (part.value - value).powi(2));
    let k = parts.len() as f64;
    let correction = 1.0 + 2.0 * (k - 2.0) * apart / (k * k - 1.0);
    Ok(Combined {
        common: Estimate {
            value,
            standard_error: ((1.0 + 4.0 * learnt) / total).sqrt(),
            degrees_of_freedom: 1.0 / known,
        },
        differ: JointTest {
            statistic: scatter / (k - 1.0) / correction,
            numerator: k - 1.0,
            denominator: (k * k - 1.0) / (3.0 * apart),
        },
    })
}

fn require_usable(part: &Estimate) -> Result<(), StatsError> {
    let is_positive = |value: f64| value > 0.0;
    let (error, degrees) = (part.standard_error, part.degrees_of_freedom);
    if !(part.value.is_finite() && error.is_finite() && is_positive(error)) {
        return Err(StatsError::OutOfRange {
            what: "the error of a part".into(),
            value: error,
            expected: "a positive number beside a finite estimate".into(),
        });
    }
    if !is_positive(degrees) {
        return Err(StatsError::OutOfRange {
            what: "degrees of freedom".into(),
            value: degrees,
            expected: "a positive number".into(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(value: f64, standard_error: f64, degrees_of_freedom: f64) -> Estimate {
        Estimate { value, standard_error, degrees_of_freedom }
    }

    /// By hand: the mean 2; `(1 + 4 * 2 * 0.25 / 10) / 2 = 0.6`; `1 / (2 * 0.25 / 10) = 20`; and `t^2 = 2^2 / 2` on 20.
    #[test]
    fn two_equal_parts_are_the_t_test_of_their_difference() {
        let found = combine(&[part(1.0, 1.0, 10.0), part(3.0, 1.0, 10.0)]).unwrap();
        assert!((found.common.value - 2.0).abs() < 1e-12);
        assert!((found.common.standard_error - 0.6_f64.sqrt()).abs() < 1e-12);
        assert!((found.common.degrees_of_freedom - 20.0).abs() < 1e-9);
        assert!((found.differ.statistic - 2.0).abs() < 1e-12);
        assert!((found.differ.denominator - 20.0).abs() < 1e-9);
    }

    /// Dried weights of plants (Dobson 1983; PlantGrowth of R 4.2.2), ten a group. `oneway.test(weight ~ group, PlantGrowth)` gives F = 5.18097240811 on 2 and
    /// 17.1284186166, p = 0.0173928214902; means and `sd / sqrt(10)` by `tapply`.
    #[test]
    fn means_of_unequal_variance_are_tested_as_another_program_tests_them() {
        let parts = [
            part(5.032, 0.184389683973, 9.0),
            part(4.661, 0.250982292425, 9.0),
            part(5.526, 0.139953960684, 9.0),
        ];
        let found = combine(&parts).unwrap().differ;
        assert!((found.statistic - 5.18097240811).abs() < 1e-9);
        assert!((found.denominator - 17.1284186166).abs() < 1e-8);
        assert!((found.p_value() - 0.0173928214902).abs() < 1e-10);
    }

    #[test]
    fn parts_known_without_end_are_weighed_as_known() {
        let found = combine(&[part(0.0, 1.0, f64::INFINITY), part(3.0, 0.5, f64::INFINITY)]);
        let found = found.unwrap();
        assert!((found.common.value - 2.4).abs() < 1e-12);
        assert!((found.common.standard_error - 0.2_f64.sqrt()).abs() < 1e-12);
        assert_eq!(found.differ.denominator, f64::INFINITY);
        assert!((found.differ.statistic - 9.0 / 1.25).abs() < 1e-12);
    }

    #[test]
    fn one_part_and_parts_without_error_are_refused() {
        assert!(matches!(combine(&[part(1.0, 1.0, 5.0)]), Err(StatsError::TooFew { .. })));
        for bad in [part(1.0, 0.0, 5.0), part(f64::NAN, 1.0, 5.0), part(1.0, 1.0, 0.0)] {
            assert!(combine(&[part(1.0, 1.0, 5.0), bad]).is_err(), "{bad:?}");
        }
    }
}
