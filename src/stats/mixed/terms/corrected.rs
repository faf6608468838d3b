//! What the correction of Kenward & Roger needs from a model with several terms.

use super::TermsFit;
use crate::stats::error::StatsError;
use crate::stats::mixed::Criterion;
use crate::stats::mixed::kenward_roger::{Ingredients, KenwardRoger};
use nalgebra::DMatrix;

/// The correction takes a full matrix of all random coefficients; above this size it is refused.
const MOST_COEFFICIENTS: usize = 2000;

/// A direction in the space of covariances: a term's unknowns and a symmetric unit matrix.
struct Direction {
    first: usize,
    count: usize,
    unit: DMatrix<f64>,
}

impl Direction {
    /// `(I x B)` times the rows that belong to the term.
    fn apply(&self, rows: &DMatrix<f64>) -> DMatrix<f64> {
        let size = self.unit.nrows();
        if size == 1 {
            return rows.clone();
        }
        let mut out = rows.clone();
        for level in 0..self.count / size {
            let block = &self.unit * rows.rows(level * size, size);
            out.rows_mut(level * size, size).copy_from(&block);
        }
        out
    }
}

impl TermsFit {
    /// Fixed effects with the corrected covariance and degrees of freedom of Kenward & Roger (1997). A term without any spread is left out of the model, as in
    /// [`TermsFit::contrast`]. The cost grows with the cube of the number of random coefficients and hardly with the rows.
    ///
    /// # Errors
    /// `NeedsRestricted` for a fit by maximum likelihood; `OutOfRange` above 2,000 random coefficients, where Satterthwaite's degrees differ little;
    /// `NoDegreesOfFreedom` where the variances carry no information.
    pub fn kenward_roger(&self) -> Result<KenwardRoger, StatsError> {
        if self.criterion != Criterion::Reml {
            let what = "the correction of Kenward & Roger".into();
            return Err(StatsError::NeedsRestricted { what });
        }
        let random = self.model.structure.random();
        if random > MOST_COEFFICIENTS {
            return Err(StatsError::OutOfRange {
                what: "the number of random coefficients".into(),
                value: random as f64,
                expected: format!(
                    "at most {MOST_COEFFICIENTS} for the correction of Kenward & Roger"
                ),
            });
        }
        let given = self.ingredients()?;
        let variance = self.sd_residual.powi(2);
        KenwardRoger::new(given, self.coefficients.clone(), self.turned_units(), variance)
    }

    fn ingredients(&self) -> Result<Ingredients, StatsError> {
        let (inner, outer) = self.weighted_products()?;
        let directions = self.directions();
        let count = directions.len();
        let covariance = self.basis_covariance();
        let rows_of = |d: &Direction| outer.rows(d.first, d.count).into_owned();
        let applied: Vec<DMatrix<f64>> = directions.iter().map(|d| d.apply(&rows_of(d))).collect();
        let mut given = Ingredients {
            rows: self.rows,
            covariance,
            once: Vec::with_capacity(count),
            twice: Vec::with_capacity(count),
            trace: Vec::with_capacity(count),
            traces: DMatrix::zeros(count, count),
        };
        for (i, one) in directions.iter().enumerate() {
            given.once.push(rows_of(one).tr_mul(&applied[i]));
            let own = inner.view((one.first, one.first), (one.count, one.count)).into_owned();
            given.trace.push(one.apply(&own).trace());
            let mut row = Vec::with_capacity(i + 1);
            for (j, other) in directions[..=i].iter().enumerate() {
                let view = inner.view((one.first, other.first), (one.count, other.count));
                let block = view.into_owned();
                row.push(applied[i].tr_mul(&(&block * &applied[j])));
                let both = other.apply(&one.apply(&block).transpose()).transpose();
                given.traces[(i, j)] = both.dot(&block);
                given.traces[(j, i)] = given.traces[(i, j)];
            }
            given.twice.push(row);
        }
        Ok(given)
    }

    /// `Z'V^{-1}Z` and `Z'V^{-1}Q` in full, in units of the residual variance: `A - AL (L'AL + I)^{-1} L'A`.
    fn weighted_products(&self) -> Result<(DMatrix<f64>, DMatrix<f64>), StatsError> {
        let plain = self.model.random_products();
        let fixed = self.model.projected();
        let turned = self.by_factors(&plain);
        let mut system = self.by_factors(&turned.transpose());
        for place in 0..system.nrows() {
            system[(place, place)] += 1.0;
        }
        let fault =
            || StatsError::NotConverged { what: "the correction of Kenward & Roger".into() };
        let lower = system.cholesky().ok_or_else(fault)?.unpack();
        let half = lower.solve_lower_triangular(&turned).ok_or_else(fault)?;
        let half_fixed =
            lower.solve_lower_triangular(&self.by_factors(&fixed)).ok_or_else(fault)?;
        let inner = plain - half.transpose() * &half;
        let outer = fixed - half.transpose() * half_fixed;
        Ok((inner, outer))
    }

    /// `L'` times the rows of every level.
    fn by_factors(&self, rows: &DMatrix<f64>) -> DMatrix<f64> {
        let mut out = rows.clone();
        for (shape, factor) in self.model.structure.terms.iter().zip(self.factors()) {
            for level in 0..shape.levels {
                let at = shape.first + level * shape.size;
                let block = factor.tr_mul(&rows.rows(at, shape.size));
                out.rows_mut(at, shape.size).copy_from(&block);
            }
        }
        out
    }

    /// Every entry of the covariance of a term that has any spread.
    fn directions(&self) -> Vec<Direction> {
        let mut directions = Vec::new();
        for (shape, factor) in self.model.structure.terms.iter().zip(self.factors()) {
            if factor.iter().all(|&value| value == 0.0) {
                continue;
            }
            for row in 0..shape.size {
                for column in 0..=row {
                    let mut unit = DMatrix::zeros(shape.size, shape.size);
                    unit[(row, column)] = 1.0;
                    unit[(column, row)] = 1.0;
                    let count = shape.size * shape.levels;
                    directions.push(Direction { first: shape.first, count, unit });
                }
            }
        }
        directions
    }
}
