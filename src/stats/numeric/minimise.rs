//! One-dimensional minimum and root inside given bounds.

/// Where a function is least, and its value there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Minimum {
    /// The argument.
    pub at: f64,
    /// The function's value.
    pub value: f64,
}

/// Least value of a function between two bounds by golden sections and parabolas (Brent 1973, Algorithms for Minimization without Derivatives, chapter 5).
///
/// `tolerance` is relative to the argument; below about 1e-8 rounding hides the minimum. The function should have one valley; with several, one of them is
/// found. Values that are not numbers count as infinitely high.
pub fn minimise_bounded(
    function: impl Fn(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Minimum {
    let golden = 0.5 * (3.0 - 5.0_f64.sqrt());
    let value = |x: f64| {
        let y = function(x);
        if y.is_nan() { f64::INFINITY } else { y }
    };
    let (mut a, mut b) = (low.min(high), low.max(high));
    let mut x = a + golden * (b - a);
    let (mut w, mut v) = (x, x);
    let mut fx = value(x);
    let (mut fw, mut fv) = (fx, fx);
    let (mut step, mut before) = (0.0_f64, 0.0_f64);
    for _ in 0..500 {
        let middle = 0.5 * (a + b);
        let least = tolerance * x.abs() + 1e-12;
        if (x - middle).abs() <= 2.0 * least - 0.5 * (b - a) {
            break;
        }
        match parabola(x, w, v, fx, fw, fv, before).filter(|s| x + s > a && x + s < b) {
            Some(parabolic) => {
                before = step;
                step = parabolic;
                let near_edge = x + step - a < 2.0 * least || b - x - step < 2.0 * least;
                if near_edge {
                    step = if x < middle { least } else { -least };
                }
            }
            None => {
                before = if x < middle { b - x } else { a - x };
                step = golden * before;
            }
        }
        let u = x + if step.abs() >= least { step } else { least.copysign(step) };
        let fu = value(u);
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
    Minimum { at: x, value: fx }
}

/// The step to the bottom of the parabola through three points, if it is shorter than half the step before last.
fn parabola(x: f64, w: f64, v: f64, fx: f64, fw: f64, fv: f64, before: f64) -> Option<f64> {
    let r = (x - w) * (fx - fv);
    let q = (x - v) * (fx - fw);
    let above = (x - v) * q - (x - w) * r;
    let below = 2.0 * (q - r);
    let step = -above / below;
    (below != 0.0 && step.is_finite() && step.abs() < 0.5 * before.abs()).then_some(step)
}

/// A zero of a continuous function between two bounds with values of opposite sign, by bisection and secants (the Illinois rule of Dowell & Jarratt 1971,
/// BIT 11, 168-174, with a bisection whenever it stalls), to the last bit or so.
///
/// `None` where the signs agree or a value is not a number.
pub fn find_root(function: impl Fn(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    find_root_within(function, low, high, 2.0 * f64::EPSILON)
}

/// [`find_root`] for functions that cost much: it stops when the bracket is narrower than `tolerance` times the argument.
pub fn find_root_within(
    function: impl Fn(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (function(a), function(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return None;
    }
    // which end moved last: an end that stays twice running has its value halved, which draws the secant towards it
    let mut moved_high = None;
    for turn in 0..400 {
        let width = (b - a).abs();
        if width <= tolerance * a.abs().max(b.abs()) {
            break;
        }
        let secant = (a * fb - b * fa) / (fb - fa);
        let inside = secant > a.min(b) && secant < a.max(b);
        let next = if inside && turn % 3 != 2 { secant } else { 0.5 * (a + b) };
        if next == a || next == b {
            break;
        }
        let value = function(next);
        if value.is_nan() {
            return None;
        }
        if value == 0.0 {
            return Some(next);
        }
        if (value > 0.0) == (fb > 0.0) {
            (b, fb) = (next, value);
            fa *= if moved_high == Some(true) { 0.5 } else { 1.0 };
            moved_high = Some(true);
        } else {
            (a, fa) = (next, value);
            fb *= if moved_high == Some(false) { 0.5 } else { 1.0 };
            moved_high = Some(false);
        }
    }
    Some(0.5 * (a + b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_valley_is_found() {
        let found = minimise_bounded(|x| (x - 0.3).powi(2) + 2.0, -5.0, 9.0, 1e-9);
        assert!((found.at - 0.3).abs() < 1e-7);
        assert!((found.value - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_slope_ends_at_its_bound() {
        let found = minimise_bounded(|x| x, 1.0, 2.0, 1e-9);
        assert!((found.at - 1.0).abs() < 1e-6);
    }

    #[test]
    fn values_that_are_no_numbers_are_avoided() {
        let found =
            minimise_bounded(|x| if x < 0.0 { f64::NAN } else { (x - 1.0).abs() }, -4.0, 4.0, 1e-9);
        assert!((found.at - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_root_is_exact_to_the_last_digits() {
        let root = find_root(|x| x * x - 2.0, 0.0, 2.0).unwrap();
        assert!((root - std::f64::consts::SQRT_2).abs() < 1e-15);
        let flat = find_root(|x| x.powi(9) - 1e-9, 0.0, 1.0).unwrap();
        assert!((flat - 0.1).abs() < 1e-14);
    }

    #[test]
    fn no_change_of_sign_means_no_root() {
        assert_eq!(find_root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(find_root(|_| f64::NAN, -1.0, 1.0), None);
    }
}
