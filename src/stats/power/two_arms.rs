//! Two arms with a numeric outcome.

use super::{NeededSize, needed_size, require_positive, require_power, smallest_effect};
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{Sides, noncentral_t_cdf, noncentral_t_sf, t_quantile};

/// How the pieces of two arms are laid out, and what the size of the trial counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TwoArmsLayout {
    /// Independent pieces; the size counts those of the first arm, the second has `ratio` times as many. `n1 + n2 - 2` degrees of freedom.
    Independent { ratio: f64 },
    /// Pairs; the size counts them, and the standard deviation is that of the differences. `n - 1` degrees of freedom.
    Paired,
    /// Complete blocks with `pieces_per_arm` pieces of each arm in every block; the size counts blocks, and the standard deviation is that of pieces within
    /// a block and arm. Blocks and arms add up: `2 r b - b - 1` degrees of freedom, `b - 1` with one piece an arm.
    Blocked { pieces_per_arm: f64 },
}

/// A trial of two arms, judged by the t test of its layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoArmsTrial {
    /// How the pieces lie.
    pub layout: TwoArmsLayout,
    /// Standard deviation in the unit of the outcome; see [`TwoArmsLayout`].
    pub standard_deviation: f64,
    /// Chance of a false alarm.
    pub significance: f64,
    /// Whether a difference counts in both directions.
    pub sides: Sides,
}

impl TwoArmsTrial {
    /// The chance that the test finds a true `difference` (Cohen 1988, chapter 2, exactly): the noncentral t with noncentrality difference over its
    /// standard error; with two sides both tails count. Sizes need not be whole.
    ///
    /// # Errors
    /// `OutOfRange` for a size, standard deviation, ratio or number of pieces not above 0 and for the significance level; `NotFinite` for the difference;
    /// `NoDegreesOfFreedom` for a size too small.
    pub fn power(&self, size: f64, difference: f64) -> Result<f64, StatsError> {
        if !difference.is_finite() {
            let what = "the difference".into();
            return Err(StatsError::NotFinite { what, row: 0, value: difference });
        }
        let df = self.degrees_of_freedom(size)?;
        Ok(self.power_of(difference / self.standard_error(size), df))
    }

    /// The size at which a true `difference` is found with the given power.
    ///
    /// # Errors
    /// As [`TwoArmsTrial::power`]; `OutOfRange` for a power not between the significance level and 1, for a difference of 0, for one below 0 where only the
    /// upper side counts, and for a size beyond 1e8.
    pub fn size(&self, power: f64, difference: f64) -> Result<NeededSize, StatsError> {
        self.check()?;
        require_power(power, self.significance)?;
        let towards = if self.sides == Sides::Two { difference.abs() } else { difference };
        require_positive("the difference to be shown", towards)?;
        needed_size(power, self.least_size(), |size| self.power(size, difference))
    }

    /// The smallest true difference, above 0 and in the unit of the outcome, that a trial of this size finds with the given power.
    ///
    /// # Errors
    /// As [`TwoArmsTrial::power`]; `OutOfRange` for a power not between the significance level and 1.
    pub fn smallest_difference(&self, size: f64, power: f64) -> Result<f64, StatsError> {
        let df = self.degrees_of_freedom(size)?;
        require_power(power, self.significance)?;
        let noncentrality =
            smallest_effect(power, |noncentrality| Ok(self.power_of(noncentrality, df)))?;
        Ok(noncentrality * self.standard_error(size))
    }

    fn power_of(&self, noncentrality: f64, df: f64) -> f64 {
        let bound = -t_quantile(self.significance / self.sides.tails(), df);
        let above = noncentral_t_sf(bound, df, noncentrality);
        match self.sides {
            Sides::Upper => above,
            Sides::Two => above + noncentral_t_cdf(-bound, df, noncentrality),
        }
    }

    fn standard_error(&self, size: f64) -> f64 {
        let share = match self.layout {
            TwoArmsLayout::Independent { ratio } => (1.0 + 1.0 / ratio) / size,
            TwoArmsLayout::Paired => 1.0 / size,
            TwoArmsLayout::Blocked { pieces_per_arm } => 2.0 / (pieces_per_arm * size),
        };
        self.standard_deviation * share.sqrt()
    }

    fn degrees_of_freedom(&self, size: f64) -> Result<f64, StatsError> {
        self.check()?;
        require_positive("the size of the trial", size)?;
        let df = match self.layout {
            TwoArmsLayout::Independent { ratio } => size + ratio * size - 2.0,
            TwoArmsLayout::Paired => size - 1.0,
            TwoArmsLayout::Blocked { pieces_per_arm } => 2.0 * pieces_per_arm * size - size - 1.0,
        };
        if df > 0.0 {
            return Ok(df);
        }
        Err(StatsError::NoDegreesOfFreedom { what: format!("a trial of size {size}") })
    }

    /// Where the first degree of freedom is; two pieces an arm or two pairs at least.
    fn least_size(&self) -> f64 {
        match self.layout {
            TwoArmsLayout::Independent { ratio } => (3.0 / (1.0 + ratio)).max(2.0),
            TwoArmsLayout::Paired => 2.0,
            TwoArmsLayout::Blocked { pieces_per_arm } => {
                (2.0 / (2.0 * pieces_per_arm - 1.0)).max(1.0)
            }
        }
    }

    fn check(&self) -> Result<(), StatsError> {
        require_positive("the standard deviation", self.standard_deviation)?;
        require_level("the significance level", self.significance)?;
        match self.layout {
            TwoArmsLayout::Independent { ratio } => {
                require_positive("the ratio of the arms", ratio)
            }
            TwoArmsLayout::Paired => Ok(()),
            TwoArmsLayout::Blocked { pieces_per_arm } if pieces_per_arm >= 1.0 => {
                require_positive("the pieces of an arm in a block", pieces_per_arm)
            }
            TwoArmsLayout::Blocked { pieces_per_arm } => Err(StatsError::OutOfRange {
                what: "the pieces of an arm in a block".into(),
                value: pieces_per_arm,
                expected: "at least 1".into(),
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trial(layout: TwoArmsLayout) -> TwoArmsTrial {
        TwoArmsTrial { layout, standard_deviation: 1.0, significance: 0.05, sides: Sides::Two }
    }

    const EQUAL: TwoArmsLayout = TwoArmsLayout::Independent { ratio: 1.0 };

    #[test]
    fn the_tables_of_cohen_are_met() {
        // Cohen 1988, table 2.4.1, power .80, two sides .05 (from memory): the nearest whole size, which for d = 0.2 is one below the one that suffices
        for (d, n) in [(0.2, 393.0), (0.5, 64.0), (0.8, 26.0), (1.0, 17.0)] {
            assert_eq!(trial(EQUAL).size(0.8, d).unwrap().exact.round(), n, "{d}");
        }
        // table 2.3.5, two sides .05, in hundredths (from memory)
        for (n, d, percent) in [(20.0, 0.8, 69.0), (30.0, 0.5, 47.0), (50.0, 0.2, 17.0)] {
            let found = 100.0 * trial(EQUAL).power(n, d).unwrap();
            assert!((found - percent).abs() < 1.0, "{n} {d} {found}");
        }
    }

    #[test]
    fn a_trial_without_a_difference_finds_one_as_often_as_the_level_says() {
        for layout in [EQUAL, TwoArmsLayout::Paired, TwoArmsLayout::Blocked { pieces_per_arm: 3.0 }]
        {
            assert!((trial(layout).power(7.0, 0.0).unwrap() - 0.05).abs() < 1e-12);
        }
    }

    #[test]
    fn one_piece_an_arm_makes_a_block_a_pair() {
        let pairs =
            TwoArmsTrial { standard_deviation: 2.0_f64.sqrt(), ..trial(TwoArmsLayout::Paired) };
        let blocks = trial(TwoArmsLayout::Blocked { pieces_per_arm: 1.0 });
        let (a, b) = (pairs.power(12.0, 0.7).unwrap(), blocks.power(12.0, 0.7).unwrap());
        assert!((a - b).abs() < 1e-12);
    }

    #[test]
    fn size_difference_and_power_undo_each_other() {
        for sides in [Sides::Two, Sides::Upper] {
            for layout in
                [EQUAL, TwoArmsLayout::Paired, TwoArmsLayout::Blocked { pieces_per_arm: 2.0 }]
            {
                let trial = TwoArmsTrial { sides, ..trial(layout) };
                let size = trial.size(0.85, 0.6).unwrap();
                assert!((trial.power(size.exact, 0.6).unwrap() - 0.85).abs() < 1e-9);
                assert!((trial.smallest_difference(size.exact, 0.85).unwrap() - 0.6).abs() < 1e-8);
                assert!(size.whole as f64 >= size.exact && size.exact > size.whole as f64 - 1.0);
            }
        }
    }

    #[test]
    fn a_huge_difference_needs_the_least_trial() {
        assert_eq!(trial(EQUAL).size(0.9, 1e6).unwrap().whole, 2);
        let blocks = trial(TwoArmsLayout::Blocked { pieces_per_arm: 2.0 });
        assert_eq!(blocks.size(0.9, 1e6).unwrap().whole, 1);
    }

    #[test]
    fn impossible_trials_are_refused() {
        let fault = trial(EQUAL).power(1.0, 0.5);
        assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(trial(EQUAL).power(f64::NAN, 0.5).is_err());
        assert!(trial(EQUAL).power(10.0, f64::INFINITY).is_err());
        assert!(trial(EQUAL).size(0.8, 0.0).is_err());
        assert!(trial(EQUAL).size(0.04, 0.5).is_err());
        assert!(trial(EQUAL).size(0.8, 1e-6).is_err());
        assert!(trial(EQUAL).smallest_difference(10.0, 1.0).is_err());
        assert!(trial(TwoArmsLayout::Blocked { pieces_per_arm: 0.2 }).power(9.0, 1.0).is_err());
        let upper = TwoArmsTrial { sides: Sides::Upper, ..trial(EQUAL) };
        assert!(upper.size(0.8, -0.5).is_err());
        let flat = TwoArmsTrial { standard_deviation: 0.0, ..trial(EQUAL) };
        assert!(flat.power(10.0, 0.5).is_err());
    }
}
