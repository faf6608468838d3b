//! Two arms with a yes or no outcome, counted exactly.

use super::{require_positive, require_power};
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{Sides, minimise_bounded, normal_quantile};
use crate::whole;
use statrs::function::gamma::ln_gamma;
use std::ops::Range;

/// Probabilities of tables count as equal when they differ by less than this share.
const TIE: f64 = 1e-7;
/// The largest arm that is counted out.
const LARGEST_ARM: usize = 2000;
/// The largest arm for which the unconditional test is counted out.
const LARGEST_UNCONDITIONAL_ARM: usize = 300;
/// Common shares at which the size of the unconditional test is tried first.
const GRID: usize = 128;
/// Power rises in saw teeth with the size; a size counts when it and so many after it suffice.
const RUN: usize = 6;

/// An exact test of two shares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExactTest {
    /// Fisher's, conditional on the number of successes (Fisher 1935); two sides: all tables at most as probable. Conservative.
    Fisher,
    /// Boschloo's, unconditional: Fisher's p value is the statistic, and its bound is raised until the largest chance of a false alarm, over all common
    /// shares, meets the level (Boschloo 1970, Statistica Neerlandica 24, 1-9). Never weaker than Fisher's.
    Boschloo,
}

/// A trial that compares the shares of two independent arms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProportionsTrial {
    /// The test that will be made.
    pub test: ExactTest,
    /// Chance of a false alarm, at most.
    pub significance: f64,
    /// Whether a difference counts in both directions; upwards: the first share larger.
    pub sides: Sides,
}

impl ProportionsTrial {
    /// The exact chance that the test finds the true shares different: the probability of all tables it rejects.
    ///
    /// # Errors
    /// `Empty` for an arm without pieces; `OutOfRange` for shares outside 0 to 1, the level, and arms above 2,000 pieces (300 for Boschloo's test).
    pub fn power(&self, first: usize, second: usize, shares: [f64; 2]) -> Result<f64, StatsError> {
        self.check(first, second, shares)?;
        let tables = FisherTables::new(first, second, self.sides);
        let bound = match self.test {
            ExactTest::Fisher => self.significance,
            ExactTest::Boschloo => tables.unconditional_bound(self.significance),
        };
        Ok(tables.chance(bound, shares))
    }

    /// Pieces an arm, equal arms, from which on the power is met (power rises in saw teeth: this size and the five after it suffice).
    ///
    /// # Errors
    /// As [`ProportionsTrial::power`]; `OutOfRange` for a power not between the level and 1, for equal shares, and where larger arms than those are needed.
    pub fn size(&self, power: f64, shares: [f64; 2]) -> Result<usize, StatsError> {
        self.check(1, 1, shares)?;
        require_power(power, self.significance)?;
        let difference = shares[0] - shares[1];
        let towards = if self.sides == Sides::Two { difference.abs() } else { difference };
        require_positive("the difference of the shares", towards)?;
        // in long strides past it first, and then one by one from well before it
        let mut size = self.half_of_approximate_size(power, shares);
        while self.power(size, size, shares)? < power {
            size += 1 + size / 8;
        }
        size = (size * 4 / 5).max(1);
        let mut run = 0;
        while run < RUN {
            run = if self.power(size, size, shares)? >= power { run + 1 } else { 0 };
            size += 1;
        }
        Ok(size - RUN)
    }

    /// Half of `(z_level + z_power)^2 (p1 q1 + p2 q2) / (p1 - p2)^2`, from where the search goes up; exact tests need more than the whole.
    fn half_of_approximate_size(&self, power: f64, shares: [f64; 2]) -> usize {
        let z = -normal_quantile(self.significance / self.sides.tails()) + normal_quantile(power);
        let spread: f64 = shares.iter().map(|share| share * (1.0 - share)).sum();
        let size = 0.5 * z * z * spread / (shares[0] - shares[1]).powi(2);
        // a size too large for counting out is refused by the first step
        whole::part(size.min(1e9)).max(1)
    }

    fn check(&self, first: usize, second: usize, shares: [f64; 2]) -> Result<(), StatsError> {
        require_level("the significance level", self.significance)?;
        let largest = match self.test {
            ExactTest::Fisher => LARGEST_ARM,
            ExactTest::Boschloo => LARGEST_UNCONDITIONAL_ARM,
        };
        if first.min(second) == 0 {
            return Err(StatsError::Empty { what: "an arm".into() });
        }
        let range = |what: &str, value: f64, expected: String| {
            Err(StatsError::OutOfRange { what: what.into(), value, expected })
        };
        if first.max(second) > largest {
            let expected = format!("at most {largest}");
            return range("the pieces of an arm", first.max(second) as f64, expected);
        }
        match shares.iter().find(|share| !(0.0..=1.0).contains(*share)) {
            Some(&share) => range("a share", share, "0 to 1".into()),
            None => Ok(()),
        }
    }
}

/// Fisher's p value of every table of two arms.
struct FisherTables {
    /// Logarithms of the numbers of ways to so many successes, by arm.
    choices: [Vec<f64>; 2],
    /// By successes of the first arm, then of the second.
    p_values: Vec<Vec<f64>>,
}

impl FisherTables {
    fn new(first: usize, second: usize, sides: Sides) -> Self {
        let mut p_values = vec![vec![1.0; second + 1]; first + 1];
        let (arm, other) = (log_choices(first), log_choices(second));
        for successes in 0..=first + second {
            let low = successes.saturating_sub(second);
            let high = successes.min(first);
            let logs: Vec<f64> = (low..=high).map(|x| arm[x] + other[successes - x]).collect();
            let values = match sides {
                Sides::Two => at_most_as_probable(&probabilities(&logs)),
                Sides::Upper => at_least_as_large(&probabilities(&logs)),
            };
            for (x, value) in (low..=high).zip(values) {
                p_values[x][successes - x] = value;
            }
        }
        Self { choices: [arm, other], p_values }
    }

    /// The probability that Fisher's p value is at most a bound, given the true shares.
    fn chance(&self, bound: f64, shares: [f64; 2]) -> f64 {
        self.chance_of(&self.rejected(bound), shares)
    }

    /// The tables that a bound rejects: for each count of the first arm, runs of counts of the second.
    fn rejected(&self, bound: f64) -> Vec<Vec<Range<usize>>> {
        // p values that are equal but for rounding belong together
        let bound = bound * (1.0 + TIE);
        let runs = |row: &Vec<f64>| {
            let mut runs: Vec<Range<usize>> = Vec::new();
            for (count, _) in row.iter().enumerate().filter(|(_, p)| **p <= bound) {
                match runs.last_mut() {
                    Some(run) if run.end == count => run.end += 1,
                    _ => runs.push(count..count + 1),
                }
            }
            runs
        };
        self.p_values.iter().map(runs).collect()
    }

    /// The probability of rejected tables, given the true shares: sums of runs are differences of a running sum.
    fn chance_of(&self, rejected: &[Vec<Range<usize>>], shares: [f64; 2]) -> f64 {
        let first = binomial(&self.choices[0], shares[0]);
        let mut below = vec![0.0];
        for chance in binomial(&self.choices[1], shares[1]) {
            below.push(below[below.len() - 1] + chance);
        }
        let rows = rejected.iter().zip(&first).map(|(runs, weight)| {
            let sums = runs.iter().map(|run| below[run.end] - below[run.start]);
            weight * sums.sum::<f64>()
        });
        rows.sum::<f64>().min(1.0)
    }

    /// The largest p value that may be taken for a bound without more false alarms than the level allows, whatever the common share.
    fn unconditional_bound(&self, level: f64) -> f64 {
        let mut candidates: Vec<f64> = self.p_values.concat();
        candidates.retain(|p| *p > level);
        candidates.sort_by(f64::total_cmp);
        candidates.dedup_by(|b, a| *b <= *a * (1.0 + TIE));
        // more candidates mean more rejections, so the first that is too many divides them
        let allowed = candidates.partition_point(|&bound| self.most_false_alarms(bound) <= level);
        // Fisher's own bound is always allowed
        if allowed == 0 { level } else { candidates[allowed - 1] }
    }

    /// The chance of a false alarm at the worst common share: the best of a grid, even on the arcsine scale, and then the top beside it.
    fn most_false_alarms(&self, bound: f64) -> f64 {
        let share = |angle: f64| angle.sin().powi(2);
        let width = std::f64::consts::FRAC_PI_2 / (GRID as f64 + 1.0);
        let rejected = self.rejected(bound);
        let chance = |angle: f64| self.chance_of(&rejected, [share(angle); 2]);
        let angles = (1..=GRID).map(|place| place as f64 * width);
        let best = angles.map(|angle| (chance(angle), angle));
        let (value, angle) =
            best.fold((0.0, width), |top, one| if one.0 > top.0 { one } else { top });
        let top = minimise_bounded(|a| -chance(a), angle - width, angle + width, 1e-4);
        value.max(-top.value)
    }
}

/// `ln (n choose x)` for every `x`.
fn log_choices(count: usize) -> Vec<f64> {
    let log_factorial = |n: usize| ln_gamma(n as f64 + 1.0);
    let all = log_factorial(count);
    (0..=count).map(|x| all - log_factorial(x) - log_factorial(count - x)).collect()
}

/// Weights given by their logarithms, scaled to sum to one.
fn probabilities(logs: &[f64]) -> Vec<f64> {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    weights.iter().map(|weight| weight / total).collect()
}

/// Binomial probabilities of every count, from [`log_choices`].
fn binomial(choices: &[f64], share: f64) -> Vec<f64> {
    let count = choices.len() - 1;
    if share == 0.0 || share == 1.0 {
        let certain = if share == 0.0 { 0 } else { count };
        return (0..=count).map(|x| f64::from(u8::from(x == certain))).collect();
    }
    let (yes, no) = (share.ln(), (-share).ln_1p());
    let places = choices.iter().enumerate();
    places.map(|(x, log)| (log + x as f64 * yes + (count - x) as f64 * no).exp()).collect()
}

/// For every place the sum of all probabilities that are at most as large, ties counted in.
fn at_most_as_probable(probabilities: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|&a, &b| probabilities[a].total_cmp(&probabilities[b]));
    let mut sums = vec![0.0; probabilities.len()];
    let (mut total, mut next) = (0.0, 0);
    for &place in &order {
        let limit = probabilities[place] * (1.0 + TIE);
        while let Some(&other) = order.get(next).filter(|&&other| probabilities[other] <= limit) {
            total += probabilities[other];
            next += 1;
        }
        sums[place] = total;
    }
    sums
}

/// For every place the sum of its probability and of all after it.
fn at_least_as_large(probabilities: &[f64]) -> Vec<f64> {
    let mut sums = probabilities.to_vec();
    for place in (1..sums.len()).rev() {
        sums[place - 1] += sums[place];
    }
    sums
}

#[cfg(test)]
mod tests;
