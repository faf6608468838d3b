//! The penalised least-squares system at given relative covariance factors, factorised.
//!
//! With `b = L u` for every level (`L` the term's factor, `u` of unit variance), `H = [L'Z'ZL + I, L'Z'X; X'ZL, X'X]` is eliminated level by level, then the
//! rest by a dense Cholesky factorisation (Bates, Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1), section 3.6).

use super::cross::Cross;
use super::structure::{Node, Structure};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// `H` factorised, with the outcome as a last column.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    /// Of every leading level: its Cholesky factor `C` in its own columns, `C^{-1}` times the rest of its rows in the others.
    pub(super) values: Vec<f64>,
    pub(super) trailing: Cholesky<f64, Dyn>,
    /// The outcome's column, seen through the trailing factor.
    outcome: DVector<f64>,
    /// `ln |L'Z'ZL + I|`.
    pub(super) log_determinant_random: f64,
    /// `ln |X'V^{-1}X|` in units of the residual variance.
    pub(super) log_determinant_fixed: f64,
    /// `min |y - ZLu - Xb|^2 + |u|^2`.
    pub(super) residual_square: f64,
}

impl Factor {
    /// `None` where rounding makes the system indefinite. `factors` holds one square matrix a term, in the order of elimination.
    pub(super) fn new(
        structure: &Structure,
        cross: &Cross,
        factors: &[DMatrix<f64>],
    ) -> Option<Self> {
        let mut values = vec![0.0; structure.stored];
        let mut trailing = transformed_trailing(structure, cross, factors);
        let mut log_determinant = 0.0;
        let mut row = Vec::new();
        for (place, node) in structure.nodes.iter().enumerate() {
            transform_node(structure, node, factors, &mut values, &cross.values);
            log_determinant += factorise_node(structure.size_of(place), node, &mut values)?;
            for coefficient in 0..structure.size_of(place) {
                row.clear();
                row.extend_from_slice(
                    &values[node.first + coefficient * node.width..][..node.width],
                );
                update_parents(structure, node, &row, &mut values);
                update_trailing(structure, node, &row, &mut trailing);
            }
        }
        Self::with_trailing(structure, values, trailing, log_determinant)
    }

    fn with_trailing(
        structure: &Structure,
        values: Vec<f64>,
        system: DMatrix<f64>,
        log_determinant: f64,
    ) -> Option<Self> {
        let size = structure.trailing();
        let trailing = system.view((0, 0), (size, size)).into_owned().cholesky()?;
        let right = DVector::from_fn(size, |place, _| system[(size, place)]);
        let outcome = trailing.l_dirty().solve_lower_triangular(&right)?;
        let logs = trailing.l_dirty().diagonal().map(|value| 2.0 * value.ln());
        Some(Self {
            log_determinant_random: log_determinant + logs.rows(0, structure.dense).sum(),
            log_determinant_fixed: logs.rows(structure.dense, structure.fixed).sum(),
            residual_square: system[(size, size)] - outcome.norm_squared(),
            values,
            trailing,
            outcome,
        })
    }

    /// The `u` and the fixed effects that the outcome gives: one number an unknown.
    pub(super) fn solution(&self, structure: &Structure) -> Vec<f64> {
        let mut solution = vec![0.0; structure.random() + structure.fixed];
        let last = self.trailing.l_dirty().tr_solve_lower_triangular(&self.outcome);
        // a Cholesky factor has no zero on its diagonal
        let last = last.unwrap_or_else(|| self.outcome.clone());
        solution[structure.leading..].copy_from_slice(last.as_slice());
        for (place, node) in structure.nodes.iter().enumerate().rev() {
            let size = structure.size_of(place);
            let right: Vec<f64> = (0..size)
                .map(|coefficient| self.values[node.first + (coefficient + 1) * node.width - 1])
                .collect();
            self.substitute_back(structure, node, right, &mut solution);
        }
        solution
    }

    /// The rows and columns of the fixed effects; the upper triangle holds anything.
    pub(super) fn fixed_block(&self, structure: &Structure) -> DMatrix<f64> {
        let (at, size) = (structure.dense, structure.fixed);
        self.trailing.l_dirty().view((at, at), (size, size)).into_owned()
    }

    /// Solves `C' x = right - W x_later` for a leading level.
    fn substitute_back(
        &self,
        structure: &Structure,
        node: &Node,
        mut right: Vec<f64>,
        solution: &mut [f64],
    ) {
        let size = right.len();
        let columns = &structure.columns[node.columns.clone()];
        for coefficient in (0..size).rev() {
            let row = &self.values[node.first + coefficient * node.width..][..node.width];
            let known: f64 = (size..node.width - 1)
                .map(|place| row[place] * solution[columns[place] as usize])
                .sum();
            right[coefficient] -= known;
            for later in coefficient + 1..size {
                right[coefficient] -=
                    self.values[node.first + later * node.width + coefficient] * right[later];
            }
            right[coefficient] /= row[coefficient];
            solution[node.unknown + coefficient] = right[coefficient];
        }
    }

    /// Solves `H x = right` for any right side, one number an unknown.
    pub(super) fn solve(&self, structure: &Structure, right: &[f64]) -> Vec<f64> {
        let mut work = right.to_vec();
        for (place, node) in structure.nodes.iter().enumerate() {
            self.substitute(structure, node, structure.size_of(place), &mut work);
        }
        let dense = DVector::from_column_slice(&work[structure.leading..]);
        work[structure.leading..].copy_from_slice(self.trailing.solve(&dense).as_slice());
        for (place, node) in structure.nodes.iter().enumerate().rev() {
            let right = work[node.unknown..node.unknown + structure.size_of(place)].to_vec();
            self.substitute_back(structure, node, right, &mut work);
        }
        work
    }

    /// Solves `C x = right` for a leading level and takes `W'x` from the later right sides.
    fn substitute(&self, structure: &Structure, node: &Node, size: usize, work: &mut [f64]) {
        let columns = &structure.columns[node.columns.clone()];
        for coefficient in 0..size {
            let row = &self.values[node.first + coefficient * node.width..][..node.width];
            let known: f64 =
                (0..coefficient).map(|place| row[place] * work[node.unknown + place]).sum();
            let here = node.unknown + coefficient;
            work[here] = (work[here] - known) / row[coefficient];
            for place in size..node.width - 1 {
                work[columns[place] as usize] -= row[place] * work[here];
            }
        }
    }
}

/// `L'A L + I` of the dense unknowns; fixed columns and outcome are left as they are.
fn transformed_trailing(
    structure: &Structure,
    cross: &Cross,
    factors: &[DMatrix<f64>],
) -> DMatrix<f64> {
    let mut system = cross.trailing.clone();
    for (shape, factor) in structure.terms.iter().zip(factors) {
        if shape.first < structure.leading {
            continue;
        }
        for level in 0..shape.levels {
            let at = shape.first - structure.leading + level * shape.size;
            let columns = system.columns(at, shape.size) * factor;
            system.columns_mut(at, shape.size).copy_from(&columns);
            let rows = factor.tr_mul(&system.rows(at, shape.size));
            system.rows_mut(at, shape.size).copy_from(&rows);
        }
    }
    for place in 0..structure.dense {
        system[(place, place)] += 1.0;
    }
    system
}

/// Adds `L'A L` of a level's rows to the updates that eliminated levels left there.
fn transform_node(
    structure: &Structure,
    node: &Node,
    factors: &[DMatrix<f64>],
    values: &mut [f64],
    cross: &[f64],
) {
    let own = &factors[node.term];
    let size = own.nrows();
    let rows = node.first..node.first + size * node.width;
    let (plain, target) = (&cross[rows.clone()], &mut values[rows]);
    let mut left = vec![0.0; size * node.width];
    for row in 0..size {
        for (inner, plain) in plain.chunks(node.width).enumerate() {
            let weight = own[(inner, row)];
            if weight != 0.0 {
                let out = &mut left[row * node.width..][..node.width];
                out.iter_mut().zip(plain).for_each(|(value, plain)| *value += weight * plain);
            }
        }
    }
    let known = node.width - structure.fixed - 1;
    let blocks = std::iter::once((0, node.term)).chain(structure.blocks(node));
    for (at, term) in blocks {
        let factor = &factors[term];
        for row in 0..size {
            for column in 0..factor.ncols() {
                let sum: f64 = (0..factor.nrows())
                    .map(|inner| left[row * node.width + at + inner] * factor[(inner, column)])
                    .sum();
                target[row * node.width + at + column] += sum;
            }
        }
    }
    for row in 0..size {
        let from = row * node.width;
        target[from + row] += 1.0;
        for place in from + known..from + node.width {
            target[place] += left[place];
        }
    }
}

/// Cholesky of a level's own block in place, and the rest of its rows divided by it; the logarithm of the block's determinant.
fn factorise_node(size: usize, node: &Node, values: &mut [f64]) -> Option<f64> {
    let mut log_determinant = 0.0;
    for row in 0..size {
        let (before, here) = values.split_at_mut(node.first + row * node.width);
        let here = &mut here[..node.width];
        for earlier in 0..row {
            let factor = here[earlier];
            let other = &before[node.first + earlier * node.width..][..node.width];
            // the columns before `row` hold the factor's finished entries
            for place in row..node.width {
                here[place] -= factor * other[place];
            }
        }
        let pivot = here[row];
        if pivot.is_nan() || pivot <= 0.0 {
            return None;
        }
        let root = pivot.sqrt();
        log_determinant += pivot.ln();
        here[row..].iter_mut().for_each(|value| *value /= root);
        // the factor's column below the diagonal is its row to the right
        let right: Vec<f64> = here[row + 1..size].to_vec();
        for (below, value) in right.into_iter().enumerate() {
            values[node.first + (row + 1 + below) * node.width + row] = value;
        }
    }
    Some(log_determinant)
}

/// Takes the outer product of an eliminated row from the later leading levels it meets.
fn update_parents(structure: &Structure, node: &Node, row: &[f64], values: &mut [f64]) {
    for link in &structure.links[node.links.clone()] {
        let parent = &structure.nodes[link.parent];
        let positions = &structure.positions[link.positions.clone()];
        for own in 0..structure.size_of(link.parent) {
            let weight = row[link.at + own];
            let target = &mut values[parent.first + own * parent.width..][..parent.width];
            for (&position, value) in positions.iter().zip(&row[link.at..]) {
                target[position as usize] -= weight * value;
            }
        }
    }
}

/// Takes the outer product of an eliminated row from the lower triangle of the dense matrix.
fn update_trailing(structure: &Structure, node: &Node, row: &[f64], trailing: &mut DMatrix<f64>) {
    let size = trailing.nrows();
    let columns = &structure.columns[node.columns.clone()][node.leading..];
    let row = &row[node.leading..];
    let target = trailing.as_mut_slice();
    for (place, (&column, weight)) in columns.iter().zip(row).enumerate() {
        let column = (column as usize - structure.leading) * size;
        for (&other, value) in columns[place..].iter().zip(&row[place..]) {
            target[column + other as usize - structure.leading] -= weight * value;
        }
    }
}
