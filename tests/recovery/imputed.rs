//! One answer from tables that were filled in several times.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{SLOPE, covers, normal, normals};
use canewright::stats::design::Design;
use canewright::stats::impute::{IncompleteTable, Settings, impute, pool, pool_joint};
use canewright::stats::linear::{LinearFit, least_squares};
use canewright::stats::logistic::logistic;
use nalgebra::DMatrix;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

const ROWS: usize = 100;
const SETTINGS: Settings =
    Settings { imputations: 10, iterations: 5, donors: 5, most_missing: 0.6 };

pub const SIMULATIONS: &[Simulation] = &[
    Simulation::interval(
        "pooled_interval_of_a_slope_covers_with_3_in_10_cells_missing",
        // donors shrink slopes a little (van Buuren 2018, section 3.4)
        (0.02, 0.015),
        (100, 3_000),
        slope_is_covered,
    ),
    Simulation::test(
        "pooled_joint_test_of_two_slopes_fires_at_5_percent",
        // D1 supposes many rows and gaps that cost each slope alike
        (0.015, 0.02),
        (100, 3_000),
        joint_fires,
    ),
];

/// The fits of the filled tables. `x` and `w` are correlated; three in ten of `x` are missing, the more often the larger `w` is.
fn fits(rng: &mut ChaCha12Rng, slope: f64) -> Option<Vec<LinearFit>> {
    let w = normals(rng, ROWS);
    let x: Vec<f64> = w.iter().map(|w| 0.5 * w + normal(rng)).collect();
    let y: Vec<f64> = x.iter().map(|x| slope * x + normal(rng)).collect();
    let seen = |w: &f64| !rng.random_bool(logistic(0.7 * w - 0.9));
    let seen: Vec<bool> = w.iter().map(seen).collect();
    let gaps: Vec<Option<f64>> = x.iter().zip(seen).map(|(x, seen)| seen.then_some(*x)).collect();
    let all = |values: &[f64]| values.iter().copied().map(Some).collect::<Vec<_>>();
    let table = IncompleteTable::new(ROWS).ok()?.number("x", &gaps).ok()?;
    let table = table.number("w", &all(&w)).ok()?.number("y", &all(&y)).ok()?;
    let filled = impute(&table, &SETTINGS, rng.random()).ok()?;
    let fit = |place| {
        let builder = Design::builder(ROWS).intercept();
        let builder = builder.number("x", &filled.numbers(place, "x").ok()?).number("w", &w);
        least_squares(&builder.build().ok()?, &y).ok()
    };
    (0..filled.count()).map(fit).collect()
}

fn slope_is_covered(rng: &mut ChaCha12Rng) -> Option<bool> {
    let estimates = fits(rng, SLOPE)?.into_iter().map(|fit| fit.classical(&[0.0, 1.0, 0.0]).ok());
    let pooled = pool(&estimates.collect::<Option<Vec<_>>>()?).ok()?;
    Some(covers(pooled.estimate.interval(0.95).ok()?, SLOPE))
}

fn joint_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let fits = fits(rng, 0.0)?;
    let estimates: Vec<Vec<f64>> = fits.iter().map(|fit| fit.coefficients[1..].to_vec()).collect();
    let covariances: Option<Vec<_>> = fits.iter().map(covariance).collect();
    Some(pool_joint(&estimates, &covariances?).ok()?.p_value() < 0.05)
}

/// Of the two slopes, from the errors of each and of their sum.
fn covariance(fit: &LinearFit) -> Option<DMatrix<f64>> {
    let variance = |contrast: [f64; 3]| Some(fit.classical(&contrast).ok()?.standard_error.powi(2));
    let (x, w) = (variance([0.0, 1.0, 0.0])?, variance([0.0, 0.0, 1.0])?);
    let both = 0.5 * (variance([0.0, 1.0, 1.0])? - x - w);
    Some(DMatrix::from_row_slice(2, 2, &[x, both, both, w]))
}
