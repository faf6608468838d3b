//! Yes or no, and ordered categories.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{SLOPE, Workshop, covers, normal};
use canewright::stats::design::Design;
use canewright::stats::logistic::{BinomialOutcome, fit_firth, logistic};
use canewright::stats::ordinal::{OrderedOutcome, fit_ordinal};
use canewright::stats::ratio::Ratio;
use ndarray::Array2;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    Simulation {
        claim: "firth_profile_interval_of_a_slope_covers_with_30_rows",
        nominal: 0.95,
        slack: (0.01, 0.02),
        replicates: (300, 10_000),
        attempt: |rng| firth_covers(rng, 30),
    },
    Simulation {
        claim: "firth_profile_interval_of_a_slope_covers_with_100_rows",
        nominal: 0.95,
        slack: (0.01, 0.015),
        replicates: (200, 10_000),
        attempt: |rng| firth_covers(rng, 100),
    },
    Simulation {
        claim: "firth_penalised_likelihood_ratio_fires_at_5_percent_with_30_rows",
        nominal: 0.05,
        // cautious where a rare outcome nearly separates (Heinze & Schemper 2002, table 3)
        slack: (0.02, 0.015),
        replicates: (300, 10_000),
        attempt: |rng| firth_fires(rng, 30),
    },
    Simulation {
        claim: "ordinal_interval_of_a_slope_covers_with_100_rows",
        nominal: 0.95,
        slack: (0.015, 0.01),
        replicates: (400, 10_000),
        attempt: ordinal_covers,
    },
    Simulation {
        claim: "ordinal_proportionality_test_fires_at_5_percent_with_100_rows",
        nominal: 0.05,
        slack: (0.02, 0.02),
        replicates: (400, 10_000),
        attempt: proportionality_fires,
    },
    Simulation {
        claim: "fieller_set_of_a_best_value_covers",
        nominal: 0.95,
        slack: (0.0, 0.0),
        replicates: (2_000, 20_000),
        attempt: fieller_covers,
    },
];

/// Rows with a common and a rarer yes: log odds `-0.7 + slope x`.
fn draw(rng: &mut ChaCha12Rng, rows: usize, slope: f64) -> Option<(Design, BinomialOutcome)> {
    let x: Vec<f64> = (0..rows).map(|_| normal(rng)).collect();
    let yes: Vec<f64> =
        x.iter().map(|x| f64::from(rng.random_bool(logistic(-0.7 + slope * x)))).collect();
    let design = Design::builder(rows).intercept().number("x", &x).build().ok()?;
    Some((design, BinomialOutcome::binary(&yes).ok()?))
}

fn firth_covers(rng: &mut ChaCha12Rng, rows: usize) -> Option<bool> {
    let truth = 2.0 * SLOPE;
    let (design, outcome) = draw(rng, rows, truth)?;
    let fit = fit_firth(&design, &outcome).ok()?;
    let interval = fit.profile_interval(&fit.pick("x").ok()?, 0.95).ok()?;
    Some(covers(interval, truth))
}

fn firth_fires(rng: &mut ChaCha12Rng, rows: usize) -> Option<bool> {
    let (design, outcome) = draw(rng, rows, 0.0)?;
    let fit = fit_firth(&design, &outcome).ok()?;
    let slope = Array2::from_shape_fn((1, 2), |(_, column)| column as f64);
    Some(fit.likelihood_ratio(&slope).ok()?.p_value() < 0.05)
}

/// 100 rows of five categories: proportional odds hold, with a slope of 0.8.
fn ordered(rng: &mut ChaCha12Rng) -> Option<(Design, OrderedOutcome)> {
    let x: Vec<f64> = (0..100).map(|_| normal(rng)).collect();
    let heard = |x: &f64, share: f64| 2.0 * SLOPE * x + (share / (1.0 - share)).ln();
    let grades: Vec<f64> = x
        .iter()
        .map(|x| heard(x, rng.random_range(1e-9..1.0)))
        .map(|heard| [-1.5, -0.4, 0.6, 1.7].iter().filter(|&&step| heard > step).count() as f64)
        .collect();
    let design = Design::builder(100).number("x", &x).build().ok()?;
    Some((design, OrderedOutcome::new(&grades).ok()?))
}

fn ordinal_covers(rng: &mut ChaCha12Rng) -> Option<bool> {
    let (design, outcome) = ordered(rng)?;
    let found = fit_ordinal(&design, &outcome).ok()?.contrast(&[1.0]).ok()?;
    Some(covers(found.interval(0.95).ok()?, 2.0 * SLOPE))
}

fn proportionality_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let (design, outcome) = ordered(rng)?;
    let test = fit_ordinal(&design, &outcome).ok()?.proportionality().ok()?;
    Some(test.overall.p_value() < 0.05)
}

/// The top of a parabola at 0.5, with so much noise that the set is often unbounded.
fn fieller_covers(rng: &mut ChaCha12Rng) -> Option<bool> {
    let workshop = Workshop::draw(rng, 6);
    let x = &workshop.x;
    let square: Vec<f64> = x.iter().map(|x| x * x).collect();
    let outcome: Vec<f64> = x.iter().map(|x| 0.5 * x - 0.5 * x * x + 2.0 * normal(rng)).collect();
    let builder = Design::builder(x.len()).intercept();
    let design = builder.number("x", x).number("square", &square).build().ok()?;
    let fit = canewright::stats::linear::least_squares(&design, &outcome).ok()?;
    let (linear, bend) =
        (fit.classical(&[0.0, 1.0, 0.0]).ok()?, fit.classical(&[0.0, 0.0, 1.0]).ok()?);
    let sum = fit.classical(&[0.0, 1.0, 1.0]).ok()?;
    let variances = (linear.standard_error.powi(2), bend.standard_error.powi(2));
    let covariance = 0.5 * (sum.standard_error.powi(2) - variances.0 - variances.1);
    let ratio = Ratio::optimum_of_quadratic(
        linear.value,
        bend.value,
        variances,
        covariance,
        linear.degrees_of_freedom,
    );
    Some(ratio.ok()?.fieller(0.95).ok()?.contains(0.5))
}
