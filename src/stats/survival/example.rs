//! Twenty-four invented rows with ties, and what R 4.2.2 with its package survival 3.5.3 computes from them: values called R's in the tests of this folder.
//! There `time`, `end`, `entry`, `x` and `z` are the columns below.

use super::Lifetimes;
use crate::stats::design::Design;

pub const TIMES: [f64; 24] = [
    4.0, 7.0, 7.0, 2.0, 9.0, 12.0, 5.0, 5.0, 11.0, 3.0, 8.0, 14.0, 6.0, 6.0, 10.0, 1.0, 13.0, 9.0,
    7.0, 15.0, 2.0, 8.0, 11.0, 4.0,
];
pub const CENSORED: [usize; 6] = [4, 8, 11, 13, 18, 20];
pub const ENTRIES: [f64; 24] = [
    0.0, 1.0, 0.0, 0.0, 2.0, 0.0, 0.0, 3.0, 0.0, 0.0, 4.0, 0.0, 0.0, 0.0, 5.0, 0.0, 2.0, 0.0, 0.0,
    0.0, 0.0, 1.0, 0.0, 0.0,
];
pub const X: [f64; 24] = [
    1.2, 0.4, 2.1, 3.0, 0.2, 0.9, 1.7, 2.5, 0.1, 2.2, 1.1, 0.3, 1.9, 0.8, 1.4, 2.7, 0.6, 1.0, 1.5,
    0.5, 2.0, 1.3, 0.7, 2.4,
];
pub const Z: [f64; 24] = [
    0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0,
    0.0, 1.0, 1.0, 0.0, 0.0,
];

pub fn ended() -> Vec<bool> {
    (0..24).map(|row| !CENSORED.contains(&row)).collect()
}

pub fn lifetimes() -> Lifetimes {
    Lifetimes::new(&TIMES, &ended()).unwrap()
}

pub fn design() -> Design {
    Design::builder(24).number("x", &X).number("z", &Z).build().unwrap()
}

/// Equal to nine digits, or to 1e-9 where small.
pub fn close(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() <= 1e-9 * expected.abs().max(1.0),
        "{found} is not {expected}"
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{
        fit_weibull, kaplan_meier, log_rank, nelson_aalen, weighted_log_rank,
    };

    fn groups() -> Vec<usize> {
        (0..24).map(|row| row / 4).collect()
    }

    #[test]
    fn log_rank_tests_agree_with_r() {
        // survdiff(Surv(time, end) ~ g), the same with rho = 1, and survdiff(Surv(time, end) ~ z + strata(s))
        let found = log_rank(&lifetimes(), &groups(), None).unwrap();
        close(found.test.statistic, 9.84433014704671);
        close(found.groups[4].expected, 5.86143108099630);
        assert_eq!(found.test.degrees_of_freedom, 5.0);
        let early = weighted_log_rank(&lifetimes(), &groups(), None, 1.0).unwrap();
        close(early.test.statistic, 7.70905503709348);
        close(early.groups[2].expected, 2.23048266925818);
        let z: Vec<usize> = Z.iter().map(|&z| z as usize).collect();
        let strata: Vec<usize> = (0..24).map(|row| row % 2).collect();
        let stratified = log_rank(&lifetimes(), &z, Some(&strata)).unwrap();
        close(stratified.test.statistic, 2.34958221620189);
    }

    #[test]
    fn quantiles_and_restricted_means_agree_with_r() {
        // quantile(survfit(Surv(time, end) ~ 1, conf.type = "log-log")) and summary(, rmean = 12)
        let curve = kaplan_meier(&lifetimes());
        let limits = |probability: f64| {
            let found = curve.quantile(probability, 0.95).unwrap();
            (found.value, found.low, found.high)
        };
        assert_eq!(limits(0.25), (Some(5.0), Some(1.0), Some(7.0)));
        assert_eq!(limits(0.5), (Some(8.0), Some(5.0), Some(11.0)));
        assert_eq!(limits(0.75), (Some(12.0), Some(8.0), None));
        let restricted = curve.restricted_mean(12.0).unwrap();
        close(restricted.value, 7.956875607385811);
        close(restricted.standard_error, 0.745603502812384);
    }

    #[test]
    fn curves_with_delayed_entry_agree_with_r() {
        // survfit(Surv(entry, time, end) ~ 1, conf.type = "log-log"): surv, surv * std.err, lower, cumhaz, std.chaz
        let late = lifetimes().entering_at(&ENTRIES).unwrap();
        let curve = kaplan_meier(&late);
        let found = curve.survival_at(7.0).unwrap();
        close(found.value, 0.529100529100529);
        close(found.standard_error, 0.529100529100529 * 0.2026608708444444);
        close(curve.interval_at(7.0, 0.95).unwrap().unwrap().0, 0.3048109098133622);
        let hazard = nelson_aalen(&late).hazard_at(12.0).unwrap();
        close(hazard.value, 1.4565030557677618);
        close(hazard.standard_error, 0.4199966418409);
    }

    #[test]
    fn weibull_fits_agree_with_r() {
        // survreg(Surv(time, end) ~ x + z, control = survreg.control(rel.tolerance = 1e-15))
        let design = Design::builder(24).intercept().number("x", &X).number("z", &Z);
        let fit = fit_weibull(&design.build().unwrap(), &lifetimes()).unwrap();
        let expected = [2.993565673020998, -0.594010907570629, -0.188214465508616];
        let errors = [0.1413014699701671, 0.0855208063245008, 0.1238109724602423];
        for place in 0..3 {
            let mut contrast = [0.0; 3];
            contrast[place] = 1.0;
            let found = fit.contrast(&contrast).unwrap();
            close(found.value, expected[place]);
            close(found.standard_error, errors[place]);
        }
        close(fit.scale, 0.252066513988320);
        close(fit.log_scale().standard_error, 0.1917432930344777);
        close(fit.log_likelihood, -39.41794493932897);
    }
}
