use super::*;
use crate::stats::numeric::normal_cdf;
use proptest::prelude::*;
use std::f64::consts::PI;

fn close(found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs();
    assert!(
        off <= relative * expected.abs(),
        "{found:e} is not {expected:e}: {:e}",
        off / expected
    );
}

#[test]
fn below_zero_the_noncentral_t_is_a_normal_probability() {
    // P(T <= 0) = Phi(-noncentrality)
    for noncentrality in [-3.0, 0.4, 2.0, 8.0] {
        let exact = normal_cdf(-noncentrality);
        close(noncentral_t_cdf(0.0, 7.0, noncentrality), exact, 1e-10);
    }
}

#[test]
fn the_noncentral_t_agrees_with_scipy_and_r() {
    // scipy 1.17.1, scipy.stats.nct.cdf and .sf (Boost), which R 4.2.2 pt meets to 1e-8
    for (t, df, noncentrality, below, above) in [
        (2.0, 10.0, 1.0, 0.8076115625303752, 0.19238843746962478),
        (-1.0, 10.0, 1.0, 0.026801856769479687, 0.9731981432305203),
        (0.5, 8.0, 4.0, 0.00024316726016187005, 0.9997568327398382),
        (30.0, 8.0, 4.0, 0.9999964902982206, 3.509701779436801e-06),
        (2.5, 200.0, 2.0, 0.6890052661374666, 0.31099473386253335),
    ] {
        close(noncentral_t_cdf(t, df, noncentrality), below, 1e-9);
        close(noncentral_t_sf(t, df, noncentrality), above, 1e-9);
    }
}

#[test]
fn the_far_side_of_zero_keeps_its_digits() {
    // scipy 1.17.1, scipy.stats.nct.cdf(-2, 5, 3); R 4.2.2, pt(-2, 5, 3), stops at an absolute 1e-12 and has 7.7996361321e-06
    close(noncentral_t_cdf(-2.0, 5.0, 3.0), 7.799636091854276e-06, 1e-9);
    // T <= t < 0 needs Z <= -noncentrality
    let found = noncentral_t_cdf(-50.0, 1.0, 20.0);
    assert!(found > 0.0 && found < normal_cdf(-20.0), "{found:e}");
}

#[test]
fn the_noncentral_chi_squared_with_one_degree_is_a_folded_normal() {
    for (x, noncentrality) in [(0.3_f64, 2.0_f64), (5.0, 40.0), (900.0, 100.0), (4.0, 1e-3)] {
        let (root, shift) = (x.sqrt(), noncentrality.sqrt());
        let above = normal_sf(root - shift) + normal_sf(root + shift);
        close(noncentral_chi_squared_sf(x, 1.0, noncentrality), above, 1e-11);
        if root < shift {
            let below = normal_cdf(root - shift) - normal_cdf(-root - shift);
            close(noncentral_chi_squared_cdf(x, 1.0, noncentrality), below, 1e-11);
        }
    }
}

#[test]
fn the_noncentral_chi_squared_agrees_with_scipy() {
    // scipy 1.17.1, scipy.stats.ncx2.cdf and .sf
    close(noncentral_chi_squared_sf(20.0, 3.0, 5.0), 0.027318641880326778, 1e-12);
    close(noncentral_chi_squared_sf(100.0, 3.0, 5.0), 1.86407471977652e-14, 1e-9);
    close(noncentral_chi_squared_cdf(0.1, 2.0, 30.0), 2.120235935129531e-08, 1e-11);
    close(noncentral_chi_squared_sf(2500.0, 4.0, 2000.0), 7.732584615542627e-08, 1e-9);
}

#[test]
fn the_noncentral_f_agrees_with_scipy() {
    // scipy 1.17.1, scipy.stats.ncf.cdf and .sf (Boost)
    close(noncentral_f_sf(2.8916, 3.0, 33.0, 12.0), 0.7898411801327542, 1e-11);
    close(noncentral_f_cdf(0.5, 3.0, 33.0, 12.0), 0.00348182840252514, 1e-11);
    close(noncentral_f_sf(40.0, 2.0, 10.0, 5.0), 0.0008563445802200283, 1e-10);
    close(noncentral_f_cdf(0.01, 4.0, 20.0, 50.0), 3.657104159245533e-15, 1e-9);
    close(noncentral_f_cdf(3.0, 5.0, 1000.0, 300.0), 1.554010694341717e-42, 1e-9);
    close(noncentral_f_sf(1.5, 2.5, 7.5, 0.3), 0.32708585863796347, 1e-11);
}

#[test]
fn a_very_large_noncentrality_is_nearly_normal() {
    // mean df + l, variance 2 (df + 2 l); skewness of order 1/1000
    let (df, noncentrality) = (5.0_f64, 1e6);
    let z = 1.5;
    let x = df + noncentrality + z * (2.0 * (df + 2.0 * noncentrality)).sqrt();
    close(noncentral_chi_squared_sf(x, df, noncentrality), normal_sf(z), 5e-3);
    let total = noncentral_chi_squared_sf(x, df, noncentrality)
        + noncentral_chi_squared_cdf(x, df, noncentrality);
    close(total, 1.0, 1e-8);
}

#[test]
fn without_noncentrality_the_central_tails_come_back() {
    close(noncentral_t_sf(1.3, 4.0, 0.0), t_sf(1.3, 4.0), 0.0);
    close(noncentral_f_sf(1.3, 4.0, 9.0, 1e-12), f_sf(1.3, 4.0, 9.0), 1e-10);
    close(noncentral_chi_squared_cdf(1.3, 4.0, 1e-12), chi_squared_cdf(1.3, 4.0), 1e-10);
    // Cauchy
    close(noncentral_t_sf(1.0, 1.0, 1e-14), 0.5 - 1.0_f64.atan() / PI, 1e-10);
}

#[test]
fn impossible_arguments_give_no_number() {
    assert!(noncentral_t_sf(1.0, 0.0, 1.0).is_nan());
    assert!(noncentral_t_sf(f64::NAN, 3.0, 1.0).is_nan());
    assert!(noncentral_t_cdf(1.0, 3.0, f64::INFINITY).is_nan());
    assert!(noncentral_f_sf(1.0, 3.0, 5.0, -1.0).is_nan());
    assert!(noncentral_f_cdf(1.0, 3.0, 5.0, 1e9).is_nan());
    assert!(noncentral_f_cdf(1.0, 0.0, 5.0, 1.0).is_nan());
    assert!(noncentral_chi_squared_sf(1.0, f64::INFINITY, 1.0).is_nan());
    assert_eq!(noncentral_t_sf(f64::INFINITY, 3.0, 1.0), 0.0);
    assert_eq!(noncentral_f_sf(0.0, 3.0, 5.0, 1.0), 1.0);
    assert_eq!(noncentral_f_cdf(f64::INFINITY, 3.0, 5.0, 1.0), 1.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn tails_add_up_and_squares_of_t_are_f(
        t in 0.01_f64..30.0, df in 0.5_f64..300.0, noncentrality in 0.0_f64..12.0
    ) {
        let (below, above) = (noncentral_t_cdf(t, df, noncentrality), noncentral_t_sf(t, df, noncentrality));
        prop_assert!((below + above - 1.0).abs() < 1e-9);
        let both = above + noncentral_t_cdf(-t, df, noncentrality);
        let f = noncentral_f_sf(t * t, 1.0, df, noncentrality * noncentrality);
        prop_assert!((both - f).abs() <= 1e-8 * f, "{both} {f}");
        let lower = noncentral_f_cdf(t * t, 1.0, df, noncentrality * noncentrality);
        prop_assert!((f + lower - 1.0).abs() < 1e-10);
    }

    #[test]
    fn more_noncentrality_means_a_larger_upper_tail(
        t in -5.0_f64..15.0, df in 1.0_f64..100.0, noncentrality in -5.0_f64..10.0
    ) {
        let less = noncentral_t_sf(t, df, noncentrality);
        let more = noncentral_t_sf(t, df, noncentrality + 0.5);
        prop_assert!(more >= less * (1.0 - 1e-9));
    }
}
