//! Whether the data can tell the spreads apart at all.
//!
//! The spreads are identified when the matrices they multiply, with the fixed columns projected out, are linearly independent: `M`, and `M Z_t B Z_t' M` for
//! every term and every symmetric unit matrix `B` (`M = I - X(X'X)^{-1}X'`; Rao & Kleffe 1988, Estimation of Variance Components and Applications, section
//! 4.2). Their inner products need only the cross-products.

use super::model::Model;
use super::parameters::packed;
use crate::stats::error::StatsError;
use crate::stats::mixed::Criterion;
use nalgebra::{DMatrix, DMatrixView};

/// A direction with less than this share left beside the ones before it says nothing of its own.
const NOTHING_LEFT: f64 = 1e-9;
/// What columns and terms together leave of the residual square when it is rounding.
const EXACT_FIT: f64 = 1e-12;
/// Two large relative variances, per row of a level, from which the limit is read.
const FAR: [f64; 2] = [1e6, 1e8];

/// A direction in the space of covariances: a symmetric unit matrix of a term.
struct Direction {
    term: usize,
    unit: DMatrix<f64>,
    /// `sum_i P_i' B P_i` over the levels, `P_i = Z_i'Q`.
    projected: DMatrix<f64>,
}

/// One block of `Z'Z` that is not zero by structure, and the rows of `Z'Q` it belongs to.
struct Pair<'a> {
    terms: (usize, usize),
    block: DMatrix<f64>,
    left: DMatrixView<'a, f64>,
    right: DMatrixView<'a, f64>,
    /// Whether it is a level with itself; others count twice.
    own: bool,
}

impl Model {
    /// Refuses data from which the spreads cannot be told apart, or in which one of them is exactly zero by construction.
    pub(super) fn require_identified(&self) -> Result<(), StatsError> {
        self.require_independent()?;
        self.require_residual()
    }

    fn require_independent(&self) -> Result<(), StatsError> {
        let projected = self.projected();
        let directions = self.directions(&projected);
        let (gram, plain) = self.inner_products(&projected, &directions);
        let count = gram.nrows();
        for place in 1..count {
            if gram[(place, place)] <= NOTHING_LEFT * plain[place] {
                return Err(self.confounded(&directions[place - 1], "the columns of the design"));
            }
        }
        let scaled = DMatrix::from_fn(count, count, |i, j| {
            gram[(i, j)] / (gram[(i, i)] * gram[(j, j)]).sqrt()
        });
        let mut lower: DMatrix<f64> = DMatrix::zeros(count, count);
        for place in 0..count {
            for column in 0..place {
                let known = lower.row(place).dot(&lower.row(column));
                lower[(place, column)] =
                    (scaled[(place, column)] - known) / lower[(column, column)];
            }
            let left = 1.0 - lower.row(place).norm_squared();
            if left <= NOTHING_LEFT {
                return Err(self.tangled(&directions, &scaled, place));
            }
            lower[(place, place)] = left.sqrt();
        }
        Ok(())
    }

    /// Names what a direction without a share of its own repeats.
    fn tangled(&self, directions: &[Direction], scaled: &DMatrix<f64>, place: usize) -> StatsError {
        let same = (0..place).find(|&other| 1.0 - scaled[(place, other)].powi(2) <= NOTHING_LEFT);
        let own = &directions[place - 1];
        match same {
            Some(0) => StatsError::NoDegreesOfFreedom {
                what: format!("the spread of rows inside the levels of {}", self.name(own.term)),
            },
            Some(other) if directions[other - 1].term != own.term => {
                self.confounded(own, self.name(directions[other - 1].term))
            }
            _ => self.confounded(own, "the other spreads together"),
        }
    }

    fn confounded(&self, direction: &Direction, with: &str) -> StatsError {
        StatsError::Confounded { what: self.name(direction.term).into(), with: with.into() }
    }

    fn name(&self, term: usize) -> &str {
        &self.groupings[self.structure.terms[term].given].name
    }

    /// `Z'Q` in full, one row an unknown.
    pub(super) fn projected(&self) -> DMatrix<f64> {
        let structure = &self.structure;
        let mut projected = DMatrix::zeros(structure.random(), structure.fixed);
        for (place, node) in structure.nodes.iter().enumerate() {
            for coefficient in 0..structure.size_of(place) {
                let end = node.first + (coefficient + 1) * node.width - 1;
                let row = &self.cross.values[end - structure.fixed..end];
                for (column, &value) in row.iter().enumerate() {
                    projected[(node.unknown + coefficient, column)] = value;
                }
            }
        }
        let fixed =
            self.cross.trailing.view((0, structure.dense), (structure.dense, structure.fixed));
        projected.rows_mut(structure.leading, structure.dense).copy_from(&fixed);
        projected
    }

    /// `Z'Z` in full.
    pub(super) fn random_products(&self) -> DMatrix<f64> {
        let structure = &self.structure;
        let mut products = DMatrix::zeros(structure.random(), structure.random());
        for (place, node) in structure.nodes.iter().enumerate() {
            let columns = &structure.columns[node.columns.clone()];
            let random = node.width - structure.fixed - 1;
            for coefficient in 0..structure.size_of(place) {
                let row = node.unknown + coefficient;
                let values = &self.cross.values[node.first + coefficient * node.width..];
                for (&column, &value) in columns[..random].iter().zip(values) {
                    products[(row, column as usize)] = value;
                    products[(column as usize, row)] = value;
                }
            }
        }
        let size = (structure.dense, structure.dense);
        let dense = self.cross.trailing.view((0, 0), size);
        products.view_mut((structure.leading, structure.leading), size).copy_from(&dense);
        products
    }

    fn directions(&self, projected: &DMatrix<f64>) -> Vec<Direction> {
        let mut directions = Vec::new();
        for (term, shape) in self.structure.terms.iter().enumerate() {
            for row in 0..shape.size {
                for column in 0..=row {
                    let mut unit = DMatrix::zeros(shape.size, shape.size);
                    unit[(row, column)] = 1.0;
                    unit[(column, row)] = 1.0;
                    let mut sum = DMatrix::zeros(self.structure.fixed, self.structure.fixed);
                    for level in 0..shape.levels {
                        let at = self.structure.unknown(term, level);
                        let rows = projected.rows(at, shape.size);
                        sum += rows.tr_mul(&(&unit * rows));
                    }
                    directions.push(Direction { term, unit, projected: sum });
                }
            }
        }
        directions
    }

    /// Inner products of the projected directions, the residual's first, and each direction's square without projection.
    fn inner_products(
        &self,
        projected: &DMatrix<f64>,
        directions: &[Direction],
    ) -> (DMatrix<f64>, Vec<f64>) {
        let count = directions.len() + 1;
        let mut gram = DMatrix::zeros(count, count);
        let mut plain = vec![0.0; count];
        gram[(0, 0)] = (self.rows - self.structure.fixed) as f64;
        self.each_pair(projected, |pair| {
            let outer = pair.right * pair.left.transpose();
            for (i, one) in directions.iter().enumerate().filter(|(_, d)| d.term == pair.terms.0) {
                for (j, other) in
                    directions.iter().enumerate().filter(|(_, d)| d.term == pair.terms.1)
                {
                    let weighted = &one.unit * &pair.block * &other.unit;
                    let full = weighted.dot(&pair.block);
                    let along = full - 2.0 * (weighted * &outer).trace();
                    gram[(i + 1, j + 1)] += along;
                    if !pair.own && pair.terms.0 != pair.terms.1 {
                        gram[(j + 1, i + 1)] += along;
                    }
                    if pair.own && i == j {
                        plain[i + 1] += full;
                    }
                }
                if pair.own {
                    let own =
                        (&one.unit * (&pair.block - pair.left * pair.left.transpose())).trace();
                    gram[(i + 1, 0)] += own;
                    gram[(0, i + 1)] += own;
                }
            }
        });
        for (i, one) in directions.iter().enumerate() {
            for (j, other) in directions.iter().enumerate() {
                gram[(i + 1, j + 1)] += one.projected.dot(&other.projected.transpose());
            }
        }
        (gram, plain)
    }

    /// Calls a function with every block of `Z'Z` once: levels with themselves and with the levels of other terms.
    fn each_pair(&self, projected: &DMatrix<f64>, mut function: impl FnMut(Pair<'_>)) {
        let structure = &self.structure;
        let rows = |unknown: usize, size: usize| projected.rows(unknown, size);
        for (place, node) in structure.nodes.iter().enumerate() {
            let size = structure.size_of(place);
            let columns = &structure.columns[node.columns.clone()];
            let blocks = std::iter::once((0, node.term)).chain(structure.blocks(node));
            for (at, term) in blocks {
                let other = structure.terms[term].size;
                let block = DMatrix::from_fn(size, other, |i, j| {
                    self.cross.values[node.first + i * node.width + at + j]
                });
                function(Pair {
                    terms: (node.term, term),
                    block,
                    left: rows(node.unknown, size).as_view(),
                    right: rows(columns[at] as usize, other).as_view(),
                    own: at == 0,
                });
            }
        }
        let dense: Vec<(usize, usize, usize)> = self.dense_levels();
        for (place, &(term, unknown, size)) in dense.iter().enumerate() {
            for &(later, column, other) in &dense[place..] {
                if later == term && column != unknown {
                    continue;
                }
                let at = (unknown - structure.leading, column - structure.leading);
                function(Pair {
                    terms: (term, later),
                    block: self.cross.trailing.view(at, (size, other)).into_owned(),
                    left: rows(unknown, size).as_view(),
                    right: rows(column, other).as_view(),
                    own: later == term,
                });
            }
        }
    }

    /// Term, first unknown and size of every level in the dense matrix.
    fn dense_levels(&self) -> Vec<(usize, usize, usize)> {
        let mut levels = Vec::new();
        for (term, shape) in self.structure.terms.iter().enumerate() {
            if shape.first >= self.structure.leading {
                let all = 0..shape.levels;
                levels.extend(all.map(|l| (term, self.structure.unknown(term, l), shape.size)));
            }
        }
        levels
    }

    /// Refuses terms that leave nothing to the rows. With ever larger variances the penalised residual square falls to that of fixed levels, and the
    /// determinant grows by the rank of the terms beside the columns; two large values show both limits.
    fn require_residual(&self) -> Result<(), StatsError> {
        let far = |ratio: f64| {
            let factors: Vec<DMatrix<f64>> = self
                .structure
                .terms
                .iter()
                .map(|term| {
                    let rows_a_level = self.rows as f64 / term.levels as f64;
                    DMatrix::identity(term.size, term.size) * (ratio / rows_a_level).sqrt()
                })
                .collect();
            self.parts_at(&packed(&factors), Criterion::Reml)
        };
        let (Some(near), Some(farther)) = (far(FAR[0]), far(FAR[1])) else {
            return Err(StatsError::NotConverged { what: "the fit of the random terms".into() });
        };
        let decades = (FAR[1] / FAR[0]).ln();
        let rank = (farther.log_determinant - near.log_determinant) / decades;
        if rank > self.degrees(Criterion::Reml) - 0.5 {
            let what = "the rows: the columns and the levels of the terms fit any outcome".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        let fall = (near.residual_square - farther.residual_square) / (FAR[1] / FAR[0] - 1.0);
        if farther.residual_square - fall <= EXACT_FIT {
            let what = "the outcome, once the columns and the levels are taken out,".into();
            return Err(StatsError::NoVariation { what });
        }
        Ok(())
    }
}
