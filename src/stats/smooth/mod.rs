//! A smooth curve through points, as rough as the data ask for.

mod banded;

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::mean;
use crate::stats::penalised::best_of_grid;
use banded::{Banded, Factor};

/// Places nearer than this share of the range count as one, which keeps the equations well posed.
const SAME_PLACE: f64 = 5e-4;
/// Logarithms (base 10) of the penalties searched, for places brought to a range of 1 and per row.
const SEARCHED: (f64, f64) = (-10.0, 4.0);
/// A choice nearer than this many decades to the end of the search is at its edge.
const EDGE: f64 = 1e-3;

/// Points prepared for a natural cubic smoothing spline: the curve that minimises `sum (y_i - f(x_i))^2 + penalty * integral f''(x)^2 dx`, which is a natural cubic
/// spline with a knot at every different `x` (Reinsch 1967, Numerische Mathematik 10, 177-183; Green & Silverman 1994, Nonparametric Regression and
/// Generalized Linear Models, chapters 2 and 3). Banded equations: `O(n)` a penalty.
///
/// Rows with the same `x` (or within 1/2000 of the range after it) share a knot, weighted by their number. The penalty's unit is that of `x` cubed.
#[derive(Debug, Clone)]
pub struct SmoothingSpline {
    rows: usize,
    /// Knots, rising, in the unit of `x`.
    knots: Vec<f64>,
    range: f64,
    /// Gaps between knots, as shares of the range.
    gaps: Vec<f64>,
    /// Rows and mean outcome of each knot.
    weights: Vec<f64>,
    means: Vec<f64>,
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
    /// The search ended at its smoothest: the data ask for a straight line.
    pub straight: bool,
    /// The search ended at its roughest: the data ask for a curve through every point.
    pub through_every_point: bool,
}

/// A fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct SplineFit {
    /// The penalty.
    pub penalty: f64,
    /// Knots, rising.
    pub knots: Vec<f64>,
    /// The curve at the knots, in the unit of the outcome.
    pub values: Vec<f64>,
    /// Its second derivative there, 0 at both ends.
    pub curvatures: Vec<f64>,
    /// Share of each knot's own mean outcome in the curve there.
    pub leverages: Vec<f64>,
    /// Trace of the smoother, from 2 (a straight line) to the number of knots.
    pub effective_degrees_of_freedom: f64,
    /// Sum of squared residuals of the rows.
    pub residual_sum_of_squares: f64,
    /// `(rss / n) / (1 - edf / n)^2`; infinite where no degree of freedom is left.
    pub generalised_cross_validation: f64,
    /// -2 times the restricted log-likelihood, up to a constant that the penalty does not change:
    /// `(n - 2) log(S / (n - 2)) + log |R + penalty Q'W^-1 Q| - m log penalty` with the penalised sum of squares `S` and `m` inner knots.
    pub restricted_deviance: f64,
    rows: usize,
    weights: Vec<f64>,
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
        let mut spline = Self {
            rows: x.len(),
            knots: Vec::new(),
            range,
            gaps: Vec::new(),
            weights: Vec::new(),
            means: Vec::new(),
            pure_error: 0.0,
            total: squares_about_mean(outcome)?,
        };
        require_power(range.powi(3))?;
        require_power(1.0 + spline.total)?;
        let mut start = 0;
        while start < order.len() {
            let same = |&&row: &&usize| x[row] - x[order[start]] <= SAME_PLACE * range;
            let count = order[start..].iter().take_while(same).count();
            spline.add_knot(x[order[start]], &order[start..start + count], outcome)?;
            start += count;
        }
        if spline.knots.len() < 3 {
            return Err(StatsError::TooFewRows { rows: spline.knots.len(), columns: 2 });
        }
        spline.gaps = spline.knots.windows(2).map(|pair| (pair[1] - pair[0]) / range).collect();
        Ok(spline)
    }

    fn add_knot(&mut self, at: f64, rows: &[usize], outcome: &[f64]) -> Result<(), StatsError> {
        let values: Vec<f64> = rows.iter().map(|&row| outcome[row]).collect();
        self.knots.push(at);
        self.weights.push(values.len() as f64);
        self.means.push(mean(&values)?);
        self.pure_error += squares_about_mean(&values)?;
        Ok(())
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
        let Some(factor) = self.equations(scaled).factor() else {
            return Err(StatsError::NotConverged { what: "the curve".into() });
        };
        Ok(self.finish(penalty, scaled, &factor))
    }

    /// The penalty that a criterion likes best.
    ///
    /// # Errors
    /// `NoVariation` for an outcome that does not vary.
    pub fn choose(&self, criterion: Smoothness) -> Result<SmoothnessChoice, StatsError> {
        let size = self.means.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
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
        let (low, high) = SEARCHED;
        let found = best_of_grid(value, low, high);
        Ok(SmoothnessChoice {
            penalty: penalty(found.at),
            criterion: found.value,
            straight: high - found.at < EDGE,
            through_every_point: found.at - low < EDGE,
        })
    }

    /// `R + penalty Q'W^-1 Q`, with the second differences `Q` and the Gram matrix `R` of the curvatures.
    fn equations(&self, scaled: f64) -> Banded {
        let inner = self.knots.len() - 2;
        let differences: Vec<[f64; 3]> = (0..inner).map(|place| self.difference(place)).collect();
        // knot `place + step + k` has weight k of the row `place + step` and k + step of the row `place`
        let overlap = |place: usize, step: usize| -> f64 {
            let shared = (step..3).map(|k| {
                differences[place][k] * differences[place + step][k - step]
                    / self.weights[place + k]
            });
            scaled * shared.sum::<f64>()
        };
        let centre = |i: usize| (self.gaps[i] + self.gaps[i + 1]) / 3.0 + overlap(i, 0);
        let beside = |i: usize| self.gaps[i + 1] / 6.0 + overlap(i, 1);
        Banded {
            bands: [
                (0..inner).map(centre).collect(),
                (0..inner - 1).map(beside).collect(),
                (0..inner.saturating_sub(2)).map(|i| overlap(i, 2)).collect(),
            ],
        }
    }

    /// Weights of three neighbouring knots in the difference of the slopes on either side of the middle one.
    fn difference(&self, place: usize) -> [f64; 3] {
        let (left, right) = (1.0 / self.gaps[place], 1.0 / self.gaps[place + 1]);
        [left, -left - right, right]
    }

    fn finish(&self, penalty: f64, scaled: f64, factor: &Factor) -> SplineFit {
        let inner = self.knots.len() - 2;
        let right: Vec<f64> = (0..inner)
            .map(|i| {
                let slope = |k: usize| (self.means[k + 1] - self.means[k]) / self.gaps[k];
                slope(i + 1) - slope(i)
            })
            .collect();
        let curvatures = factor.solve(&right);
        let mut values = self.means.clone();
        for (place, curvature) in curvatures.iter().enumerate() {
            for (k, weight) in self.difference(place).into_iter().enumerate() {
                values[place + k] -= scaled * weight * curvature / self.weights[place + k];
            }
        }
        let leverages = self.leverages(scaled, factor);
        let roughness = scaled * right.iter().zip(&curvatures).map(|(a, b)| a * b).sum::<f64>();
        let rows = self.rows as f64;
        let lack = values.iter().zip(&self.means).zip(&self.weights);
        let residual = self.pure_error + lack.map(|((f, y), w)| w * (y - f).powi(2)).sum::<f64>();
        let degrees = leverages.iter().sum::<f64>();
        let left = 1.0 - degrees / rows;
        let score = residual / rows / (left * left);
        let deviance = (rows - 2.0) * ((self.pure_error + roughness) / (rows - 2.0)).ln()
            + factor.log_determinant()
            - inner as f64 * scaled.ln();
        let bend = std::iter::once(0.0).chain(curvatures).chain(std::iter::once(0.0));
        SplineFit {
            penalty,
            knots: self.knots.clone(),
            values,
            curvatures: bend.map(|curvature| curvature / self.range / self.range).collect(),
            leverages,
            effective_degrees_of_freedom: degrees,
            residual_sum_of_squares: residual,
            generalised_cross_validation: if left > 1e-12 { score } else { f64::INFINITY },
            restricted_deviance: deviance,
            rows: self.rows,
            weights: self.weights.clone(),
        }
    }

    /// Diagonal of `I - penalty W^-1 Q B^-1 Q'`.
    fn leverages(&self, scaled: f64, factor: &Factor) -> Vec<f64> {
        let inverse = factor.inverse_bands();
        let inner = self.knots.len() - 2;
        let mut leverages = vec![1.0; self.knots.len()];
        for i in 0..inner {
            let own = self.difference(i);
            for step in 0..3.min(inner - i) {
                let other = self.difference(i + step);
                // entries off the diagonal count twice
                let entry = if step == 0 { 1.0 } else { 2.0 } * inverse[step][i];
                for k in step..3 {
                    let knot = i + k;
                    leverages[knot] -=
                        scaled * own[k] * entry * other[k - step] / self.weights[knot];
                }
            }
        }
        leverages
    }
}

impl SplineFit {
    /// The curve at a place: a cubic between knots, a straight line beyond the outer ones.
    ///
    /// # Errors
    /// `NotFinite`.
    pub fn at(&self, x: f64) -> Result<f64, StatsError> {
        require_finite("the place on a curve", &[x])?;
        let last = self.knots.len() - 1;
        let after = self.knots.partition_point(|&knot| knot < x);
        if after == 0 {
            return Ok(self.values[0] + (x - self.knots[0]) * self.outer_slope(0, 1));
        }
        if after > last {
            return Ok(
                self.values[last] + (x - self.knots[last]) * self.outer_slope(last, last - 1)
            );
        }
        let (left, right) = (after - 1, after);
        let gap = self.knots[right] - self.knots[left];
        let (from, to) = (x - self.knots[left], self.knots[right] - x);
        let line = (from * self.values[right] + to * self.values[left]) / gap;
        let bend =
            (1.0 + from / gap) * self.curvatures[right] + (1.0 + to / gap) * self.curvatures[left];
        Ok(line - from * to / 6.0 * bend)
    }

    /// Slope at an outer knot, from its neighbour.
    fn outer_slope(&self, end: usize, neighbour: usize) -> f64 {
        let gap = self.knots[neighbour] - self.knots[end];
        (self.values[neighbour] - self.values[end]) / gap - gap * self.curvatures[neighbour] / 6.0
    }

    /// Standard error of the curve at each knot, `s sqrt(leverage / rows of the knot)` with `s^2 = rss / (n - edf)`, in the unit of the outcome: averaged over
    /// the curve, intervals of this error cover as they should (Wahba 1983, Journal of the Royal Statistical Society B 45, 133-150).
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` where the curve goes through every row.
    pub fn standard_errors(&self) -> Result<Vec<f64>, StatsError> {
        let left = self.rows as f64 - self.effective_degrees_of_freedom;
        if left <= 1e-9 * self.rows as f64 {
            return Err(StatsError::NoDegreesOfFreedom { what: "the error of a curve".into() });
        }
        let variance = self.residual_sum_of_squares / left;
        let pairs = self.leverages.iter().zip(&self.weights);
        Ok(pairs.map(|(leverage, rows)| (variance * leverage.max(0.0) / rows).sqrt()).collect())
    }
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
