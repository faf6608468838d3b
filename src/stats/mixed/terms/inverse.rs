//! The inverse of the system on its pattern, and what it is for: derivatives and prediction errors.
//!
//! Only entries of `H^{-1}` where the factor has entries are formed, from the last unknown backwards (Takahashi, Fagan & Chen 1973; Erisman & Tinney 1975,
//! Communications of the ACM 18, 177-179). That is enough for every trace in the derivatives of the deviance.

use super::cross::Cross;
use super::factor::Factor;
use super::structure::{Node, Structure};
use crate::stats::numeric::dot;
use nalgebra::{Cholesky, DMatrix};

/// `H^{-1}` on the pattern; the places of the outcome hold zeros.
pub(super) struct Inverse {
    pub(super) values: Vec<f64>,
    pub(super) trailing: DMatrix<f64>,
}

impl Inverse {
    /// With `restricted`, of the whole system; else of its random part alone, with zeros for the fixed effects.
    pub(super) fn new(structure: &Structure, factor: &Factor, restricted: bool) -> Self {
        let values = vec![0.0; structure.stored];
        let mut inverse =
            Self { values, trailing: trailing_inverse(structure, factor, restricted) };
        for place in (0..structure.nodes.len()).rev() {
            inverse.add_node(structure, factor, place);
        }
        inverse
    }

    fn add_node(&mut self, structure: &Structure, factor: &Factor, place: usize) {
        let node = &structure.nodes[place];
        let size = structure.size_of(place);
        let met = node.width - size - 1;
        let rows = &factor.values[node.first..node.first + size * node.width];
        let mut turned = vec![0.0; size * met];
        for (out, row) in turned.chunks_mut(met).zip(rows.chunks(node.width)) {
            self.multiply(structure, node, size, &row[size..node.width - 1], out);
        }
        // E = I + W H^{-1} W'
        let mut own = DMatrix::identity(size, size);
        for (i, row) in rows.chunks(node.width).enumerate() {
            for (j, out) in turned.chunks(met).enumerate() {
                own[(i, j)] += dot(&row[size..node.width - 1], out);
            }
        }
        divide_transposed(rows, node.width, &mut turned, met);
        let mut own = own.as_slice().to_vec();
        divide_transposed(rows, node.width, &mut own, size);
        transpose(&mut own, size);
        divide_transposed(rows, node.width, &mut own, size);
        let target = &mut self.values[node.first..node.first + size * node.width];
        for (coefficient, target) in target.chunks_mut(node.width).enumerate() {
            target[..size].copy_from_slice(&own[coefficient * size..][..size]);
            let turned = &turned[coefficient * met..][..met];
            target[size..node.width - 1].iter_mut().zip(turned).for_each(|(t, v)| *t = -v);
        }
    }

    /// `H^{-1} w` among the unknowns that a level meets.
    fn multiply(
        &self,
        structure: &Structure,
        node: &Node,
        size: usize,
        weights: &[f64],
        out: &mut [f64],
    ) {
        for link in &structure.links[node.links.clone()] {
            let parent = &structure.nodes[link.parent];
            let positions = &structure.positions[link.positions.clone()];
            let span = structure.size_of(link.parent);
            let at = link.at - size;
            for own in 0..span {
                let row = &self.values[parent.first + own * parent.width..][..parent.width];
                // the outcome is last among the positions and stays out
                for (step, &position) in positions[..positions.len() - 1].iter().enumerate() {
                    let value = row[position as usize];
                    out[at + own] += value * weights[at + step];
                    if step >= span {
                        out[at + step] += value * weights[at + own];
                    }
                }
            }
        }
        let first = node.leading - size;
        let columns =
            &structure.columns[node.columns.clone()][node.leading..node.columns.len() - 1];
        let trailing = self.trailing.as_slice();
        for (&column, weight) in columns.iter().zip(&weights[first..]) {
            let entries =
                &trailing[(column as usize - structure.leading) * self.trailing.nrows()..];
            for (value, &row) in out[first..].iter_mut().zip(columns) {
                *value += weight * entries[row as usize - structure.leading];
            }
        }
    }

    /// `H^{-1}` of the coefficients of one level that starts at an unknown.
    pub(super) fn block(&self, structure: &Structure, unknown: usize, size: usize) -> DMatrix<f64> {
        match structure.node_at(unknown) {
            Some(place) => {
                let node = &structure.nodes[place];
                DMatrix::from_fn(size, size, |i, j| self.values[node.first + i * node.width + j])
            }
            None => {
                let at = unknown - structure.leading;
                self.trailing.view((at, at), (size, size)).into_owned()
            }
        }
    }
}

fn trailing_inverse(structure: &Structure, factor: &Factor, restricted: bool) -> DMatrix<f64> {
    if restricted {
        return factor.trailing.inverse();
    }
    let size = structure.trailing();
    let mut inverse = DMatrix::zeros(size, size);
    let dense = (structure.dense, structure.dense);
    let lower = factor.trailing.l_dirty().view((0, 0), dense).into_owned();
    let random = Cholesky::pack_dirty(lower).inverse();
    inverse.view_mut((0, 0), dense).copy_from(&random);
    inverse
}

/// Solves `C' X = right` in place for a level's factor `C`, both stored by rows.
fn divide_transposed(factor: &[f64], width: usize, right: &mut [f64], columns: usize) {
    let size = factor.len() / width;
    for row in (0..size).rev() {
        let (here, later) = right.split_at_mut((row + 1) * columns);
        let here = &mut here[row * columns..];
        for (below, later) in later.chunks(columns.max(1)).enumerate() {
            let entry = factor[(row + 1 + below) * width + row];
            here.iter_mut().zip(later).for_each(|(value, other)| *value -= entry * other);
        }
        here.iter_mut().for_each(|value| *value /= factor[row * width + row]);
    }
}

fn transpose(square: &mut [f64], size: usize) {
    for row in 0..size {
        for column in 0..row {
            square.swap(row * size + column, column * size + row);
        }
    }
}

/// `d ln|H| / dL` and `d r^2 / dL` for the factor of every term, all entries of it.
pub(super) struct Slopes {
    pub(super) log_determinant: Vec<DMatrix<f64>>,
    pub(super) residual_square: Vec<DMatrix<f64>>,
}

impl Slopes {
    /// `d ln|H| = 2 tr(dL' A L H^{-1})`, and `d r^2 = -2 e'Z dL u` at the least squares' `u` and residual `e`, by the envelope theorem.
    pub(super) fn new(
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
        solution: &[f64],
        inverse: &Inverse,
    ) -> Self {
        let zeros = || -> Vec<DMatrix<f64>> {
            factors.iter().map(|f| DMatrix::zeros(f.nrows(), f.ncols())).collect()
        };
        let mut slopes = Self { log_determinant: zeros(), residual_square: zeros() };
        for (place, node) in structure.nodes.iter().enumerate() {
            slopes.add_node(structure, cross, factors, inverse, place, node);
        }
        slopes.add_trailing(structure, cross, factors, inverse);
        slopes.add_residuals(structure, cross, factors, solution);
        for matrix in &mut slopes.log_determinant {
            *matrix *= 2.0;
        }
        slopes
    }

    fn add_node(
        &mut self,
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
        inverse: &Inverse,
        place: usize,
        node: &Node,
    ) {
        let size = structure.size_of(place);
        let rows = |values: &[f64], at: usize, columns: usize| {
            DMatrix::from_fn(size, columns, |i, j| values[node.first + i * node.width + at + j])
        };
        let own = &factors[node.term];
        if size == 1 && structure.terms.iter().all(|term| term.size == 1) {
            return self.add_scalar_node(structure, cross, factors, inverse, node);
        }
        self.log_determinant[node.term] +=
            rows(&cross.values, 0, size) * own * rows(&inverse.values, 0, size);
        for (at, term) in structure.blocks(node) {
            let columns = factors[term].ncols();
            let plain = rows(&cross.values, at, columns);
            let inverse = rows(&inverse.values, at, columns);
            self.log_determinant[node.term] += &plain * &factors[term] * inverse.transpose();
            self.log_determinant[term] += plain.tr_mul(&(own * inverse));
        }
        let at = node.width - structure.fixed - 1;
        let fixed = rows(&inverse.values, at, structure.fixed).transpose();
        self.log_determinant[node.term] += rows(&cross.values, at, structure.fixed) * fixed;
    }

    /// The same where every term is an intercept.
    fn add_scalar_node(
        &mut self,
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
        inverse: &Inverse,
        node: &Node,
    ) {
        let plain = &cross.values[node.first..node.first + node.width - 1];
        let inverse = &inverse.values[node.first..node.first + node.width - 1];
        let own = factors[node.term][(0, 0)];
        let mut sum = plain[0] * own * inverse[0];
        for (at, term) in structure.blocks(node) {
            let product = plain[at] * inverse[at];
            sum += product * factors[term][(0, 0)];
            self.log_determinant[term][(0, 0)] += product * own;
        }
        let at = node.width - structure.fixed - 1;
        sum += dot(&plain[at..], &inverse[at..]);
        self.log_determinant[node.term][(0, 0)] += sum;
    }

    fn add_trailing(
        &mut self,
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
        inverse: &Inverse,
    ) {
        for (term, shape) in structure.terms.iter().enumerate() {
            if shape.first < structure.leading {
                continue;
            }
            for level in 0..shape.levels {
                let at = shape.first - structure.leading + level * shape.size;
                let turned = scaled(structure, factors, inverse, at, shape.size);
                let plain = cross.trailing.view((at, 0), (shape.size, structure.trailing()));
                self.log_determinant[term] += plain * turned;
            }
        }
    }

    fn add_residuals(
        &mut self,
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
        solution: &[f64],
    ) {
        let effects = effects(structure, factors, solution);
        let residuals = random_residuals(structure, cross, &effects);
        for (term, shape) in structure.terms.iter().enumerate() {
            for level in 0..shape.levels {
                let at = structure.unknown(term, level);
                for i in 0..shape.size {
                    for j in 0..shape.size {
                        self.residual_square[term][(i, j)] -=
                            2.0 * residuals[at + i] * solution[at + j];
                    }
                }
            }
        }
    }
}

/// Columns of the trailing inverse, each dense level's rows multiplied by its term's factor.
fn scaled(
    structure: &Structure,
    factors: &[DMatrix<f64>],
    inverse: &Inverse,
    at: usize,
    size: usize,
) -> DMatrix<f64> {
    let mut columns = inverse.trailing.columns(at, size).into_owned();
    for (shape, factor) in structure.terms.iter().zip(factors) {
        if shape.first < structure.leading {
            continue;
        }
        let first = shape.first - structure.leading;
        for level in 0..shape.levels {
            let row = first + level * shape.size;
            if shape.size == 1 {
                columns.row_mut(row).scale_mut(factor[(0, 0)]);
            } else {
                let rows = factor * columns.rows(row, shape.size);
                columns.rows_mut(row, shape.size).copy_from(&rows);
            }
        }
    }
    columns
}

/// `b = L u` of every level, and the fixed effects.
pub(super) fn effects(
    structure: &Structure,
    factors: &[DMatrix<f64>],
    solution: &[f64],
) -> Vec<f64> {
    let mut effects = solution.to_vec();
    for (term, (shape, factor)) in structure.terms.iter().zip(factors).enumerate() {
        for level in 0..shape.levels {
            let at = structure.unknown(term, level);
            for i in 0..shape.size {
                effects[at + i] = (0..shape.size).map(|j| factor[(i, j)] * solution[at + j]).sum();
            }
        }
    }
    effects
}

/// `Z'(y - Zb - Xg)` for every random unknown.
fn random_residuals(structure: &Structure, cross: &Cross, effects: &[f64]) -> Vec<f64> {
    let mut residuals = cross.random_outcome(structure);
    for (place, node) in structure.nodes.iter().enumerate() {
        let size = structure.size_of(place);
        let columns = &structure.columns[node.columns.clone()];
        let fixed = node.width - structure.fixed - 1;
        for coefficient in 0..size {
            let row = &cross.values[node.first + coefficient * node.width..][..node.width - 1];
            let own = effects[node.unknown + coefficient];
            for (position, (value, &column)) in row.iter().zip(columns).enumerate() {
                residuals[node.unknown + coefficient] -= value * effects[column as usize];
                if (size..fixed).contains(&position) {
                    residuals[column as usize] -= value * own;
                }
            }
        }
    }
    for place in 0..structure.dense {
        let known: f64 = (0..structure.trailing())
            .map(|other| cross.trailing[(other, place)] * effects[structure.leading + other])
            .sum();
        residuals[structure.leading + place] -= known;
    }
    residuals
}
