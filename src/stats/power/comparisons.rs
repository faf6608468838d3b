//! Several arms in blocks, each held against the first, with some of the pieces lost on the way.

use super::{require_positive, require_power, smallest_effect};
use crate::stats::error::{StatsError, require_finite, require_level};
use crate::stats::numeric::{
    Sampling, Sides, equicoordinate_quantile, noncentral_t_cdf, noncentral_t_sf, t_quantile,
};
use ndarray::Array2;

/// A trial in blocks, the pieces of each dealt to the arms as evenly as they divide, that compares every arm with the first by two-sided t tests whose bound
/// holds for all comparisons together (Dunnett 1955, Journal of the American Statistical Association 50, 1096-1121; with two arms the t test).
///
/// Blocks and arms add up: as many degrees of freedom as pieces, less the blocks, less the arms, plus one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComparisonsTrial {
    arms: usize,
    significance: f64,
    standard_deviation: f64,
    loss: f64,
    /// None for one comparison, whose bound is that of the t test.
    bounds: Option<Bounds>,
}

impl ComparisonsTrial {
    /// A trial of two arms or more with a chance of any false alarm, of pieces whose standard deviation within a block and arm is 1 and of which none is lost.
    ///
    /// # Errors
    /// `TooFewGroups` under two arms; `OutOfRange` for the significance; `NotConverged`.
    pub fn new(arms: usize, significance: f64) -> Result<Self, StatsError> {
        if arms < 2 {
            return Err(StatsError::TooFewGroups { needed: 2, found: arms });
        }
        require_level("the significance level", significance)?;
        let bounds = if arms > 2 { Some(Bounds::new(arms, significance)?) } else { None };
        Ok(Self { arms, significance, standard_deviation: 1.0, loss: 0.0, bounds })
    }

    /// With another standard deviation of pieces within a block and arm.
    pub fn with_standard_deviation(self, standard_deviation: f64) -> Self {
        Self { standard_deviation, ..self }
    }

    /// With a share of the pieces that never gives a number, each lost on its own; `0 <= loss < 1`.
    pub fn with_loss(self, loss: f64) -> Self {
        Self { loss, ..self }
    }

    /// Number of arms.
    pub fn arms(&self) -> usize {
        self.arms
    }

    /// Share of the pieces that is lost.
    pub fn loss(&self) -> f64 {
        self.loss
    }

    /// The chance that the comparison of one arm with the first finds a true `difference`, for blocks of these many pieces: the noncentral t at the information
    /// and the degrees of freedom that are left on average.
    ///
    /// Exact without losses where every block divides evenly. With losses the information is the mean of `a b / (a + b)` over what is left of two arms in a
    /// block, so that it counts that a lost piece also leaves its partners without a comparison.
    ///
    /// # Errors
    /// `OutOfRange` for a standard deviation not above 0 and for the loss; `NotFinite` for the difference; `NoDegreesOfFreedom` for blocks too small;
    /// `NotConverged`.
    pub fn power(&self, blocks: &[usize], difference: f64) -> Result<f64, StatsError> {
        require_finite("the difference", &[difference])?;
        let test = self.test(blocks)?;
        Ok(test.power(difference / test.standard_error))
    }

    /// The smallest difference above 0 that is found with the given power; see [`ComparisonsTrial::power`].
    ///
    /// # Errors
    /// As [`ComparisonsTrial::power`]; `OutOfRange` for a power not between the significance level and 1.
    pub fn smallest_difference(&self, blocks: &[usize], power: f64) -> Result<f64, StatsError> {
        require_power(power, self.significance)?;
        let test = self.test(blocks)?;
        let noncentrality = smallest_effect(power, |effect| Ok(test.power(effect)))?;
        Ok(noncentrality * test.standard_error)
    }

    fn test(&self, blocks: &[usize]) -> Result<PlannedTest, StatsError> {
        self.check()?;
        let pieces: f64 = blocks.iter().map(|&pieces| pieces as f64).sum();
        let kept = pieces * (1.0 - self.loss);
        let df = kept - blocks.len() as f64 - self.arms as f64 + 1.0;
        let information = self.information(blocks);
        if df <= 0.0 || information <= 0.0 {
            let what = format!("a trial of {pieces} pieces in {} blocks", blocks.len());
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        let bound = match &self.bounds {
            None => -t_quantile(self.significance / 2.0, df),
            Some(bounds) => bounds.at(self.arms, self.significance, df)?,
        };
        let standard_error = self.standard_deviation / information.sqrt();
        Ok(PlannedTest { bound, df, standard_error })
    }

    /// One over the variance of a difference, in units of one over the squared standard deviation.
    fn information(&self, blocks: &[usize]) -> f64 {
        let mut sizes = blocks.to_vec();
        sizes.sort_unstable();
        let alike = sizes.chunk_by(|one, other| one == other);
        // no chunk is empty
        alike.map(|alike| alike.len() as f64 * self.information_of_block(alike[0])).sum()
    }

    /// Where the pieces do not divide evenly any arms may have got one more: the mean over all pairs of arms.
    fn information_of_block(&self, pieces: usize) -> f64 {
        let (each, surplus) = ((pieces / self.arms) as u64, (pieces % self.arms) as f64);
        let arms = self.arms as f64;
        let pairs = arms * (arms - 1.0);
        let both = surplus * (surplus - 1.0) / pairs;
        let neither = (arms - surplus) * (arms - surplus - 1.0) / pairs;
        let pair = |one, other| left_of_pair(one, other, 1.0 - self.loss);
        neither * pair(each, each)
            + both * pair(each + 1, each + 1)
            + (1.0 - both - neither) * pair(each + 1, each)
    }

    fn check(&self) -> Result<(), StatsError> {
        require_positive("the standard deviation", self.standard_deviation)?;
        if (0.0..1.0).contains(&self.loss) {
            return Ok(());
        }
        let (what, expected) = ("the share that is lost".into(), "at least 0 and below 1".into());
        Err(StatsError::OutOfRange { what, value: self.loss, expected })
    }
}

/// The fewest degrees of freedom between which bounds are interpolated.
const FEWEST_DF: f64 = 4.0;
const NODES: usize = 6;

/// The bound of several comparisons over one divided by the degrees of freedom, where it is a smooth curve: exact at Chebyshev's points, and between them to five
/// digits by the polynomial through them (Berrut & Trefethen 2004, SIAM Review 46, 501-517). One bound takes a double integral and a plan takes hundreds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bounds {
    values: [f64; NODES],
}

impl Bounds {
    fn new(arms: usize, significance: f64) -> Result<Self, StatsError> {
        let mut values = [0.0; NODES];
        for (value, [inverse, _]) in values.iter_mut().zip(nodes()) {
            *value = exact_bound(arms, significance, 1.0 / inverse)?;
        }
        Ok(Bounds { values })
    }

    fn at(&self, arms: usize, significance: f64, df: f64) -> Result<f64, StatsError> {
        if df < FEWEST_DF {
            return exact_bound(arms, significance, df);
        }
        let (mut above, mut below) = (0.0, 0.0);
        for (value, [inverse, weight]) in self.values.iter().zip(nodes()) {
            let distance = 1.0 / df - inverse;
            if distance == 0.0 {
                return Ok(*value);
            }
            above += weight * value / distance;
            below += weight / distance;
        }
        Ok(above / below)
    }
}

/// Chebyshev's points of the first kind between 0 and `1 / FEWEST_DF`, each with its barycentric weight.
fn nodes() -> impl Iterator<Item = [f64; 2]> {
    (0..NODES).map(|node| {
        let angle = (2 * node + 1) as f64 * std::f64::consts::PI / (2 * NODES) as f64;
        let sign = if node % 2 == 0 { 1.0 } else { -1.0 };
        [(1.0 - angle.cos()) / (2.0 * FEWEST_DF), sign * angle.sin()]
    })
}

/// Comparisons with one arm share it, hence correlate by a half.
fn exact_bound(arms: usize, significance: f64, df: f64) -> Result<f64, StatsError> {
    let others = arms - 1;
    let correlation =
        Array2::from_shape_fn((others, others), |(i, j)| if i == j { 1.0 } else { 0.5 });
    let sampling = Sampling::from_seed(0); // this correlation is integrated without chance
    let bound = equicoordinate_quantile(&correlation, significance, df, Sides::Two, sampling)?;
    Ok(bound.value)
}

struct PlannedTest {
    bound: f64,
    df: f64,
    standard_error: f64,
}

impl PlannedTest {
    fn power(&self, noncentrality: f64) -> f64 {
        noncentral_t_sf(self.bound, self.df, noncentrality)
            + noncentral_t_cdf(-self.bound, self.df, noncentrality)
    }
}

/// From so many pieces an arm on the series below is good to a thousandth.
const MANY: u64 = 60;

/// The mean of `a b / (a + b)` where so many pieces of two arms are each kept with a chance; nothing where none of an arm is left.
fn left_of_pair(one: u64, other: u64, kept: f64) -> f64 {
    if one.min(other) >= MANY {
        let (m, n) = (one as f64, other as f64);
        // a b / (a + b) = (s - d^2 / s) / 4 with the sum s and the difference d, taken at the mean of s
        let (sum, difference) = ((m + n) * kept, (m - n) * kept);
        let squared = difference * difference + (m + n) * kept * (1.0 - kept);
        return (sum - squared / sum) / 4.0;
    }
    let (of_one, of_other) = (binomial(one, kept), binomial(other, kept));
    let mut mean = 0.0;
    for (a, chance_a) in of_one.iter().enumerate().skip(1) {
        for (b, chance_b) in of_other.iter().enumerate().skip(1) {
            mean += chance_a * chance_b * (a * b) as f64 / (a + b) as f64;
        }
    }
    mean
}

/// The chances of 0 to `count` kept pieces, piece by piece.
fn binomial(count: u64, kept: f64) -> Vec<f64> {
    let mut chances = vec![1.0];
    for _ in 0..count {
        let mut next = vec![0.0; chances.len() + 1];
        for (held, chance) in chances.iter().enumerate() {
            next[held] += chance * (1.0 - kept);
            next[held + 1] += chance * kept;
        }
        chances = next;
    }
    chances
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::power::{TwoArmsLayout, TwoArmsTrial};
    use rand::RngExt;

    fn trial(arms: usize, loss: f64) -> ComparisonsTrial {
        ComparisonsTrial::new(arms, 0.05).unwrap().with_loss(loss)
    }

    #[test]
    fn two_whole_arms_have_the_power_of_the_two_sample_table() {
        // Cohen 1988, table 2.3.5, two sides .05, in hundredths (from memory); one block of 2 n pieces has the degrees of freedom of two samples of n
        for (n, d, percent) in [(20, 0.8, 69.0), (30, 0.5, 47.0), (50, 0.2, 17.0), (64, 0.5, 80.0)]
        {
            let found = 100.0 * trial(2, 0.0).power(&[2 * n], d).unwrap();
            assert!((found - percent).abs() < 1.0, "{n} {d} {found}");
        }
    }

    #[test]
    fn two_arms_in_even_blocks_are_the_blocked_two_arms_trial() {
        for (blocks, per_arm) in [(6, 1), (5, 3), (1, 90)] {
            let layout = TwoArmsLayout::Blocked { pieces_per_arm: per_arm as f64 };
            let (standard_deviation, sides) = (1.0, Sides::Two);
            let other = TwoArmsTrial { layout, standard_deviation, significance: 0.05, sides };
            let sizes = vec![2 * per_arm; blocks];
            let found = trial(2, 0.0).power(&sizes, 0.7).unwrap();
            let expected = other.power(blocks as f64, 0.7).unwrap();
            assert!((found - expected).abs() < 1e-9, "{found} {expected}");
            let smallest = trial(2, 0.0).smallest_difference(&sizes, 0.8).unwrap();
            let expected = other.smallest_difference(blocks as f64, 0.8).unwrap();
            assert!((smallest - expected).abs() < 1e-7, "{smallest} {expected}");
        }
    }

    #[test]
    fn several_arms_have_the_bound_of_dunnett() {
        // Dunnett 1964, Biometrics 20, 482-491, two-sided .05: 2.57 with 2 treatments at 10 degrees of freedom, 2.27 with 2 at 60 (from memory). The digits:
        // R 4.2.2, uniroot over nested integrate() of dnorm(z) (pnorm(sqrt(2) c s - z) - pnorm(-sqrt(2) c s - z))^m and the density of s
        for (arms, pieces, expected) in [(3, 13, 2.568339), (5, 15, 2.890480), (3, 63, 2.265267)] {
            let bound = trial(arms, 0.0).test(&[pieces]).unwrap().bound;
            assert!((bound - expected).abs() < 1e-5, "{arms} {bound}");
        }
    }

    #[test]
    fn between_its_points_the_bound_is_good_to_five_digits() {
        for arms in [3, 4, 9] {
            let bounds = Bounds::new(arms, 0.05).unwrap();
            for df in [3.1, 4.0, 5.3, 9.0, 23.4, 151.0, 1_800.0] {
                let exact = exact_bound(arms, 0.05, df).unwrap();
                let found = bounds.at(arms, 0.05, df).unwrap();
                assert!((found / exact - 1.0).abs() < 1e-5, "{arms} {df} {found} {exact}");
            }
        }
    }

    #[test]
    fn what_is_left_of_a_pair_is_worked_by_hand() {
        // one piece each, kept with 0.8: both are left with 0.64, and then 1 * 1 / 2
        assert!((left_of_pair(1, 1, 0.8) - 0.32).abs() < 1e-12);
        // two and one, kept with 0.5: a = 1 (chance 1/2) and b = 1 (1/2) give 1/2; a = 2 (1/4) and b = 1 give 2/3
        assert!((left_of_pair(2, 1, 0.5) - (0.25 / 2.0 + 0.125 * 2.0 / 3.0)).abs() < 1e-12);
        assert_eq!(left_of_pair(4, 4, 1.0), 2.0);
    }

    #[test]
    fn the_series_for_many_pieces_meets_the_sum() {
        for (one, other) in [(MANY, MANY), (MANY + 1, MANY)] {
            let series = left_of_pair(one, other, 0.8);
            let (of_one, of_other) = (binomial(one, 0.8), binomial(other, 0.8));
            let mut sum = 0.0;
            for (a, chance_a) in of_one.iter().enumerate() {
                for (b, chance_b) in of_other.iter().enumerate().filter(|(b, _)| a + b > 0) {
                    sum += chance_a * chance_b * (a * b) as f64 / (a + b) as f64;
                }
            }
            assert!((series / sum - 1.0).abs() < 1e-3, "{series} {sum}");
        }
    }

    #[test]
    fn the_information_left_agrees_with_drawing_losses() {
        let trial = trial(3, 0.25);
        let mut generator = crate::stats::resample::stream(1, 0);
        let draws = 40_000;
        let mut sum = 0.0;
        for _ in 0..draws {
            // seven pieces for three arms: one arm, any, has three
            let lucky = generator.random_range(0..3);
            let mut left = |arm: usize| {
                let pieces = if arm == lucky { 3 } else { 2 };
                (0..pieces).filter(|_| generator.random::<f64>() > 0.25).count() as f64
            };
            let (a, b) = (left(0), left(1));
            sum += if a * b > 0.0 { a * b / (a + b) } else { 0.0 };
        }
        let found = trial.information(&[7]);
        // the standard deviation of one draw is below 0.5: four standard errors are 0.01
        assert!((found - sum / draws as f64).abs() < 0.01, "{found} {}", sum / draws as f64);
    }

    #[test]
    fn losses_and_more_arms_cost_power_and_no_difference_is_found_as_often_as_the_level_says() {
        let blocks = [12; 4];
        let power = |arms, loss| trial(arms, loss).power(&blocks, 0.8).unwrap();
        assert!(power(2, 0.0) > power(2, 0.2) && power(2, 0.0) > power(3, 0.0));
        assert!((trial(2, 0.2).power(&blocks, 0.0).unwrap() - 0.05).abs() < 1e-9);
        assert!(trial(3, 0.0).power(&blocks, 0.0).unwrap() < 0.05);
    }

    #[test]
    fn impossible_trials_are_refused() {
        assert!(matches!(
            trial(2, 0.0).power(&[2], 1.0),
            Err(StatsError::NoDegreesOfFreedom { .. })
        ));
        assert!(trial(2, 0.0).power(&[], 1.0).is_err());
        assert!(trial(2, 0.0).power(&[1; 9], 1.0).is_err());
        assert!(ComparisonsTrial::new(1, 0.05).is_err() && ComparisonsTrial::new(2, 1.0).is_err());
        assert!(trial(2, 0.0).with_standard_deviation(0.0).power(&[9], 1.0).is_err());
        assert!(trial(2, 1.0).power(&[9], 1.0).is_err());
        assert!(trial(2, 0.0).power(&[9], f64::NAN).is_err());
        assert!(trial(2, 0.0).smallest_difference(&[9], 0.01).is_err());
    }
}
