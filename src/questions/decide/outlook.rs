//! Fit: what may be lost by each choice, from joint draws of what each value is worth.
//!
//! **What a value is worth** is counted in good reeds per ten pieces. The share of the pieces that survive is drawn from the model of spoiled pieces, the
//! share of good reeds among those that do from the model of the rating: every rated reed is moved by what the value does to the rating, and those that
//! then stand at or above the mark of a good reed are counted. Counting good reeds alone would throw away how good each reed is, and the rating alone
//! would not see the pieces that never became a reed; the likelihood of the two parts together is the product of both, so they are drawn apart.
//!
//! **Before the log is seen** an effect is likely small. Before it is held against the reeds, a practice is taken to go with the rating at a correlation of
//! 0.3 or so (one standard deviation of that size; a planning value, no study of bassoon reeds gives one), and for being spoiled at the odds ratio to
//! which that correlation corresponds (Chinn 2000, Statistics in Medicine 19, 3127-3131). What is drawn is the normal distribution that this and the
//! estimates make together (Lindley & Smith 1972, Journal of the Royal Statistical Society B 34, 1-41); where the log tells nothing, what was there before.

use nalgebra::{Cholesky, DMatrix, DVector};
use rand_distr::{ChiSquared, Distribution, StandardNormal};

use super::super::factors::at_values::AtValues;
use super::super::factors::curve::Joint;
use crate::stats::logistic::logistic;
use crate::stats::numeric::{normal_cdf, standard_deviation};
use crate::stats::resample::stream;
use crate::whole;

/// Joint draws.
const DRAWS: usize = 4_000;
/// What a practice does to the rating, in standard deviations of a reed within its lot for one of the practice.
const USUAL_EFFECT: f64 = 0.3;
/// The log odds for one standard deviation that belong to that correlation: `2 r / sqrt(1 - r^2)` standard deviations between two halves, `pi / sqrt(3)` log
/// odds each, over the two standard deviations that the halves of a spread are apart.
const USUAL_LOG_ODDS: f64 = 0.57;
/// Keeps these draws apart from others of the same seed.
const APART: u64 = 0x6465_6369;
/// From so many degrees of freedom on, t and normal are one.
const NORMAL_FROM: f64 = 1e6;
/// Reeds that are moved; of more, evenly chosen ones.
const MOST_REEDS: usize = 1_000;
const TEN: f64 = 10.0;

/// Which scores are good.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mark {
    pub good_at: f64,
    pub lower_is_better: bool,
}

impl Mark {
    /// How far above the mark, up being better.
    fn above(self, score: f64) -> f64 {
        if self.lower_is_better { self.good_at - score } else { score - self.good_at }
    }

    fn sign(self) -> f64 {
        if self.lower_is_better { -1.0 } else { 1.0 }
    }
}

/// What is known of the choice among some values.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outlook {
    /// Mean worth of each value, good reeds per ten pieces.
    pub worth: Vec<f64>,
    /// What is lost on average by choosing it, if it is not the best of those that may be chosen.
    pub regret: Vec<f64>,
    /// The chance that it is worth more than the present practice.
    pub better: Vec<f64>,
    /// What is lost on average against the present practice, where it is worth less.
    pub lost: Vec<f64>,
}

impl Outlook {
    /// From draws of all worths; `may` marks the values that may be chosen.
    pub fn of(draws: &[Vec<f64>], may: &[bool], present: usize) -> Self {
        let values = may.len();
        let count = draws.len().max(1) as f64;
        let mean = |of: &dyn Fn(&Vec<f64>) -> f64| draws.iter().map(of).sum::<f64>() / count;
        let best = |draw: &Vec<f64>| {
            let allowed = draw.iter().zip(may).filter(|(_, may)| **may).map(|(worth, _)| *worth);
            allowed.fold(f64::NEG_INFINITY, f64::max)
        };
        let each = |of: &dyn Fn(&Vec<f64>, usize) -> f64| {
            (0..values).map(|value| mean(&|draw| of(draw, value))).collect::<Vec<f64>>()
        };
        Self {
            worth: each(&|draw, value| draw[value]),
            regret: each(&|draw, value| (best(draw) - draw[value]).max(0.0)),
            better: each(&|draw, value| f64::from(u8::from(draw[value] > draw[present]))),
            lost: each(&|draw, value| (draw[present] - draw[value]).max(0.0)),
        }
    }
}

/// Draws of what each value is worth, and how many good reeds of ten a rating higher by `points` is worth at the present practice.
pub(super) fn draws(
    found: &AtValues,
    mark: Mark,
    (present, points): (usize, f64),
    seed: u64,
) -> (Vec<Vec<f64>>, f64) {
    let above: Vec<f64> = found.levelled.iter().map(|score| mark.above(*score)).collect();
    let mut scores: Vec<f64> = found.points.iter().map(|(_, score)| mark.above(*score)).collect();
    scores.sort_by(f64::total_cmp);
    let good = GoodShare::of(above, threshold(&scores));
    let usual = USUAL_EFFECT * found.sd_within;
    let effects = Normal::of(&found.effects.before, usual, found.effects.joint.as_ref());
    let log_odds = spoiling(found);
    let unspoiled = logit(found.spoiled);
    let mut generator = stream(seed ^ APART, 0);
    let worth = |effect: &[f64], odds: Option<&Vec<f64>>| -> Vec<f64> {
        let rows = found.effects.rows.iter();
        let one = |row: &Vec<f64>| {
            let lost = odds.map_or(found.spoiled, |odds| logistic(unspoiled + dot(row, odds)));
            TEN * (1.0 - lost) * good.at(mark.sign() * dot(row, effect))
        };
        rows.map(one).collect()
    };
    let drawn = (0..DRAWS).map(|_| {
        let effect = effects.draw(&mut generator);
        let odds = log_odds.as_ref().map(|odds| odds.draw(&mut generator));
        worth(&effect, odds.as_ref())
    });
    let drawn: Vec<Vec<f64>> = drawn.collect();
    let now = found.effects.rows.get(present).map_or(0.0, |row| dot(row, &effects.mean));
    let now = mark.sign() * now;
    let points = TEN * (1.0 - found.spoiled) * (good.at(now + points) - good.at(now));
    (drawn, points)
}

/// None where no piece that came to the factor tells whether it spoils.
fn spoiling(found: &AtValues) -> Option<Normal> {
    let joint = found.spoils.as_ref()?;
    let parts = joint.values.len();
    let before: Vec<Vec<f64>> =
        found.effects.before.iter().take(parts).map(|row| row[..parts].to_vec()).collect();
    let fits = before.len() == parts;
    fits.then(|| Normal::of(&before, USUAL_LOG_ODDS, Some(joint)))
}

fn logit(share: f64) -> f64 {
    // where none or all are spoiled nothing is fitted, and this is not asked
    let share = share.clamp(1e-6, 1.0 - 1e-6);
    (share / (1.0 - share)).ln()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// What is known of some effects once what was thought beforehand and the log are put together.
struct Normal {
    mean: Vec<f64>,
    /// Lower triangle of the covariance.
    root: DMatrix<f64>,
    degrees_of_freedom: f64,
}

impl Normal {
    /// `before` is the covariance beforehand for `usual` = 1.
    fn of(before: &[Vec<f64>], usual: f64, joint: Option<&Joint>) -> Self {
        let size = before.len();
        let prior = DMatrix::from_fn(size, size, |a, b| usual * usual * before[a][b]);
        let after = joint.and_then(|joint| together(&prior, joint));
        let (mean, covariance) = after.unwrap_or_else(|| (DVector::zeros(size), prior.clone()));
        let df = joint.map_or(f64::INFINITY, |joint| joint.degrees_of_freedom);
        Self {
            mean: mean.iter().copied().collect(),
            root: root(covariance),
            degrees_of_freedom: df,
        }
    }

    fn draw(&self, generator: &mut impl rand::Rng) -> Vec<f64> {
        let normal = DVector::from_fn(self.mean.len(), |_, _| StandardNormal.sample(generator));
        let df = Some(self.degrees_of_freedom).filter(|df| *df < NORMAL_FROM && *df > 0.0);
        let chi = df.and_then(|df| Some((df, ChiSquared::new(df).ok()?)));
        let wide = chi.map_or(1.0, |(df, chi)| (df / chi.sample(generator)).sqrt());
        let moved = &self.root * normal * wide;
        self.mean.iter().zip(moved.iter()).map(|(mean, by)| mean + by).collect()
    }
}

/// Mean and covariance of effects with a normal prior of mean zero: `K b` and `K V` with `K = P (P + V)^-1`, by solving and not by inverting.
fn together(prior: &DMatrix<f64>, joint: &Joint) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let size = prior.nrows();
    if joint.values.len() != size {
        return None;
    }
    let own = DMatrix::from_fn(size, size, |a, b| joint.covariance[a][b]);
    let share = Cholesky::new(prior + &own)?.solve(prior).transpose();
    let mean = &share * DVector::from_column_slice(&joint.values);
    let covariance = &share * own;
    let symmetrical = (&covariance + covariance.transpose()) * 0.5;
    symmetrical.iter().all(|value| value.is_finite()).then_some((mean, symmetrical))
}

/// Zeros where the covariance is none but for rounding.
fn root(covariance: DMatrix<f64>) -> DMatrix<f64> {
    let size = covariance.nrows();
    let room = 1e-12 * covariance.trace().max(0.0) + f64::MIN_POSITIVE;
    let padded = &covariance + DMatrix::identity(size, size) * room;
    Cholesky::new(padded).map_or_else(|| DMatrix::zeros(size, size), |found| found.l())
}

/// The share of good reeds, were every reed rated higher by so much; smoothed by a normal kernel (Silverman 1986, Density Estimation, equation 3.31).
struct GoodShare {
    low: f64,
    step: f64,
    shares: Vec<f64>,
}

impl GoodShare {
    const PLACES: usize = 800;

    /// `above` holds how far each reed stands above the mark.
    fn of(mut above: Vec<f64>, edge: f64) -> Self {
        above.sort_by(f64::total_cmp);
        let every = above.len().div_ceil(MOST_REEDS).max(1);
        let kept: Vec<f64> = above.iter().copied().skip(every / 2).step_by(every).collect();
        let spread = standard_deviation(&kept).unwrap_or(1.0).max(f64::MIN_POSITIVE);
        let wide = 0.9 * spread * (kept.len().max(1) as f64).powf(-0.2);
        let reach = 8.0 * spread;
        let step = 2.0 * reach / Self::PLACES as f64;
        let share = |by: f64| {
            let good = kept.iter().map(|above| normal_cdf((above + by - edge) / wide));
            good.sum::<f64>() / kept.len().max(1) as f64
        };
        let shares = (0..=Self::PLACES).map(|place| share(step * place as f64 - reach)).collect();
        Self { low: -reach, step, shares }
    }

    fn at(&self, by: f64) -> f64 {
        let place = ((by - self.low) / self.step).clamp(0.0, Self::PLACES as f64);
        let below = whole::part(place).min(Self::PLACES - 1);
        let part = place - below as f64;
        // one share more than places
        self.shares[below] * (1.0 - part) + self.shares[below + 1] * part
    }
}

/// Half way between the worst good score and the best of the others, since marks are rounded.
fn threshold(sorted: &[f64]) -> f64 {
    let first_good = sorted.partition_point(|above| *above < 0.0);
    match (first_good.checked_sub(1).and_then(|at| sorted.get(at)), sorted.get(first_good)) {
        (Some(below), Some(above)) => (below + above) / 2.0,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::normal_density;

    /// The mean of the part of a normal above 0 is `s f(m/s) + m F(m/s)`: for m = 0.5 and s = 1 that is 0.3521 + 0.5 * 0.6915 = 0.6978, by the table of the
    /// normal; and the part below 0 is 0.5 less, 0.1978.
    #[test]
    fn the_regret_of_two_values_is_that_of_the_closed_form() {
        let mut generator = stream(5, 0);
        let draws: Vec<Vec<f64>> = (0..40_000)
            .map(|_| {
                let d: f64 = StandardNormal.sample(&mut generator);
                vec![3.0, 3.5 + d]
            })
            .collect();
        let outlook = Outlook::of(&draws, &[true, true], 0);
        let (m, s) = (0.5_f64, 1.0_f64);
        let stay = s * normal_density(m / s) + m * normal_cdf(m / s);
        assert!((stay - 0.6978).abs() < 5e-5);
        // the error of the mean of 40 000 draws is about 0.004
        assert!((outlook.regret[0] - stay).abs() < 0.016, "{outlook:?}");
        assert!((outlook.regret[1] - (stay - m)).abs() < 0.016, "{outlook:?}");
        assert!((outlook.better[1] - normal_cdf(0.5)).abs() < 0.01);
        assert!((outlook.lost[1] - outlook.regret[1]).abs() < 1e-12);
    }

    #[test]
    fn a_value_that_may_not_be_chosen_is_no_loss_to_anyone() {
        let draws = vec![vec![1.0, 2.0, 9.0], vec![2.0, 1.0, 9.0]];
        let outlook = Outlook::of(&draws, &[true, true, false], 0);
        assert_eq!(outlook.regret, [0.5, 0.5, 0.0]);
    }

    /// With a prior of variance 4 and an estimate of 3 with variance 1: 4/5 of it, and 4/5 of its variance.
    #[test]
    fn an_estimate_is_drawn_towards_no_effect_by_its_own_uncertainty() {
        let joint =
            Joint { values: vec![3.0], covariance: vec![vec![1.0]], degrees_of_freedom: 1e9 };
        let normal = Normal::of(&[vec![1.0]], 2.0, Some(&joint));
        assert!((normal.mean[0] - 2.4).abs() < 1e-12);
        assert!((normal.root[(0, 0)] - 0.8_f64.sqrt()).abs() < 1e-9);
        let unknown = Normal::of(&[vec![1.0]], 2.0, None);
        assert_eq!(unknown.mean, [0.0]);
        assert!((unknown.root[(0, 0)] - 2.0).abs() < 1e-9);
    }

    #[test]
    fn moving_every_reed_far_up_makes_all_good_and_far_down_none() {
        let share = GoodShare::of(vec![-2.0, -1.0, 1.0, 2.0], 0.0);
        assert!(share.at(20.0) > 0.999 && share.at(-20.0) < 0.001);
        assert!((share.at(0.0) - 0.5).abs() < 1e-12);
    }
}
