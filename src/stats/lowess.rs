//! A smooth curve through a cloud of points that a few wild ones do not pull away.

use crate::stats::error::{StatsError, require_count, require_length, require_squarable};
use crate::stats::numeric::{mean, median};
use crate::whole;
use std::ops::Range;

/// How smooth and how robust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowessOptions {
    /// Share of the points that each local line is fitted to, over 0 and at most 1.
    pub span: f64,
    /// How often points far from the curve are weighed down and the curve is fitted again.
    pub robust_passes: usize,
    /// Points nearer than this share of the range of `x` to a fitted one are interpolated; 0 fits all. 0.01 makes the cost O(n) a pass.
    pub delta: f64,
}

impl Default for LowessOptions {
    /// Cleveland's own: two thirds of the points, three passes, a hundredth of the range.
    fn default() -> Self {
        Self { span: 2.0 / 3.0, robust_passes: 3, delta: 0.01 }
    }
}

/// Distances and residuals over this share of their limit count as beyond it (Cleveland 1981, The American Statistician 35, 54): weights near zero would
/// otherwise decide a line through points that are all nearly left out.
const NEARLY_OUT: f64 = 0.999;
/// Residuals whose middle is below this share of their mean are an exact fit and show no outliers.
const EXACT_FIT: f64 = 1e-7;
/// Local spread of `x` below this share of its range is too small for a slope, and the local mean is taken.
const NO_SLOPE: f64 = 1e-3;

/// Locally weighted robust regression (Cleveland 1979, Journal of the American Statistical Association 74, 829-836): at every point a straight line by least
/// squares over the nearest `span n` points with tricube weights `(1 - (d / h)^3)^3`, `h` the distance to the farthest of them; then passes with bisquare
/// weights `(1 - (e / 6 m)^2)^2` of the residuals `e`, `m` the median of their sizes. Returns the curve at each point, in the order of the points, in the
/// unit of `y`; points with the same `x` have the same value.
///
/// A few outliers do not move the curve. One that is some thousand times as far off as the scatter of the rest spoils the first pass for its whole
/// neighbourhood, and the curve then follows it at its own place: a limit of the method, to be met by looking for such values first.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under two points; `NoVariation` where all `x` are equal; `OutOfRange` for a span outside 0 to 1 or a
/// negative delta.
pub fn lowess(x: &[f64], y: &[f64], options: &LowessOptions) -> Result<Vec<f64>, StatsError> {
    require_length("y", x.len(), y.len())?;
    require_squarable("x", x)?;
    require_squarable("y", y)?;
    require_count("points", 2, x.len())?;
    options.check()?;
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|&a, &b| x[a].total_cmp(&x[b]));
    let sorted = Sorted {
        x: order.iter().map(|&place| x[place]).collect(),
        y: order.iter().map(|&place| y[place]).collect(),
    };
    let curve = sorted.curve(options)?;
    let mut result = vec![0.0; x.len()];
    for (place, value) in order.into_iter().zip(curve) {
        result[place] = value;
    }
    Ok(result)
}

impl LowessOptions {
    fn check(&self) -> Result<(), StatsError> {
        let fault = |what: &str, value, expected: &str| {
            let (what, expected) = (what.into(), expected.into());
            Err(StatsError::OutOfRange { what, value, expected })
        };
        if !(self.span > 0.0 && self.span <= 1.0) {
            return fault("the span of a smooth", self.span, "over 0 and at most 1");
        }
        if !(self.delta >= 0.0 && self.delta.is_finite()) {
            return fault("the delta of a smooth", self.delta, "zero or a positive number");
        }
        Ok(())
    }
}

/// Points by rising `x`.
struct Sorted {
    x: Vec<f64>,
    y: Vec<f64>,
}

impl Sorted {
    fn curve(&self, options: &LowessOptions) -> Result<Vec<f64>, StatsError> {
        let count = self.x.len();
        // two points or more were required
        let range = self.x[count - 1] - self.x[0];
        if range == 0.0 {
            return Err(StatsError::NoVariation { what: "x".into() });
        }
        // the small term keeps a product like 0.3 times 10 from falling just short of 3
        let near = whole::part(options.span * count as f64 + 1e-7).clamp(2, count);
        let anchors = self.anchors(options.delta * range);
        let mut robust = vec![1.0; count];
        let mut curve = self.pass(&anchors, near, range, &robust);
        for _ in 0..options.robust_passes {
            let Some(weights) = self.robust_weights(&curve)? else { break };
            robust = weights;
            curve = self.pass(&anchors, near, range, &robust);
        }
        Ok(curve)
    }

    /// Runs of equal `x` that get a fit of their own: the first, and after each the farthest within `delta` of it, or else the next.
    fn anchors(&self, delta: f64) -> Vec<Range<usize>> {
        let mut start = 0;
        let run_of = |run: &[f64]| {
            start += run.len();
            start - run.len()..start
        };
        let runs: Vec<Range<usize>> = self.x.chunk_by(|a, b| a == b).map(run_of).collect();
        let mut anchors = Vec::new();
        let mut next = 0;
        while let Some(run) = runs.get(next) {
            let reach = self.x[run.start] + delta;
            anchors.push(run.clone());
            let beyond = runs.partition_point(|run| self.x[run.start] <= reach);
            next = (beyond - 1).max(next + 1);
        }
        anchors
    }

    /// The curve at all points, for given robustness weights.
    fn pass(&self, anchors: &[Range<usize>], near: usize, range: f64, robust: &[f64]) -> Vec<f64> {
        let mut curve = vec![0.0; self.x.len()];
        let mut window = 0..near;
        let mut before: Option<Range<usize>> = None;
        for anchor in anchors {
            let at = self.x[anchor.start];
            self.slide(&mut window, at);
            let value = self.local_line(anchor, &window, range, robust);
            curve[anchor.clone()].fill(value);
            if let Some(before) = before {
                self.interpolate(&mut curve, &before, anchor);
            }
            before = Some(anchor.clone());
        }
        curve
    }

    /// Moves the window up while the point after it is nearer than its first.
    fn slide(&self, window: &mut Range<usize>, at: f64) {
        while let Some(next) = self.x.get(window.end) {
            if at - self.x[window.start] <= next - at {
                break;
            }
            *window = window.start + 1..window.end + 1;
        }
    }

    /// The weighted local line at the anchor. Distances are in units of `h`, so that no square overflows.
    fn local_line(
        &self,
        anchor: &Range<usize>,
        window: &Range<usize>,
        range: f64,
        robust: &[f64],
    ) -> f64 {
        let at = self.x[anchor.start];
        let h = (at - self.x[window.start]).max(self.x[window.end - 1] - at);
        // equal x beyond the window count as well; without any distance they are all there is
        let rows = if h == 0.0 { anchor.clone() } else { window.clone() };
        let step = |row: usize| if h == 0.0 { 0.0 } else { (self.x[row] - at) / h };
        let tricube = |d: f64| if d > NEARLY_OUT { 0.0 } else { (1.0 - d.powi(3)).powi(3) };
        let weight = |row: usize| tricube(step(row).abs()) * robust[row];
        let (mut total, mut of_x, mut of_y) = (0.0, 0.0, 0.0);
        for row in rows.clone() {
            let w = weight(row);
            total += w;
            of_x += w * step(row);
            of_y += w * self.y[row];
        }
        // every near point is an outlier: the points here are all that is known
        if total <= 0.0 {
            let own = &self.y[anchor.clone()];
            return own.iter().sum::<f64>() / own.len() as f64;
        }
        let (centre, level) = (of_x / total, of_y / total);
        let (mut spread, mut product) = (0.0, 0.0);
        for row in rows {
            let deviation = step(row) - centre;
            let w = weight(row) / total;
            spread += w * deviation * deviation;
            product += w * deviation * (self.y[row] - level);
        }
        if spread.sqrt() * h <= NO_SLOPE * range {
            return level;
        }
        level - centre * product / spread
    }

    /// A straight line between two anchors.
    fn interpolate(&self, curve: &mut [f64], before: &Range<usize>, after: &Range<usize>) {
        let (low, high) = (self.x[before.start], self.x[after.start]);
        let (from, to) = (curve[before.start], curve[after.start]);
        let between = before.end..after.start;
        for (value, x) in curve[between.clone()].iter_mut().zip(&self.x[between]) {
            let share = (x - low) / (high - low);
            *value = (1.0 - share) * from + share * to;
        }
    }

    /// Bisquare weights of the residuals; none where the curve fits exactly.
    fn robust_weights(&self, curve: &[f64]) -> Result<Option<Vec<f64>>, StatsError> {
        let residuals: Vec<f64> =
            self.y.iter().zip(curve).map(|(y, fit)| (y - fit).abs()).collect();
        let scale = 6.0 * median(&residuals)?;
        if scale <= EXACT_FIT * mean(&residuals)? {
            return Ok(None);
        }
        let bisquare = |u: f64| if u > NEARLY_OUT { 0.0 } else { (1.0 - u * u).powi(2) };
        Ok(Some(residuals.iter().map(|residual| bisquare(residual / scale)).collect()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use proptest::prelude::*;
    use rand_distr::{Distribution, StandardNormal};

    const EVERY_POINT: LowessOptions = LowessOptions { span: 0.5, robust_passes: 3, delta: 0.0 };

    fn noisy(count: usize) -> (Vec<f64>, Vec<f64>) {
        let mut generator = stream(3, 0);
        let x: Vec<f64> = (0..count).map(|i| i as f64 / count as f64).collect();
        let noise = |generator: &mut _| -> f64 { StandardNormal.sample(generator) };
        let y = x.iter().map(|x| (6.0 * x).sin() + 0.1 * noise(&mut generator)).collect();
        (x, y)
    }

    #[test]
    fn a_straight_line_is_kept_whatever_the_options() {
        let x = [5.0, 1.0, 2.0, 9.0, 4.0, 4.0, 7.0];
        let y: Vec<f64> = x.iter().map(|x| 3.0 - 2.0 * x).collect();
        for options in [LowessOptions::default(), EVERY_POINT] {
            for (fit, y) in lowess(&x, &y, &options).unwrap().iter().zip(&y) {
                assert!((fit - y).abs() < 1e-12);
            }
        }
    }

    fn waves_with(wild: f64) -> (Vec<f64>, Vec<f64>) {
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 0.5 * x + 0.1 * (7.0 * x).sin()).collect();
        y[20] = wild;
        (x, y)
    }

    #[test]
    fn one_wild_point_does_not_pull_the_curve() {
        let (x, y) = waves_with(100.0);
        let found = lowess(&x, &y, &EVERY_POINT).unwrap();
        assert!(x.iter().zip(&found).all(|(x, fit)| (fit - 0.5 * x).abs() < 0.1));
        // R 4.2.2: stats::lowess(x, y, f = .5, iter = 3, delta = 0)
        for (place, fit) in [(19, 9.489304142), (20, 9.988461667), (21, 10.491956475)] {
            assert!((found[place] - fit).abs() < 1e-8);
        }
    }

    #[test]
    fn a_point_wild_beyond_measure_makes_its_neighbours_look_wild_and_is_followed() {
        let (x, y) = waves_with(1e6);
        let found = lowess(&x, &y, &EVERY_POINT).unwrap();
        // R 4.2.2, as above
        for (place, fit) in [(18, 9.562617053), (19, 5.077389068), (20, 1e6), (22, 11.60341195)] {
            assert!((found[place] - fit).abs() < 1e-8 * fit);
        }
    }

    #[test]
    fn points_with_the_same_x_have_the_same_value_in_any_order() {
        let found = lowess(&[2.0, 1.0, 2.0, 3.0], &[5.0, 1.0, 7.0, 2.0], &EVERY_POINT).unwrap();
        assert_eq!(found[0], found[2]);
    }

    #[test]
    fn interpolation_changes_little_and_a_hundred_thousand_points_are_quick() {
        let (x, y) = noisy(2_000);
        let all = LowessOptions { span: 0.1, robust_passes: 1, delta: 0.0 };
        let exact = lowess(&x, &y, &all).unwrap();
        let quick = lowess(&x, &y, &LowessOptions { delta: 0.01, ..all }).unwrap();
        assert!(exact.iter().zip(&quick).all(|(a, b)| (a - b).abs() < 0.01));
        let (x, y) = noisy(100_000);
        let found = lowess(&x, &y, &LowessOptions { delta: 0.01, ..all }).unwrap();
        let off = |(x, fit): (&f64, &f64)| (fit - (6.0 * x).sin()).abs();
        assert!(x.iter().zip(&found).map(off).fold(0.0, f64::max) < 0.05);
    }

    #[test]
    fn two_points_are_joined_and_one_is_refused() {
        let found = lowess(&[1.0, 2.0], &[5.0, 9.0], &LowessOptions::default()).unwrap();
        assert_eq!(found, [5.0, 9.0]);
        let one = lowess(&[1.0], &[5.0], &LowessOptions::default());
        assert!(matches!(one, Err(StatsError::TooFew { found: 1, needed: 2, .. })));
    }

    #[test]
    fn constant_x_is_refused_and_constant_y_is_kept() {
        let flat = lowess(&[2.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0], &EVERY_POINT);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        let level = lowess(&[1.0, 2.0, 3.0, 4.0, 5.0], &[0.7; 5], &EVERY_POINT).unwrap();
        assert!(level.iter().all(|fit| (fit - 0.7).abs() < 1e-15));
    }

    #[test]
    fn many_points_on_one_x_and_nonsense_options() {
        let mut x = vec![3.0; 50];
        x.push(4.0);
        let y: Vec<f64> = (0..51).map(|i| f64::from(i % 5)).collect();
        let found = lowess(&x, &y, &EVERY_POINT).unwrap();
        assert!(found.iter().all(|fit| fit.is_finite()) && (found[0] - 2.0).abs() < 0.5);
        for (span, delta) in [(0.0, 0.0), (1.1, 0.0), (f64::NAN, 0.0), (0.5, -1.0)] {
            let options = LowessOptions { span, robust_passes: 0, delta };
            assert!(matches!(lowess(&x, &y, &options), Err(StatsError::OutOfRange { .. })));
        }
        assert!(lowess(&[1.0, f64::NAN], &[1.0, 2.0], &EVERY_POINT).is_err());
    }

    proptest! {
        #[test]
        fn a_change_of_units_changes_the_curve_likewise(
            points in prop::collection::vec((0_u8..20, -9.0_f64..9.0), 5..40),
            scale in 0.1_f64..10.0,
        ) {
            let x: Vec<f64> = points.iter().map(|point| f64::from(point.0)).collect();
            let y: Vec<f64> = points.iter().map(|point| point.1).collect();
            let moved = |values: &[f64]| -> Vec<f64> { values.iter().map(|v| 4.0 * v).collect() };
            let raised: Vec<f64> = y.iter().map(|y| scale * y + 1.0).collect();
            let options = LowessOptions { robust_passes: 0, ..EVERY_POINT };
            if let Ok(plain) = lowess(&x, &y, &options) {
                let other = lowess(&moved(&x), &raised, &options).unwrap();
                for (a, b) in plain.iter().zip(other) {
                    prop_assert!((scale * a + 1.0 - b).abs() < 1e-8 * (1.0 + b.abs()));
                }
            }
        }
    }
}
