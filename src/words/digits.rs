//! Numbers on paper.
//!
//! As many digits as the uncertainty supports: two significant digits of the
//! interval's half width (the convention of JCGM 100:2008, 7.2.6). True minus
//! signs, thin spaces between groups of three digits, never a “−0.0”.

use crate::finding::Interval;
use crate::whole;

/// U+2212, as wide as a plus sign.
pub const MINUS: char = '−';
/// U+202F: thin, and no line breaks at it.
pub const THIN_SPACE: char = '\u{202F}';

/// More decimals than any reed supports; keeps a vanishing interval from printing zeros for ever.
const MOST_DECIMALS: usize = 8;
/// From here on digits would be a row of zeros.
const LARGEST_WRITTEN_OUT: f64 = 1e15;

/// Decimals that an interval of this half width supports. Where the half width
/// is zero or unknown nothing is known about the digits, and two are shown.
pub fn decimals(half_width: f64) -> usize {
    if !half_width.is_finite() || half_width <= 0.0 {
        return 2;
    }
    let first_digit = rounded_to_two_digits(half_width).log10().floor();
    whole::part((1.0 - first_digit).clamp(0.0, MOST_DECIMALS as f64))
}

/// Rounding may carry into the next power of ten: 0.0996 has the two digits 0.10.
fn rounded_to_two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// Decimals that an interval supports.
pub fn interval_decimals(interval: Interval) -> usize {
    decimals((interval.high - interval.low) / 2.0)
}

/// `6.25`, `−0.3`, `12 400`; “unknown” for no number.
pub fn number(value: f64, decimals: usize) -> String {
    if value.is_nan() {
        return "unknown".to_owned();
    }
    let digits = magnitude(value.abs(), decimals);
    let is_zero =
        !digits.contains(|digit: char| digit.is_ascii_digit() && digit != '0') && value.is_finite();
    if value < 0.0 && !is_zero { format!("{MINUS}{digits}") } else { digits }
}

/// Like [`number`], with a plus sign on what rounds above zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let is_above_zero = value > 0.0 && text.contains(|c: char| matches!(c, '1'..='9' | '∞'));
    if is_above_zero { format!("+{text}") } else { text }
}

fn magnitude(value: f64, decimals: usize) -> String {
    if value.is_infinite() {
        return "∞".to_owned();
    }
    if value >= LARGEST_WRITTEN_OUT {
        return power_of_ten(value);
    }
    let text = format!("{value:.*}", decimals.min(MOST_DECIMALS));
    match text.split_once('.') {
        Some((whole, fraction)) => format!("{}.{fraction}", grouped(whole)),
        None => grouped(&text),
    }
}

fn power_of_ten(value: f64) -> String {
    let text = format!("{value:.1e}");
    match text.split_once('e') {
        Some((digits, exponent)) => format!("{digits}×10^{exponent}"),
        None => text,
    }
}

/// Thin spaces between groups of three, from the right.
fn grouped(digits: &str) -> String {
    let mut text = String::with_capacity(digits.len() * 2);
    for (position, digit) in digits.chars().enumerate() {
        if position > 0 && (digits.len() - position).is_multiple_of(3) {
            text.push(THIN_SPACE);
        }
        text.push(digit);
    }
    text
}

/// A change with its interval: `+0.2 (−0.3 to +0.7)`. A last decimal that is
/// zero in all three numbers carries nothing and is dropped.
pub fn change(interval: Interval) -> String {
    let supported = interval_decimals(interval);
    let values = [interval.estimate, interval.low, interval.high];
    let is_idle =
        supported > 0 && values.iter().all(|value| format!("{value:.supported$}").ends_with('0'));
    three_numbers(interval, signed, if is_idle { supported - 1 } else { supported })
}

/// A level with its interval: `6.3 (5.9 to 6.7)`.
pub fn level(interval: Interval) -> String {
    three_numbers(interval, number, interval_decimals(interval))
}

fn three_numbers(interval: Interval, write: fn(f64, usize) -> String, decimals: usize) -> String {
    let [estimate, low, high] =
        [interval.estimate, interval.low, interval.high].map(|value| write(value, decimals));
    format!("{estimate} ({low} to {high})")
}

/// `1 240`
pub fn count(n: usize) -> String {
    grouped(&n.to_string())
}

/// Small counts in words, as in running text: `three`, `twelve`, `13`.
pub fn count_in_words(n: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    WORDS.get(n).map_or_else(|| count(n), |word| (*word).to_owned())
}

/// `1 reed`, `31 reeds`
pub fn plural(n: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(n), if n == 1 { one } else { many })
}

/// A share as whole percent: `3 %`; what is not zero is never written as zero.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    match percent {
        _ if percent.is_nan() => "unknown".to_owned(),
        _ if percent > 0.0 && percent <= 0.5 => format!("under 1{THIN_SPACE}%"),
        _ if (99.5..100.0).contains(&percent) => format!("over 99{THIN_SPACE}%"),
        _ => format!("{}{THIN_SPACE}%", number(percent, 0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn interval(estimate: f64, low: f64, high: f64) -> Interval {
        Interval { estimate, low, high }
    }

    #[test]
    fn the_half_width_decides_the_digits() {
        // two significant digits of 0.34, of 1.2, of 0.012 and of 340
        for (half_width, expected) in [(0.34, 2), (1.2, 1), (0.012, 3), (34.0, 0), (340.0, 0)] {
            assert_eq!(decimals(half_width), expected, "{half_width}");
        }
        // 0.0996 rounds to 0.10
        assert_eq!(decimals(0.0996), 2);
    }

    #[test]
    fn an_unknown_half_width_shows_two_decimals() {
        for half_width in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(decimals(half_width), 2);
        }
    }

    #[test]
    fn a_change_carries_signs_and_true_minus() {
        assert_eq!(change(interval(0.2, -0.3, 0.7)), "+0.2 (−0.3 to +0.7)");
        assert_eq!(change(interval(0.213, -0.324, 0.75)), "+0.21 (−0.32 to +0.75)");
        assert_eq!(level(interval(6.31, 5.2, 7.42)), "6.3 (5.2 to 7.4)");
    }

    #[test]
    fn what_rounds_to_zero_has_no_sign() {
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(number(-0.0, 0), "0");
    }

    #[test]
    fn thousands_are_apart_by_a_thin_space() {
        assert_eq!(number(1234567.25, 1), "1\u{202F}234\u{202F}567.2");
        assert_eq!(count(999), "999");
        assert_eq!(count(10_000), "10\u{202F}000");
    }

    #[test]
    fn what_is_no_number_is_said_in_words() {
        assert_eq!(number(f64::NAN, 2), "unknown");
        assert_eq!(signed(f64::INFINITY, 2), "+∞");
        assert_eq!(number(f64::NEG_INFINITY, 0), "−∞");
        assert_eq!(number(1e308, 2), "1.0×10^308");
    }

    #[test]
    fn a_share_above_nothing_is_not_written_as_nothing() {
        assert_eq!(percent(0.001), "under 1\u{202F}%");
        assert_eq!(percent(0.0), "0\u{202F}%");
        assert_eq!(percent(0.999), "over 99\u{202F}%");
        assert_eq!(percent(0.995), "over 99\u{202F}%");
        assert_eq!(percent(1.0), "100\u{202F}%");
    }

    #[test]
    fn small_counts_are_words_and_one_is_singular() {
        assert_eq!(count_in_words(0), "no");
        assert_eq!(count_in_words(12), "twelve");
        assert_eq!(count_in_words(13), "13");
        assert_eq!(plural(1, "reed", "reeds"), "1 reed");
        assert_eq!(plural(31, "reed", "reeds"), "31 reeds");
    }

    proptest! {
        #[test]
        fn no_number_is_ever_written_as_minus_zero(value in any::<f64>(), decimals in 0usize..6) {
            let text = number(value, decimals);
            let is_minus_zero = text.starts_with('−') && !text.contains(|c: char| matches!(c, '1'..='9' | '∞'));
            prop_assert!(!is_minus_zero, "{}", text);
            prop_assert!(!text.contains('-') || text.contains("10^"));
        }

        #[test]
        fn a_written_number_reads_back_to_within_half_a_last_digit(value in -1e9f64..1e9, decimals in 0usize..5) {
            prop_assert!(reads_back(value, decimals));
        }
    }

    /// What is read is the number nearest to the digits, which itself lies up
    /// to half a step between neighbouring numbers away from them.
    fn reads_back(value: f64, decimals: usize) -> bool {
        let text = number(value, decimals).replace('−', "-").replace(THIN_SPACE, "");
        let read: f64 = text.parse().expect("digits, a point and a sign");
        let half_a_last_digit = 0.5 * 10f64.powi(-(decimals as i32));
        let step = value.abs().next_up() - value.abs();
        (read - value).abs() <= half_a_last_digit + step
    }

    #[test]
    fn a_large_number_half_way_between_two_last_digits_reads_back() {
        // numbers of this size are 3e-8 apart, and this one lies half way
        assert!(reads_back(-225_933_534.260_45, 4));
    }
}
