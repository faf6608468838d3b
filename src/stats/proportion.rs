//! Intervals of a share.

use statrs::distribution::{Beta, ContinuousCDF};

/// The exact 95 % interval of a share, `hits` of `n` (Clopper & Pearson 1934, Biometrika 26, 404-413).
///
/// The lower end is the 2.5 % point of Beta(hits, n - hits + 1), the upper the 97.5 % point of
/// Beta(hits + 1, n - hits). None where `n` is zero or `hits` exceeds it.
pub fn clopper_pearson(hits: usize, n: usize) -> Option<(f64, f64)> {
    if n == 0 || hits > n {
        return None;
    }
    let (k, misses) = (hits as f64, (n - hits) as f64);
    let low = if hits == 0 { 0.0 } else { beta_quantile(k, misses + 1.0, 0.025)? };
    let high = if hits == n { 1.0 } else { beta_quantile(k + 1.0, misses, 0.975)? };
    Some((low, high))
}

fn beta_quantile(a: f64, b: f64, p: f64) -> Option<f64> {
    Beta::new(a, b).ok().map(|beta| beta.inverse_cdf(p))
}
