//! A fitted curve of a factor: what it is at a value against another, and where it is best.

use super::super::scores::centred_within;
use super::fit::Answer;
use crate::stats::Estimate;
use crate::stats::design::NaturalSpline;
use crate::stats::numeric::{mean, standard_deviation};
use crate::stats::resample::stream;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

/// Draws from the joint distribution of a curve's coefficients.
const DRAWS: usize = 2_000;
/// Places between the smallest and the largest value at which a curve is compared with itself.
const PLACES: usize = 200;
/// From so many degrees of freedom on, t and normal are one.
const NORMAL_FROM: f64 = 1e6;

/// The columns that a factor's values turn into.
#[derive(Debug, Clone)]
pub(in crate::questions) enum Shape {
    /// The value from its mean in standard deviations, and the square of that.
    Parabola {
        centre: f64,
        scale: f64,
    },
    Spline(NaturalSpline),
    /// The value from its mean in standard deviations.
    Line {
        centre: f64,
        scale: f64,
    },
}

impl Shape {
    /// None where the values do not differ.
    pub fn parabola(values: &[f64]) -> Option<Self> {
        let (centre, scale) = (mean(values).ok()?, standard_deviation(values).ok()?);
        (scale > 0.0).then_some(Self::Parabola { centre, scale })
    }

    /// None where the values do not differ.
    pub fn line(values: &[f64]) -> Option<Self> {
        let (centre, scale) = (mean(values).ok()?, standard_deviation(values).ok()?);
        (scale > 0.0).then_some(Self::Line { centre, scale })
    }

    /// Knots at the terciles of the values; where many values are the same, of the different ones.
    pub fn spline(values: &[f64]) -> Option<Self> {
        let mut different = values.to_vec();
        different.sort_by(f64::total_cmp);
        different.dedup();
        let spline = NaturalSpline::new(values).or_else(|_| NaturalSpline::new(&different));
        spline.ok().map(Self::Spline)
    }

    pub fn basis(&self, at: f64) -> Vec<f64> {
        match self {
            Self::Parabola { centre, scale } => {
                let from_centre = (at - centre) / scale;
                vec![from_centre, from_centre * from_centre]
            }
            Self::Spline(spline) => spline.basis(at).to_vec(),
            Self::Line { centre, scale } => vec![(at - centre) / scale],
        }
    }

    /// One column a part of the basis, one entry a value.
    pub fn columns(&self, values: &[f64]) -> Vec<Vec<f64>> {
        let rows: Vec<Vec<f64>> = values.iter().map(|value| self.basis(*value)).collect();
        let parts = rows.first().map_or(0, Vec::len);
        (0..parts).map(|part| rows.iter().map(|row| row[part]).collect()).collect()
    }
}

/// Columns as deviations from the mean of the lot; what is left of one that is the same for all reeds of each lot is rounding, and becomes zeros.
pub(super) fn within_lots(columns: &[Vec<f64>], lot: &[usize]) -> Vec<Vec<f64>> {
    const ROUNDING: f64 = 1e-12;
    let within = |column: &Vec<f64>| {
        let size = column.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
        let own = centred_within(column, lot);
        let varies = own.iter().any(|value| value.abs() > ROUNDING * size);
        if varies { own } else { vec![0.0; own.len()] }
    };
    columns.iter().map(within).collect()
}

/// A shape with its fitted coefficients.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub shape: Shape,
    pub coefficients: Vec<f64>,
    pub covariance: Vec<Vec<f64>>,
    pub degrees_of_freedom: f64,
    /// The average of the basis over the reeds.
    pub centre: Vec<f64>,
}

impl Curve {
    /// None where one of the columns could not be told from the others.
    pub fn of(shape: Shape, values: &[f64], answer: &Answer) -> Option<Self> {
        let centre: Vec<f64> =
            shape.columns(values).iter().filter_map(|column| mean(column).ok()).collect();
        let joint = Joint::of(centre.len(), |weights| answer.combination(weights))?;
        Some(Self {
            degrees_of_freedom: joint.degrees_of_freedom,
            coefficients: joint.values,
            covariance: joint.covariance,
            shape,
            centre,
        })
    }

    /// How much higher the curve is at `at` than at `against`.
    pub fn difference(&self, at: f64, against: f64) -> Estimate {
        self.contrast(&minus(&self.shape.basis(at), &self.shape.basis(against)))
    }

    /// How much higher the curve is at `at` than on average over the reeds.
    pub fn against_average(&self, at: f64) -> Estimate {
        self.contrast(&minus(&self.shape.basis(at), &self.centre))
    }

    fn contrast(&self, weights: &[f64]) -> Estimate {
        let rows = weights.iter().zip(&self.covariance);
        let variance: f64 = rows.map(|(weight, row)| weight * dot(weights, row)).sum();
        Estimate {
            value: dot(weights, &self.coefficients),
            // rounding alone makes a variance negative
            standard_error: variance.max(0.0).sqrt(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }

    /// Where the curve is highest (`sign` 1) or lowest (`sign` -1) from `range[0]` to `range[1]`.
    pub fn best(&self, range: [f64; 2], sign: f64) -> f64 {
        let grid = Grid::of(&self.shape, range);
        grid.best(&self.coefficients, sign)
    }

    /// Where the curves drawn from the joint distribution of the coefficients are best, in ascending order; none where their covariance is none.
    pub fn draws(&self, range: [f64; 2], sign: f64, seed: (u64, u64)) -> Option<Vec<f64>> {
        let factor = lower_triangle(&self.covariance)?;
        let grid = Grid::of(&self.shape, range);
        let mut generator = stream(seed.0, seed.1);
        let chi = Some(self.degrees_of_freedom).filter(|df| *df < NORMAL_FROM);
        let chi = chi.map(ChiSquared::new).transpose().ok()?;
        let mut bests: Vec<f64> = (0..DRAWS)
            .map(|_| {
                let shrink = chi.as_ref().map_or(1.0, |chi| {
                    (self.degrees_of_freedom / chi.sample(&mut generator)).sqrt()
                });
                let normal: Vec<f64> =
                    factor.iter().map(|_| StandardNormal.sample(&mut generator)).collect();
                let moved = factor.iter().map(|row| shrink * dot(row, &normal));
                let drawn: Vec<f64> =
                    self.coefficients.iter().zip(moved).map(|(known, by)| known + by).collect();
                grid.best(&drawn, sign)
            })
            .collect();
        bests.sort_by(f64::total_cmp);
        Some(bests)
    }
}

/// Several estimates and how they vary together.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::questions) struct Joint {
    pub values: Vec<f64>,
    pub covariance: Vec<Vec<f64>>,
    /// The fewest of any of them.
    pub degrees_of_freedom: f64,
}

impl Joint {
    /// Of so many parts, where any weighted sum of them can be asked for with its error.
    pub fn of(parts: usize, ask: impl Fn(&[f64]) -> Option<Estimate>) -> Option<Self> {
        let sum = |chosen: &[usize]| {
            let weight = |part: usize| f64::from(u8::from(chosen.contains(&part)));
            ask(&(0..parts).map(weight).collect::<Vec<f64>>())
        };
        let alone: Vec<Estimate> = (0..parts).map(|part| sum(&[part])).collect::<Option<_>>()?;
        let square = |estimate: &Estimate| estimate.standard_error * estimate.standard_error;
        let mut covariance = vec![vec![0.0; parts]; parts];
        for a in 0..parts {
            covariance[a][a] = square(&alone[a]);
            for b in 0..a {
                // the variance of a sum is that of its parts and twice their covariance
                let both = square(&sum(&[a, b])?);
                let shared = (both - square(&alone[a]) - square(&alone[b])) / 2.0;
                (covariance[a][b], covariance[b][a]) = (shared, shared);
            }
        }
        let fewest = |least: f64, one: &Estimate| least.min(one.degrees_of_freedom);
        Some(Self {
            values: alone.iter().map(|one| one.value).collect(),
            degrees_of_freedom: alone.iter().fold(f64::INFINITY, fewest),
            covariance,
        })
    }

    /// A weighted sum.
    pub fn contrast(&self, weights: &[f64]) -> Estimate {
        let rows = weights.iter().zip(&self.covariance);
        let variance: f64 = rows.map(|(weight, row)| weight * dot(weights, row)).sum();
        Estimate {
            value: dot(weights, &self.values),
            // rounding alone makes a variance negative
            standard_error: variance.max(0.0).sqrt(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }
}

/// Values across a range with their basis, so that a thousand curves can be asked.
struct Grid {
    places: Vec<(f64, Vec<f64>)>,
}

impl Grid {
    fn of(shape: &Shape, [low, high]: [f64; 2]) -> Self {
        let at = |place: usize| low + (high - low) * place as f64 / PLACES as f64;
        Self { places: (0..=PLACES).map(|place| (at(place), shape.basis(at(place)))).collect() }
    }

    fn best(&self, coefficients: &[f64], sign: f64) -> f64 {
        let mut best = (f64::NAN, f64::NEG_INFINITY);
        for (at, basis) in &self.places {
            let height = sign * dot(basis, coefficients);
            if height > best.1 {
                best = (*at, height);
            }
        }
        best.0
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

/// The lower triangle whose product with its own transpose is the matrix (Cholesky), one row a row; none where the matrix is not positive definite.
pub(in crate::questions) fn lower_triangle(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let size = matrix.len();
    let mut lower = vec![vec![0.0; size]; size];
    for row in 0..size {
        for column in 0..=row {
            let left = matrix[row][column] - dot(&lower[row][..column], &lower[column][..column]);
            lower[row][column] = match row == column {
                true if left > 0.0 => left.sqrt(),
                true => return None,
                false => left / lower[column][column],
            };
        }
    }
    Some(lower)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `6 x - x^2`, best at 3.
    pub(super) fn parabola(error: f64) -> Curve {
        Curve {
            shape: Shape::Parabola { centre: 0.0, scale: 1.0 },
            coefficients: vec![6.0, -1.0],
            covariance: vec![vec![error, 0.0], vec![0.0, error / 36.0]],
            degrees_of_freedom: f64::INFINITY,
            centre: vec![0.0, 0.0],
        }
    }

    #[test]
    fn a_parabola_is_best_at_its_top() {
        assert!((parabola(0.1).best([0.0, 10.0], 1.0) - 3.0).abs() < 1e-12);
        assert_eq!(parabola(0.1).best([0.0, 10.0], -1.0), 10.0);
    }

    #[test]
    fn a_difference_carries_the_error_of_both_coefficients() {
        // 5 - 9, and the squares of (1 - 3) and (1 - 9) times the variances 0.36 and 0.01
        let found = parabola(0.36).difference(1.0, 3.0);
        assert!((found.value + 4.0).abs() < 1e-12);
        assert!((found.standard_error - (4.0_f64 * 0.36 + 64.0 * 0.01).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_triangle_worked_by_hand_gives_the_matrix_back() {
        let lower = lower_triangle(&[vec![4.0, 2.0], vec![2.0, 10.0]]);
        assert_eq!(lower, Some(vec![vec![2.0, 0.0], vec![1.0, 3.0]]));
        assert_eq!(lower_triangle(&[vec![1.0, 2.0], vec![2.0, 1.0]]), None);
    }

    #[test]
    fn a_square_that_is_the_same_for_all_reeds_of_a_lot_is_nothing_within_lots() {
        let columns = [vec![0.1, -0.1, 0.3, -0.3], vec![0.1_f64.powi(2), 0.01, 0.09, 0.3 * 0.3]];
        let within = within_lots(&columns, &[0, 0, 1, 1]);
        assert_eq!(within[0], columns[0]);
        assert_eq!(within[1], [0.0; 4]);
    }

    /// The error of the top by the delta method is `sqrt(0.01 + 9 * 4 * 0.01 / 36) / 2 = 0.0707`.
    #[test]
    fn drawn_tops_lie_about_the_top_as_far_as_the_delta_method_says() {
        let draws = parabola(0.01).draws([0.0, 10.0], 1.0, (7, 0)).unwrap();
        let spread = standard_deviation(&draws).unwrap();
        assert!((0.05..0.09).contains(&spread), "{spread}");
        assert_eq!(draws, parabola(0.01).draws([0.0, 10.0], 1.0, (7, 0)).unwrap());
    }
}
