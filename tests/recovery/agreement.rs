//! How far raters agree and readings repeat.

use crate::recovery::promises::EXACT;
use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{covers, equal_groups, normal, normals};
use canewright::stats::agreement::{
    Intraclass, IntraclassForm, RatingUnit, Scale, Weights, cohen_kappa, fleiss_kappa, intraclass,
    intraclass_one_way, kendall_w, krippendorff_alpha,
};
use canewright::stats::repeatability::{
    crossed_study, limits_of_agreement, one_way, repeat_readings,
};
use ndarray::Array2;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    intraclass_covers("one_way_intraclass_interval_covers", EXACT, |rng| {
        intraclass_interval(rng, IntraclassForm::OneWay, 0.0, RatingUnit::Single, 0.5)
    }),
    // Satterthwaite's degrees of freedom are an approximation (Fleiss & Shrout 1978)
    intraclass_covers("two_way_random_intraclass_interval_covers", (0.015, 0.02), |rng| {
        intraclass_interval(rng, IntraclassForm::TwoWayRandom, 0.5, RatingUnit::Single, 4.0 / 9.0)
    }),
    intraclass_covers("two_way_mixed_intraclass_interval_of_an_average_covers", EXACT, |rng| {
        intraclass_interval(rng, IntraclassForm::TwoWayMixed, 0.5, RatingUnit::Average, 0.75)
    }),
    Simulation::test(
        "intraclass_test_fires_at_5_percent_where_subjects_do_not_differ",
        EXACT,
        (2_000, 50_000),
        |rng| {
            let test = ratings(rng, 0.0, 0.5)?.test(IntraclassForm::TwoWayRandom).ok()?;
            Some(test.p_value() < 0.05)
        },
    ),
    Simulation::interval(
        "intraclass_interval_of_subjects_with_2_to_5_ratings_covers",
        EXACT,
        (1_000, 20_000),
        |rng| {
            let (values, subjects) = uneven_ratings(rng, 1.0);
            Some(covers(intraclass_one_way(&values, &subjects).ok()?.interval(0.95).ok()?, 0.5))
        },
    ),
    Simulation::test(
        "test_of_subjects_with_2_to_5_ratings_fires_at_5_percent",
        EXACT,
        (2_000, 50_000),
        |rng| {
            let (values, subjects) = uneven_ratings(rng, 0.0);
            let (by_coefficient, by_squares) = (
                intraclass_one_way(&values, &subjects).ok()?.test(),
                one_way(&values, &subjects).ok()?.test(),
            );
            let (one, other) = (by_coefficient.ok()?.p_value(), by_squares.ok()?.p_value());
            ((one - other).abs() < 1e-12).then_some(one < 0.05)
        },
    ),
    Simulation::interval(
        "interval_of_the_spread_of_readings_covers",
        EXACT,
        (2_000, 50_000),
        |rng| {
            let (values, subjects) = uneven_ratings(rng, 1.0);
            let found = repeat_readings(&values, &subjects).ok()?;
            Some(covers(found.within_interval(0.95).ok()?, 1.0))
        },
    ),
    Simulation::test(
        "test_of_appraisers_who_read_all_parts_alike_fires_at_5_percent",
        EXACT,
        (1_000, 20_000),
        interaction_fires,
    ),
    Simulation::interval(
        "interval_of_a_limit_of_agreement_covers_with_30_pairs",
        (0.015, 0.01),
        (2_000, 50_000),
        limit_is_covered,
    ),
    Simulation::interval(
        "interval_of_cohens_kappa_covers_with_100_subjects",
        (0.015, 0.01),
        (1_000, 50_000),
        |rng| {
            let (first, second) = pair_of_raters(rng, 100, 0.5);
            let found = cohen_kappa(&first, &second, &Weights::Equal).ok()?;
            Some(covers(found.kappa.interval(0.95).ok()?, 0.5))
        },
    ),
    Simulation::test(
        "cohens_kappa_fires_at_5_percent_where_raters_agree_by_chance",
        (0.01, 0.01),
        (1_000, 50_000),
        |rng| {
            let (first, second) = pair_of_raters(rng, 60, 0.0);
            Some(cohen_kappa(&first, &second, &Weights::Quadratic).ok()?.p_value() < 0.05)
        },
    ),
    Simulation::test(
        "fleiss_kappa_fires_at_5_percent_where_raters_agree_by_chance",
        (0.01, 0.01),
        (1_000, 50_000),
        |rng| {
            let (categories, subjects) = three_raters(rng, 0.0);
            Some(fleiss_kappa(&categories, &subjects).ok()?.kappa.p_value() < 0.05)
        },
    ),
    Simulation::interval(
        "bootstrap_interval_of_alpha_covers_with_40_units",
        // percentiles of 40 units lie a little too near each other, as the docs of the method say
        (0.04, 0.01),
        (60, 2_000),
        |rng| {
            let (categories, subjects) = three_raters(rng, 0.7);
            let values: Vec<f64> = categories.iter().map(|&code| code as f64).collect();
            let found = krippendorff_alpha(&values, &subjects, Scale::Nominal).ok()?;
            let interval = found.bootstrap_interval(0.95, 300, rng.random()).ok()?;
            Some(covers((interval.low, interval.high), 0.49))
        },
    ),
    // the chi-squared tail is cautious with few subjects and raters (Legendre 2005, from memory)
    Simulation::test(
        "concordance_fires_at_5_percent_where_6_raters_order_10_subjects_by_chance",
        (0.015, 0.005),
        (2_000, 50_000),
        |rng| {
            let values = Array2::from_shape_fn((10, 6), |_| normal(rng));
            Some(kendall_w(&values).ok()?.p_value() < 0.05)
        },
    ),
];

const fn intraclass_covers(
    claim: &'static str,
    slack: (f64, f64),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation::interval(claim, slack, (2_000, 50_000), attempt)
}

/// Fifteen subjects of three raters; the error has a standard deviation of 1.
fn ratings(rng: &mut ChaCha12Rng, subjects: f64, raters: f64) -> Option<Intraclass> {
    let (of_subject, of_rater) = (normals(rng, 15), normals(rng, 3));
    let heard = |(i, j): (usize, usize)| subjects * of_subject[i] + raters * of_rater[j];
    intraclass(&Array2::from_shape_fn((15, 3), |place| heard(place) + normal(rng))).ok()
}

fn intraclass_interval(
    rng: &mut ChaCha12Rng,
    form: IntraclassForm,
    raters: f64,
    unit: RatingUnit,
    truth: f64,
) -> Option<bool> {
    Some(covers(ratings(rng, 1.0, raters)?.interval(form, unit, 0.95).ok()?, truth))
}

fn uneven_ratings(rng: &mut ChaCha12Rng, spread: f64) -> (Vec<f64>, Vec<usize>) {
    let subjects: Vec<usize> = (0..12).flat_map(|subject| vec![subject; 2 + subject % 4]).collect();
    let of_subject = normals(rng, 12);
    let values = subjects.iter().map(|&subject| spread * of_subject[subject] + normal(rng));
    (values.collect(), subjects)
}

/// Eight parts, three appraisers, two readings; parts and appraisers differ.
fn interaction_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let cells = equal_groups(24, 2);
    let parts: Vec<usize> = cells.iter().map(|cell| cell / 3).collect();
    let appraisers: Vec<usize> = cells.iter().map(|cell| cell % 3).collect();
    let (of_part, of_appraiser) = (normals(rng, 8), normals(rng, 3));
    let places = parts.iter().zip(&appraisers);
    let values: Vec<f64> =
        places.map(|(&p, &a)| 3.0 * of_part[p] + of_appraiser[a] + normal(rng)).collect();
    let study = crossed_study(&values, &parts, &appraisers).ok()?;
    Some(study.interaction_test().ok()?.p_value() < 0.05)
}

/// Differences with mean 0.5 and variance 2.
fn limit_is_covered(rng: &mut ChaCha12Rng) -> Option<bool> {
    let level = normals(rng, 30);
    let mut read =
        |bias: f64| level.iter().map(|level| level + bias + normal(rng)).collect::<Vec<_>>();
    let (first, second) = (read(0.5), read(0.0));
    let found = limits_of_agreement(&first, &second, 1.96).ok()?;
    Some(covers(found.high.interval(0.95).ok()?, 0.5 + 1.96 * 2.0_f64.sqrt()))
}

/// One of three categories: half, three in ten and two in ten.
fn category(rng: &mut ChaCha12Rng) -> usize {
    let share: f64 = rng.random();
    usize::from(share > 0.5) + usize::from(share > 0.8)
}

/// The second repeats the first with a chance of `kappa`, which then is their kappa, and else guesses.
fn pair_of_raters(rng: &mut ChaCha12Rng, subjects: usize, kappa: f64) -> (Vec<usize>, Vec<usize>) {
    let first: Vec<usize> = (0..subjects).map(|_| category(rng)).collect();
    let second = |&first: &usize| if rng.random_bool(kappa) { first } else { category(rng) };
    let second = first.iter().map(second).collect();
    (first, second)
}

/// Forty subjects; each of three raters sees the truth with a chance of `sight` and else guesses: two agree beyond chance with `sight^2`.
fn three_raters(rng: &mut ChaCha12Rng, sight: f64) -> (Vec<usize>, Vec<usize>) {
    let subjects = equal_groups(40, 3);
    let truth: Vec<usize> = (0..40).map(|_| category(rng)).collect();
    let seen =
        |&subject: &usize| if rng.random_bool(sight) { truth[subject] } else { category(rng) };
    let categories = subjects.iter().map(seen).collect();
    (categories, subjects)
}
