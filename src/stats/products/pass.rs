//! The one pass over the rows.
//!
//! Blocks of [`BLOCK`] rows are read in parallel, each once and in order, which memory serves best; inside a block rows are put in the order of their groups
//! and summed group by group, and the sums of a group are merged in the order of the blocks. Where a block begins depends on nothing but the number of rows, so
//! the bytes do not depend on the threads.

use super::GroupProducts;
use crate::stats::design::Design;
use crate::stats::error::StatsError;
use crate::whole;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::ops::Range;

/// Rows read at a time: with fifteen columns they fit the second-level cache.
const BLOCK: usize = 4096;
/// Blocks whose sums are held before they are merged.
const BATCH: usize = 64;
/// Rows summed at a time: fifteen columns of them stay in the first-level cache.
const PIECE: usize = 256;
/// Sums that run side by side; [`PIECE`] is a multiple of it.
const LANES: usize = 4;
/// From one column of a piece to the next: not a power of two, at which all columns would compete for the same lines of the cache.
const STRIDE: usize = PIECE + LANES;

/// Sums of every group, by rising code; lengths were checked.
pub(super) fn sum_groups(
    design: &Design,
    outcome: &[f64],
    groups: &[usize],
) -> Result<Vec<GroupProducts>, StatsError> {
    let data = Data { design, outcome, index: Index::new(groups) };
    let mut merged: Vec<GroupProducts> =
        data.index.codes.iter().map(|&code| GroupProducts::empty(code, data.columns())).collect();
    let blocks: Vec<usize> = (0..outcome.len()).step_by(BLOCK).collect();
    for batch in blocks.chunks(BATCH) {
        let sums: Vec<Vec<(usize, GroupProducts)>> = batch
            .par_iter()
            .map_init(|| Block::new(data.columns()), |block, &first| block.sum(&data, first))
            .collect();
        for (group, sum) in sums.into_iter().flatten() {
            merged[group].absorb(sum);
        }
    }
    for (group, &first) in merged.iter_mut().zip(&data.index.first_rows) {
        group.mean += DVector::from_vec(data.row(first));
        group.require_finite()?;
    }
    Ok(merged)
}

/// Which rows belong together.
struct Index {
    /// The codes, rising.
    codes: Vec<usize>,
    /// The first row of every group: everything is summed as a difference from it, which keeps the digits beside a large constant.
    first_rows: Vec<usize>,
    /// The place of every row's group in `codes`.
    of_row: Vec<u32>,
}

impl Index {
    fn new(groups: &[usize]) -> Self {
        let largest = groups.iter().copied().max().unwrap_or(0);
        // dense codes are found in a table, others by search
        if largest <= 4 * groups.len() {
            Self::by_table(groups, largest)
        } else {
            Self::by_search(groups)
        }
    }

    fn by_table(groups: &[usize], largest: usize) -> Self {
        let mut table = vec![u32::MAX; largest + 1];
        groups.iter().for_each(|&code| table[code] = 0);
        let codes: Vec<usize> = (0..=largest).filter(|&code| table[code] == 0).collect();
        for (place, &code) in (0..).zip(&codes) {
            table[code] = place;
        }
        Self::with_first_rows(codes, groups.iter().map(|&code| table[code]).collect())
    }

    fn by_search(groups: &[usize]) -> Self {
        let mut codes = groups.to_vec();
        codes.sort_unstable();
        codes.dedup();
        let place = |code: &usize| whole::code(codes.partition_point(|other| other < code));
        let of_row = groups.iter().map(place).collect();
        Self::with_first_rows(codes, of_row)
    }

    fn with_first_rows(codes: Vec<usize>, of_row: Vec<u32>) -> Self {
        let mut first_rows = vec![0; codes.len()];
        for (row, &group) in of_row.iter().enumerate().rev() {
            first_rows[group as usize] = row;
        }
        Self { codes, first_rows, of_row }
    }

    /// Groups of the rows from `first` on, each with its rows counted from `first`, in their order.
    fn members(&self, rows: Range<usize>) -> Vec<(usize, u32)> {
        let block = self.of_row[rows].iter().zip(0..);
        let mut members: Vec<(usize, u32)> =
            block.map(|(&group, row)| (group as usize, row)).collect();
        let sorted = members.is_sorted();
        if !sorted && self.codes.len() <= BLOCK {
            members = counting_sort(&members, self.codes.len());
        } else if !sorted {
            members.sort_unstable();
        }
        members
    }
}

/// Sorts pairs by their first part, in linear time, and keeps the order of equals.
fn counting_sort(pairs: &[(usize, u32)], keys: usize) -> Vec<(usize, u32)> {
    let mut next = vec![0; keys + 1];
    pairs.iter().for_each(|(key, _)| next[key + 1] += 1);
    for key in 0..keys {
        next[key + 1] += next[key];
    }
    let mut sorted = vec![(0, 0); pairs.len()];
    for &(key, value) in pairs {
        sorted[next[key]] = (key, value);
        next[key] += 1;
    }
    sorted
}

/// The columns of the design and, last, the outcome.
struct Data<'a> {
    design: &'a Design,
    outcome: &'a [f64],
    index: Index,
}

impl Data<'_> {
    fn columns(&self) -> usize {
        self.design.columns() + 1
    }

    fn row(&self, row: usize) -> Vec<f64> {
        let mut cells = self.design.matrix.row(row).to_vec();
        cells.push(self.outcome[row]);
        cells
    }
}

/// A stretch of rows, and room for its sums.
struct Block {
    /// The rows, one after another.
    rows: Vec<f64>,
    piece: Piece,
}

impl Block {
    fn new(columns: usize) -> Self {
        Self { rows: Vec::with_capacity(columns * BLOCK), piece: Piece::new(columns) }
    }

    /// Reads the rows from `first` on, and sums each group's differences from its reference.
    fn sum(&mut self, data: &Data<'_>, first: usize) -> Vec<(usize, GroupProducts)> {
        let rows = first..data.outcome.len().min(first + BLOCK);
        self.rows.clear();
        for row in rows.clone() {
            self.rows.extend(data.design.matrix.row(row));
            self.rows.push(data.outcome[row]);
        }
        let members = data.index.members(rows);
        let groups = members.chunk_by(|a, b| a.0 == b.0);
        groups.map(|members| (members[0].0, self.sum_group(data, members))).collect()
    }

    fn sum_group(&mut self, data: &Data<'_>, members: &[(usize, u32)]) -> GroupProducts {
        let group = members[0].0;
        let mut sum = GroupProducts::empty(data.index.codes[group], data.columns());
        let reference = data.row(data.index.first_rows[group]);
        for part in members.chunks(PIECE) {
            self.piece.read(&self.rows, part, &reference);
            sum.absorb(self.piece.products(sum.code));
        }
        sum
    }
}

/// The columns of a few rows, one after another, [`STRIDE`] apart.
struct Piece {
    values: Vec<f64>,
    columns: usize,
    count: usize,
}

impl Piece {
    fn new(columns: usize) -> Self {
        Self { values: vec![0.0; columns * STRIDE], columns, count: 0 }
    }

    /// Gathers rows of a block, less the reference.
    fn read(&mut self, rows: &[f64], members: &[(usize, u32)], reference: &[f64]) {
        self.count = members.len();
        for (place, &(_, row)) in members.iter().enumerate() {
            let cells = rows[row as usize * self.columns..].iter().zip(reference);
            for (column, (cell, origin)) in self.values.chunks_mut(STRIDE).zip(cells) {
                column[place] = cell - origin;
            }
        }
    }

    fn products(&mut self, code: usize) -> GroupProducts {
        let (columns, count) = (self.columns, self.count);
        // whole lanes, the last of them filled up with zeros
        let filled = count.next_multiple_of(LANES);
        let means =
            self.values.chunks_mut(STRIDE).map(|column| centre(&mut column[..filled], count));
        let mean = DVector::from_iterator(columns, means);
        let mut within = DMatrix::zeros(columns, columns);
        for i in (0..columns).step_by(2) {
            for j in (0..=i).step_by(2) {
                self.fill_square(&mut within, i, j, filled);
            }
        }
        GroupProducts { code, count, mean, within }
    }

    /// Products of two columns with two others, which reads each of them once.
    fn fill_square(&self, within: &mut DMatrix<f64>, i: usize, j: usize, filled: usize) {
        let last = self.columns - 1;
        let column = |place: usize| &self.values[place * STRIDE..][..filled];
        // an odd last column stands for its missing neighbour
        let (after_i, after_j) = (last.min(i + 1), last.min(j + 1));
        let sums = dots([column(i), column(after_i)], [column(j), column(after_j)]);
        let places = [(i, j), (i, after_j), (after_i, j), (after_i, after_j)];
        for ((row, column), sum) in places.into_iter().zip(sums) {
            within[(row, column)] = sum;
            within[(column, row)] = sum;
        }
    }
}

/// Subtracts the mean of the first `count` values and gives it; what follows them becomes zero. A second step takes the rounding of the first out.
fn centre(column: &mut [f64], count: usize) -> f64 {
    column[count..].fill(0.0);
    let mut mean = 0.0;
    for _ in 0..2 {
        let shift = lane_sum(column) / count as f64;
        column[..count].iter_mut().for_each(|value| *value -= shift);
        mean += shift;
    }
    mean
}

/// Sum in [`LANES`] lanes, which are added last: always the same order. The length is a multiple of [`LANES`].
fn lane_sum(values: &[f64]) -> f64 {
    let mut sums = [0.0; LANES];
    for chunk in values.chunks_exact(LANES) {
        for (sum, value) in sums.iter_mut().zip(chunk) {
            *sum += value;
        }
    }
    sums.iter().sum()
}

/// The four sums of products of two columns with two columns, in lanes as [`lane_sum`].
fn dots(left: [&[f64]; 2], right: [&[f64]; 2]) -> [f64; 4] {
    let mut sums = [[0.0; LANES]; 4];
    let lefts = left[0].chunks_exact(LANES).zip(left[1].chunks_exact(LANES));
    let rights = right[0].chunks_exact(LANES).zip(right[1].chunks_exact(LANES));
    for ((a, b), (c, d)) in lefts.zip(rights) {
        for lane in 0..LANES {
            sums[0][lane] += a[lane] * c[lane];
            sums[1][lane] += a[lane] * d[lane];
            sums[2][lane] += b[lane] * c[lane];
            sums[3][lane] += b[lane] * d[lane];
        }
    }
    sums.map(|lanes| lanes.iter().sum())
}
