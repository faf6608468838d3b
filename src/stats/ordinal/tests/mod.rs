//! What the proportional-odds model must do.

mod clusters;
mod proportionality;
mod random_intercept;
mod refusals;
mod the_fit;
mod what_is_predicted;

use super::*;
use crate::stats::logistic::{
    BinomialOutcome, fit_logistic, fit_logistic_mixed, with_level, with_number,
};
use proptest::prelude::*;

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

/// Thirty rows in five lots with ratings of 1 to 4; invented.
fn example() -> (Design, OrderedOutcome, Vec<usize>) {
    let x: Vec<f64> = (0..30).map(|row| f64::from((row * 7) % 11)).collect();
    let knives = ["a", "b", "c"].map(String::from);
    let knives: Vec<String> =
        (0..30).map(|row| knives[(row * row + row / 4) % 3].clone()).collect();
    let noise = |row: usize| ((row * 13) % 17) as f64 / 3.0;
    let rating: Vec<f64> =
        (0..30).map(|row| (0.25 * x[row] + noise(row)).floor().clamp(1.0, 4.0)).collect();
    let design = Design::builder(30).number("x", &x).choice("knife", &knives, Some("a"));
    let outcome = OrderedOutcome::new(&rating).unwrap();
    (design.build().unwrap(), outcome, (0..30).map(|row| row / 6).collect())
}

fn line(x: &[f64]) -> Design {
    Design::builder(x.len()).number("x", x).build().unwrap()
}

/// The log-likelihood by its definition as differences of cumulative probabilities.
fn by_definition(design: &Design, codes: &[usize], thresholds: &[f64], columns: &[f64]) -> f64 {
    let rows = design.matrix.rows().into_iter().zip(codes);
    let terms = rows.map(|(row, &code)| {
        let predictor: f64 = row.iter().zip(columns).map(|(x, b)| x * b).sum();
        let below = |place: usize| match place {
            0 => 0.0,
            place if place > thresholds.len() => 1.0,
            place => logistic(thresholds[place - 1] - predictor),
        };
        (below(code + 1) - below(code)).ln()
    });
    terms.sum()
}
