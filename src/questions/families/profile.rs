//! The profile curves as a few numbers a piece.

use ndarray::Array2;

use super::curves::{Curves, GridPoint};
use crate::stats::cluster::sampled_rows;
use crate::stats::components::{Components, Scaling, principal_components};
use crate::study::profile_point_name;

/// Components are found from so many curves at most; the scores of the others follow from them.
const MOST_CURVES: usize = 2_000;
/// Components that are reported, and that enter as measurements.
const MOST_REPORTED: usize = 6;
const MOST_KEPT: usize = 3;
/// A component with a smaller share of the variance is mostly error of reading.
const LEAST_SHARE: f64 = 0.1;
const SAMPLE: u64 = 0x70_726f_6669_6c65;

/// Curves, their principal components, and each piece's scores.
pub(super) struct Profile {
    pub curves: Curves,
    pub components: Components,
    /// For every component that enters as a measurement one cell a piece of the log.
    pub scores: Vec<Vec<Option<f64>>>,
}

impl Profile {
    /// Places on the grid of the line that is drawn: the first, which is the spine where it was read.
    pub fn drawn(&self) -> Vec<(usize, &GridPoint)> {
        let first = self.curves.grid.first().map(|point| point.line);
        let grid = self.curves.grid.iter().enumerate();
        grid.filter(|(_, point)| Some(point.line) == first).collect()
    }
}

/// None where the curves do not differ.
pub(super) fn profile(curves: &Curves, pieces: usize, seed: u64) -> Option<Profile> {
    let all: Vec<&Vec<f64>> = curves.by_piece.values().collect();
    let rows = sampled_rows(all.len(), MOST_CURVES, seed ^ SAMPLE);
    let points = curves.grid.len();
    let matrix = Array2::from_shape_fn((rows.len(), points), |(row, at)| all[rows[row]][at]);
    let names: Vec<String> =
        curves.grid.iter().map(|point| profile_point_name(point.from_tip_mm, point.line)).collect();
    let most = points.min(rows.len().checked_sub(1)?).min(MOST_REPORTED);
    let components = principal_components(&names, &matrix, most, Scaling::Centre).ok()?;
    let large = components.shares.iter().take(MOST_KEPT);
    let kept = large.take_while(|share| **share >= LEAST_SHARE).count().max(1);
    let mut scores = vec![vec![None; pieces]; kept];
    for (&piece, curve) in &curves.by_piece {
        let own = components.score(curve).ok()?;
        for (column, score) in scores.iter_mut().zip(own) {
            if let Some(cell) = column.get_mut(piece) {
                *cell = Some(score);
            }
        }
    }
    Some(Profile { curves: curves.clone(), components, scores })
}
