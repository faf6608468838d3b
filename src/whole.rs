//! Whole numbers of other numbers. What a whole number cannot hold becomes the nearest that it can: none wraps around,
//! and none ends the program.

/// The whole part of a number from 0 on. NaN and what is below 0 give 0, what is too large gives the largest.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the fraction is to go, and the rest is held to the nearest that there is, as said above"
)]
pub fn part(value: f64) -> usize {
    value as usize
}

/// The whole part of a number of either sign. NaN gives 0, what is too far from 0 gives the farthest.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the fraction is to go, and the rest is held to the nearest that there is, as said above"
)]
pub fn signed(value: f64) -> i64 {
    value as i64
}

/// [`signed`] of a number that is small: days of a log, a power of ten.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the fraction is to go, and the rest is held to the nearest that there is, as said for `signed`"
)]
pub fn small(value: f64) -> i32 {
    value as i32
}

/// A place or a number of things as the 32 bits in which tables hold it; what is too large gives the largest.
#[inline]
pub fn code(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}

/// A number of things as one that places are counted in; what is too large for the machine gives the largest.
#[inline]
pub fn size(count: u64) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fraction_goes() {
        assert_eq!([0.0, 0.99, 1.0, 2.5].map(part), [0, 0, 1, 2]);
        assert_eq!([-2.5, -0.5, 0.5, 2.5].map(signed), [-2, 0, 0, 2]);
        assert_eq!([-2.5, -0.5, 0.5, 2.5].map(small), [-2, 0, 0, 2]);
    }

    #[test]
    fn what_does_not_fit_becomes_the_nearest_that_does() {
        assert_eq!([-1.0, f64::NEG_INFINITY, f64::INFINITY].map(part), [0, 0, usize::MAX]);
        assert_eq!([-1e300, 1e300].map(signed), [i64::MIN, i64::MAX]);
        assert_eq!([-3e9, 3e9].map(small), [i32::MIN, i32::MAX]);
        assert_eq!((part(f64::NAN), signed(f64::NAN), small(f64::NAN)), (0, 0, 0));
    }

    #[cfg(target_pointer_width = "64")]
    #[test]
    fn a_place_beyond_32_bits_is_the_last_of_them() {
        assert_eq!(code(7), 7);
        assert_eq!([1 << 32, usize::MAX].map(code), [u32::MAX; 2]);
        assert_eq!(size(u64::MAX), usize::MAX);
    }
}
