//! Invented rows in groups of unequal size, with a known truth.

use canewright::stats::design::Design;
use ndarray::Array2;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

/// The slope that every simulated outcome has on `x`, unless it is to have none.
pub const SLOPE: f64 = 0.4;
/// The slope on `z`, which is constant inside groups.
pub const BETWEEN: f64 = -0.3;
/// Standard deviation of the group effects; that of a row is 1.
pub const BETWEEN_GROUPS: f64 = 0.6;

/// Rows with a column that varies inside groups, one that does not, and the group of each row.
pub struct Workshop {
    pub x: Vec<f64>,
    pub z: Vec<f64>,
    pub groups: Vec<usize>,
    /// The effect of the group of each row.
    pub effects: Vec<f64>,
}

/// A standard normal number.
pub fn normal(generator: &mut ChaCha12Rng) -> f64 {
    StandardNormal.sample(generator)
}

/// So many of them.
pub fn normals(generator: &mut ChaCha12Rng, count: usize) -> Vec<f64> {
    (0..count).map(|_| normal(generator)).collect()
}

/// Contrasts that ask whether the last `tested` of all columns are zero.
pub fn last_columns(tested: usize, columns: usize) -> Array2<f64> {
    let of = |(row, column)| f64::from(u8::from(column == columns - tested + row));
    Array2::from_shape_fn((tested, columns), of)
}

/// The group of each row where groups of `size` rows follow each other.
pub fn equal_groups(groups: usize, size: usize) -> Vec<usize> {
    (0..groups * size).map(|row| row / size).collect()
}

impl Workshop {
    /// Groups of 4 to 16 rows; `x` lies half between and half inside groups.
    pub fn draw(generator: &mut ChaCha12Rng, groups: usize) -> Self {
        let mut drawn = Self { x: vec![], z: vec![], groups: vec![], effects: vec![] };
        for group in 0..groups {
            let (effect, level, z) = (normal(generator), normal(generator), normal(generator));
            for _ in 0..generator.random_range(4..=16) {
                drawn.x.push(0.7 * (level + normal(generator)));
                drawn.z.push(z);
                drawn.groups.push(group);
                drawn.effects.push(BETWEEN_GROUPS * effect);
            }
        }
        drawn
    }

    pub fn rows(&self) -> usize {
        self.x.len()
    }

    /// Intercept, `x` and `z`.
    pub fn design(&self) -> Design {
        let builder = Design::builder(self.rows()).intercept();
        builder.number("x", &self.x).number("z", &self.z).build().expect("named columns")
    }

    /// `x` and `z` alone.
    pub fn columns_alone(&self) -> Design {
        let builder = Design::builder(self.rows());
        builder.number("x", &self.x).number("z", &self.z).build().expect("named columns")
    }

    /// Intercept and `x`.
    pub fn columns_of_rows(&self) -> Design {
        let builder = Design::builder(self.rows()).intercept();
        builder.number("x", &self.x).build().expect("named columns")
    }

    /// What each row is expected to be, its group known.
    pub fn truth(&self, slope: f64, between: f64) -> Vec<f64> {
        let rows = self.x.iter().zip(&self.z).zip(&self.effects);
        rows.map(|((x, z), effect)| 2.0 + slope * x + between * z + effect).collect()
    }

    /// A normal outcome whose spread is `1 + uneven * |x|`.
    pub fn outcome(
        &self,
        generator: &mut ChaCha12Rng,
        slope: f64,
        between: f64,
        uneven: f64,
    ) -> Vec<f64> {
        let truth = self.truth(slope, between);
        let rows = truth.iter().zip(&self.x);
        rows.map(|(mean, x)| mean + (1.0 + uneven * x.abs()) * normal(generator)).collect()
    }
}

/// Whether an interval holds the truth.
pub fn covers((low, high): (f64, f64), truth: f64) -> bool {
    low <= truth && truth <= high
}
