//! Shrinking without choosing.

use super::search::best_of_grid;
use super::{PenalisedFit, check_penalty};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, sum_of_squares};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// Singular values below this share of the largest are rounding.
const RANK: f64 = RANK_TOLERANCE;
/// The search for a penalty covers so many decades above the largest squared singular value, and below the smallest that counts.
const DECADES_BEYOND: f64 = 2.0;
/// A choice nearer than this many decades to the end of the search is at its edge.
const EDGE: f64 = 1e-3;
/// A spread below this share of the column's size is the rounding of a constant.
const CONSTANT: f64 = 1e-12;
const MOST_STEPS: usize = 10_000;

/// Ridge regression (Hoerl & Kennard 1970, Technometrics 12, 55-67) at any penalty from one singular value decomposition.
///
/// With columns `Z` brought to mean 0 and spread 1 (divisor `n`) and `Z = U D V'` it minimises `sum (y - a - Z b)^2 + penalty sum b^2`, so
/// `b = V (D^2 + penalty)^-1 D U'y`. Tall data are brought to a square triangle by QR first. In the terms of [`super::elastic_net()`] the penalty is `n` times
/// as large. A column that does not vary gets the coefficient 0.
#[derive(Debug, Clone)]
pub struct Ridge {
    rows: usize,
    standard: Standardised,
    outcome_mean: f64,
    /// Sum of squares of the centred outcome.
    total: f64,
    /// Its part outside the columns' span.
    outside: f64,
    spectrum: Spectrum,
    /// Names of columns that are combinations of others.
    dependent: Vec<String>,
}

/// A ridge fit and its account.
#[derive(Debug, Clone, PartialEq)]
pub struct RidgeFit {
    /// The rule.
    pub fit: PenalisedFit,
    /// `sum d^2 / (d^2 + penalty)`: degrees of freedom that the columns use, without the intercept's one.
    pub effective_degrees_of_freedom: f64,
    /// Sum of squared residuals, in squared units of the outcome.
    pub residual_sum_of_squares: f64,
    /// Generalised cross-validation `(rss / n) / (1 - (1 + edf) / n)^2` (Golub, Heath & Wahba 1979, Technometrics 21, 215-223), the intercept counted.
    pub generalised_cross_validation: f64,
}

/// The penalty that generalised cross-validation likes best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RidgeChoice {
    /// The penalty.
    pub penalty: f64,
    /// The least criterion.
    pub generalised_cross_validation: f64,
    /// Whether the search ended at its edge: the data ask for (nearly) no penalty or for (nearly) no columns.
    pub at_edge: bool,
}

/// The singular values that count.
#[derive(Debug, Clone)]
struct Spectrum {
    values: Vec<f64>,
    /// `U'y` for each.
    along: Vec<f64>,
    /// The row of `V'` for each.
    directions: DMatrix<f64>,
    /// Sum of squares of `y` outside them.
    missed: f64,
}

/// Where columns stood before they were standardised.
#[derive(Debug, Clone)]
struct Standardised {
    /// Columns of the design.
    size: usize,
    /// Places of those that vary, their means and spreads.
    places: Vec<usize>,
    means: Vec<f64>,
    scales: Vec<f64>,
}

impl Ridge {
    /// Factorises once, `O(n p^2)`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `TooFewRows` under two rows; `NoVariation` where no column varies; `OutOfRange` for values too large to be squared;
    /// `NotConverged`.
    pub fn new(design: &Design, outcome: &[f64]) -> Result<Self, StatsError> {
        require_length("the outcome", design.rows(), outcome.len())?;
        require_finite("the outcome", outcome)?;
        if outcome.len() < 2 {
            return Err(StatsError::TooFewRows { rows: outcome.len(), columns: 1 });
        }
        let outcome_mean = mean(outcome)?;
        let centred =
            DVector::from_iterator(outcome.len(), outcome.iter().map(|y| y - outcome_mean));
        let total = sum_of_squares(centred.as_slice());
        require_squarable(total)?;
        let (standard, matrix) = Standardised::new(design)?;
        let (triangle, effects, beyond) = reduced(matrix, centred);
        let spectrum = Spectrum::new(&triangle, &effects)?;
        let whole = spectrum.values.len() == standard.places.len();
        let dependent =
            if whole { Vec::new() } else { dependent_names(&triangle, design, &standard.places) };
        Ok(Self {
            rows: outcome.len(),
            outcome_mean,
            total,
            outside: beyond + spectrum.missed,
            spectrum,
            dependent,
            standard,
        })
    }

    /// The fit at one penalty, `O(p^2)`.
    ///
    /// # Errors
    /// `OutOfRange` for a penalty that is negative or no number; at a penalty of 0 `RankDeficient` for columns that depend on others (so for fewer rows than
    /// columns).
    pub fn fit(&self, penalty: f64) -> Result<RidgeFit, StatsError> {
        check_penalty(penalty)?;
        if penalty == 0.0 && !self.dependent.is_empty() {
            return Err(StatsError::RankDeficient { columns: self.dependent.clone() });
        }
        let pairs = self.spectrum.values.iter().zip(&self.spectrum.along);
        let shrunk = pairs.map(|(value, along)| value / (value * value + penalty) * along);
        let shrunk = DVector::from_iterator(self.spectrum.values.len(), shrunk);
        let rule = self.standard.rule(
            penalty,
            self.outcome_mean,
            &self.spectrum.directions.tr_mul(&shrunk),
        );
        Ok(RidgeFit {
            fit: rule,
            effective_degrees_of_freedom: self.degrees(penalty),
            residual_sum_of_squares: self.residual(penalty),
            generalised_cross_validation: self.criterion(penalty),
        })
    }

    /// The penalty with the least generalised cross-validation: the best of a grid over the squared singular values and two decades beyond, refined.
    ///
    /// # Errors
    /// `NoVariation` for an outcome that does not vary.
    pub fn choose(&self) -> Result<RidgeChoice, StatsError> {
        if self.total <= (1e-14 * self.outcome_mean).powi(2) * self.rows as f64 {
            return Err(StatsError::NoVariation { what: "the outcome".into() });
        }
        let squares = self.spectrum.values.iter().map(|value| (value * value).log10());
        let (low, high) = squares
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), square| {
                (low.min(square), high.max(square))
            });
        let (low, high) = (low - DECADES_BEYOND, high + DECADES_BEYOND);
        let criterion = |logarithm: f64| self.criterion(10.0_f64.powf(logarithm));
        let found = best_of_grid(criterion, low, high);
        Ok(RidgeChoice {
            penalty: 10.0_f64.powf(found.at),
            generalised_cross_validation: found.value,
            at_edge: found.at - low < EDGE || high - found.at < EDGE,
        })
    }

    fn degrees(&self, penalty: f64) -> f64 {
        self.spectrum.values.iter().map(|value| value * value / (value * value + penalty)).sum()
    }

    fn residual(&self, penalty: f64) -> f64 {
        let pairs = self.spectrum.values.iter().zip(&self.spectrum.along);
        let left = pairs.map(|(value, along)| penalty / (value * value + penalty) * along);
        self.outside + left.map(|part| part * part).sum::<f64>()
    }

    /// Infinite where no degree of freedom is left.
    fn criterion(&self, penalty: f64) -> f64 {
        let rows = self.rows as f64;
        let left = 1.0 - (1.0 + self.degrees(penalty)) / rows;
        if left <= 1e-12 {
            return f64::INFINITY;
        }
        self.residual(penalty) / rows / (left * left)
    }
}

impl Spectrum {
    fn new(matrix: &DMatrix<f64>, outcome: &DVector<f64>) -> Result<Self, StatsError> {
        let decomposition = matrix.clone().try_svd(true, true, f64::EPSILON, MOST_STEPS);
        let parts = decomposition.map(|found| (found.u, found.singular_values, found.v_t));
        let Some((Some(u), values, Some(v))) = parts else {
            return Err(StatsError::NotConverged { what: "the singular values".into() });
        };
        let floor = RANK * values.max();
        let counted: Vec<usize> =
            (0..values.len()).filter(|&place| values[place] > floor).collect();
        let basis = u.select_columns(&counted);
        let along = basis.tr_mul(outcome);
        Ok(Self {
            missed: (outcome - &basis * &along).norm_squared(),
            values: counted.iter().map(|&place| values[place]).collect(),
            directions: v.select_rows(&counted),
            along: along.as_slice().to_vec(),
        })
    }
}

impl Standardised {
    /// The columns that vary, at mean 0 and spread 1, and where they stood.
    fn new(design: &Design) -> Result<(Self, DMatrix<f64>), StatsError> {
        let rows = design.rows();
        let (mut places, mut means, mut scales) = (Vec::new(), Vec::new(), Vec::new());
        let mut values = Vec::new();
        for (place, column) in design.matrix.columns().into_iter().enumerate() {
            let centre = mean(&column.to_vec())?;
            let centred: Vec<f64> = column.iter().map(|value| value - centre).collect();
            let squares = sum_of_squares(&centred);
            require_squarable(squares)?;
            let scale = (squares / rows as f64).sqrt();
            if scale > CONSTANT * centre.abs() {
                values.extend(centred.iter().map(|value| value / scale));
                places.push(place);
                means.push(centre);
                scales.push(scale);
            }
        }
        if places.is_empty() {
            return Err(StatsError::NoVariation { what: "every column of the design".into() });
        }
        let matrix = DMatrix::from_vec(rows, places.len(), values);
        Ok((Self { size: design.columns(), places, means, scales }, matrix))
    }

    /// Standardised coefficients put back in the units of the data.
    fn rule(&self, penalty: f64, outcome_mean: f64, standardised: &DVector<f64>) -> PenalisedFit {
        let mut rule = PenalisedFit {
            penalty,
            intercept: outcome_mean,
            coefficients: vec![0.0; self.size],
            standardised: vec![0.0; self.size],
        };
        for (inner, &place) in self.places.iter().enumerate() {
            rule.standardised[place] = standardised[inner];
            rule.coefficients[place] = standardised[inner] / self.scales[inner];
            rule.intercept -= rule.coefficients[place] * self.means[inner];
        }
        rule
    }
}

/// A matrix with the same singular values and right vectors, `Q'y` in its rows, and the sum of squares of `y` beyond them: the QR triangle of tall
/// data, wide data as they are.
fn reduced(matrix: DMatrix<f64>, outcome: DVector<f64>) -> (DMatrix<f64>, DVector<f64>, f64) {
    let (rows, columns) = matrix.shape();
    if rows <= columns {
        return (matrix, outcome, 0.0);
    }
    let qr = matrix.qr();
    let mut effects = outcome;
    qr.q_tr_mul(&mut effects);
    let beyond = sum_of_squares(&effects.as_slice()[columns..]);
    (qr.unpack_r(), effects.rows(0, columns).into_owned(), beyond)
}

fn dependent_names(matrix: &DMatrix<f64>, design: &Design, places: &[usize]) -> Vec<String> {
    let copy = Array2::from_shape_fn(matrix.shape(), |place| matrix[place]);
    let mut set_aside = PivotedQr::new(copy.view(), RANK_TOLERANCE).set_aside();
    if set_aside.is_empty() {
        // only all of them together are nearly dependent
        set_aside = (0..places.len()).collect();
    }
    set_aside.into_iter().map(|inner| design.names[places[inner]].clone()).collect()
}

fn require_squarable(squares: f64) -> Result<(), StatsError> {
    if squares.is_finite() {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "a sum of squares".into(),
        value: squares,
        expected: "a finite number; the values are too large".into(),
    })
}

#[cfg(test)]
mod tests;
