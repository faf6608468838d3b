//! Fit: the means of very many lots, for which nothing need be drawn.
//!
//! The spread between thousands of lots is mostly known to a few hundredths, and their average even better. Taken at its likeliest it leaves each lot's mean normal about its pooled one, apart
//! from the others', so that intervals and chances follow from the normal distribution: without the chance of draws, and in a fraction of their time.

use rayon::prelude::*;

use super::fit::{Chances, Goal, Pooled};
use crate::finding::Band;
use crate::stats::mixed::{GroupMean, MixedFit, VarianceComponents};
use crate::stats::numeric::{normal_cdf, normal_density, normal_quantile, quantiles_of};
use crate::whole;

/// Of fewer lots the means are drawn.
const MANY: usize = 2_000;
/// The spread is known where the 95 % interval of the standard deviation between lots reaches no farther from it, as a share.
const KNOWN: f64 = 0.1;
/// A normal curve is followed so many of its standard deviations to either side.
const REACH: f64 = 6.0;
/// Steps of the integral over what the best lot may come to: so many at least, at most, and a standard deviation of the best known lot.
const FEWEST_STEPS: usize = 100;
const MOST_STEPS: usize = 2_000;
const STEPS_A_DEVIATION: f64 = 4.0;

/// Whether the draws of the variance components leave next to nothing open.
pub(super) fn is_spread_known(fit: &MixedFit, components: &[VarianceComponents]) -> bool {
    if fit.groups.len() < MANY || fit.at_boundary {
        return false;
    }
    let mut spreads: Vec<f64> = components.iter().map(|drawn| drawn.sd_group).collect();
    let [low, high] = quantiles_of(&mut spreads, [0.025, 0.975]);
    let reach = KNOWN * fit.sd_group;
    fit.sd_group - low <= reach && high - fit.sd_group <= reach
}

/// Each lot's mean with its intervals and chances.
pub(super) fn pooled(means: &[GroupMean], goal: Goal) -> Vec<Pooled> {
    let average = means.iter().map(|lot| lot.mean).sum::<f64>() / means.len() as f64;
    let gains: Vec<Gain> = means
        .iter()
        .map(|lot| Gain {
            middle: goal.sign * (lot.mean - average),
            deviation: lot.variance.sqrt(),
        })
        .collect();
    let best = chances_of_being_best(&gains);
    let half = normal_quantile(0.75);
    let most = normal_quantile(0.975);
    let each = means.par_iter().zip(&gains).zip(best).map(|((lot, gain), best)| {
        let within = |deviations: f64| {
            let reach = deviations * gain.deviation;
            (lot.mean - reach, lot.mean + reach)
        };
        let ((low, high), (half_low, half_high)) = (within(most), within(half));
        Pooled {
            lot: lot.code,
            band: Band { estimate: lot.mean, low, high, half_low, half_high },
            drawn: lot.mean,
            apart: (low - average, high - average),
            chances: Chances {
                best,
                above: gain.chance_of_at_least(goal.worthwhile),
                below: 1.0 - gain.chance_of_at_least(-goal.worthwhile),
            },
        }
    });
    each.collect()
}

/// How much better than the average of the lots one may be.
struct Gain {
    middle: f64,
    deviation: f64,
}

impl Gain {
    fn chance_of_at_least(&self, gain: f64) -> f64 {
        normal_cdf((self.middle - gain) / self.deviation)
    }

    fn deviations_to(&self, gain: f64) -> f64 {
        (gain - self.middle) / self.deviation
    }
}

/// The chance of each that it is the largest of all: its density times the chance that all others lie below, summed by the trapezoidal rule.
fn chances_of_being_best(gains: &[Gain]) -> Vec<f64> {
    let end = |sign: f64| {
        let ends = gains.iter().map(|gain| gain.middle + sign * REACH * gain.deviation);
        ends.fold(f64::NEG_INFINITY, f64::max)
    };
    // the largest of all hardly lies below the lower end of any
    let (from, to) = (end(-1.0), end(1.0));
    let within = |gain: &&Gain| gain.middle + REACH * gain.deviation > from;
    let least = gains.iter().filter(within).map(|gain| gain.deviation).fold(f64::MAX, f64::min);
    let steps = whole::part(STEPS_A_DEVIATION * (to - from) / least);
    let steps = steps.clamp(FEWEST_STEPS, MOST_STEPS);
    let points: Vec<f64> =
        (0..=steps).map(|step| from + (to - from) * step as f64 / steps as f64).collect();
    let all_below = |point: &f64| {
        let those = gains.iter().filter(within).map(|gain| normal_cdf(gain.deviations_to(*point)));
        those.map(f64::ln).sum::<f64>().exp()
    };
    let all_below: Vec<f64> = points.par_iter().map(all_below).collect();
    // where next to none lies below, none is the best
    let places: Vec<(f64, f64)> =
        points.into_iter().zip(all_below).filter(|(_, below)| *below > 1e-12).collect();
    let density = |gain: &Gain| -> f64 {
        let at = |(point, below): &(f64, f64)| {
            let deviations = gain.deviations_to(*point);
            below * normal_density(deviations) / normal_cdf(deviations) / gain.deviation
        };
        if within(&gain) { places.iter().map(at).sum() } else { 0.0 }
    };
    let densities: Vec<f64> = gains.par_iter().map(density).collect();
    let all: f64 = densities.iter().sum();
    densities.into_iter().map(|density| density / all).collect()
}

#[cfg(test)]
mod tests {
    use super::super::fit::{apart_from, averages, chances};
    use super::*;
    use crate::stats::design::Design;
    use crate::stats::mixed::{Criterion, fit_mixed};
    use crate::stats::resample::stream;
    use rand_distr::{Distribution, StandardNormal};

    fn best(gains: &[(f64, f64)]) -> Vec<f64> {
        let gain = |&(middle, deviation): &(f64, f64)| Gain { middle, deviation };
        chances_of_being_best(&gains.iter().map(gain).collect::<Vec<_>>())
    }

    #[test]
    fn of_two_the_chance_of_being_best_is_that_of_a_difference_above_nothing() {
        // P(N(m, s^2 + t^2) > 0), by the normal distribution of a difference
        for (middle, one, other) in [(1.0, 1.0, 1.0), (0.3, 0.05, 1.0), (-2.0, 0.5, 0.02)] {
            let found = best(&[(middle, one), (0.0, other)])[0];
            let expected = normal_cdf(middle / one.hypot(other));
            assert!((found - expected).abs() < 1e-6, "{found} is not {expected}");
        }
    }

    #[test]
    fn of_equals_each_is_best_as_often_as_any_other_and_one_far_behind_never_is() {
        let mut gains = vec![(0.4, 0.2); 500];
        gains.push((-3.0, 0.2));
        let found = best(&gains);
        assert!(found[..500].iter().all(|chance| (chance - 0.002).abs() < 1e-9));
        assert_eq!(found[500], 0.0);
    }

    /// Lots of so many reeds, and draws of the spread between them.
    fn simulated(
        spread: f64,
        reeds: impl Fn(usize) -> usize,
    ) -> (MixedFit, Vec<VarianceComponents>) {
        let mut generator = stream(1, 0);
        let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
        let (mut scores, mut lots) = (Vec::new(), Vec::new());
        for lot in 0..2_500 {
            let own = 6.0 + spread * normal();
            scores.extend((0..reeds(lot)).map(|_| own + normal()));
            lots.resize(scores.len(), lot);
        }
        let design = Design::builder(scores.len()).intercept().build().unwrap();
        let fit = fit_mixed(&design, &scores, &lots, Criterion::Reml).unwrap();
        let components = fit.likelihood_draws(400, 2).unwrap();
        (fit, components)
    }

    #[test]
    fn what_follows_from_the_normal_distribution_is_what_draws_come_to() {
        let (fit, components) = simulated(0.8, |lot| 4 + lot % 9);
        assert!(is_spread_known(&fit, &components));
        let means = fit.group_means(&[1.0]).unwrap();
        let drawn = fit.draw_group_means(&[1.0], &components, 2_000, 3).unwrap();
        let averages = averages(&drawn);
        for sign in [-1.0, 1.0] {
            let goal = Goal { sign, worthwhile: 0.3 };
            let found = pooled(&means, goal);
            let counted = chances(&drawn, &averages, goal).into_iter();
            let counted = counted.zip(apart_from(&drawn, &averages));
            let mut errors = [0.0_f64; 7];
            for ((lot, draws), (counted, apart)) in found.iter().zip(drawn.columns()).zip(counted) {
                let deviation = (lot.band.high - lot.band.low) / 3.92;
                let [low, half_high] = quantiles_of(&mut draws.to_vec(), [0.025, 0.75]);
                let own = [
                    (low - lot.band.low) / deviation,
                    (apart.0 - lot.apart.0) / deviation,
                    (apart.1 - lot.apart.1) / deviation,
                    (half_high - lot.band.half_high) / deviation,
                    counted.above - lot.chances.above,
                    counted.below - lot.chances.below,
                    counted.best - lot.chances.best,
                ];
                errors.iter_mut().zip(own).for_each(|(sum, error)| *sum += error * error);
            }
            let errors = errors.map(|sum| (sum / found.len() as f64).sqrt());
            // the chance of 2,000 draws leaves an error of sqrt(0.025 * 0.975 / 2000) / 0.058 = 0.06 deviations at a far end, of
            // sqrt(0.25 * 0.75 / 2000) / 0.318 = 0.03 at the upper quarter, of 0.011 at most in a chance
            let most = [0.08, 0.08, 0.08, 0.045, 0.011, 0.011, 0.002];
            let all = errors.iter().zip(most);
            assert!(all.clone().all(|(error, most)| *error < most), "{errors:?}");
            assert!((found.iter().map(|lot| lot.chances.best).sum::<f64>() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_spread_that_many_lots_of_two_reeds_hardly_show_is_not_known() {
        let (fit, components) = simulated(0.2, |_| 2);
        assert!(!fit.at_boundary);
        assert!(!is_spread_known(&fit, &components));
    }
}
