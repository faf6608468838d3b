//! The equations of the curvatures.

use super::banded::{Banded, Factor};

/// Places with the rows that they stand for.
#[derive(Debug, Clone, Default)]
pub(super) struct Knots {
    /// Rising, in the unit of `x`.
    pub places: Vec<f64>,
    /// Gaps between places, as shares of the range.
    pub gaps: Vec<f64>,
    /// Rows of each.
    pub weights: Vec<f64>,
    /// Mean outcome of each.
    pub means: Vec<f64>,
}

/// The curve at one penalty, on the scale where the range is 1.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    /// At every knot.
    pub values: Vec<f64>,
    /// At every inner knot.
    pub curvatures: Vec<f64>,
    pub leverages: Vec<f64>,
    /// Penalty times the integral of the squared curvature, and the weighted squared distance of the means from the curve.
    pub penalised: f64,
    pub log_determinant: f64,
}

impl Knots {
    /// Solves `(R + penalty Q'W^-1 Q) curvatures = Q'y`; `values = y - penalty W^-1 Q curvatures`. `None` where rounding takes over.
    pub fn solve(&self, penalty: f64) -> Option<Solution> {
        let factor = self.equations(penalty).factor()?;
        let slopes = self.gaps.iter().zip(self.means.windows(2));
        let slopes: Vec<f64> = slopes.map(|(gap, pair)| (pair[1] - pair[0]) / gap).collect();
        let bends: Vec<f64> = slopes.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let curvatures = factor.solve(&bends);
        let mut values = self.means.clone();
        for (place, curvature) in curvatures.iter().enumerate() {
            for (k, weight) in self.difference(place).into_iter().enumerate() {
                values[place + k] -= penalty * weight * curvature / self.weights[place + k];
            }
        }
        let along = bends.iter().zip(&curvatures).map(|(bend, curvature)| bend * curvature);
        Some(Solution {
            values,
            penalised: penalty * along.sum::<f64>(),
            leverages: self.leverages(penalty, &factor),
            log_determinant: factor.log_determinant(),
            curvatures,
        })
    }

    fn inner(&self) -> usize {
        // three knots at least
        self.places.len() - 2
    }

    /// `R + penalty Q'W^-1 Q`, with the differences `Q` and the Gram matrix `R` of the curvatures' hat functions.
    fn equations(&self, penalty: f64) -> Banded {
        let inner = self.inner();
        let differences: Vec<[f64; 3]> = (0..inner).map(|place| self.difference(place)).collect();
        let overlap = |place: usize, step: usize| -> f64 {
            // the knots that both differences touch
            let shared = (step..3).map(|k| {
                let product = differences[place][k] * differences[place + step][k - step];
                product / self.weights[place + k]
            });
            penalty * shared.sum::<f64>()
        };
        let centre = |i: usize| (self.gaps[i] + self.gaps[i + 1]) / 3.0 + overlap(i, 0);
        let beside = |i: usize| self.gaps[i + 1] / 6.0 + overlap(i, 1);
        Banded {
            bands: [
                (0..inner).map(centre).collect(),
                (0..inner - 1).map(beside).collect(),
                (0..inner.saturating_sub(2)).map(|i| overlap(i, 2)).collect(),
            ],
        }
    }

    /// Weights of three neighbouring knots in the difference of the slopes on either side of the middle one.
    fn difference(&self, place: usize) -> [f64; 3] {
        let (left, right) = (1.0 / self.gaps[place], 1.0 / self.gaps[place + 1]);
        [left, -left - right, right]
    }

    /// Diagonal of `I - penalty W^-1 Q B^-1 Q'`.
    fn leverages(&self, penalty: f64, factor: &Factor) -> Vec<f64> {
        let inverse = factor.inverse_bands();
        let mut leverages = vec![1.0; self.places.len()];
        for (step, band) in inverse.iter().enumerate() {
            // entries off the diagonal count twice
            let times = if step == 0 { penalty } else { 2.0 * penalty };
            for (place, entry) in band.iter().enumerate().take(self.inner().saturating_sub(step)) {
                let (own, other) = (self.difference(place), self.difference(place + step));
                for k in step..3 {
                    let knot = place + k;
                    leverages[knot] -=
                        times * entry * own[k] * other[k - step] / self.weights[knot];
                }
            }
        }
        leverages
    }
}
