//! Distributions on the right side, sums that keep their digits, order statistics, and a bounded minimiser.

use statrs::distribution::{ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// The probability that a t variable of `df` degrees of freedom is at least as far from zero as `t`.
///
/// NaN where `t` is NaN or `df` is not positive. Upper tails are computed as such, never as one minus the lower.
pub fn t_two_sided(t: f64, df: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, df) {
        Ok(distribution) if !t.is_nan() => (2.0 * distribution.sf(t.abs())).min(1.0),
        _ => f64::NAN,
    }
}

/// The value that a t variable of `df` degrees of freedom stays below with probability `p`.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if df > 1e8 {
        return normal_quantile(p);
    }
    StudentsT::new(0.0, 1.0, df).map_or(f64::NAN, |distribution| distribution.inverse_cdf(p))
}

/// The value that a standard normal variable stays below with probability `p`.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// The probability that an F variable of `df1` and `df2` degrees of freedom is at least `f`.
pub fn f_upper(f: f64, df1: f64, df2: f64) -> f64 {
    match FisherSnedecor::new(df1, df2) {
        Ok(distribution) if f >= 0.0 => distribution.sf(f),
        _ => f64::NAN,
    }
}

/// A sum that carries what each addition would lose (Neumaier 1974, ZAMM 54, 39-51).
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0f64, 0.0f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// The arithmetic mean; NaN of nothing.
pub fn mean(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let first = sum(values.iter().copied()) / n;
    // a second pass takes out what rounding left in the first
    first + sum(values.iter().map(|value| value - first)) / n
}

/// The standard deviation with n - 1; NaN of fewer than two values.
pub fn standard_deviation(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return f64::NAN;
    }
    let centre = mean(values);
    (sum(values.iter().map(|value| (value - centre).powi(2))) / (values.len() - 1) as f64).sqrt()
}

/// The quantile by linear interpolation of order statistics at (n - 1) p (type 7 of Hyndman & Fan 1996, The
/// American Statistician 50, 361-365); NaN of nothing.
pub fn quantile(values: &[f64], p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = p.clamp(0.0, 1.0) * (sorted.len() - 1) as f64;
    let (below, above) = (place.floor() as usize, place.ceil() as usize);
    sorted[below] + (place - place.floor()) * (sorted[above] - sorted[below])
}

/// The distance between the quartiles.
pub fn interquartile_range(values: &[f64]) -> f64 {
    quantile(values, 0.75) - quantile(values, 0.25)
}

/// The place of a minimum of `f` between `low` and `high`, to about `tolerance` relative to the range's scale, by
/// golden sections with parabolic steps (Brent 1973, Algorithms for Minimization without Derivatives, ch. 5).
///
/// For a function with one minimum there; otherwise it finds one of them.
pub fn minimise(low: f64, high: f64, tolerance: f64, f: impl Fn(f64) -> f64) -> f64 {
    const GOLDEN: f64 = 0.381_966_011_250_105_1;
    let (mut a, mut b) = (low, high);
    let mut x = a + GOLDEN * (b - a);
    let (mut w, mut v) = (x, x);
    let mut fx = f(x);
    let (mut fw, mut fv) = (fx, fx);
    let (mut step, mut earlier) = (0.0f64, 0.0f64);
    for _ in 0..200 {
        let middle = 0.5 * (a + b);
        let within = tolerance * x.abs() + 1e-12;
        if (x - middle).abs() <= 2.0 * within - 0.5 * (b - a) {
            break;
        }
        let parabola = parabolic_step((x, fx), (w, fw), (v, fv));
        match parabola {
            Some(p)
                if earlier.abs() > within
                    && p.abs() < 0.5 * earlier.abs()
                    && a < x + p
                    && x + p < b =>
            {
                earlier = step;
                step = p;
            }
            _ => {
                earlier = if x < middle { b - x } else { a - x };
                step = GOLDEN * earlier;
            }
        }
        let u = if step.abs() >= within { x + step } else { x + within.copysign(step) };
        let fu = f(u);
        if fu <= fx {
            if u < x {
                b = x
            } else {
                a = x
            }
            (v, fv, w, fw, x, fx) = (w, fw, x, fx, u, fu);
        } else {
            if u < x {
                a = u
            } else {
                b = u
            }
            if fu <= fw || w == x {
                (v, fv, w, fw) = (w, fw, u, fu);
            } else if fu <= fv || v == x || v == w {
                (v, fv) = (u, fu);
            }
        }
    }
    x
}

/// The step from the best point to the lowest point of the parabola through three points.
fn parabolic_step((x, fx): (f64, f64), (w, fw): (f64, f64), (v, fv): (f64, f64)) -> Option<f64> {
    let r = (x - w) * (fx - fv);
    let q = (x - v) * (fx - fw);
    let below = 2.0 * (q - r);
    let above = (x - v) * q - (x - w) * r;
    (below != 0.0).then(|| -above / below).filter(|step| step.is_finite())
}
