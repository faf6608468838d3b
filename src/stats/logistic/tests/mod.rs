//! What the logistic model must do, by hand-worked tables, by definition, and held against other programs.

mod accuracy_of_probabilities;
mod averages;
mod clusters;
mod firth;
mod maximum_likelihood;
mod random_intercept;
mod refusals;
mod separation_is_seen;

use super::*;
use crate::stats::numeric::normal_quantile;
use proptest::prelude::*;

fn line(x: &[f64]) -> Design {
    Design::builder(x.len()).intercept().number("x", x).build().unwrap()
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

/// A fourfold table: 3 of 10 without, 8 of 12 with the factor.
fn fourfold() -> (Design, BinomialOutcome) {
    (line(&[0.0, 1.0]), BinomialOutcome::counts(&[3.0, 8.0], &[10.0, 12.0]).unwrap())
}

/// Eight rows that overlap; invented.
fn overlapping() -> (Design, BinomialOutcome) {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
    let y = [0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    (line(&x), BinomialOutcome::binary(&y).unwrap())
}

/// Contagious bovine pleuropneumonia: `[herd, cases, size, period]` (Lesnoff et al. 2004, Preventive Veterinary Medicine 63, 1-20), as in R package lme4
/// 1.1.31.
const CBPP: [[u8; 4]; 56] = [
    [1, 2, 14, 1],
    [1, 3, 12, 2],
    [1, 4, 9, 3],
    [1, 0, 5, 4],
    [2, 3, 22, 1],
    [2, 1, 18, 2],
    [2, 1, 21, 3],
    [3, 8, 22, 1],
    [3, 2, 16, 2],
    [3, 0, 16, 3],
    [3, 2, 20, 4],
    [4, 2, 10, 1],
    [4, 0, 10, 2],
    [4, 2, 9, 3],
    [4, 0, 6, 4],
    [5, 5, 18, 1],
    [5, 0, 25, 2],
    [5, 0, 24, 3],
    [5, 1, 4, 4],
    [6, 3, 17, 1],
    [6, 0, 17, 2],
    [6, 0, 18, 3],
    [6, 1, 20, 4],
    [7, 8, 16, 1],
    [7, 1, 10, 2],
    [7, 3, 9, 3],
    [7, 0, 5, 4],
    [8, 12, 34, 1],
    [9, 2, 9, 1],
    [9, 0, 6, 2],
    [9, 0, 8, 3],
    [9, 0, 6, 4],
    [10, 1, 22, 1],
    [10, 1, 22, 2],
    [10, 0, 18, 3],
    [10, 2, 22, 4],
    [11, 0, 25, 1],
    [11, 5, 27, 2],
    [11, 3, 22, 3],
    [11, 1, 22, 4],
    [12, 2, 10, 1],
    [12, 1, 8, 2],
    [12, 0, 6, 3],
    [12, 0, 5, 4],
    [13, 1, 21, 1],
    [13, 2, 24, 2],
    [13, 0, 19, 3],
    [13, 0, 23, 4],
    [14, 11, 19, 1],
    [14, 0, 2, 2],
    [14, 0, 3, 3],
    [14, 0, 2, 4],
    [15, 1, 19, 1],
    [15, 1, 15, 2],
    [15, 1, 15, 3],
    [15, 0, 15, 4],
];

fn cbpp() -> (Design, BinomialOutcome, Vec<usize>) {
    let column = |place: usize| CBPP.iter().map(|row| f64::from(row[place])).collect::<Vec<_>>();
    let periods: Vec<String> = CBPP.iter().map(|row| row[3].to_string()).collect();
    let design = Design::builder(56).intercept().choice("period", &periods, Some("1"));
    let outcome = BinomialOutcome::counts(&column(1), &column(2)).unwrap();
    (design.build().unwrap(), outcome, CBPP.iter().map(|row| usize::from(row[0])).collect())
}
