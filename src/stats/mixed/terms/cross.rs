//! Cross-products of the random columns, the fixed columns and the outcome, in the pattern of the [`Structure`].

use super::structure::{Node, Structure};
use super::term::Grouping;
use nalgebra::{DMatrix, DVector};

/// `(Z X y)'(Z X y)`, as far as it is not zero by structure.
#[derive(Debug, Clone)]
pub(super) struct Cross {
    /// The rows of the leading levels.
    pub(super) values: Vec<f64>,
    /// The dense unknowns, the fixed columns and the outcome, in full unless it is said that the lower triangle alone is.
    pub(super) trailing: DMatrix<f64>,
}

impl Cross {
    /// One pass over the rows; `fixed` is `n x p`.
    pub(super) fn new(
        structure: &Structure,
        groupings: &[Grouping],
        fixed: &DMatrix<f64>,
        outcome: &[f64],
    ) -> Self {
        let size = structure.trailing() + 1;
        let values = vec![0.0; structure.stored];
        let mut cross = Self { values, trailing: DMatrix::zeros(size, size) };
        let mut known = vec![0.0; structure.fixed + 1];
        for (row, &y) in outcome.iter().enumerate() {
            for (place, value) in known[..structure.fixed].iter_mut().enumerate() {
                *value = fixed[(row, place)];
            }
            known[structure.fixed] = y;
            cross.add_row(structure, &random_row(structure, groupings, row), &known);
        }
        cross.trailing.fill_upper_triangle_with_lower_triangle();
        cross
    }

    /// `random` are the row's random unknowns that are not zero by structure, rising; `known` its fixed columns and outcome.
    fn add_row(&mut self, structure: &Structure, random: &[(usize, f64)], known: &[f64]) {
        let mut at = 0;
        while at < random.len() && random[at].0 < structure.leading {
            // a leading unknown has a level
            let Some(place) = structure.node_at(random[at].0) else { break };
            let node = &structure.nodes[place];
            let size = structure.size_of(place);
            for (coefficient, (_, left)) in random[at..at + size].iter().enumerate() {
                let row = &mut self.values[node.first + coefficient * node.width..][..node.width];
                add_to_node(row, *left, structure, node, &random[at..], known);
            }
            at += size;
        }
        self.add_to_trailing(structure, &random[at..], known);
    }

    fn add_to_trailing(&mut self, structure: &Structure, dense: &[(usize, f64)], known: &[f64]) {
        let random = structure.random();
        let place = |unknown: usize| unknown - structure.leading;
        for (i, &(column, right)) in dense.iter().enumerate() {
            for &(row, left) in &dense[i..] {
                self.trailing[(place(row), place(column))] += left * right;
            }
            for (row, left) in known.iter().enumerate() {
                self.trailing[(place(random + row), place(column))] += left * right;
            }
        }
        for (column, right) in known.iter().enumerate() {
            for (row, left) in known.iter().enumerate().skip(column) {
                self.trailing[(place(random + row), place(random + column))] += left * right;
            }
        }
    }

    /// `X'y` and `y'y` of the fixed columns, and for every random unknown `Z'y`.
    pub(super) fn random_outcome(&self, structure: &Structure) -> Vec<f64> {
        let mut products = vec![0.0; structure.random()];
        for (place, node) in structure.nodes.iter().enumerate() {
            for coefficient in 0..structure.size_of(place) {
                let last = node.first + (coefficient + 1) * node.width - 1;
                products[node.unknown + coefficient] = self.values[last];
            }
        }
        let outcome = structure.trailing();
        for place in 0..structure.dense {
            products[structure.leading + place] = self.trailing[(outcome, place)];
        }
        products
    }

    /// Puts in the products of another outcome: `Z'y`, `X'y`, `y'y`.
    pub(super) fn set_outcome(
        &mut self,
        structure: &Structure,
        random: &[f64],
        fixed: &DVector<f64>,
        square: f64,
    ) {
        for (place, node) in structure.nodes.iter().enumerate() {
            for coefficient in 0..structure.size_of(place) {
                let last = node.first + (coefficient + 1) * node.width - 1;
                self.values[last] = random[node.unknown + coefficient];
            }
        }
        let outcome = structure.trailing();
        let dense = random[structure.leading..].iter().chain(fixed.iter());
        for (place, &value) in dense.enumerate() {
            self.trailing[(outcome, place)] = value;
            self.trailing[(place, outcome)] = value;
        }
        self.trailing[(outcome, outcome)] = square;
    }
}

/// The random unknowns of a row with their multipliers, rising.
pub(super) fn random_row(
    structure: &Structure,
    groupings: &[Grouping],
    row: usize,
) -> Vec<(usize, f64)> {
    let mut unknowns = Vec::with_capacity(structure.terms.len());
    for (term, shape) in structure.terms.iter().enumerate() {
        let grouping = &groupings[shape.given];
        let first = structure.unknown(term, grouping.of_row[row] as usize);
        for coefficient in 0..shape.size {
            unknowns.push((first + coefficient, grouping.value(row, coefficient)));
        }
    }
    unknowns
}

/// Adds one row's products to a row of a leading level; its own columns come first, and every unknown is among its columns.
fn add_to_node(
    row: &mut [f64],
    left: f64,
    structure: &Structure,
    node: &Node,
    random: &[(usize, f64)],
    known: &[f64],
) {
    let columns = &structure.columns[node.columns.clone()];
    let mut from = 0;
    for &(unknown, right) in random {
        from += columns[from..].partition_point(|&column| (column as usize) < unknown);
        row[from] += left * right;
    }
    let fixed = row.len() - known.len();
    for (place, right) in row[fixed..].iter_mut().zip(known) {
        *place += left * right;
    }
}
