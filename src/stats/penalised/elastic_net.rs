//! One elastic net from rows, through linfa.

use super::gram::Gram;
use super::moments::Moments;
use super::solver::Solver;
use super::{PenalisedFit, check_mixing, check_penalty};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::linear::least_squares;
use crate::stats::products::Products;
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_elasticnet::ElasticNet;
use ndarray::{Array1, Array2, ShapeBuilder};

/// linfa's tolerance: movement of the coefficients relative to the largest, and duality gap relative to the outcome's sum of squares.
const TOLERANCE: f64 = 1e-6;
const MOST_SWEEPS: u32 = 500;

/// The elastic net at one penalty (the objective is in the [module](super)'s words), through linfa-elasticnet on standardised columns and outcome.
///
/// linfa's coordinate descent stops at a tolerance and starts cold: on the diabetes data of Efron et al. (2004) it leaves a coefficient off by one part in a
/// million at penalty 10 and by 3 in 10,000 at 0.2. Its active columns and signs are then solved for exactly (Cholesky), and where its active set is not that
/// of the minimum, coordinate descent on the cross-products goes on from its answer. The result meets the conditions of a minimum as said at
/// [`super::penalised_fits`]; a test holds both against linfa alone.
///
/// A penalty of 0 is least squares and asks for what least squares asks.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`; `OutOfRange` for penalty or mixing; `NoVariation` for an outcome that does not vary; `Backend`; `NotConverged`; for a penalty
/// of 0 also those of [`least_squares`].
pub fn elastic_net(
    design: &Design,
    outcome: &[f64],
    penalty: f64,
    mixing: f64,
) -> Result<PenalisedFit, StatsError> {
    check_mixing(mixing)?;
    check_penalty(penalty)?;
    let gram = checked_gram(design, outcome)?;
    if penalty == 0.0 {
        return without_penalty(design, outcome, &gram);
    }
    let mut solver = Solver::new(&gram, mixing)?;
    if !gram.columns.is_empty() {
        let absolute = mixing * penalty / gram.outcome_scale;
        let square = (1.0 - mixing) * penalty;
        let (columns, centred) = standardised(design, outcome, &gram);
        solver.start_at(linfa(columns, centred, absolute, square)?);
    }
    solver.fit(penalty)
}

/// Cross-products of rows that are not grouped.
fn checked_gram(design: &Design, outcome: &[f64]) -> Result<Gram, StatsError> {
    require_length("the outcome", design.rows(), outcome.len())?;
    require_finite("the outcome", outcome)?;
    let products = Products::new(design, outcome, &vec![0; outcome.len()])?;
    let gram = Gram::new(&Moments::all(&products))?;
    if gram.outcome_scale == 0.0 {
        return Err(StatsError::NoVariation { what: "the outcome".into() });
    }
    Ok(gram)
}

/// Columns that vary and the outcome, both standardised; columns lie in one piece, as coordinate descent reads them.
fn standardised(design: &Design, outcome: &[f64], gram: &Gram) -> (Array2<f64>, Array1<f64>) {
    let shape = (design.rows(), gram.columns.len());
    let columns = Array2::from_shape_fn(shape.f(), |(row, inner)| {
        gram.standardise(inner, design.matrix[(row, gram.columns[inner])])
    });
    let centred = outcome.iter().map(|&value| gram.standardise_outcome(value)).collect();
    (columns, centred)
}

/// linfa minimises `|y - X b|^2 / (2 n) + penalty (l1_ratio |b|_1 + (1 - l1_ratio) / 2 |b|^2)`. The outcome's unit was divided out, since linfa compares with
/// fixed tiny numbers; that divides the absolute penalty by the outcome's spread and leaves the square one.
pub(super) fn linfa(
    columns: Array2<f64>,
    outcome: Array1<f64>,
    absolute: f64,
    square: f64,
) -> Result<Vec<f64>, StatsError> {
    let total = absolute + square;
    let fit = ElasticNet::params()
        .penalty(total)
        .l1_ratio(absolute / total)
        .with_intercept(false)
        .tolerance(TOLERANCE)
        .max_iterations(MOST_SWEEPS)
        .fit(&Dataset::new(columns, outcome));
    match fit {
        Ok(fit) => Ok(fit.hyperplane().to_vec()),
        Err(fault) => {
            Err(StatsError::Backend { what: "linfa-elasticnet".into(), message: fault.to_string() })
        }
    }
}

/// Least squares on the columns that vary.
fn without_penalty(
    design: &Design,
    outcome: &[f64],
    gram: &Gram,
) -> Result<PenalisedFit, StatsError> {
    let mut builder = Design::builder(design.rows()).intercept();
    for &place in &gram.columns {
        builder = builder.number(&design.names[place], &design.matrix.column(place).to_vec());
    }
    let found = least_squares(&builder.build()?, outcome)?;
    let mut fit = gram.fit(0.0, &vec![0.0; gram.columns.len()]);
    // the builder put the intercept first
    fit.intercept = found.coefficients[0];
    for (inner, &place) in gram.columns.iter().enumerate() {
        let slope = found.coefficients[inner + 1];
        fit.coefficients[place] = slope;
        fit.standardised[place] = slope * gram.scales[inner];
    }
    Ok(fit)
}
