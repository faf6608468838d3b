//! Numbers that somebody chose, as they would write them.

use super::digits::number;

/// A setting or a step, without more digits than it has: `0.5`, `10`, `0.025`.
pub fn given(value: f64) -> String {
    number(value, decimals_given(value))
}

/// Decimals that it takes to write a number as it was given, six at most.
pub fn decimals_given(value: f64) -> usize {
    let tells = |scale: f64| {
        ((value * scale).round() / scale - value).abs() <= 1e-9 * value.abs().max(1e-3)
    };
    [1.0, 10.0, 100.0, 1e3, 1e4, 1e5].into_iter().position(tells).unwrap_or(6)
}

#[cfg(test)]
mod tests {
    use super::given;

    #[test]
    fn a_setting_shows_the_digits_it_has() {
        assert_eq!(given(7.0), "7");
        assert_eq!(given(0.5), "0.5");
        assert_eq!(given(0.025), "0.025");
    }
}
