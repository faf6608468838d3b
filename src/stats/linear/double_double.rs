//! Numbers of about 32 digits as the unevaluated sum of two doubles.

use std::ops::{Add, Div, Mul, Sub};

/// `high + low` with `|low|` at most half a unit in the last place of `high`: error-free transformations by Dekker (1971, Numerische Mathematik 18, 224-242)
/// and Knuth (The Art of Computer Programming 2, section 4.2.2), put together as by Hida, Li & Bailey (2001, 15th IEEE Symposium on Computer Arithmetic,
/// 155-162).
///
/// Holds for sizes from about 1e-290 to 1e290; callers scale by powers of two first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DoubleDouble {
    high: f64,
    low: f64,
}

/// `2^27 + 1`, which parts a double in two halves of 26 bits.
const SPLITTER: f64 = 134_217_729.0;

/// The rounded sum and its error.
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let part = sum - a;
    (sum, (a - (sum - part)) + (b - part))
}

/// [`two_sum`] for `|a| >= |b|`.
fn quick_two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    (sum, b - (sum - a))
}

fn split(value: f64) -> (f64, f64) {
    let large = SPLITTER * value;
    let high = large - (large - value);
    (high, value - high)
}

/// The rounded product and its error.
fn two_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    let ((a_high, a_low), (b_high, b_low)) = (split(a), split(b));
    (product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low)
}

impl DoubleDouble {
    pub const ZERO: Self = Self { high: 0.0, low: 0.0 };

    fn renormalised(high: f64, low: f64) -> Self {
        let (high, low) = quick_two_sum(high, low);
        Self { high, low }
    }

    /// The nearest double.
    pub fn to_f64(self) -> f64 {
        self.high
    }

    /// Square root of a number that is not negative.
    pub fn sqrt(self) -> Self {
        if self.high <= 0.0 {
            return Self::ZERO;
        }
        // one Newton step on the root of the leading part
        let root = self.high.sqrt();
        let left = self - Self::from(root) * Self::from(root);
        Self::from(root) + Self::from(left.high / (2.0 * root))
    }
}

impl From<f64> for DoubleDouble {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

impl Add for DoubleDouble {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        let (high, mut low) = two_sum(self.high, other.high);
        let (small, smaller) = two_sum(self.low, other.low);
        low += small;
        let (high, low) = quick_two_sum(high, low);
        Self::renormalised(high, low + smaller)
    }
}

impl Sub for DoubleDouble {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + Self { high: -other.high, low: -other.low }
    }
}

impl Mul for DoubleDouble {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let (high, low) = two_product(self.high, other.high);
        Self::renormalised(high, low + (self.high * other.low + self.low * other.high))
    }
}

impl Div for DoubleDouble {
    type Output = Self;

    fn div(self, other: Self) -> Self {
        // long division with three digits in base 2^53
        let first = self.high / other.high;
        let mut left = self - other * Self::from(first);
        let second = left.high / other.high;
        left = left - other * Self::from(second);
        Self::renormalised(first, second) + Self::from(left.high / other.high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number(value: f64) -> DoubleDouble {
        DoubleDouble::from(value)
    }

    #[test]
    fn what_one_double_loses_is_kept() {
        let tiny = (-40.0_f64).exp2();
        let left = number(1e16) + number(1.0) + number(tiny) - number(1e16) - number(1.0);
        assert_eq!(left.to_f64(), tiny);
        assert_eq!((1e16 + 1.0 + tiny) - 1e16 - 1.0, -1.0);
    }

    #[test]
    fn a_third_and_a_root_hold_thirty_digits() {
        let third = number(1.0) / number(3.0);
        let left = third * number(3.0) - number(1.0);
        assert!(left.to_f64().abs() < 1e-31, "{left:?}");
        let root = number(2.0).sqrt();
        let left = root * root - number(2.0);
        assert!(left.to_f64().abs() < 1e-30, "{left:?}");
        assert_eq!(DoubleDouble::ZERO.sqrt(), DoubleDouble::ZERO);
    }

    proptest! {
        #[test]
        fn products_are_exact(a in -(1_i64 << 52)..(1_i64 << 52), b in -(1_i64 << 52)..(1_i64 << 52)) {
            // the exact product of two integers of 52 bits, checked in 128-bit integers
            let product = number(a as f64) * number(b as f64);
            prop_assert_eq!(product.high as i128 + product.low as i128, i128::from(a) * i128::from(b));
        }

        #[test]
        fn sums_are_exact(a in -(1_i64 << 52)..(1_i64 << 52), b in -1e-3_f64..1e-3) {
            let sum = number(a as f64) + number(b);
            prop_assert_eq!((sum - number(a as f64)).to_f64(), b);
        }

        #[test]
        fn division_undoes_multiplication(a in 0.1_f64..1e6, b in 0.1_f64..1e6) {
            let left = number(a) * number(b) / number(b) - number(a);
            prop_assert!(left.to_f64().abs() <= 1e-29 * a);
        }
    }
}
