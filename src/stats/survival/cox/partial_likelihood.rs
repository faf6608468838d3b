//! Cox's partial likelihood: one walk through the risk sets, from which everything about the fit is summed.

use super::Ties;
use crate::stats::design::Design;
use crate::stats::survival::newton::Curvature;
use crate::stats::survival::risk_sets::{RiskSet, RiskSets};
use nalgebra::{DMatrix, DVector};

/// Data in working units: columns with mean 0 and standard deviation 1, rows in the order of the risk sets.
#[derive(Debug, Clone)]
pub(super) struct Working {
    pub columns: usize,
    /// `n x p`, row by row.
    pub rows: Vec<f64>,
    pub centres: Vec<f64>,
    pub scales: Vec<f64>,
    pub sets: RiskSets,
    pub ties: Ties,
}

/// Weighted sums over a set of rows: `sum r`, `sum r x`, `sum r x x'` (lower triangle), with `r = exp(predictor)`.
#[derive(Debug, Clone)]
pub(super) struct Sums {
    pub zeroth: f64,
    pub first: Vec<f64>,
    pub second: Vec<f64>,
}

impl Sums {
    fn new(columns: usize) -> Self {
        Self { zeroth: 0.0, first: vec![0.0; columns], second: vec![0.0; columns * columns] }
    }

    fn clear(&mut self) {
        self.zeroth = 0.0;
        self.first.fill(0.0);
        self.second.fill(0.0);
    }

    fn add(&mut self, row: &[f64], weight: f64) {
        self.zeroth += weight;
        let size = row.len();
        for (i, &x) in row.iter().enumerate() {
            let scaled = weight * x;
            self.first[i] += scaled;
            for (sum, other) in self.second[i * size..=i * size + i].iter_mut().zip(row) {
                *sum += scaled * other;
            }
        }
    }
}

/// Sums over the `d` rows that end together, `l = 0 .. d-1`, with `w = l / d` (Efron 1977, Journal of the American Statistical Association 72, 557-565) or 0
/// (Breslow 1974, Biometrics 30, 89-99) and `s_l = S0 - w D0`, the risk that is left when part of the tied rows are gone.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct TieSums {
    /// `sum ln s`
    pub logs: f64,
    /// `sum 1/s`, `sum w/s`
    pub inverse: [f64; 2],
    /// `sum 1/s^2`, `sum w/s^2`, `sum w^2/s^2`
    pub inverse_square: [f64; 3],
}

impl TieSums {
    fn new(ties: Ties, at_risk: f64, ending: f64, count: usize) -> Option<Self> {
        let mut sums = Self::default();
        for place in 0..count {
            let share = match ties {
                Ties::Efron => place as f64 / count as f64,
                Ties::Breslow => 0.0,
            };
            let left = at_risk - share * ending;
            // a set so light that its weights vanish has no likelihood
            if left.is_nan() || left <= 0.0 {
                return None;
            }
            let inverse = 1.0 / left;
            sums.logs += left.ln();
            sums.inverse[0] += inverse;
            sums.inverse[1] += share * inverse;
            sums.inverse_square[0] += inverse * inverse;
            sums.inverse_square[1] += share * inverse * inverse;
            sums.inverse_square[2] += share * share * inverse * inverse;
        }
        Some(sums)
    }
}

/// One time at which rows ended, while the sums stand at its risk set.
pub(super) struct Moment<'walk> {
    /// Place of the stratum.
    pub stratum: usize,
    pub set: &'walk RiskSet,
    pub at_risk: &'walk Sums,
    pub ending: &'walk Sums,
    pub ties: TieSums,
}

impl Moment<'_> {
    /// `sum_l m_l` with `m_l = (S1 - w D1) / s_l`, the mean of the rows at risk: what the rows that end are expected to be.
    pub fn expected(&self, column: usize) -> f64 {
        self.ties.inverse[0] * self.at_risk.first[column]
            - self.ties.inverse[1] * self.ending.first[column]
    }

    /// `sum_l m_l / s_l`, the mean weighted by the hazard.
    pub fn mean_by_hazard(&self, column: usize) -> f64 {
        self.ties.inverse_square[0] * self.at_risk.first[column]
            - self.ties.inverse_square[1] * self.ending.first[column]
    }

    /// `sum_l (1 - w) m_l / s_l`: the same as a row sees it that is itself among those ending.
    pub fn mean_by_hazard_of_ending(&self, column: usize) -> f64 {
        let (at_risk, ending) = (self.at_risk.first[column], self.ending.first[column]);
        let [plain, once, twice] = self.ties.inverse_square;
        (plain - once) * at_risk - (once - twice) * ending
    }

    /// Adds `weight sum_l V_l` to the lower triangle of a matrix held row by row; `V_l` is the covariance of the rows at risk.
    pub fn add_covariance(&self, matrix: &mut [f64], weight: f64) {
        let size = self.at_risk.first.len();
        let [inverse, once] = self.ties.inverse;
        let [square, square_once, square_twice] = self.ties.inverse_square;
        for i in 0..size {
            let (s, d) = (self.at_risk.first[i], self.ending.first[i]);
            let left = weight * (square * s - square_once * d);
            let right = weight * (square_twice * d - square_once * s);
            let part = i * size..=i * size + i;
            let seconds =
                self.at_risk.second[part.clone()].iter().zip(&self.ending.second[part.clone()]);
            let firsts = self.at_risk.first.iter().zip(&self.ending.first);
            for ((sum, (s2, d2)), (s1, d1)) in matrix[part].iter_mut().zip(seconds).zip(firsts) {
                *sum += weight * (inverse * s2 - once * d2) - (left * s1 + right * d1);
            }
        }
    }
}

/// The symmetric matrix whose lower triangle was summed row by row.
pub(super) fn symmetric(size: usize, lower: &[f64]) -> DMatrix<f64> {
    let mut matrix = DMatrix::from_row_slice(size, size, lower);
    matrix.fill_upper_triangle_with_lower_triangle();
    matrix
}

/// What depends on the coefficients alone.
pub(super) struct Predictor {
    /// `X b` of each place, in working units.
    pub values: Vec<f64>,
    /// The largest of each stratum, taken off before the exponential.
    pub shifts: Vec<f64>,
    /// `exp(X b - shift)`.
    pub risks: Vec<f64>,
}

impl Working {
    pub fn new(
        design: &Design,
        sets: RiskSets,
        ties: Ties,
        centres: Vec<f64>,
        scales: Vec<f64>,
    ) -> Self {
        let columns = design.columns();
        let mut rows = Vec::with_capacity(design.rows() * columns);
        for &row in &sets.order {
            let values = design.matrix.row(row);
            let each = values.iter().zip(&centres).zip(&scales);
            rows.extend(each.map(|((value, centre), scale)| (value - centre) / scale));
        }
        Self { columns, rows, centres, scales, sets, ties }
    }

    pub fn row(&self, place: usize) -> &[f64] {
        &self.rows[place * self.columns..(place + 1) * self.columns]
    }

    /// The stretch of places of each stratum.
    pub fn stretches(&self) -> Vec<std::ops::Range<usize>> {
        let mut start = 0;
        let each = self.sets.strata.iter().map(|stratum| {
            let stretch = start..start + stratum.rows;
            start = stretch.end;
            stretch
        });
        each.collect()
    }

    pub fn predictor(&self, coefficients: &[f64]) -> Predictor {
        let product = |row: &[f64]| row.iter().zip(coefficients).map(|(x, b)| x * b).sum();
        let values: Vec<f64> = self.rows.chunks_exact(self.columns).map(product).collect();
        let mut risks = Vec::with_capacity(values.len());
        let mut shifts = Vec::new();
        for stretch in self.stretches() {
            let values = &values[stretch];
            let shift = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            risks.extend(values.iter().map(|value| (value - shift).exp()));
            shifts.push(shift);
        }
        Predictor { values, shifts, risks }
    }

    /// Visits every time at which rows ended, strata in order, latest time first; the cost is `O(n p^2)`. `None` where a risk set has lost all weight.
    pub fn walk(&self, risks: &[f64], mut visit: impl FnMut(Moment<'_>)) -> Option<()> {
        let mut at_risk = Sums::new(self.columns);
        let mut ending = Sums::new(self.columns);
        for (place, stratum) in self.sets.strata.iter().enumerate() {
            at_risk.clear();
            let mut count = 0;
            for set in &stratum.sets {
                count += set.joining.len();
                set.joining.clone().for_each(|place| at_risk.add(self.row(place), risks[place]));
                count -= set.leaving.len();
                for &place in &self.sets.departures[set.leaving.clone()] {
                    at_risk.add(self.row(place), -risks[place]);
                }
                ending.clear();
                set.ending.clone().for_each(|place| ending.add(self.row(place), risks[place]));
                // where only those that end are left, rounding of what has left must not show
                if count == set.ending.len() {
                    at_risk.clone_from(&ending);
                }
                let ties =
                    TieSums::new(self.ties, at_risk.zeroth, ending.zeroth, set.ending.len())?;
                visit(Moment { stratum: place, set, at_risk: &at_risk, ending: &ending, ties });
            }
        }
        Some(())
    }

    /// The log partial likelihood, its gradient and its information.
    pub fn log_likelihood(&self, coefficients: &DVector<f64>) -> Option<Curvature> {
        let predictor = self.predictor(coefficients.as_slice());
        let mut value = 0.0;
        let mut gradient = DVector::zeros(self.columns);
        let mut information = vec![0.0; self.columns * self.columns];
        self.walk(&predictor.risks, |moment| {
            let shift = predictor.shifts[moment.stratum];
            for place in moment.set.ending.clone() {
                value += predictor.values[place] - shift;
                gradient.iter_mut().zip(self.row(place)).for_each(|(sum, x)| *sum += x);
            }
            value -= moment.ties.logs;
            for (column, sum) in gradient.iter_mut().enumerate() {
                *sum -= moment.expected(column);
            }
            moment.add_covariance(&mut information, 1.0);
        })?;
        let information = symmetric(self.columns, &information);
        value.is_finite().then_some(Curvature { value, gradient, information })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::Lifetimes;
    use proptest::prelude::*;

    /// The definition, term by term, without sums carried along.
    fn by_definition(x: &[f64], lifetimes: &Lifetimes, b: f64, ties: Ties) -> f64 {
        let mut total = 0.0;
        let mut times: Vec<f64> = lifetimes.times.clone();
        times.sort_by(f64::total_cmp);
        times.dedup();
        for time in times {
            let entries = lifetimes.entries.as_ref().unwrap();
            let rows = 0..x.len();
            let at_risk = rows.clone().filter(|&i| entries[i] < time && time <= lifetimes.times[i]);
            let risk: f64 = at_risk.map(|i| (b * x[i]).exp()).sum();
            let ending: Vec<usize> =
                rows.filter(|&i| lifetimes.ended[i] && lifetimes.times[i] == time).collect();
            let tied: f64 = ending.iter().map(|&i| (b * x[i]).exp()).sum();
            for (place, &row) in ending.iter().enumerate() {
                let share = place as f64 / ending.len() as f64;
                let left = if ties == Ties::Efron { risk - share * tied } else { risk };
                total += b * x[row] - left.ln();
            }
        }
        total
    }

    proptest! {
        #[test]
        fn the_walk_gives_the_likelihood_of_the_definition_and_its_derivatives(
            rows in prop::collection::vec((0_u8..5, 1_u8..6, any::<bool>(), -2.0_f64..2.0), 3..25),
            b in -1.0_f64..1.0, efron in any::<bool>(),
        ) {
            let entries: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
            let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0 + row.1)).collect();
            let ended: Vec<bool> = rows.iter().map(|row| row.2).collect();
            let x: Vec<f64> = rows.iter().map(|row| row.3).collect();
            let ties = if efron { Ties::Efron } else { Ties::Breslow };
            let lifetimes = Lifetimes::new(&times, &ended).unwrap().entering_at(&entries).unwrap();
            let design = Design::builder(x.len()).number("x", &x).build().unwrap();
            let sets = RiskSets::new(&lifetimes, None).unwrap();
            let working = Working::new(&design, sets, ties, vec![0.0], vec![1.0]);
            let at = |b: f64| working.log_likelihood(&DVector::from_vec(vec![b])).unwrap();
            prop_assert!((at(b).value - by_definition(&x, &lifetimes, b, ties)).abs() < 1e-9);
            let h = 1e-5;
            let slope = (at(b + h).value - at(b - h).value) / (2.0 * h);
            prop_assert!((at(b).gradient[0] - slope).abs() < 1e-6);
            let bend = (at(b + h).gradient[0] - at(b - h).gradient[0]) / (2.0 * h);
            prop_assert!((at(b).information[(0, 0)] + bend).abs() < 1e-5);
        }
    }
}
