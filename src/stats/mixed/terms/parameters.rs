//! The free numbers of the factors, and their best values.

use super::model::{Model, Parts};
use super::newton::{Objective, minimise};
use crate::stats::error::StatsError;
use crate::stats::mixed::Criterion;
use nalgebra::{DMatrix, DVector};

/// Multiples of the first guess of all factors, and of one factor at a time.
const GUESSES: [f64; 7] = [0.01, 0.1, 0.3, 1.0, 3.0, 10.0, 100.0];
const TURNS: [f64; 4] = [0.1, 0.3, 3.0, 10.0];
/// A relative standard deviation below this is tried as zero.
const NEARLY_ZERO: f64 = 1e-4;
/// Two deviances nearer than this share are equal.
const EQUAL: f64 = 1e-10;
/// A start is better when its deviance is lower by more than this share.
const BETTER: f64 = 1e-9;
/// A relative standard deviation that shows whether leaving zero would pay.
const STEP_FROM_ZERO: f64 = 1e-2;
/// How often a fit is taken up again where a zero turns out not to be the best.
const RESTARTS: usize = 5;

/// Lower triangles of all factors, row after row, term after term in the order of elimination.
pub(super) fn factors(sizes: &[usize], parameters: &[f64]) -> Vec<DMatrix<f64>> {
    let mut values = parameters.iter();
    let mut lower = |size: usize| {
        let mut factor = DMatrix::zeros(size, size);
        for row in 0..size {
            for column in 0..=row {
                // the caller gives one number an entry
                factor[(row, column)] = values.next().copied().unwrap_or(0.0);
            }
        }
        factor
    };
    sizes.iter().map(|&size| lower(size)).collect()
}

/// The reverse of [`factors`]; entries above the diagonal are left out.
pub(super) fn packed(factors: &[DMatrix<f64>]) -> Vec<f64> {
    let mut parameters = Vec::new();
    for factor in factors {
        for row in 0..factor.nrows() {
            parameters.extend((0..=row).map(|column| factor[(row, column)]));
        }
    }
    parameters
}

/// Which parameters are free to move about a fit: those in columns of a factor whose diagonal is not zero.
pub(super) fn free(sizes: &[usize], parameters: &[f64]) -> Vec<usize> {
    let mut free = Vec::new();
    let mut first = 0;
    for factor in factors(sizes, parameters) {
        let size = factor.nrows();
        for row in 0..size {
            let place = |column: usize| first + row * (row + 1) / 2 + column;
            free.extend((0..=row).filter(|&c| factor[(c, c)] != 0.0).map(place));
        }
        first += size * (size + 1) / 2;
    }
    free
}

impl Model {
    pub(super) fn sizes(&self) -> Vec<usize> {
        self.structure.terms.iter().map(|term| term.size).collect()
    }

    pub(super) fn parts_at(&self, parameters: &[f64], criterion: Criterion) -> Option<Parts> {
        self.parts(&factors(&self.sizes(), parameters), criterion)
    }

    /// The deviance with the residual variance at its best; infinite where it cannot be computed.
    pub(super) fn deviance(&self, parameters: &[f64], criterion: Criterion) -> f64 {
        let parts = self.parts_at(parameters, criterion);
        let value = parts.map_or(f64::NAN, |parts| parts.profiled(self.degrees(criterion)));
        if value.is_nan() { f64::INFINITY } else { value }
    }

    /// The best parameters, zeros exact and diagonals not negative. `start` is where a fit of similar data ended.
    pub(super) fn best(
        &self,
        criterion: Criterion,
        start: Option<&[f64]>,
    ) -> Result<Vec<f64>, StatsError> {
        let objective = Profiled { model: self, criterion };
        let mut parameters = match start {
            Some(start) => self.away_from_zero(start),
            None => self.first_guess(criterion),
        };
        for _ in 0..RESTARTS {
            let Some(found) = minimise(&objective, &parameters) else { break };
            let settled = self.settled(&found, criterion);
            match self.better_start(&settled, criterion) {
                None => return Ok(settled),
                Some(better) => parameters = better,
            }
        }
        Err(StatsError::NotConverged { what: "the fit of the random terms".into() })
    }

    fn first_guess(&self, criterion: Criterion) -> Vec<f64> {
        let sizes = self.sizes();
        let all = |value: f64| -> Vec<f64> {
            packed(&sizes.iter().map(|&q| DMatrix::identity(q, q) * value).collect::<Vec<_>>())
        };
        let better = |one: Vec<f64>, other: Vec<f64>| {
            let improved = self.deviance(&other, criterion) < self.deviance(&one, criterion);
            if improved { other } else { one }
        };
        let mut best = GUESSES.iter().fold(all(1.0), |best, &value| better(best, all(value)));
        for term in 0..sizes.len() {
            let turned = |factor: f64| {
                let mut matrices = factors(&sizes, &best);
                matrices[term] *= factor;
                packed(&matrices)
            };
            best = TURNS.iter().fold(best.clone(), |best, &factor| better(best, turned(factor)));
        }
        best
    }

    /// Zero is a saddle of the deviance in a factor's entry, so a search may not start there.
    pub(super) fn away_from_zero(&self, start: &[f64]) -> Vec<f64> {
        let mut matrices = factors(&self.sizes(), start);
        for matrix in &mut matrices {
            for place in 0..matrix.nrows() {
                if matrix[(place, place)] == 0.0 {
                    matrix[(place, place)] = 0.1;
                }
            }
        }
        packed(&matrices)
    }

    /// The same covariance with diagonals that are not negative, and zeros where zero is as good.
    fn settled(&self, found: &[f64], criterion: Criterion) -> Vec<f64> {
        let mut matrices = factors(&self.sizes(), found);
        for matrix in &mut matrices {
            *matrix = canonical(matrix);
        }
        let at = self.deviance(&packed(&matrices), criterion);
        for term in 0..matrices.len() {
            for column in 0..matrices[term].ncols() {
                if (0.0..NEARLY_ZERO).contains(&matrices[term][(column, column)]) {
                    let mut tried = matrices.clone();
                    tried[term].column_mut(column).fill(0.0);
                    if self.deviance(&packed(&tried), criterion) <= at + EQUAL * (1.0 + at.abs()) {
                        matrices = tried;
                    }
                }
            }
        }
        packed(&matrices)
    }

    /// A start with a lower deviance on the other side of zero, if a term lies on the wrong one.
    fn better_start(&self, parameters: &[f64], criterion: Criterion) -> Option<Vec<f64>> {
        let matrices = factors(&self.sizes(), parameters);
        let at = self.deviance(parameters, criterion);
        for term in 0..matrices.len() {
            for column in 0..matrices[term].ncols() {
                let mut tried = matrices.clone();
                if matrices[term][(column, column)] == 0.0 {
                    tried[term][(column, column)] = STEP_FROM_ZERO;
                } else {
                    tried[term].column_mut(column).scale_mut(STEP_FROM_ZERO);
                }
                let tried = packed(&tried);
                if self.deviance(&tried, criterion) < at - BETTER * (1.0 + at.abs()) {
                    return Some(tried);
                }
            }
        }
        None
    }
}

/// The lower triangular factor of the same covariance whose diagonal is not negative; a direction without spread has a column of zeros.
pub(super) fn canonical(factor: &DMatrix<f64>) -> DMatrix<f64> {
    let covariance = factor * factor.transpose();
    let size = covariance.nrows();
    let mut lower = DMatrix::zeros(size, size);
    for column in 0..size {
        let known: f64 = (0..column).map(|k| lower[(column, k)] * lower[(column, k)]).sum();
        let left = covariance[(column, column)] - known;
        if left <= 1e-14 * covariance[(column, column)] {
            continue;
        }
        let root = f64::sqrt(left);
        lower[(column, column)] = root;
        for row in column + 1..size {
            let known: f64 = (0..column).map(|k| lower[(row, k)] * lower[(column, k)]).sum();
            lower[(row, column)] = (covariance[(row, column)] - known) / root;
        }
    }
    lower
}

/// The profiled deviance for the minimiser.
struct Profiled<'a> {
    model: &'a Model,
    criterion: Criterion,
}

impl Objective for Profiled<'_> {
    fn value(&self, parameters: &[f64]) -> f64 {
        self.model.deviance(parameters, self.criterion)
    }

    fn slope(&self, parameters: &[f64]) -> Option<DVector<f64>> {
        let matrices = factors(&self.model.sizes(), parameters);
        let (_, parts, slopes) = self.model.slopes(&matrices, self.criterion)?;
        let weight = self.model.degrees(self.criterion) / parts.residual_square;
        let determinant = packed(&slopes.log_determinant);
        let square = packed(&slopes.residual_square);
        let pairs = determinant.into_iter().zip(square);
        Some(DVector::from_vec(pairs.map(|(d, r)| d + weight * r).collect()))
    }
}
