//! p values of a family, adjusted for how many there are.

use crate::stats::error::{StatsError, require_finite};

/// Adjusted p values that control the false discovery rate (Benjamini & Hochberg 1995, Journal of the Royal Statistical Society B 57, 289-300): in rising
/// order `min over j >= i of min(1, p_(j) m / j)`. The results stand in the order of the input.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a value outside 0 to 1.
pub fn benjamini_hochberg(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let order = rising(p_values)?;
    let count = p_values.len() as f64;
    let mut adjusted = vec![1.0; p_values.len()];
    let mut least = 1.0_f64;
    for (rank, &place) in order.iter().enumerate().rev() {
        least = least.min(p_values[place] * count / (rank as f64 + 1.0));
        adjusted[place] = least;
    }
    Ok(adjusted)
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

/// The places of the values from small to large, ties in their order.
fn rising(p_values: &[f64]) -> Result<Vec<usize>, StatsError> {
    require_finite("the list of p values", p_values)?;
    if let Some(&value) = p_values.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        return Err(StatsError::OutOfRange {
            what: "a p value".into(),
            value,
            expected: "0 to 1".into(),
        });
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    Ok(order)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_p_value_stays_as_it_is() {
        assert_eq!(benjamini_hochberg(&[0.03]).unwrap(), [0.03]);
        assert_eq!(holm(&[0.03]).unwrap(), [0.03]);
    }

    #[test]
    fn equal_p_values_stay_equal() {
        assert_eq!(benjamini_hochberg(&[0.02; 4]).unwrap(), [0.02; 4]);
        assert_eq!(holm(&[0.02; 4]).unwrap(), [0.08; 4]);
    }

    #[test]
    fn what_is_no_probability_is_refused() {
        assert!(benjamini_hochberg(&[]).is_err());
        assert!(holm(&[0.5, 1.2]).is_err());
        assert!(holm(&[f64::NAN]).is_err());
    }

    proptest! {
        #[test]
        fn adjusting_keeps_the_order_and_never_lowers(
            p_values in prop::collection::vec(0.0_f64..=1.0, 1..30)
        ) {
            let discovery = benjamini_hochberg(&p_values).unwrap();
            let strict = holm(&p_values).unwrap();
            for i in 0..p_values.len() {
                prop_assert!(p_values[i] <= discovery[i] + 1e-15);
                prop_assert!(discovery[i] <= strict[i] + 1e-15 && strict[i] <= 1.0);
                for j in 0..p_values.len() {
                    if p_values[i] < p_values[j] {
                        prop_assert!(discovery[i] <= discovery[j] && strict[i] <= strict[j]);
                    }
                }
            }
        }
    }
}
