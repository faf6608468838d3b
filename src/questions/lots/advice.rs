//! Judge: what to do about each lot.
//!
//! **Rules.** `buy again` where the chance of beating the average of the lots by the smallest difference worth having is
//! 80 % at least, `avoid` where the chance of falling short of it by as much is; both take five rated reeds of the lot.
//! Anything else is `keep trying`. Under five rated lots nothing is ranked and no advice is given. Price does not change
//! the advice; what a good reed costs is said beside it.

use super::Rated;
use super::fit::{Chances, Fitted};
use crate::finding::LotResult;
use crate::words::lots::{AVOID, BUY_AGAIN, FEWEST_REEDS, FEWEST_TO_RANK, KEEP_TRYING, SURE};

/// Chances and advice, where lots are ranked.
pub(super) fn advise(results: &mut [LotResult], rated: &Rated, fitted: &Fitted) {
    if fitted.pooled.len() < FEWEST_TO_RANK {
        return;
    }
    for result in results {
        let pooled = rated.code(&result.lot).and_then(|lot| fitted.of_lot(lot));
        let Some(pooled) = pooled else { continue };
        result.p_best = Some(pooled.chances.best);
        result.p_above = Some(pooled.chances.above);
        result.advice = Some(advice(result.rated, pooled.chances).to_owned());
    }
}

fn advice(rated: usize, chances: Chances) -> &'static str {
    match (chances.above >= SURE, chances.below >= SURE) {
        _ if rated < FEWEST_REEDS => KEEP_TRYING,
        (true, _) => BUY_AGAIN,
        (_, true) => AVOID,
        _ => KEEP_TRYING,
    }
}

/// The price of the pieces that one good reed takes.
pub(super) fn cost(price: f64, good_per_ten: f64) -> Option<f64> {
    Some(price * 10.0 / good_per_ten).filter(|cost| cost.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chances(above: f64, below: f64) -> Chances {
        Chances { best: 0.0, above, below }
    }

    #[test]
    fn a_lot_is_bought_again_or_avoided_from_a_chance_of_80_percent_and_five_reeds_on() {
        assert_eq!(advice(5, chances(0.8, 0.0)), BUY_AGAIN);
        assert_eq!(advice(5, chances(0.0, 0.8)), AVOID);
        assert_eq!(advice(40, chances(0.79, 0.1)), KEEP_TRYING);
        assert_eq!(advice(40, chances(0.1, 0.79)), KEEP_TRYING);
        assert_eq!(advice(4, chances(0.99, 0.0)), KEEP_TRYING);
        assert_eq!(advice(4, chances(0.0, 0.99)), KEEP_TRYING);
    }

    #[test]
    fn four_good_reeds_in_ten_pieces_at_two_each_cost_five_a_good_reed() {
        assert_eq!(cost(2.0, 4.0), Some(5.0));
        assert_eq!(cost(2.0, 0.0), None);
    }
}
