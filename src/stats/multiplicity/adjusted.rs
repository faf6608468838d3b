//! p values of a family, adjusted for how many there are.

use crate::stats::error::{StatsError, require_finite, require_length};

/// Adjusted p values that control the false discovery rate (Benjamini & Hochberg 1995, Journal of the Royal Statistical Society B 57, 289-300): in rising
/// order `min over j >= i of min(1, p_(j) m / j)`. The results stand in the order of the input.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a value outside 0 to 1.
pub fn benjamini_hochberg(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let count = p_values.len() as f64;
    step_up(p_values, |rank| count / rank as f64)
}

/// [`benjamini_hochberg`] where some of the family matter more than others beforehand: every p value is divided by its weight first (Genovese, Roeder &
/// Wasserman 2006, Biometrika 93, 509-524). The weights are scaled to average one.
///
/// # Errors
/// As [`benjamini_hochberg`]; `LengthMismatch` unless there are as many weights as p values; `OutOfRange` for a weight not above 0.
pub fn benjamini_hochberg_weighted(
    p_values: &[f64],
    weights: &[f64],
) -> Result<Vec<f64>, StatsError> {
    require_probabilities(p_values)?;
    require_length("the list of weights", p_values.len(), weights.len())?;
    require_finite("the list of weights", weights)?;
    if let Some(&value) = weights.iter().find(|&&weight| weight <= 0.0) {
        let expected = "a number above 0".into();
        return Err(StatsError::OutOfRange { what: "a weight".into(), value, expected });
    }
    let average = weights.iter().sum::<f64>() / weights.len() as f64;
    let weighted = |(p, weight): (&f64, &f64)| (p * average / weight).min(1.0);
    benjamini_hochberg(&p_values.iter().zip(weights).map(weighted).collect::<Vec<f64>>())
}

/// Adjusted p values that control the chance of any false alarm (Holm 1979, Scandinavian Journal of Statistics 6, 65-70): in rising order
/// `max over j <= i of min(1, (m - j + 1) p_(j))`. The results stand in the order of the input.
///
/// # Errors
/// As [`benjamini_hochberg`].
pub fn holm(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let order = rising(p_values)?;
    let mut adjusted = vec![1.0; p_values.len()];
    let mut most = 0.0_f64;
    for (rank, &place) in order.iter().enumerate() {
        most = most.max(p_values[place] * (p_values.len() - rank) as f64);
        adjusted[place] = most.min(1.0);
    }
    Ok(adjusted)
}

/// Adjusted p values `min(1, m p)` (Bonferroni 1936), which control the chance of any false alarm.
///
/// # Errors
/// As [`benjamini_hochberg`].
pub fn bonferroni(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    require_probabilities(p_values)?;
    let count = p_values.len() as f64;
    Ok(p_values.iter().map(|p| (p * count).min(1.0)).collect())
}

/// Adjusted p values that control the chance of any false alarm where the p values are independent or depend positively (Hochberg 1988, Biometrika 75,
/// 800-802): in rising order `min over j >= i of min(1, (m - j + 1) p_(j))`.
///
/// # Errors
/// As [`benjamini_hochberg`].
pub fn hochberg(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let count = p_values.len();
    step_up(p_values, |rank| (count - rank + 1) as f64)
}

/// [`benjamini_hochberg`] for p values that depend on each other in any way: everything is multiplied by `sum of 1/j, j = 1..m` (Benjamini & Yekutieli
/// 2001, Annals of Statistics 29, 1165-1188).
///
/// # Errors
/// As [`benjamini_hochberg`].
pub fn benjamini_yekutieli(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let count = p_values.len();
    let harmonic: f64 = (1..=count).map(|j| 1.0 / j as f64).sum();
    step_up(p_values, |rank| harmonic * count as f64 / rank as f64)
}

/// In rising order `min over j >= i of min(1, factor(j) p_(j))`; ranks count from 1.
fn step_up(p_values: &[f64], factor: impl Fn(usize) -> f64) -> Result<Vec<f64>, StatsError> {
    let order = rising(p_values)?;
    let mut adjusted = vec![1.0; p_values.len()];
    let mut least = 1.0_f64;
    for (rank, &place) in order.iter().enumerate().rev() {
        least = least.min(p_values[place] * factor(rank + 1));
        adjusted[place] = least;
    }
    Ok(adjusted)
}

/// The places of the values from small to large, ties in their order.
fn rising(p_values: &[f64]) -> Result<Vec<usize>, StatsError> {
    require_probabilities(p_values)?;
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    Ok(order)
}

fn require_probabilities(p_values: &[f64]) -> Result<(), StatsError> {
    require_finite("the list of p values", p_values)?;
    if let Some(&value) = p_values.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        return Err(StatsError::OutOfRange {
            what: "a p value".into(),
            value,
            expected: "0 to 1".into(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    type Method = fn(&[f64]) -> Result<Vec<f64>, StatsError>;
    const ALL: [Method; 5] = [bonferroni, holm, hochberg, benjamini_hochberg, benjamini_yekutieli];

    #[test]
    fn one_p_value_stays_as_it_is() {
        assert!(ALL.iter().all(|method| method(&[0.03]).unwrap() == [0.03]));
    }

    #[test]
    fn equal_p_values_stay_equal() {
        assert_eq!(benjamini_hochberg(&[0.02; 4]).unwrap(), [0.02; 4]);
        assert_eq!(hochberg(&[0.02; 4]).unwrap(), [0.02; 4]);
        assert_eq!(holm(&[0.02; 4]).unwrap(), [0.08; 4]);
        assert_eq!(bonferroni(&[0.02; 4]).unwrap(), [0.08; 4]);
    }

    /// By hand: weights 3 and 1 average 2, so 0.03 * 2 / 3 = 0.02 and 0.04 * 2 / 1 = 0.08; the smaller doubles to 0.04.
    #[test]
    fn a_p_value_of_more_weight_is_adjusted_less() {
        let adjusted = benjamini_hochberg_weighted(&[0.03, 0.04], &[3.0, 1.0]).unwrap();
        assert!((adjusted[0] - 0.04).abs() < 1e-15 && (adjusted[1] - 0.08).abs() < 1e-15);
    }

    #[test]
    fn equal_weights_of_any_size_change_nothing() {
        let p_values = [0.001, 0.02, 0.3, 0.7];
        let plain = benjamini_hochberg(&p_values).unwrap();
        let weighted = benjamini_hochberg_weighted(&p_values, &[0.1; 4]).unwrap();
        assert!(plain.iter().zip(weighted).all(|(a, b)| (a - b).abs() < 1e-15));
    }

    #[test]
    fn weights_that_are_none_are_refused() {
        assert!(benjamini_hochberg_weighted(&[0.1, 0.2], &[1.0]).is_err());
        assert!(benjamini_hochberg_weighted(&[0.1, 0.2], &[1.0, 0.0]).is_err());
        assert!(benjamini_hochberg_weighted(&[0.1, 0.2], &[1.0, f64::NAN]).is_err());
    }

    #[test]
    fn what_is_no_probability_is_refused() {
        for method in ALL {
            assert!(method(&[]).is_err());
            assert!(method(&[0.5, 1.2]).is_err());
            assert!(method(&[f64::NAN]).is_err());
        }
    }

    proptest! {
        #[test]
        fn adjusting_keeps_the_order_and_never_lowers(
            p_values in prop::collection::vec(0.0_f64..=1.0, 1..30)
        ) {
            for adjusted in ALL.map(|method| method(&p_values).unwrap()) {
                for i in 0..p_values.len() {
                    prop_assert!(p_values[i] <= adjusted[i] + 1e-15 && adjusted[i] <= 1.0);
                    for j in 0..p_values.len() {
                        prop_assert!(p_values[i] >= p_values[j] || adjusted[i] <= adjusted[j]);
                    }
                }
            }
        }

        #[test]
        fn stricter_promises_cost_more(p_values in prop::collection::vec(0.0_f64..=1.0, 1..30)) {
            let [bonferroni, holm, hochberg, discovery, dependent] =
                ALL.map(|method| method(&p_values).unwrap());
            for i in 0..p_values.len() {
                prop_assert!(discovery[i] <= hochberg[i] + 1e-15 && hochberg[i] <= holm[i] + 1e-15);
                prop_assert!(holm[i] <= bonferroni[i] + 1e-15);
                prop_assert!(discovery[i] <= dependent[i] + 1e-15);
            }
        }
    }
}
