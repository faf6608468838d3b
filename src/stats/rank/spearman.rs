//! Spearman's rank correlation.

use super::correlation::{fisher_interval, t_p_value};
use super::exact::Counted;
use super::{Alternative, Ranking};
use crate::stats::error::{StatsError, require_count, require_finite, require_length};
use crate::whole;

/// Largest sample whose orders are counted out one by one (9! = 362,880).
const MOST_ORDERS: usize = 9;

/// A rank correlation, without unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpearmanCorrelation {
    /// `rho`, from -1 to 1.
    pub value: f64,
    /// How many pairs it comes from.
    pub pairs: usize,
    has_ties: bool,
}

/// Spearman's rho: the product-moment correlation of the mid-ranks (Spearman 1904, American Journal of Psychology 15, 72-101).
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `NoVariation`; `TooFew` under three pairs.
pub fn spearman(first: &[f64], second: &[f64]) -> Result<SpearmanCorrelation, StatsError> {
    require_length("the second sample", first.len(), second.len())?;
    let one = varied_ranks("the first sample", first)?;
    let other = varied_ranks("the second sample", second)?;
    require_count("pairs", 3, first.len())?;
    // ranks and their mean are whole or half numbers, so these sums are exact and equal orders give exactly 1
    let centre = 0.5 * (first.len() as f64 + 1.0);
    let products = |left: &Ranking, right: &Ranking| -> f64 {
        let pairs = left.ranks.iter().zip(&right.ranks);
        pairs.map(|(a, b)| (a - centre) * (b - centre)).sum()
    };
    let below = (products(&one, &one) * products(&other, &other)).sqrt();
    Ok(SpearmanCorrelation {
        value: (products(&one, &other) / below).clamp(-1.0, 1.0),
        pairs: first.len(),
        has_ties: one.has_ties() || other.has_ties(),
    })
}

fn varied_ranks(what: &str, values: &[f64]) -> Result<Ranking, StatsError> {
    require_finite(what, values)?;
    let ranking = Ranking::new(values);
    if ranking.is_constant() {
        return Err(StatsError::NoVariation { what: what.into() });
    }
    Ok(ranking)
}

impl SpearmanCorrelation {
    /// Two-sided p value of "no association" by `t = rho sqrt((n - 2) / (1 - rho^2))` with `n - 2` degrees of freedom (Kendall & Gibbons 1990, Rank
    /// Correlation Methods, section 4.16).
    pub fn approximate_p_value(&self) -> f64 {
        t_p_value(self.value, self.pairs)
    }

    /// Two-sided p value over all `n!` orders, twice the smaller tail; none with ties or over nine pairs.
    pub fn exact_p_value(&self) -> Option<f64> {
        if self.has_ties || self.pairs > MOST_ORDERS {
            return None;
        }
        let count = self.pairs as f64;
        // rho = 1 - 6 d / (n^3 - n) with d the sum of squared differences of ranks, a whole number
        let differences = (1.0 - self.value) * count * (count * count - 1.0) / 6.0;
        let (lower, upper) =
            squared_differences(self.pairs).tails(whole::part(differences.round()));
        Some(Alternative::TwoSided.of_tails(lower, upper))
    }

    /// The exact p value where there is one, else the approximate one.
    pub fn p_value(&self) -> f64 {
        self.exact_p_value().unwrap_or_else(|| self.approximate_p_value())
    }

    /// `tanh(atanh rho -/+ z sqrt((1 + rho^2 / 2) / (n - 3)))` (Bonett & Wright 2000, Psychometrika 65, 23-28).
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `TooFew` under four pairs.
    pub fn interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        fisher_interval(self.value, self.pairs, 1.0 + 0.5 * self.value * self.value, level)
    }
}

/// How many orders of `0..count` have each sum of squared moves.
fn squared_differences(count: usize) -> Counted {
    let mut orders = vec![0.0; count * (count * count - 1) / 3 + 1];
    count_orders(&mut (0..count).collect::<Vec<_>>(), 0, 0, &mut orders);
    Counted::of(orders)
}

/// Puts every one of the values from `place` on at `place` in turn and counts the rest; the sum never exceeds that of the reversed order.
fn count_orders(order: &mut [usize], place: usize, total: usize, orders: &mut [f64]) {
    if place == order.len() {
        orders[total] += 1.0;
        return;
    }
    for other in place..order.len() {
        order.swap(place, other);
        let move_by = order[place].abs_diff(place);
        count_orders(order, place + 1, total + move_by * move_by, orders);
        order.swap(place, other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::rank::{mid_ranks, pearson};

    #[test]
    fn all_orders_are_counted() {
        let counted = squared_differences(4);
        // n = 4 (Kendall & Gibbons 1990, appendix table 2, from memory): P(d <= 2) = 4/24
        assert!((counted.tails(2).0 - 4.0 / 24.0).abs() < 1e-15);
        assert_eq!(counted.tails(0), (1.0 / 24.0, 1.0));
    }

    #[test]
    fn a_rising_curve_is_perfectly_ranked() {
        let found = spearman(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0, 8.0, 27.0, 64.0, 125.0]).unwrap();
        assert_eq!(found.value, 1.0);
        assert!((found.exact_p_value().unwrap() - 2.0 / 120.0).abs() < 1e-15);
    }

    #[test]
    fn nine_pairs_agree_with_the_printed_table() {
        // rho = 0.600 at n = 9 has a one-sided tail of 0.048 (Zar 1972, Journal of the American Statistical Association 67, 578-580, from memory)
        let x: Vec<f64> = (0..9).map(f64::from).collect();
        let y = [0.0, 3.0, 1.0, 5.0, 4.0, 2.0, 8.0, 7.0, 6.0];
        let found = spearman(&x, &y).unwrap();
        let differences: f64 = x.iter().zip(y).map(|(a, b)| (a - b) * (a - b)).sum();
        assert!((found.value - (1.0 - 6.0 * differences / 720.0)).abs() < 1e-14);
        let (at_least, _) = squared_differences(9).tails(48);
        assert!((at_least - 0.048).abs() < 5e-4);
    }

    #[test]
    fn tuna_agrees_with_r() {
        // Hollander & Wolfe 1973, p. 187; R 4.2.2: cor.test(x, y, method = "spearman")
        let x = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1];
        let y = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8];
        let found = spearman(&x, &y).unwrap();
        assert!((found.value - 0.6).abs() < 1e-15);
        assert!((found.exact_p_value().unwrap() - 0.0967978395061728).abs() < 1e-15);
    }

    #[test]
    fn with_ties_it_is_the_plain_correlation_of_mid_ranks() {
        let (x, y) = ([1.0, 1.0, 2.0, 3.0, 3.0], [2.0, 1.0, 5.0, 4.0, 4.0]);
        let ranks = |values| mid_ranks(values).unwrap();
        let expected = pearson(&ranks(&x), &ranks(&y)).unwrap().value;
        assert!((spearman(&x, &y).unwrap().value - expected).abs() < 1e-14);
    }

    #[test]
    fn ties_leave_only_the_approximation() {
        let found = spearman(&[1.0, 1.0, 2.0, 3.0], &[1.0, 2.0, 3.0, 4.0]).unwrap();
        assert_eq!(found.exact_p_value(), None);
        assert_eq!(found.p_value(), found.approximate_p_value());
    }

    #[test]
    fn all_ties_are_refused() {
        assert!(matches!(spearman(&[1.0; 4], &[1.0; 4]), Err(StatsError::NoVariation { .. })));
    }
}
