use super::*;
use crate::stats::numeric::{normal_sf, studentised_range_sf};
use ndarray::array;
use std::f64::consts::{PI, SQRT_2};

const SEED: Sampling = Sampling { seed: 20, relative_error: 1e-4, most_points: 1 << 12 };

fn equal_correlation(count: usize, r: f64) -> Array2<f64> {
    Array2::from_shape_fn((count, count), |(i, j)| if i == j { 1.0 } else { r })
}

/// Correlations of all differences between `count` equal groups: singular from three groups on.
fn all_pairs(count: usize) -> Array2<f64> {
    let pairs: Vec<(usize, usize)> = (0..count).flat_map(|i| (0..i).map(move |j| (i, j))).collect();
    let coefficient = |&(up, down): &(usize, usize), group: usize| {
        f64::from(u8::from(up == group)) - f64::from(u8::from(down == group))
    };
    Array2::from_shape_fn((pairs.len(), pairs.len()), |(a, b)| {
        (0..count).map(|g| coefficient(&pairs[a], g) * coefficient(&pairs[b], g)).sum::<f64>() / 2.0
    })
}

/// Correlations that are no products of loadings.
fn crooked() -> Array2<f64> {
    array![[1.0, 0.6, -0.2, 0.1], [0.6, 1.0, 0.3, 0.2], [-0.2, 0.3, 1.0, 0.5], [0.1, 0.2, 0.5, 1.0]]
}

fn near(found: Approximation, exact: f64) {
    let allowed = 5.0 * found.error + 2e-8 * exact;
    assert!((found.value - exact).abs() <= allowed, "{found:?} is not {exact}");
}

#[test]
fn printed_points_of_dunnett_are_met_to_their_digits() {
    // Dunnett 1955, tables 1a (upper) and Dunnett 1964, Biometrics 20, 482-491, table II (two sides), 5 %, correlation 1/2 (from memory)
    for (sides, groups, df, printed) in [
        (Sides::Upper, 2, 10.0, 2.15),
        (Sides::Upper, 4, 20.0, 2.30),
        (Sides::Upper, 5, f64::INFINITY, 2.23),
        (Sides::Two, 2, 10.0, 2.57),
        (Sides::Two, 4, 20.0, 2.65),
        (Sides::Two, 3, f64::INFINITY, 2.35),
    ] {
        let found = equicoordinate_quantile(&equal_correlation(groups, 0.5), 0.05, df, sides, SEED);
        let found = found.unwrap();
        assert_eq!(found.error, 0.0);
        assert!((found.value - printed).abs() < 0.0051, "{groups} {df}: {found:?} {printed}");
    }
}

#[test]
fn independent_normals_multiply() {
    for sides in [Sides::Two, Sides::Upper] {
        for bound in [0.5, 2.0, 6.0] {
            let one = sides.tails() * normal_sf(bound);
            let exact = -(5.0 * (-one).ln_1p()).exp_m1();
            let eye = equal_correlation(5, 0.0);
            near(multivariate_t_tail(&eye, bound, f64::INFINITY, sides, SEED).unwrap(), exact);
        }
    }
}

#[test]
fn the_quadrant_of_two_normals_is_an_angle() {
    // Sheppard 1898: P(Z1 > 0, Z2 > 0) = 1/4 + asin(r) / (2 pi)
    for r in [-0.9_f64, -0.3, 0.0, 0.5, 0.99] {
        let correlation = array![[1.0, r], [r, 1.0]];
        let (zero, open) = ([0.0; 2], [f64::INFINITY; 2]);
        let exact = 0.25 + r.asin() / (2.0 * PI);
        // the t has the same signs as the normal
        for df in [f64::INFINITY, 3.0] {
            near(multivariate_t_rectangle(&correlation, &zero, &open, df, SEED).unwrap(), exact);
        }
    }
}

#[test]
fn the_octant_of_three_normals_is_a_sum_of_angles() {
    // 1/8 + (asin r12 + asin r13 + asin r23) / (4 pi)
    let r = crooked();
    let three = r.slice(ndarray::s![..3, ..3]).to_owned();
    let exact = 0.125 + (0.6_f64.asin() + (-0.2_f64).asin() + 0.3_f64.asin()) / (4.0 * PI);
    let found =
        multivariate_t_rectangle(&three, &[0.0; 3], &[f64::INFINITY; 3], 4.0, SEED).unwrap();
    assert!(found.error > 0.0 && found.error < 1e-4);
    near(found, exact);
}

#[test]
fn all_pairs_of_equal_groups_are_the_studentised_range() {
    // the correlation is singular; the bound of |t| is q / sqrt 2
    for (groups, df) in [(3, 8.0), (4, 20.0), (4, f64::INFINITY)] {
        let correlation = all_pairs(groups);
        for q in [2.0, 4.0, 9.0, 20.0] {
            let exact = studentised_range_sf(q, groups, df);
            let found =
                multivariate_t_tail(&correlation, q / SQRT_2, df, Sides::Two, SEED).unwrap();
            near(found, exact);
            assert!(found.error <= 2e-3 * exact, "{groups} {df} {q} {found:?}");
        }
    }
}

#[test]
fn the_lattice_agrees_with_the_integral_where_both_apply() {
    for (df, sides) in [(5.0, Sides::Two), (30.0, Sides::Upper), (f64::INFINITY, Sides::Two)] {
        let correlation = array![[1.0, 0.12, 0.24], [0.12, 1.0, 0.32], [0.24, 0.32, 1.0]];
        let loadings = Loadings::of(&correlation).unwrap();
        let plan = TailPlan::new(&correlation, df, sides);
        for bound in [0.4, 2.2, 8.0, 40.0] {
            let exact = loadings.tail(bound, df, sides);
            let (found, _) = plan.tail(bound, SEED);
            near(found, exact);
            assert!(found.error <= 2e-3 * exact, "{bound} {found:?} {exact}");
        }
    }
}

#[test]
fn a_bound_below_zero_is_nearly_always_passed_upwards() {
    let correlation = array![[1.0, 0.12, 0.24], [0.12, 1.0, 0.32], [0.24, 0.32, 1.0]];
    let exact = Loadings::of(&correlation).unwrap().tail(-1.0, 5.0, Sides::Upper);
    near(TailPlan::new(&correlation, 5.0, Sides::Upper).tail(-1.0, SEED).0, exact);
    let below = [f64::NEG_INFINITY; 3];
    let inside = multivariate_t_rectangle(&correlation, &below, &[-1.0; 3], 5.0, SEED).unwrap();
    near(inside, 1.0 - exact);
}

#[test]
fn the_tail_lies_between_one_statistic_and_bonferroni() {
    for bound in [0.1, 1.0, 3.0, 100.0] {
        let one = one_tail(bound, 7.0, Sides::Two);
        let found = multivariate_t_tail(&crooked(), bound, 7.0, Sides::Two, SEED).unwrap().value;
        assert!(one < found && found < 4.0 * one, "{bound} {one} {found}");
    }
}

#[test]
fn the_quantile_undoes_the_tail_and_carries_its_error() {
    let found = equicoordinate_quantile(&crooked(), 0.05, 12.0, Sides::Two, SEED).unwrap();
    assert!(found.error > 0.0 && found.error < 2e-3);
    let tail = multivariate_t_tail(&crooked(), found.value, 12.0, Sides::Two, SEED).unwrap();
    assert!((tail.value - 0.05).abs() < 5e-5, "{tail:?}");
}

#[test]
fn the_same_seed_gives_the_same_bytes_on_any_number_of_threads() {
    let run = || multivariate_t_tail(&crooked(), 2.5, 12.0, Sides::Two, SEED).unwrap();
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(run)
    };
    assert_eq!(on(1), on(2));
    assert_eq!(on(1), on(7));
    let other = Sampling { seed: 21, ..SEED };
    assert_ne!(run(), multivariate_t_tail(&crooked(), 2.5, 12.0, Sides::Two, other).unwrap());
}

#[test]
fn the_same_statistic_twice_is_one_statistic() {
    for r in [1.0, -1.0] {
        let correlation = array![[1.0, r], [r, 1.0]];
        let found = multivariate_t_tail(&correlation, 2.0, 9.0, Sides::Two, SEED).unwrap();
        near(found, one_tail(2.0, 9.0, Sides::Two));
    }
    // upwards the opposite is another: the two tails exclude each other
    let opposite = array![[1.0, -1.0], [-1.0, 1.0]];
    let found = multivariate_t_tail(&opposite, 2.0, 9.0, Sides::Upper, SEED).unwrap();
    near(found, one_tail(2.0, 9.0, Sides::Two));
}

#[test]
fn what_is_no_correlation_matrix_is_refused() {
    let tail = |correlation: Array2<f64>, bound: f64, df: f64| {
        multivariate_t_tail(&correlation, bound, df, Sides::Two, SEED)
    };
    // three variables cannot all be opposite to each other
    let fault = tail(equal_correlation(3, -0.9), 1.0, 5.0);
    assert!(matches!(fault, Err(StatsError::NotPositive { .. })));
    let fault = tail(array![[1.0, 0.2], [0.3, 1.0]], 1.0, 5.0);
    assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    let fault = tail(array![[1.0, f64::NAN], [f64::NAN, 1.0]], 1.0, 5.0);
    assert!(matches!(fault, Err(StatsError::NotFinite { .. })));
    assert!(matches!(tail(Array2::zeros((0, 0)), 1.0, 5.0), Err(StatsError::Empty { .. })));
    assert!(tail(Array2::ones((1, 2)), 1.0, 5.0).is_err());
    assert!(tail(equal_correlation(2, 0.5), f64::NAN, 5.0).is_err());
    assert!(tail(equal_correlation(2, 0.5), 1.0, 0.0).is_err());
    let eye = equal_correlation(2, 0.0);
    assert!(multivariate_t_rectangle(&eye, &[1.0, 0.0], &[0.0, 1.0], 5.0, SEED).is_err());
    assert!(equicoordinate_quantile(&eye, 1.0, 5.0, Sides::Two, SEED).is_err());
}
