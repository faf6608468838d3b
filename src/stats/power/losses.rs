//! How many pieces to start when some will be lost.

use crate::stats::error::StatsError;
use crate::stats::error::require_level;
use crate::stats::numeric::beta_sf;
use crate::whole;

/// No more than this many pieces are ever started.
const MOST_PIECES: u64 = 1 << 40;

/// Pieces to start so that on average `needed` are left: `needed / (1 - loss)`, rounded up. In about half of all trials it will not be enough; see
/// [`pieces_for_assurance`].
///
/// # Errors
/// `OutOfRange` unless `0 <= loss < 1`.
pub fn pieces_for_average(needed: u64, loss: f64) -> Result<u64, StatsError> {
    require_loss(loss)?;
    let exact = needed as f64 / (1.0 - loss);
    // a number that is whole but for rounding needs no more
    bounded((exact * (1.0 - 1e-12)).ceil())
}

/// The fewest pieces to start so that with probability `assurance` at least `needed` are left, each lost on its own with probability `loss`: the smallest
/// `n` with `P(binomial(n, 1 - loss) >= needed) >= assurance`, exactly.
///
/// # Errors
/// `OutOfRange` unless `0 <= loss < 1` and `0 < assurance < 1`, and beyond 2^40 pieces.
pub fn pieces_for_assurance(needed: u64, loss: f64, assurance: f64) -> Result<u64, StatsError> {
    require_loss(loss)?;
    require_level("the assurance", assurance)?;
    if needed == 0 || loss == 0.0 {
        return Ok(needed);
    }
    // P(at least m of n are kept) = P(beta(m, n - m + 1) <= 1 - loss) = P(beta(n - m + 1, m) > loss)
    let enough = |started: u64| {
        let spare = (started - needed) as f64;
        beta_sf(spare + 1.0, needed as f64, loss) >= assurance
    };
    let mut high = pieces_for_average(needed, loss)?;
    while !enough(high) {
        high = bounded(2.0 * high as f64)?;
    }
    let mut low = needed;
    while low < high {
        let middle = low + (high - low) / 2;
        if enough(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Ok(high)
}

fn require_loss(loss: f64) -> Result<(), StatsError> {
    if (0.0..1.0).contains(&loss) {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the share that is lost".into(),
        value: loss,
        expected: "0 or more and below 1".into(),
    })
}

fn bounded(pieces: f64) -> Result<u64, StatsError> {
    if pieces <= MOST_PIECES as f64 {
        return Ok(whole::part(pieces) as u64);
    }
    Err(StatsError::OutOfRange {
        what: "the number of pieces to start".into(),
        value: pieces,
        expected: format!("at most {MOST_PIECES}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_hand_worked_start_is_met() {
        assert_eq!(pieces_for_average(20, 0.2), Ok(25));
        assert_eq!(pieces_for_average(21, 0.2), Ok(27));
        // one is needed, half are lost: 1 - 2^-n >= 0.95 from n = 5 on
        assert_eq!(pieces_for_assurance(1, 0.5, 0.95), Ok(5));
        assert_eq!(pieces_for_assurance(7, 0.0, 0.95), Ok(7));
        assert_eq!(pieces_for_assurance(0, 0.5, 0.95), Ok(0));
    }

    #[test]
    fn impossible_losses_are_refused() {
        assert!(pieces_for_average(5, 1.0).is_err());
        assert!(pieces_for_average(5, f64::NAN).is_err());
        assert!(pieces_for_assurance(5, -0.1, 0.9).is_err());
        assert!(pieces_for_assurance(5, 0.1, 1.0).is_err());
        assert!(pieces_for_average(u64::MAX, 0.5).is_err());
        assert!(pieces_for_assurance(u64::MAX, 0.5, 0.5).is_err());
        assert!(pieces_for_assurance(5, 1.0 - 1e-15, 0.9).is_err());
    }

    proptest! {
        #[test]
        fn one_piece_fewer_would_not_be_enough(
            needed in 1_u64..40, loss in 0.01_f64..0.8, assurance in 0.5_f64..0.99
        ) {
            let started = pieces_for_assurance(needed, loss, assurance).unwrap();
            // the chance that enough are left, by the sum over the number lost
            let chance = |n: u64| {
                let mut term = (1.0 - loss).powf(n as f64);
                let mut total = 0.0;
                for lost in 0..=n.saturating_sub(needed) {
                    total += if n < needed { 0.0 } else { term };
                    term *= loss / (1.0 - loss) * (n - lost) as f64 / (lost + 1) as f64;
                }
                total
            };
            prop_assert!(chance(started) >= assurance - 1e-9);
            prop_assert!(started == needed || chance(started - 1) < assurance + 1e-9);
        }
    }
}
