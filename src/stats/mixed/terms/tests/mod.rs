//! Hand-worked, published and simulated cases with several random terms; more published data sets are in the reference tests.

mod degenerate;
mod inference;
mod likelihood;

use super::*;
use crate::stats::resample::stream;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

/// Davies & Goldsmith 1972, table 6.6: diameters of the growth inhibition zone (mm) of six samples of penicillin (columns) on 24 plates (rows); as given in
/// lme4.
const PENICILLIN: [[u8; 6]; 24] = [
    [27, 23, 26, 23, 23, 21],
    [27, 23, 26, 23, 23, 21],
    [25, 21, 25, 24, 24, 20],
    [26, 23, 25, 23, 23, 20],
    [25, 22, 26, 22, 23, 20],
    [24, 22, 25, 23, 22, 19],
    [24, 20, 23, 21, 22, 19],
    [26, 22, 26, 24, 24, 21],
    [24, 21, 24, 22, 22, 20],
    [24, 21, 24, 23, 22, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 22, 26, 24, 24, 20],
    [26, 24, 26, 24, 25, 22],
    [26, 23, 26, 23, 23, 20],
    [26, 23, 25, 24, 24, 22],
    [25, 22, 25, 23, 23, 20],
    [25, 21, 24, 23, 23, 20],
    [25, 22, 24, 23, 23, 19],
    [24, 21, 23, 21, 21, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 21, 24, 22, 22, 18],
    [25, 22, 25, 22, 22, 20],
    [24, 21, 24, 22, 24, 19],
    [24, 21, 24, 22, 21, 18],
];

fn penicillin() -> (Vec<f64>, Vec<usize>, Vec<usize>) {
    let outcome = PENICILLIN.iter().flatten().map(|&value| f64::from(value)).collect();
    let plates = (0..144).map(|row| row / 6).collect();
    let samples = (0..144).map(|row| row % 6).collect();
    (outcome, plates, samples)
}

fn ones(rows: usize) -> Design {
    Design::builder(rows).intercept().build().unwrap()
}

fn reml(design: &Design, outcome: &[f64], terms: &[RandomTerm]) -> TermsFit {
    fit_mixed_terms(design, outcome, terms, Criterion::Reml).unwrap()
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

/// Rows with crossed and nested groupings, of unequal sizes: lots hold reeds, players rate some of the reeds.
struct Workshop {
    design: Design,
    outcome: Vec<f64>,
    lots: Vec<usize>,
    reeds: Vec<usize>,
    players: Vec<usize>,
    x: Vec<f64>,
}

fn workshop(lots: usize, reeds: usize, seed: u64) -> Workshop {
    let mut generator = stream(seed, 0);
    let normal = |generator: &mut _| -> f64 { StandardNormal.sample(generator) };
    let players: Vec<f64> = (0..5).map(|_| 0.6 * normal(&mut generator)).collect();
    let lot: Vec<f64> = (0..lots).map(|_| normal(&mut generator)).collect();
    let (mut x, mut y) = (Vec::new(), Vec::new());
    let (mut in_lot, mut in_reed, mut by) = (Vec::new(), Vec::new(), Vec::new());
    for reed in 0..reeds {
        let (own, size) = (0.7 * normal(&mut generator), normal(&mut generator));
        for _ in 0..1 + generator.random_range(0..4) {
            let player = generator.random_range(0..5);
            x.push(size + 0.3 * normal(&mut generator));
            in_lot.push(reed % lots);
            in_reed.push(reed);
            by.push(player);
            let noise: f64 = normal(&mut generator);
            y.push(6.0 + 0.5 * x[x.len() - 1] + lot[reed % lots] + own + players[player] + noise);
        }
    }
    let design = Design::builder(x.len()).intercept().number("x", &x).build().unwrap();
    Workshop { design, outcome: y, lots: in_lot, reeds: in_reed, players: by, x }
}

impl Workshop {
    fn terms(&self) -> Vec<RandomTerm> {
        vec![
            RandomTerm::intercept("lot", &self.lots),
            RandomTerm::intercept("reed", &self.reeds),
            RandomTerm::intercept("player", &self.players),
        ]
    }

    fn slopes(&self) -> Vec<RandomTerm> {
        vec![
            RandomTerm::intercept("lot", &self.lots).with_slope("x", &self.x),
            RandomTerm::intercept("reed", &self.reeds),
            RandomTerm::intercept("player", &self.players).with_slope("x", &self.x),
        ]
    }
}
