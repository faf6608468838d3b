//! A made-up table of reeds, the same for every bench: 12 columns that go together a little, 25 lots, a score, a grade, hours of life.

use canewright::stats::design::{Design, DesignBuilder};
use canewright::stats::resample::stream;
use ndarray::Array2;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal, Weibull};

pub const COLUMNS: [&str; 12] = [
    "density", "hardness", "gouge_mm", "shape_mm", "tube_mm", "blade_mm", "tip_mm", "wire1_mm",
    "wire2_mm", "humidity", "soak_min", "bore_mm",
];
pub const LOTS: usize = 25;
const SLOPES: [f64; 12] = [0.4, -0.3, 0.25, 0.0, 0.0, 0.2, -0.5, 0.0, 0.1, 0.0, 0.0, 0.15];

#[allow(dead_code, reason = "every bench includes this file and uses a part of it")]
pub struct Table {
    pub columns: Vec<Vec<f64>>,
    pub lot: Vec<usize>,
    pub score: Vec<f64>,
    /// 1 to 5.
    pub grade: Vec<f64>,
    pub hours: Vec<f64>,
    pub ended: Vec<bool>,
}

fn normal(dice: &mut ChaCha12Rng) -> f64 {
    StandardNormal.sample(dice)
}

#[allow(dead_code, reason = "every bench includes this file and uses a part of it")]
impl Table {
    pub fn draw(rows: usize) -> Self {
        let mut dice = stream(2026, 0);
        let levels: Vec<f64> = (0..LOTS).map(|_| 0.5 * normal(&mut dice)).collect();
        let mut table = Self {
            columns: vec![Vec::with_capacity(rows); COLUMNS.len()],
            lot: Vec::with_capacity(rows),
            score: Vec::with_capacity(rows),
            grade: Vec::with_capacity(rows),
            hours: Vec::with_capacity(rows),
            ended: Vec::with_capacity(rows),
        };
        for _ in 0..rows {
            table.draw_reed(&mut dice, &levels);
        }
        table
    }

    fn draw_reed(&mut self, dice: &mut ChaCha12Rng, levels: &[f64]) {
        let lot = dice.random_range(0..levels.len());
        // one common part gives every pair of columns the correlation 0.3
        let common = 0.3_f64.sqrt() * normal(dice);
        let mut expected = levels[lot];
        for (column, slope) in self.columns.iter_mut().zip(SLOPES) {
            let value = common + 0.7_f64.sqrt() * normal(dice);
            expected += slope * value;
            column.push(value);
        }
        let heard: f64 = dice.random_range(1e-12..1.0);
        let heard = expected + (heard / (1.0 - heard)).ln();
        let life =
            Weibull::new(20.0 * (0.25 * expected).exp(), 1.6).expect("positive").sample(dice);
        let given_away = dice.random_range(5.0..60.0);
        self.lot.push(lot);
        self.score.push(6.0 + expected + normal(dice));
        let steps = [-1.5, -0.2, 1.0, 2.4];
        self.grade.push(1.0 + steps.iter().filter(|&&step| heard > step).count() as f64);
        self.hours.push((life.min(given_away) * 10.0).round() / 10.0 + 0.05);
        self.ended.push(life <= given_away);
    }

    /// The columns with an intercept.
    pub fn design(&self) -> Design {
        self.with_columns(Design::builder(self.score.len()).intercept())
    }

    /// The columns without one.
    pub fn columns_alone(&self) -> Design {
        self.with_columns(Design::builder(self.score.len()))
    }

    fn with_columns(&self, mut builder: DesignBuilder) -> Design {
        for (name, column) in COLUMNS.iter().zip(&self.columns) {
            builder = builder.number(name, column);
        }
        builder.build().expect("named columns")
    }

    /// The columns, each with mean 0 and standard deviation 1.
    pub fn points(&self) -> Array2<f64> {
        let rows = self.score.len() as f64;
        let scaled: Vec<Vec<f64>> = self
            .columns
            .iter()
            .map(|column| {
                let mean = column.iter().sum::<f64>() / rows;
                let variance = column.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / rows;
                column.iter().map(|value| (value - mean) / variance.sqrt()).collect()
            })
            .collect();
        Array2::from_shape_fn((self.score.len(), COLUMNS.len()), |(row, column)| {
            scaled[column][row]
        })
    }
}
