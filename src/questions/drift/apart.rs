//! Whether lots lie apart beyond what a slow movement of the making would do.

use super::series::{Point, lot_codes};
use crate::questions::scores::centred_within;
use crate::stats::JointTest;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;

/// Lots count as alike where their test does not even fall below this. In simulated logs of nine lots that do differ the test of movement then fires on nothing in
/// 4 to 7 of 100 logs, and with 0.25 in up to 10.
const ALIKE: f64 = 0.5;
/// Powers of time that stand for a slow movement.
const POWERS: i32 = 3;

/// Whether lots differ less than chance usually has them once a cubic of the order is taken out: then pieces of one lot need not be kept together.
pub(super) fn lots_are_alike(points: &[Point]) -> bool {
    test(points).is_some_and(|test| test.p_value() > ALIKE)
}

/// F test of the lots beside a cubic of the order; none where the two cannot be told apart.
fn test(points: &[Point]) -> Option<JointTest> {
    let values: Vec<f64> = points.iter().map(|point| point.value).collect();
    let lots = lot_codes(points);
    let lots_in_all = lots.iter().max()? + 1;
    let middle = (points.len() - 1) as f64 / 2.0;
    // from -1 to 1, so that the powers stay apart
    let time: Vec<f64> = (0..points.len()).map(|at| at as f64 / middle - 1.0).collect();
    let (mut plain, mut within) =
        (Design::builder(points.len()).intercept(), Design::builder(points.len()));
    for power in 1..=POWERS {
        let column: Vec<f64> = time.iter().map(|time| time.powi(power)).collect();
        plain = plain.number(&power.to_string(), &column);
        within = within.number(&power.to_string(), &centred_within(&column, &lots));
    }
    let plain = least_squares(&plain.build().ok()?, &values).ok()?;
    let within = least_squares(&within.build().ok()?, &centred_within(&values, &lots)).ok()?;
    let free = points.len().checked_sub(lots_in_all + POWERS as usize).filter(|free| *free > 0)?;
    let (numerator, denominator) = ((lots_in_all - 1) as f64, free as f64);
    let error = within.residual_sum_of_squares / denominator;
    if error <= 0.0 {
        return None;
    }
    let explained = plain.residual_sum_of_squares - within.residual_sum_of_squares;
    Some(JointTest { statistic: explained.max(0.0) / numerator / error, numerator, denominator })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(value: impl Fn(usize) -> f64) -> Vec<Point> {
        let point = |at: usize| Point { day: at as i32, value: value(at), lot: Some(at / 10) };
        (0..100).map(point).collect()
    }

    /// Some scatter without order.
    fn scatter(at: usize) -> f64 {
        (at as f64 * 0.618_033_988_75).fract() - 0.5
    }

    #[test]
    fn lots_on_a_rising_line_are_alike_and_lots_that_jump_are_not() {
        assert!(lots_are_alike(&points(|at| 0.05 * at as f64 + scatter(at))));
        assert!(!lots_are_alike(&points(|at| scatter(at) + (at / 10 * 7 % 5) as f64)));
    }

    #[test]
    fn readings_that_never_differ_within_lots_keep_their_lots_together() {
        assert!(!lots_are_alike(&points(|at| (at / 10 * 7 % 5) as f64)));
    }
}
