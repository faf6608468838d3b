//! A smooth curve through points, as rough as the data ask for.

mod banded;
mod equations;
mod fit;

pub use fit::SplineFit;

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::mean;
use crate::stats::penalised::best_of_grid;
use equations::Knots;

/// Places nearer than this share of the range count as one, which keeps the equations well posed.
const SAME_PLACE: f64 = 5e-4;
/// Logarithm (base 10) of the smoothest penalty searched, for a range of 1 and per row: a curve with a ten-thousandth of a degree of freedom beside its
/// straight line.
const SMOOTHEST: f64 = 1.0;
/// A curve with fewer degrees of freedom is a straight line: nearer to 2 the criterion is flat, and rounding decides where the search ends.
const STRAIGHT: f64 = 2.01;
/// A choice nearer than this many decades to the end of the search is at its edge.
const EDGE: f64 = 1e-3;

/// Points prepared for a natural cubic smoothing spline: the curve that minimises `sum (y_i - f(x_i))^2 + penalty * integral f''(x)^2 dx`, which is a natural
/// cubic spline with a knot at every different `x` (Reinsch 1967, Numerische Mathematik 10, 177-183; Green & Silverman 1994, Nonparametric Regression and
/// Generalized Linear Models, chapters 2 and 3). Banded equations: `O(n)` a penalty.
///
/// Rows with the same `x` (or within 1/2000 of the range after it) share a knot, weighted by their number. The penalty's unit is that of `x` cubed.
#[derive(Debug, Clone)]
pub struct SmoothingSpline {
    rows: usize,
    range: f64,
    knots: Knots,
    /// Sum of squares inside knots.
    pure_error: f64,
    /// Sum of squares about the mean.
    total: f64,
}

/// What the penalty is chosen by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Smoothness {
    /// Generalised cross-validation `(rss / n) / (1 - edf / n)^2` (Craven & Wahba 1979, Numerische Mathematik 31, 377-403).
    CrossValidation,
    /// Restricted likelihood of the curve as a random effect (Wahba 1985, Annals of Statistics 13, 1378-1402): wriggles less by chance than the former.
    RestrictedLikelihood,
}

/// The penalty chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SmoothnessChoice {
    /// The penalty, in the unit of `x` cubed.
    pub penalty: f64,
    /// The criterion there: the cross-validation score, or -2 times the restricted log-likelihood up to a constant.
    pub criterion: f64,
    /// The curve has under 2.01 degrees of freedom: the data ask for a straight line.
    pub straight: bool,
    /// The search ended at its roughest: the data ask for a curve through every point.
    pub through_every_point: bool,
}

impl SmoothingSpline {
    /// Sorts the points and joins those of one place.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`, `Empty`; `NoVariation` where `x` does not vary; `TooFewRows` under three different places; `OutOfRange` for a range or an
    /// outcome whose powers are beyond the largest double.
    pub fn new(x: &[f64], outcome: &[f64]) -> Result<Self, StatsError> {
        require_length("the outcome", x.len(), outcome.len())?;
        require_finite("the places of a curve", x)?;
        require_finite("the outcome", outcome)?;
        let mut order: Vec<usize> = (0..x.len()).collect();
        order.sort_by(|&a, &b| x[a].total_cmp(&x[b]));
        // not empty: checked above
        let range = x[order[order.len() - 1]] - x[order[0]];
        if range <= 0.0 {
            return Err(StatsError::NoVariation { what: "the places of a curve".into() });
        }
        require_power(range.powi(3))?;
        let total = squares_about_mean(outcome)?;
        require_power(1.0 + total)?;
        let (knots, pure_error) = joined(x, outcome, &order, range)?;
        if knots.places.len() < 3 {
            return Err(StatsError::TooFewRows { rows: knots.places.len(), columns: 2 });
        }
        Ok(Self { rows: x.len(), range, knots, pure_error, total })
    }

    /// The curve at one penalty.
    ///
    /// # Errors
    /// `OutOfRange` unless the penalty is above 0 and finite; `NotConverged` where it is so large that rounding takes over.
    pub fn fit(&self, penalty: f64) -> Result<SplineFit, StatsError> {
        let scaled = penalty / self.range.powi(3);
        if !(penalty.is_finite() && scaled > 0.0 && scaled.is_finite()) {
            return Err(StatsError::OutOfRange {
                what: "the penalty of a curve".into(),
                value: penalty,
                expected: "a finite number above 0".into(),
            });
        }
        match self.knots.solve(scaled) {
            Some(solution) => Ok(SplineFit::new(self, penalty, scaled, solution)),
            None => Err(StatsError::NotConverged { what: "the curve".into() }),
        }
    }

    /// The penalty that a criterion likes best.
    ///
    /// # Errors
    /// `NoVariation` for an outcome that does not vary; `NotConverged`.
    pub fn choose(&self, criterion: Smoothness) -> Result<SmoothnessChoice, StatsError> {
        let size = self.knots.means.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
        if self.total <= (1e-14 * size).powi(2) * self.rows as f64 {
            return Err(StatsError::NoVariation { what: "the outcome".into() });
        }
        let unit = self.rows as f64 * self.range.powi(3);
        let penalty = |logarithm: f64| unit * 10.0_f64.powf(logarithm);
        let value = |logarithm: f64| match (self.fit(penalty(logarithm)), criterion) {
            (Ok(fit), Smoothness::CrossValidation) => fit.generalised_cross_validation,
            (Ok(fit), Smoothness::RestrictedLikelihood) => fit.restricted_deviance,
            (Err(_), _) => f64::INFINITY,
        };
        // the fastest wave through the knots is damped by penalty (pi knots)^4; at a tenth of its reciprocal it passes
        let fastest = std::f64::consts::PI * self.knots.places.len() as f64;
        let (low, high) = (-4.0 * fastest.log10() - 1.0, SMOOTHEST);
        let found = best_of_grid(value, low, high);
        let chosen = self.fit(penalty(found.at))?;
        Ok(SmoothnessChoice {
            penalty: chosen.penalty,
            criterion: found.value,
            straight: chosen.effective_degrees_of_freedom < STRAIGHT,
            through_every_point: found.at - low < EDGE,
        })
    }
}

/// Knots with the rows that they stand for, and the sum of squares inside them; `order` holds the rows by rising `x`.
fn joined(
    x: &[f64],
    outcome: &[f64],
    order: &[usize],
    range: f64,
) -> Result<(Knots, f64), StatsError> {
    let mut knots = Knots::default();
    let mut pure_error = 0.0;
    let mut start = 0;
    while start < order.len() {
        let first = x[order[start]];
        let rows = order[start..].iter().take_while(|&&row| x[row] - first <= SAME_PLACE * range);
        let values: Vec<f64> = rows.map(|&row| outcome[row]).collect();
        pure_error += squares_about_mean(&values)?;
        start += values.len();
        knots.places.push(first);
        knots.weights.push(values.len() as f64);
        knots.means.push(mean(&values)?);
    }
    knots.gaps = knots.places.windows(2).map(|pair| (pair[1] - pair[0]) / range).collect();
    Ok((knots, pure_error))
}

fn squares_about_mean(values: &[f64]) -> Result<f64, StatsError> {
    let centre = mean(values)?;
    Ok(values.iter().map(|value| (value - centre).powi(2)).sum())
}

fn require_power(power: f64) -> Result<(), StatsError> {
    if power.is_finite() && power > 0.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "a power of the range or the outcome".into(),
        value: power,
        expected: "a finite number above 0; choose another unit".into(),
    })
}

#[cfg(test)]
mod tests;
