//! How far two partings of the same points agree.

use crate::stats::error::{StatsError, require_length};
use std::collections::BTreeMap;

/// Adjusted Rand index (Hubert & Arabie 1985, Journal of Classification 2, 193-218), `(S - E) / ((A + B) / 2 - E)`: `S` the pairs of points that are together
/// in both partings, `A` and `B` those in the one and the other, `E = A B / C(n, 2)`. It is 1 for the same parting under any labels, 0 on average for partings
/// by chance, and may be negative. Two partings that are both a single cluster, or both all apart, are the same and give 1.
///
/// # Errors
/// `LengthMismatch`; `TooFewRows` under two points.
pub fn adjusted_rand_index(left: &[usize], right: &[usize]) -> Result<f64, StatsError> {
    require_length("the second list of memberships", left.len(), right.len())?;
    if left.len() < 2 {
        return Err(StatsError::TooFewRows { rows: left.len(), columns: 1 });
    }
    let both = pairs_together(left.iter().zip(right));
    let (one, other) = (pairs_together(left.iter()), pairs_together(right.iter()));
    let size = left.len() as f64;
    let expected = one * other / (0.5 * size * (size - 1.0));
    let most = 0.5 * (one + other);
    Ok(if most == expected { 1.0 } else { (both - expected) / (most - expected) })
}

/// Pairs of equal labels.
fn pairs_together<Label: Ord>(labels: impl Iterator<Item = Label>) -> f64 {
    let mut counts: BTreeMap<Label, f64> = BTreeMap::new();
    labels.for_each(|label| *counts.entry(label).or_default() += 1.0);
    counts.values().map(|count| 0.5 * count * (count - 1.0)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_hand_worked_index_is_met() {
        // together in both: {0, 1}; left 3 + 0 pairs, right 1 + 1; E = 6 / 6; (1 - 1) / (2.5 - 1)
        assert_eq!(adjusted_rand_index(&[0, 0, 0, 1], &[0, 0, 1, 1]).unwrap(), 0.0);
        // S = 2, A = 1 + 1, B = 1 + 6, E = 14 / 15; (2 - E) / (9 / 2 - E)
        let found = adjusted_rand_index(&[0, 0, 1, 1, 2, 3], &[0, 0, 1, 1, 1, 1]);
        assert!((found.unwrap() - (2.0 - 14.0 / 15.0) / (4.5 - 14.0 / 15.0)).abs() < 1e-15);
    }

    #[test]
    fn partings_without_a_choice_are_the_same() {
        assert_eq!(adjusted_rand_index(&[1, 1, 1], &[4, 4, 4]).unwrap(), 1.0);
        assert_eq!(adjusted_rand_index(&[1, 2, 3], &[9, 8, 7]).unwrap(), 1.0);
        assert_eq!(adjusted_rand_index(&[1, 1, 1], &[9, 8, 7]).unwrap(), 0.0);
        assert!(adjusted_rand_index(&[1], &[1]).is_err());
        assert!(adjusted_rand_index(&[1, 2], &[1]).is_err());
    }

    proptest! {
        #[test]
        fn names_and_order_do_not_matter(labels in prop::collection::vec((0_usize..4, 0_usize..4), 2..40)) {
            let (left, right): (Vec<usize>, Vec<usize>) = labels.into_iter().unzip();
            let renamed: Vec<usize> = left.iter().map(|label| 10 - label).collect();
            prop_assert_eq!(adjusted_rand_index(&left, &renamed).unwrap(), 1.0);
            let here = adjusted_rand_index(&left, &right).unwrap();
            prop_assert!((here - adjusted_rand_index(&right, &renamed).unwrap()).abs() < 1e-12);
            prop_assert!(here <= 1.0);
        }
    }
}
