//! Sample quantiles by linear interpolation.

use crate::stats::error::{StatsError, require_finite};
use crate::whole;

/// Quantile of type 7 (Hyndman & Fan 1996, The American Statistician 50, 361-365): with the sorted sample `x_0 .. x_{n-1}` and `h = (n - 1) p`,
/// `x_floor(h) + (h - floor(h)) (x_{floor(h)+1} - x_floor(h))`. The unit is that of the values.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` unless `0 <= probability <= 1`.
pub fn quantile(values: &[f64], probability: f64) -> Result<f64, StatsError> {
    require_finite("the sample", values)?;
    if !(0.0..=1.0).contains(&probability) {
        return Err(StatsError::OutOfRange {
            what: "the probability of a quantile".into(),
            value: probability,
            expected: "0 to 1".into(),
        });
    }
    let [found] = quantiles_of(&mut values.to_vec(), [probability]);
    Ok(found)
}

/// [`quantile`] at several probabilities, each held inside 0 to 1, of a sample in any order; only the places that are asked for are brought in order, soonest
/// where the probabilities rise. An empty sample gives NaN.
pub fn quantiles_of<const COUNT: usize>(
    values: &mut [f64],
    probabilities: [f64; COUNT],
) -> [f64; COUNT] {
    // from here on nothing is less than what lies before
    let mut settled = 0;
    probabilities.map(|probability| {
        let Some(last) = values.len().checked_sub(1) else {
            return f64::NAN;
        };
        let position = last as f64 * probability.clamp(0.0, 1.0);
        let place = whole::part(position);
        let from = if place < settled { 0 } else { settled };
        // the place is the last one at most
        let (_, below, after) = values[from..].select_nth_unstable_by(place - from, f64::total_cmp);
        settled = place;
        let share = position - position.floor();
        if share == 0.0 {
            return *below;
        }
        let above = after.iter().copied().min_by(f64::total_cmp).unwrap_or(*below);
        *below + share * (above - *below)
    })
}

/// [`quantile`] of a sample that is already sorted and not empty; the probability is held inside 0 to 1. An empty sample gives NaN.
pub fn quantile_of_sorted(sorted: &[f64], probability: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let position = last as f64 * probability.clamp(0.0, 1.0);
    // position <= last, so both neighbours exist
    let below = sorted[whole::part(position)];
    let above = sorted[whole::part(position.ceil())];
    below + (position - position.floor()) * (above - below)
}

/// The middle value: [`quantile`] at 0.5.
///
/// # Errors
/// `Empty`, `NotFinite`.
pub fn median(values: &[f64]) -> Result<f64, StatsError> {
    quantile(values, 0.5)
}

/// Upper less lower quartile, both of type 7.
///
/// # Errors
/// `Empty`, `NotFinite`.
pub fn inter_quartile_range(values: &[f64]) -> Result<f64, StatsError> {
    Ok(quantile(values, 0.75)? - quantile(values, 0.25)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn quantiles_interpolate_between_neighbours() {
        // hand-worked: h = 3 * 0.25 = 0.75
        assert_eq!(quantile(&[4.0, 1.0, 2.0, 3.0], 0.25).unwrap(), 1.75);
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]).unwrap(), 2.5);
    }

    #[test]
    fn several_quantiles_of_values_in_any_order_are_those_of_the_sorted_values() {
        // 37 is prime to 101, so every value from 0 to 100 stands there once
        let mut values: Vec<f64> = (0..101).map(|i| f64::from(i * 37 % 101)).collect();
        assert_eq!(
            quantiles_of(&mut values, [0.0, 0.025, 0.5, 0.5, 1.0]),
            [0.0, 2.5, 50.0, 50.0, 100.0]
        );
        assert!(quantiles_of(&mut [], [0.5])[0].is_nan());
    }

    #[test]
    fn a_quantile_that_is_one_of_the_values_does_not_hang_on_the_next() {
        assert_eq!(quantiles_of(&mut [1.0, 2.0, f64::INFINITY], [0.5]), [2.0]);
        assert_eq!(median(&[-1.5e308, -1.5e308, 1.5e308]).unwrap(), -1.5e308);
    }

    #[test]
    fn one_value_is_every_quantile() {
        assert_eq!(quantile(&[7.0], 0.9).unwrap(), 7.0);
        assert_eq!(inter_quartile_range(&[7.0]).unwrap(), 0.0);
    }

    #[test]
    fn probabilities_outside_the_unit_interval_are_refused() {
        assert!(quantile(&[1.0], 1.1).is_err());
        assert!(quantile(&[1.0], f64::NAN).is_err());
    }

    proptest! {
        #[test]
        fn quantiles_of_any_order_are_those_of_the_sorted_values(
            values in prop::collection::vec(-1e3_f64..1e3, 1..60),
            probabilities in prop::array::uniform4(0.0_f64..=1.0),
        ) {
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            let expected = probabilities.map(|probability| quantile_of_sorted(&sorted, probability));
            prop_assert_eq!(quantiles_of(&mut values.clone(), probabilities), expected);
        }

        #[test]
        fn quantiles_follow_shift_and_scale(
            values in prop::collection::vec(-1e3_f64..1e3, 1..40),
            probability in 0.0_f64..=1.0, shift in -1e3_f64..1e3, scale in 0.1_f64..10.0,
        ) {
            let moved: Vec<f64> = values.iter().map(|value| shift + scale * value).collect();
            let expected = shift + scale * quantile(&values, probability).unwrap();
            prop_assert!((quantile(&moved, probability).unwrap() - expected).abs() < 1e-8);
        }
    }
}
